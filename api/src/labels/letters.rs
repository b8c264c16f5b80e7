//! How large text comes out, measured on the outlines of the font that is embedded.

use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

use super::LabelsRefused;

/// `DejaVu Sans Condensed Bold`; its licence lies beside it in `api/fonts`.
pub(super) const FONT: &[u8] = include_bytes!("../../fonts/DejaVuSansCondensed-Bold.ttf");

/// A text at size 1: how wide it runs, and how far its ink reaches above the line and below it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Measured {
    pub(super) width: f32,
    pub(super) above: f32,
    pub(super) below: f32,
}

pub(super) fn measure(text: &str) -> Result<Measured, LabelsRefused> {
    let font = FontRef::new(FONT).map_err(|error| LabelsRefused::Pdf(error.to_string()))?;
    let (letters, em) = (
        font.charmap(),
        f32::from(font.metrics(Size::unscaled(), LocationRef::default()).units_per_em),
    );
    let metrics = font.glyph_metrics(Size::unscaled(), LocationRef::default());
    let mut measured = Measured {
        width: 0.0,
        above: 0.0,
        below: 0.0,
    };
    for letter in text.chars() {
        let glyph = letters.map(letter).ok_or(LabelsRefused::Letter(letter))?;
        measured.width += metrics.advance_width(glyph).unwrap_or_default() / em;
        if let Some(ink) = metrics.bounds(glyph) {
            measured.above = measured.above.max(ink.y_max / em);
            measured.below = measured.below.max(-ink.y_min / em);
        }
    }
    Ok(measured)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_as_high_as_the_font_draws_them() {
        // A seven has no round stroke: it stands on the line and is as high as a capital, 1493 of 2048 units in DejaVu.
        let seven = measure("7").unwrap();
        assert!(
            (seven.above - 1493.0 / 2048.0).abs() < 0.001 && seven.below.abs() < 0.001,
            "{seven:?}"
        );
        assert!(measure("041").unwrap().width > 2.9 * seven.width);
    }

    #[test]
    fn a_letter_that_is_missing_is_named() {
        assert_eq!(measure("蜂"), Err(LabelsRefused::Letter('蜂')));
    }
}

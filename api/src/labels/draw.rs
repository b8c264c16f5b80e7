//! The sheet as a PDF: on each label a QR code on the left and the number beside it, as large as fits.

use krilla::Document;
use krilla::color::rgb;
use krilla::geom::{PathBuilder, Point, Rect};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, Stroke};
use krilla::surface::Surface;
use krilla::text::{Font, TextDirection};

use super::letters::{self, FONT, Measured};
use super::{FIGURES_LEAST, LabelsRefused, MODULE_LEAST_HUNDREDTHS, Sheet, Wish};
use crate::qr;

/// Points in a tenth of a millimetre.
const POINTS: f32 = 72.0 / 254.0;
/// How much of a label's width the code takes at most.
const CODE_SHARE: f32 = 0.5;
/// What is light around a code, in modules (ISO/IEC 18004).
const QUIET: f32 = 4.0;
/// How high the letters of the words are, in tenths of a millimetre of font size.
const WORDS_SIZE: f32 = 30.0;

/// Where things lie inside a label, in tenths of a millimetre.
struct Inside {
    code: f32,
    /// Where the number's space begins, and how wide and high it is.
    left: f32,
    width: f32,
    height: f32,
    margin: f32,
}

fn tenths(value: i32) -> f32 {
    // A sheet is a few thousand tenths: exact.
    value as f32
}

fn inside(sheet: &Sheet, words: bool) -> Inside {
    let margin = tenths(sheet.margin);
    let (width, height) = (tenths(sheet.width) - 2.0 * margin, tenths(sheet.height) - 2.0 * margin);
    let code = height.min(width * CODE_SHARE);
    Inside {
        code,
        left: margin + code,
        width: width - code,
        height: if words { height - 1.5 * WORDS_SIZE } else { height },
        margin,
    }
}

/// The size at which a number fills its space.
fn size_of(number: &Measured, space: &Inside) -> f32 {
    (space.width / number.width).min(space.height / (number.above + number.below))
}

/// Draws all labels.
///
/// # Errors
/// When something does not fit, by the field that would have to change.
pub fn pdf(wish: &Wish, title: &str) -> Result<Vec<u8>, LabelsRefused> {
    wish.check()?;
    let font =
        Font::new(FONT.to_vec().into(), 0).ok_or_else(|| LabelsRefused::Pdf("the font does not read".to_owned()))?;
    let (wide, high) = wish.sheet.paper.size();
    let page_size = || {
        let settings = PageSettings::from_wh(tenths(wide) * POINTS, tenths(high) * POINTS);
        settings.ok_or_else(|| LabelsRefused::Pdf("the paper has no size".to_owned()))
    };
    let mut document = Document::new();
    document.set_metadata(Metadata::new().title(title.to_owned()));
    let mut rest = wish.numbers.iter().enumerate().peekable();
    while let Some((first, _)) = rest.peek() {
        let (on, ..) = wish.sheet.place(*first);
        let mut page = document.start_page_with(page_size()?);
        let mut surface = page.surface();
        while let Some((at, number)) = rest.next_if(|(at, _)| wish.sheet.place(*at).0 == on) {
            let (_, x, y) = wish.sheet.place(at);
            label(&mut surface, &font, wish, number, (tenths(x), tenths(y)))?;
        }
        surface.finish();
        page.finish();
    }
    document
        .finish()
        .map_err(|error| LabelsRefused::Pdf(format!("{error:?}")))
}

fn black() -> Option<Fill> {
    Some(Fill {
        paint: rgb::Color::new(0, 0, 0).into(),
        opacity: NormalizedF32::ONE,
        rule: FillRule::NonZero,
    })
}

fn label(
    surface: &mut Surface<'_>,
    font: &Font,
    wish: &Wish,
    number: &str,
    (x, y): (f32, f32),
) -> Result<(), LabelsRefused> {
    let space = inside(&wish.sheet, wish.words.is_some());
    if wish.sheet.outlines {
        outline(surface, &wish.sheet, (x, y));
    }
    code(
        surface,
        &wish.code_of(number),
        &space,
        (x + space.margin, y + space.margin),
    )?;
    let measured = letters::measure(number)?;
    let size = size_of(&measured, &space);
    let figures = measured.above * size;
    if figures < tenths(FIGURES_LEAST) {
        let says = format!(
            "{number} comes out {:.1} mm high; from two metres it wants {} mm: take larger labels or shorter numbers",
            figures / 10.0,
            FIGURES_LEAST / 10
        );
        return Err(LabelsRefused::Sheet { field: "width", says });
    }
    // In the middle of what is left.
    let left = x + space.left + (space.width - measured.width * size) / 2.0;
    let line = y + space.margin + (space.height + (measured.above - measured.below) * size) / 2.0;
    text(surface, font, number, size, (left, line));
    if let Some(words) = &wish.words {
        let measured = letters::measure(words)?;
        let size = WORDS_SIZE.min(space.width / measured.width);
        let left = x + space.left + (space.width - measured.width * size) / 2.0;
        text(
            surface,
            font,
            words,
            size,
            (
                left,
                y + tenths(wish.sheet.height) - space.margin - measured.below * size,
            ),
        );
    }
    Ok(())
}

fn text(surface: &mut Surface<'_>, font: &Font, text: &str, size: f32, (x, y): (f32, f32)) {
    surface.set_stroke(None);
    surface.set_fill(black());
    let point = Point::from_xy(x * POINTS, y * POINTS);
    surface.draw_text(
        point,
        font.clone(),
        size * POINTS,
        text,
        false,
        TextDirection::LeftToRight,
    );
}

fn code(surface: &mut Surface<'_>, text: &str, space: &Inside, (x, y): (f32, f32)) -> Result<(), LabelsRefused> {
    let rows = qr::rows(text).ok_or_else(|| LabelsRefused::Address(text.to_owned()))?;
    let module = space.code / (tenths(i32::try_from(rows.len()).unwrap_or(i32::MAX)) + 2.0 * QUIET);
    if module * 10.0 < tenths(MODULE_LEAST_HUNDREDTHS) {
        let says = format!(
            "a dot of the code comes out {:.2} mm wide; phones want 0.{MODULE_LEAST_HUNDREDTHS} mm: take larger labels",
            module / 10.0
        );
        return Err(LabelsRefused::Sheet { field: "height", says });
    }
    let mut path = PathBuilder::new();
    let (mut down, mut any) = (QUIET, false);
    for row in &rows {
        let mut across = QUIET;
        for cell in row.bytes() {
            let corner = ((x + across * module) * POINTS, (y + down * module) * POINTS);
            let side = module * POINTS;
            if let Some(rect) = Rect::from_xywh(corner.0, corner.1, side, side).filter(|_| cell == b'1') {
                path.push_rect(rect);
                any = true;
            }
            across += 1.0;
        }
        down += 1.0;
    }
    if let Some(path) = path.finish().filter(|_| any) {
        surface.set_stroke(None);
        surface.set_fill(black());
        surface.draw_path(&path);
    }
    Ok(())
}

fn outline(surface: &mut Surface<'_>, sheet: &Sheet, (x, y): (f32, f32)) {
    let mut path = PathBuilder::new();
    if let Some(rect) = Rect::from_xywh(
        x * POINTS,
        y * POINTS,
        tenths(sheet.width) * POINTS,
        tenths(sheet.height) * POINTS,
    ) {
        path.push_rect(rect);
    }
    if let Some(path) = path.finish() {
        surface.set_fill(None);
        surface.set_stroke(Some(Stroke {
            width: 0.3,
            ..Stroke::default()
        }));
        surface.draw_path(&path);
    }
}

#[cfg(test)]
mod tests {
    use super::super::sheet::tests::three_by_eight;
    use super::*;

    fn wish(numbers: &[&str]) -> Wish {
        Wish {
            numbers: numbers.iter().map(|number| (*number).to_owned()).collect(),
            address: "https://192.168.1.20:8470".to_owned(),
            words: Some("Ashwick Honey".to_owned()),
            sheet: three_by_eight(),
        }
    }

    #[test]
    fn a_sheet_is_a_pdf_and_the_same_wish_gives_the_same_bytes() {
        let one = pdf(&wish(&["041", "W03", "P12"]), "labels").unwrap();
        assert!(one.starts_with(b"%PDF-"));
        assert_eq!(one, pdf(&wish(&["041", "W03", "P12"]), "labels").unwrap());
    }

    #[test]
    fn what_would_be_too_small_to_read_is_refused_with_its_cure() {
        let mut small = wish(&["041"]);
        small.sheet.width = 300;
        small.sheet.across = 300;
        let said = pdf(&small, "labels").unwrap_err();
        assert!(
            matches!(said, LabelsRefused::Sheet { .. }) && said.to_string().contains("larger labels"),
            "{said}"
        );
        assert!(pdf(&wish(&["041", "", "042"]), "labels").is_err());
        assert!(pdf(&wish(&["A-VERY-LONG-1"]), "labels").is_err());
        assert_eq!(pdf(&wish(&["蜂1"]), "labels"), Err(LabelsRefused::Letter('蜂')));
    }

    #[test]
    fn odd_characters_are_escaped_in_the_code() {
        assert_eq!(wish(&[]).code_of("W 3/Ä"), "https://192.168.1.20:8470/n/W%203%2F%C3%84");
    }
}

//! How far a formula is supported by what was measured, and how far beyond it is still run.
//!
//! Inside the first range a value is as good as its source. Between the two it is marked as extrapolated. Outside
//! the second there is no value. The ranges themselves stand beside their formulas.

use serde::Serialize;

/// The two ranges of one quantity in one formula. Bounds belong to the ranges.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Span {
    /// The quantity, as in a sentence.
    pub what: &'static str,
    /// The name of the field that holds it.
    pub field: &'static str,
    /// The least that the source supports.
    pub from: i64,
    /// The greatest that the source supports.
    pub to: i64,
    /// Below this there is no value.
    pub refused_below: i64,
    /// Above this there is no value.
    pub refused_above: i64,
}

/// A value for which there is no answer.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{} is worked out from {} to {}, and {got} lies beyond: measure the result instead", span.what, span.refused_below, span.refused_above)]
pub struct OutsideSpan {
    /// The ranges.
    pub span: Span,
    /// What was asked.
    pub got: i64,
    /// Where it stood, as a JSON pointer.
    pub pointer: String,
}

impl Span {
    /// The same ranges under another name of the field.
    #[must_use]
    pub const fn named(self, field: &'static str) -> Self {
        Self { field, ..self }
    }

    /// Whether a value lies beyond what the source supports.
    ///
    /// # Errors
    /// [`OutsideSpan`] where there is no value at all.
    pub fn extrapolates(&self, got: i64) -> Result<bool, OutsideSpan> {
        self.extrapolates_at(got, || format!("/{}", self.field))
    }

    /// The same for a value that stands elsewhere than its name says, as in a list.
    ///
    /// # Errors
    /// [`OutsideSpan`] where there is no value at all.
    pub fn extrapolates_at(&self, got: i64, pointer: impl FnOnce() -> String) -> Result<bool, OutsideSpan> {
        if got < self.refused_below || got > self.refused_above {
            return Err(OutsideSpan {
                span: *self,
                got,
                pointer: pointer(),
            });
        }
        Ok(got < self.from || got > self.to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SPAN: Span = Span {
        what: "water in hundredths of a per cent",
        field: "moisture_hundredths",
        from: 1_300,
        to: 2_100,
        refused_below: 1_200,
        refused_above: 2_500,
    };

    #[test]
    fn bounds_belong_to_their_range() {
        for (got, answer) in [
            (1_199, None),
            (1_200, Some(true)),
            (1_299, Some(true)),
            (1_300, Some(false)),
            (2_100, Some(false)),
            (2_101, Some(true)),
            (2_500, Some(true)),
            (2_501, None),
        ] {
            assert_eq!(SPAN.extrapolates(got).ok(), answer, "{got}");
        }
    }

    #[test]
    fn a_refusal_says_where_and_how_far() {
        let refused = SPAN.named("to_hundredths").extrapolates(9).unwrap_err();
        assert_eq!(refused.pointer, "/to_hundredths");
        assert_eq!(
            refused.to_string(),
            "water in hundredths of a per cent is worked out from 1200 to 2500, and 9 lies beyond: measure the result instead"
        );
        let refused = SPAN.extrapolates_at(9, || "/steps/2/moisture_hundredths".to_owned());
        assert_eq!(refused.unwrap_err().pointer, "/steps/2/moisture_hundredths");
    }
}

//! What a season says about yards, queen lines and kilograms, and how sure it is.
//!
//! Kilograms and counts are facts; a range answers another question: what other colonies like these would have given.
//! Every figure says what it was divided by, of how many it is, by which method weighed, and what was left out. Floats
//! live in here only; what leaves is whole: grams, thousandths, hundredths of money. Sums are taken in the order of
//! ids, so that the same season gives the same bytes. Not on phones: they show what the service worked out.

pub mod answer;
mod books_kept;
mod colonies;
pub mod colony;
mod context;
pub mod cost;
mod costs;
pub mod curve;
mod factors;
pub mod fair;
mod fates;
pub mod figure;
pub mod forecast;
mod gathered;
mod harvest;
mod lines;
pub mod mean;
mod next_year;
mod off;
pub mod report;
mod standing;
mod water;
pub mod weighed;
mod words;
mod yards;

pub use colonies::colonies;
pub use context::context;
pub use costs::costs;
pub use factors::yard_factors;
pub use fates::fates;
pub use harvest::harvest;
pub use lines::queen_lines;
pub use next_year::next_year;
pub use water::moisture;
pub use yards::yards;

pub(crate) use crate::plan::student::quantile as student_t;

/// A whole number from a float, half away from nought; nothing where the float is no number or too large.
pub(crate) fn whole(value: f64) -> Option<i64> {
    let rounded = libm::round(value);
    // Every whole number up to 2^53 is exact as a float.
    #[expect(clippy::cast_possible_truncation, reason = "within 2^53 after the check")]
    (rounded.abs() <= 9_007_199_254_740_992.0).then_some(rounded as i64)
}

/// A whole number as a float; exact for everything a season weighs.
pub(crate) fn float(value: i64) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "grams of a season are far below 2^53")]
    {
        value as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// V4: quantiles by SciPy `stats.t.ppf`; the first two stand in every printed table of Student's t.
    #[test]
    fn quantiles_are_those_of_the_tables() {
        for (p, df, expected) in [
            (0.975, 4.0, 2.776_445),
            (0.975, 19.0, 2.093_024),
            (1.0 - 0.025 / 3.0, 19.0, 2.625_106),
            (0.9, 5.0, 1.475_884),
        ] {
            let t = student_t(p, df).unwrap();
            assert!((t - expected).abs() < 1e-6, "t({p}, {df}) = {t}");
        }
        assert_eq!(student_t(0.975, 0.0), None);
    }

    #[test]
    fn half_goes_away_from_nought() {
        assert_eq!(whole(0.5), Some(1));
        assert_eq!(whole(-0.5), Some(-1));
        assert_eq!(whole(1.499), Some(1));
        assert_eq!(whole(f64::NAN), None);
        assert_eq!(whole(1e300), None);
    }
}

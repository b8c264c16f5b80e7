//! The one shape of every answer: a value with its range, its denominator and what was left out (AN-2).

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::allocation::Method;

/// Why a figure has no range.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum WhyNoRange {
    /// Too few to say more than what they are.
    TooFew,
    /// One year, or one place: nothing to compare with.
    OneYear,
    /// Never stood together with the others.
    NotConnected,
    /// What it is divided by is disputed.
    Disputed,
    /// None of them made honey.
    NoneMadeHoney,
    /// Colonies without honey leave the factor open.
    ZerosLeaveItOpen,
}

/// What a figure was divided by, or counted over.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Colonies fit to produce on the first day of the flow.
    ColoniesAtStartOfFlow,
    /// Colonies from which honey was taken.
    ProducingColonies,
    /// Colonies of a line or a yard in one year.
    Colonies,
    /// Years of a yard.
    YardYears,
    /// Kilograms that can be sold.
    SaleableKilograms,
}

/// A count that may be disputed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Denominator {
    /// Of what.
    pub kind: Kind,
    /// The fewest there can be.
    pub low: i64,
    /// The most there can be.
    pub high: i64,
}

/// Something that was not counted.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
pub struct LeftOut {
    /// What people call it.
    pub name: String,
    /// Which one.
    pub id: uuid::Uuid,
    /// Why, in one word.
    pub reason: String,
}

/// A figure. The unit stands in the name of the field that holds it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Figure {
    /// The figure itself; absent where nothing can be divided.
    pub value: Option<i64>,
    /// The low end of its range.
    pub low: Option<i64>,
    /// The high end of its range.
    pub high: Option<i64>,
    /// How sure the range is, in per cent; absent for what is disputed and not random.
    pub level_percent: Option<i64>,
    /// What it was divided by.
    pub denominator: Option<Denominator>,
    /// Of how many it is.
    pub n: i64,
    /// How it was weighed.
    pub method: Option<Method>,
    /// Of when.
    pub period: String,
    /// Why there is no range.
    pub why_no_range: Option<WhyNoRange>,
    /// What was not counted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<LeftOut>,
}

impl Figure {
    /// A figure that nothing is known of yet.
    #[must_use]
    pub fn of(period: impl Into<String>) -> Self {
        Self {
            value: None,
            low: None,
            high: None,
            level_percent: None,
            denominator: None,
            n: 0,
            method: None,
            period: period.into(),
            why_no_range: None,
            left_out: Vec::new(),
        }
    }

    /// Kilograms by a count that may be disputed (AN-1, AN-3): the quotient where the count is sure, else from the most
    /// to the fewest. Nothing where the count may be nought.
    #[must_use]
    pub fn per(mut self, grams: i64, denominator: Denominator) -> Self {
        self.denominator = Some(denominator);
        self.n = denominator.high;
        let by = |count: i64| super::whole(super::float(grams) / super::float(count));
        if denominator.low > 0 {
            let (low, high) = (by(denominator.high), by(denominator.low));
            if denominator.low == denominator.high {
                self.value = low;
            } else {
                (self.low, self.high) = (low, high);
                self.why_no_range = Some(WhyNoRange::Disputed);
            }
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn csf(low: i64, high: i64) -> Denominator {
        Denominator {
            kind: Kind::ColoniesAtStartOfFlow,
            low,
            high,
        }
    }

    /// V16, AN-1, AN-3: 369 kg over 17 or 18 colonies are 20.5 to 21.7 kg (arithmetic).
    #[test]
    fn a_disputed_count_gives_a_range_and_no_value() {
        let figure = Figure::of("2025").per(369_000, csf(17, 18));
        assert_eq!(
            (figure.value, figure.low, figure.high),
            (None, Some(20_500), Some(21_706))
        );
        assert_eq!(
            (figure.level_percent, figure.why_no_range),
            (None, Some(WhyNoRange::Disputed))
        );
    }

    /// AN-2: no figure without its denominator; nothing is divided by nought.
    #[test]
    fn a_sure_count_gives_a_value() {
        let figure = Figure::of("2025").per(244_000, csf(15, 15));
        assert_eq!((figure.value, figure.low, figure.n), (Some(16_267), None, 15));
        assert_eq!(figure.denominator, Some(csf(15, 15)));
        let none = Figure::of("2025").per(100_000, csf(0, 0));
        assert_eq!((none.value, none.low, none.denominator), (None, None, Some(csf(0, 0))));
        assert_eq!(Figure::of("2025").per(100_000, csf(0, 2)).value, None);
    }
}

//! What an authority would weigh of a batch, and how many bad packs it bears. The plans themselves are in
//! `science/sampling.rs`; no plan of the United Kingdom and none of the United States was read.

use super::Scheme;
use crate::science::sampling::{Plan, factor_and_fails_from, to_be_weighed};

/// What holds for a batch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Sampled {
    /// Packs to weigh.
    pub(crate) weigh: usize,
    /// From so many bad packs on the batch fails; nothing where all are weighed and the share decides.
    pub(crate) bad_fails: Option<usize>,
    /// The factor of the standard deviation; nothing where all are weighed.
    pub(crate) factor: Option<f64>,
}

/// What an authority would weigh of a batch of so many jars; nothing where no plan was read.
pub(crate) fn sampled(scheme: Scheme, jars: usize) -> Option<Sampled> {
    let plan = match scheme {
        Scheme::Eu => Plan::Germany,
        Scheme::Canada => Plan::Canada,
        Scheme::Uk | Scheme::Usa | Scheme::Minimum => return None,
    };
    let lot = i64::try_from(jars).ok()?;
    // Of a batch too small for the plan all are weighed.
    let weigh = to_be_weighed(plan, lot).unwrap_or(lot);
    let (factor, bad) = factor_and_fails_from(plan, lot, weigh);
    let all = weigh == lot;
    Some(Sampled {
        weigh: usize::try_from(weigh).ok()?,
        bad_fails: (!all || plan == Plan::Canada).then(|| usize::try_from(bad).unwrap_or(usize::MAX)),
        factor: (!all).then_some(factor),
    })
}

/// Canada's factor of the deviation, and from how many packs beyond the tolerance on a lot fails, by how many were
/// weighed. For numbers between those of the table the next larger one counts, which is the stricter.
pub(crate) fn canadian(weighed: usize) -> (f64, usize) {
    let weighed = i64::try_from(weighed).unwrap_or(i64::MAX);
    let (factor, bad) = factor_and_fails_from(Plan::Canada, weighed, weighed);
    (factor, usize::try_from(bad).unwrap_or(usize::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_german_plan_is_that_of_annex_3() {
        // Fertigpackungsverordnung, annex 3, read; both ends of each row.
        let row = |jars| {
            let row = sampled(Scheme::Eu, jars).unwrap();
            (
                row.weigh,
                row.bad_fails,
                row.factor.map(|factor| (factor * 1e3).round()),
            )
        };
        for jars in [1, 9, 10, 99] {
            assert_eq!(row(jars), (jars, None, None));
        }
        for (from, to, weigh, bad, factor) in [
            (100, 500, 50, 4, 379.0),
            (501, 3_200, 80, 6, 295.0),
            (3_201, 10_000, 125, 8, 234.0),
            (10_001, 90_000, 160, 9, 207.0),
        ] {
            assert_eq!(row(from), (weigh, Some(bad), Some(factor)));
            assert_eq!(row(to), (weigh, Some(bad), Some(factor)));
        }
    }

    #[test]
    fn the_canadian_plan_is_that_of_the_schedules() {
        // Safe Food for Canadians Regulations, schedules 4 and 5, read; both ends of each row.
        let row = |jars| {
            let row = sampled(Scheme::Canada, jars).unwrap();
            (
                row.weigh,
                row.bad_fails,
                row.factor.map(|factor| (factor * 1e3).round()),
            )
        };
        assert_eq!(row(2), (2, Some(1), None));
        assert_eq!(row(10), (10, Some(2), None));
        // A lot of 40: a quarter is 10, factor 1.03 (W17).
        for jars in [11, 40] {
            assert_eq!(row(jars), (10, Some(2), Some(1_030.0)));
        }
        // Between 10 and 12 the factor of 12 counts, the stricter.
        assert_eq!(row(41), (11, Some(2), Some(897.0)));
        assert_eq!(row(128), (32, Some(3), Some(485.0)));
        for (from, to, weigh, bad, factor) in [
            (129, 4_000, 32, 3, 485.0),
            (4_001, 8_000, 64, 5, 332.0),
            (8_001, 12_000, 96, 7, 269.0),
            (12_001, 90_000, 125, 8, 234.0),
        ] {
            assert_eq!(row(from), (weigh, Some(bad), Some(factor)));
            assert_eq!(row(to), (weigh, Some(bad), Some(factor)));
        }
        for (weighed, bad) in [
            (2, 1),
            (8, 1),
            (9, 2),
            (20, 2),
            (21, 3),
            (32, 3),
            (33, 4),
            (50, 4),
            (51, 5),
            (65, 5),
            (66, 6),
            (80, 6),
            (81, 7),
            (102, 7),
            (103, 8),
            (125, 8),
        ] {
            assert_eq!(canadian(weighed).1, bad, "{weighed}");
        }
    }
}

//! What the authorities weigh, and how many bad packs they bear: sampling plans by the size of the batch.
//!
//! European Union, in the German text: Fertigpackungsverordnung, 18 November 2020, annex 3, the test that leaves the
//! packs whole, read. Canada: Safe Food for Canadians Regulations, SOR/2018-108, schedules 4 and 5, read. No plan of
//! the United Kingdom and none of the United States was read.

use super::Scheme;

/// One row of a sampling plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Sampled {
    /// Packs to weigh.
    pub(crate) weigh: usize,
    /// From so many bad packs on the batch fails; nothing where all are weighed and the share decides.
    pub(crate) bad_fails: Option<usize>,
    /// The factor of the standard deviation, thousandths; nothing where all are weighed.
    pub(crate) factor_thousandths: Option<i64>,
}

/// Batch from, packs to weigh, bad packs that fail it, factor in thousandths. Below 100 every pack is weighed.
const GERMAN: [(usize, usize, usize, i64); 4] = [
    (10_001, 160, 9, 207),
    (3_201, 125, 8, 234),
    (501, 80, 6, 295),
    (100, 50, 4, 379),
];

/// Batch from, packs to weigh; below 129 a quarter, rounded up and at least ten.
const CANADIAN: [(usize, usize); 4] = [(12_001, 125), (8_001, 96), (4_001, 64), (129, 32)];

/// Packs weighed and the printed factor, thousandths.
const CANADIAN_FACTORS: [(usize, i64); 11] = [
    (5, 2_060),
    (8, 1_240),
    (10, 1_030),
    (12, 897),
    (16, 737),
    (20, 640),
    (25, 559),
    (32, 485),
    (64, 332),
    (96, 269),
    (125, 234),
];

/// Packs weighed up to, and how many beyond the tolerance fail the lot.
const CANADIAN_BAD: [(usize, usize); 8] = [(8, 1), (20, 2), (32, 3), (50, 4), (65, 5), (80, 6), (102, 7), (125, 8)];

/// What an authority would weigh of a batch of so many jars; nothing where no plan was read.
pub(crate) fn sampled(scheme: Scheme, jars: usize) -> Option<Sampled> {
    match scheme {
        Scheme::Eu => Some(german(jars)),
        Scheme::Canada => Some(canadian(jars)),
        Scheme::Uk | Scheme::Usa | Scheme::Minimum => None,
    }
}

fn german(jars: usize) -> Sampled {
    let row = GERMAN.iter().find(|(from, ..)| jars >= *from);
    row.map_or(
        Sampled {
            weigh: jars,
            bad_fails: None,
            factor_thousandths: None,
        },
        |(_, weigh, bad, factor)| Sampled {
            weigh: *weigh,
            bad_fails: Some(*bad),
            factor_thousandths: Some(*factor),
        },
    )
}

fn canadian(jars: usize) -> Sampled {
    let row = CANADIAN.iter().find(|(from, _)| jars >= *from);
    let weigh = row.map_or_else(|| jars.div_ceil(4).max(10).min(jars), |(_, weigh)| *weigh);
    Sampled {
        weigh,
        bad_fails: Some(canadian_bad(weigh)),
        factor_thousandths: if weigh == jars { None } else { printed_factor(weigh) },
    }
}

/// From how many packs beyond the tolerance on a lot fails, by how many were weighed.
pub(crate) fn canadian_bad(weighed: usize) -> usize {
    CANADIAN_BAD
        .iter()
        .find(|(up_to, _)| weighed <= *up_to)
        .map_or(8, |(_, bad)| *bad)
}

/// The factor printed for so many packs, thousandths.
pub(crate) fn printed_factor(weighed: usize) -> Option<i64> {
    CANADIAN_FACTORS
        .iter()
        .find(|(packs, _)| *packs == weighed)
        .map(|(_, factor)| *factor)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_german_plan_is_that_of_annex_3() {
        // Fertigpackungsverordnung, annex 3, read; both ends of each row.
        let row = |jars| {
            let row = german(jars);
            (row.weigh, row.bad_fails, row.factor_thousandths)
        };
        for jars in [10, 99] {
            assert_eq!(row(jars), (jars, None, None));
        }
        for (from, to, weigh, bad, factor) in [
            (100, 500, 50, 4, 379),
            (501, 3_200, 80, 6, 295),
            (3_201, 10_000, 125, 8, 234),
            (10_001, 90_000, 160, 9, 207),
        ] {
            assert_eq!(row(from), (weigh, Some(bad), Some(factor)));
            assert_eq!(row(to), (weigh, Some(bad), Some(factor)));
        }
    }

    #[test]
    fn the_canadian_plan_is_that_of_the_schedules() {
        // Safe Food for Canadians Regulations, schedules 4 and 5, read; both ends of each row.
        let row = |jars| {
            let row = canadian(jars);
            (row.weigh, row.bad_fails, row.factor_thousandths)
        };
        assert_eq!(row(2), (2, Some(1), None));
        assert_eq!(row(10), (10, Some(2), None));
        // A lot of 40: a quarter is 10, factor 1.03 (W17).
        for jars in [11, 40] {
            assert_eq!(row(jars), (10, Some(2), Some(1_030)));
        }
        assert_eq!(row(41), (11, Some(2), None));
        assert_eq!(row(128), (32, Some(3), Some(485)));
        for (from, to, weigh, bad, factor) in [
            (129, 4_000, 32, 3, 485),
            (4_001, 8_000, 64, 5, 332),
            (8_001, 12_000, 96, 7, 269),
            (12_001, 90_000, 125, 8, 234),
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
            assert_eq!(canadian_bad(weighed), bad, "{weighed}");
        }
    }
}

//! Whether jars hold what their label says (NC-1 to NC-3).
//!
//! Weights here are whole tenths of a gram, since that is the step of the tolerances. Not here: the sampling plans of
//! the authorities (which need a standard deviation), the tare of the jars, and what follows from a verdict.

use serde::{Deserialize, Serialize};

use crate::form::Form;
use crate::units::Grams;

/// Jars to weigh at the start, in the middle and at the end of a filling (NC-3). Common practice, no source.
pub const CHECK_JARS_EACH_TIME: usize = 5;
/// Empty jars to weigh for a tare (NC-3). Common practice, no source.
pub const TARE_JARS: usize = 10;

/// How a batch of packs is judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, Form, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ContentRule {
    /// The average system with at most 2 % of the packs below the first limit: the German text, which implements
    /// Directive 76/211/EEC; Fertigpackungsverordnung, 18 November 2020, section 9, read.
    AverageEu,
    /// The average system with at most 2.5 % of the packs below the first limit: guidance of the United Kingdom,
    /// on packaged goods, read.
    AverageUk,
    /// No pack below its nominal mass (NC-3); the same guidance.
    Minimum,
}

/// The two lower limits of one pack in the average system, tenths of a gram (NC-1).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PackLimits {
    /// The tolerable negative error.
    pub error_tenths_g: i64,
    /// Nominal less the error; few packs may lie below it.
    pub t1_tenths_g: i64,
    /// Nominal less twice the error; no pack may lie below it.
    pub t2_tenths_g: i64,
}

/// What the check weights of a batch say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verdict {
    /// How many were weighed.
    pub weighed: usize,
    /// Their mean, tenths of a gram, rounded down: one shown as the nominal mass does reach it.
    pub mean_tenths_g: i64,
    /// How many lie below the nominal mass.
    pub below_nominal: usize,
    /// How many lie below the first limit, those below the second included.
    pub below_t1: usize,
    /// How many lie below the second limit.
    pub below_t2: usize,
    /// Why the batch does not pass, the gravest first; empty when it does.
    pub failures: Vec<ContentFailure>,
}

impl Verdict {
    /// Whether nothing speaks against the batch.
    #[must_use]
    pub const fn passes(&self) -> bool {
        self.failures.is_empty()
    }
}

/// What speaks against a batch (NC-1, NC-3).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, Form, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ContentFailure {
    /// A pack lies below nominal less twice the tolerable error; none may.
    PackBelowT2,
    /// Too large a share lies below nominal less the tolerable error.
    TooManyBelowT1,
    /// The mean lies below the nominal mass.
    MeanBelowNominal,
    /// A pack lies below its nominal mass under the minimum rule.
    PackBelowNominal,
}

/// Check weights that cannot be judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NetContentRefused {
    /// The average system is for packs from 5 g to 25 kg (NC-1).
    #[error("packs from 5 g to 25 kg are judged by their average, and {nominal_g} g is not among them")]
    OutsideAverageSystem {
        /// The nominal mass, grams.
        nominal_g: i64,
    },
    /// No pack was weighed.
    #[error("no pack was weighed")]
    NothingWeighed,
}

/// The tolerable negative error of a pack, tenths of a gram (NC-2). Percentages are rounded up to the next tenth.
///
/// Up to 10 kg: Fertigpackungsverordnung, 18 November 2020, section 9(3), read; above: guidance of the United
/// Kingdom on packaged goods, read, with the same figures in Canada's Safe Food for Canadians Regulations, schedule 4, read.
///
/// # Errors
/// [`NetContentRefused::OutsideAverageSystem`].
pub fn tolerable_negative_error_tenths_g(nominal: Grams) -> Result<i64, NetContentRefused> {
    let nominal_g = nominal.get();
    match nominal_g {
        5..=50 => Ok(rounded_up(nominal_g * 9, 10)),
        51..=100 => Ok(45),
        101..=200 => Ok(rounded_up(nominal_g * 45, 100)),
        201..=300 => Ok(90),
        301..=500 => Ok(rounded_up(nominal_g * 3, 10)),
        501..=1_000 => Ok(150),
        1_001..=10_000 => Ok(rounded_up(nominal_g * 15, 100)),
        10_001..=15_000 => Ok(1_500),
        15_001..=25_000 => Ok(rounded_up(nominal_g, 10)),
        _ => Err(NetContentRefused::OutsideAverageSystem { nominal_g }),
    }
}

/// The two lower limits of one pack (NC-1). The second takes twice the rounded error away.
///
/// The German text has a table of its own for the doubled error (section 9(4), read) and rounds there only once, which
/// for odd sizes lies a tenth of a gram higher: 426.7 instead of 426.6 g for 454 g. See [`german_t2_tenths_g`].
///
/// # Errors
/// [`NetContentRefused::OutsideAverageSystem`].
pub fn pack_limits(nominal: Grams) -> Result<PackLimits, NetContentRefused> {
    let error_tenths_g = tolerable_negative_error_tenths_g(nominal)?;
    let nominal_tenths_g = nominal.get() * 10;
    Ok(PackLimits {
        error_tenths_g,
        t1_tenths_g: nominal_tenths_g - error_tenths_g,
        t2_tenths_g: nominal_tenths_g - 2 * error_tenths_g,
    })
}

/// The second limit by the German table of doubled errors, tenths of a gram: the doubled percentage is rounded up once.
///
/// Fertigpackungsverordnung, 18 November 2020, section 9(4), read up to 10 kg; beyond that it is [`pack_limits`].
///
/// # Errors
/// [`NetContentRefused::OutsideAverageSystem`].
pub fn german_t2_tenths_g(nominal: Grams) -> Result<i64, NetContentRefused> {
    let nominal_g = nominal.get();
    let doubled = match nominal_g {
        5..=50 => rounded_up(nominal_g * 18, 10),
        101..=200 => rounded_up(nominal_g * 9, 10),
        301..=500 => rounded_up(nominal_g * 6, 10),
        1_001..=10_000 => rounded_up(nominal_g * 3, 10),
        _ => 2 * tolerable_negative_error_tenths_g(nominal)?,
    };
    Ok(nominal_g * 10 - doubled)
}

/// Judges the check weights of a batch, net, tenths of a gram (NC-1, NC-3).
///
/// The mean and the shares are those of the packs that were weighed. Where these are a sample and not the batch, a
/// single one below the first limit already exceeds the allowed share if fewer than 50 (2.5 %: 40) were weighed; that
/// is a reason to weigh more, whereas one below the second limit is a reason to stop. For the European Union the higher
/// of the two ways to reckon the second limit counts ([`german_t2_tenths_g`]).
///
/// # Errors
/// [`NetContentRefused`] when nothing was weighed, or the pack is too small or too large for the average system.
pub fn judge(nominal: Grams, weights_tenths_g: &[i64], rule: ContentRule) -> Result<Verdict, NetContentRefused> {
    let limits = match rule {
        ContentRule::AverageEu => PackLimits {
            t2_tenths_g: german_t2_tenths_g(nominal)?,
            ..pack_limits(nominal)?
        },
        ContentRule::AverageUk => pack_limits(nominal)?,
        ContentRule::Minimum => no_tolerance(nominal),
    };
    if weights_tenths_g.is_empty() {
        return Err(NetContentRefused::NothingWeighed);
    }
    let nominal_tenths_g = nominal.get() * 10;
    let below = |limit: i64| weights_tenths_g.iter().filter(|weight| **weight < limit).count();
    let weighed = weights_tenths_g.len();
    let sum: i128 = weights_tenths_g.iter().map(|weight| i128::from(*weight)).sum();
    let count = i128::try_from(weighed).unwrap_or(i128::MAX);

    let mut verdict = Verdict {
        weighed,
        mean_tenths_g: i64::try_from(sum.div_euclid(count)).unwrap_or(i64::MAX),
        below_nominal: below(nominal_tenths_g),
        below_t1: below(limits.t1_tenths_g),
        below_t2: below(limits.t2_tenths_g),
        failures: Vec::new(),
    };
    verdict.failures = failures(&verdict, nominal_tenths_g, rule);
    Ok(verdict)
}

/// The failures of a verdict, gravest first. A mean rounded down is below a whole number exactly when the mean is.
fn failures(verdict: &Verdict, nominal_tenths_g: i64, rule: ContentRule) -> Vec<ContentFailure> {
    let allowed_per_mille = match rule {
        ContentRule::AverageEu => 20,
        ContentRule::AverageUk => 25,
        ContentRule::Minimum => {
            return if verdict.below_nominal > 0 {
                vec![ContentFailure::PackBelowNominal]
            } else {
                Vec::new()
            };
        }
    };
    let mut failures = Vec::new();
    if verdict.below_t2 > 0 {
        failures.push(ContentFailure::PackBelowT2);
    }
    if verdict.below_t1 * 1_000 > verdict.weighed * allowed_per_mille {
        failures.push(ContentFailure::TooManyBelowT1);
    }
    if verdict.mean_tenths_g < nominal_tenths_g {
        failures.push(ContentFailure::MeanBelowNominal);
    }
    failures
}

/// Under the minimum rule there is one limit, the nominal mass.
const fn no_tolerance(nominal: Grams) -> PackLimits {
    let nominal_tenths_g = nominal.get() * 10;
    PackLimits {
        error_tenths_g: 0,
        t1_tenths_g: nominal_tenths_g,
        t2_tenths_g: nominal_tenths_g,
    }
}

/// A quotient of two numbers that are not negative, rounded up.
const fn rounded_up(above: i64, below: i64) -> i64 {
    (above + below - 1) / below
}

#[cfg(test)]
mod tests {
    use std::error::Error;

    use proptest::prelude::*;

    use super::*;

    const TABLE: &str = include_str!("../tests/data/tolerable-negative-error.csv");

    const fn jar(nominal_g: i64) -> Grams {
        Grams::constant(nominal_g)
    }

    #[test]
    fn the_errors_of_nc_2_are_met() {
        // NC-2, arithmetic on the read table.
        for (nominal_g, error) in [
            (227, 90),
            (250, 90),
            (340, 102),
            (454, 137),
            (500, 150),
            (1_000, 150),
            (1_400, 210),
            (3_000, 450),
        ] {
            assert_eq!(
                tolerable_negative_error_tenths_g(jar(nominal_g)),
                Ok(error),
                "{nominal_g} g"
            );
        }
    }

    #[test]
    fn worked_examples_w13_to_w15_are_met() {
        // Fertigpackungsverordnung section 9, read. W13: 500 g. W14: 454 g, both ways to double. W15: 113 g.
        let limits = |error, t1, t2| {
            Ok(PackLimits {
                error_tenths_g: error,
                t1_tenths_g: t1,
                t2_tenths_g: t2,
            })
        };
        assert_eq!(pack_limits(jar(500)), limits(150, 4_850, 4_700));
        assert_eq!(pack_limits(jar(454)), limits(137, 4_403, 4_266));
        assert_eq!(german_t2_tenths_g(jar(454)), Ok(4_267));
        // The same above a kilogram: 3 % of 1003 g are 30.09 g, rounded up once to 30.1 and not twice to 30.2.
        assert_eq!(german_t2_tenths_g(jar(1_003)), Ok(9_729));
        assert_eq!(pack_limits(jar(1_003)), limits(151, 9_879, 9_728));
        assert_eq!(tolerable_negative_error_tenths_g(jar(113)), Ok(51));
    }

    #[test]
    fn all_22_rows_of_the_table_are_met() -> Result<(), Box<dyn Error>> {
        // Fertigpackungsverordnung section 9(3) and 9(4), read.
        let mut rows = 0;
        for line in TABLE
            .lines()
            .filter(|line| line.starts_with(|first: char| first.is_ascii_digit()))
        {
            let numbers: Vec<i64> = line
                .split(',')
                .map(|cell| cell.replace('.', "").parse())
                .collect::<Result<_, _>>()?;
            let [nominal_g, error, t1, t2, german_t2] = numbers[..] else {
                return Err(format!("{line} does not have five columns").into());
            };
            let limits = pack_limits(Grams::new(nominal_g)?)?;
            assert_eq!(
                (limits.error_tenths_g, limits.t1_tenths_g, limits.t2_tenths_g),
                (error, t1, t2),
                "{line}"
            );
            assert_eq!(german_t2_tenths_g(Grams::new(nominal_g)?)?, german_t2, "{line}");
            rows += 1;
        }
        assert_eq!(rows, 22);
        Ok(())
    }

    #[test]
    fn the_german_table_rounds_a_doubled_percentage_once_in_every_band_of_per_cents() {
        // Section 9(4), read: 18 %, 9 %, 6 % and 3 %, rounded up once; twice the rounded error is a tenth more here.
        for (nominal_g, once, twice) in [
            (28, 229, 228),
            (111, 1_010, 1_010),
            (125, 1_137, 1_136),
            (454, 4_267, 4_266),
        ] {
            assert_eq!(german_t2_tenths_g(jar(nominal_g)), Ok(once), "{nominal_g} g");
            assert_eq!(
                pack_limits(jar(nominal_g)).map(|limits| limits.t2_tenths_g),
                Ok(twice),
                "{nominal_g} g"
            );
        }
        // 1 003 g: 3 % are 30.09 g, 30.1; 1.5 % are 15.045 g, 15.1, doubled 30.2.
        assert_eq!(german_t2_tenths_g(jar(1_003)), Ok(9_729));
        assert_eq!(pack_limits(jar(1_003)).map(|limits| limits.t2_tenths_g), Ok(9_728));
    }

    #[test]
    fn a_mean_of_exactly_the_nominal_mass_is_enough() -> Result<(), Box<dyn Error>> {
        // NC-1: not below.
        for rule in [ContentRule::AverageEu, ContentRule::AverageUk, ContentRule::Minimum] {
            let verdict = judge(jar(500), &[5_000; 10], rule)?;
            assert!(verdict.passes());
            assert_eq!(
                (verdict.weighed, verdict.mean_tenths_g, verdict.below_nominal),
                (10, 5_000, 0)
            );
        }
        Ok(())
    }

    #[test]
    fn under_the_minimum_rule_there_is_one_limit() -> Result<(), Box<dyn Error>> {
        let verdict = judge(jar(500), &[4_999, 5_000, 4_000], ContentRule::Minimum)?;
        assert_eq!((verdict.below_nominal, verdict.below_t1, verdict.below_t2), (2, 2, 2));
        Ok(())
    }

    #[test]
    fn the_gravest_failure_comes_first() -> Result<(), Box<dyn Error>> {
        let verdict = judge(jar(500), &[4_699, 4_849, 5_000], ContentRule::AverageEu)?;
        assert_eq!(
            verdict.failures,
            [
                ContentFailure::PackBelowT2,
                ContentFailure::TooManyBelowT1,
                ContentFailure::MeanBelowNominal
            ]
        );
        assert_eq!((verdict.below_t2, verdict.below_t1, verdict.below_nominal), (1, 2, 2));
        Ok(())
    }

    #[test]
    fn adjoining_bands_agree_where_they_meet() {
        // The table has each bound in two bands; both must say the same.
        for (bound, error) in [
            (50, 45),
            (100, 45),
            (200, 90),
            (300, 90),
            (500, 150),
            (1_000, 150),
            (10_000, 1_500),
            (15_000, 1_500),
        ] {
            assert_eq!(tolerable_negative_error_tenths_g(jar(bound)), Ok(error));
        }
        assert_eq!(tolerable_negative_error_tenths_g(jar(25_000)), Ok(2_500));
        for nominal_g in [0, 4, 25_001] {
            assert_eq!(
                tolerable_negative_error_tenths_g(jar(nominal_g)),
                Err(NetContentRefused::OutsideAverageSystem { nominal_g })
            );
        }
    }

    #[test]
    fn a_batch_with_a_low_mean_fails() -> Result<(), Box<dyn Error>> {
        // W19: 500 g, lot of 40, every pack weighed, mean 499.9 g.
        let weights = [4_999; 40];
        let verdict = judge(jar(500), &weights, ContentRule::AverageEu)?;
        assert_eq!(verdict.failures, [ContentFailure::MeanBelowNominal]);
        assert_eq!(verdict.below_nominal, 40);
        assert!(!verdict.passes());
        // Exactly full is full.
        assert!(judge(jar(500), &[4_990, 5_010], ContentRule::AverageEu)?.passes());
        // A hundredth of a gram short in the mean is still short, and does not print as full.
        let mut weights = [5_000; 10];
        weights[0] = 4_999;
        let verdict = judge(jar(500), &weights, ContentRule::AverageUk)?;
        assert_eq!((verdict.mean_tenths_g, verdict.passes()), (4_999, false));
        Ok(())
    }

    #[test]
    fn the_share_below_t1_is_2_per_cent_in_the_eu_and_2_5_in_the_uk() -> Result<(), Box<dyn Error>> {
        // NC-1. A pack of exactly nominal less the error is not below it.
        let batch = |low: usize, of: usize, rule| {
            let mut weights = vec![5_050; of];
            weights[..low].fill(4_849);
            judge(jar(500), &weights, rule).map(|verdict| verdict.failures)
        };
        assert_eq!(batch(1, 50, ContentRule::AverageEu)?, []);
        assert_eq!(batch(1, 49, ContentRule::AverageEu)?, [ContentFailure::TooManyBelowT1]);
        assert_eq!(batch(1, 40, ContentRule::AverageUk)?, []);
        assert_eq!(batch(1, 39, ContentRule::AverageUk)?, [ContentFailure::TooManyBelowT1]);
        let at_the_limit = judge(jar(500), &[4_850, 5_200, 5_000], ContentRule::AverageEu)?;
        assert!(at_the_limit.passes());
        Ok(())
    }

    #[test]
    fn one_pack_below_t2_fails_whatever_the_mean() -> Result<(), Box<dyn Error>> {
        // NC-1; in the EU the higher of the two ways to reckon it counts.
        let mut weights = vec![4_600; 100];
        weights[0] = 4_266;
        let uk = judge(jar(454), &weights, ContentRule::AverageUk)?;
        assert!(uk.passes(), "{uk:?}");
        let eu = judge(jar(454), &weights, ContentRule::AverageEu)?;
        assert_eq!(
            (eu.failures, eu.below_t2, eu.below_t1),
            (vec![ContentFailure::PackBelowT2], 1, 1)
        );
        Ok(())
    }

    #[test]
    fn under_the_minimum_rule_no_pack_is_short() -> Result<(), Box<dyn Error>> {
        // NC-3.
        let short = judge(jar(500), &[5_010, 4_999, 5_020], ContentRule::Minimum)?;
        assert_eq!(
            (short.below_nominal, short.below_t1, short.below_t2),
            (1, 1, 1),
            "there is one limit"
        );
        assert_eq!(short.failures, [ContentFailure::PackBelowNominal]);
        assert!(judge(jar(500), &[5_000, 5_010], ContentRule::Minimum)?.passes());
        Ok(())
    }

    #[test]
    fn nothing_weighed_is_no_verdict() {
        for rule in [ContentRule::AverageEu, ContentRule::AverageUk, ContentRule::Minimum] {
            assert_eq!(judge(jar(500), &[], rule), Err(NetContentRefused::NothingWeighed));
        }
    }

    proptest! {
        #[test]
        fn the_limits_rise_with_the_pack(nominal_g in 5_i64..25_000) {
            if let (Ok(smaller), Ok(larger)) = (pack_limits(jar(nominal_g)), pack_limits(jar(nominal_g + 1))) {
                prop_assert!(smaller.error_tenths_g <= larger.error_tenths_g);
                prop_assert!(smaller.t1_tenths_g < larger.t1_tenths_g && smaller.t2_tenths_g < larger.t2_tenths_g);
            }
            if let (Ok(limits), Ok(german)) = (pack_limits(jar(nominal_g)), german_t2_tenths_g(jar(nominal_g))) {
                prop_assert!((0..=1).contains(&(german - limits.t2_tenths_g)));
            }
        }

        #[test]
        fn a_heavier_pack_never_makes_it_worse(
            weights in prop::collection::vec(4_500_i64..5_500, 1..60), which in any::<prop::sample::Index>(),
        ) {
            let mut heavier = weights.clone();
            heavier[which.index(weights.len())] += 200;
            for rule in [ContentRule::AverageEu, ContentRule::AverageUk, ContentRule::Minimum] {
                if let (Ok(before), Ok(after)) = (judge(jar(500), &weights, rule), judge(jar(500), &heavier, rule)) {
                    prop_assert!(after.failures.iter().all(|failure| before.failures.contains(failure)));
                }
            }
        }
    }
}

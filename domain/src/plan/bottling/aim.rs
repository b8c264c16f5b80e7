//! How full a jar is aimed at, so that jars not yet filled keep the rules.
//!
//! What is known is the spread s of m jars filled before. For a normal filling with an aim A the prediction for jars
//! to come is Student's t with m - 1 degrees of freedom:
//! - the mean of N jars lies above A - t(c) s sqrt(1/m + 1/N) with the confidence c;
//! - one jar lies above A - t(p) s sqrt(1 + 1/m) with the chance p: p is one less the share that may lie below the first
//!   limit, and for "no jar of N" the doubt 1 - c is shared out among the N.
//!
//! Prediction intervals for a mean and for one more observation are in every handbook of statistics; sharing the doubt
//! out is Bonferroni's inequality and errs on the safe side.

use super::AimedBy;
use crate::plan::net_content::Scheme;
use crate::plan::net_content::limits::Limits;
use crate::plan::net_content::tables::sampled;
use crate::plan::student::{t, whole};

/// What is known of a filling.
#[derive(Clone, Copy, Debug)]
pub(super) struct Filling {
    pub(super) scheme: Scheme,
    pub(super) limits: Limits,
    /// Standard deviation, grams, and of how many jars.
    pub(super) spread: Option<(f64, usize)>,
    /// The step of the scale, tenths of a gram.
    pub(super) step_tenths_g: i64,
    pub(super) confidence: f64,
}

/// How full, tenths of a gram, and which rule asks for it, where so many jars are filled.
pub(super) fn aim(filling: &Filling, jars: usize) -> (i64, AimedBy) {
    let nominal = milligrams(filling.limits.nominal_mg);
    let half_step = filling.step_tenths_g as f64 / 20.0;
    let Some((spread, of)) = filling.spread else {
        let habit = filling.limits.nominal_mg / 100 + super::HABIT_TENTHS_G;
        return (
            in_steps(habit as f64 / 10.0 + half_step, filling.step_tenths_g),
            AimedBy::Habit,
        );
    };
    let doubt = 1.0 - filling.confidence;
    // What no table tells is out of reach, unless nothing scatters.
    let scatter = |t: Option<f64>| {
        if spread > 0.0 {
            t.unwrap_or(f64::INFINITY) * spread
        } else {
            0.0
        }
    };
    let one_more = |p: f64| scatter(t(p, of)) * libm::sqrt(1.0 + 1.0 / whole(of));
    let of_all = |jars: usize| one_more(1.0 - doubt / whole(jars.max(1)));
    let mut asks = Vec::new();
    if filling.scheme == Scheme::Minimum {
        asks.push((nominal + of_all(jars), AimedBy::NoneBelowNominal));
    } else {
        let mean = scatter(t(filling.confidence, of)) * libm::sqrt(1.0 / whole(of) + 1.0 / whole(jars.max(1)));
        asks.push((nominal + mean, AimedBy::Mean));
    }
    if let Some(first_mg) = filling.limits.first_mg {
        // Canada counts in the sample that is weighed: none of it is to lie below.
        let reach = filling.limits.share_per_mille.map_or_else(
            || of_all(sampled(filling.scheme, jars).map_or(jars, |plan| plan.weigh)),
            |share| one_more(1.0 - share as f64 / 1_000.0),
        );
        asks.push((milligrams(first_mg) + reach, AimedBy::FewBelowFirst));
    }
    if let Some(second_mg) = filling.limits.second_mg {
        asks.push((milligrams(second_mg) + of_all(jars), AimedBy::NoneBelowSecond));
    }
    let most = asks.into_iter().fold(
        (nominal, AimedBy::Mean),
        |most, ask| if ask.0 > most.0 { ask } else { most },
    );
    (in_steps(most.0 + half_step, filling.step_tenths_g), most.1)
}

/// An aim that no jar has.
const OUT_OF_REACH_G: f64 = 1e8;

/// Whole steps, rounded up, tenths of a gram.
fn in_steps(grams: f64, step_tenths_g: i64) -> i64 {
    let steps = libm::ceil(grams.min(OUT_OF_REACH_G) * 10.0 / step_tenths_g as f64 - 1e-9);
    steps as i64 * step_tenths_g
}

fn milligrams(value: i64) -> f64 {
    value as f64 / 1_000.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::net_content::limits::limits;
    use crate::units::Grams;

    fn filling(scheme: Scheme, nominal_g: i64, spread: Option<(f64, usize)>, step_tenths_g: i64) -> Filling {
        Filling {
            scheme,
            limits: limits(scheme, Grams::constant(nominal_g)).unwrap(),
            spread,
            step_tenths_g,
            confidence: 0.95,
        }
    }

    #[test]
    fn the_mean_asks_for_t_times_the_spread_of_two_means() {
        // By hand: 500 g, s 2.0 g of 11 jars, 110 to be filled: t(0.95, 10) = 1.8125, root of 1/11 + 1/110 is 0.31623;
        // 500 + 1.146 + half of 0.1 g, in tenths: 501.2. By whole grams: 501.646, so 502.
        assert_eq!(
            aim(&filling(Scheme::Eu, 500, Some((2.0, 11)), 1), 110),
            (5_012, AimedBy::Mean)
        );
        assert_eq!(
            aim(&filling(Scheme::Usa, 500, Some((2.0, 11)), 10), 110),
            (5_020, AimedBy::Mean)
        );
    }

    #[test]
    fn a_wide_spread_is_held_by_the_limits_of_the_single_jar() {
        // By hand: s 12 g of 31 jars, 1 000 to be filled. Mean: t(0.95, 30) = 1.6973, root of 1/31 + 1/1000 is 0.18237:
        // 503.71. First limit 485 g: t(0.98, 30) = 2.1470 (statrs), times 12 times root of 32/31 is 26.18: 511.18.
        // Second limit 470 g: t(1 - 0.05/1000, 30) = 4.4816, so 54.64: 524.64, and half of 0.1 g.
        let wide = filling(Scheme::Eu, 500, Some((12.0, 31)), 1);
        let (tenths, by) = aim(&wide, 1_000);
        assert_eq!(by, AimedBy::NoneBelowSecond);
        assert!((5_240..=5_255).contains(&tenths), "{tenths}");
        // Ten jars share the doubt out among fewer.
        assert!(aim(&wide, 10).0 < tenths);
    }

    #[test]
    fn under_the_minimum_rule_the_nominal_mass_is_the_limit() {
        // By hand: t(1 - 0.05/100, 10) = 4.587; 500 + 4.587 * 2 * root of 12/11 = 509.58, and half of 0.1 g: 509.7.
        let (tenths, by) = aim(&filling(Scheme::Minimum, 500, Some((2.0, 11)), 1), 100);
        assert_eq!((tenths, by), (5_097, AimedBy::NoneBelowNominal));
    }

    #[test]
    fn without_a_spread_habit_gives_two_grams() {
        assert_eq!(aim(&filling(Scheme::Eu, 500, None, 10), 100), (5_030, AimedBy::Habit));
        assert_eq!(aim(&filling(Scheme::Eu, 500, None, 1), 100), (5_021, AimedBy::Habit));
    }

    #[test]
    fn a_doubt_that_no_table_reaches_is_out_of_reach() {
        let two = filling(Scheme::Minimum, 500, Some((2.0, 2)), 10);
        let (tenths, _) = aim(&two, 1_000_000);
        assert!(tenths > 1_000_000 && tenths <= 1_000_000_010, "{tenths}");
    }

    #[test]
    fn without_any_scatter_half_a_step_is_left() {
        for scheme in [Scheme::Eu, Scheme::Uk, Scheme::Canada, Scheme::Usa] {
            assert_eq!(
                aim(&filling(scheme, 500, Some((0.0, 10)), 10), 100),
                (5_010, AimedBy::Mean)
            );
        }
    }

    #[test]
    fn more_spread_fewer_jars_known_or_more_confidence_never_ask_for_less() {
        let mut before = 0;
        for spread in 0..40 {
            let (tenths, _) = aim(&filling(Scheme::Eu, 454, Some((f64::from(spread) / 2.0, 8)), 1), 200);
            assert!(tenths >= before);
            before = tenths;
        }
        let of = |jars| aim(&filling(Scheme::Canada, 454, Some((3.0, jars)), 1), 200).0;
        assert!(of(3) > of(6) && of(6) > of(12) && of(12) > of(60));
        let surer = Filling {
            confidence: 0.99,
            ..filling(Scheme::Canada, 454, Some((3.0, 12)), 1)
        };
        assert!(aim(&surer, 200).0 > of(12));
    }
}

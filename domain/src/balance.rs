//! Where the honey of one run went (MB-1 to MB-4); of a lot and its labels and jars in `balance/lot.rs`.
//!
//! Not here: the answer "balance not possible" when a super,
//! a fill or the wax was never weighed: whoever gathers the weights says so instead of asking here.

use serde::{Deserialize, Serialize};

use crate::form::Form;

mod lot;

pub use lot::{LabelBalance, LotBalance, jars_band, label_balance, lot_balance};

/// What was weighed in one run, grams. Sums over boxes and containers, hence plain numbers; never below nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct RunWeights {
    /// All supers before uncapping.
    pub in_g: i64,
    /// The same supers after spinning.
    pub wet_g: i64,
    /// Honey filled into containers.
    pub bulk_g: i64,
    /// Honey recovered from the cappings.
    pub cappings_honey_g: i64,
    /// Wax from the cappings.
    pub wax_g: i64,
    /// Honey left in the extractor, pump and strainers; `None` when nobody weighed it.
    pub left_in_machine_g: Option<i64>,
    /// Samples.
    pub samples_g: i64,
    /// Water dried off between weighing in and filling (DR-3): kilograms that fall without being lost (MB-4).
    pub water_dried_g: i64,
}

/// Where the honey of a run went.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, Form, utoipa::ToSchema)]
pub struct RunBalance {
    /// Honey taken from the supers, wax and all, grams.
    pub net_g: i64,
    /// What is known of it, grams.
    pub accounted_g: i64,
    /// The rest, grams. Below nothing: more came out than went in, and kilograms never rise without a cause (MB-4).
    pub unexplained_g: i64,
    /// The rest as a share of the net, hundredths of a per cent, half away from zero. For display; the colour is
    /// decided on the exact ratio.
    pub unexplained_share_bp: i64,
    /// The colour of the rest (MB-2).
    pub band: Band,
    /// What is odd about the parts (MB-3).
    pub warnings: Vec<BalanceWarning>,
}

/// How far a balance is out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, Form, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Band {
    /// As it should be.
    Green,
    /// Worth a look.
    Amber,
    /// Something is wrong or missing.
    Red,
}

/// A part of a run that is larger or smaller than such parts are (MB-3), all as shares of the run's net.
///
/// Typical: cappings honey up to about 10 % and wax 1 to 2 %, both read; the bounds of the warnings are our own
/// choice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, Form, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BalanceWarning {
    /// Cappings honey above 15 %.
    MuchCappingsHoney,
    /// Wax above 3 %.
    MuchWax,
    /// Wax below 0.5 %.
    LittleWax,
}

/// A run from which no honey was taken has no shares.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the supers of the run gave {net_g} g, so there is nothing to balance")]
pub struct NothingTaken {
    net_g: i64,
}

/// The balance of one run (MB-1), coloured by MB-2.
///
/// Green from -1 to +3 % of the net, amber from -2 to +5 %, red beyond; a bound belongs to the milder colour. Where
/// the machine was not weighed its honey is among the unexplained, so each upper bound lies one point higher. The
/// bounds are our own choice.
///
/// # Errors
/// [`NothingTaken`] when the supers did not get lighter.
pub fn balance(weights: &RunWeights) -> Result<RunBalance, NothingTaken> {
    let net_g = weights.in_g - weights.wet_g;
    if net_g <= 0 {
        return Err(NothingTaken { net_g });
    }
    let accounted_g = weights.bulk_g
        + weights.cappings_honey_g
        + weights.wax_g
        + weights.left_in_machine_g.unwrap_or(0)
        + weights.samples_g
        + weights.water_dried_g;
    let unexplained_g = net_g - accounted_g;
    Ok(RunBalance {
        net_g,
        accounted_g,
        unexplained_g,
        unexplained_share_bp: share_bp(unexplained_g, net_g),
        band: band(unexplained_g, net_g, weights.left_in_machine_g),
        warnings: warnings(weights, net_g),
    })
}

fn band(unexplained_g: i64, net_g: i64, left_in_machine_g: Option<i64>) -> Band {
    let allowance = if left_in_machine_g.is_none() { 100 } else { 0 };
    let within = |from_bp: i64, to_bp: i64| {
        let exact = i128::from(unexplained_g) * 10_000;
        (i128::from(net_g) * i128::from(from_bp)..=i128::from(net_g) * i128::from(to_bp)).contains(&exact)
    };
    if within(-100, 300 + allowance) {
        Band::Green
    } else if within(-200, 500 + allowance) {
        Band::Amber
    } else {
        Band::Red
    }
}

fn warnings(weights: &RunWeights, net_g: i64) -> Vec<BalanceWarning> {
    let against = |part_g: i64, bp: i64| (i128::from(part_g) * 10_000).cmp(&(i128::from(net_g) * i128::from(bp)));
    let mut warnings = Vec::new();
    if against(weights.cappings_honey_g, 1_500).is_gt() {
        warnings.push(BalanceWarning::MuchCappingsHoney);
    }
    if against(weights.wax_g, 300).is_gt() {
        warnings.push(BalanceWarning::MuchWax);
    }
    if against(weights.wax_g, 50).is_lt() {
        warnings.push(BalanceWarning::LittleWax);
    }
    warnings
}

/// Hundredths of a per cent, half away from zero; `whole_g` is above nothing.
fn share_bp(part_g: i64, whole_g: i64) -> i64 {
    let (part, whole) = (i128::from(part_g), i128::from(whole_g));
    let magnitude = (part.abs() * 20_000 + whole) / (2 * whole);
    i64::try_from(part.signum() * magnitude).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Fixture A of the trade rules.
    const FIXTURE_A: RunWeights = RunWeights {
        in_g: 119_100,
        wet_g: 48_300,
        bulk_g: 61_900,
        cappings_honey_g: 5_100,
        wax_g: 900,
        left_in_machine_g: Some(1_400),
        samples_g: 500,
        water_dried_g: 0,
    };

    /// A run of 100 kg of which this much is unexplained.
    fn out_by(unexplained_g: i64, left_in_machine_g: Option<i64>) -> Result<Band, NothingTaken> {
        let bulk_g = 98_000 - unexplained_g - left_in_machine_g.unwrap_or(0);
        let weights = RunWeights {
            in_g: 100_000,
            bulk_g,
            wax_g: 2_000,
            left_in_machine_g,
            ..RunWeights::default()
        };
        balance(&weights).map(|balance| balance.band)
    }

    #[test]
    fn fixture_a_leaves_one_kilogram_unexplained_and_is_green() {
        // MB-1, MB-2, arithmetic.
        assert_eq!(
            balance(&FIXTURE_A),
            Ok(RunBalance {
                net_g: 70_800,
                accounted_g: 69_800,
                unexplained_g: 1_000,
                unexplained_share_bp: 141,
                band: Band::Green,
                warnings: vec![],
            })
        );
    }

    #[test]
    fn a_bound_belongs_to_the_milder_colour() {
        // MB-2, to the gram on both sides of each bound.
        for (unexplained_g, band) in [
            (3_000, Band::Green),
            (3_001, Band::Amber),
            (5_000, Band::Amber),
            (5_001, Band::Red),
            (-1_000, Band::Green),
            (-1_001, Band::Amber),
            (-2_000, Band::Amber),
            (-2_001, Band::Red),
        ] {
            assert_eq!(out_by(unexplained_g, Some(1_000)), Ok(band), "{unexplained_g}");
        }
    }

    #[test]
    fn an_unweighed_machine_allows_one_point_more_upwards_only() {
        // MB-2.
        for (unexplained_g, band) in [
            (4_000, Band::Green),
            (4_001, Band::Amber),
            (6_000, Band::Amber),
            (6_001, Band::Red),
            (-1_001, Band::Amber),
            (-2_001, Band::Red),
        ] {
            assert_eq!(out_by(unexplained_g, None), Ok(band), "{unexplained_g}");
        }
    }

    #[test]
    fn the_colour_follows_the_exact_ratio_and_not_the_printed_one() {
        // 3.0001 % prints as 3.00 and is amber all the same.
        let weights = RunWeights {
            in_g: 1_000_000,
            bulk_g: 959_999,
            wax_g: 10_000,
            left_in_machine_g: Some(0),
            ..RunWeights::default()
        };
        let balance = balance(&weights);
        assert_eq!(balance.as_ref().map(|balance| balance.unexplained_share_bp), Ok(300));
        assert_eq!(balance.map(|balance| balance.band), Ok(Band::Amber));
    }

    #[test]
    fn odd_parts_are_named() {
        // MB-3, bounds included in what is usual.
        let with = |cappings_honey_g, wax_g| {
            let weights = RunWeights {
                in_g: 100_000,
                cappings_honey_g,
                wax_g,
                ..RunWeights::default()
            };
            balance(&weights).map(|balance| balance.warnings)
        };
        assert_eq!(with(15_000, 3_000), Ok(vec![]));
        assert_eq!(with(15_000, 500), Ok(vec![]));
        assert_eq!(
            with(15_001, 3_001),
            Ok(vec![BalanceWarning::MuchCappingsHoney, BalanceWarning::MuchWax])
        );
        assert_eq!(with(0, 499), Ok(vec![BalanceWarning::LittleWax]));
    }

    #[test]
    fn water_dried_off_is_not_a_loss() {
        // MB-4, DR-3.
        let dried = RunWeights {
            bulk_g: 60_900,
            water_dried_g: 1_000,
            ..FIXTURE_A
        };
        assert_eq!(balance(&dried).map(|balance| balance.unexplained_g), Ok(1_000));
    }

    #[test]
    fn a_run_without_net_has_no_balance() {
        assert_eq!(balance(&RunWeights::default()), Err(NothingTaken { net_g: 0 }));
        let swapped = RunWeights {
            in_g: 8_100,
            wet_g: 21_400,
            ..RunWeights::default()
        };
        assert!(balance(&swapped).is_err());
    }

    proptest! {
        #[test]
        fn every_gram_is_accounted_for_or_unexplained(
            in_g in 1_i64..=10_000_000, bulk_g in 0_i64..=10_000_000, wax_g in 0_i64..=200_000,
            left_in_machine_g in prop::option::of(0_i64..=50_000),
        ) {
            let weights = RunWeights { in_g, bulk_g, wax_g, left_in_machine_g, ..RunWeights::default() };
            let Ok(balance) = balance(&weights) else {
                return Err(TestCaseError::fail("honey was taken"));
            };
            prop_assert_eq!(balance.accounted_g + balance.unexplained_g, balance.net_g);
            let exact = i128::from(balance.unexplained_g) * 10_000;
            let shown = i128::from(balance.unexplained_share_bp) * i128::from(balance.net_g);
            prop_assert!((exact - shown).abs() * 2 <= i128::from(balance.net_g));
        }
    }
}

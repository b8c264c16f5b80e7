//! The limits of one jar by scheme, in milligrams, so that no percentage has to be rounded before it is compared.

use super::Scheme;
use crate::net_content::{NetContentRefused, german_t2_tenths_g, pack_limits};
use crate::science::sampling::{Plan, limits_thousandths_g};
use crate::units::Grams;

/// What holds for one jar of a nominal mass.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Limits {
    /// What is declared.
    pub(crate) nominal_mg: i64,
    /// Few jars may lie below it.
    pub(crate) first_mg: Option<i64>,
    /// None may lie below it (in Canada: not two).
    pub(crate) second_mg: Option<i64>,
    /// How many of a thousand jars may lie below the first; Canada counts by a table instead.
    pub(crate) share_per_mille: Option<i64>,
}

/// The limits of a jar. Sources at `net_content.rs` and `science/sampling.rs`.
pub(crate) fn limits(scheme: Scheme, nominal: Grams) -> Result<Limits, NetContentRefused> {
    let nominal_mg = nominal.get() * 1_000;
    let bare = Limits {
        nominal_mg,
        first_mg: None,
        second_mg: None,
        share_per_mille: None,
    };
    Ok(match scheme {
        Scheme::Eu | Scheme::Uk => {
            let pack = pack_limits(nominal)?;
            let second = if scheme == Scheme::Eu {
                german_t2_tenths_g(nominal)?
            } else {
                pack.t2_tenths_g
            };
            Limits {
                first_mg: Some(pack.t1_tenths_g * 100),
                second_mg: Some(second * 100),
                share_per_mille: Some(if scheme == Scheme::Eu { 20 } else { 25 }),
                ..bare
            }
        }
        Scheme::Canada => {
            let [first_mg, second_mg] = limits_thousandths_g(Plan::Canada, nominal)?;
            Limits {
                first_mg: Some(first_mg),
                second_mg: Some(second_mg),
                ..bare
            }
        }
        Scheme::Usa | Scheme::Minimum => bare,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(scheme: Scheme, nominal_g: i64) -> (Option<i64>, Option<i64>, Option<i64>) {
        let limits = limits(scheme, Grams::constant(nominal_g)).unwrap();
        assert_eq!(limits.nominal_mg, nominal_g * 1_000);
        (limits.first_mg, limits.second_mg, limits.share_per_mille)
    }

    #[test]
    fn the_limits_of_454_g_differ_by_scheme() {
        // W14: 440.3 g, and 426.7 g by the German table against 426.6 g. Canada does not round 3 %: 13.62 g.
        assert_eq!(of(Scheme::Eu, 454), (Some(440_300), Some(426_700), Some(20)));
        assert_eq!(of(Scheme::Uk, 454), (Some(440_300), Some(426_600), Some(25)));
        assert_eq!(of(Scheme::Canada, 454), (Some(440_380), Some(426_760), None));
        assert_eq!(of(Scheme::Usa, 454), (None, None, None));
        assert_eq!(of(Scheme::Minimum, 454), (None, None, None));
    }

    #[test]
    fn canadas_tolerances_are_those_of_schedule_4() {
        // Schedule 4, table 3, read: both ends of each row; the upper end belongs to it.
        for (nominal_g, milligrams) in [
            (28, 2_520),
            (50, 4_500),
            (51, 4_500),
            (100, 4_500),
            (101, 4_545),
            (200, 9_000),
            (201, 9_000),
            (300, 9_000),
            (301, 9_030),
            (500, 15_000),
            (501, 15_000),
            (1_000, 15_000),
            (1_001, 15_015),
            (10_000, 150_000),
            (10_001, 150_000),
            (15_000, 150_000),
            (15_001, 150_010),
        ] {
            let full = nominal_g * 1_000;
            let limits = (Some(full - milligrams), Some(full - 2 * milligrams), None);
            assert_eq!(of(Scheme::Canada, nominal_g), limits, "{nominal_g}");
        }
    }
}

//! Next year's kilograms, boxes and jars, from a few own years: low, middle and high, never one number.
//!
//! Good and bad years lie apart by a factor more than by a sum, so it is reckoned on logarithms. With few own years the
//! spread is borrowed: a prior worth three degrees of freedom and a deviation of 0.35 (0.36 / 3, its root) of the
//! logarithm, which is a design choice held against long series of state averages.

use serde::Serialize;

use super::{float, student_t, whole};

/// The newest years that count.
const NEWEST: usize = 5;
/// Degrees of freedom of the borrowed spread.
const BORROWED_DF: f64 = 3.0;
/// Squares of the borrowed spread.
const BORROWED_SQUARES: f64 = 0.36;
/// The quantile: 80 of 100 years lie between low and high.
const QUANTILE: f64 = 0.9;

/// Three ways a year may go.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Years {
    /// One year in ten gives less.
    pub low_g: i64,
    /// As many years give less as more.
    pub middle_g: i64,
    /// One year in ten gives more.
    pub high_g: i64,
    /// Fewer than three own years: the spread is mostly borrowed.
    pub borrowed_spread: bool,
}

/// What a colony may give next year, from what colonies gave in each of the years so far, the newest last (Y1). Nothing
/// without a year in which there was honey.
#[must_use]
pub fn per_colony(y1_g: &[i64]) -> Option<Years> {
    let newest = y1_g.iter().rev().filter(|g| **g > 0).take(NEWEST);
    let logs: Vec<f64> = newest.map(|g| libm::log(float(*g))).collect();
    let t = float(i64::try_from(logs.len()).ok()?);
    if logs.is_empty() {
        return None;
    }
    let mean = logs.iter().sum::<f64>() / t;
    let squares: f64 = logs.iter().map(|log| (log - mean) * (log - mean)).sum();
    let df = BORROWED_DF + t;
    let variance = (BORROWED_SQUARES + squares) / df;
    let half = student_t(QUANTILE, df)? * libm::sqrt(variance * (1.0 + 1.0 / t));
    Some(Years {
        low_g: whole(libm::exp(mean - half))?,
        middle_g: whole(libm::exp(mean))?,
        high_g: whole(libm::exp(mean + half))?,
        borrowed_spread: logs.len() < 3,
    })
}

/// The same for all colonies planned.
#[must_use]
pub fn of_colonies(per_colony: Years, planned: i64) -> Years {
    Years {
        low_g: per_colony.low_g.saturating_mul(planned),
        middle_g: per_colony.middle_g.saturating_mul(planned),
        high_g: per_colony.high_g.saturating_mul(planned),
        ..per_colony
    }
}

/// Boxes that so much honey needs, from how many different boxes carried how much so far; rounded up.
#[must_use]
pub fn boxes(honey_g: i64, boxes_so_far: i64, honey_so_far_g: i64) -> Option<i64> {
    if honey_so_far_g <= 0 || honey_g < 0 {
        return None;
    }
    let exact = i128::from(honey_g) * i128::from(boxes_so_far);
    let by = i128::from(honey_so_far_g);
    i64::try_from((exact + by - 1) / by).ok()
}

/// Jars of a size that a share of the honey fills; the rest is left.
#[must_use]
pub fn jars(honey_g: i64, share_percent: i64, size_g: i64) -> Option<i64> {
    if size_g <= 0 || !(0..=100).contains(&share_percent) || honey_g < 0 {
        return None;
    }
    i64::try_from(i128::from(honey_g) * i128::from(share_percent) / 100 / i128::from(size_g)).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tenths(years: Years) -> (i64, i64, i64) {
        let tenth = |g: i64| (g + 50) / 100;
        (tenth(years.low_g), tenth(years.middle_g), tenth(years.high_g))
    }

    /// V17, V18: NumPy and SciPy `stats.t.ppf`.
    #[test]
    fn a_few_years_give_a_wide_range() {
        let two = per_colony(&[22_650, 34_220]).unwrap();
        assert_eq!(tenths(two), (162, 278, 477));
        assert!(two.borrowed_spread);
        let all = of_colonies(two, 60);
        for (g, kg) in [(all.low_g, 974), (all.middle_g, 1670), (all.high_g, 2865)] {
            assert!((g - kg * 1000).abs() <= 1000, "{g} {kg}");
        }
        assert_eq!(tenths(per_colony(&[22_650]).unwrap()), (118, 227, 434));
        let five = per_colony(&[24_100, 19_800, 31_000, 22_650, 34_220]).unwrap();
        assert_eq!(tenths(five), (172, 258, 388));
        assert!(!five.borrowed_spread);
    }

    #[test]
    fn only_the_newest_years_with_honey_count() {
        let five = [24_100, 19_800, 31_000, 22_650, 34_220];
        let more: Vec<i64> = [90_000, 0].into_iter().chain(five).collect();
        assert_eq!(per_colony(&more), per_colony(&five));
        assert_eq!(per_colony(&[]), None);
        assert_eq!(per_colony(&[0]), None);
    }

    /// Arithmetic.
    #[test]
    fn boxes_are_rounded_up_and_jars_down() {
        assert_eq!(boxes(1_670_000, 60, 1_000_000), Some(101));
        assert_eq!(boxes(1_000_000, 60, 1_000_000), Some(60));
        assert_eq!(boxes(1, 60, 0), None);
        assert_eq!(jars(1_670_000, 60, 500), Some(2004));
        assert_eq!(jars(999, 100, 500), Some(1));
        assert_eq!(jars(999, 101, 500), None);
    }
}

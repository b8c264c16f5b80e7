//! The few distributions that weights of jars need. Fractions stay in here and in the planners that ask.
//!
//! Student's t comes from a library; what leaves this file is rounded up at the sixth decimal, so that a planner on a
//! phone and one in the service agree, and so that it never favours the packer.

use statrs::distribution::{Binomial, ContinuousCDF, DiscreteCDF, StudentsT};

/// Fewer jars than this have no spread.
pub(crate) const FEWEST_JARS: usize = 2;

/// Student's t below which a share `p` of the distribution lies, for the spread of so many jars. Nothing where there is
/// no spread, or no such share.
pub(crate) fn t(p: f64, jars: usize) -> Option<f64> {
    if jars < FEWEST_JARS || !(0.0..1.0).contains(&p) {
        return None;
    }
    quantile(p, whole(jars - 1)).map(up_at_the_sixth)
}

/// The quantile of Student's t. Degrees of freedom need not be whole.
pub(crate) fn quantile(p: f64, df: f64) -> Option<f64> {
    let t = StudentsT::new(0.0, 1.0, df).ok()?.inverse_cdf(p);
    t.is_finite().then_some(t)
}

/// The least number from `from` on, below `to`, for which something holds that goes on holding; `to` where there is none.
pub(crate) fn first(from: usize, to: usize, holds: impl Fn(usize) -> bool) -> usize {
    let (mut low, mut high) = (from, to.max(from));
    while low < high {
        let middle = low + (high - low) / 2;
        if holds(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    low
}

/// The factor of the mean's bound, t(0.995) over the root of the number weighed. The printed factors of the German and
/// Canadian sampling plans are this, rounded.
pub(crate) fn mean_factor(p: f64, jars: usize) -> Option<f64> {
    Some(t(p, jars)? / libm::sqrt(whole(jars)))
}

/// The chance that of so many jars at least so many are bad if a share `p` of the batch is.
pub(crate) fn chance_of_at_least(bad: usize, p: f64, jars: usize) -> f64 {
    let (Ok(binomial), Some(fewer)) = (Binomial::new(p, jars as u64), bad.checked_sub(1)) else {
        return 1.0;
    };
    1.0 - binomial.cdf(fewer as u64)
}

/// Mean and standard deviation (n - 1) of weights in tenths of a gram, both in grams.
pub(crate) fn mean_and_spread(tenths_g: &[i64]) -> Option<(f64, f64)> {
    if tenths_g.len() < FEWEST_JARS {
        return None;
    }
    let (count, sum) = (whole(tenths_g.len()), tenths_g.iter().sum::<i64>());
    let mean = sum as f64 / count;
    let squares: f64 = tenths_g
        .iter()
        .map(|weight| (*weight as f64 - mean) * (*weight as f64 - mean))
        .sum();
    Some((mean / 10.0, libm::sqrt(squares / (count - 1.0)) / 10.0))
}

pub(crate) const fn whole(count: usize) -> f64 {
    count as f64
}

fn up_at_the_sixth(value: f64) -> f64 {
    libm::ceil(value * 1e6) / 1e6
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn t_is_that_of_the_printed_tables() {
        // Percentiles of Student's t as printed in tables to the third decimal (from memory): 0.95 and 0.995.
        for (jars, p, printed) in [
            (2, 0.95, 6.314),
            (5, 0.95, 2.132),
            (6, 0.95, 2.015),
            (11, 0.95, 1.812),
            (31, 0.95, 1.697),
            (61, 0.95, 1.671),
            (121, 0.95, 1.658),
            (3, 0.995, 9.925),
            (5, 0.995, 4.604),
            (11, 0.995, 3.169),
            (21, 0.995, 2.845),
            (31, 0.995, 2.750),
            (11, 0.999, 4.144),
        ] {
            let found = t(p, jars).unwrap();
            assert!((found - printed).abs() < 0.000_501, "{jars} {p}: {found}");
        }
        assert!((t(0.5, 9).unwrap()).abs() < 1e-5);
        assert_eq!((t(0.95, 1), t(1.0, 9), t(-0.1, 9)), (None, None, None));
    }

    #[test]
    fn the_factors_of_both_sampling_plans_are_met() {
        // Safe Food for Canadians Regulations, schedule 5, and Fertigpackungsverordnung, annex 3, both read.
        for (jars, printed, step) in [
            (5, 2.06, 0.01),
            (8, 1.24, 0.01),
            (10, 1.03, 0.01),
            (12, 0.897, 0.001),
            (16, 0.737, 0.001),
            (20, 0.640, 0.001),
            (25, 0.559, 0.001),
            (32, 0.485, 0.001),
            (64, 0.332, 0.001),
            (125, 0.234, 0.001),
            (50, 0.379, 0.001),
            (80, 0.295, 0.001),
            (13, 0.847, 0.001),
            (30, 0.503, 0.001),
        ] {
            let found = mean_factor(0.995, jars).unwrap();
            assert!(
                (found - printed).abs() < 0.51 * step,
                "{jars}: {found} against {printed}"
            );
        }
        // The Canadian 0.269 for 96 and the German 0.207 for 160 are a digit above t, as if they had been read off a table at
        // 90 and 120 degrees of freedom.
        for (jars, reckoned) in [(96, 0.268_28), (160, 0.206_11)] {
            let found = mean_factor(0.995, jars).unwrap();
            assert!((found - reckoned).abs() < 1e-5, "{jars}: {found}");
        }
    }

    #[test]
    fn the_first_number_that_holds_is_found() {
        for from in 0..6 {
            for at in 0..12 {
                let found = first(from, 9, |number| number >= at);
                assert_eq!(found, at.clamp(from, 9), "{from} {at}");
            }
        }
        assert_eq!(first(5, 3, |_| false), 5);
    }

    #[test]
    fn the_chance_of_bad_jars_adds_up() {
        // By hand: of 3 jars at one half each, at least 2 are bad in 4 of 8 cases; at least none always.
        assert!((chance_of_at_least(2, 0.5, 3) - 0.5).abs() < 1e-12);
        assert!((chance_of_at_least(0, 0.5, 3) - 1.0).abs() < 1e-12);
        // 1 - 0.98^50.
        assert!((chance_of_at_least(1, 0.02, 50) - 0.635_830).abs() < 1e-6);
    }

    #[test]
    fn the_spread_of_w17_is_2_413_g() {
        // W17: ten jars of the Canadian example; mean 500.4 g, s 2.413 g (n - 1).
        let (mean, spread) = mean_and_spread(&[5010, 4990, 5030, 5000, 4980, 5020, 4970, 5050, 5000, 4990]).unwrap();
        assert!((mean - 500.4).abs() < 1e-9 && (spread - 2.413).abs() < 5e-4, "{spread}");
        assert_eq!(mean_and_spread(&[5010]), None);
    }
}

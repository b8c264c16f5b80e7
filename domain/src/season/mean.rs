//! Few colonies, few words: what may be said about the kilograms of some colonies (AN-5).

use serde::Serialize;

use super::{float, student_t, whole};

/// From so many on a mean has a range.
const ENOUGH: usize = 10;
/// From so many on the middle one has a range.
const SOME: usize = 5;

/// What may be said about the kilograms of some colonies.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "say")]
pub enum Spread {
    /// Fewer than five: each by itself and nothing else.
    Dots {
        /// Each, from low to high.
        grams: Vec<i64>,
    },
    /// Five to nine: the middle one, and how surely the range holds the middle of all colonies like these.
    Middle {
        /// Each, from low to high.
        grams: Vec<i64>,
        /// The middle one.
        median_g: i64,
        /// The least.
        low_g: i64,
        /// The most.
        high_g: i64,
        /// How surely the range holds the middle, in hundred-thousandths.
        holds_middle_hundred_thousandths: i64,
    },
    /// Ten and more: the mean with the range that holds it in 95 of 100 seasons like this.
    Mean {
        /// Each, from low to high.
        grams: Vec<i64>,
        /// The mean.
        mean_g: i64,
        /// How far colonies lie apart.
        deviation_g: i64,
        /// The low end.
        low_g: i64,
        /// The high end.
        high_g: i64,
    },
}

/// The mean and the standard deviation, the latter of two and more.
fn mean_and_deviation(grams: &[i64]) -> (f64, f64) {
    let n = float(i64::try_from(grams.len()).unwrap_or(i64::MAX));
    let mean = float(grams.iter().sum()) / n;
    let squares: f64 = grams.iter().map(|g| (float(*g) - mean) * (float(*g) - mean)).sum();
    (mean, if n > 1.0 { libm::sqrt(squares / (n - 1.0)) } else { 0.0 })
}

fn median(sorted: &[i64]) -> Option<i64> {
    let mid = sorted.len() / 2;
    let high = *sorted.get(mid)?;
    if sorted.len() % 2 == 1 {
        return Some(high);
    }
    whole((float(*sorted.get(mid.checked_sub(1)?)?) + float(high)) / 2.0)
}

/// How surely the least and the most of `n` hold the middle of all: all lie on one side of it in one case of
/// 2^(n-1).
fn holds_middle(n: usize) -> f64 {
    1.0 - libm::pow(2.0, 1.0 - float(i64::try_from(n).unwrap_or(i64::MAX)))
}

/// Says what may be said.
#[must_use]
pub fn spread(grams: impl IntoIterator<Item = i64>) -> Spread {
    let mut grams: Vec<i64> = grams.into_iter().collect();
    grams.sort_unstable();
    let n = grams.len();
    let (Some(low_g), Some(high_g), Some(median_g)) = (grams.first().copied(), grams.last().copied(), median(&grams))
    else {
        return Spread::Dots { grams };
    };
    if n < SOME {
        return Spread::Dots { grams };
    }
    let (mean, deviation) = mean_and_deviation(&grams);
    let n_float = float(i64::try_from(n).unwrap_or(i64::MAX));
    let half = student_t(0.975, n_float - 1.0).map(|t| t * deviation / libm::sqrt(n_float));
    match half {
        Some(half) if n >= ENOUGH => Spread::Mean {
            mean_g: whole(mean).unwrap_or_default(),
            deviation_g: whole(deviation).unwrap_or_default(),
            low_g: whole(mean - half).unwrap_or_default(),
            high_g: whole(mean + half).unwrap_or_default(),
            grams,
        },
        _ => Spread::Middle {
            median_g,
            low_g,
            high_g,
            holds_middle_hundred_thousandths: whole(holds_middle(n) * 100_000.0).unwrap_or_default(),
            grams,
        },
    }
}

/// Whether so many colonies in one place crowd each other, so that those at the ends of rows gather from others (AN-9).
/// Recommendations for testing stations: Humboldt University Berlin; COLOSS BEEBOOK, station size.
#[must_use]
pub const fn crowded(colonies: i64) -> bool {
    colonies > 30
}

#[cfg(test)]
mod tests {
    use super::*;

    const A: [i64; 5] = [31_000, 44_000, 12_000, 38_000, 27_000];
    const B: [i64; 6] = [18_000, 9_000, 25_000, 14_000, 0, 21_000];

    /// V1: SciPy `stats.t.interval` and `numpy.std(ddof=1)`.
    #[test]
    fn means_and_deviations_are_those_of_the_reference() {
        for (grams, mean, deviation, low, high) in
            [(&A[..], 30.4, 12.178, 15.28, 45.52), (&B[..], 14.5, 9.006, 5.05, 23.95)]
        {
            let (m, s) = mean_and_deviation(grams);
            assert!((m / 1000.0 - mean).abs() < 1e-9);
            assert!((s / 1000.0 - deviation).abs() < 1e-3, "{s}");
            let n = float(grams.len() as i64);
            let half = student_t(0.975, n - 1.0).unwrap() * s / libm::sqrt(n) / 1000.0;
            assert!((mean - half - low).abs() < 0.01 && (mean + half - high).abs() < 0.01);
        }
    }

    /// V2, AN-5: SciPy `stats.binom`.
    #[test]
    fn five_to_nine_say_how_surely_they_hold_the_middle() {
        for (n, expected) in [(5, 0.9375), (6, 0.968_75), (9, 0.996_09)] {
            assert!((holds_middle(n) - expected).abs() < 1e-5);
        }
        let Spread::Middle {
            median_g,
            low_g,
            high_g,
            holds_middle_hundred_thousandths,
            ..
        } = spread(B)
        else {
            panic!("six colonies have no mean");
        };
        assert_eq!((median_g, low_g, high_g), (16_000, 0, 25_000));
        assert_eq!(holds_middle_hundred_thousandths, 96_875);
    }

    /// V3: SciPy `stats.t.interval`.
    #[test]
    fn ten_and_more_have_a_range() {
        let twelve = [
            18_200, 25_400, 31_000, 12_600, 0, 22_900, 27_300, 35_800, 19_500, 24_100, 29_900, 16_700,
        ];
        let Spread::Mean {
            mean_g,
            deviation_g,
            low_g,
            high_g,
            ..
        } = spread(twelve)
        else {
            panic!("twelve colonies have a mean");
        };
        assert_eq!((mean_g, deviation_g), (21_950, 9_534));
        assert!(
            (low_g - 15_890).abs() <= 10 && (high_g - 28_010).abs() <= 10,
            "{low_g} {high_g}"
        );
    }

    /// AN-5: what n of 0, 1, 4, 5, 9 and 10 may say.
    #[test]
    fn few_colonies_say_little() {
        for n in [0, 1, 4] {
            assert!(matches!(spread(vec![20_000; n]), Spread::Dots { .. }), "{n}");
        }
        for n in [5, 9] {
            assert!(matches!(spread(vec![20_000; n]), Spread::Middle { .. }), "{n}");
        }
        assert!(matches!(
            spread(vec![0; 10]),
            Spread::Mean {
                mean_g: 0,
                low_g: 0,
                high_g: 0,
                ..
            }
        ));
    }

    /// AN-9.
    #[test]
    fn more_than_thirty_crowd() {
        assert!(!crowded(30));
        assert!(crowded(31));
    }
}

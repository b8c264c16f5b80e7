//! One colony against its yard, and how much of that its next season keeps (AN-4).

use super::{float, whole};

/// The fewest colonies in a yard for an index; with fewer only the kilograms are shown.
pub const LEAST_IN_YARD: usize = 5;
/// How much of one season's deviation a queen keeps in the next (a design choice).
const CARRIED_OVER: f64 = 0.3;

/// A colony's kilograms over the mean of its yard and year, in thousandths; nothing in a small yard or one without
/// honey.
#[must_use]
pub fn index_thousandths(grams: i64, yard: &[i64]) -> Option<i64> {
    let n = i64::try_from(yard.len()).ok()?;
    let sum: i64 = yard.iter().sum();
    if yard.len() < LEAST_IN_YARD || sum <= 0 {
        return None;
    }
    whole(float(grams) * float(n) * 1000.0 / float(sum))
}

/// What the mean index of `seasons` seasons under one queen lets expect of the next, in thousandths.
#[must_use]
pub fn expected_thousandths(mean_index_thousandths: i64, seasons: u32) -> Option<i64> {
    if seasons == 0 {
        return None;
    }
    let m = f64::from(seasons);
    let kept = CARRIED_OVER * m / (1.0 + CARRIED_OVER * (m - 1.0));
    whole(1000.0 + kept * (float(mean_index_thousandths) - 1000.0))
}

/// Which unit a colony is counted with (AN-3).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CountedWith {
    /// By itself.
    Itself,
    /// A split after the start of the flow: with the colony it came from.
    Mother,
}

/// How a colony that began on a day is counted in a season whose flow began on another (AN-3): a split made after the
/// start belongs to its mother; what was united, died or gave nothing afterwards stays counted.
#[must_use]
pub fn counted_with(began: chrono::NaiveDate, is_split: bool, flow_began: chrono::NaiveDate) -> CountedWith {
    if is_split && began > flow_began {
        CountedWith::Mother
    } else {
        CountedWith::Itself
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// AN-4: indices within two yards (arithmetic).
    #[test]
    fn a_colony_is_held_against_its_yard() {
        let yard = [31_000, 44_000, 12_000, 38_000, 27_000];
        let indices: Vec<i64> = yard.iter().filter_map(|g| index_thousandths(*g, &yard)).collect();
        assert_eq!(indices, [1020, 1447, 395, 1250, 888]);
        let yard = [18_000, 9_000, 25_000, 14_000, 0, 21_000];
        let indices: Vec<i64> = yard.iter().filter_map(|g| index_thousandths(*g, &yard)).collect();
        assert_eq!(indices, [1241, 621, 1724, 966, 0, 1448]);
        assert_eq!(index_thousandths(20_000, &[20_000; 4]), None);
        assert_eq!(index_thousandths(0, &[0; 6]), None);
    }

    /// V5: means and mean indices of three lines in four places, by pandas; the reason why lines are not held against
    /// means that contain them.
    #[test]
    fn an_index_of_one_step_pulls_lines_together() {
        let places: [&[(usize, i64)]; 4] = [
            &[
                (0, 31_200),
                (0, 28_400),
                (0, 40_100),
                (0, 22_000),
                (1, 36_500),
                (1, 0),
                (2, 25_300),
            ],
            &[
                (0, 18_600),
                (1, 21_900),
                (1, 14_200),
                (1, 26_800),
                (2, 12_500),
                (2, 17_700),
            ],
            &[
                (0, 27_000),
                (0, 33_100),
                (1, 30_400),
                (2, 24_800),
                (2, 19_900),
                (2, 28_200),
            ],
            &[
                (0, 44_200),
                (0, 38_000),
                (0, 51_500),
                (1, 47_300),
                (2, 36_100),
                (2, 29_400),
            ],
        ];
        let (mut sums, mut kg, mut n) = ([0; 3], [0; 3], [0; 3]);
        for place in places {
            let all: Vec<i64> = place.iter().map(|(_, grams)| *grams).collect();
            for (line, grams) in place {
                sums[*line] += index_thousandths(*grams, &all).unwrap();
                kg[*line] += grams;
                n[*line] += 1;
            }
        }
        for (line, (mean, index)) in [(33_410, 1110), (25_300, 1006), (24_240, 857)].into_iter().enumerate() {
            assert!((kg[line] / n[line] - mean).abs() <= 10);
            assert!((sums[line] / n[line] - index).abs() <= 1);
        }
    }

    /// V22: one season keeps 0.30 of a deviation, two 0.46, three 0.56 (arithmetic).
    #[test]
    fn a_queen_keeps_part_of_her_deviation() {
        assert_eq!(expected_thousandths(1720, 1), Some(1216));
        assert_eq!(expected_thousandths(1400, 2), Some(1185));
        assert_eq!(expected_thousandths(1400, 3), Some(1225));
        assert_eq!(expected_thousandths(1400, 0), None);
    }

    /// AN-3.
    #[test]
    fn a_late_split_belongs_to_its_mother() {
        let day = |d| chrono::NaiveDate::from_ymd_opt(2025, 5, d).unwrap();
        assert_eq!(counted_with(day(6), true, day(5)), CountedWith::Mother);
        assert_eq!(counted_with(day(5), true, day(5)), CountedWith::Itself);
        assert_eq!(counted_with(day(6), false, day(5)), CountedWith::Itself);
    }
}

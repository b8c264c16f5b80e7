//! Which weights whole containers can make together: one bit a weight, one row for each container and those after it.

use super::search::Item;

/// More bits than this in a row are not kept; the search then does without.
const MOST_BITS: i64 = 4_000_000;

/// The sums that subsets of the last containers can have.
pub(super) struct Reach {
    /// All weights are multiples of this.
    unit_g: i64,
    /// For each depth the sums of the containers from there on.
    rows: Vec<Vec<u64>>,
}

impl Reach {
    /// Nothing where the weights are too many and too fine to be kept.
    pub(super) fn of(items: &[Item]) -> Option<Self> {
        let unit_g = items
            .iter()
            .fold(0, |unit, item| common_divisor(unit, item.weight_g))
            .max(1);
        let all = items.iter().map(|item| item.weight_g / unit_g).sum::<i64>();
        if all >= MOST_BITS {
            return None;
        }
        let words = usize::try_from(all / 64 + 1).ok()?;
        let mut rows = vec![vec![0; words]; items.len() + 1];
        if let Some(first) = rows.last_mut().and_then(|row| row.first_mut()) {
            *first = 1;
        }
        for at in (0..items.len()).rev() {
            let shift = usize::try_from(items.get(at)?.weight_g / unit_g).ok()?;
            let mut row = rows.get(at + 1)?.clone();
            or_shifted(&mut row, rows.get(at + 1)?, shift);
            *rows.get_mut(at)? = row;
        }
        Some(Self { unit_g, rows })
    }

    /// Whether some of the containers from this depth on weigh between the two, grams, together.
    pub(super) fn any(&self, depth: usize, least_g: i64, most_g: i64) -> bool {
        let first = (least_g.max(0) + self.unit_g - 1).div_euclid(self.unit_g);
        let last = most_g.div_euclid(self.unit_g);
        let (Ok(first), Ok(last)) = (usize::try_from(first), usize::try_from(last)) else {
            return false;
        };
        let Some(row) = self.rows.get(depth) else { return false };
        if first > last {
            return false;
        }
        let words = row.iter().enumerate().skip(first / 64).take(last / 64 - first / 64 + 1);
        words.into_iter().any(|(at, word)| {
            let from = if at == first / 64 {
                u64::MAX << (first % 64)
            } else {
                u64::MAX
            };
            let to = if at == last / 64 {
                u64::MAX >> (63 - last % 64)
            } else {
                u64::MAX
            };
            word & from & to != 0
        })
    }
}

fn or_shifted(into: &mut [u64], row: &[u64], shift: usize) {
    let (words, bits) = (shift / 64, shift % 64);
    for (at, word) in row.iter().enumerate() {
        if let Some(to) = into.get_mut(at + words) {
            *to |= word << bits;
        }
        if bits > 0
            && let Some(to) = into.get_mut(at + words + 1)
        {
            *to |= word >> (64 - bits);
        }
    }
}

const fn common_divisor(a: i64, b: i64) -> i64 {
    let (mut a, mut b) = (a, b);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

#[cfg(test)]
mod tests {
    use super::*;

    fn items(weights: &[i64]) -> Vec<Item> {
        let item = |weight_g: &i64| Item {
            weight_g: *weight_g,
            over: 0,
            colour_mm: 0,
        };
        weights.iter().map(item).collect()
    }

    #[test]
    fn every_sum_of_containers_is_known_and_no_other() {
        for weights in [
            vec![1, 2, 5, 64, 130],
            vec![300, 700, 1_900, 6_400],
            vec![63, 64, 65, 128],
            vec![10, 20, 640],
            vec![7],
        ] {
            let reach = Reach::of(&items(&weights)).unwrap();
            for depth in 0..=weights.len() {
                let rest = &weights[depth..];
                let sums: Vec<i64> = (0_u32..1 << rest.len())
                    .map(|set| {
                        rest.iter()
                            .enumerate()
                            .filter(|(at, _)| set >> at & 1 == 1)
                            .map(|(_, grams)| grams)
                            .sum()
                    })
                    .collect();
                let all: i64 = weights.iter().sum();
                for least in (-3..all + 5).step_by(if all > 1_000 { 37 } else { 1 }) {
                    for wide in [0, 1, 5, 63, 64, 200] {
                        let most = least + wide;
                        let plainly = sums.iter().any(|sum| (least..=most).contains(sum));
                        assert_eq!(
                            reach.any(depth, least, most),
                            plainly,
                            "{weights:?} {depth} {least} {most}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn nothing_lies_in_an_empty_window_or_below_nothing() {
        let reach = Reach::of(&items(&[100, 200])).unwrap();
        assert!(reach.any(0, -50, 0) && !reach.any(0, -50, -1) && !reach.any(0, 300, 299));
        assert!(!reach.any(0, 301, 100_000) && !reach.any(9, 0, 0));
    }

    #[test]
    fn weights_too_fine_are_not_kept() {
        assert!(Reach::of(&items(&[4_000_001])).is_some());
        assert!(Reach::of(&items(&[2_000_001, 2_000_002])).is_none());
        assert!(Reach::of(&items(&[2_000_000, 1_999_999])).is_some());
        // To the kilogram as much is few bits.
        assert!(Reach::of(&items(&[9_000_000, 8_999_000])).is_some());
    }
}

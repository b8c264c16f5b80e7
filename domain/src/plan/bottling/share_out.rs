//! Which size gets the next jar.

/// A size as far as sharing out goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Taker {
    pub(super) priority: i64,
    pub(super) share: i64,
    /// Honey a jar, tenths of a gram; more than nothing.
    pub(super) aim_tenths_g: i64,
    /// Jars at most, by what is wanted and by empty jars.
    pub(super) most: i64,
    /// Its kind of lid.
    pub(super) lid: Option<usize>,
}

/// Jars of each size. `lids` is how many there are of each kind.
pub(super) fn share_out(takers: &[Taker], mut lids: Vec<i64>, available_tenths_g: i64) -> Vec<i64> {
    let mut jars = vec![0; takers.len()];
    let mut left = available_tenths_g;
    let mut priorities: Vec<i64> = takers.iter().map(|taker| taker.priority).collect();
    priorities.sort_unstable();
    priorities.dedup();
    for priority in priorities {
        loop {
            let next = takers
                .iter()
                .zip(&jars)
                .enumerate()
                .filter(|(_, (taker, jars))| {
                    taker.priority == priority
                        && **jars < taker.most
                        && taker.aim_tenths_g <= left
                        && taker.lid.is_none_or(|lid| lids.get(lid).is_some_and(|left| *left > 0))
                })
                // Furthest below its share: filled over share, compared without dividing.
                .min_by(|(_, (a, of_a)), (_, (b, of_b))| {
                    let filled = |taker: &Taker, jars: i64| i128::from(taker.aim_tenths_g) * i128::from(jars);
                    (filled(a, **of_a) * i128::from(b.share)).cmp(&(filled(b, **of_b) * i128::from(a.share)))
                })
                .map(|(at, (taker, _))| (at, taker));
            let Some((at, taker)) = next else { break };
            left -= taker.aim_tenths_g;
            if let Some(jars) = jars.get_mut(at) {
                *jars += 1;
            }
            if let Some(lids) = taker.lid.and_then(|lid| lids.get_mut(lid)) {
                *lids -= 1;
            }
        }
    }
    jars
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taker(priority: i64, share: i64, aim_tenths_g: i64, most: i64, lid: Option<usize>) -> Taker {
        Taker {
            priority,
            share,
            aim_tenths_g,
            most,
            lid,
        }
    }

    #[test]
    fn shares_of_the_honey_come_out_within_a_jar() {
        // Two parts to one of 30 kg: 20 kg in jars of 500 g, 10 kg in jars of 250 g.
        let sizes = [taker(1, 2, 5_000, 9_999, None), taker(1, 1, 2_500, 9_999, None)];
        assert_eq!(share_out(&sizes, vec![], 300_000), [40, 40]);
        // What is left over goes where it still fits.
        assert_eq!(share_out(&sizes, vec![], 305_000), [41, 40]);
        assert_eq!(share_out(&sizes, vec![], 302_500), [40, 41]);
        assert_eq!(share_out(&sizes, vec![], 2_499), [0, 0]);
    }

    #[test]
    fn a_first_priority_is_served_before_a_second() {
        let sizes = [taker(2, 1, 2_500, 9_999, None), taker(1, 1, 5_000, 10, None)];
        assert_eq!(share_out(&sizes, vec![], 100_000), [20, 10]);
        assert_eq!(share_out(&sizes, vec![], 40_000), [0, 8]);
    }

    #[test]
    fn jars_and_lids_bound_it() {
        let sizes = [
            taker(1, 1, 5_000, 3, Some(0)),
            taker(1, 1, 5_000, 9_999, Some(0)),
            taker(1, 1, 5_000, 9_999, Some(1)),
        ];
        assert_eq!(share_out(&sizes, vec![10, 2], 1_000_000), [3, 7, 2]);
        assert_eq!(share_out(&sizes, vec![0, 0], 1_000_000), [0, 0, 0]);
        assert_eq!(share_out(&sizes, vec![1, 1], 1_000_000), [1, 0, 1]);
    }

    #[test]
    fn equals_take_turns_in_the_order_given() {
        let sizes = [taker(1, 1, 5_000, 9, None), taker(1, 1, 5_000, 9, None)];
        assert_eq!(share_out(&sizes, vec![], 15_000), [2, 1]);
    }
}

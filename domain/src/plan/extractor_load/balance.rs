//! Frames opposite each other so that the cage runs true.
//!
//! **Even cages.** Opposite frames are paired; what counts first is the largest difference of any pair. Neighbours in
//! order of weight are paired, and no other pairing has a smaller largest difference: of two pairs whose weights cross
//! or enclose each other, pairing neighbours instead never makes the larger difference greater. An odd frame gets a
//! counterweight, or an empty place, which is paired as one frame more. Where on the circle a pair stands is settled
//! afterwards, heaviest difference first, so that the differences pull against each other.
//!
//! **Odd cages** have no opposites; what counts is the sum of all pulls. Up to [`EXHAUSTIVE`] places every arrangement
//! is looked at; beyond, frames are exchanged in twos until no exchange helps, which is good and not proven best.

/// Cages up to this many places are tried out in full.
pub(super) const EXHAUSTIVE: usize = 7;

/// One frame place: the frame in it, its weight, or nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Item {
    /// Which frame of the input; nothing for a counterweight or an empty place.
    pub(super) frame: Option<usize>,
    /// What it weighs.
    pub(super) weight_g: i64,
}

impl Item {
    const EMPTY: Self = Self {
        frame: None,
        weight_g: 0,
    };
}

/// A cage with everything in its place.
#[derive(Clone, Debug)]
pub(super) struct Cage {
    /// Place by place, round the axis.
    pub(super) places: Vec<Item>,
    /// The largest difference of two opposite places; in an odd cage the sum of all pulls.
    pub(super) imbalance_g: i64,
    /// The sum of all pulls, as a mass at the radius of the combs.
    pub(super) net_g: i64,
}

/// Splits frames into loads in the order given.
pub(super) fn in_order(frames: &[Item], places: usize) -> Vec<Vec<Item>> {
    frames.chunks(places.max(1)).map(<[Item]>::to_vec).collect()
}

/// Splits frames into as few loads so that those of a load weigh alike.
///
/// Even cages: neighbours by weight are paired over all frames, which is the best there is for any split, and pairs
/// are dealt out in order. Odd cages: neighbours by weight make a load; the one part load stands where the largest
/// spread within a load is least.
pub(super) fn sorted(frames: &[Item], places: usize, counterweight_g: i64) -> Vec<Vec<Item>> {
    let places = places.max(1);
    let mut sorted = frames.to_vec();
    sorted.sort_by_key(|item| (item.weight_g, item.frame));
    if places.is_multiple_of(2) {
        complete(&mut sorted, counterweight_g);
        let mut loads = in_order(&sorted, places);
        for load in &mut loads {
            load.retain(|item| item.frame.is_some());
        }
        return loads;
    }
    let part = sorted.len() % places;
    let full = sorted.len() / places;
    if part == 0 {
        return in_order(&sorted, places);
    }
    let best = (0..=full).min_by_key(|at| spreads(&sorted, places, *at * places, part));
    split(&sorted, places, best.unwrap_or(full) * places, part)
}

fn split(sorted: &[Item], places: usize, at: usize, part: usize) -> Vec<Vec<Item>> {
    let (before, rest) = sorted.split_at(at.min(sorted.len()));
    let (short, after) = rest.split_at(part.min(rest.len()));
    let full = in_order(before, places).into_iter().chain(in_order(after, places));
    full.chain(std::iter::once(short.to_vec())).collect()
}

fn spreads(sorted: &[Item], places: usize, at: usize, part: usize) -> i64 {
    let spread = |load: &Vec<Item>| match (load.first(), load.last()) {
        (Some(first), Some(last)) => last.weight_g - first.weight_g,
        _ => 0,
    };
    split(sorted, places, at, part).iter().map(spread).max().unwrap_or(0)
}

/// An odd number of frames gets one more thing to be paired with, where its weight belongs.
fn complete(sorted: &mut Vec<Item>, counterweight_g: i64) {
    if !sorted.len().is_multiple_of(2) {
        let at = sorted.partition_point(|item| item.weight_g < counterweight_g);
        let weight_g = counterweight_g;
        sorted.insert(at, Item { frame: None, weight_g });
    }
}

/// Puts one load into the cage.
pub(super) fn arrange(load: &[Item], places: usize, counterweight_g: i64) -> Cage {
    if places.is_multiple_of(2) {
        even(load, places, counterweight_g)
    } else {
        odd(load, places, counterweight_g)
    }
}

fn even(load: &[Item], places: usize, counterweight_g: i64) -> Cage {
    let mut sorted = load.to_vec();
    sorted.sort_by_key(|item| (item.weight_g, item.frame));
    complete(&mut sorted, counterweight_g);
    let difference = |pair: &[Item; 2]| pair[1].weight_g - pair[0].weight_g;
    let mut pairs: Vec<[Item; 2]> = sorted.as_chunks::<2>().0.to_vec();
    let imbalance_g = pairs.iter().map(difference).max().unwrap_or(0);
    pairs.sort_by_key(|pair| std::cmp::Reverse(difference(pair)));
    let half = places / 2;
    let mut cage = vec![Item::EMPTY; places];
    let mut free: Vec<usize> = (0..half).collect();
    let mut pull = (0.0, 0.0);
    for [light, heavy] in pairs {
        let more = approx(heavy.weight_g - light.weight_g);
        let tried = free.iter().enumerate().flat_map(|(index, place)| {
            [*place, *place + half].map(|heavy_at| (index, heavy_at, add(pull, more, heavy_at, places)))
        });
        let best = tried.min_by(|a, b| size(a.2).total_cmp(&size(b.2)));
        let Some((index, heavy_at, after)) = best else { break };
        free.remove(index);
        pull = after;
        cage[heavy_at] = heavy;
        cage[(heavy_at + half) % places] = light;
    }
    Cage {
        places: cage,
        imbalance_g,
        net_g: grams(size(pull)),
    }
}

fn odd(load: &[Item], places: usize, counterweight_g: i64) -> Cage {
    let mut items = load.to_vec();
    let empty = Item {
        frame: None,
        weight_g: counterweight_g,
    };
    items.resize(places.max(load.len()), empty);
    items.sort_by_key(|item| (std::cmp::Reverse(item.weight_g), item.frame));
    let best = if places <= EXHAUSTIVE {
        every_order(&items)
    } else {
        exchanged(items)
    };
    let net_g = grams(size(pulls(&best)));
    Cage {
        places: best,
        imbalance_g: net_g,
        net_g,
    }
}

/// The heaviest stays where it is; all orders of the rest are looked at.
fn every_order(items: &[Item]) -> Vec<Item> {
    let mut best = (size(pulls(items)), items.to_vec());
    let mut order = items.to_vec();
    permute(&mut order, 1, &mut best);
    best.1
}

fn permute(order: &mut Vec<Item>, from: usize, best: &mut (f64, Vec<Item>)) {
    if from + 1 >= order.len() {
        let pull = size(pulls(order));
        if pull < best.0 {
            *best = (pull, order.clone());
        }
        return;
    }
    for at in from..order.len() {
        order.swap(from, at);
        permute(order, from + 1, best);
        order.swap(from, at);
    }
}

/// Heaviest first to the place where it pulls against the rest, then exchanges in twos while one helps.
fn exchanged(items: Vec<Item>) -> Vec<Item> {
    let places = items.len();
    let mut free: Vec<usize> = (0..places).collect();
    let mut order = vec![Item::EMPTY; places];
    let mut pull = (0.0, 0.0);
    for item in items {
        let tried = free
            .iter()
            .enumerate()
            .map(|(index, place)| (index, *place, add(pull, approx(item.weight_g), *place, places)));
        let best = tried.min_by(|a, b| size(a.2).total_cmp(&size(b.2)));
        let Some((index, place, after)) = best else { break };
        free.remove(index);
        pull = after;
        order[place] = item;
    }
    // Each exchange lowers the pull by a gram at least, so this ends.
    loop {
        let now = pulls(&order);
        let mut best: Option<(f64, usize, usize)> = None;
        for a in 0..places {
            for b in a + 1..places {
                let shift = approx(order[b].weight_g - order[a].weight_g);
                let after = add(add(now, shift, a, places), -shift, b, places);
                if size(after) < best.map_or(size(now) - 1.0, |(least, _, _)| least) {
                    best = Some((size(after), a, b));
                }
            }
        }
        let Some((_, a, b)) = best else { return order };
        order.swap(a, b);
    }
}

fn pulls(order: &[Item]) -> (f64, f64) {
    let all = order.iter().enumerate();
    all.fold((0.0, 0.0), |pull, (place, item)| {
        add(pull, approx(item.weight_g), place, order.len())
    })
}

fn add(pull: (f64, f64), weight: f64, place: usize, places: usize) -> (f64, f64) {
    let angle = std::f64::consts::TAU * approx_count(place) / approx_count(places);
    (pull.0 + weight * libm::cos(angle), pull.1 + weight * libm::sin(angle))
}

fn size(pull: (f64, f64)) -> f64 {
    libm::hypot(pull.0, pull.1)
}

#[allow(clippy::cast_precision_loss, reason = "frames weigh far below 2^53 g")]
const fn approx(grams: i64) -> f64 {
    grams as f64
}

#[allow(clippy::cast_precision_loss, reason = "cages have at most some hundred places")]
const fn approx_count(count: usize) -> f64 {
    count as f64
}

/// Rounded up, so that nothing is called balanced that is not; a millionth of a gram is arithmetic.
#[allow(clippy::cast_possible_truncation, reason = "a cast from a double saturates")]
fn grams(size: f64) -> i64 {
    libm::ceil(size - 1e-6) as i64
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn items(weights: &[i64]) -> Vec<Item> {
        let frames = weights.iter().enumerate();
        let item = |(at, weight_g): (usize, &i64)| Item {
            frame: Some(at),
            weight_g: *weight_g,
        };
        frames.map(item).collect()
    }

    /// The least largest difference of all ways to pair them up.
    fn best_pairing(weights: &[i64]) -> i64 {
        let Some((first, rest)) = weights.split_first() else {
            return 0;
        };
        let ways = (0..rest.len()).map(|partner| {
            let mut left = rest.to_vec();
            let weight = left.remove(partner);
            (first - weight).abs().max(best_pairing(&left))
        });
        ways.min().unwrap_or(0)
    }

    /// The least sum of pulls of all orders.
    fn best_order(weights: &[i64], placed: &mut Vec<i64>) -> f64 {
        if weights.is_empty() {
            return size(pulls(&items(placed)));
        }
        let ways: Vec<f64> = (0..weights.len())
            .map(|at| {
                let mut left = weights.to_vec();
                placed.push(left.remove(at));
                let least = best_order(&left, placed);
                placed.pop();
                least
            })
            .collect();
        ways.into_iter().fold(f64::INFINITY, f64::min)
    }

    #[test]
    fn four_frames_by_hand() {
        // 2.0 with 2.1 and 2.6 with 2.8 kg: 200 g; any other pairing has 600 g or more.
        let cage = arrange(&items(&[2_000, 2_800, 2_100, 2_600]), 4, 0);
        assert_eq!(cage.imbalance_g, 200);
        let weight = |place: usize| cage.places[place].weight_g;
        for place in 0..2 {
            assert!((weight(place) - weight(place + 2)).abs() <= 200);
        }
        // The two differences stand across each other: sqrt(200^2 + 100^2), rounded up.
        assert_eq!(cage.net_g, 224);
    }

    #[test]
    fn three_frames_pull_by_their_differences() {
        // Three pulls at 120 degrees: the root of half the sum of squared differences, here 100, 100 and 200 g.
        let cage = arrange(&items(&[2_000, 2_100, 2_200]), 3, 0);
        assert_eq!(cage.net_g, 174);
    }

    #[test]
    fn a_single_frame_gets_the_counterweight_opposite() {
        let cage = arrange(&items(&[2_000]), 4, 500);
        assert_eq!(cage.imbalance_g, 1_500);
        assert_eq!(arrange(&items(&[2_000]), 4, 0).imbalance_g, 2_000);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn no_pairing_is_better_in_an_even_cage(
            weights in prop::collection::vec(300_i64..4_000, 0..=8),
            counterweight in prop_oneof![Just(0_i64), 300_i64..3_000],
        ) {
            let cage = arrange(&items(&weights), 8, counterweight);
            let mut all = weights.clone();
            if !all.len().is_multiple_of(2) {
                all.push(counterweight);
            }
            prop_assert_eq!(cage.imbalance_g, best_pairing(&all));
            // The pulls of the pairs never add up to more than their squares allow.
            let mut kept: Vec<i64> = cage.places.iter().filter(|item| item.frame.is_some()).map(|item| item.weight_g).collect();
            kept.sort_unstable();
            let mut given = weights.clone();
            given.sort_unstable();
            prop_assert_eq!(kept, given);
            let differences = (0..4).map(|at| approx(cage.places[at].weight_g - cage.places[at + 4].weight_g));
            let squares: f64 = differences.map(|difference| difference * difference).sum();
            prop_assert!(approx(cage.net_g) <= libm::sqrt(squares) + 1.0);
        }

        #[test]
        fn no_split_into_loads_is_better_in_an_even_cage(weights in prop::collection::vec(300_i64..4_000, 2..=8)) {
            let loads = sorted(&items(&weights), 4, 0);
            prop_assert_eq!(loads.len(), weights.len().div_ceil(4));
            let worst = loads.iter().map(|load| arrange(load, 4, 0).imbalance_g).max().unwrap_or(0);
            let mut all = weights.clone();
            if !all.len().is_multiple_of(2) {
                all.push(0);
            }
            prop_assert_eq!(worst, best_pairing(&all));
        }

        #[test]
        fn no_order_is_better_in_a_small_odd_cage(weights in prop::collection::vec(300_i64..4_000, 0..=5)) {
            let cage = arrange(&items(&weights), 5, 0);
            let mut all = weights.clone();
            all.resize(5, 0);
            prop_assert_eq!(cage.net_g, grams(best_order(&all, &mut Vec::new())));
        }

        #[test]
        fn in_a_large_odd_cage_no_exchange_of_two_helps(weights in prop::collection::vec(300_i64..4_000, 0..=9)) {
            let cage = arrange(&items(&weights), 9, 0);
            for a in 0..9 {
                for b in a + 1..9 {
                    let mut other = cage.places.clone();
                    other.swap(a, b);
                    prop_assert!(size(pulls(&other)) >= size(pulls(&cage.places)) - 1.0 - 1e-6);
                }
            }
        }

        #[test]
        fn every_frame_is_loaded_once(
            weights in prop::collection::vec(0_i64..4_000, 0..60),
            places in 2_usize..20,
            across in any::<bool>(),
        ) {
            let all = items(&weights);
            let loads = if across { sorted(&all, places, 0) } else { in_order(&all, places) };
            prop_assert_eq!(loads.len(), weights.len().div_ceil(places));
            let cages: Vec<Cage> = loads.iter().map(|load| arrange(load, places, 0)).collect();
            let mut seen: Vec<usize> = cages.iter().flat_map(|cage| cage.places.iter().filter_map(|item| item.frame)).collect();
            seen.sort_unstable();
            prop_assert_eq!(seen, (0..weights.len()).collect::<Vec<_>>());
            for cage in &cages {
                prop_assert_eq!(cage.places.len(), places);
            }
        }
    }
}

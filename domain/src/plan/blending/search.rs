//! The search behind a blend: which containers whole, which in part, which not at all. Whole numbers throughout.
//!
//! Containers stand in the order of rank. Depth first, the better choice of each container first, so that the first
//! blend that holds is the best one. A branch is left when even honey that could be divided at will would not save it
//! (one greedy sum a constraint, and sums of two constraints together), or when no set of whole containers weighs
//! what is still wanted. Not here: what a container is, and which blend is wanted.

use super::reach::Reach;

/// One container that may take part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Item {
    /// What it holds, grams; more than nothing.
    pub(super) weight_g: i64,
    /// Its water above the target, hundredths of a per cent; below nothing where it is drier.
    pub(super) over: i64,
    /// Its colour, mm; of no account where no band is wanted.
    pub(super) colour_mm: i64,
}

/// What is asked of the search.
#[derive(Clone, Debug)]
pub(super) struct Problem {
    /// The containers, the first in rank first.
    pub(super) items: Vec<Item>,
    /// A container is drawn from in steps of this, grams; more than nothing.
    pub(super) step_g: i64,
    /// Whether as much as possible of the first in rank is wanted, or as little as possible.
    pub(super) most: bool,
    /// The least and the greatest colour; half a millimetre beyond either still belongs to it.
    pub(super) band: Option<(i64, i64)>,
}

/// What a search came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Found {
    /// The best blend: grams of each container.
    Blend(Vec<i64>),
    /// There is none.
    Nothing,
    /// The allowance was used up before either was certain.
    GaveUp,
}

/// How steeply water and colour are weighed against each other where both are looked at together. Any choice is
/// sound; a good one sees sooner that a branch is lost.
const TOGETHER: [(i64, i64); 9] = [
    (4, 1),
    (2, 1),
    (1, 1),
    (1, 2),
    (1, 4),
    (1, 8),
    (1, 16),
    (1, 32),
    (1, 64),
];

/// One constraint: the sum of grams times worth must not exceed nothing.
struct Limit {
    /// How water, colour above the band and colour below it enter.
    mix: [i64; 3],
    /// For each depth the containers from there on, the best first.
    tails: Vec<Tail>,
}

/// The containers from some depth on, sorted by worth, with running sums.
struct Tail {
    worth: Vec<i64>,
    /// Grams of those before each, and of all at the end.
    grams: Vec<i64>,
    /// Grams times worth of those before each, and of all at the end.
    sums: Vec<i64>,
    /// Grams of the containers whose worth helps.
    helping_g: i64,
    /// Where the container of this depth stands.
    own: usize,
}

impl Tail {
    fn of(items: &[Item], from: usize, worth_of: impl Fn(&Item) -> i64) -> Self {
        let rest = items.get(from..).unwrap_or_default();
        let mut sorted: Vec<(i64, usize, i64)> = rest
            .iter()
            .enumerate()
            .map(|(at, item)| (worth_of(item), at, item.weight_g))
            .collect();
        sorted.sort_unstable();
        let mut tail = Self {
            worth: Vec::with_capacity(sorted.len()),
            grams: vec![0],
            sums: vec![0],
            helping_g: 0,
            own: sorted.iter().position(|(_, at, _)| *at == 0).unwrap_or(0),
        };
        let (mut grams, mut sum) = (0, 0);
        for (worth, _, weight_g) in sorted {
            grams += weight_g;
            sum += weight_g * worth;
            tail.worth.push(worth);
            tail.grams.push(grams);
            tail.sums.push(sum);
            if worth < 0 {
                tail.helping_g = grams;
            }
        }
        tail
    }

    fn all_g(&self) -> i64 {
        self.grams.last().copied().unwrap_or(0)
    }

    /// How many grams are best taken when between `least` and `most` have to be.
    fn best_total(&self, least: i64, most: i64) -> i64 {
        self.helping_g.clamp(least, most.max(least)).min(self.all_g())
    }

    /// The least sum of grams times worth over that many grams, the last container divided.
    fn least_sum(&self, total_g: i64) -> i64 {
        let at = self.grams.partition_point(|grams| *grams <= total_g) - 1;
        let (Some(grams), Some(sum)) = (self.grams.get(at), self.sums.get(at)) else {
            return 0;
        };
        sum + (total_g - grams) * self.worth.get(at).copied().unwrap_or(0)
    }

    /// How much of the container of this depth is in that least sum.
    fn own_share(&self, total_g: i64) -> i64 {
        let (Some(before), Some(after)) = (self.grams.get(self.own), self.grams.get(self.own + 1)) else {
            return 0;
        };
        (total_g - before).clamp(0, after - before)
    }
}

/// A search over one list of containers. Its bounds are made once and serve every window of weight.
pub(super) struct Search<'a> {
    problem: &'a Problem,
    limits: Vec<Limit>,
    /// Grams of the containers from each depth on.
    left_g: Vec<i64>,
    /// Made when first needed.
    reach: Option<Option<Reach>>,
    /// How many steps may still be tried.
    allowance: u64,
    chosen: Vec<i64>,
}

/// What the containers decided so far come to.
#[derive(Clone, Copy, Default)]
struct Sums {
    grams: i64,
    /// Grams times water above the target, colour above the band, colour below it.
    over: [i64; 3],
}

/// The window into which the total has to fall, grams, and how many containers may still be drawn from in part.
#[derive(Clone, Copy)]
struct Wanted {
    least_g: i64,
    most_g: i64,
}

impl<'a> Search<'a> {
    pub(super) fn new(problem: &'a Problem) -> Self {
        let mut mixes = vec![[1, 0, 0]];
        if problem.band.is_some() {
            mixes.extend([[0, 1, 0], [0, 0, 1]]);
            mixes.extend(TOGETHER.iter().flat_map(|(water, colour)| {
                let (water, colour) = (*water, *colour);
                [[water, colour, 0], [water, 0, colour]]
            }));
        }
        let depths = 0..=problem.items.len();
        let limits = mixes
            .into_iter()
            .map(|mix| Limit {
                mix,
                tails: depths
                    .clone()
                    .map(|from| Tail::of(&problem.items, from, |item| dot(mix, problem.worths(item))))
                    .collect(),
            })
            .collect();
        let left_g = depths
            .map(|from| problem.items.iter().skip(from).map(|item| item.weight_g).sum())
            .collect();
        Self {
            reach: None,
            problem,
            limits,
            left_g,
            allowance: 0,
            chosen: vec![0; problem.items.len()],
        }
    }

    /// Grams of all containers together.
    pub(super) fn all_g(&self) -> i64 {
        self.left_g.first().copied().unwrap_or(0)
    }

    /// The most grams, not above `at_most_g`, for which nothing speaks if containers could be divided at will; nothing
    /// where not even a gram could be.
    pub(super) fn most_divided(&self, at_most_g: i64) -> i64 {
        let (mut holds, mut fails) = (0, at_most_g.min(self.all_g()) + 1);
        while fails - holds > 1 {
            let middle = holds + (fails - holds) / 2;
            let wanted = Wanted {
                least_g: middle,
                most_g: middle,
            };
            if self.can_still(0, Sums::default(), wanted) {
                holds = middle;
            } else {
                fails = middle;
            }
        }
        holds
    }

    /// The best blend that weighs from `least_g` to `most_g` with at most `parts` containers drawn from in part.
    /// `allowance` bounds the choices tried.
    pub(super) fn best(&mut self, parts: usize, least_g: i64, most_g: i64, allowance: u64) -> Found {
        let items = &self.problem.items;
        self.reach.get_or_insert_with(|| Reach::of(items));
        self.allowance = allowance;
        self.chosen.fill(0);
        let wanted = Wanted {
            least_g: least_g.max(1),
            most_g,
        };
        if self.choose(0, Sums::default(), wanted, parts) {
            return Found::Blend(self.chosen.clone());
        }
        if self.allowance == 0 {
            Found::GaveUp
        } else {
            Found::Nothing
        }
    }

    /// What the last search left of its allowance.
    pub(super) const fn unused(&self) -> u64 {
        self.allowance
    }

    /// Decides on the container of this depth and those after it; whether that came to a blend.
    fn choose(&mut self, depth: usize, sums: Sums, wanted: Wanted, parts: usize) -> bool {
        if self.allowance == 0 {
            return false;
        }
        self.allowance -= 1;
        let Some(item) = self.problem.items.get(depth).copied() else {
            return sums.grams >= wanted.least_g
                && sums.grams <= wanted.most_g
                && sums.over.iter().all(|sum| *sum <= 0);
        };
        if !self.can_still(depth, sums, wanted) || (parts == 0 && !self.can_reach(depth, sums.grams, wanted)) {
            return false;
        }
        if self.problem.most {
            self.take(depth, sums, wanted, parts, item.weight_g)
                || self.take_part(depth, sums, wanted, parts)
                || self.take(depth, sums, wanted, parts, 0)
        } else {
            self.take(depth, sums, wanted, parts, 0)
                || self.take_part(depth, sums, wanted, parts)
                || self.take(depth, sums, wanted, parts, item.weight_g)
        }
    }

    fn take(&mut self, depth: usize, sums: Sums, wanted: Wanted, parts: usize, grams: i64) -> bool {
        let Some(item) = self.problem.items.get(depth) else {
            return false;
        };
        let worths = self.problem.worths(item);
        let mut after = sums;
        after.grams += grams;
        for (sum, worth) in after.over.iter_mut().zip(worths) {
            *sum += grams * worth;
        }
        if let Some(chosen) = self.chosen.get_mut(depth) {
            *chosen = grams;
        }
        after.grams <= wanted.most_g && self.choose(depth + 1, after, wanted, parts)
    }

    /// Tries every amount that could do, the better one first.
    fn take_part(&mut self, depth: usize, sums: Sums, wanted: Wanted, parts: usize) -> bool {
        let step_g = self.problem.step_g;
        let Some((low, high)) = (parts > 0).then(|| self.amounts(depth, sums, wanted)).flatten() else {
            return false;
        };
        let weight_g = self.problem.items.get(depth).map_or(0, |item| item.weight_g);
        let first = (low.max(1) + step_g - 1).div_euclid(step_g);
        let last = high.min(weight_g - 1).div_euclid(step_g);
        for at in 0..=(last - first) {
            if self.allowance == 0 {
                return false;
            }
            let steps = if self.problem.most { last - at } else { first + at };
            let grams = steps * step_g;
            if parts == 1 && !self.can_reach(depth + 1, sums.grams + grams, wanted) {
                self.allowance -= 1;
                continue;
            }
            if self.take(depth, sums, wanted, parts - 1, grams) {
                return true;
            }
        }
        false
    }

    /// Between which amounts of the container of this depth a blend is possible at all. For each limit the least sum
    /// is convex in the amount, and where it is least is known.
    fn amounts(&self, depth: usize, sums: Sums, wanted: Wanted) -> Option<(i64, i64)> {
        let item = self.problem.items.get(depth)?;
        let rest_g = self.left_g.get(depth + 1)?;
        let low = (wanted.least_g - sums.grams - rest_g).max(0);
        let high = (wanted.most_g - sums.grams).min(item.weight_g);
        if low > high {
            return None;
        }
        let (mut least, mut most) = (low, high);
        for limit in &self.limits {
            let (own, rest) = (limit.tails.get(depth)?, limit.tails.get(depth + 1)?);
            let worth = dot(limit.mix, self.problem.worths(item));
            let holds = |grams: i64| {
                let total = rest.best_total(wanted.least_g - sums.grams - grams, wanted.most_g - sums.grams - grams);
                dot(limit.mix, sums.over) + grams * worth + rest.least_sum(total.max(0)) <= 0
            };
            let total = own.best_total(wanted.least_g - sums.grams, wanted.most_g - sums.grams);
            let best = own.own_share(total).clamp(low, high);
            if !holds(best) {
                return None;
            }
            least = least.max(edge(best, low, holds));
            most = most.min(edge(best, high, holds));
        }
        (least <= most).then_some((least, most))
    }

    /// Whether the containers from this depth on could complete a blend if they could be divided at will.
    fn can_still(&self, depth: usize, sums: Sums, wanted: Wanted) -> bool {
        let left_g = self.left_g.get(depth).copied().unwrap_or(0);
        if sums.grams > wanted.most_g || sums.grams + left_g < wanted.least_g {
            return false;
        }
        let (least, most) = (wanted.least_g - sums.grams, wanted.most_g - sums.grams);
        self.limits.iter().all(|limit| {
            let Some(tail) = limit.tails.get(depth) else {
                return false;
            };
            dot(limit.mix, sums.over) + tail.least_sum(tail.best_total(least.max(0), most)) <= 0
        })
    }

    /// Whether some of the containers from this depth on, taken whole, weigh what is still wanted.
    fn can_reach(&self, depth: usize, grams: i64, wanted: Wanted) -> bool {
        let reach = self.reach.as_ref().and_then(Option::as_ref);
        reach.is_none_or(|reach| reach.any(depth, wanted.least_g - grams, wanted.most_g - grams))
    }
}

impl Problem {
    fn worths(&self, item: &Item) -> [i64; 3] {
        let (low, high) = self.band.unwrap_or((item.colour_mm, item.colour_mm));
        // In halves of a millimetre: a band in whole ones ends half of one further out on either side.
        [
            item.over,
            2 * (item.colour_mm - high) - 1,
            2 * (low - item.colour_mm) - 1,
        ]
    }
}

fn dot(mix: [i64; 3], of: [i64; 3]) -> i64 {
    mix.iter().zip(of).map(|(mix, of)| mix * of).sum()
}

/// The value furthest from `from`, on the way to `to`, for which something still holds that holds at `from` and fails
/// only once on the way.
fn edge(from: i64, to: i64, holds: impl Fn(i64) -> bool) -> i64 {
    let (mut good, mut bad) = (from, to);
    if holds(to) {
        return to;
    }
    while (bad - good).abs() > 1 {
        let middle = good + (bad - good) / 2;
        if holds(middle) {
            good = middle;
        } else {
            bad = middle;
        }
    }
    good
}

//! Which of all blends is the best one: the order of what is wanted, put to the search step by step.
//!
//! 1. The wanted weight, to less than one step of the scale, with one container drawn from in part at most; with two
//!    or three only where the wanted weight takes that many.
//! 2. Where no weight is wanted or none reaches it: as few steps missing as can be, with one container in part, with
//!    more only where there would be no blend at all.
//! 3. Of the first container in rank as much (or as little) as can be, then of the second, and so on.

use super::search::{Found, Problem, Search};

/// Containers drawn from in part, at most.
pub(super) const MOST_PARTS: usize = 3;
/// Choices tried in one search before it gives up.
pub(super) const ALLOWANCE: u64 = 150_000;
/// Searches that may each use up their allowance, for each number of containers in part.
const LONG_SEARCHES: u64 = 2;

/// The best blend.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Best {
    /// Grams of each container, in the order of the problem.
    pub(super) grams: Vec<i64>,
    /// How many containers might be drawn from in part.
    pub(super) parts: usize,
    /// Whole steps of the scale missing to the wanted weight, or to all there is.
    pub(super) missing_steps: i64,
}

/// What came of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Picked {
    /// Nothing where no blend holds.
    pub(super) best: Option<Best>,
    /// Whether every better blend was ruled out.
    pub(super) proven: bool,
}

/// Picks the best blend, with `wanted_g` or as much as can be.
pub(super) fn pick(problem: &Problem, wanted_g: Option<i64>, allowance: u64) -> Picked {
    let mut search = Search::new(problem);
    let goal_g = wanted_g.unwrap_or_else(|| search.all_g());
    let divided_g = search.most_divided(goal_g);
    let mut picking = Picking {
        step_g: problem.step_g,
        goal_g,
        allowance,
        left: 0,
        proven: true,
    };
    if divided_g == 0 {
        return picking.done(None);
    }
    let fewest = (goal_g - divided_g) / problem.step_g;
    if wanted_g.is_some() && fewest == 0 {
        for parts in 1..=MOST_PARTS {
            picking.begin();
            if let Some(grams) = picking.among(&mut search, parts, 0, 0) {
                return picking.done(Some((grams, parts)));
            }
        }
    }
    for parts in 1..=MOST_PARTS {
        picking.begin();
        if let Some(grams) = picking.most(&mut search, parts, fewest) {
            return picking.done(Some((grams, parts)));
        }
    }
    picking.done(None)
}

struct Picking {
    step_g: i64,
    goal_g: i64,
    /// Choices that one search may try.
    allowance: u64,
    /// Choices that all searches with the same number of containers in part may still try.
    left: u64,
    proven: bool,
}

impl Picking {
    const fn begin(&mut self) {
        self.left = self.allowance.saturating_mul(LONG_SEARCHES);
    }

    fn missing(&self, grams: &[i64]) -> i64 {
        (self.goal_g - grams.iter().sum::<i64>()) / self.step_g
    }

    fn done(self, best: Option<(Vec<i64>, usize)>) -> Picked {
        let best = best.map(|(grams, parts)| Best {
            missing_steps: self.missing(&grams),
            grams,
            parts,
        });
        Picked {
            best,
            proven: self.proven,
        }
    }

    /// The best blend with so many steps missing.
    fn among(&mut self, search: &mut Search<'_>, parts: usize, fewest: i64, most: i64) -> Option<Vec<i64>> {
        let least_g = self.goal_g - (most + 1) * self.step_g + 1;
        let allowance = self.allowance.min(self.left);
        let found = search.best(parts, least_g, self.goal_g - fewest * self.step_g, allowance);
        self.left -= allowance - search.unused();
        match found {
            Found::Blend(grams) => Some(grams),
            Found::Nothing => None,
            Found::GaveUp => {
                self.proven = false;
                None
            }
        }
    }

    /// The best blend with as few steps missing as can be: ever wider windows until there is one, then halved.
    fn most(&mut self, search: &mut Search<'_>, parts: usize, fewest: i64) -> Option<Vec<i64>> {
        let all = (self.goal_g - 1) / self.step_g;
        let (mut from, mut wide) = (fewest, 1);
        let mut found = loop {
            if from > all {
                return None;
            }
            if let Some(grams) = self.among(search, parts, from, (from + wide - 1).min(all)) {
                break grams;
            }
            from += wide;
            wide *= 2;
        };
        loop {
            let missing = self.missing(&found);
            if missing <= from {
                break;
            }
            let middle = from + (missing - 1 - from) / 2;
            match self.among(search, parts, from, middle) {
                Some(grams) => found = grams,
                None => from = middle + 1,
            }
        }
        // What was found in a wider window need not be the best with that many steps missing.
        self.among(search, parts, from, from).or(Some(found))
    }
}

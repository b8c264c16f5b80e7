//! From the question to the plan: what may take part, which claims go together, the best blend, and what it comes to.

use super::needed::needed;
use super::parents::{banded, bars};
use super::pick::{ALLOWANCE, Best, pick};
use super::search::{Item, Problem};
use super::{
    BlendAsked, BlendOutcome, BlendPlan, BlendPlanRefused, LeftOut, MOST_CONTAINERS, OnHand, OriginWeight, PlannedPart,
    Prefer, STEP, words,
};
use crate::blend::weighted_moisture;
use crate::ordered::{Map, Set};
use crate::text::Name;
use crate::units::{Grams, Minutes, Moisture, Pfund};

/// Plans a blend.
///
/// # Errors
/// [`BlendPlanRefused`], where the question contradicts itself.
pub fn plan_blend(asked: BlendAsked) -> Result<BlendPlan, BlendPlanRefused> {
    check(&asked)?;
    let barred: Vec<(&OnHand, Vec<_>)> = asked.on_hand.iter().map(|honey| (honey, bars(&asked, honey))).collect();
    let usable: Vec<&OnHand> = barred
        .iter()
        .filter(|(_, bars)| bars.is_empty())
        .map(|(honey, _)| *honey)
        .collect();
    let ranked = ranked(&asked, usable);
    let chosen = Chosen::of(&asked, &ranked);
    let left_out = asked.on_hand.iter().zip(barred).filter_map(|(honey, (_, bars))| {
        let refused = !bars.is_empty();
        let reasons = if refused {
            bars
        } else {
            vec![chosen.why_not(&asked, honey)?]
        };
        Some(LeftOut {
            label: honey.label.clone(),
            from: honey.from,
            refused,
            reasons,
        })
    });
    let left_out = left_out.collect();
    Ok(chosen.plan(&asked, left_out))
}

fn check(asked: &BlendAsked) -> Result<(), BlendPlanRefused> {
    let given = asked.on_hand.len();
    if given > MOST_CONTAINERS {
        return Err(BlendPlanRefused::TooMany { given });
    }
    let mut labels = Set::new();
    if let Some(twice) = asked.on_hand.iter().find(|honey| !labels.insert(&honey.label)) {
        let label = twice.label.to_string();
        return Err(BlendPlanRefused::TwoOfOneLabel { label });
    }
    if let (Some(from), Some(to)) = (asked.colour_from_mm, asked.colour_to_mm)
        && from > to
    {
        return Err(BlendPlanRefused::BandTurned {
            from_mm: from.get(),
            to_mm: to.get(),
        });
    }
    if asked.step_g == Some(Grams::MIN) {
        return Err(BlendPlanRefused::NoStep);
    }
    if asked.wanted_g == Some(Grams::MIN) {
        return Err(BlendPlanRefused::NothingWanted);
    }
    Ok(())
}

/// In rank: by the tenth that a meter shows, then by what opening costs, then exactly, then as given.
fn ranked<'a>(asked: &BlendAsked, mut usable: Vec<&'a OnHand>) -> Vec<&'a OnHand> {
    let water = |honey: &OnHand| honey.moisture_hundredths.map_or(0, Moisture::get);
    let shown = |honey: &OnHand| (water(honey) + 5) / 10;
    let cost = |honey: &OnHand| honey.opening_min.map_or(0, Minutes::get);
    match asked.prefer {
        Prefer::MostOfTheWettest => usable.sort_by_key(|honey| (-shown(honey), cost(honey), -water(honey))),
        Prefer::LeastOfTheDriest => usable.sort_by_key(|honey| (shown(honey), -cost(honey), water(honey))),
    }
    usable
}

pub(super) fn problem(asked: &BlendAsked, honeys: &[&OnHand]) -> Problem {
    let target = asked.target_hundredths.get();
    let items = honeys.iter().map(|honey| Item {
        weight_g: honey.content_g.get(),
        over: honey.moisture_hundredths.map_or(0, Moisture::get) - target,
        colour_mm: honey.colour_mm.map_or(0, Pfund::get),
    });
    Problem {
        items: items.collect(),
        step_g: asked.step_g.unwrap_or(STEP).get(),
        most: asked.prefer == Prefer::MostOfTheWettest,
        band: banded(asked).then(|| {
            let from = asked.colour_from_mm.unwrap_or(Pfund::MIN).get();
            (from, asked.colour_to_mm.unwrap_or(Pfund::MAX).get())
        }),
    }
}

/// The claims of a container that must not be lost.
fn bound<'a>(asked: &BlendAsked, honey: &'a OnHand) -> Set<&'a Name> {
    let given_up =
        |claim: &&Name| !asked.keep.contains(claim) && (asked.may_lose_any || asked.may_lose.contains(claim));
    honey.claims.iter().filter(|claim| !given_up(claim)).collect()
}

/// The best blend among honeys that bear the same claims.
pub(super) struct Chosen<'a> {
    /// The honeys that could be together, in rank.
    pub(super) together: Vec<&'a OnHand>,
    pub(super) best: Option<Best>,
    pub(super) proven: bool,
}

impl<'a> Chosen<'a> {
    /// Looks at each set of claims by itself and takes the best of all.
    fn of(asked: &BlendAsked, ranked: &[&'a OnHand]) -> Self {
        let mut groups: Map<Set<&Name>, Vec<&'a OnHand>> = Map::new();
        for honey in ranked {
            groups.entry(bound(asked, honey)).or_default().push(honey);
        }
        let mut proven = true;
        let mut first: Option<(Vec<i64>, Self)> = None;
        for together in groups.into_values() {
            let picked = pick(&problem(asked, &together), asked.wanted_g.map(Grams::get), ALLOWANCE);
            proven &= picked.proven;
            let chosen = Self {
                together,
                best: picked.best,
                proven: true,
            };
            let key = chosen.key(asked, ranked);
            if first.as_ref().is_none_or(|(before, _)| key < *before) {
                first = Some((key, chosen));
            }
        }
        let chosen = first.map_or_else(
            || Self {
                together: Vec::new(),
                best: None,
                proven: true,
            },
            |(_, chosen)| chosen,
        );
        Self { proven, ..chosen }
    }

    /// Less is better: the order of the objective over all honeys in rank. Without a blend the most honey comes first,
    /// for what would be needed besides.
    fn key(&self, asked: &BlendAsked, ranked: &[&OnHand]) -> Vec<i64> {
        let Some(best) = &self.best else {
            return vec![1, -self.together.iter().map(|honey| honey.content_g.get()).sum::<i64>()];
        };
        let parts = i64::try_from(best.parts).unwrap_or(i64::MAX);
        let short = i64::from(asked.wanted_g.is_some() && best.missing_steps > 0);
        // Where no weight is wanted, steps are counted from all that bears those claims; over several groups the
        // heavier blend is the better one.
        let missing = match asked.wanted_g {
            Some(_) => best.missing_steps,
            None => -self.weight_g() / asked.step_g.unwrap_or(STEP).get(),
        };
        let sign = if asked.prefer == Prefer::MostOfTheWettest {
            -1
        } else {
            1
        };
        let by_rank = ranked.iter().map(|honey| sign * self.grams_of(honey));
        [0, short, parts, missing].into_iter().chain(by_rank).collect()
    }

    pub(super) fn grams_of(&self, honey: &OnHand) -> i64 {
        let at = self.together.iter().position(|other| other.label == honey.label);
        self.best
            .as_ref()
            .zip(at)
            .and_then(|(best, at)| best.grams.get(at).copied())
            .unwrap_or(0)
    }

    pub(super) fn weight_g(&self) -> i64 {
        self.best.as_ref().map_or(0, |best| best.grams.iter().sum())
    }

    pub(super) fn outcome(&self, asked: &BlendAsked) -> BlendOutcome {
        match &self.best {
            None => BlendOutcome::NoBlend,
            Some(best) if asked.wanted_g.is_some() && best.missing_steps > 0 => BlendOutcome::LessThanWanted,
            Some(_) => BlendOutcome::Reached,
        }
    }

    /// The honeys that take part, in rank, with their grams.
    pub(super) fn parts(&self) -> impl Iterator<Item = (&'a OnHand, i64)> + '_ {
        let taken = self.together.iter().map(|honey| (*honey, self.grams_of(honey)));
        taken.filter(|(_, grams)| *grams > 0)
    }

    fn plan(&self, asked: &BlendAsked, left_out: Vec<LeftOut>) -> BlendPlan {
        let outcome = self.outcome(asked);
        let weighed: Vec<(Grams, Moisture)> = self
            .parts()
            .filter_map(|(honey, grams)| Some((Grams::new(grams).ok()?, honey.moisture_hundredths?)))
            .collect();
        let needed = (outcome != BlendOutcome::Reached)
            .then(|| needed(asked, &self.together, &problem(asked, &self.together)))
            .flatten();
        let mut plan = BlendPlan {
            outcome,
            parts: self
                .parts()
                .map(|(honey, grams)| PlannedPart {
                    label: honey.label.clone(),
                    from: honey.from,
                    weight_g: grams,
                    left_g: honey.content_g.get() - grams,
                    moisture_hundredths: honey.moisture_hundredths.unwrap_or(Moisture::MIN),
                })
                .collect(),
            weight_g: self.weight_g(),
            missing_g: asked.wanted_g.map_or(0, |wanted| wanted.get() - self.weight_g()),
            forecast_hundredths: weighted_moisture(&weighed),
            colour_tenths_mm: self.colour_tenths_mm(),
            claims_kept: self.claims(|claim| self.parts().all(|(honey, _)| honey.claims.contains(claim))),
            claims_lost: self.claims(|claim| !self.parts().all(|(honey, _)| honey.claims.contains(claim))),
            origins: self.origins(),
            opening_min: self
                .parts()
                .map(|(honey, _)| honey.opening_min.map_or(0, Minutes::get))
                .sum(),
            left_out,
            needed,
            proven_best: self.proven,
            reasons: Vec::new(),
        };
        plan.reasons = words::reasons(asked, self, &plan);
        plan
    }

    fn colour_tenths_mm(&self) -> Option<i64> {
        let weight = self.weight_g();
        let sum: Option<i64> = self
            .parts()
            .map(|(honey, grams)| Some(grams * honey.colour_mm?.get()))
            .sum();
        (weight > 0).then_some(())?;
        Some((20 * sum? + weight) / (2 * weight))
    }

    fn claims(&self, which: impl Fn(&Name) -> bool) -> Vec<Name> {
        let all: Set<&Name> = self.parts().flat_map(|(honey, _)| &honey.claims).collect();
        all.into_iter().filter(|claim| which(claim)).cloned().collect()
    }

    fn origins(&self) -> Vec<OriginWeight> {
        let mut by_origin: Map<Set<&Name>, i64> = Map::new();
        for (honey, grams) in self.parts() {
            *by_origin.entry(honey.origins.iter().collect()).or_default() += grams;
        }
        let weight = self.weight_g();
        let mut origins: Vec<OriginWeight> = by_origin
            .into_iter()
            .map(|(origins, weight_g)| OriginWeight {
                origins: origins.into_iter().cloned().collect(),
                weight_g,
                share_per_mille: (2_000 * weight_g + weight) / (2 * weight.max(1)),
            })
            .collect();
        origins.sort_by_key(|origin| -origin.weight_g);
        origins
    }
}

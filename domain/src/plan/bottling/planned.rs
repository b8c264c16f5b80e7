//! From the question to the plan: aims and jars settle each other, since a larger batch asks for a little more a jar.

use super::aim::{Filling, aim};
use super::share_out::{Taker, share_out};
use super::{
    AimedBy, BottlingAsked, BottlingPlan, BottlingPlanRefused, CheckPlanned, EndedBy, JarSize, MOST_JARS, MOST_SIZES,
    RETAINED, SizePlanned, words,
};
use crate::net_content::{CHECK_JARS_EACH_TIME, TARE_JARS};
use crate::ordered::Set;
use crate::plan::net_content::limits::{Limits, limits};
use crate::plan::net_content::tables::sampled;
use crate::plan::net_content::{CONFIDENCE, SCALE_STEP, Scheme};
use crate::plan::student::{first, mean_factor};
use crate::units::{Count, Grams, HundredthsGrams, PerMille, TenthsGrams};

/// Plans a bottling.
///
/// # Errors
/// [`BottlingPlanRefused`], where the question contradicts itself or the scheme does not know a size.
pub fn plan_bottling(asked: BottlingAsked) -> Result<BottlingPlan, BottlingPlanRefused> {
    let fillings = check(&asked)?;
    let budget_g = (asked.available_g.get() - asked.heel_g.map_or(0, Grams::get)).max(0);
    let kept_per_mille = 1_000 - asked.loss_per_mille.map_or(0, PerMille::get);
    // Rounded down, so that the heel is never touched.
    let to_fill_tenths_g = budget_g * 10 * kept_per_mille / 1_000;
    let smallest_tenths_g = fillings.iter().map(|filling| filling.limits.nominal_mg / 100).min();
    if smallest_tenths_g.is_some_and(|nominal| to_fill_tenths_g / nominal.max(1) > MOST_JARS) {
        return Err(BottlingPlanRefused::TooManyJars);
    }
    let retained_of = retained_of(&asked);
    let mut aims: Vec<(i64, AimedBy)> = fillings
        .iter()
        .map(|filling| (filling.limits.nominal_mg / 100, AimedBy::Mean))
        .collect();
    // Aims only rise, and with them the jars of all sizes together only fall: this comes to rest.
    let jars = loop {
        let jars = share_out(&takers(&asked, &aims, retained_of), lids(&asked), to_fill_tenths_g);
        let mut changed = false;
        for ((now, filling), jars) in aims.iter_mut().zip(&fillings).zip(&jars).filter(|(_, jars)| **jars > 0) {
            let next = aim(filling, usize::try_from(*jars).unwrap_or(0));
            // A mean over fewer jars asks for more, none below a limit for less: what was asked once stays.
            if next.0 > now.0 {
                *now = next;
                changed = true;
            }
        }
        if !changed {
            break jars;
        }
    };
    Ok(plan(&asked, &fillings, &aims, &jars, budget_g))
}

fn check(asked: &BottlingAsked) -> Result<Vec<Filling>, BottlingPlanRefused> {
    if asked.sizes.len() > MOST_SIZES {
        return Err(BottlingPlanRefused::TooMany {
            given: asked.sizes.len(),
        });
    }
    let twice = |field: &'static str, label: String| Err(BottlingPlanRefused::TwoOfOneLabel { field, label });
    let (mut labels, mut kinds) = (Set::new(), Set::new());
    if let Some(size) = asked.sizes.iter().find(|size| !labels.insert(&size.label)) {
        return twice("sizes", size.label.to_string());
    }
    if let Some(lids) = asked.lids.iter().find(|lids| !kinds.insert(&lids.lid)) {
        return twice("lids", lids.lid.to_string());
    }
    let per_mille = asked.confidence_per_mille.unwrap_or(CONFIDENCE).get();
    if !(500..=999).contains(&per_mille) {
        return Err(BottlingPlanRefused::Confidence { per_mille });
    }
    let step_tenths_g = asked.scale_step_tenths_g.unwrap_or(SCALE_STEP).get();
    if step_tenths_g == 0 {
        return Err(BottlingPlanRefused::NoStep);
    }
    let filling = |size: &JarSize| {
        let label = size.label.to_string();
        if let Some(lid) = size.lid.as_ref().filter(|lid| !kinds.contains(lid)) {
            let lid = lid.to_string();
            return Err(BottlingPlanRefused::UnknownLid { label, lid });
        }
        if size.share == Some(Count::MIN) {
            return Err(BottlingPlanRefused::NoShare { label });
        }
        let outside = || BottlingPlanRefused::OutsideScheme {
            label: label.clone(),
            nominal_g: size.nominal_g.get(),
        };
        let limits: Limits = limits(asked.scheme, size.nominal_g).map_err(|_| outside())?;
        if limits.nominal_mg == 0 {
            return Err(outside());
        }
        let spread = match (size.spread_hundredths_g, size.spread_jars) {
            (None, _) => None,
            (Some(spread), Some(jars)) if jars.get() >= 2 => {
                let jars = usize::try_from(jars.get()).unwrap_or(usize::MAX);
                Some((HundredthsGrams::get(spread) as f64 / 100.0, jars))
            }
            (Some(_), _) => return Err(BottlingPlanRefused::SpreadOfTooFew { label }),
        };
        Ok(Filling {
            scheme: asked.scheme,
            limits,
            spread,
            step_tenths_g,
            confidence: per_mille as f64 / 1_000.0,
        })
    };
    asked.sizes.iter().map(filling).collect()
}

/// The size of which jars are kept back: the smallest from 250 g on, else the largest (SA-1; common practice).
fn retained_of(asked: &BottlingAsked) -> Option<usize> {
    let there = |size: &&(usize, &JarSize)| size.1.jars_on_hand != Some(Count::MIN);
    let sizes: Vec<(usize, &JarSize)> = asked.sizes.iter().enumerate().collect();
    let from_250 = sizes
        .iter()
        .filter(there)
        .filter(|(_, size)| size.nominal_g.get() >= 250);
    let smallest = from_250.min_by_key(|(_, size)| size.nominal_g);
    let largest = || sizes.iter().filter(there).max_by_key(|(_, size)| size.nominal_g);
    smallest.or_else(largest).map(|(at, _)| *at)
}

fn retained(asked: &BottlingAsked) -> i64 {
    asked.retained_jars.unwrap_or(RETAINED).get()
}

fn takers(asked: &BottlingAsked, aims: &[(i64, AimedBy)], retained_of: Option<usize>) -> Vec<Taker> {
    let taker = |(at, (size, aim)): (usize, (&JarSize, &(i64, AimedBy)))| Taker {
        priority: size.priority.map_or(1, Count::get),
        share: size.share.map_or(1, Count::get),
        aim_tenths_g: aim.0.max(1),
        most: wanted(asked, size, retained_of == Some(at)).min(size.jars_on_hand.map_or(Count::MAX.get(), Count::get)),
        lid: size
            .lid
            .as_ref()
            .and_then(|lid| asked.lids.iter().position(|lids| lids.lid == *lid)),
    };
    asked.sizes.iter().zip(aims).enumerate().map(taker).collect()
}

/// Jars for sale that are wanted, and those kept back on top.
fn wanted(asked: &BottlingAsked, size: &JarSize, keeps: bool) -> i64 {
    let kept = if keeps { retained(asked) } else { 0 };
    size.jars_wanted.map_or(Count::MAX.get(), |wanted| wanted.get() + kept)
}

fn lids(asked: &BottlingAsked) -> Vec<i64> {
    asked.lids.iter().map(|lids| lids.on_hand.get()).collect()
}

fn plan(
    asked: &BottlingAsked,
    fillings: &[Filling],
    aims: &[(i64, AimedBy)],
    jars: &[i64],
    budget_g: i64,
) -> BottlingPlan {
    let mut lids_left = lids(asked);
    for (size, jars) in asked.sizes.iter().zip(jars) {
        if let Some(left) = lid_of(asked, size).and_then(|at| lids_left.get_mut(at)) {
            *left -= jars;
        }
    }
    let keeps = retained_of(asked);
    let mut to_keep = retained(asked);
    let mut sizes: Vec<SizePlanned> = Vec::new();
    for (at, (((size, filling), aim), jars)) in asked.sizes.iter().zip(fillings).zip(aims).zip(jars).enumerate() {
        let nominal_tenths_g = filling.limits.nominal_mg / 100;
        let lids_out = lid_of(asked, size)
            .and_then(|at| lids_left.get(at))
            .is_some_and(|left| *left <= 0);
        sizes.push(SizePlanned {
            label: size.label.clone(),
            nominal_g: size.nominal_g,
            jars: *jars,
            jars_retained: 0,
            jars_for_sale: *jars,
            aim_tenths_g: aim.0,
            over_tenths_g: aim.0 - nominal_tenths_g,
            aimed_by: aim.1,
            first_limit_mg: filling.limits.first_mg,
            second_limit_mg: filling.limits.second_mg,
            filled_g: up(aim.0 * jars, 10),
            given_away_g: up((aim.0 - nominal_tenths_g) * jars, 10),
            ended_by: ended_by(size, *jars, wanted(asked, size, keeps == Some(at)), lids_out),
            check: check_of(filling, aim.0, *jars),
        });
    }
    // Kept back of the size meant for it, and of the others where that is too few.
    let mut order: Vec<usize> = keeps.into_iter().chain(0..sizes.len()).collect();
    order.dedup();
    for at in order {
        if let Some(size) = sizes.get_mut(at) {
            let kept = to_keep.min(size.jars_for_sale);
            size.jars_retained += kept;
            size.jars_for_sale -= kept;
            to_keep -= kept;
        }
    }
    let filled_tenths_g: i64 = aims.iter().zip(jars).map(|(aim, jars)| aim.0 * jars).sum();
    let kept_per_mille = 1_000 - asked.loss_per_mille.map_or(0, PerMille::get);
    // What leaves the tank so that this much is filled; all the rest stays.
    let leaves_g = up(filled_tenths_g * 1_000, 10 * kept_per_mille.max(1)).min(budget_g);
    let filled_g = up(filled_tenths_g, 10).min(leaves_g);
    let over = |size: &SizePlanned| size.over_tenths_g * size.jars;
    let given_tenths_g: i64 = sizes.iter().map(over).sum();
    let mut plan = BottlingPlan {
        jars: jars.iter().sum(),
        jars_retained: sizes.iter().map(|size| size.jars_retained).sum(),
        filled_g,
        lost_g: leaves_g - filled_g,
        given_away_g: up(given_tenths_g, 10),
        given_away_hundredths: asked
            .price_per_kg_hundredths
            .map(|price| up(given_tenths_g * price.get(), 10_000)),
        left_g: asked.available_g.get() - leaves_g,
        sizes,
        reasons: Vec::new(),
    };
    plan.reasons = words::reasons(asked, &plan);
    plan
}

fn lid_of(asked: &BottlingAsked, size: &JarSize) -> Option<usize> {
    let lid = size.lid.as_ref()?;
    asked.lids.iter().position(|lids| lids.lid == *lid)
}

fn ended_by(size: &JarSize, jars: i64, wanted: i64, lids_out: bool) -> EndedBy {
    if jars >= wanted {
        EndedBy::Wanted
    } else if size.jars_on_hand.is_some_and(|there| jars >= there.get()) {
        EndedBy::Jars
    } else if lids_out {
        EndedBy::Lids
    } else {
        EndedBy::Honey
    }
}

/// Five at the start, in the middle and at the end (NC-3); of a small batch every jar.
fn check_of(filling: &Filling, aim_tenths_g: i64, jars: i64) -> CheckPlanned {
    let each = i64::try_from(CHECK_JARS_EACH_TIME).unwrap_or(0);
    let share = |of: i64| (jars - of * each).clamp(0, each);
    let count = usize::try_from(jars).unwrap_or(0);
    let official = (jars > 0).then(|| sampled(filling.scheme, count)).flatten();
    let over = (aim_tenths_g * 100 - filling.limits.nominal_mg) as f64 / 1_000.0;
    let to_show = filling
        .spread
        .filter(|_| jars > 0 && filling.scheme != Scheme::Minimum)
        .map(|(spread, _)| {
            let least =
                crate::plan::net_content::least_spread(TenthsGrams::new(filling.step_tenths_g).unwrap_or(SCALE_STEP));
            let shows = |weighed: usize| {
                mean_factor(filling.confidence, weighed).is_some_and(|factor| factor * spread.max(least) <= over)
            };
            first(2, count, shows).min(count)
        });
    CheckPlanned {
        tare_jars: i64::try_from(TARE_JARS).unwrap_or(0),
        start_jars: share(0),
        middle_jars: share(1),
        end_jars: share(2),
        official_sample_jars: official.map(|plan| i64::try_from(plan.weigh).unwrap_or(i64::MAX)),
        to_show_mean_jars: to_show.map(|jars| i64::try_from(jars).unwrap_or(i64::MAX)),
    }
}

/// A quotient of two numbers that are not negative, rounded up.
const fn up(above: i64, below: i64) -> i64 {
    (above + below - 1) / below
}

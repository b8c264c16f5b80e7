//! Why a plan for a blend is as it is, in sentences.

use super::parents::banded;
use super::planned::Chosen;
use super::{BlendAsked, BlendOutcome, BlendPlan, OnHand, Prefer};
use crate::decide::{kg, percent};
use crate::limits::BULK_RE_MEASURE_DAYS;
use crate::plan::Reason;
use crate::units::Moisture;

impl Chosen<'_> {
    /// Why a container that could be blended is not; nothing where it is.
    pub(super) fn why_not(&self, asked: &BlendAsked, honey: &OnHand) -> Option<Reason> {
        if self.grams_of(honey) > 0 {
            return None;
        }
        let name = &honey.label;
        if self.best.is_none() {
            let sentence = format!("{name} has no other honey beside it with which it would make the blend wanted");
            return Some(Reason::new("no_blend", "BL-1", sentence));
        }
        if !self.together.iter().any(|other| other.label == *name) {
            let sentence = format!("{name} bears other claims than the blend, and one of them would be lost");
            return Some(Reason::new("other_claims", "BL-5", sentence));
        }
        if asked.wanted_g.is_some() && self.outcome(asked) == BlendOutcome::Reached {
            let sentence = format!("{name} is not needed: the others weigh what is wanted");
            return Some(Reason::new("not_needed", "BL-1", sentence));
        }
        let water = honey.moisture_hundredths.unwrap_or(Moisture::MIN);
        if water > asked.target_hundredths {
            let sentence = format!(
                "{name} at {} would bring the blend above {}: the drier honey carries no more",
                percent(water),
                percent(asked.target_hundredths)
            );
            let reason = Reason::new("no_more_carried", "BL-2", sentence);
            return Some(reason.with("moisture_hundredths", water));
        }
        let sentence = format!("with {name} the blend would leave the colour band, or weigh no more for it");
        Some(Reason::new("adds_nothing", "BL-1", sentence))
    }
}

/// The reasons of a plan, the weightiest first.
pub(super) fn reasons(asked: &BlendAsked, chosen: &Chosen<'_>, plan: &BlendPlan) -> Vec<Reason> {
    let mut reasons = Vec::new();
    match plan.outcome {
        BlendOutcome::NoBlend => reasons.push(none(asked, chosen)),
        BlendOutcome::LessThanWanted | BlendOutcome::Reached => blend(asked, chosen, plan, &mut reasons),
    }
    if let Some(needed) = &plan.needed {
        let colour = needed
            .colour_mm
            .map_or_else(String::new, |mm| format!(" and about {} mm", mm.get()));
        let sentence = format!(
            "at least {} of honey at {} or less{colour} would have to be there besides",
            kg(needed.weight_g),
            percent(needed.moisture_hundredths)
        );
        let reason = Reason::new("needed", "BL-2", sentence)
            .with("needed_g", needed.weight_g)
            .with("needed_hundredths", needed.moisture_hundredths);
        reasons.push(reason);
    }
    if !plan.proven_best {
        let sentence = "not every blend could be ruled out in the time given: there may be a better one";
        reasons.push(Reason::new("not_proven", "BL-1", sentence));
    }
    reasons
}

fn none(asked: &BlendAsked, chosen: &Chosen<'_>) -> Reason {
    let target = percent(asked.target_hundredths);
    let driest = chosen
        .together
        .iter()
        .filter_map(|honey| honey.moisture_hundredths)
        .min();
    match driest {
        None => Reason::new(
            "nothing_usable",
            "BL-3",
            "nothing on hand may be blended this way; see why at each",
        ),
        Some(water) if water > asked.target_hundredths => {
            let sentence = format!(
                "all that may be blended is wetter than {target}; the driest is at {}",
                percent(water)
            );
            Reason::new("all_too_wet", "BL-1", sentence).with("driest_hundredths", water)
        }
        Some(_) => {
            let sentence = format!("no blend of it is at {target} or less and in the colour band as well");
            Reason::new("no_blend", "BL-1", sentence)
        }
    }
}

fn blend(asked: &BlendAsked, chosen: &Chosen<'_>, plan: &BlendPlan, reasons: &mut Vec<Reason>) {
    let forecast = plan.forecast_hundredths.unwrap_or(Moisture::MIN);
    let sentence = format!(
        "{} of {} containers are forecast at {}; the target is {}",
        kg(plan.weight_g),
        plan.parts.len(),
        percent(forecast),
        percent(asked.target_hundredths)
    );
    let reason = Reason::new("forecast", "BL-1", sentence)
        .with("weight_g", plan.weight_g)
        .with("forecast_hundredths", forecast)
        .with("target_hundredths", asked.target_hundredths);
    reasons.push(reason);
    let sentence = "the forecast releases nothing: stir the blend, measure it, and have a named person release it";
    reasons.push(Reason::new("forecast_never_releases", "MO-10", sentence));
    if let (BlendOutcome::LessThanWanted, Some(wanted)) = (plan.outcome, asked.wanted_g) {
        let sentence = format!("{} are missing to the {} wanted", kg(plan.missing_g), kg(wanted.get()));
        reasons.push(Reason::new("less_than_wanted", "BL-1", sentence).with("missing_g", plan.missing_g));
    }
    let sentence = match asked.prefer {
        Prefer::MostOfTheWettest => "at that weight as much as can be is of the wettest honey",
        Prefer::LeastOfTheDriest => "at that weight as little as can be is of the driest honey",
    };
    reasons.push(Reason::new("preference", "BL-2", sentence));
    parts(chosen, plan, reasons);
    if let (true, Some(tenths)) = (banded(asked), plan.colour_tenths_mm) {
        let sentence = format!(
            "the colour is about {}.{} mm: weighted by mass, which colours only roughly follow; grade the blend",
            tenths / 10,
            tenths % 10
        );
        reasons.push(Reason::new("colour_forecast", "BL-1", sentence).with("colour_tenths_mm", tenths));
    }
    for claim in &plan.claims_lost {
        let sentence = format!("the blend may no longer be called {claim}: not every part of it may");
        reasons.push(Reason::new("claim_lost", "BL-5", sentence));
    }
}

fn parts(chosen: &Chosen<'_>, plan: &BlendPlan, reasons: &mut Vec<Reason>) {
    for part in plan.parts.iter().filter(|part| part.left_g > 0) {
        let sentence = format!(
            "{} is drawn from in part: {} go in, {} stay",
            part.label,
            kg(part.weight_g),
            kg(part.left_g)
        );
        let reason = Reason::new("part_drawn", "ST-7", sentence)
            .with("weight_g", part.weight_g)
            .with("left_g", part.left_g);
        reasons.push(reason);
    }
    if chosen.best.as_ref().is_some_and(|best| best.parts > 1) {
        let sentence = "with one container drawn from in part there is no such blend";
        reasons.push(Reason::new("more_in_part", "BL-1", sentence));
    }
    for (honey, _) in chosen.parts() {
        if let Some(days) = honey.measured_days.filter(|days| *days > BULK_RE_MEASURE_DAYS) {
            let sentence = format!(
                "{} was measured {} days ago; honey in store is measured again after {}",
                honey.label,
                days.get(),
                BULK_RE_MEASURE_DAYS.get()
            );
            reasons.push(Reason::new("measured_long_ago", "MO-11", sentence).with("measured_days", days));
        }
    }
    if plan.parts.len() > 1 {
        let sentence = "all parts stay in its ancestry, and a hold on one of them holds the blend";
        reasons.push(Reason::new("ancestry", "BL-4", sentence).with("weight_g", plan.weight_g));
    }
}

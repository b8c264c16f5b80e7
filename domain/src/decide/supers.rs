//! Decisions about colonies and supers, from the hive to the extractor.

use crate::allocation::{LIFT_CAUTION, Plausible, gross_plausible};
use crate::clearing::{Cleared, Clearing, ClearingFitted, LONG_ON, TOO_HOT};
use crate::colony::{ColonyEnd, ColonyEnded};
use crate::decide::{Case, Refused, kg, refused};
use crate::extraction::{SuperUncapped, WetWeighed};
use crate::honey_super::{Comb, Super, SuperMoved, SuperPlaced, SuperPulled, SuperReceived, Whereabouts};
use crate::house::House;
use crate::ids::{HiveId, SuperId};
use crate::moisture::{Water, deciding};
use crate::subject::Subject;
use crate::units::Grams;

pub(super) fn end_colony(case: &Case<'_>, end: &ColonyEnded) -> Result<(), Refused> {
    let colony = case.house.get(end.colony_id.into()).and_then(|state| state.as_colony());
    if let Some(ended) = colony.and_then(|colony| colony.ended.as_ref()) {
        let detail = format!("this colony ended on {}", ended.at.date_naive());
        return Err(refused("already_ended", "ST-2", detail));
    }
    if end.how == ColonyEnd::United && end.united_into.is_none() {
        let detail = "a united colony goes on in another; name it in united_into".to_owned();
        return Err(refused("united_into_missing", "ST-2", detail));
    }
    Ok(())
}

fn super_of<'a>(case: &Case<'a>, id: SuperId) -> Result<&'a Super, Refused> {
    case.known(id)?;
    let detail = || format!("there is no super {id}; register it first");
    let state = case
        .house
        .honey_super(id)
        .ok_or_else(|| refused("not_registered", "ST-11", detail()))?;
    if state.whereabouts == Whereabouts::Ended {
        let detail = format!("super {} is no longer in use", case.label(id));
        return Err(refused("super_ended", "ST-3", detail));
    }
    Ok(state)
}

/// What stands under a hold holds what is put on it and what is taken off it: said while the box can still go elsewhere,
/// or into a run of its own (TX-5).
fn warn_of_holds(case: &mut Case<'_>, subject: Subject, what: &str) {
    let held = case.holds_on(subject);
    if let Some(hold) = held.first() {
        let until = hold
            .until
            .map_or(String::new(), |until| format!(" until {}", until.date_naive()));
        let detail = format!(
            "{what} {} is on hold since {}{until} ({}): honey gathered meanwhile stays held until somebody releases it",
            case.label(subject),
            hold.since.date_naive(),
            hold.reason.words()
        );
        case.warn("on_hold", "TX-5", detail);
    }
}

/// Supers on one hive from which on a person should look twice (IN).
const MANY_SUPERS: usize = 6;
/// No hive carries more (IN).
const MOST_SUPERS: usize = 12;

pub(super) fn place(case: &mut Case<'_>, placed: &SuperPlaced) -> Result<(), Refused> {
    let state = super_of(case, placed.super_id)?;
    case.known(placed.hive_id)?;
    if let Some(hive) = state.on_hive() {
        let detail = format!(
            "super {} stands on hive {}; pull it or shift it from there first",
            case.label(placed.super_id),
            case.label(hive)
        );
        return Err(refused("on_two_hives", "ST-11", detail));
    }
    let on_it = case
        .house
        .supers()
        .filter(|(_, other)| other.on_hive() == Some(placed.hive_id))
        .count();
    if on_it >= MOST_SUPERS {
        let detail = format!("hive {} cannot carry {} supers", case.label(placed.hive_id), on_it + 1);
        return Err(refused("too_many_supers", "IN", detail));
    }
    if on_it >= MANY_SUPERS {
        let detail = format!("hive {} carries {on_it} supers already", case.label(placed.hive_id));
        case.warn("many_supers", "IN", detail);
    }
    warn_of_holds(case, placed.hive_id.into(), "hive");
    warn_of_holds(case, placed.super_id.into(), "super");
    brood_box(case, placed);
    super::safety::box_leaves(case, placed.super_id, super::safety::yard_of(case, placed.hive_id))
}

/// Combs of the brood nest may hold feed and medicine (FE-3).
fn brood_box(case: &mut Case<'_>, placed: &SuperPlaced) {
    if placed.comb == Some(Comb::Brood) {
        let detail = "combs of the brood nest moved up may hold feed and medicine: keep their honey apart".to_owned();
        case.warn("brood_box", "FE-3", detail);
    }
}

pub(super) fn shift(case: &mut Case<'_>, moved: &SuperMoved) -> Result<(), Refused> {
    let state = super_of(case, moved.super_id)?;
    case.known(moved.to_hive_id)?;
    stands_on(case, moved.super_id, state, Some(moved.from_hive_id))?;
    warn_of_holds(case, moved.to_hive_id.into(), "hive");
    super::safety::box_leaves(case, moved.super_id, super::safety::yard_of(case, moved.to_hive_id))
}

fn stands_on(case: &Case<'_>, id: SuperId, state: &Super, named: Option<HiveId>) -> Result<(), Refused> {
    let number = case.label(id);
    let Some(stand) = state.filling.last_stand().filter(|_| state.on_hive().is_some()) else {
        if state.filling.pulled.is_some() && state.filling.run_id.is_none() {
            return Err(refused(
                "already_pulled",
                "CF-2",
                format!("super {number} was pulled already"),
            ));
        }
        let detail = format!("nobody wrote on which hive super {number} was put; write that first");
        return Err(refused("never_placed", "ST-11", detail));
    };
    match named {
        Some(hive) if stand.candidates().all(|candidate| candidate != hive) => {
            let (book, told) = (case.label(stand.hive_id), case.label(hive));
            let detail = format!("super {number} stands on hive {book}, not on {told}");
            Err(refused("on_other_hive", "ST-11", detail))
        }
        _ => Ok(()),
    }
}

pub(super) fn pull(case: &mut Case<'_>, pulled: &SuperPulled) -> Result<(), Refused> {
    let state = super_of(case, pulled.super_id)?;
    stands_on(case, pulled.super_id, state, pulled.hive_id)?;
    warn_of_holds(case, pulled.super_id.into(), "super");
    board_on_long(case, state);
    if let Some(capped) = pulled.capped_percent
        && capped.get() < 75
    {
        let detail = format!("only {} % capped: measure before extracting", capped.get());
        case.warn("little_capped", "IN", detail);
    }
    if pulled.brood_seen == Some(true) {
        let detail = "brood seen: set those frames aside, extracted honey is from broodless comb".to_owned();
        case.warn("brood_seen", "DI-1", detail);
    }
    Ok(())
}

/// A board that cleared this super since it was put on (IN).
pub(crate) fn board_under<'a>(house: &'a House, state: &Super) -> Option<&'a Cleared> {
    let stand = state.filling.last_stand().filter(|_| state.on_hive().is_some())?;
    let cleared = house.hive(stand.hive_id)?.clearing.as_ref()?;
    (cleared.clearing == Clearing::EscapeBoard && cleared.at >= stand.from).then_some(cleared)
}

fn board_on_long(case: &mut Case<'_>, state: &Super) {
    let since = board_under(case.house, state).map(|board| board.at);
    if let Some(since) = since.filter(|since| case.now - *since > LONG_ON) {
        let detail = format!(
            "the escape board is on since {}, over {} hours: look whether bees or robbers are back in it",
            since.date_naive(),
            LONG_ON.num_hours()
        );
        case.warn("board_on_long", "IN", detail);
    }
}

pub(super) fn clear(case: &mut Case<'_>, fitted: &ClearingFitted) -> Result<(), Refused> {
    super::safety::named(case, &fitted.hive_ids)?;
    let hot = fitted.air_tenths_c.filter(|air| *air > TOO_HOT);
    if let (Clearing::FumeBoard, Some(air)) = (fitted.clearing, hot) {
        let detail = format!(
            "at {} °C repellents work too strongly: wait for cooler air; the label rules",
            air.get() / 10
        );
        case.warn("too_hot_for_repellent", "IN", detail);
    }
    Ok(())
}

pub(super) fn receive(case: &mut Case<'_>, received: &SuperReceived) -> Result<(), Refused> {
    let state = super_of(case, received.super_id)?;
    super::safety::box_leaves(case, received.super_id, None)?;
    if state.filling.stands.is_empty() || state.filling.run_id.is_some() {
        let detail = format!(
            "super {} came in, but nobody wrote that it was on a hive since it was last spun",
            case.label(received.super_id)
        );
        return Err(refused("never_placed", "ST-11", detail));
    }
    let Some(gross) = received.gross_g else { return Ok(()) };
    lighter_than_seen(case, received.super_id, gross);
    weigh(case, received.super_id, gross)
}

/// A box that was seen full and weighs less than a third of that was robbed, fell, or is another box (WT-4; the bound is
/// our own choice).
fn lighter_than_seen(case: &mut Case<'_>, id: SuperId, gross: Grams) {
    let Some(state) = case.house.honey_super(id) else {
        return;
    };
    let (Some(class), Some(quarters)) = (
        state.class,
        state
            .filling
            .pulled
            .as_ref()
            .and_then(|pulled| pulled.fullness_quarters),
    ) else {
        return;
    };
    let net = gross.get() - state.tare_g.unwrap_or(class.tare()).get();
    let seen = class.full_net().get() * quarters.get() / 4;
    if net * 3 < seen {
        let detail = format!(
            "super {} was seen {} quarters full when it was taken off and holds {}: was it robbed, or is it another box?",
            case.label(id),
            quarters.get(),
            kg(net)
        );
        case.warn("lighter_than_seen", "WT-4", detail);
    }
}

pub(super) fn weigh(case: &mut Case<'_>, id: SuperId, gross: Grams) -> Result<(), Refused> {
    let state = super_of(case, id)?;
    let number = case.label(id);
    if let Some(class) = state.class {
        match gross_plausible(class, gross, state.tare_g) {
            Plausible::Fine => {}
            Plausible::UnusuallyLight => {
                case.warn(
                    "unusually_light",
                    "WT-4",
                    format!("super {number} at {} is unusually light", kg(gross.get())),
                );
            }
            Plausible::UnusuallyHeavy => {
                case.warn(
                    "unusually_heavy",
                    "WT-4",
                    format!("super {number} at {} is unusually heavy", kg(gross.get())),
                );
            }
            Plausible::Impossible => {
                let detail = format!(
                    "super {number} cannot weigh {}; look at the scale again",
                    kg(gross.get())
                );
                return Err(refused("impossible_weight", "WT-4", detail));
            }
        }
    }
    if gross >= LIFT_CAUTION {
        let detail = format!(
            "{} to lift: use a second person or a trolley; local codes and the maker's manual rule",
            kg(gross.get())
        );
        case.warn("heavy_lift", "WT-5", detail);
    }
    Ok(())
}

pub(super) fn uncap(case: &mut Case<'_>, uncapped: &SuperUncapped) -> Result<(), Refused> {
    let state = super_of(case, uncapped.super_id)?;
    let number = case.label(uncapped.super_id);
    if let Some(run) = state.filling.run_id {
        let detail = format!(
            "super {number} was spun in run {} and has not been on a hive since",
            case.label(run)
        );
        return Err(refused("extracted_twice", "ST-11", detail));
    }
    if state.filling.stands.is_empty() {
        let detail = format!("nobody wrote on which hive super {number} was; write that first");
        return Err(refused("never_placed", "ST-11", detail));
    }
    if case.house.run(uncapped.run_id).is_some_and(|run| run.drained.is_some()) {
        let detail = format!("run {} is drained; open a new one", case.label(uncapped.run_id));
        return Err(refused("run_drained", "ID-4", detail));
    }
    warn_of_holds(case, uncapped.super_id.into(), "super");
    let limit = case.house.settings().house_limit();
    // A reading of a meter that was found wrong says nothing (MO-8).
    match deciding(&state.filling.readings, |id| case.house.meter(id)) {
        Water::OffScaleWet { .. } => {
            let detail = format!("super {number} is wetter than the meter reaches: dry it or give it back to the bees");
            case.warn("too_wet", "MO-2", detail);
        }
        Water::Measured {
            moisture_hundredths: water,
            ..
        } if water > limit => {
            let detail = format!(
                "super {number} is at {}, above the house limit {}",
                percent(water),
                percent(limit)
            );
            case.warn("too_wet", "MO-2", detail);
        }
        Water::Measured { .. } => {}
        Water::Forecast { .. } | Water::Unmeasured => {
            case.warn("not_measured", "MO-9", format!("nobody measured super {number}"));
        }
    }
    Ok(())
}

/// Moisture as people say it.
pub(crate) fn percent(water: crate::units::Moisture) -> String {
    format!("{}.{:02} %", water.get() / 100, water.get() % 100)
}

pub(super) fn weigh_wet(case: &Case<'_>, weighed: &WetWeighed) -> Result<(), Refused> {
    let state = super_of(case, weighed.super_id)?;
    super::runs::balance_is_open(case, weighed.run_id)?;
    let number = case.label(weighed.super_id);
    let Some(filling) = state.filling_of(weighed.run_id) else {
        let detail = format!("super {number} is not in run {}", case.label(weighed.run_id));
        return Err(refused("not_in_run", "ST-3", detail));
    };
    match &filling.full {
        Some(full) if full.gross_g < weighed.gross_g => {
            let detail = format!(
                "super {number} weighed {} full and cannot weigh {} spun",
                kg(full.gross_g.get()),
                kg(weighed.gross_g.get())
            );
            Err(refused("wet_heavier_than_full", "WT-1", detail))
        }
        _ => Ok(()),
    }
}

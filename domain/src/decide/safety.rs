//! Decisions about medicine, feed, sick bees, orders of the authority, and the end of holds.

use chrono::{Datelike, NaiveDate};

use crate::batch::GlassBroken;
use crate::colony::ColonyMoved;
use crate::common::{HoldLifted, HoldReason};
use crate::decide::{Case, Refused, kg, refused};
use crate::disease::{SickAct, SickPlace, SickStep};
use crate::feed::FeedPutOn;
use crate::hive::HiveMoved;
use crate::holds::yard_of_box;
use crate::honey_super::Whereabouts;
use crate::ids::{EntryId, HiveId, MedicineId, SuperId, YardId};
use crate::subject::Subject;
use crate::taint::BoxCleaned;
use crate::text::Name;
use crate::treatment::TreatmentTakenOut;

/// Everything named is known, and something is named.
pub(super) fn named<T: Copy + Into<Subject>>(case: &Case<'_>, things: &[T]) -> Result<(), Refused> {
    if things.is_empty() {
        return Err(refused("nothing_named", "ST-11", "name at least one".to_owned()));
    }
    things.iter().try_for_each(|thing| case.known(*thing))
}

fn labels<T: Copy + Into<Subject>>(case: &Case<'_>, things: &[T]) -> String {
    let labels: Vec<String> = things.iter().map(|thing| case.label(*thing)).collect();
    labels.join(", ")
}

/// The supers that stand on some hives.
fn supers_on(case: &Case<'_>, hives: &[HiveId]) -> Vec<SuperId> {
    let on = |hive: HiveId| hives.contains(&hive);
    let supers = case.house.supers().filter(|(_, state)| state.on_hive().is_some_and(on));
    supers.map(|(id, _)| id).collect()
}

/// TX-1, TX-2. The label decides; what stands on the hive is named while it can still be taken off.
pub(super) fn treat(
    case: &mut Case<'_>,
    hives: &[HiveId],
    medicine_id: MedicineId,
    batch: Option<&Name>,
) -> Result<(), Refused> {
    named(case, hives)?;
    case.known(medicine_id)?;
    let medicine = case.house.medicine(medicine_id);
    let label = medicine.and_then(|medicine| medicine.label_at(case.now));
    let supers = supers_on(case, hives);
    if !supers.is_empty() && label.is_none_or(|label| !label.supers_allowed) {
        let detail = format!(
            "supers {} stand there and the label of {} does not allow that: take them off first, or their honey is held; \
             the label and your vet rule",
            labels(case, &supers),
            case.label(medicine_id)
        );
        case.warn("supers_on", "TX-7", detail);
    }
    if let Some((yard, start)) = hives.iter().find_map(|hive| near_flow(case, *hive)) {
        let detail = format!(
            "the flow at {} is on or near, from about {start}: as taught, treating stops {BEFORE_FLOW_DAYS} days before it; advice \
             only, the label and your vet rule",
            case.label(yard)
        );
        case.warn("near_flow", "TX-7", detail);
    }
    if batch.is_some_and(|batch| medicine.is_none_or(|medicine| !medicine.has_batch(batch))) {
        let detail = format!(
            "this batch of {} is not in the cupboard: write where it was bought",
            case.label(medicine_id)
        );
        case.warn("batch_not_bought", "TX-2", detail);
    }
    Ok(())
}

/// As taught, medicine is out four weeks before the flow (TX-7). Advice: no days are built into a hold.
const BEFORE_FLOW_DAYS: i64 = 28;

/// The flow of this year, if it is on or less than four weeks ahead; where the owner has not set it yet, about the day
/// on which it began last year.
fn near_flow(case: &Case<'_>, hive: HiveId) -> Option<(YardId, NaiveDate)> {
    let id = yard_of(case, hive)?;
    let (yard, today) = (case.house.yard(id)?, case.now.date_naive());
    let this_year = yard.flows.iter().filter(|flow| flow.from.year() == today.year());
    let (mut starts, mut any) = (Vec::new(), false);
    for flow in this_year {
        any = true;
        if flow.from >= today || flow.until.is_some_and(|until| until >= today) {
            starts.push(flow.from);
        }
    }
    if !any {
        let last_year = yard
            .flow_of(today.year() - 1)
            .and_then(|flow| flow.from.with_year(today.year()));
        starts.extend(last_year.filter(|start| *start >= today));
    }
    let near = starts
        .into_iter()
        .find(|start| (*start - today).num_days() <= BEFORE_FLOW_DAYS)?;
    Some((id, near))
}

pub(super) fn take_out(case: &mut Case<'_>, out: &TreatmentTakenOut) -> Result<(), Refused> {
    named(case, &out.hive_ids)?;
    let empty: Vec<HiveId> = out
        .hive_ids
        .iter()
        .filter(|hive| {
            case.holds_on(**hive)
                .iter()
                .all(|held| held.reason != HoldReason::Treatment)
        })
        .copied()
        .collect();
    if !empty.is_empty() {
        let detail = format!(
            "nobody wrote that anything held was in {}: write when it was put in",
            labels(case, &empty)
        );
        case.warn("nothing_in", "CF-17", detail);
    }
    Ok(())
}

/// Feed for one hive at once (IN).
const MUCH_FEED_G: i64 = 12_000;
/// More than this no hive takes (IN).
const TOO_MUCH_FEED_G: i64 = 40_000;

pub(super) fn feed(case: &mut Case<'_>, fed: &FeedPutOn) -> Result<(), Refused> {
    named(case, &fed.hive_ids)?;
    let amount = fed.per_hive.at_least_g();
    if amount > TOO_MUCH_FEED_G {
        let detail = format!("{} is more than a hive takes; look at the figure again", kg(amount));
        return Err(refused("too_much_feed", "IN", detail));
    }
    if amount > MUCH_FEED_G {
        case.warn(
            "much_feed",
            "IN",
            format!("{} at once is much for one hive", kg(amount)),
        );
    }
    let supers = supers_on(case, &fed.hive_ids);
    if !supers.is_empty() {
        let detail = format!(
            "supers {} stand there: feed may be carried up into them, so their honey is held",
            labels(case, &supers)
        );
        case.warn("supers_on", "FE-1", detail);
    }
    Ok(())
}

pub(super) fn sick(case: &mut Case<'_>, place: SickPlace) -> Result<(), Refused> {
    case.known(place.subject())?;
    let detail = "tell the authority where the disease is notifiable, and move nothing from this yard until it is \
                  clear; the authority rules"
        .to_owned();
    case.warn("notifiable", "DI-2", detail);
    Ok(())
}

fn steps(case: &Case<'_>, place: Subject) -> Vec<SickStep> {
    let of_hive = place
        .as_hive()
        .and_then(|id| case.house.hive(id))
        .map(|hive| &hive.sickness);
    let of_yard = place
        .as_yard()
        .and_then(|id| case.house.yard(id))
        .map(|yard| &yard.sickness);
    of_hive.or(of_yard).map(|steps| steps.to_vec()).unwrap_or_default()
}

/// A suspicion, diagnosis or order is ended, or a licence given, for one that was told there and still stands.
pub(super) fn end_sickness(case: &Case<'_>, place: Subject, cause: EntryId) -> Result<(), Refused> {
    case.known(place)?;
    let steps = steps(case, place);
    if !steps.iter().any(|step| step.entry_id == cause) {
        let detail = format!("nothing of the kind was told of {} by that entry", case.label(place));
        return Err(refused("no_such_hold", "CF-17", detail));
    }
    let over = steps.iter().find(|step| match &step.act {
        SickAct::Cleared(of, _) | SickAct::Lifted(of, _) => *of == cause,
        _ => false,
    });
    match over {
        Some(end) => {
            let detail = format!("this ended on {}", end.at.date_naive());
            Err(refused("already_ended", "CF-17", detail))
        }
        None => Ok(()),
    }
}

/// Cleaning frees an empty box, not honey (TA-1).
pub(super) fn clean(case: &mut Case<'_>, cleaned: &BoxCleaned) -> Result<(), Refused> {
    named(case, &cleaned.super_ids)?;
    let in_use: Vec<SuperId> = cleaned
        .super_ids
        .iter()
        .filter(|id| {
            let state = case.house.honey_super(**id);
            state.is_some_and(|state| {
                let empty = [Whereabouts::InStore, Whereabouts::StoredWet, Whereabouts::Extracted];
                !empty.contains(&state.whereabouts)
            })
        })
        .copied()
        .collect();
    if !in_use.is_empty() {
        let detail = format!(
            "supers {} are in use: honey that is in them now stays held",
            labels(case, &in_use)
        );
        case.warn("not_empty", "TA-1", detail);
    }
    Ok(())
}

pub(super) fn break_glass(case: &mut Case<'_>, glass: &GlassBroken) {
    if glass.cleaned.is_none() {
        let detail =
            "throw the neighbours away, clean the line before the next jar, and write how: the batch is held; \
                      wear gloves"
                .to_owned();
        case.warn("glass", "NC-4", detail);
    }
}

/// The yard of a hive.
pub(super) fn yard_of(case: &Case<'_>, hive: HiveId) -> Option<YardId> {
    case.house.hive(hive)?.yard()
}

/// The order that stops moves from a yard now, unless a licence allows them (DI-3).
fn standstill(case: &Case<'_>, yard: YardId) -> Option<Name> {
    let steps = steps(case, yard.into());
    steps.iter().find_map(|step| {
        let SickAct::Ordered(order) = &step.act else {
            return None;
        };
        let over = steps.iter().any(|other| match &other.act {
            SickAct::Lifted(of, _) => *of == step.entry_id,
            SickAct::Licensed(of, _, until) => {
                *of == step.entry_id && until.is_none_or(|until| case.now.date_naive() <= until)
            }
            _ => false,
        });
        (!over).then(|| order.clone())
    })
}

fn stopped(case: &Case<'_>, yard: YardId, what: &str) -> Result<(), Refused> {
    match standstill(case, yard) {
        None => Ok(()),
        Some(order) => {
            let detail = format!(
                "{what} may not leave {}: moves are stopped by order {order}; write the licence first, or wait until \
                 the order is lifted",
                case.label(yard)
            );
            Err(refused("standstill", "DI-3", detail))
        }
    }
}

/// A box leaves the yard it is in, unless it goes to another place there.
pub(super) fn box_leaves(case: &Case<'_>, id: SuperId, to: Option<YardId>) -> Result<(), Refused> {
    let from = case
        .house
        .honey_super(id)
        .and_then(|state| yard_of_box(case.house, state));
    match from {
        Some(yard) if to != Some(yard) => stopped(case, yard, &format!("super {}", case.label(id))),
        _ => Ok(()),
    }
}

pub(super) fn move_hive(case: &Case<'_>, moved: &HiveMoved) -> Result<(), Refused> {
    case.known(moved.yard_id)?;
    match yard_of(case, moved.hive_id) {
        Some(yard) if yard != moved.yard_id && moved.permit.is_none() => {
            stopped(case, yard, &format!("hive {}", case.label(moved.hive_id)))
        }
        _ => Ok(()),
    }
}

pub(super) fn move_colony(case: &Case<'_>, moved: &ColonyMoved) -> Result<(), Refused> {
    case.known(moved.hive_id)?;
    let colony = case.house.colony(moved.colony_id);
    let from = colony.and_then(|colony| yard_of(case, colony.homes.last()?.hive_id));
    match from {
        Some(yard) if Some(yard) != yard_of(case, moved.hive_id) => stopped(case, yard, "this colony"),
        _ => Ok(()),
    }
}

/// A hold ends for a thing that it bears on. Ending it where it was set ends it for everything; ending it further on
/// ends it for that thing and for what is made of it (CF-4, CF-17).
pub(super) fn lift(case: &mut Case<'_>, lifted: &HoldLifted) -> Result<(), Refused> {
    case.known(lifted.target)?;
    let own = case.house.get(lifted.target).and_then(|state| {
        let set = state.holds().iter().find(|hold| hold.hold_id == lifted.hold_id);
        set.and_then(|hold| hold.lifted.clone())
    });
    if let Some(end) = own {
        let detail = format!("this hold ended on {}", end.at.date_naive());
        return Err(refused("already_ended", "CF-17", detail));
    }
    let held = case.holds_on(lifted.target);
    let Some(held) = held.iter().find(|held| held.hold_id == lifted.hold_id) else {
        let ended = case.house.get(lifted.target).and_then(|state| {
            let lift = state.lifts().iter().find(|lift| lift.cause_id == lifted.hold_id);
            lift.map(|lift| lift.lifted.at)
        });
        return Err(match ended {
            Some(at) => refused(
                "already_ended",
                "CF-17",
                format!("this hold ended here on {}", at.date_naive()),
            ),
            None => refused("no_such_hold", "CF-17", "there is no such hold on it".to_owned()),
        });
    };
    if lifted.target.as_yard().is_some() && matches!(held.reason, HoldReason::Disease | HoldReason::Standstill) {
        let told = steps(case, lifted.target)
            .iter()
            .any(|step| step.entry_id == lifted.hold_id);
        if told {
            let detail =
                "write that the disease was cleared, or that the order was lifted: that ends it for everything";
            return Err(refused("end_the_cause", "DI-2", detail.to_owned()));
        }
    }
    let batch = lifted.target.as_batch().and_then(|id| case.house.batch(id));
    let broke = batch.and_then(|batch| batch.broke.iter().find(|broke| broke.entry_id == lifted.hold_id));
    if broke.is_some_and(|broke| broke.cleaned.is_none()) {
        let detail = "nobody wrote how the line was cleaned after the glass broke".to_owned();
        case.warn("not_cleaned", "NC-4", detail);
    }
    Ok(())
}

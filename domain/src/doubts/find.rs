//! Things used but not registered, mixed, looped, measured by a wrong meter or weighed twice.

use super::{Doubt, WrongReading};
use crate::common::HoldReason;
use crate::content::mixed_in;
use crate::house::House;
use crate::ids::{BatchId, EntryId, FillId, LotId, MeterId, RunId};
use crate::meter::Found;
use crate::moisture::{Reading, judged};
use crate::ordered::{Map, Set};
use crate::subject::{Subject, SubjectKind};
use crate::weighing::{Counted, fill_of, full_of, wet_of};

/// What every thing names of things that somebody registers, fills or makes first.
fn used(house: &House) -> Vec<(Subject, Subject)> {
    let mut used: Vec<(Subject, Subject)> = Vec::new();
    for (id, state) in house.supers() {
        let by = Subject::from(id);
        for filling in state.fillings() {
            let hives = filling.stands.iter().flat_map(|stand| stand.candidates());
            used.extend(hives.map(|hive| (hive.into(), by)));
            let scales = filling
                .full
                .iter()
                .chain(&filling.wet)
                .filter_map(|weighing| weighing.scale_id);
            used.extend(scales.map(|scale| (scale.into(), by)));
        }
    }
    for (id, hive) in house.hives() {
        used.extend(hive.stays.iter().map(|stay| (stay.yard_id.into(), id.into())));
    }
    for (subject, state) in house.of_kind(SubjectKind::Colony) {
        let homes = state.as_colony().into_iter().flat_map(|colony| &colony.homes);
        used.extend(homes.map(|home| (home.hive_id.into(), subject)));
    }
    for (id, fill) in house.fills() {
        let by = Subject::from(id);
        used.extend(fill.container_id.map(|container| (container.into(), by)));
        used.extend(fill.scale_id.map(|scale| (scale.into(), by)));
    }
    for (id, lot) in house.lots() {
        used.extend(lot.parts.iter().map(|part| (part.from, id.into())));
    }
    for (id, batch) in house.batches() {
        used.extend(batch.lots().map(|lot| (lot.into(), id.into())));
    }
    for (subject, state) in house.of_kind(SubjectKind::Delivery) {
        let customer = state.as_delivery().and_then(|delivery| delivery.customer_id);
        used.extend(customer.map(|customer| (customer.into(), subject)));
    }
    for (of, reading) in readings(house) {
        used.extend(reading.meter_id.map(|meter| (meter.into(), of)));
    }
    used
}

fn is_known(house: &House, subject: Subject) -> bool {
    let Some(state) = house.get(subject) else { return false };
    match subject.kind {
        SubjectKind::Fill => state.as_fill().is_some_and(|fill| fill.filled_at.is_some()),
        SubjectKind::Lot => state.as_lot().is_some_and(|lot| lot.made_at.is_some()),
        SubjectKind::Batch => state.as_batch().is_some_and(|batch| batch.filled_at.is_some()),
        SubjectKind::Hive
        | SubjectKind::Yard
        | SubjectKind::Super
        | SubjectKind::Container
        | SubjectKind::Customer
        | SubjectKind::Meter
        | SubjectKind::Scale
        | SubjectKind::Room => state.label().is_some(),
        _ => true,
    }
}

pub(super) fn not_registered(house: &House) -> Vec<Doubt> {
    let mut unknown: Map<Subject, Option<Subject>> = Map::new();
    for (subject, by) in used(house) {
        if !is_known(house, subject) {
            let first = unknown.entry(subject).or_insert(Some(by));
            *first = (*first).min(Some(by));
        }
    }
    for (subject, _) in house.iter() {
        if !is_known(house, subject) {
            unknown.entry(subject).or_insert(None);
        }
    }
    let doubt = |(subject, used_by)| Doubt::NotRegistered { subject, used_by };
    unknown.into_iter().map(doubt).collect()
}

pub(super) fn filled_while_not_empty(house: &House) -> Vec<Doubt> {
    let doubt = |mixed: crate::content::MixedIn| Doubt::FilledWhileNotEmpty {
        container_id: mixed.container_id,
        held: mixed.held,
        filled: mixed.filled,
        rest_g: mixed.rest_g,
    };
    mixed_in(house).into_iter().map(doubt).collect()
}

/// Lots in a loop, or between two loops: what is left when lots without parents and lots without children are taken
/// away again and again. Never recursive, whatever the ancestry.
pub(super) fn ancestry_loops(house: &House) -> Vec<Doubt> {
    let mut parents: Map<LotId, Set<LotId>> = Map::new();
    for (id, lot) in house.lots() {
        let of_lots: Set<LotId> = lot.parts.iter().filter_map(|part| part.from.as_lot()).collect();
        if !of_lots.is_empty() {
            parents.insert(id, of_lots);
        }
    }
    loop {
        let children: Set<LotId> = parents.values().flatten().copied().collect();
        let before: usize = parents.values().map(Set::len).sum();
        let known: Set<LotId> = parents.keys().copied().collect();
        for of_lots in parents.values_mut() {
            of_lots.retain(|parent| known.contains(parent));
        }
        parents.retain(|id, of_lots| !of_lots.is_empty() && children.contains(id));
        if parents.values().map(Set::len).sum::<usize>() == before {
            break;
        }
    }
    let lot_ids: Vec<LotId> = parents.into_keys().collect();
    if lot_ids.is_empty() {
        return Vec::new();
    }
    vec![Doubt::AncestryLoop { lot_ids }]
}

pub(super) fn filled_from_two_runs(house: &House) -> Vec<Doubt> {
    let mut runs: Map<FillId, Set<RunId>> = Map::new();
    for (id, run) in house.runs() {
        for ran in &run.fills {
            runs.entry(ran.fill_id).or_default().insert(id);
        }
    }
    let of_two = runs.into_iter().filter(|(_, runs)| runs.len() > 1);
    of_two
        .map(|(fill_id, runs)| Doubt::FilledFromTwoRuns {
            fill_id,
            run_ids: runs.into_iter().collect(),
        })
        .collect()
}

/// Every reading at hand with what was measured.
fn readings(house: &House) -> Vec<(Subject, &Reading)> {
    fn of(subject: Subject, readings: &[Reading]) -> impl Iterator<Item = (Subject, &Reading)> {
        readings.iter().map(move |reading| (subject, reading))
    }
    let mut all = Vec::new();
    for (id, state) in house.supers() {
        for filling in state.fillings() {
            all.extend(of(id.into(), &filling.readings));
        }
    }
    for (id, run) in house.runs() {
        all.extend(of(id.into(), &run.readings));
    }
    for (id, fill) in house.fills() {
        all.extend(of(id.into(), &fill.readings));
    }
    for (id, lot) in house.lots() {
        all.extend(of(id.into(), &lot.readings));
    }
    all
}

pub(super) fn meters_found_wrong(house: &House) -> Vec<Doubt> {
    let mut wrong: Map<MeterId, Vec<WrongReading>> = Map::new();
    for (of, reading) in readings(house) {
        let judged = judged(reading, |id| house.meter(id));
        if let (Some(Found::Wrong), Some(meter)) = (judged.meter, reading.meter_id) {
            wrong.entry(meter).or_default().push(WrongReading { of, judged });
        }
    }
    wrong
        .into_iter()
        .map(|(meter_id, readings)| Doubt::MeterFoundWrong { meter_id, readings })
        .collect()
}

/// Complaints by lot; from the second on somebody is to hold it, unless somebody has since.
pub(super) fn complaints(house: &House) -> Vec<Doubt> {
    let mut of_lot: Map<LotId, Vec<(chrono::DateTime<chrono::Utc>, EntryId, BatchId)>> = Map::new();
    for (id, batch) in house.batches() {
        for complaint in &batch.complaints {
            for lot in batch.lots() {
                of_lot
                    .entry(lot)
                    .or_default()
                    .push((complaint.at, complaint.entry_id, id));
            }
        }
    }
    let mut doubts = Vec::new();
    for (lot_id, mut told) in of_lot {
        told.sort_unstable();
        let Some((second, ..)) = told.get(1) else { continue };
        let things =
            std::iter::once(Subject::from(lot_id)).chain(told.iter().map(|(_, _, batch)| Subject::from(*batch)));
        let held = things
            .filter_map(|thing| house.get(thing))
            .flat_map(|state| state.holds())
            .any(|hold| hold.reason == HoldReason::Complaint && hold.since >= *second);
        if !held {
            let batch_ids: Set<BatchId> = told.iter().map(|(_, _, batch)| *batch).collect();
            doubts.push(Doubt::Complaints {
                lot_id,
                entry_ids: told.iter().map(|(_, entry, _)| *entry).collect(),
                batch_ids: batch_ids.into_iter().collect(),
            });
        }
    }
    doubts
}

pub(super) fn weighed_twice(house: &House) -> Vec<Doubt> {
    let doubt = |of: Subject, counted: Counted| {
        counted.amber.then(|| Doubt::WeighedTwice {
            of,
            used: counted.weighing.entry_id,
            used_g: counted.weighing.gross_g.get(),
        })
    };
    let mut doubts = Vec::new();
    for (id, state) in house.supers() {
        for filling in state.fillings() {
            let weighed = full_of(house, filling).into_iter().chain(wet_of(house, filling));
            doubts.extend(weighed.filter_map(|counted| doubt(id.into(), counted)));
        }
    }
    for (id, fill) in house.fills() {
        doubts.extend(fill_of(house, fill).and_then(|(counted, _)| doubt(id.into(), counted)));
    }
    doubts
}

//! What of a run is shared over which supers: all of it over all of them, or by groups that ran into containers of their
//! own.

use super::weights;
use crate::allocation::{Allocation, SuperWeights, allocate, largest_remainder};
use crate::extraction::{RanInto, Run};
use crate::fill::FillSource;
use crate::house::House;
use crate::ids::RunId;
use crate::ordered::Map;
use crate::text::Name;
use crate::units::Grams;
use crate::weighing::booked_otherwise_g;

/// The step of every pot (AL-3), grams.
const STEP_G: i64 = 100;

/// Shares a run's pot over its supers (AL-1 to AL-3). One letter for the whole run, the best that all its supers reach;
/// only where groups of supers ran into containers of their own has each group its pot and its letter (AL-2). What ran out
/// of the cappings, which are everybody's, goes to the groups in proportion to their bulk.
#[must_use]
pub fn allocations(house: &House, id: RunId, run: &Run) -> Vec<Allocation> {
    let weights_of = |group: Option<&Option<Name>>| -> Vec<SuperWeights> {
        let in_group = run
            .supers
            .iter()
            .filter(|one| group.is_none_or(|group| one.group == *group));
        in_group.map(|one| weights(house, one.super_id, id)).collect()
    };
    let (bulk_g, of_cappings_g) = ran_out(house, id, run);
    let pot = Grams::new(bulk_g + of_cappings_g).unwrap_or(Grams::MAX);
    let Some(bulk) = weighed_apart(house, id, run) else {
        return vec![allocate(pot, &weights_of(None))];
    };
    let weights: Vec<u64> = bulk.values().map(|grams| grams.unsigned_abs()).collect();
    let steps = (pot.get() + STEP_G / 2) / STEP_G;
    let pots = largest_remainder(steps.unsigned_abs(), &weights)
        .into_iter()
        .map(|steps| {
            let grams = i64::try_from(steps).ok().and_then(|steps| steps.checked_mul(STEP_G));
            grams.and_then(|grams| Grams::new(grams).ok()).unwrap_or(Grams::MAX)
        });
    let groups = bulk.keys().zip(pots);
    groups
        .map(|(group, pot)| allocate(pot, &weights_of(Some(group))))
        .collect()
}

/// The bulk of each group, if the run was weighed apart: every group with supers has a container, and every container is
/// of a group with supers.
fn weighed_apart(house: &House, id: RunId, run: &Run) -> Option<Map<Option<Name>, i64>> {
    let mut bulk: Map<Option<Name>, (bool, i64)> = Map::new();
    for one in &run.supers {
        bulk.entry(one.group.clone()).or_default().0 = true;
    }
    let fills = run
        .fills
        .iter()
        .filter(|ran| !ran.of_cappings && !elsewhere(house, id, ran));
    for ran in fills {
        let grams = ran.net_g + booked_otherwise_g(house, ran.fill_id);
        bulk.entry(ran.group.clone()).or_default().1 += grams.max(0);
    }
    let apart = bulk.len() > 1 && bulk.values().all(|(supers, grams)| *supers && *grams > 0);
    apart.then(|| bulk.into_iter().map(|(group, (_, grams))| (group, grams)).collect())
}

/// The later telling of a container names another run.
fn elsewhere(house: &House, id: RunId, ran: &RanInto) -> bool {
    let told = house.fill(ran.fill_id).and_then(|fill| fill.source.as_ref());
    told.is_some_and(|source| !matches!(source, FillSource::RunId(of) | FillSource::CappingsOfRunId(of) if *of == id))
}

/// What ran out of a run and its cappings, by the weighings that count (AL-1, CF-10). A container that two runs are
/// said to have run into is counted once, with the run that its later telling names.
pub(super) fn ran_out(house: &House, id: RunId, run: &Run) -> (i64, i64) {
    let otherwise_g = |of_cappings: bool| -> i64 {
        let fills = run.fills.iter().filter(|ran| ran.of_cappings == of_cappings);
        let changed = fills.map(|ran| match elsewhere(house, id, ran) {
            true => -ran.net_g,
            false => booked_otherwise_g(house, ran.fill_id),
        });
        changed.sum()
    };
    // Cappings weighed by themselves count as weighed, whatever container they ran into later.
    let weighed = run.cappings.iter().any(|cappings| cappings.honey_g.get() > 0);
    let of_cappings_g = run.cappings_honey_g() + if weighed { 0 } else { otherwise_g(true) };
    (run.bulk_g() + otherwise_g(false), of_cappings_g)
}

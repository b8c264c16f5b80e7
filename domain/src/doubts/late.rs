//! What arrived after jars were filled and reaches them all the same.

use super::Doubt;
use crate::common::FlagCode;
use crate::house::House;
use crate::ids::{BatchId, CustomerId, EntryId};
use crate::ordered::Set;
use crate::subject::Subject;
use crate::trace::{Direction, Graph};

/// Entries about a lot or run that the fillers of jars could not know of, by the order of arrival.
pub(super) fn late_for_jars(house: &House) -> Vec<Doubt> {
    let late_lots = house.lots().filter_map(|(id, lot)| {
        let flag = lot.flags.iter().find(|flag| flag.code == FlagCode::LateForBottledLot)?;
        let late = flag.sides.iter().filter(|side| side.names.is_none());
        let entries: Set<EntryId> = late.map(|side| side.entry_id).collect();
        Some((Subject::from(id), entries))
    });
    // A super told late of a run whose honey is in jars already adds its hives to their origins.
    let late_runs = house.runs().filter_map(|(id, run)| {
        let subject = Subject::from(id);
        let told = run.supers.iter().map(|uncapped| uncapped.entry_id);
        let arrived = told.filter_map(|entry| Some((entry, house.get(subject)?.arrived(entry)?)));
        let arrived: Vec<(EntryId, i64)> = arrived.collect();
        let newest = arrived.iter().map(|(_, seq)| *seq).max()?;
        Some((subject, arrived, newest))
    });
    let mut graph = None;
    let mut doubts = Vec::new();
    let late_lots = late_lots.map(|(subject, entries)| (subject, entries, Vec::new(), i64::MAX));
    let late_runs = late_runs.map(|(subject, arrived, newest)| (subject, Set::new(), arrived, newest));
    for (subject, mut entries, arrived, newest) in late_lots.chain(late_runs) {
        let graph = graph.get_or_insert_with(|| Graph::of(house));
        let (jars, buyers) = reached(house, graph, subject, newest);
        let earliest = jars.iter().filter_map(|id| filled_seq(house, *id)).min();
        let late = arrived
            .into_iter()
            .filter(|(_, seq)| earliest.is_some_and(|earliest| *seq > earliest));
        entries.extend(late.map(|(entry, _)| entry));
        if !entries.is_empty() {
            doubts.push(Doubt::LateForJars {
                subject,
                entry_ids: entries.into_iter().collect(),
                batch_ids: jars.into_iter().collect(),
                customer_ids: buyers.into_iter().collect(),
            });
        }
    }
    doubts
}

/// The number in the ledger by which jars were filled.
fn filled_seq(house: &House, id: BatchId) -> Option<i64> {
    house.get(id.into())?.arrived(house.batch(id)?.filled_by?)
}

/// The jars ahead of a thing that were filled before a number in the ledger, and who has any of them.
fn reached(house: &House, graph: &Graph, from: Subject, before: i64) -> (Set<BatchId>, Set<CustomerId>) {
    let ahead = graph.destinations(from, Direction::Forward);
    let jars: Set<BatchId> = ahead
        .iter()
        .filter_map(|subject| subject.as_batch())
        .filter(|id| filled_seq(house, *id).is_some_and(|seq| seq < before))
        .collect();
    let buyers = jars
        .iter()
        .flat_map(|id| graph.destinations((*id).into(), Direction::Forward))
        .filter_map(Subject::as_customer);
    let buyers = buyers.collect();
    (jars, buyers)
}

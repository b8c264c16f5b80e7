//! Numbers and codes that two things bear.

use super::{Doubt, NO_TIME_TO_CARRY, Seen};
use crate::common::FlagCode;
use crate::honey_super::{Super, Whereabouts};
use crate::house::House;
use crate::ids::{BatchId, LotId, SuperId};
use crate::lot_code::LotCode;
use crate::ordered::{Map, Set};
use crate::text::Name;

pub(super) fn shared_numbers(house: &House) -> Vec<Doubt> {
    let mut by_number: Map<String, (Name, Vec<SuperId>)> = Map::new();
    let in_use = house
        .supers()
        .filter(|(_, state)| state.whereabouts != Whereabouts::Ended);
    for (id, state) in in_use {
        if let Some(number) = &state.number {
            let bearers = by_number.entry(number.to_string().to_lowercase());
            bearers.or_insert_with(|| (number.clone(), Vec::new())).1.push(id);
        }
    }
    let shared = by_number.into_values().filter(|(_, bearers)| bearers.len() > 1);
    shared
        .map(|(number, super_ids)| Doubt::SharedNumber { number, super_ids })
        .collect()
}

pub(super) fn two_boxes(house: &House) -> Vec<Doubt> {
    house
        .supers()
        .filter_map(|(id, state)| in_two_yards(house, id, state))
        .collect()
}

fn in_two_yards(house: &House, super_id: SuperId, state: &Super) -> Option<Doubt> {
    let disputed = state
        .flags
        .iter()
        .filter(|flag| matches!(flag.code, FlagCode::OnTwoHives | FlagCode::PulledFromOtherHive));
    let mut seen: Vec<Seen> = disputed
        .flat_map(|flag| &flag.sides)
        .filter_map(|side| {
            let hive_id = side.names?.as_hive()?;
            Some(Seen {
                entry_id: side.entry_id,
                at: side.at,
                hive_id,
                yard_id: house.hive(hive_id)?.yard_at(side.at)?,
            })
        })
        .collect();
    seen.sort_by_key(|seen| (seen.at, seen.entry_id, seen.hive_id));
    seen.dedup();
    // Only sightings that another in another yard follows or precedes too soon.
    let too_soon = |one: &Seen| {
        seen.iter()
            .any(|other| other.yard_id != one.yard_id && (other.at - one.at).abs() <= NO_TIME_TO_CARRY)
    };
    let seen: Vec<Seen> = seen.iter().filter(|one| too_soon(one)).cloned().collect();
    let (first, last) = (seen.first()?.at, seen.last()?.at);
    let came_home = |at: &chrono::DateTime<chrono::Utc>| *at >= first;
    Some(Doubt::TwoBoxesOneNumber {
        super_id,
        minutes_apart: (last - first).num_minutes(),
        one_came_home: state
            .fillings()
            .filter_map(|filling| filling.received_at)
            .any(|at| came_home(&at)),
        seen,
    })
}

pub(super) fn shared_codes(house: &House) -> Vec<Doubt> {
    let mut lots: Map<LotCode, Set<LotId>> = Map::new();
    let mut jars: Map<LotCode, Set<BatchId>> = Map::new();
    for (id, code) in house.lots().filter_map(|(id, lot)| Some((id, lot.code?))) {
        lots.entry(code).or_default().insert(id);
    }
    for (id, code) in house.batches().filter_map(|(id, batch)| Some((id, batch.code?))) {
        jars.entry(code).or_default().insert(id);
    }
    let mut shared: Set<LotCode> = Set::new();
    shared.extend(lots.iter().filter(|(_, ids)| ids.len() > 1).map(|(code, _)| *code));
    shared.extend(jars.iter().filter(|(_, ids)| ids.len() > 1).map(|(code, _)| *code));
    let doubt = |code: LotCode| {
        let lot_ids = lots.get(&code).cloned().unwrap_or_default();
        let mut batch_ids = jars.get(&code).cloned().unwrap_or_default();
        if lot_ids.len() > 1 {
            let of_them = house
                .batches()
                .filter(|(_, batch)| batch.lots().any(|lot| lot_ids.contains(&lot)));
            batch_ids.extend(of_them.map(|(id, _)| id));
        }
        Doubt::SharedCode {
            code,
            lot_ids: lot_ids.into_iter().collect(),
            batch_ids: batch_ids.into_iter().collect(),
        }
    };
    shared.into_iter().map(doubt).collect()
}

//! Whose a share of a run's honey is: one hive's, several hives' in turn, a yard's, or nobody's.

use std::collections::BTreeSet;

use chrono::NaiveDate;

use crate::allocation::{Allocation, Method, split_by_days};
use crate::honey_super::Stand;
use crate::house::House;
use crate::ids::{HiveId, RunId, YardId};
use crate::units::Grams;

/// Where a share of honey belongs.
#[derive(Clone, Debug)]
pub(super) struct Portion {
    pub(super) grams: i64,
    /// The letter for the hive.
    pub(super) method: Method,
    /// The letter for the yard: days on several hives of one yard do not make the yard's figure worse (AL-4).
    pub(super) yard_method: Method,
    pub(super) yard: Option<YardId>,
    pub(super) hive: Option<HiveId>,
    pub(super) candidates: Vec<HiveId>,
}

pub(super) fn portions_of(house: &House, run: RunId, allocation: &Allocation, year: i32) -> Vec<Portion> {
    let mut portions = Vec::new();
    for share in &allocation.shares {
        let filling = house
            .honey_super(share.super_id)
            .and_then(|state| state.filling_of(run));
        let stands: &[Stand] = filling.map_or(&[], |filling| &filling.stands);
        portions.extend(shared_out(house, share.share_g, stands, (allocation.method, year)));
    }
    portions
}

/// Gives a super's share to its hives: one takes all, several in turn by their days in the flow (AL-4, AL-7); a
/// disputed hive leaves it with the yard, a disputed yard with nobody (AL-5).
fn shared_out(house: &House, share: Grams, stands: &[Stand], (method, year): (Method, i32)) -> Vec<Portion> {
    let nobody = Portion {
        grams: share.get(),
        method,
        yard_method: method,
        yard: None,
        hive: None,
        candidates: Vec::new(),
    };
    let mut places: Vec<(Option<YardId>, Vec<HiveId>, u64, u64)> = Vec::new();
    for stand in stands {
        let hives: Vec<HiveId> = stand.candidates().collect();
        let yards: BTreeSet<Option<YardId>> = hives
            .iter()
            .map(|hive| house.hive(*hive).and_then(|hive| hive.yard_at(stand.from)))
            .collect();
        let yard = if yards.len() == 1 {
            yards.into_iter().next().flatten()
        } else {
            None
        };
        let (in_flow, all) = (
            days_in_flow(house, yard, stand, year),
            days(stand.from_day, stand.until_day),
        );
        match places.iter_mut().find(|place| (place.0, &place.1) == (yard, &hives)) {
            Some(place) => {
                place.2 += in_flow;
                place.3 += all;
            }
            None => places.push((yard, hives, in_flow, all)),
        }
    }
    if places.is_empty() {
        return vec![nobody];
    }
    let flow: Vec<u64> = places.iter().map(|place| place.2).collect();
    let all: Vec<u64> = places.iter().map(|place| place.3).collect();
    let parts = split_by_days(share, if flow.iter().any(|days| *days > 0) { &flow } else { &all });
    let letter = |one: bool| if one { method } else { method.max(Method::C) };
    let letter_of_hive = letter(places.len() == 1);
    let yard_method = letter(places.iter().all(|place| place.0 == places[0].0));
    let portion = |((yard, hives, ..), grams): ((Option<YardId>, Vec<HiveId>, u64, u64), Grams)| {
        let sure = (hives.len() == 1).then(|| hives.first().copied()).flatten();
        Portion {
            grams: grams.get(),
            method: letter_of_hive,
            yard_method,
            yard,
            hive: sure,
            candidates: hives,
        }
    };
    places
        .into_iter()
        .zip(parts)
        .map(portion)
        .filter(|portion| portion.grams > 0 || share.get() == 0)
        .collect()
}

/// Local calendar days: the day of placing counts, the day of leaving does not.
fn days(from: NaiveDate, until: Option<NaiveDate>) -> u64 {
    let days = until.map_or(0, |until| (until - from).num_days());
    u64::try_from(days).unwrap_or(0)
}

fn days_in_flow(house: &House, yard: Option<YardId>, stand: &Stand, year: i32) -> u64 {
    let flow = yard
        .and_then(|yard| house.yard(yard))
        .and_then(|yard| yard.flow_of(year));
    let Some(flow) = flow else {
        return days(stand.from_day, stand.until_day);
    };
    let from = stand.from_day.max(flow.from);
    // Without an end set, the flow lasts until the yard's last pull, which no stand outlives.
    let until = match (stand.until_day, flow.until.and_then(|last| last.succ_opt())) {
        (Some(left), Some(end)) => Some(left.min(end)),
        (left, end) => left.or(end),
    };
    days(from, until)
}

//! Whose a share of a run's honey is: one hive's, several hives' in turn, a yard's, or nobody's.

use chrono::{DateTime, Datelike, NaiveDate, Utc};

use crate::allocation::{Allocation, Method, split_by_days};
use crate::honey_super::{Filling, Stand};
use crate::house::House;
use crate::ids::{HiveId, RunId, SuperId, YardId};
use crate::ordered::{Map, Set};
use crate::units::Grams;

/// Where a share of honey belongs.
#[derive(Clone, Debug)]
#[cfg_attr(not(feature = "season"), allow(dead_code))]
pub(crate) struct Portion {
    pub(crate) grams: i64,
    /// The letter for the hive.
    pub(crate) method: Method,
    /// The letter for the yard: days on several hives of one yard do not make the yard's figure worse (AL-4).
    pub(crate) yard_method: Method,
    pub(crate) yard: Option<YardId>,
    pub(crate) hive: Option<HiveId>,
    pub(crate) candidates: Vec<HiveId>,
    /// The box it was in.
    pub(crate) super_id: Option<SuperId>,
    /// When that box came off the hive.
    pub(crate) taken_at: Option<DateTime<Utc>>,
}

impl Portion {
    const fn of_nobody(share: Grams, method: Method) -> Self {
        Self {
            grams: share.get(),
            method,
            yard_method: method,
            yard: None,
            hive: None,
            candidates: Vec::new(),
            super_id: None,
            taken_at: None,
        }
    }
}

pub(super) fn portions_of(house: &House, run: RunId, allocation: &Allocation, flows: &Flows) -> Vec<Portion> {
    let mut portions = Vec::new();
    if allocation.shares.is_empty() && allocation.pot_g.get() > 0 {
        // Nobody wrote which supers went in: the honey is nobody's, and printed as such (AL-5).
        portions.push(Portion::of_nobody(allocation.pot_g, allocation.method));
    }
    for share in &allocation.shares {
        let filling = house
            .honey_super(share.super_id)
            .and_then(|state| state.filling_of(run));
        let stands: &[Stand] = filling.map_or(&[], |filling| &filling.stands);
        let taken_at = stands.last().and_then(|stand| stand.until);
        let shared = shared_out(house, share.share_g, stands, (allocation.method, flows));
        portions.extend(shared.into_iter().map(|portion| Portion {
            super_id: Some(share.super_id),
            taken_at,
            ..portion
        }));
    }
    portions
}

/// A place where honey was gathered into one super.
struct Place {
    yard: Option<YardId>,
    hives: Vec<HiveId>,
    /// Days of the yard's flow that the super stood there.
    in_flow: u64,
    /// What it counts for if it stood in no flow anywhere.
    otherwise: u64,
}

/// Gives a super's share to its places: one takes all, several in turn by their days in the flow (AL-4), the yards
/// of a carried hive too (AL-7). A disputed hive leaves it with the yard, a disputed yard with nobody (AL-5).
fn shared_out(house: &House, share: Grams, stands: &[Stand], (method, flows): (Method, &Flows)) -> Vec<Portion> {
    let mut places: Vec<Place> = Vec::new();
    let mut pulled_from = 0;
    for new in stands.iter().flat_map(|stand| places_of(house, stand, flows)) {
        let known = places
            .iter()
            .position(|place| (place.yard, &place.hives) == (new.yard, &new.hives));
        pulled_from = known.unwrap_or(places.len());
        match places.get_mut(pulled_from) {
            Some(place) => {
                place.in_flow += new.in_flow;
                place.otherwise += new.otherwise;
            }
            None => places.push(new),
        }
    }
    let Some(first) = places.first() else {
        return vec![Portion::of_nobody(share, method)];
    };
    let letter = |one: bool| if one { method } else { method.max(Method::C) };
    let letter_of_hive = letter(places.len() == 1);
    let yard_method = letter(places.iter().all(|place| place.yard == first.yard));
    let flow: Vec<u64> = places.iter().map(|place| place.in_flow).collect();
    let mut otherwise: Vec<u64> = places.iter().map(|place| place.otherwise).collect();
    if otherwise.iter().all(|days| *days == 0)
        && let Some(days) = otherwise.get_mut(pulled_from)
    {
        // Put on and taken off on one day.
        *days = 1;
    }
    let any = flow.iter().any(|days| *days > 0);
    let parts = split_by_days(share, if any { &flow } else { &otherwise });
    let portion = |(place, grams): (Place, Grams)| Portion {
        grams: grams.get(),
        method: letter_of_hive,
        yard_method,
        yard: place.yard,
        hive: (place.hives.len() == 1).then(|| place.hives.first().copied()).flatten(),
        candidates: place.hives,
        super_id: None,
        taken_at: None,
    };
    places
        .into_iter()
        .zip(parts)
        .map(portion)
        .filter(|portion| portion.grams > 0 || share.get() == 0)
        .collect()
}

/// The places of one stand, in order: more than one where the hive was carried away under the super (AL-7). Without
/// a day in any flow all the days of the stand count for the place from which the super was taken.
fn places_of(house: &House, stand: &Stand, flows: &Flows) -> Vec<Place> {
    let hives: Vec<HiveId> = stand.candidates().collect();
    let mut arrivals: Vec<(DateTime<Utc>, NaiveDate)> = vec![(stand.from, stand.from_day)];
    for hive in hives.iter().filter_map(|hive| house.hive(*hive)) {
        let carried = hive
            .stays
            .iter()
            .filter(|stay| stay.from > stand.from && stand.until.is_none_or(|until| stay.from < until));
        arrivals.extend(carried.map(|stay| (stay.from, stay.day())));
    }
    arrivals.sort_unstable();
    arrivals.dedup();
    let leaves = arrivals.iter().skip(1).map(|(_, day)| Some(*day));
    let leaves: Vec<Option<NaiveDate>> = leaves.chain([stand.until_day]).collect();
    let mut places: Vec<Place> = arrivals
        .iter()
        .zip(leaves)
        .map(|((at, from), until)| {
            let yards: Set<Option<YardId>> = hives
                .iter()
                .map(|hive| house.hive(*hive).and_then(|hive| hive.yard_at(*at)))
                .collect();
            let yard = (yards.len() == 1).then(|| yards.first().copied().flatten()).flatten();
            Place {
                yard,
                hives: hives.clone(),
                in_flow: yard.map_or(0, |yard| flows.days(yard, *from, until)),
                otherwise: 0,
            }
        })
        .collect();
    if let Some(last) = places.last_mut() {
        last.otherwise = days(stand.from_day, stand.until_day);
    }
    places
}

/// Local calendar days: the day of placing counts, the day of leaving does not.
fn days(from: NaiveDate, until: Option<NaiveDate>) -> u64 {
    let days = until.map_or(0, |until| (until - from).num_days());
    u64::try_from(days).unwrap_or(0)
}

/// The first day of each flow, and the first day after it if it has an end.
type Spans = Vec<(NaiveDate, Option<NaiveDate>)>;

/// When the yards had a flow in one year (AL-4): the owner sets the start; the end too, else it is the yard's last
/// pull of the season.
pub(super) struct Flows {
    spans: Map<YardId, Spans>,
    /// The last day on which a super was taken off in each yard.
    pub(super) last_pulls: Map<YardId, NaiveDate>,
}

impl Flows {
    pub(super) fn of(house: &House, year: i32) -> Self {
        let last_pulls = last_pulls(house, year);
        let spans = |(id, yard): (YardId, &crate::yard::Yard)| {
            let of_year: Vec<_> = yard.flows.iter().filter(|flow| flow.from.year() == year).collect();
            let next = of_year.iter().skip(1).map(|flow| Some(flow.from)).chain([None]);
            let spans = of_year.iter().zip(next).map(|(flow, next)| {
                let last = flow.until.or_else(|| last_pulls.get(&id).copied());
                let end = last.and_then(|last| last.succ_opt());
                // Two flows of one yard share no day.
                let end = match (end, next) {
                    (Some(end), Some(next)) => Some(end.min(next)),
                    (end, next) => end.or(next),
                };
                (flow.from, end)
            });
            (id, spans.collect())
        };
        Self {
            spans: house.yards().map(spans).collect(),
            last_pulls,
        }
    }

    fn days(&self, yard: YardId, from: NaiveDate, until: Option<NaiveDate>) -> u64 {
        let spans = self.spans.get(&yard).into_iter().flatten();
        let within = spans.map(|(begin, end)| {
            let until = match (until, end) {
                (Some(until), Some(end)) => Some(until.min(*end)),
                (until, end) => until.or(*end),
            };
            days(from.max(*begin), until)
        });
        within.sum()
    }
}

/// The last day of the year on which a super was taken off in each yard, whether anybody wrote the pull or it follows
/// from a later step (ST-5).
fn last_pulls(house: &House, year: i32) -> Map<YardId, NaiveDate> {
    let taken_off =
        |filling: &&Filling| filling.pulled.is_some() || filling.received_at.is_some() || filling.run_id.is_some();
    let mut last: Map<YardId, NaiveDate> = Map::new();
    for (_, state) in house.supers() {
        for stand in state.fillings().filter(taken_off).filter_map(Filling::last_stand) {
            let (Some(until), Some(day)) = (stand.until, stand.until_day) else {
                continue;
            };
            if day.year() != year {
                continue;
            }
            for yard in stand
                .candidates()
                .filter_map(|hive| house.hive(hive).and_then(|hive| hive.yard_at(until)))
            {
                let latest = last.entry(yard).or_insert(day);
                *latest = day.max(*latest);
            }
        }
    }
    last
}

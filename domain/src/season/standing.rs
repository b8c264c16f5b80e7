//! The colonies of a season, yard by yard: who stood there when the flow began, and what each gave (AN-1, AN-3).
//!
//! A colony that died, swarmed or gave nothing stays in. A split made after the start counts with its mother. Where
//! nobody registered bees, the hive stands for them.

use std::collections::BTreeMap;

use chrono::{DateTime, Datelike, NaiveDate, NaiveTime, Utc};

use super::colony::{CountedWith, counted_with};
use super::gathered::Gathered;
use crate::colony::{Colony, ColonyEnd, Founding};
use crate::house::House;
use crate::ids::{ColonyId, HiveId, YardId};
use crate::left::OutOfSeason;
use crate::subject::Subject;
use crate::yields::Portion;

/// A colony in one yard over one flow.
#[derive(Clone, Debug)]
pub(super) struct Unit {
    /// The bees, where somebody registered them.
    pub(super) colony: Option<ColonyId>,
    /// The hive they lived in.
    pub(super) hive: HiveId,
    /// The yard.
    pub(super) yard: YardId,
    /// It stood there when the flow began, and is counted in the yard; what came later only gave honey.
    pub(super) from_start: bool,
    /// Honey that is surely its own.
    pub(super) sure_g: i64,
    /// Honey of supers that may have been its own.
    pub(super) disputed_g: i64,
    /// A super of this season stood on it.
    pub(super) had_super: bool,
}

impl Unit {
    /// What the ledger calls it.
    pub(super) fn subject(&self) -> Subject {
        self.colony.map_or_else(|| self.hive.into(), Subject::from)
    }

    /// How the colony ended within the year.
    pub(super) fn ended(&self, house: &House, year: i32) -> Option<ColonyEnd> {
        let ended = house.colony(self.colony?)?.ended.as_ref()?;
        (ended.at.year() == year).then_some(ended.how)
    }

    /// Why the owner leaves it out.
    pub(super) fn left_out<'a>(&self, house: &'a House, year: i32) -> Option<&'a OutOfSeason> {
        let hive = house.hive(self.hive)?;
        hive.left_out.iter().find(|out| out.season == year)
    }
}

/// Since when a colony lived in a hive, where that is known, and which colony.
type Came = (Option<DateTime<Utc>>, ColonyId);

/// The colonies of each hive, in order of their coming.
pub(super) struct Homes(BTreeMap<HiveId, Vec<Came>>);

impl Homes {
    pub(super) fn of(house: &House) -> Self {
        let mut homes: BTreeMap<HiveId, Vec<Came>> = BTreeMap::new();
        for (id, colony) in house.colonies() {
            for (at, home) in colony.homes.iter().enumerate() {
                // What was there when writing began was there before.
                let since = (at > 0 || is_new(colony)).then_some(home.from);
                homes.entry(home.hive_id).or_default().push((since, id));
            }
        }
        for of_hive in homes.values_mut() {
            of_hive.sort_unstable();
        }
        Self(homes)
    }

    /// Whether bees were ever registered for a hive.
    fn knows(&self, hive: HiveId) -> bool {
        self.0.contains_key(&hive)
    }

    /// The colony that lived in a hive at a time; the last one before where it had ended or gone.
    fn at(&self, hive: HiveId, at: DateTime<Utc>) -> Option<ColonyId> {
        let of_hive = self.0.get(&hive)?;
        let came = of_hive
            .iter()
            .rev()
            .find(|(since, _)| since.is_none_or(|since| since <= at));
        came.or_else(|| of_hive.first()).map(|(_, colony)| *colony)
    }

    /// The colony that lived in a hive at a time and was alive.
    fn alive(&self, house: &House, hive: HiveId, at: DateTime<Utc>) -> Option<ColonyId> {
        let of_hive = self.0.get(&hive)?;
        let there = |(since, id): &&Came| {
            let Some(colony) = house.colony(*id) else { return false };
            let home = colony
                .homes
                .iter()
                .rev()
                .find(|home| home.from <= at)
                .or(colony.homes.first());
            since.is_none_or(|since| since <= at)
                && home.is_some_and(|home| home.hive_id == hive)
                && colony.ended.as_ref().is_none_or(|ended| ended.at > at)
        };
        of_hive.iter().rev().find(there).map(|(_, id)| *id)
    }
}

impl Homes {
    /// The colony that is counted with what a hive gave: the one that lived in it when the box came off, or its mother.
    pub(super) fn colony(&self, gathered: &Gathered<'_>, hive: HiveId, portion: &Portion) -> Option<ColonyId> {
        let lived = self.at(hive, portion.taken_at?)?;
        let start = portion.yard.and_then(|yard| gathered.starts.get(&yard));
        let start = start.or_else(|| gathered.starts.values().max());
        Some(mother_of(gathered.house, lived, start.copied()))
    }

    /// The same, or the hive where nobody registered bees.
    pub(super) fn counted(&self, gathered: &Gathered<'_>, hive: HiveId, portion: &Portion) -> Subject {
        let colony = self.colony(gathered, hive, portion);
        colony.map_or_else(|| hive.into(), Subject::from)
    }
}

/// Whether a colony began on a day of its own, and was not there when writing began.
fn is_new(colony: &Colony) -> bool {
    colony.founding.is_some_and(|founding| founding != Founding::Wintered)
}

/// The last moment of a day.
pub(super) fn end_of(day: NaiveDate) -> DateTime<Utc> {
    let midnight = day.succ_opt().unwrap_or(day).and_time(NaiveTime::MIN).and_utc();
    midnight - chrono::TimeDelta::seconds(1)
}

/// The colonies of every yard.
pub(super) fn standing(gathered: &Gathered<'_>) -> BTreeMap<YardId, Vec<Unit>> {
    let (house, homes) = (gathered.house, &gathered.homes);
    let mut units: BTreeMap<YardId, Vec<Unit>> = BTreeMap::new();
    for (hive, state) in house.hives() {
        for (yard, start) in &gathered.starts {
            let at = end_of(*start);
            if state.yard_at(at) != Some(*yard) {
                continue;
            }
            let colony = homes.alive(house, hive, at);
            // Without bees of its own a hive stands for them from the day on which somebody first told of it.
            let stood_before = state.stays.first().is_some_and(|stay| stay.day() <= *start);
            if colony.is_none() && (homes.knows(hive) || !stood_before) {
                continue;
            }
            units.entry(*yard).or_default().push(Unit {
                colony,
                hive,
                yard: *yard,
                from_start: true,
                sure_g: 0,
                disputed_g: 0,
                had_super: false,
            });
        }
    }
    for share in gathered.shares() {
        let Some(yard) = share.portion.yard else { continue };
        for hive in &share.portion.candidates {
            let counted = homes.colony(gathered, *hive, share.portion);
            give(units.entry(yard).or_default(), (yard, *hive, counted), share.portion);
        }
    }
    for of_yard in units.values_mut() {
        of_yard.sort_by_key(|unit| (unit.subject(), unit.hive));
    }
    unfit(gathered, &mut units);
    units
}

/// Gives a unit its share; a unit that came after the start is added.
fn give(units: &mut Vec<Unit>, (yard, hive, colony): (YardId, HiveId, Option<ColonyId>), portion: &Portion) {
    let at = units.iter().position(|unit| match colony {
        Some(colony) => unit.colony == Some(colony),
        None => unit.colony.is_none() && unit.hive == hive,
    });
    let at = at.unwrap_or_else(|| {
        units.push(Unit {
            colony,
            hive,
            yard,
            from_start: false,
            sure_g: 0,
            disputed_g: 0,
            had_super: false,
        });
        units.len() - 1
    });
    let Some(unit) = units.get_mut(at) else { return };
    unit.had_super = true;
    if portion.hive.is_some() {
        unit.sure_g += portion.grams;
    } else {
        unit.disputed_g += portion.grams;
    }
}

/// The colony with which another is counted: a split after the start of the flow with its mother (AN-3).
fn mother_of(house: &House, colony: ColonyId, start: Option<NaiveDate>) -> ColonyId {
    let mut counted = colony;
    // A line of splits within one season is short; one that runs in a circle ends here as well.
    for _ in 0..8 {
        let Some(state) = house.colony(counted) else { break };
        let (Some(start), Some(began)) = (start, state.homes.first().map(|home| home.from.date_naive())) else {
            break;
        };
        let is_split = state.founding == Some(Founding::Split);
        match (counted_with(began, is_split, start), state.parent_id) {
            (CountedWith::Mother, Some(mother)) => counted = mother,
            _ => break,
        }
    }
    counted
}

/// Where more colonies are registered than were counted fit, those that never carried a super were not fit, if that
/// many can have been unfit.
fn unfit(gathered: &Gathered<'_>, units: &mut BTreeMap<YardId, Vec<Unit>>) {
    let carried = carried(gathered);
    for (yard, of_yard) in units {
        for unit in of_yard.iter_mut() {
            unit.had_super |= carried.contains(&unit.hive);
        }
        let Some(csf) = gathered.csf(*yard) else { continue };
        let registered = of_yard.iter().filter(|unit| unit.from_start).count();
        let bare = of_yard.iter().filter(|unit| unit.from_start && !unit.had_super).count();
        let over = i64::try_from(registered).unwrap_or(i64::MAX) - csf.high;
        if bare > 0 && over >= i64::try_from(bare).unwrap_or(i64::MAX) {
            of_yard.retain(|unit| !unit.from_start || unit.had_super);
        }
    }
}

/// The hives on which a super stood in the year.
fn carried(gathered: &Gathered<'_>) -> std::collections::BTreeSet<HiveId> {
    let year = gathered.year;
    let stands = gathered
        .house
        .supers()
        .flat_map(|(_, state)| state.fillings())
        .flat_map(|filling| &filling.stands);
    let of_year = stands
        .filter(|stand| stand.from_day.year() <= year && stand.until_day.is_none_or(|until| until.year() >= year));
    of_year.flat_map(|stand| stand.candidates()).collect()
}

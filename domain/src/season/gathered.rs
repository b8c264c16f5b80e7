//! Everything a season's figures are made from, read off the house once: its runs with their shares, the first day of
//! each yard's flow, the colonies counted on it, and the colonies themselves.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Datelike, NaiveDate};

use super::figure::{Denominator, Kind};
use super::standing::{Homes, Unit, standing};
use crate::colony::{Disputed, disputed};
use crate::house::House;
use crate::ids::{HiveId, RunId, YardId};
use crate::ordered::Map;
use crate::subject::Subject;
use crate::yields::{Portion, Spun, fit_range, spun};

/// One season.
pub(super) struct Gathered<'a> {
    pub(super) house: &'a House,
    pub(super) year: i32,
    /// The runs, by id.
    pub(super) runs: Vec<Spun<'a>>,
    /// The last day on which a super was taken off in each yard.
    pub(super) last_pulls: Map<YardId, NaiveDate>,
    /// The first day of each yard's flow.
    pub(super) starts: BTreeMap<YardId, NaiveDate>,
    pub(super) homes: Homes,
    /// The colonies of each yard.
    pub(super) units: BTreeMap<YardId, Vec<Unit>>,
    /// Colonies of which one says dead and another alive.
    disputed: Vec<Disputed>,
}

/// A share of the season's honey, with the day of its run.
pub(super) struct Share<'a> {
    pub(super) on: NaiveDate,
    pub(super) portion: &'a Portion,
}

impl<'a> Gathered<'a> {
    pub(super) fn of(house: &'a House, year: i32) -> Self {
        let (runs, last_pulls) = spun(house, year);
        let mut gathered = Self {
            house,
            year,
            runs,
            last_pulls,
            starts: BTreeMap::new(),
            homes: Homes::of(house),
            units: BTreeMap::new(),
            disputed: disputed(house),
        };
        let starts = house
            .yards()
            .filter_map(|(yard, _)| Some((yard, gathered.start_of(yard)?)));
        gathered.starts = starts.collect();
        gathered.units = standing(&gathered);
        gathered
    }

    /// The season's name.
    pub(super) fn period(&self) -> String {
        self.year.to_string()
    }

    /// All shares, by run and box.
    pub(super) fn shares(&self) -> impl Iterator<Item = Share<'_>> {
        self.runs
            .iter()
            .flat_map(|run| run.portions.iter().map(|portion| Share { on: run.on, portion }))
    }

    /// The shares of a yard.
    pub(super) fn shares_of(&self, yard: YardId) -> impl Iterator<Item = Share<'_>> {
        self.shares().filter(move |share| share.portion.yard == Some(yard))
    }

    /// All of the season's honey.
    pub(super) fn total_g(&self) -> i64 {
        self.shares().map(|share| share.portion.grams).sum()
    }

    /// The honey of a yard.
    pub(super) fn yard_g(&self, yard: YardId) -> i64 {
        self.shares_of(yard).map(|share| share.portion.grams).sum()
    }

    /// The first day of a yard's flow: as the owner set it, else the day for which colonies were counted, else the
    /// last pull.
    pub(super) fn start_of(&self, yard: YardId) -> Option<NaiveDate> {
        let state = self.house.yard(yard)?;
        let flow = state.flow_of(self.year).map(|flow| flow.from);
        let counted = || state.fit_at_start_of_flow(self.year).map(|count| count.on);
        flow.or_else(counted).or_else(|| self.last_pulls.get(&yard).copied())
    }

    /// The colonies counted at the start of the flow (AN-1).
    pub(super) fn csf(&self, yard: YardId) -> Option<Denominator> {
        let count = self.house.yard(yard)?.fit_at_start_of_flow(self.year)?;
        let (low, high) = fit_range(self.house, &self.disputed, yard, count);
        Some(Denominator {
            kind: Kind::ColoniesAtStartOfFlow,
            low,
            high,
        })
    }

    /// The colonies from which honey was taken: the fewest and the most there can be (AN-3).
    pub(super) fn producing<'b>(&self, shares: impl Iterator<Item = Share<'b>>) -> Denominator {
        let giving: Vec<Share<'_>> = shares.filter(|share| share.portion.grams > 0).collect();
        let unit = |hive: HiveId, share: &Share<'_>| self.homes.counted(self, hive, share.portion);
        let sure: BTreeSet<Subject> = giving
            .iter()
            .filter_map(|share| Some(unit(share.portion.hive?, share)))
            .collect();
        let candidates = |share: &Share<'_>| -> BTreeSet<Subject> {
            let hives = share.portion.candidates.iter();
            hives.map(|hive| unit(*hive, share)).collect()
        };
        let possible: BTreeSet<Subject> = giving.iter().flat_map(candidates).collect();
        // Of each disputed super at least one candidate gave honey; one that surely did may be that one.
        let disputed = |share: &&Share<'_>| share.portion.hive.is_none() && !share.portion.candidates.is_empty();
        let more = giving
            .iter()
            .filter(disputed)
            .any(|share| candidates(share).is_disjoint(&sure));
        let count = |units: &BTreeSet<Subject>| i64::try_from(units.len()).unwrap_or(i64::MAX);
        Denominator {
            kind: Kind::ProducingColonies,
            low: count(&sure) + i64::from(more),
            high: count(&possible),
        }
    }

    /// Yards that gave honey, were counted, or have colonies in this season.
    pub(super) fn yards(&self) -> Vec<YardId> {
        self.house.yards().map(|(id, _)| id).collect()
    }

    /// Whether anything is known of a yard in this season.
    pub(super) fn knows(&self, yard: YardId) -> bool {
        self.csf(yard).is_some() || self.shares_of(yard).next().is_some()
    }

    /// Runs in which a yard's supers were spun but of which nothing was weighed or filled: there is no pot.
    pub(super) fn without_pot(&self, yard: YardId) -> Vec<RunId> {
        let empty = self.runs.iter().filter(|run| run.pot_g() == 0);
        let of_yard = empty.filter(|run| run.portions.iter().any(|portion| portion.yard == Some(yard)));
        of_yard.map(|run| run.id).collect()
    }
}

/// The seasons of which anything is known, up to a year.
pub(super) fn seasons_until(house: &House, last: i32) -> Vec<i32> {
    let runs = house.runs().filter_map(|(_, run)| run.on).map(|on| on.year());
    let counts = house
        .yards()
        .flat_map(|(_, yard)| &yard.counts)
        .map(|count| count.on.year());
    let years: BTreeSet<i32> = runs.chain(counts).filter(|year| *year <= last).collect();
    years.into_iter().collect()
}

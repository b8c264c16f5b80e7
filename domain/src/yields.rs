//! What each yard and hive yielded in a season, with the letter that says how well it is known (AL, AN, WT-3).

use chrono::{Datelike, NaiveDate};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::allocation::{Allocation, BoxClass, Method, SuperWeights, total_letter};
use crate::balance::{RunBalance, RunWeights, balance};
use crate::blend::water_dried_off;
use crate::colony::{Disputed, disputed};
use crate::extraction::Run;
use crate::honey_super::Filling;
use crate::house::House;
use crate::ids::{HiveId, RunId, SuperId, YardId};
use crate::ordered::{Map, Set};
use crate::units::Grams;
use crate::weighing::{full_of, wet_of};
use crate::yard::Counted;

mod pots;
mod shares;

pub use pots::allocations;
use pots::ran_out;
pub(crate) use shares::Portion;
use shares::{Flows, portions_of};

/// One season, every figure with its denominator.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Season {
    /// The year of the runs.
    pub season: i32,
    /// The yards, by name.
    pub yards: Vec<YardYield>,
    /// The hives, by yard and code.
    pub hives: Vec<HiveYield>,
    /// Honey of supers of which not even the yard is known (AL-5).
    pub unassigned_g: i64,
    /// Everything: yards and unassigned together.
    pub total_g: i64,
    /// The letter of the total.
    pub method: Option<Method>,
    /// The runs, in order.
    pub runs: Vec<RunYield>,
}

/// What a yard yielded.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct YardYield {
    /// The yard.
    pub yard_id: YardId,
    /// What people call it.
    pub name: String,
    /// Honey of all its supers.
    pub yield_g: i64,
    /// Of that, honey of which the hive is disputed.
    pub unassigned_in_yard_g: i64,
    /// How well it is known.
    pub method: Option<Method>,
    /// Colonies fit to produce on the start of flow (CSF), as counted; absent if nobody counted.
    pub colonies_at_start_of_flow: Option<i64>,
    /// The fewest that can have been, where one says dead and another alive (CF-16).
    pub colonies_low: Option<i64>,
    /// The most that can have been.
    pub colonies_high: Option<i64>,
    /// Colonies from which honey was taken (PC): the fewest that can be.
    pub producing_low: i64,
    /// The most that can be, with every disputed hive.
    pub producing_high: i64,
    /// Y1: yield over CSF; absent where that is a range.
    pub y1_g: Option<i64>,
    /// Y1 with the most colonies.
    pub y1_low_g: Option<i64>,
    /// Y1 with the fewest colonies.
    pub y1_high_g: Option<i64>,
    /// Y2: yield over PC, with the most colonies.
    pub y2_low_g: Option<i64>,
    /// Y2 with the fewest colonies.
    pub y2_high_g: Option<i64>,
}

/// What a hive yielded.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct HiveYield {
    /// The hive.
    pub hive_id: HiveId,
    /// What is painted on it.
    pub code: String,
    /// Where the honey was gathered.
    pub yard_id: Option<YardId>,
    /// Honey that is surely its own.
    pub yield_g: i64,
    /// Honey that may be its own as well: that of supers of which it is one candidate.
    pub disputed_g: i64,
    /// How well it is known.
    pub method: Option<Method>,
}

/// What a run gave and whether it adds up.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct RunYield {
    /// The run.
    pub run_id: RunId,
    /// What people call it.
    pub name: String,
    /// Its day.
    pub on: NaiveDate,
    /// Supers in it.
    pub supers: usize,
    /// Bulk and recovered cappings honey (AL-1).
    pub pot_g: i64,
    /// The letter by which its pot was shared.
    pub method: Method,
    /// Its balance (MB-1); absent while a super is not weighed full and wet.
    pub balance: Option<RunBalance>,
}

/// A run of a season, and whose its honey is.
#[derive(Debug)]
#[cfg_attr(not(feature = "season"), allow(dead_code))]
pub(crate) struct Spun<'a> {
    pub(crate) id: RunId,
    pub(crate) run: &'a Run,
    pub(crate) on: NaiveDate,
    /// One, or one a group that ran into containers of its own.
    pub(crate) allocations: Vec<Allocation>,
    pub(crate) portions: Vec<Portion>,
}

impl Spun<'_> {
    /// What was divided, grams.
    pub(crate) fn pot_g(&self) -> i64 {
        self.allocations.iter().map(|of| of.pot_g.get()).sum()
    }

    /// How well it was weighed.
    pub(crate) fn method(&self) -> Method {
        let letters = self.allocations.iter().map(|of| (of.method, of.pot_g.get()));
        total_letter(&letters.collect::<Vec<_>>()).unwrap_or(Method::D)
    }
}

/// The runs of a season by id, and the last day of the season on which a super was taken off in each yard.
pub(crate) fn spun(house: &House, year: i32) -> (Vec<Spun<'_>>, Map<YardId, NaiveDate>) {
    let flows = Flows::of(house, year);
    let of_year = house
        .runs()
        .filter_map(|(id, run)| Some((id, run, run.on.filter(|on| on.year() == year)?)));
    let runs = of_year.map(|(id, run, on)| {
        let allocations = allocations(house, id, run);
        let portions = allocations.iter().flat_map(|of| portions_of(house, id, of, &flows));
        Spun {
            portions: portions.collect(),
            id,
            run,
            on,
            allocations,
        }
    });
    (runs.collect(), flows.last_pulls)
}

/// What people call a run; its id where nobody named it.
pub(crate) fn run_name(id: RunId, run: &Run) -> String {
    run.name.as_ref().map_or_else(|| id.to_string(), ToString::to_string)
}

/// Works out a season from the states of everything.
#[must_use]
pub fn season(house: &House, year: i32) -> Season {
    let (spun, _) = spun(house, year);
    let mut portions = Vec::new();
    let mut runs = Vec::new();
    for of in spun {
        runs.push(RunYield {
            run_id: of.id,
            name: run_name(of.id, of.run),
            on: of.on,
            supers: of.run.supers.len(),
            pot_g: of.pot_g(),
            method: of.method(),
            balance: run_balance(house, of.id, of.run),
        });
        portions.extend(of.portions);
    }
    runs.sort_by(|a, b| (a.on, &a.name).cmp(&(b.on, &b.name)));
    let letters: Vec<(Method, i64)> = portions
        .iter()
        .map(|portion| (portion.yard_method, portion.grams))
        .collect();
    let unknown_yard = portions.iter().filter(|portion| portion.yard.is_none());
    Season {
        season: year,
        unassigned_g: unknown_yard.map(|portion| portion.grams).sum(),
        total_g: portions.iter().map(|portion| portion.grams).sum(),
        method: total_letter(&letters),
        yards: yards(house, &portions, year),
        hives: hives(house, &portions),
        runs,
    }
}

fn weights(house: &House, super_id: SuperId, run: RunId) -> SuperWeights {
    let state = house.honey_super(super_id);
    let filling = state.and_then(|state| state.filling_of(run));
    SuperWeights {
        super_id,
        number: state
            .and_then(|state| state.number.as_ref())
            .map(ToString::to_string)
            .unwrap_or_default(),
        in_g: filling
            .and_then(|filling| full_of(house, filling))
            .map(|counted| counted.weighing.gross_g),
        wet_g: filling
            .and_then(|filling| wet_of(house, filling))
            .map(|counted| counted.weighing.gross_g),
        tare_g: state.and_then(|state| state.tare_g),
        class: state.and_then(|state| state.class).unwrap_or(BoxClass::Medium),
        frame_equivalents_quarters: state
            .zip(filling)
            .and_then(|(state, filling)| state.frame_equivalents_quarters(filling)),
    }
}

/// What of a run was never weighed, so that it cannot be balanced.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[cfg_attr(not(feature = "season"), allow(dead_code))]
pub(crate) struct Unweighed {
    /// Supers of which the full or the wet weight is missing.
    pub(crate) supers: Vec<SuperId>,
    /// Nobody weighed the wax.
    pub(crate) wax: bool,
}

/// The balance of a run (MB-1); nothing while a super is not weighed full and wet, or no wax was weighed.
#[must_use]
pub fn run_balance(house: &House, id: RunId, run: &Run) -> Option<RunBalance> {
    balance(&run_weights(house, id, run).ok()?).ok()
}

/// What was weighed in a run, or what was not.
pub(crate) fn run_weights(house: &House, id: RunId, run: &Run) -> Result<RunWeights, Unweighed> {
    let (bulk_g, cappings_honey_g) = ran_out(house, id, run);
    let mut sums = RunWeights {
        bulk_g,
        cappings_honey_g,
        wax_g: run.wax_g().unwrap_or_default(),
        left_in_machine_g: run
            .drained
            .as_ref()
            .and_then(|drained| drained.left_in_machine_g)
            .map(Grams::get),
        samples_g: run.samples_g,
        ..RunWeights::default()
    };
    let mut unweighed = Unweighed {
        supers: Vec::new(),
        wax: run.wax_g().is_none(),
    };
    for uncapped in &run.supers {
        let filling = house
            .honey_super(uncapped.super_id)
            .and_then(|state| state.filling_of(id));
        let weights = filling.and_then(|filling| Some((filling, full_of(house, filling)?, wet_of(house, filling)?)));
        let Some((filling, full, wet)) = weights else {
            unweighed.supers.push(uncapped.super_id);
            continue;
        };
        let (full, wet) = (full.weighing.gross_g, wet.weighing.gross_g);
        sums.in_g += full.get();
        sums.wet_g += wet.get();
        sums.water_dried_g += dried_off(filling, full.get() - wet.get());
    }
    if unweighed == Unweighed::default() {
        Ok(sums)
    } else {
        Err(unweighed)
    }
}

/// Water that drying took out of a super after it was weighed (DR-3).
fn dried_off(filling: &Filling, net_g: i64) -> i64 {
    let (Some(before), Some(after)) = (filling.before_drying_hundredths, filling.water().measured()) else {
        return 0;
    };
    if filling.dried_at.is_none() {
        return 0;
    }
    let net = Grams::new(net_g).unwrap_or(Grams::MIN);
    water_dried_off(net, before, after).map_or(0, Grams::get)
}

fn yards(house: &House, portions: &[Portion], year: i32) -> Vec<YardYield> {
    let mut yards: Map<YardId, Vec<&Portion>> = house.yards().map(|(id, _)| (id, Vec::new())).collect();
    for portion in portions {
        if let Some(yard) = portion.yard {
            yards.entry(yard).or_default().push(portion);
        }
    }
    let disputed = disputed(house);
    let mut rows: Vec<YardYield> = yards
        .into_iter()
        .map(|(id, of)| yard_row((house, &disputed), id, &of, year))
        .collect();
    rows.sort_by(|a, b| (&a.name, a.yard_id).cmp(&(&b.name, b.yard_id)));
    rows
}

/// The fewest and the most colonies that a count can have meant, where one says dead and another alive (CF-16).
#[must_use]
pub fn fit_range(house: &House, disputed: &[Disputed], yard_id: YardId, count: &Counted) -> (i64, i64) {
    let of_yard = disputed.iter().filter(|disputed| disputed.yard(house) == Some(yard_id));
    let (mut low, mut high) = count.bounds();
    for (less, more) in of_yard.map(|disputed| disputed.in_doubt(house, yard_id, count)) {
        (low, high) = (low - less, high + more);
    }
    (low.max(0), high)
}

fn yard_row((house, disputed): (&House, &[Disputed]), yard_id: YardId, portions: &[&Portion], year: i32) -> YardYield {
    let letters: Vec<(Method, i64)> = portions
        .iter()
        .map(|portion| (portion.yard_method, portion.grams))
        .collect();
    let yield_g: i64 = portions.iter().map(|portion| portion.grams).sum();
    let giving = || portions.iter().filter(|portion| portion.grams > 0);
    let sure: Set<HiveId> = giving().filter_map(|portion| portion.hive).collect();
    let possible: Set<HiveId> = giving()
        .flat_map(|portion| portion.candidates.iter().copied())
        .collect();
    let unsure: Vec<&&Portion> = giving().filter(|portion| portion.hive.is_none()).collect();
    // Of each disputed super at least one candidate gave honey; one that surely did may be that one.
    let more = unsure
        .iter()
        .any(|portion| portion.candidates.iter().all(|hive| !sure.contains(hive)));
    let (low, high) = (signed(sure.len()) + i64::from(more), signed(possible.len()));
    let count = house.yard(yard_id).and_then(|yard| yard.fit_at_start_of_flow(year));
    let csf = count.map(|count| count.fit.get());
    let range = count.map(|count| fit_range(house, disputed, yard_id, count));
    let (fewest, most) = (range.map(|range| range.0), range.map(|range| range.1));
    YardYield {
        yard_id,
        name: house.label(yard_id.into()),
        yield_g,
        unassigned_in_yard_g: unsure.iter().map(|portion| portion.grams).sum(),
        method: total_letter(&letters),
        colonies_at_start_of_flow: csf,
        colonies_low: fewest,
        colonies_high: most,
        producing_low: low,
        producing_high: high,
        y1_g: csf.filter(|_| fewest == most).and_then(|csf| over(yield_g, csf)),
        y1_low_g: most.and_then(|most| over(yield_g, most)),
        y1_high_g: fewest.and_then(|fewest| over(yield_g, fewest)),
        y2_low_g: over(yield_g, high),
        y2_high_g: over(yield_g, low),
    }
}

fn hives(house: &House, portions: &[Portion]) -> Vec<HiveYield> {
    /// Sure grams, disputed grams, and the letters of the sure ones.
    type Sums = (i64, i64, Vec<(Method, i64)>);
    let mut rows: Map<(HiveId, Option<YardId>), Sums> = Map::new();
    for portion in portions {
        for hive in &portion.candidates {
            let row = rows.entry((*hive, portion.yard)).or_default();
            if portion.hive.is_some() {
                row.0 += portion.grams;
                row.2.push((portion.method, portion.grams));
            } else {
                row.1 += portion.grams;
            }
        }
    }
    let mut rows: Vec<HiveYield> = rows
        .into_iter()
        .map(|((hive_id, yard_id), (yield_g, disputed_g, letters))| HiveYield {
            hive_id,
            code: house.label(hive_id.into()),
            yard_id,
            yield_g,
            disputed_g,
            method: total_letter(&letters),
        })
        .collect();
    rows.sort_by(|a, b| (&a.code, a.hive_id).cmp(&(&b.code, b.hive_id)));
    rows
}

fn signed(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

/// Divides, rounding half up; nothing over nobody.
fn over(grams: i64, colonies: i64) -> Option<i64> {
    (colonies > 0).then(|| (2 * grams + colonies).div_euclid(2 * colonies))
}

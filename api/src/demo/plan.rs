//! The whole plan of the demo: places in the first spring, then year after year what bees, house and market do.

use std::collections::{BTreeMap, VecDeque};

use chrono::{DateTime, TimeDelta, Utc};
use domain::entry::Entry;
use domain::ids::OperationId;
use domain::lot_code::LotCode;

use super::arrival::{Sync, syncs};
use super::diary::{Diary, Dice, Person, PlanRefused, Told, day};
use super::extraction::{Drawn, extract};
use super::figures::{EFFECTS, RUNS};
use super::harvest::bring_in;
use super::house::{Batch, Made, pack};
use super::incidents;
use super::market::Market;
use super::places::{Places, equip, settle};
use super::yields::{Chance, draw_with};
use super::{books, care, supers};

/// What the demo that everybody sees is drawn from.
pub const SEED: u64 = 2_025;
/// The newest year of the demo.
const NEWEST: i32 = 2_025;

/// How large a business, and how chance falls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Size {
    /// One seed is one business, down to the last entry.
    pub seed: u64,
    /// How many times the four yards with their sixty colonies there are.
    pub scale: u8,
    /// How many seasons, the last one 2025.
    pub seasons: u8,
}

impl Default for Size {
    fn default() -> Self {
        Self {
            seed: SEED,
            scale: 1,
            seasons: 2,
        }
    }
}

/// Everything that is told, by the time of its writing, and a code to try.
#[derive(Debug)]
pub(super) struct Plan {
    pub(super) told: Vec<Told>,
    pub(super) syncs: Vec<Sync>,
    pub(super) jar_code: LotCode,
}

impl Plan {
    /// Makes it for one business.
    pub(super) fn make(operation: OperationId, size: Size) -> Result<Self, PlanRefused> {
        let mut diary = Diary::new(size.seed);
        // Years come in pairs, of which the second is odd.
        let pairs = i32::from(size.seasons.max(1).div_ceil(2));
        let first = NEWEST + 1 - i32::from(size.seasons.max(1));
        let founded = NEWEST + 1 - 2 * pairs;
        let tools = equip(&mut diary, operation, first)?;
        let mut market = Market::open(&mut diary, first)?;
        let mut jar_code = None;
        for part in 0..usize::from(size.scale.max(1)) {
            let mut dice = Dice::new(size.seed.wrapping_add(u64::try_from(part).unwrap_or(0) << 32));
            let mut places = settle(&mut diary, &mut dice, tools, (part, first))?;
            for pair in 0..pairs {
                // The newest pair of the first part is drawn from that number itself, so that its truth can be looked at by itself.
                let back = u64::try_from(pairs - 1 - pair).unwrap_or(0);
                let part_seed = u64::try_from(part).unwrap_or(0) << 40;
                let given = draw_with(
                    &mut Dice::new(size.seed ^ part_seed ^ (back << 50)),
                    EFFECTS,
                    Chance::Plays,
                );
                let mut before: Option<(Vec<Made>, Vec<Batch>)> = None;
                for parity in 0..2_usize {
                    let year = founded + 2 * pair + i32::try_from(parity).unwrap_or(0);
                    if year < first {
                        continue;
                    }
                    let when = When {
                        year,
                        parity,
                        first: year == first,
                    };
                    let mut of = season(&mut diary, &mut dice, &mut places, (&mut market, when), &given)?;
                    jar_code = shown(&of.1, part, year).or(jar_code);
                    if let (Some((lots, batches)), (0, NEWEST)) = (&mut before, (part, year)) {
                        let mut of = incidents::Year {
                            year: year - 1,
                            runs: &[],
                            lots,
                            batches,
                            buyers: &market.buyers,
                        };
                        incidents::of_the_years_before(&mut diary, &mut of)?;
                    }
                    let until = day(year + 1, if year == NEWEST { (3, 1) } else { (6, 1) });
                    market.sell_jars(&mut diary, &mut dice, &mut of.1, until)?;
                    before = Some(of);
                }
            }
        }
        let parts = i64::from(size.scale.max(1));
        for year in first..=NEWEST {
            let parity = usize::from(year % 2 != 0);
            books::year(&mut diary, operation, (year, parity, parts))?;
        }
        books::plan(&mut diary, operation, (NEWEST + 1, parts))?;
        let mut told = diary.told;
        told.sort_by_key(|told| (told.written_at, told.at));
        let last = told
            .last()
            .map_or_else(DateTime::<Utc>::default, |told| told.written_at);
        Ok(Self {
            syncs: syncs(
                first,
                last + TimeDelta::days(7),
                told.iter().filter(|told| ends_hold(&told.what)),
            ),
            told,
            jar_code: jar_code.map_or_else(|| LotCode::make(2_025, None, 1), Ok)?,
        })
    }

    /// What each phone sends at each time, in order.
    pub(super) fn by_sync(&self) -> Vec<(&Sync, Vec<&Told>)> {
        let mut waiting: BTreeMap<Person, VecDeque<&Told>> = BTreeMap::new();
        for told in &self.told {
            waiting.entry(told.by).or_default().push_back(told);
        }
        let sent = self.syncs.iter().map(|sync| {
            let mut of_sync = Vec::new();
            let queue = waiting.entry(sync.person).or_default();
            while queue.front().is_some_and(|told| told.written_at <= sync.at) {
                of_sync.extend(queue.pop_front());
            }
            (sync, of_sync)
        });
        sent.collect()
    }
}

/// Whether it ends a hold: an end without sight of the hold ends nothing.
const fn ends_hold(entry: &Entry) -> bool {
    matches!(
        entry,
        Entry::HoldLifted(_) | Entry::DiseaseCleared(_) | Entry::StandstillLifted(_)
    )
}

#[derive(Clone, Copy)]
struct When {
    year: i32,
    parity: usize,
    first: bool,
}

/// One year of one part: bees, runs, jars.
fn season(
    diary: &mut Diary,
    dice: &mut Dice,
    places: &mut Places,
    (market, when): (&mut Market, When),
    given: &[[Option<f64>; 2]],
) -> Result<(Vec<Made>, Vec<Batch>), PlanRefused> {
    let When { year, parity, first } = when;
    care::year(diary, dice, places, (year, parity, first), given)?;
    incidents::in_spring(diary, places, year)?;
    let slots = supers::share_out(places, parity, given)?;
    let mut drawn: Vec<Drawn> = Vec::new();
    let mut runs = Vec::new();
    for (run, slots) in RUNS.get(parity).copied().unwrap_or_default().iter().zip(&slots) {
        let supers = bring_in(diary, dice, places, (year, run, slots))?;
        let (run_id, of) = extract(diary, places, (year, run), &supers)?;
        runs.push((run.name, run_id));
        drawn.push(of);
    }
    market.sell_pails(diary, &drawn)?;
    let lots: Vec<_> = drawn.into_iter().flat_map(|drawn| drawn.lots).collect();
    let (made, mut batches) = pack(diary, dice, places, parity, &lots)?;
    let mut of = incidents::Year {
        year,
        runs: &runs,
        lots: &made,
        batches: &mut batches,
        buyers: &market.buyers,
    };
    incidents::afterwards(diary, places, &mut of)?;
    Ok((made, batches))
}

/// The code that the console shows: jars of the lot whose second parent is wet, which have the longest way behind them.
fn shown(batches: &[Batch], part: usize, year: i32) -> Option<LotCode> {
    let found = batches.iter().find(|batch| batch.lot == 3 && batch.size_g == 500);
    found
        .filter(|_| part == 0 && year == NEWEST - 1)
        .map(|batch| batch.code)
}

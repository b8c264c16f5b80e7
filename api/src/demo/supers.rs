//! Which hive fills how many supers for which run, and how much honey each holds.
//!
//! A colony that gives much fills more supers and fuller ones; what a yard gives to a run is met to the hectogram.

use domain::allocation::largest_remainder;

use super::diary::PlanRefused;
use super::figures::{FromYard, QUI, RUNS, RunRow, TO_MOOR};
use super::places::{HiveAt, Places, not_there};
use super::yields::colonies;

/// A super that is to be filled.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slot {
    /// The hive, as an index.
    pub(super) hive: usize,
    /// What it is to give to the pot.
    pub(super) share_g: i64,
}

/// The slots of a year: by run, then by the yards of the run.
pub(super) type Slots = Vec<Vec<Vec<Slot>>>;

/// A filling before it is rounded.
#[derive(Clone, Copy)]
struct Part {
    hive: usize,
    /// Where in the season it comes, 0 to 1.
    position: f64,
    grams: f64,
    /// Which of the yard's parts of runs it belongs to.
    of: usize,
}

/// The least and the most that a super gives, grams.
const HOLDS_G: (f64, f64) = (2_600.0, 16_400.0);
/// Rounds of fitting to runs and hives in turn.
const ROUNDS: usize = 40;

/// Whether a hive can have filled a super for part of a run.
fn can(hive: &HiveAt, from: &FromYard) -> bool {
    !from.moor || (hive.of.home == QUI && hive.of.number <= TO_MOOR)
}

/// Shares out what the colonies give in the first (`0`) or second year of two.
pub(super) fn share_out(places: &Places, year: usize, given: &[[Option<f64>; 2]]) -> Result<Slots, PlanRefused> {
    let runs = RUNS.get(year).copied().unwrap_or_default();
    let mut slots: Slots = runs.iter().map(|run| vec![Vec::new(); run.from.len()]).collect();
    let colonies = colonies();
    for yard in 0..super::figures::YARDS.len() {
        let mut hives: Vec<(usize, f64)> = Vec::new();
        for (at, hive) in places.hives.iter().enumerate() {
            let known = colonies.iter().position(|of| *of == hive.of);
            let grams = known.and_then(|known| given.get(known)?.get(year).copied().flatten());
            if hive.of.yards.get(year).copied().flatten() == Some(yard)
                && let Some(grams) = grams.filter(|grams| *grams > 0.0)
            {
                hives.push((at, grams));
            }
        }
        for (run, from, filled) in of_yard(places, (runs, yard), &hives)? {
            if let Some(of) = slots.get_mut(run).and_then(|of| of.get_mut(from)) {
                *of = filled;
            }
        }
    }
    Ok(slots)
}

/// What of which run comes from a yard, in order.
fn parts_of(runs: &[RunRow], yard: usize) -> Vec<(usize, usize, &FromYard)> {
    let mut parts = Vec::new();
    for (run, row) in runs.iter().enumerate() {
        let of_yard = row.from.iter().enumerate().filter(|(_, from)| from.yard == yard);
        parts.extend(of_yard.map(|(at, from)| (run, at, from)));
    }
    parts
}

fn of_yard(
    places: &Places,
    (runs, yard): (&[RunRow], usize),
    hives: &[(usize, f64)],
) -> Result<Vec<(usize, usize, Vec<Slot>)>, PlanRefused> {
    let rows = parts_of(runs, yard);
    let mut waiting = fillings(hives, rows.iter().map(|(_, _, from)| from.supers).sum());
    let mut parts: Vec<Part> = Vec::new();
    // From the last run on: only some hives can have filled a super on the moor.
    for (of, (_, _, from)) in rows.iter().enumerate().rev() {
        waiting.sort_by(|one, other| one.position.total_cmp(&other.position));
        for _ in 0..from.supers {
            let last = waiting
                .iter()
                .rposition(|part| places.hives.get(part.hive).is_some_and(|hive| can(hive, from)));
            let last = last.ok_or_else(|| not_there("a hive that was carried to the moor and gave honey"))?;
            parts.push(Part {
                of,
                ..waiting.remove(last)
            });
        }
    }
    fit(&mut parts, &rows, hives);
    Ok(rows
        .iter()
        .enumerate()
        .map(|(of, (run, at, from))| (*run, *at, rounded(&parts, of, from)))
        .collect())
}

/// How many supers each hive fills, spread over the season.
fn fillings(hives: &[(usize, f64)], supers: usize) -> Vec<Part> {
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "grams of a colony"
    )]
    let weights: Vec<u64> = hives.iter().map(|(_, grams)| grams.round() as u64).collect();
    let mut counts = largest_remainder(supers as u64, &weights);
    // Whatever gave honey filled at least one.
    while let Some(none) = counts.iter().position(|count| *count == 0) {
        let Some((most, _)) = counts
            .iter()
            .enumerate()
            .max_by_key(|(_, count)| **count)
            .filter(|(_, count)| **count > 1)
        else {
            break;
        };
        for (at, by) in [(most, -1_i64), (none, 1)] {
            if let Some(count) = counts.get_mut(at) {
                *count = count.saturating_add_signed(by);
            }
        }
    }
    let mut parts = Vec::new();
    for ((hive, grams), count) in hives.iter().zip(counts) {
        for at in 0..count {
            #[allow(clippy::cast_precision_loss, reason = "a few supers a hive")]
            let (at, count) = (at as f64, count as f64);
            parts.push(Part {
                hive: *hive,
                position: (at + 0.5) / count,
                grams: grams / count,
                of: 0,
            });
        }
    }
    parts
}

/// Makes the parts meet what runs and hives give, in turn; the runs come last.
fn fit(parts: &mut [Part], rows: &[(usize, usize, &FromYard)], hives: &[(usize, f64)]) {
    for _ in 0..ROUNDS {
        for (hive, grams) in hives {
            scale(parts, |part| part.hive == *hive, *grams);
        }
        for part in &mut *parts {
            part.grams = part.grams.clamp(HOLDS_G.0, HOLDS_G.1);
        }
        for (of, (_, _, from)) in rows.iter().enumerate() {
            #[allow(clippy::cast_precision_loss, reason = "a few hundred kilograms")]
            scale(parts, |part| part.of == of, (from.kg * 1_000) as f64);
        }
    }
}

fn scale(parts: &mut [Part], which: impl Fn(&Part) -> bool, to: f64) {
    let sum: f64 = parts.iter().filter(|part| which(part)).map(|part| part.grams).sum();
    for part in parts.iter_mut().filter(|part| which(part)) {
        part.grams *= to / sum;
    }
}

fn rounded(parts: &[Part], of: usize, from: &FromYard) -> Vec<Slot> {
    let parts: Vec<&Part> = parts.iter().filter(|part| part.of == of).collect();
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "grams of a super"
    )]
    let weights: Vec<u64> = parts.iter().map(|part| part.grams.round() as u64).collect();
    let steps = largest_remainder((from.kg * 10).unsigned_abs(), &weights);
    let shares = steps.into_iter().map(|steps| i64::try_from(steps).unwrap_or(0) * 100);
    parts
        .iter()
        .zip(shares)
        .map(|(part, share_g)| Slot {
            hive: part.hive,
            share_g,
        })
        .collect()
}

/// Makes sure that a hive has a super in part of a run: the last one otherwise told of another hive.
pub(super) fn insist(slots: &mut [Slot], hive: usize, at: usize) {
    if slots.iter().filter(|slot| slot.hive == hive).count() <= at
        && let Some(slot) = slots.iter_mut().rev().find(|slot| slot.hive != hive)
    {
        slot.hive = hive;
    }
}

/// Leaves little in one super and puts the rest into its neighbours.
pub(super) fn rob(slots: &mut [Slot], at: usize, left_g: i64) {
    let Some(slot) = slots.get_mut(at) else { return };
    let mut spare_g = slot.share_g - left_g;
    slot.share_g = left_g;
    while spare_g > 0 {
        let others = slots.iter_mut().enumerate().filter(|(other, _)| *other != at);
        for (_, slot) in others {
            if spare_g > 0 {
                slot.share_g += 100;
                spare_g -= 100;
            }
        }
    }
}

//! When the honey came in: cumulative kilograms by the day of the run, and water by the day of the pull.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::answer::{Answer, Row};
use super::curve::{day_by, quartiles};
use super::figure::Figure;
use super::gathered::{Gathered, seasons_until};
use super::water::boxes;
use crate::house::House;
use crate::ids::{SuperId, YardId};

/// Parts of the season of which the day is shown.
const PARTS_PERCENT: [i64; 3] = [10, 50, 90];

/// The answer to "when did it come in".
#[must_use]
pub fn harvest(house: &House, year: i32) -> Answer {
    let gathered = Gathered::of(house, year);
    let mut answer = Answer::new("harvest", gathered.period());
    answer.words.push(
        "By the day of the run. When to pull next year is for you to judge: these days are no advice.".to_owned(),
    );
    let mut by_day = Vec::new();
    let mut days = Vec::new();
    for yard in gathered
        .yards()
        .into_iter()
        .filter(|yard| gathered.shares_of(*yard).next().is_some())
    {
        let runs: Vec<(NaiveDate, i64)> = gathered
            .shares_of(yard)
            .map(|share| (share.on, share.portion.grams))
            .collect();
        by_day.extend(so_far(&runs, &gathered.period(), || Row::of(house, yard)));
        days.extend(parts(&runs, &gathered.period(), || Row::of(house, yard)));
    }
    let all: Vec<(NaiveDate, i64)> = gathered.shares().map(|share| (share.on, share.portion.grams)).collect();
    let named = || Row::new(gathered.period());
    answer.table("yards", by_day);
    answer.table("days", days);
    answer.table("season_days", parts(&all, &gathered.period(), named));
    answer.table("years", years(house, year));
    answer.table("water_by_pull", water_by_pull(&gathered));
    answer
}

fn sums(runs: &[(NaiveDate, i64)]) -> BTreeMap<NaiveDate, i64> {
    let mut sums = BTreeMap::new();
    for (on, grams) in runs {
        *sums.entry(*on).or_default() += grams;
    }
    sums
}

fn so_far(runs: &[(NaiveDate, i64)], period: &str, row: impl Fn() -> Row) -> Vec<Row> {
    let mut so_far = 0;
    let mut rows = Vec::new();
    for (on, grams) in sums(runs) {
        so_far += grams;
        let mut row = row();
        row.on = Some(on);
        rows.push(
            row.with("run_g", Figure::plain(period, grams, 1))
                .with("so_far_g", Figure::plain(period, so_far, 1)),
        );
    }
    rows
}

/// The day by which each part was in; of one day only that day.
fn parts(runs: &[(NaiveDate, i64)], period: &str, row: impl Fn() -> Row) -> Vec<Row> {
    let days = sums(runs).len();
    let wanted: &[i64] = if days > 1 { &PARTS_PERCENT } else { &[100] };
    let part = |percent: &i64| {
        let mut row = row();
        row.on = Some(day_by(*percent, runs)?);
        Some(row.with("part_percent", Figure::plain(period, *percent, days)))
    };
    wanted.iter().filter_map(part).collect()
}

/// The seasons so far, to be laid over each other.
fn years(house: &House, last: i32) -> Vec<Row> {
    let mut rows = Vec::new();
    for year in seasons_until(house, last) {
        let gathered = Gathered::of(house, year);
        let all: Vec<(NaiveDate, i64)> = gathered.shares().map(|share| (share.on, share.portion.grams)).collect();
        rows.extend(so_far(&all, &gathered.period(), || {
            let mut row = Row::new(year.to_string());
            row.season = Some(year);
            row
        }));
    }
    rows
}

/// Water of the supers taken on one day in one yard: the middle, the driest, the wettest.
fn water_by_pull(gathered: &Gathered<'_>) -> Vec<Row> {
    let yards: BTreeMap<SuperId, YardId> = gathered
        .shares()
        .filter_map(|share| Some((share.portion.super_id?, share.portion.yard?)))
        .collect();
    let mut days: BTreeMap<(YardId, NaiveDate), Vec<i64>> = BTreeMap::new();
    for of in boxes(gathered) {
        if let (Some(yard), Some(water)) = (yards.get(&of.id), of.came_in) {
            days.entry((*yard, of.taken_on)).or_default().push(water.get());
        }
    }
    let row = |((yard, on), waters): ((YardId, NaiveDate), Vec<i64>)| {
        let [_, middle, _] = quartiles(&waters)?;
        let mut figure = Figure::plain(&gathered.period(), middle, waters.len());
        (figure.low, figure.high) = (waters.iter().min().copied(), waters.iter().max().copied());
        let mut row = Row::of(gathered.house, yard);
        row.on = Some(on);
        Some(row.with("moisture_hundredths_percent", figure))
    };
    days.into_iter().filter_map(row).collect()
}

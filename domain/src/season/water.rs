//! What water cost: kilograms dried off, hours of drying, and how much honey came in above the house's limit.

use chrono::{DateTime, NaiveDate, Utc};

use super::answer::{Answer, Row};
use super::books_kept::Kept;
use super::figure::{Figure, LeftOut};
use super::gathered::Gathered;
use super::{float, whole};
use crate::blend::water_dried_off;
use crate::books::PriceOf;
use crate::honey_super::Filling;
use crate::house::House;
use crate::ids::SuperId;
use crate::units::{Grams, Moisture};
use crate::weighing::full_of;

/// A super of the season, with what it gave and how wet that was.
pub(super) struct Box<'a> {
    pub(super) id: SuperId,
    filling: &'a Filling,
    share_g: i64,
    net_g: i64,
    /// Water as it came from the hive, hundredths of a per cent.
    pub(super) came_in: Option<Moisture>,
    /// The day on which it was taken off.
    pub(super) taken_on: NaiveDate,
}

/// The answer to "did water cost me".
#[must_use]
pub fn moisture(house: &House, year: i32) -> Answer {
    let gathered = Gathered::of(house, year);
    let mut answer = Answer::new("moisture", gathered.period());
    answer
        .words
        .push("Water as it came from the hive, by the highest reading before drying.".to_owned());
    let boxes = boxes(&gathered);
    answer.table("season", vec![season_row(&gathered, &boxes)]);
    answer.table(
        "supers",
        boxes.iter().filter_map(|of| super_row(&gathered, of)).collect(),
    );
    answer
}

pub(super) fn boxes<'a>(gathered: &Gathered<'a>) -> Vec<Box<'a>> {
    let mut boxes = Vec::new();
    for run in &gathered.runs {
        for share in run.allocations.iter().flat_map(|of| &of.shares) {
            let state = gathered.house.honey_super(share.super_id);
            let Some(filling) = state.and_then(|state| state.filling_of(run.id)) else {
                continue;
            };
            let share_g = share.share_g.get();
            let before = filling.drying.first().and_then(|dried| dried.before_hundredths);
            boxes.push(Box {
                id: share.super_id,
                filling,
                share_g,
                net_g: share.net_g.unwrap_or(share_g).max(0),
                came_in: before
                    .or(filling.before_drying_hundredths)
                    .or_else(|| filling.water().measured()),
                taken_on: filling.last_stand().and_then(|stand| stand.until_day).unwrap_or(run.on),
            });
        }
    }
    boxes
}

fn super_row(gathered: &Gathered<'_>, of: &Box<'_>) -> Option<Row> {
    let period = gathered.period();
    let mut row = Row::of(gathered.house, of.id);
    row.on = Some(of.taken_on);
    let water = Figure::plain(&period, of.came_in?.get(), 1);
    row.figure("moisture_hundredths_percent", water);
    row.figure("share_g", Figure::plain(&period, of.share_g, 1));
    if of.came_in > Some(gathered.house.settings().house_limit()) {
        row.say("above_house_limit");
    }
    Some(row)
}

fn season_row(gathered: &Gathered<'_>, boxes: &[Box<'_>]) -> Row {
    let house = gathered.house;
    let period = gathered.period();
    let limit = house.settings().house_limit();
    let mut row = Row::new(period.clone());
    row.figure("house_limit_hundredths_percent", Figure::plain(&period, limit.get(), 1));
    let measured: Vec<&Box<'_>> = boxes.iter().filter(|of| of.came_in.is_some()).collect();
    let sum = |boxes: &[&Box<'_>]| -> i64 { boxes.iter().map(|of| of.share_g).sum() };
    let above: Vec<&Box<'_>> = measured.iter().copied().filter(|of| of.came_in > Some(limit)).collect();
    let apart: Vec<&Box<'_>> = boxes.iter().filter(|of| of.came_in.is_none()).collect();
    for (name, part) in [
        ("measured_g", &measured),
        ("above_limit_g", &above),
        ("unmeasured_g", &apart),
    ] {
        row.figure(name, Figure::plain(&period, sum(part), part.len()));
    }
    let mut share = Figure::of(&period).counting(measured.len());
    if sum(&measured) > 0 {
        share.value = whole(float(sum(&above)) * 1000.0 / float(sum(&measured)));
    }
    row.figure("above_limit_tenths_percent", share);
    dried(&mut row, house, &period, boxes);
    row
}

fn dried(row: &mut Row, house: &House, period: &str, boxes: &[Box<'_>]) {
    let dried: Vec<&Box<'_>> = boxes.iter().filter(|of| !of.filling.drying.is_empty()).collect();
    let off: Vec<Option<i64>> = dried.iter().map(|of| water_off_g(house, of)).collect();
    let unknown = dried.iter().zip(&off).filter(|(_, off)| off.is_none());
    let unknown = unknown.map(|(of, _)| LeftOut::because(house, of.id, "water_not_measured"));
    let off_g: i64 = off.iter().flatten().sum();
    row.figure(
        "water_off_g",
        Figure::plain(period, off_g, dried.len()).without(unknown),
    );
    let unwritten = dried
        .iter()
        .filter(|of| of.filling.drying.iter().any(|dried| dried.from.is_none()));
    let unwritten = unwritten.map(|of| LeftOut::because(house, of.id, "start_of_drying_not_written"));
    let minutes = minutes_of(&dried);
    row.figure(
        "drying_minutes",
        Figure::plain(period, minutes, dried.len()).without(unwritten),
    );
    let year = period.parse().unwrap_or_default();
    let kept = Kept::of(house, year);
    if let Some(price) = kept.price() {
        let money = whole(float(off_g) * float(price) / 1000.0).unwrap_or_default();
        row.figure("water_off_hundredths", Figure::plain(period, money, dried.len()));
    } else {
        row.say("no_price");
    }
    if let Some(rate) = kept.hour(PriceOf::DryingHour) {
        let money = whole(float(minutes) * float(rate) / 60.0).unwrap_or_default();
        row.figure("drying_hundredths", Figure::plain(period, money, dried.len()));
    } else {
        row.say("drying_hours_have_no_price");
    }
}

/// Water that drying took out of a super (DR-3): from its weight before, or from its weight after.
fn water_off_g(house: &House, of: &Box<'_>) -> Option<i64> {
    let (before, after) = (of.came_in?, of.filling.water().measured()?);
    let weighed = full_of(house, of.filling).map(|counted| counted.weighing.at);
    let dried = of.filling.drying.last()?.until;
    if weighed.is_some_and(|weighed| weighed > dried) {
        let gone = float(before.get() - after.get()) / float(10_000 - before.get());
        return whole((float(of.net_g) * gone).max(0.0));
    }
    let net = Grams::new(of.net_g).ok()?;
    water_dried_off(net, before, after).ok().map(Grams::get)
}

/// Minutes in which any of the supers dried: those that dried together dried once.
fn minutes_of(boxes: &[&Box<'_>]) -> i64 {
    let spans = boxes.iter().flat_map(|of| &of.filling.drying);
    let mut spans: Vec<(DateTime<Utc>, DateTime<Utc>)> =
        spans.filter_map(|dried| Some((dried.from?, dried.until))).collect();
    spans.sort_unstable();
    let mut minutes = 0;
    let mut until: Option<DateTime<Utc>> = None;
    for (from, to) in spans {
        let from = until.map_or(from, |until| until.max(from));
        minutes += (to - from).num_minutes().max(0);
        until = Some(until.map_or(to, |until| until.max(to)));
    }
    minutes
}

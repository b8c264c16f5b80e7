//! What each colony gave, against its yard, and how much of that its next season may keep (AN-4).

use std::collections::BTreeMap;

use super::answer::{Answer, Row};
use super::colony::{LEAST_IN_YARD, expected_thousandths, index_thousandths};
use super::figure::{Denominator, Figure, Kind, LeftOut, WhyNoRange};
use super::gathered::{Gathered, seasons_until};
use super::standing::Unit;
use crate::allocation::{Method, total_letter};
use crate::colony::ColonyEnd;
use crate::house::House;
use crate::ids::{ColonyId, EntryId};
use crate::subject::Subject;

/// The answer to "which colony".
#[must_use]
pub fn colonies(house: &House, year: i32) -> Answer {
    let earlier: Vec<BTreeMap<Queen, i64>> = seasons_until(house, year - 1)
        .into_iter()
        .map(|season| indices(&Gathered::of(house, season)))
        .collect();
    let gathered = Gathered::of(house, year);
    let mut answer = Answer::new("colonies", gathered.period());
    answer.words.push(
        "An index is a colony's kilograms over the mean of its yard and year. Most of one season's deviation is chance: \
         a queen keeps about a third of it."
            .to_owned(),
    );
    let mut rows = Vec::new();
    for units in gathered.units.values() {
        rows.extend(units.iter().map(|unit| row(&gathered, &earlier, unit)));
    }
    let disputed: i64 = gathered
        .shares()
        .filter(|share| share.portion.yard.is_some() && share.portion.hive.is_none())
        .map(|share| share.portion.grams)
        .sum();
    answer.table("colonies", rows);
    let mut unassigned = Row::new("unassigned");
    let nobody = gathered.shares().filter(|share| share.portion.yard.is_none());
    let nobody_g: i64 = nobody.map(|share| share.portion.grams).sum();
    unassigned.figure("hive_disputed_g", Figure::plain(&gathered.period(), disputed, 0));
    unassigned.figure("yard_unknown_g", Figure::plain(&gathered.period(), nobody_g, 0));
    answer.table("unassigned", vec![unassigned]);
    answer
}

/// Why a unit's kilograms say nothing about the colony alone.
pub(super) fn not_comparable(gathered: &Gathered<'_>, unit: &Unit) -> Option<&'static str> {
    if let Some(out) = unit.left_out(gathered.house, gathered.year) {
        return Some(out.accident.word());
    }
    united_with(gathered, unit).map(|_| "united")
}

/// The colony with which a unit was united within the season.
pub(super) fn united_with(gathered: &Gathered<'_>, unit: &Unit) -> Option<ColonyId> {
    let ended = gathered.house.colony(unit.colony?)?.ended.as_ref()?;
    let of_year = unit.ended(gathered.house, gathered.year) == Some(ColonyEnd::United);
    ended.united_into.filter(|_| of_year)
}

fn row(gathered: &Gathered<'_>, earlier: &[BTreeMap<Queen, i64>], unit: &Unit) -> Row {
    let house = gathered.house;
    let period = gathered.period();
    let mut row = Row::new(house.label(unit.hive.into()));
    row.id = Some(unit.subject());
    row.beside = Some(house.label(unit.yard.into()));
    let mut figure = Figure::plain(&period, unit.sure_g, 1);
    figure.method = letter_of(gathered, unit);
    if unit.disputed_g > 0 {
        (figure.low, figure.high) = (Some(unit.sure_g), Some(unit.sure_g + unit.disputed_g));
        figure.why_no_range = Some(WhyNoRange::Disputed);
    }
    row.figure("yield_g", figure);
    if let Some(index) = index(gathered, unit) {
        if let Some(this) = index.value {
            let (mean, seasons) = mean_index(earlier, queen_of(gathered, unit), this);
            let mut figure = Figure::of(&period);
            figure.value = expected_thousandths(mean, seasons);
            figure.n = i64::from(seasons);
            row.figure("next_index_thousandths", figure);
        }
        row.figure("index_thousandths", index);
    }
    let left = house.hive(unit.hive).map_or(&[][..], |hive| &hive.honey_left);
    let of_year = left
        .iter()
        .filter(|left| chrono::Datelike::year(&left.on) == gathered.year);
    if let Some(left) = of_year.max_by_key(|left| left.on) {
        row.figure("honey_left_g", Figure::plain(&period, left.honey_g.get(), 1));
    }
    marks(gathered, unit, &mut row);
    row
}

fn marks(gathered: &Gathered<'_>, unit: &Unit, row: &mut Row) {
    if let Some(ended) = unit.ended(gathered.house, gathered.year) {
        row.say(match ended {
            ColonyEnd::Dead => "dead",
            ColonyEnd::United => "united",
            ColonyEnd::Sold => "sold",
            ColonyEnd::DestroyedByOrder => "destroyed_by_order",
            ColonyEnd::Absconded => "absconded",
        });
    }
    if unit.sure_g + unit.disputed_g == 0 {
        row.say("no_honey");
    }
    if !unit.from_start {
        row.say("came_after_the_start");
    }
    if let Some(out) = unit.left_out(gathered.house, gathered.year) {
        row.say(out.accident.word());
    }
}

fn letter_of(gathered: &Gathered<'_>, unit: &Unit) -> Option<Method> {
    let of_unit = gathered
        .shares_of(unit.yard)
        .filter(|share| share.portion.hive == Some(unit.hive));
    let letters: Vec<(Method, i64)> = of_unit
        .map(|share| (share.portion.method, share.portion.grams))
        .collect();
    total_letter(&letters)
}

/// The index of a unit in its yard (AN-4): what came after the start is in no mean, nor what the owner leaves out.
fn index(gathered: &Gathered<'_>, unit: &Unit) -> Option<Figure> {
    let units = gathered.units.get(&unit.yard)?;
    if !unit.from_start || not_comparable(gathered, unit).is_some() {
        return None;
    }
    let counted: Vec<&Unit> = units
        .iter()
        .filter(|other| other.from_start && other.left_out(gathered.house, gathered.year).is_none())
        .collect();
    if counted.len() < LEAST_IN_YARD {
        return None;
    }
    let grams: Vec<i64> = counted.iter().map(|other| other.sure_g).collect();
    let n = i64::try_from(counted.len()).ok()?;
    let mut figure = Figure::plain(
        &gathered.period(),
        index_thousandths(unit.sure_g, &grams)?,
        counted.len(),
    );
    figure.denominator = Some(Denominator {
        kind: Kind::Colonies,
        low: n,
        high: n,
    });
    if unit.disputed_g > 0 {
        figure.low = figure.value;
        figure.high = index_thousandths(unit.sure_g + unit.disputed_g, &grams);
        figure.why_no_range = Some(WhyNoRange::Disputed);
    }
    let out = units.iter().filter_map(|other| {
        let accident = other.left_out(gathered.house, gathered.year)?.accident;
        Some(LeftOut::because(gathered.house, other.hive, accident.word()))
    });
    Some(figure.without(out))
}

/// A queen, told apart from her colony's others.
type Queen = (Subject, EntryId);

/// The indices of a season, by the queen that reigned at the start of its flow.
fn indices(gathered: &Gathered<'_>) -> BTreeMap<Queen, i64> {
    let units = gathered.units.values().flatten();
    let of_unit = |unit: &Unit| Some((queen_of(gathered, unit)?, index(gathered, unit)?.value?));
    units.filter_map(of_unit).collect()
}

/// The mean index of the seasons under the queen that reigned at the start of this one, and how many they are.
fn mean_index(earlier: &[BTreeMap<Queen, i64>], queen: Option<Queen>, this: i64) -> (i64, u32) {
    let before = queen
        .into_iter()
        .flat_map(|queen| earlier.iter().filter_map(move |season| season.get(&queen)));
    let (sum, seasons) = before.fold((this, 1_u32), |(sum, seasons), index| (sum + index, seasons + 1));
    let n = i64::from(seasons);
    ((2 * sum + n).div_euclid(2 * n), seasons)
}

/// The queen that reigned over a unit when the flow began.
pub(super) fn queen_of(gathered: &Gathered<'_>, unit: &Unit) -> Option<Queen> {
    let start = gathered.starts.get(&unit.yard)?;
    let queen = gathered.house.colony(unit.colony?)?.queen_on(*start)?;
    Some((unit.subject(), queen.entry_id))
}

//! Where the honey of a season went: run by run from the supers to the pot (MB-1), lot by lot from the pot to the
//! buyer (MB-5), and how much of what is unexplained weighing alone explains.

use chrono::Datelike;

use super::answer::{Answer, Row};
use super::figure::{Figure, LeftOut};
use super::gathered::Gathered;
use super::off::{rest_off_g, together_g};
use crate::balance::{Band, RunBalance, RunWeights, balance, lot_balance};
use crate::house::House;
use crate::ids::LotId;
use crate::yields::{Spun, Unweighed, run_weights};

/// The answer to "where did the honey go".
#[must_use]
pub fn fates(house: &House, year: i32) -> Answer {
    let gathered = Gathered::of(house, year);
    let period = gathered.period();
    let mut answer = Answer::new("balance", period.clone());
    answer.words.push(
        "Measured kilograms are never changed to close a balance. What weighing alone explains is two standard \
         deviations of all weighings together."
            .to_owned(),
    );
    let mut rows = Vec::new();
    let mut all = Sums::default();
    for run in &gathered.runs {
        rows.push(run_row(&gathered, run, &mut all));
    }
    let mut season = Row::new(period.clone());
    if all.runs > 0 {
        parts(&mut season, &period, &all.weights, all.runs);
        let unexplained = all.net_g - all.accounted_g;
        rest(&mut season, &period, (unexplained, together_g(&all.offs)), all.runs);
    }
    let unbalanced = all.left_out.len();
    season.figure(
        "runs_not_balanced",
        Figure::plain(
            &period,
            i64::try_from(unbalanced).unwrap_or(i64::MAX),
            gathered.runs.len(),
        )
        .without(all.left_out),
    );
    answer.table("runs", rows);
    answer.table("season", vec![season]);
    answer.table("lots", lots(house, year));
    answer
}

#[derive(Default)]
struct Sums {
    runs: usize,
    weights: RunWeights,
    net_g: i64,
    accounted_g: i64,
    offs: Vec<i64>,
    left_out: Vec<LeftOut>,
}

fn run_row(gathered: &Gathered<'_>, run: &Spun<'_>, all: &mut Sums) -> Row {
    let (house, period) = (gathered.house, gathered.period());
    let mut row = Row::of(house, run.id);
    row.name = crate::yields::run_name(run.id, run.run);
    row.on = Some(run.on);
    let mut pot = Figure::plain(&period, run.pot_g(), run.run.supers.len());
    pot.method = Some(run.method());
    row.figure("pot_g", pot);
    match weighed(house, run) {
        Ok((weights, balanced)) => {
            parts(&mut row, &period, &weights, 1);
            let off = rest_off_g(run.run, &weights);
            rest(&mut row, &period, (balanced.unexplained_g, off), 1);
            row.figure(
                "unexplained_hundredths_percent",
                Figure::plain(&period, balanced.unexplained_share_bp, 1),
            );
            row.say(band(balanced.band));
            row.words.extend(balanced.warnings.iter().map(word));
            all.runs += 1;
            all.net_g += balanced.net_g;
            all.accounted_g += balanced.accounted_g;
            all.offs.extend(off);
            all.weights = add(all.weights, weights);
        }
        Err(missing) => {
            row.say("not_balanced");
            let mut why: Vec<LeftOut> = missing
                .supers
                .iter()
                .map(|id| LeftOut::because(house, *id, "weight_missing"))
                .collect();
            if missing.wax {
                why.push(LeftOut::because(house, run.id, "wax_not_weighed"));
            }
            row.figure("unexplained_g", Figure::of(&period).without(why));
            all.left_out.push(LeftOut::because(house, run.id, "not_balanced"));
        }
    }
    row
}

/// What was weighed in a run, and its balance; a run that gave nothing has none.
fn weighed(house: &House, run: &Spun<'_>) -> Result<(RunWeights, RunBalance), Unweighed> {
    let weights = run_weights(house, run.id, run.run)?;
    let balanced = balance(&weights).map_err(|_| Unweighed::default())?;
    Ok((weights, balanced))
}

fn add(a: RunWeights, b: RunWeights) -> RunWeights {
    RunWeights {
        in_g: a.in_g + b.in_g,
        wet_g: a.wet_g + b.wet_g,
        bulk_g: a.bulk_g + b.bulk_g,
        cappings_honey_g: a.cappings_honey_g + b.cappings_honey_g,
        wax_g: a.wax_g + b.wax_g,
        left_in_machine_g: match (a.left_in_machine_g, b.left_in_machine_g) {
            (None, None) => None,
            (a, b) => Some(a.unwrap_or_default() + b.unwrap_or_default()),
        },
        samples_g: a.samples_g + b.samples_g,
        water_dried_g: a.water_dried_g + b.water_dried_g,
    }
}

/// The steps of the way down from the supers.
fn parts(row: &mut Row, period: &str, weights: &RunWeights, runs: usize) {
    let mut part = |name: &str, grams: i64| row.figure(name, Figure::plain(period, grams, runs));
    part("net_g", weights.in_g - weights.wet_g);
    part("bulk_g", weights.bulk_g);
    part("cappings_honey_g", weights.cappings_honey_g);
    part("wax_g", weights.wax_g);
    part("samples_g", weights.samples_g);
    part("water_dried_g", weights.water_dried_g);
    match weights.left_in_machine_g {
        Some(left) => part("left_in_machine_g", left),
        None => row.say("machine_not_weighed"),
    }
}

/// What is left over, with what weighing alone lets it be.
fn rest(row: &mut Row, period: &str, (unexplained_g, off_g): (i64, Option<i64>), runs: usize) {
    let mut figure = Figure::plain(period, unexplained_g, runs);
    if let Some(off) = off_g {
        figure.low = Some(unexplained_g - off);
        figure.high = Some(unexplained_g + off);
        figure.level_percent = Some(95);
        row.figure("weighing_alone_g", Figure::plain(period, off, runs));
        if unexplained_g.abs() <= off {
            row.say("weighing_alone_explains_it");
        }
    }
    row.figure("unexplained_g", figure);
}

const fn band(band: Band) -> &'static str {
    match band {
        Band::Green => "green",
        Band::Amber => "amber",
        Band::Red => "red",
    }
}

fn word(warning: &crate::balance::BalanceWarning) -> String {
    use crate::balance::BalanceWarning as W;
    match warning {
        W::MuchCappingsHoney => "much_cappings_honey",
        W::MuchWax => "much_wax",
        W::LittleWax => "little_wax",
    }
    .to_owned()
}

/// The lots that were begun in the year (MB-5).
fn lots(house: &House, year: i32) -> Vec<Row> {
    let of_year = house
        .lots()
        .filter(|(_, lot)| lot.made_at.is_some_and(|made| made.year() == year));
    of_year.filter_map(|(id, _)| lot_row(house, year, id)).collect()
}

fn lot_row(house: &House, year: i32, id: LotId) -> Option<Row> {
    let balance = lot_balance(house, id)?;
    let period = year.to_string();
    let mut row = Row::of(house, id);
    for (name, grams) in [
        ("made_g", balance.made_g),
        ("sold_g", balance.sold_g),
        ("given_g", balance.given_g),
        ("samples_g", balance.samples_g),
        ("waste_g", balance.waste_g),
        ("into_lots_g", balance.into_lots_g),
        ("in_bulk_g", balance.in_bulk_g),
        ("in_jars_g", balance.in_jars_g),
        ("came_back_g", balance.came_back_g),
        ("unexplained_g", balance.unexplained_g),
    ] {
        row.figure(name, Figure::plain(&period, grams, 1));
    }
    Some(row)
}

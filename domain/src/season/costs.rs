//! What a kilogram cost in cash and in full, by kind, and what each yard left over (EC-1 to EC-4).

use std::collections::BTreeMap;

use super::answer::{Answer, Row};
use super::books_kept::Kept;
use super::cost::{SASKATCHEWAN_2015, break_even_yield_g, per_kilogram};
use super::figure::{Denominator, Figure, Kind, WhyNoRange};
use super::gathered::{Gathered, seasons_until};
use super::yards::season_csf;
use super::{float, whole};
use crate::books::PriceOf;
use crate::house::House;
use crate::ids::YardId;
use crate::subject::Subject;

/// The answer to "what did a kilogram cost".
#[must_use]
pub fn costs(house: &House, year: i32) -> Answer {
    let gathered = Gathered::of(house, year);
    let kept = Kept::of(house, year);
    let period = gathered.period();
    let mut answer = Answer::new("costs", period.clone());
    answer.words.push(
        "Saleable is what ran out of the extractor and the cappings. Of others' costs only this, with how many they \
         are, and never as a yardstick: "
            .to_owned()
            + &benchmark(),
    );
    answer.table("season", vec![season_row(&gathered, &kept)]);
    answer.table("costs", cost_rows(&gathered, &kept));
    answer.table("work", work_rows(&gathered, &kept));
    answer.table("incomes", income_rows(&gathered, &kept));
    answer.table("yards", yard_rows(house, year));
    answer
}

fn benchmark() -> String {
    let of = SASKATCHEWAN_2015;
    let money = |hundredths: i64| format!("{}.{:02}", hundredths / 100, hundredths % 100);
    format!(
        "{} +- {} {} a pound, {} beekeepers, {} ({}).",
        money(of.mean_hundredths_per_lb),
        money(of.deviation_hundredths_per_lb),
        of.money,
        of.n,
        of.year,
        of.source
    )
}

fn saleable(gathered: &Gathered<'_>) -> Denominator {
    let kg = gathered.total_g() / 1000;
    Denominator {
        kind: Kind::SaleableKilograms,
        low: kg,
        high: kg,
    }
}

fn season_row(gathered: &Gathered<'_>, kept: &Kept) -> Row {
    let period = gathered.period();
    let saleable_g = gathered.total_g();
    let mut row = Row::new(period.clone());
    row.figure("saleable_g", Figure::plain(&period, saleable_g, gathered.runs.len()));
    let costs = kept.costs(saleable_g);
    let money = |row: &mut Row, name: &str, value: i64| row.figure(name, Figure::plain(&period, value, 1));
    money(
        &mut row,
        "cash_hundredths",
        costs.cash_hundredths - costs.other_income_hundredths,
    );
    row.figure(
        "minutes",
        Figure::plain(&period, costs.minutes.total(), kept.work.len()),
    );
    let each = |value: Option<i64>| Figure {
        value,
        denominator: Some(saleable(gathered)),
        ..Figure::plain(&period, 0, 1)
    };
    let per = per_kilogram(&costs).filter(|_| !kept.is_empty());
    row.figure("cash_per_kg_thousandths", each(per.map(|per| per.cash_thousandths)));
    row.figure("full_per_kg_thousandths", each(per.map(|per| per.full_thousandths)));
    row.figure("minutes_per_kg_tenths", each(per.map(|per| per.minutes_tenths)));
    if kept.hour(PriceOf::OwnHour).is_none() {
        row.say("own_hours_have_no_price");
    }
    if kept.is_empty() {
        row.say("nothing_booked");
    }
    let Some(price) = kept.price() else {
        row.say("no_price");
        return row;
    };
    row.figure("price_per_kg_hundredths", Figure::plain(&period, price, 1));
    if let Some(per) = per {
        row.figure(
            "margin_per_kg_thousandths",
            each(Some(price * 10 - per.full_thousandths)),
        );
    }
    row.figure("break_even_yield_g", break_even(gathered, kept, price));
    row
}

/// The kilograms a colony has to give (EC-2): what grows with colonies, over colonies, against what a kilogram leaves.
fn break_even(gathered: &Gathered<'_>, kept: &Kept, price: i64) -> Figure {
    let mut figure = Figure::of(gathered.period());
    let yards: Vec<YardId> = gathered
        .yards()
        .into_iter()
        .filter(|yard| gathered.knows(*yard))
        .collect();
    let (csf, uncounted) = season_csf(gathered, &yards);
    figure = figure.without(uncounted);
    let Some(csf) = csf.filter(|csf| csf.low > 0 && csf.low == csf.high) else {
        return figure;
    };
    figure.denominator = Some(csf);
    figure.n = csf.high;
    let all = kept.spent(|_| true) + kept.own_work(|_| true);
    let per_colony = whole(float(all - kept.variable()) / float(csf.high));
    let variable = variable_per_kg(gathered, kept);
    figure.value = per_colony.and_then(|per| break_even_yield_g(per, price, variable?));
    figure
}

/// What a kilogram costs beyond what its colony costs, in hundredths.
fn variable_per_kg(gathered: &Gathered<'_>, kept: &Kept) -> Option<i64> {
    let grams = gathered.total_g();
    (grams > 0)
        .then(|| whole(float(kept.variable()) * 1000.0 / float(grams)))
        .flatten()
}

fn named<T: serde::Serialize>(kind: &T) -> String {
    let word = serde_json::to_value(kind).ok();
    word.and_then(|word| Some(word.as_str()?.to_owned()))
        .unwrap_or_default()
}

fn by_kind<K: Ord + serde::Serialize>(period: &str, figure: &str, sums: impl Iterator<Item = (K, i64)>) -> Vec<Row> {
    let mut kinds: BTreeMap<K, (i64, usize)> = BTreeMap::new();
    for (kind, amount) in sums {
        let sum = kinds.entry(kind).or_default();
        sum.0 += amount;
        sum.1 += 1;
    }
    let row =
        |(kind, (amount, n)): (K, (i64, usize))| Row::new(named(&kind)).with(figure, Figure::plain(period, amount, n));
    kinds.into_iter().map(row).collect()
}

fn cost_rows(gathered: &Gathered<'_>, kept: &Kept) -> Vec<Row> {
    let sums = kept.costs.iter().map(|sum| (sum.cost, sum.amount_hundredths));
    let mut rows = by_kind(&gathered.period(), "amount_hundredths", sums);
    for row in &mut rows {
        let kind = kept
            .costs
            .iter()
            .find(|sum| named(&sum.cost) == row.name)
            .map(|sum| sum.cost);
        row.words
            .extend(kind.filter(|kind| !kind.is_cash()).map(|_| "no_cash".to_owned()));
        row.words.extend(
            kind.filter(|kind| kind.grows_with_honey())
                .map(|_| "grows_with_honey".to_owned()),
        );
    }
    rows
}

fn work_rows(gathered: &Gathered<'_>, kept: &Kept) -> Vec<Row> {
    by_kind(
        &gathered.period(),
        "minutes",
        kept.work.iter().map(|sum| (sum.work, sum.minutes)),
    )
}

fn income_rows(gathered: &Gathered<'_>, kept: &Kept) -> Vec<Row> {
    let sums = kept.incomes.iter().map(|sum| (sum.income, sum.amount_hundredths));
    by_kind(&gathered.period(), "amount_hundredths", sums)
}

/// What a yard left over in one season, in hundredths: its kilograms at price less variable cost, less what would not
/// have been paid without it.
fn left_over(gathered: &Gathered<'_>, kept: &Kept, yard: YardId) -> Option<(i64, i64)> {
    let leaves = kept.price()? - variable_per_kg(gathered, kept)?;
    let avoidable = kept.spent(|sum| sum.yard_id == Some(yard)) + kept.own_work(|sum| sum.yard_id == Some(yard));
    let brought = whole(float(gathered.yard_g(yard)) * float(leaves) / 1000.0)?;
    Some((brought - avoidable, avoidable))
}

/// Each yard this season, and in how many seasons it paid (keep or give up a yard).
fn yard_rows(house: &House, year: i32) -> Vec<Row> {
    let mut paid: BTreeMap<YardId, (i64, i64)> = BTreeMap::new();
    let mut rows = Vec::new();
    for season in seasons_until(house, year) {
        let gathered = Gathered::of(house, season);
        let kept = Kept::of(house, season);
        for yard in gathered.yards().into_iter().filter(|yard| gathered.knows(*yard)) {
            let Some((margin, avoidable)) = left_over(&gathered, &kept, yard) else {
                continue;
            };
            let years = paid.entry(yard).or_default();
            years.0 += i64::from(margin > 0);
            years.1 += 1;
            if season == year {
                rows.push((yard, margin, avoidable));
            }
        }
    }
    let period = year.to_string();
    let row = |(yard, margin, avoidable): (YardId, i64, i64)| {
        let (good, all) = paid.get(&yard).copied().unwrap_or_default();
        let mut years = Figure::plain(&format!("until {year}"), good, 0);
        years.n = all;
        years.denominator = Some(Denominator {
            kind: Kind::YardYears,
            low: all,
            high: all,
        });
        if all < 2 {
            years.why_no_range = Some(WhyNoRange::OneYear);
        }
        let mut row = Row::of(house, Subject::from(yard))
            .with("margin_hundredths", Figure::plain(&period, margin, 1))
            .with("avoidable_hundredths", Figure::plain(&period, avoidable, 1))
            .with("years_paid", years);
        row.say(format!("paid in {good} of {all} years"));
        row
    };
    rows.into_iter().map(row).collect()
}

//! Fair factors laid out: of yards over years (AN-8) and of queen lines over places (AN-4, AN-6, AN-7).

use super::answer::{Answer, Row};
use super::fair::{Fair, Gave, Of, Pair};
use super::figure::{Denominator, Figure, Kind, LeftOut, WhyNoRange};
use super::gathered::{Gathered, seasons_until};
use super::whole;
use super::words::{colonies_to_see, if_you_must_choose, it_takes, of_pair};
use super::yards::without_accidents;
use crate::house::House;
use crate::ids::YardId;

/// Fewer colonies than this make a cell too small to speak for its yard.
const COLONIES_OF_A_CELL: i64 = 5;

/// First and last year, in order.
pub(super) fn period(from: i32, to: i32) -> String {
    if from == to {
        from.to_string()
    } else {
        format!("{from}-{to}")
    }
}

fn thousandths(value: f64) -> Option<i64> {
    whole(value * 1000.0)
}

/// A factor or ratio with its range.
fn ratio(period: &str, value: Option<f64>, range: Option<(f64, f64)>) -> Figure {
    let mut figure = Figure::of(period);
    figure.value = value.and_then(thousandths);
    figure.low = range.and_then(|(low, _)| thousandths(low));
    figure.high = range.and_then(|(_, high)| thousandths(high));
    figure.level_percent = range.map(|_| 95);
    figure
}

/// The rows of a fit: factor, best guess, place.
pub(super) fn rows(fair: &Fair, names: Vec<Row>, period: &str, kind: Kind) -> Vec<Row> {
    let with = |(mut row, of): (Row, &super::fair::Row)| {
        let n = i64::try_from(of.n).unwrap_or(i64::MAX);
        let denominator = Some(Denominator { kind, low: n, high: n });
        let figure = |value, range| Figure {
            denominator,
            n,
            why_no_range: of.why,
            ..ratio(period, value, range)
        };
        row.figure("factor_thousandths", figure(of.factor, of.range));
        if of.guess.is_some() {
            row.figure(
                "best_guess_thousandths",
                Figure {
                    why_no_range: None,
                    ..figure(of.guess, None)
                },
            );
        }
        if let Some((first, last)) = of.places {
            let mut place = Figure::of(period).counting(of.n);
            place.low = i64::try_from(first).ok();
            place.high = i64::try_from(last).ok();
            place.level_percent = Some(95);
            row.figure("place", place);
        }
        row
    };
    names.into_iter().zip(&fair.rows).map(with).collect()
}

/// The pairs of a fit, each with its sentence.
pub(super) fn pairs(fair: &Fair, names: &[String], period: &str, closely: &str) -> Vec<Row> {
    let row = |pair: &Pair| {
        let (one, other) = (names.get(pair.one)?, names.get(pair.other)?);
        let mut figure = ratio(period, Some(pair.ratio), pair.range);
        figure.n = whole(pair.n)?;
        figure.why_no_range = pair.range.is_none().then_some(WhyNoRange::TooFew);
        let mut row = Row::new(one.as_str());
        row.beside = Some(other.clone());
        row.figure("ratio_thousandths", figure);
        let mut n = Figure::of(period);
        n.value = whole(pair.n * 100.0);
        row.figure("n_pair_hundredths", n);
        row.say(of_pair(pair, one, other, closely));
        if !pair.told_apart() && closely == SIDE_BY_SIDE {
            row.say(it_takes(pair.ratio));
        }
        Some(row)
    };
    fair.pairs.iter().filter_map(row).collect()
}

/// How lines are compared.
pub(super) const SIDE_BY_SIDE: &str = "side by side";

/// The best guess for whoever must choose.
pub(super) fn choose(answer: &mut Answer, fair: &Fair, names: &[String]) {
    let guesses: Vec<(&str, f64)> = names
        .iter()
        .zip(&fair.rows)
        .filter_map(|(name, row)| Some((name.as_str(), row.guess?)))
        .collect();
    answer.words.extend(if_you_must_choose(&guesses));
}

/// A yard in a year.
struct Cell {
    yard: YardId,
    year: i32,
    y1_g: i64,
    yield_g: i64,
    colonies: i64,
}

impl Cell {
    /// Y1 in ten-thousandths of a gram: factors have no unit, and whole grams would move them where little was made.
    const fn fine(&self) -> i64 {
        self.yield_g.saturating_mul(10_000) / self.colonies
    }
}

/// The answer to "keep or give up a yard": what yards gave, freed of good and bad years.
#[must_use]
pub fn yard_factors(house: &House, from: i32, to: i32) -> Answer {
    let period = period(from, to);
    let mut answer = Answer::new("yard_factors", period.clone());
    answer.words.push(
        "A factor of 1.10 gave a tenth more than the yards together in the same years. What a yard left over in money \
         stands with the costs."
            .to_owned(),
    );
    let (cells, small) = cells(house, from, to);
    let mut yards: Vec<YardId> = cells.iter().map(|cell| cell.yard).collect();
    yards.sort_unstable();
    yards.dedup();
    let years_of = |yard: YardId| cells.iter().filter(|cell| cell.yard == yard).count();
    let (fitted, once): (Vec<YardId>, Vec<YardId>) = yards.into_iter().partition(|yard| years_of(*yard) > 1);
    let mut years: Vec<i32> = cells.iter().map(|cell| cell.year).collect();
    years.sort_unstable();
    years.dedup();
    let gave: Vec<Gave> = cells
        .iter()
        .filter_map(|cell| {
            Some(Gave {
                row: fitted.iter().position(|yard| *yard == cell.yard)?,
                block: years.iter().position(|year| *year == cell.year)?,
                grams: cell.fine(),
            })
        })
        .collect();
    let ask = super::fair::Ask {
        rows: fitted.len(),
        blocks: years.len(),
        alike: 1.0,
        of: Of::Yards,
    };
    let fair = super::fair::fair(ask, &gave);
    let names: Vec<String> = fitted.iter().map(|yard| house.label((*yard).into())).collect();
    let named = fitted.iter().map(|yard| Row::of(house, *yard)).collect();
    let mut shown = rows(&fair, named, &period, Kind::YardYears);
    shown.extend(once.iter().map(|yard| seen_once(house, *yard, &period)));
    let pairs = pairs(&fair, &names, &period, "in the same years");
    choose(&mut answer, &fair, &names);
    answer.table("yards", shown);
    answer.table("pairs", pairs);
    answer.table("cells", cells.iter().map(|cell| cell_row(house, cell)).collect());
    answer.table(
        "season",
        vec![fit_row(&fair, &period).with("cells_left_out", {
            Figure::plain(&period, i64::try_from(small.len()).unwrap_or(i64::MAX), cells.len()).without(small)
        })],
    );
    answer
}

/// What the fit stands on.
pub(super) fn fit_row(fair: &Fair, period: &str) -> Row {
    let mut row = Row::new(period);
    let mut scatter = Figure::of(period);
    scatter.value = fair
        .dispersion
        .filter(|phi| phi.is_finite())
        .and_then(|phi| thousandths(libm::sqrt(phi)));
    row.figure("scatter_thousandths", scatter);
    let mut df = Figure::of(period);
    df.value = fair.df.and_then(whole);
    row.figure("degrees_of_freedom", df);
    // Lines evenly placed; what is unevenly placed takes more.
    let mut colonies = Figure::of(period);
    colonies.value = fair
        .dispersion
        .filter(|phi| phi.is_finite())
        .and_then(|phi| whole(libm::ceil(colonies_to_see(0.2, libm::sqrt(phi)))));
    row.figure("to_see_20_percent_takes", colonies);
    row
}

/// A yard of one year is shown and not fitted: it cannot be told from that year.
fn seen_once(house: &House, yard: YardId, period: &str) -> Row {
    let mut figure = Figure::of(period).counting(1);
    figure.why_no_range = Some(WhyNoRange::OneYear);
    let mut row = Row::of(house, yard).with("factor_thousandths", figure);
    row.say("one_year_only");
    row
}

fn cell_row(house: &House, cell: &Cell) -> Row {
    let mut figure = Figure::plain(&cell.year.to_string(), cell.y1_g, 0);
    figure.n = cell.colonies;
    figure.denominator = Some(Denominator {
        kind: Kind::ColoniesAtStartOfFlow,
        low: cell.colonies,
        high: cell.colonies,
    });
    let mut row = Row::of(house, cell.yard);
    row.season = Some(cell.year);
    row.with("y1_g", figure)
}

/// Every yard in every year with five colonies and more, and what is too small or not counted.
fn cells(house: &House, from: i32, to: i32) -> (Vec<Cell>, Vec<LeftOut>) {
    let mut cells = Vec::new();
    let mut left_out = Vec::new();
    for year in seasons_until(house, to).into_iter().filter(|year| *year >= from) {
        let gathered = Gathered::of(house, year);
        // A year in which nothing was spun yet says nothing about its yards.
        if gathered.runs.is_empty() {
            continue;
        }
        for yard in gathered.yards().into_iter().filter(|yard| gathered.knows(*yard)) {
            match cell(&gathered, yard) {
                Ok(cell) => cells.push(cell),
                Err(reason) => left_out.push(LeftOut::because(house, yard, &format!("{year}: {reason}"))),
            }
        }
    }
    (cells, left_out)
}

fn cell(gathered: &Gathered<'_>, yard: YardId) -> Result<Cell, &'static str> {
    let csf = gathered.csf(yard).ok_or("not_counted_at_start_of_flow")?;
    let whole = (gathered.yard_g(yard), csf);
    let (figure, yield_g) =
        without_accidents(gathered, yard, whole).unwrap_or_else(|| (Figure::of("").per(whole.0, csf), whole.0));
    let colonies = figure
        .denominator
        .filter(|of| of.low == of.high)
        .ok_or("count_disputed")?;
    if colonies.low < COLONIES_OF_A_CELL {
        return Err("fewer_than_five_colonies");
    }
    if !gathered.without_pot(yard).is_empty() {
        return Err("at_least");
    }
    Ok(Cell {
        yard,
        year: gathered.year,
        y1_g: figure.value.ok_or("count_disputed")?,
        yield_g,
        colonies: colonies.low,
    })
}

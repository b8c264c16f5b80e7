//! What the yards yielded: Y1 and Y2 with their denominators, what is unassigned, and what few colonies may say.

use super::answer::{Answer, Row};
use super::figure::{Denominator, Figure, LeftOut, WhyNoRange};
use super::gathered::{Gathered, seasons_until};
use super::mean::{Spread, crowded, spread};
use super::off::{even_shares_percent, shares_off_g};
use super::standing::Unit;
use super::{float, student_t, whole};
use crate::allocation::{Method, total_letter};
use crate::house::House;
use crate::ids::YardId;
use crate::yields::Portion;

/// What is said beside every range of colonies.
const RANGE_SAYS: &str =
    "Kilograms and counts are facts. A range says what other colonies like these would have given.";
const LOST_HONEY_SAYS: &str =
    "Of a run without a weighed pot the honey is not known: such a yard gave at least this much.";

/// The answer to "what did the yards yield".
#[must_use]
pub fn yards(house: &House, year: i32) -> Answer {
    let gathered = Gathered::of(house, year);
    let mut answer = Answer::new("yards", gathered.period());
    answer.words.push(RANGE_SAYS.to_owned());
    let shown: Vec<YardId> = gathered
        .yards()
        .into_iter()
        .filter(|yard| gathered.knows(*yard))
        .collect();
    let mut rows: Vec<Row> = shown.iter().map(|yard| yard_row(&gathered, *yard)).collect();
    if rows.iter().any(|row| row.words.iter().any(|word| word == "at_least")) {
        answer.words.push(LOST_HONEY_SAYS.to_owned());
    }
    let unassigned = gathered.shares().filter(|share| share.portion.yard.is_none());
    rows.push(unassigned_row(
        &gathered,
        unassigned.map(|share| share.portion).collect(),
    ));
    answer.table("yards", rows);
    answer.table("season", vec![season_row(&gathered, &shown)]);
    answer.table("years", years(house, year));
    answer
}

pub(super) fn letter<'a>(portions: impl Iterator<Item = &'a Portion>) -> Option<Method> {
    let letters: Vec<(Method, i64)> = portions.map(|portion| (portion.yard_method, portion.grams)).collect();
    total_letter(&letters)
}

fn unassigned_row(gathered: &Gathered<'_>, portions: Vec<&Portion>) -> Row {
    let mut figure = Figure::plain(
        &gathered.period(),
        portions.iter().map(|portion| portion.grams).sum(),
        portions.len(),
    );
    figure.method = letter(portions.into_iter());
    let mut row = Row::new("unassigned").with("yield_g", figure);
    row.say("yard_unknown");
    row
}

fn yard_row(gathered: &Gathered<'_>, yard: YardId) -> Row {
    let period = gathered.period();
    let portions: Vec<&Portion> = gathered.shares_of(yard).map(|share| share.portion).collect();
    let yield_g: i64 = portions.iter().map(|portion| portion.grams).sum();
    let disputed_g: i64 = portions
        .iter()
        .filter(|portion| portion.hive.is_none())
        .map(|portion| portion.grams)
        .sum();
    let method = letter(portions.iter().copied());
    let mut row = Row::of(gathered.house, yard);
    let boxes = portions.iter().filter(|portion| portion.super_id.is_some()).count();
    let mut sum = Figure::plain(&period, yield_g, boxes);
    sum.method = method;
    row.figure("yield_g", sum);
    if let Some(off) = shares_off_g(gathered, |portion| portion.yard == Some(yard)) {
        let mut figure = Figure::plain(&period, off, boxes);
        figure.method = method;
        row.figure("weighing_alone_g", figure);
    }
    if disputed_g > 0 {
        row.figure("hive_disputed_g", Figure::plain(&period, disputed_g, boxes));
    }
    let producing = gathered.producing(gathered.shares_of(yard));
    row.figure("producing_colonies", counted(&period, producing));
    let mut y2 = Figure::of(&period).per(yield_g, producing);
    y2.method = method;
    row.figure("y2_g", y2);
    let units = gathered.units.get(&yard).map_or(&[][..], Vec::as_slice);
    if let Some(csf) = gathered.csf(yard) {
        row.figure("colonies_at_start_of_flow", counted(&period, csf));
        let mut y1 = y1(&period, (yield_g, csf), &from_start(units, gathered, false), disputed_g);
        y1.method = method;
        row.figure("y1_g", y1);
        if let Some((mut without, _)) = without_accidents(gathered, yard, (yield_g, csf)) {
            without.method = method;
            row.figure("y1_without_accidents_g", without);
        }
        if crowded(csf.high) {
            row.say("crowded");
        }
    } else {
        row.say("not_counted_at_start_of_flow");
    }
    middle(&mut row, &period, &from_start(units, gathered, false), method);
    if !gathered.without_pot(yard).is_empty() {
        row.say("at_least");
    }
    if even_shares_percent(portions.iter().copied()) > 25 {
        row.say("even_shares_hide_differences");
    }
    row
}

/// The kilograms of the colonies that were there from the start.
fn from_start<'a>(units: &'a [Unit], gathered: &Gathered<'_>, without_accidents: bool) -> Vec<&'a Unit> {
    let counted = units.iter().filter(|unit| unit.from_start);
    counted
        .filter(|unit| !without_accidents || unit.left_out(gathered.house, gathered.year).is_none())
        .collect()
}

pub(super) fn counted(period: &str, of: Denominator) -> Figure {
    let mut figure = Figure::of(period);
    if of.low == of.high {
        figure.value = Some(of.low);
    } else {
        (figure.low, figure.high) = (Some(of.low), Some(of.high));
        figure.why_no_range = Some(WhyNoRange::Disputed);
    }
    figure.denominator = Some(of);
    figure.n = of.high;
    figure
}

/// Y1, with the range of ten and more colonies where the count is sure (AN-1, AN-5).
fn y1(period: &str, (yield_g, csf): (i64, Denominator), units: &[&Unit], disputed_g: i64) -> Figure {
    let mut figure = Figure::of(period).per(yield_g, csf);
    if figure.why_no_range.is_some() || figure.value.is_none() {
        return figure;
    }
    // Disputed kilograms may be those of one or of the other: the wider range of both readings stands.
    let sure = half_g(units.iter().map(|unit| unit.sure_g));
    let all = half_g(units.iter().map(|unit| unit.sure_g + unit.disputed_g));
    let half = if disputed_g > 0 { sure.max(all) } else { sure };
    match (half, figure.value) {
        (Some(half), Some(value)) => {
            figure.low = Some((value - half).max(0));
            figure.high = Some(value + half);
            figure.level_percent = Some(95);
        }
        _ => figure.why_no_range = Some(WhyNoRange::TooFew),
    }
    figure
}

/// Half the width of the range of a mean, for ten colonies and more.
fn half_g(grams: impl Iterator<Item = i64>) -> Option<i64> {
    match spread(grams) {
        Spread::Mean { deviation_g, grams, .. } => {
            let n = float(i64::try_from(grams.len()).ok()?);
            whole(student_t(0.975, n - 1.0)? * float(deviation_g) / libm::sqrt(n))
        }
        Spread::Dots { .. } | Spread::Middle { .. } => None,
    }
}

/// The middle colony of five to nine, and how surely the range holds the middle of all colonies like these.
fn middle(row: &mut Row, period: &str, units: &[&Unit], method: Option<Method>) {
    if let Spread::Middle {
        median_g,
        low_g,
        high_g,
        holds_middle_hundred_thousandths,
        grams,
    } = spread(units.iter().map(|unit| unit.sure_g))
    {
        let mut figure = Figure::plain(period, median_g, grams.len());
        (figure.low, figure.high) = (Some(low_g), Some(high_g));
        figure.level_percent = Some(holds_middle_hundred_thousandths / 1000);
        figure.method = method;
        row.figure("middle_colony_g", figure);
    }
}

/// Y1 without the colonies that the owner leaves out, and the honey it is of; nothing where there are none.
pub(super) fn without_accidents(
    gathered: &Gathered<'_>,
    yard: YardId,
    (yield_g, csf): (i64, Denominator),
) -> Option<(Figure, i64)> {
    let units = gathered.units.get(&yard)?;
    let out = units
        .iter()
        .filter(|unit| unit.left_out(gathered.house, gathered.year).is_some());
    let out: Vec<&Unit> = out.collect();
    if out.is_empty() {
        return None;
    }
    let fewer = i64::try_from(out.iter().filter(|unit| unit.from_start).count()).ok()?;
    let csf = Denominator {
        low: (csf.low - fewer).max(0),
        high: (csf.high - fewer).max(0),
        ..csf
    };
    let less_g: i64 = out.iter().map(|unit| unit.sure_g).sum();
    let disputed_g: i64 = out.iter().map(|unit| unit.disputed_g).sum();
    let kept = from_start(units, gathered, true);
    let figure = y1(&gathered.period(), (yield_g - less_g, csf), &kept, disputed_g);
    let reasons = out.iter().filter_map(|unit| {
        let accident = unit.left_out(gathered.house, gathered.year)?.accident;
        Some(LeftOut::because(gathered.house, unit.hive, accident.word()))
    });
    Some((figure.without(reasons), yield_g - less_g))
}

/// The whole operation: a colony that was carried from one counted yard to another counts once.
fn season_row(gathered: &Gathered<'_>, shown: &[YardId]) -> Row {
    let period = gathered.period();
    let total_g = gathered.total_g();
    let method = letter(
        gathered
            .shares()
            .map(|share| share.portion)
            .collect::<Vec<_>>()
            .into_iter(),
    );
    let mut row = Row::new(period.clone());
    let boxes = gathered
        .shares()
        .filter(|share| share.portion.super_id.is_some())
        .count();
    let mut sum = Figure::plain(&period, total_g, boxes);
    sum.method = method;
    row.figure("yield_g", sum);
    let unassigned = gathered.shares().filter(|share| share.portion.yard.is_none());
    let unassigned_g = unassigned.map(|share| share.portion.grams).sum();
    row.figure("unassigned_g", Figure::plain(&period, unassigned_g, boxes));
    if let Some(off) = shares_off_g(gathered, |_| true) {
        row.figure("weighing_alone_g", Figure::plain(&period, off, boxes));
    }
    let producing = gathered.producing(gathered.shares());
    row.figure("producing_colonies", counted(&period, producing));
    let mut y2 = Figure::of(&period).per(total_g, producing);
    y2.method = method;
    row.figure("y2_g", y2);
    let (csf, uncounted) = season_csf(gathered, shown);
    let mut y1 = Figure::of(&period);
    if let Some(csf) = csf {
        row.figure("colonies_at_start_of_flow", counted(&period, csf));
        y1 = y1.per(total_g, csf);
    }
    y1.method = method;
    row.figure("y1_g", y1.without(uncounted));
    row
}

/// The colonies of the operation, each once; nothing where a yard that gave honey was not counted.
pub(super) fn season_csf(gathered: &Gathered<'_>, shown: &[YardId]) -> (Option<Denominator>, Vec<LeftOut>) {
    let uncounted: Vec<LeftOut> = shown
        .iter()
        .filter(|yard| gathered.csf(**yard).is_none())
        .map(|yard| LeftOut::because(gathered.house, *yard, "not_counted_at_start_of_flow"))
        .collect();
    let counts: Vec<Denominator> = shown.iter().filter_map(|yard| gathered.csf(*yard)).collect();
    let Some(first) = counts.first().filter(|_| uncounted.is_empty()) else {
        return (None, uncounted);
    };
    let mut seen = std::collections::BTreeSet::new();
    let counted = shown.iter().filter(|yard| gathered.csf(**yard).is_some());
    let units = counted.filter_map(|yard| gathered.units.get(yard)).flatten();
    let twice = units
        .filter(|unit| unit.from_start && !seen.insert(unit.subject()))
        .count();
    let twice = i64::try_from(twice).unwrap_or(i64::MAX);
    let low: i64 = counts.iter().map(|csf| csf.low).sum();
    let high: i64 = counts.iter().map(|csf| csf.high).sum();
    let csf = Denominator {
        kind: first.kind,
        low: (low - twice).max(0),
        high: (high - twice).max(0),
    };
    (Some(csf), Vec::new())
}

/// Every yard in every season so far.
fn years(house: &House, last: i32) -> Vec<Row> {
    let mut rows = Vec::new();
    for year in seasons_until(house, last) {
        let gathered = Gathered::of(house, year);
        for yard in gathered.yards().into_iter().filter(|yard| gathered.knows(*yard)) {
            rows.push(year_row(&gathered, yard));
        }
    }
    rows
}

fn year_row(gathered: &Gathered<'_>, yard: YardId) -> Row {
    let period = gathered.period();
    let yield_g = gathered.yard_g(yard);
    let mut row = Row::of(gathered.house, yard);
    row.season = Some(gathered.year);
    row.figure("yield_g", Figure::plain(&period, yield_g, 0));
    let method = letter(
        gathered
            .shares_of(yard)
            .map(|share| share.portion)
            .collect::<Vec<_>>()
            .into_iter(),
    );
    let mut y1 = Figure::of(&period);
    if let Some(csf) = gathered.csf(yard) {
        y1 = y1.per(yield_g, csf);
        if let Some((mut without, _)) = without_accidents(gathered, yard, (yield_g, csf)) {
            without.method = method;
            row.figure("y1_without_accidents_g", without);
        }
    }
    y1.method = method;
    row.figure("y1_g", y1);
    row
}

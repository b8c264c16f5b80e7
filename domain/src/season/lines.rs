//! Queen lines against each other in the same places over the same flow, once with all colonies and once with those that
//! made honey (AN-4, AN-6, AN-7).

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use super::answer::{Answer, Row};
use super::colonies::{queen_of, united_with};
use super::factors::{SIDE_BY_SIDE, choose, fit_row, pairs, period, rows};
use super::fair::{Ask, Fair, Gave, Of, alike, fair};
use super::figure::{Figure, Kind, LeftOut};
use super::gathered::{Gathered, seasons_until};
use super::off::even_shares_percent;
use super::standing::Unit;
use crate::house::House;
use crate::ids::{ColonyId, EntryId, YardId};
use crate::subject::Subject;

/// Colonies that stood in the same yards over one flow.
type Block = (i32, Vec<YardId>);
/// A queen, told apart from her colony's others.
type Queen = (Subject, EntryId);

/// A colony of a known line in one season.
struct Kept {
    hive: String,
    line: String,
    queen: Queen,
    block: Block,
    grams: i64,
}

/// The answer to "breed from which line".
#[must_use]
pub fn queen_lines(house: &House, from: i32, to: i32) -> Answer {
    let period = period(from, to);
    let mut answer = Answer::new("queen_lines", period.clone());
    answer.words.push(
        "A factor compares colonies that stood in the same places over the same flow, never raw means: lines are not \
         placed evenly."
            .to_owned(),
    );
    let (mut kept, mut left_out) = (Vec::new(), Vec::new());
    let mut even = Vec::new();
    for year in seasons_until(house, to).into_iter().filter(|year| *year >= from) {
        let gathered = Gathered::of(house, year);
        if gathered.runs.is_empty() {
            continue;
        }
        even.push(even_shares_percent(
            gathered
                .shares()
                .map(|share| share.portion)
                .collect::<Vec<_>>()
                .into_iter(),
        ));
        of_season(&gathered, &mut kept, &mut left_out);
    }
    if even.iter().any(|percent| *percent > 25) {
        answer.words.push(
            "More than a quarter of a season's honey was shared evenly (letter D), which hides differences: what is \
             1.30 in truth shows as about 1.24."
                .to_owned(),
        );
    }
    fit(&mut answer, ("lines", "pairs"), &kept, &period, Some(left_out));
    let with_honey: Vec<Kept> = kept.into_iter().filter(|of| of.grams > 0).collect();
    fit(
        &mut answer,
        ("lines_that_made_honey", "pairs_that_made_honey"),
        &with_honey,
        &period,
        None,
    );
    answer
}

fn fit(
    answer: &mut Answer,
    (lines_table, pairs_table): (&str, &str),
    kept: &[Kept],
    period: &str,
    left_out: Option<Vec<LeftOut>>,
) {
    let lines: BTreeSet<&str> = kept.iter().map(|of| of.line.as_str()).collect();
    let blocks: BTreeSet<&Block> = kept.iter().map(|of| &of.block).collect();
    let at_line: BTreeMap<&str, usize> = lines.iter().enumerate().map(|(at, line)| (*line, at)).collect();
    let at_block: BTreeMap<&Block, usize> = blocks.iter().enumerate().map(|(at, block)| (*block, at)).collect();
    let gave = kept.iter().filter_map(|of| {
        Some(Gave {
            row: *at_line.get(of.line.as_str())?,
            block: *at_block.get(&of.block)?,
            grams: of.grams,
        })
    });
    let gave: Vec<Gave> = gave.collect();
    let mut seasons: BTreeMap<Queen, u32> = BTreeMap::new();
    for of in kept {
        *seasons.entry(of.queen).or_default() += 1;
    }
    let seasons: Vec<u32> = seasons.into_values().collect();
    let ask = Ask {
        rows: lines.len(),
        blocks: blocks.len(),
        alike: alike(&seasons),
        of: Of::Lines,
    };
    let fair = fair(ask, &gave);
    let names: Vec<String> = lines.iter().map(|line| (*line).to_owned()).collect();
    let named = names.iter().map(|line| line_row(line, kept, period)).collect();
    let shown = rows(&fair, named, period, Kind::Colonies);
    answer.table(lines_table, shown);
    answer.table(pairs_table, pairs(&fair, &names, period, SIDE_BY_SIDE));
    if let Some(left_out) = left_out {
        choose(answer, &fair, &names);
        let count = i64::try_from(left_out.len()).unwrap_or(i64::MAX);
        let left_out = Figure::plain(period, count, kept.len()).without(left_out);
        answer.table(
            "season",
            vec![fit_row(&fair, period).with("colonies_left_out", left_out)],
        );
        answer.table("dots", dots(&fair, &names, kept));
    }
}

/// The colonies of lines of which too little is known for a range: each by itself.
fn dots(fair: &Fair, names: &[String], kept: &[Kept]) -> Vec<Row> {
    let few: BTreeSet<&str> = names
        .iter()
        .zip(&fair.rows)
        .filter(|(_, row)| row.range.is_none())
        .map(|(name, _)| name.as_str())
        .collect();
    let dot = |of: &Kept| {
        let mut row = Row::new(of.line.as_str());
        row.beside = Some(of.hive.clone());
        row.season = Some(of.block.0);
        row.with("yield_g", Figure::plain(&of.block.0.to_string(), of.grams, 1))
    };
    kept.iter()
        .filter(|of| few.contains(of.line.as_str()))
        .map(dot)
        .collect()
}

fn line_row(line: &str, kept: &[Kept], period: &str) -> Row {
    let of_line: Vec<&Kept> = kept.iter().filter(|of| of.line == line).collect();
    let queens: BTreeSet<Queen> = of_line.iter().map(|of| of.queen).collect();
    let count = |n: usize| Figure::plain(period, i64::try_from(n).unwrap_or(i64::MAX), n);
    let grams: i64 = of_line.iter().map(|of| of.grams).sum();
    let without = of_line.iter().filter(|of| of.grams == 0).count();
    Row::new(line)
        .with("colonies", count(of_line.len()))
        .with("queens", count(queens.len()))
        .with("without_honey", count(without))
        .with("yield_g", Figure::plain(period, grams, of_line.len()))
}

/// A colony over all the places where it stood, and what it gave in all of them.
struct Whole<'a> {
    unit: &'a Unit,
    sure_g: i64,
    disputed_g: i64,
}

fn of_season(gathered: &Gathered<'_>, kept: &mut Vec<Kept>, left_out: &mut Vec<LeftOut>) {
    let mut wholes: BTreeMap<Subject, Whole<'_>> = BTreeMap::new();
    // Where it stood at the start of its first flow decides; what it gave elsewhere is added.
    let mut units: Vec<&Unit> = gathered.units.values().flatten().collect();
    units.sort_by_key(|unit| (!unit.from_start, gathered.starts.get(&unit.yard).copied(), unit.yard));
    for unit in units {
        let whole = wholes.entry(unit.subject()).or_insert(Whole {
            unit,
            sure_g: 0,
            disputed_g: 0,
        });
        whole.sure_g += unit.sure_g;
        whole.disputed_g += unit.disputed_g;
    }
    let united = shared_by_united(gathered, &wholes);
    for whole in wholes.values().filter(|whole| whole.unit.from_start) {
        match of_unit(gathered, whole, &united) {
            Ok(of) => kept.push(of),
            Err(reason) => {
                let reason = format!("{}: {reason}", gathered.year);
                left_out.push(LeftOut::because(gathered.house, whole.unit.hive, &reason));
            }
        }
    }
}

fn line_of(gathered: &Gathered<'_>, unit: &Unit) -> Option<String> {
    let start = gathered.starts.get(&unit.yard)?;
    let queen = gathered.house.colony(unit.colony?)?.queen_on(*start)?;
    queen.line.as_ref().map(ToString::to_string)
}

/// Colonies that were united within the season, each with half of what both gave; nothing where their lines differ.
fn shared_by_united(gathered: &Gathered<'_>, wholes: &BTreeMap<Subject, Whole<'_>>) -> BTreeMap<ColonyId, Option<i64>> {
    let mut shared: BTreeMap<ColonyId, Option<i64>> = BTreeMap::new();
    for whole in wholes.values() {
        let (Some(one), Some(other)) = (whole.unit.colony, united_with(gathered, whole.unit)) else {
            continue;
        };
        let with = wholes.get(&Subject::from(other));
        let same = with.is_some_and(|with| line_of(gathered, with.unit) == line_of(gathered, whole.unit));
        let half = with.filter(|_| same).map(|with| (whole.sure_g + with.sure_g) / 2);
        // A third that joins makes all three incomparable.
        for colony in [one, other] {
            let half = if shared.contains_key(&colony) { None } else { half };
            shared.insert(colony, half);
        }
    }
    shared
}

fn of_unit(
    gathered: &Gathered<'_>,
    whole: &Whole<'_>,
    united: &BTreeMap<ColonyId, Option<i64>>,
) -> Result<Kept, &'static str> {
    let unit = whole.unit;
    if let Some(out) = unit.left_out(gathered.house, gathered.year) {
        return Err(out.accident.word());
    }
    let colony = unit.colony.ok_or("line_unknown")?;
    let line = line_of(gathered, unit).ok_or("line_unknown")?;
    let queen = queen_of(gathered, unit).ok_or("line_unknown")?;
    let start = *gathered.starts.get(&unit.yard).ok_or("no_flow")?;
    let block = route(gathered, unit, start);
    let last = block.iter().filter_map(|yard| gathered.last_pulls.get(yard)).max();
    if requeened(gathered, colony, start, last.copied()) {
        return Err("requeened");
    }
    if whole.disputed_g * 10 > whole.sure_g + whole.disputed_g {
        return Err("disputed");
    }
    let grams = match united.get(&colony) {
        None => whole.sure_g,
        Some(Some(half)) => *half,
        Some(None) => return Err("united_with_another_line"),
    };
    Ok(Kept {
        hive: gathered.house.label(unit.hive.into()),
        line,
        queen,
        block: (gathered.year, block),
        grams,
    })
}

/// Whether a new queen came between the start of the flow and the last pull.
fn requeened(gathered: &Gathered<'_>, colony: ColonyId, start: NaiveDate, last: Option<NaiveDate>) -> bool {
    let queens = gathered.house.colony(colony).map_or(&[][..], |colony| &colony.queens);
    let within = |queen: &crate::colony::Queen| queen.from > start && last.is_none_or(|last| queen.from <= last);
    queens.iter().skip(1).any(within)
}

/// The yards in which a colony's hive stood from the start of the flow on, as long as honey was taken there.
fn route(gathered: &Gathered<'_>, unit: &Unit, start: NaiveDate) -> Vec<YardId> {
    let mut yards = vec![unit.yard];
    let stays = gathered.house.hive(unit.hive).map_or(&[][..], |hive| &hive.stays);
    for stay in stays.iter().filter(|stay| stay.day() > start) {
        let taken = gathered
            .last_pulls
            .get(&stay.yard_id)
            .is_some_and(|last| *last >= stay.day());
        if taken && yards.last() != Some(&stay.yard_id) {
            yards.push(stay.yard_id);
        }
    }
    yards
}

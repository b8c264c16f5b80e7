//! The figures of a season for people: each table with its figures in columns, ranges behind their values.

use std::collections::BTreeSet;
use std::fmt::Write;

use domain::season::answer::{Answer, Row};
use domain::season::figure::{Figure, WhyNoRange};

use super::tables::{Table, kg};
use crate::wire::seasons::{CsvRefused, SeasonAnswer, csv};

/// Columns that people look for first, in this order; the rest follows by name.
const FIRST: &[&str] = &[
    "yield_g",
    "pot_g",
    "colonies",
    "queens",
    "colonies_at_start_of_flow",
    "producing_colonies",
    "y1_g",
    "y2_g",
    "factor_thousandths",
    "best_guess_thousandths",
    "place",
    "ratio_thousandths",
    "index_thousandths",
    "net_g",
];

/// Several answers one after the other as CSV, with one head.
pub(super) fn as_csv(answers: &[SeasonAnswer]) -> Result<String, CsvRefused> {
    let mut out = String::new();
    for (at, answer) in answers.iter().enumerate() {
        let text = String::from_utf8_lossy(&csv(answer)?).into_owned();
        let lines = text.split_inclusive("\r\n").skip(usize::from(at > 0));
        out.extend(lines);
    }
    Ok(out)
}

/// One answer as tables.
pub(super) fn tables(answer: &Answer) -> String {
    let title = answer.report.replace(['_', '-'], " ");
    let mut out = format!("Season {}: {title}\n", answer.period);
    for table in answer.tables.iter().filter(|table| !table.rows.is_empty()) {
        let _ = writeln!(out, "\n{}", table.name.replace('_', " "));
        lay_out(&mut out, &table.rows);
    }
    if !answer.words.is_empty() {
        out.push('\n');
    }
    for sentence in &answer.words {
        let _ = writeln!(out, "{sentence}");
    }
    out
}

fn lay_out(out: &mut String, rows: &[Row]) {
    let names: BTreeSet<&str> = rows
        .iter()
        .flat_map(|row| row.figures.keys())
        .map(String::as_str)
        .collect();
    let first = FIRST.iter().copied().filter(|name| names.contains(name));
    let rest = names.iter().copied().filter(|name| !FIRST.contains(name));
    let figures: Vec<&str> = first.chain(rest).collect();
    let has = |of: fn(&Row) -> bool| rows.iter().any(of);
    let (beside, on, season) = (
        has(|row| row.beside.is_some()),
        has(|row| row.on.is_some()),
        has(|row| row.season.is_some()),
    );
    let mut head: Vec<String> = vec![String::new()];
    head.extend(beside.then(|| "beside".to_owned()));
    head.extend(on.then(|| "day".to_owned()));
    head.extend(season.then(|| "season".to_owned()));
    let numbers_from = head.len();
    head.extend(figures.iter().map(|name| heading(name)));
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    let numbers: Vec<usize> = (numbers_from..head.len()).collect();
    let mut table = Table::new(&head, &numbers);
    for row in rows {
        let mut cells = vec![row.name.clone()];
        cells.extend(beside.then(|| row.beside.clone().unwrap_or_default()));
        cells.extend(on.then(|| row.on.map(|on| on.to_string()).unwrap_or_default()));
        cells.extend(season.then(|| row.season.map(|season| season.to_string()).unwrap_or_default()));
        cells.extend(figures.iter().map(|name| {
            let figure = row.figures.get(*name);
            figure.map(|figure| cell(name, figure)).unwrap_or_default()
        }));
        cells.push(words(row));
        table.row(cells);
    }
    table.write(out);
}

/// A figure's name with its unit as people write it.
fn heading(figure: &str) -> String {
    let (name, unit) = unit_of(figure);
    let name = match name {
        "colonies_at_start_of_flow" => "CSF".to_owned(),
        "producing_colonies" => "PC".to_owned(),
        "y1" => "Y1".to_owned(),
        "y2" => "Y2".to_owned(),
        name => name.replace('_', " "),
    };
    match unit {
        Unit::Kilograms => format!("{name} kg"),
        Unit::Tenths("%") | Unit::Hundredths("%") => format!("{name} %"),
        _ => name,
    }
}

/// How the end of a figure's name is to be read.
#[derive(Clone, Copy)]
enum Unit {
    Kilograms,
    Tenths(&'static str),
    Hundredths(&'static str),
    Thousandths,
    Whole,
}

fn unit_of(figure: &str) -> (&str, Unit) {
    for (end, unit) in [
        ("_tenths_percent", Unit::Tenths("%")),
        ("_hundredths_percent", Unit::Hundredths("%")),
        ("_tenths", Unit::Tenths("")),
        ("_hundredths", Unit::Hundredths("")),
        ("_thousandths", Unit::Thousandths),
        ("_g", Unit::Kilograms),
    ] {
        if let Some(name) = figure.strip_suffix(end) {
            return (name, unit);
        }
    }
    (figure, Unit::Whole)
}

fn value(unit: Unit, value: i64) -> String {
    let parts = |of: u64, wide: usize| {
        let size = value.unsigned_abs();
        let sign = if value < 0 { "-" } else { "" };
        format!("{sign}{}.{:0wide$}", size / of, size % of)
    };
    match unit {
        Unit::Kilograms => kg(value),
        Unit::Tenths(_) => parts(10, 1),
        Unit::Hundredths(_) => parts(100, 2),
        Unit::Thousandths => parts(1000, 3),
        Unit::Whole => value.to_string(),
    }
}

fn cell(name: &str, figure: &Figure) -> String {
    let (_, unit) = unit_of(name);
    let of = |number: i64| value(unit, number);
    let range = figure
        .low
        .zip(figure.high)
        .map(|(low, high)| format!("{} to {}", of(low), of(high)));
    let letter = figure
        .method
        .filter(|_| name == "yield_g")
        .map(|method| format!(" {method:?}"));
    let shown = match (figure.value, range) {
        (Some(number), Some(range)) => format!("{} ({range})", of(number)),
        (Some(number), None) => of(number),
        (None, Some(range)) => range,
        (None, None) => figure.why_no_range.map_or("-", why).to_owned(),
    };
    shown + letter.as_deref().unwrap_or_default()
}

/// Why there is no figure, in a word or two.
const fn why(why: WhyNoRange) -> &'static str {
    match why {
        WhyNoRange::TooFew => "too few",
        WhyNoRange::OneYear => "one year",
        WhyNoRange::NotConnected => "never stood together",
        WhyNoRange::Disputed => "disputed",
        WhyNoRange::NoneMadeHoney => "none made honey",
        WhyNoRange::ZerosLeaveItOpen => "zeros leave it open",
    }
}

/// Marks and sentences of a row, and what was left out of its figures.
fn words(row: &Row) -> String {
    let left_out = row.figures.values().flat_map(|figure| &figure.left_out);
    let left_out: BTreeSet<String> = left_out
        .map(|out| format!("without {}: {}", out.name, out.reason))
        .collect();
    let marks = row.words.iter().map(|word| word.replace('_', " "));
    marks
        .chain(left_out.into_iter().map(|out| out.replace('_', " ")))
        .collect::<Vec<_>>()
        .join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_shown_in_their_units() {
        for (name, number, shown) in [
            ("yield_g", 20_470, "20.5"),
            ("factor_thousandths", 1_146, "1.146"),
            ("cash_per_kg_thousandths", -50, "-0.050"),
            ("minutes_per_kg_tenths", 305, "30.5"),
            ("margin_hundredths", -1, "-0.01"),
            ("years_paid", 3, "3"),
        ] {
            let mut figure = Figure::of("2025");
            figure.value = Some(number);
            assert_eq!(cell(name, &figure), shown);
        }
        assert_eq!(heading("above_limit_tenths_percent"), "above limit %");
        assert_eq!(heading("y1_g"), "Y1 kg");
    }

    #[test]
    fn a_range_stands_behind_its_value_and_a_reason_in_its_place() {
        let mut figure = Figure::of("2025");
        assert_eq!(cell("y1_g", &figure), "-");
        figure.why_no_range = Some(WhyNoRange::NoneMadeHoney);
        assert_eq!(cell("factor_thousandths", &figure), "none made honey");
        (figure.low, figure.high) = (Some(20_500), Some(21_706));
        assert_eq!(cell("y1_g", &figure), "20.5 to 21.7");
        figure.value = Some(21_000);
        assert_eq!(cell("y1_g", &figure), "21.0 (20.5 to 21.7)");
    }
}

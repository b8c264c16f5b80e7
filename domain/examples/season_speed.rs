//! How long the figures of a season take: 400 colonies in 20 yards, 1,500 supers, ten seasons, each super filled once a
//! season and weighed full and spun.
//!
//! `cargo run --release -p domain --example season_speed` prints it. The reference beside it is reading the same texts as
//! plain JSON, below which no answer from kept states can come. Nothing is asserted, for machines differ.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    missing_docs
)]

#[path = "../tests/common/mod.rs"]
mod common;

use std::collections::HashMap;
use std::time::Instant;

use common::farm::{Farm, counted, day};
use domain::entry::Recorded;
use domain::house::House;
use domain::season::report::Report;
use domain::state::State;
use domain::subject::Subject;

const HIVES: u32 = 400;
const YARDS: u32 = 20;
const SUPERS: u32 = 1_500;
/// Supers of a run.
const RUN: u32 = 50;
const FIRST: i32 = 2016;
const SEASONS: i32 = 10;

fn told() -> Farm {
    let mut farm = Farm::default();
    for number in 0..YARDS {
        farm.yard(number, &format!("yard {number:02}"));
    }
    for number in 0..HIVES {
        let line = ["Amber", "Heron", "Slate", "Wren"][usize::try_from(number / YARDS % 4).unwrap()];
        farm.colony(number, number % YARDS, Some(line));
    }
    for number in 0..SUPERS {
        farm.new_box(number);
    }
    for year in FIRST..FIRST + SEASONS {
        for number in 0..YARDS {
            farm.flow(number, year, None);
            farm.tell(
                day(year, 5, 1),
                counted(number, day(year, 5, 1), i64::from(HIVES / YARDS)),
            );
        }
        for first in (0..SUPERS).step_by(usize::try_from(RUN).unwrap()) {
            let on = day(year, 6, 1) + chrono::TimeDelta::days(i64::from(first / RUN) * 3);
            let gave: Vec<(u32, u32, i64)> = (first..first + RUN)
                .map(|number| (number, number % HIVES, 9_000 + i64::from(number * 7 % 60) * 100))
                .collect();
            farm.run_of(on, &gave);
        }
    }
    farm
}

/// Kind and text of every state that reports look at.
fn kept(farm: &Farm) -> Vec<(Subject, String)> {
    let mut of: HashMap<Subject, Vec<Recorded>> = HashMap::new();
    for told in &farm.book.entries {
        for subject in told.entry.touches() {
            of.entry(subject).or_default().push(told.clone());
        }
    }
    let fold = |(subject, entries): (Subject, Vec<Recorded>)| (subject, State::fold(subject, &entries).state_json());
    of.into_iter().map(fold).collect()
}

/// The middle of some times, in milliseconds.
fn middle(mut work: impl FnMut()) -> f64 {
    let mut times: Vec<u128> = (0..5)
        .map(|_| {
            let begin = Instant::now();
            work();
            begin.elapsed().as_micros()
        })
        .collect();
    times.sort_unstable();
    times[times.len() / 2] as f64 / 1_000.0
}

fn read(kept: &[(Subject, String)], report: Report) -> House {
    let mut house = House::default();
    for (subject, state) in kept
        .iter()
        .filter(|(subject, _)| report.needs().contains(&subject.kind))
    {
        house.insert(*subject, State::read(subject.kind, state, "{}").unwrap());
    }
    house
}

fn main() {
    let kept = kept(&told());
    let (to, from) = (FIRST + SEASONS - 1, FIRST);
    println!(
        "{:<14} {:>7} {:>7} {:>9} {:>9} {:>9} {:>10}",
        "report", "states", "MB", "plain ms", "read ms", "answer ms", "all/plain"
    );
    for report in Report::ALL {
        let of: Vec<&str> = kept
            .iter()
            .filter(|(subject, _)| report.needs().contains(&subject.kind))
            .map(|(_, state)| state.as_str())
            .collect();
        let bytes: usize = of.iter().map(|state| state.len()).sum();
        let plain = middle(|| {
            for state in &of {
                let _: serde_json::Value = serde_json::from_str(state).unwrap();
            }
        });
        let reading = middle(|| drop(read(&kept, *report)));
        let house = read(&kept, *report);
        let answering = middle(|| drop(report.answer(&house, from, to)));
        println!(
            "{:<14} {:>7} {:>7.1} {plain:>9.1} {reading:>9.1} {answering:>9.1} {:>10.2}",
            report.name(),
            of.len(),
            bytes as f64 / 1e6,
            (reading + answering) / plain
        );
    }
}

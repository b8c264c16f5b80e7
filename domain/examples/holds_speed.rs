//! How long the holds of a big house take: 400 hives, 500 supers, some seasons of treatments, feed and honey.
//!
//! `cargo run --release -p domain --example holds_speed` prints it; nothing is asserted, for machines differ.
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

use chrono::{DateTime, TimeDelta, Utc};
use common::care::{fed, feed_off, label, new_colony, put_in, suspected, taken_out};
use common::entries::{
    batch, bottled, delivered, drawn, hive, lot, new_hive, new_super, new_yard, placed, pulled, ran, received, uncapped,
};
use common::{Book, at};
use domain::entry::Recorded;
use domain::holds::Holds;
use domain::honey_super::SuperStored;
use domain::house::House;
use domain::recall::{Suspect, plain_text, recall};
use domain::state::State;
use domain::subject::Subject;
use domain::trace::Graph;

const HIVES: u32 = 400;
const SUPERS: u32 = 500;
const YARDS: u32 = 20;

fn season(book: &mut Book, year: u32) {
    let day = |days: i64| -> DateTime<Utc> { at(&format!("{}-03-01T09:00:00Z", 2015 + year)) + TimeDelta::days(days) };
    let in_yard = |yard: u32| -> Vec<u32> { (0..HIVES).filter(|hive| hive % YARDS == yard).collect() };
    for yard in 0..YARDS {
        let hives = in_yard(yard);
        book.tell(0, day(0), fed(&hives, 2_000));
        book.tell(0, day(20), feed_off(&hives));
        book.tell(0, day(10), put_in(&hives, yard % 3));
        book.tell(0, day(50), taken_out(&hives, Some(yard % 3)));
        book.tell(0, day(190), put_in(&hives, yard % 3));
        // One yard forgets to take its strips out.
        if yard != year % YARDS {
            book.tell(0, day(230), taken_out(&hives, None));
        }
    }
    for number in 0..SUPERS {
        let run = year * 100 + number / 25;
        book.tell(0, day(90), placed(number, number % HIVES));
        book.tell(0, day(140), pulled(number, None));
        book.tell(0, day(141), received(number, Some(20_000)));
        book.tell(0, day(142), uncapped(number, run));
        let dry = SuperStored {
            super_id: common::entries::honey_super(number),
            wet: false,
            place: None,
        };
        book.tell(0, day(200), dry);
    }
    for number in 0..SUPERS / 25 {
        let of = year * 100 + number;
        for pail in 0..10 {
            book.tell(0, day(143), ran(of * 10 + pail, of, 25_000));
            book.tell(0, day(150), drawn(of * 10 + pail, of * 10 + pail, 25_000));
            book.tell(0, day(151), bottled(of * 10 + pail, of * 10 + pail, 50));
            book.tell(0, day(160), delivered(of * 10 + pail, of * 10 + pail, 20, Some(pail)));
        }
    }
}

fn house(seasons: u32) -> House {
    let mut book = Book::default();
    let begin = at("2015-01-01T09:00:00Z");
    for yard in 0..YARDS {
        book.tell(0, begin, new_yard(yard, &format!("yard {yard}")));
    }
    for number in 0..HIVES {
        book.tell(0, begin, new_hive(number, number % YARDS, &format!("H{number}")));
        book.tell(0, begin, new_colony(number, number, None));
    }
    for number in 0..SUPERS {
        book.tell(0, begin, new_super(number));
    }
    for number in 0..3 {
        book.tell(0, begin, label(number, 14, false));
    }
    for year in 0..seasons {
        season(&mut book, year);
    }
    let late = at("2015-05-01T09:00:00Z") + TimeDelta::days(365 * i64::from(seasons - 1));
    book.tell(0, late, suspected(common::care::in_yard(3)));
    let mut of: HashMap<Subject, Vec<Recorded>> = HashMap::new();
    for told in &book.entries {
        for subject in told.entry.touches() {
            of.entry(subject).or_default().push(told.clone());
        }
    }
    let mut house = House::default();
    for (subject, entries) in of {
        house.insert(subject, State::fold(subject, &entries));
    }
    house
}

/// The middle of some times, in tenths of a millisecond.
fn middle(what: &str, mut work: impl FnMut()) {
    let mut times: Vec<u128> = (0..15)
        .map(|_| {
            let begin = Instant::now();
            work();
            begin.elapsed().as_micros()
        })
        .collect();
    times.sort_unstable();
    println!("  {what}: {:.1} ms", times[times.len() / 2] as f64 / 1_000.0);
}

fn main() {
    for seasons in [1, 3, 10] {
        let house = house(seasons);
        let now = at("2015-09-01T09:00:00Z") + TimeDelta::days(365 * i64::from(seasons - 1));
        let holds = Holds::of(&house);
        println!(
            "{seasons} seasons: {} things, {} causes, {} on the list",
            house.iter().count(),
            holds.causes().len(),
            holds.list(now).holds.len()
        );
        middle("graph of the honey's ways", || drop(Graph::of(&house)));
        middle("all holds, the graph included", || drop(Holds::of(&house)));
        middle("one lot, worked out anew", || {
            drop(Holds::of(&house).on(lot(5).into(), now))
        });
        middle("every lot and hive of them", || {
            for number in 0..HIVES {
                drop(holds.on(hive(number).into(), now));
                drop(holds.on(batch(number).into(), now));
            }
        });
        middle("the list", || drop(holds.list(now)));
        for (what, from) in [
            ("a lot", lot(5).into()),
            ("a hive", hive(5).into()),
            ("a yard", common::entries::yard(5).into()),
        ] {
            let suspect = Suspect::Things(vec![from]);
            middle(&format!("a recall of {what}"), || {
                drop(plain_text(&recall(&house, &suspect), now));
            });
        }
        let newest = holds.list(now).holds[0].hold_id;
        middle("one answer", || drop(holds.answer(newest, now)));
    }
}

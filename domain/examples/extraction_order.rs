//! How long it takes to say what to do next in houses of growing size: `cargo run -p domain --example extraction_order`.
//!
//! A made-up house: yards of 20 hives, as many supers as hives, each with seasons spun before and one waiting.
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::expect_used,
    missing_docs,
    reason = "a measurement prints, and stops where its made-up house is wrong"
)]

use std::time::Instant;

use chrono::{DateTime, TimeDelta, Utc};
use domain::entry::{Entry, Recorded};
use domain::house::House;
use domain::ids::{DeviceId, EntryId, MemberId};
use domain::next::next;
use domain::plan::extraction_order::{OrderAsked, plan_extraction_order};
use domain::state::State;
use domain::subject::Subject;
use serde_json::{Value, json};
use uuid::Uuid;

const HIVES_A_YARD: u128 = 20;
const SEASONS: u128 = 3;

fn id(kind: u128, number: u128) -> Uuid {
    Uuid::from_u128((kind << 96) | number)
}

struct Book {
    told: Vec<Recorded>,
    start: DateTime<Utc>,
}

impl Book {
    fn tell(&mut self, days: i64, kind: &str, data: &Value) {
        let entry = Entry::read(kind, 1, &data.to_string()).expect("a known entry");
        let number = self.told.len() as u128 + 1;
        self.told.push(Recorded {
            id: EntryId::from_uuid(id(1, number)),
            seq: number as i64,
            device: DeviceId::from_uuid(id(2, 1)),
            author: MemberId::from_uuid(id(3, 1)),
            device_counter: number as i64,
            saw: number as i64 - 1,
            effective_at: self.start + TimeDelta::days(days) + TimeDelta::seconds(number as i64 % 3_600),
            utc_offset_min: 60,
            entry,
        });
    }

    fn house(&self) -> House {
        let mut by_subject: std::collections::BTreeMap<Subject, Vec<Recorded>> = std::collections::BTreeMap::new();
        for told in &self.told {
            for subject in told.entry.touches() {
                by_subject.entry(subject).or_default().push(told.clone());
            }
        }
        let mut house = House::default();
        for (subject, entries) in by_subject {
            house.insert(subject, State::fold(subject, &entries));
        }
        house
    }
}

fn house(supers: u128) -> (House, DateTime<Utc>) {
    let start = "2023-05-01T06:00:00Z".parse().expect("a time");
    let mut book = Book {
        told: Vec::new(),
        start,
    };
    let (yard, hive, honey_super, run) = (|n| id(10, n), |n| id(11, n), |n| id(12, n), |n| id(13, n));
    for number in 0..supers.div_ceil(HIVES_A_YARD) {
        book.tell(
            0,
            "yard_registered",
            &json!({"yard_id": yard(number), "name": format!("yard {number}")}),
        );
    }
    for number in 0..supers {
        let code = format!("H{number:04}");
        let of = yard(number / HIVES_A_YARD);
        book.tell(
            0,
            "hive_registered",
            &json!({"hive_id": hive(number), "yard_id": of, "code": code}),
        );
        let number_on_it = format!("S{number:04}");
        book.tell(
            0,
            "super_registered",
            &json!({"super_id": honey_super(number), "number": number_on_it, "class": "medium", "frames": 9}),
        );
    }
    let mut days = 0;
    for season in 0..=SEASONS {
        days = season as i64 * 365;
        for number in 0..supers {
            let of = honey_super(number);
            book.tell(
                days + 10,
                "super_placed",
                &json!({"super_id": of, "hive_id": hive(number)}),
            );
            book.tell(days + 70, "super_pulled", &json!({"super_id": of}));
            book.tell(days + 71, "super_received", &json!({"super_id": of, "gross_g": 20_000}));
            let water = 1_650 + (number * 37 % 250);
            book.tell(
                days + 72,
                "moisture_read",
                &json!({"targets": [{"kind": "super", "id": of}], "shown": {"moisture_hundredths": water}}),
            );
            if season < SEASONS {
                let into = run(season * 1_000 + number / 50);
                book.tell(days + 73, "super_uncapped", &json!({"run_id": into, "super_id": of}));
            }
        }
    }
    (book.house(), start + TimeDelta::days(days + 74))
}

fn main() {
    println!("supers   order      next       to be spun  runs");
    for supers in [125, 250, 500, 1_000, 2_000] {
        let (house, now) = house(supers);
        let begin = Instant::now();
        let plan = plan_extraction_order(&OrderAsked::of_house(&house, now, None));
        let order = begin.elapsed();
        let begin = Instant::now();
        let tasks = next(&house, now).tasks.len();
        let all = begin.elapsed();
        assert_eq!(tasks, plan.supers.len(), "every super waits");
        let spun: i64 = plan.runs.iter().map(|run| run.supers).sum();
        println!(
            "{supers:>6}   {order:>8.1?}   {all:>8.1?}   {spun:>10}  {:>4}",
            plan.runs.len()
        );
    }
}

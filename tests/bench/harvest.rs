//! What is pushed: a made-up season of supers and hives, as a phone would have recorded it.

use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};
use uuid::Uuid;

/// How many supers there are.
pub(crate) const SUPERS: usize = 1_500;
/// How many hives there are.
pub(crate) const HIVES: usize = 400;
/// How many entries a season has.
pub(crate) const SEASON: usize = 10_000;
/// How many supers go into a run.
const RUN: usize = 50;
/// What happens to a super, one entry each.
const STEPS: usize = 5;
/// How many supers are filled twice in a season: so many that there are 10,000 entries, forty opened runs included.
const TWICE: usize = 492;
const _: () = assert!(SUPERS.div_ceil(RUN) + TWICE.div_ceil(RUN) + STEPS * (SUPERS + TWICE) == SEASON);

/// The things of one business and the phone that tells of them.
pub(crate) struct Harvest {
    yard: Uuid,
    meter: Uuid,
    scale: Uuid,
    hives: Vec<Uuid>,
    supers: Vec<Uuid>,
    counter: i64,
    at: DateTime<Utc>,
    saw: i64,
}

impl Harvest {
    /// Things of which nothing was told yet. Everything happens within the last thirty days, one second
    /// apart: half a million entries are told before any of them lies ahead of the clock.
    pub(crate) fn new(supers: usize) -> Self {
        let some = |n: usize| (0..n).map(|_| Uuid::now_v7()).collect();
        Self {
            yard: Uuid::now_v7(),
            meter: Uuid::now_v7(),
            scale: Uuid::now_v7(),
            hives: some(HIVES.min(supers)),
            supers: some(supers),
            counter: 0,
            at: Utc::now() - TimeDelta::days(30),
            saw: 0,
        }
    }

    /// The same things in the hands of another phone, which records as it happens and has seen all up to a number.
    pub(crate) fn in_other_hands(&self, saw: i64) -> Self {
        Self {
            hives: self.hives.clone(),
            supers: self.supers.clone(),
            counter: 0,
            at: Utc::now(),
            saw,
            ..*self
        }
    }

    /// One entry as it is sent.
    fn entry(&mut self, kind: &str, data: &Value) -> String {
        self.counter += 1;
        self.at += TimeDelta::seconds(1);
        json!({
            "id": Uuid::now_v7(), "kind": kind, "v": 1, "data": data, "happened_at": self.at,
            "utc_offset_min": 120, "happened_src": "clock", "device_counter": self.counter, "saw": self.saw,
            "salt": Uuid::new_v4().simple().to_string(),
        })
        .to_string()
    }

    /// Makes everything known: one entry a thing.
    pub(crate) fn register(&mut self) -> Vec<String> {
        let (yard, meter, scale) = (self.yard, self.meter, self.scale);
        let mut told = vec![
            self.entry(
                "yard_registered",
                &json!({ "yard_id": yard, "name": "west yard", "code": "W" }),
            ),
            self.entry(
                "meter_registered",
                &json!({ "meter_id": meter, "name": "meter 1", "compensated": false }),
            ),
            self.entry(
                "scale_registered",
                &json!({ "scale_id": scale, "name": "scale 1", "step_g": 50 }),
            ),
        ];
        for (n, hive) in self.hives.clone().into_iter().enumerate() {
            let data = json!({ "hive_id": hive, "yard_id": yard, "code": format!("W{n:03}") });
            told.push(self.entry("hive_registered", &data));
        }
        for (n, super_id) in self.supers.clone().into_iter().enumerate() {
            let data = json!({
                "super_id": super_id, "number": format!("{n:04}"), "class": "medium", "frames": 10, "tare_g": 7_100,
            });
            told.push(self.entry("super_registered", &data));
        }
        told
    }

    /// A season of 10,000 entries: every super is placed, pulled, weighed, measured and uncapped into a run of fifty,
    /// a third of them twice. Neighbours in the list are about different supers, so that no state is spared.
    pub(crate) fn season(&mut self) -> Vec<String> {
        let mut told = Vec::with_capacity(SEASON);
        let supers = self.supers.clone();
        for pass in [&supers[..], &supers[..TWICE]] {
            let runs: Vec<Uuid> = pass.chunks(RUN).map(|_| Uuid::now_v7()).collect();
            for run in &runs {
                told.push(self.entry("run_opened", &json!({ "run_id": run, "name": "run" })));
            }
            for step in 0..STEPS {
                for (n, super_id) in pass.iter().enumerate() {
                    let (kind, data) = self.step(step, n, *super_id, runs[n / RUN]);
                    told.push(self.entry(kind, &data));
                }
            }
        }
        told
    }

    /// A shorter season: every super once. As many entries as there are steps and supers, and a run for each fifty.
    pub(crate) fn short_season(&mut self) -> Vec<String> {
        let supers = self.supers.clone();
        let runs: Vec<Uuid> = supers.chunks(RUN).map(|_| Uuid::now_v7()).collect();
        let mut told = Vec::new();
        for run in &runs {
            told.push(self.entry("run_opened", &json!({ "run_id": run, "name": "run" })));
        }
        for step in 0..STEPS {
            for (n, super_id) in supers.iter().enumerate() {
                let (kind, data) = self.step(step, n, *super_id, runs[n / RUN]);
                told.push(self.entry(kind, &data));
            }
        }
        told
    }

    /// All up to this number was seen.
    pub(crate) const fn saw(&mut self, newest: i64) {
        self.saw = newest;
    }

    /// One super placed or pulled now.
    pub(crate) fn one(&mut self, n: usize) -> String {
        self.at = Utc::now();
        let super_id = self.supers[n % self.supers.len()];
        let (kind, data) = self.step(n / self.supers.len() % 2, n, super_id, Uuid::nil());
        self.entry(kind, &data)
    }

    /// Every super placed once.
    pub(crate) fn place_all(&mut self) -> Vec<String> {
        let supers = self.supers.clone();
        let mut told = Vec::with_capacity(supers.len());
        for (n, super_id) in supers.into_iter().enumerate() {
            let (kind, data) = self.step(0, n, super_id, Uuid::nil());
            told.push(self.entry(kind, &data));
        }
        told
    }

    fn step(&self, step: usize, n: usize, super_id: Uuid, run: Uuid) -> (&'static str, Value) {
        let hive = self.hives[n % self.hives.len()];
        match step {
            0 => (
                "super_placed",
                json!({ "super_id": super_id, "hive_id": hive, "comb": "wet" }),
            ),
            1 => (
                "super_pulled",
                json!({
                    "super_id": super_id, "hive_id": hive, "fullness_quarters": 4, "full_frames": 9,
                    "capped_percent": 85 + n % 15, "brood_seen": false,
                }),
            ),
            2 => (
                "super_received",
                json!({ "super_id": super_id, "gross_g": 18_000 + n % 5_000, "scale_id": self.scale }),
            ),
            3 => (
                "moisture_read",
                json!({
                    "targets": [{ "kind": "super", "id": super_id }],
                    "shown": { "refractive_index_e4": 14_900 + n % 40 }, "honey_tenths_c": 220 + n % 30,
                    "meter_id": self.meter, "compensated": false, "places": 3,
                }),
            ),
            _ => ("super_uncapped", json!({ "super_id": super_id, "run_id": run })),
        }
    }
}

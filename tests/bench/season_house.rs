//! Ten made-up seasons of 400 colonies, folded.

use std::collections::HashMap;

use anyhow::{Context, Result};
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::entry::{Entry, Recorded};
use domain::ids::{DeviceId, EntryId, MemberId};
use domain::state::State;
use domain::subject::Subject;
use serde_json::{Value, json};
use uuid::Uuid;

/// The first season.
pub(crate) const FIRST: i32 = 2016;
/// How many there are.
pub(crate) const SEASONS: i32 = 10;
const HIVES: usize = 400;
const YARDS: usize = 20;
const SUPERS: usize = 1_500;
/// Supers of a run.
const RUN: usize = 50;
/// What a spun super weighs.
const SPUN_G: i64 = 8_000;

/// What was told so far.
#[derive(Default)]
struct Told {
    entries: Vec<Recorded>,
}

impl Told {
    fn tell(&mut self, at: DateTime<Utc>, kind: &str, data: &Value) -> Result<()> {
        let counter = i64::try_from(self.entries.len())? + 1;
        self.entries.push(Recorded {
            id: EntryId::from_uuid(Uuid::now_v7()),
            seq: counter,
            device: DeviceId::from_uuid(Uuid::nil()),
            author: MemberId::from_uuid(Uuid::nil()),
            device_counter: counter,
            saw: counter - 1,
            effective_at: at,
            utc_offset_min: 0,
            entry: Entry::read(kind, 1, &data.to_string()).with_context(|| format!("{kind} {data}"))?,
        });
        Ok(())
    }
}

fn day(year: i32, after_march: i64) -> Result<DateTime<Utc>> {
    let march = NaiveDate::from_ymd_opt(year, 3, 1).and_then(|day| day.and_hms_opt(12, 0, 0));
    Ok(march.context("no such day")?.and_utc() + TimeDelta::days(after_march))
}

/// Every state, as the service would keep it.
pub(crate) fn kept() -> Result<Vec<(Subject, State)>> {
    let some = |n: usize| -> Vec<Uuid> { (0..n).map(|_| Uuid::now_v7()).collect() };
    let (yards, hives, supers) = (some(YARDS), some(HIVES), some(SUPERS));
    let mut told = Told::default();
    register(&mut told, &yards, &hives, &supers)?;
    for year in FIRST..FIRST + SEASONS {
        season(&mut told, year, (&yards, &hives, &supers))?;
    }
    let mut about: HashMap<Subject, Vec<Recorded>> = HashMap::new();
    for entry in told.entries {
        for subject in entry.entry.touches() {
            about.entry(subject).or_default().push(entry.clone());
        }
    }
    let fold = |(subject, entries): (Subject, Vec<Recorded>)| (subject, State::fold(subject, &entries));
    Ok(about.into_iter().map(fold).collect())
}

fn register(told: &mut Told, yards: &[Uuid], hives: &[Uuid], supers: &[Uuid]) -> Result<()> {
    let begin = day(FIRST - 1, 0)?;
    for (number, yard) in yards.iter().enumerate() {
        told.tell(
            begin,
            "yard_registered",
            &json!({ "yard_id": yard, "name": format!("yard {number:02}") }),
        )?;
    }
    for (number, hive) in hives.iter().enumerate() {
        let yard = yards.get(number % YARDS).context("no yard")?;
        let new = json!({ "hive_id": hive, "yard_id": yard, "code": format!("H{number:03}") });
        told.tell(begin, "hive_registered", &new)?;
        let line = ["Amber", "Heron", "Slate", "Wren"]
            .get(number / YARDS % 4)
            .context("no line")?;
        let new = json!({ "colony_id": Uuid::now_v7(), "hive_id": hive, "founding": "wintered", "queen_line": line });
        told.tell(begin, "colony_registered", &new)?;
    }
    for (number, super_id) in supers.iter().enumerate() {
        let new = json!({ "super_id": super_id, "number": format!("{number:04}"), "class": "medium", "frames": 10 });
        told.tell(begin, "super_registered", &new)?;
    }
    Ok(())
}

fn season(told: &mut Told, year: i32, (yards, hives, supers): (&[Uuid], &[Uuid], &[Uuid])) -> Result<()> {
    let flow = day(year, 61)?;
    for yard in yards {
        let on = flow.date_naive();
        told.tell(flow, "flow_started", &json!({ "yard_id": yard, "on": on }))?;
        told.tell(
            flow,
            "colonies_counted",
            &json!({ "yard_id": yard, "on": on, "fit": HIVES / YARDS }),
        )?;
    }
    for (at, part) in supers.chunks(RUN).enumerate() {
        let on = 92 + i64::try_from(at)? * 3;
        let run = Uuid::now_v7();
        told.tell(
            day(year, on)?,
            "run_opened",
            &json!({ "run_id": run, "name": format!("{year}-R{at:02}") }),
        )?;
        let mut pot = 0;
        for (within, super_id) in part.iter().enumerate() {
            let number = at * RUN + within;
            let hive = hives.get(number % HIVES).context("no hive")?;
            let net = 9_000 + i64::try_from(number * 7 % 60)? * 100;
            let water = 1_650 + number * 13 % 250;
            told.tell(
                day(year, on - 20)?,
                "super_placed",
                &json!({ "super_id": super_id, "hive_id": hive }),
            )?;
            told.tell(
                day(year, on - 2)?,
                "super_pulled",
                &json!({ "super_id": super_id, "capped_percent": 90 }),
            )?;
            let received = json!({ "super_id": super_id, "gross_g": SPUN_G + net });
            told.tell(day(year, on - 1)?, "super_received", &received)?;
            let read = json!({ "targets": [{ "kind": "super", "id": super_id }],
                "shown": { "moisture_hundredths": water }, "places": 3 });
            told.tell(day(year, on - 1)?, "moisture_read", &read)?;
            told.tell(
                day(year, on)?,
                "super_uncapped",
                &json!({ "run_id": run, "super_id": super_id }),
            )?;
            let wet = json!({ "run_id": run, "super_id": super_id, "gross_g": SPUN_G });
            told.tell(day(year, on)?, "wet_weighed", &wet)?;
            pot += net;
        }
        for _ in 0..20 {
            let fill = json!({ "fill_id": Uuid::now_v7(), "source": { "run_id": run },
                "gross_g": pot / 20 + 1_250, "tare_g": 1_250 });
            told.tell(day(year, on)?, "container_filled", &fill)?;
        }
        told.tell(
            day(year, on + 1)?,
            "cappings_weighed",
            &json!({ "run_id": run, "honey_g": 0, "wax_g": 8_000 }),
        )?;
    }
    Ok(())
}

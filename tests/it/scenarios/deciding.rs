//! The phone decides alone: the same wish through the WebAssembly that phones run, on the rows that one of them pulled, and
//! through the calls of the service, with the same entry, the same warnings, the same refusal. Every kind that a call
//! tells, on a house that goes from yard to jar, and then on whatever the dice make of it.
//!
//! `YARDJAR_WISHES=5000 tests/run phone_decides_alone -- --nocapture` asks more; another `YARDJAR_SEED` asks otherwise.

use std::collections::{BTreeMap, BTreeSet};

use anyhow::{Context, Result, ensure};
use api::auth::Role;
use chrono::{TimeDelta, Utc};
use domain::lot_code::LotCode;
use serde_json::{Map, Value, json};
use tests::{Client, Dice, FieldPhone, Service, invariants};
use uuid::Uuid;

use super::deciding_story::STORY;
use crate::doors::{WRITES, in_path};
use crate::phone_alike::{Wasm, change, golden, kind_of, numbered, one, visit};

/// How a kind is told to the service: the path, and the field of the data that stands in it or follows from the caller.
struct Way {
    path: String,
    in_path: Option<String>,
}

/// What tells the settings, whose subject is the caller's own.
const SETTINGS: &[(&str, &str)] = &[
    ("POST /v1/settings/hold-days", "hold_days_set"),
    ("POST /v1/settings/house-limits", "house_limit_set"),
    ("POST /v1/settings/plans", "season_planned"),
    ("POST /v1/settings/profile-values", "profile_value_changed"),
    ("POST /v1/settings/profiles", "profile_chosen"),
    ("POST /v1/settings/regions", "region_chosen"),
];

/// Every kind that a call tells and decides.
fn ways() -> BTreeMap<String, Way> {
    let way = |call: &str, in_path: Option<String>| Way {
        path: call.trim_start_matches("POST ").to_owned(),
        in_path,
    };
    let things = WRITES
        .iter()
        .map(|(call, kind)| ((*kind).to_owned(), way(call, in_path(call))));
    let settings = SETTINGS.iter().map(|(call, kind)| {
        let own = Some("operation_id".to_owned());
        ((*kind).to_owned(), way(call, own))
    });
    things.chain(settings).collect()
}

/// What came of the wishes of a kind.
#[derive(Debug, Default)]
struct Tally {
    granted: usize,
    warned: usize,
    refused: BTreeMap<String, usize>,
    unread: usize,
}

/// The phone and the office, who know the same.
struct Both {
    ways: BTreeMap<String, Way>,
    service: Service,
    office: Client,
    phone: FieldPhone,
    rules: Wasm,
    shown: BTreeMap<(String, String), Value>,
    tally: BTreeMap<String, Tally>,
    /// The last entry of each kind.
    written: BTreeMap<String, Uuid>,
}

impl Both {
    /// In the story an entry is called by its kind, `"hold_id": "@hold_set"`, and a code that is free `@code`.
    fn with_entries(&self, told: &str) -> Result<String> {
        let mut told = told.replace("@code", &LotCode::make(2025, None, 8)?.to_string());
        for (kind, id) in &self.written {
            told = told.replace(&format!("\"@{kind}\""), &format!("\"{id}\""));
        }
        Ok(told)
    }

    async fn new() -> Result<Self> {
        let service = Service::start().await?;
        Ok(Self {
            ways: ways(),
            office: service.owner(),
            phone: FieldPhone::new(service.operation.phone(Role::Owner).await?.client),
            rules: Wasm::load("rules.wasm")?,
            shown: BTreeMap::new(),
            tally: BTreeMap::new(),
            written: BTreeMap::new(),
            service,
        })
    }

    /// The phone pulls, and its rules hold what is new.
    async fn pull(&mut self) -> Result<()> {
        self.phone.sync_patiently(5).await?;
        let rows = &self.phone.book.rows;
        let new: Vec<&Value> = rows
            .iter()
            .filter(|(key, row)| self.shown.get(*key) != Some(*row))
            .map(|(_, row)| row)
            .collect();
        let held = self.rules.ask(&json!({ "call": "hold", "rows": new }).to_string())?;
        let held: Value = serde_json::from_str(&held)?;
        ensure!(held == json!({ "held": rows.len() }), "{held}");
        self.shown.clone_from(rows);
        Ok(())
    }

    /// Asks both. Answers `granted`, `warned`, or the code of the refusal.
    async fn ask(&mut self, kind: &str, data: &Value) -> Result<String> {
        let way = self.ways.get(kind).with_context(|| format!("{kind} has no call"))?;
        let mut body = data.as_object().cloned().context("an object")?;
        let mut path = way.path.clone();
        if let Some(field) = &way.in_path {
            let id = body.remove(field).unwrap_or_default();
            path = path.replace("{id}", id.as_str().unwrap_or_default());
        }
        let ask = json!({ "call": "decide", "now": Utc::now(), "wish": { "kind": kind, "data": data } });
        let here: Value = serde_json::from_str(&self.rules.ask(&ask.to_string())?)?;
        let there = self.office.post(&path, &Value::Object(body)).await?;
        let told = format!(
            "{kind} {data}: the phone says {here}, the service {} {}",
            there.status, there.text
        );
        let tally = self.tally.entry(kind.to_owned()).or_default();
        match there.status {
            201 => {
                ensure!(here["warnings"] == there.json["warnings"], "{told}");
                let id: Uuid = serde_json::from_value(there.json["entry_id"].clone())?;
                let written = format!("select body as text from entry where id = '{id}'");
                let written: Value = serde_json::from_str(&self.service.database.texts(&written).await?[0])?;
                for field in ["kind", "v", "data"] {
                    ensure!(here["entry"][field] == written[field], "{field}: {written}: {told}");
                }
                tally.granted += 1;
                let warned = here["warnings"] != json!([]);
                tally.warned += usize::from(warned);
                self.written.insert(kind.to_owned(), id);
                Ok(if warned { "warned" } else { "granted" }.to_owned())
            }
            422 => {
                let refused = &here["refused"];
                let text = |field: &str| refused[field].as_str().unwrap_or_default().to_owned();
                let sentence = format!("{} ({})", text("detail"), text("rule"));
                ensure!(
                    there.json["code"] == refused["code"] && there.json["detail"] == sentence,
                    "{told}"
                );
                *tally.refused.entry(text("code")).or_default() += 1;
                Ok(text("code"))
            }
            400 => {
                ensure!(here["bad_field"].is_object(), "{told}");
                tally.unread += 1;
                Ok("unread".to_owned())
            }
            // Nothing is there that it could be about: the phone has no row of it either.
            404 => {
                let about = way
                    .in_path
                    .as_ref()
                    .and_then(|field| data[field].as_str())
                    .unwrap_or_default();
                ensure!(!self.shown.keys().any(|(_, id)| id == about), "{told}");
                *tally.refused.entry("nothing_there".to_owned()).or_default() += 1;
                Ok("nothing_there".to_owned())
            }
            _ => anyhow::bail!("{told}"),
        }
    }
}

/// The same with every id one of the things of this number, so that made-up entries speak of the same ones.
fn about(value: &mut Value, number: usize) {
    visit(value, "", &mut |value, field| {
        if value.as_str().is_some_and(|text| Uuid::parse_str(text).is_ok()) {
            *value = json!(numbered(kind_of(field), number));
        }
    });
}

/// The golden data of a kind about the first things, with these fields instead; null leaves one out.
fn told(golden: &BTreeMap<String, Value>, kind: &str, instead: &str) -> Result<Value> {
    let mut data = golden.get(kind).with_context(|| format!("no kind {kind}"))?.clone();
    about(&mut data, 0);
    let instead: Map<String, Value> = serde_json::from_str(instead).with_context(|| instead.to_owned())?;
    let fields = data.as_object_mut().context("an object")?;
    for (field, mut value) in instead {
        if value.is_null() {
            fields.remove(&field);
        } else {
            named(&mut value, &field);
            fields.insert(field, value);
        }
    }
    Ok(data)
}

/// In the story a thing is called by its number: `"hive_id": "#1"`.
fn named(value: &mut Value, field: &str) {
    visit(value, field, &mut |value, field| {
        let number = value.as_str().and_then(|text| text.strip_prefix('#')?.parse().ok());
        if let Some(number) = number {
            *value = json!(numbered(kind_of(field), number));
        }
    });
}

/// Kinds that no call decides: words are changed by their version, corrections name an entry.
const NOT_DECIDED: &[&str] = &[
    "amended",
    "colony_described",
    "container_described",
    "customer_described",
    "hive_described",
    "lot_described",
    "medicine_described",
    "meter_described",
    "room_described",
    "run_described",
    "scale_described",
    "super_described",
    "voided",
    "yard_described",
];

#[tokio::test]
async fn phone_decides_alone() -> Result<()> {
    let told_wishes = std::env::var("YARDJAR_WISHES")
        .ok()
        .and_then(|count| count.parse().ok());
    let wishes: usize = told_wishes.unwrap_or(500);
    let mut dice = match std::env::var_os("YARDJAR_SEED") {
        Some(_) => Dice::from_env("YARDJAR_SEED"),
        None => Dice::new(52),
    };
    let mut both = Both::new().await?;
    let without: Vec<&str> = domain::entry::KINDS
        .iter()
        .map(|spec| spec.kind)
        .filter(|kind| !both.ways.contains_key(*kind))
        .collect();
    let mut expected = NOT_DECIDED.to_vec();
    expected.sort_unstable();
    let mut found = without.clone();
    found.sort_unstable();
    assert_eq!(found, expected, "kinds without a call that decides them");
    let all: Vec<(String, Value)> = golden()?
        .into_iter()
        .filter(|(kind, _)| both.ways.contains_key(kind))
        .collect();
    let by_kind: BTreeMap<String, Value> = all.iter().cloned().collect();
    let mut otherwise = Vec::new();
    for (kind, expected, instead) in STORY {
        let mut data = told(&by_kind, kind, &both.with_entries(instead)?)?;
        own_settings(&mut data, &both);
        match both.ask(kind, &data).await {
            Ok(came) if came == *expected => {}
            Ok(came) => otherwise.push(format!("{kind} {instead}: {came}, not {expected}")),
            Err(differ) => otherwise.push(format!("{differ:#}")),
        }
        both.pull().await?;
    }
    ensure!(
        otherwise.is_empty(),
        "the story goes otherwise:\n{}",
        otherwise.join("\n")
    );
    for _ in 0..wishes {
        let (kind, data) = one(&mut dice, &all).context("a kind")?;
        let mut data = data.clone();
        change(&mut data, &mut dice);
        own_settings(&mut data, &both);
        if let Some(field) = &both.ways[kind].in_path
            && !data[field].is_string()
        {
            continue;
        }
        match both.ask(kind, &data).await {
            Ok(came) if ["granted", "warned"].contains(&came.as_str()) => {}
            Ok(_) if dice.below(2) == 0 => {}
            // In a yard it happens all the same, so that the house comes to contradict itself.
            Ok(_) => {
                let at = Utc::now() - TimeDelta::minutes(i64::try_from(dice.below(3_000))?);
                both.phone.record_at(kind, data, at, "entered")?;
            }
            Err(differ) => otherwise.push(format!("{differ:#}")),
        }
        both.pull().await?;
    }
    ensure!(
        otherwise.is_empty(),
        "phone and service differ, seed {}:\n{}",
        dice.seed(),
        otherwise.join("\n")
    );
    let (mut granted, mut warned, mut refused) = (0, 0, 0);
    for (kind, tally) in &both.tally {
        println!("{kind}: {tally:?}");
        granted += tally.granted;
        warned += tally.warned;
        refused += tally.refused.values().sum::<usize>();
    }
    println!(
        "{granted} granted, {warned} of them with a warning, {refused} refused, seed {}",
        dice.seed()
    );
    let codes: BTreeSet<&String> = both.tally.values().flat_map(|tally| tally.refused.keys()).collect();
    assert!(codes.len() >= 12, "few refusals were compared: {codes:?}");
    assert!(
        both.tally.values().filter(|tally| tally.warned > 0).count() >= 8,
        "few warnings were compared"
    );
    let never: Vec<&String> = by_kind
        .keys()
        .filter(|kind| both.tally.get(*kind).is_none_or(|tally| tally.granted == 0))
        .collect();
    assert!(never.is_empty(), "never granted: {never:?}");
    invariants(&both.service.database, &mut [&mut both.phone]).await
}

/// The settings are the caller's own, whatever the golden file calls them.
fn own_settings(data: &mut Value, both: &Both) {
    if let Some(id) = data.get_mut("operation_id") {
        *id = json!(both.service.operation.id);
    }
}

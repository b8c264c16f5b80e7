//! Nonsense for the rules: mutated and made-up entries through reading, folding, deciding, tracing and sharing out.
//!
//! Nothing here may panic, whatever is told. Used by the example `fuzz`, which runs as long as it is asked to, and by
//! a test that runs a short slice.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use chrono::{DateTime, TimeDelta, Utc};
use domain::decide::decide_or_doubt;
use domain::doubts::doubts;
use domain::entry::{Entry, KINDS, ReadRefused, Recorded};
use domain::house::House;
use domain::ids::{DeviceId, EntryId, MemberId};
use domain::next::next;
use domain::state::State;
use domain::subject::Subject;
use domain::trace::{holds_on, trace, trace_code};
use domain::yields::season;
use serde_json::{Map, Value, json};
use uuid::Uuid;

/// xorshift64* (S. Vigna, An experimental exploration of Marsaglia's xorshift generators, 2016).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed | 1)
    }

    fn roll(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    fn below(&mut self, most: usize) -> usize {
        usize::try_from(self.roll() >> 16).unwrap_or(0) % most.max(1)
    }

    fn one_in(&mut self, of: usize) -> bool {
        self.below(of) == 0
    }

    fn pick<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.below(of.len())]
    }
}

/// What a run of it did.
#[derive(Debug, Default)]
pub struct Done {
    /// Entries told.
    pub told: u64,
    /// Of those, understood.
    pub read: u64,
    /// Houses asked everything.
    pub houses: u64,
    /// Wishes decided.
    pub decided: u64,
    /// Wishes granted.
    pub granted: u64,
    /// States folded.
    pub folded: u64,
    /// Doubts found.
    pub doubts: u64,
}

/// The golden data of every kind.
fn golden() -> Vec<(&'static str, Value)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("golden");
    let read = |kind: &'static str| {
        let text = std::fs::read_to_string(folder.join(format!("{kind}.v1.json"))).expect("a golden file");
        (kind, serde_json::from_str(&text).expect("JSON"))
    };
    KINDS.iter().map(|spec| read(spec.kind)).collect()
}

/// Few ids, so that things meet.
fn some_id(dice: &mut Dice) -> Value {
    json!(Uuid::from_u128(1 + dice.below(3) as u128))
}

fn some_number(dice: &mut Dice) -> Value {
    let numbers: [i64; 16] = [
        0,
        1,
        -1,
        2,
        100,
        499,
        500,
        501,
        1_780,
        14_000,
        20_000,
        65_536,
        1_000_000,
        10_000_000,
        i64::MAX,
        i64::MIN,
    ];
    json!(numbers[dice.below(numbers.len())])
}

/// Any JSON, not deep.
fn anything(dice: &mut Dice, depth: u32) -> Value {
    match dice.below(if depth == 0 { 7 } else { 9 }) {
        0 => Value::Null,
        1 => json!(dice.one_in(2)),
        2 | 3 => some_number(dice),
        4 => json!("1970-01-01"),
        5 => json!("\u{0}ö\u{202e}🐝".repeat(dice.below(40))),
        6 => some_id(dice),
        7 => Value::Array((0..dice.below(4)).map(|_| anything(dice, depth - 1)).collect()),
        _ => {
            let named = |dice: &mut Dice| {
                (
                    ["kind", "id", "data", "x"][dice.below(4)].to_owned(),
                    anything(dice, depth - 1),
                )
            };
            Value::Object((0..dice.below(4)).map(|_| named(dice)).collect::<Map<_, _>>())
        }
    }
}

/// Changes a value here and there.
fn mutate(value: &mut Value, dice: &mut Dice, often: usize) {
    match value {
        Value::Object(fields) => {
            for (name, field) in fields.iter_mut() {
                let is_id = name == "id" || name.ends_with("_id") || name == "united_into";
                if is_id && field.is_string() && !dice.one_in(20) {
                    *field = some_id(dice);
                } else {
                    mutate(field, dice, often);
                }
            }
            if dice.one_in(often * 2) {
                let names: Vec<String> = fields.keys().cloned().collect();
                if !names.is_empty() {
                    fields.remove(dice.pick(&names));
                }
            }
            if dice.one_in(often * 4) {
                fields.insert("surplus".to_owned(), anything(dice, 2));
            }
        }
        Value::Array(items) => {
            if dice.one_in(4)
                && let Some(first) = items.first().cloned()
            {
                let more = if dice.one_in(200) { 10_000 } else { dice.below(3) };
                items.extend(std::iter::repeat_n(first, more));
            }
            if items.len() < 50 {
                items.iter_mut().for_each(|item| mutate(item, dice, often));
            }
        }
        Value::Number(number) if dice.one_in(3) => {
            let about = number.as_i64().unwrap_or(1);
            *value = if dice.one_in(often) {
                some_number(dice)
            } else {
                json!(about.saturating_mul(1 + dice.below(4) as i64) / 2)
            };
        }
        other if dice.one_in(often * 2) => *other = anything(dice, 2),
        _ => {}
    }
}

fn some_time(dice: &mut Dice) -> DateTime<Utc> {
    let morning: DateTime<Utc> = "2025-07-12T06:00:00Z".parse().expect("a time");
    match dice.below(60) {
        0 => DateTime::<Utc>::MIN_UTC,
        1 => DateTime::<Utc>::MAX_UTC,
        2 => DateTime::<Utc>::UNIX_EPOCH,
        at if at < 20 => morning + TimeDelta::days(dice.below(120) as i64),
        _ => morning + TimeDelta::minutes(dice.below(3_000) as i64),
    }
}

/// One entry as somebody might send it: kind, data.
fn some_entry(golden: &[(&'static str, Value)], dice: &mut Dice) -> (String, String) {
    let (kind, data) = dice.pick(golden);
    if dice.one_in(40) {
        return ((*kind).to_owned(), anything(dice, 3).to_string());
    }
    let mut data = data.clone();
    let often = [6, 20, 100][dice.below(3)];
    mutate(&mut data, dice, often);
    // A correction of something that was told or will be.
    if matches!(*kind, "amended" | "voided") && dice.one_in(2) {
        data["entry_id"] = json!(Uuid::from_u128(0xE000 + dice.below(80) as u128));
        if *kind == "amended" {
            let (other, content) = dice.pick(golden);
            let mut content = content.clone();
            mutate(&mut content, dice, often);
            (data["kind"], data["data"]) = (json!(other), content);
        }
    }
    ((*kind).to_owned(), data.to_string())
}

/// Tells one house of up to so many entries and asks everything. Panics where a rule is broken.
pub fn one_house(golden: &[(&'static str, Value)], dice: &mut Dice, most: usize, done: &mut Done) {
    let mut book: Vec<Recorded> = Vec::new();
    let mut wishes: Vec<Entry> = Vec::new();
    for number in 0..1 + dice.below(most) {
        done.told += 1;
        let (kind, data) = some_entry(golden, dice);
        let entry = match Entry::read(&kind, if dice.one_in(50) { 9 } else { 1 }, &data) {
            Ok(entry) => entry,
            Err(refused) => {
                assert!(!refused.to_string().is_empty());
                if let ReadRefused::BadField { pointer, detail } = refused {
                    assert!(!detail.is_empty() && (pointer.is_empty() || pointer.starts_with('/')));
                }
                continue;
            }
        };
        done.read += 1;
        let written = serde_json::to_string(&entry).expect("JSON");
        let again = Entry::read(&kind, 1, &written).expect("what was written reads");
        assert_eq!(again, entry, "what was written reads as the same");
        wishes.push(entry.clone());
        let seq = i64::try_from(book.len()).unwrap_or(0) + 1;
        book.push(Recorded {
            id: EntryId::from_uuid(Uuid::from_u128(0xE000 + number as u128)),
            seq,
            device: DeviceId::from_uuid(Uuid::from_u128(0xD000 + dice.below(3) as u128)),
            author: MemberId::from_uuid(Uuid::from_u128(0xA000)),
            device_counter: seq,
            saw: dice.below(book.len() + 1) as i64,
            effective_at: some_time(dice),
            utc_offset_min: [0, 60, -840, 840][dice.below(4)],
            entry,
        });
    }
    let house = house_of(&book, dice, done);
    ask(&house, &wishes, dice, done);
}

/// The ledger hands each thing what touches it, and corrections with everything that they belong to. Here every
/// thing gets all corrections: a fold must not mind those of others.
fn house_of(book: &[Recorded], dice: &mut Dice, done: &mut Done) -> House {
    let mut about: BTreeMap<Subject, Vec<Recorded>> = BTreeMap::new();
    let corrections: Vec<&Recorded> = book.iter().filter(|told| told.entry.corrects().is_some()).collect();
    let corrected: BTreeSet<EntryId> = corrections.iter().filter_map(|told| told.entry.corrects()).collect();
    let subjects: BTreeSet<Subject> = book.iter().flat_map(|told| told.entry.touches()).collect();
    for subject in subjects {
        let belongs = |told: &&Recorded| {
            told.entry.touches().contains(&subject) || told.entry.corrects().is_some() || corrected.contains(&told.id)
        };
        about.insert(subject, book.iter().filter(belongs).cloned().collect());
    }
    let mut house = House::default();
    for (subject, told) in about {
        let state = State::fold(subject, &told);
        let mut turned = told.clone();
        turned.reverse();
        turned.extend(told.iter().take(dice.below(told.len())).cloned());
        let other = State::fold(subject, &turned);
        assert_eq!(
            state.state_json(),
            other.state_json(),
            "{subject} in another order, some told twice"
        );
        let kept = State::read(subject.kind, &state.state_json(), &state.memo_json()).expect("a kept state reads");
        assert_eq!(kept.state_json(), state.state_json(), "{subject} kept and read");
        done.folded += 1;
        house.insert(subject, state);
    }
    house
}

fn ask(house: &House, wishes: &[Entry], dice: &mut Dice, done: &mut Done) {
    let now = some_time(dice);
    for entry in wishes {
        done.decided += 1;
        match decide_or_doubt(entry, house, now, dice.one_in(2)) {
            Ok(warnings) => {
                done.granted += 1;
                assert!(warnings.iter().all(|warning| !warning.detail.is_empty()));
            }
            Err(refused) => assert!(!refused.detail.is_empty() && !refused.rule.is_empty()),
        }
    }
    for year in [1970, 2025, i32::MAX, i32::MIN] {
        let season = season(house, year);
        let yards: i64 = season.yards.iter().map(|row| row.yield_g).sum();
        assert_eq!(
            yards + season.unassigned_g,
            season.total_g,
            "every gram is somebody's or printed as nobody's"
        );
    }
    let _ = next(house, now);
    for doubt in doubts(house) {
        done.doubts += 1;
        assert!(!doubt.sentence(house).is_empty() && !doubt.subjects().is_empty());
    }
    for (subject, state) in house.iter() {
        let traced = trace(house, subject, now);
        assert!(traced.back.len() < 100_000);
        let _ = (holds_on(house, subject, now), state.status(), state.flags().len());
        let label = house.label(subject);
        assert!(!label.is_empty());
        let _ = trace_code(house, &label, now);
    }
    done.houses += 1;
}

/// One house after the other until told to stop.
pub fn run(seed: u64, mut goes_on: impl FnMut(&Done) -> bool) -> Done {
    let golden = golden();
    let mut dice = Dice::new(seed);
    let mut done = Done::default();
    while goes_on(&done) {
        let most = [4, 30, 80][dice.below(3)];
        one_house(&golden, &mut dice, most, &mut done);
    }
    done
}

//! The phone's copy of the rules answers as the service's own does, byte for byte: the same calls through the native
//! build and through `rules.wasm` and `reckon.wasm` of `api/web`, run by an interpreter.
//!
//! What is asked is made up from the golden files and from the examples of the computations, with a fixed seed: fields
//! left out, figures pushed to their ends, names of things exchanged.

use std::path::PathBuf;

use anyhow::{Context, Result};
use domain::phone::Phone;
use serde_json::{Map, Value, json};
use tests::Dice;
use wasmi::{Engine, Instance, Linker, Memory, Module, Store, TypedFunc};

/// How many wishes are compared.
const WISHES: usize = 2_500;
/// How many inputs of computations and planners are compared.
const INPUTS: usize = 600;
/// After so many entries a new phone begins, so that states stay as large as a day's work.
const DAY: usize = 60;

/// One of some things, if there is any.
pub(crate) fn one<'a, T>(dice: &mut Dice, of: &'a [T]) -> Option<&'a T> {
    of.get(dice.below(of.len()))
}

/// The rules as a phone runs them.
pub(crate) struct Wasm {
    store: Store<()>,
    memory: Memory,
    reserve: TypedFunc<u32, u32>,
    call: TypedFunc<(), u64>,
}

impl Wasm {
    pub(crate) fn load(file: &str) -> Result<Self> {
        let path = PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../api/web")).join(file);
        let bytes = std::fs::read(&path).with_context(|| format!("no {}: run deploy/wasm.sh", path.display()))?;
        let engine = Engine::default();
        let module = Module::new(&engine, &bytes)?;
        let mut store = Store::new(&engine, ());
        let instance: Instance = Linker::new(&engine).instantiate_and_start(&mut store, &module)?;
        Ok(Self {
            memory: instance
                .get_memory(&store, "memory")
                .context("the module exports no memory")?,
            reserve: instance.get_typed_func(&store, "reserve")?,
            call: instance.get_typed_func(&store, "call")?,
            store,
        })
    }

    pub(crate) fn ask(&mut self, ask: &str) -> Result<String> {
        let at = self.reserve.call(&mut self.store, u32::try_from(ask.len())?)?;
        self.memory
            .write(&mut self.store, usize::try_from(at)?, ask.as_bytes())?;
        let packed = self.call.call(&mut self.store, ())?;
        let (at, len) = (packed >> 32, packed & 0xffff_ffff);
        let mut answer = vec![0; usize::try_from(len)?];
        self.memory.read(&self.store, usize::try_from(at)?, &mut answer)?;
        Ok(String::from_utf8(answer)?)
    }
}

/// Both builds side by side.
struct Both {
    native: Phone,
    rules: Wasm,
    /// The computations, which a phone has in a file of their own.
    reckon: Wasm,
    asked: usize,
}

impl Both {
    fn new() -> Result<Self> {
        Ok(Self {
            native: Phone::new(),
            rules: Wasm::load("rules.wasm")?,
            reckon: Wasm::load("reckon.wasm")?,
            asked: 0,
        })
    }

    /// Asks both; their answers must be the same to the byte.
    fn ask(&mut self, ask: &Value) -> Result<Value> {
        let alone = ask.get("call").is_some_and(|call| call == "reckon");
        let ask = ask.to_string();
        let native = self.native.call(&ask);
        let wasm = if alone { &mut self.reckon } else { &mut self.rules };
        let wasm = wasm.ask(&ask).with_context(|| format!("the phone gave up on {ask}"))?;
        assert_eq!(native, wasm, "service and phone differ on {ask}");
        self.asked += 1;
        Ok(serde_json::from_str(&native)?)
    }
}

/// The newest golden data of every kind.
pub(crate) fn golden() -> Result<Vec<(String, Value)>> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../domain/golden");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)?
        .map(|file| Ok(file?.path()))
        .collect::<Result<_>>()?;
    files.sort();
    let read = files.iter().map(|path| {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let kind = name.split('.').next().unwrap_or_default().to_owned();
        let newest = domain::entry::spec(&kind).map(|spec| format!("{kind}.v{}.json", spec.newest));
        let data = serde_json::from_str(&std::fs::read_to_string(path)?)?;
        anyhow::Ok((newest.as_ref() == Some(&name)).then_some((kind, data)))
    });
    read.filter_map(Result::transpose).collect()
}

/// One of three things of a kind, so that made-up entries speak of the same ones.
fn thing(kind: &str, dice: &mut Dice) -> String {
    numbered(kind, dice.below(3))
}

/// This one of them.
pub(crate) fn numbered(kind: &str, number: usize) -> String {
    let kind: u32 = kind
        .bytes()
        .fold(7, |sum: u32, byte| sum.wrapping_mul(31).wrapping_add(u32::from(byte)));
    format!("00000000-0000-4000-8000-{kind:08x}{number:04x}")
}

/// The kind of thing that a field names: `from_hive_id` names a hive.
pub(crate) fn kind_of(field: &str) -> &str {
    let name = field.trim_end_matches("_ids").trim_end_matches("_id");
    name.rsplit('_').next().unwrap_or(name)
}

/// Visits every value, what is in it first, with the field that says what it is: beside a kind, an id is of that kind.
pub(crate) fn visit(value: &mut Value, field: &str, each: &mut dyn FnMut(&mut Value, &str)) {
    match value {
        Value::Object(fields) => {
            let kind = fields.get("kind").and_then(Value::as_str).map(ToOwned::to_owned);
            for (name, value) in fields.iter_mut() {
                let says = if name == "id" {
                    kind.as_deref().unwrap_or("id")
                } else {
                    name
                };
                visit(value, says, each);
            }
        }
        Value::Array(items) => items.iter_mut().for_each(|item| visit(item, field, each)),
        _ => {}
    }
    each(value, field);
}

/// Leaves fields out, pushes figures to their ends, exchanges things.
pub(crate) fn change(value: &mut Value, dice: &mut Dice) {
    visit(value, "", &mut |value, field| change_one(value, field, dice));
}

fn change_one(value: &mut Value, field: &str, dice: &mut Dice) {
    match value {
        Value::Object(fields) => {
            if dice.below(12) == 0 {
                let names: Vec<String> = fields.keys().cloned().collect();
                if let Some(name) = one(dice, &names) {
                    fields.remove(name);
                }
            }
        }
        Value::Array(items) => match dice.below(15) {
            0 => items.clear(),
            1 => items.extend(items.clone()),
            _ => {}
        },
        Value::String(text) if uuid::Uuid::parse_str(text).is_ok() => *text = thing(kind_of(field), dice),
        Value::String(text) => match dice.below(30) {
            0 => text.clear(),
            1 => *text = text.repeat(40),
            2 => text.push('\u{7}'),
            _ => {}
        },
        Value::Number(number) => {
            let old = number.as_i64().unwrap_or_default();
            let pushed = match dice.below(10) {
                0 => 0,
                1 => -old,
                2 => old.saturating_mul(10),
                3 => i64::try_from(dice.below(60_000)).unwrap_or_default(),
                4 if dice.below(4) == 0 => i64::MAX,
                5 => old + 1,
                _ => old,
            };
            *value = json!(pushed);
        }
        Value::Bool(is) => *is ^= dice.below(3) == 0,
        Value::Null => {}
    }
}

fn entry(at: usize, saw: usize, (kind, data): (&str, &Value)) -> Value {
    let v = domain::entry::spec(kind).map_or(1, |spec| spec.newest);
    json!({
        "id": format!("00000000-0000-4000-9000-{at:012x}"), "kind": kind, "v": v, "data": data,
        "happened_at": format!("2025-07-{:02}T{:02}:{:02}:00Z", 1 + at / 1440 % 28, at / 60 % 24, at % 60),
        "utc_offset_min": 120, "device_counter": at, "saw": saw,
    })
}

#[test]
fn wishes_are_decided_alike_to_the_byte() -> Result<()> {
    let golden = golden()?;
    assert!(golden.len() >= 70, "{} golden files", golden.len());
    let mut dice = Dice::new(0x5eed_0001);
    let mut both = Both::new()?;
    let device = "00000000-0000-4000-8000-00000000d0d0";
    let mut outbox: Vec<Value> = Vec::new();
    let (mut granted, mut refused, mut unread) = (0, 0, 0);
    for at in 0..WISHES {
        if outbox.len() >= DAY {
            both.ask(&json!({"call": "forget"}))?;
            outbox.clear();
        }
        let Some((kind, data)) = one(&mut dice, &golden) else {
            continue;
        };
        let mut data = data.clone();
        change(&mut data, &mut dice);
        let wish = json!({"kind": kind, "data": data});
        let now = format!("2025-07-{:02}T12:00:00Z", 1 + at / 1440 % 28);
        let answer = both.ask(&json!({"call": "decide", "now": now, "wish": wish}))?;
        if answer.get("bad_field").is_some() {
            unread += 1;
            continue;
        }
        if answer.get("refused").is_some() {
            refused += 1;
        } else {
            granted += 1;
        }
        // In a yard it is written either way.
        outbox.push(entry(at, outbox.len(), (kind, &data)));
        both.ask(&json!({"call": "fold_on", "device_id": device, "entries": outbox}))?;
        if at % 25 == 0 {
            both.ask(&json!({"call": "next", "now": now}))?;
            let subject = json!({"kind": "super", "id": thing("super", &mut dice)});
            both.ask(&json!({"call": "holds_on", "now": now, "subject": subject}))?;
            both.ask(&json!({"call": "trace", "now": now, "subject": subject}))?;
        }
    }
    println!(
        "{WISHES} wishes: {granted} granted, {refused} refused, {unread} not read; {} calls alike",
        both.asked
    );
    // A check in which everything is refused would compare nothing.
    assert!(granted > WISHES / 10 && refused > WISHES / 20 && unread > WISHES / 20);
    Ok(())
}

#[test]
fn computations_answer_alike_to_the_byte() -> Result<()> {
    let mut dice = Dice::new(0x5eed_0002);
    let mut both = Both::new()?;
    let computations: Vec<_> = domain::reckon::all().collect();
    let (mut answered, mut refused) = (0, 0);
    for at in 0..INPUTS {
        let Some(computation) = computations.get(at % computations.len()) else {
            continue;
        };
        let mut inputs = Map::new();
        for field in computation.inputs {
            if let Some(example) = field.example
                && (field.required || dice.below(2) == 0)
            {
                let typed = serde_json::from_str(example).unwrap_or_else(|_| json!(example));
                inputs.insert(field.name.to_owned(), typed);
            }
        }
        let mut inputs = Value::Object(inputs);
        // The examples themselves come first.
        if at >= computations.len() {
            change(&mut inputs, &mut dice);
        }
        let answer = both.ask(&json!({"call": "reckon", "name": computation.name, "inputs": inputs}))?;
        if answer.get("not_reckoned").is_some() {
            assert!(
                at >= computations.len(),
                "{} refuses its own examples: {answer}",
                computation.name
            );
            refused += 1;
        } else {
            answered += 1;
        }
    }
    println!(
        "{INPUTS} inputs of {} computations: {answered} answered, {refused} refused",
        computations.len()
    );
    assert!(answered > INPUTS / 4 && refused > INPUTS / 20);
    Ok(())
}

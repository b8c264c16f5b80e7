//! What the app asks for when an entry is amended: `api/web/kinds.json` follows from the contract, so that it cannot tell
//! of other fields than the entries have, and every field and word of it can be said.
//!
//! `UPDATE_CONTRACT=1 cargo test -p tests kinds` writes it anew.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde_json::{Map, Value, json};

/// What an entry makes, so that another thing in its place would be another entry; besides `<thing>_registered`.
const MADE: &[(&str, &str)] = &[
    ("run_opened", "run_id"),
    ("container_filled", "fill_id"),
    ("honey_drawn", "lot_id"),
    ("blended", "lot_id"),
    ("jars_reworked", "lot_id"),
    ("bottled", "batch_id"),
    ("delivered", "delivery_id"),
    ("goods_ordered", "delivery_id"),
    // Whose value it is: another key is another value.
    ("profile_value_changed", "profile"),
    ("profile_value_changed", "key"),
];

/// Corrections are amended by amending what they correct.
const CORRECTIONS: [&str; 2] = ["amended", "voided"];

/// Masses of single jars and steps of scales, told in grams and not in the unit of the person.
const IN_GRAMS: [&str; 3] = ["nominal_g", "size_g", "step_g"];

/// Under which keys words are said that are used elsewhere already; else under the name of their list.
const SAID: &[(&str, &str)] = &[
    ("BoxClass", "class"),
    ("ContainerKind", "container"),
    ("CostKind", "cost"),
    ("IncomeKind", "income"),
    ("PriceOf", "price"),
    ("JarsWent", "went"),
    ("HoldReason", "hold"),
    ("ColonyEnd", "ending"),
    ("FeedKind", "feed"),
];

/// Ids of what has no rows to choose from.
const WITHOUT_ROWS: [&str; 3] = ["EntryId", "BooksId", "OperationId"];

fn web(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../api/web").join(name)
}

fn snake(name: &str) -> String {
    let mut out = String::new();
    for letter in name.chars() {
        if letter.is_ascii_uppercase() && !out.is_empty() {
            out.push('_');
        }
        out.push(letter.to_ascii_lowercase());
    }
    out
}

fn camel(kind: &str) -> String {
    let big = |word: &str| word.get(..1).unwrap_or_default().to_uppercase() + word.get(1..).unwrap_or_default();
    kind.split('_').map(big).collect()
}

struct Contract(Map<String, Value>);

impl Contract {
    fn read() -> Self {
        let contract = serde_json::to_value(api::http::contract()).unwrap_or_default();
        Self(
            contract["components"]["schemas"]
                .as_object()
                .cloned()
                .unwrap_or_default(),
        )
    }

    /// The fields of an object, those that are needed first as they are told.
    fn fields(&self, kind: &str, schema: &Value) -> Vec<Value> {
        let needed = |name: &str| {
            schema["required"]
                .as_array()
                .is_some_and(|all| all.iter().any(|one| one == name))
        };
        let all = schema["properties"].as_object().into_iter().flatten();
        let (first, rest): (Vec<_>, Vec<_>) = all.partition(|(name, _)| needed(name));
        let ordered = first.into_iter().chain(rest);
        ordered
            .map(|(name, told)| self.field(kind, name, told, needed(name)))
            .collect()
    }

    /// `[name, type, options]`, as forms of the app are told.
    fn field(&self, kind: &str, name: &str, schema: &Value, needs: bool) -> Value {
        let (is, mut more) = self.type_of(kind, name, schema);
        let made = kind
            .strip_suffix("_registered")
            .is_some_and(|thing| name == format!("{thing}_id"))
            || MADE.contains(&(kind, name));
        let is = if made { "kept" } else { is };
        if made {
            more.retain(|option, _| option == "rows");
        } else if needs {
            more.insert("needs".to_owned(), Value::Bool(true));
        }
        if more.is_empty() {
            json!([name, is])
        } else {
            json!([name, is, more])
        }
    }

    fn type_of(&self, kind: &str, name: &str, schema: &Value) -> (&'static str, Map<String, Value>) {
        let mut more = Map::new();
        // May be absent: then it is one of itself and null.
        let told = schema["oneOf"].as_array().and_then(|ways| match &ways[..] {
            [one, null] if null["type"] == "null" => Some(one),
            _ => None,
        });
        let schema = told.unwrap_or(schema);
        if let Some(named) = schema["$ref"].as_str().and_then(|path| path.rsplit('/').next()) {
            if WITHOUT_ROWS.contains(&named) || named == "Entry" {
                return ("kept", more);
            }
            if named == "Subject" {
                return ("subject", more);
            }
            if let Some(thing) = named.strip_suffix("Id") {
                more.insert("rows".to_owned(), snake(thing).into());
                return ("thing", more);
            }
            let Some(meant) = self.0.get(named) else {
                return ("kept", more);
            };
            if let Some(words) = meant.get("enum") {
                let said = SAID
                    .iter()
                    .find(|(list, _)| *list == named)
                    .map(|(_, key)| (*key).to_owned());
                more.insert("words".to_owned(), words.clone());
                more.insert("say".to_owned(), said.unwrap_or_else(|| snake(named)).into());
                return ("one", more);
            }
            return self.type_of(kind, name, meant);
        }
        let is = |what: &str| schema["type"] == what || schema["type"][0] == what;
        if let Some(ways) = schema["oneOf"].as_array() {
            let of: Vec<Value> = ways.iter().flat_map(|way| self.fields(kind, way)).collect();
            more.insert("of".to_owned(), of.into());
            ("ways", more)
        } else if is("object") {
            more.insert("of".to_owned(), self.fields(kind, schema).into());
            ("group", more)
        } else if is("array") {
            more.insert("of".to_owned(), self.field(kind, name, &schema["items"], false));
            ("list", more)
        } else if is("boolean") {
            ("yes", more)
        } else if is("integer") {
            (unit_of(name), more)
        } else if is("string") && schema["format"] == "date" {
            ("date", more)
        } else if is("string") && schema["format"].is_null() {
            ("text", more)
        } else {
            ("kept", more)
        }
    }
}

/// How a number is typed follows from the unit that ends its name.
fn unit_of(name: &str) -> &'static str {
    let money = ["amount", "price"].iter().any(|start| name.starts_with(start));
    match name {
        _ if name.ends_with("tenths_c") => "temperature",
        _ if name.contains("tenths") => "tenths",
        _ if name.ends_with("_hundredths") && money => "money",
        _ if name.ends_with("_hundredths") => "percent",
        _ if name.ends_with("_e4") => "index",
        _ if name.ends_with("_e5") => "degrees",
        _ if name.ends_with("_ml") => "litres",
        _ if IN_GRAMS.contains(&name) => "grams",
        _ if name.ends_with("_g") => "mass",
        "minutes" => "minutes",
        _ => "count",
    }
}

fn kinds() -> BTreeMap<&'static str, Vec<Value>> {
    let contract = Contract::read();
    let told = domain::entry::KINDS
        .iter()
        .filter(|spec| !CORRECTIONS.contains(&spec.kind));
    let fields = |kind: &'static str| contract.0.get(&camel(kind)).map(|schema| contract.fields(kind, schema));
    told.map(|spec| (spec.kind, fields(spec.kind).unwrap_or_default()))
        .collect()
}

#[test]
fn the_app_knows_the_fields_of_every_kind() {
    let lines: Vec<String> = kinds()
        .iter()
        .map(|(kind, fields)| format!("\"{kind}\":{}", Value::from(fields.clone())))
        .collect();
    let text = format!("{{\n{}\n}}\n", lines.join(",\n"));
    let path = web("kinds.json");
    if std::env::var_os("UPDATE_CONTRACT").is_some() {
        std::fs::write(&path, &text).expect("kinds.json is written");
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        kept == text,
        "kinds.json is of another contract; write it anew with UPDATE_CONTRACT=1"
    );
}

/// Every name of a field and every word of a list that may be shown.
fn said(field: &Value, labels: &mut Vec<String>, words: &mut Vec<String>) {
    let (name, is, more) = (field[0].as_str().unwrap_or_default(), &field[1], &field[2]);
    labels.push(name.to_owned());
    for word in more["words"].as_array().into_iter().flatten() {
        let say = more["say"].as_str().unwrap_or_default();
        words.push(format!("{say}.{}", word.as_str().unwrap_or_default()));
    }
    match &more["of"] {
        inner @ Value::Array(_) if is == "list" => said(inner, labels, words),
        Value::Array(all) => all.iter().for_each(|inner| said(inner, labels, words)),
        _ => {}
    }
}

#[test]
fn every_kind_every_field_and_every_word_can_be_said() {
    let mut known = Map::new();
    for file in ["strings/en.json", "strings/office-en.json"] {
        let text = std::fs::read_to_string(web(file)).unwrap_or_default();
        known.extend(serde_json::from_str::<Map<String, Value>>(&text).unwrap_or_default());
    }
    let mut missing = Vec::new();
    for (kind, fields) in kinds() {
        assert!(!fields.is_empty(), "{kind} has no fields in the contract");
        let (mut labels, mut words) = (Vec::new(), vec![format!("entry.{kind}")]);
        fields.iter().for_each(|field| said(field, &mut labels, &mut words));
        let unsaid = |name: &String| {
            !["told_field", "field"]
                .iter()
                .any(|part| known.contains_key(&format!("{part}.{name}")))
        };
        missing.extend(
            labels
                .into_iter()
                .filter(unsaid)
                .map(|name| format!("told_field.{name}")),
        );
        missing.extend(words.into_iter().filter(|word| !known.contains_key(word)));
    }
    missing.sort_unstable();
    missing.dedup();
    assert!(missing.is_empty(), "no words for {missing:?}");
}

/// What was told of each kind, with every field filled, is found in its fields: nothing a person typed is left out.
#[test]
fn what_the_examples_tell_has_a_field() {
    let kinds = kinds();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../domain/golden");
    for (kind, fields) in &kinds {
        let text = std::fs::read_to_string(folder.join(format!("{kind}.v1.json"))).unwrap_or_default();
        let data: Map<String, Value> = serde_json::from_str(&text).unwrap_or_default();
        for name in data.keys() {
            assert!(
                fields.iter().any(|field| field[0] == *name),
                "{kind}: {name} has no field"
            );
        }
    }
}

//! The list of computations: each describes itself truly, reads what is typed, and refuses with where and what to do.
#![allow(clippy::unwrap_used, clippy::panic, missing_docs)]

use std::collections::BTreeSet;

use domain::described::{Field, Kind};
use domain::reckon::{Computation, Refusal, all, describe, named};
use serde_json::{Map, Value, json};

fn example(fields: &[Field], with_optional: bool) -> Value {
    let given = fields
        .iter()
        .filter(|field| field.required || with_optional)
        .map(|field| {
            let example = field.example.unwrap_or_else(|| panic!("{} has no example", field.name));
            let value = serde_json::from_str(example).unwrap_or_else(|_| panic!("{}: {example}", field.name));
            (field.name.to_owned(), value)
        });
    Value::Object(given.collect())
}

fn ask(name: &str, input: Value) -> Result<Value, Refusal> {
    named(name).and_then(|computation| computation.reckon(&input))
}

/// Whether a value is of the kind that its description says.
fn fits(value: &Value, field: &Field) -> bool {
    if value.is_null() {
        return !field.required;
    }
    of_kind(value, &field.holds)
}

fn of_kind(value: &Value, kind: &Kind) -> bool {
    match kind {
        Kind::Whole { from, to } => value.as_i64().is_some_and(|value| (*from..=*to).contains(&value)),
        Kind::Spread => {
            let [low, middle, high] = ["low", "value", "high"].map(|end| value[end].as_i64());
            low.is_some() && low <= middle && middle <= high
        }
        Kind::Truth => value.is_boolean(),
        Kind::Text => value.is_string(),
        Kind::Choice { words } => value.as_str().is_some_and(|word| words.contains(&word)),
        Kind::Object { fields } => describes(value, fields),
        Kind::List { fields } => value
            .as_array()
            .is_some_and(|list| list.iter().all(|item| describes(item, fields))),
        Kind::Values { of } => value
            .as_array()
            .is_some_and(|list| list.iter().all(|item| of_kind(item, of))),
    }
}

fn describes(value: &Value, fields: &[Field]) -> bool {
    let Some(object) = value.as_object() else {
        return false;
    };
    object.keys().all(|key| fields.iter().any(|field| field.name == key))
        && fields.iter().all(|field| fits(&value[field.name], field))
}

#[test]
fn every_example_is_answered_as_described() {
    for computation in all() {
        for with_optional in [false, true] {
            let input = example(computation.inputs, with_optional);
            assert!(describes(&input, computation.inputs), "{}: {input}", computation.name);
            let answer = computation
                .reckon(&input)
                .unwrap_or_else(|refusal| panic!("{} {input}: {refusal:?}", computation.name));
            assert!(
                describes(&answer, computation.outputs),
                "{}: {answer}",
                computation.name
            );
            let names: BTreeSet<&str> = answer
                .as_object()
                .map(Map::keys)
                .into_iter()
                .flatten()
                .map(String::as_str)
                .collect();
            let described: BTreeSet<&str> = computation.outputs.iter().map(|field| field.name).collect();
            assert_eq!(names, described, "{}", computation.name);
        }
    }
}

#[test]
fn every_computation_has_a_name_of_its_own_a_source_and_a_range() {
    let mut names = BTreeSet::new();
    for computation in all() {
        assert!(names.insert(computation.name), "{} is there twice", computation.name);
        assert!(
            computation
                .name
                .chars()
                .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_'),
            "{}",
            computation.name
        );
        assert!(!computation.sources.is_empty(), "{} has no source", computation.name);
        for sentence in [computation.does, computation.holds]
            .into_iter()
            .chain(computation.caution)
        {
            assert!(
                sentence.ends_with('.') && !sentence.contains('\n'),
                "{}: {sentence}",
                computation.name
            );
        }
        for field in computation.inputs.iter().chain(computation.outputs) {
            assert!(
                !field.meaning.is_empty() && !field.unit.is_empty(),
                "{} {}",
                computation.name,
                field.name
            );
            assert!(!field.meaning.contains("  "), "{} {}", computation.name, field.name);
        }
        // A span is told under the name of the field that it bounds.
        for field in computation.inputs {
            assert!(
                field.span.is_none_or(|span| span.field == field.name),
                "{}: the span of {} goes by another name",
                computation.name,
                field.name
            );
        }
    }
}

#[test]
fn the_description_is_complete_and_is_json() {
    let described = describe();
    let list = described["computations"].as_array().unwrap();
    assert_eq!(list.len(), all().count());
    let density = list.iter().find(|one| one["name"] == "honey_density").unwrap();
    assert_eq!(density["rules"], json!(["WT-6"]));
    assert_eq!(density["inputs"][0]["name"], "moisture_hundredths");
    assert_eq!(density["inputs"][0]["required"], true);
    assert_eq!(
        density["inputs"][0]["holds"],
        json!({"kind": "whole", "from": 0, "to": 10_000})
    );
    assert_eq!(density["inputs"][0]["span"]["refused_above"], 2_500);
    assert_eq!(density["inputs"][1]["required"], false);
    assert_eq!(density["sources"][0]["standing"], "from_memory");
    assert_eq!(density["outputs"][0]["holds"], json!({"kind": "spread"}));
    assert!(density.get("run").is_none() && density.get("caution").is_none());
}

fn refusal(name: &str, input: Value) -> (&'static str, String, String) {
    let refusal = ask(name, input).unwrap_err();
    (refusal.code, refusal.pointer, refusal.sentence)
}

#[test]
fn a_missing_input_is_named_with_its_meaning_and_an_example() {
    for input in [json!({}), json!({ "moisture_hundredths": null })] {
        assert_eq!(
            refusal("honey_density", input),
            (
                "missing_input",
                "/moisture_hundredths".to_owned(),
                "moisture_hundredths is missing; give it in hundredths of a per cent of mass, for example 1780 (Water in \
                 the honey.)"
                    .to_owned()
            )
        );
    }
}

#[test]
fn an_input_nobody_knows_is_refused_with_what_is_asked() {
    assert_eq!(
        refusal("honey_density", json!({ "moisture_hundredths": 1_780, "a/b": 1 })),
        (
            "unknown_input",
            "/a~1b".to_owned(),
            "a/b is not asked here; give moisture_hundredths, and if you like honey_tenths_c".to_owned()
        )
    );
}

#[test]
fn a_value_that_cannot_be_is_refused_with_its_unit() {
    let (code, pointer, sentence) = refusal("honey_density", json!({ "moisture_hundredths": 17.8 }));
    assert_eq!((code, pointer.as_str()), ("unreadable_input", "/moisture_hundredths"));
    assert!(
        sentence.contains("17.8") && sentence.contains("hundredths of a per cent"),
        "{sentence}"
    );

    let (code, pointer, _) = refusal("honey_density", json!({ "moisture_hundredths": 10_001 }));
    assert_eq!((code, pointer.as_str()), ("unreadable_input", "/moisture_hundredths"));

    let parts = json!({ "parts": [{ "weight_g": 1, "moisture_hundredths": 1_700 }, { "weight_g": -1, "moisture_hundredths": 0 }] });
    let (code, pointer, sentence) = refusal("blend_moisture", parts);
    assert_eq!((code, pointer.as_str()), ("unreadable_input", "/parts/1/weight_g"));
    assert!(
        sentence.contains("a weight in grams must lie between 0 and 10000000"),
        "{sentence}"
    );
}

#[test]
fn beyond_what_is_known_there_is_no_answer_and_the_field_is_named() {
    let (code, pointer, sentence) = refusal("honey_density", json!({ "moisture_hundredths": 2_501 }));
    assert_eq!((code, pointer.as_str()), ("outside_validity", "/moisture_hundredths"));
    assert!(
        sentence.contains("from 1200 to 2500") && sentence.contains("measure"),
        "{sentence}"
    );
}

#[test]
fn an_input_that_is_no_object_is_refused() {
    for input in [json!(null), json!([1]), json!("1780")] {
        let (code, pointer, sentence) = refusal("honey_density", input);
        assert_eq!((code, pointer.as_str()), ("unreadable_input", ""));
        assert!(
            sentence.starts_with("the input has to be an object; give moisture_hundredths"),
            "{sentence}"
        );
    }
}

#[test]
fn a_name_nobody_knows_is_answered_with_the_names_there_are() {
    let refusal = named("density").unwrap_err();
    assert_eq!((refusal.code, refusal.pointer.as_str()), ("unknown_computation", ""));
    for computation in all() {
        assert!(refusal.sentence.contains(computation.name));
    }
}

fn typed(name: &str, pairs: &[&str]) -> Result<Value, Refusal> {
    named(name).and_then(|computation: &Computation| computation.input_of(pairs))
}

#[test]
fn what_is_typed_becomes_json() {
    assert_eq!(
        typed("honey_density", &["moisture_hundredths=1780", " honey_tenths_c = -5 "]),
        Ok(json!({ "moisture_hundredths": 1_780, "honey_tenths_c": -5 }))
    );
    let parts = r#"parts=[{"weight_g":120000,"moisture_hundredths":1710}]"#;
    assert_eq!(
        typed("blend_moisture", &[parts]),
        Ok(json!({ "parts": [{ "weight_g": 120_000, "moisture_hundredths": 1_710 }] }))
    );
    assert_eq!(typed("blend_moisture", &[]), Ok(json!({})));
}

#[test]
fn what_is_typed_wrongly_is_refused_with_what_to_do() {
    for (pairs, pointer, code) in [
        (&["1780"][..], "", "unreadable_input"),
        (
            &["moisture_hundredths=17.8"],
            "/moisture_hundredths",
            "unreadable_input",
        ),
        (&["moisture=1780"], "/moisture", "unknown_input"),
        (
            &["moisture_hundredths=1780", "moisture_hundredths=1790"],
            "/moisture_hundredths",
            "unreadable_input",
        ),
    ] {
        let refusal = typed("honey_density", pairs).unwrap_err();
        assert_eq!((refusal.code, refusal.pointer.as_str()), (code, pointer), "{refusal:?}");
        assert!(refusal.sentence.contains("give"), "{refusal:?}");
    }
    let refusal = typed("blend_moisture", &["parts=[{"]).unwrap_err();
    assert_eq!((refusal.code, refusal.pointer.as_str()), ("unreadable_input", "/parts"));
    assert!(refusal.sentence.contains("is not JSON"), "{refusal:?}");
}

#[test]
fn what_is_typed_is_answered_like_what_is_sent() {
    // Every example, typed as `name=value`, reads as the same input.
    for computation in all() {
        let input = example(computation.inputs, true);
        let pairs = input.as_object().unwrap().iter().map(|(name, value)| match value {
            Value::String(word) => format!("{name}={word}"),
            other => format!("{name}={other}"),
        });
        assert_eq!(computation.input_of(pairs), Ok(input.clone()), "{}", computation.name);
    }
}

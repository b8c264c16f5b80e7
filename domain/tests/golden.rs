//! Every kind of entry as it is stored and sent: one file a kind and version, which only a deliberate change touches.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that cannot read its own files has failed, which is what the panics are for.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use domain::entry::{Entry, KINDS, ReadRefused};
use serde_json::{Map, Value};

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

fn file_name(kind: &str, version: u16) -> String {
    format!("{kind}.v{version}.json")
}

fn written() -> BTreeMap<String, String> {
    std::fs::read_dir(folder("golden"))
        .unwrap()
        .map(|file| file.unwrap())
        .map(|file| {
            (
                file.file_name().into_string().unwrap(),
                std::fs::read_to_string(file.path()).unwrap(),
            )
        })
        .collect()
}

/// Kind, version, data as written.
fn golden() -> Vec<(&'static str, u16, Map<String, Value>)> {
    let files = written();
    let mut all = Vec::new();
    for spec in KINDS {
        for version in spec.oldest..=spec.newest {
            let text = &files[&file_name(spec.kind, version)];
            all.push((spec.kind, version, serde_json::from_str(text).unwrap()));
        }
    }
    assert!(all.len() >= 70, "there are kinds to check");
    all
}

fn read(kind: &str, version: u16, data: &Map<String, Value>) -> Result<Entry, ReadRefused> {
    Entry::read(kind, version, &serde_json::to_string(data).unwrap())
}

/// The text of every source file, those in folders too.
fn sources(folder: &Path) -> Vec<String> {
    let mut sources = Vec::new();
    for file in std::fs::read_dir(folder).unwrap() {
        let path = file.unwrap().path();
        if path.is_dir() {
            sources.extend(self::sources(&path));
        } else if path.extension().is_some_and(|ext| ext == "rs") {
            sources.push(std::fs::read_to_string(path).unwrap());
        }
    }
    sources
}

/// The fields of a kind as its declaration names them: the needed ones and the optional ones. What the macro declares
/// is read off the source, so that a new optional field without a place in its golden file fails the test.
fn declared() -> BTreeMap<String, (BTreeSet<String>, BTreeSet<String>)> {
    let mut declared = BTreeMap::new();
    for source in sources(&folder("src")) {
        for block in source.split("\nentry! {").skip(1) {
            let block = block.split("\n}\n").next().unwrap();
            let lines = || block.lines().map(str::trim).filter(|line| !line.starts_with("//"));
            let head = lines().find(|line| line.contains(" touches(")).unwrap();
            let kind = head.split('"').nth(1).unwrap().to_owned();
            let fields = |part: &str| -> BTreeSet<String> {
                part.lines()
                    .map(str::trim)
                    .filter(|line| !line.starts_with("//"))
                    .filter_map(|line| {
                        line.split_once(": ")
                            .map(|(field, _)| field.trim_start_matches("{ ").to_owned())
                    })
                    .collect()
            };
            let body = lines()
                .skip_while(|line| *line != head)
                .skip(1)
                .collect::<Vec<_>>()
                .join("\n");
            let (needed, optional) = body.split_once("optional {").unwrap();
            let mut needed = fields(needed);
            if let Some((_, about)) = head.split_once(" for ") {
                needed.insert(about.split(':').next().unwrap().to_owned());
            }
            declared.insert(kind, (needed, fields(optional)));
        }
    }
    let set = |fields: &[&str]| fields.iter().map(|field| (*field).to_owned()).collect::<BTreeSet<_>>();
    declared.insert(
        "amended".to_owned(),
        (set(&["entry_id", "kind", "v", "data"]), set(&["reason"])),
    );
    declared.insert("voided".to_owned(), (set(&["entry_id", "reason"]), set(&[])));
    declared
}

#[test]
fn every_kind_and_version_has_a_golden_file_and_every_file_a_kind() {
    let wanted: BTreeSet<String> = KINDS
        .iter()
        .flat_map(|spec| (spec.oldest..=spec.newest).map(|version| file_name(spec.kind, version)))
        .collect();
    let there: BTreeSet<String> = written().into_keys().collect();
    assert_eq!(there, wanted);
}

#[test]
fn every_golden_file_fills_every_field_that_its_kind_declares() {
    let declared = declared();
    let kinds: BTreeSet<&str> = declared.keys().map(String::as_str).collect();
    assert_eq!(
        kinds,
        KINDS.iter().map(|spec| spec.kind).collect(),
        "every kind is declared once"
    );
    for (kind, _, data) in golden() {
        let (needed, optional) = &declared[kind];
        let filled: BTreeSet<String> = data.keys().cloned().collect();
        assert_eq!(filled, needed.union(optional).cloned().collect(), "{kind}");
    }
}

#[test]
fn what_was_read_is_written_as_it_stood() {
    for (kind, version, data) in golden() {
        let entry = read(kind, version, &data).unwrap_or_else(|refused| panic!("{kind}: {refused}"));
        assert_eq!(entry.kind(), kind);
        assert_eq!(serde_json::to_value(&entry).unwrap(), Value::Object(data), "{kind}");
    }
}

#[test]
fn an_entry_reads_without_its_optional_fields_and_does_not_invent_them() {
    let declared = declared();
    for (kind, version, data) in golden() {
        let (needed, optional) = &declared[kind];
        for field in optional {
            let mut without = data.clone();
            without.remove(field);
            let entry =
                read(kind, version, &without).unwrap_or_else(|refused| panic!("{kind} without {field}: {refused}"));
            assert_eq!(
                serde_json::to_value(&entry).unwrap(),
                Value::Object(without),
                "{kind} without {field}"
            );
        }
        let bare: Map<String, Value> = data.into_iter().filter(|(field, _)| needed.contains(field)).collect();
        let entry = read(kind, version, &bare).unwrap_or_else(|refused| panic!("{kind} bare: {refused}"));
        assert_eq!(
            serde_json::to_value(&entry).unwrap(),
            Value::Object(bare),
            "{kind} bare"
        );
    }
}

#[test]
fn an_entry_without_a_needed_field_is_refused_and_the_field_named() {
    let declared = declared();
    for (kind, version, data) in golden() {
        for field in &declared[kind].0 {
            let mut without = data.clone();
            without.remove(field);
            match read(kind, version, &without) {
                Err(ReadRefused::BadField { detail, .. }) => assert!(detail.contains(field), "{kind}: {detail}"),
                other => panic!("{kind} without {field}: {other:?}"),
            }
        }
    }
}

#[test]
fn a_field_of_a_newer_program_does_not_stop_an_older_one_from_reading() {
    for (kind, version, mut data) in golden() {
        let before = read(kind, version, &data).unwrap();
        data.insert("something_new".to_owned(), Value::from(1));
        assert_eq!(read(kind, version, &data).unwrap(), before, "{kind}");
    }
}

#[test]
fn a_version_that_is_not_known_here_is_said_to_be_so() {
    for spec in KINDS {
        let refused = Entry::read(spec.kind, spec.newest + 1, "{}");
        assert!(
            matches!(refused, Err(ReadRefused::UnknownVersion { .. })),
            "{}",
            spec.kind
        );
    }
    assert!(matches!(
        Entry::read("honey_flew", 1, "{}"),
        Err(ReadRefused::UnknownKind { .. })
    ));
}

#[test]
fn every_way_a_meter_shows_water_and_every_source_of_a_fill_is_read_as_written() {
    let shown = [
        r#"{"refractive_index_e4":14915}"#,
        r#"{"brix_hundredths":8050}"#,
        r#"{"moisture_hundredths":1780}"#,
        r#""off_scale_wet""#,
        r#""off_scale_dry""#,
    ];
    let id = "00000000-0000-4000-8000-000000000016";
    for shown in shown {
        let data = format!(r#"{{"targets":[{{"kind":"lot","id":"{id}"}}],"shown":{shown}}}"#);
        let entry = Entry::read("moisture_read", 1, &data).unwrap();
        assert_eq!(serde_json::to_string(&entry).unwrap(), data);
    }
    let sources = [
        format!(r#"{{"run_id":"{id}"}}"#),
        format!(r#"{{"cappings_of_run_id":"{id}"}}"#),
        r#"{"bought_from":"a neighbour"}"#.to_owned(),
        r#""unknown""#.to_owned(),
    ];
    for source in sources {
        let data = format!(r#"{{"fill_id":"{id}","source":{source},"gross_g":2000,"tare_g":1000}}"#);
        let entry = Entry::read("container_filled", 1, &data).unwrap();
        assert_eq!(serde_json::to_string(&entry).unwrap(), data);
    }
}

#[test]
fn an_amendment_of_an_amendment_is_refused_inside_and_a_wrong_field_in_it_is_named_with_its_place() {
    let id = "00000000-0000-4000-8000-000000000016";
    let nested = format!(r#"{{"entry_id":"{id}","kind":"voided","v":1,"data":{{"entry_id":"{id}","reason":"no"}}}}"#);
    assert!(
        matches!(Entry::read("amended", 1, &nested), Err(ReadRefused::BadField { pointer, .. }) if pointer == "/kind")
    );
    let wrong =
        format!(r#"{{"entry_id":"{id}","kind":"super_weighed","v":1,"data":{{"super_id":"{id}","gross_g":-1}}}}"#);
    assert!(
        matches!(Entry::read("amended", 1, &wrong), Err(ReadRefused::BadField { pointer, .. }) if pointer == "/data/gross_g")
    );
}

//! Forms read and write as serde does: what a phone shows is what the service keeps.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use std::collections::BTreeMap;
use std::path::Path;

use domain::entry::{Entry, KINDS, Recorded};
use domain::form::{self, Node};
use domain::ids::{DeviceId, EntryId, MemberId};
use domain::state::State;
use domain::subject::Subject;
use proptest::prelude::*;
use serde_json::Value;
use uuid::Uuid;

/// The newest golden file of each kind, as an entry.
fn golden() -> Vec<(&'static str, String, Entry)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("golden");
    let read = KINDS.iter().map(|spec| {
        let file = folder.join(format!("{}.v{}.json", spec.kind, spec.newest));
        let text = std::fs::read_to_string(file).unwrap();
        let entry = Entry::read(spec.kind, spec.newest, &text).unwrap();
        (spec.kind, text, entry)
    });
    read.collect()
}

#[test]
fn an_entry_is_written_as_serde_writes_it() {
    let golden = golden();
    assert!(golden.len() >= 90, "{}", golden.len());
    for (kind, text, mut entry) in golden {
        let by_serde = serde_json::to_string(&entry).unwrap();
        assert_eq!(form::written(&mut entry), by_serde, "{kind}");
        let told: Value = serde_json::from_str(&text).unwrap();
        assert_eq!(serde_json::from_str::<Value>(&by_serde).unwrap(), told, "{kind}");
    }
}

#[test]
fn states_of_every_kind_are_written_and_read_as_serde_does() {
    let mut told: BTreeMap<Subject, Vec<Recorded>> = BTreeMap::new();
    for (at, (_, _, entry)) in (1_i64..).zip(golden()) {
        let recorded = Recorded {
            id: EntryId::from_uuid(Uuid::from_u128(at.unsigned_abs().into())),
            seq: at,
            device: DeviceId::from_uuid(Uuid::nil()),
            author: MemberId::from_uuid(Uuid::nil()),
            device_counter: at,
            saw: at - 1,
            effective_at: chrono::DateTime::from_timestamp(1_750_000_000 + at * 60, 0).unwrap(),
            utc_offset_min: 120,
            entry,
        };
        for subject in recorded.entry.touches() {
            told.entry(subject).or_default().push(recorded.clone());
        }
    }
    let mut kinds = std::collections::BTreeSet::new();
    for (subject, entries) in told {
        let mut state = State::fold(subject, &entries);
        let text = state.state_json();
        assert_eq!(form::written(&mut state), text, "{subject}");
        let by_form = State::told(subject.kind, &Node::read(&text).unwrap()).unwrap();
        let by_serde = State::read(subject.kind, &text, "{}").unwrap();
        assert_eq!(by_form, by_serde, "{subject}");
        kinds.insert(subject.kind);
    }
    assert!(kinds.len() >= 14, "only {kinds:?}");
}

#[test]
fn the_first_fault_is_told_with_its_place() {
    let refused = |kind: &str, data: &str| match Entry::read(kind, 1, data) {
        Err(domain::entry::ReadRefused::BadField { pointer, detail }) => (pointer, detail),
        other => panic!("{other:?}"),
    };
    let id = "00000000-0000-4000-8000-000000000001";
    assert_eq!(refused("super_placed", "{}").1, "missing field `super_id`");
    let (pointer, detail) = refused("super_placed", &format!(r#"{{"super_id":"{id}","hive_id":7}}"#));
    assert_eq!((&*pointer, &*detail), ("/hive_id", "this has to be text, and it is 7"));
    let (pointer, detail) = refused("super_placed", &format!(r#"{{"super_id":"{id}","super_id":"{id}"}}"#));
    assert_eq!((&*pointer, &*detail), ("/super_id", "`super_id` is told twice"));
    let (pointer, _) = refused(
        "note_written",
        &format!(r#"{{"text":"a","about":[{{"kind":"hive","id":"{id}"}},{{"kind":"cow"}}]}}"#),
    );
    assert_eq!(pointer, "/about/1/kind");
}

/// JSON of any shape.
fn json() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<u64>().prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        any::<String>().prop_map(Value::from),
        "[\\\\\"\u{1}-\u{1f}a\u{1f41d}]*".prop_map(Value::from),
    ];
    leaf.prop_recursive(4, 40, 6, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
            prop::collection::vec((any::<String>(), inner), 0..6)
                .prop_map(|fields| Value::Object(fields.into_iter().collect())),
        ]
    })
}

proptest! {
    #[test]
    fn json_is_read_and_written_as_serde_json_does(value in json()) {
        let text = value.to_string();
        prop_assert_eq!(&Node::read(&text).unwrap().text(), &text);
        let pretty = serde_json::to_string_pretty(&value).unwrap();
        prop_assert_eq!(&Node::read(&pretty).unwrap().text(), &text);
    }

    #[test]
    fn what_is_not_json_is_refused_where_serde_json_refuses_it(text in "[\\[\\]{}\",:0-9eE.+\\-tnul \\\\d8f]{0,12}") {
        prop_assert_eq!(Node::read(&text).is_ok(), serde_json::from_str::<Value>(&text).is_ok(), "{}", text);
    }

    #[test]
    fn a_time_is_read_and_written_as_serde_does(second in -60_000_000_000_i64..250_000_000_000, nano in 0_u32..1_000_000_000, places in 0_u32..10) {
        let step = 10_u32.pow(places);
        let at = chrono::DateTime::from_timestamp(second, (nano / step * step).min(999_999_999)).unwrap();
        let mut held = at;
        let text = serde_json::to_string(&at).unwrap();
        prop_assert_eq!(form::written(&mut held), text.clone());
        prop_assert_eq!(form::read::<chrono::DateTime<chrono::Utc>>(&text).unwrap(), at);
    }
}

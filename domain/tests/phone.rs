//! The phone's copy of the rules: rows in, wishes decided, unsent entries shown.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use domain::phone::Phone;
use domain::state::State;
use domain::subject::{Subject, SubjectKind};
use serde_json::{Value, json};
use uuid::Uuid;

const NOW: &str = "2025-07-02T08:00:00Z";
const YARD: &str = "0192a000-0000-7000-8000-000000000001";
const HIVE: &str = "0192a000-0000-7000-8000-000000000002";
const OTHER_HIVE: &str = "0192a000-0000-7000-8000-000000000005";
const SUPER: &str = "0192a000-0000-7000-8000-000000000003";
const DEVICE: &str = "0192a000-0000-7000-8000-000000000004";

fn ask(phone: &mut Phone, ask: &Value) -> Value {
    serde_json::from_str(&phone.call(&ask.to_string())).unwrap()
}

fn unsent(counter: i64, kind: &str, data: &Value) -> Value {
    json!({
        "id": Uuid::from_u128(0x0192_a000_0000_7000_8000_0000_0001_0000 + counter.unsigned_abs() as u128),
        "kind": kind, "v": 1, "data": data,
        "happened_at": format!("2025-07-01T08:{counter:02}:00Z"), "utc_offset_min": 120, "happened_src": "clock",
        "device_counter": counter, "saw": 3, "salt": "00000000000000000000000000000000",
    })
}

fn id_of(counter: i64) -> String {
    unsent(counter, "", &json!(null))["id"].as_str().unwrap().to_owned()
}

/// A yard, a hive and a super, as pulled.
fn furnished() -> Phone {
    let mut phone = Phone::new();
    let made = json!({"call": "fold_on", "device_id": DEVICE, "entries": [
        unsent(1, "yard_registered", &json!({"yard_id": YARD, "name": "Upper meadow"})),
        unsent(2, "hive_registered", &json!({"hive_id": HIVE, "yard_id": YARD, "code": "W03"})),
        unsent(3, "super_registered", &json!({"super_id": SUPER, "number": "041", "class": "medium", "frames": 10})),
    ]});
    let rows = ask(&mut phone, &made)["rows"].clone();
    assert_eq!(rows.as_array().map(Vec::len), Some(3), "{rows}");
    let mut phone = Phone::new();
    assert_eq!(
        ask(&mut phone, &json!({"call": "hold", "rows": rows})),
        json!({"held": 3})
    );
    phone
}

fn status(rows: &Value, id: &str) -> Option<String> {
    let rows = rows["rows"].as_array()?;
    let row = rows.iter().find(|row| row["id"] == id)?;
    Some(row["status"].as_str()?.to_owned())
}

#[test]
fn a_wish_is_granted_with_the_entry_to_be_written() {
    let mut phone = furnished();
    let wish = json!({"kind": "super_placed", "data": {"super_id": SUPER, "hive_id": HIVE}});
    let answer = ask(&mut phone, &json!({"call": "decide", "now": NOW, "wish": wish}));
    assert_eq!(
        answer["entry"],
        json!({"kind": "super_placed", "v": 1, "data": wish["data"]}),
        "{answer}"
    );
    assert_eq!(answer["warnings"], json!([]));
}

#[test]
fn a_wish_is_refused_with_its_rule() {
    let mut phone = furnished();
    let wish = json!({"kind": "super_registered",
        "data": {"super_id": SUPER, "number": "041", "class": "medium", "frames": 10}});
    let answer = ask(&mut phone, &json!({"call": "decide", "now": NOW, "wish": wish}));
    assert_eq!(answer["refused"]["code"], "already_registered", "{answer}");
    assert_eq!(answer["refused"]["rule"], "ID-2");
}

#[test]
fn what_does_not_read_is_answered_with_its_place() {
    let mut phone = furnished();
    let wish = json!({"kind": "super_received", "data": {"super_id": SUPER, "gross_g": "heavy"}});
    let answer = ask(&mut phone, &json!({"call": "decide", "now": NOW, "wish": wish}));
    assert_eq!(answer["bad_field"]["pointer"], "/wish/data/gross_g", "{answer}");

    let wish = json!({"kind": "super_polished", "data": {}});
    let answer = ask(&mut phone, &json!({"call": "decide", "now": NOW, "wish": wish}));
    assert_eq!(answer["bad_field"]["pointer"], "/wish/kind", "{answer}");

    assert_eq!(
        ask(&mut phone, &json!({"call": "dance"}))["bad_field"]["pointer"],
        "/call"
    );
    assert!(phone.call("{").contains("bad_field"));
    assert!(phone.call("").contains("bad_field"));
}

#[test]
fn unsent_entries_show_at_once_and_are_taken_back_with_their_undo() {
    let mut phone = furnished();
    let placed = unsent(4, "super_placed", &json!({"super_id": SUPER, "hive_id": HIVE}));
    let fold_on = |entries: Value| json!({"call": "fold_on", "device_id": DEVICE, "entries": entries});
    let shown = ask(&mut phone, &fold_on(json!([placed])));
    assert_eq!(status(&shown, SUPER).as_deref(), Some("on_hive"), "{shown}");

    // Decided from what is shown, sent or not.
    let again = json!({"kind": "super_placed", "data": {"super_id": SUPER, "hive_id": HIVE}});
    let answer = ask(&mut phone, &json!({"call": "decide", "now": NOW, "wish": again}));
    assert_ne!(
        answer.get("warnings"),
        Some(&json!([])),
        "placing twice is doubted: {answer}"
    );

    let undone = unsent(5, "voided", &json!({"entry_id": id_of(4), "reason": "wrong box"}));
    let shown = ask(&mut phone, &fold_on(json!([placed, undone])));
    assert_eq!(status(&shown, SUPER).as_deref(), Some("in_store"), "{shown}");

    let redone = unsent(
        6,
        "voided",
        &json!({"entry_id": id_of(5), "reason": "right box after all"}),
    );
    let shown = ask(&mut phone, &fold_on(json!([placed, undone, redone])));
    assert_eq!(status(&shown, SUPER).as_deref(), Some("on_hive"), "{shown}");

    let amended = unsent(
        7,
        "amended",
        &json!({"entry_id": id_of(4), "kind": "super_placed", "v": 1,
        "data": {"super_id": SUPER, "hive_id": OTHER_HIVE}}),
    );
    let shown = ask(&mut phone, &fold_on(json!([placed, undone, redone, amended])));
    let row = shown["rows"]
        .as_array()
        .unwrap()
        .iter()
        .find(|row| row["id"] == SUPER)
        .unwrap();
    assert_eq!(row["state"]["filling"]["stands"][0]["hive_id"], OTHER_HIVE, "{shown}");

    // Everything was sent: nothing of the likeness is left.
    let shown = ask(&mut phone, &fold_on(json!([])));
    assert_eq!(status(&shown, SUPER).as_deref(), Some("in_store"), "{shown}");
}

#[test]
fn a_pull_goes_beneath_what_is_unsent() {
    let mut phone = furnished();
    let pulled = unsent(4, "super_left_in_yard", &json!({"super_id": SUPER, "yard_id": YARD}));
    let fold_on = json!({"call": "fold_on", "device_id": DEVICE, "entries": [pulled]});
    ask(&mut phone, &fold_on);
    let state = json!({"number": "041B", "class": "medium", "frames": 10, "whereabouts": "in_store"});
    let rows = json!([{"kind": "super", "id": SUPER, "changed_seq": 9, "label": "041B", "status": "in_store",
        "state": state}]);
    assert_eq!(
        ask(&mut phone, &json!({"call": "hold", "rows": rows})),
        json!({"held": 3})
    );
    let shown = ask(&mut phone, &fold_on);
    let row = shown["rows"]
        .as_array()
        .unwrap()
        .iter()
        .find(|row| row["id"] == SUPER)
        .unwrap();
    assert_eq!(row["label"], "041B");
    assert_eq!(row["status"], "in_yard");
}

#[test]
fn a_correction_of_something_sent_shows_after_sending() {
    let mut phone = furnished();
    let old = "0192a000-0000-7000-8000-0000000000ff";
    let voided = unsent(4, "voided", &json!({"entry_id": old, "reason": "did not happen"}));
    let shown = ask(
        &mut phone,
        &json!({"call": "fold_on", "device_id": DEVICE, "entries": [voided]}),
    );
    assert_eq!(shown, json!({"rows": [], "after_sending": [id_of(4)]}));
}

#[test]
fn rows_are_read_as_the_service_writes_them() {
    let mut phone = Phone::new();
    for kind in SubjectKind::ALL {
        let subject = Subject {
            kind: *kind,
            id: Uuid::from_u128(7),
        };
        let state: Value = serde_json::from_str(&State::empty(*kind).state_json()).unwrap();
        let rows = json!([{"kind": kind, "id": subject.id, "state": state}]);
        let answer = ask(&mut phone, &json!({"call": "hold", "rows": rows}));
        assert!(answer["held"].is_number(), "{kind:?}: {answer}");
    }
    let rows = json!([{"kind": "super", "id": SUPER, "state": {"frames": "ten"}}]);
    let answer = ask(&mut phone, &json!({"call": "hold", "rows": rows}));
    assert_eq!(answer["bad_field"]["pointer"], "/rows/0/state", "{answer}");
    assert_eq!(ask(&mut phone, &json!({"call": "forget"})), json!({"held": 0}));
}

#[test]
fn this_copy_says_what_it_understands() {
    let about = ask(&mut Phone::new(), &json!({"call": "about"}));
    let kinds = about["kinds"].as_array().unwrap();
    assert_eq!(kinds.len(), domain::entry::KINDS.len());
    let office = |kind: &str| kinds.iter().find(|known| known["kind"] == kind).unwrap()["office"].clone();
    assert_eq!(office("lot_released"), true);
    assert_eq!(office("super_placed"), false);
}

#[test]
fn questions_about_the_house_are_answered() {
    let mut phone = furnished();
    let found = ask(&mut phone, &json!({"call": "find", "code": "041"}));
    assert_eq!(found["subject"], json!({"kind": "super", "id": SUPER}));
    assert_eq!(
        ask(&mut phone, &json!({"call": "next", "now": NOW})),
        json!({"tasks": []})
    );
    let subject = json!({"kind": "super", "id": SUPER});
    assert_eq!(
        ask(&mut phone, &json!({"call": "holds_on", "now": NOW, "subject": subject})),
        json!([])
    );
    let reckoned = json!({"call": "reckon", "name": "no_such_thing", "inputs": {}});
    assert!(ask(&mut phone, &reckoned)["not_reckoned"]["sentence"].is_string());
}

#[test]
fn a_phone_says_whether_a_run_adds_up_while_it_goes_on() {
    // The worked example of the balance of a run (MB-1, MB-2), arithmetic: 70.8 kg net, 1.0 kg or 1.41 % unexplained.
    let id = |n: u128| Uuid::from_u128(0x0192_a000_0000_7000_8000_0000_0002_0000 + n);
    let run = id(0);
    let weights = [
        (21_400, 8_100),
        (19_800, 7_900),
        (22_600, 8_200),
        (20_100, 8_000),
        (16_300, 7_800),
        (18_900, 8_300),
    ];
    let mut told = vec![("run_opened", json!({"run_id": run, "name": "R1"}))];
    for (at, (full, wet)) in (1..).zip(weights) {
        let super_id = id(at);
        told.extend([
            ("super_placed", json!({"super_id": super_id, "hive_id": HIVE})),
            ("super_received", json!({"super_id": super_id, "gross_g": full})),
            ("super_uncapped", json!({"run_id": run, "super_id": super_id})),
            (
                "wet_weighed",
                json!({"run_id": run, "super_id": super_id, "gross_g": wet}),
            ),
        ]);
    }
    let before_the_wax = told.len();
    for (at, net) in (100..).zip([27_600, 27_900, 6_400]) {
        let data = json!({"fill_id": id(at), "source": {"run_id": run}, "gross_g": net + 1_000, "tare_g": 1_000});
        told.push(("container_filled", data));
    }
    told.extend([
        (
            "cappings_weighed",
            json!({"run_id": run, "honey_g": 5_100, "wax_g": 900}),
        ),
        ("sample_taken", json!({"run_id": run, "weight_g": 500})),
        ("run_drained", json!({"run_id": run, "left_in_machine_g": 1_400})),
    ]);
    let entries: Vec<Value> = (1..)
        .zip(&told)
        .map(|(at, (kind, data))| unsent(at, kind, data))
        .collect();
    let balance_after = |entries: &[Value]| {
        let mut phone = furnished();
        let fold_on = json!({"call": "fold_on", "device_id": DEVICE, "entries": entries});
        assert!(ask(&mut phone, &fold_on).get("bad_field").is_none());
        ask(
            &mut phone,
            &json!({"call": "balance", "subject": {"kind": "run", "id": run}}),
        )
    };
    assert_eq!(balance_after(&entries[..before_the_wax]), Value::Null);
    let balance = balance_after(&entries);
    assert_eq!(balance["net_g"], 70_800, "{balance}");
    assert_eq!(balance["unexplained_g"], 1_000);
    assert_eq!(balance["unexplained_share_bp"], 141);
    assert_eq!(balance["band"], "green");
}

//! Arrival is not order: devices and batches that come in the wrong one, corrections before what they correct.

use std::collections::BTreeSet;

use anyhow::Result;
use chrono::{TimeDelta, Utc};
use serde_json::{Value, json};
use tests::{FieldPhone, Service, Tried, invariants};
use uuid::Uuid;

use super::{new_super, phone, placed, row, sides};

#[tokio::test]
async fn out_of_order_devices() -> Result<()> {
    let service = Service::start().await?;
    let (mut a, mut b) = (phone(&service).await?, phone(&service).await?);
    let (super_id, hive) = (Uuid::now_v7(), Uuid::now_v7());
    let morning = Utc::now() - TimeDelta::hours(6);
    a.record_at("super_placed", placed(super_id, hive), morning, "clock")?;
    b.record_at(
        "super_pulled",
        placed(super_id, hive),
        morning + TimeDelta::hours(3),
        "clock",
    )?;
    b.sync_patiently(3).await?;
    assert!(
        !sides(&row(&b, "super", super_id)["state"], "never_placed").is_empty(),
        "B came first"
    );
    a.sync_patiently(3).await?;
    b.sync_patiently(3).await?;
    let shown = row(&a, "super", super_id);
    assert_eq!(shown["status"], "pulled");
    assert_eq!(
        sides(&shown["state"], "never_placed"),
        Vec::<String>::new(),
        "A's entry settled it: {shown}"
    );
    invariants(&service.database, &mut [&mut a, &mut b]).await
}

#[tokio::test]
async fn pull_of_unknown_super() -> Result<()> {
    let service = Service::start().await?;
    let (mut a, mut b) = (phone(&service).await?, phone(&service).await?);
    let (super_id, data) = new_super(41);
    let hive = Uuid::now_v7();
    let morning = Utc::now() - TimeDelta::hours(6);
    a.record_at("super_registered", data, morning, "clock")?;
    a.record_at("super_placed", placed(super_id, hive), morning, "clock")?;
    let pull = b.record_at(
        "super_pulled",
        placed(super_id, hive),
        morning + TimeDelta::hours(2),
        "clock",
    )?;
    b.sync_patiently(3).await?;
    let pending = row(&b, "super", super_id);
    assert_eq!(sides(&pending["state"], "never_placed"), [pull.to_string()]);
    assert_eq!(pending["state"]["filling"]["stands"][0]["assumed"], json!(true));
    a.sync_patiently(3).await?;
    b.sync_patiently(3).await?;
    let settled = row(&b, "super", super_id);
    assert_eq!(settled["state"]["flags"], Value::Null, "the flag is gone: {settled}");
    assert_eq!(settled["label"], "041");
    invariants(&service.database, &mut [&mut a, &mut b]).await
}

#[tokio::test]
async fn amend_before_original() -> Result<()> {
    let service = Service::start().await?;
    let (mut a, mut b) = (phone(&service).await?, phone(&service).await?);
    let super_id = Uuid::now_v7();
    let hives = [Uuid::now_v7(), Uuid::now_v7()];
    let original = a.record("super_placed", placed(super_id, hives[0]))?;
    let amended = json!({ "entry_id": original, "kind": "super_placed", "v": 1, "data": placed(super_id, hives[1]) });
    b.record("amended", amended)?;
    b.sync_patiently(3).await?;
    assert_eq!(row(&b, "super", super_id), Value::Null, "it waits for what it corrects");
    a.sync_patiently(3).await?;
    b.sync_patiently(3).await?;
    let stand = row(&b, "super", super_id)["state"]["filling"]["stands"][0]["hive_id"].clone();
    assert_eq!(stand, json!(hives[1]));
    invariants(&service.database, &mut [&mut a, &mut b]).await
}

#[tokio::test]
async fn void_of_void_amend_of_voided() -> Result<()> {
    let service = Service::start().await?;
    let (mut a, mut b) = (phone(&service).await?, phone(&service).await?);
    let (super_id, hives) = (Uuid::now_v7(), [Uuid::now_v7(), Uuid::now_v7()]);
    let sync = async |a: &mut FieldPhone, b: &mut FieldPhone| -> Result<Value> {
        a.sync_patiently(3).await?;
        b.sync_patiently(3).await?;
        a.sync_patiently(3).await?;
        assert_eq!(row(a, "super", super_id), row(b, "super", super_id));
        Ok(row(a, "super", super_id))
    };
    let original = a.record("super_placed", placed(super_id, hives[0]))?;
    sync(&mut a, &mut b).await?;
    let void = b.record("voided", json!({ "entry_id": original, "reason": "another box" }))?;
    let gone = sync(&mut a, &mut b).await?;
    assert_eq!(gone["state"]["filling"]["stands"], Value::Null, "withdrawn: {gone}");
    a.record("voided", json!({ "entry_id": void, "reason": "it was this box" }))?;
    let back = sync(&mut a, &mut b).await?;
    assert_eq!(
        back["state"]["filling"]["stands"][0]["hive_id"],
        json!(hives[0]),
        "a void of a void restores"
    );
    // Withdrawn by somebody who did not know of the correction: the correction counts, marked doubtful (CF-14).
    let instead = json!({ "entry_id": original, "kind": "super_placed", "v": 1, "data": placed(super_id, hives[1]) });
    a.record("amended", instead)?;
    b.record("voided", json!({ "entry_id": original, "reason": "not that hive" }))?;
    let doubtful = sync(&mut a, &mut b).await?;
    assert_eq!(doubtful["state"]["filling"]["stands"][0]["hive_id"], json!(hives[1]));
    assert_eq!(
        sides(&doubtful["state"], "voided_without_sight"),
        [original.to_string()]
    );
    invariants(&service.database, &mut [&mut a, &mut b]).await
}

/// Every row as it is shown, but for the number of its last change, which is the one thing that depends on arrival.
const ROWS: &str = "select concat_ws('|', kind, id, label, status, flags, state) as text
                      from state_row order by kind, id";
/// As if nothing had ever arrived.
const FORGET: &str = "truncate entry, entry_subject, state_row, state_part, device_tally, entry_doubt;
    update operation_ledger set last_seq = 0, chain = sha256(uuid_send(operation_id))";

#[tokio::test]
async fn arrival_order_permutation() -> Result<()> {
    let service = Service::start().await?;
    let mut phones = Vec::new();
    for _ in 0..3 {
        phones.push(phone(&service).await?);
    }
    let three = || [(); 3].map(|()| Uuid::now_v7());
    let (supers, hives, fills, lots) = (three(), three(), three(), three());
    let mut dice = tests::Dice::from_env("YARDJAR_SEED");
    let mut when = Utc::now() - TimeDelta::days(2);
    let mut recorded: Vec<(usize, Value)> = Vec::new();
    for _ in 0..48 {
        let who = dice.below(3);
        when += TimeDelta::minutes(i64::try_from(dice.below(90))?);
        let (super_id, hive) = (supers[dice.below(3)], hives[dice.below(3)]);
        let target = recorded
            .get(dice.below(recorded.len().max(1)))
            .map(|(_, entry)| entry["id"].clone());
        let (fill, at) = (fills[dice.below(3)], dice.below(3));
        let lot = lots[at];
        let (kind, data) = match dice.below(12) {
            8 => {
                let source = json!({ "bought_from": "a neighbour" });
                let gross = 9_000 + dice.below(9_000);
                (
                    "container_filled",
                    json!({ "fill_id": fill, "source": source, "gross_g": gross, "tare_g": 1_250 }),
                )
            }
            9 => {
                let code = domain::lot_code::LotCode::make(2026, None, u32::try_from(at)? + 1)?;
                let weight = 500 + 500 * dice.below(9);
                (
                    "honey_drawn",
                    json!({ "lot_id": lot, "code": code, "fill_id": fill, "weight_g": weight }),
                )
            }
            10 => {
                let targets = json!([{ "kind": "lot", "id": lot }, { "kind": "fill", "id": fill }]);
                let shown = json!({ "moisture_hundredths": 1_600 + dice.below(300) });
                ("moisture_read", json!({ "targets": targets, "shown": shown }))
            }
            11 => {
                let target = json!({ "kind": "lot", "id": lot });
                ("hold_set", json!({ "target": target, "reason": "complaint" }))
            }
            0 | 1 => ("super_placed", placed(super_id, hive)),
            2 => ("super_pulled", placed(super_id, hive)),
            3 => (
                "super_weighed",
                json!({ "super_id": super_id, "gross_g": 15_000 + dice.below(9_000) }),
            ),
            4 => (
                "super_received",
                json!({ "super_id": super_id, "gross_g": 15_000 + dice.below(9_000) }),
            ),
            5 => (
                "super_described",
                json!({ "super_id": super_id, "number": format!("{:03}", dice.below(50)) }),
            ),
            _ => match target {
                Some(target) if dice.below(2) == 0 => ("voided", json!({ "entry_id": target, "reason": "no" })),
                Some(target) => (
                    "amended",
                    json!({ "entry_id": target, "kind": "super_placed", "v": 1, "data": placed(super_id, hive) }),
                ),
                None => continue,
            },
        };
        phones[who].record_at(kind, data, when, "entered")?;
        recorded.extend(phones[who].book.outbox.pop().map(|entry| (who, entry)));
    }
    let mut expected: Option<Vec<String>> = None;
    for round in 0..6 {
        service.database.run(FORGET).await?;
        let mut left = recorded.clone();
        while !left.is_empty() {
            // Any entry next, any device next, any size of batch; a device's own may come out of order, too.
            let (who, first) = left.remove(dice.below(left.len()));
            let mut batch = vec![first];
            for _ in 0..dice.below(5) {
                let same: Vec<usize> = (0..left.len()).filter(|at| left[*at].0 == who).collect();
                if same.is_empty() {
                    break;
                }
                batch.push(left.remove(same[dice.below(same.len())]).1);
            }
            phones[who].client.push(&batch).await?.expect_status(200)?;
        }
        let rows = service.database.texts(ROWS).await?;
        let expected = expected.get_or_insert_with(|| rows.clone());
        assert_eq!(*expected, rows, "round {round} of seed {}", dice.seed());
        invariants(&service.database, &mut []).await?;
    }
    let mut shown: Vec<&mut FieldPhone> = phones.iter_mut().collect();
    for phone in &mut shown {
        assert_eq!(phone.sync().await?, Tried::Done);
    }
    invariants(&service.database, &mut shown).await
}

#[tokio::test]
async fn a_withdrawal_by_the_field_ends_no_hold_whenever_it_comes() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    let mut set = BTreeSet::new();
    // One after the other or in one push, each either way round (CF-17: a hold ends by a named release of the office).
    for (first, together) in [("hold", false), ("void", false), ("hold", true), ("void", true)] {
        let target = json!({ "kind": "lot", "id": Uuid::now_v7() });
        let hold = phone.record("hold_set", json!({ "target": target, "reason": "complaint" }))?;
        phone.record("voided", json!({ "entry_id": hold, "reason": "not so bad" }))?;
        let mut entries: Vec<Value> = phone.book.outbox.drain(..).collect();
        if first == "void" {
            entries.reverse();
        }
        for push in entries.chunks(if together { 2 } else { 1 }) {
            phone.client.push(push).await?.expect_status(200)?;
        }
        set.insert(hold.to_string());
    }
    let holds = service.owner().get("/v1/holds").await?.expect_status(200)?;
    let stand = holds["holds"].as_array().into_iter().flatten();
    let stand: BTreeSet<String> = stand
        .filter_map(|hold| hold["hold_id"].as_str().map(str::to_owned))
        .collect();
    assert_eq!(stand, set, "{holds}");
    let apart = "select count(*)::text as text from entry where kind = 'voided' and quarantine = 'not_your_role'";
    assert_eq!(service.database.texts(apart).await?, ["4"]);
    invariants(&service.database, &mut []).await
}

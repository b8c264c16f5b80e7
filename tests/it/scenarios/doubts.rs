//! Contradictions of the field: kept, told by both sides, and settled by another entry.

use anyhow::Result;
use api::auth::Role;
use chrono::{Datelike, TimeDelta, Utc};
use domain::lot_code::LotCode;
use serde_json::{Value, json};
use tests::{Client, FieldPhone, Service, invariants};
use uuid::Uuid;

use super::{phone, placed, row, sides, sorted};

pub(super) async fn made(client: &Client, path: &str, body: &Value) -> Result<Value> {
    client.post(path, body).await?.expect_status(201)
}

/// Two hives in a yard of their own.
async fn hives(office: &Client) -> Result<[Uuid; 2]> {
    let (yard, hives) = (Uuid::now_v7(), [Uuid::now_v7(), Uuid::now_v7()]);
    made(office, "/v1/yards", &json!({ "yard_id": yard, "name": "Wold" })).await?;
    for (at, hive) in hives.iter().enumerate() {
        let new = json!({ "hive_id": hive, "yard_id": yard, "code": format!("W{at}") });
        made(office, "/v1/hives", &new).await?;
    }
    Ok(hives)
}

#[tokio::test]
async fn same_super_two_phones() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let hives = hives(&office).await?;
    let (mut one, mut other) = (phone(&service).await?, phone(&service).await?);
    let super_id = Uuid::now_v7();
    let at = Utc::now() - TimeDelta::hours(3);
    let first = one.record_at("super_placed", placed(super_id, hives[0]), at, "clock")?;
    let later = at + TimeDelta::minutes(15);
    let second = other.record_at("super_placed", placed(super_id, hives[1]), later, "clock")?;
    other.sync_patiently(3).await?;
    one.sync_patiently(3).await?;
    other.sync_patiently(3).await?;
    let shown = row(&other, "super", super_id);
    assert_eq!(shown, row(&one, "super", super_id));
    assert_eq!(sides(&shown["state"], "on_two_hives"), sorted([first, second]));
    let stand = &shown["state"]["filling"]["stands"][0];
    assert_eq!(
        (&stand["hive_id"], &stand["or_hive_ids"][0]),
        (&json!(hives[0]), &json!(hives[1])),
        "one of"
    );
    // Honey of either hive may be in it: a hold of either counts, and a trace names both.
    for hive in hives {
        let target = json!({ "kind": "hive", "id": hive });
        let hold =
            made(&office, "/v1/holds", &json!({ "target": target, "reason": "disease" })).await?["entry_id"].clone();
        let path = format!("/v1/holds/{}", hold.as_str().unwrap_or_default());
        let covers = office.get(&path).await?.expect_status(200)?["covers"].clone();
        assert!(
            covers.to_string().contains(&super_id.to_string()),
            "a hold of {hive} covers {covers}"
        );
        let lift = json!({ "target": target, "hold_id": hold, "reason": "looked at again" });
        made(&office, "/v1/hold-ends", &lift).await?;
    }
    let trace = office
        .get(&format!("/v1/supers/{super_id}/trace"))
        .await?
        .expect_status(200)?;
    let origins = trace.to_string();
    assert!(hives.iter().all(|hive| origins.contains(&hive.to_string())), "{trace}");
    // It is settled by withdrawing one of the two.
    other.record("voided", json!({ "entry_id": second, "reason": "it was 042" }))?;
    other.sync_patiently(3).await?;
    let settled = row(&other, "super", super_id);
    assert_eq!(settled["state"]["flags"], Value::Null, "{settled}");
    assert_eq!(settled["state"]["filling"]["stands"][0]["or_hive_ids"], Value::Null);
    invariants(&service.database, &mut [&mut one, &mut other]).await
}

#[tokio::test]
async fn super_pulled_twice() -> Result<()> {
    let service = Service::start().await?;
    let (mut one, mut other) = (phone(&service).await?, phone(&service).await?);
    let (super_id, hive) = (Uuid::now_v7(), Uuid::now_v7());
    let at = Utc::now() - TimeDelta::days(2);
    one.record_at(
        "super_placed",
        placed(super_id, hive),
        at - TimeDelta::days(20),
        "entered",
    )?;
    let mut pull = placed(super_id, hive);
    one.record_at("super_pulled", pull.clone(), at, "entered")?;
    pull["capped_percent"] = json!(90);
    other.record_at("super_pulled", pull.clone(), at + TimeDelta::hours(2), "entered")?;
    one.record_at(
        "super_received",
        json!({ "super_id": super_id, "gross_g": 21_400 }),
        at + TimeDelta::hours(4),
        "entered",
    )?;
    let sync = async |one: &mut FieldPhone, other: &mut FieldPhone| -> Result<Value> {
        for phone in [&mut *one, &mut *other] {
            phone.sync_patiently(3).await?;
        }
        one.sync_patiently(3).await?;
        Ok(row(one, "super", super_id))
    };
    let shown = sync(&mut one, &mut other).await?;
    assert_eq!(shown["state"]["flags"], Value::Null, "one pull, two witnesses: {shown}");
    assert_eq!(
        shown["state"]["filling"]["pulled"]["capped_percent"],
        json!(90),
        "the second had looked"
    );
    let weight = shown["state"]["filling"]["full"]["gross_g"].clone();
    other.record_at("super_pulled", pull, at + TimeDelta::hours(30), "entered")?;
    let shown = sync(&mut one, &mut other).await?;
    assert_eq!(sides(&shown["state"], "already_pulled").len(), 2, "{shown}");
    assert_eq!(
        shown["state"]["filling"]["full"]["gross_g"], weight,
        "weighed once, counted once"
    );
    invariants(&service.database, &mut [&mut one, &mut other]).await
}

/// A bucket with 10 kg of honey that was bought, and a measured, released lot of 6 kg drawn from it.
pub(super) async fn lot(office: &Client) -> Result<(Uuid, Uuid)> {
    let (fill, lot) = (Uuid::now_v7(), Uuid::now_v7());
    let source = json!({ "bought_from": "a neighbour" });
    let filled = json!({ "fill_id": fill, "source": source, "gross_g": 11_250, "tare_g": 1_250 });
    made(office, "/v1/fills", &filled).await?;
    let drawn = json!({ "lot_id": lot, "code": code(7)?, "fill_id": fill, "weight_g": 6_000 });
    made(office, "/v1/draws", &drawn).await?;
    let read = json!({ "targets": [{ "kind": "lot", "id": lot }], "shown": { "moisture_hundredths": 1_702 } });
    made(office, "/v1/readings", &read).await?;
    made(
        office,
        &format!("/v1/lots/{lot}/releases"),
        &json!({ "samples_kept": 2 }),
    )
    .await?;
    Ok((fill, lot))
}

pub(super) fn code(number: u32) -> Result<LotCode> {
    Ok(LotCode::make(u16::try_from(Utc::now().year())?, None, number)?)
}

#[tokio::test]
async fn late_entry_after_bottling() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let mut phone = phone(&service).await?;
    let (fill, lot) = lot(&office).await?;
    // In the house without signal, before the jars were filled, somebody drew more into the same lot.
    let more = json!({ "lot_id": lot, "code": code(7)?, "fill_id": fill, "weight_g": 1_000 });
    let before_bottling = Utc::now();
    let bottled =
        json!({ "batch_id": Uuid::now_v7(), "code": code(8)?, "nominal_g": 500, "jars_good": 10, "used_g": 5_050 });
    let bottled = made(&office, &format!("/v1/lots/{lot}/bottlings"), &bottled).await?;
    let jars = bottled["row"].clone();
    let batch = format!("/v1/batches/{}", jars["id"].as_str().unwrap_or_default());
    let before = office.get(&batch).await?.expect_status(200)?;
    let late = phone.record_at("honey_drawn", more, before_bottling + TimeDelta::seconds(30), "entered")?;
    phone.sync_patiently(3).await?;
    let shown = office.get(&format!("/v1/lots/{lot}")).await?.expect_status(200)?;
    assert!(
        sides(&shown, "late_for_bottled_lot").contains(&late.to_string()),
        "{shown}"
    );
    let bottling: Uuid = serde_json::from_value(bottled["entry_id"].clone())?;
    assert!(
        sides(&shown, "late_for_bottled_lot").contains(&bottling.to_string()),
        "the other side is the bottling: {shown}"
    );
    let after = office.get(&batch).await?.expect_status(200)?;
    assert_eq!(after, before, "the jars are as they were");
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn office_strict_vs_offline_lenient() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let hives = hives(&office).await?;
    let mut phone = phone(&service).await?;
    let super_id = Uuid::now_v7();
    made(
        &office,
        "/v1/supers",
        &json!({ "super_id": super_id, "number": "017", "class": "medium", "frames": 10 }),
    )
    .await?;
    let head = || {
        service
            .database
            .texts("select last_seq::text as text from operation_ledger")
    };
    let before = head().await?;
    let pulls = format!("/v1/supers/{super_id}/pulls");
    let told = office.post(&pulls, &json!({ "hive_id": hives[0] })).await?;
    assert!(told.is_problem(422, "contradiction"), "{}", told.text);
    assert_eq!(told.json["code"], "never_placed");
    assert_eq!(head().await?, before, "nothing was written");
    let pull = phone.record("super_pulled", placed(super_id, hives[0]))?;
    phone.sync_patiently(3).await?;
    assert_eq!(
        sides(&row(&phone, "super", super_id)["state"], "never_placed"),
        [pull.to_string()]
    );
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn a_doubt_names_both_sides_what_hangs_on_it_and_what_settles_it() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let hives = hives(&office).await?;
    let (_, lot) = lot(&office).await?;
    let mut phone = phone(&service).await?;
    let flags = async || -> Result<Vec<Value>> {
        let answer = office.get("/v1/flags").await?.expect_status(200)?;
        Ok(answer["items"].as_array().cloned().unwrap_or_default())
    };
    assert!(flags().await?.is_empty());
    // A box that nobody put on: the settling entry is the placing that is missing.
    let super_id = Uuid::now_v7();
    phone.record("super_pulled", placed(super_id, hives[0]))?;
    // The same number painted on two boxes.
    let twins = [super::new_super(41), super::new_super(41)];
    for (_, data) in &twins {
        phone.record("super_registered", data.clone())?;
    }
    // A hold that the release knew nothing of.
    let target = json!({ "kind": "lot", "id": lot });
    let hold = json!({ "target": target, "reason": "complaint" });
    let hold = phone.record_at("hold_set", hold, Utc::now() - TimeDelta::seconds(5), "entered")?;
    phone.sync_patiently(3).await?;
    let found = flags().await?;
    let of = |code: &str| {
        found
            .iter()
            .find(|flag| flag["code"] == code)
            .cloned()
            .unwrap_or_default()
    };
    let never = of("never_placed");
    assert_eq!(never["sides"][0]["label"], "W0", "{never}");
    let settling = never["settled_by"][0].clone();
    assert_eq!(
        (&settling["kind"], &settling["data"]["hive_id"]),
        (&json!("super_placed"), &json!(hives[0]))
    );
    let same = of("same_number");
    assert_eq!(same["affects"].as_array().map(Vec::len), Some(2), "{same}");
    assert_eq!(same["settled_by"][0]["data"]["number"], "041a");
    let released = of("released_without_sight_of_hold");
    let lifting = released["settled_by"][0].clone();
    assert_eq!(
        (&lifting["kind"], &lifting["data"]["hold_id"]),
        (&json!("hold_lifted"), &json!(hold)),
        "{released}"
    );
    // Each is settled by the entry it names; until then the lot is held.
    assert_eq!(office.get(&format!("/v1/lots/{lot}")).await?.json["status"], "on_hold");
    phone.record_at(
        "super_placed",
        settling["data"].clone(),
        Utc::now() - TimeDelta::days(20),
        "entered",
    )?;
    phone.record("super_described", same["settled_by"][0]["data"].clone())?;
    phone.sync_patiently(3).await?;
    let mut lift = lifting["data"].clone();
    lift["reason"] = json!("the jar was from another lot");
    made(&office, "/v1/hold-ends", &lift).await?;
    assert_ne!(office.get(&format!("/v1/lots/{lot}")).await?.json["status"], "on_hold");
    let left: Vec<Value> = flags().await?.iter().map(|flag| flag["code"].clone()).collect();
    assert!(
        !left.contains(&json!("never_placed")) && !left.contains(&json!("same_number")),
        "{left:?}"
    );
    invariants(&service.database, &mut [&mut phone]).await
}

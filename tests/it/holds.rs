//! A treatment that a phone tells late: the jars are held, their buyer is named, and only the office ends it (TX-4,
//! CF-17).

use anyhow::Result;
use api::auth::Role;
use chrono::{Datelike, TimeDelta, Utc};
use domain::lot_code::LotCode;
use serde_json::{Value, json};
use tests::{Client, Service};
use uuid::Uuid;

async fn made(client: &Client, path: &str, body: &Value) -> Result<Value> {
    client.post(path, body).await?.expect_status(201)
}

struct Ids {
    yard: Uuid,
    hive: Uuid,
    honey_super: Uuid,
    medicine: Uuid,
    lot: Uuid,
    batch: Uuid,
    shop: Uuid,
}

/// From the hive to the buyer, without a word about the strips that were in.
async fn harvest(office: &Client) -> Result<Ids> {
    let id = Uuid::now_v7;
    let (yard, hive, honey_super, medicine) = (id(), id(), id(), id());
    let (run, fill, lot, batch, shop) = (id(), id(), id(), id(), id());
    let when = |days: i64| {
        let at = Utc::now() - TimeDelta::days(days);
        format!("happened_at={}", at.to_rfc3339_opts(chrono::SecondsFormat::Secs, true))
    };
    let year = u16::try_from(Utc::now().year())?;
    let code = |number| LotCode::make(year, None, number).map(|code| code.to_string());
    let begin = when(200);
    made(
        office,
        &format!("/v1/yards?{begin}"),
        &json!({ "yard_id": yard, "name": "Wold" }),
    )
    .await?;
    let new = json!({ "hive_id": hive, "yard_id": yard, "code": "W03" });
    made(office, &format!("/v1/hives?{begin}"), &new).await?;
    let new = json!({ "super_id": honey_super, "number": "041", "class": "medium", "frames": 10 });
    made(office, &format!("/v1/supers?{begin}"), &new).await?;
    let new = json!({ "medicine_id": medicine, "name": "thymol strips", "wait_days": 14, "supers_allowed": false });
    made(office, &format!("/v1/medicines?{begin}"), &new).await?;
    made(
        office,
        "/v1/customers",
        &json!({ "customer_id": shop, "name": "corner shop" }),
    )
    .await?;
    let of = format!("/v1/supers/{honey_super}");
    made(
        office,
        &format!("{of}/placements?{}", when(60)),
        &json!({ "hive_id": hive }),
    )
    .await?;
    made(office, &format!("{of}/pulls?{}", when(20)), &json!({})).await?;
    made(
        office,
        &format!("{of}/receipts?{}", when(19)),
        &json!({ "gross_g": 20_000 }),
    )
    .await?;
    made(office, &format!("/v1/runs?{}", when(18)), &json!({ "run_id": run })).await?;
    let spun = json!({ "super_id": honey_super });
    made(office, &format!("/v1/runs/{run}/uncappings?{}", when(18)), &spun).await?;
    let filled = json!({ "fill_id": fill, "source": { "run_id": run }, "gross_g": 13_000, "tare_g": 1_000 });
    made(office, &format!("/v1/fills?{}", when(17)), &filled).await?;
    let drawn = json!({ "lot_id": lot, "code": code(1)?, "fill_id": fill, "weight_g": 12_000 });
    made(office, &format!("/v1/draws?{}", when(10)), &drawn).await?;
    let read = json!({ "targets": [{ "kind": "lot", "id": lot }], "shown": { "moisture_hundredths": 1_720 } });
    made(office, &format!("/v1/readings?{}", when(9)), &read).await?;
    made(
        office,
        &format!("/v1/lots/{lot}/releases?{}", when(8)),
        &json!({ "samples_kept": 2 }),
    )
    .await?;
    let jars = json!({ "batch_id": batch, "code": code(2)?, "nominal_g": 500, "jars_good": 20 });
    made(office, &format!("/v1/lots/{lot}/bottlings?{}", when(7)), &jars).await?;
    made(
        office,
        &format!("/v1/deliveries?{}", when(5)),
        &delivery(batch, shop, 6),
    )
    .await?;
    Ok(Ids {
        yard,
        hive,
        honey_super,
        medicine,
        lot,
        batch,
        shop,
    })
}

fn delivery(batch: Uuid, shop: Uuid, jars: i64) -> Value {
    let goods = json!({ "jars": { "batch_id": batch, "count": jars } });
    json!({ "delivery_id": Uuid::now_v7(), "lines": [{ "goods": goods }], "customer_id": shop })
}

#[tokio::test]
async fn a_treatment_told_late_holds_what_is_here_names_who_has_the_rest_and_ends_by_name() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let ids = harvest(&office).await?;
    let none = office.get("/v1/holds").await?.expect_status(200)?;
    assert_eq!(none["holds"], json!([]));

    // A phone that was away tells of strips that were in for a month while the super stood there.
    let mut phone = service.phone(Role::Field).await?;
    let now = Utc::now();
    let strips = json!({ "hive_ids": [ids.hive], "medicine_id": ids.medicine, "batch": "K1", "way": "strip" });
    phone.record("treatment_put_in", strips, now - TimeDelta::days(50));
    let out = json!({ "hive_ids": [ids.hive], "medicine_id": ids.medicine });
    phone.record("treatment_taken_out", out, now - TimeDelta::days(25));
    phone.send().await?.expect_status(200)?;

    let list = office.get("/v1/holds").await?.expect_status(200)?;
    let hold = &list["holds"][0];
    assert_eq!((&hold["reason"], &hold["to_review"]), (&json!("treatment"), &json!(1)));
    let hold_id = hold["hold_id"].as_str().unwrap_or_default().to_owned();
    let answer = office.get(&format!("/v1/holds/{hold_id}")).await?.expect_status(200)?;
    assert_eq!(answer["review"][0]["id"], json!(ids.batch));
    assert_eq!(answer["review"][0]["holders"][0]["label"], "corner shop");
    assert_eq!(answer["review"][0]["holders"][0]["jars"], 6);
    let freed: Vec<&Value> = answer["would_release"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|thing| &thing["id"])
        .collect();
    assert!(
        freed.contains(&&json!(ids.batch)) && freed.contains(&&json!(ids.lot)),
        "{freed:?}"
    );
    let flags = office.get("/v1/flags").await?.expect_status(200)?;
    let codes: Vec<&Value> = flags["items"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|item| &item["code"])
        .collect();
    assert!(codes.contains(&&json!("left_under_hold")), "{codes:?}");

    // Nothing was recalled, nothing more goes out.
    let refused = office.post("/v1/deliveries", &delivery(ids.batch, ids.shop, 1)).await?;
    assert!(refused.is_problem(422, "contradiction"), "{}", refused.text);
    assert_eq!(refused.json["code"], "on_hold");

    // The wait is over, so the hive takes supers again, and the box is free while its honey is not.
    let yard_free = office
        .get(&format!("/v1/hives/{}/trace", ids.hive))
        .await?
        .expect_status(200)?;
    assert_eq!(yard_free["holds"], json!([]));
    assert_eq!(office.get(&format!("/v1/yards/{}", ids.yard)).await?.status, 200);
    assert_eq!(
        office.get(&format!("/v1/supers/{}", ids.honey_super)).await?.status,
        200
    );

    // Whoever works in the field can neither end it nor take back what set it.
    let end =
        json!({ "target": { "kind": "batch", "id": ids.batch }, "hold_id": hold_id, "reason": "residues tested" });
    assert_eq!(phone.client.post("/v1/hold-ends", &end).await?.status, 403);
    let void = json!({ "reason": "did not happen" });
    phone
        .client
        .post(&format!("/v1/entries/{hold_id}/voids"), &void)
        .await?;
    assert_eq!(
        office.get(&format!("/v1/holds/{hold_id}")).await?.status,
        200,
        "still there"
    );

    made(&office, "/v1/hold-ends", &end).await?;
    made(&office, "/v1/deliveries", &delivery(ids.batch, ids.shop, 1)).await?;
    let after = office.get(&format!("/v1/holds/{hold_id}")).await?.expect_status(200)?;
    assert!(after.get("review").is_none(), "{after}");
    let covered: Vec<&Value> = after["covers"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|thing| &thing["id"])
        .collect();
    assert!(covered.contains(&&json!(ids.lot)) && !covered.contains(&&json!(ids.batch)));

    // TX-2: the register has it all.
    let register = office.get("/v1/registers/medicines").await?.expect_status(200)?;
    assert_eq!(register["used"][0]["wait_days"], 14);
    assert_eq!(register["used"][0]["hives"][0]["label"], "W03");
    Ok(())
}

//! The same contradiction told by a phone and by the office: the phone's is kept and flagged with both sides named,
//! the office's is refused in a sentence, and nothing is written (CF-18, ST-11).

use anyhow::Result;
use api::auth::Role;
use chrono::{Datelike, TimeDelta, Utc};
use domain::lot_code::LotCode;
use serde_json::{Value, json};
use tests::{Answer, Client, Service};
use uuid::Uuid;

async fn made(client: &Client, path: &str, body: &Value) -> Result<Value> {
    client.post(path, body).await?.expect_status(201)
}

fn refused(answer: &Answer, code: &str) {
    assert!(answer.is_problem(422, "contradiction"), "{}", answer.text);
    assert_eq!(answer.json["code"], code, "{}", answer.text);
    assert!(
        answer.json["detail"]
            .as_str()
            .is_some_and(|detail| detail.contains(' ')),
        "a sentence: {}",
        answer.text
    );
}

async fn head(client: &Client) -> Result<Value> {
    Ok(client.get("/v1/sync/pull?limit=1").await?.expect_status(200)?["head"].clone())
}

async fn get(client: &Client, path: &str) -> Result<Value> {
    client.get(path).await?.expect_status(200)
}

fn sides(state: &Value, code: &str) -> Vec<String> {
    let flags = state["flags"].as_array().into_iter().flatten();
    let sides = flags
        .filter(|flag| flag["code"] == code)
        .flat_map(|flag| flag["sides"].as_array().into_iter().flatten());
    let mut ids: Vec<String> = sides
        .map(|side| side["entry_id"].as_str().unwrap_or_default().to_owned())
        .collect();
    ids.sort();
    ids
}

fn sorted(ids: [Uuid; 2]) -> Vec<String> {
    let mut ids = ids.map(|id| id.to_string()).to_vec();
    ids.sort();
    ids
}

/// A yard with two hives and one super in the store.
async fn yard(office: &Client) -> Result<(Uuid, [Uuid; 2], Uuid)> {
    let (yard, hives, box_id) = (Uuid::now_v7(), [Uuid::now_v7(), Uuid::now_v7()], Uuid::now_v7());
    made(office, "/v1/yards", &json!({ "yard_id": yard, "name": "Wold" })).await?;
    for (at, hive) in hives.iter().enumerate() {
        made(
            office,
            "/v1/hives",
            &json!({ "hive_id": hive, "yard_id": yard, "code": format!("W{at}") }),
        )
        .await?;
    }
    let new = json!({ "super_id": box_id, "number": "017", "class": "medium", "frames": 10 });
    made(office, "/v1/supers", &new).await?;
    Ok((yard, hives, box_id))
}

#[tokio::test]
async fn a_super_on_two_hives_is_flagged_from_phones_and_refused_to_the_office() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let (yard_id, hives, box_id) = yard(&office).await?;
    let (mut one, mut other) = (service.phone(Role::Field).await?, service.phone(Role::Field).await?);
    let at = Utc::now() - TimeDelta::hours(3);
    let first = one.record("super_placed", json!({ "super_id": box_id, "hive_id": hives[0] }), at);
    let second = other.record(
        "super_placed",
        json!({ "super_id": box_id, "hive_id": hives[1] }),
        at + TimeDelta::minutes(15),
    );
    other.send().await?.expect_status(200)?;
    one.send().await?.expect_status(200)?;
    let state = get(&office, &format!("/v1/supers/{box_id}")).await?;
    assert_eq!(sides(&state, "on_two_hives"), sorted([first, second]));
    let stand = &state["filling"]["stands"][0];
    assert_eq!(
        (&stand["hive_id"], &stand["or_hive_ids"][0]),
        (&json!(hives[0]), &json!(hives[1])),
        "one of the two"
    );

    let before = head(&office).await?;
    let third = Uuid::now_v7();
    made(
        &office,
        "/v1/hives",
        &json!({ "hive_id": third, "yard_id": yard_id, "code": "W9" }),
    )
    .await?;
    let again = head(&office).await?;
    assert_ne!(before, again);
    refused(
        &office
            .post(&format!("/v1/supers/{box_id}/placements"), &json!({ "hive_id": third }))
            .await?,
        "on_two_hives",
    );
    assert_eq!(head(&office).await?, again, "nothing written");
    Ok(())
}

#[tokio::test]
async fn a_super_never_placed_is_flagged_from_a_phone_and_refused_to_the_office() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let (_, hives, box_id) = yard(&office).await?;
    let before = head(&office).await?;
    let pulls = format!("/v1/supers/{box_id}/pulls");
    refused(
        &office.post(&pulls, &json!({ "hive_id": hives[0] })).await?,
        "never_placed",
    );
    assert_eq!(head(&office).await?, before, "nothing written");

    let mut phone = service.phone(Role::Field).await?;
    let pull = phone.record(
        "super_pulled",
        json!({ "super_id": box_id, "hive_id": hives[0] }),
        Utc::now(),
    );
    phone.send().await?.expect_status(200)?;
    let state = get(&office, &format!("/v1/supers/{box_id}")).await?;
    assert_eq!(sides(&state, "never_placed"), [pull.to_string()]);
    assert_eq!(
        state["filling"]["stands"][0]["assumed"],
        json!(true),
        "the cautious answer: assumed"
    );
    Ok(())
}

/// A bucket with 10 kg of honey at 17.02 % and the lot drawn from it.
async fn bucket(office: &Client, measured: bool) -> Result<(Uuid, Uuid)> {
    let (fill, lot) = (Uuid::now_v7(), Uuid::now_v7());
    let filled = json!({ "fill_id": fill, "source": { "bought_from": "a neighbour" }, "gross_g": 11_250, "tare_g": 1_250, "code": "F1" });
    made(office, "/v1/fills", &filled).await?;
    let code = LotCode::make(u16::try_from(Utc::now().year())?, None, 7)?;
    made(
        office,
        "/v1/draws",
        &json!({ "lot_id": lot, "code": code, "fill_id": fill, "weight_g": 6_000 }),
    )
    .await?;
    if measured {
        let read = json!({ "targets": [{ "kind": "lot", "id": lot }], "shown": { "moisture_hundredths": 1_702 } });
        made(office, "/v1/readings", &read).await?;
    }
    Ok((fill, lot))
}

#[tokio::test]
async fn an_overdrawn_pail_keeps_both_draws_from_phones_and_refuses_the_office() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let (fill, _) = bucket(&office, false).await?;
    let code = |number| LotCode::make(u16::try_from(Utc::now().year()).unwrap_or(2026), Some('K'), number);
    let draw = |lot: Uuid, code: LotCode| json!({ "lot_id": lot, "code": code, "fill_id": fill, "weight_g": 6_000 });
    let before = head(&office).await?;
    refused(
        &office.post("/v1/draws", &draw(Uuid::now_v7(), code(1)?)).await?,
        "more_than_it_holds",
    );
    assert_eq!(head(&office).await?, before, "nothing written");

    let mut phone = service.phone(Role::Field).await?;
    let lot = Uuid::now_v7();
    let second = phone.record("honey_drawn", draw(lot, code(1)?), Utc::now());
    phone.send().await?.expect_status(200)?;
    let state = get(&office, &format!("/v1/fills/{fill}")).await?;
    assert_eq!(
        (&state["content_g"], &state["status"]),
        (&json!(-2_000), &json!("overdrawn"))
    );
    let sides = sides(&state, "overdrawn");
    assert!(
        sides.len() == 2 && sides.contains(&second.to_string()),
        "both draws are named: {sides:?}"
    );
    // Further draws are blocked until somebody counts.
    refused(
        &office.post("/v1/draws", &draw(Uuid::now_v7(), code(2)?)).await?,
        "overdrawn",
    );
    Ok(())
}

#[tokio::test]
async fn a_hold_that_arrives_after_the_release_holds_and_names_both_sides() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let (_, lot) = bucket(&office, true).await?;
    let mut phone = service.phone(Role::Field).await?;
    let target = json!({ "kind": "lot", "id": lot });
    // Written in the house without signal, before the office releases and without knowing that it would.
    let complaint = json!({ "target": target, "reason": "complaint", "text": "a jar works" });
    let hold = phone.record("hold_set", complaint, Utc::now());
    let release = made(
        &office,
        &format!("/v1/lots/{lot}/releases"),
        &json!({ "samples_kept": 2 }),
    )
    .await?;
    phone.send().await?.expect_status(200)?;

    let state = get(&office, &format!("/v1/lots/{lot}")).await?;
    assert_eq!(state["status"], "on_hold", "the cautious answer");
    let released: Uuid = serde_json::from_value(release["entry_id"].clone())?;
    assert_eq!(
        sides(&state, "released_without_sight_of_hold"),
        sorted([hold, released])
    );

    let before = head(&office).await?;
    let code = LotCode::make(u16::try_from(Utc::now().year())?, None, 8)?;
    let jars = json!({ "batch_id": Uuid::now_v7(), "code": code, "nominal_g": 500, "jars_good": 4 });
    refused(
        &office.post(&format!("/v1/lots/{lot}/bottlings"), &jars).await?,
        "on_hold",
    );
    refused(
        &office.post(&format!("/v1/lots/{lot}/releases"), &json!({})).await?,
        "on_hold",
    );
    assert_eq!(head(&office).await?, before, "nothing written");
    let lifted = json!({ "target": target, "hold_id": hold, "reason": "the jar was from another lot" });
    made(&office, "/v1/hold-ends", &lifted).await?;
    made(&office, &format!("/v1/lots/{lot}/bottlings"), &jars).await?;
    Ok(())
}

#[tokio::test]
async fn a_lot_above_its_limit_is_not_bottled() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let (_, lot) = bucket(&office, false).await?;
    let wet = json!({ "targets": [{ "kind": "lot", "id": lot }], "shown": { "moisture_hundredths": 1_940 } });
    made(&office, "/v1/readings", &wet).await?;
    let before = head(&office).await?;
    let code = LotCode::make(u16::try_from(Utc::now().year())?, None, 9)?;
    let jars = json!({ "batch_id": Uuid::now_v7(), "code": code, "nominal_g": 500, "jars_good": 4 });
    refused(
        &office.post(&format!("/v1/lots/{lot}/bottlings"), &jars).await?,
        "too_wet",
    );
    refused(
        &office.post(&format!("/v1/lots/{lot}/releases"), &json!({})).await?,
        "too_wet",
    );
    assert_eq!(head(&office).await?, before, "nothing written");
    Ok(())
}

#[tokio::test]
async fn a_body_that_does_not_read_says_where_and_writes_nothing() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let (_, hives, box_id) = yard(&office).await?;
    let before = head(&office).await?;
    let path = format!("/v1/supers/{box_id}/placements");
    let unknown = office.post(&path, &json!({ "hive_id": hives[0], "hve": 1 })).await?;
    assert_eq!(
        (unknown.status, &unknown.json["pointer"]),
        (400, &json!("/hve")),
        "{}",
        unknown.text
    );
    let wrong = office.post(&path, &json!({ "hive_id": 7 })).await?;
    assert_eq!(
        (wrong.status, &wrong.json["pointer"]),
        (400, &json!("/hive_id")),
        "{}",
        wrong.text
    );
    let weight = json!({ "gross_g": -1 });
    let negative = office.post(&format!("/v1/supers/{box_id}/weighings"), &weight).await?;
    assert_eq!(
        (negative.status, &negative.json["pointer"]),
        (400, &json!("/gross_g")),
        "{}",
        negative.text
    );
    let send = |body: Vec<u8>| {
        let json = "application/json";
        office.raw(reqwest::Method::POST, &path, move |request| {
            request.header("content-type", json).body(body)
        })
    };
    assert_eq!(send(b"{\"hive_id\": ".to_vec()).await?.status, 400);
    assert_eq!(send(vec![b' '; 5_000_000]).await?.status, 413);
    assert_eq!(head(&office).await?, before, "nothing written");
    Ok(())
}

#[tokio::test]
async fn a_field_phone_does_not_end_a_hold_by_withdrawing_it() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let (_, lot) = bucket(&office, true).await?;
    let hold = json!({ "target": { "kind": "lot", "id": lot }, "reason": "complaint" });
    let hold = made(&office, "/v1/holds", &hold).await?["entry_id"].clone();
    let mut phone = service.phone(Role::Field).await?;
    phone.record("voided", json!({ "entry_id": hold, "reason": "in my way" }), Utc::now());
    let answer = phone.send().await?.expect_status(200)?;
    assert_eq!(answer["results"][0]["reason"], "not_your_role");
    let path = format!("/v1/entries/{}/voids", hold.as_str().unwrap_or_default());
    assert_eq!(
        phone
            .client
            .post(&path, &json!({ "reason": "in my way" }))
            .await?
            .status,
        403
    );
    assert_eq!(get(&office, &format!("/v1/lots/{lot}")).await?["status"], "on_hold");
    Ok(())
}

#[tokio::test]
async fn a_lot_measured_again_is_as_fresh_as_its_last_reading() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let long_ago = (Utc::now() - TimeDelta::days(40)).to_rfc3339_opts(chrono::SecondsFormat::Secs, true);
    let told = |path: &str| format!("{path}?happened_at={long_ago}");
    let (fill, old) = (Uuid::now_v7(), Uuid::now_v7());
    let filled =
        json!({ "fill_id": fill, "source": { "bought_from": "a neighbour" }, "gross_g": 11_250, "tare_g": 1_250 });
    made(&office, &told("/v1/fills"), &filled).await?;
    let code = LotCode::make(u16::try_from(Utc::now().year())?, None, 11)?;
    let drawn = json!({ "lot_id": old, "code": code, "fill_id": fill, "weight_g": 6_000 });
    made(&office, &told("/v1/draws"), &drawn).await?;
    let of_old =
        |water: i64| json!({ "targets": [{ "kind": "lot", "id": old }], "shown": { "moisture_hundredths": water } });
    made(&office, &told("/v1/readings"), &of_old(1_743)).await?;
    let releases = format!("/v1/lots/{old}/releases");
    refused(&office.post(&releases, &json!({})).await?, "measured_too_long_ago");
    made(&office, "/v1/readings", &of_old(1_692)).await?;
    made(&office, &releases, &json!({ "samples_kept": 2 })).await?;
    // The highest reading still decides (MO-10).
    let listed = get(&office, "/v1/lots").await?;
    let row = listed["items"]
        .as_array()
        .into_iter()
        .flatten()
        .find(|row| row["id"] == json!(old));
    assert_eq!(row.map(|row| row["moisture_hundredths"].clone()), Some(json!(1_743)));
    Ok(())
}

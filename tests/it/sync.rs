//! What follows from the ledger: states that are made anew, versions of edits, short lists. What may happen between
//! phones and the service is in `scenarios`.

use anyhow::{Context, Result, ensure};
use api::auth::Role;
use api::config::Secret;
use api::ledger_commands;
use chrono::Utc;
use serde_json::{Value, json};
use tests::Service;
use uuid::Uuid;

fn registered(number: usize) -> (Uuid, Value) {
    let id = Uuid::now_v7();
    (
        id,
        json!({ "super_id": id, "number": format!("{number:03}"), "class": "medium", "frames": 10 }),
    )
}

fn words(answer: &Value) -> Vec<&str> {
    let results = answer["results"].as_array().into_iter().flatten();
    results
        .map(|result| result["result"].as_str().unwrap_or_default())
        .collect()
}

/// Numbers without a gap, a chain that holds, states that follow.
async fn sound(service: &Service) -> Result<()> {
    let report = ledger_commands::verify(&Secret::new(service.database.url()), None).await?;
    ensure!(report.is_sound(), "{}", report.text());
    Ok(())
}

#[tokio::test]
async fn an_unknown_kind_or_version_is_kept_apart_and_pulled_unread() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = service.phone(Role::Field).await?;
    let unheard = phone.record("moon_walked", json!({ "at": "noon" }), Utc::now());
    let mut batch = phone.outbox.clone();
    let (_, data) = registered(1);
    phone.record("super_registered", data, Utc::now());
    let mut newer = phone.outbox[1].clone();
    newer["v"] = json!(99);
    newer["colour"] = json!("kept as well");
    batch.push(newer);
    let answer = phone.client.push(&batch).await?.expect_status(200)?;
    assert_eq!(words(&answer), ["quarantined"; 2]);
    let reasons = ["unknown_kind", "unknown_version"].map(|reason| json!(reason));
    assert_eq!(
        [&answer["results"][0]["reason"], &answer["results"][1]["reason"]],
        [&reasons[0], &reasons[1]]
    );
    let pulled = phone.client.get("/v1/sync/pull").await?.expect_status(200)?;
    assert_eq!(pulled["quarantined"][0]["id"], json!(unheard));
    let ledger = service.owner().get("/v1/ledger").await?.expect_status(200)?;
    let echoed = ledger["entries"]
        .as_array()
        .context("entries")?
        .iter()
        .any(|entry| entry["entry"]["colour"] == "kept as well");
    assert!(echoed, "what is not known is kept and echoed");
    sound(&service).await
}

// ID-8: who told it, on which device, as its how manieth entry, and three times: when it happened, when it was written (the
// app makes ids that carry it) and when it was received.
#[tokio::test]
async fn every_entry_says_who_told_it_on_what_and_when() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = service.phone(Role::Field).await?;
    let (_, data) = registered(1);
    // The store keeps microseconds.
    let happened = chrono::SubsecRound::trunc_subsecs(Utc::now() - chrono::TimeDelta::hours(3), 6);
    let id = phone.record_entered("super_registered", data, happened);
    phone.send().await?.expect_status(200)?;
    let ledger = service.owner().get("/v1/ledger").await?.expect_status(200)?;
    let entries = ledger["entries"].as_array().context("entries")?;
    let told = entries
        .iter()
        .find(|told| told["entry"]["id"] == json!(id))
        .context("the entry")?;
    let time = |value: &Value| {
        value
            .as_str()
            .and_then(|text| text.parse::<chrono::DateTime<Utc>>().ok())
    };
    let (received, counted) = (
        time(&told["received_at"]).context("received")?,
        time(&told["effective_at"]),
    );
    assert_eq!(
        (counted, time(&told["entry"]["happened_at"])),
        (Some(happened), Some(happened))
    );
    let written = id.get_timestamp().context("ids carry the time")?.to_unix().0;
    assert!(i64::try_from(written)? <= received.timestamp() && i64::try_from(written)? >= happened.timestamp());
    assert_eq!(told["entry"]["device_counter"], json!(1));
    assert!(told["author"].is_string() && told["device"].is_string(), "{told}");
    assert_ne!(told["author"], told["device"]);
    Ok(())
}

#[tokio::test]
async fn an_office_kind_from_a_field_phone_is_kept_apart() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = service.phone(Role::Field).await?;
    phone.record("lot_released", json!({ "lot_id": Uuid::now_v7() }), Utc::now());
    let answer = phone.send().await?.expect_status(200)?;
    let told = &answer["results"][0];
    assert_eq!(
        (&told["result"], &told["reason"]),
        (&json!("quarantined"), &json!("not_your_role"))
    );
    sound(&service).await
}

const EVERY_STATE: &str = "select concat_ws('|', kind, id, changed_seq, label, status, flags, state, memo) as text \
                           from state_row order by kind, id";

#[tokio::test]
async fn a_rebuild_gives_the_same_states_and_a_damaged_one_is_found() -> Result<()> {
    let service = Service::start().await?;
    let url = Secret::new(service.database.url());
    let mut phone = service.phone(Role::Field).await?;
    let hive = Uuid::now_v7();
    for number in 0..30 {
        let (id, data) = registered(number);
        phone.record("super_registered", data, Utc::now());
        let placed = phone.record("super_placed", json!({ "super_id": id, "hive_id": hive }), Utc::now());
        if number % 3 == 0 {
            phone.record(
                "voided",
                json!({ "entry_id": placed, "reason": "another box" }),
                Utc::now(),
            );
        }
    }
    phone.send().await?.expect_status(200)?;
    let before = service.database.texts(EVERY_STATE).await?;
    assert_eq!(before.len(), 30);
    ledger_commands::rebuild(&url, None).await?;
    assert_eq!(service.database.texts(EVERY_STATE).await?, before);
    sound(&service).await?;
    service
        .database
        .run("update state_row set status = 'lost' where label = '007'")
        .await?;
    assert!(
        !ledger_commands::verify(&url, None).await?.is_sound(),
        "a state that does not follow is found"
    );
    Ok(())
}

#[tokio::test]
async fn an_edit_names_its_version_and_an_old_one_is_refused() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let (id, data) = registered(41);
    office.post("/v1/supers", &data).await?.expect_status(201)?;
    let path = format!("/v1/supers/{id}");
    let read = office.get(&path).await?;
    let tag = read.header("etag").context("a version")?.to_owned();
    let version: i64 = tag.trim_matches('"').parse()?;
    let unchanged = office
        .raw(reqwest::Method::GET, &path, |request| {
            request.header("if-none-match", &tag)
        })
        .await?;
    assert_eq!(unchanged.status, 304);
    let body = json!({ "number": "041a" });
    let no_version = office
        .raw(reqwest::Method::PATCH, &path, |request| request.json(&body))
        .await?;
    assert_eq!(no_version.status, 428);
    let changed = office.patch(&path, version, &body).await?.expect_status(200)?;
    assert_eq!(
        (&changed["number"], &changed["former_numbers"]),
        (&json!("041a"), &json!(["041"])),
        "the old one is kept"
    );
    assert_eq!(office.patch(&path, version, &body).await?.status, 412);
    Ok(())
}

#[tokio::test]
async fn an_office_call_repeated_with_its_entry_id_writes_once() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let (_, data) = registered(41);
    let path = format!("/v1/supers?entry_id={}", Uuid::now_v7());
    let first = office.post(&path, &data).await?.expect_status(201)?;
    let again = office.post(&path, &data).await?.expect_status(200)?;
    assert_eq!((&first["seq"], &first["entry_id"]), (&again["seq"], &again["entry_id"]));
    let (_, other) = registered(42);
    assert_eq!(office.post(&path, &other).await?.status, 409);
    sound(&service).await
}

#[tokio::test]
async fn a_list_of_500_supers_fits_into_20_kilobytes() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = service.phone(Role::Field).await?;
    let hives: Vec<Uuid> = (0..60).map(|_| Uuid::now_v7()).collect();
    for number in 0..500 {
        let (id, data) = registered(number);
        phone.record("super_registered", data, Utc::now());
        phone.record(
            "super_placed",
            json!({ "super_id": id, "hive_id": hives[number % 60] }),
            Utc::now(),
        );
        if phone.outbox.len() == 500 {
            phone.send().await?.expect_status(200)?;
        }
    }
    let list = phone.client.get("/v1/supers?limit=500").await?;
    assert_eq!(list.json["items"].as_array().map(Vec::len), Some(500));
    let tag = list.header("etag").context("a version")?.to_owned();
    let again = phone
        .client
        .raw(reqwest::Method::GET, "/v1/supers?limit=500", |request| {
            request.header("if-none-match", &tag)
        });
    assert_eq!(again.await?.status, 304, "nothing changed, nothing sent");
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::new(6));
    std::io::Write::write_all(&mut packed, list.text.as_bytes())?;
    let bytes = packed.finish()?.len();
    assert!(bytes <= 20_000, "{bytes} bytes");
    Ok(())
}

//! The sync protocol: told twice, told otherwise, told badly, told at once; and what follows from the ledger.

use std::collections::BTreeSet;

use anyhow::{Context, Result, ensure};
use api::auth::Role;
use api::config::Secret;
use api::ledger_commands;
use chrono::Utc;
use serde_json::{Value, json};
use tests::{Client, Phone, Service};
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

fn seqs(answer: &Value) -> Vec<Option<i64>> {
    answer["results"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|result| result["seq"].as_i64())
        .collect()
}

/// Numbers without a gap, a chain that holds, states that follow.
async fn sound(service: &Service) -> Result<()> {
    let report = ledger_commands::verify(&Secret::new(service.database.url()), None).await?;
    ensure!(report.is_sound(), "{}", report.text());
    Ok(())
}

async fn filled(phone: &mut Phone, boxes: usize) -> Vec<Value> {
    for number in 0..boxes {
        let (_, data) = registered(number);
        phone.record("super_registered", data, Utc::now());
    }
    phone.outbox.clone()
}

#[tokio::test]
async fn the_same_batch_twice_is_stored_once_and_answered_with_the_same_numbers() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = service.phone(Role::Field).await?;
    let batch = filled(&mut phone, 20).await;
    let first = phone.client.push(&batch).await?.expect_status(200)?;
    let again = phone.client.push(&batch).await?.expect_status(200)?;
    assert_eq!(
        (words(&first), words(&again)),
        (vec!["stored"; 20], vec!["duplicate"; 20])
    );
    assert_eq!(seqs(&first), seqs(&again));
    sound(&service).await
}

#[tokio::test]
async fn the_same_batch_on_two_connections_at_once_is_stored_by_one_of_them() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = service.phone(Role::Field).await?;
    let batch = filled(&mut phone, 20).await;
    let (one, other) = tokio::try_join!(phone.client.push(&batch), phone.client.push(&batch))?;
    let (one, other) = (one.expect_status(200)?, other.expect_status(200)?);
    assert_eq!(seqs(&one), seqs(&other));
    let both: BTreeSet<Vec<&str>> = [words(&one), words(&other)].into();
    assert_eq!(both, BTreeSet::from([vec!["duplicate"; 20], vec!["stored"; 20]]));
    sound(&service).await
}

#[tokio::test]
async fn an_id_with_other_content_is_refused_and_the_first_kept() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = service.phone(Role::Field).await?;
    let mut batch = filled(&mut phone, 1).await;
    phone.client.push(&batch).await?.expect_status(200)?;
    batch[0]["data"]["number"] = json!("999");
    let again = phone.client.push(&batch).await?.expect_status(200)?;
    let result = &again["results"][0];
    assert_eq!(
        (&result["result"], &result["reason"]),
        (&json!("refused"), &json!("id_reused"))
    );
    let kept = service
        .database
        .texts("select count(*)::text as text from dead_letter")
        .await?;
    assert_eq!(kept, ["1"], "the bytes are kept");
    sound(&service).await
}

#[tokio::test]
async fn one_bad_entry_in_500_stops_no_other_and_the_order_of_results_is_kept() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = service.phone(Role::Field).await?;
    let mut batch = filled(&mut phone, 500).await;
    batch[250]["id"] = json!("not an id");
    let answer = phone.client.push(&batch).await?.expect_status(200)?;
    let words = words(&answer);
    assert_eq!(words.iter().filter(|word| **word == "stored").count(), 499);
    assert_eq!(words[250], "refused");
    batch[250]["id"] = json!(Uuid::now_v7());
    batch[250]["data"]["frames"] = json!(31);
    let answer = phone.client.push(&batch[250..251]).await?.expect_status(200)?;
    let told = &answer["results"][0];
    assert_eq!(
        (&told["result"], &told["pointer"]),
        (&json!("refused"), &json!("/data/frames")),
        "{told}"
    );
    sound(&service).await
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

#[tokio::test]
async fn another_operation_in_the_envelope_is_refused_whole() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = service.phone(Role::Field).await?;
    let foreign = service.other_operation().await?;
    let batch = filled(&mut phone, 2).await;
    let body = json!({ "operation_id": foreign.id, "sent_at": Utc::now(), "entries": batch });
    let answer = phone.client.post("/v1/sync/push", &body).await?;
    assert!(answer.is_problem(403, "wrong-operation"), "{}", answer.text);
    assert_eq!(
        service
            .database
            .texts("select count(*)::text as text from entry")
            .await?,
        ["0"]
    );
    Ok(())
}

/// Pulls until it has read up to a number, and says which rows it was shown.
async fn pull_up_to(client: Client, last: i64) -> Result<BTreeSet<String>> {
    let (mut cursor, mut seen) = (String::new(), BTreeSet::new());
    loop {
        let path = if cursor.is_empty() {
            "/v1/sync/pull?limit=7".to_owned()
        } else {
            format!("/v1/sync/pull?limit=7&cursor={cursor}")
        };
        let page = client.get(&path).await?.expect_status(200)?;
        let rows = page["rows"].as_array().context("rows")?;
        seen.extend(rows.iter().filter_map(|row| row["id"].as_str()).map(str::to_owned));
        page["cursor"].as_str().context("a cursor")?.clone_into(&mut cursor);
        if page["more"] == json!(false) && page["head"].as_i64() >= Some(last) {
            return Ok(seen);
        }
    }
}

#[tokio::test]
async fn pullers_that_race_with_writers_miss_nothing() -> Result<()> {
    const WRITERS: usize = 6;
    const PUSHES: usize = 10;
    const EACH: usize = 5;
    let service = Service::start().await?;
    let mut writers = Vec::new();
    for _ in 0..WRITERS {
        writers.push(service.phone(Role::Field).await?);
    }
    let last = i64::try_from(WRITERS * PUSHES * EACH)?;
    let pullers: Vec<_> = (0..3)
        .map(|_| tokio::spawn(pull_up_to(service.owner(), last)))
        .collect();
    let writing: Vec<_> = writers
        .into_iter()
        .map(|mut phone| {
            tokio::spawn(async move {
                let mut made = BTreeSet::new();
                for _ in 0..PUSHES {
                    for number in 0..EACH {
                        let (id, data) = registered(number);
                        made.insert(id.to_string());
                        phone.record("super_registered", data, Utc::now());
                    }
                    phone.send().await?.expect_status(200)?;
                }
                anyhow::Ok(made)
            })
        })
        .collect();
    let mut made = BTreeSet::new();
    for writer in writing {
        made.extend(writer.await??);
    }
    for puller in pullers {
        assert_eq!(puller.await??, made);
    }
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

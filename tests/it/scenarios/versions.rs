//! Programs of other years: fields, kinds and versions that this one does not know, or that are long old.

use anyhow::{Context, Result};
use serde_json::{Value, json};
use tests::{Service, invariants};
use uuid::Uuid;

use super::{new_super, phone, words};

#[tokio::test]
async fn unknown_extra_fields() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    let (_, mut data) = new_super(1);
    data["paint"] = json!({ "colour": "blue", "coats": 2.50 });
    phone.record("super_registered", data)?;
    let entry = &mut phone.book.outbox[0];
    entry["humidity"] = json!([61, null, "ä\u{200d}ö"]);
    // Spaces are the phone's own, too.
    let bytes = format!("{{ \"app\" : \"2.1\",\t{}", &entry.to_string()[1..]);
    let envelope = format!(
        "{{\"operation_id\":\"{}\",\"sent_at\":\"{}\",\"entries\":[{bytes}]}}",
        service.operation.id,
        phone.now().to_rfc3339()
    );
    let shape = |request: reqwest::RequestBuilder| request.header("content-type", "application/json").body(envelope);
    let answer = phone
        .client
        .raw(reqwest::Method::POST, "/v1/sync/push", shape)
        .await?
        .expect_status(200)?;
    assert_eq!(words(&answer), ["stored"], "{answer}");
    let ledger = service.owner().get("/v1/ledger").await?;
    assert!(ledger.text.contains(&bytes), "byte for byte: {}", ledger.text);
    phone.book.outbox.clear();
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn schema_old_client() -> Result<()> {
    // Version 1 of every kind, every field filled, as it was committed when the kind was made; `golden` in `domain`
    // holds each of them to what it has to read as.
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    let golden = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../domain/golden");
    let mut sent = 0;
    for spec in domain::entry::KINDS {
        assert_eq!(spec.oldest, 1, "{}: version 1 is read for ever", spec.kind);
        let data = std::fs::read_to_string(golden.join(format!("{}.v1.json", spec.kind))).context(spec.kind)?;
        phone.record_at(
            spec.kind,
            serde_json::from_str(&data)?,
            chrono::Utc::now() - chrono::TimeDelta::days(730),
            "entered",
        )?;
        sent += 1;
    }
    assert!(sent > 60);
    phone.sync_patiently(3).await?;
    assert!(phone.book.not_taken.is_empty(), "{:?}", phone.book.not_taken);
    let office_only = domain::entry::KINDS
        .iter()
        .filter(|spec| spec.written_by == domain::entry::WrittenBy::Office);
    // A correction of what is the office's, too: the golden amendment and void name an entry that is not there.
    assert_eq!(
        phone.book.quarantined.len(),
        office_only.count(),
        "only what is the office's is kept apart"
    );
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn a_kind_of_next_year_is_kept_and_shown_unread() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    let unheard: Uuid = phone.record("moon_walked", json!({ "at": "noon" }))?;
    let (_, data) = new_super(2);
    phone.record("super_registered", data)?;
    phone.book.outbox[1]["v"] = json!(99);
    phone.sync_patiently(3).await?;
    assert_eq!(phone.book.quarantined[&unheard.to_string()]["reason"], "unknown_kind");
    let reasons: Vec<_> = phone
        .book
        .quarantined
        .values()
        .map(|entry| entry["reason"].clone())
        .collect();
    assert!(reasons.contains(&json!("unknown_version")));
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn schema_too_new() -> Result<()> {
    let mut service = Service::start().await?;
    let (mut newer, mut reader) = (phone(&service).await?, phone(&service).await?);
    let (id, data) = new_super(7);
    newer.record("super_registered", data)?;
    newer.record("moon_walked", json!({ "at": "noon" }))?;
    newer.sync_patiently(3).await?;
    // What an older program would have made of the first: set apart, linked to nothing.
    let older =
        "update entry set quarantine = 'unknown_kind' where seq = 1; truncate entry_subject, state_row, state_part";
    service.database.run(older).await?;
    newer.book = tests::Book {
        counter: 2,
        ..tests::Book::default()
    };
    for phone in [&mut newer, &mut reader] {
        phone.sync_patiently(3).await?;
        assert_eq!(
            (phone.book.rows.len(), phone.book.quarantined.len()),
            (0, 2),
            "pulled opaque"
        );
    }
    invariants(&service.database, &mut [&mut newer, &mut reader]).await?;
    // The upgrade: the next start understands it.
    service.stop().await?;
    let twin = service.twin().await?;
    for phone in [&mut newer, &mut reader] {
        phone.client = phone.client.elsewhere(&twin.url);
        phone.sync_patiently(3).await?;
        assert_eq!(
            super::row(phone, "super", id)["label"],
            "007",
            "it folds by itself, and reaches phones at the head"
        );
        assert_eq!(phone.book.quarantined.len(), 1, "the other waits on");
    }
    invariants(&service.database, &mut [&mut newer, &mut reader]).await
}

/// The same wish through the phone's own copy of the rules, with the rows it has pulled.
fn decided(rules: &mut domain::phone::Phone, kind: &str, data: &Value) -> Result<Value> {
    let ask = json!({ "call": "decide", "now": chrono::Utc::now(), "wish": { "kind": kind, "data": data } });
    Ok(serde_json::from_str(&rules.call(&ask.to_string()))?)
}

#[tokio::test]
async fn phone_decides_alone() -> Result<()> {
    // The rules as the phone has them, run as they are; `deploy/wasm.sh` builds the same crate as WebAssembly.
    let service = Service::start().await?;
    let office = service.member(api::auth::Role::Office).await?;
    let (yard, hive, other) = (Uuid::now_v7(), Uuid::now_v7(), Uuid::now_v7());
    let made = async |path: &str, body: Value| office.post(path, &body).await?.expect_status(201);
    made("/v1/yards", json!({ "yard_id": yard, "name": "Wold" })).await?;
    for (hive, code) in [(hive, "W1"), (other, "W2")] {
        made("/v1/hives", json!({ "hive_id": hive, "yard_id": yard, "code": code })).await?;
    }
    let mut supers = Vec::new();
    for number in 0..3 {
        let (id, data) = new_super(number);
        made("/v1/supers", data).await?;
        supers.push(id);
    }
    made(
        &format!("/v1/supers/{}/placements", supers[1]),
        json!({ "hive_id": hive }),
    )
    .await?;
    let mut phone = phone(&service).await?;
    phone.sync_patiently(3).await?;
    let mut rules = domain::phone::Phone::new();
    let rows: Vec<&Value> = phone.book.rows.values().collect();
    let held = rules.call(&json!({ "call": "hold", "rows": rows }).to_string());
    assert_eq!(serde_json::from_str::<Value>(&held)?, json!({ "held": rows.len() }));
    // Granted, refused since nobody put it on, refused since it stands elsewhere, warned of a weight, ended.
    let wishes = [
        (0, "super_placed", "placements", json!({ "hive_id": hive })),
        (2, "super_pulled", "pulls", json!({ "hive_id": hive })),
        (1, "super_placed", "placements", json!({ "hive_id": other })),
        (1, "super_pulled", "pulls", json!({ "hive_id": other })),
        (2, "super_weighed", "weighings", json!({ "gross_g": 91_000 })),
        (2, "super_weighed", "weighings", json!({ "gross_g": 3_000 })),
        (
            1,
            "super_pulled",
            "pulls",
            json!({ "hive_id": hive, "capped_percent": 10 }),
        ),
    ];
    let (mut granted, mut refused) = (0, 0);
    for (which, kind, path, wish) in wishes {
        let mut data = wish.clone();
        data["super_id"] = json!(supers[which]);
        let here = decided(&mut rules, kind, &data)?;
        let there = office
            .post(&format!("/v1/supers/{}/{path}", supers[which]), &wish)
            .await?;
        let told = format!("{kind} {data}: {here} and {}", there.text);
        if there.status == 201 {
            granted += 1;
            assert_eq!(here["warnings"], there.json["warnings"], "{told}");
            let ledger = service.owner().get("/v1/ledger?limit=5000").await?.expect_status(200)?;
            let entries = ledger["entries"].as_array().context("entries")?;
            let written = entries
                .iter()
                .find(|entry| entry["entry"]["id"] == there.json["entry_id"])
                .context("it")?;
            for field in ["kind", "v", "data"] {
                assert_eq!(here["entry"][field], written["entry"][field], "{field}: {told}");
            }
        } else {
            refused += 1;
            assert_eq!(
                (there.status, &there.json["code"]),
                (422, &here["refused"]["code"]),
                "{told}"
            );
            let sentence = here["refused"]["detail"].as_str().unwrap_or_default();
            assert!(
                there.json["detail"]
                    .as_str()
                    .is_some_and(|detail| detail.starts_with(sentence)),
                "{told}"
            );
        }
        // What the office wrote, the phone has to hear of before it decides again.
        phone.sync_patiently(3).await?;
        let rows: Vec<&Value> = phone.book.rows.values().collect();
        let _ = rules.call(&json!({ "call": "hold", "rows": rows }).to_string());
    }
    assert!(granted >= 2 && refused >= 2, "{granted} granted, {refused} refused");
    invariants(&service.database, &mut [&mut phone]).await
}

//! Programs of other years: fields, kinds and versions that this one does not know, or that are long old.

use std::collections::BTreeMap;
use std::path::Path;

use anyhow::{Context, Result};
use api::auth::Role;
use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};
use tests::{FieldPhone, Service, invariants};
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

/// The state rows as a phone shows them: without the number of the last change, and who told what by a name.
fn shown(rows: &BTreeMap<(String, String), Value>, names: &[(Uuid, &str)]) -> Result<String> {
    let mut shown = Vec::new();
    for row in rows.values() {
        let mut row = row.clone();
        if let Some(row) = row.as_object_mut() {
            row.remove("changed_seq");
        }
        shown.push(row);
    }
    let mut text = serde_json::to_string_pretty(&shown)? + "\n";
    for (id, name) in names {
        text = text.replace(&id.to_string(), name);
    }
    Ok(text)
}

#[tokio::test]
async fn schema_old_client() -> Result<()> {
    // Version 1 of every kind, every field filled, as it was committed when the kind was made; `golden` in `domain`
    // holds each of them to what it has to read as. What they come to mean, whatever versions are written by now, is in
    // `tests/golden`: `UPDATE_GOLDEN=1 tests/run schema_old_client` writes it anew, and the change is to be looked at.
    let service = Service::start().await?;
    let mut phone = FieldPhone::new(service.operation.phone(Role::Owner).await?.client);
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let two_years_ago: DateTime<Utc> = "2024-05-01T10:00:00Z".parse()?;
    for (at, spec) in domain::entry::KINDS.iter().enumerate() {
        assert_eq!(spec.oldest, 1, "{}: version 1 is read for ever", spec.kind);
        let file = here.join(format!("../domain/golden/{}.v1.json", spec.kind));
        let data = serde_json::from_str(&std::fs::read_to_string(file).context(spec.kind)?)?;
        // In the alphabet's order, a minute apart, under ids that stay the same.
        let when = two_years_ago + TimeDelta::minutes(i64::try_from(at)?);
        phone.record_at(spec.kind, data, when, "entered")?;
        if let Some(entry) = phone.book.outbox.last_mut() {
            entry["id"] = json!(Uuid::from_u128((0xe << 120) + u128::try_from(at)?));
        }
    }
    let sent = phone.book.outbox.len();
    assert!(sent > 100, "{sent} kinds");
    phone.sync_patiently(3).await?;
    let (refused, apart) = (&phone.book.not_taken, &phone.book.quarantined);
    assert!(refused.is_empty() && apart.is_empty(), "{refused:?} {apart:?}");
    assert_eq!(phone.book.acknowledged.len(), sent, "every one of them counts");
    let held = phone.client.held()?;
    let names = [
        (held.device, "the device"),
        (held.member, "the member"),
        (held.operation, "the business"),
    ];
    let found = shown(&phone.book.rows, &names)?;
    let golden = here.join("golden/states-of-v1.json");
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::write(&golden, &found)?;
    }
    let expected = std::fs::read_to_string(&golden)?;
    let differs = expected.lines().zip(found.lines()).position(|(a, b)| a != b);
    assert!(
        expected == found,
        "version 1 means something else now, from line {} of {}: {:?}",
        differs.map_or(0, |line| line + 1),
        golden.display(),
        differs.and_then(|line| found.lines().nth(line)),
    );
    invariants(&service.database, &mut [&mut phone]).await?;
    // A field phone of that age says the same; what is the office's is kept apart, and no other.
    let service = Service::start().await?;
    let mut old = super::phone(&service).await?;
    old.book.outbox = phone
        .book
        .acknowledged
        .values()
        .map(|(_, entry)| entry.clone())
        .collect();
    old.sync_patiently(3).await?;
    assert!(old.book.not_taken.is_empty(), "{:?}", old.book.not_taken);
    let office_only = domain::entry::KINDS
        .iter()
        .filter(|spec| spec.written_by == domain::entry::WrittenBy::Office);
    assert_eq!(
        old.book.quarantined.len(),
        office_only.count(),
        "only what is the office's is kept apart"
    );
    invariants(&service.database, &mut [&mut old]).await
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

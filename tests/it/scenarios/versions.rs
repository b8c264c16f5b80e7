//! Programs of other years: fields, kinds and versions that this one does not know, or that are long old.

use anyhow::{Context, Result};
use serde_json::json;
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

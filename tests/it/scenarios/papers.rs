//! What goes beside the pushes: saved outboxes, erasures.

use anyhow::{Context, Result};
use api::auth::Role;
use reqwest::Method;
use serde_json::{Value, json};
use tests::{Answer, Client, FieldPhone, Service, Tried, invariants};
use uuid::Uuid;

use super::{new_super, phone, record_supers, row, words};

/// Hands in what a phone saved.
pub(super) async fn hand_in(office: &Client, saved: &str) -> Result<Answer> {
    let saved = saved.to_owned();
    let shape = |request: reqwest::RequestBuilder| request.header("content-type", "application/x-ndjson").body(saved);
    office.raw(Method::POST, "/v1/sync/outboxes", shape).await
}

#[tokio::test]
async fn outbox_export_import() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let (mut lost, mut reader) = (phone(&service).await?, phone(&service).await?);
    record_supers(&mut lost, 620)?;
    lost.book.outbox[7]["data"]["frames"] = json!(77);
    let device = lost.client.held()?.device;
    service.operation.revoke(device, "lost").await?;
    assert!(matches!(lost.sync().await?, Tried::Closed(_)));
    let saved = lost.saved_outbox()?;
    let first = hand_in(&office, &saved).await?.expect_status(200)?;
    assert_eq!(words(&first).iter().filter(|word| **word == "stored").count(), 619);
    assert_eq!(words(&first)[7], "refused");
    let again = hand_in(&office, &saved).await?.expect_status(200)?;
    assert_eq!(words(&again).iter().filter(|word| **word == "duplicate").count(), 619);
    let whose = service
        .database
        .texts("select distinct device_id || ' ' || author_id as text from entry")
        .await?;
    assert_eq!(
        whose,
        [format!("{device} {}", office.held()?.member)],
        "the old device, and who handed it in"
    );
    let books = service
        .database
        .texts("select detail ->> 'device' as text from audit where deed = 'hand-in'")
        .await?;
    assert_eq!(books, vec![device.to_string(); 4], "two pieces, twice");
    let refused = office.get("/v1/refused-entries").await?.expect_status(200)?;
    assert_eq!(refused["items"][0]["reason"], "bad_field");
    assert!(
        refused["items"][0]["sent"]
            .as_str()
            .is_some_and(|sent| sent.contains("\"frames\":77")),
        "{refused}"
    );
    reader.sync_patiently(3).await?;
    assert_eq!(reader.book.rows.len(), 619);
    let foreign = service.other_operation().await?.owner();
    assert!(hand_in(&foreign, &saved).await?.is_problem(403, "wrong-operation"));
    assert_eq!(hand_in(&office, "{}\n").await?.status, 400);
    assert_eq!(hand_in(&reader.client, &saved).await?.status, 403);
    invariants(&service.database, &mut [&mut reader]).await
}

#[tokio::test]
async fn erasure_reaches_phones() -> Result<()> {
    let service = Service::start().await?;
    let (mut writer, mut reader) = (phone(&service).await?, phone(&service).await?);
    let (id, data) = new_super(41);
    writer.record("super_registered", data)?;
    let note = json!({ "about": [{ "kind": "super", "id": id }], "text": "Ida Moor was stung here" });
    let entry = writer.record("note_written", note)?;
    writer.sync_patiently(3).await?;
    reader.sync_patiently(3).await?;
    assert!(row(&reader, "super", id).to_string().contains("Ida Moor"));
    while reader.download().await? != Tried::Done {}
    let chain = || {
        service
            .database
            .texts("select encode(chain, 'hex') as text from entry order by seq")
    };
    let before = chain().await?;
    let path = format!("/v1/entries/{entry}/erasures");
    let office = service.member(Role::Office).await?;
    assert_eq!(office.post(&path, &json!({ "why": "asked" })).await?.status, 403);
    service
        .owner()
        .post(&path, &json!({ "why": "asked" }))
        .await?
        .expect_status(204)?;
    let everything = "select concat(body) as text from entry union all select concat(state, memo) from state_row
                      union all select concat(state, memo) from state_part
                      union all select encode(packed, 'escape') from snapshot_part";
    let kept = service.database.texts(everything).await?.join("\n");
    assert!(!kept.contains("Ida") && kept.contains("(erased)"), "{kept}");
    assert_eq!(chain().await?, before, "the chain is as it was");
    for phone in [&mut writer, &mut reader] {
        phone.sync_patiently(3).await?;
        assert!(
            !row(phone, "super", id).to_string().contains("Ida"),
            "{}",
            row(phone, "super", id)
        );
    }
    assert_eq!(
        writer.book.acknowledged[&entry].1,
        Value::Null,
        "the phone's own copy is blank, too"
    );
    let mut fresh = FieldPhone::new(reader.client.clone());
    while fresh.download().await? != Tried::Done {}
    assert!(!row(&fresh, "super", id).is_null() && !row(&fresh, "super", id).to_string().contains("Ida"));
    // A restored backup does not have the erasure, and its phone sends the entry again: it is blank at once.
    let ledger = service.owner().get("/v1/ledger").await?.text;
    assert!(!ledger.contains("Ida"));
    invariants(&service.database, &mut [&mut writer, &mut reader, &mut fresh]).await
}

#[tokio::test]
async fn erase_then_restore() -> Result<()> {
    let mut service = Service::start().await?;
    let mut phone = phone(&service).await?;
    let about = json!([{ "kind": "super", "id": Uuid::now_v7() }]);
    let note = |text: &str| json!({ "about": about, "text": text });
    let (here, later) = (
        phone.record("note_written", note("Ida one"))?,
        phone.record("note_written", note("Ida two"))?,
    );
    let copy = phone.book.outbox.clone();
    phone.sync_patiently(3).await?;
    for entry in [here, later] {
        let path = format!("/v1/entries/{entry}/erasures");
        service
            .owner()
            .post(&path, &json!({ "why": "mistake" }))
            .await?
            .expect_status(204)?;
    }
    service.stop().await?;
    // The backup knows the first entry, unblanked, not the second, and nothing of erasures.
    let body = copy[0].to_string().replace('\'', "''");
    let backup = format!(
        "truncate erasure; delete from entry where id = '{later}'; delete from entry_subject where seq = 2;
         update device_tally set counted = '{{[1,2)}}';
         update entry set body = '{body}' where id = '{here}';
         update operation_ledger l set last_seq = 1, chain = e.chain from entry e where e.operation_id = l.operation_id"
    );
    service.database.run(&backup).await?;
    let twin = service.twin().await?;
    phone.client = phone.client.elsewhere(&twin.url);
    let bodies = || {
        service
            .database
            .texts("select body as text from entry union all select state from state_row")
    };
    assert!(
        !bodies().await?.join("\n").contains("Ida"),
        "applied again at the start"
    );
    let again = phone.client.push(&copy).await?.expect_status(200)?;
    assert_eq!(words(&again), ["duplicate", "stored"]);
    let kept = bodies().await?.join("\n");
    assert!(!kept.contains("Ida"), "and when it comes back later: {kept}");
    phone.book = tests::Book::default();
    phone.sync_patiently(3).await.context("the twin")?;
    invariants(&service.database, &mut [&mut phone]).await
}

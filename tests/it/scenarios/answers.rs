//! What is said twice, badly or into the void: lost answers, doubled pushes, broken bodies, somebody else's page.

use std::collections::BTreeSet;
use std::io::Write;

use anyhow::{Context, Result};
use api::auth::Role;
use reqwest::Method;
use serde_json::json;
use tests::{Air, FieldPhone, Service, Tried, invariants};
use uuid::Uuid;

use super::{new_super, phone, record_supers, seqs, words};

/// Air that does these things in turn and is clear afterwards.
pub(super) fn first<const N: usize>(what: [Air; N]) -> Box<dyn FnMut() -> Air + Send> {
    let mut what = what.into_iter();
    Box::new(move || what.next().unwrap_or(Air::Clear))
}

#[tokio::test]
async fn lost_ack() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    record_supers(&mut phone, 20)?;
    let batch = phone.book.outbox.clone();
    phone.air = first([Air::ReplyLost]);
    assert!(matches!(phone.send().await?, Tried::Again(..)));
    assert_eq!(
        phone.book.outbox.len(),
        20,
        "nothing was acknowledged, nothing leaves the outbox"
    );
    let ledger = || {
        service
            .database
            .texts("select format('%s %s', seq, id) as text from entry order by seq")
    };
    let before = ledger().await?;
    let again = phone.client.push(&batch).await?.expect_status(200)?;
    assert_eq!(words(&again), vec!["duplicate"; 20]);
    assert_eq!(
        seqs(&again),
        (1..=20).map(Some).collect::<Vec<_>>(),
        "the numbers it had"
    );
    assert_eq!(phone.send().await?, Tried::Done);
    assert_eq!(ledger().await?, before, "the ledger is as it was");
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn duplicate_push_concurrent() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    record_supers(&mut phone, 20)?;
    let batch = phone.book.outbox.clone();
    let (one, other) = tokio::try_join!(phone.client.push(&batch), phone.client.push(&batch))?;
    let (one, other) = (one.expect_status(200)?, other.expect_status(200)?);
    assert_eq!(seqs(&one), seqs(&other));
    let both: BTreeSet<Vec<&str>> = [words(&one), words(&other)].into();
    assert_eq!(both, BTreeSet::from([vec!["duplicate"; 20], vec!["stored"; 20]]));
    phone.sync_patiently(3).await?;
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn id_reused_other_content() -> Result<()> {
    let service = Service::start().await?;
    let (mut one, mut other) = (phone(&service).await?, phone(&service).await?);
    let (id, data) = new_super(41);
    let entry = one.record("super_registered", data)?;
    one.sync_patiently(3).await?;
    other.record(
        "super_registered",
        json!({ "super_id": id, "number": "999", "class": "deep", "frames": 8 }),
    )?;
    let mut copied = other.book.outbox.remove(0);
    copied["id"] = json!(entry);
    let answer = other
        .client
        .push(std::slice::from_ref(&copied))
        .await?
        .expect_status(200)?;
    let result = &answer["results"][0];
    assert_eq!(
        (&result["result"], &result["reason"]),
        (&json!("refused"), &json!("id_reused"))
    );
    let kept = service.database.texts("select bytes as text from dead_letter").await?;
    assert_eq!(
        serde_json::from_str::<serde_json::Value>(&kept[0])?,
        copied,
        "what was sent is kept"
    );
    other.sync_patiently(3).await?;
    assert_eq!(super::row(&other, "super", id)["label"], "041", "the first counts");
    invariants(&service.database, &mut [&mut one, &mut other]).await
}

#[tokio::test]
async fn one_bad_in_500() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    record_supers(&mut phone, 500)?;
    phone.book.outbox[250]["data"]["frames"] = json!(31);
    let bad = phone.book.outbox[250]["id"].clone();
    let answer = phone.client.push(&phone.book.outbox).await?.expect_status(200)?;
    let words = words(&answer);
    assert_eq!(words.iter().filter(|word| **word == "stored").count(), 499);
    let ids = |list: &serde_json::Value| -> Vec<serde_json::Value> {
        let list = list.as_array().into_iter().flatten();
        list.map(|one| one["id"].clone()).collect()
    };
    assert_eq!(
        ids(&answer["results"]),
        ids(&json!(phone.book.outbox)),
        "one result an entry, in their order"
    );
    let told = &answer["results"][250];
    assert_eq!(
        (&told["result"], &told["pointer"], &told["id"]),
        (&json!("refused"), &json!("/data/frames"), &bad)
    );
    phone.sync_patiently(3).await?;
    assert_eq!(phone.book.acknowledged.len(), 499);
    assert_eq!(phone.book.not_taken.len(), 1, "shown to the bearer, not thrown away");
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn truncated_body_half_gzip() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    record_supers(&mut phone, 30)?;
    let body = json!({ "operation_id": service.operation.id, "sent_at": phone.now(), "entries": phone.book.outbox });
    let body = body.to_string().into_bytes();
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    packer.write_all(&body)?;
    let packed = packer.finish()?;
    let send = async |bytes: &[u8], packed: bool| {
        let bytes = bytes.to_vec();
        let shape = |request: reqwest::RequestBuilder| {
            let request = request.header("content-type", "application/json").body(bytes);
            if packed {
                request.header("content-encoding", "gzip")
            } else {
                request
            }
        };
        phone.client.raw(Method::POST, "/v1/sync/push", shape).await
    };
    for part in [1, 2, 3] {
        let plain = send(&body[..body.len() * part / 4], false).await?;
        assert!(plain.is_problem(400, "malformed-envelope"), "{}", plain.text);
        let gzip = send(&packed[..packed.len() * part / 4], true).await?;
        assert!(gzip.is_problem(400, "malformed-envelope"), "{}", gzip.text);
    }
    assert_eq!(
        service
            .database
            .texts("select count(*)::text as text from entry")
            .await?,
        ["0"]
    );
    send(&packed, true).await?.expect_status(200)?;
    phone.sync_patiently(3).await?;
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn captive_portal_200_html() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    record_supers(&mut phone, 3)?;
    phone.air = Box::new(|| Air::Portal);
    assert!(!phone.is_really_there().await, "limits do not come from a portal");
    for _ in 0..12 {
        let Tried::Again(wait, _) = phone.sync().await? else {
            anyhow::bail!("a portal was believed")
        };
        assert!(wait <= std::time::Duration::from_secs(900));
    }
    assert_eq!(phone.book.outbox.len(), 3, "nothing is marked as sent");
    assert_eq!(phone.book.cursor, None);
    phone.air = Box::new(|| Air::Clear);
    assert!(phone.is_really_there().await);
    phone.sync_patiently(3).await?;
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn wrong_operation() -> Result<()> {
    let service = Service::start().await?;
    let foreign = service.other_operation().await?;
    let (mut ours, mut theirs) = (phone(&service).await?, super::phone_of(&foreign).await?);
    let (id, data) = new_super(1);
    ours.record("super_registered", data)?;
    ours.sync_patiently(3).await?;
    record_supers(&mut theirs, 1)?;
    let envelope =
        json!({ "operation_id": service.operation.id, "sent_at": theirs.now(), "entries": theirs.book.outbox });
    let answer = theirs.client.post("/v1/sync/push", &envelope).await?;
    assert!(answer.is_problem(403, "wrong-operation"), "{}", answer.text);
    theirs.sync_patiently(3).await?;
    assert_eq!(theirs.book.rows.len(), 1, "its own row and no other");
    // Every single endpoint: see `doors`, `the_owner_of_another_business_finds_nothing_of_this_one`.
    let mut readers = 0;
    let stranger = foreign.owner();
    for call in crate::contract::calls().into_iter().filter(|call| call.method == "GET") {
        let path = call.path.replace("{id}", &id.to_string());
        if path.contains('{') || crate::contract::OPEN.contains(&call.name.as_str()) || path.ends_with("/wait") {
            continue;
        }
        readers += 1;
        let answer = stranger.get(&path).await?;
        assert!(!answer.text.contains(&id.to_string()), "{}: {}", call.name, answer.text);
    }
    assert!(readers > 30, "{readers} calls were tried");
    invariants(&service.database, &mut [&mut ours]).await?;
    invariants(&service.database, &mut [&mut theirs]).await
}

#[tokio::test]
async fn year_old_outbox_is_sent_by_halves_around_what_nobody_can_read() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    record_supers(&mut phone, 9)?;
    // Nested deeper than any push may be: the whole envelope is refused until this one stands alone.
    let deep = format!("{}1{}", "[".repeat(60), "]".repeat(60));
    phone.book.outbox[4]["data"]["odd"] = serde_json::from_str(&deep)?;
    let odd: Uuid = serde_json::from_value(phone.book.outbox[4]["id"].clone())?;
    phone.sync_patiently(10).await?;
    assert_eq!(phone.book.acknowledged.len(), 8);
    assert_eq!(phone.book.not_taken.keys().collect::<Vec<_>>(), [&odd]);
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn waits_are_spread_and_bounded() -> Result<()> {
    let service = Service::start().await?;
    let client = service.phone(Role::Field).await?.client;
    let mut longest = Vec::new();
    for seed in 1..=40 {
        let mut phone = FieldPhone::new(client.clone()).seeded(seed * 7_919);
        phone.air = Box::new(|| Air::RequestLost);
        record_supers(&mut phone, 1)?;
        let mut waits = Vec::new();
        for _ in 0..14 {
            let Tried::Again(wait, _) = phone.send().await? else {
                anyhow::bail!("sent without signal")
            };
            waits.push(wait);
        }
        assert!(waits[0].as_secs_f64() <= 1.0);
        longest.push(*waits.iter().max().context("a wait")?);
    }
    let spread: BTreeSet<u64> = longest.iter().map(|wait| wait.as_secs() / 60).collect();
    assert!(longest.iter().all(|wait| wait.as_secs() <= 900));
    assert!(spread.len() >= 5, "no stampede: {spread:?}");
    Ok(())
}

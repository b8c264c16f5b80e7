//! Devices that left, were lost, slept through a winter, or lost an answer while getting new tokens.

use anyhow::Result;
use api::auth::Role;
use serde_json::json;
use tests::{Air, Service, Tokens, Tried, invariants};

use super::answers::first;
use super::papers::hand_in;
use super::{phone, record_supers, words};

#[tokio::test]
async fn token_revoked_left() -> Result<()> {
    let service = Service::start().await?;
    let (mut left, mut stays) = (phone(&service).await?, phone(&service).await?);
    record_supers(&mut left, 4)?;
    service.operation.revoke(left.client.held()?.device, "left").await?;
    assert_eq!(left.send().await?, Tried::Done, "what it holds is taken");
    assert!(left.book.outbox.is_empty());
    assert_eq!(left.pull().await?, Tried::Closed("device-revoked".to_owned()));
    stays.sync_patiently(3).await?;
    assert_eq!(stays.book.quarantined.len(), 4, "kept apart, and everybody sees it");
    assert!(stays.book.rows.is_empty());
    invariants(&service.database, &mut [&mut left, &mut stays]).await
}

#[tokio::test]
async fn token_revoked_lost() -> Result<()> {
    let service = Service::start().await?;
    let mut lost = phone(&service).await?;
    record_supers(&mut lost, 4)?;
    service.operation.revoke(lost.client.held()?.device, "lost").await?;
    assert_eq!(lost.sync().await?, Tried::Closed("device-revoked".to_owned()));
    assert_eq!(lost.book.outbox.len(), 4, "it keeps what it recorded");
    assert_eq!(
        service
            .database
            .texts("select count(*)::text as text from entry")
            .await?,
        ["0"]
    );
    let saved = lost.saved_outbox()?;
    assert_eq!(saved.lines().count(), 5, "one line that says whose, one an entry");
    // The office hands it in.
    let office = service.member(Role::Office).await?;
    let mut reader = phone(&service).await?;
    let first = hand_in(&office, &saved).await?.expect_status(200)?;
    assert_eq!(words(&first), vec!["stored"; 4]);
    let again = hand_in(&office, &saved).await?.expect_status(200)?;
    assert_eq!(words(&again), vec!["duplicate"; 4]);
    reader.sync_patiently(3).await?;
    assert_eq!((reader.book.rows.len(), reader.book.quarantined.len()), (4, 0));
    assert_eq!(
        lost.sync().await?,
        Tried::Closed("device-revoked".to_owned()),
        "it stays out"
    );
    invariants(&service.database, &mut [&mut lost, &mut reader]).await
}

#[tokio::test]
async fn token_expired_offline_3_months() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    record_supers(&mut phone, 2)?;
    // Three months in a drawer: the session is that much older, and the access token has long expired.
    let drawer =
        "update session set expires_at = expires_at - interval '91 days', ends_at = ends_at - interval '91 days'";
    service.database.run(drawer).await?;
    let expired = tests::forge(&service, &phone.client.held()?.access, tests::Forgery::Expired)?;
    phone.client = phone.client.with_access(&expired);
    let answer = phone.client.get("/v1/me").await?;
    assert_eq!(answer.status, 401, "{}", answer.text);
    phone.sync_patiently(3).await?;
    assert!(phone.book.outbox.is_empty());
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn refresh_lost_ack() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    record_supers(&mut phone, 2)?;
    let held = phone.client.held()?.clone();
    let expired = tests::forge(&service, &held.access, tests::Forgery::Expired)?;
    phone.client = phone.client.with_access(&expired);
    // The push is refused for the token; the refresh is done, and its answer lost.
    phone.air = first([Air::Clear, Air::ReplyLost]);
    assert!(matches!(phone.send().await?, Tried::Again(..)));
    let made = service
        .database
        .texts("select generation::text as text from session where generation > 1")
        .await?;
    assert_eq!(made, ["2"], "the service has moved on");
    // However late: the same new one.
    service
        .database
        .run("update session set expires_at = expires_at - interval '200 days', created_at = created_at - interval '200 days'")
        .await?;
    phone.sync_patiently(3).await?;
    assert!(phone.book.outbox.is_empty());
    let made = service
        .database
        .texts("select generation::text as text from session where generation > 1")
        .await?;
    assert_eq!(made, ["2"], "the one that was lost, given again");
    let newest = phone.client.held()?.clone();
    for _ in 0..2 {
        let again = phone.client.refresh_with(&held).await?.expect_status(200)?;
        assert_eq!(
            again["refresh_token"],
            json!(newest.refresh),
            "the same new one each time"
        );
    }
    invariants(&service.database, &mut [&mut phone]).await?;
    // Any other old one revokes the family, the right device secret or not.
    let mut other = super::phone(&service).await?;
    let first = other.client.held()?.clone();
    for _ in 0..2 {
        let given = other
            .client
            .refresh_with(other.client.held()?)
            .await?
            .expect_status(200)?;
        other.client.tokens = Some(Tokens::read(&given, Some(&first.device_secret))?);
    }
    assert_eq!(other.client.refresh_with(&first).await?.status, 401);
    assert_eq!(
        other.client.get("/v1/me").await?.status,
        401,
        "its newest is worth nothing now"
    );
    phone.client.get("/v1/me").await?.expect_status(200)?;
    // Without the device's own secret the token before is a stolen one.
    let copied = Tokens {
        device_secret: "of another device".to_owned(),
        ..held
    };
    assert_eq!(phone.client.refresh_with(&copied).await?.status, 401);
    let me = phone.client.get("/v1/me").await?;
    assert!(me.is_problem(401, "unauthorized"), "the family is revoked: {}", me.text);
    let told = service
        .database
        .texts("select deed as text from audit where deed = 'session-stolen'")
        .await?;
    assert_eq!(told.len(), 2, "and the office is told: {}", json!(told));
    invariants(&service.database, &mut []).await
}

//! Rights that were taken are gone at the very next call, and a refresh token that was copied ends its session.

use anyhow::Result;
use api::auth::Role;
use serde_json::json;
use tests::{Client, Service, Tokens};

#[tokio::test]
async fn a_revoked_device_is_refused_at_its_next_call_although_its_token_is_good() -> Result<()> {
    let service = Service::start().await?;
    for kind in ["left", "lost"] {
        let phone = service.phone(Role::Field).await?.client;
        phone.get("/v1/members").await?.expect_status(200)?;
        service.operation.revoke(phone.held()?.device, kind).await?;
        for path in ["/v1/members", "/v1/me"] {
            let answer = phone.get(path).await?;
            assert!(
                answer.is_problem(403, "device-revoked"),
                "{kind} {path}: {}",
                answer.text
            );
        }
    }
    Ok(())
}

#[tokio::test]
async fn a_lost_device_gets_no_new_tokens_and_one_that_left_still_does() -> Result<()> {
    let service = Service::start().await?;
    for (kind, status) in [("left", 200), ("lost", 401)] {
        let phone = service.phone(Role::Field).await?.client;
        service.operation.revoke(phone.held()?.device, kind).await?;
        let answer = phone.refresh_with(phone.held()?).await?;
        assert_eq!(answer.status, status, "{kind}: {}", answer.text);
    }
    Ok(())
}

#[tokio::test]
async fn lost_outranks_left_and_neither_is_undone() -> Result<()> {
    let service = Service::start().await?;
    let phone = service.phone(Role::Field).await?.client;
    let device = phone.held()?.device;
    for (kind, state) in [("left", "left"), ("lost", "lost"), ("left", "lost")] {
        service.operation.revoke(device, kind).await?;
        let list = service.owner().get("/v1/devices").await?.expect_status(200)?;
        let rows = list["items"].as_array().cloned().unwrap_or_default();
        let row = rows
            .iter()
            .find(|row| row["id"] == json!(device))
            .expect("the device is listed");
        assert_eq!(row["state"], state, "after {kind}");
    }
    Ok(())
}

#[tokio::test]
async fn a_business_cannot_revoke_the_device_of_another() -> Result<()> {
    let service = Service::start().await?;
    let phone = service.phone(Role::Field).await?.client;
    let path = format!("/v1/devices/{}/revocations", phone.held()?.device);
    let stranger = service.other_operation().await?.owner();
    let answer = stranger.post(&path, &json!({ "kind": "lost" })).await?;
    assert!(answer.is_problem(404, "not-found"), "{}", answer.text);
    phone.get("/v1/me").await?.expect_status(200)?;
    Ok(())
}

#[tokio::test]
async fn a_change_of_role_counts_at_the_next_call() -> Result<()> {
    let service = Service::start().await?;
    let (owner, office) = (service.owner(), service.member(Role::Office).await?);
    office.get("/v1/devices").await?.expect_status(200)?;
    let path = format!("/v1/members/{}", office.held()?.member);
    let mut version = 1;
    for (role, status) in [("viewer", 403), ("office", 200), ("field", 403), ("owner", 200)] {
        let changed = owner
            .patch(&path, version, &json!({ "role": role }))
            .await?
            .expect_status(200)?;
        version = changed["version"].as_i64().expect("a version");
        let answer = office.get("/v1/devices").await?;
        assert_eq!(answer.status, status, "{role}: {}", answer.text);
    }
    Ok(())
}

#[tokio::test]
async fn leaving_ends_the_session_at_once_and_for_good() -> Result<()> {
    let service = Service::start().await?;
    let phone = service.phone(Role::Field).await?.client;
    phone.post("/v1/auth/leave", &json!({})).await?.expect_status(204)?;
    let answer = phone.get("/v1/me").await?;
    assert!(answer.is_problem(401, "unauthorized"), "{}", answer.text);
    assert_eq!(phone.refresh_with(phone.held()?).await?.status, 401);
    Ok(())
}

/// Refreshes with these tokens, which must work.
async fn refreshed(client: &Client, with: &Tokens) -> Result<Tokens> {
    let answer = client.refresh_with(with).await?.expect_status(200)?;
    Tokens::read(&answer, Some(&with.device_secret))
}

#[tokio::test]
async fn the_token_before_gives_the_same_new_one_however_late() -> Result<()> {
    let service = Service::start().await?;
    let phone = service.phone(Role::Field).await?.client;
    let first = phone.held()?.clone();
    let second = refreshed(&phone, &first).await?;
    assert_ne!(second.refresh, first.refresh);
    assert_eq!(refreshed(&phone, &first).await?.refresh, second.refresh);
    // A winter in a drawer: the answer was lost in autumn and is asked for again in spring.
    service
        .database
        .run("update session set expires_at = expires_at - interval '200 days', created_at = created_at - interval '200 days'")
        .await?;
    let again = refreshed(&phone, &first).await?;
    assert_eq!(again.refresh, second.refresh);
    phone
        .with(Some(again.clone()))
        .get("/v1/me")
        .await?
        .expect_status(200)?;
    refreshed(&phone, &again).await?;
    Ok(())
}

#[tokio::test]
async fn a_token_that_was_used_up_long_ago_ends_the_session_for_everybody() -> Result<()> {
    let service = Service::start().await?;
    let phone = service.phone(Role::Field).await?.client;
    let first = phone.held()?.clone();
    let second = refreshed(&phone, &first).await?;
    let third = refreshed(&phone, &second).await?;
    let answer = phone.refresh_with(&first).await?;
    assert!(answer.is_problem(401, "wrong-credentials"), "{}", answer.text);
    assert_eq!(
        phone.refresh_with(&third).await?.status,
        401,
        "the newest one is dead too"
    );
    let answer = phone.with(Some(third)).get("/v1/me").await?;
    assert!(answer.is_problem(401, "unauthorized"), "{}", answer.text);
    let told = service
        .database
        .texts("select deed as text from audit where deed = 'session-stolen'")
        .await?;
    assert_eq!(told.len(), 1, "the books say so once");
    Ok(())
}

#[tokio::test]
async fn a_refresh_token_is_good_on_its_own_device_only() -> Result<()> {
    let service = Service::start().await?;
    let phone = service.phone(Role::Field).await?.client;
    let other = service.phone(Role::Field).await?.client;
    let mut copied = phone.held()?.clone();
    copied.device_secret.clone_from(&other.held()?.device_secret);
    let answer = phone.refresh_with(&copied).await?;
    assert!(answer.is_problem(401, "wrong-credentials"), "{}", answer.text);
    refreshed(&phone, phone.held()?).await?;
    Ok(())
}

#[tokio::test]
async fn a_device_that_left_may_push_what_it_holds_and_a_lost_one_keeps_it() -> Result<()> {
    let service = Service::start().await?;
    let (mut left, mut lost) = (service.phone(Role::Field).await?, service.phone(Role::Field).await?);
    for phone in [&mut left, &mut lost] {
        phone.record("unheard_of", json!({}), chrono::Utc::now());
        phone.record("unheard_of", json!({}), chrono::Utc::now());
    }
    service.operation.revoke(left.client.held()?.device, "left").await?;
    service.operation.revoke(lost.client.held()?.device, "lost").await?;
    let answer = left.send().await?.expect_status(200)?;
    let words = answer["results"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|result| &result["result"]);
    assert!(
        words.clone().count() == 2 && words.into_iter().all(|word| word == "quarantined"),
        "{answer}"
    );
    assert!(left.outbox.is_empty());
    let answer = lost.send().await?;
    assert!(answer.is_problem(403, "device-revoked"), "{}", answer.text);
    assert_eq!(lost.outbox.len(), 2, "nothing was acknowledged");
    Ok(())
}

//! One connection for two businesses: nothing of one is left on it for the other.

use anyhow::Result;
use api::auth::Role;
use serde_json::{Value, json};
use tests::{Client, Service};
use uuid::Uuid;

async fn people(client: &Client) -> Result<Vec<Uuid>> {
    let list = client.get("/v1/members").await?.expect_status(200)?;
    let ids = list["items"].as_array().into_iter().flatten();
    Ok(ids
        .map(|row| serde_json::from_value(row["id"].clone()))
        .collect::<Result<_, _>>()?)
}

#[tokio::test]
async fn two_businesses_on_one_connection_never_see_each_other() -> Result<()> {
    let service = Service::start_with(|config| config.pool = 1).await?;
    let other = service.other_operation().await?;
    service.member(Role::Viewer).await?;
    let (ours, theirs) = (service.owner(), other.owner());
    let (our_people, their_people) = (people(&ours).await?, people(&theirs).await?);
    assert_eq!((our_people.len(), their_people.len()), (2, 1));
    for round in 0..75 {
        // Some calls fail inside their transaction, which must not leave anything either.
        let foreign = format!("/v1/members/{}", their_people[0]);
        let refused = ours.patch(&foreign, 1, &json!({ "name": "Eve" })).await?;
        assert_eq!(refused.status, 404, "{round}: {}", refused.text);
        assert_eq!(people(&theirs).await?, their_people, "{round}");
        assert_eq!(people(&ours).await?, our_people, "{round}");
        let me = theirs.get("/v1/me").await?.expect_status(200)?;
        assert_eq!(me["operation_id"], json!(other.id), "{round}");
    }
    Ok(())
}

#[tokio::test]
async fn calls_at_once_on_one_connection_answer_each_business_its_own() -> Result<()> {
    let service = Service::start_with(|config| config.pool = 1).await?;
    let other = service.other_operation().await?;
    for _ in 0..15 {
        let mut calls = tokio::task::JoinSet::new();
        for (id, client) in [(service.operation.id, service.owner()), (other.id, other.owner())] {
            for _ in 0..5 {
                let client = client.clone();
                calls.spawn(async move { (id, client.get("/v1/me").await) });
            }
        }
        while let Some(done) = calls.join_next().await {
            let (id, answer) = done?;
            assert_eq!(
                answer?.expect_status(200)?["operation_id"],
                Value::String(id.to_string())
            );
        }
    }
    Ok(())
}

//! The owner changes a value of the profile; it counts from then on, and the text it stands against stays visible.

use anyhow::Result;
use api::auth::Role;
use serde_json::{Value, json};
use tests::{Client, Service};
use uuid::Uuid;

async fn value(client: &Client, key: &str) -> Result<Value> {
    let shown = client.get("/v1/settings/profile").await?.expect_status(200)?;
    let values = shown["values"].as_array().cloned().unwrap_or_default();
    Ok(values.into_iter().find(|row| row["key"] == key).unwrap_or_default())
}

#[tokio::test]
async fn a_changed_value_binds_from_then_on_and_names_the_text_it_replaces() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let change = |value: Value| json!({ "profile": "eu", "key": "moisture_general", "value": value, "reason": "letter of the food authority" });
    let path = "/v1/settings/profile-values";

    let text = value(&office, "moisture_general").await?;
    assert_eq!(text["value"], json!({ "moisture_hundredths": 2_000 }));
    assert_eq!(text["source"]["text"], "Directive 2001/110/EC");
    assert!(
        text["check"]
            .as_str()
            .unwrap_or_default()
            .contains("Check with your authority")
    );

    let tight = office
        .post(path, &change(json!({ "moisture_hundredths": 1_900 })))
        .await?;
    tight.expect_status(201)?;
    let changed = value(&office, "moisture_general").await?;
    assert_eq!(changed["value"], json!({ "moisture_hundredths": 1_900 }));
    assert_eq!(changed["text_value"], text["value"]);
    assert_eq!(changed["changed"]["reason"], "letter of the food authority");

    // The house limit may not be milder than the value in force.
    let milder = json!({ "moisture_hundredths": 1_901 });
    let refused = office.post("/v1/settings/house-limits", &milder).await?;
    assert_eq!((refused.status, &refused.json["code"]), (422, &json!("too_wet")));

    let impossible = office.post(path, &change(json!({ "months": 3 }))).await?;
    assert_eq!(
        (impossible.status, &impossible.json["code"]),
        (422, &json!("value_cannot_be"))
    );
    let unknown = office
        .post(path, &json!({ "profile": "eu", "key": "colour", "reason": "none" }))
        .await?;
    assert_eq!(unknown.status, 400);

    // A milder one is taken, with a word.
    let mild = office
        .post(path, &change(json!({ "moisture_hundredths": 2_100 })))
        .await?
        .expect_status(201)?;
    assert_eq!(mild["warnings"][0]["code"], "milder_than_text");

    // Taken back, the text counts again.
    let back = json!({ "profile": "eu", "key": "moisture_general", "reason": "the letter was about other honey" });
    office.post(path, &back).await?.expect_status(201)?;
    let again = value(&office, "moisture_general").await?;
    assert_eq!((&again["value"], &again["changed"]), (&text["value"], &Value::Null));

    let nobody = office
        .get(&format!("/v1/batches/{}/label-fields", Uuid::now_v7()))
        .await?;
    assert_eq!(nobody.status, 404);
    Ok(())
}

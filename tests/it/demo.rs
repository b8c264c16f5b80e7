//! The demo through the service: two seasons from four phones in the disorder in which phones send, and what the service
//! then says of the year and of what went wrong in it.

use anyhow::Result;
use api::auth::console::{self, NewOwner};
use api::auth::password::Hasher;
use api::config::{PasswordCost, Secret};
use api::{demo, ledger_commands};
use serde_json::{Value, json};
use tests::{Client, Service, Tokens};

const PASSWORD: &str = "heather over the river 9";

/// The made-up business in a service, and its owner's browser.
async fn loaded(service: &Service) -> Result<Client> {
    let owner = NewOwner {
        business: "Brackwynd Honey House".to_owned(),
        name: "Maren".to_owned(),
        login: demo::LOGIN.to_owned(),
        password: Secret::new(PASSWORD),
        invented: true,
    };
    let mut conn = api::database::as_owner(&Secret::new(service.database.url())).await?;
    console::add_owner(&mut conn, &Hasher::new(PasswordCost::Cheap)?, &owner).await?;
    let url = service.url().to_owned();
    let told = tokio::task::spawn_blocking(move || demo::tell(&url, &Secret::new(PASSWORD), demo::Size::default()));
    assert!(told.await??.entries > 3_000);
    let wish = json!({ "login": demo::LOGIN, "password": PASSWORD, "device_name": "Office computer" });
    let answer = service
        .stranger()
        .post("/v1/auth/sign-in", &wish)
        .await?
        .expect_status(200)?;
    Ok(service.stranger().with(Some(Tokens::read(&answer, None)?)))
}

async fn get(client: &Client, path: &str) -> Result<Value> {
    client.get(path).await?.expect_status(200)
}

fn all<'a>(of: &'a Value, field: &str, name: &str) -> Vec<&'a Value> {
    of.as_array()
        .into_iter()
        .flatten()
        .filter(|item| item[field] == name)
        .collect()
}

#[tokio::test]
async fn two_seasons_come_through_the_service_with_all_that_went_wrong() -> Result<()> {
    let service = Service::start().await?;
    let office = loaded(&service).await?;
    assert_eq!(get(&office, "/v1/me").await?["invented"], json!(true));
    assert_eq!(get(&service.owner(), "/v1/me").await?["invented"], json!(false));

    for (year, total_g) in [(2024, 1_359_000), (2025, 2_053_000)] {
        let season = get(&office, &format!("/v1/yields?season={year}")).await?;
        assert_eq!(season["total_g"], json!(total_g));
    }
    let flags = get(&office, "/v1/flags").await?;
    let (items, doubts) = (&flags["items"], &flags["doubts"]);
    let one = all(items, "code", "on_two_hives");
    assert_eq!((one.len(), &one[0]["label"]), (1, &json!("017")), "I01");
    assert!(all(items, "code", "two_boxes_one_number").is_empty(), "I02 is settled");
    let clocks = all(items, "code", "clock_suspect");
    assert_eq!(
        (clocks.len(), &clocks[0]["label"]),
        (1, &json!("I")),
        "I19: one phone, its times are doubtful"
    );
    let wrong = all(doubts, "doubt", "meter_found_wrong");
    assert_eq!(wrong.len(), 1, "I06");
    assert_eq!(all(doubts, "doubt", "complaints").len(), 1, "I14");
    assert_eq!(all(doubts, "doubt", "shared_code").len(), 1, "I20");
    assert!(
        !all(items, "code", "left_under_hold").is_empty(),
        "I25: there is a list of who has it"
    );

    let holds = get(&office, "/v1/holds").await?;
    let reasons: Vec<&str> = holds["holds"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|hold| hold["reason"].as_str())
        .collect();
    let mut sorted = reasons.clone();
    sorted.sort_unstable();
    sorted.dedup();
    assert_eq!(
        sorted,
        ["taint", "treatment"],
        "I05, I16, I25 stand; feed, disease, glass and origin are over"
    );

    let report = ledger_commands::verify(&Secret::new(service.database.url()), None).await?;
    assert!(report.is_sound(), "{}", report.text());
    Ok(())
}

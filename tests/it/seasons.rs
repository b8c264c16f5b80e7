//! The figures of a season through HTTP, as CSV and at the console: one answer, three ways of printing it.

use anyhow::{Context, Result};
use api::auth::Role;
use api::desk::{self, Question};
use domain::season::report::Report;
use reqwest::Method;
use serde_json::{Value, json};
use tests::{Client, Service};
use uuid::Uuid;

async fn made(client: &Client, path: &str, body: &Value) -> Result<Value> {
    client.post(path, body).await?.expect_status(201)
}

/// Hive, kilograms of its super in tenths.
const GAVE: [(usize, i64); 5] = [(0, 124), (1, 98), (2, 131), (3, 0), (4, 77)];

/// A season of two yards: one weighed run, and honey of which nobody knows the hive's yard.
async fn a_season(office: &Client, operation: Uuid) -> Result<()> {
    let at = |day: &str| format!("?happened_at={day}T12:00:00Z");
    let yards = [Uuid::now_v7(), Uuid::now_v7()];
    for (yard, name, fit) in [(yards[0], "Wold", 3), (yards[1], "=Orchard", 2)] {
        made(
            office,
            &format!("/v1/yards{}", at("2024-03-01")),
            &json!({ "yard_id": yard, "name": name }),
        )
        .await?;
        let path = format!("/v1/yards/{yard}/flow-starts{}", at("2024-05-01"));
        made(office, &path, &json!({ "on": "2024-05-01" })).await?;
        let path = format!("/v1/yards/{yard}/colony-counts{}", at("2024-05-01"));
        made(office, &path, &json!({ "on": "2024-05-01", "fit": fit })).await?;
    }
    let hives: Vec<Uuid> = GAVE.iter().map(|_| Uuid::now_v7()).collect();
    for (number, hive) in hives.iter().enumerate() {
        let body = json!({ "hive_id": hive, "yard_id": yards[number / 3], "code": format!("H{number}") });
        made(office, &format!("/v1/hives{}", at("2024-03-01")), &body).await?;
        let colony = Uuid::now_v7();
        let body = json!({ "colony_id": colony, "hive_id": hive, "founding": "wintered", "queen_line": "Amber" });
        made(office, &format!("/v1/colonies{}", at("2024-03-02")), &body).await?;
        if number == 1 {
            let body = json!({ "on": "2024-06-01", "queen_line": "Slate" });
            made(
                office,
                &format!("/v1/colonies/{colony}/queens{}", at("2024-06-01")),
                &body,
            )
            .await?;
        }
    }
    let run = Uuid::now_v7();
    made(
        office,
        &format!("/v1/runs{}", at("2024-07-12")),
        &json!({ "run_id": run, "name": "R1" }),
    )
    .await?;
    let mut pot = 0;
    for (number, tenths) in GAVE.into_iter().filter(|(_, tenths)| *tenths > 0) {
        let id = Uuid::now_v7();
        let body = json!({ "super_id": id, "number": format!("{number:03}"), "class": "medium", "frames": 10 });
        made(office, &format!("/v1/supers{}", at("2024-03-03")), &body).await?;
        let body = json!({ "hive_id": hives[number] });
        made(
            office,
            &format!("/v1/supers/{id}/placements{}", at("2024-05-10")),
            &body,
        )
        .await?;
        made(
            office,
            &format!("/v1/supers/{id}/pulls{}", at("2024-07-10")),
            &json!({}),
        )
        .await?;
        let body = json!({ "gross_g": 8_000 + tenths * 100 });
        made(office, &format!("/v1/supers/{id}/receipts{}", at("2024-07-11")), &body).await?;
        made(
            office,
            &format!("/v1/runs/{run}/uncappings{}", at("2024-07-12")),
            &json!({ "super_id": id }),
        )
        .await?;
        let body = json!({ "super_id": id, "gross_g": 8_000 });
        made(
            office,
            &format!("/v1/runs/{run}/wet-weights{}", at("2024-07-12")),
            &body,
        )
        .await?;
        pot += tenths * 100;
    }
    for (source, net) in [(run, pot), (Uuid::now_v7(), 2_500)] {
        let body = json!({ "fill_id": Uuid::now_v7(), "source": { "run_id": source }, "gross_g": net + 1_200,
            "tare_g": 1_200 });
        made(office, &format!("/v1/fills{}", at("2024-07-13")), &body).await?;
    }
    let work = json!({ "books_id": operation, "on": "2024-07-12", "work": "house", "minutes": 300 });
    made(office, "/v1/work", &work).await?;
    let cost = json!({ "books_id": operation, "on": "2024-07-01", "cost": "feed", "amount_hundredths": 8_800 });
    made(office, "/v1/costs", &cost).await?;
    let price = json!({ "books_id": operation, "season": 2024, "price": "honey", "amount_hundredths": 1_400 });
    made(office, "/v1/prices", &price).await?;
    Ok(())
}

async fn as_csv(client: &Client, path: &str) -> Result<String> {
    let answer = client
        .raw(Method::GET, path, |request| request.header("accept", "text/csv"))
        .await?;
    assert_eq!(answer.status, 200, "{}", answer.text);
    let media_type = answer.header("content-type").context("no media type")?;
    assert!(media_type.starts_with("text/csv"), "{media_type}");
    Ok(answer.text)
}

/// The cells of a line without quotes in it.
fn cells(line: &str) -> Vec<&str> {
    line.split(',').collect()
}

fn value_of(csv: &str, table: &str, name: &str, figure: &str) -> Option<i64> {
    let lines = csv.lines().map(cells);
    let found = lines
        .filter(|cells| cells.len() == 23)
        .find(|cells| (cells[3], cells[6], cells[10]) == (table, name, figure));
    found.and_then(|cells| cells[11].parse().ok())
}

/// 43.0 kg of two yards, and 2.5 kg of a run without supers, which are nobody's.
#[tokio::test]
async fn json_csv_and_console_print_the_same_season() -> Result<()> {
    let service = Service::start().await?;
    let office = service.owner();
    a_season(&office, service.operation.id).await?;
    let answer = office.get("/v1/seasons/2024/yards").await?.expect_status(200)?;
    let tables = answer["tables"].as_array().context("no tables")?;
    let rows = |name: &str| {
        tables
            .iter()
            .find(|table| table["name"] == name)
            .map(|table| table["rows"].clone())
    };
    let season = &rows("season").context("no season")?[0]["figures"];
    assert_eq!(season["yield_g"]["value"], 45_500);
    assert_eq!(season["unassigned_g"]["value"], 2_500);
    let yards = rows("yards").context("no yards")?;
    let parts: i64 = yards
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|row| row["figures"]["yield_g"]["value"].as_i64())
        .sum();
    assert_eq!(parts, 45_500);
    let head = office.get("/v1/sync/pull?limit=1").await?.expect_status(200)?;
    assert_eq!(answer["ledger_seq"], head["head"], "{head}");

    let csv = as_csv(&office, "/v1/seasons/2024/yards").await?;
    assert_eq!(value_of(&csv, "season", "2024", "yield_g"), Some(45_500), "{csv}");
    assert_eq!(value_of(&csv, "yards", "unassigned", "yield_g"), Some(2_500));
    // No spreadsheet takes a yard for a formula.
    assert_eq!(value_of(&csv, "yards", "'=Orchard", "yield_g"), Some(7_700));

    let url = &service.config.database_url.clone().context("no database")?;
    let question = |csv| Question::Season {
        reports: Report::ALL.to_vec(),
        from: 2024,
        to: 2024,
        csv,
    };
    let shown = desk::ask(url, None, &question(false), false).await?;
    let line = shown
        .lines()
        .find(|line| line.trim_start().starts_with("2024"))
        .context("no season")?;
    assert!(line.contains("45.5 A"), "{line}");
    let told = desk::ask(url, None, &question(true), false).await?;
    assert_eq!(value_of(&told, "season", "2024", "yield_g"), Some(45_500));
    let lines: Vec<&str> = csv.lines().collect();
    assert_eq!(
        told.lines().take(lines.len()).collect::<Vec<_>>(),
        lines,
        "one answer, one text"
    );
    let json: Value = serde_json::from_str(&desk::ask(url, None, &question(false), true).await?)?;
    assert_eq!(json[0], answer);
    Ok(())
}

#[tokio::test]
async fn every_report_answers_and_costs_are_for_those_who_may_see_prices() -> Result<()> {
    let service = Service::start().await?;
    a_season(&service.owner(), service.operation.id).await?;
    let field = service.member(Role::Field).await?;
    let viewer = service.member(Role::Viewer).await?;
    for report in Report::ALL {
        let path = if report.is_of_seasons() {
            format!("/v1/{}?from=2024&to=2024", report.name())
        } else {
            format!("/v1/seasons/2024/{}", report.name())
        };
        let answer = viewer.get(&path).await?.expect_status(200)?;
        assert!(
            answer["tables"].as_array().is_some_and(|tables| !tables.is_empty()),
            "{path}: {answer}"
        );
        let csv = as_csv(&viewer, &path).await?;
        assert!(
            csv.lines()
                .skip(1)
                .all(|line| line.starts_with(answer["report"].as_str().unwrap_or("?"))),
            "{csv}"
        );
        let expected = if report.tells_prices() { 403 } else { 200 };
        let of_field = field.get(&path).await?;
        assert_eq!(of_field.status, expected, "{path}");
        assert!(!of_field.text.contains("1400"), "a price: {}", of_field.text);
    }
    let costs = viewer.get("/v1/seasons/2024/costs").await?.expect_status(200)?;
    let season = &costs["tables"][0]["rows"][0]["figures"];
    // 88.00 over 45.5 kg (arithmetic).
    assert_eq!(season["cash_per_kg_thousandths"]["value"], 1_934, "{season}");
    assert_eq!(field.get("/v1/books").await?.status, 403);
    Ok(())
}

#[tokio::test]
async fn years_that_no_calendar_has_are_refused() -> Result<()> {
    let service = Service::start().await?;
    let owner = service.owner();
    for (path, status) in [
        ("/v1/seasons/2024/prices", 404),
        ("/v1/seasons/next/yards", 404),
        ("/v1/yard-factors?from=2025&to=2024", 400),
        ("/v1/yard-factors?from=1&to=2024", 400),
        ("/v1/queen-lines", 400),
        ("/v1/seasons/1/yards", 400),
    ] {
        let answer = owner.get(path).await?;
        assert_eq!(answer.status, status, "{path}: {}", answer.text);
    }
    // A season of which nothing is known is empty and no error; whoever takes anything gets JSON.
    let empty = owner
        .raw(Method::GET, "/v1/seasons/1999/yards", |request| {
            request.header("accept", "*/*")
        })
        .await?;
    assert_eq!(empty.status, 200);
    assert_eq!(empty.json["tables"][1]["rows"][0]["figures"]["yield_g"]["value"], 0);
    Ok(())
}

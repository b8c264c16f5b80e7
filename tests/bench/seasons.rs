//! How long the figures of a season take from a service that was just started, beside reading the same states.
//!
//! Not a test: nothing is judged, one table is printed. 400 colonies in 20 yards, 1,500 supers, ten seasons, each super
//! filled once a season, weighed full and spun. The states are folded here and written as the service writes them. For each
//! report a service is started, somebody signs in, and the report is the first thing asked. The reference is the same rows
//! over a new connection, read as plain JSON: below that no answer from kept states can come.

mod ground;
mod season_house;

use std::io::Write as _;
use std::path::Path;
use std::process::ExitCode;
use std::time::Instant;

use anyhow::{Context, Result, ensure};
use api::auth::console::{self, NewOwner};
use api::auth::password::Hasher;
use api::config::{PasswordCost, Secret};
use api::private_postgres::PrivatePostgres;
use diesel::sql_types::{Array, Nullable, Text, Uuid as SqlUuid};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};
use domain::season::report::Report;
use domain::state::{FOLD_VERSION, State};
use domain::subject::Subject;
use serde_json::{Value, json};
use uuid::Uuid;

use ground::{PASSWORD, make, prepared, say, serve};
use season_house::{FIRST, SEASONS, kept};

/// Runs of each report, of which the median counts.
const RUNS: usize = 3;

#[tokio::main]
async fn main() -> ExitCode {
    let folder = std::env::temp_dir().join(format!("yardjar-season-bench-{}", std::process::id()));
    match Box::pin(run(&folder)).await {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            // Standard error may be closed; there is nobody else to tell.
            let _ = writeln!(std::io::stderr(), "season-bench: {error:#}");
            ExitCode::FAILURE
        }
    }
}

async fn run(folder: &Path) -> Result<()> {
    let server = match make(folder) {
        Ok(server) => server,
        Err(error) => {
            std::fs::remove_dir_all(folder)?;
            return Err(error);
        }
    };
    let measured = Box::pin(measure(&server, folder)).await;
    let stopped = tokio::task::spawn_blocking(move || server.stop()).await?;
    std::fs::remove_dir_all(folder)?;
    stopped?;
    measured
}

async fn measure(server: &PrivatePostgres, folder: &Path) -> Result<()> {
    let mut admin = AsyncPgConnection::establish(&server.url("postgres", "postgres")).await?;
    admin.batch_execute("create database seasons").await?;
    let (database, mut conn) = prepared(server, "seasons").await?;
    let owner = NewOwner {
        business: "Linden Honey".to_owned(),
        name: "Ada".to_owned(),
        login: "ada".to_owned(),
        password: Secret::new(PASSWORD),
        invented: false,
    };
    let hasher = Hasher::new(PasswordCost::Cheap)?;
    let (operation, _) = console::add_owner(&mut api::database::as_owner(&database).await?, &hasher, &owner).await?;
    write(&mut conn, operation.uuid(), kept()?).await?;
    conn.batch_execute("vacuum analyze").await?;
    say(&format!(
        "{:<14} {:>7} {:>7} {:>10} {:>12} {:>7}",
        "report", "states", "MB", "first ms", "reference ms", "ratio"
    ))?;
    for report in Report::ALL {
        let mut times = Vec::new();
        for _ in 0..RUNS {
            let (mut service, url) = serve(&database, folder).await?;
            times.push((
                first(&url, *report).await?,
                reference(server, operation.uuid(), *report).await?,
            ));
            service.kill().await?;
        }
        times.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (first, (plain, states, bytes)) = *times.get(RUNS / 2).context("no run")?;
        #[expect(clippy::cast_precision_loss, reason = "small numbers, for people")]
        let megabytes = bytes as f64 / 1e6;
        say(&format!(
            "{:<14} {states:>7} {megabytes:>7.1} {first:>10.0} {plain:>12.0} {:>7.2}",
            report.name(),
            first / plain
        ))?;
    }
    Ok(())
}

/// Milliseconds of the first question to a service.
async fn first(url: &str, report: Report) -> Result<f64> {
    let http = reqwest::Client::builder().no_proxy().build()?;
    let sign_in = json!({ "login": "ada", "password": PASSWORD, "device_name": "bench" });
    let answer = http
        .post(format!("{url}/v1/auth/sign-in"))
        .json(&sign_in)
        .send()
        .await?;
    let answer: Value = answer.error_for_status()?.json().await?;
    let access = answer["access_token"].as_str().context("no token")?;
    let last = FIRST + SEASONS - 1;
    let path = if report.is_of_seasons() {
        format!("{url}/v1/{}?from={FIRST}&to={last}", report.name())
    } else {
        format!("{url}/v1/seasons/{last}/{}", report.name())
    };
    let began = Instant::now();
    let answer = http.get(path).bearer_auth(access).send().await?;
    let status = answer.status();
    let text = answer.text().await?;
    let took = began.elapsed().as_secs_f64() * 1e3;
    ensure!(status.is_success(), "{status}: {text}");
    Ok(took)
}

/// Milliseconds of reading the same rows as plain JSON over a new connection, how many they are and how long.
async fn reference(server: &PrivatePostgres, operation: Uuid, report: Report) -> Result<(f64, usize, usize)> {
    #[derive(diesel::QueryableByName)]
    struct Kept {
        #[diesel(sql_type = Text)]
        state: String,
    }
    let kinds: Vec<&str> = report.needs().iter().map(|kind| kind.name()).collect();
    let began = Instant::now();
    let mut conn = AsyncPgConnection::establish(&server.url("postgres", "seasons")).await?;
    let question = diesel::sql_query("select state from state_row where operation_id = $1 and kind = any($2)");
    let question = question.bind::<SqlUuid, _>(operation).bind::<Array<Text>, _>(&kinds);
    let rows: Vec<Kept> = question.load(&mut conn).await?;
    for row in &rows {
        let _: Value = serde_json::from_str(&row.state)?;
    }
    let took = began.elapsed().as_secs_f64() * 1e3;
    Ok((took, rows.len(), rows.iter().map(|row| row.state.len()).sum()))
}

/// Writes states as the service keeps them.
async fn write(conn: &mut AsyncPgConnection, operation: Uuid, kept: Vec<(Subject, State)>) -> Result<()> {
    for part in kept.chunks(500) {
        let kinds: Vec<&str> = part.iter().map(|(subject, _)| subject.kind.name()).collect();
        let ids: Vec<Uuid> = part.iter().map(|(subject, _)| subject.id).collect();
        let labels: Vec<Option<String>> = part.iter().map(|(_, state)| state.label()).collect();
        let statuses: Vec<&str> = part.iter().map(|(_, state)| state.status()).collect();
        let states: Vec<String> = part.iter().map(|(_, state)| state.state_json()).collect();
        let memos: Vec<String> = part.iter().map(|(_, state)| state.memo_json()).collect();
        let insert = diesel::sql_query(format!(
            "insert into state_row (operation_id, kind, id, changed_seq, label, status, flags, state, memo, fold_version)
             select $1, k, i, 1, l, s, 0, t, m, {FOLD_VERSION}
               from unnest($2, $3, $4, $5, $6, $7) as of(k, i, l, s, t, m)"
        ));
        insert
            .bind::<SqlUuid, _>(operation)
            .bind::<Array<Text>, _>(&kinds)
            .bind::<Array<SqlUuid>, _>(&ids)
            .bind::<Array<Nullable<Text>>, _>(&labels)
            .bind::<Array<Text>, _>(&statuses)
            .bind::<Array<Text>, _>(&states)
            .bind::<Array<Text>, _>(&memos)
            .execute(conn)
            .await?;
    }
    Ok(())
}

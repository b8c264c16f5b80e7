//! The service is killed at the two worst moments, its database goes away, or is held by somebody slow.

use std::time::{Duration, Instant};

use anyhow::Result;
use diesel_async::SimpleAsyncConnection;
use tests::{Service, Tried, invariants};

use super::downloads::until;
use super::process::Process;
use super::{phone, phone_of, record_supers, seqs, words};

async fn killed_at(place: &str, stored: &str) -> Result<()> {
    let service = Service::start().await?;
    let mut process = Process::beside(&service).await?;
    let mut phone = phone(&service).await?;
    phone.client = phone.client.elsewhere(&process.url);
    record_supers(&mut phone, 25)?;
    let batch = phone.book.outbox.clone();
    process.stop_at(place)?;
    let sending = tokio::spawn(async move {
        let told = phone.send().await?;
        anyhow::Ok((phone, told))
    });
    process.reached(place).await?;
    process.kill()?;
    let (mut phone, told) = sending.await??;
    assert!(matches!(told, Tried::Again(..)), "{told:?}");
    assert_eq!(phone.book.outbox.len(), 25);
    assert_eq!(
        service
            .database
            .texts("select count(*)::text as text from entry")
            .await?,
        [stored]
    );
    process.start().await?;
    invariants(&service.database, &mut []).await?;
    let again = phone.client.push(&batch).await?.expect_status(200)?;
    let word = if stored == "0" { "stored" } else { "duplicate" };
    assert_eq!(words(&again), vec![word; 25]);
    assert_eq!(seqs(&again), (1..=25).map(Some).collect::<Vec<_>>());
    phone.sync_patiently(5).await?;
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn kill9_before_commit() -> Result<()> {
    killed_at("before-commit", "0").await
}

#[tokio::test]
async fn kill9_between_commit_and_reply() -> Result<()> {
    killed_at("after-commit", "25").await
}

#[tokio::test]
async fn db_down_mid_push() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    record_supers(&mut phone, 30)?;
    // Nobody is let into the database, and whoever is in it is thrown out while it writes.
    let slow = "create function dawdle() returns trigger language plpgsql as $$ begin perform pg_sleep(20); return null; end $$;
                create constraint trigger dawdle after update on operation_ledger
                    deferrable initially deferred for each row execute function dawdle()";
    service.database.run(slow).await?;
    let mut sender = tests::FieldPhone::new(phone.client.clone());
    sender.book = phone.book.clone();
    let sending = tokio::spawn(async move {
        let body = serde_json::json!({ "operation_id": sender.client.held()?.operation, "sent_at": sender.now(),
            "entries": sender.book.outbox });
        sender.client.post("/v1/sync/push", &body).await
    });
    let sleeping =
        "select pid::text as text from pg_stat_activity where datname = current_database() and wait_event = 'PgSleep'";
    until(async || {
        service
            .database
            .texts(sleeping)
            .await
            .is_ok_and(|pids| !pids.is_empty())
    })
    .await?;
    service
        .database
        .run("select pg_terminate_backend(pid) from pg_stat_activity where datname = current_database() and pid <> pg_backend_pid()")
        .await?;
    let answer = sending.await??;
    assert_eq!(answer.status, 503, "{}", answer.text);
    assert!(answer.header("retry-after").is_some());
    service.database.run("drop trigger dawdle on operation_ledger").await?;
    assert_eq!(
        service
            .database
            .texts("select count(*)::text as text from entry")
            .await?,
        ["0"]
    );
    phone.sync_patiently(20).await?;
    assert_eq!(
        service
            .database
            .texts("select count(*)::text as text from entry")
            .await?,
        ["30"],
        "stored once"
    );
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn database_lost_while_the_first_owner_is_made() -> Result<()> {
    let service = Service::start().await?;
    service.database.run("truncate operation cascade").await?;
    // A service on an empty database makes the first owner when it answers already; somebody stands in its way.
    let mut other = service.database.superuser().await?;
    other.batch_execute("begin; lock table operation in share mode").await?;
    let process = Process::beside(&service).await?;
    let blocked = async || {
        let waiting = service.database.texts(WAITING).await;
        waiting.is_ok_and(|count| count == ["1"])
    };
    until(blocked).await?;
    let thrown_out = "select pg_terminate_backend(pid) from pg_stat_activity
        where datname = current_database() and wait_event_type = 'Lock'";
    service.database.run(thrown_out).await?;
    until(blocked).await?;
    let ready = reqwest::get(format!("{}/health/ready", process.url)).await?;
    assert_eq!(ready.status(), 200, "the service goes on");
    other.batch_execute("rollback").await?;
    let logins = "select coalesce(string_agg(login, ' '), '') as text from member";
    until(async || {
        let made = service.database.texts(logins).await;
        made.is_ok_and(|made| made == ["owner"])
    })
    .await
}

/// How many wait for a lock of this database.
const WAITING: &str = "select count(*)::text as text from pg_stat_activity
    where datname = current_database() and wait_event_type = 'Lock'";

#[tokio::test]
async fn lock_wait() -> Result<()> {
    const CONNECTIONS: usize = 4;
    let service = Service::start_with(|config| config.pool = CONNECTIONS).await?;
    let other = service.other_operation().await?;
    let (mut ours, mut theirs) = (phone(&service).await?, phone_of(&other).await?);
    record_supers(&mut ours, 5)?;
    // Somebody has the turn of our business and does not give it back.
    let mut slow = service.database.superuser().await?;
    let turn = format!(
        "begin; select 1 from operation_ledger where operation_id = '{}' for update",
        service.operation.id
    );
    slow.batch_execute(&turn).await?;
    let began = Instant::now();
    // More phones of it push than there are connections.
    let mut waiting = tokio::task::JoinSet::new();
    for _ in 0..CONNECTIONS * 3 {
        let (client, batch) = (ours.client.clone(), ours.book.outbox.clone());
        waiting.spawn(async move { (client.push(&batch).await, began.elapsed()) });
    }
    until(async || {
        let waiting = service.database.texts(WAITING).await;
        waiting.is_ok_and(|count| count != ["0"])
    })
    .await?;
    // One push of the other business after another, all of them while ours waits.
    for _ in 0..5 {
        record_supers(&mut theirs, 1)?;
        let began = Instant::now();
        assert_eq!(theirs.send().await?, Tried::Done);
        let took = began.elapsed();
        assert!(
            took < Duration::from_secs(1),
            "the other business is held up for {took:?}"
        );
    }
    assert!(waiting.try_join_next().is_none(), "ours had to wait all the while");
    let mut took = Vec::new();
    while let Some(answer) = waiting.join_next().await {
        let (answer, after) = answer?;
        let answer = answer?;
        assert_eq!(answer.status, 503, "{}", answer.text);
        assert!(answer.header("retry-after").is_some());
        took.push(after);
    }
    // The first in the row is sent away after five seconds; who stands behind others waits for each of these at most as
    // long: for a place, for his turn in the row, and for the turn to write.
    took.sort_unstable();
    assert!((5..=14).contains(&took[0].as_secs()), "{took:?}");
    assert!(took.iter().all(|took| (5..=25).contains(&took.as_secs())), "{took:?}");
    slow.batch_execute("rollback").await?;
    ours.sync_patiently(5).await?;
    theirs.sync_patiently(5).await?;
    invariants(&service.database, &mut [&mut ours]).await?;
    invariants(&service.database, &mut [&mut theirs]).await
}

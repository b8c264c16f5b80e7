//! Reading while others write: pulls that race, cursors from elsewhere.

use std::collections::BTreeSet;

use anyhow::{Context, Result};
use serde_json::json;
use tests::{Client, FieldPhone, Service, Tried, invariants};

use super::link::Link;
use super::{phone, record_supers};

/// Pulls until it has read up to a number, and says which rows it was shown.
async fn pull_up_to(client: Client, last: i64) -> Result<BTreeSet<String>> {
    let (mut cursor, mut seen) = (String::new(), BTreeSet::new());
    loop {
        let path = if cursor.is_empty() {
            "/v1/sync/pull?limit=7".to_owned()
        } else {
            format!("/v1/sync/pull?limit=7&cursor={cursor}")
        };
        let page = client.get(&path).await?.expect_status(200)?;
        let rows = page["rows"].as_array().context("rows")?;
        seen.extend(rows.iter().filter_map(|row| row["id"].as_str()).map(str::to_owned));
        page["cursor"].as_str().context("a cursor")?.clone_into(&mut cursor);
        if page["more"] == json!(false) && page["head"].as_i64() >= Some(last) {
            return Ok(seen);
        }
    }
}

#[tokio::test]
async fn pull_while_writers() -> Result<()> {
    const WRITERS: usize = 8;
    const PUSHES: usize = 8;
    const EACH: usize = 5;
    let service = Service::start().await?;
    // Every commit waits a little after its rows are written, some of them much longer than others.
    let delay = "create function dawdle() returns trigger language plpgsql as $$ begin
                     perform pg_sleep(0.04 * random() * random()); return null; end $$;
                 create constraint trigger dawdle after update on operation_ledger
                     deferrable initially deferred for each row execute function dawdle()";
    service.database.run(delay).await?;
    let last = i64::try_from(WRITERS * PUSHES * EACH)?;
    let pullers: Vec<_> = (0..3)
        .map(|_| tokio::spawn(pull_up_to(service.owner(), last)))
        .collect();
    let mut writing = Vec::new();
    for _ in 0..WRITERS {
        let mut writer = phone(&service).await?;
        writing.push(tokio::spawn(async move {
            for _ in 0..PUSHES {
                record_supers(&mut writer, EACH)?;
                anyhow::ensure!(writer.send().await? == Tried::Done);
            }
            anyhow::Ok(writer)
        }));
    }
    let (mut writers, mut made) = (Vec::new(), BTreeSet::new());
    for writer in writing {
        let writer = writer.await??;
        let entries = writer.book.acknowledged.values();
        made.extend(entries.filter_map(|(_, entry)| entry["data"]["super_id"].as_str().map(str::to_owned)));
        writers.push(writer);
    }
    assert_eq!(made.len(), WRITERS * PUSHES * EACH);
    for puller in pullers {
        assert_eq!(puller.await??, made, "nothing missed");
    }
    let mut all: Vec<_> = writers.iter_mut().collect();
    invariants(&service.database, &mut all).await
}

#[tokio::test]
async fn cursor_from_other_server() -> Result<()> {
    let (here, there) = (Service::start().await?, Service::start().await?);
    let (mut ours, mut theirs) = (phone(&here).await?, phone(&there).await?);
    record_supers(&mut ours, 3)?;
    record_supers(&mut theirs, 3)?;
    ours.sync_patiently(3).await?;
    theirs.sync_patiently(3).await?;
    ours.book.cursor.clone_from(&theirs.book.cursor);
    let cursor = ours.book.cursor.clone().context("a cursor")?;
    let answer = ours.client.get(&format!("/v1/sync/pull?cursor={cursor}")).await?;
    assert!(
        answer.is_problem(409, "ledger-diverged"),
        "not an empty page: {}",
        answer.text
    );
    ours.sync_patiently(5).await?;
    assert_eq!(ours.book.rows.len(), 3, "it begins anew and is whole again");
    invariants(&here.database, &mut [&mut ours]).await
}

/// Entries of the first sync: 50,000 by `YARDJAR_FIRST_SYNC=50000`.
fn first_sync() -> usize {
    let told = std::env::var("YARDJAR_FIRST_SYNC").ok();
    told.and_then(|count| count.parse().ok()).unwrap_or(6_000)
}

#[tokio::test]
async fn first_sync_50k() -> Result<()> {
    let count = first_sync();
    let service = Service::start().await?;
    let mut writer = phone(&service).await?;
    record_supers(&mut writer, count)?;
    while writer.send().await? == Tried::More {}
    let mut new = phone(&service).await?;
    let link = Link::to(service.url()).await?;
    new.client = new.client.elsewhere(&link.url);
    new.download().await?;
    let list = new.book.snapshot.clone().context("a list")?.0;
    let parts = list["parts"].as_array().cloned().unwrap_or_default();
    assert!(parts.len() >= count / 1_000, "{} parts", parts.len());
    assert!(parts.iter().all(|part| part["states"].as_i64() <= Some(1_000)));
    // How many bytes a whole download has: another phone fetches it without a cut.
    let mut other = FieldPhone::new(new.client.clone());
    let before = link.bytes();
    while other.download().await? != Tried::Done {}
    let whole = link.bytes() - before;
    assert!(whole / u64::try_from(parts.len())? <= 256 * 1024);
    let before = link.bytes();
    link.break_at(before + whole * 6 / 10);
    let (mut cuts, mut fetched) = (0, 0);
    loop {
        match new.download().await? {
            Tried::Done => break,
            Tried::More => fetched += 1,
            Tried::Again(..) => cuts += 1,
            Tried::Closed(why) => anyhow::bail!(why),
        }
    }
    assert_eq!(
        (cuts, fetched),
        (1, parts.len()),
        "the part that was cut is fetched again, and no other"
    );
    let again = link.bytes() - before;
    assert!(again <= whole + 2 * 256 * 1024, "{again} bytes for {whole}");
    assert_eq!((new.book.rows.len(), &new.book.rows), (count, &other.book.rows));
    assert_eq!(new.book.saw, i64::try_from(count)?);
    println!(
        "first sync of {count} entries: {again} bytes, {:.1} s at 1 Mbit/s",
        again as f64 * 8.0 / 1e6
    );
    new.sync_patiently(3).await?;
    writer.sync_patiently(20).await?;
    invariants(&service.database, &mut [&mut writer, &mut new]).await
}

#[tokio::test]
async fn snapshot_then_pull_race() -> Result<()> {
    let service = Service::start().await?;
    let mut writers = [phone(&service).await?, phone(&service).await?];
    for writer in &mut writers {
        record_supers(writer, 300)?;
        writer.send().await?;
    }
    let mut writing = Vec::new();
    for mut writer in writers {
        writing.push(tokio::spawn(async move {
            for _ in 0..20 {
                record_supers(&mut writer, 5)?;
                anyhow::ensure!(writer.send().await? == Tried::Done);
            }
            anyhow::Ok(writer)
        }));
    }
    let mut readers = Vec::new();
    for _ in 0..4 {
        let mut reader = phone(&service).await?;
        while reader.download().await? != Tried::Done {}
        let seq = reader.book.saw;
        let listed = reader.client.get(&format!("/v1/sync/snapshot/{seq}/1")).await?;
        reader.pull().await?;
        let later = reader.client.get(&format!("/v1/sync/snapshot/{seq}/1")).await?;
        assert_eq!(listed.text, later.text, "a part stays the same while others write");
        readers.push(reader);
    }
    let mut all = Vec::new();
    for writer in writing {
        all.push(writer.await??);
    }
    all.append(&mut readers);
    for phone in &mut all {
        phone.sync_patiently(5).await?;
        assert_eq!(phone.book.rows.len(), 800, "each exactly once");
    }
    let mut all: Vec<_> = all.iter_mut().collect();
    invariants(&service.database, &mut all).await
}

/// Everything that a backup of the ledger holds.
const LEDGER: [&str; 10] = [
    "operation_ledger",
    "entry",
    "entry_subject",
    "state_row",
    "state_part",
    "dead_letter",
    "device_tally",
    "entry_doubt",
    "snapshot_part",
    "erasure",
];

#[tokio::test]
async fn server_restored_from_backup() -> Result<()> {
    let service = Service::start().await?;
    let mut phones = [phone(&service).await?, phone(&service).await?, phone(&service).await?];
    for phone in &mut phones {
        record_supers(phone, 100)?;
        phone.sync_patiently(3).await?;
    }
    let copy = |table: &str| format!("create table backup.{table} as table {table};");
    let backup: String = LEDGER.iter().map(|table| copy(table)).collect();
    service.database.run(&format!("create schema backup; {backup}")).await?;
    for phone in &mut phones {
        record_supers(phone, 40)?;
        phone.sync_patiently(3).await?;
    }
    // One of them recorded more, and has not sent it.
    let unsent = record_supers(&mut phones[2], 5)?;
    let restore = |table: &str| format!("truncate {table}; insert into {table} select * from backup.{table};");
    let restore: String = LEDGER.iter().map(|table| restore(table)).collect();
    service.database.run(&restore).await?;
    let mut diverged = 0;
    for phone in &mut phones {
        let before = phone.book.acknowledged.len();
        let cursor = phone.book.cursor.clone().context("a cursor")?;
        let told = phone.client.get(&format!("/v1/sync/pull?cursor={cursor}")).await?;
        assert!(told.is_problem(409, "ledger-diverged"), "{}", told.text);
        let at = told.json["at"].as_i64().context("at")?;
        // Who sent again before may have made the same numbers of the same entries.
        assert!((200..=380).contains(&at), "a common point that is not far back: {at}");
        phone.sync_patiently(10).await?;
        diverged += 1;
        assert!(phone.book.acknowledged.len() >= before);
    }
    assert_eq!(diverged, 3);
    for phone in &mut phones {
        phone.sync_patiently(5).await?;
        assert_eq!(phone.book.rows.len(), 425, "the union, with what was never sent");
    }
    assert!(unsent.iter().all(|id| phones[2].book.acknowledged.contains_key(id)));
    // A day of a try every quarter of an hour: nothing is sent again, nothing diverges again.
    let head = || {
        service
            .database
            .texts("select last_seq::text as text from operation_ledger")
    };
    let before = head().await?;
    for _ in 0..96 {
        for phone in &mut phones {
            assert_eq!(phone.sync().await?, Tried::Done);
        }
    }
    assert_eq!(head().await?, before);
    let [a, b, c] = &mut phones;
    invariants(&service.database, &mut [a, b, c]).await
}

#[tokio::test]
async fn long_poll_through_restart() -> Result<()> {
    let mut service = Service::start().await?;
    let mut writer = phone(&service).await?;
    record_supers(&mut writer, 1)?;
    writer.sync_patiently(3).await?;
    let mut waiting = Vec::new();
    for _ in 0..20 {
        let mut reader = FieldPhone::new(writer.client.clone());
        reader.sync_patiently(3).await?;
        waiting.push(tokio::spawn(async move {
            let told = reader.wait(25).await?;
            anyhow::Ok((reader, told, std::time::Instant::now()))
        }));
    }
    // They are waiting once the service looks up heads for somebody; nobody was answered before.
    let began = std::time::Instant::now();
    tokio::task::yield_now().await;
    until(async || {
        service
            .database
            .texts(WAITED_FOR)
            .await
            .is_ok_and(|found| !found.is_empty())
    })
    .await?;
    service.stop().await?;
    let (mut readers, mut waits) = (Vec::new(), Vec::new());
    for waiting in waiting {
        let (reader, told, at) = waiting.await??;
        let Tried::Again(wait, why) = told else {
            anyhow::bail!("{told:?}")
        };
        assert!(at - began < std::time::Duration::from_secs(20), "a clean end: {why}");
        waits.push(wait.as_millis() / 500);
        readers.push(reader);
    }
    let spread: BTreeSet<_> = waits.iter().collect();
    assert!(spread.len() >= 5, "no stampede: {waits:?}");
    let twin = service.twin().await?;
    writer.client = writer.client.elsewhere(&twin.url);
    record_supers(&mut writer, 1)?;
    writer.sync_patiently(3).await?;
    for reader in &mut readers {
        reader.client = reader.client.elsewhere(&twin.url);
        assert_eq!(
            reader.wait(25).await?,
            Tried::More,
            "it hears of what happened meanwhile"
        );
        reader.sync_patiently(3).await?;
    }
    let mut all: Vec<_> = readers.iter_mut().chain([&mut writer]).collect();
    invariants(&service.database, &mut all).await
}

/// Sessions of the database whose newest statement looked up heads for somebody who waits.
const WAITED_FOR: &str = "select query as text from pg_stat_activity
    where datname = current_database() and query like '%ledger_heads%' and pid <> pg_backend_pid()";

/// Asks until it is so, for at most a quarter of a minute.
pub(super) async fn until(so: impl AsyncFn() -> bool) -> Result<()> {
    for _ in 0..150 {
        if so().await {
            return Ok(());
        }
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
    }
    anyhow::bail!("it did not come to be so")
}

#[tokio::test]
async fn two_services_one_database() -> Result<()> {
    let service = Service::start().await?;
    let twin = service.twin().await?;
    let mut phones = Vec::new();
    for n in 0..6 {
        let mut phone = phone(&service).await?;
        if n % 2 == 1 {
            phone.client = phone.client.elsewhere(&twin.url);
        }
        phones.push(phone);
    }
    let mut reader = phone(&service).await?;
    reader.client = reader.client.elsewhere(&twin.url);
    // Who waits at one service hears within two seconds of what was pushed to the other.
    for n in 0..3 {
        reader.sync_patiently(3).await?;
        let mut waiting = FieldPhone::new(reader.client.clone());
        waiting.book = reader.book.clone();
        let heard = tokio::spawn(async move {
            let told = waiting.wait(25).await?;
            anyhow::Ok((told, std::time::Instant::now()))
        });
        until(async || {
            service
                .database
                .texts(WAITED_FOR)
                .await
                .is_ok_and(|found| !found.is_empty())
        })
        .await?;
        record_supers(&mut phones[0], 1)?;
        phones[0].send().await?;
        let pushed = std::time::Instant::now();
        let (told, at) = heard.await??;
        assert_eq!(told, Tried::More, "round {n}");
        let late = at.saturating_duration_since(pushed);
        assert!(late < std::time::Duration::from_secs(2), "heard after {late:?}");
    }
    let mut writing = Vec::new();
    for mut phone in phones {
        writing.push(tokio::spawn(async move {
            for _ in 0..15 {
                record_supers(&mut phone, 3)?;
                phone.sync_patiently(5).await?;
            }
            anyhow::Ok(phone)
        }));
    }
    let mut phones = Vec::new();
    for writing in writing {
        phones.push(writing.await??);
    }
    let mut all: Vec<_> = phones.iter_mut().chain([&mut reader]).collect();
    invariants(&service.database, &mut all).await
}

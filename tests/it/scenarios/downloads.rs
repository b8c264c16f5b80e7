//! Reading while others write: pulls that race, cursors from elsewhere.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use anyhow::{Context, Result};
use serde_json::{Value, json};
use tests::{Client, Dice, FieldPhone, Service, Tried, invariants};

use super::link::Link;
use super::process::Process;
use super::{phone, record_supers};

/// Pulls until it has read up to a number, and says which rows it was shown, each as often as it was.
async fn pull_up_to(client: Client, last: i64) -> Result<Vec<String>> {
    let (mut cursor, mut seen) = (String::new(), Vec::new());
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
            seen.sort_unstable();
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
    let (mut writers, mut made) = (Vec::new(), Vec::new());
    for writer in writing {
        let writer = writer.await??;
        let entries = writer.book.acknowledged.values();
        made.extend(entries.filter_map(|(_, entry)| entry["data"]["super_id"].as_str().map(str::to_owned)));
        writers.push(writer);
    }
    assert_eq!(made.len(), WRITERS * PUSHES * EACH);
    made.sort_unstable();
    for puller in pullers {
        assert_eq!(puller.await??, made, "nothing missed, nothing twice");
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

/// Bits a second of a first sync in a yard.
const LINK: u64 = 1_000_000;

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
    writer.sync_patiently(20).await?;
    let mut new = phone(&service).await?;
    let link = Link::slow(service.url(), LINK).await?;
    new.client = new.client.elsewhere(&link.url);
    new.download().await?;
    let list = new.book.snapshot.clone().context("a list")?.0;
    let parts = list["parts"].as_array().cloned().unwrap_or_default();
    assert!(parts.len() >= count / 1_000, "{} parts", parts.len());
    assert!(parts.iter().all(|part| part["states"].as_i64() <= Some(1_000)));
    // How many bytes a whole download has: another phone fetches it without a cut.
    let quick = Link::to(service.url()).await?;
    let mut other = FieldPhone::new(new.client.elsewhere(&quick.url));
    while other.download().await? != Tried::Done {}
    let whole = quick.bytes();
    assert!(whole / u64::try_from(parts.len())? <= 256 * 1024);
    let (before, began) = (link.bytes(), std::time::Instant::now());
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
    let (again, took) = (link.bytes() - before, began.elapsed());
    assert!(again <= whole + 2 * 256 * 1024, "{again} bytes for {whole}");
    assert_eq!((new.book.rows.len(), &new.book.rows), (count, &other.book.rows));
    assert_eq!(new.book.saw, i64::try_from(count)?);
    let on_the_line = std::time::Duration::from_micros(again * 8);
    println!(
        "first sync of {count} entries: {again} bytes, {took:.1?}, of which the line at 1 Mbit/s takes {on_the_line:.1?}"
    );
    assert!(took >= on_the_line, "the link was not as slow as it should be");
    assert!(took <= on_the_line * 3 + std::time::Duration::from_secs(10), "{took:?}");
    // The chain matches: the service knows where the download ends, and there is nothing behind it.
    let cursor = new.book.cursor.clone().context("a cursor")?;
    let rest = new
        .client
        .get(&format!("/v1/sync/pull?cursor={cursor}"))
        .await?
        .expect_status(200)?;
    assert_eq!(
        (&rest["rows"], &rest["more"], rest["whole"] == json!(true)),
        (&json!([]), &json!(false), false)
    );
    assert_eq!(rest["head"], json!(count));
    invariants(&service.database, &mut [&mut writer, &mut new]).await
}

/// A first download and the pulls behind it: where the download ends, and every row as often as it came.
struct FirstSync {
    client: Client,
    seq: i64,
    cursor: String,
    rows: Vec<String>,
    behind: usize,
}

fn ids(page: &Value) -> impl Iterator<Item = String> {
    let rows = page["rows"].as_array().into_iter().flatten();
    rows.filter_map(|row| row["id"].as_str()).map(str::to_owned)
}

impl FirstSync {
    async fn download(client: Client) -> Result<Self> {
        let list = client.get("/v1/sync/snapshot").await?.expect_status(200)?;
        let seq = list["seq"].as_i64().context("seq")?;
        let mut rows = Vec::new();
        for part in list["parts"].as_array().context("parts")? {
            let path = format!("/v1/sync/snapshot/{seq}/{}", part["part"]);
            rows.extend(ids(&client.get(&path).await?.expect_status(200)?));
        }
        let cursor = list["cursor"].as_str().context("a cursor")?.to_owned();
        Ok(Self {
            client,
            seq,
            cursor,
            rows,
            behind: 0,
        })
    }

    async fn pull(&mut self) -> Result<()> {
        loop {
            let path = format!("/v1/sync/pull?limit=100&cursor={}", self.cursor);
            let page = self.client.get(&path).await?.expect_status(200)?;
            let before = self.rows.len();
            self.rows.extend(ids(&page));
            self.behind += self.rows.len() - before;
            page["cursor"]
                .as_str()
                .context("a cursor")?
                .clone_into(&mut self.cursor);
            if page["more"] == json!(false) {
                return Ok(());
            }
        }
    }
}

#[tokio::test]
async fn snapshot_then_pull_race() -> Result<()> {
    let service = Service::start().await?;
    let ended = Arc::new(AtomicBool::new(false));
    let mut writing = Vec::new();
    for _ in 0..2 {
        let (mut writer, ended) = (phone(&service).await?, ended.clone());
        writing.push(tokio::spawn(async move {
            while !ended.load(Ordering::Relaxed) {
                record_supers(&mut writer, 40)?;
                anyhow::ensure!(writer.send().await? == Tried::Done);
            }
            anyhow::Ok(writer)
        }));
    }
    // A download is made anew once the ledger has grown by a thousand entries, and while it is made others write on.
    let mut readers: Vec<FirstSync> = Vec::new();
    while readers.len() < 3 {
        let least = readers.last().map_or(300, |reader| reader.seq + 1_000);
        until(async || head(&service).await.is_ok_and(|head| head >= least)).await?;
        let before = head(&service).await?;
        let mut reader = FirstSync::download(service.owner()).await?;
        assert!(
            reader.seq >= before,
            "made anew at {}, and it was {before} before",
            reader.seq
        );
        for _ in 0..1_000 {
            if reader.behind == 0 {
                reader.pull().await?;
            }
        }
        assert!(reader.behind > 0, "nobody wrote behind the download");
        readers.push(reader);
    }
    ended.store(true, Ordering::Relaxed);
    let (mut writers, mut made) = (Vec::new(), Vec::new());
    for writer in writing {
        let writer = writer.await??;
        let entries = writer.book.acknowledged.values();
        made.extend(entries.filter_map(|(_, entry)| entry["data"]["super_id"].as_str().map(str::to_owned)));
        writers.push(writer);
    }
    made.sort_unstable();
    for mut reader in readers {
        let part = format!("/v1/sync/snapshot/{}/1", reader.seq);
        let listed = reader.client.get(&part).await?;
        reader.pull().await?;
        let later = reader.client.get(&part).await?;
        assert_eq!(listed.text, later.text, "a part stays the same while others write");
        reader.rows.sort_unstable();
        assert_eq!(
            reader.rows, made,
            "each exactly once, {} behind the download",
            reader.behind
        );
    }
    let mut fresh = phone(&service).await?;
    while fresh.download().await? != Tried::Done {}
    let mut all: Vec<_> = writers.iter_mut().chain([&mut fresh]).collect();
    invariants(&service.database, &mut all).await
}

/// The newest number.
async fn head(service: &Service) -> Result<i64> {
    let question = "select last_seq::text as text from operation_ledger";
    Ok(service.database.texts(question).await?[0].parse()?)
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
    const WAITERS: usize = 40;
    let service = Service::start().await?;
    let mut process = Process::beside(&service).await?;
    let mut writer = phone(&service).await?;
    writer.client = writer.client.elsewhere(&process.url);
    record_supers(&mut writer, 1)?;
    writer.sync_patiently(3).await?;
    let (mut waiting, mut dice) = (Vec::new(), Dice::new(43));
    for _ in 0..WAITERS {
        let mut reader = FieldPhone::new(writer.client.clone()).seeded(u64::try_from(dice.below(usize::MAX))?);
        reader.sync_patiently(3).await?;
        waiting.push(tokio::spawn(async move {
            let told = reader.wait(25).await?;
            anyhow::Ok((reader, told, std::time::Instant::now()))
        }));
    }
    until(async || process.waiting().await.is_ok_and(|waiting| waiting == WAITERS)).await?;
    let began = std::time::Instant::now();
    process.end().await?;
    let mut readers = Vec::new();
    for waiting in waiting {
        let (reader, told, at) = waiting.await??;
        let Tried::Again(wait, why) = told else {
            anyhow::bail!("{told:?}")
        };
        assert_eq!(why, "the service ends", "a clean end, and no torn connection");
        assert!(at - began < std::time::Duration::from_secs(5), "at once");
        readers.push((wait, reader));
    }
    // Nobody waits longer than a phone may, and in no half second do many come back.
    let mut by_half_second = BTreeMap::<u128, usize>::new();
    for (wait, _) in &readers {
        *by_half_second.entry(wait.as_millis() / 500).or_default() += 1;
    }
    let most = by_half_second.values().max().copied().unwrap_or_default();
    assert!(by_half_second.keys().all(|half| *half <= 16), "{by_half_second:?}");
    assert!(
        by_half_second.len() >= 10 && most <= WAITERS / 4,
        "no stampede: {by_half_second:?}"
    );
    process.start().await?;
    record_supers(&mut writer, 1)?;
    writer.sync_patiently(3).await?;
    readers.sort_by_key(|(wait, _)| *wait);
    for (_, reader) in &mut readers {
        assert_eq!(
            reader.wait(25).await?,
            Tried::More,
            "it hears of what happened meanwhile"
        );
        reader.sync_patiently(3).await?;
    }
    let mut all: Vec<_> = readers
        .iter_mut()
        .map(|(_, reader)| reader)
        .chain([&mut writer])
        .collect();
    invariants(&service.database, &mut all).await
}

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
    let services = [Process::beside(&service).await?, Process::beside(&service).await?];
    let mut phones = Vec::new();
    for n in 0..6 {
        let mut phone = phone(&service).await?;
        phone.client = phone.client.elsewhere(&services[n % 2].url);
        phones.push(phone);
    }
    // Who waits at either hears within two seconds of what was pushed to the other.
    let mut reader = phone(&service).await?;
    for round in 0..6 {
        let here = &services[(round + 1) % 2];
        reader.client = reader.client.elsewhere(&here.url);
        reader.sync_patiently(3).await?;
        let mut waiting = FieldPhone::new(reader.client.clone());
        waiting.book = reader.book.clone();
        let heard = tokio::spawn(async move {
            let told = waiting.wait(25).await?;
            anyhow::Ok((told, std::time::Instant::now()))
        });
        until(async || here.waiting().await.is_ok_and(|waiting| waiting == 1)).await?;
        let writer = &mut phones[round % 2];
        record_supers(writer, 1)?;
        assert_eq!(writer.send().await?, Tried::Done);
        let pushed = std::time::Instant::now();
        let (told, at) = heard.await??;
        assert_eq!(told, Tried::More, "round {round}");
        let late = at.saturating_duration_since(pushed);
        assert!(late < std::time::Duration::from_secs(2), "heard after {late:?}");
        until(async || here.waiting().await.is_ok_and(|waiting| waiting == 0)).await?;
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

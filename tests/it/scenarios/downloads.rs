//! Reading while others write: pulls that race, cursors from elsewhere.

use std::collections::BTreeSet;

use anyhow::{Context, Result};
use serde_json::json;
use tests::{Client, Service, Tried, invariants};

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

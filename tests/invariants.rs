//! What must hold after everything that can happen to phones, air and service.

use std::collections::BTreeMap;

use anyhow::{Context, Result, bail, ensure};
use api::config::Secret;
use api::ledger_commands;
use uuid::Uuid;

use crate::field_phone::{Air, FieldPhone, Tried};
use crate::server::Database;

/// Checks all of it, in every business: numbers without gaps from 1 to the counter, a chain that verifies, each
/// acknowledged entry there exactly once under the number that was told, states that are a fresh fold, an outbox without
/// anything acknowledged, and the same rows on every phone that may read.
///
/// # Errors
/// When something does not hold.
pub async fn invariants(database: &Database, phones: &mut [&mut FieldPhone]) -> Result<()> {
    invariants_of(database, None, phones).await
}

/// The same in one business.
///
/// # Errors
/// When something does not hold.
pub async fn invariants_of(database: &Database, operation: Option<Uuid>, phones: &mut [&mut FieldPhone]) -> Result<()> {
    let of = operation.map_or("true".to_owned(), |id| format!("operation_id = '{id}'"));
    numbers_have_no_gaps(database, &of).await?;
    let only = operation.map(|id| id.to_string());
    let report = ledger_commands::verify(&Secret::new(database.url()), only.as_deref()).await?;
    ensure!(report.is_sound(), "{}", report.text());
    let ledger = ledger(database, &of).await?;
    for phone in phones.iter() {
        let operation = phone.client.held()?.operation;
        for (id, (seq, _)) in &phone.book.acknowledged {
            let there = ledger.get(&(operation, *id));
            ensure!(
                there == Some(seq),
                "acknowledged {id} with number {seq}, and it is {there:?}"
            );
        }
        for entry in &phone.book.outbox {
            let id: Uuid = serde_json::from_value(entry["id"].clone())?;
            ensure!(
                !phone.book.acknowledged.contains_key(&id),
                "{id} was acknowledged and waits"
            );
        }
    }
    let mut shown: Option<&BTreeMap<_, _>> = None;
    for phone in phones {
        phone.air = Box::new(|| Air::Clear);
        let may_read = loop {
            match phone.pull().await? {
                Tried::Done => break true,
                Tried::More => {}
                Tried::Again(_, why) => bail!("a phone in clear air was told to wait: {why}"),
                Tried::Closed(_) => break false,
            }
        };
        if !may_read {
            continue;
        }
        let rows = &phone.book.rows;
        if let Some(before) = shown {
            ensure!(before == rows, "two phones at the head show different rows");
        }
        shown = Some(rows);
    }
    Ok(())
}

async fn numbers_have_no_gaps(database: &Database, of: &str) -> Result<()> {
    let odd = format!(
        "select format('%s: %s entries, newest %s, counter %s', operation_id, count(e.seq), max(e.seq), l.last_seq) as text
           from operation_ledger l left join entry e using (operation_id) where {of}
          group by operation_id, l.last_seq
         having count(e.seq) <> l.last_seq or coalesce(max(e.seq), 0) <> l.last_seq"
    );
    let odd = database.texts(&odd).await?;
    ensure!(odd.is_empty(), "{odd:?}");
    Ok(())
}

/// Every entry with its number. An id is there once: were it there twice, this would say so.
async fn ledger(database: &Database, of: &str) -> Result<BTreeMap<(Uuid, Uuid), i64>> {
    let rows = format!("select concat_ws(' ', operation_id, id, seq) as text from entry where {of}");
    let mut ledger = BTreeMap::new();
    for row in database.texts(&rows).await? {
        let mut words = row.split(' ');
        let (Some(operation), Some(id), Some(seq)) = (words.next(), words.next(), words.next()) else {
            bail!(row)
        };
        let there = ledger.insert((operation.parse()?, id.parse()?), seq.parse().context("a number")?);
        ensure!(there.is_none(), "{id} is there twice");
    }
    Ok(ledger)
}

//! What must hold after everything that can happen to phones, air and service.

use std::collections::BTreeMap;

use anyhow::{Context, Result, bail, ensure};
use api::config::Secret;
use api::ledger_commands;
use uuid::Uuid;

use crate::field_phone::{Air, FieldPhone, Tried};
use crate::server::Database;

/// Checks all of it: numbers without gaps from 1 to the counter, a chain that verifies, each acknowledged entry there
/// exactly once under the number that was told, states that are a fresh fold, an outbox without anything acknowledged,
/// and the same rows on every phone that may read.
///
/// # Errors
/// When something does not hold.
pub async fn invariants(database: &Database, phones: &mut [&mut FieldPhone]) -> Result<()> {
    numbers_have_no_gaps(database).await?;
    let report = ledger_commands::verify(&Secret::new(database.url()), None).await?;
    ensure!(report.is_sound(), "{}", report.text());
    let ledger = ledger(database).await?;
    for phone in phones.iter() {
        for (id, (seq, _)) in &phone.book.acknowledged {
            ensure!(
                ledger.get(id) == Some(seq),
                "acknowledged {id} with number {seq}, and it is {:?}",
                ledger.get(id)
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

async fn numbers_have_no_gaps(database: &Database) -> Result<()> {
    let odd =
        "select format('%s: %s entries, newest %s, counter %s', l.operation_id, count(e.seq), max(e.seq), l.last_seq)
                 as text from operation_ledger l left join entry e using (operation_id)
                group by l.operation_id, l.last_seq
               having count(e.seq) <> l.last_seq or coalesce(max(e.seq), 0) <> l.last_seq";
    let odd = database.texts(odd).await?;
    ensure!(odd.is_empty(), "{odd:?}");
    Ok(())
}

/// Every entry with its number. An id is there once: the database itself has it so.
async fn ledger(database: &Database) -> Result<BTreeMap<Uuid, i64>> {
    let rows = database.texts("select id || ' ' || seq as text from entry").await?;
    let mut ledger = BTreeMap::new();
    for row in rows {
        let (id, seq) = row.split_once(' ').context("id and number")?;
        ensure!(
            ledger.insert(id.parse()?, seq.parse()?).is_none(),
            "{id} is there twice"
        );
    }
    Ok(ledger)
}

//! Making what follows from the ledger anew.

use std::fmt::Write as _;

use diesel::sql_types::{Array, BigInt, Text, Uuid as SqlUuid};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl};
use domain::subject::Subject;
use uuid::Uuid;

use super::{CHUNK, CommandRefused, fold, open, operations, subjects, walk};
use crate::config::Secret;
use crate::database;
use crate::ledger::keep_states;
use crate::ledger::sql::{LockLedger, statement};

statement! {
    /// Links.
    WriteLinks -> BigInt,
    "insert into entry_subject (operation_id, kind, subject_id, seq) select ",
    operation: Uuid as SqlUuid,
    ", * from unnest(",
    kinds: [&'a str] as Array<Text>,
    ", ",
    ids: [Uuid] as Array<SqlUuid>,
    ", ",
    seqs: [i64] as Array<BigInt>,
    ")",
}

/// Makes links and states of every operation, or of one, anew. Answers what to tell the person at the console.
///
/// # Errors
/// When there is no such operation or the database refuses; an operation is rebuilt whole or not at all.
pub async fn rebuild(url: &Secret, only: Option<&str>) -> Result<String, CommandRefused> {
    let mut conn = database::as_owner(url).await?;
    let mut said = String::new();
    for operation in operations(&mut conn, only).await? {
        let (links, states) = conn
            .transaction(async |conn| rebuild_one(conn, operation.id).await)
            .await?;
        let _ = writeln!(
            said,
            "{} ({}): {links} links, {states} states made anew",
            operation.name, operation.id
        );
    }
    Ok(said)
}

/// Makes links and states of one operation anew, and has every phone read them again.
pub(super) async fn rebuild_one(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
) -> Result<(usize, usize), diesel::result::Error> {
    open(conn, operation).await?;
    // The turn keeps everybody from writing meanwhile.
    LockLedger { operation: &operation }.execute(conn).await?;
    for table in ["state_row", "state_part", "entry_subject"] {
        let delete = diesel::sql_query(format!("delete from {table} where operation_id = $1"));
        delete.bind::<SqlUuid, _>(operation).execute(conn).await?;
    }
    let links: Vec<(Subject, i64)> = walk(conn, operation, 0, |_, _, _| {}).await?.into_iter().collect();
    for links in links.chunks(CHUNK * 10) {
        let statement = WriteLinks {
            operation: &operation,
            kinds: &links.iter().map(|(subject, _)| subject.kind.name()).collect::<Vec<_>>(),
            ids: &links.iter().map(|(subject, _)| subject.id).collect::<Vec<_>>(),
            seqs: &links.iter().map(|(_, seq)| *seq).collect::<Vec<_>>(),
        };
        statement.execute(conn).await?;
    }
    let mut states = 0;
    for subjects in subjects(&links).chunks(CHUNK) {
        let rows = fold(conn, operation, subjects).await?;
        keep_states(conn, operation, &rows).await?;
        states += rows.len();
    }
    let epoch = "update operation_ledger set states_epoch = states_epoch + 1 where operation_id = $1";
    diesel::sql_query(epoch)
        .bind::<SqlUuid, _>(operation)
        .execute(conn)
        .await?;
    Ok((links.len(), states))
}

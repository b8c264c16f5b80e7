//! Making what follows from the ledger anew.

use std::fmt::Write as _;

use diesel::sql_types::{Array, BigInt, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl};
use domain::state::FOLD_VERSION;
use domain::subject::Subject;
use uuid::Uuid;

use super::{CHUNK, CommandRefused, fold, open, operations, subjects, walk};
use crate::config::Secret;
use crate::database;
use crate::ledger::sql::{TakeTurn, statement};
use crate::projections::StateRow;

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

statement! {
    /// States.
    WriteStates -> BigInt,
    "insert into state_row (operation_id, fold_version, kind, id, changed_seq, label, status, flags, state, memo)
    select ",
    operation: Uuid as SqlUuid,
    ", ",
    fold_version: i32 as Integer,
    ", * from unnest(",
    kinds: [&'a str] as Array<Text>,
    ", ",
    ids: [Uuid] as Array<SqlUuid>,
    ", ",
    changed_seqs: [i64] as Array<BigInt>,
    ", ",
    labels: [Option<&'a str>] as Array<Nullable<Text>>,
    ", ",
    statuses: [&'a str] as Array<Text>,
    ", ",
    flags: [i32] as Array<Integer>,
    ", ",
    states: [&'a str] as Array<Text>,
    ", ",
    memos: [&'a str] as Array<Text>,
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
    TakeTurn { operation: &operation }.execute(conn).await?;
    for table in ["state_row", "entry_subject"] {
        let delete = diesel::sql_query(format!("delete from {table} where operation_id = $1"));
        delete.bind::<SqlUuid, _>(operation).execute(conn).await?;
    }
    let links: Vec<(Subject, i64)> = walk(conn, operation, |_, _, _| {}).await?.into_iter().collect();
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
        write_states(conn, operation, &rows).await?;
        states += rows.len();
    }
    let epoch = "update operation_ledger set states_epoch = states_epoch + 1 where operation_id = $1";
    diesel::sql_query(epoch)
        .bind::<SqlUuid, _>(operation)
        .execute(conn)
        .await?;
    Ok((links.len(), states))
}

async fn write_states(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    rows: &[StateRow],
) -> Result<(), diesel::result::Error> {
    let statement = WriteStates {
        operation: &operation,
        fold_version: &FOLD_VERSION,
        kinds: &rows.iter().map(|row| row.subject.kind.name()).collect::<Vec<_>>(),
        ids: &rows.iter().map(|row| row.subject.id).collect::<Vec<_>>(),
        changed_seqs: &rows.iter().map(|row| row.changed_seq).collect::<Vec<_>>(),
        labels: &rows.iter().map(|row| row.label.as_deref()).collect::<Vec<_>>(),
        statuses: &rows.iter().map(|row| row.status).collect::<Vec<_>>(),
        flags: &rows.iter().map(|row| row.flags).collect::<Vec<_>>(),
        states: &rows.iter().map(|row| row.state.as_str()).collect::<Vec<_>>(),
        memos: &rows.iter().map(|row| row.memo.as_str()).collect::<Vec<_>>(),
    };
    statement.execute(conn).await?;
    Ok(())
}

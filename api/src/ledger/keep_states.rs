//! Putting states in place of the kept ones, where no push does it: after an erasure and a rebuild.

use diesel::sql_types::{Array, BigInt, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::state::FOLD_VERSION;
use uuid::Uuid;

use super::sql::statement;
use crate::projections::{StateRow, drop_parts, new_parts};

statement! {
    /// Puts states in place of the kept ones.
    KeepStates -> BigInt,
    "insert into state_row (operation_id, fold_version, kind, id, changed_seq, label, status, flags, state, memo, parts)
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
    ", ",
    parts: [i32] as Array<Integer>,
    ") on conflict on constraint state_row_pkey do update
        set changed_seq = excluded.changed_seq, label = excluded.label, status = excluded.status,
            flags = excluded.flags, state = excluded.state, memo = excluded.memo,
            fold_version = excluded.fold_version, parts = excluded.parts",
}

statement! {
    /// Keeps parts beside them.
    KeepParts -> BigInt,
    "insert into state_part (operation_id, kind, id, n, state, memo) select ",
    operation: Uuid as SqlUuid,
    ", * from unnest(",
    kinds: [&'a str] as Array<Text>,
    ", ",
    ids: [Uuid] as Array<SqlUuid>,
    ", ",
    numbers: [i32] as Array<Integer>,
    ", ",
    states: [&'a str] as Array<Text>,
    ", ",
    memos: [&'a str] as Array<Text>,
    ")",
}

/// Keeps these states, each folded anew. The caller holds the turn.
///
/// # Errors
/// When the database refuses.
pub(crate) async fn keep_states(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    rows: &[StateRow],
) -> Result<(), diesel::result::Error> {
    let statement = KeepStates {
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
        parts: &rows.iter().map(|row| row.parts.count()).collect::<Vec<_>>(),
    };
    statement.execute(conn).await?;
    drop_parts(conn, operation, rows.iter().map(|row| &row.subject)).await?;
    let parts = new_parts(rows);
    let statement = KeepParts {
        operation: &operation,
        kinds: &parts
            .iter()
            .map(|(subject, ..)| subject.kind.name())
            .collect::<Vec<_>>(),
        ids: &parts.iter().map(|(subject, ..)| subject.id).collect::<Vec<_>>(),
        numbers: &parts.iter().map(|(_, n, ..)| *n).collect::<Vec<_>>(),
        states: &parts.iter().map(|(_, _, state, _)| *state).collect::<Vec<_>>(),
        memos: &parts.iter().map(|(.., memo)| *memo).collect::<Vec<_>>(),
    };
    statement.execute(conn).await?;
    Ok(())
}

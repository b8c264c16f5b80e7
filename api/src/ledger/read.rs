//! Reading the ledger: its head, whether a cursor still fits, the entries themselves, and what is quarantined.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::OptionalExtension;
use diesel::sql_types::{Array, BigInt, Binary, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use uuid::Uuid;

use super::cursor::{Cursor, check};
use super::hash::{Hash, chain_begin};
use super::sql::statement;

statement! {
    /// The head, and how often the states were made anew.
    Head -> (BigInt, Binary, Integer),
    "select last_seq, chain, states_epoch from operation_ledger where operation_id = ",
    operation: Uuid as SqlUuid,
    "",
}

statement! {
    /// The chain at some numbers.
    Chains -> (BigInt, Binary),
    "select seq, chain from entry where operation_id = ",
    operation: Uuid as SqlUuid,
    " and seq = any(",
    seqs: [i64] as Array<BigInt>,
    ")",
}

statement! {
    /// Entries in the order of their numbers.
    Entries -> (BigInt, Timestamptz, Timestamptz, SqlUuid, SqlUuid, Binary, Binary, Nullable<Text>, Text),
    "select seq, received_at, effective_at, author_id, device_id, content_hash, chain, quarantine, body
       from entry where operation_id = ",
    operation: Uuid as SqlUuid,
    " and seq > ",
    after: i64 as BigInt,
    " order by seq limit ",
    limit: i64 as BigInt,
    "",
}

statement! {
    /// The newest entries of a thing.
    OfThing -> (BigInt, Timestamptz, Timestamptz, SqlUuid, SqlUuid, Binary, Binary, Nullable<Text>, Text),
    "select e.seq, e.received_at, e.effective_at, e.author_id, e.device_id, e.content_hash, e.chain, e.quarantine, e.body
       from entry_subject s join entry e on e.operation_id = s.operation_id and e.seq = s.seq
      where s.operation_id = ",
    operation: Uuid as SqlUuid,
    " and s.kind = ",
    kind: &'a str as Text,
    " and s.subject_id = ",
    id: Uuid as SqlUuid,
    " order by s.seq desc limit ",
    limit: i64 as BigInt,
    "",
}

statement! {
    /// What is kept and not counted.
    Opaque -> (BigInt, SqlUuid, Text, Integer, Text),
    "select seq, id, kind, v, quarantine from entry where quarantine is not null and operation_id = ",
    operation: Uuid as SqlUuid,
    " and seq > ",
    after: i64 as BigInt,
    " and seq <= ",
    to: i64 as BigInt,
    " order by seq limit ",
    limit: i64 as BigInt,
    "",
}

/// An entry with what the ledger added.
#[derive(Clone, Debug)]
pub(crate) struct LedgerRow {
    pub(crate) seq: i64,
    pub(crate) received_at: DateTime<Utc>,
    pub(crate) effective_at: DateTime<Utc>,
    pub(crate) author: Uuid,
    pub(crate) device: Uuid,
    pub(crate) content_hash: Vec<u8>,
    pub(crate) chain: Vec<u8>,
    pub(crate) quarantine: Option<String>,
    pub(crate) body: String,
}

/// An entry as it is read.
type Read = (
    i64,
    DateTime<Utc>,
    DateTime<Utc>,
    Uuid,
    Uuid,
    Vec<u8>,
    Vec<u8>,
    Option<String>,
    String,
);

impl From<Read> for LedgerRow {
    fn from(read: Read) -> Self {
        let (seq, received_at, effective_at, author, device, content_hash, chain, quarantine, body) = read;
        Self {
            seq,
            received_at,
            effective_at,
            author,
            device,
            content_hash,
            chain,
            quarantine,
            body,
        }
    }
}

impl LedgerRow {
    /// Where a reader is who holds everything up to this entry.
    pub(crate) fn cursor(&self) -> Option<Cursor> {
        Some(Cursor::whole(self.seq, &Hash::try_from(&self.chain[..]).ok()?))
    }
}

/// A quarantined entry: seq, id, kind, v, reason.
pub(crate) type OpaqueRow = (i64, Uuid, String, i32, String);

/// What a cursor meets.
#[derive(Debug)]
pub(crate) struct Met {
    /// Where a reader is who holds everything.
    pub(crate) head: Cursor,
    /// The newest number up to which the cursor's ledger is this one.
    pub(crate) common: i64,
    /// Whether that is the cursor's own.
    pub(crate) fits: bool,
}

/// The number of the newest entry.
pub(crate) async fn last_seq(conn: &mut AsyncPgConnection, operation: Uuid) -> Result<i64, diesel::result::Error> {
    let (last_seq, _, _): (i64, Vec<u8>, i32) = Head { operation: &operation }.get_result(conn).await?;
    Ok(last_seq)
}

/// Looks up the head and how far the cursor fits.
pub(crate) async fn meet(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    cursor: Option<&Cursor>,
) -> Result<Met, diesel::result::Error> {
    let (last_seq, chain, epoch): (i64, Vec<u8>, i32) = Head { operation: &operation }.get_result(conn).await?;
    let chain = Hash::try_from(chain)
        .map_err(|_| diesel::result::Error::DeserializationError("a chain of another length".into()))?;
    let mut head = Cursor::whole(last_seq, &chain);
    head.epoch = Some(u32::try_from(epoch).unwrap_or_default());
    let begin = check(&chain_begin(operation));
    let mut known = HashMap::from([(0, begin), (last_seq, head.check)]);
    let asked = cursor.into_iter().flat_map(Cursor::proofs).map(|(seq, _)| seq);
    let mut seqs: Vec<i64> = asked.filter(|seq| !known.contains_key(seq)).collect();
    if cursor.is_none_or(|cursor| cursor.epoch.is_some()) {
        seqs.extend(Cursor::further_back(last_seq));
    }
    if !seqs.is_empty() {
        let question = Chains {
            operation: &operation,
            seqs: &seqs,
        };
        let found: Vec<(i64, Vec<u8>)> = question.load(conn).await?;
        known.extend(
            found
                .iter()
                .filter_map(|(seq, chain)| Some((*seq, *chain.first_chunk::<8>()?))),
        );
    }
    let point = |seq: i64| Some((seq, *known.get(&seq)?));
    head.points = Cursor::further_back(last_seq).into_iter().filter_map(point).collect();
    let common = cursor.map_or(Some(0), |cursor| {
        cursor
            .proofs()
            .find(|(seq, check)| known.get(seq) == Some(check))
            .map(|(seq, _)| seq)
    });
    Ok(Met {
        head,
        common: common.unwrap_or_default(),
        fits: cursor.is_none_or(|cursor| common == Some(cursor.seq)),
    })
}

/// Entries after a number.
pub(crate) async fn entries(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    after: i64,
    limit: i64,
) -> Result<Vec<LedgerRow>, diesel::result::Error> {
    let question = Entries {
        operation: &operation,
        after: &after,
        limit: &limit,
    };
    let rows: Vec<Read> = question.load(conn).await?;
    Ok(rows.into_iter().map(LedgerRow::from).collect())
}

/// The newest entries that change the state of a thing, newest first.
pub(crate) async fn of_thing(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    (kind, id): (&str, Uuid),
    limit: i64,
) -> Result<Vec<LedgerRow>, diesel::result::Error> {
    let question = OfThing {
        operation: &operation,
        kind: &kind,
        id: &id,
        limit: &limit,
    };
    let rows: Vec<Read> = question.load(conn).await?;
    Ok(rows.into_iter().map(LedgerRow::from).collect())
}

/// Quarantined entries after one number and up to another.
pub(crate) async fn opaque(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    (after, to): (i64, i64),
    limit: i64,
) -> Result<Vec<OpaqueRow>, diesel::result::Error> {
    Opaque {
        operation: &operation,
        after: &after,
        to: &to,
        limit: &limit,
    }
    .load(conn)
    .await
}

/// Where a reader is who holds everything up to an entry.
pub(crate) async fn cursor_at(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    seq: i64,
) -> Result<Cursor, diesel::result::Error> {
    let rows = entries(conn, operation, seq - 1, 1).await?;
    rows.into_iter()
        .next()
        .and_then(|row| row.cursor())
        .ok_or(diesel::result::Error::NotFound)
}

statement! {
    /// Entries that were blanked.
    Erased -> SqlUuid,
    "select entry_id from erasure where operation_id = ",
    operation: Uuid as SqlUuid,
    " and done order by at, entry_id",
}

/// Entries that were blanked.
pub(crate) async fn erased(conn: &mut AsyncPgConnection, operation: Uuid) -> Result<Vec<Uuid>, diesel::result::Error> {
    Erased { operation: &operation }.load(conn).await
}

/// An identity of the database: it changes when entries come to live in another one.
pub(crate) async fn server_id(conn: &mut AsyncPgConnection) -> Result<Uuid, diesel::result::Error> {
    diesel::select(function::ledger_server_id()).get_result(conn).await
}

#[allow(missing_docs, reason = "the macro makes helpers that cannot carry comments")]
mod function {
    use diesel::sql_types::Uuid as SqlUuid;

    diesel::define_sql_function! {
        /// See the migration `ledger`.
        fn ledger_server_id() -> SqlUuid;
    }
}

statement! {
    /// One entry by its id.
    OfId -> (BigInt, Text, Text),
    "select seq, kind, body from entry where operation_id = ",
    operation: Uuid as SqlUuid,
    " and id = ",
    id: Uuid as SqlUuid,
    "",
}

/// The number, kind and data of an entry, if the operation has it.
///
/// # Errors
/// When the database refuses or the stored entry does not read.
pub(crate) async fn of_id(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    id: Uuid,
) -> Result<Option<(i64, String, serde_json::Value)>, diesel::result::Error> {
    let question = OfId {
        operation: &operation,
        id: &id,
    };
    let found: Option<(i64, String, String)> = question.get_result(conn).await.optional()?;
    let Some((seq, kind, body)) = found else {
        return Ok(None);
    };
    let unread = |error: serde_json::Error| diesel::result::Error::DeserializationError(error.into());
    let data = super::stored::data_of(&body).map_err(unread)?;
    Ok(Some((seq, kind, serde_json::from_str(data).map_err(unread)?)))
}

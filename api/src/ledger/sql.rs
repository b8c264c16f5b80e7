//! The statements of the ledger, each prepared once a connection.
//!
//! `diesel::sql_query` is never kept prepared, so these say themselves what they are. A parameter is bound where it
//! first stands and named by its number afterwards. The lateral look-ups with `limit 1` keep the planner with the
//! index even while it believes a table to be empty.

use chrono::{DateTime, Utc};
use diesel::sql_types::{Array, BigInt, Binary, Bool, Integer, Nullable, SmallInt, Text, Timestamptz, Uuid as SqlUuid};
use uuid::Uuid;

/// Declares a statement: its row, then its text with the parameters between.
macro_rules! statement {
    ($(#[$doc:meta])* $name:ident -> $out:ty, $head:expr $(, $field:ident: $ty:ty as $sql:ty, $after:literal)* $(,)?) => {
        $(#[$doc])*
        pub(crate) struct $name<'a> { $(pub(crate) $field: &'a $ty),* }

        impl diesel::query_builder::QueryId for $name<'_> {
            type QueryId = $name<'static>;
            const HAS_STATIC_QUERY_ID: bool = true;
        }

        impl diesel::query_builder::Query for $name<'_> {
            type SqlType = $out;
        }

        impl diesel::query_builder::QueryFragment<diesel::pg::Pg> for $name<'_> {
            fn walk_ast<'b>(
                &'b self,
                mut out: diesel::query_builder::AstPass<'_, 'b, diesel::pg::Pg>,
            ) -> diesel::result::QueryResult<()> {
                out.push_sql($head);
                $(
                    out.push_bind_param::<$sql, _>(self.$field)?;
                    out.push_sql($after);
                )*
                Ok(())
            }
        }
    };
}
pub(crate) use statement;

/// What an entry reads back as; see [`super::stored::Row`].
pub(crate) type StoredColumns = (
    BigInt,
    SqlUuid,
    Text,
    Integer,
    Text,
    SqlUuid,
    SqlUuid,
    BigInt,
    BigInt,
    SmallInt,
    Timestamptz,
);

statement! {
    /// Enters, takes the turn, enters again; see the migration `take_turn`.
    TakeTurn -> ((SqlUuid, SqlUuid, SqlUuid, Text, Text, Bool), Nullable<BigInt>, Nullable<Binary>, Nullable<Timestamptz>),
    "select operation_id, member_id, device_id, role, device_state, confirmed, last_seq, chain, last_received_at
       from take_turn(",
    session: Uuid as SqlUuid,
    ", ",
    epoch: i32 as Integer,
    ")",
}

statement! {
    /// Takes the turn at the console.
    LockLedger -> (BigInt, Binary, Timestamptz),
    "select last_seq, chain, last_received_at from operation_ledger where operation_id = ",
    operation: Uuid as SqlUuid,
    " for update",
}

statement! {
    /// Which of these ids exist, and which of them a stored correction names: such a row has no hash.
    FindIds -> (SqlUuid, BigInt, Nullable<Binary>),
    "select k.id, f.seq, f.content_hash from unnest(",
    ids: [Uuid] as Array<SqlUuid>,
    ") as k(id) cross join lateral (select e.seq, e.content_hash from entry e where e.operation_id = ",
    operation: Uuid as SqlUuid,
    " and e.id = k.id limit 1) f
    union all
    select e.corrects, e.seq, null::bytea from entry e
     where e.operation_id = $2 and e.corrects is not null and e.corrects = any($1)",
}

statement! {
    /// The body of one entry.
    FindBody -> Text,
    "select body from entry where operation_id = ",
    operation: Uuid as SqlUuid,
    " and id = ",
    id: Uuid as SqlUuid,
    "",
}

statement! {
    /// Everything that hangs together with these ids through corrections.
    FindRelated -> (StoredColumns, Nullable<SqlUuid>),
    "with recursive reach(id, corrects) as (
        select e.id, e.corrects from entry e where e.id = any(",
    ids: [Uuid] as Array<SqlUuid>,
    ") and e.quarantine is null and e.operation_id = ",
    operation: Uuid as SqlUuid,
    " union
        select e.id, e.corrects from entry e
         where e.operation_id = $2 and e.corrects is not null and e.corrects = any($1)
        union
        select n.id, n.corrects from reach r cross join lateral (
            select e.id, e.corrects from entry e
             where e.operation_id = $2 and e.quarantine is null and e.id = r.corrects
            union all
            select e.id, e.corrects from entry e
             where e.operation_id = $2 and e.corrects is not null and e.corrects = r.id
        ) n
    )
    select e.seq, e.id, e.kind, e.v, e.body, e.device_id, e.author_id, e.device_counter, e.saw, e.utc_offset_min,
           e.effective_at, e.corrects
      from reach r join entry e on e.operation_id = $2 and e.id = r.id",
}

statement! {
    /// Sets corrections apart whose authors may not correct what is the office's; which it did.
    SetApart -> SqlUuid,
    "select entry_set_apart(",
    ids: [Uuid] as Array<SqlUuid>,
    ")",
}

statement! {
    /// The entries of some things, each with the thing.
    FindLinked -> (Text, SqlUuid, StoredColumns),
    "select k.kind, k.id, e.seq, e.id, e.kind, e.v, e.body, e.device_id, e.author_id, e.device_counter, e.saw,
            e.utc_offset_min, e.effective_at
       from unnest(",
    kinds: [&'a str] as Array<Text>,
    ", ",
    ids: [Uuid] as Array<SqlUuid>,
    ") as k(kind, id)
       join entry_subject s on s.kind = k.kind and s.subject_id = k.id and s.operation_id = ",
    operation: Uuid as SqlUuid,
    " join entry e on e.operation_id = $3 and e.seq = s.seq",
}

statement! {
    /// The kept states of some things.
    FindStates -> (Text, SqlUuid, Text, Text, Integer, Integer),
    "select k.kind, k.id, f.state, f.memo, f.fold_version, f.parts from unnest(",
    kinds: [&'a str] as Array<Text>,
    ", ",
    ids: [Uuid] as Array<SqlUuid>,
    ") as k(kind, id) cross join lateral (
        select s.state, s.memo, s.fold_version, s.parts from state_row s
         where s.kind = k.kind and s.id = k.id and s.operation_id = ",
    operation: Uuid as SqlUuid,
    " limit 1) f",
}

statement! {
    /// Everything a push changes, in one statement.
    Write -> BigInt,
    "with head as (
        update operation_ledger set last_seq = ",
    last_seq: i64 as BigInt,
    ", chain = ",
    chain: [u8] as Binary,
    ", last_received_at = ",
    received_at: DateTime<Utc> as Timestamptz,
    " where operation_id = ",
    operation: Uuid as SqlUuid,
    "), told as (
        insert into entry (operation_id, received_at, device_id, author_id, seq, id, kind, v, body, device_counter,
                           saw, happened_at, utc_offset_min, effective_at, content_hash, chain, corrects, quarantine)
        select $4, $3, ",
    device: Uuid as SqlUuid,
    ", ",
    author: Uuid as SqlUuid,
    ", * from unnest(",
    seqs: [i64] as Array<BigInt>,
    ", ",
    ids: [Uuid] as Array<SqlUuid>,
    ", ",
    kinds: [&'a str] as Array<Text>,
    ", ",
    versions: [i32] as Array<Integer>,
    ", ",
    bodies: [&'a str] as Array<Text>,
    ", ",
    device_counters: [i64] as Array<BigInt>,
    ", ",
    saws: [i64] as Array<BigInt>,
    ", ",
    happened: [DateTime<Utc>] as Array<Timestamptz>,
    ", ",
    utc_offsets: [i16] as Array<SmallInt>,
    ", ",
    effective: [DateTime<Utc>] as Array<Timestamptz>,
    ", ",
    content_hashes: [&'a [u8]] as Array<Binary>,
    ", ",
    chains: [Vec<u8>] as Array<Binary>,
    ", ",
    corrects: [Option<Uuid>] as Array<Nullable<SqlUuid>>,
    ", ",
    quarantines: [Option<&'a str>] as Array<Nullable<Text>>,
    ")), links as (
        insert into entry_subject (operation_id, kind, subject_id, seq)
        select $4, * from unnest(",
    link_kinds: [&'a str] as Array<Text>,
    ", ",
    link_ids: [Uuid] as Array<SqlUuid>,
    ", ",
    link_seqs: [i64] as Array<BigInt>,
    ") on conflict on constraint entry_subject_pkey do nothing
    ), past as (
        insert into state_part (operation_id, kind, id, n, state, memo)
        select $4, * from unnest(",
    part_kinds: [&'a str] as Array<Text>,
    ", ",
    part_ids: [Uuid] as Array<SqlUuid>,
    ", ",
    part_numbers: [i32] as Array<Integer>,
    ", ",
    part_states: [&'a str] as Array<Text>,
    ", ",
    part_memos: [&'a str] as Array<Text>,
    ")
    )
    insert into state_row (operation_id, fold_version, kind, id, changed_seq, label, status, flags, state, memo, parts)
    select $4, ",
    fold_version: i32 as Integer,
    ", * from unnest(",
    state_kinds: [&'a str] as Array<Text>,
    ", ",
    state_ids: [Uuid] as Array<SqlUuid>,
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
    /// Drops the parts of some things, which are folded anew.
    DropParts -> BigInt,
    "delete from state_part p using unnest(",
    kinds: [&'a str] as Array<Text>,
    ", ",
    ids: [Uuid] as Array<SqlUuid>,
    ") as k(kind, id) where p.kind = k.kind and p.id = k.id and p.operation_id = ",
    operation: Uuid as SqlUuid,
    "",
}

statement! {
    /// Keeps what was refused.
    KeepLetters -> BigInt,
    "insert into dead_letter (operation_id, device_id, received_at, id, reason, bytes) select ",
    operation: Uuid as SqlUuid,
    ", ",
    device: Uuid as SqlUuid,
    ", ",
    received_at: DateTime<Utc> as Timestamptz,
    ", * from unnest(",
    ids: [Uuid] as Array<SqlUuid>,
    ", ",
    reasons: [&'a str] as Array<Text>,
    ", ",
    bytes: [&'a str] as Array<Text>,
    ")",
}

statement! {
    /// Drops all but the newest letters.
    TrimLetters -> BigInt,
    "delete from dead_letter where operation_id = ",
    operation: Uuid as SqlUuid,
    " and id in (select d.id from dead_letter d where d.operation_id = $1 order by d.id desc offset 1000)",
}

//! What the replay sends, and what it asks the service's database for, each prepared once a connection.

use chrono::{DateTime, Utc};
use diesel::sql_types::{Array, BigInt, Binary, Integer, Nullable, SmallInt, Text, Timestamptz, Uuid as SqlUuid};
use uuid::Uuid;

/// Declares a statement that stays prepared: its row, then its text with the parameters between.
macro_rules! statement {
    ($name:ident -> $out:ty, $head:literal $(, $field:ident: $ty:ty as $sql:ty, $after:literal)* $(,)?) => {
        pub(super) struct $name<'a> { $(pub(super) $field: &'a $ty),* }

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

statement! {
    TakeTurn -> (BigInt, Binary, Timestamptz),
    "select last_seq, chain, last_received_at from operation_ledger where operation_id = ",
    operation: Uuid as SqlUuid,
    " for update",
}

statement! {
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
    FindStates -> (Text, SqlUuid, Text, Text, Integer, Integer),
    "select k.kind, k.id, f.state, f.memo, f.fold_version, f.parts from unnest(",
    kinds: [String] as Array<Text>,
    ", ",
    ids: [Uuid] as Array<SqlUuid>,
    ") as k(kind, id) cross join lateral (
        select s.state, s.memo, s.fold_version, s.parts from state_row s
         where s.kind = k.kind and s.id = k.id and s.operation_id = ",
    operation: Uuid as SqlUuid,
    " limit 1) f",
}

statement! {
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
    kinds: [String] as Array<Text>,
    ", ",
    versions: [i32] as Array<Integer>,
    ", ",
    bodies: [String] as Array<Text>,
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
    content_hashes: [Vec<u8>] as Array<Binary>,
    ", ",
    chains: [Vec<u8>] as Array<Binary>,
    ", ",
    corrects: [Option<Uuid>] as Array<Nullable<SqlUuid>>,
    ", ",
    quarantines: [Option<String>] as Array<Nullable<Text>>,
    ")), links as (
        insert into entry_subject (operation_id, kind, subject_id, seq)
        select $4, * from unnest(",
    link_kinds: [String] as Array<Text>,
    ", ",
    link_ids: [Uuid] as Array<SqlUuid>,
    ", ",
    link_seqs: [i64] as Array<BigInt>,
    ") on conflict on constraint entry_subject_pkey do nothing
    ), past as (
        insert into state_part (operation_id, kind, id, n, state, memo)
        select $4, * from unnest(",
    part_kinds: [String] as Array<Text>,
    ", ",
    part_ids: [Uuid] as Array<SqlUuid>,
    ", ",
    part_numbers: [i32] as Array<Integer>,
    ", ",
    part_states: [String] as Array<Text>,
    ", ",
    part_memos: [String] as Array<Text>,
    ")
    )
    insert into state_row (operation_id, fold_version, kind, id, changed_seq, label, status, flags, state, memo, parts)
    select $4, ",
    fold_version: i32 as Integer,
    ", * from unnest(",
    state_kinds: [String] as Array<Text>,
    ", ",
    state_ids: [Uuid] as Array<SqlUuid>,
    ", ",
    changed_seqs: [i64] as Array<BigInt>,
    ", ",
    labels: [Option<String>] as Array<Nullable<Text>>,
    ", ",
    statuses: [String] as Array<Text>,
    ", ",
    flags: [i32] as Array<Integer>,
    ", ",
    states: [String] as Array<Text>,
    ", ",
    memos: [String] as Array<Text>,
    ", ",
    parts: [i32] as Array<Integer>,
    ") on conflict on constraint state_row_pkey do update
        set changed_seq = excluded.changed_seq, label = excluded.label, status = excluded.status,
            flags = excluded.flags, state = excluded.state, memo = excluded.memo,
            fold_version = excluded.fold_version, parts = excluded.parts",
}

statement! {
    NewEntries -> (
        Array<BigInt>, Array<SqlUuid>, Array<Text>, Array<Integer>, Array<Text>, Array<BigInt>, Array<BigInt>,
        Array<Timestamptz>, Array<SmallInt>, Array<Timestamptz>, Array<Binary>, Array<Binary>,
        Array<Nullable<SqlUuid>>, Array<Nullable<Text>>
    ),
    "select array_agg(seq order by seq), array_agg(id order by seq), array_agg(kind order by seq),
            array_agg(v order by seq), array_agg(body order by seq), array_agg(device_counter order by seq),
            array_agg(saw order by seq), array_agg(happened_at order by seq), array_agg(utc_offset_min order by seq),
            array_agg(effective_at order by seq), array_agg(content_hash order by seq), array_agg(chain order by seq),
            array_agg(corrects order by seq), array_agg(quarantine order by seq)
       from entry where operation_id = ",
    operation: Uuid as SqlUuid,
    " and seq > ",
    after: i64 as BigInt,
    " and seq <= ",
    until: i64 as BigInt,
    "",
}

statement! {
    NewLinks -> (Text, SqlUuid, BigInt),
    "select kind, subject_id, seq from entry_subject where seq > ",
    after: i64 as BigInt,
    " and seq <= ",
    until: i64 as BigInt,
    " and operation_id = ",
    operation: Uuid as SqlUuid,
    " order by seq",
}

statement! {
    NewStates -> (
        Array<Text>, Array<SqlUuid>, Array<BigInt>, Array<Nullable<Text>>, Array<Text>, Array<Integer>, Array<Text>,
        Array<Text>, Array<Integer>, Integer
    ),
    "select array_agg(kind), array_agg(id), array_agg(changed_seq), array_agg(label), array_agg(status),
            array_agg(flags), array_agg(state), array_agg(memo), array_agg(parts), max(fold_version)
       from (select * from state_row where operation_id = ",
    operation: Uuid as SqlUuid,
    " and (kind, id) in (select kind, subject_id from entry_subject
                          where operation_id = $1 and seq > ",
    after: i64 as BigInt,
    " and seq <= ",
    until: i64 as BigInt,
    ") order by kind, id) s",
}

statement! {
    Parts -> (Text, SqlUuid, Integer, Text, Text),
    "select p.kind, p.id, p.n, p.state, p.memo from unnest(",
    kinds: [String] as Array<Text>,
    ", ",
    ids: [Uuid] as Array<SqlUuid>,
    ") as k(kind, id) join state_part p on p.kind = k.kind and p.id = k.id and p.operation_id = ",
    operation: Uuid as SqlUuid,
    "",
}

statement! {
    HowManyParts -> (Text, SqlUuid, Integer),
    "select s.kind, s.id, s.parts from unnest(",
    kinds: [String] as Array<Text>,
    ", ",
    ids: [Uuid] as Array<SqlUuid>,
    ") as k(kind, id) join state_row s on s.kind = k.kind and s.id = k.id and s.operation_id = ",
    operation: Uuid as SqlUuid,
    "",
}

statement! {
    Sizes -> (Text, BigInt, BigInt, BigInt, BigInt),
    "select kind, count(*), (avg(octet_length(state)))::bigint, (avg(octet_length(memo)))::bigint,
            (avg(parts))::bigint from state_row where operation_id = ",
    operation: Uuid as SqlUuid,
    " group by kind having count(*) > 1 order by kind",
}

//! The measure of the service: its own statements, sent by a client that knows every answer in advance.
//!
//! The texts repeat `api/src/ledger/sql.rs`; whoever changes them there changes them here. The replay works as a
//! superuser: without a session, without row-level security, without hashing and folding. What the service adds to
//! it is what the ratio shows.

use anyhow::{Context, Result};
use chrono::{DateTime, Utc};
use diesel::sql_types::{Array, BigInt, Binary, Integer, Nullable, SmallInt, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl};
use uuid::Uuid;

/// Declares a statement that stays prepared: its row, then its text with the parameters between.
macro_rules! statement {
    ($name:ident -> $out:ty, $head:literal $(, $field:ident: $ty:ty as $sql:ty, $after:literal)* $(,)?) => {
        struct $name<'a> { $($field: &'a $ty),* }

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
    FindStates -> (Text, SqlUuid, Text, Text, Integer),
    "select k.kind, k.id, f.state, f.memo, f.fold_version from unnest(",
    kinds: [String] as Array<Text>,
    ", ",
    ids: [Uuid] as Array<SqlUuid>,
    ") as k(kind, id) cross join lateral (
        select s.state, s.memo, s.fold_version from state_row s
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
    )
    insert into state_row (operation_id, fold_version, kind, id, changed_seq, label, status, flags, state, memo)
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
    ") on conflict on constraint state_row_pkey do update
        set changed_seq = excluded.changed_seq, label = excluded.label, status = excluded.status,
            flags = excluded.flags, state = excluded.state, memo = excluded.memo,
            fold_version = excluded.fold_version",
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
    "",
}

statement! {
    NewLinks -> (Text, SqlUuid, BigInt),
    "select kind, subject_id, seq from entry_subject where seq > ",
    after: i64 as BigInt,
    " and operation_id = ",
    operation: Uuid as SqlUuid,
    " order by seq",
}

statement! {
    NewStates -> (
        Array<Text>, Array<SqlUuid>, Array<BigInt>, Array<Nullable<Text>>, Array<Text>, Array<Integer>, Array<Text>,
        Array<Text>, Integer
    ),
    "select array_agg(kind), array_agg(id), array_agg(changed_seq), array_agg(label), array_agg(status),
            array_agg(flags), array_agg(state), array_agg(memo), max(fold_version)
       from (select * from state_row where operation_id = ",
    operation: Uuid as SqlUuid,
    " and changed_seq > ",
    after: i64 as BigInt,
    " order by kind, id) s",
}

statement! {
    Sizes -> (Text, BigInt, BigInt, BigInt),
    "select kind, count(*), (avg(octet_length(state)))::bigint, (avg(octet_length(memo)))::bigint
       from state_row where operation_id = ",
    operation: Uuid as SqlUuid,
    " group by kind having count(*) > 1 order by kind",
}

/// How large the states have become: what is folded on has to be read and written each time.
pub(crate) async fn sizes(conn: &mut AsyncPgConnection, operation: Uuid) -> Result<Vec<String>> {
    let sizes = Sizes { operation: &operation };
    let sizes: Vec<(String, i64, i64, i64)> = sizes.load(conn).await?;
    let line = |(kind, count, state, memo)| format!("{count} x {kind}: state {state} bytes, memo {memo} bytes");
    Ok(sizes.into_iter().map(line).collect())
}

type EntryColumns = (
    Vec<i64>,
    Vec<Uuid>,
    Vec<String>,
    Vec<i32>,
    Vec<String>,
    Vec<i64>,
    Vec<i64>,
    Vec<DateTime<Utc>>,
    Vec<i16>,
    Vec<DateTime<Utc>>,
    Vec<Vec<u8>>,
    Vec<Vec<u8>>,
    Vec<Option<Uuid>>,
    Vec<Option<String>>,
);

type StateColumns = (
    Vec<String>,
    Vec<Uuid>,
    Vec<i64>,
    Vec<Option<String>>,
    Vec<String>,
    Vec<i32>,
    Vec<String>,
    Vec<String>,
    i32,
);

/// What the service wrote for one push.
pub(crate) struct Written {
    entries: EntryColumns,
    links: (Vec<String>, Vec<Uuid>, Vec<i64>),
    states: StateColumns,
}

impl Written {
    /// Reads from the service's database what it wrote after a number.
    pub(crate) async fn read(conn: &mut AsyncPgConnection, operation: Uuid, after: i64) -> Result<Self> {
        let entries = NewEntries {
            operation: &operation,
            after: &after,
        };
        let entries: EntryColumns = entries.get_result(conn).await.context("the entries written")?;
        let links = NewLinks {
            after: &after,
            operation: &operation,
        };
        let links: Vec<(String, Uuid, i64)> = links.load(conn).await?;
        let mut apart = (Vec::new(), Vec::new(), Vec::new());
        for (kind, id, seq) in links {
            apart.0.push(kind);
            apart.1.push(id);
            apart.2.push(seq);
        }
        let states = NewStates {
            operation: &operation,
            after: &after,
        };
        Ok(Self {
            entries,
            links: apart,
            states: states.get_result(conn).await.context("the states written")?,
        })
    }

    /// The newest number.
    pub(crate) fn last_seq(&self) -> i64 {
        self.entries.0.last().copied().unwrap_or(0)
    }

    /// Writes the same into another database: turn, look-ups, one statement, commit.
    pub(crate) async fn replay(&self, conn: &mut AsyncPgConnection, operation: Uuid) -> Result<()> {
        conn.transaction(async |conn| {
            let turn = TakeTurn { operation: &operation };
            let (_, _, received_at): (i64, Vec<u8>, DateTime<Utc>) = turn.get_result(conn).await?;
            let ids = FindIds {
                ids: &self.entries.1,
                operation: &operation,
            };
            let _: Vec<(Uuid, i64, Option<Vec<u8>>)> = ids.load(conn).await?;
            let states = FindStates {
                kinds: &self.states.0,
                ids: &self.states.1,
                operation: &operation,
            };
            let _: Vec<(String, Uuid, String, String, i32)> = states.load(conn).await?;
            self.write(conn, operation, received_at).await
        })
        .await
    }

    async fn write(&self, conn: &mut AsyncPgConnection, operation: Uuid, received_at: DateTime<Utc>) -> Result<()> {
        let (entries, links, states) = (&self.entries, &self.links, &self.states);
        let nobody = Uuid::nil();
        let write = Write {
            last_seq: &self.last_seq(),
            chain: entries.11.last().context("a push without entries")?,
            received_at: &received_at,
            operation: &operation,
            device: &nobody,
            author: &nobody,
            seqs: &entries.0,
            ids: &entries.1,
            kinds: &entries.2,
            versions: &entries.3,
            bodies: &entries.4,
            device_counters: &entries.5,
            saws: &entries.6,
            happened: &entries.7,
            utc_offsets: &entries.8,
            effective: &entries.9,
            content_hashes: &entries.10,
            chains: &entries.11,
            corrects: &entries.12,
            quarantines: &entries.13,
            link_kinds: &links.0,
            link_ids: &links.1,
            link_seqs: &links.2,
            fold_version: &states.8,
            state_kinds: &states.0,
            state_ids: &states.1,
            changed_seqs: &states.2,
            labels: &states.3,
            statuses: &states.4,
            flags: &states.5,
            states: &states.6,
            memos: &states.7,
        };
        write.execute(conn).await?;
        Ok(())
    }
}

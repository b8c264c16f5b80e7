//! The measure of the service: its own statements, sent by a client that knows every answer in advance.
//!
//! The texts repeat `api/src/ledger/sql.rs`; whoever changes them there changes them here. The replay works as a
//! superuser: without a session, without row-level security, without hashing and folding. What the service adds to
//! it is what the ratio shows.

use std::collections::HashMap;
use std::time::Instant;

use anyhow::{Context, Result};
use chrono::{DateTime, Utc};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl};
use uuid::Uuid;

mod statements;

use statements::{FindIds, FindStates, HowManyParts, NewEntries, NewLinks, NewStates, Parts, Sizes, TakeTurn, Write};

/// How large the states have become: what is folded on has to be read and written each time.
pub(crate) async fn sizes(conn: &mut AsyncPgConnection, operation: Uuid) -> Result<Vec<String>> {
    let sizes = Sizes { operation: &operation };
    let sizes: Vec<(String, i64, i64, i64, i64)> = sizes.load(conn).await?;
    let line = |(kind, count, state, memo, parts)| {
        format!("{count} x {kind}: state {state} bytes, memo {memo} bytes, {parts} parts beside it")
    };
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
    Vec<i32>,
    i32,
);

type PartColumns = (Vec<String>, Vec<Uuid>, Vec<i32>, Vec<String>, Vec<String>);

/// Seconds of the steps of a replay.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Took {
    /// To the turn, the transaction's beginning included.
    pub(crate) turn: f64,
    pub(crate) look_up: f64,
    pub(crate) write: f64,
    pub(crate) commit: f64,
}

impl Took {
    pub(crate) fn all(self) -> f64 {
        self.turn + self.look_up + self.write + self.commit
    }

    pub(crate) fn add(&mut self, other: Self) {
        self.turn += other.turn;
        self.look_up += other.look_up;
        self.write += other.write;
        self.commit += other.commit;
    }
}

fn lap(began: &mut Instant) -> f64 {
    let took = began.elapsed().as_secs_f64();
    *began = Instant::now();
    took
}

/// What the service wrote for one push.
pub(crate) struct Written {
    entries: EntryColumns,
    links: (Vec<String>, Vec<Uuid>, Vec<i64>),
    states: StateColumns,
    parts: PartColumns,
}

/// A connection and whose rows are looked at through it.
pub(crate) type Of<'a> = (&'a mut AsyncPgConnection, Uuid);

impl Written {
    /// Reads from the service's database what it wrote after a number and up to another. States are as they are now, so
    /// those of a later push may be in them; parts that the replay has already are left out.
    pub(crate) async fn read(
        (conn, operation): Of<'_>,
        (replayed, in_replay): Of<'_>,
        (after, until): (i64, i64),
    ) -> Result<Self> {
        let entries = NewEntries {
            operation: &operation,
            after: &after,
            until: &until,
        };
        let entries: EntryColumns = entries.get_result(conn).await.context("the entries written")?;
        let links = NewLinks {
            after: &after,
            until: &until,
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
            until: &until,
        };
        let states: StateColumns = states.get_result(conn).await.context("the states written")?;
        let there = HowManyParts {
            kinds: &states.0,
            ids: &states.1,
            operation: &in_replay,
        };
        let there: Vec<(String, Uuid, i32)> = there.load(replayed).await?;
        let there: HashMap<(String, Uuid), i32> =
            there.into_iter().map(|(kind, id, parts)| ((kind, id), parts)).collect();
        let all = Parts {
            kinds: &states.0,
            ids: &states.1,
            operation: &operation,
        };
        let mut parts = PartColumns::default();
        for (kind, id, n, state, memo) in all.load::<(String, Uuid, i32, String, String)>(conn).await? {
            if n >= there.get(&(kind.clone(), id)).copied().unwrap_or(0) {
                parts.0.push(kind);
                parts.1.push(id);
                parts.2.push(n);
                parts.3.push(state);
                parts.4.push(memo);
            }
        }
        Ok(Self {
            entries,
            links: apart,
            states,
            parts,
        })
    }

    /// Only what a push needs that is replayed beside others of the same things.
    pub(crate) fn without_parts(mut self) -> Self {
        self.parts = PartColumns::default();
        self
    }

    /// The newest number.
    fn last_seq(&self) -> i64 {
        self.entries.0.last().copied().unwrap_or(0)
    }

    /// Writes the same into another database: turn, look-ups, one statement, commit.
    pub(crate) async fn replay(&self, conn: &mut AsyncPgConnection, operation: Uuid) -> Result<Took> {
        let (mut took, mut began) = (Took::default(), Instant::now());
        conn.transaction(async |conn| {
            let turn = TakeTurn { operation: &operation };
            let (_, _, received_at): (i64, Vec<u8>, DateTime<Utc>) = turn.get_result(conn).await?;
            took.turn = lap(&mut began);
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
            let _: Vec<(String, Uuid, String, String, i32, i32)> = states.load(conn).await?;
            took.look_up = lap(&mut began);
            self.write(conn, operation, received_at).await?;
            took.write = lap(&mut began);
            Ok::<_, anyhow::Error>(())
        })
        .await?;
        took.commit = lap(&mut began);
        Ok(took)
    }

    async fn write(&self, conn: &mut AsyncPgConnection, operation: Uuid, received_at: DateTime<Utc>) -> Result<()> {
        let (entries, links, states, parts) = (&self.entries, &self.links, &self.states, &self.parts);
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
            part_kinds: &parts.0,
            part_ids: &parts.1,
            part_numbers: &parts.2,
            part_states: &parts.3,
            part_memos: &parts.4,
            fold_version: &states.9,
            state_kinds: &states.0,
            state_ids: &states.1,
            changed_seqs: &states.2,
            labels: &states.3,
            statuses: &states.4,
            flags: &states.5,
            states: &states.6,
            memos: &states.7,
            parts: &states.8,
        };
        write.execute(conn).await?;
        Ok(())
    }
}

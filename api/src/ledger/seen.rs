//! What was recorded after seeing something does not sort before it, however slow the clock of the one who recorded it.

use std::collections::HashMap;

use chrono::{DateTime, TimeDelta, Utc};
use diesel::sql_types::{Array, BigInt, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use uuid::Uuid;

use super::clocks::{AHEAD_MAX, HappenedSrc, OFF_BY_MAX};
use super::sql::statement;
use super::steps::Steps;
use super::tally::Timed;
use super::turn::Turn;

statement! {
    /// When some numbers of the ledger arrived.
    FindArrivals -> (BigInt, Timestamptz),
    "select seq, received_at from entry where operation_id = ",
    operation: Uuid as SqlUuid,
    " and seq = any(",
    seqs: [i64] as Array<BigInt>,
    ")",
}

statement! {
    /// The latest time off a clock that was seen of some things. Goes back from what was seen only as far as something
    /// can have arrived that happened later.
    FindSeen -> (BigInt, Timestamptz),
    "with recursive asked as (
        select * from unnest(",
    kinds: [&'a str] as Array<Text>,
    ", ",
    ids: [Uuid] as Array<SqlUuid>,
    ", ",
    saws: [i64] as Array<BigInt>,
    ", ",
    times: [DateTime<Utc>] as Array<Timestamptz>,
    ") with ordinality as a(kind, id, saw, at, n)
    ), back(n, kind, id, at, seq, effective_at, received_at, by_clock) as (
        select a.n, a.kind, a.id, a.at, f.* from asked a cross join lateral (
            select s.seq, e.effective_at, e.received_at, e.body::json ->> 'happened_src' = 'clock'
              from entry_subject s join entry e on e.operation_id = s.operation_id and e.seq = s.seq
             where s.operation_id = ",
    operation: Uuid as SqlUuid,
    " and s.kind = a.kind and s.subject_id = a.id and s.seq <= a.saw order by s.seq desc limit 1
        ) f where f.received_at > a.at - interval '10 minutes'
        union all
        select b.n, b.kind, b.id, b.at, f.* from back b cross join lateral (
            select s.seq, e.effective_at, e.received_at, e.body::json ->> 'happened_src' = 'clock'
              from entry_subject s join entry e on e.operation_id = s.operation_id and e.seq = s.seq
             where s.operation_id = $5 and s.kind = b.kind and s.subject_id = b.id and s.seq < b.seq
             order by s.seq desc limit 1
        ) f where f.received_at > b.at - interval '10 minutes'
    )
    select n, max(effective_at) from back where by_clock and effective_at >= at group by n",
}

/// Moves what was recorded after seeing something behind it.
///
/// # Errors
/// When the database refuses.
pub(super) async fn move_behind(
    conn: &mut AsyncPgConnection,
    turn: &Turn,
    timed: &mut [Timed<'_>],
) -> Result<(), diesel::result::Error> {
    let operation = turn.who.operation.uuid();
    let saw = |timed: &Timed<'_>| timed.new.saw.min(turn.last_seq);
    let by_clock = |timed: &Timed<'_>| timed.new.happened_src == HappenedSrc::Clock && saw(timed) > 0;
    let mut saws: Vec<i64> = timed.iter().filter(|timed| by_clock(timed)).map(saw).collect();
    saws.sort_unstable();
    saws.dedup();
    if saws.is_empty() {
        return Ok(());
    }
    let question = FindArrivals {
        operation: &operation,
        seqs: &saws,
    };
    Steps::asked_besides("times", 1);
    let arrived: HashMap<i64, DateTime<Utc>> = question.load::<(i64, _)>(conn).await?.into_iter().collect();
    let (mut kinds, mut ids, mut seen, mut times, mut whose) =
        (Vec::new(), Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for (at, timed) in timed.iter().enumerate().filter(|(_, timed)| by_clock(timed)) {
        // Nothing that had arrived by then can have happened so late.
        let late = arrived
            .get(&saw(timed))
            .is_some_and(|arrived| timed.at >= *arrived + AHEAD_MAX);
        let Ok(entry) = &timed.new.content else { continue };
        for subject in entry.touches().into_iter().filter(|_| !late) {
            kinds.push(subject.kind.name());
            ids.push(subject.id);
            seen.push(saw(timed));
            times.push(timed.at);
            whose.push(at);
        }
    }
    if kinds.is_empty() {
        return Ok(());
    }
    let question = FindSeen {
        kinds: &kinds,
        ids: &ids,
        saws: &seen,
        times: &times,
        operation: &operation,
    };
    Steps::asked_besides("times", 1);
    let found: Vec<(i64, DateTime<Utc>)> = question.load(conn).await?;
    for (n, seen) in found {
        let of = usize::try_from(n - 1).ok().and_then(|n| whose.get(n)).copied();
        let Some(timed) = of.and_then(|at| timed.get_mut(at)) else {
            continue;
        };
        let next = seen + TimeDelta::microseconds(1);
        if next > timed.at {
            timed.suspect |= next - timed.at > OFF_BY_MAX;
            timed.at = next;
        }
    }
    Ok(())
}

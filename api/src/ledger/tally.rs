//! What the times of a push become once a device's own count and what its bearer had seen are taken into account.
//!
//! Within a device, times read off its clock follow its count; what was recorded after seeing something does not sort
//! before it. A time that is typed in is taken as told. All of it is decided once, when the entry is accepted.

use std::collections::{BTreeMap, HashMap, HashSet};

use chrono::{DateTime, TimeDelta, Utc};
use diesel::sql_types::{Array, BigInt, Bool, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use uuid::Uuid;

use super::clocks::{Clocks, HappenedSrc, OFF_BY_MAX};
use super::new_entry::NewEntry;
use super::seen;
use super::sql::statement;
use super::steps::Steps;
use super::turn::Turn;

statement! {
    /// What is known of a device, which of these numbers have arrived, and whether something is to be erased.
    FindTally -> (BigInt, Timestamptz, Bool, Array<BigInt>, Timestamptz, Bool),
    "select coalesce(t.newest, 0), coalesce(t.newest_at, 'epoch'), coalesce(t.cloned, false),
            array(select n from unnest(",
    counters: [i64] as Array<BigInt>,
    ") n where t.counted @> n), l.began_at,
            exists (select from erasure r where r.operation_id = l.operation_id and not r.done)
       from operation_ledger l
       left join device_tally t on t.operation_id = l.operation_id and t.device_id = ",
    device: Uuid as SqlUuid,
    " where l.operation_id = ",
    operation: Uuid as SqlUuid,
    "",
}

statement! {
    /// The entries of a device from the time off its clock before one number to that after another: number, ledger's
    /// number, time, whether off its clock.
    FindAround -> (BigInt, BigInt, Timestamptz, Bool),
    "select device_counter, seq, effective_at, body::json ->> 'happened_src' = 'clock' from entry
      where operation_id = ",
    operation: Uuid as SqlUuid,
    " and device_id = ",
    device: Uuid as SqlUuid,
    " and body::json ->> 'device_counter' is not null
        and device_counter >= coalesce((
            select e.device_counter from entry e
             where e.operation_id = $1 and e.device_id = $2 and e.device_counter < ",
    first: i64 as BigInt,
    " and e.body::json ->> 'happened_src' = 'clock' and e.body::json ->> 'device_counter' is not null
             order by e.device_counter desc limit 1), $3)
        and device_counter <= coalesce((
            select e.device_counter from entry e
             where e.operation_id = $1 and e.device_id = $2 and e.device_counter > ",
    last: i64 as BigInt,
    " and e.body::json ->> 'happened_src' = 'clock' and e.body::json ->> 'device_counter' is not null
             order by e.device_counter limit 1), $4)
      order by device_counter, seq",
}

statement! {
    /// Notes which numbers of a device have arrived.
    KeepTally -> BigInt,
    "insert into device_tally as t (operation_id, device_id, counted, newest, newest_at, cloned) select ",
    operation: Uuid as SqlUuid,
    ", ",
    device: Uuid as SqlUuid,
    ", (select range_agg(int8range(n, n, '[]')) from unnest(",
    counters: [i64] as Array<BigInt>,
    ") n), ",
    newest: i64 as BigInt,
    ", ",
    newest_at: DateTime<Utc> as Timestamptz,
    ", ",
    cloned: bool as Bool,
    " on conflict on constraint device_tally_pkey do update
        set counted = t.counted + excluded.counted, cloned = t.cloned or excluded.cloned,
            newest_at = case when excluded.newest > t.newest then excluded.newest_at else t.newest_at end,
            newest = greatest(t.newest, excluded.newest)",
}

statement! {
    /// Notes what is doubtful.
    KeepDoubts -> BigInt,
    "insert into entry_doubt (operation_id, seq, code, other_seq) select ",
    operation: Uuid as SqlUuid,
    ", * from unnest(",
    seqs: [i64] as Array<BigInt>,
    ", ",
    codes: [&'a str] as Array<Text>,
    ", ",
    others: [Option<i64>] as Array<Nullable<BigInt>>,
    ") on conflict do nothing",
}

/// A time off a clock may lie so long before the business began here without being doubted: phones are handed out
/// before somebody founds it, and a season is entered from paper.
const EARLY: TimeDelta = TimeDelta::days(2 * 366);
/// A clock that shows a time so long before was reset to where clocks of its kind begin.
const RESET: TimeDelta = TimeDelta::days(5 * 366);

/// What is doubtful about an entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Doubt {
    ClockSuspect,
    /// The device's number came before, with another entry.
    Cloned {
        other_seq: Option<i64>,
    },
}

/// The times of a push.
#[derive(Debug, Default)]
pub(super) struct Times {
    at: HashMap<Uuid, DateTime<Utc>>,
    doubts: Vec<(Uuid, Doubt)>,
    counters: Vec<i64>,
    newest: Option<(i64, DateTime<Utc>)>,
    cloned: bool,
    /// Whether something that arrives may have to be erased.
    pub(super) erasing: bool,
}

/// One entry on its way to a time.
pub(super) struct Timed<'a> {
    pub(super) new: &'a NewEntry,
    pub(super) at: DateTime<Utc>,
    pub(super) suspect: bool,
}

/// What is known of a device; see [`FindTally`].
pub(super) type Tally = (i64, DateTime<Utc>, bool, Vec<i64>, DateTime<Utc>, bool);

/// Asks what is known of the device before these entries.
///
/// # Errors
/// When the database refuses.
pub(super) async fn ask(
    mut conn: &AsyncPgConnection,
    turn: &Turn,
    entries: &[&NewEntry],
) -> Result<Tally, diesel::result::Error> {
    let counters: Vec<i64> = entries.iter().filter_map(|new| new.device_counter).collect();
    let question = FindTally {
        counters: &counters,
        device: &turn.who.device.uuid(),
        operation: &turn.who.operation.uuid(),
    };
    question.get_result(&mut conn).await
}

impl Times {
    /// Works out when each new entry happened.
    ///
    /// # Errors
    /// When the database refuses.
    pub(super) async fn work_out(
        conn: &mut AsyncPgConnection,
        turn: &Turn,
        entries: &[&NewEntry],
        (sent_at, tally): (Option<DateTime<Utc>>, Tally),
    ) -> Result<Self, diesel::result::Error> {
        let clocks = Clocks::new(turn.received_at, sent_at);
        let mut timed: Vec<Timed<'_>> = entries
            .iter()
            .map(|new| {
                let (at, suspect) = clocks.read(new.happened_at, new.happened_src);
                Timed { new, at, suspect }
            })
            .collect();
        seen::move_behind(conn, turn, &mut timed).await?;
        let mut times = Self::default();
        times.follow_the_count(conn, turn, &mut timed, tally).await?;
        for timed in timed {
            times.at.insert(timed.new.id, timed.at);
            if timed.suspect {
                times.doubts.push((timed.new.id, Doubt::ClockSuspect));
            }
        }
        Ok(times)
    }

    /// When an entry happened.
    pub(super) fn of(&self, new: &NewEntry) -> DateTime<Utc> {
        self.at.get(&new.id).copied().unwrap_or(new.happened_at)
    }

    async fn follow_the_count(
        &mut self,
        conn: &mut AsyncPgConnection,
        turn: &Turn,
        timed: &mut [Timed<'_>],
        (newest, newest_at, cloned, mut already, began, erasing): Tally,
    ) -> Result<(), diesel::result::Error> {
        self.erasing = erasing;
        let counters: Vec<i64> = timed.iter().filter_map(|timed| timed.new.device_counter).collect();
        let (Some(first), Some(last)) = (counters.iter().min().copied(), counters.iter().max().copied()) else {
            return Ok(());
        };
        let (operation, device) = (turn.who.operation.uuid(), turn.who.device.uuid());
        self.cloned = cloned;
        // Numbers of entries that are in the ledger already, and sent again, say nothing.
        already.retain(|counter| counters.contains(counter));
        let mut around = Around::default();
        if newest > 0 {
            around.clocked.insert(newest, newest_at);
        }
        if first <= newest || !already.is_empty() {
            let question = FindAround {
                operation: &operation,
                device: &device,
                first: &first,
                last: &last,
            };
            Steps::asked_besides("times", 1);
            let rows: Vec<(i64, i64, DateTime<Utc>, bool)> = question.load(conn).await?;
            for (counter, seq, at, by_clock) in rows {
                around.seqs.entry(counter).or_insert(seq);
                if by_clock {
                    around.clocked.insert(counter, at);
                }
            }
        }
        let mut seen: HashSet<i64> = already.into_iter().collect();
        for timed in timed {
            let Some(counter) = timed.new.device_counter else {
                continue;
            };
            self.counters.push(counter);
            if !seen.insert(counter) {
                let other_seq = around.seqs.get(&counter).copied();
                self.doubts.push((timed.new.id, Doubt::Cloned { other_seq }));
                self.cloned = true;
            } else if timed.new.happened_src == HappenedSrc::Clock && !self.cloned {
                around.fit(timed, counter, (began, turn.received_at));
            }
        }
        self.newest = around.clocked.last_key_value().map(|(counter, at)| (*counter, *at));
        Ok(())
    }

    /// Keeps what was learnt of the device, once the entries have their numbers.
    ///
    /// # Errors
    /// When the database refuses.
    pub(super) async fn keep(
        &self,
        mut conn: &AsyncPgConnection,
        turn: &Turn,
        seqs: &HashMap<Uuid, i64>,
    ) -> Result<(), diesel::result::Error> {
        let operation = turn.who.operation.uuid();
        if !self.counters.is_empty() {
            count(conn, turn, &self.counters, (self.newest, self.cloned)).await?;
        }
        let doubts: Vec<(i64, Doubt)> = self
            .doubts
            .iter()
            .filter_map(|(id, doubt)| Some((*seqs.get(id)?, *doubt)))
            .collect();
        if doubts.is_empty() {
            return Ok(());
        }
        let word = |doubt: &Doubt| match doubt {
            Doubt::ClockSuspect => ("clock_suspect", None),
            Doubt::Cloned { other_seq } => ("device_cloned", *other_seq),
        };
        let statement = KeepDoubts {
            operation: &operation,
            seqs: &doubts.iter().map(|(seq, _)| *seq).collect::<Vec<_>>(),
            codes: &doubts.iter().map(|(_, doubt)| word(doubt).0).collect::<Vec<_>>(),
            others: &doubts.iter().map(|(_, doubt)| word(doubt).1).collect::<Vec<_>>(),
        };
        statement.execute(&mut conn).await?;
        Ok(())
    }
}

/// Notes numbers of a device as arrived, with the newest time off its clock if one is known.
///
/// # Errors
/// When the database refuses.
pub(super) async fn count(
    mut conn: &AsyncPgConnection,
    turn: &Turn,
    counters: &[i64],
    (newest, cloned): (Option<(i64, DateTime<Utc>)>, bool),
) -> Result<(), diesel::result::Error> {
    let (newest, newest_at) = newest.unwrap_or((0, DateTime::UNIX_EPOCH));
    let statement = KeepTally {
        operation: &turn.who.operation.uuid(),
        device: &turn.who.device.uuid(),
        counters,
        newest: &newest,
        newest_at: &newest_at,
        cloned: &cloned,
    };
    statement.execute(&mut conn).await?;
    Ok(())
}

/// What stands around the numbers of a push on the same device.
#[derive(Debug, Default)]
struct Around {
    /// Times off the clock, by the device's number.
    clocked: BTreeMap<i64, DateTime<Utc>>,
    seqs: HashMap<i64, i64>,
}

impl Around {
    /// Fits a time between those of the numbers before and after it.
    fn fit(&mut self, timed: &mut Timed<'_>, counter: i64, (began, now): (DateTime<Utc>, DateTime<Utc>)) {
        let before = self.clocked.range(..counter).next_back().map(|(_, at)| *at);
        let after = self.clocked.range(counter + 1..).next().map(|(_, at)| *at);
        let told = timed.at;
        // A clock that shows a year long before the business began was reset: only the count says when that was (CF-5).
        if told < began - RESET {
            timed.at = before.unwrap_or(now);
        }
        timed.at = timed.at.max(before.unwrap_or(timed.at));
        timed.at = timed.at.min(after.unwrap_or(timed.at));
        timed.suspect |= (timed.at - told).abs() > OFF_BY_MAX || told < began - EARLY;
        self.clocked.insert(counter, timed.at);
    }
}

//! First downloads as they are kept: parts that stay the same for a day, so that a phone may take one after the other.

use chrono::{DateTime, Utc};
use diesel::OptionalExtension;
use diesel::sql_types::{Array, BigInt, Binary, Integer, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use uuid::Uuid;

use crate::auth::{Right, Who};
use crate::ledger::sql::statement;

/// Who may read a download.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Audience {
    /// Everybody who reads: customers and deliveries are not in it.
    Everybody,
    /// Those who may read customers.
    Customers,
}

impl Audience {
    /// That of a caller.
    pub(crate) fn of(who: &Who) -> Self {
        if who.role.may(Right::ReadCustomers) {
            Self::Customers
        } else {
            Self::Everybody
        }
    }

    const fn word(self) -> &'static str {
        match self {
            Self::Everybody => "everybody",
            Self::Customers => "customers",
        }
    }
}

/// One part.
#[derive(Clone, Debug)]
pub(crate) struct Part {
    pub(crate) seq: i64,
    pub(crate) part: i32,
    pub(crate) made_at: DateTime<Utc>,
    pub(crate) cursor: String,
    pub(crate) states: i32,
    pub(crate) size: i32,
    pub(crate) sha256: Vec<u8>,
    /// Left empty where only the list is asked for.
    pub(crate) packed: Vec<u8>,
}

statement! {
    /// The parts of the newest download, without their bytes.
    Newest -> (BigInt, Integer, Timestamptz, Text, Integer, Integer, Binary),
    "select seq, part, made_at, cursor, states, size, sha256 from snapshot_part
      where operation_id = ",
    operation: Uuid as SqlUuid,
    " and audience = ",
    audience: &'a str as Text,
    " and made_at > now() - interval '20 hours' and seq = (
        select max(s.seq) from snapshot_part s where s.operation_id = $1 and s.audience = $2) order by part",
}

statement! {
    /// The bytes of a part.
    OnePart -> Binary,
    "select packed from snapshot_part where operation_id = ",
    operation: Uuid as SqlUuid,
    " and audience = ",
    audience: &'a str as Text,
    " and seq = ",
    seq: i64 as BigInt,
    " and part = ",
    part: i32 as Integer,
    "",
}

statement! {
    /// Drops what is a day old; what is younger may be on its way to somebody.
    Drop -> BigInt,
    "delete from snapshot_part where operation_id = ",
    operation: Uuid as SqlUuid,
    " and made_at < now() - interval '1 day'",
}

statement! {
    /// Keeps a download.
    Keep -> BigInt,
    "insert into snapshot_part (operation_id, audience, seq, made_at, cursor, part, states, size, sha256, packed) select ",
    operation: Uuid as SqlUuid,
    ", ",
    audience: &'a str as Text,
    ", ",
    seq: i64 as BigInt,
    ", ",
    made_at: DateTime<Utc> as Timestamptz,
    ", ",
    cursor: &'a str as Text,
    ", * from unnest(",
    parts: [i32] as Array<Integer>,
    ", ",
    states: [i32] as Array<Integer>,
    ", ",
    sizes: [i32] as Array<Integer>,
    ", ",
    hashes: [&'a [u8]] as Array<Binary>,
    ", ",
    bytes: [&'a [u8]] as Array<Binary>,
    ") on conflict do nothing",
}

/// The parts of the newest kept download, without their bytes.
pub(crate) async fn newest(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    audience: Audience,
) -> Result<Vec<Part>, diesel::result::Error> {
    type Read = (i64, i32, DateTime<Utc>, String, i32, i32, Vec<u8>);
    let question = Newest {
        operation: &operation,
        audience: &audience.word(),
    };
    let rows: Vec<Read> = question.load(conn).await?;
    let part = |(seq, part, made_at, cursor, states, size, sha256): Read| Part {
        seq,
        part,
        made_at,
        cursor,
        states,
        size,
        sha256,
        packed: Vec::new(),
    };
    Ok(rows.into_iter().map(part).collect())
}

/// The packed bytes of a part, if it is still kept.
pub(crate) async fn part(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    audience: Audience,
    (seq, part): (i64, i32),
) -> Result<Option<Vec<u8>>, diesel::result::Error> {
    let question = OnePart {
        operation: &operation,
        audience: &audience.word(),
        seq: &seq,
        part: &part,
    };
    question.get_result(conn).await.optional()
}

/// Keeps a download and drops those that are a day old.
pub(crate) async fn keep(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    audience: Audience,
    parts: &[Part],
) -> Result<(), diesel::result::Error> {
    Drop { operation: &operation }.execute(conn).await?;
    let Some(first) = parts.first() else { return Ok(()) };
    let statement = Keep {
        operation: &operation,
        audience: &audience.word(),
        seq: &first.seq,
        made_at: &first.made_at,
        cursor: &first.cursor.as_str(),
        parts: &parts.iter().map(|part| part.part).collect::<Vec<_>>(),
        states: &parts.iter().map(|part| part.states).collect::<Vec<_>>(),
        sizes: &parts.iter().map(|part| part.size).collect::<Vec<_>>(),
        hashes: &parts.iter().map(|part| &part.sha256[..]).collect::<Vec<_>>(),
        bytes: &parts.iter().map(|part| &part.packed[..]).collect::<Vec<_>>(),
    };
    statement.execute(conn).await?;
    Ok(())
}

//! What was refused, kept for somebody to look at: the newest thousand an operation.

use chrono::{DateTime, Utc};
use diesel::sql_types::{BigInt, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use uuid::Uuid;

use super::push::RefusedEntry;
use super::sql::{KeepLetters, TrimLetters, statement};
use super::tally;
use super::turn::Turn;
use crate::clock;

/// The most bytes that are kept of one.
const KEPT_MAX: usize = 64 * 1024;

/// Keeps what was refused.
pub(super) async fn keep(
    conn: &mut AsyncPgConnection,
    turn: &Turn,
    refused: &[&RefusedEntry],
) -> Result<(), diesel::result::Error> {
    if refused.is_empty() {
        return Ok(());
    }
    let ids: Vec<_> = refused.iter().map(|_| clock::new_id()).collect();
    let reasons: Vec<&str> = refused.iter().map(|refused| refused.reason).collect();
    let bytes: Vec<&str> = refused.iter().map(|refused| cut(&refused.sent)).collect();
    let operation = turn.who.operation.uuid();
    let letters = KeepLetters {
        operation: &operation,
        device: &turn.who.device.uuid(),
        received_at: &turn.received_at,
        ids: &ids,
        reasons: &reasons,
        bytes: &bytes,
    };
    letters.execute(conn).await?;
    TrimLetters { operation: &operation }.execute(conn).await?;
    // What was refused has arrived, too: its number is no hole in the count of the device.
    let counters: Vec<i64> = refused.iter().filter_map(|refused| counter(&refused.sent)).collect();
    if !counters.is_empty() {
        tally::count(conn, turn, &counters, (None, false)).await?;
    }
    Ok(())
}

fn counter(sent: &str) -> Option<i64> {
    #[derive(serde::Deserialize)]
    struct OnlyCounter {
        device_counter: Option<i64>,
    }
    serde_json::from_str::<OnlyCounter>(sent)
        .ok()?
        .device_counter
        .filter(|counter| *counter >= 0)
}

statement! {
    /// What was refused, the newest first.
    FindLetters -> (SqlUuid, Timestamptz, SqlUuid, Text, Text),
    "select id, received_at, device_id, reason, bytes from dead_letter where operation_id = ",
    operation: Uuid as SqlUuid,
    " and (",
    before: Option<Uuid> as Nullable<SqlUuid>,
    "::uuid is null or id < $2) order by id desc limit ",
    limit: i64 as BigInt,
    "",
}

/// Something that was refused: id, when it arrived, the device, why, what was sent.
pub(crate) type Letter = (Uuid, DateTime<Utc>, Uuid, String, String);

/// What was refused, the newest first.
///
/// # Errors
/// When the database refuses.
pub(crate) async fn list(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    before: Option<Uuid>,
    limit: i64,
) -> Result<Vec<Letter>, diesel::result::Error> {
    let question = FindLetters {
        operation: &operation,
        before: &before,
        limit: &limit,
    };
    question.load(conn).await
}

fn cut(text: &str) -> &str {
    &text[..text.floor_char_boundary(KEPT_MAX)]
}

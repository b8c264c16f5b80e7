//! A push of a device: entries that read, entries that do not, and what becomes of each.

use chrono::{DateTime, Utc};
use diesel_async::{AsyncConnection, AsyncPgConnection};
use domain::ids::OperationId;
use uuid::Uuid;

use super::add::{Added, AppendRefused, add};
use super::cursor::Cursor;
use super::dead_letters;
use super::new_entry::{NewEntry, Quarantine};
use super::steps::Steps;
use super::turn::Turn;
use crate::auth::{Bearer, EnterRefused, Right};
use crate::failpoint;

/// A push as it was read, before the database knows of it.
#[derive(Debug)]
pub struct Received {
    /// The business the device believes to write for.
    pub operation: OperationId,
    /// When it was sent, by the device's clock.
    pub sent_at: DateTime<Utc>,
    /// Its entries, in its order.
    pub entries: Vec<Result<NewEntry, RefusedEntry>>,
}

/// An entry that is not taken in.
#[derive(Clone, Debug)]
pub struct RefusedEntry {
    /// Its id, if it has one.
    pub id: Option<Uuid>,
    /// Why, a fixed word.
    pub reason: &'static str,
    /// Which field, as a JSON pointer.
    pub pointer: Option<String>,
    /// In a sentence.
    pub detail: String,
    /// What was sent.
    pub sent: String,
}

/// What became of one entry.
#[derive(Clone, Debug)]
pub enum Outcome {
    /// It is in the ledger and counts.
    Stored {
        /// Its number.
        seq: i64,
    },
    /// It was in the ledger before.
    Duplicate {
        /// Its number.
        seq: i64,
    },
    /// It is in the ledger and does not count.
    Quarantined {
        /// Its number.
        seq: i64,
        /// Why.
        reason: Quarantine,
    },
    /// It is not in the ledger.
    Refused(RefusedEntry),
}

/// What became of a push.
#[derive(Debug)]
pub struct Pushed {
    /// Where a reader is who holds everything now.
    pub head: Cursor,
    /// One an entry, in order, with its id.
    pub outcomes: Vec<(Option<Uuid>, Outcome)>,
}

/// Why a whole push was not done.
#[derive(Debug, thiserror::Error)]
pub enum PushRefused {
    /// Not let in, or not let write.
    #[error(transparent)]
    Enter(#[from] EnterRefused),
    /// It was meant for another business.
    #[error("the push names another operation than the session's")]
    WrongOperation,
    /// It could not be added.
    #[error(transparent)]
    Append(#[from] AppendRefused),
    /// The database refused.
    #[error("the ledger could not be written")]
    Database(#[from] diesel::result::Error),
}

/// Takes in a push in one transaction.
///
/// # Errors
/// When the session, the role or the operation is wrong, or the database refuses. What is wrong with an entry is
/// said of that entry and stops no other.
pub async fn push(conn: &mut AsyncPgConnection, bearer: &Bearer, received: &Received) -> Result<Pushed, PushRefused> {
    let mut steps = Steps::begin();
    let pushed = conn
        .transaction(async |conn| {
            steps.done("begin", 1);
            let mut turn = Turn::begin(conn, bearer, Right::Push).await?;
            if turn.who.operation != received.operation {
                return Err(PushRefused::WrongOperation);
            }
            let pushed = push_for(conn, &mut turn, &received.entries, Some(received.sent_at)).await?;
            failpoint::reach("before-commit").await;
            steps = turn.steps;
            Ok(pushed)
        })
        .await?;
    steps.done("commit", 1);
    failpoint::reach("after-commit").await;
    Ok(pushed)
}

/// Adds what reads, keeps what does not, and says what became of each.
pub(super) async fn push_for(
    conn: &mut AsyncPgConnection,
    turn: &mut Turn,
    entries: &[Result<NewEntry, RefusedEntry>],
    sent_at: Option<DateTime<Utc>>,
) -> Result<Pushed, PushRefused> {
    let readable: Vec<&NewEntry> = entries.iter().flatten().collect();
    let added = add(turn, conn, &readable, sent_at).await?;
    let outcomes = outcomes(entries, added);
    let refused: Vec<&RefusedEntry> = outcomes
        .iter()
        .filter_map(|(_, outcome)| match outcome {
            Outcome::Refused(refused) => Some(refused),
            _ => None,
        })
        .collect();
    dead_letters::keep(conn, turn, &refused).await?;
    Ok(Pushed {
        head: turn.head(),
        outcomes,
    })
}

fn outcomes(entries: &[Result<NewEntry, RefusedEntry>], added: Vec<Added>) -> Vec<(Option<Uuid>, Outcome)> {
    let mut added = added.into_iter();
    let mut outcomes = Vec::with_capacity(entries.len());
    for entry in entries {
        let outcome = match entry {
            Err(refused) => (refused.id, Outcome::Refused(refused.clone())),
            Ok(new) => {
                let Some(added) = added.next() else { continue };
                (Some(new.id), outcome(new, added))
            }
        };
        outcomes.push(outcome);
    }
    outcomes
}

fn outcome(new: &NewEntry, added: Added) -> Outcome {
    match added {
        Added::New { seq, quarantine: None } => Outcome::Stored { seq },
        Added::New {
            seq,
            quarantine: Some(reason),
        } => Outcome::Quarantined { seq, reason },
        Added::Known { seq, same: true } => Outcome::Duplicate { seq },
        Added::Known { same: false, .. } => Outcome::Refused(RefusedEntry {
            id: Some(new.id),
            reason: "id_reused",
            pointer: Some("/id".to_owned()),
            detail: "this id belongs to another entry".to_owned(),
            sent: new.body.clone(),
        }),
    }
}

//! The turn to write: one transaction at a time an operation, so that numbers have no gaps and readers at the
//! head hold everything.

use chrono::{DateTime, Utc};
use diesel_async::{AsyncPgConnection, RunQueryDsl};

use super::cursor::Cursor;
use super::hash::Hash;
use super::sql::TakeTurn;
use crate::auth::{self, Bearer, EnterRefused, Right, Who};
use crate::clock;

/// The turn of one operation, held until the transaction ends.
#[derive(Debug)]
pub struct Turn {
    pub(super) who: Who,
    pub(super) last_seq: i64,
    pub(super) chain: Hash,
    pub(super) received_at: DateTime<Utc>,
}

impl Turn {
    /// Enters, checks a right, takes the turn and enters again, so that a revocation that committed meanwhile
    /// wins. This is how a writing call begins.
    ///
    /// # Errors
    /// When the session is over, the right is missing, or the turn was not given in time.
    pub async fn begin(conn: &mut AsyncPgConnection, bearer: &Bearer, right: Right) -> Result<Self, EnterRefused> {
        let who = auth::enter(conn, bearer).await?;
        who.may(right)?;
        let turn = Self::take(conn, &who).await?;
        let who = auth::enter(conn, bearer).await?;
        who.may(right)?;
        Ok(Self { who, ..turn })
    }

    /// Takes the turn of an operation that was entered. The caller enters again afterwards; [`Turn::begin`] does
    /// all of it.
    ///
    /// # Errors
    /// When the turn was not given in time.
    pub async fn take(conn: &mut AsyncPgConnection, who: &Who) -> Result<Self, diesel::result::Error> {
        let question = TakeTurn {
            operation: &who.operation.uuid(),
        };
        let (last_seq, chain, last): (i64, Vec<u8>, DateTime<Utc>) = question.get_result(conn).await?;
        let chain = Hash::try_from(chain)
            .map_err(|_| diesel::result::Error::DeserializationError("a chain of another length".into()))?;
        Ok(Self {
            who: *who,
            last_seq,
            chain,
            received_at: clock::now().max(last),
        })
    }

    /// Who writes.
    #[must_use]
    pub const fn who(&self) -> &Who {
        &self.who
    }

    /// The number of the newest entry.
    #[must_use]
    pub const fn last_seq(&self) -> i64 {
        self.last_seq
    }

    /// When what is written now arrived.
    #[must_use]
    pub const fn received_at(&self) -> DateTime<Utc> {
        self.received_at
    }

    /// Where a reader is who holds everything.
    #[must_use]
    pub fn head(&self) -> Cursor {
        Cursor::whole(self.last_seq, &self.chain)
    }
}

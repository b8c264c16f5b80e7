//! The turn to write: one transaction at a time an operation, so that numbers have no gaps and readers at the
//! head hold everything.

use chrono::{DateTime, Utc};
use diesel::OptionalExtension;
use diesel_async::{AsyncPgConnection, RunQueryDsl};

use super::cursor::Cursor;
use super::hash::Hash;
use super::sql::TakeTurn;
use super::steps::Steps;
use crate::auth::{Bearer, EnterRefused, EnterRow, Right, Who};
use crate::clock;

/// The turn of one operation, held until the transaction ends.
#[derive(Debug)]
pub struct Turn {
    pub(super) who: Who,
    pub(super) last_seq: i64,
    pub(super) chain: Hash,
    pub(super) received_at: DateTime<Utc>,
    pub(super) steps: Steps,
}

impl Turn {
    /// Enters, takes the turn, enters again, so that a revocation that committed meanwhile wins, and checks a right.
    /// This is how a writing call begins. Who has no right gives the turn back at once.
    ///
    /// # Errors
    /// When the session is over, the right is missing, or the turn was not given in time.
    pub async fn begin(conn: &mut AsyncPgConnection, bearer: &Bearer, right: Right) -> Result<Self, EnterRefused> {
        let mut steps = Steps::begin();
        type Taken = (EnterRow, Option<i64>, Option<Vec<u8>>, Option<DateTime<Utc>>);
        let question = TakeTurn {
            session: &bearer.session.uuid(),
            epoch: &bearer.epoch,
        };
        let taken: Option<Taken> = question.get_result(conn).await.optional()?;
        let (row, last_seq, chain, last) = taken.ok_or(EnterRefused::SessionOver)?;
        let who = bearer.entered(row)?;
        who.may(right)?;
        steps.done("turn", 1);
        let odd = || diesel::result::Error::DeserializationError("a ledger without a chain".into());
        let chain = chain.and_then(|chain| Hash::try_from(chain).ok()).ok_or_else(odd)?;
        Ok(Self {
            who,
            last_seq: last_seq.ok_or_else(odd)?,
            chain,
            received_at: clock::now().max(last.ok_or_else(odd)?),
            steps,
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

//! Those who want to write for one business queue here, in order, before they take a connection.
//!
//! The row lock decides whose turn it is, for every process. But who waits for it holds a connection meanwhile, and
//! handing it from one connection to the next takes longer than a small push. So of one process only one at a time
//! asks for it, and a business whose pushes are slow takes one connection from the others and no more.

use std::collections::HashMap;
use std::ops::{Deref, DerefMut};
use std::sync::{Arc, Mutex, PoisonError};

use domain::ids::{OperationId, SessionId};
use tokio::sync::OwnedMutexGuard;
use uuid::Uuid;

use crate::auth::Bearer;
use crate::database::{Conn, Database, DatabaseRefused, Share};

/// So many sessions are remembered; then all are forgotten and learnt anew.
const REMEMBERED: usize = 10_000;

/// The queue of one business.
pub type Lane = Arc<tokio::sync::Mutex<()>>;

/// Which session writes for which business, and the queue of each.
#[derive(Debug, Clone, Default)]
pub struct Lanes(Arc<Mutex<Known>>);

#[derive(Debug, Default)]
struct Known {
    of_session: HashMap<SessionId, Lane>,
    of_operation: HashMap<OperationId, Lane>,
}

impl Lanes {
    /// A connection to write with, once those who asked before have written. A session that never wrote has no lane:
    /// nobody knows yet for whom it writes, and a token is not asked that. It goes straight to the database, with
    /// others of the same claim in half of all connections at most. Who waits holds so many bytes.
    ///
    /// # Errors
    /// When too many wait, the wait was too long, or the database cannot be reached.
    pub async fn writer(
        &self,
        db: &Database,
        bearer: &Bearer,
        claimed: Uuid,
        holds: usize,
    ) -> Result<Writer, DatabaseRefused> {
        let lane = self.known(|known| known.of_session.get(&bearer.session).cloned());
        let share = match lane {
            Some(_) => None,
            None => Some(db.share(claimed).await?),
        };
        let (conn, turn) = db.connection_after(lane, holds).await?;
        Ok(Writer {
            conn,
            _turn: turn,
            _share: share,
            bearer: bearer.clone(),
            lanes: self.clone(),
        })
    }

    fn learn(&self, session: SessionId, operation: OperationId) {
        self.known(|known| {
            if known.of_session.len() >= REMEMBERED {
                *known = Known::default();
            }
            let lane = known.of_operation.entry(operation).or_default().clone();
            known.of_session.entry(session).or_insert(lane);
        });
    }

    fn known<T>(&self, of: impl FnOnce(&mut Known) -> T) -> T {
        of(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// A connection, and the place at the head of the queue until it is given back.
pub struct Writer {
    conn: Conn,
    _turn: Option<OwnedMutexGuard<()>>,
    _share: Option<Share>,
    bearer: Bearer,
    lanes: Lanes,
}

impl Deref for Writer {
    type Target = Conn;

    fn deref(&self) -> &Conn {
        &self.conn
    }
}

impl DerefMut for Writer {
    fn deref_mut(&mut self) -> &mut Conn {
        &mut self.conn
    }
}

impl Drop for Writer {
    /// Who was let in has told for which business.
    fn drop(&mut self) {
        if let Some(operation) = self.bearer.seen.get() {
            self.lanes.learn(self.bearer.session, *operation);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn operation(n: u128) -> OperationId {
        OperationId::from_uuid(Uuid::from_u128(n))
    }

    fn session(n: u128) -> SessionId {
        SessionId::from_uuid(Uuid::from_u128(n))
    }

    fn lane(lanes: &Lanes, session: SessionId) -> Option<Lane> {
        lanes.known(|known| known.of_session.get(&session).cloned())
    }

    #[test]
    fn sessions_of_one_business_share_a_lane_and_are_not_remembered_for_ever() {
        let (lanes, ours, theirs) = (Lanes::default(), operation(1), operation(2));
        for (n, operation) in [(1, ours), (2, ours), (3, theirs)] {
            lanes.learn(session(n), operation);
        }
        let [first, second, third] = [1, 2, 3].map(|n| lane(&lanes, session(n)).unwrap());
        assert!(Arc::ptr_eq(&first, &second));
        assert!(!Arc::ptr_eq(&first, &third));
        assert!(lane(&lanes, session(4)).is_none());
        for n in 10..(10 + REMEMBERED as u128) {
            lanes.learn(session(n), ours);
        }
        assert!(
            lane(&lanes, session(1)).is_none(),
            "forgotten, and learnt anew when it writes again"
        );
        lanes.learn(session(1), ours);
        assert!(lane(&lanes, session(1)).is_some());
    }
}

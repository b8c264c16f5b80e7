//! Who waits for news: woken at once by a commit of this process, within a second by one of another.
//!
//! Nothing is told inside the transaction of a push: notifications there would queue the commits of all businesses.

use std::collections::HashMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use diesel::sql_types::{Array, BigInt, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use tokio::sync::watch;
use uuid::Uuid;

use super::sql::statement;
use crate::database::Database;

/// How many may wait at once.
const SEATS: usize = 2_000;
/// How often the heads are looked up.
const LOOK: Duration = Duration::from_secs(1);

statement! {
    /// The heads of some ledgers.
    Heads -> (SqlUuid, BigInt),
    "select operation_id, last_seq from ledger_heads(",
    operations: [Uuid] as Array<SqlUuid>,
    ")",
}

/// Everybody who waits.
#[derive(Debug, Clone)]
pub struct Waiters(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    heads: Mutex<HashMap<Uuid, watch::Sender<i64>>>,
    taken: AtomicUsize,
    closing: watch::Sender<bool>,
}

/// A place to wait in; given back when dropped.
#[derive(Debug)]
pub struct Seat {
    all: Arc<Inner>,
    head: watch::Receiver<i64>,
    closing: watch::Receiver<bool>,
}

impl Default for Waiters {
    fn default() -> Self {
        Self(Arc::new(Inner {
            heads: Mutex::default(),
            taken: AtomicUsize::new(0),
            closing: watch::Sender::new(false),
        }))
    }
}

impl Waiters {
    /// A place to wait for news of an operation whose head was just seen; none if too many wait.
    #[must_use]
    pub fn sit(&self, operation: Uuid, head: i64) -> Option<Seat> {
        let taken = self.0.taken.fetch_add(1, Ordering::Relaxed);
        let mut heads = self.0.heads.lock().unwrap_or_else(PoisonError::into_inner);
        let mut receiver = heads
            .entry(operation)
            .or_insert_with(|| watch::Sender::new(head))
            .subscribe();
        if *receiver.borrow_and_update() != head {
            // Somebody told of a commit between the look and the sitting down.
            receiver.mark_changed();
        }
        let seat = Seat {
            all: self.0.clone(),
            head: receiver,
            closing: self.0.closing.subscribe(),
        };
        (taken < SEATS).then_some(seat)
    }

    /// How many wait now.
    #[must_use]
    pub fn count(&self) -> usize {
        AtomicUsize::load(&self.0.taken, Ordering::Relaxed)
    }

    /// Wakes who waits for this operation.
    pub fn tell(&self, operation: Uuid, head: i64) {
        let heads = self.0.heads.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(sender) = heads.get(&operation) {
            sender.send_if_modified(|known| std::mem::replace(known, head) != head);
        }
    }

    /// Sends everybody away, and whoever comes later.
    pub fn close(&self) {
        self.0.closing.send_replace(true);
    }

    /// Looks up the heads of those operations that somebody waits for, until the end.
    pub async fn follow(self, db: Database) {
        let mut closing = self.0.closing.subscribe();
        loop {
            tokio::select! {
                _ = closing.wait_for(|closing| *closing) => return,
                () = tokio::time::sleep(LOOK) => {}
            }
            let waited_for = self.waited_for();
            if waited_for.is_empty() {
                continue;
            }
            // A database that does not answer is told to whoever asks it next.
            let Ok(mut conn) = db.connection().await else { continue };
            let found = Heads {
                operations: &waited_for,
            }
            .load::<(Uuid, i64)>(&mut conn)
            .await;
            for (operation, head) in found.into_iter().flatten() {
                self.tell(operation, head);
            }
        }
    }

    fn waited_for(&self) -> Vec<Uuid> {
        let mut heads = self.0.heads.lock().unwrap_or_else(PoisonError::into_inner);
        heads.retain(|_, sender| sender.receiver_count() > 0);
        heads.keys().copied().collect()
    }
}

impl Seat {
    /// Waits for news, but not longer than this. Says whether the service ends.
    pub async fn wait(&mut self, at_most: Duration) -> bool {
        tokio::select! {
            _ = self.head.changed() => false,
            _ = self.closing.wait_for(|closing| *closing) => true,
            () = tokio::time::sleep(at_most) => false,
        }
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        self.all.taken.fetch_sub(1, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn who_waits_is_woken_once_a_number_or_at_the_end() {
        let (waiters, operation) = (Waiters::default(), Uuid::from_u128(1));
        let mut seat = waiters.sit(operation, 7).unwrap();
        waiters.tell(operation, 7);
        waiters.tell(Uuid::from_u128(2), 8);
        let long = Duration::from_secs(60);
        assert!(
            tokio::time::timeout(Duration::from_millis(20), seat.wait(long))
                .await
                .is_err()
        );
        waiters.tell(operation, 8);
        assert!(!seat.wait(long).await);
        let mut late = waiters.sit(operation, 7).unwrap();
        assert!(!late.wait(long).await, "what was told meanwhile is not slept through");
        waiters.close();
        assert!(seat.wait(long).await);
    }

    #[tokio::test]
    async fn seats_are_counted_and_given_back() {
        let waiters = Waiters::default();
        let seats: Vec<Seat> = (0..SEATS).filter_map(|_| waiters.sit(Uuid::nil(), 0)).collect();
        assert_eq!((seats.len(), waiters.count()), (SEATS, SEATS));
        assert!(waiters.sit(Uuid::nil(), 0).is_none());
        drop(seats);
        assert_eq!(waiters.count(), 0);
        assert!(waiters.sit(Uuid::nil(), 0).is_some());
    }
}

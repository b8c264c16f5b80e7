//! How many connections may wait for the turn of one business: half of them all, so that one whose turn is held by
//! somebody slow leaves the rest to the others.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use uuid::Uuid;

use super::{DatabaseRefused, QUEUE};

/// Who has a share, and who waits for one.
#[derive(Debug)]
pub(super) struct Shares {
    each: usize,
    within: Duration,
    by_business: Mutex<HashMap<Uuid, Arc<Semaphore>>>,
}

/// A share of the connections, given back when dropped.
#[derive(Debug)]
pub struct Share {
    _permit: OwnedSemaphorePermit,
}

impl Shares {
    /// Of so many connections; nobody waits longer than this.
    pub(super) fn of(connections: usize, within: Duration) -> Self {
        Self {
            each: (connections / 2).max(1),
            within,
            by_business: Mutex::default(),
        }
    }

    /// A share, as soon as one of this business is free.
    pub(super) async fn take(&self, business: Uuid) -> Result<Share, DatabaseRefused> {
        let permits = {
            let mut by_business = self.by_business.lock().unwrap_or_else(PoisonError::into_inner);
            by_business.retain(|_, permits| Arc::strong_count(permits) > 1);
            let permits = by_business
                .entry(business)
                .or_insert_with(|| Arc::new(Semaphore::new(self.each)));
            // One is the list's own; each who has a share or waits for one holds another.
            if Arc::strong_count(permits) > self.each + QUEUE {
                return Err(DatabaseRefused::Busy);
            }
            Arc::clone(permits)
        };
        match tokio::time::timeout(self.within, permits.acquire_owned()).await {
            Ok(Ok(permit)) => Ok(Share { _permit: permit }),
            _ => Err(DatabaseRefused::Busy),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::pin::pin;

    use futures_util::FutureExt;
    use futures_util::future::join_all;

    use super::*;

    const OURS: Uuid = Uuid::from_u128(1);
    const THEIRS: Uuid = Uuid::from_u128(2);

    #[tokio::test]
    async fn half_of_all_are_for_one_business_and_the_rest_for_others() {
        let shares = Shares::of(5, Duration::from_secs(60));
        let ours = (shares.take(OURS).await.unwrap(), shares.take(OURS).await.unwrap());
        assert!(shares.take(OURS).now_or_never().is_none(), "a third waits");
        shares.take(THEIRS).await.unwrap();
        drop(ours.0);
        shares.take(OURS).await.unwrap();
    }

    #[tokio::test]
    async fn who_waits_too_long_or_behind_too_many_is_sent_away() {
        let shares = Shares::of(1, Duration::from_millis(50));
        let held = shares.take(OURS).await.unwrap();
        let mut waiting = pin!(join_all((0..QUEUE).map(|_| shares.take(OURS))));
        assert!(waiting.as_mut().now_or_never().is_none(), "as many as may wait");
        let more = shares.take(OURS).now_or_never();
        assert!(matches!(more, Some(Err(DatabaseRefused::Busy))), "{more:?}");
        assert!(waiting.await.iter().all(Result::is_err), "and not for ever");
        drop(held);
        shares.take(OURS).await.unwrap();
    }

    #[tokio::test]
    async fn nobody_is_kept_in_the_list_who_has_gone() {
        let shares = Shares::of(4, Duration::from_secs(60));
        for number in 0..50 {
            shares.take(Uuid::from_u128(number)).await.unwrap();
        }
        assert_eq!(shares.by_business.lock().unwrap().len(), 1);
    }
}

//! How many large bodies a device may be sending at once. Whoever opens many connections and ends none of its bodies
//! takes no memory that others need; a phone whose signal broke off in the middle is never kept out by its own remains.

use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::Notify;
use uuid::Uuid;

/// From so many bytes on a body is large.
pub(super) const LARGE: usize = 16 * 1024;
/// So many at once: a push and a photo, and both again after a cut that nobody here has noticed yet.
const AT_ONCE: usize = 4;

/// Every large body that is on its way, by session, the oldest first.
#[derive(Debug, Clone, Default)]
pub(crate) struct LargeBodies(Arc<Mutex<HashMap<Uuid, VecDeque<Arc<Notify>>>>>);

/// A body's place among those; given back when dropped.
#[derive(Debug)]
pub(super) struct Place {
    all: LargeBodies,
    session: Uuid,
    given_up: Arc<Notify>,
}

impl LargeBodies {
    /// A place for one more. The oldest of the same session gives way where there are too many.
    pub(super) fn begin(&self, session: Uuid) -> Place {
        let given_up = Arc::new(Notify::new());
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let on_their_way = all.entry(session).or_default();
        on_their_way.push_back(Arc::clone(&given_up));
        if on_their_way.len() > AT_ONCE
            && let Some(oldest) = on_their_way.pop_front()
        {
            oldest.notify_one();
        }
        Place {
            all: self.clone(),
            session,
            given_up,
        }
    }
}

impl Place {
    /// Waits until a newer one needs the place.
    pub(super) async fn given_up(&self) {
        self.given_up.notified().await;
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut all = self.all.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(on_their_way) = all.get_mut(&self.session) {
            on_their_way.retain(|one| !Arc::ptr_eq(one, &self.given_up));
            if on_their_way.is_empty() {
                all.remove(&self.session);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use futures_util::FutureExt;

    use super::*;

    const OURS: Uuid = Uuid::from_u128(1);

    #[test]
    fn the_oldest_of_a_session_gives_way_and_no_other() {
        let all = LargeBodies::default();
        let others = all.begin(Uuid::from_u128(2));
        let places: Vec<Place> = (0..=AT_ONCE).map(|_| all.begin(OURS)).collect();
        let gave_way: Vec<bool> = places
            .iter()
            .map(|place| place.given_up().now_or_never().is_some())
            .collect();
        assert_eq!(gave_way.iter().filter(|gave_way| **gave_way).count(), 1);
        assert!(gave_way[0]);
        assert!(others.given_up().now_or_never().is_none());
    }

    #[test]
    fn a_place_that_is_given_back_is_free_and_nobody_stays_in_the_list() {
        let all = LargeBodies::default();
        for _ in 0..3 {
            let places: Vec<Place> = (0..AT_ONCE).map(|_| all.begin(OURS)).collect();
            assert!(places.iter().all(|place| place.given_up().now_or_never().is_none()));
        }
        assert!(all.0.lock().unwrap().is_empty());
    }
}

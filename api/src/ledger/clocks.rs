//! When something happened, after a wrong clock was set right. Decided once, when the entry is accepted.

use chrono::{DateTime, TimeDelta, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A device's clock may be off by this much without being corrected, and a time moved without being doubted.
pub(super) const OFF_BY_MAX: TimeDelta = TimeDelta::minutes(2);
/// Further ahead than this nothing can have happened.
pub(super) const AHEAD_MAX: TimeDelta = TimeDelta::minutes(10);
/// A clock that is off by more than this is doubtful, although it was set right.
const SUSPECT: TimeDelta = TimeDelta::minutes(10);

/// Where the time of an entry comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum HappenedSrc {
    /// The device read it off its clock.
    Clock,
    /// Somebody typed it in.
    Entered,
}

/// What is known of the clocks of one push.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Clocks {
    /// When the push arrived, by the server's clock.
    pub(crate) received_at: DateTime<Utc>,
    offset: Option<TimeDelta>,
}

impl Clocks {
    /// A push that arrived at `received_at` and was sent at `sent_at` by the device's clock; server-made entries
    /// have no such time.
    pub(crate) fn new(received_at: DateTime<Utc>, sent_at: Option<DateTime<Utc>>) -> Self {
        let offset = sent_at
            .map(|sent_at| received_at.signed_duration_since(sent_at))
            .filter(|offset| offset.abs() > OFF_BY_MAX);
        Self { received_at, offset }
    }

    /// When it happened, and whether that is doubtful.
    pub(crate) fn read(&self, happened_at: DateTime<Utc>, src: HappenedSrc) -> (DateTime<Utc>, bool) {
        let (told, off) = match (src, self.offset) {
            (HappenedSrc::Clock, Some(offset)) => match happened_at.checked_add_signed(offset) {
                Some(told) => (told, offset.abs() > SUSPECT),
                None => (happened_at, true),
            },
            _ => (happened_at, false),
        };
        if told.signed_duration_since(self.received_at) > AHEAD_MAX {
            (self.received_at, true)
        } else {
            (to_micros(told), off)
        }
    }
}

/// Cuts a time to what the database keeps, so that what is folded now and what is read back are the same.
pub(crate) fn to_micros(at: DateTime<Utc>) -> DateTime<Utc> {
    DateTime::from_timestamp_micros(at.timestamp_micros()).unwrap_or(at)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    impl Clocks {
        fn effective(&self, happened_at: DateTime<Utc>, src: HappenedSrc) -> DateTime<Utc> {
            self.read(happened_at, src).0
        }
    }

    #[test]
    fn a_clock_that_is_far_off_is_doubtful_and_a_typed_time_only_if_it_lies_ahead() {
        let now = at("2026-07-01T12:00:00Z");
        let clocks = Clocks::new(now, Some(at("2029-07-01T12:00:00Z")));
        let told = at("2029-07-01T11:00:00Z");
        assert_eq!(
            clocks.read(told, HappenedSrc::Clock),
            (at("2026-07-01T11:00:00Z"), true)
        );
        assert_eq!(clocks.read(told, HappenedSrc::Entered), (now, true));
        let near = Clocks::new(now, Some(at("2026-07-01T11:55:00Z")));
        assert!(!near.read(at("2026-07-01T11:00:00Z"), HappenedSrc::Clock).1);
    }

    #[test]
    fn a_small_difference_is_left_alone() {
        let clocks = Clocks::new(at("2026-07-01T12:00:00Z"), Some(at("2026-07-01T11:58:00Z")));
        let told = at("2026-07-01T09:00:00Z");
        assert_eq!(clocks.effective(told, HappenedSrc::Clock), told);
    }

    #[test]
    fn a_clock_that_is_an_hour_behind_is_set_right_but_a_typed_time_is_not() {
        let clocks = Clocks::new(at("2026-07-01T12:00:00Z"), Some(at("2026-07-01T11:00:00Z")));
        let told = at("2026-07-01T09:00:00Z");
        assert_eq!(clocks.effective(told, HappenedSrc::Clock), at("2026-07-01T10:00:00Z"));
        assert_eq!(clocks.effective(told, HappenedSrc::Entered), told);
    }

    #[test]
    fn the_far_future_is_now() {
        let now = at("2026-07-01T12:00:00Z");
        let clocks = Clocks::new(now, Some(now));
        let near = at("2026-07-01T12:10:00Z");
        assert_eq!(clocks.effective(near, HappenedSrc::Clock), near);
        assert_eq!(clocks.effective(at("2026-07-01T12:10:01Z"), HappenedSrc::Entered), now);
        assert_eq!(clocks.effective(at("9999-01-01T00:00:00Z"), HappenedSrc::Clock), now);
    }

    #[test]
    fn a_phone_whose_clock_fell_back_to_1970_is_set_right() {
        let clocks = Clocks::new(at("2026-07-01T12:00:00Z"), Some(at("1970-01-01T05:00:00Z")));
        let told = clocks.effective(at("1970-01-01T04:30:00Z"), HappenedSrc::Clock);
        assert_eq!(told, at("2026-07-01T11:30:00Z"));
    }

    #[test]
    fn times_are_cut_to_microseconds() {
        let now = at("2026-07-01T12:00:00Z");
        let told = Clocks::new(now, None).effective(at("2026-07-01T11:00:00.123456789Z"), HappenedSrc::Entered);
        assert_eq!(told, at("2026-07-01T11:00:00.123456Z"));
    }
}

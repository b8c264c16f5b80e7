//! A furnished house, honey on its way into jars, and what of it is held.

use std::collections::BTreeSet;

use chrono::{DateTime, TimeDelta, Utc};
use domain::house::House;
use domain::ids::EntryId;
use domain::subject::Subject;
use domain::trace::holds_on;

use super::care::label;
use super::entries::{bottled, drawn, lot, new_hive, new_super, new_yard, pulled, ran, read, received, uncapped};
use super::{Book, at};

/// A day of June 2025 at an hour, in UTC; the wall is one hour ahead.
pub fn june(day: u32, hour: u32) -> DateTime<Utc> {
    at(&format!("2025-06-{day:02}T{hour:02}:00:00Z"))
}

pub fn autumn() -> DateTime<Utc> {
    at("2025-10-01T10:00:00Z")
}

/// Two yards, six hives (1 to 3 in the first, 4 to 6 in the second), ten supers, a medicine with ten days of wait.
pub fn furnished() -> Book {
    let mut book = Book::default();
    let begin = at("2025-01-10T10:00:00Z");
    book.tell(0, begin, new_yard(1, "first"));
    book.tell(0, begin, new_yard(2, "second"));
    for number in 1..=6 {
        book.tell(0, begin, new_hive(number, 1 + (number - 1) / 3, &format!("H{number}")));
    }
    for number in 1..=10 {
        book.tell(0, begin, new_super(number));
    }
    book.tell(0, begin, label(1, 10, false));
    book
}

pub fn held(house: &House, subject: impl Into<Subject>, now: DateTime<Utc>) -> BTreeSet<EntryId> {
    let held = holds_on(house, subject.into(), now);
    held.into_iter().map(|held| held.hold_id).collect()
}

/// A super is pulled, spun, run into a fill, drawn into a lot and jarred, all by the same number.
pub fn to_jars(book: &mut Book, number: u32, from: DateTime<Utc>) {
    let hours = |hours| from + TimeDelta::hours(hours);
    book.tell(0, from, pulled(number, None));
    book.tell(0, hours(1), received(number, Some(20_000)));
    book.tell(0, hours(2), uncapped(number, number));
    book.tell(0, hours(3), ran(number, number, 10_000));
    book.tell(0, hours(4), drawn(number, number, 10_000));
    book.tell(0, hours(5), read(lot(number), 1_700));
    book.tell(0, hours(6), bottled(number, number, 10));
}

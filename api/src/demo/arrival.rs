//! When the phones have signal: most Sundays, but for weeks in which Ilse or Tobiah has none. What they wrote then
//! arrives late and from the end of their queue.

use chrono::{DateTime, Datelike, NaiveDate, TimeDelta, Utc};

use super::diary::{Person, Told, at, day};

/// A phone sends what its bearer wrote since the last time, and learns what the others sent.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sync {
    pub(super) person: Person,
    pub(super) at: DateTime<Utc>,
    /// The queue is long and is sent from its end.
    pub(super) newest_first: bool,
}

/// Month and day.
type Date = (u32, u32);

/// Weeks without signal in every year: who, from and until.
const WITHOUT_SIGNAL: [(Person, Date, Date); 3] = [
    (Person::Ilse, (5, 20), (6, 8)),
    (Person::Tobiah, (7, 8), (7, 20)),
    (Person::Ilse, (7, 29), (8, 10)),
];

const EVERYBODY: [Person; 4] = [Person::Maren, Person::Rook, Person::Tobiah, Person::Ilse];

/// The whole calendar from a first spring on. In the first weeks everybody is at home and sees what the others wrote. Who
/// ends a hold asks the others for what they wrote before, and looks at it.
pub(super) fn syncs<'a>(first: i32, until: DateTime<Utc>, hold_ends: impl Iterator<Item = &'a Told>) -> Vec<Sync> {
    let begins = day(first, (3, 31));
    let mut syncs: Vec<Sync> = EVERYBODY
        .into_iter()
        .map(|person| Sync {
            person,
            at: at(begins, 21, 0),
            newest_first: false,
        })
        .collect();
    let sundays = begins
        .iter_days()
        .skip(1)
        .filter(|on| on.weekday() == chrono::Weekday::Sun)
        .take_while(|on| at(*on, 0, 0) <= until + TimeDelta::days(7));
    for sunday in sundays {
        for (minute, person) in (0..).zip(EVERYBODY) {
            if !is_without(person, sunday) {
                syncs.push(Sync {
                    person,
                    at: at(sunday, 21, minute),
                    newest_first: is_without(person, sunday - TimeDelta::days(7)),
                });
            }
        }
    }
    syncs.extend(hold_ends.flat_map(looks_before));
    syncs.sort_by_key(|sync| sync.at);
    syncs
}

fn looks_before(end: &Told) -> impl Iterator<Item = Sync> {
    let (person, at) = (end.by, end.written_at);
    let others = EVERYBODY
        .into_iter()
        .filter(move |other| *other != person && !is_without(*other, at.date_naive()));
    (1..).zip(others.chain([person])).map(move |(minute, person)| Sync {
        person,
        at: at - TimeDelta::minutes(10 - minute),
        newest_first: false,
    })
}

fn is_without(person: Person, on: NaiveDate) -> bool {
    WITHOUT_SIGNAL
        .iter()
        .any(|(who, from, until)| *who == person && (day(on.year(), *from)..day(on.year(), *until)).contains(&on))
}

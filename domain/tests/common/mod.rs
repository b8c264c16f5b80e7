//! A small book of entries for tests: it numbers what is told, remembers what each device had seen, and folds.
//!
//! What belongs to one test only stands in that test. Every id is made up.
#![allow(dead_code, reason = "each test binary uses its own part of this file")]

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, TimeDelta, Utc};
use domain::entry::{Amended, Entry, Recorded, Voided};
use domain::house::House;
use domain::ids::{DeviceId, EntryId, MemberId};
use domain::state::State;
use domain::subject::Subject;
use domain::text::{Name, Text};
use domain::units::{Count, Grams};
use uuid::Uuid;

/// An id that says what it was made for: the kind in front, the number behind.
pub fn uuid(kind: u16, number: u32) -> Uuid {
    Uuid::from_u128((u128::from(kind) << 96) | u128::from(number))
}

/// An id of the type that is asked for. The kinds are kept apart by the types, so numbers may repeat.
macro_rules! id {
    ($name:ident, $number:expr) => {
        domain::ids::$name::from_uuid(common::uuid(common::kind_of(stringify!($name)), $number))
    };
}
#[allow(unused_imports, reason = "each test binary uses its own part of this file")]
pub(crate) use id;

/// A number for a kind of id: ids of different things never look alike.
pub fn kind_of(name: &str) -> u16 {
    name.bytes().fold(7_u16, |sum, byte| sum.wrapping_mul(31).wrapping_add(u16::from(byte)))
}

pub fn name(words: &str) -> Name {
    Name::new(words).unwrap()
}

pub fn text(words: &str) -> Text {
    Text::new(words).unwrap()
}

pub fn g(grams: i64) -> Grams {
    Grams::new(grams).unwrap()
}

pub fn count(number: i64) -> Count {
    Count::new(number).unwrap()
}

/// A time as people write it: `at("2025-07-12T10:05:00Z")`.
pub fn at(time: &str) -> DateTime<Utc> {
    time.parse().unwrap()
}

/// Minutes after the morning of the day on which most tests play.
pub fn minute(minutes: i64) -> DateTime<Utc> {
    at("2025-07-12T06:00:00Z") + TimeDelta::minutes(minutes)
}

/// All that was told, in the order in which the ledger got it.
#[derive(Clone, Debug, Default)]
pub struct Book {
    pub entries: Vec<Recorded>,
    counters: BTreeMap<u8, i64>,
    made: u32,
}

impl Book {
    /// An entry whose maker knew everything that is in the book.
    pub fn tell(&mut self, device: u8, when: DateTime<Utc>, entry: impl Into<Entry>) -> EntryId {
        let saw = self.newest();
        self.tell_having_seen(device, saw, when, entry)
    }

    /// An entry whose maker knew the book up to a number, and what was made on the same device.
    pub fn tell_having_seen(
        &mut self,
        device: u8,
        saw: i64,
        when: DateTime<Utc>,
        entry: impl Into<Entry>,
    ) -> EntryId {
        let counter = self.counters.entry(device).or_default();
        *counter += 1;
        self.made += 1;
        let id = EntryId::from_uuid(uuid(0xE000, self.made));
        self.entries.push(Recorded {
            id,
            seq: i64::from(self.made),
            device: DeviceId::from_uuid(uuid(0xD000, u32::from(device))),
            author: MemberId::from_uuid(uuid(0xA000, u32::from(device))),
            device_counter: *counter,
            saw,
            effective_at: when,
            utc_offset_min: 60,
            entry: entry.into(),
        });
        id
    }

    /// The number of the newest entry.
    pub fn newest(&self) -> i64 {
        i64::from(self.made)
    }

    /// All entries the ledger hands to the fold of a thing: those that touch it, and with each of them everything
    /// that corrects it or is corrected by it.
    pub fn about(&self, subject: Subject) -> Vec<Recorded> {
        let group = self.groups();
        let touched: BTreeSet<EntryId> = self
            .entries
            .iter()
            .filter(|told| told.entry.touches().contains(&subject))
            .map(|told| group[&told.id])
            .collect();
        self.entries.iter().filter(|told| touched.contains(&group[&told.id])).cloned().collect()
    }

    /// The first entry of the corrections that belong together, by entry.
    fn groups(&self) -> BTreeMap<EntryId, EntryId> {
        let mut group: BTreeMap<EntryId, EntryId> = self.entries.iter().map(|told| (told.id, told.id)).collect();
        loop {
            let mut changed = false;
            for told in &self.entries {
                let Some(target) = told.entry.corrects() else { continue };
                let of_target = group.get(&target).copied().unwrap_or(target);
                let least = group[&told.id].min(of_target);
                for id in [told.id, target] {
                    changed |= group.insert(id, least) != Some(least);
                }
            }
            if !changed {
                return group;
            }
        }
    }

    pub fn state(&self, subject: impl Into<Subject>) -> State {
        let subject = subject.into();
        State::fold(subject, &self.about(subject))
    }

    pub fn subjects(&self) -> BTreeSet<Subject> {
        self.entries.iter().flat_map(|told| told.entry.touches()).collect()
    }

    /// Everything that anybody told of, folded.
    pub fn house(&self) -> House {
        let mut house = House::default();
        for subject in self.subjects() {
            house.insert(subject, self.state(subject));
        }
        house
    }
}

/// Says that an entry should have told something else.
pub fn amend(entry_id: EntryId, instead: impl Into<Entry>) -> Entry {
    let instead = instead.into();
    Entry::Amended(Amended { entry_id, kind: instead.kind().to_owned(), v: 1, instead: Box::new(instead), reason: None })
}

/// Says that an entry did not happen.
pub fn void(entry_id: EntryId) -> Entry {
    Entry::Voided(Voided { entry_id, reason: text("written on the wrong box") })
}

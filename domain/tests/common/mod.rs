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

pub mod asking;
pub mod care;
pub mod farm;
pub mod held;
pub mod histories;

/// An id that says what it was made for: the kind in front, the number behind.
pub fn uuid(kind: u16, number: u32) -> Uuid {
    Uuid::from_u128((u128::from(kind) << 96) | u128::from(number))
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
    pub fn tell_having_seen(&mut self, device: u8, saw: i64, when: DateTime<Utc>, entry: impl Into<Entry>) -> EntryId {
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

    /// The book with these things told beside each other by people who knew the book and nothing of each other: once
    /// for every order in which they can arrive. Device, minute, what. The first of them has the next number as its
    /// id, whenever it arrives.
    pub fn in_every_order(&self, beside: &[(u8, i64, Entry)]) -> Vec<Self> {
        assert!(
            (2..=6).contains(&beside.len()),
            "two to six things, else there are too many orders"
        );
        let mut books = Vec::new();
        permute(&mut (0..beside.len()).collect::<Vec<_>>(), 0, &mut |order| {
            books.push(self.arriving(beside, order));
        });
        books
    }

    /// The same in one order.
    pub fn arriving(&self, beside: &[(u8, i64, Entry)], order: &[usize]) -> Self {
        let mut book = self.clone();
        let saw = self.newest();
        for index in order {
            let (device, minutes, entry) = &beside[*index];
            let earlier = beside[..*index].iter().filter(|(other, ..)| other == device).count();
            let counter = self.counters.get(device).copied().unwrap_or_default() + 1 + i64::try_from(earlier).unwrap();
            book.made += 1;
            book.entries.push(Recorded {
                id: self.next_id(*index),
                seq: i64::from(book.made),
                device: DeviceId::from_uuid(uuid(0xD000, u32::from(*device))),
                author: MemberId::from_uuid(uuid(0xA000, u32::from(*device))),
                device_counter: counter,
                saw,
                effective_at: minute(*minutes),
                utc_offset_min: 60,
                entry: entry.clone(),
            });
            let newest = book.counters.entry(*device).or_default();
            *newest = (*newest).max(counter);
        }
        book
    }

    /// The id of what is told next, or so many later.
    pub fn next_id(&self, later: usize) -> EntryId {
        EntryId::from_uuid(uuid(0xE000, self.made + 1 + u32::try_from(later).unwrap()))
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
        self.entries
            .iter()
            .filter(|told| touched.contains(&group[&told.id]))
            .cloned()
            .collect()
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

/// Every order of some numbers.
fn permute(of: &mut Vec<usize>, from: usize, each: &mut impl FnMut(&[usize])) {
    if from + 1 >= of.len() {
        each(of);
        return;
    }
    for at in from..of.len() {
        of.swap(from, at);
        permute(of, from + 1, each);
        of.swap(from, at);
    }
}

/// Says that an entry should have told something else.
pub fn amend(entry_id: EntryId, instead: impl Into<Entry>) -> Entry {
    let instead = instead.into();
    Entry::Amended(Amended {
        entry_id,
        kind: instead.kind().to_owned(),
        v: 1,
        instead: Box::new(instead),
        reason: None,
    })
}

/// Says that an entry did not happen.
pub fn void(entry_id: EntryId) -> Entry {
    Entry::Voided(Voided {
        entry_id,
        reason: text("written on the wrong box"),
    })
}

/// A super spun, filled, drawn and put into jars.
pub fn harvest(book: &mut Book, of: u32) {
    use entries::{bottled, drawn, pulled, ran, received, uncapped, wet};
    book.tell(1, minute(5_000), pulled(of, None));
    book.tell(1, minute(5_100), received(of, Some(21_000)));
    book.tell(1, minute(5_200), uncapped(of, 1));
    book.tell(1, minute(5_300), wet(of, 1, 8_000));
    book.tell(1, minute(5_400), ran(1, 1, 12_500));
    book.tell(1, minute(5_500), drawn(5, 1, 12_500));
    book.tell(1, minute(5_600), bottled(1, 5, 12));
}

/// Entries as short as tests need them; numbers stand for things.
pub mod entries {
    use domain::allocation::BoxClass;
    use domain::batch::Bottled;
    use domain::common::{HoldLifted, HoldReason, HoldSet};
    use domain::delivery::{Delivered, Goods, Line};
    use domain::entry::Entry;
    use domain::extraction::{SuperUncapped, WetWeighed};
    use domain::fill::{ContainerFilled, FillSource, Part};
    use domain::hive::HiveRegistered;
    use domain::honey_super::{SuperMoved, SuperPlaced, SuperPulled, SuperReceived, SuperRegistered};
    use domain::ids::{BatchId, CustomerId, DeliveryId, EntryId, FillId, HiveId, LotId, RunId, SuperId, YardId};
    use domain::lot::{Blended, HoneyDrawn, LotReleased};
    use domain::lot_code::LotCode;
    use domain::moisture::{MoistureRead, Shown};
    use domain::subject::Subject;
    use domain::units::{FrameCount, Moisture};
    use domain::yard::YardRegistered;

    use super::{count, g, name, text, uuid};

    pub fn yard(number: u32) -> YardId {
        YardId::from_uuid(uuid(1, number))
    }
    pub fn hive(number: u32) -> HiveId {
        HiveId::from_uuid(uuid(2, number))
    }
    pub fn honey_super(number: u32) -> SuperId {
        SuperId::from_uuid(uuid(3, number))
    }
    pub fn run(number: u32) -> RunId {
        RunId::from_uuid(uuid(4, number))
    }
    pub fn fill(number: u32) -> FillId {
        FillId::from_uuid(uuid(5, number))
    }
    pub fn lot(number: u32) -> LotId {
        LotId::from_uuid(uuid(6, number))
    }
    pub fn batch(number: u32) -> BatchId {
        BatchId::from_uuid(uuid(7, number))
    }
    pub fn delivery(number: u32) -> DeliveryId {
        DeliveryId::from_uuid(uuid(8, number))
    }
    pub fn customer(number: u32) -> CustomerId {
        CustomerId::from_uuid(uuid(9, number))
    }

    /// Lots have the even codes, batches the odd ones.
    pub fn code(number: u32) -> LotCode {
        LotCode::make(2025, None, number).unwrap()
    }

    pub fn new_yard(number: u32, called: &str) -> Entry {
        YardRegistered {
            yard_id: yard(number),
            name: name(called),
            code: None,
            ground: None,
            latitude_e5: None,
            longitude_e5: None,
        }
        .into()
    }
    pub fn new_hive(number: u32, in_yard: u32, painted: &str) -> Entry {
        HiveRegistered {
            hive_id: hive(number),
            yard_id: yard(in_yard),
            code: name(painted),
        }
        .into()
    }
    pub fn new_super(number: u32) -> Entry {
        SuperRegistered {
            super_id: honey_super(number),
            number: name(&format!("S{number:03}")),
            class: BoxClass::Medium,
            frames: FrameCount::constant(10),
            tare_g: None,
        }
        .into()
    }
    pub fn placed(number: u32, on: u32) -> Entry {
        SuperPlaced {
            super_id: honey_super(number),
            hive_id: hive(on),
            comb: None,
        }
        .into()
    }
    pub fn moved(number: u32, from: u32, to: u32) -> Entry {
        SuperMoved {
            super_id: honey_super(number),
            from_hive_id: hive(from),
            to_hive_id: hive(to),
        }
        .into()
    }
    pub fn pulled(number: u32, from: Option<u32>) -> Entry {
        SuperPulled {
            super_id: honey_super(number),
            hive_id: from.map(hive),
            fullness_quarters: None,
            full_frames: None,
            capped_percent: None,
            brood_seen: None,
        }
        .into()
    }
    pub fn received(number: u32, gross_g: Option<i64>) -> Entry {
        SuperReceived {
            super_id: honey_super(number),
            gross_g: gross_g.map(g),
            scale_id: None,
        }
        .into()
    }
    pub fn uncapped(number: u32, into: u32) -> Entry {
        SuperUncapped {
            run_id: run(into),
            super_id: honey_super(number),
            frames_set_aside: None,
            group: None,
        }
        .into()
    }
    pub fn wet(number: u32, of: u32, gross_g: i64) -> Entry {
        WetWeighed {
            run_id: run(of),
            super_id: honey_super(number),
            gross_g: g(gross_g),
            scale_id: None,
        }
        .into()
    }
    /// A pail of 1.2 kg with honey.
    pub fn filled(number: u32, source: FillSource, net_g: i64) -> Entry {
        ContainerFilled {
            fill_id: fill(number),
            source,
            gross_g: g(net_g + 1_200),
            tare_g: g(1_200),
            container_id: None,
            code: Some(name(&format!("F{number}"))),
            label_stuck: None,
            scale_id: None,
            group: None,
        }
        .into()
    }
    pub fn ran(number: u32, out_of: u32, net_g: i64) -> Entry {
        filled(number, FillSource::RunId(run(out_of)), net_g)
    }
    pub fn drawn(number: u32, from: u32, weight_g: i64) -> Entry {
        HoneyDrawn {
            lot_id: lot(number),
            code: code(2 * number + 2),
            fill_id: fill(from),
            weight_g: g(weight_g),
            claim: None,
        }
        .into()
    }
    pub fn blended(number: u32, of: &[(Subject, i64)]) -> Entry {
        let parts = of
            .iter()
            .map(|(from, grams)| Part {
                from: *from,
                weight_g: g(*grams),
            })
            .collect();
        Blended {
            lot_id: lot(number),
            code: code(2 * number + 2),
            parts,
            claim: None,
        }
        .into()
    }
    pub fn read(of: impl Into<Subject>, hundredths: i64) -> Entry {
        shown(of, Shown::MoistureHundredths(Moisture::new(hundredths).unwrap()))
    }
    pub fn shown(of: impl Into<Subject>, shown: Shown) -> Entry {
        MoistureRead {
            targets: vec![of.into()],
            shown,
            honey_tenths_c: None,
            meter_id: None,
            compensated: None,
            places: None,
        }
        .into()
    }
    pub fn released(number: u32) -> Entry {
        LotReleased {
            lot_id: lot(number),
            samples_kept: Some(count(2)),
            samples_place: Some(name("shelf 3")),
            tastes_right: Some(true),
            reason: None,
        }
        .into()
    }
    /// Jars of 500 g.
    pub fn bottled(number: u32, from: u32, jars: i64) -> Entry {
        Bottled {
            lot_id: lot(from),
            batch_id: batch(number),
            code: code(2 * number + 1),
            nominal_g: g(500),
            jars_good: count(jars),
            jars_broken: None,
            used_g: None,
            product: None,
            label_version: None,
        }
        .into()
    }
    pub fn delivered(number: u32, of: u32, jars: i64, to: Option<u32>) -> Entry {
        let goods = Goods::Jars {
            batch_id: batch(of),
            count: count(jars),
        };
        Delivered {
            delivery_id: delivery(number),
            lines: vec![Line {
                goods,
                price_hundredths: None,
            }],
            customer_id: to.map(customer),
            note_number: None,
            place: None,
        }
        .into()
    }
    pub fn hold(target: impl Into<Subject>, reason: HoldReason) -> Entry {
        HoldSet {
            target: target.into(),
            reason,
            text: None,
        }
        .into()
    }
    pub fn lifted(target: impl Into<Subject>, hold_id: EntryId) -> Entry {
        HoldLifted {
            target: target.into(),
            hold_id,
            reason: text("looked at again"),
        }
        .into()
    }
}

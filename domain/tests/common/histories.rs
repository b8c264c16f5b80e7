//! Made-up harvests of two yards, four hives and six supers as three devices might tell them, sense or nonsense.

use chrono::TimeDelta;
use domain::batch::{JarsReworked, JarsTakenOut, JarsWent, StockCounted};
use domain::colony::ColonyEnd;
use domain::common::HoldReason;
use domain::content::HoneyCounted;
use domain::delivery::{CustomerRegistered, GoodsOrdered, OrderMark, OrderMarked, Returned};
use domain::entry::Entry;
use domain::extraction::{CappingsWeighed, HoneyStrained, RunClosed, RunDrained, RunReopened, SuperUncapped};
use domain::fill::{ContainerWashed, FillSettled, FillSource};
use domain::hive::HiveMoved;
use domain::honey_super::{SuperPlaced, SuperStored, SuperWeighed};
use domain::ids::{ContainerId, MeterId, ScaleId};
use domain::lot::{HoneyEnd, HoneyEnded, HoneyWasted, LotSampled};
use domain::meter::{MeterChecked, ScaleChecked};
use domain::moisture::{HoneyStirred, MoistureRead, Shown};
use domain::subject::Subject;
use domain::units::{Micrometres, Moisture};
use domain::warm_room::{DryingStarted, DryingStopped};
use domain::yard::{FlowEnded, FlowStarted};
use proptest::prelude::*;

use super::entries::{
    batch, blended, bottled, code, customer, delivered, delivery, drawn, fill, filled, hive, hold, honey_super, lifted,
    lot, moved, new_hive, new_super, new_yard, placed, pulled, ran, read, received, released, run, uncapped, wet, yard,
};
use super::{Book, amend, care, count, g, minute, name, text, uuid, void};

/// One thing told: by whom, when, and what, all as plain numbers so that a failing history shrinks.
#[derive(Clone, Debug)]
pub struct Step {
    device: u8,
    /// The device hears everything that is in the ledger before it writes.
    hears: bool,
    minutes: i64,
    what: u8,
    a: u32,
    b: u32,
    grams: i64,
}

prop_compose! {
    fn step()(
        device in 0_u8..3,
        hears in any::<bool>(),
        // Four days, so that some happenings lie within twelve hours and some do not.
        minutes in 0_i64..5_760,
        what in 0_u8..70,
        a in 0_u32..6,
        b in 0_u32..6,
        grams in prop_oneof![Just(0_i64), 1_i64..30_000, 1_i64..30_000],
    ) -> Step {
        Step { device, hears, minutes, what, a, b, grams }
    }
}

/// Up to so many things told in any order.
pub fn steps(most: usize) -> impl Strategy<Value = Vec<Step>> {
    prop::collection::vec(step(), 1..most)
}

/// The book that those things make.
pub fn book(steps: &[Step]) -> Book {
    let mut book = Book::default();
    tell(&mut book, steps);
    book
}

/// The same after a plain harvest of all six supers, so that there are ways from hive to jar.
pub fn book_after_a_harvest(steps: &[Step]) -> Book {
    let mut book = Book::default();
    for number in 0..2 {
        book.tell(0, minute(-9_000), new_yard(number, &format!("yard {number}")));
    }
    for number in 0..4 {
        book.tell(0, minute(-9_000), new_hive(number, number / 2, &format!("H{number}")));
    }
    for number in 0..2 {
        let customer_id = customer(number);
        let called = name(&format!("buyer {number}"));
        book.tell(
            0,
            minute(-9_000),
            CustomerRegistered {
                customer_id,
                name: called,
                address: None,
                phone: None,
            },
        );
    }
    for number in 0..6 {
        book.tell(0, minute(-8_999), new_super(number));
        book.tell(0, minute(-8_000), placed(number, number % 4));
        book.tell(0, minute(-2_000), pulled(number, Some(number % 4)));
        book.tell(0, minute(-1_900), received(number, Some(20_000)));
        book.tell(0, minute(-1_800), uncapped(number, number / 3));
        book.tell(0, minute(-1_700), wet(number, number / 3, 8_000));
    }
    for number in 0..4 {
        book.tell(0, minute(-1_600), ran(number, number / 2, 15_000));
    }
    book.tell(0, minute(-1_500), drawn(0, 0, 15_000));
    book.tell(
        0,
        minute(-1_500),
        blended(1, &[(fill(1).into(), 10_000), (fill(2).into(), 10_000)]),
    );
    for number in 0..2 {
        book.tell(0, minute(-1_400), read(lot(number), 1_720));
        book.tell(0, minute(-1_390), released(number));
        book.tell(0, minute(-1_300), bottled(number, number, 12));
        book.tell(0, minute(-1_200), delivered(number, number, 5, Some(number)));
    }
    tell(&mut book, steps);
    book
}

fn tell(book: &mut Book, steps: &[Step]) {
    let before = book.newest();
    let all = before + i64::try_from(steps.len()).unwrap();
    let mut heard = [before; 3];
    for step in steps {
        if step.hears {
            heard[usize::from(step.device)] = book.newest();
        }
        let when = minute(0) + TimeDelta::minutes(step.minutes);
        book.tell_having_seen(step.device, heard[usize::from(step.device)], when, entry(step, all));
    }
}

/// The entry with a number, told or still to be told, itself included.
fn some_entry(step: &Step, all: i64) -> domain::ids::EntryId {
    let number = 1 + (u32::try_from(step.grams).unwrap() + step.a * 7 + step.b) % u32::try_from(all).unwrap();
    domain::ids::EntryId::from_uuid(uuid(0xE000, number))
}

fn entry(step: &Step, all: i64) -> Entry {
    let Step { a, b, grams, .. } = *step;
    let (two, four) = (a % 2, b % 4);
    match step.what {
        0 => new_yard(two, &format!("yard {b}")),
        1 => new_hive(four, two, &format!("H{a}")),
        2 => new_super(a),
        3..=6 => placed(a, four),
        7 => SuperPlaced {
            super_id: honey_super(a),
            hive_id: hive(four),
            comb: Some(domain::honey_super::Comb::Drawn),
        }
        .into(),
        8 => moved(a, four, b / 2),
        9 | 10 => pulled(a, (b > 1).then_some(four)),
        11 | 12 => received(a, (grams > 0).then_some(grams)),
        13..=15 => uncapped(a, b % 2),
        16 => wet(a, b % 2, grams),
        17 => DryingStarted {
            super_ids: vec![honey_super(a), honey_super(b)],
            room_id: None,
        }
        .into(),
        18 => DryingStopped {
            super_ids: vec![honey_super(a)],
            room_id: None,
        }
        .into(),
        19 => SuperStored {
            super_id: honey_super(a),
            wet: b > 2,
            place: None,
        }
        .into(),
        20 | 21 => ran(four, two, grams),
        22 => filled(four, FillSource::Unknown, grams),
        23 | 24 => drawn(four, a % 4, grams),
        25 => blended(four, &[(fill(a % 4).into(), grams), (lot(b % 3).into(), grams / 2)]),
        26 => read(
            [
                Subject::from(honey_super(a)),
                fill(four).into(),
                lot(four).into(),
                run(two).into(),
            ][b as usize % 4],
            1_400 + grams / 40,
        ),
        27 => HoneyStirred {
            target: lot(four).into(),
        }
        .into(),
        28 => released(four),
        29 | 30 => bottled(b % 3, four.min(a), grams / 500),
        31 => delivered(two, b % 3, grams / 1_000, (a > 2).then_some(two)),
        32 => match b {
            0 => FillSettled {
                fill_id: fill(a % 4),
                days: None,
                skimmed_g: Some(g(grams / 20)),
            }
            .into(),
            1 => LotSampled {
                lot_id: lot(a % 4),
                weight_g: g(grams / 20),
            }
            .into(),
            2 => HoneyWasted {
                lot_id: lot(a % 4),
                weight_g: g(grams / 20),
                reason: text("spilt"),
            }
            .into(),
            3 => CappingsWeighed {
                run_id: run(two),
                honey_g: g(grams / 10),
                wax_g: None,
            }
            .into(),
            4 => RunDrained {
                run_id: run(two),
                left_in_machine_g: None,
            }
            .into(),
            _ => HoneyStrained {
                run_id: run(two),
                mesh_um: Micrometres::constant(400),
                whole_before: None,
                whole_after: Some(false),
            }
            .into(),
        },
        33 => hold(anything(a, b), HoldReason::Treatment),
        34 => lifted(anything(a, b), some_entry(step, all)),
        50 => care::label(two, i64::from(b), a > 3),
        51 | 52 => care::put_in(&[four], two),
        53 => care::given(&[four, a % 4], two),
        54 => care::taken_out(&[four], (a > 2).then_some(two)),
        55 => care::seen_in(&[four], (a > 3).then_some(two)),
        56 => care::fed(&[four], 1 + grams),
        57 => care::feed_off(&[four]),
        58 => match b {
            0 => care::suspected(care::in_hive(a % 4)),
            1 => care::suspected(care::in_yard(two)),
            2 => care::cleared(care::in_hive(a % 4), some_entry(step, all)),
            3 => care::cleared(care::in_yard(two), some_entry(step, all)),
            4 => care::ordered(two),
            _ => care::order_lifted(two, some_entry(step, all)),
        },
        59 => {
            if b > 2 {
                care::cleaned(&[a])
            } else {
                care::tainted(&[a])
            }
        }
        60 => care::glass(b % 3, a > 2),
        61 => match b {
            0 | 1 => care::new_colony(a, four, None),
            2 => care::new_colony(a, four, Some((a + 1) % 6)),
            3 => care::colony_moved(a, four),
            4 => care::colony_ended(a, ColonyEnd::United, Some((a + 1) % 6)),
            _ => care::colony_ended(a, ColonyEnd::Dead, None),
        },
        62 => HiveMoved {
            hive_id: hive(four),
            yard_id: yard(two),
            permit: None,
        }
        .into(),
        63 => lifted(anything(a, b), some_entry(step, all)),
        64.. => after_that(step),
        35 | 36 => void(some_entry(step, all)),
        37..=39 => amend(some_entry(step, all), instead(step)),
        _ => of_house(step),
    }
}

/// What happens to orders, balances and jars in the end, and who saw bees alive.
fn after_that(step: &Step) -> Entry {
    let Step { a, b, grams, .. } = *step;
    let two = a % 2;
    let (delivery_id, run_id) = (delivery(two), run(two));
    let marked = |mark| {
        Entry::from(OrderMarked {
            delivery_id,
            mark,
            reason: None,
        })
    };
    match (step.what, b) {
        (64, 0 | 1) => GoodsOrdered {
            delivery_id,
            wanted: Vec::new(),
            customer_id: None,
            wanted_on: None,
            note_number: None,
        }
        .into(),
        (64, 2) => marked(OrderMark::Confirmed),
        (64, 3) => marked(OrderMark::Paid),
        (64, _) => marked(OrderMark::Cancelled),
        (65, _) => HoneyEnded {
            target: if b > 2 { lot(a % 4).into() } else { batch(a % 3).into() },
            how: [
                HoneyEnd::Withdrawn,
                HoneyEnd::Recalled,
                HoneyEnd::Destroyed,
                HoneyEnd::Downgraded,
            ][a as usize % 4],
            reason: text("tastes off"),
        }
        .into(),
        (66, _) => JarsReworked {
            lot_id: lot(b % 4),
            code: code(2 * (b % 4) + 2),
            batch_id: batch(a % 3),
            jars: count(grams / 5_000),
            weight_g: g(grams / 10),
            claim: None,
            reason: None,
        }
        .into(),
        (67, 0 | 1) => RunClosed { run_id, text: None }.into(),
        (67, 2) => RunReopened {
            run_id,
            reason: text("a weight was told late"),
        }
        .into(),
        (67, _) => SuperUncapped {
            run_id,
            super_id: honey_super(a),
            frames_set_aside: None,
            group: Some(name(if b > 3 { "left" } else { "right" })),
        }
        .into(),
        (68, _) => care::inspected(b % 4, Some(a > 1)),
        _ => lifted(anything(a, b), some_entry(step, 1 + i64::from(a))),
    }
}

/// What is told in the house beside the honey's way: counts, checks, washings, flows, hives carried.
fn of_house(step: &Step) -> Entry {
    let Step { a, b, grams, .. } = *step;
    let (two, four) = (a % 2, b % 4);
    let container_id = ContainerId::from_uuid(uuid(10, two));
    let (scale_id, meter_id) = (ScaleId::from_uuid(uuid(12, two)), MeterId::from_uuid(uuid(14, two)));
    let on = (minute(0) + TimeDelta::minutes(step.minutes)).date_naive();
    match step.what {
        40 => HoneyCounted {
            target: if a > 2 { fill(four).into() } else { lot(four).into() },
            content_g: g(grams),
            reason: None,
        }
        .into(),
        41 => {
            let Entry::ContainerFilled(mut filled) = ran(four, two, grams) else {
                unreachable!("a fill")
            };
            filled.container_id = Some(container_id);
            filled.scale_id = (a > 2).then_some(scale_id);
            filled.into()
        }
        42 => ContainerWashed { container_id }.into(),
        43 if a > 2 => ScaleChecked {
            scale_id,
            passed: b > 1,
        }
        .into(),
        43 => MeterChecked {
            meter_id,
            passed: b > 1,
            offset_hundredths: (b == 0).then_some(80),
        }
        .into(),
        44 => MoistureRead {
            targets: vec![honey_super(a).into(), lot(four).into()],
            shown: Shown::MoistureHundredths(Moisture::new(1_400 + grams / 40).unwrap()),
            honey_tenths_c: None,
            meter_id: Some(meter_id),
            compensated: Some(true),
            places: None,
        }
        .into(),
        45 => HiveMoved {
            hive_id: hive(four),
            yard_id: yard(two),
            permit: None,
        }
        .into(),
        46 if b > 2 => FlowEnded { yard_id: yard(two), on }.into(),
        46 => FlowStarted { yard_id: yard(two), on }.into(),
        47 => StockCounted {
            batch_id: batch(a % 3),
            jars: count(grams / 1_000),
            reason: None,
        }
        .into(),
        48 if b > 2 => Returned {
            delivery_id: delivery(two),
            batch_id: batch(a % 3),
            jars: count(grams / 3_000),
            reason: None,
        }
        .into(),
        48 => JarsTakenOut {
            batch_id: batch(a % 3),
            jars: count(grams / 5_000),
            went: JarsWent::Given,
            reason: None,
        }
        .into(),
        _ => SuperWeighed {
            super_id: honey_super(a),
            gross_g: g(grams),
            scale_id: (b > 2).then_some(scale_id),
            lost: None,
        }
        .into(),
    }
}

/// What an amendment tells instead: often of the same kind as what is told often, and about another thing.
fn instead(step: &Step) -> Entry {
    let Step { a, b, grams, .. } = *step;
    match step.minutes % 5 {
        0 => placed(b, a % 4),
        1 => pulled(b, Some(a % 4)),
        2 => ran(a % 4, b % 2, grams),
        3 => drawn(b % 4, a % 4, grams),
        _ => bottled(a % 3, b % 4, grams / 700),
    }
}

fn anything(a: u32, b: u32) -> Subject {
    match b {
        0 => yard(a % 2).into(),
        1 => hive(a % 4).into(),
        2 => honey_super(a).into(),
        3 => fill(a % 4).into(),
        4 => lot(a % 4).into(),
        _ => batch(a % 3).into(),
    }
}

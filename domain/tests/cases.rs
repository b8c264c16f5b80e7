//! Two people without signal write contradictory things: the cases of the project's trade rules, CF-1 to CF-16, each
//! with the answer written there, whichever of the two phones is heard first.
//!
//! All figures are those of that table; where it leaves one open, it is made up and arithmetic.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

mod common;

use std::collections::BTreeSet;

use common::entries::{
    batch, blended, bottled, code, delivered, drawn, fill, hive, hold, honey_super, lot, new_hive, new_super, new_yard,
    placed, pulled, ran, read, received, run, uncapped, wet, yard,
};
use common::{Book, amend, count, g, harvest, minute, name, text, uuid, void};
use domain::batch::{Bottled, StockCounted};
use domain::common::{FlagCode, HoldReason, NoteWritten};
use domain::content::HoneyCounted;
use domain::decide::decide;
use domain::doubts::{Doubt, doubts};
use domain::entry::Entry;
use domain::extraction::RunDrained;
use domain::fill::{ContainerFilled, FillSource};
use domain::honey_super::{SuperDescribed, SuperRegistered};
use domain::house::House;
use domain::ids::{HiveId, ScaleId};
use domain::lot::HoneyDrawn;
use domain::meter::{ScaleChecked, ScaleRegistered};
use domain::moisture::HoneyStirred;
use domain::state::State;
use domain::subject::Subject;
use domain::trace::{Certainty, holds_on, trace, trace_code};
use domain::units::{Moisture, Quarters};
use domain::yard::YardDescribed;
use domain::yields::season;

/// Two yards with two hives each, and their boxes.
fn yards() -> Book {
    let mut book = Book::default();
    for (number, called) in [(1, "OST"), (2, "TSD")] {
        book.tell(0, minute(-90_000), new_yard(number, called));
    }
    for (number, of, painted) in [(4, 1, "O04"), (5, 1, "O05"), (6, 2, "T06"), (9, 2, "T09")] {
        book.tell(0, minute(-90_000), new_hive(number, of, painted));
    }
    for number in [17, 41, 88] {
        book.tell(0, minute(-80_000), new_super(number));
    }
    book
}

/// What two phones tell of one base, in every order of arrival.
fn told(base: &Book, beside: &[(u8, i64, Entry)]) -> Vec<Book> {
    let books = base.in_every_order(beside);
    assert!(books.len() >= 2);
    books
}

fn has(state: &State, code: FlagCode) -> bool {
    state.flags().iter().any(|flag| flag.code == code)
}

fn candidates(house: &House, number: u32) -> BTreeSet<HiveId> {
    let state = house.honey_super(honey_super(number)).unwrap();
    state
        .filling
        .stands
        .iter()
        .flat_map(|stand| stand.candidates())
        .collect()
}

fn is_refused(house: &House, entry: &Entry) -> Option<&'static str> {
    decide(entry, house, minute(6_000)).err().map(|refused| refused.code)
}

/// Origin "O04 or O05": the yard has the honey, no hive has, and a hold on either hive is on the box and its jars.
#[test]
fn case_01_one_super_on_two_hives_of_one_yard() {
    let beside = [(1, 245, placed(17, 4)), (2, 260, placed(17, 5))];
    for mut book in told(&yards(), &beside) {
        assert_eq!(candidates(&book.house(), 17), BTreeSet::from([hive(4), hive(5)]));
        assert!(has(&book.state(honey_super(17)), FlagCode::OnTwoHives));
        let four = book.tell(0, minute(1_000), hold(hive(4), HoldReason::Treatment));
        let five = book.tell(0, minute(1_000), hold(hive(5), HoldReason::Feed));
        harvest(&mut book, 17);
        let house = book.house();
        let held: BTreeSet<_> = holds_on(&house, batch(1).into(), minute(900_000))
            .iter()
            .map(|held| held.hold_id)
            .collect();
        assert_eq!(held, BTreeSet::from([four, five]));
        let season = season(&house, 2025);
        let of_yard = season.yards.iter().find(|row| row.yard_id == yard(1)).unwrap();
        assert_eq!((of_yard.yield_g, of_yard.unassigned_in_yard_g), (12_500, 12_500));
        assert!(
            season
                .hives
                .iter()
                .all(|row| row.yield_g == 0 && row.disputed_g == 12_500)
        );
        assert!(
            !doubts(&house)
                .iter()
                .any(|doubt| matches!(doubt, Doubt::TwoBoxesOneNumber { .. }))
        );
    }
}

/// CF-8, ID-2. Two yards within half an hour: most likely two boxes with one number. Nothing is merged; a second box with a suffix
/// settles it, and each keeps what was told of it.
#[test]
fn case_02_one_number_in_two_yards() {
    let base = yards();
    let beside = [(1, 245, placed(17, 4)), (2, 280, placed(17, 6))];
    for mut book in told(&base, &beside) {
        let found = |book: &Book| {
            doubts(&book.house()).into_iter().find_map(|doubt| match doubt {
                Doubt::TwoBoxesOneNumber {
                    super_id,
                    seen,
                    minutes_apart,
                    one_came_home,
                } => Some((super_id, seen.len(), minutes_apart, one_came_home)),
                _ => None,
            })
        };
        assert_eq!(found(&book), Some((honey_super(17), 2, 35, false)));
        assert_eq!(candidates(&book.house(), 17), BTreeSet::from([hive(4), hive(6)]));
        // Only one comes home: the other is missing.
        book.tell(0, minute(5_000), received(17, Some(21_000)));
        assert_eq!(found(&book), Some((honey_super(17), 2, 35, true)));
        // Somebody looks: there are two.
        let new = SuperRegistered {
            super_id: honey_super(170),
            number: name("S017b"),
            class: domain::allocation::BoxClass::Medium,
            frames: domain::units::FrameCount::constant(10),
            tare_g: None,
        };
        book.tell(0, minute(5_100), new);
        let rename = SuperDescribed {
            super_id: honey_super(17),
            number: Some(name("S017a")),
            class: None,
            frames: None,
            tare_g: None,
        };
        book.tell(0, minute(5_100), rename);
        book.tell(0, minute(5_200), amend(base.next_id(1), placed(170, 6)));
        let house = book.house();
        assert_eq!(found(&book), None);
        assert_eq!(
            (candidates(&house, 17), candidates(&house, 170)),
            (BTreeSet::from([hive(4)]), BTreeSet::from([hive(6)]))
        );
        assert!(house.honey_super(honey_super(17)).unwrap().flags.is_empty());
        assert_eq!(
            house.honey_super(honey_super(17)).unwrap().former_numbers,
            [name("S017")]
        );
    }
}

/// One pull with two witnesses; the first telling gives the time, the second what the first did not look at.
#[test]
fn case_03_one_pull_told_twice() {
    let mut base = yards();
    base.tell(0, minute(-9_000), placed(41, 4));
    let beside = [(1, 0, pulled(41, Some(4))), (2, 3, pulled(41, Some(4)))];
    for book in told(&base, &beside) {
        let state = book.state(honey_super(41));
        assert!(state.flags().is_empty());
        let pulling = state.as_super().unwrap().filling.pulled.clone().unwrap();
        assert_eq!((pulling.entry_id, pulling.at), (base.next_id(0), minute(0)));
    }
}

/// The placing breaks the tie: "O04, likely". The trace names both all the same.
#[test]
fn case_04_one_super_pulled_from_two_hives() {
    let mut base = yards();
    base.tell(0, minute(-9_000), placed(41, 4));
    let Entry::SuperPulled(mut full) = pulled(41, Some(4)) else {
        panic!("a pull")
    };
    full.fullness_quarters = Some(Quarters::constant(4));
    let beside = [(1, 0, full.into()), (2, 3, pulled(41, Some(5)))];
    for book in told(&base, &beside) {
        let house = book.house();
        assert!(has(&book.state(honey_super(41)), FlagCode::PulledFromOtherHive));
        let filling = &house.honey_super(honey_super(41)).unwrap().filling;
        assert_eq!(filling.last_stand().unwrap().hive_id, hive(4), "likely");
        assert_eq!(
            filling.pulled.as_ref().unwrap().fullness_quarters,
            Some(Quarters::constant(4))
        );
        for number in [4, 5] {
            let forward = trace(&house, hive(number).into(), minute(900_000)).forward;
            let step = forward
                .iter()
                .find(|step| step.subject == honey_super(41).into())
                .unwrap();
            assert_eq!(step.certainty, Certainty::Possible);
        }
    }
}

fn pail(gross_g: i64, scale: Option<u32>) -> Entry {
    ContainerFilled {
        fill_id: fill(22),
        source: FillSource::RunId(run(1)),
        gross_g: g(gross_g),
        tare_g: g(1_200),
        container_id: None,
        code: Some(name("F22")),
        label_stuck: None,
        scale_id: scale.map(|number| ScaleId::from_uuid(uuid(12, number))),
        group: None,
    }
    .into()
}

/// Both weighings stay. The book takes the later on the scale that was found right; half a kilogram apart is amber.
#[test]
fn case_05_two_weighings_of_one_pail() {
    let mut base = yards();
    let scale_id = ScaleId::from_uuid(uuid(12, 1));
    let new = ScaleRegistered {
        scale_id,
        name: name("house scale"),
        step_g: None,
    };
    base.tell(0, minute(-9_000), new);
    base.tell(0, minute(-10), ScaleChecked { scale_id, passed: true });
    // Scale 2 was never checked; nobody named a scale where there is none.
    for (first, second, book_g, used) in [
        (None, Some(1), 26_700, 1),
        (Some(1), None, 27_200, 0),
        (Some(1), Some(2), 27_200, 0),
        (Some(1), Some(1), 26_700, 1),
        (None, None, 26_700, 1),
    ] {
        let beside = [(1, 0, pail(28_400, first)), (2, 60, pail(27_900, second))];
        for book in told(&base, &beside) {
            let house = book.house();
            let state = house.fill(fill(22)).unwrap();
            assert!(has(&book.state(fill(22)), FlagCode::WeightsDiffer));
            let (counted, net_g) = domain::weighing::fill_of(&house, state).unwrap();
            assert_eq!((net_g, counted.weighing.entry_id), (book_g, base.next_id(used)));
            assert!(counted.amber);
            let pot = season(&house, 2025).runs[0].pot_g;
            assert_eq!(pot, book_g, "the pot is shared by the weighing that counts");
            assert!(
                doubts(&house)
                    .iter()
                    .any(|doubt| matches!(doubt, Doubt::WeighedTwice { .. }))
            );
            let all = drawn(1, 22, book_g + 501);
            assert_eq!(is_refused(&house, &all), Some("more_than_it_holds"));
            assert_eq!(is_refused(&house, &drawn(1, 22, book_g + 500)), None);
        }
    }
}

/// 27 kg less 6 and 25 is 4 kg below nothing: both stand in the trace, nothing more is drawn, and a count settles it.
#[test]
fn case_06_two_draws_from_one_pail() {
    let mut base = yards();
    base.tell(0, minute(-100), ran(22, 1, 27_000));
    let beside = [(1, 0, drawn(1, 22, 6_000)), (2, 10, drawn(2, 22, 25_000))];
    for mut book in told(&base, &beside) {
        book.tell(1, minute(100), bottled(1, 1, 12));
        book.tell(1, minute(100), bottled(2, 2, 50));
        let house = book.house();
        let state = book.state(fill(22));
        assert_eq!(
            (house.fill(fill(22)).unwrap().content_g, state.status()),
            (-4_000, "overdrawn")
        );
        assert!(has(&state, FlagCode::Overdrawn) && !has(&state, FlagCode::ToldTwice));
        for jars in [1, 2] {
            let back = trace(&house, batch(jars).into(), minute(900_000)).back;
            assert!(back.iter().any(|step| step.subject == fill(22).into()));
        }
        assert_eq!(is_refused(&house, &drawn(3, 22, 100)), Some("overdrawn"));
        let counted = HoneyCounted {
            target: fill(22).into(),
            content_g: g(1_500),
            reason: Some(text("a third pail was in it")),
        };
        book.tell(1, minute(200), counted);
        let house = book.house();
        let of = house.fill(fill(22)).unwrap();
        assert_eq!((of.content_g, of.differences[0].difference_g), (1_500, 5_500));
        assert!(of.flags.is_empty());
        assert_eq!(is_refused(&house, &drawn(3, 22, 100)), None);
    }
}

/// Not averaged: the wetter decides until somebody stirs and measures again.
#[test]
fn case_07_two_moistures_of_one_lot() {
    let mut base = yards();
    base.tell(0, minute(-100), ran(1, 1, 20_000));
    base.tell(0, minute(-90), drawn(5, 1, 20_000));
    let beside = [(1, 0, read(lot(5), 1_760)), (2, 20, read(lot(5), 1_890))];
    for mut book in told(&base, &beside) {
        let water = |book: &Book| book.state(lot(5)).as_lot().unwrap().water().measured();
        assert_eq!(water(&book), Some(Moisture::constant(1_890)));
        book.tell(1, minute(50), HoneyStirred { target: lot(5).into() });
        book.tell(1, minute(60), read(lot(5), 1_780));
        assert_eq!(water(&book), Some(Moisture::constant(1_780)));
    }
}

fn draw_as(number: u32, from: u32, of_code: u32) -> Entry {
    HoneyDrawn {
        lot_id: lot(number),
        code: code(of_code),
        fill_id: fill(from),
        weight_g: g(10_000),
        claim: None,
    }
    .into()
}

/// CF-13. Two lots, shown with a and b; jars that bear the bare code belong to both, back to both runs.
#[test]
fn case_12_one_code_for_two_lots() {
    let mut base = yards();
    base.tell(0, minute(-100), ran(1, 4, 10_000));
    base.tell(0, minute(-100), ran(2, 5, 10_000));
    let beside = [(1, 0, draw_as(50, 1, 90)), (2, 20, draw_as(51, 2, 90))];
    for mut book in told(&base, &beside) {
        let jars = Bottled {
            lot_id: lot(50),
            batch_id: batch(1),
            code: code(90),
            nominal_g: g(500),
            jars_good: count(12),
            jars_broken: None,
            used_g: None,
            product: None,
            label_version: None,
        };
        book.tell(1, minute(100), jars);
        let house = book.house();
        let bare = code(90).to_string();
        let labels: Vec<String> = [50, 51].map(|number| house.label(lot(number).into())).to_vec();
        assert_eq!(labels, [format!("{bare}a"), format!("{bare}b")]);
        let shared = doubts(&house).into_iter().find_map(|doubt| match doubt {
            Doubt::SharedCode { lot_ids, batch_ids, .. } => Some((lot_ids, batch_ids)),
            _ => None,
        });
        assert_eq!(shared, Some((vec![lot(50), lot(51)], vec![batch(1)])));
        let back = trace_code(&house, &bare, minute(900_000)).unwrap().back;
        for number in [4, 5] {
            assert!(
                back.iter().any(|step| step.subject == run(number).into()),
                "run {number}"
            );
        }
        assert_eq!(
            house.all_named(&format!("{bare}b")),
            [lot(51).into()],
            "with its letter it is one"
        );
    }
}

/// One blend told badly, or two: the parents of both tellings stay in the trace, and a weighing of the tank tells.
#[test]
fn case_13_one_blend_told_in_two_ways() {
    let mut base = yards();
    for number in [1, 2, 3] {
        base.tell(0, minute(-100), ran(number, 1, 40_000));
    }
    let of = |second: u32| blended(1, &[(fill(1).into(), 20_000), (fill(second).into(), 10_000)]);
    let beside = [(1, 0, of(2)), (2, 30, of(3))];
    for (found_g, difference_g) in [(30_000, Some(-30_000)), (60_000, None)] {
        for mut book in told(&base, &beside) {
            let state = book.state(lot(1));
            assert!(has(&state, FlagCode::ToldTwice));
            assert_eq!(state.as_lot().unwrap().content_g, 60_000);
            let counted = HoneyCounted {
                target: lot(1).into(),
                content_g: g(found_g),
                reason: Some(text("weighed the tank")),
            };
            book.tell(1, minute(100), counted);
            let house = book.house();
            let tank = house.lot(lot(1)).unwrap();
            assert_eq!(tank.content_g, found_g);
            assert_eq!(tank.differences.first().map(|found| found.difference_g), difference_g);
            assert!(!has(&book.state(lot(1)), FlagCode::ToldTwice), "settled by the scale");
            let back = trace(&house, lot(1).into(), minute(900_000)).back;
            for number in [1, 2, 3] {
                assert!(back.iter().any(|step| step.subject == fill(number).into()));
            }
        }
    }
}

/// Both sales count, and what is in stock is a range until somebody counts.
#[test]
fn case_14_one_sale_told_by_two_sellers() {
    let mut base = yards();
    base.tell(0, minute(-100), ran(1, 1, 60_000));
    base.tell(0, minute(-90), drawn(5, 1, 60_000));
    base.tell(0, minute(-80), bottled(1, 5, 100));
    let beside = [(1, 0, delivered(1, 1, 48, None)), (2, 240, delivered(2, 1, 48, None))];
    for (found, unexplained) in [(52, -48), (4, 0)] {
        for mut book in told(&base, &beside) {
            let state = book.state(batch(1));
            assert!(has(&state, FlagCode::ToldTwice));
            let jars = state.as_batch().unwrap();
            assert_eq!((jars.jars_sold(), jars.jars_in_stock_range()), (96, (4, 52)));
            let counted = StockCounted {
                batch_id: batch(1),
                jars: count(found),
                reason: Some(text("counted at the stall")),
            };
            book.tell(1, minute(1_000), counted);
            let state = book.state(batch(1));
            let jars = state.as_batch().unwrap();
            assert_eq!(jars.jars_in_stock_range(), (found, found));
            assert_eq!(
                jars.jars_unexplained(),
                unexplained,
                "posted with its reason, never overwritten"
            );
            assert!(state.flags().is_empty());
        }
    }
}

/// It happened before the drain, so it belongs to the run, and its weights to the balance.
#[test]
fn case_15_a_super_of_a_drained_run_told_late() {
    let mut base = yards();
    base.tell(0, minute(-9_000), placed(88, 4));
    base.tell(0, minute(-9_000), placed(41, 4));
    base.tell(0, minute(400), received(41, Some(20_000)));
    base.tell(0, minute(400), received(88, Some(20_000)));
    base.tell(0, minute(450), uncapped(41, 1));
    let drained = RunDrained {
        run_id: run(1),
        left_in_machine_g: None,
    };
    let beside = [(1, 540, drained.into()), (2, 490, uncapped(88, 1))];
    for mut book in told(&base, &beside) {
        assert!(book.state(run(1)).flags().is_empty());
        assert_eq!(book.state(run(1)).status(), "drained");
        for number in [41, 88] {
            book.tell(1, minute(600), wet(number, 1, 8_000));
        }
        book.tell(1, minute(600), ran(1, 1, 24_000));
        let season = season(&book.house(), 2025);
        assert_eq!((season.runs[0].supers, season.total_g), (2, 24_000));
        assert_eq!(season.hives[0].yield_g, 24_000);
    }
}

/// CF-6. The later name counts, and the other is kept as a former one.
#[test]
fn case_17_two_new_names_of_one_yard() {
    let named = |to: &str| {
        Entry::from(YardDescribed {
            yard_id: yard(1),
            name: Some(name(to)),
            code: None,
            ground: None,
            latitude_e5: None,
            longitude_e5: None,
        })
    };
    for book in told(&yards(), &[(1, 0, named("X")), (2, 10, named("Y"))]) {
        let state = book.state(yard(1));
        let state = state.as_yard().unwrap();
        assert_eq!(state.name, Some(name("Y")));
        assert_eq!(state.former_names, [name("OST"), name("X")]);
    }
}

/// A withdrawal that did not know of the correction does not win: the corrected value counts and is doubtful.
#[test]
fn case_18_withdrawn_and_corrected() {
    let mut base = yards();
    base.tell(0, minute(-9_000), placed(41, 4));
    let first = base.tell(0, minute(-100), received(41, Some(21_400)));
    let beside = [(1, 0, void(first)), (2, 10, amend(first, received(41, Some(24_100))))];
    for book in told(&base, &beside) {
        let state = book.state(honey_super(41));
        assert_eq!(
            state.as_super().unwrap().filling.full.as_ref().unwrap().gross_g,
            g(24_100)
        );
        assert!(has(&state, FlagCode::VoidedWithoutSight));
    }
}

/// A number read off a photo, and the same number elsewhere: the dispute of case 2, and the note of the photo stays.
#[test]
fn case_20_a_number_misread_from_a_photo() {
    let photo = NoteWritten {
        about: vec![honey_super(88).into()],
        text: text("number read off photo 12"),
    };
    let beside = [(1, 0, placed(88, 4)), (2, 45, placed(88, 6)), (2, 46, photo.into())];
    for book in told(&yards(), &beside) {
        let house = book.house();
        let disputed = doubts(&house)
            .iter()
            .any(|doubt| matches!(doubt, Doubt::TwoBoxesOneNumber { super_id, .. } if *super_id == honey_super(88)));
        assert!(disputed);
        assert_eq!(house.honey_super(honey_super(88)).unwrap().notes.len(), 1);
    }
}

/// All of it at once, heard in many orders: every state and every doubt comes out the same (CF-1).
#[test]
fn all_cases_together_come_out_the_same_in_any_order_of_arrival() {
    let mut base = yards();
    for number in [1, 2, 3, 22] {
        base.tell(0, minute(-9_000), ran(number, 1, 60_000));
    }
    base.tell(0, minute(-9_000), placed(41, 4));
    base.tell(0, minute(-8_000), bottled(1, 5, 100));
    let named = |to: &str| {
        Entry::from(YardDescribed {
            yard_id: yard(1),
            name: Some(name(to)),
            code: None,
            ground: None,
            latitude_e5: None,
            longitude_e5: None,
        })
    };
    let beside: Vec<(u8, i64, Entry)> = vec![
        (1, 245, placed(17, 4)),
        (2, 260, placed(17, 6)),
        (1, 0, pulled(41, Some(4))),
        (2, 3, pulled(41, Some(5))),
        (3, 0, pail(28_400, Some(1))),
        (4, 60, pail(27_900, None)),
        (1, 300, drawn(8, 2, 6_000)),
        (2, 310, drawn(9, 2, 6_000)),
        (3, 320, draw_as(50, 1, 90)),
        (4, 330, draw_as(51, 3, 90)),
        (1, 400, blended(1, &[(fill(1).into(), 20_000)])),
        (2, 410, blended(1, &[(fill(3).into(), 20_000)])),
        (3, 500, delivered(1, 1, 48, None)),
        (4, 510, delivered(2, 1, 48, None)),
        (1, 600, named("X")),
        (2, 610, named("Y")),
        (3, 620, uncapped(88, 1)),
        (
            4,
            610,
            Entry::from(RunDrained {
                run_id: run(1),
                left_in_machine_g: None,
            }),
        ),
    ];
    let outcome = |book: &Book| -> (Vec<(Subject, String)>, String) {
        let house = book.house();
        let states = house
            .iter()
            .map(|(subject, state)| (subject, state.state_json()))
            .collect();
        (states, serde_json::to_string(&doubts(&house)).unwrap())
    };
    let mut order: Vec<usize> = (0..beside.len()).collect();
    let expected = outcome(&base.arriving(&beside, &order));
    let mut seed: u64 = 0x2545_F491_4F6C_DD1D;
    for _ in 0..150 {
        for at in (1..order.len()).rev() {
            // xorshift64* (S. Vigna, 2016), good enough for shuffling.
            seed ^= seed >> 12;
            seed ^= seed << 25;
            seed ^= seed >> 27;
            let pick = seed.wrapping_mul(0x2545_F491_4F6C_DD1D) % (at as u64 + 1);
            order.swap(at, usize::try_from(pick).unwrap());
        }
        assert_eq!(outcome(&base.arriving(&beside, &order)), expected, "{order:?}");
    }
}

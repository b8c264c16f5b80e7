//! More cases of the project's trade rules in which two people without signal write against each other: what touches
//! safety, the count of colonies, and orders. Each answer is the same whichever of the two phones is heard first.
//!
//! All figures are those of that table; where it leaves one open, it is made up and arithmetic.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

mod common;

use std::collections::BTreeSet;

use common::care::{colony, fed, feed_off, inspected, label, new_colony, put_in, seen_in, taken_out};
use common::entries::{
    batch, bottled, customer, delivered, delivery, drawn, fill, hive, hold, honey_super, lifted, lot, new_hive,
    new_super, new_yard, placed, pulled, ran, read, released, run, uncapped, yard,
};
use common::{Book, at, count, harvest, minute, void};
use domain::colony::{ColonyEnd, ColonyEnded};
use domain::common::{FlagCode, HoldReason};
use domain::decide::decide;
use domain::delivery::{GoodsOrdered, OrderMark, OrderMarked, Returned, Wanted};
use domain::doubts::{Doubt, doubts};
use domain::entry::Entry;
use domain::holds::Holds;
use domain::house::House;
use domain::ids::EntryId;
use domain::subject::Subject;
use domain::trace::holds_on;
use domain::units::Grams;
use domain::yard::ColoniesCounted;
use domain::yields::{YardYield, season};

const DAY: i64 = 1_440;

fn yards() -> Book {
    let mut book = Book::default();
    for (number, called) in [(1, "OST"), (2, "TSD")] {
        book.tell(0, minute(-90_000), new_yard(number, called));
    }
    for (number, of, painted) in [(4, 1, "O04"), (5, 1, "O05"), (9, 2, "T09")] {
        book.tell(0, minute(-90_000), new_hive(number, of, painted));
    }
    for number in [17, 41, 88] {
        book.tell(0, minute(-80_000), new_super(number));
    }
    book
}

fn has(flags: &[domain::common::Flag], code: FlagCode) -> bool {
    flags.iter().any(|flag| flag.code == code)
}

fn held(house: &House, subject: impl Into<Subject>) -> BTreeSet<EntryId> {
    let held = holds_on(house, subject.into(), at("2025-11-01T12:00:00Z"));
    held.iter().map(|held| held.hold_id).collect()
}

fn counted(fit: i64) -> Entry {
    ColoniesCounted {
        yard_id: yard(2),
        on: "2025-07-10".parse().unwrap(),
        fit: count(fit),
        unfit: None,
    }
    .into()
}

fn found_dead() -> Entry {
    ColonyEnded {
        colony_id: colony(9),
        how: ColonyEnd::Dead,
        united_into: None,
    }
    .into()
}

fn row(book: &Book) -> YardYield {
    let season = season(&book.house(), 2025);
    season.yards.into_iter().find(|row| row.yard_id == yard(2)).unwrap()
}

fn disputes(book: &Book) -> usize {
    let all = doubts(&book.house());
    all.iter()
        .filter(|doubt| matches!(doubt, Doubt::AliveAfterDead { .. }))
        .count()
}

/// One feeding told by two who did not know of each other is fed twice until somebody withdraws one; told by one who
/// knew, of another amount, half a day later, or after the feeder was taken off, nobody is asked (CF-2).
#[test]
fn one_feeding_told_by_two() {
    let (base, asked) = (yards(), |book: &Book| {
        has(book.state(hive(9)).flags(), FlagCode::FedTwice)
    });
    for book in base.in_every_order(&[(1, 0, fed(&[9], 5_000)), (2, 30, fed(&[9, 5], 5_000))]) {
        let state = book.state(hive(9));
        let flag = state
            .flags()
            .iter()
            .find(|flag| flag.code == FlagCode::FedTwice)
            .unwrap();
        assert_eq!(
            flag.sides.iter().map(|side| side.amount).collect::<Vec<_>>(),
            [Some(5_000); 2]
        );
        assert!(!has(book.state(hive(5)).flags(), FlagCode::FedTwice), "told of it once");
        let mut settled = book.clone();
        settled.tell(3, minute(60), void(flag.sides[1].entry_id));
        assert!(!asked(&settled), "one of them is withdrawn");
    }
    for other in [(2, 30, fed(&[9], 4_000)), (2, DAY / 2 + 1, fed(&[9], 5_000))] {
        for book in base.in_every_order(&[(1, 0, fed(&[9], 5_000)), other.clone()]) {
            assert!(!asked(&book));
        }
    }
    for book in base.in_every_order(&[
        (1, 0, fed(&[9], 5_000)),
        (2, 30, fed(&[9], 5_000)),
        (3, 15, feed_off(&[9])),
    ]) {
        assert!(!asked(&book), "fed, taken off, fed again");
    }
    let mut known = base;
    known.tell(1, minute(0), fed(&[9], 5_000));
    known.tell(2, minute(30), fed(&[9], 5_000));
    assert!(!asked(&known), "the second knew of the first");
}

/// Dead on 2 July, eggs on 5 July, 18 counted for the start of flow on 10 July by somebody who knew of neither: 17 or 18,
/// and the yield a colony from 12.5 kg over 18 to 12.5 kg over 17 (CF-16, AN-1). The trace is what it was.
#[test]
fn case_08_one_says_dead_and_another_alive() {
    let mut base = yards();
    base.tell(0, minute(-80_000), new_colony(9, 9, None));
    base.tell(0, minute(-70_000), placed(88, 9));
    base.tell(0, minute(-11 * DAY), counted(18));
    let beside = [
        (1, -10 * DAY, found_dead()),
        (2, -7 * DAY, inspected(9, Some(true))),
        (3, -6 * DAY, inspected(4, Some(true))),
    ];
    for book in base.in_every_order(&beside) {
        let mut spun = book.clone();
        harvest(&mut spun, 88);
        let of = row(&spun);
        assert_eq!(of.colonies_at_start_of_flow, Some(18));
        assert_eq!((of.colonies_low, of.colonies_high), (Some(17), Some(18)));
        assert_eq!((of.y1_g, of.y1_low_g, of.y1_high_g), (None, Some(694), Some(735)));
        assert_eq!((of.yield_g, disputes(&spun)), (12_500, 1));
        assert!(doubts(&spun.house()).iter().any(|doubt| doubt.rule() == "CF-16"));
        let back = domain::trace::trace(&spun.house(), batch(1).into(), minute(90_000)).back;
        assert!(back.iter().any(|step| step.subject == hive(9).into()));

        // Whoever counts with the death known leaves the colony out: then it is 17 or one more.
        let mut again = book.clone();
        let knew_of_the_death = book.entries.iter().find(|told| told.id == base.next_id(0)).unwrap().seq;
        let knew_of_the_eggs = book.entries.iter().find(|told| told.id == base.next_id(1)).unwrap().seq;
        if knew_of_the_death < knew_of_the_eggs {
            again.tell_having_seen(4, knew_of_the_death, minute(-2 * DAY), counted(17));
            let of = row(&again);
            assert_eq!((of.colonies_low, of.colonies_high), (Some(17), Some(18)));
        }
        // Whoever has seen both decides (CF-4).
        again.tell(4, minute(-DAY), counted(17));
        assert_eq!(
            (row(&again).colonies_low, row(&again).colonies_high),
            (Some(17), Some(17))
        );

        // The eggs were in another hive: withdrawn, the count stands and nothing is disputed.
        let mut settled = book.clone();
        settled.tell(2, minute(-DAY), void(base.next_id(1)));
        let of = row(&settled);
        assert_eq!(
            (of.colonies_low, of.colonies_high, disputes(&settled)),
            (Some(18), Some(18), 0)
        );
        // Or a swarm had moved in.
        let mut swarm = book;
        swarm.tell(2, minute(-8 * DAY), new_colony(10, 9, None));
        assert_eq!(disputes(&swarm), 0);
    }
}

/// AN-3: dead after the day that is counted for, a colony stays in the count, whoever saw it alive later.
#[test]
fn a_colony_found_dead_after_the_start_of_flow_stays_in_the_count() {
    let mut book = yards();
    book.tell(0, minute(-80_000), new_colony(9, 9, None));
    book.tell(0, minute(-11 * DAY), counted(18));
    book.tell(1, minute(DAY), found_dead());
    book.tell(2, minute(2 * DAY), inspected(9, Some(true)));
    assert_eq!(
        (row(&book).colonies_low, row(&book).colonies_high),
        (Some(18), Some(18))
    );
    assert_eq!(disputes(&book), 1, "it is disputed all the same");
    // Looked into without finding eggs is no sign of life, and not looking for them is none either (ID-9).
    let mut dead = yards();
    dead.tell(0, minute(-80_000), new_colony(9, 9, None));
    dead.tell(1, minute(-10 * DAY), found_dead());
    dead.tell(2, minute(-7 * DAY), inspected(9, Some(false)));
    dead.tell(2, minute(-6 * DAY), inspected(9, None));
    assert_eq!(disputes(&dead), 0);
}

/// The hold stays, and jars filled under the release are held (CF-12).
#[test]
fn case_09_a_release_that_did_not_know_of_a_hold() {
    let mut base = yards();
    base.tell(0, minute(-100), ran(1, 1, 20_000));
    base.tell(0, minute(-90), drawn(5, 1, 20_000));
    base.tell(0, minute(-80), read(lot(5), 1_720));
    for (hold_at, release_at) in [(0, 30), (30, 0)] {
        let beside = [
            (1, hold_at, hold(lot(5), HoldReason::Complaint)),
            (2, release_at, released(5)),
            (2, 60, bottled(1, 5, 12)),
        ];
        for book in base.in_every_order(&beside) {
            let state = book.state(lot(5));
            assert_eq!(state.status(), "on_hold");
            assert!(has(state.flags(), FlagCode::ReleasedWithoutSightOfHold));
            assert_eq!(held(&book.house(), batch(1)), BTreeSet::from([base.next_id(0)]));
        }
    }
}

/// Both are true: the super is held, and so is what is spun of it (TX-3).
#[test]
fn case_10_treated_and_supered_on_one_day() {
    let mut base = yards();
    base.tell(0, minute(-9_000), label(1, 21, false));
    for (treated, put_on) in [(0, 60), (60, 0)] {
        for mut book in base.in_every_order(&[(1, treated, put_in(&[4], 1)), (2, put_on, placed(17, 4))]) {
            harvest(&mut book, 17);
            let cause = BTreeSet::from([base.next_id(0)]);
            for subject in [Subject::from(run(1)), fill(1).into(), lot(5).into(), batch(1).into()] {
                assert_eq!(held(&book.house(), subject), cause);
            }
        }
    }
}

/// Said to be out on 1 May, seen in on 20 June: still in until then, and the earlier end stays on record as disputed.
#[test]
fn case_11_strips_out_and_strips_seen() {
    let mut base = yards();
    base.tell(0, minute(-120 * DAY), label(1, 0, false));
    base.tell(0, minute(-100 * DAY), put_in(&[4], 1));
    base.tell(0, minute(-60 * DAY), placed(17, 4));
    let beside = [
        (1, -72 * DAY, taken_out(&[4], Some(1))),
        (2, -22 * DAY, seen_in(&[4], Some(1))),
    ];
    for mut book in base.in_every_order(&beside) {
        harvest(&mut book, 17);
        let house = book.house();
        assert!(
            !held(&house, batch(1)).is_empty(),
            "placed after the strips were said to be out, before they were seen"
        );
        let doubts = Holds::of(&house).doubts();
        let disputed = doubts
            .iter()
            .find(|(_, flag)| flag.code == FlagCode::SeenAfterTakenOut)
            .unwrap();
        let sides: BTreeSet<EntryId> = disputed.1.sides.iter().map(|side| side.entry_id).collect();
        assert_eq!(sides, BTreeSet::from([base.next_id(0), base.next_id(1)]));
    }
}

fn ordered() -> Entry {
    GoodsOrdered {
        delivery_id: delivery(1),
        wanted: vec![Wanted {
            nominal_g: Grams::constant(500),
            count: count(12),
            product: None,
        }],
        customer_id: Some(customer(1)),
        wanted_on: None,
        note_number: None,
    }
    .into()
}

fn marked(mark: OrderMark) -> Entry {
    OrderMarked {
        delivery_id: delivery(1),
        mark,
        reason: None,
    }
    .into()
}

/// The goods left the house, so they are delivered, and the cancellation asks for their return (CF-15).
#[test]
fn case_16_one_order_cancelled_and_delivered() {
    let mut base = yards();
    base.tell(0, minute(-100), ran(1, 1, 20_000));
    base.tell(0, minute(-90), drawn(5, 1, 20_000));
    base.tell(0, minute(-80), bottled(1, 5, 40));
    base.tell(0, minute(-70), ordered());
    base.tell(0, minute(-60), marked(OrderMark::Confirmed));
    for (cancelled, left) in [(0, 30), (30, 0)] {
        let beside = [
            (1, cancelled, marked(OrderMark::Cancelled)),
            (2, left, delivered(1, 1, 12, Some(1))),
        ];
        for mut book in base.in_every_order(&beside) {
            let state = book.state(delivery(1));
            assert_eq!(state.status(), "return_asked");
            let flag = state
                .flags()
                .iter()
                .find(|flag| flag.code == FlagCode::DeliveredThoughCancelled)
                .unwrap();
            let sides: BTreeSet<EntryId> = flag.sides.iter().map(|side| side.entry_id).collect();
            assert_eq!(sides, BTreeSet::from([base.next_id(0), base.next_id(1)]));
            assert_eq!(book.state(batch(1)).as_batch().unwrap().jars_in_stock, 28, "they left");
            let settling = domain::settle::settled_by(delivery(1).into(), &state, flag);
            let kinds: Vec<_> = settling.iter().map(|settling| settling.kind).collect();
            assert_eq!(kinds, ["returned", "voided"]);
            assert_eq!(settling[1].data["entry_id"], serde_json::json!(base.next_id(0)));
            // Whoever asks first is told.
            let refused = decide(&marked(OrderMark::Cancelled), &book.house(), minute(100)).unwrap_err();
            assert_eq!(refused.code, "order_cancelled");
            // The buyer keeps them after all.
            let mut kept = book.clone();
            kept.tell(1, minute(200), void(base.next_id(0)));
            assert_eq!(
                (kept.state(delivery(1)).status(), kept.state(delivery(1)).flags().len()),
                ("delivered", 0)
            );
            // Or they come back.
            let back = Returned {
                delivery_id: delivery(1),
                batch_id: batch(1),
                jars: count(12),
                reason: None,
            };
            book.tell(1, minute(200), back);
            let state = book.state(delivery(1));
            assert_eq!((state.status(), state.flags().len()), ("returned", 0));
        }
    }
}

/// "Not fed" is an opinion, the feeding is a happening (FE-1).
#[test]
fn case_19_fed_and_not_fed() {
    let mut base = yards();
    base.tell(0, minute(-20 * DAY), placed(17, 4));
    let beside = [(1, -DAY, fed(&[4], 5_000)), (2, 0, pulled(17, Some(4)))];
    for mut book in base.in_every_order(&beside) {
        harvest(&mut book, 17);
        let held = held(&book.house(), batch(1));
        assert_eq!(held, BTreeSet::from([base.next_id(0)]));
    }
}

/// A release by somebody whose phone had not heard of the hold ends nothing, whatever its clock says (CF-12).
#[test]
fn an_end_without_sight_of_the_hold_ends_nothing_and_one_with_it_does() {
    let mut base = yards();
    base.tell(0, minute(-100), ran(1, 1, 20_000));
    base.tell(0, minute(-90), drawn(5, 1, 20_000));
    let id = base.next_id(0);
    for ended_at in [-10, 10] {
        let beside = [
            (1, 0, hold(lot(5), HoldReason::Complaint)),
            (2, ended_at, lifted(lot(5), id)),
        ];
        for mut book in base.in_every_order(&beside) {
            let state = book.state(lot(5));
            assert_eq!(state.status(), "on_hold", "{ended_at}");
            let flag = state
                .flags()
                .iter()
                .find(|flag| flag.code == FlagCode::LiftedWithoutSight)
                .unwrap();
            let kinds: Vec<_> = domain::settle::settled_by(lot(5).into(), &state, flag)
                .iter()
                .map(|settling| settling.kind)
                .collect();
            assert_eq!(kinds, ["hold_lifted", "voided"]);
            assert!(decide(&lifted(lot(5), id), &book.house(), minute(100)).is_ok());
            book.tell(3, minute(100), lifted(lot(5), id));
            assert_eq!(
                (book.state(lot(5)).status(), book.state(lot(5)).flags().len()),
                ("open", 0)
            );
            assert!(held(&book.house(), lot(5)).is_empty());
        }
    }
}

/// Hive 4 is treated; super 17 stood on it. Its honey is in lot 5, and a named person released that.
fn released_by_name() -> (Book, EntryId, i64) {
    let mut book = yards();
    book.tell(0, minute(-120 * DAY), label(1, 0, false));
    let cause = book.tell(0, minute(-40 * DAY), put_in(&[4], 1));
    book.tell(0, minute(-30 * DAY), placed(17, 4));
    let before_the_harvest = book.newest();
    harvest(&mut book, 17);
    assert_eq!(held(&book.house(), lot(5)), BTreeSet::from([cause]));
    book.tell(2, minute(6_000), lifted(lot(5), cause));
    assert!(held(&book.house(), lot(5)).is_empty() && held(&book.house(), batch(1)).is_empty());
    (book, cause, before_the_harvest)
}

fn reviews(book: &Book) -> Vec<Subject> {
    let house = book.house();
    let doubts = Holds::of(&house).doubts();
    let of_lifts = doubts
        .into_iter()
        .filter(|(_, flag)| flag.code == FlagCode::LiftedWithoutSight);
    of_lifts.map(|(subject, _)| subject).collect()
}

/// What is told late of a time before a release was not known to whoever released: it opens a review and is held until
/// somebody who knows of it decides (CF-12, TX-4).
#[test]
fn a_late_box_of_the_treated_hive_is_not_covered_by_a_release_that_did_not_know_of_it() {
    let (mut book, cause, saw) = released_by_name();
    assert!(reviews(&book).is_empty());
    // Another box of the same treated hive went into the same run, told by a phone that came home late.
    book.tell_having_seen(3, saw, minute(-30 * DAY), placed(41, 4));
    assert!(held(&book.house(), lot(5)).is_empty(), "it is not in the lot yet");
    book.tell_having_seen(3, saw, minute(5_150), uncapped(41, 1));
    assert_eq!(held(&book.house(), lot(5)), BTreeSet::from([cause]));
    assert_eq!(held(&book.house(), batch(1)), BTreeSet::from([cause]));
    assert_eq!(reviews(&book), [Subject::from(lot(5))]);
    // Somebody who has seen it decides again.
    assert!(decide(&lifted(lot(5), cause), &book.house(), minute(7_000)).is_ok());
    book.tell(2, minute(7_000), lifted(lot(5), cause));
    assert!(held(&book.house(), lot(5)).is_empty() && reviews(&book).is_empty());
}

/// A late box of an untreated hive is nothing that a release would have to know of.
#[test]
fn a_late_box_of_another_hive_leaves_a_release_as_it_is() {
    let (mut book, _, saw) = released_by_name();
    book.tell_having_seen(3, saw, minute(-30 * DAY), placed(41, 5));
    book.tell_having_seen(3, saw, minute(5_150), uncapped(41, 1));
    assert!(held(&book.house(), lot(5)).is_empty() && reviews(&book).is_empty());
}

/// A placing told late is not covered by the release of a box either.
#[test]
fn a_box_released_by_name_is_held_again_when_a_placing_on_the_treated_hive_is_told_late() {
    let mut book = yards();
    book.tell(0, minute(-120 * DAY), label(1, 0, false));
    let cause = book.tell(0, minute(-40 * DAY), put_in(&[4], 1));
    book.tell(0, minute(-30 * DAY), placed(17, 4));
    let saw = book.newest();
    book.tell(2, minute(-DAY), lifted(honey_super(17), cause));
    assert!(held(&book.house(), honey_super(17)).is_empty());
    // It was moved to the next hive and back, as another phone tells late.
    book.tell_having_seen(3, saw, minute(-20 * DAY), placed(17, 5));
    book.tell_having_seen(3, saw, minute(-10 * DAY), placed(17, 4));
    assert_eq!(held(&book.house(), honey_super(17)), BTreeSet::from([cause]));
    book.tell(2, minute(0), lifted(honey_super(17), cause));
    assert!(held(&book.house(), honey_super(17)).is_empty());
}

/// The order of arrival changes none of it, down to the byte.
#[test]
fn a_release_and_a_late_box_come_out_the_same_in_any_order_of_folding() {
    let (mut book, ..) = released_by_name();
    book.tell_having_seen(3, 0, minute(-30 * DAY), placed(41, 4));
    book.tell_having_seen(3, 0, minute(5_150), uncapped(41, 1));
    let expected: BTreeSet<EntryId> = held(&book.house(), batch(1));
    for subject in book.subjects() {
        let told = book.about(subject);
        let backwards: Vec<_> = told.iter().rev().cloned().collect();
        let (one, other) = (
            domain::state::State::fold(subject, &told),
            domain::state::State::fold(subject, &backwards),
        );
        assert_eq!(one.state_json(), other.state_json(), "{subject}");
    }
    assert_eq!(expected.len(), 1);
}

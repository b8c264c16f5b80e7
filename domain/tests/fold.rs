//! The fold over made-up histories: any order, any repeats, any batches give one state, and no honey is lost.
//!
//! Order and repeats: CF-1 of the trade rules and sync scenario 10. Voids and amendments: sync scenarios 20 and 21.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

mod common;

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use common::entries::{
    batch, blended, drawn, fill, honey_super, lot, placed, pulled, ran, read, received, uncapped, wet,
};
use common::{Book, amend, at, histories, minute, uuid, void};
use domain::entry::Recorded;
use domain::house::House;
use domain::ids::EntryId;
use domain::state::State;
use domain::subject::Subject;
use domain::{next, trace, yields};
use proptest::prelude::*;

fn checked() -> ProptestConfig {
    ProptestConfig {
        cases: 128,
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// Another order, the same for the same number.
fn shuffled(entries: &[Recorded], seed: u64) -> Vec<Recorded> {
    let mut keyed: Vec<(u64, &Recorded)> = entries
        .iter()
        .map(|told| {
            (
                told.seq
                    .unsigned_abs()
                    .wrapping_mul(0x9E37_79B9_7F4A_7C15)
                    .rotate_left(17)
                    ^ seed
                        .wrapping_mul(0xD6E8_FEB8_6659_FD93)
                        .wrapping_mul(told.seq.unsigned_abs() | 1),
                told,
            )
        })
        .collect();
    keyed.sort_by_key(|(key, _)| *key);
    keyed.into_iter().map(|(_, told)| told.clone()).collect()
}

fn kept(state: &State) -> (String, String) {
    (state.state_json(), state.memo_json())
}

/// The state as a ledger comes to it that keeps it between batches, storing and reading it each time.
fn gone_on(about: Subject, arrived: &[Recorded], batch: usize) -> State {
    let mut state = State::empty(about.kind);
    for (at, new) in arrived.chunks(batch).enumerate() {
        let before = kept(&state);
        // Sent twice in one batch, as after a lost answer.
        let twice: Vec<Recorded> = new.iter().chain(new).cloned().collect();
        if !state.go_on(about, &twice) {
            assert_eq!(kept(&state), before, "what cannot go on changes nothing");
            let so_far = &arrived[..(at * batch + new.len())];
            state = State::fold(about, so_far);
        }
        let (json, memo) = kept(&state);
        let again = State::read(about.kind, &json, &memo).unwrap();
        assert_eq!(kept(&again), (json, memo), "{about}");
        assert_eq!(again, state, "{about}");
        state = again;
    }
    state
}

fn assert_nothing_lost(house: &House) {
    for (id, fill) in house.fills() {
        let out: i64 = fill.taken_out.iter().map(|taken| taken.weight_g).sum();
        assert_eq!(fill.content_g, fill.net_g() - fill.skimmed_g - out, "fill {id}");
    }
    for (id, lot) in house.lots() {
        let out: i64 = lot.taken_out.iter().map(|taken| taken.weight_g).sum();
        assert_eq!(
            lot.content_g,
            lot.made_g() - lot.samples_g - lot.wasted_g - out,
            "lot {id}"
        );
    }
    for (id, batch) in house.batches() {
        let out = batch.given + batch.broken + batch.samples + batch.own_use;
        let explained = batch.jars_in_stock + batch.jars_sold() + out + batch.jars_unexplained();
        assert_eq!(batch.jars_good, explained, "batch {id}");
    }
}

proptest! {
    #![proptest_config(checked())]

    #[test]
    fn any_order_and_any_repeats_give_the_same_state_byte_for_byte(steps in histories::steps(60), seed in any::<u64>()) {
        let book = histories::book(&steps);
        for subject in book.subjects() {
            let told = book.about(subject);
            let expected = kept(&State::fold(subject, &told));
            let mut other = shuffled(&told, seed);
            prop_assert_eq!(&kept(&State::fold(subject, &other)), &expected, "{} in another order", subject);
            other.extend(shuffled(&told, seed ^ 0xFF));
            prop_assert_eq!(&kept(&State::fold(subject, &other)), &expected, "{} told twice", subject);
        }
    }

    #[test]
    fn going_on_in_any_batches_gives_what_folding_everything_gives(
        steps in histories::steps(60), seed in any::<u64>(), batch in 1_usize..7, in_time in any::<bool>(),
    ) {
        let book = histories::book(&steps);
        for subject in book.subjects() {
            let mut arrived = shuffled(&book.about(subject), seed);
            if in_time {
                arrived.sort_by_key(Recorded::order);
            }
            let expected = kept(&State::fold(subject, &arrived));
            prop_assert_eq!(kept(&gone_on(subject, &arrived, batch)), expected, "{}", subject);
        }
    }

    #[test]
    fn no_honey_and_no_jar_is_lost_or_made_in_any_history(steps in histories::steps(80)) {
        assert_nothing_lost(&histories::book(&steps).house());
        assert_nothing_lost(&histories::book_after_a_harvest(&steps).house());
    }

    #[test]
    fn what_nobody_corrects_counts_once_and_a_withdrawn_draw_gives_its_honey_back(
        steps in histories::steps(40), grams in 1_i64..20_000,
    ) {
        let mut book = histories::book_after_a_harvest(&steps);
        let before = book.state(fill(3)).as_fill().unwrap().content_g;
        let late = minute(9_000);
        let id = book.tell(0, late, drawn(9, 3, grams));
        prop_assert_eq!(book.state(fill(3)).as_fill().unwrap().content_g, before - grams);
        book.tell(1, late, void(id));
        prop_assert_eq!(book.state(fill(3)).as_fill().unwrap().content_g, before);
    }
}

/// Everything that can be asked of a house, asked.
fn ask_everything(house: &House, now: DateTime<Utc>) {
    let _ = next::next(house, now);
    let _ = yields::season(house, 2025);
    let _ = yields::season(house, 1970);
    for (subject, state) in house.iter() {
        let _ = trace::trace(house, subject);
        let _ = (state.label(), state.status(), state.flags().len());
    }
}

#[test]
fn a_tare_heavier_than_the_gross_makes_no_honey_and_a_wet_box_heavier_than_full_no_panic() {
    let mut book = Book::default();
    let domain::entry::Entry::ContainerFilled(mut light) = ran(1, 1, 5_000) else {
        panic!("a fill")
    };
    light.tare_g = common::g(9_000);
    book.tell(0, minute(0), light);
    book.tell(0, minute(1), placed(1, 1));
    book.tell(0, minute(2), received(1, Some(5_000)));
    book.tell(0, minute(3), uncapped(1, 1));
    book.tell(0, minute(4), wet(1, 1, 9_000));
    book.tell(0, minute(5), drawn(1, 1, 1_000));
    let house = book.house();
    assert_eq!(house.fill(fill(1)).unwrap().content_g, -1_000);
    assert_nothing_lost(&house);
    ask_everything(&house, minute(10));
}

#[test]
fn a_lot_made_of_itself_and_of_its_own_grandchild_is_folded_and_traced_once() {
    let mut book = Book::default();
    book.tell(0, minute(0), ran(1, 1, 20_000));
    book.tell(
        0,
        minute(1),
        blended(
            1,
            &[(lot(1).into(), 1_000), (lot(3).into(), 1_000), (fill(1).into(), 5_000)],
        ),
    );
    book.tell(0, minute(2), blended(2, &[(lot(1).into(), 2_000)]));
    book.tell(0, minute(3), blended(3, &[(lot(2).into(), 2_000)]));
    let house = book.house();
    assert_nothing_lost(&house);
    ask_everything(&house, minute(10));
    assert!(trace::descends_from(&house, lot(1).into(), lot(3).into()));
}

#[test]
fn a_blend_of_ten_thousand_parts_is_kept_whole() {
    let mut book = Book::default();
    let parts: Vec<(Subject, i64)> = (0..10_000).map(|part| (Subject::from(fill(part)), 1)).collect();
    book.tell(0, minute(0), blended(1, &parts));
    let state = book.state(lot(1));
    assert_eq!(state.as_lot().unwrap().content_g, 10_000);
    let mut house = House::default();
    house.insert(lot(1).into(), state);
    assert_eq!(trace::trace(&house, lot(1).into()).back.len(), 10_000);
    let _ = next::next(&house, minute(1));
}

#[test]
fn clocks_at_the_beginning_and_the_end_of_time_do_not_stop_the_fold() {
    let mut book = Book::default();
    for (number, when) in [
        at("1970-01-01T00:00:00Z"),
        DateTime::<Utc>::MIN_UTC,
        DateTime::<Utc>::MAX_UTC,
    ]
    .into_iter()
    .enumerate()
    {
        let number = u32::try_from(number).unwrap();
        book.tell(0, when, placed(number, 1));
        book.tell(1, minute(0), pulled(number, Some(2)));
        book.tell(0, when, received(number, Some(20_000)));
        book.tell(2, when, uncapped(number, 1));
        book.tell(2, when, ran(number, 1, 10_000));
        book.tell(2, when, read(fill(number), 1_700));
        book.tell(0, when, placed(number, 3));
    }
    ask_everything(&book.house(), minute(0));
}

#[test]
fn a_box_placed_in_1970_and_pulled_today_stood_all_those_years_and_is_no_second_box() {
    let mut book = Book::default();
    book.tell(0, at("1970-01-01T00:00:00Z"), placed(1, 1));
    book.tell(0, minute(0), pulled(1, Some(1)));
    let state = book.state(honey_super(1));
    assert!(state.flags().is_empty());
    assert_eq!(state.as_super().unwrap().filling.stands.len(), 1);
}

#[test]
fn withdrawals_of_withdrawals_alternate_whatever_their_number() {
    let mut book = Book::default();
    let mut last = book.tell(0, minute(0), ran(1, 1, 10_000));
    for number in 0..8 {
        let expected = if number % 2 == 0 { 10_000 } else { 0 };
        assert_eq!(
            book.state(fill(1)).as_fill().unwrap().content_g,
            expected,
            "after {number} voids"
        );
        last = book.tell(1, minute(1 + number), void(last));
    }
}

#[test]
fn a_chain_of_a_thousand_voids_and_a_thousand_voids_of_one_entry_end() {
    let mut book = Book::default();
    let first = book.tell(0, minute(0), ran(1, 1, 10_000));
    let mut last = first;
    for number in 0..1_000 {
        last = book.tell(1, minute(number), void(last));
    }
    for number in 0..1_000 {
        book.tell(2, minute(number), void(first));
    }
    let told = book.entries.clone();
    let once = kept(&State::fold(fill(1).into(), &told));
    assert_eq!(kept(&State::fold(fill(1).into(), &shuffled(&told, 5))), once);
}

#[test]
fn voids_that_name_each_other_or_themselves_fall_and_the_entry_stands() {
    let mut book = Book::default();
    let told = |number| EntryId::from_uuid(uuid(0xE000, number));
    book.tell(0, minute(0), ran(1, 1, 10_000));
    book.tell(1, minute(1), void(told(3)));
    book.tell(2, minute(2), void(told(2)));
    book.tell(2, minute(3), void(told(4)));
    assert_eq!(book.state(fill(1)).as_fill().unwrap().content_g, 10_000);
}

#[test]
fn amendments_that_name_each_other_or_nothing_known_change_nothing() {
    let mut book = Book::default();
    let told = |number| EntryId::from_uuid(uuid(0xE000, number));
    book.tell(0, minute(0), ran(1, 1, 10_000));
    book.tell(1, minute(1), amend(told(3), ran(1, 1, 1)));
    book.tell(1, minute(2), amend(told(2), ran(1, 1, 2)));
    book.tell(1, minute(3), amend(told(4), ran(1, 1, 3)));
    book.tell(1, minute(4), amend(told(99), ran(1, 1, 4)));
    assert_eq!(book.state(fill(1)).as_fill().unwrap().content_g, 10_000);
}

#[test]
fn an_amendment_made_in_knowledge_of_the_withdrawal_brings_the_entry_back() {
    let mut book = Book::default();
    let first = book.tell(0, minute(0), ran(1, 1, 10_000));
    book.tell(1, minute(1), void(first));
    book.tell(0, minute(2), amend(first, ran(1, 1, 9_000)));
    let state = book.state(fill(1));
    assert_eq!(state.as_fill().unwrap().content_g, 9_000);
    assert!(state.flags().is_empty(), "nothing was done without sight");
}

#[test]
fn a_placing_amended_to_another_box_and_the_amendment_withdrawn_is_about_the_first_box_only() {
    let mut book = Book::default();
    let first = book.tell(0, minute(0), placed(1, 1));
    let amended = book.tell(0, minute(1), amend(first, placed(2, 1)));
    assert_eq!(book.state(honey_super(1)).status(), "in_store");
    assert_eq!(book.state(honey_super(2)).status(), "on_hive");
    book.tell(0, minute(2), void(amended));
    assert_eq!(book.state(honey_super(1)).status(), "on_hive");
    assert_eq!(
        book.state(honey_super(2)).status(),
        "in_store",
        "it was never about this box"
    );
}

#[test]
fn a_history_makes_things_of_every_kind_from_hive_to_buyer() {
    // Guards the properties above: a generator that makes nothing proves nothing.
    let book = histories::book_after_a_harvest(&[]);
    let kinds: BTreeSet<&str> = book.subjects().iter().map(|subject| subject.kind.name()).collect();
    for kind in ["yard", "hive", "super", "run", "fill", "lot", "batch", "delivery"] {
        assert!(kinds.contains(kind), "{kind}");
    }
    let back = trace::trace(&book.house(), batch(1).into()).back;
    assert!(back.iter().any(|step| step.subject.kind.name() == "hive"));
}

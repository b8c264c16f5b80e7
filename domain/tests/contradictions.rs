//! What people without signal write against each other, and the answer of the trade rules.
//!
//! The cases are those of the project's trade rules, marks CF and ST, and of its table of contradictory writings.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

mod common;

use std::collections::BTreeSet;

use common::entries::{
    batch, blended, bottled, delivered, drawn, fill, hive, hold, honey_super, lifted, lot, moved, new_hive, new_super,
    new_yard, placed, pulled, ran, read, received, released, run, shown, uncapped, wet, yard,
};
use common::{Book, amend, minute, void};
use domain::common::{Flag, FlagCode, HoldReason};
use domain::extraction::{HoneyStrained, RunDrained};
use domain::fold::Folded;
use domain::honey_super::{Comb, SuperPlaced};
use domain::ids::{EntryId, HiveId};
use domain::lot::Lot;
use domain::moisture::{HoneyStirred, Shown, Water};
use domain::state::State;
use domain::subject::Subject;
use domain::trace::{Certainty, holds_on, trace};
use domain::units::{Micrometres, Moisture};
use domain::yields::season;

fn flag(state: &State, code: FlagCode) -> &Flag {
    state
        .flags()
        .iter()
        .find(|flag| flag.code == code)
        .unwrap_or_else(|| panic!("{code:?} in {:?}", state.flags()))
}

fn entries(flag: &Flag) -> BTreeSet<EntryId> {
    flag.sides.iter().map(|side| side.entry_id).collect()
}

fn names(flag: &Flag) -> BTreeSet<Subject> {
    flag.sides.iter().filter_map(|side| side.names).collect()
}

fn codes(state: &State) -> Vec<FlagCode> {
    state.flags().iter().map(|flag| flag.code).collect()
}

fn candidates(state: &State) -> Vec<HiveId> {
    state
        .as_super()
        .unwrap()
        .filling
        .stands
        .last()
        .unwrap()
        .candidates()
        .collect()
}

fn set<T: Ord>(all: impl IntoIterator<Item = T>) -> BTreeSet<T> {
    all.into_iter().collect()
}

#[test]
fn a_super_put_on_two_hives_by_two_who_did_not_know_stands_once_and_both_are_named() {
    // Case 1, CF-7: origin "O04 or O05".
    let mut book = Book::default();
    let first = book.tell_having_seen(1, 0, minute(245), placed(17, 4));
    let second = book.tell_having_seen(2, 0, minute(260), placed(17, 5));
    let state = book.state(honey_super(17));
    assert_eq!(state.as_super().unwrap().filling.stands.len(), 1);
    assert_eq!(candidates(&state), [hive(4), hive(5)]);
    let flag = flag(&state, FlagCode::OnTwoHives);
    assert_eq!(entries(flag), set([first, second]));
    assert_eq!(names(flag), set([hive(4).into(), hive(5).into()]));
}

#[test]
fn a_super_put_on_a_second_hive_by_somebody_who_knew_of_the_first_was_moved() {
    let mut book = Book::default();
    book.tell(1, minute(0), placed(17, 4));
    book.tell(2, minute(15), placed(17, 5));
    let state = book.state(honey_super(17));
    let stands = &state.as_super().unwrap().filling.stands;
    assert_eq!(
        stands.iter().map(|stand| stand.hive_id).collect::<Vec<_>>(),
        [hive(4), hive(5)]
    );
    assert_eq!((stands[0].until, stands[1].until), (Some(minute(15)), None));
    assert!(state.flags().is_empty());
}

#[test]
fn a_second_placing_more_than_twelve_hours_later_is_a_move_even_unseen() {
    let mut book = Book::default();
    book.tell_having_seen(1, 0, minute(0), placed(17, 4));
    book.tell_having_seen(2, 0, minute(12 * 60 + 1), placed(17, 5));
    let state = book.state(honey_super(17));
    assert_eq!(state.as_super().unwrap().filling.stands.len(), 2);
    assert!(state.flags().is_empty());
}

#[test]
fn a_pull_that_names_one_of_two_hives_makes_it_likely_and_the_trace_still_names_both() {
    let mut book = Book::default();
    book.tell_having_seen(1, 0, minute(0), placed(17, 4));
    book.tell_having_seen(2, 0, minute(15), placed(17, 5));
    book.tell(1, minute(5_000), pulled(17, Some(5)));
    let state = book.state(honey_super(17));
    assert_eq!(candidates(&state), [hive(5), hive(4)]);
    assert_eq!(codes(&state), [FlagCode::OnTwoHives]);
}

#[test]
fn withdrawing_one_of_two_placings_settles_the_doubt() {
    let mut book = Book::default();
    book.tell_having_seen(1, 0, minute(0), placed(17, 4));
    let wrong = book.tell_having_seen(2, 0, minute(15), placed(17, 5));
    book.tell(2, minute(600), void(wrong));
    let state = book.state(honey_super(17));
    assert_eq!(candidates(&state), [hive(4)]);
    assert!(state.flags().is_empty());
}

#[test]
fn a_pull_told_twice_within_minutes_is_one_pull_with_two_witnesses() {
    // Case 3, CF-2: the first telling gives the time.
    let mut book = Book::default();
    book.tell(1, minute(-9_000), placed(41, 3));
    let saw = book.newest();
    let first = book.tell_having_seen(1, saw, minute(0), pulled(41, Some(3)));
    book.tell_having_seen(2, saw, minute(3), pulled(41, Some(3)));
    let state = book.state(honey_super(41));
    let pulling = state.as_super().unwrap().filling.pulled.clone().unwrap();
    assert_eq!((pulling.entry_id, pulling.at), (first, minute(0)));
    assert!(state.flags().is_empty());
}

#[test]
fn a_pull_told_again_the_next_day_is_flagged_with_both_tellings() {
    let mut book = Book::default();
    book.tell(1, minute(-9_000), placed(41, 3));
    let first = book.tell(1, minute(0), pulled(41, Some(3)));
    let second = book.tell(2, minute(13 * 60), pulled(41, Some(3)));
    assert_eq!(
        entries(flag(&book.state(honey_super(41)), FlagCode::AlreadyPulled)),
        set([first, second])
    );
}

#[test]
fn pulls_from_two_hives_are_disputed_and_the_hive_it_was_put_on_is_likely() {
    // Case 4.
    let mut book = Book::default();
    book.tell(1, minute(-9_000), placed(41, 3));
    let saw = book.newest();
    book.tell_having_seen(1, saw, minute(0), pulled(41, Some(3)));
    book.tell_having_seen(2, saw, minute(3), pulled(41, Some(7)));
    let state = book.state(honey_super(41));
    assert_eq!(candidates(&state), [hive(3), hive(7)]);
    assert_eq!(
        names(flag(&state, FlagCode::PulledFromOtherHive)),
        set([hive(3).into(), hive(7).into()])
    );
}

#[test]
fn a_second_witness_who_names_another_hive_than_it_stood_on_is_not_overheard() {
    // CF-4: more origins over fewer, also where the first witness named no hive at all.
    let mut book = Book::default();
    book.tell(1, minute(-9_000), placed(41, 3));
    let saw = book.newest();
    book.tell_having_seen(1, saw, minute(0), pulled(41, None));
    book.tell_having_seen(2, saw, minute(3), pulled(41, Some(7)));
    let state = book.state(honey_super(41));
    assert_eq!(candidates(&state), [hive(3), hive(7)]);
    assert_eq!(codes(&state), [FlagCode::PulledFromOtherHive]);
}

#[test]
fn a_pull_of_a_super_never_placed_is_flagged_until_the_placing_arrives() {
    // Sync scenario 19.
    let mut book = Book::default();
    book.tell_having_seen(1, 0, minute(0), pulled(41, Some(3)));
    assert_eq!(codes(&book.state(honey_super(41))), [FlagCode::NeverPlaced]);
    assert!(book.state(honey_super(41)).as_super().unwrap().filling.stands[0].assumed);
    book.tell_having_seen(2, 0, minute(-9_000), placed(41, 3));
    let state = book.state(honey_super(41));
    assert!(state.flags().is_empty());
    assert!(!state.as_super().unwrap().filling.stands[0].assumed);
}

#[test]
fn a_super_shifted_after_it_was_spun_gathers_a_new_filling_and_the_old_one_keeps_its_hive() {
    // ST-5: that it was put back is a skipped step, no reason to add a hive to honey that is in a pail already.
    let mut book = Book::default();
    book.tell(1, minute(0), placed(41, 3));
    book.tell(1, minute(100), uncapped(41, 1));
    book.tell(1, minute(9_000), moved(41, 5, 6));
    book.tell(1, minute(19_000), uncapped(41, 2));
    let state = book.state(honey_super(41));
    assert!(state.flags().is_empty(), "{:?}", state.flags());
    let state = state.as_super().unwrap();
    let hives = |of: u32| -> Vec<HiveId> {
        state
            .filling_of(run(of))
            .unwrap()
            .stands
            .iter()
            .map(|stand| stand.hive_id)
            .collect()
    };
    assert_eq!(hives(1), [hive(3)]);
    assert_eq!(hives(2), [hive(5), hive(6)]);
}

#[test]
fn a_super_spun_in_two_runs_without_a_hive_between_is_possibly_in_both() {
    let mut book = Book::default();
    book.tell(1, minute(0), placed(41, 3));
    let saw = book.newest();
    book.tell_having_seen(1, saw, minute(100), uncapped(41, 1));
    book.tell_having_seen(2, saw, minute(130), uncapped(41, 2));
    let house = book.house();
    assert_eq!(
        names(flag(&book.state(honey_super(41)), FlagCode::ExtractedTwice)),
        set([run(1).into(), run(2).into()])
    );
    let back = trace(&house, run(2).into(), minute(90_000)).back;
    let of_hive = back.iter().find(|step| step.subject == hive(3).into()).unwrap();
    assert_eq!(of_hive.certainty, Certainty::Possible);
}

#[test]
fn a_super_told_late_but_spun_before_the_drain_belongs_to_the_run_and_one_spun_after_is_flagged() {
    // Case 15.
    let mut book = Book::default();
    book.tell(1, minute(0), placed(88, 3));
    book.tell(
        1,
        minute(540),
        RunDrained {
            run_id: run(1),
            left_in_machine_g: None,
        },
    );
    book.tell_having_seen(2, 0, minute(490), uncapped(88, 1));
    assert!(book.state(run(1)).flags().is_empty());
    assert_eq!(book.state(run(1)).as_run().unwrap().supers.len(), 1);
    book.tell_having_seen(2, 0, minute(600), uncapped(89, 1));
    assert_eq!(codes(&book.state(run(1))), [FlagCode::AddedAfterDrained]);
    assert_eq!(book.state(run(1)).as_run().unwrap().supers.len(), 2);
}

#[test]
fn an_overdrawn_pail_keeps_both_draws_and_names_them() {
    // Case 6, CF-9: 27 kg, drawn 6 and 25, is 4 kg below nothing.
    let mut book = Book::default();
    book.tell(1, minute(0), ran(22, 1, 27_000));
    let saw = book.newest();
    let small = book.tell_having_seen(1, saw, minute(10), drawn(1, 22, 6_000));
    let large = book.tell_having_seen(2, saw, minute(20), drawn(2, 22, 25_000));
    let state = book.state(fill(22));
    assert_eq!(
        (state.as_fill().unwrap().content_g, state.status()),
        (-4_000, "overdrawn")
    );
    assert_eq!(state.as_fill().unwrap().taken_out.len(), 2);
    let sides = &flag(&state, FlagCode::Overdrawn).sides;
    assert_eq!(
        sides
            .iter()
            .map(|side| (side.entry_id, side.names, side.amount))
            .collect::<BTreeSet<_>>(),
        set([
            (small, Some(lot(1).into()), Some(6_000)),
            (large, Some(lot(2).into()), Some(25_000))
        ])
    );
}

#[test]
fn half_a_kilogram_below_nothing_is_the_scale_and_no_overdraft() {
    // CF-9: down to -0.5 kg.
    let mut book = Book::default();
    book.tell(1, minute(0), ran(22, 1, 27_000));
    book.tell(1, minute(10), drawn(1, 22, 27_500));
    assert!(book.state(fill(22)).flags().is_empty());
    assert_eq!(book.state(fill(22)).status(), "empty");
}

#[test]
fn an_overdraft_that_a_corrected_weight_explains_is_no_longer_flagged() {
    let mut book = Book::default();
    book.tell(1, minute(0), ran(22, 1, 2_700));
    book.tell(1, minute(10), drawn(1, 22, 6_000));
    assert_eq!(codes(&book.state(fill(22))), [FlagCode::Overdrawn]);
    // The pail weighed again and told as such, and not as a correction of the first telling.
    book.tell(1, minute(20), ran(22, 1, 27_000));
    assert_eq!(codes(&book.state(fill(22))), [FlagCode::WeightsDiffer]);
    assert_eq!(book.state(fill(22)).as_fill().unwrap().content_g, 21_000);
}

#[test]
fn two_weighings_of_one_super_use_the_later_and_are_flagged_when_they_differ() {
    // CF-10: more than 0.2 kg or 1 % of the one used.
    let mut book = Book::default();
    book.tell(1, minute(0), placed(41, 3));
    book.tell(1, minute(9_000), received(41, Some(28_400)));
    let again = book.tell(2, minute(9_060), received(41, Some(27_900)));
    let state = book.state(honey_super(41));
    let full = state.as_super().unwrap().filling.full.clone().unwrap();
    assert_eq!((full.entry_id, full.gross_g.get()), (again, 27_900));
    let amounts = flag(&state, FlagCode::WeightsDiffer)
        .sides
        .iter()
        .filter_map(|side| side.amount);
    assert_eq!(set(amounts), set([28_400, 27_900]));
}

#[test]
fn a_super_weighed_only_after_drying_has_lost_no_water_that_its_weight_still_shows() {
    let mut book = Book::default();
    book.tell(1, minute(0), placed(41, 3));
    book.tell(1, minute(9_000), received(41, None));
    book.tell(1, minute(9_001), read(honey_super(41), 1_950));
    book.tell(
        1,
        minute(9_002),
        domain::warm_room::DryingStarted {
            super_ids: vec![honey_super(41)],
            room_id: None,
        },
    );
    book.tell(
        1,
        minute(12_000),
        domain::warm_room::DryingStopped {
            super_ids: vec![honey_super(41)],
            room_id: None,
        },
    );
    let before = |book: &Book| {
        book.state(honey_super(41))
            .as_super()
            .unwrap()
            .filling
            .before_drying_hundredths
    };
    assert_eq!(before(&book), Some(Moisture::constant(1_950)));
    book.tell(1, minute(12_010), received(41, Some(21_000)));
    assert_eq!(before(&book), None);
}

#[test]
fn of_two_moistures_the_higher_decides_until_the_honey_is_stirred_and_measured_again() {
    // Case 7, CF-11, MO-10: 17.6 and 18.9 decide as 18.9.
    let mut book = Book::default();
    book.tell(1, minute(0), ran(1, 1, 20_000));
    book.tell(1, minute(10), drawn(5, 1, 20_000));
    book.tell(1, minute(20), read(lot(5), 1_760));
    book.tell(2, minute(30), read(lot(5), 1_890));
    let water = |book: &Book| book.state(lot(5)).as_lot().unwrap().water();
    assert_eq!(water(&book).measured(), Some(Moisture::constant(1_890)));
    book.tell(2, minute(40), HoneyStirred { target: lot(5).into() });
    assert_eq!(water(&book), Water::Unmeasured);
    book.tell(2, minute(50), read(lot(5), 1_800));
    assert_eq!(water(&book).measured(), Some(Moisture::constant(1_800)));
    book.tell(2, minute(60), shown(lot(5), Shown::OffScaleWet));
    assert!(matches!(water(&book), Water::OffScaleWet { .. }));
}

/// A lot of one pail, measured.
fn lot_of_a_pail() -> Book {
    let mut book = Book::default();
    book.tell(1, minute(0), ran(1, 1, 20_000));
    book.tell(1, minute(10), drawn(5, 1, 20_000));
    book.tell(1, minute(20), read(lot(5), 1_720));
    book
}

#[test]
fn a_release_that_did_not_know_of_a_hold_does_not_end_it_whichever_comes_first() {
    // Case 9, CF-12.
    for (hold_at, release_at) in [(100, 200), (200, 100)] {
        let mut book = lot_of_a_pail();
        let saw = book.newest();
        let hold = book.tell_having_seen(1, saw, minute(hold_at), hold(lot(5), HoldReason::Complaint));
        let release = book.tell_having_seen(2, saw, minute(release_at), released(5));
        let state = book.state(lot(5));
        assert_eq!(state.status(), "on_hold");
        assert_eq!(
            entries(flag(&state, FlagCode::ReleasedWithoutSightOfHold)),
            set([hold, release])
        );
        book.tell_having_seen(2, saw, minute(300), bottled(1, 5, 12));
        assert_eq!(
            holds_on(&book.house(), batch(1).into(), minute(90_000)).len(),
            1,
            "jars filled under it are held"
        );
    }
}

#[test]
fn a_release_in_knowledge_of_a_hold_is_no_contradiction_and_the_hold_stands_all_the_same() {
    let mut book = lot_of_a_pail();
    let id = book.tell(1, minute(100), hold(lot(5), HoldReason::Complaint));
    book.tell(2, minute(200), released(5));
    assert!(book.state(lot(5)).flags().is_empty());
    assert_eq!(book.state(lot(5)).status(), "on_hold");
    book.tell(2, minute(300), lifted(lot(5), id));
    assert_eq!(book.state(lot(5)).status(), "released");
}

#[test]
fn the_end_of_a_hold_whose_clock_lies_before_its_beginning_still_ends_it() {
    let mut book = lot_of_a_pail();
    let id = book.tell(1, minute(100), hold(lot(5), HoldReason::Complaint));
    book.tell(2, minute(90), lifted(lot(5), id));
    assert!(book.state(lot(5)).holds()[0].lifted.is_some());
}

#[test]
fn a_withdrawal_without_sight_of_the_correction_does_not_win_and_leaves_a_doubt() {
    // CF-14.
    let mut book = Book::default();
    let first = book.tell(1, minute(0), ran(22, 1, 2_700));
    let saw = book.newest();
    book.tell_having_seen(2, saw, minute(10), void(first));
    book.tell_having_seen(1, saw, minute(20), amend(first, ran(22, 1, 27_000)));
    let state = book.state(fill(22));
    assert_eq!(state.as_fill().unwrap().content_g, 27_000);
    assert_eq!(entries(flag(&state, FlagCode::VoidedWithoutSight)), set([first]));
}

#[test]
fn a_withdrawal_that_knew_of_the_correction_wins() {
    let mut book = Book::default();
    let first = book.tell(1, minute(0), ran(22, 1, 2_700));
    book.tell(1, minute(20), amend(first, ran(22, 1, 27_000)));
    book.tell(2, minute(30), void(first));
    assert_eq!(book.state(fill(22)).status(), "not_filled");
}

#[test]
fn a_withdrawn_withdrawal_restores_what_was_told() {
    // Sync scenario 21.
    let mut book = Book::default();
    let first = book.tell(1, minute(0), placed(17, 4));
    let void_of_it = book.tell(1, minute(10), void(first));
    assert_eq!(book.state(honey_super(17)).status(), "in_store");
    book.tell(1, minute(20), void(void_of_it));
    assert_eq!(book.state(honey_super(17)).status(), "on_hive");
}

#[test]
fn an_amendment_of_an_amendment_counts_and_a_withdrawn_one_gives_way_to_the_one_before() {
    let mut book = Book::default();
    let first = book.tell(1, minute(0), ran(22, 1, 1_000));
    let second = book.tell(1, minute(1), amend(first, ran(22, 1, 2_000)));
    let third = book.tell(1, minute(2), amend(second, ran(22, 1, 3_000)));
    let content = |book: &Book| book.state(fill(22)).as_fill().unwrap().content_g;
    assert_eq!(content(&book), 3_000);
    book.tell(1, minute(3), void(third));
    assert_eq!(content(&book), 2_000);
}

#[test]
fn an_amendment_that_arrives_before_its_original_is_kept_and_applied_when_it_comes() {
    // Sync scenario 20.
    let mut book = Book::default();
    let original = EntryId::from_uuid(common::uuid(0xE000, 2));
    book.tell_having_seen(2, 0, minute(10), amend(original, ran(22, 1, 27_000)));
    let about: Subject = fill(22).into();
    let mut kept: Folded<domain::fill::Fill> = domain::fold::fold(about, &book.about(about));
    assert_eq!(kept.state.content_g, 0);
    assert_eq!(book.tell_having_seen(1, 0, minute(20), ran(22, 1, 2_700)), original);
    assert!(
        !kept.go_on(about, book.entries[1..].iter().collect()),
        "its correction is waiting for it"
    );
    assert_eq!(book.state(fill(22)).as_fill().unwrap().content_g, 27_000);
}

#[test]
fn a_part_that_comes_to_a_lot_after_jars_were_filled_from_it_is_flagged_and_ends_its_release() {
    // Sync scenario 22.
    let mut book = lot_of_a_pail();
    book.tell(1, minute(30), released(5));
    let jars = book.tell(1, minute(40), bottled(1, 5, 12));
    let late = book.tell(2, minute(50), blended(5, &[(fill(2).into(), 3_000)]));
    let state = book.state(lot(5));
    assert_eq!(entries(flag(&state, FlagCode::LateForBottledLot)), set([jars, late]));
    let lot: &Lot = state.as_lot().unwrap();
    assert_eq!(
        (lot.content_g, lot.released().is_some(), lot.readings.len()),
        (17_000, false, 0)
    );
}

#[test]
fn a_torn_screen_holds_the_run_and_all_that_came_of_it_until_a_named_person_ends_it() {
    let mut book = lot_of_a_pail();
    let strained = HoneyStrained {
        run_id: run(1),
        mesh_um: Micrometres::constant(400),
        whole_before: Some(true),
        whole_after: Some(false),
    };
    let torn = book.tell(1, minute(5), strained);
    book.tell(1, minute(40), bottled(1, 5, 12));
    for subject in [Subject::from(run(1)), fill(1).into(), lot(5).into(), batch(1).into()] {
        let held = holds_on(&book.house(), subject, minute(90_000));
        assert_eq!(
            held.iter().map(|held| (held.hold_id, held.reason)).collect::<Vec<_>>(),
            [(torn, HoldReason::ForeignMatter)]
        );
    }
    book.tell(2, minute(60), lifted(run(1), torn));
    assert!(holds_on(&book.house(), batch(1).into(), minute(90_000)).is_empty());
}

/// A super on one of two hives of one yard, spun, filled, drawn and put into jars.
fn disputed_super_in_jars() -> Book {
    let mut book = Book::default();
    book.tell(0, minute(-99), new_yard(1, "east yard"));
    book.tell(0, minute(-98), new_hive(4, 1, "O04"));
    book.tell(0, minute(-98), new_hive(5, 1, "O05"));
    book.tell(0, minute(-98), new_super(17));
    let saw = book.newest();
    book.tell_having_seen(1, saw, minute(0), placed(17, 4));
    book.tell_having_seen(2, saw, minute(15), placed(17, 5));
    book.tell(1, minute(5_000), pulled(17, None));
    book.tell(1, minute(5_100), received(17, Some(21_000)));
    book.tell(1, minute(5_200), uncapped(17, 1));
    book.tell(1, minute(5_300), wet(17, 1, 8_000));
    book.tell(1, minute(5_400), ran(1, 1, 12_500));
    book.tell(1, minute(5_500), drawn(5, 1, 12_500));
    book.tell(1, minute(5_600), bottled(1, 5, 12));
    book.tell(1, minute(5_700), delivered(1, 1, 6, Some(1)));
    book
}

#[test]
fn holds_of_both_hives_of_a_disputed_super_apply_down_to_the_jars() {
    // CF-7, BL-4, RC-3.
    let mut book = disputed_super_in_jars();
    let four = book.tell(1, minute(1_000), hold(hive(4), HoldReason::Treatment));
    let five = book.tell(1, minute(1_000), hold(hive(5), HoldReason::Feed));
    let after = book.tell(1, minute(5_050), hold(hive(5), HoldReason::Disease));
    for subject in [
        Subject::from(honey_super(17)),
        run(1).into(),
        fill(1).into(),
        lot(5).into(),
        batch(1).into(),
    ] {
        let held = holds_on(&book.house(), subject, minute(90_000));
        assert_eq!(
            set(held.iter().map(|held| held.hold_id)),
            set([four, five]),
            "{subject}; not {after}, set after it left"
        );
        assert!(held.iter().all(|held| held.certainty == Certainty::Possible));
    }
}

#[test]
fn honey_of_a_disputed_hive_stays_with_the_yard_and_with_no_hive() {
    // AL-5: never spread silently, always printed.
    let season = season(&disputed_super_in_jars().house(), 2025);
    let row = &season.yards[0];
    assert_eq!(
        (row.yield_g, row.unassigned_in_yard_g, season.unassigned_g),
        (12_500, 12_500, 0)
    );
    assert_eq!((row.producing_low, row.producing_high), (1, 1 + 1), "AN-3: a range");
    let hives: Vec<(String, i64, i64)> = season
        .hives
        .iter()
        .map(|hive| (hive.code.clone(), hive.yield_g, hive.disputed_g))
        .collect();
    assert_eq!(hives, [("O04".to_owned(), 0, 12_500), ("O05".to_owned(), 0, 12_500)]);
}

#[test]
fn the_buyer_of_jars_of_a_disputed_super_is_found_from_either_hive() {
    let house = disputed_super_in_jars().house();
    for number in [4, 5] {
        let forward = trace(&house, hive(number).into(), minute(90_000));
        assert_eq!(forward.affected.jars, 12);
        assert_eq!(forward.affected.customers, [common::entries::customer(1).into()]);
        assert_eq!(forward.affected.batches[0].certainty, Certainty::Possible);
    }
    assert_eq!(
        trace(&house, yard(1).into(), minute(90_000)).affected.batches[0].certainty,
        Certainty::Sure,
        "the yard is certain"
    );
}

fn refilled(comb: Comb) -> (Book, EntryId) {
    let mut book = Book::default();
    book.tell(1, minute(0), placed(41, 3));
    let hold = book.tell(1, minute(100), hold(hive(3), HoldReason::Treatment));
    book.tell(1, minute(1_000), uncapped(41, 1));
    book.tell(
        1,
        minute(9_000),
        SuperPlaced {
            super_id: honey_super(41),
            hive_id: hive(7),
            comb: Some(comb),
        },
    );
    book.tell(1, minute(19_000), uncapped(41, 2));
    book.tell(1, minute(19_100), ran(2, 2, 12_000));
    (book, hold)
}

#[test]
fn a_box_put_back_sticky_brings_the_holds_of_its_last_filling_along_and_a_dry_one_does_not() {
    // AL-6.
    let (book, hold) = refilled(Comb::Wet);
    assert_eq!(
        holds_on(&book.house(), fill(2).into(), minute(90_000))
            .iter()
            .map(|held| held.hold_id)
            .collect::<Vec<_>>(),
        [hold]
    );
    let (book, _) = refilled(Comb::Drawn);
    assert!(holds_on(&book.house(), fill(2).into(), minute(90_000)).is_empty());
}

#[test]
fn more_jars_out_than_filled_are_flagged_and_coming_back_they_clear_it() {
    // ST-11, MB-5.
    let mut book = lot_of_a_pail();
    book.tell(1, minute(40), bottled(1, 5, 12));
    let saw = book.newest();
    book.tell_having_seen(1, saw, minute(50), delivered(1, 1, 10, Some(1)));
    book.tell_having_seen(2, saw, minute(55), delivered(2, 1, 10, None));
    assert_eq!(codes(&book.state(batch(1))), [FlagCode::MoreOutThanFilled]);
    let back = domain::delivery::Returned {
        delivery_id: common::entries::delivery(2),
        batch_id: batch(1),
        jars: common::count(10),
        reason: None,
    };
    book.tell(2, minute(60), back);
    assert!(book.state(batch(1)).flags().is_empty());
    assert_eq!(book.state(batch(1)).as_batch().unwrap().jars_in_stock, 2);
}

#[test]
fn the_order_of_arrival_changes_none_of_these_answers() {
    let book = disputed_super_in_jars();
    for subject in book.subjects() {
        let told = book.about(subject);
        let backwards: Vec<_> = told.iter().rev().cloned().collect();
        assert_eq!(State::fold(subject, &told), State::fold(subject, &backwards));
    }
}

/// A super on a hive of the west yard that was carried to the east yard with it, and spun there.
fn carried_to_another_yard() -> Book {
    let mut book = Book::default();
    book.tell(1, minute(-90_000), new_yard(1, "west yard"));
    book.tell(1, minute(-90_000), new_yard(2, "east yard"));
    book.tell(1, minute(-90_000), new_hive(3, 1, "W03"));
    book.tell(1, minute(-80_000), placed(41, 3));
    book.tell(
        1,
        minute(-40_000),
        domain::hive::HiveMoved {
            hive_id: hive(3),
            yard_id: yard(2),
            permit: None,
        },
    );
    book.tell(1, minute(0), pulled(41, Some(3)));
    book.tell(1, minute(100), uncapped(41, 1));
    book.tell(1, minute(200), ran(1, 1, 12_000));
    book
}

#[test]
fn a_super_carried_to_another_yard_with_its_hive_meets_the_holds_of_both_yards() {
    // DI-2, AL-7, CF-4: more origins over fewer.
    let mut book = carried_to_another_yard();
    let west = book.tell(1, minute(-50_000), hold(yard(1), HoldReason::Disease));
    let east = book.tell(1, minute(-30_000), hold(yard(2), HoldReason::Disease));
    let house = book.house();
    assert_eq!(
        set(holds_on(&house, fill(1).into(), minute(90_000))
            .iter()
            .map(|held| held.hold_id)),
        set([west, east])
    );
    for number in [1, 2] {
        let forward = trace(&house, yard(number).into(), minute(90_000)).forward;
        assert!(
            forward
                .iter()
                .any(|step| step.subject == fill(1).into() && step.certainty == Certainty::Sure)
        );
    }
}

#[test]
fn honey_of_a_hive_carried_outside_any_flow_is_counted_where_the_super_was_pulled() {
    // AL-7: no day in any flow, so to the place of the pull, letter C at best.
    let season = season(&carried_to_another_yard().house(), 2025);
    let of = |name: &str| season.yards.iter().find(|yard| yard.name == name).unwrap().yield_g;
    assert_eq!((of("west yard"), of("east yard")), (0, 12_000));
}

#[test]
fn a_part_told_late_of_a_time_before_the_jars_joins_the_lot_and_opens_a_review() {
    // Sync scenario 22, CF-4: it stays in the trace, and somebody has to look at the jars again.
    let mut book = lot_of_a_pail();
    let jars = book.tell(1, minute(40), bottled(1, 5, 12));
    let late = book.tell_having_seen(2, 0, minute(15), blended(5, &[(fill(2).into(), 3_000)]));
    let state = book.state(lot(5));
    assert_eq!(entries(flag(&state, FlagCode::LateForBottledLot)), set([jars, late]));
    assert_eq!(state.as_lot().unwrap().parts.len(), 2, "the trace has it all the same");
    let doubts = domain::doubts::doubts(&book.house());
    let review = doubts.iter().find_map(|doubt| match doubt {
        domain::doubts::Doubt::LateForJars {
            subject,
            entry_ids,
            batch_ids,
            ..
        } => Some((*subject, entry_ids.clone(), batch_ids.clone())),
        _ => None,
    });
    assert_eq!(review, Some((lot(5).into(), vec![late], vec![batch(1)])));
}

#[test]
fn a_part_that_arrived_before_the_jars_is_not_late_whatever_its_clock_says() {
    let mut book = lot_of_a_pail();
    book.tell_having_seen(2, 0, minute(15), blended(5, &[(fill(2).into(), 3_000)]));
    book.tell(1, minute(40), bottled(1, 5, 12));
    let flags = codes(&book.state(lot(5)));
    assert!(!flags.contains(&FlagCode::LateForBottledLot), "{flags:?}");
}

#[test]
fn a_wetter_reading_that_arrives_after_the_jars_opens_a_review_and_one_taken_after_them_does_not() {
    // Sync scenario 22: what decided when the jars were filled was not all that had been measured.
    let mut book = lot_of_a_pail();
    let jars = book.tell(1, minute(40), bottled(1, 5, 12));
    book.tell(2, minute(50), read(lot(5), 1_900));
    assert!(book.state(lot(5)).flags().is_empty());
    let late = book.tell_having_seen(2, 0, minute(25), read(lot(5), 1_950));
    assert_eq!(
        entries(flag(&book.state(lot(5)), FlagCode::LateForBottledLot)),
        set([jars, late])
    );
}

#[test]
fn a_super_told_late_of_a_run_that_is_in_jars_opens_a_review_with_the_jars_and_their_buyers() {
    let mut book = disputed_super_in_jars();
    book.tell(0, minute(10), new_super(18));
    book.tell(0, minute(11), placed(18, 4));
    let late = book.tell_having_seen(2, 0, minute(5_250), uncapped(18, 1));
    let review = domain::doubts::doubts(&book.house())
        .into_iter()
        .find_map(|doubt| match doubt {
            domain::doubts::Doubt::LateForJars {
                subject,
                entry_ids,
                batch_ids,
                customer_ids,
            } => Some((subject, entry_ids, batch_ids, customer_ids)),
            _ => None,
        });
    let buyers = vec![common::entries::customer(1)];
    assert_eq!(review, Some((run(1).into(), vec![late], vec![batch(1)], buyers)));
}

#[test]
fn a_batch_told_of_two_lots_is_flagged_and_traced_to_both() {
    // ID-7, CF-4: more origins over fewer.
    let mut book = lot_of_a_pail();
    book.tell(1, minute(12), ran(2, 2, 9_000));
    book.tell(1, minute(13), drawn(6, 2, 9_000));
    let first = book.tell(1, minute(40), bottled(1, 5, 12));
    let second = book.tell_having_seen(2, 0, minute(45), bottled(1, 6, 12));
    let state = book.state(batch(1));
    assert_eq!(entries(flag(&state, FlagCode::OfTwoOrigins)), set([first, second]));
    assert_eq!(set(state.as_batch().unwrap().lots()), set([lot(5), lot(6)]));
    let house = book.house();
    let back = trace(&house, batch(1).into(), minute(900_000)).back;
    for origin in [Subject::from(lot(5)), lot(6).into(), run(1).into(), run(2).into()] {
        let step = back.iter().find(|step| step.subject == origin).unwrap();
        assert_eq!(step.certainty, Certainty::Possible, "{origin}");
        let forward = trace(&house, origin, minute(900_000)).forward;
        assert!(forward.iter().any(|step| step.subject == batch(1).into()));
    }
}

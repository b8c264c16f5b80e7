//! What things are (ID), what is told of them against each other (CF), and what makes a lot (LO) by the project's trade rules.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

mod common;

use std::collections::BTreeSet;

use common::asking::{refusal, status, told, warned};
use common::care::{colony, colony_moved, inspected, label, new_colony, put_in};
use common::entries::{
    blended, drawn, fill, hive, honey_super, lot, new_hive, new_super, new_yard, placed, pulled, ran, run, uncapped,
    yard,
};
use common::{Book, amend, g, minute, name, uuid, void};
use domain::common::FlagCode;
use domain::decide::decide;
use domain::doubts::{Doubt, doubts};
use domain::entry::Entry;
use domain::subject::Subject;
use domain::trace::{holds_on, trace};
use domain::units::FrameCount;
use serde_json::json;

fn yards() -> Book {
    let mut book = Book::default();
    book.tell(0, minute(-90_000), new_yard(1, "east yard"));
    for number in [4, 5] {
        book.tell(0, minute(-90_000), new_hive(number, 1, &format!("O{number:02}")));
    }
    for number in [17, 41] {
        book.tell(0, minute(-80_000), new_super(number));
    }
    book
}

// ID-1: bees go to another hive and take their treatment along; the super stays on the hive it stands on.
#[test]
fn bees_move_with_what_they_carry_and_supers_stay_on_the_hive() {
    let mut book = yards();
    book.tell(0, minute(-80_000), label(1, 0, false));
    book.tell(0, minute(-80_000), new_colony(1, 4, None));
    book.tell(0, minute(-9_000), placed(17, 4));
    let cause = book.tell(0, minute(-8_000), put_in(&[4], 1));
    book.tell(0, minute(-7_000), colony_moved(1, 5));
    let house = book.house();
    assert_eq!(house.colony(colony(1)).unwrap().homes.last().unwrap().hive_id, hive(5));
    assert_eq!(house.honey_super(honey_super(17)).unwrap().on_hive(), Some(hive(4)));
    let held = |of: Subject| holds_on(&house, of, minute(0)).iter().any(|held| held.hold_id == cause);
    assert!(held(hive(5).into()) && !held(hive(4).into()));
}

// ID-2: two boxes may bear one number; each keeps its own history, and a suffix tells them apart.
#[test]
fn two_boxes_with_one_number_keep_their_histories() {
    let mut book = yards();
    let mut second = json!({"super_id": honey_super(42), "number": "S041", "class": "medium", "frames": 10});
    assert_eq!(
        warned(&book.house(), &told("super_registered", second.clone())),
        ["number_taken"]
    );
    book.tell(1, minute(0), told("super_registered", second.take()));
    book.tell(1, minute(10), placed(41, 4));
    book.tell(1, minute(10), placed(42, 5));
    let house = book.house();
    let shared = doubts(&house)
        .into_iter()
        .find(|doubt| matches!(doubt, Doubt::SharedNumber { .. }))
        .unwrap();
    assert_eq!(shared.rule(), "ID-2");
    let labels = [41, 42].map(|number| house.label(honey_super(number).into()));
    assert_eq!(labels, ["S041a", "S041b"]);
    let on = [41, 42].map(|number| house.honey_super(honey_super(number)).unwrap().on_hive());
    assert_eq!(on, [Some(hive(4)), Some(hive(5))]);
    book.tell(
        1,
        minute(20),
        told(
            "super_described",
            json!({"super_id": honey_super(42), "number": "S041 north"}),
        ),
    );
    assert!(
        !doubts(&book.house())
            .iter()
            .any(|doubt| matches!(doubt, Doubt::SharedNumber { .. }))
    );
}

// ID-3: frames are not followed; a count of those set aside is, and they give no honey.
#[test]
fn frames_set_aside_are_counted_and_nothing_else_of_frames() {
    let mut book = yards();
    book.tell(1, minute(-9_000), placed(17, 4));
    let pull = json!({"super_id": honey_super(17), "full_frames": 9, "brood_seen": true});
    book.tell(1, minute(0), told("super_pulled", pull));
    book.tell(1, minute(100), uncapped(17, 1));
    for (frames, aside) in [(2, 2), (3, 3), (1, 3)] {
        // Told again it is the same handful, so the larger count stands.
        let data = json!({"run_id": run(1), "super_id": honey_super(17), "frames": frames});
        book.tell(1, minute(100 + frames), told("frames_set_aside", data));
        let house = book.house();
        let state = house.honey_super(honey_super(17)).unwrap();
        let filling = state.filling_of(run(1)).unwrap();
        assert_eq!(filling.frames_set_aside, Some(FrameCount::constant(aside)));
        let quarters = 4 * (9 - u32::try_from(aside).unwrap());
        assert_eq!(state.frame_equivalents_quarters(filling), Some(quarters));
    }
    assert!(
        holds_on(&book.house(), run(1).into(), minute(2_000)).is_empty(),
        "DI-1: the brood is out of it"
    );
}

// ID-4: an extractor that was not drained goes on with the same run; once drained, nothing more belongs to it.
#[test]
fn a_run_lasts_until_its_extractor_is_drained() {
    let mut book = yards();
    for number in [17, 41] {
        book.tell(1, minute(-9_000), placed(number, number % 2 + 4));
        book.tell(1, minute(0), pulled(number, None));
    }
    book.tell(
        1,
        minute(10),
        told("run_opened", json!({"run_id": run(1), "extractor": "radial 20"})),
    );
    book.tell(1, minute(20), uncapped(17, 1));
    let second = told("run_opened", json!({"run_id": run(2), "extractor": "Radial 20"}));
    assert_eq!(warned(&book.house(), &second), ["extractor_in_use"]);
    book.tell(1, minute(30), told("run_drained", json!({"run_id": run(1)})));
    assert!(warned(&book.house(), &second).is_empty());
    assert_eq!(refusal(&book.house(), &uncapped(41, 1)), "run_drained");
    book.tell(1, minute(40), uncapped(41, 1));
    assert_eq!(book.state(run(1)).flags()[0].code, FlagCode::AddedAfterDrained);
}

// ID-5: one pail in June and in August is two fills, and each has its own source and weight.
#[test]
fn one_pail_is_another_fill_after_each_washing() {
    let mut book = yards();
    let pail =
        json!({"container_id": uuid(10, 1), "number": "P14", "container": "pail", "tare_g": 1_200, "holds_ml": 14_000});
    book.tell(0, minute(-9_000), told("container_registered", pail));
    let filled = |number: u32, of: u32| {
        let data = json!({"fill_id": fill(number), "source": {"run_id": run(of)}, "gross_g": 13_200, "tare_g": 1_200,
            "container_id": uuid(10, 1)});
        told("container_filled", data)
    };
    book.tell(1, minute(0), filled(1, 1));
    book.tell(1, minute(10), drawn(5, 1, 12_000));
    assert_eq!(warned(&book.house(), &filled(2, 2)), ["not_washed"], "ST-7");
    book.tell(
        1,
        minute(20),
        told("container_washed", json!({"container_id": uuid(10, 1)})),
    );
    assert!(warned(&book.house(), &filled(2, 2)).is_empty());
    book.tell(1, minute(60_000), filled(2, 2));
    let house = book.house();
    let back = |of: u32| trace(&house, fill(of).into(), minute(90_000)).back;
    assert!(back(1).iter().all(|step| step.subject != run(2).into()));
    assert!(back(2).iter().all(|step| step.subject != run(1).into()));
    assert_eq!(
        (
            house.fill(fill(1)).unwrap().content_g,
            house.fill(fill(2)).unwrap().content_g
        ),
        (0, 12_000)
    );
}

// ID-9: what nobody looked at is neither no nor nought, and a later look that leaves it out takes nothing back.
#[test]
fn what_nobody_looked_at_is_left_open() {
    let mut book = yards();
    book.tell(1, minute(-9_000), placed(17, 4));
    book.tell(1, minute(0), pulled(17, None));
    let state = book.state(honey_super(17));
    let pulling = state.as_super().unwrap().filling.pulled.clone().unwrap();
    assert_eq!(
        (pulling.brood_seen, pulling.capped_percent, pulling.fullness_quarters),
        (None, None, None)
    );
    let json = state.state_json();
    assert!(
        !json.contains("brood_seen") && !json.contains("capped_percent"),
        "{json}"
    );
    book.tell(1, minute(10), inspected(4, Some(true)));
    book.tell(1, minute(20), inspected(4, None));
    let seen = book.house().hive(hive(4)).unwrap().inspected.clone().unwrap();
    assert_eq!(
        (seen.eggs.unwrap().what, seen.eggs.unwrap().at, seen.at),
        (true, minute(10), minute(20))
    );
    assert!(seen.queen.is_none() && seen.brood_frames.is_none());
}

// ID-10: a correction is one more entry with its reason; the old one stays in the book, and so does who told it.
#[test]
fn a_correction_erases_nothing() {
    let mut book = yards();
    let first = book.tell(1, minute(0), ran(22, 1, 2_700));
    book.tell(2, minute(20), amend(first, ran(22, 1, 27_000)));
    assert_eq!(book.state(fill(22)).as_fill().unwrap().content_g, 27_000);
    let kept: Vec<_> = book.about(fill(22).into());
    assert_eq!(kept.len(), 2);
    assert_eq!(kept[0].entry, ran(22, 1, 2_700));
    assert_ne!(kept[0].author, kept[1].author);
    // A withdrawal without a reason is not read.
    assert!(Entry::read("voided", 1, &json!({"entry_id": first}).to_string()).is_err());
    assert!(matches!(void(first), Entry::Voided(voided) if !voided.reason.as_str().is_empty()));
}

// CF-3: two withdrawals of 5 kg are 10; of two weighings one counts; of two origins neither is dropped.
#[test]
fn movements_add_measurements_compete_and_states_are_argued() {
    let mut book = yards();
    book.tell(0, minute(0), ran(1, 1, 27_000));
    let saw = book.newest();
    book.tell_having_seen(1, saw, minute(10), drawn(1, 1, 5_000));
    book.tell_having_seen(2, saw, minute(900), drawn(2, 1, 5_000));
    assert_eq!(book.state(fill(1)).as_fill().unwrap().content_g, 17_000);
    book.tell_having_seen(1, saw, minute(20), ran(2, 1, 20_000));
    book.tell_having_seen(2, saw, minute(30), ran(2, 1, 20_100));
    assert_eq!(
        book.state(fill(2)).as_fill().unwrap().content_g,
        20_100,
        "not 40 100, and no mean"
    );
    book.tell_having_seen(1, saw, minute(40), ran(3, 1, 9_000));
    book.tell_having_seen(2, saw, minute(50), ran(3, 2, 9_000));
    let back = trace(&book.house(), fill(3).into(), minute(90_000)).back;
    let runs: BTreeSet<Subject> = back
        .iter()
        .map(|step| step.subject)
        .filter(|of| of.as_run().is_some())
        .collect();
    assert_eq!(runs, BTreeSet::from([run(1).into(), run(2).into()]));
    assert!(
        book.state(fill(3))
            .flags()
            .iter()
            .any(|flag| flag.code == FlagCode::OfTwoOrigins)
    );
}

// CF-5: by the time it happened, then device, then the device's own count; never by arrival.
#[test]
fn what_happened_first_comes_first_whenever_it_arrives() {
    let mut late = yards();
    late.tell_having_seen(1, 0, minute(0), pulled(17, Some(4)));
    late.tell_having_seen(2, 0, minute(-9_000), placed(17, 4));
    let mut in_time = yards();
    in_time.tell_having_seen(2, 0, minute(-9_000), placed(17, 4));
    in_time.tell_having_seen(1, 0, minute(0), pulled(17, Some(4)));
    let stand = |book: &Book| book.house().honey_super(honey_super(17)).unwrap().filling.stands[0].clone();
    assert_eq!(
        (stand(&late).from, stand(&late).until),
        (stand(&in_time).from, stand(&in_time).until)
    );
    assert_eq!(
        (
            status(&late, honey_super(17)),
            late.state(honey_super(17)).flags().len()
        ),
        ("pulled", 0)
    );
    // At the same time, by the device and then by its own count.
    let mut book = yards();
    for words in ["first", "second"] {
        book.tell(
            1,
            minute(0),
            told("yard_described", json!({"yard_id": yard(1), "name": words})),
        );
    }
    assert_eq!(book.house().yard(yard(1)).unwrap().name, Some(name("second")));
}

// LO-1: a lot is what was drawn or blended together; honey that comes to it makes another one, and it keeps its parents.
#[test]
fn a_lot_is_honey_drawn_or_blended_together() {
    let mut book = yards();
    book.tell(0, minute(0), ran(1, 1, 20_000));
    book.tell(0, minute(0), ran(2, 2, 20_000));
    book.tell(0, minute(10), drawn(5, 1, 10_000));
    assert_eq!(refusal(&book.house(), &drawn(5, 2, 1_000)), "already_registered");
    let mixed = blended(6, &[(lot(5).into(), 9_000), (fill(2).into(), 3_000)]);
    assert!(decide(&mixed, &book.house(), minute(20)).is_ok());
    book.tell(0, minute(20), mixed);
    let house = book.house();
    let of = house.lot(lot(6)).unwrap();
    assert_eq!(
        (of.made_g(), of.parts.len(), house.lot(lot(5)).unwrap().content_g),
        (12_000, 2, 1_000)
    );
    assert_eq!(of.parts[0].weight_g, g(9_000));
}

//! What people are told at the moment it matters, and what a house answers when something went wrong: warnings, the next
//! task, groups of supers weighed apart, and the recall.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

mod common;

use std::collections::BTreeSet;

use common::asking::told;
use common::care::{given, label, medicine, put_in, taken_out};
use common::entries::{
    batch, blended, bottled, customer, delivered, delivery, drawn, fill, hive, honey_super, lot, new_hive, new_super,
    new_yard, placed, pulled, ran, read, received, released, run, shown, uncapped, wet, yard,
};
use common::{Book, minute, name, uuid};
use domain::allocation::Method;
use domain::decide::{Warning, decide};
use domain::entry::Entry;
use domain::house::House;
use domain::lot::retained;
use domain::moisture::Shown;
use domain::next::{Act, next};
use domain::recall::{Suspect, plain_text, recall};
use domain::subject::Subject;
use domain::trace::Certainty;
use domain::yields::{allocations, season};
use serde_json::json;

const DAY: i64 = 1_440;

fn yards() -> Book {
    let mut book = Book::default();
    book.tell(0, minute(-90_000), new_yard(1, "east yard"));
    for number in [4, 5] {
        book.tell(0, minute(-90_000), new_hive(number, 1, &format!("O{number:02}")));
    }
    for number in [17, 41, 88] {
        book.tell(0, minute(-80_000), new_super(number));
    }
    book.tell(0, minute(-90_000), label(1, 21, false));
    book.tell(0, minute(-90_000), label(2, 0, true));
    book
}

fn warnings(house: &House, entry: &Entry) -> Vec<Warning> {
    decide(entry, house, minute(0)).unwrap()
}

fn codes(house: &House, entry: &Entry) -> BTreeSet<&'static str> {
    warnings(house, entry).into_iter().map(|warning| warning.code).collect()
}

fn refusal(house: &House, entry: &Entry) -> (&'static str, &'static str) {
    let refused = decide(entry, house, minute(0)).unwrap_err();
    (refused.code, refused.rule)
}

// WT-5: from 23 kg gross on, read in occupational guidance of the United States (about 23 kg for an even lift).
#[test]
fn lifting_is_warned_of_from_23_kg() {
    let mut book = yards();
    book.tell(1, minute(-9_000), placed(17, 4));
    let at = |grams: i64| codes(&book.house(), &received(17, Some(grams))).contains("heavy_lift");
    assert_eq!((at(22_999), at(23_000)), (false, true));
}

// MO-9: a middle and an outer frame of a super; three depths of much honey in one container, or after stirring.
#[test]
fn few_places_are_told_and_capped_is_no_proof_of_dry() {
    let mut book = yards();
    book.tell(1, minute(-9_000), placed(17, 4));
    let full = json!({"super_id": honey_super(17), "capped_percent": 100});
    book.tell(1, minute(-100), told("super_pulled", full));
    book.tell(1, minute(-90), received(17, Some(21_000)));
    assert!(
        codes(&book.house(), &uncapped(17, 1)).contains("not_measured"),
        "capped or not"
    );
    book.tell(1, minute(-90), ran(1, 1, 30_500));
    book.tell(1, minute(-90), ran(2, 1, 30_000));
    let reading = |of: Subject, places: Option<i64>| {
        told(
            "moisture_read",
            json!({"targets": [of], "shown": {"moisture_hundredths": 1_700}, "places": places}),
        )
    };
    let few = |of: Subject, places| codes(&book.house(), &reading(of, places)).contains("few_places");
    let (super_17, much, little) = (honey_super(17).into(), fill(1).into(), fill(2).into());
    assert_eq!([1, 2].map(|places| few(super_17, Some(places))), [true, false]);
    assert_eq!([1, 2, 3].map(|places| few(much, Some(places))), [true, true, false]);
    assert!(!few(little, Some(1)), "30 kg and no more");
    assert!(!few(much, None), "nobody said in how many: ID-9");
}

// TX-5: said when a super goes on, and when it comes off; a label that allows supers says nothing.
#[test]
fn a_super_on_a_treated_hive_is_warned_of_when_placed_and_when_pulled() {
    let mut book = yards();
    book.tell(1, minute(-30 * DAY), placed(41, 5));
    for (medicine, warned) in [(1, true), (2, false)] {
        let mut treated = book.clone();
        treated.tell(1, minute(-20 * DAY), put_in(&[4, 5], medicine));
        let house = treated.house();
        for entry in [placed(17, 4), pulled(41, Some(5))] {
            let found = warnings(&house, &entry)
                .into_iter()
                .any(|warning| warning.rule == "TX-5");
            assert_eq!(found, warned, "{medicine} {entry:?}");
        }
        // Out, and within the wait of 21 days; over it, a box that goes on is free, and what was gathered is not.
        treated.tell(1, minute(-DAY), taken_out(&[4, 5], Some(medicine)));
        assert_eq!(codes(&treated.house(), &placed(17, 4)).contains("on_hold"), warned);
        let later = |entry: &Entry| {
            let warnings = decide(entry, &treated.house(), minute(30 * DAY)).unwrap();
            warnings.iter().any(|warning| warning.rule == "TX-5")
        };
        assert_eq!((later(&placed(17, 4)), later(&pulled(41, Some(5)))), (false, warned));
    }
}

// TX-7: supers off before treating, and no treating in the four weeks before a flow: advice, never a hold of its own.
#[test]
fn treating_with_supers_on_or_close_to_a_flow_is_advised_against() {
    let mut book = yards();
    book.tell(1, minute(-30 * DAY), placed(41, 5));
    let advice = |book: &Book, of: &[u32]| -> BTreeSet<&'static str> {
        let all = warnings(&book.house(), &given(of, 1));
        all.into_iter()
            .filter(|warning| warning.rule == "TX-7")
            .map(|warning| warning.code)
            .collect()
    };
    assert_eq!(
        (advice(&book, &[4]), advice(&book, &[5])),
        (BTreeSet::new(), BTreeSet::from(["supers_on"]))
    );
    // The book plays on 12 July: 28 days on is 9 August.
    for (on, near) in [
        ("2025-08-09", true),
        ("2025-08-10", false),
        ("2025-07-12", true),
        ("2025-06-01", false),
    ] {
        let mut flow = book.clone();
        flow.tell(
            0,
            minute(-10),
            told("flow_started", json!({"yard_id": yard(1), "on": on})),
        );
        assert_eq!(advice(&flow, &[4]).contains("near_flow"), near, "{on}");
    }
    // A flow that is on, with its end set; and the day of last year, where this year's is not set yet.
    let mut on = book.clone();
    on.tell(
        0,
        minute(-10),
        told("flow_started", json!({"yard_id": yard(1), "on": "2025-06-01"})),
    );
    on.tell(
        0,
        minute(-9),
        told("flow_ended", json!({"yard_id": yard(1), "on": "2025-07-20"})),
    );
    assert!(advice(&on, &[4]).contains("near_flow"));
    book.tell(
        0,
        minute(-10),
        told("flow_started", json!({"yard_id": yard(1), "on": "2024-08-01"})),
    );
    assert!(advice(&book, &[4]).contains("near_flow"));
}

// IN: an escape board longer than 72 hours, and repellent above 32 °C (a handout of an extension service; its label rules).
#[test]
fn an_escape_board_left_on_is_told_and_taking_off_comes_next() {
    let mut book = yards();
    book.tell(1, minute(-30 * DAY), placed(41, 5));
    let board = told(
        "clearing_fitted",
        json!({"hive_ids": [hive(5)], "clearing": "escape_board"}),
    );
    book.tell(1, minute(-4_320), board.clone());
    assert!(
        !codes(&book.house(), &pulled(41, Some(5))).contains("board_on_long"),
        "72 hours"
    );
    let task = |book: &Book| {
        next(&book.house(), minute(0))
            .tasks
            .into_iter()
            .find(|task| task.act == Act::Pull)
    };
    assert!(!task(&book).unwrap().late);
    let mut long = yards();
    long.tell(1, minute(-30 * DAY), placed(41, 5));
    long.tell(1, minute(-4_321), board);
    assert!(codes(&long.house(), &pulled(41, Some(5))).contains("board_on_long"));
    assert!(task(&long).unwrap().late);
    // Put on after the board was fitted, it is not above it.
    long.tell(1, minute(-10), pulled(41, Some(5)));
    long.tell(1, minute(-5), placed(17, 5));
    assert!(task(&long).is_none());
    let fume = |tenths: i64| {
        told(
            "clearing_fitted",
            json!({"hive_ids": [hive(5)], "clearing": "fume_board", "air_tenths_c": tenths}),
        )
    };
    let hot = |tenths| codes(&book.house(), &fume(tenths)).contains("too_hot_for_repellent");
    assert_eq!((hot(320), hot(321)), (false, true));
}

// CF-11: 17.6 and 18.9 % of one lot: the wetter decides, and what comes next is stirring and a third reading.
#[test]
fn two_readings_that_do_not_fit_ask_for_a_stirred_one() {
    let mut book = yards();
    book.tell(1, minute(-100), ran(1, 1, 20_000));
    book.tell(1, minute(-90), drawn(5, 1, 20_000));
    book.tell(1, minute(-80), read(lot(5), 1_700));
    let task = |book: &Book| {
        let tasks = next(&book.house(), minute(0)).tasks;
        let of_lot = tasks.into_iter().find(|task| task.subject == lot(5).into()).unwrap();
        (of_lot.act, of_lot.rule)
    };
    assert_eq!(task(&book), (Act::Release, "ST-8".to_owned()));
    let mut close = book.clone();
    close.tell(2, minute(-70), read(lot(5), 1_730));
    assert!(
        !codes(&close.house(), &released(5)).contains("readings_apart"),
        "three tenths are the meter"
    );
    book.tell(2, minute(-70), read(lot(5), 1_740));
    assert!(codes(&book.house(), &released(5)).contains("readings_apart"));
    assert_eq!(task(&book), (Act::ReMeasure, "CF-11".to_owned()));
    book.tell(
        2,
        minute(-60),
        told("honey_stirred", json!({"target": Subject::from(lot(5))})),
    );
    book.tell(2, minute(-50), read(lot(5), 1_720));
    assert_eq!(task(&book), (Act::Release, "ST-8".to_owned()));
}

// BL-3: nothing beyond the meter's wet end, nothing that smells or works, whatever the sum.
#[test]
fn no_part_of_a_blend_is_off_scale_wet_or_spoilt() {
    let mut book = yards();
    for number in [1, 2, 3] {
        book.tell(1, minute(-100), ran(number, 1, 20_000));
    }
    book.tell(1, minute(-90), read(fill(1), 1_600));
    book.tell(1, minute(-90), shown(fill(2), Shown::OffScaleWet));
    book.tell(1, minute(-90), read(fill(3), 1_700));
    let of = |part: u32| blended(40, &[(fill(1).into(), 19_000), (fill(part).into(), 100)]);
    assert_eq!(refusal(&book.house(), &of(2)), ("parent_too_wet", "BL-3"));
    assert!(decide(&of(3), &book.house(), minute(0)).is_ok());
    for (reason, spoilt) in [("taint", true), ("moisture", true), ("complaint", false)] {
        let mut held = book.clone();
        let hold = told("hold_set", json!({"target": Subject::from(fill(3)), "reason": reason}));
        held.tell(1, minute(-50), hold);
        match decide(&of(3), &held.house(), minute(0)) {
            Err(refused) => assert!(spoilt && refused.rule == "BL-3", "{refused}"),
            Ok(warnings) => assert!(!spoilt && warnings.iter().any(|warning| warning.rule == "BL-4")),
        }
    }
}

// MO-8, MO-10: a reading of a meter that was then found wrong says nothing before uncapping either.
#[test]
fn uncapping_asks_for_a_reading_of_a_meter_that_was_right() {
    let mut book = yards();
    let meter = json!({"meter_id": uuid(14, 1), "name": "hand meter", "compensated": true});
    book.tell(0, minute(-9_000), told("meter_registered", meter));
    book.tell(
        0,
        minute(-8_000),
        told("meter_checked", json!({"meter_id": uuid(14, 1), "passed": true})),
    );
    book.tell(1, minute(-9_000), placed(17, 4));
    book.tell(1, minute(-100), received(17, Some(21_000)));
    let reading = json!({"targets": [Subject::from(honey_super(17))], "shown": {"moisture_hundredths": 1_700},
        "meter_id": uuid(14, 1), "compensated": true});
    book.tell(1, minute(-90), told("moisture_read", reading));
    assert!(codes(&book.house(), &uncapped(17, 1)).is_empty());
    book.tell(
        0,
        minute(-80),
        told("meter_checked", json!({"meter_id": uuid(14, 1), "passed": false})),
    );
    assert_eq!(codes(&book.house(), &uncapped(17, 1)), BTreeSet::from(["not_measured"]));
    book.tell(1, minute(-70), shown(honey_super(17), Shown::OffScaleWet));
    assert_eq!(codes(&book.house(), &uncapped(17, 1)), BTreeSet::from(["too_wet"]));
}

// LB-2: the name of a plant stands with its reason, asked for when it is claimed, released and labelled.
#[test]
fn a_plant_is_named_with_its_reason() {
    let mut book = yards();
    book.tell(1, minute(-100), ran(1, 1, 20_000));
    book.tell(1, minute(-90), drawn(5, 1, 20_000));
    book.tell(1, minute(-80), read(lot(5), 1_700));
    let named = |reason: Option<&str>| {
        told(
            "lot_described",
            json!({"lot_id": lot(5), "claim": "heather", "claim_reason": reason}),
        )
    };
    assert!(codes(&book.house(), &named(None)).contains("claim_without_reason"));
    assert!(codes(&book.house(), &named(Some("pollen 52 %, sets like jelly"))).is_empty());
    book.tell(1, minute(-70), named(None));
    assert!(codes(&book.house(), &released(5)).contains("claim_without_reason"));
    book.tell(1, minute(-60), bottled(1, 5, 10));
    let labels = told("labelled", json!({"batch_id": batch(1), "printed": 10, "used": 10}));
    assert!(codes(&book.house(), &labels).contains("claim_without_reason"));
    book.tell(1, minute(-50), named(Some("pollen 52 %, sets like jelly")));
    assert!(codes(&book.house(), &labels).is_empty() && codes(&book.house(), &released(5)).is_empty());
    assert_eq!(
        book.house()
            .lot(lot(5))
            .unwrap()
            .claim_reason
            .as_ref()
            .unwrap()
            .as_str(),
        "pollen 52 %, sets like jelly"
    );
}

// LB-3: no label for what is on hold, wherever the hold was set.
#[test]
fn no_label_is_printed_for_jars_of_a_held_lot() {
    let mut book = yards();
    book.tell(1, minute(-100), ran(1, 1, 20_000));
    book.tell(1, minute(-90), drawn(5, 1, 20_000));
    book.tell(1, minute(-60), bottled(1, 5, 10));
    let labels = told("labelled", json!({"batch_id": batch(1), "printed": 10, "used": 10}));
    assert!(codes(&book.house(), &labels).is_empty());
    for target in [Subject::from(run(1)), fill(1).into(), lot(5).into(), batch(1).into()] {
        let mut held = book.clone();
        held.tell(
            1,
            minute(-50),
            told("hold_set", json!({"target": target, "reason": "complaint"})),
        );
        assert_eq!(refusal(&held.house(), &labels), ("on_hold", "LB-3"), "{target}");
    }
}

// FI-3, SA-1: two years from filling unless the label or the owner says otherwise; kept jars half a year longer, with place.
#[test]
fn best_before_and_the_jars_kept_back_follow_from_the_filling() {
    let mut book = yards();
    book.tell(1, minute(-100), ran(1, 1, 20_000));
    book.tell(1, minute(-90), drawn(5, 1, 20_000));
    book.tell(1, minute(-80), released(5));
    book.tell(1, minute(-60), bottled(1, 5, 10));
    let best = |book: &Book| {
        let house = book.house();
        let settings = house.settings();
        house
            .batch(batch(1))
            .unwrap()
            .best_before(settings.rules())
            .unwrap()
            .to_string()
    };
    let keep = |book: &Book| {
        let kept = retained(&book.house()).remove(0);
        (kept.jars, kept.place.unwrap(), kept.keep_until.unwrap().to_string())
    };
    assert_eq!(best(&book), "2027-07-12");
    assert_eq!(keep(&book), (2, name("shelf 3"), "2028-01-12".to_owned()));
    let habit = json!({"operation_id": uuid(31, 1), "profile": "eu", "key": "best_before", "value": {"months": 18},
        "reason": "the shop asks for it"});
    book.tell(0, minute(-50), told("profile_value_changed", habit));
    assert_eq!(best(&book), "2027-01-12");
    let labels = json!({"batch_id": batch(1), "printed": 10, "used": 10, "best_before": "2026-12-31"});
    book.tell(1, minute(-40), told("labelled", labels));
    assert_eq!(
        (best(&book), keep(&book).2),
        ("2026-12-31".to_owned(), "2027-06-30".to_owned())
    );
    let goes = |days: i64| {
        next(&book.house(), minute(days * DAY))
            .tasks
            .iter()
            .any(|task| task.act == Act::LetSamplesGo)
    };
    // 30 June 2027 is 718 days after 12 July 2025.
    assert_eq!((goes(718), goes(719)), (false, true));
    let without = told("lot_released", json!({"lot_id": lot(5), "samples_kept": 2}));
    book.tell(1, minute(-30), read(lot(5), 1_700));
    assert!(codes(&book.house(), &without).contains("no_samples_place"));
}

fn weighed(book: &mut Book, number: u32, group: Option<&str>, wet_g: Option<i64>) {
    book.tell(1, minute(-9_000), placed(number, if number == 17 { 4 } else { 5 }));
    let pull = json!({"super_id": honey_super(number), "full_frames": 8});
    book.tell(1, minute(0), told("super_pulled", pull));
    book.tell(1, minute(10), received(number, wet_g.map(|_| 20_000)));
    let data = json!({"run_id": run(1), "super_id": honey_super(number), "group": group});
    book.tell(1, minute(20), told("super_uncapped", data));
    if let Some(grams) = wet_g {
        book.tell(1, minute(30), wet(number, 1, grams));
    }
}

fn filled(number: u32, net_g: i64, group: Option<&str>) -> Entry {
    let data = json!({"fill_id": fill(number), "source": {"run_id": run(1)}, "gross_g": net_g + 1_200, "tare_g": 1_200,
        "group": group});
    told("container_filled", data)
}

// AL-2: letters are never mixed in one pot; groups that ran into containers of their own have each their pot and letter.
#[test]
fn groups_weighed_apart_are_shared_apart_and_all_others_together() {
    let mut apart = yards();
    weighed(&mut apart, 17, Some("left"), Some(8_000));
    weighed(&mut apart, 41, Some("right"), None);
    weighed(&mut apart, 88, Some("right"), None);
    apart.tell(1, minute(40), filled(1, 12_000, Some("left")));
    apart.tell(1, minute(40), filled(2, 18_000, Some("right")));
    // What ran out of the cappings is shared by the bulk: 1 kg as 0.4 and 0.6.
    apart.tell(
        1,
        minute(50),
        told("cappings_weighed", json!({"run_id": run(1), "honey_g": 1_000})),
    );
    let house = apart.house();
    let shares = allocations(&house, run(1), house.run(run(1)).unwrap());
    let figures: Vec<(Method, i64, Vec<i64>)> = shares
        .iter()
        .map(|one| {
            (
                one.method,
                one.pot_g.get(),
                one.shares.iter().map(|share| share.share_g.get()).collect(),
            )
        })
        .collect();
    assert_eq!(
        figures,
        [
            (Method::A, 12_400, vec![12_400]),
            (Method::C, 18_600, vec![9_300, 9_300])
        ]
    );
    let season = season(&house, 2025);
    assert_eq!(
        (season.total_g, season.runs[0].pot_g, season.runs[0].method),
        (31_000, 31_000, Method::C)
    );
    let hives: Vec<(i64, Option<Method>)> = season.hives.iter().map(|row| (row.yield_g, row.method)).collect();
    assert_eq!(hives, [(12_400, Some(Method::A)), (18_600, Some(Method::C))]);

    // One pail that says nothing of a group, and it is one pot by the letter that all reach.
    let mut mixed = apart.clone();
    mixed.tell(1, minute(60), filled(3, 1_000, None));
    let house = mixed.house();
    let shares = allocations(&house, run(1), house.run(run(1)).unwrap());
    assert_eq!(
        (shares.len(), shares[0].method, shares[0].pot_g.get()),
        (1, Method::C, 32_000)
    );
}

/// Hive 4 got strips of batch K7 while super 17 stood on it; super 41 came later. Buyers have jars of both.
fn sold() -> Book {
    let mut book = yards();
    let strips = json!({"hive_ids": [hive(4)], "medicine_id": medicine(2), "batch": "K7"});
    book.tell(1, minute(-30 * DAY), placed(17, 4));
    book.tell(1, minute(-25 * DAY), told("treatment_put_in", strips));
    book.tell(1, minute(-20 * DAY), pulled(17, Some(4)));
    book.tell(1, minute(-15 * DAY), taken_out(&[4], Some(2)));
    book.tell(1, minute(-14 * DAY), placed(41, 4));
    book.tell(1, minute(-10 * DAY), pulled(41, Some(4)));
    for (number, run) in [(17, 1), (41, 2)] {
        book.tell(1, minute(0), received(number, Some(20_000)));
        book.tell(1, minute(10), uncapped(number, run));
        book.tell(1, minute(20), ran(run, run, 12_000));
        book.tell(1, minute(30), drawn(run, run, 12_000));
        book.tell(1, minute(40), bottled(run, run, 20));
    }
    let shop =
        json!({"customer_id": customer(1), "name": "corner shop", "phone": "0555 11", "address": "1 Mill Lane\nMoor"});
    book.tell(0, minute(-100), told("customer_registered", shop));
    book.tell(1, minute(50), delivered(1, 1, 12, Some(1)));
    book.tell(1, minute(60), delivered(2, 2, 3, None));
    book
}

// RC-1, RT-3: from a lot, super, hive, yard, medicine batch, day or delivery to the jars and to whoever has them.
#[test]
fn a_recall_begins_anywhere_and_finds_the_jars_and_their_buyers() {
    let house = sold().house();
    let of = |suspect: Suspect| {
        let found = recall(&house, &suspect);
        let batches: Vec<Subject> = found.affected.batches.iter().map(|row| row.subject).collect();
        let buyers: Vec<Option<Subject>> = found
            .buyers
            .iter()
            .map(|buyer| buyer.customer_id.map(Into::into))
            .collect();
        (batches, found.affected.jars, buyers)
    };
    let first = (vec![batch(1).into()], 20, vec![Some(customer(1).into())]);
    let both = (
        vec![batch(1).into(), batch(2).into()],
        40,
        vec![Some(customer(1).into()), None],
    );
    let thing = |subject: Subject| Suspect::Things(vec![subject]);
    for from in [
        Subject::from(lot(1)),
        fill(1).into(),
        run(1).into(),
        honey_super(17).into(),
        batch(1).into(),
        delivery(1).into(),
    ] {
        assert_eq!(of(thing(from)), first, "{from}");
    }
    for from in [Subject::from(hive(4)), yard(1).into()] {
        assert_eq!(of(thing(from)), both, "{from}");
    }
    assert_eq!(
        of(Suspect::MedicineBatch(medicine(2), name("k7"))),
        first,
        "the label allows supers, and a bad batch is bad"
    );
    assert_eq!(
        of(Suspect::MedicineBatch(medicine(2), name("K8"))),
        (Vec::new(), 0, Vec::new())
    );
    assert_eq!(of(Suspect::Day("2025-07-12".parse().unwrap())), both);
    assert_eq!(
        of(Suspect::Day("2025-07-13".parse().unwrap())),
        (Vec::new(), 0, Vec::new())
    );
}

// RC-3: a disputed hive is one candidate, and the recall says how many jars are sure.
#[test]
fn a_disputed_origin_is_in_the_recall_as_possible() {
    let mut book = yards();
    let saw = book.newest();
    book.tell_having_seen(1, saw, minute(-9_000), placed(17, 4));
    book.tell_having_seen(2, saw, minute(-8_990), placed(17, 5));
    book.tell(1, minute(10), uncapped(17, 1));
    book.tell(1, minute(20), ran(1, 1, 12_000));
    book.tell(1, minute(30), drawn(1, 1, 12_000));
    book.tell(1, minute(40), bottled(1, 1, 20));
    let found = recall(&book.house(), &Suspect::Things(vec![hive(5).into()]));
    assert_eq!((found.affected.jars, found.jars_surely), (20, 0));
    assert_eq!(found.affected.batches[0].certainty, Certainty::Possible);
    let certain = recall(&book.house(), &Suspect::Things(vec![yard(1).into()]));
    assert_eq!((certain.affected.jars, certain.jars_surely), (20, 20));
}

// RC-5: one plain text with all of it, to be sent within a day where that is asked (Canada, 24 hours).
#[test]
fn the_answer_to_an_authority_is_one_plain_text() {
    let found = recall(&sold().house(), &Suspect::Things(vec![lot(1).into()]));
    let text = plain_text(&found, minute(100));
    for needed in [
        "2025-07-12",
        "hive O04",
        "yard east yard",
        "20 filled = 8 in stock + 12 to named buyers + 0 to the public",
        "corner shop; telephone 0555 11; 1 Mill Lane, Moor",
        "12 jars of",
    ] {
        assert!(text.contains(needed), "{needed} in\n{text}");
    }
    assert!(text.chars().all(|c| c == '\n' || !c.is_control()));
    let jars = |line: &str| {
        line.split(" = ").nth(1).map(|sum| {
            let numbers = sum
                .split(" + ")
                .filter_map(|part| part.split(' ').next()?.parse::<i64>().ok());
            numbers.sum::<i64>()
        })
    };
    let sums: Vec<i64> = text
        .lines()
        .filter(|line| line.starts_with("batch"))
        .filter_map(jars)
        .collect();
    assert_eq!(sums, [20], "every jar is explained (RC-2)");
}

//! The lives of things: states with their legal steps (ST) of the project's trade rules, each step told as an entry.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

mod common;

use std::collections::BTreeSet;

use common::asking::{refusal, status, told, warned};
use common::care::{colony, colony_ended, colony_moved, new_colony};
use common::entries::{
    batch, bottled, customer, delivered, delivery, drawn, fill, hive, hold, honey_super, lifted, lot, moved, new_hive,
    new_super, new_yard, placed, pulled, ran, read, received, released, run, uncapped, wet, yard,
};
use common::{Book, minute, uuid};
use domain::colony::ColonyEnd;
use domain::common::{FlagCode, HoldReason};
use domain::decide::decide;
use domain::entry::Entry;
use domain::subject::Subject;
use domain::trace::{holds_on, trace};
use serde_json::{Value, json};

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

/// From the hive into jars: run 1, fill 1, lot 5, batch 1.
fn in_jars() -> Book {
    let mut book = yards();
    book.tell(1, minute(-9_000), placed(17, 4));
    book.tell(1, minute(0), pulled(17, Some(4)));
    book.tell(1, minute(100), received(17, Some(21_000)));
    book.tell(1, minute(200), uncapped(17, 1));
    book.tell(1, minute(300), wet(17, 1, 8_000));
    book.tell(1, minute(400), ran(1, 1, 12_500));
    book.tell(1, minute(500), drawn(5, 1, 12_000));
    book.tell(1, minute(510), read(lot(5), 1_720));
    book.tell(1, minute(520), released(5));
    book.tell(1, minute(600), bottled(1, 5, 20));
    book
}

// ST-1: no entry tells a state. What is shown follows from happenings, and the same ones always give the same.
#[test]
fn no_kind_of_entry_sets_a_state() {
    for spec in domain::entry::KINDS {
        let golden = format!(
            "{}/golden/{}.v{}.json",
            env!("CARGO_MANIFEST_DIR"),
            spec.kind,
            spec.newest
        );
        let data: Value = serde_json::from_str(&std::fs::read_to_string(golden).unwrap()).unwrap();
        for told in [
            "status",
            "state",
            "whereabouts",
            "content_g_now",
            "jars_in_stock",
            "flags",
            "lifted",
        ] {
            assert!(data.get(told).is_none(), "{} tells {told}", spec.kind);
        }
    }
    let book = in_jars();
    for subject in book.subjects() {
        let mut again = book.about(subject);
        again.rotate_left(1);
        again.extend(book.about(subject));
        let refolded = domain::state::State::fold(subject, &again);
        assert_eq!(refolded.state_json(), book.state(subject).state_json());
    }
}

// ST-2: each end of a colony, with what it needs; nothing happens after it without a flag.
#[test]
fn a_colony_is_founded_lives_and_ends_in_one_of_five_ways() {
    for (how, word, into) in [
        (ColonyEnd::Dead, "dead", None),
        (ColonyEnd::United, "united", Some(2)),
        (ColonyEnd::Sold, "sold", None),
        (ColonyEnd::DestroyedByOrder, "destroyed_by_order", None),
        (ColonyEnd::Absconded, "absconded", None),
    ] {
        let mut book = yards();
        book.tell(0, minute(-80_000), new_colony(1, 4, None));
        book.tell(0, minute(-80_000), new_colony(2, 5, Some(1)));
        assert_eq!(status(&book, colony(1)), "alive");
        let end = colony_ended(1, how, into);
        assert!(decide(&end, &book.house(), minute(0)).is_ok());
        book.tell(1, minute(0), end.clone());
        assert_eq!(status(&book, colony(1)), word);
        assert_eq!(refusal(&book.house(), &end), "already_ended");
        book.tell(1, minute(10), colony_moved(1, 5));
        assert_eq!(book.state(colony(1)).flags()[0].code, FlagCode::AfterTheEnd);
        assert_eq!(status(&book, colony(2)), "alive");
    }
    let house = yards().house();
    assert_eq!(
        refusal(&house, &colony_ended(1, ColonyEnd::United, None)),
        "united_into_missing"
    );
}

// ST-3, ST-4: the way of a super from the store and back, step by step, and the steps back that are right, too.
#[test]
fn a_super_goes_its_way_through_every_state() {
    let id = honey_super(17);
    let mut book = yards();
    let mut step = |minutes: i64, entry: Entry, state: &str| {
        book.tell(1, minute(minutes), entry);
        assert_eq!(status(&book, id), state, "{minutes}");
        assert!(book.state(id).flags().is_empty(), "{minutes}");
    };
    let of = |kind: &str, more: Value| {
        let mut data = json!({"super_id": id});
        data.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        told(kind, data)
    };
    step(-70_000, of("super_loaded", json!({})), "on_truck");
    step(
        -60_000,
        of("super_left_in_yard", json!({"yard_id": yard(1)})),
        "in_yard",
    );
    step(-50_000, placed(17, 4), "on_hive");
    step(-40_000, moved(17, 4, 5), "on_hive");
    step(0, pulled(17, Some(5)), "pulled");
    step(10, of("super_loaded", json!({"yard_id": yard(1)})), "on_truck");
    step(20, received(17, Some(21_000)), "in_house");
    // Unripe, it goes back to the bees (ST-4), and comes again.
    step(30, placed(17, 5), "on_hive");
    step(9_000, pulled(17, Some(5)), "pulled");
    step(9_010, received(17, Some(21_500)), "in_house");
    step(9_020, told("drying_started", json!({"super_ids": [id]})), "drying");
    step(9_500, told("drying_stopped", json!({"super_ids": [id]})), "in_house");
    step(9_600, uncapped(17, 1), "extracted");
    step(9_700, wet(17, 1, 8_000), "extracted");
    step(9_800, of("super_stored", json!({"wet": true})), "stored_wet");
    step(9_900, placed(17, 4), "on_hive");
    // Never filled, it goes back to the store (ST-4).
    step(19_000, of("super_stored", json!({"wet": false})), "in_store");
    step(20_000, of("super_scrapped", json!({"how": "burnt_by_order"})), "ended");
    assert_eq!(refusal(&book.house(), &placed(17, 4)), "super_ended");
}

// ST-6: open, running, drained, weighed, closed; opened again only while none of its honey is drawn.
#[test]
fn a_run_is_closed_and_opened_again_only_until_its_honey_is_drawn() {
    let mut book = yards();
    let (close, reopen) = (
        told("run_closed", json!({"run_id": run(1)})),
        told(
            "run_reopened",
            json!({"run_id": run(1), "reason": "a super was weighed late"}),
        ),
    );
    book.tell(1, minute(-9_000), placed(17, 4));
    book.tell(1, minute(0), told("run_opened", json!({"run_id": run(1)})));
    assert_eq!(status(&book, run(1)), "open");
    book.tell(1, minute(10), received(17, Some(21_000)));
    book.tell(1, minute(20), uncapped(17, 1));
    assert_eq!(
        (status(&book, run(1)), refusal(&book.house(), &close)),
        ("running", "not_drained")
    );
    book.tell(1, minute(30), told("run_drained", json!({"run_id": run(1)})));
    assert_eq!(
        (status(&book, run(1)), warned(&book.house(), &close)),
        ("drained", vec!["not_all_weighed"])
    );
    book.tell(1, minute(40), wet(17, 1, 8_000));
    book.tell(1, minute(50), ran(1, 1, 12_000));
    book.tell(
        1,
        minute(55),
        told(
            "cappings_weighed",
            json!({"run_id": run(1), "honey_g": 700, "wax_g": 200}),
        ),
    );
    // 21.0 - 8.0 = 13.0 = 12.0 + 0.7 + 0.2 + 0.1 unexplained: 0.8 %, green.
    assert_eq!(
        (status(&book, run(1)), warned(&book.house(), &close)),
        ("weighed", Vec::new())
    );
    assert_eq!(refusal(&book.house(), &reopen), "not_closed");
    book.tell(1, minute(60), close.clone());
    assert_eq!(
        (status(&book, run(1)), refusal(&book.house(), &close)),
        ("closed", "run_closed")
    );
    assert_eq!(refusal(&book.house(), &wet(17, 1, 8_100)), "run_closed");
    assert!(warned(&book.house(), &reopen).is_empty());
    book.tell(1, minute(70), reopen.clone());
    assert_eq!(
        (status(&book, run(1)), book.state(run(1)).as_run().unwrap().reopened),
        ("weighed", 1)
    );
    book.tell(1, minute(80), close);
    book.tell(1, minute(90), drawn(5, 1, 1_000));
    assert_eq!(refusal(&book.house(), &reopen), "honey_drawn_already");
}

// ST-7: filled, settled, drawn from, the heel, empty; the container is dirty until it is washed.
#[test]
fn a_fill_goes_from_full_to_heel_to_empty() {
    let mut book = yards();
    let pail =
        json!({"container_id": uuid(10, 1), "number": "P14", "container": "pail", "tare_g": 1_200, "holds_ml": 14_000});
    book.tell(0, minute(-9_000), told("container_registered", pail));
    let container = domain::ids::ContainerId::from_uuid(uuid(10, 1));
    assert_eq!(status(&book, container), "empty");
    let data = json!({"fill_id": fill(1), "source": {"run_id": run(1)}, "gross_g": 13_200, "tare_g": 1_200,
        "container_id": uuid(10, 1)});
    book.tell(1, minute(0), told("container_filled", data));
    assert_eq!((status(&book, fill(1)), status(&book, container)), ("full", "filled"));
    book.tell(
        1,
        minute(10),
        told("fill_settled", json!({"fill_id": fill(1), "days": 3})),
    );
    assert_eq!(status(&book, fill(1)), "settled");
    for (at, number, grams, state) in [
        (20, 5, 5_000, "part_drawn"),
        (30, 6, 5_800, "heel"),
        (40, 7, 1_200, "empty"),
    ] {
        book.tell(1, minute(at), drawn(number, 1, grams));
        assert_eq!(status(&book, fill(1)), state);
    }
    book.tell(
        1,
        minute(50),
        told("container_washed", json!({"container_id": uuid(10, 1)})),
    );
    assert_eq!(status(&book, container), "empty");
}

// ST-8: open, released, part used, used up, with the hold beside it; withdrawn and recalled bar it, downgraded does not.
#[test]
fn a_lot_is_released_used_and_may_end_otherwise() {
    let mut book = yards();
    book.tell(1, minute(0), ran(1, 1, 12_500));
    assert_eq!(refusal(&book.house(), &released(5)), "not_registered");
    book.tell(1, minute(10), drawn(5, 1, 12_000));
    assert_eq!(
        (status(&book, lot(5)), refusal(&book.house(), &released(5))),
        ("open", "not_measured")
    );
    book.tell(1, minute(20), read(lot(5), 1_720));
    let held = book.tell(1, minute(25), hold(lot(5), HoldReason::Complaint));
    assert_eq!(
        (status(&book, lot(5)), refusal(&book.house(), &released(5))),
        ("on_hold", "on_hold")
    );
    book.tell(1, minute(26), lifted(lot(5), held));
    book.tell(1, minute(30), released(5));
    assert_eq!(status(&book, lot(5)), "released");
    let mut used = book.clone();
    used.tell(1, minute(40), bottled(1, 5, 12));
    assert_eq!(status(&used, lot(5)), "part_used");
    used.tell(1, minute(50), bottled(2, 5, 12));
    assert_eq!(status(&used, lot(5)), "used_up");
    book.tell(1, minute(40), bottled(1, 5, 12));
    for how in ["withdrawn", "recalled", "destroyed"] {
        let mut ended = book.clone();
        let end = told(
            "honey_ended",
            json!({"target": Subject::from(lot(5)), "how": how, "reason": "tastes of smoke"}),
        );
        assert!(decide(&end, &ended.house(), minute(60)).is_ok());
        let id = ended.tell(1, minute(60), end.clone());
        assert_eq!(
            (status(&ended, lot(5)), refusal(&ended.house(), &end)),
            (how, "already_ended")
        );
        assert_eq!(refusal(&ended.house(), &bottled(2, 5, 12)), "on_hold");
        assert_eq!(
            refusal(&ended.house(), &delivered(1, 1, 1, None)),
            "on_hold",
            "its jars, too"
        );
        // Taken back by a named person, it is in use again.
        ended.tell(1, minute(70), lifted(lot(5), id));
        assert_eq!(status(&ended, lot(5)), "part_used");
    }
    let down = json!({"target": Subject::from(lot(5)), "how": "downgraded", "reason": "begins to work"});
    book.tell(1, minute(60), told("honey_ended", down));
    assert_eq!(status(&book, lot(5)), "downgraded");
    assert_eq!(book.house().lot(lot(5)).unwrap().claim(), domain::limits::Claim::Bakers);
}

// ST-9, ID-7: filled, weighed, labelled, in store, sold; or emptied into a new lot that has the batch as its parent (ID-6).
#[test]
fn a_batch_is_filled_weighed_labelled_stored_and_sold_or_reworked() {
    let mut book = in_jars();
    assert_eq!(status(&book, batch(1)), "filled");
    let of = |kind: &str, more: Value| {
        let mut data = json!({"batch_id": batch(1)});
        data.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        told(kind, data)
    };
    book.tell(
        1,
        minute(610),
        of("weights_checked", json!({"net_tenths_g": [5_010, 5_020]})),
    );
    assert_eq!(status(&book, batch(1)), "check_weighed");
    book.tell(1, minute(620), of("labelled", json!({"printed": 20, "used": 20})));
    assert_eq!(status(&book, batch(1)), "labelled");
    book.tell(1, minute(630), of("batch_stored", json!({"place": "cellar"})));
    assert_eq!(status(&book, batch(1)), "in_store");
    book.tell(1, minute(640), delivered(1, 1, 14, Some(1)));
    assert_eq!(status(&book, batch(1)), "part_sold");
    let again = json!({"lot_id": lot(9), "code": common::entries::code(20), "batch_id": batch(1), "jars": 6, "weight_g": 2_950});
    let again = told("jars_reworked", again);
    assert!(warned(&book.house(), &again).is_empty());
    let mut sold = book.clone();
    sold.tell(1, minute(650), delivered(2, 1, 6, None));
    assert_eq!(status(&sold, batch(1)), "sold_out");
    assert_eq!(refusal(&sold.house(), &again), "more_than_in_stock");
    book.tell(1, minute(650), again);
    assert_eq!((status(&book, batch(1)), status(&book, lot(9))), ("reworked", "open"));
    let house = book.house();
    assert_eq!(house.lot(lot(9)).unwrap().content_g, 2_950);
    let back: BTreeSet<Subject> = trace(&house, lot(9).into(), minute(90_000))
        .back
        .iter()
        .map(|step| step.subject)
        .collect();
    for ancestor in [Subject::from(batch(1)), lot(5).into(), run(1).into(), hive(4).into()] {
        assert!(back.contains(&ancestor), "{ancestor}");
    }
    // A hold on the jars holds what is made of them (BL-4), and every jar is explained (RC-2).
    let held = book.tell(1, minute(700), hold(batch(1), HoldReason::Complaint));
    assert!(
        holds_on(&book.house(), lot(9).into(), minute(800))
            .iter()
            .any(|on| on.hold_id == held)
    );
    let row = &trace(&book.house(), batch(1).into(), minute(800)).affected.batches[0];
    assert_eq!(
        (row.jars_filled, row.sold_to_customers, row.reworked, row.in_stock),
        (20, 14, 6, 0)
    );
    let balance = domain::balance::lot_balance(&book.house(), lot(5)).unwrap();
    assert_eq!(
        (balance.made_g, balance.accounted_g(), balance.into_lots_g),
        (12_000, 12_000, 3_000)
    );
    // One batch, one lot: another lot told of the same jars is a doubt, not a mixture (ID-7).
    book.tell(2, minute(601), bottled(1, 6, 20));
    assert!(
        book.state(batch(1))
            .flags()
            .iter()
            .any(|flag| flag.code == FlagCode::OfTwoOrigins)
    );
}

// ST-10: draft, confirmed, picked with its batches named, delivered, paid, returned; a stall need not name anybody.
#[test]
fn an_order_goes_from_draft_to_paid_and_goods_name_their_batches() {
    let mut book = in_jars();
    book.tell(
        0,
        minute(0),
        told(
            "customer_registered",
            json!({"customer_id": customer(1), "name": "corner shop"}),
        ),
    );
    let id = delivery(1);
    let mark = |mark: &str| told("order_marked", json!({"delivery_id": id, "mark": mark}));
    let picked = |jars: i64| {
        let lines = json!([{"goods": {"jars": {"batch_id": batch(1), "count": jars}}}]);
        told("order_picked", json!({"delivery_id": id, "lines": lines}))
    };
    let order = json!({"delivery_id": id, "wanted": [{"nominal_g": 500, "count": 12}], "customer_id": customer(1)});
    let order = told("goods_ordered", order);
    assert!(warned(&book.house(), &order).is_empty());
    assert_eq!(refusal(&book.house(), &mark("confirmed")), "not_ordered");
    book.tell(1, minute(700), order);
    assert_eq!(
        (status(&book, id), refusal(&book.house(), &mark("paid"))),
        ("draft", "not_delivered")
    );
    book.tell(1, minute(710), mark("confirmed"));
    assert_eq!(
        (status(&book, id), refusal(&book.house(), &picked(21))),
        ("confirmed", "more_than_in_stock")
    );
    assert!(warned(&book.house(), &picked(12)).is_empty());
    book.tell(1, minute(720), picked(12));
    assert_eq!(
        (status(&book, id), book.house().batch(batch(1)).unwrap().jars_in_stock),
        ("picked", 20)
    );
    assert!(warned(&book.house(), &delivered(1, 1, 12, Some(1))).is_empty());
    book.tell(1, minute(730), delivered(1, 1, 12, Some(1)));
    assert_eq!(
        (status(&book, id), refusal(&book.house(), &mark("cancelled"))),
        ("delivered", "already_delivered")
    );
    book.tell(1, minute(740), mark("paid"));
    assert_eq!(status(&book, id), "paid");
    let back = told("returned", json!({"delivery_id": id, "batch_id": batch(1), "jars": 12}));
    book.tell(1, minute(750), back);
    assert_eq!(status(&book, id), "returned");
    // A line that names no batch is not read, so the trade gets none; the public needs no name.
    let nameless =
        json!({"delivery_id": delivery(2), "customer_id": customer(1), "lines": [{"goods": {"jars": {"count": 3}}}]});
    assert!(Entry::read("delivered", 1, &nameless.to_string()).is_err());
    let none = told(
        "delivered",
        json!({"delivery_id": delivery(2), "customer_id": customer(1), "lines": []}),
    );
    assert_eq!(refusal(&book.house(), &none), "no_lines");
    assert!(decide(&delivered(2, 1, 3, None), &book.house(), minute(800)).is_ok());
}

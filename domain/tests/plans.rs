//! Planners asked of whole houses: what they read off the book, and that no plan proposes what a decision would refuse.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

mod common;

use chrono::{DateTime, TimeDelta, Utc};
use common::asking::told;
use common::entries::{
    hive, hold, honey_super, lifted, new_hive, new_super, new_yard, placed, pulled, read, received, run, shown,
    uncapped, wet, yard,
};
use common::histories::{book, book_after_a_harvest, steps};
use common::{Book, minute, uuid};
use domain::common::HoldReason;
use domain::decide::{Decider, decide};
use domain::entry::Entry;
use domain::extraction::{Spin, SuperUncapped};
use domain::house::House;
use domain::ids::{RoomId, RunId};
use domain::moisture::Shown;
use domain::next::{Act, next};
use domain::plan::drying::{DryingAsked, Outlook, plan_drying};
use domain::plan::extraction_order::{Action, OrderAsked, OrderPlan, Store, plan_extraction_order};
use domain::plan::extractor_load::{LoadAsked, Machine, plan_extractor_loads};
use domain::profile::label::{LabelItem, LabelQuestion, Needed, label_fields_by};
use domain::units::Places;
use proptest::prelude::*;
use serde_json::json;

fn order(house: &House, now: DateTime<Utc>) -> OrderPlan {
    plan_extraction_order(&OrderAsked::of_house(house, now, Some(Places::constant(9))))
}

fn called(plan: &OrderPlan) -> Vec<(&str, Action, Option<i64>)> {
    let supers = plan.supers.iter();
    supers.map(|one| (one.label.as_str(), one.action, one.run)).collect()
}

/// Two yards with two hives each; six supers on them, pulled and received one after the other.
fn harvest() -> Book {
    let mut book = Book::default();
    let mut tell = |minutes: i64, entry: Entry| book.tell(1, minute(minutes), entry);
    tell(-90_000, new_yard(1, "west"));
    tell(-90_000, new_yard(2, "east"));
    for number in 1..=4 {
        tell(-90_000, new_hive(number, number.div_ceil(2), &format!("H{number}")));
    }
    for number in 1..=6 {
        tell(-89_000, new_super(number));
        tell(-80_000, placed(number, (number - 1) % 4 + 1));
        tell(-600 + i64::from(number), pulled(number, None));
        tell(-500, received(number, Some(20_000)));
    }
    book
}

const ROOM: u32 = 1;

fn room() -> RoomId {
    RoomId::from_uuid(uuid(12, ROOM))
}

fn air(tenths_c: i64, humidity: i64) -> Entry {
    told(
        "room_read",
        json!({"room_id": room(), "air_tenths_c": tenths_c, "humidity_percent": humidity}),
    )
}

#[test]
fn the_order_of_a_house_follows_yard_water_hold_and_waiting() {
    let mut book = harvest();
    // Supers 1, 2, 5, 6 are from west, 3 and 4 from east.
    for (number, water) in [(1, 1_700), (2, 1_800), (3, 1_750), (5, 1_801), (6, 1_700)] {
        book.tell(1, minute(-100), read(honey_super(number), water));
    }
    book.tell(1, minute(-90), hold(honey_super(6), HoldReason::Taint));
    let house = book.house();
    let plan = order(&house, minute(0));
    let (extract, measure) = (Action::Extract, Action::Measure);
    let label = |number: u32| house.label(honey_super(number).into());
    let expected = [
        (label(1), extract, Some(1)),
        (label(2), extract, Some(1)),
        (label(3), extract, Some(2)),
        (label(4), measure, None),
        (label(5), Action::Dry, None),
        (label(6), Action::Hold, None),
    ];
    let expected: Vec<_> = expected
        .iter()
        .map(|(label, action, run)| (label.as_str(), *action, *run))
        .collect();
    assert_eq!(called(&plan), expected);
    assert_eq!(plan.runs[0].yard.as_deref(), Some("west"));
    assert!(plan.runs[1].drain_first);
    // The same in what is to be done next, with the same words.
    let tasks = next(&house, minute(0)).tasks;
    for one in &plan.supers {
        let task = tasks.iter().find(|task| task.label == one.label).unwrap();
        assert_eq!(task.act, Act::from(one.action));
        assert!(task.why.contains(&one.reasons[0].sentence));
    }
}

#[test]
fn a_hold_that_ended_and_honey_spun_before_it_do_not_bind() {
    let mut book = harvest();
    book.tell(1, minute(-100), read(honey_super(1), 1_700));
    let held = book.tell(1, minute(-90), hold(honey_super(1), HoldReason::Taint));
    assert_eq!(
        order(&book.house(), minute(0)).supers.last().unwrap().action,
        Action::Hold
    );
    book.tell(1, minute(-80), lifted(honey_super(1), held));
    assert_eq!(order(&book.house(), minute(0)).supers[0].action, Action::Extract);
}

#[test]
fn an_old_hold_on_a_hive_does_not_follow_the_wood() {
    // TX-3: a box that was spun and filled again elsewhere is free; the honey of the old filling stays held.
    let mut book = harvest();
    book.tell(1, minute(-450), hold(hive(1), HoldReason::Treatment));
    for (minutes, entry) in [
        (-440, uncapped(1, 1)),
        (-430, wet(1, 1, 8_000)),
        (
            -420,
            told("super_stored", json!({"super_id": honey_super(1), "wet": false})),
        ),
        (10_000, placed(1, 3)),
        (30_000, pulled(1, None)),
        (30_010, received(1, Some(20_000))),
        (30_020, read(honey_super(1), 1_700)),
    ] {
        book.tell(1, minute(minutes), entry);
    }
    let plan = order(&book.house(), minute(30_030));
    let label = book.house().label(honey_super(1).into());
    let one = plan.supers.iter().find(|one| one.label == label).unwrap();
    assert_eq!(one.action, Action::Extract, "{one:?}");
}

#[test]
fn a_cool_room_and_a_beetle_region_change_how_long_supers_may_wait() {
    // FI-2.
    let mut book = harvest();
    let late = |book: &Book, hours: i64| {
        let plan = order(&book.house(), minute(-600) + TimeDelta::hours(hours));
        plan.supers.iter().filter(|one| one.late).count()
    };
    assert_eq!((late(&book, 71), late(&book, 75)), (0, 6));
    book.tell(
        1,
        minute(60),
        told("room_registered", json!({"room_id": room(), "name": "cellar"})),
    );
    book.tell(1, minute(60), air(120, 60));
    assert_eq!((late(&book, 75), late(&book, 24 * 7 + 2)), (0, 6));
    let beetles = json!({"operation_id": uuid(31, 1), "profile": "eu", "key": "beetle_region", "value": {"yes": true}, "reason": "found next door"});
    book.tell(1, minute(60), told("profile_value_changed", beetles));
    assert_eq!((late(&book, 47), late(&book, 51)), (0, 6));
    let asked = OrderAsked::of_house(&book.house(), minute(100), None);
    assert_eq!((asked.store, asked.beetle_region), (Some(Store::Cool), Some(true)));
}

#[test]
fn a_stack_in_a_room_is_dried_by_its_wettest_super_and_its_newest_air() {
    let mut book = harvest();
    book.tell(
        1,
        minute(-400),
        told("room_registered", json!({"room_id": room(), "name": "warm room"})),
    );
    book.tell(1, minute(-390), air(300, 70));
    book.tell(1, minute(-300), air(330, 30));
    for (number, water) in [(1, 1_880), (2, 1_940)] {
        book.tell(1, minute(-290), read(honey_super(number), water));
    }
    book.tell(1, minute(-290), shown(honey_super(3), Shown::OffScaleDry));
    let stack = [1, 2, 3].map(honey_super);
    book.tell(
        1,
        minute(-240),
        told("drying_started", json!({"super_ids": stack, "room_id": room()})),
    );
    let at_hand = DryingAsked::of_supers(&book.house(), &stack, room(), minute(0)).unwrap();
    assert_eq!(at_hand.asked.air_tenths_c.get(), 330);
    assert_eq!(
        at_hand.asked.moisture_hundredths.map(domain::units::Moisture::get),
        Some(1_940)
    );
    assert_eq!(at_hand.asked.dried_for_h.map(domain::units::Hours::get), Some(4));
    assert_eq!(at_hand.not_measured, [honey_super(3)]);
    let plan = plan_drying(&at_hand.asked).unwrap();
    assert_eq!(plan.outlook, Outlook::Dries);
    assert!(DryingAsked::of_supers(&book.house(), &stack, RoomId::from_uuid(uuid(12, 9)), minute(0)).is_none());
}

#[test]
fn a_run_is_loaded_with_what_was_uncapped_and_not_weighed_wet() {
    let mut book = harvest();
    for number in 1..=3 {
        book.tell(1, minute(-50), uncapped(number, 1));
    }
    book.tell(1, minute(-40), wet(1, 1, 8_000));
    let aside = json!({"run_id": run(1), "super_id": honey_super(2), "frames": 2});
    book.tell(1, minute(-45), told("frames_set_aside", aside));
    let machine = Machine {
        spin: Spin::Radial,
        places: Places::constant(9),
    };
    let house = book.house();
    let asked = LoadAsked::of_run(&house, run(1), machine).unwrap();
    let boxes: Vec<(&str, i64)> = asked
        .boxes
        .iter()
        .map(|one| (one.label.as_str(), one.frames.get()))
        .collect();
    let of = |number: u32| house.honey_super(honey_super(number)).unwrap().frames.unwrap().get();
    assert_eq!(
        boxes,
        [
            (house.label(honey_super(2).into()).as_str(), of(2) - 2),
            (house.label(honey_super(3).into()).as_str(), of(3))
        ]
    );
    // 20 kg gross less a bare medium box of 2.5 kg, by ten frames.
    assert_eq!(
        asked.boxes[1].each_g.map(domain::units::Grams::get),
        Some(17_500 / of(3))
    );
    let plan = plan_extractor_loads(&asked).unwrap();
    assert_eq!(plan.frames, of(2) - 2 + of(3));
}

#[test]
fn a_batch_asks_for_its_label_by_the_profile_in_force() {
    let house = book_after_a_harvest(&[]).house();
    let question = LabelQuestion::of_batch(&house, common::entries::batch(0)).unwrap();
    let settings = house.settings();
    let label = label_fields_by(settings.rules(), &question);
    let lot = label.fields.iter().find(|field| field.item == LabelItem::Lot).unwrap();
    assert_eq!(lot.needed, Needed::Required);
    assert!(label.figure_height.is_some());
}

/// What is proposed to be spun, put before the service's decision as a wish with a run of its own.
fn refused_wishes(house: &House, now: DateTime<Utc>) -> Vec<String> {
    let plan = order(house, now);
    let extracted = plan.supers.iter().filter(|one| one.action == Action::Extract);
    let wishes = extracted.filter_map(|one| {
        let wish = SuperUncapped {
            super_id: one.super_id?,
            run_id: RunId::from_uuid(uuid(0xF000, 1)),
            frames_set_aside: None,
            group: None,
        };
        decide(&wish.into(), house, now)
            .err()
            .map(|refused| format!("{one:?}: {refused:?}"))
    });
    wishes.collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn no_plan_proposes_what_a_decision_would_refuse(told in steps(60), harvested in any::<bool>(), minutes in 0_i64..20_000) {
        let house = if harvested { book_after_a_harvest(&told).house() } else { book(&told).house() };
        let now = minute(minutes);
        prop_assert_eq!(refused_wishes(&house, now), Vec::<String>::new());
        // One reading of the ways of the honey decides like many.
        let decider = Decider::new(&house, now);
        for number in 0..6 {
            let wish: Entry = uncapped(number, 9);
            prop_assert_eq!(decider.decide(&wish), decide(&wish, &house, now));
        }
        // And whatever the house is, every planner answers or refuses.
        let supers: Vec<_> = (0..6).map(honey_super).collect();
        let machine = Machine { spin: Spin::Tangential, places: Places::constant(4) };
        let _ = plan_extractor_loads(&LoadAsked::of_supers(&house, &supers, machine));
        let _ = LoadAsked::of_run(&house, run(0), machine).map(|asked| plan_extractor_loads(&asked));
        let _ = DryingAsked::of_supers(&house, &supers, room(), now).map(|at_hand| plan_drying(&at_hand.asked));
        prop_assert!(next(&house, now).tasks.iter().all(|task| !task.rule.is_empty()));
    }
}

#[test]
fn a_yard_in_flow_takes_unripe_supers_back() {
    let mut book = harvest();
    book.tell(
        1,
        minute(-50_000),
        told("flow_started", json!({"yard_id": yard(1), "on": "2025-06-01"})),
    );
    let open = json!({"super_id": honey_super(1), "capped_percent": 40});
    let at = minute(-598);
    book.tell(1, at, told("super_pulled", open));
    book.tell(1, minute(-100), read(honey_super(1), 1_950));
    let label = book.house().label(honey_super(1).into());
    let act = |book: &Book| {
        let plan = order(&book.house(), minute(0));
        plan.supers.iter().find(|one| one.label == label).map(|one| one.action)
    };
    assert_eq!(act(&book), Some(Action::ReturnToHive));
    book.tell(
        1,
        minute(-60),
        told("flow_ended", json!({"yard_id": yard(1), "on": "2025-07-11"})),
    );
    assert_eq!(act(&book), Some(Action::Dry));
}

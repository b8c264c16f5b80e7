//! Every refusal and every warning of the rules, each reached by a small case in one house.
//!
//! The codes are read off the sources of the rules: a new one without a case fails here.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

mod common;

use std::collections::BTreeSet;
use std::path::Path;

use common::asking::told;
use common::entries::{
    batch, blended, bottled, customer, delivered, delivery, drawn, fill, hive, hold, honey_super, lifted, lot, moved,
    new_hive, new_super, new_yard, placed, pulled, ran, read, received, released, run, shown, uncapped, wet, yard,
};
use common::{Book, minute, uuid};
use domain::common::{FlagCode, HoldReason};
use domain::decide::{Refused, Warning, decide, decide_or_doubt, happened};
use domain::entry::Entry;
use domain::fill::FillSource;
use domain::house::House;
use domain::moisture::Shown;
use domain::subject::Subject;
use serde_json::{Value, json};

const COLONY: u32 = 1;
const CONTAINER: u32 = 1;

/// A house in which something stands in every state that a rule asks for; see the words beside each.
fn book() -> Book {
    let mut book = Book::default();
    let mut tell = |minutes: i64, entry: Entry| book.tell(1, minute(minutes), entry);
    // The first entry, so that its id is known: glass broke over batch 60, and nobody wrote how the line was cleaned.
    tell(-60, told("glass_broken", json!({"batch_id": batch(60)})));
    let medicine = json!({"medicine_id": uuid(12, 1), "name": "strips", "wait_days": 0, "supers_allowed": false});
    tell(-90_000, told("medicine_registered", medicine));
    tell(-90_000, new_yard(1, "west yard"));
    for number in 1..=4 {
        tell(-90_000, new_hive(number, 1, &format!("W{number:02}")));
    }
    for number in 1..=6 {
        tell(-90_000, new_super(number));
    }
    // Hive 2 carries six supers, hive 3 is on hold.
    for number in 21..=26 {
        tell(-80_000, placed(number, 2));
    }
    // Hive 4 carries as many as a hive can.
    for number in 31..=42 {
        tell(-80_000, placed(number, 4));
    }
    tell(
        -90_000,
        told("room_registered", json!({"room_id": uuid(13, 1), "name": "warm room"})),
    );
    tell(
        -90_000,
        told(
            "meter_registered",
            json!({"meter_id": uuid(14, 1), "name": "meter", "compensated": true}),
        ),
    );
    tell(
        -11_000,
        told("meter_checked", json!({"meter_id": uuid(14, 1), "passed": true})),
    );
    tell(-70_000, hold(hive(3), HoldReason::Treatment));
    // Super 1 is on hive 1, 2 pulled, 3 spun, 4 scrapped, 5 in store, 6 in the house and wet, 7 there and not measured.
    for number in [1, 2, 3, 6, 7] {
        tell(-80_000, placed(number, 1));
    }
    let full = json!({"super_id": honey_super(2), "fullness_quarters": 4});
    tell(-500, told("super_pulled", full));
    for number in [3, 6, 7] {
        tell(-500, pulled(number, None));
    }
    for number in [3, 6, 7] {
        tell(-400, received(number, Some(20_000)));
    }
    tell(-390, read(honey_super(6), 1_950));
    tell(-300, uncapped(3, 1));
    tell(
        -80_000,
        told("super_scrapped", json!({"super_id": honey_super(4), "how": "lost"})),
    );
    tell(-300, told("run_drained", json!({"run_id": run(2)})));
    let pail = json!({"container_id": uuid(10, CONTAINER), "number": "P1", "container": "pail", "tare_g": 1_200, "holds_ml": 10_000});
    tell(-90_000, told("container_registered", pail.clone()));
    let mut other = pail;
    other["container_id"] = json!(uuid(10, 2));
    tell(-90_000, told("container_registered", other));
    let Entry::ContainerFilled(mut in_pail) = ran(1, 1, 20_000) else {
        panic!("a fill")
    };
    in_pail.container_id = Some(domain::ids::ContainerId::from_uuid(uuid(10, CONTAINER)));
    tell(-200, in_pail.into());
    // Fill 5 is overdrawn.
    tell(-200, ran(5, 1, 1_000));
    tell(-190, drawn(11, 5, 5_000));
    // Fill 2 is too wet for any blend, fill 3 measured, fill 4 measured and above the house limit.
    for (number, water) in [(2, 2_100), (3, 1_700), (4, 1_900)] {
        tell(-200, ran(number, 1, 10_000));
        tell(-190, read(fill(number), water));
    }
    // Lot 1 is released and in jars, 2 not measured, 3 not released, 4 too wet, 5 measured long ago, 6 on hold,
    // 7 overdrawn, 8 wetter than the meter reaches.
    for (number, grams) in [
        (1, 6_000),
        (2, 1_000),
        (3, 1_000),
        (4, 1_000),
        (5, 1_000),
        (6, 1_000),
        (7, 1_000),
        (8, 1_000),
    ] {
        tell(-40_000, drawn(number, 1, grams));
    }
    for (number, water) in [(1, 1_720), (3, 1_720), (4, 1_900), (6, 1_720), (7, 1_720)] {
        tell(-100, read(lot(number), water));
    }
    tell(-100, shown(lot(8), Shown::OffScaleWet));
    // Lot 10 was measured by a meter that was not checked for a week.
    tell(-200, drawn(10, 1, 500));
    tell(
        -100,
        told(
            "moisture_read",
            json!({"targets": [Subject::from(lot(10))], "shown": {"moisture_hundredths": 1_720}, "meter_id": uuid(14, 1),
                "compensated": true}),
        ),
    );
    tell(-28_800, read(lot(5), 1_720));
    tell(-90, hold(lot(6), HoldReason::Taint));
    for number in [1, 7] {
        tell(-80, released(number));
    }
    tell(-70, bottled(1, 1, 8));
    tell(-60, bottled(2, 1, 2));
    tell(-60, bottled(9, 7, 8));
    // Batch 3 is of the lot on hold.
    tell(-60, bottled(3, 6, 1));
    tell(
        -50,
        told(
            "customer_registered",
            json!({"customer_id": customer(1), "name": "corner shop"}),
        ),
    );
    tell(-40, delivered(1, 1, 2, Some(1)));
    // Container 3 was emptied and not washed; lot 13 was read twice, and the readings do not fit.
    let Entry::ContainerFilled(mut drawn_empty) = ran(60, 1, 1_000) else {
        panic!("a fill")
    };
    drawn_empty.container_id = Some(domain::ids::ContainerId::from_uuid(uuid(10, 3)));
    let third =
        json!({"container_id": uuid(10, 3), "number": "P3", "container": "pail", "tare_g": 1_200, "holds_ml": 10_000});
    tell(-90_000, told("container_registered", third));
    tell(-200, drawn_empty.into());
    tell(-190, drawn(60, 60, 1_000));
    tell(-200, drawn(13, 1, 500));
    for water in [1_700, 1_740] {
        tell(-100, read(lot(13), water));
    }
    // Run 8 does not add up, run 9 is closed, of run 10 honey is drawn, run 11 is on extractor E1.
    tell(-90_000, new_super(51));
    tell(-80_000, placed(51, 1));
    tell(-400, received(51, Some(20_000)));
    tell(-300, uncapped(51, 8));
    tell(-290, wet(51, 8, 8_000));
    tell(-280, ran(80, 8, 5_000));
    let wax = json!({"run_id": run(8), "honey_g": 100, "wax_g": 100});
    tell(-270, told("cappings_weighed", wax));
    for number in [8, 9, 10] {
        tell(-260, told("run_drained", json!({"run_id": run(number)})));
    }
    tell(-280, ran(81, 10, 5_000));
    tell(-250, drawn(81, 81, 1_000));
    for number in [9, 10] {
        tell(-240, told("run_closed", json!({"run_id": run(number)})));
    }
    tell(-300, told("run_opened", json!({"run_id": run(11), "extractor": "E1"})));
    // Delivery 70 is ordered, 71 cancelled, 72 ordered and delivered.
    for number in [70, 71, 72] {
        let wanted = json!([{"nominal_g": 500, "count": 2}]);
        let order = json!({"delivery_id": delivery(number), "wanted": wanted, "customer_id": customer(1)});
        tell(-45, told("goods_ordered", order));
    }
    let cancelled = json!({"delivery_id": delivery(71), "mark": "cancelled"});
    tell(-44, told("order_marked", cancelled));
    tell(-40, delivered(72, 9, 1, Some(1)));
    // In the flow yard the flow begins in three weeks; an escape board is on hive 92 for over three days.
    tell(-90_000, new_yard(2, "flow yard"));
    tell(-90_000, new_hive(92, 2, "F92"));
    let flow = json!({"yard_id": yard(2), "on": "2025-08-02"});
    tell(-90_000, told("flow_started", flow));
    tell(-90_000, new_super(52));
    tell(-80_000, placed(52, 92));
    let board = json!({"hive_ids": [hive(92)], "clearing": "escape_board"});
    tell(-5_000, told("clearing_fitted", board));
    let colony = uuid(11, COLONY);
    tell(
        -90_000,
        told("colony_registered", json!({"colony_id": colony, "hive_id": hive(1)})),
    );
    tell(
        -80_000,
        told("colony_ended", json!({"colony_id": colony, "how": "dead"})),
    );
    book
}

/// The first entry of the book.
fn broke() -> domain::ids::EntryId {
    domain::ids::EntryId::from_uuid(uuid(0xE000, 1))
}

struct Fixture {
    house: House,
    suspected: domain::ids::EntryId,
    standing: domain::ids::EntryId,
    ended: domain::ids::EntryId,
}

fn fixture() -> Fixture {
    let mut book = book();
    let standing = book.tell(1, minute(-20), hold(batch(9), HoldReason::Complaint));
    let ended = book.tell(1, minute(-20), hold(batch(9), HoldReason::Glass));
    book.tell(1, minute(-10), lifted(batch(9), ended));
    // Moves out of yard 9 are stopped, and its bees may be sick.
    book.tell(1, minute(-90_000), new_yard(9, "sick yard"));
    book.tell(1, minute(-90_000), new_hive(91, 9, "K91"));
    let order = json!({"yard_id": yard(9), "order": "SN 1"});
    book.tell(1, minute(-9), told("standstill_ordered", order));
    // The jar of batch 55 holds 490 g.
    book.tell(1, minute(-30), drawn(55, 1, 500));
    book.tell(1, minute(-25), bottled(55, 55, 1));
    let short = json!({"batch_id": batch(55), "net_tenths_g": [4_900]});
    book.tell(1, minute(-24), told("weights_checked", short));
    let sick = json!({"place": {"yard_id": yard(9)}, "disease": "unknown"});
    let suspected = book.tell(1, minute(-9), told("disease_suspected", sick));
    Fixture {
        house: book.house(),
        suspected,
        standing,
        ended,
    }
}

fn asked(entry: &Entry, house: &House) -> Result<Vec<Warning>, Refused> {
    decide(entry, house, minute(0))
}

fn with(mut entry: Value, more: Value) -> Value {
    let Value::Object(more) = more else { panic!("fields") };
    entry.as_object_mut().unwrap().extend(more);
    entry
}

/// A filling of a container.
fn filling(number: u32, container: Option<u32>, gross: i64, more: Value) -> Entry {
    let data = json!({"fill_id": fill(number), "source": {"run_id": run(1)}, "gross_g": gross, "tare_g": 1_200});
    let data = match container {
        Some(container) => with(data, json!({"container_id": uuid(10, container)})),
        None => data,
    };
    told("container_filled", with(data, more))
}

fn bottling(from: u32, code: &str, more: Value) -> Entry {
    let data = json!({"lot_id": lot(from), "batch_id": batch(50), "code": code, "nominal_g": 500, "jars_good": 1});
    told("bottled", with(data, more))
}

/// A code that no lot and no batch of the house has.
const FREE: &str = "25-A007-Y";

fn room(read: Value) -> Entry {
    told("room_read", with(json!({"room_id": uuid(13, 1)}), read))
}

fn honey_counted(of: impl Into<Subject>, grams: i64) -> Entry {
    told("honey_counted", json!({"target": of.into(), "content_g": grams}))
}

/// A value of a profile, changed by the owner.
fn changed(profile: &str, key: &str, value: Value) -> Entry {
    let data = json!({"operation_id": uuid(31, 1), "profile": profile, "key": key, "reason": "the authority's letter"});
    told("profile_value_changed", with(data, json!({"value": value})))
}

fn release(of: u32, more: Value) -> Entry {
    told("lot_released", with(json!({"lot_id": lot(of)}), more))
}

fn feeding(number: u32, grams: i64) -> Entry {
    let data = json!({"hive_ids": [hive(number)], "feed": "fondant", "per_hive": {"weight_g": grams}});
    told("feed_put_on", data)
}

fn refusals(fixture: &Fixture) -> Vec<(&'static str, Entry)> {
    let pull = |number, more| told("super_pulled", with(json!({"super_id": honey_super(number)}), more));
    let mark = |number, mark: &str| told("order_marked", json!({"delivery_id": delivery(number), "mark": mark}));
    let of = |from: &[(Subject, i64)]| blended(40, from);
    vec![
        (
            "already_ended",
            told("colony_ended", json!({"colony_id": uuid(11, COLONY), "how": "dead"})),
        ),
        ("already_ended", lifted(batch(9), fixture.ended)),
        ("already_extracted", read(honey_super(3), 1_700)),
        ("already_pulled", pull(2, json!({}))),
        ("already_registered", new_yard(1, "again")),
        ("already_registered", filling(1, None, 5_000, json!({}))),
        ("already_registered", drawn(1, 3, 1_000)),
        ("already_registered", delivered(1, 1, 1, None)),
        (
            "already_registered",
            told(
                "bottled",
                json!({"lot_id": lot(1), "batch_id": batch(2), "code": FREE, "nominal_g": 500, "jars_good": 1}),
            ),
        ),
        ("ancestry_loop", blended(41, &[(lot(41).into(), 100)])),
        (
            "code_taken",
            told(
                "honey_drawn",
                json!({"lot_id": lot(40), "code": common::entries::code(4), "fill_id": fill(3), "weight_g": 100}),
            ),
        ),
        (
            "code_taken",
            bottling(1, &common::entries::code(3).to_string(), json!({})),
        ),
        ("container_not_empty", filling(40, Some(CONTAINER), 5_000, json!({}))),
        ("end_the_cause", lifted(yard(9), fixture.suspected)),
        ("extracted_twice", uncapped(3, 1)),
        ("impossible_temperature", room(json!({"air_tenths_c": 601}))),
        ("overdrawn", drawn(40, 5, 1)),
        ("not_honey", honey_counted(honey_super(1), 100)),
        ("not_registered", honey_counted(fill(99), 100)),
        ("too_many_supers", placed(5, 4)),
        ("impossible_weight", received(6, Some(61_000))),
        (
            "impossible_weight",
            told(
                "weights_checked",
                json!({"batch_id": batch(1), "net_tenths_g": [5_000, 0]}),
            ),
        ),
        ("measured_too_long_ago", release(5, json!({}))),
        (
            "more_labels_than_printed",
            told("labelled", json!({"batch_id": batch(1), "printed": 5, "used": 6})),
        ),
        (
            "more_than_delivered",
            told(
                "returned",
                json!({"delivery_id": delivery(1), "batch_id": batch(1), "jars": 3}),
            ),
        ),
        ("more_than_in_stock", delivered(40, 1, 7, None)),
        ("more_than_it_holds", drawn(40, 3, 10_501)),
        (
            "more_than_it_holds",
            told("fill_settled", json!({"fill_id": fill(3), "skimmed_g": 10_501})),
        ),
        (
            "more_than_it_holds",
            told("lot_sampled", json!({"lot_id": lot(2), "weight_g": 1_501})),
        ),
        ("more_than_it_holds", bottling(1, FREE, json!({"jars_good": 20}))),
        ("never_placed", pull(5, json!({}))),
        ("never_placed", received(5, None)),
        ("never_placed", uncapped(5, 1)),
        ("no_jars", bottling(1, FREE, json!({"jars_good": 0, "used_g": 100}))),
        (
            "no_lines",
            told("delivered", json!({"delivery_id": delivery(40), "lines": []})),
        ),
        ("no_net_weight", filling(40, None, 1_200, json!({}))),
        ("no_parts", blended(40, &[])),
        ("no_such_hold", lifted(batch(1), fixture.standing)),
        (
            "no_such_hold",
            told(
                "disease_cleared",
                json!({"place": {"yard_id": yard(1)}, "cause_id": fixture.suspected, "reason": "clean"}),
            ),
        ),
        ("nothing_named", told("treatment_seen", json!({"hive_ids": []}))),
        (
            "no_target",
            told(
                "moisture_read",
                json!({"targets": [], "shown": {"moisture_hundredths": 1_700}}),
            ),
        ),
        ("not_honey", of(&[(honey_super(1).into(), 100)])),
        ("not_in_run", wet(6, 1, 8_000)),
        ("not_measured", release(2, json!({}))),
        ("not_registered", placed(99, 1)),
        ("not_registered", placed(5, 99)),
        ("already_delivered", mark(72, "cancelled")),
        (
            "honey_drawn_already",
            told("run_reopened", json!({"run_id": run(10), "reason": "late"})),
        ),
        (
            "not_closed",
            told("run_reopened", json!({"run_id": run(1), "reason": "late"})),
        ),
        ("not_delivered", mark(70, "paid")),
        ("not_drained", told("run_closed", json!({"run_id": run(1)}))),
        ("not_ordered", mark(99, "confirmed")),
        (
            "not_so_ended",
            told(
                "honey_ended",
                json!({"target": Subject::from(honey_super(1)), "how": "withdrawn", "reason": "smells"}),
            ),
        ),
        (
            "not_so_ended",
            told(
                "honey_ended",
                json!({"target": Subject::from(batch(1)), "how": "downgraded", "reason": "set coarse"}),
            ),
        ),
        ("order_cancelled", delivered(71, 1, 1, Some(1))),
        ("order_cancelled", mark(71, "confirmed")),
        ("parent_spoilt", of(&[(lot(6).into(), 100)])),
        ("parent_too_wet", of(&[(lot(8).into(), 100)])),
        (
            "run_closed",
            told("cappings_weighed", json!({"run_id": run(9), "honey_g": 100})),
        ),
        ("not_released", bottling(3, FREE, json!({}))),
        ("on_hold", release(6, json!({}))),
        (
            "on_hold",
            told("labelled", json!({"batch_id": batch(3), "printed": 1, "used": 1})),
        ),
        ("on_hold", delivered(40, 3, 1, None)),
        ("on_other_hive", moved(1, 2, 3)),
        ("on_other_hive", pull(1, json!({"hive_id": hive(2)}))),
        ("on_two_hives", placed(1, 2)),
        ("overdrawn", bottling(7, FREE, json!({}))),
        (
            "not_in_profile",
            changed("eu", "moisture_grade_one", json!({"moisture_hundredths": 1_750})),
        ),
        ("value_cannot_be", changed("eu", "moisture_general", json!("on_demand"))),
        (
            "value_cannot_be",
            changed("eu", "moisture_general", json!({"moisture_hundredths": 3_501})),
        ),
        (
            "value_cannot_be",
            changed("canada", "best_before", json!({"months": 0})),
        ),
        (
            "too_wet",
            told(
                "house_limit_set",
                json!({"operation_id": uuid(31, 1), "moisture_hundredths": 2_001}),
            ),
        ),
        (
            "net_content",
            told("labelled", json!({"batch_id": batch(55), "printed": 1, "used": 1})),
        ),
        ("net_content", delivered(40, 55, 1, None)),
        ("jar_holds_nothing", planned(0, 10)),
        ("shares_exceed_the_honey", planned(500, 51)),
        ("parent_too_wet", of(&[(fill(2).into(), 100)])),
        ("reading_cannot_be", read(fill(3), 900)),
        ("reading_cannot_be", read(fill(3), 3_501)),
        ("run_drained", uncapped(6, 2)),
        ("run_drained", told("run_drained", json!({"run_id": run(2)}))),
        (
            "standstill",
            told("hive_moved", json!({"hive_id": hive(91), "yard_id": yard(1)})),
        ),
        ("super_ended", placed(4, 1)),
        ("tastes_wrong", release(1, json!({"tastes_right": false}))),
        ("too_much_feed", feeding(1, 40_001)),
        ("too_wet", release(4, json!({}))),
        ("too_wet", release(8, json!({}))),
        (
            "united_into_missing",
            told("colony_ended", json!({"colony_id": uuid(11, 9), "how": "united"})),
        ),
        ("wet_heavier_than_full", wet(3, 1, 20_001)),
    ]
}

fn warnings() -> Vec<(&'static str, Entry)> {
    let pull = |more| told("super_pulled", with(json!({"super_id": honey_super(1)}), more));
    let weighed = |grams: i64| told("super_weighed", json!({"super_id": honey_super(6), "gross_g": grams}));
    vec![
        ("amber_reading", release(10, json!({"samples_kept": 2}))),
        (
            "batch_not_bought",
            told(
                "treatment_put_in",
                json!({"hive_ids": [hive(3)], "medicine_id": uuid(12, 1), "batch": "K1"}),
            ),
        ),
        (
            "brood_box",
            told(
                "super_placed",
                json!({"super_id": honey_super(5), "hive_id": hive(1), "comb": "brood"}),
            ),
        ),
        ("brood_seen", pull(json!({"brood_seen": true}))),
        ("content_differs", honey_counted(fill(3), 9_000)),
        ("number_taken", {
            let Entry::SuperRegistered(mut second) = new_super(90) else {
                panic!("a box")
            };
            second.number = common::name("s001");
            second.into()
        }),
        (
            "room_too_humid",
            room(json!({"air_tenths_c": 300, "humidity_percent": 59})),
        ),
        ("room_too_warm", room(json!({"air_tenths_c": 351}))),
        (
            "unusual_settling",
            told("fill_settled", json!({"fill_id": fill(3), "days": 0})),
        ),
        (
            "unusual_settling",
            told("fill_settled", json!({"fill_id": fill(3), "days": 22})),
        ),
        ("forecast", blended(40, &[(fill(3).into(), 1_000)])),
        ("forecast_too_wet", blended(40, &[(fill(4).into(), 1_000)])),
        ("glass", bottling(1, FREE, json!({"jars_broken": 1}))),
        ("heavy_lift", weighed(23_000)),
        (
            "honey_temperature",
            told(
                "moisture_read",
                json!({"targets": [Subject::from(fill(3))], "shown": {"moisture_hundredths": 1_890},
                    "honey_tenths_c": 310, "compensated": false}),
            ),
        ),
        ("lighter_than_seen", received(2, Some(9_500))),
        (
            "labels_left",
            told("labelled", json!({"batch_id": batch(1), "printed": 9, "used": 8})),
        ),
        ("little_capped", pull(json!({"capped_percent": 74}))),
        ("many_supers", placed(5, 2)),
        ("much_feed", feeding(3, 12_001)),
        (
            "net_content",
            told(
                "weights_checked",
                json!({"batch_id": batch(1), "net_tenths_g": [4_990, 4_990]}),
            ),
        ),
        ("no_forecast", blended(40, &[(fill(1).into(), 1_000)])),
        ("no_label", filling(40, Some(2), 12_000, json!({"label_stuck": false}))),
        ("no_samples", release(3, json!({"samples_kept": 1}))),
        ("not_cleaned", lifted(batch(60), broke())),
        (
            "not_empty",
            told("box_cleaned", json!({"super_ids": [honey_super(1)], "how": "washed"})),
        ),
        (
            "nothing_in",
            told("treatment_taken_out", json!({"hive_ids": [hive(1)]})),
        ),
        (
            "notifiable",
            told(
                "disease_suspected",
                json!({"place": {"hive_id": hive(1)}, "disease": "american_foulbrood"}),
            ),
        ),
        ("supers_on", feeding(1, 1_000)),
        (
            "supers_on",
            told(
                "treatment_given",
                json!({"hive_ids": [hive(2)], "medicine_id": uuid(12, 1)}),
            ),
        ),
        ("not_measured", uncapped(7, 1)),
        ("older_in_stock", delivered(40, 2, 1, None)),
        ("on_hold", placed(5, 3)),
        ("balance_off", told("run_closed", json!({"run_id": run(8)}))),
        (
            "board_on_long",
            told("super_pulled", json!({"super_id": honey_super(52)})),
        ),
        (
            "claim_without_reason",
            told("lot_described", json!({"lot_id": lot(3), "claim": "heather"})),
        ),
        (
            "extractor_in_use",
            told("run_opened", json!({"run_id": run(99), "extractor": "e1"})),
        ),
        (
            "few_places",
            told(
                "moisture_read",
                json!({"targets": [Subject::from(honey_super(7))], "shown": {"moisture_hundredths": 1_700}, "places": 1}),
            ),
        ),
        (
            "near_flow",
            told(
                "treatment_put_in",
                json!({"hive_ids": [hive(92)], "medicine_id": uuid(12, 1)}),
            ),
        ),
        ("no_samples_place", release(3, json!({"samples_kept": 2}))),
        ("not_all_weighed", told("run_closed", json!({"run_id": run(2)}))),
        ("not_washed", filling(40, Some(3), 12_000, json!({}))),
        ("readings_apart", release(13, json!({"samples_kept": 2}))),
        (
            "too_hot_for_repellent",
            told(
                "clearing_fitted",
                json!({"hive_ids": [hive(1)], "clearing": "fume_board", "air_tenths_c": 330}),
            ),
        ),
        ("on_hold", {
            let data = json!({"lot_id": lot(40), "code": FREE, "batch_id": batch(3), "jars": 1, "weight_g": 490});
            told("jars_reworked", data)
        }),
        ("over_capacity", filling(40, Some(2), 16_000, json!({}))),
        ("too_wet", uncapped(6, 1)),
        ("too_wet", read(fill(3), 1_801)),
        ("under_a_quarter", filling(40, Some(2), 4_000, json!({}))),
        (
            "milder_than_text",
            changed("eu", "moisture_general", json!({"moisture_hundredths": 2_001})),
        ),
        (
            "milder_than_text",
            changed("canada", "keep_trace_records", json!({"months": 23})),
        ),
        (
            "milder_than_text",
            changed("canada", "request_answer", json!("on_demand")),
        ),
        (
            "milder_than_text",
            changed("canada", "request_answer", json!({"hours": 25})),
        ),
        (
            "milder_than_text",
            changed("canada", "recall_exercise", json!({"months": 13})),
        ),
        (
            "milder_than_text",
            changed("uk_england", "net_content", json!({"net_content": "minimum"})),
        ),
        (
            "milder_than_text",
            changed("usa", "supers_wait_warm", json!({"days": 4})),
        ),
        ("unusually_dry", read(fill(3), 1_399)),
        ("unusually_heavy", weighed(30_001)),
        ("unusually_light", weighed(8_999)),
        ("used_differs", bottling(1, FREE, json!({"used_g": 511}))),
    ]
}

/// A season planned with a jar beside one that takes half the honey.
fn planned(size_g: i64, share_percent: i64) -> Entry {
    let jars = [
        json!({"size_g": size_g, "share_percent": share_percent}),
        json!({"size_g": 500, "share_percent": 50}),
    ];
    told(
        "season_planned",
        json!({"operation_id": uuid(31, 1), "season": 2026, "colonies": 60, "jars": jars}),
    )
}

/// The codes that the rules can answer with, read off their sources.
fn codes_after(call: &str) -> BTreeSet<String> {
    fn sources(folder: &Path, into: &mut String) {
        for file in std::fs::read_dir(folder).unwrap() {
            let path = file.unwrap().path();
            if path.extension().is_some_and(|ext| ext == "rs") {
                into.push_str(&std::fs::read_to_string(path).unwrap());
            }
        }
    }
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut text = std::fs::read_to_string(src.join("decide.rs")).unwrap();
    sources(&src.join("decide"), &mut text);
    let calls = text.split(call).skip(1).map(str::trim_start);
    let codes: BTreeSet<String> = calls
        .filter_map(|rest| rest.strip_prefix('"'))
        .map(|rest| rest.split('"').next().unwrap().to_owned())
        .collect();
    assert!(codes.len() > 15, "the sources are read: {codes:?}");
    codes
}

fn covered(cases: &[(&'static str, Entry)]) -> BTreeSet<String> {
    cases.iter().map(|(code, _)| (*code).to_owned()).collect()
}

#[test]
fn every_refusal_in_the_sources_has_a_case_that_reaches_it() {
    let fixture = fixture();
    let cases = refusals(&fixture);
    assert_eq!(covered(&cases), codes_after("refused("));
    for (code, entry) in cases {
        match asked(&entry, &fixture.house) {
            Err(refused) => {
                assert_eq!(refused.code, code, "{entry:?}: {refused}");
                assert!(!refused.detail.is_empty() && !refused.rule.is_empty());
            }
            Ok(warnings) => panic!("{code}: allowed with {warnings:?}: {entry:?}"),
        }
    }
}

#[test]
fn every_warning_in_the_sources_has_a_case_that_reaches_it_and_is_allowed() {
    let fixture = fixture();
    let cases = warnings();
    assert_eq!(covered(&cases), codes_after(".warn("));
    for (code, entry) in cases {
        match asked(&entry, &fixture.house) {
            Ok(warnings) => {
                let found = warnings.iter().find(|warning| warning.code == code);
                let warning = found.unwrap_or_else(|| panic!("{code} not in {warnings:?}"));
                assert!(!warning.detail.is_empty() && !warning.rule.is_empty());
            }
            Err(refused) => panic!("{code}: refused with {refused:?}"),
        }
    }
}

#[test]
fn a_tightened_value_is_taken_without_a_word_and_binds_the_house_limit() {
    let mut book = book();
    for tight in [
        changed("eu", "moisture_general", json!({"moisture_hundredths": 1_750})),
        changed("canada", "keep_trace_records", json!({"months": 60})),
        changed("canada", "request_answer", json!({"hours": 4})),
        changed("usa", "supers_wait_warm", json!({"days": 2})),
    ] {
        assert_eq!(asked(&tight, &book.house()), Ok(Vec::new()), "{tight:?}");
        book.tell(1, minute(-5), tight);
    }
    let house = book.house();
    let settings = house.settings();
    // MO-2: the house limit starts half a point below it.
    assert_eq!(settings.release_limit(domain::limits::Claim::General).get(), 1_700);
    let limit = |hundredths: i64| {
        told(
            "house_limit_set",
            json!({"operation_id": uuid(31, 1), "moisture_hundredths": hundredths}),
        )
    };
    assert!(asked(&limit(1_750), &house).is_ok());
    assert_eq!(asked(&limit(1_751), &house).unwrap_err().code, "too_wet");
    // Taken back, the text holds again.
    let Entry::ProfileValueChanged(mut back) = changed("eu", "moisture_general", json!("on_demand")) else {
        panic!("a change")
    };
    back.value = None;
    book.tell(1, minute(-4), back);
    assert!(asked(&limit(2_000), &book.house()).is_ok());
}

#[test]
fn an_allowed_wish_adds_no_doubt_to_anything_it_touches() {
    // Section 5 of the project's own examples: an allowed wish adds no discrepancy.
    let mut checked = 0;
    for (code, entry) in warnings().into_iter().chain(quiet()) {
        let mut book = book();
        assert!(asked(&entry, &book.house()).is_ok(), "{code}");
        let before: Vec<_> = entry
            .touches()
            .into_iter()
            .map(|about| (about, book.state(about).flags().to_vec()))
            .collect();
        book.tell(1, minute(0), entry);
        for (about, flags) in before {
            let after = book.state(about).flags().to_vec();
            // Two weighings of one box that differ are a doubt that an allowed weighing may well raise (CF-10).
            let new: Vec<_> = after
                .iter()
                .filter(|flag| !flags.contains(flag))
                // So is a brood box that is put on as a super (FE-3).
                .filter(|flag| !matches!(flag.code, FlagCode::WeightsDiffer | FlagCode::BroodBoxAsSuper))
                .collect();
            assert!(new.is_empty(), "{code}: {new:?}");
            checked += 1;
        }
    }
    assert!(checked > 20);
}

/// Steps against which nothing speaks.
fn quiet() -> Vec<(&'static str, Entry)> {
    vec![
        ("place", placed(5, 1)),
        (
            "read a room",
            room(json!({"air_tenths_c": 350, "humidity_percent": 58})),
        ),
        ("settle", told("fill_settled", json!({"fill_id": fill(3), "days": 21}))),
        ("count honey", honey_counted(fill(3), 10_400)),
        ("shift", moved(1, 1, 2)),
        ("pull", pulled(1, Some(1))),
        ("draw", drawn(40, 3, 10_000)),
        ("bottle", bottling(1, FREE, json!({}))),
        (
            "release",
            release(3, json!({"samples_kept": 2, "samples_place": "cellar"})),
        ),
        ("fill", filling(40, Some(2), 12_000, json!({"label_stuck": true}))),
        ("deliver", delivered(40, 1, 6, Some(1))),
        (
            "take back",
            told(
                "returned",
                json!({"delivery_id": delivery(1), "batch_id": batch(1), "jars": 2}),
            ),
        ),
        (
            "label",
            told("labelled", json!({"batch_id": batch(1), "printed": 8, "used": 8})),
        ),
    ]
}

#[test]
fn what_is_as_it_should_be_is_allowed_without_a_word() {
    let fixture = fixture();
    for (step, entry) in quiet() {
        assert_eq!(
            asked(&entry, &fixture.house).map(|warnings| warnings.len()),
            Ok(0),
            "{step}"
        );
    }
}

#[test]
fn a_value_that_cannot_be_is_recorded_as_doubtful_if_the_person_insists_and_the_fold_flags_it() {
    // IN: a refusal of a value always offers this; what contradicts the book or safety does not.
    let fixture = fixture();
    let codes = [
        "impossible_weight",
        "impossible_temperature",
        "no_net_weight",
        "reading_cannot_be",
        "too_many_supers",
    ];
    let mut recorded = BTreeSet::new();
    for (code, entry) in refusals(&fixture) {
        match decide_or_doubt(&entry, &fixture.house, minute(0), true) {
            Ok(warnings) => {
                assert_eq!(warnings.len(), 1);
                assert!(warnings[0].code == code && warnings[0].detail.starts_with("recorded as doubtful"));
                recorded.insert(code);
            }
            Err(refused) => assert_eq!(refused.code, code),
        }
        assert!(decide_or_doubt(&entry, &fixture.house, minute(0), false).is_err());
    }
    let missing: Vec<_> = codes.iter().filter(|code| !recorded.contains(*code)).collect();
    assert!(missing.is_empty(), "{missing:?} not in {recorded:?}");
    for safety in [
        "on_hold",
        "too_wet",
        "parent_too_wet",
        "tastes_wrong",
        "more_than_it_holds",
        "not_released",
    ] {
        assert!(!recorded.contains(safety), "{safety}");
    }
    let mut book = book();
    book.tell(1, minute(0), received(6, Some(61_000)));
    book.tell(1, minute(0), filling(41, None, 1_200, json!({})));
    book.tell(1, minute(0), room(json!({"air_tenths_c": 601})));
    let flagged = |state: domain::state::State| state.flags().iter().any(|flag| flag.code == FlagCode::Implausible);
    assert!(flagged(book.state(honey_super(6))) && flagged(book.state(fill(41))));
    assert!(flagged(book.state(domain::ids::RoomId::from_uuid(uuid(13, 1)))));
    assert!(!flagged(book.state(fill(3))));
}

#[test]
fn a_happening_of_two_weeks_ago_is_questioned_and_one_that_has_not_come_is_refused() {
    // IN: more than 14 days ago, more than 10 minutes ahead; the bounds themselves are neither.
    let code = |minutes| happened(minute(minutes), minute(0)).map(|warning| warning.map(|warning| warning.code));
    assert_eq!(code(0), Ok(None));
    assert_eq!(code(-14 * 24 * 60), Ok(None));
    assert_eq!(code(-14 * 24 * 60 - 1), Ok(Some("long_ago")));
    assert_eq!(code(10), Ok(None));
    assert_eq!(code(11).map_err(|refused| refused.code), Err("not_yet"));
}

#[test]
fn of_two_lots_of_one_kind_the_one_released_first_goes_first() {
    // FI-1: by the day of release, whichever jars were filled first.
    let mut book = book();
    for number in [20, 21] {
        book.tell(1, minute(-59), drawn(number, 3, 2_000));
        book.tell(1, minute(-58), read(lot(number), 1_700));
    }
    book.tell(1, minute(-57), released(20));
    book.tell(1, minute(-56), released(21));
    book.tell(1, minute(-55), bottled(21, 21, 2));
    book.tell(1, minute(-54), bottled(20, 20, 2));
    // The other jars of this kind in the book are of a lot released earlier still.
    for other in [1, 2, 3, 9] {
        let out = json!({"batch_id": batch(other), "jars": book.state(batch(other)).as_batch().unwrap().jars_in_stock,
            "went": "own_use"});
        book.tell(1, minute(-50), told("jars_taken_out", out));
    }
    let older = |of: u32| {
        let warnings = asked(&delivered(40, of, 1, None), &book.house()).unwrap();
        warnings.iter().any(|warning| warning.code == "older_in_stock")
    };
    assert_eq!((older(20), older(21)), (false, true));
}

#[test]
fn a_fill_of_unknown_origin_holds_what_is_drawn_from_it_and_its_lot_is_not_released() {
    let mut book = book();
    book.tell(1, minute(-30), common::entries::filled(30, FillSource::Unknown, 5_000));
    book.tell(1, minute(-20), drawn(30, 30, 2_000));
    book.tell(1, minute(-10), read(lot(30), 1_700));
    assert_eq!(
        asked(&release(30, json!({})), &book.house()).unwrap_err().code,
        "on_hold"
    );
    assert!(book.subjects().contains(&yard(1).into()));
}

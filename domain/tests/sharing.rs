//! Whose honey it is: hives in turn, carried hives, disputed and unknown places; every column adds up.
//!
//! Rules AL-1 to AL-7 and WT-3 of the project's trade rules; the days and kilograms are made up, the results
//! arithmetic.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

mod common;

use chrono::NaiveDate;
use common::entries::{
    hive, honey_super, moved, new_hive, new_super, new_yard, placed, pulled, ran, read, received, run, uncapped, wet,
    yard,
};
use common::{Book, at, count, g, histories, name};
use domain::allocation::Method;
use domain::doubts::{Doubt, doubts};
use domain::extraction::{CappingsWeighed, RunDrained};
use domain::hive::HiveMoved;
use domain::house::House;
use domain::ids::{MeterId, ScaleId};
use domain::meter::{Found, MeterChecked, MeterRegistered, ScaleChecked, ScaleRegistered};
use domain::moisture::{MoistureRead, Shown, Water, deciding, judged};
use domain::units::Moisture;
use domain::yard::{FlowEnded, FlowStarted};
use domain::yields::{Season, season};
use proptest::prelude::*;

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn noon(text: &str) -> chrono::DateTime<chrono::Utc> {
    at(&format!("{text}T11:00:00Z"))
}

fn flow(book: &mut Book, of: u32, from: &str, until: Option<&str>) {
    let (yard_id, on) = (yard(of), day(from));
    book.tell(0, noon("2025-01-01"), FlowStarted { yard_id, on });
    if let Some(until) = until {
        let on = day(until);
        book.tell(0, noon("2025-01-02"), FlowEnded { yard_id, on });
    }
}

/// Two yards with two hives each.
fn yards() -> Book {
    let mut book = Book::default();
    for (number, called) in [(1, "west"), (2, "moor")] {
        book.tell(0, noon("2024-12-01"), new_yard(number, called));
    }
    for (number, of) in [(1, 1), (2, 1), (3, 2), (4, 2)] {
        book.tell(0, noon("2024-12-01"), new_hive(number, of, &format!("H{number}")));
    }
    book.tell(0, noon("2024-12-01"), new_super(41));
    book
}

fn carry(book: &mut Book, number: u32, to: u32, on: &str) {
    let carried = HiveMoved {
        hive_id: hive(number),
        yard_id: yard(to),
        permit: None,
    };
    book.tell(0, noon(on), carried);
}

/// Pulled on a day and spun into so much honey, weighed in and out.
fn spin(book: &mut Book, pulled_on: &str, net_g: i64) {
    book.tell(1, noon(pulled_on), pulled(41, None));
    book.tell(1, noon("2025-10-01"), received(41, Some(20_000)));
    book.tell(1, noon("2025-10-02"), uncapped(41, 1));
    book.tell(1, noon("2025-10-02"), wet(41, 1, 7_000));
    book.tell(1, noon("2025-10-03"), ran(1, 1, net_g));
}

type Row = (u32, u32, i64, Option<Method>);

/// Hive, yard, grams and letter of each row.
fn hives(season: &Season) -> Vec<Row> {
    let number = |of: &dyn Fn(u32) -> bool| (1..9).find(|number| of(*number)).unwrap_or(0);
    let mut rows: Vec<Row> = season
        .hives
        .iter()
        .map(|row| {
            (
                number(&|one| hive(one) == row.hive_id),
                number(&|one| row.yard_id == Some(yard(one))),
                row.yield_g,
                row.method,
            )
        })
        .collect();
    rows.sort();
    rows
}

fn yields(season: &Season) -> Vec<(i64, Option<Method>)> {
    let mut rows = vec![(0, None); 2];
    for row in &season.yards {
        let at = usize::from(row.yard_id == yard(2));
        rows[at] = (row.yield_g, row.method);
    }
    rows
}

#[test]
fn two_hives_in_turn_share_by_their_days_in_the_flow_and_the_yard_keeps_the_letter() {
    // AL-4: hive 1 from 1 to 11 June, hive 2 to 1 July; flow from 6 to 25 June: 5 and 15 days.
    let mut book = yards();
    flow(&mut book, 1, "2025-06-06", Some("2025-06-25"));
    book.tell(1, noon("2025-06-01"), placed(41, 1));
    book.tell(1, noon("2025-06-11"), moved(41, 1, 2));
    spin(&mut book, "2025-07-01", 12_000);
    let season = season(&book.house(), 2025);
    let (c, a) = (Some(Method::C), Some(Method::A));
    assert_eq!(hives(&season), [(1, 1, 3_000, c), (2, 1, 9_000, c)]);
    assert_eq!(yields(&season), [(12_000, a), (0, None)]);
}

#[test]
fn outside_any_flow_all_days_count() {
    // AL-4: 10 and 20 days, the flow was over before.
    let mut book = yards();
    flow(&mut book, 1, "2025-04-01", Some("2025-04-20"));
    book.tell(1, noon("2025-06-01"), placed(41, 1));
    book.tell(1, noon("2025-06-11"), moved(41, 1, 2));
    spin(&mut book, "2025-07-01", 12_000);
    let c = Some(Method::C);
    assert_eq!(
        hives(&season(&book.house(), 2025)),
        [(1, 1, 4_000, c), (2, 1, 8_000, c)]
    );
}

#[test]
fn a_flow_without_an_end_lasts_until_the_last_pull_of_its_yard() {
    // AL-4: the only pull in the west yard is on 20 June, and until the 30th nothing was gathered there: 20 and 10 days.
    let mut book = yards();
    flow(&mut book, 1, "2025-06-01", None);
    flow(&mut book, 2, "2025-07-01", None);
    book.tell(0, noon("2024-12-01"), new_super(42));
    book.tell(1, noon("2025-06-01"), placed(42, 2));
    book.tell(1, noon("2025-06-20"), pulled(42, Some(2)));
    book.tell(1, noon("2025-06-01"), placed(41, 1));
    carry(&mut book, 1, 2, "2025-07-01");
    spin(&mut book, "2025-07-11", 12_000);
    let c = Some(Method::C);
    assert_eq!(
        hives(&season(&book.house(), 2025)),
        [(1, 1, 8_000, c), (1, 2, 4_000, c)]
    );
}

#[test]
fn a_carried_hive_shares_between_its_yards_by_their_flows_with_letter_c() {
    // AL-7: west flow 1 to 20 July, moor flow 3 August to 5 September: 20 and 34 days of 13.5 kg.
    let mut book = yards();
    flow(&mut book, 1, "2025-07-01", Some("2025-07-20"));
    flow(&mut book, 2, "2025-08-03", Some("2025-09-05"));
    book.tell(1, noon("2025-06-20"), placed(41, 1));
    carry(&mut book, 1, 2, "2025-08-01");
    spin(&mut book, "2025-09-08", 13_500);
    let season = season(&book.house(), 2025);
    let c = Some(Method::C);
    assert_eq!(hives(&season), [(1, 1, 5_000, c), (1, 2, 8_500, c)]);
    assert_eq!(yields(&season), [(5_000, c), (8_500, c)]);
    assert_eq!((season.total_g, season.unassigned_g), (13_500, 0));
}

#[test]
fn carried_back_and_forth_the_days_at_each_place_add_up() {
    // AL-7: west 10 days, moor 20 days, west 10 days again.
    let mut book = yards();
    flow(&mut book, 1, "2025-06-01", Some("2025-08-31"));
    flow(&mut book, 2, "2025-06-01", Some("2025-08-31"));
    book.tell(1, noon("2025-06-01"), placed(41, 1));
    carry(&mut book, 1, 2, "2025-06-11");
    carry(&mut book, 1, 1, "2025-07-01");
    spin(&mut book, "2025-07-11", 10_000);
    let c = Some(Method::C);
    assert_eq!(
        hives(&season(&book.house(), 2025)),
        [(1, 1, 5_000, c), (1, 2, 5_000, c)]
    );
}

#[test]
fn without_a_day_in_any_flow_the_place_of_the_pull_has_it_all() {
    // AL-7, also where everything happened on one day, and where it was pulled at the place it had come from.
    for (back, placed_on, pulled_on, west_g) in [
        (false, "2025-06-01", "2025-09-01", 0),
        (true, "2025-06-01", "2025-09-01", 12_000),
        (false, "2025-08-01", "2025-08-01", 0),
    ] {
        let mut book = yards();
        book.tell(1, at(&format!("{placed_on}T08:00:00Z")), placed(41, 1));
        carry(&mut book, 1, 2, "2025-08-01");
        if back {
            carry(&mut book, 1, 1, "2025-08-20");
        }
        book.tell(1, at(&format!("{pulled_on}T18:00:00Z")), pulled(41, None));
        spin(&mut book, "2025-09-02", 12_000);
        let season = season(&book.house(), 2025);
        let yields: Vec<i64> = yields(&season).iter().map(|(grams, _)| *grams).collect();
        assert_eq!(yields, [west_g, 12_000 - west_g]);
        assert!(season.hives.iter().all(|row| row.method == Some(Method::C)));
    }
}

#[test]
fn a_super_of_hives_in_two_yards_belongs_to_nobody_until_settled() {
    // AL-5: the yard is unknown, so is the hive; the total still has it.
    let mut book = yards();
    let saw = book.newest();
    book.tell_having_seen(1, saw, noon("2025-06-01"), placed(41, 1));
    book.tell_having_seen(2, saw, at("2025-06-01T12:00:00Z"), placed(41, 3));
    spin(&mut book, "2025-07-01", 12_000);
    let season = season(&book.house(), 2025);
    assert_eq!((season.unassigned_g, season.total_g), (12_000, 12_000));
    assert!(yields(&season).iter().all(|(grams, _)| *grams == 0));
}

#[test]
fn honey_of_a_run_without_a_super_is_printed_as_unassigned() {
    // AL-5.
    let mut book = yards();
    book.tell(1, noon("2025-10-03"), ran(1, 1, 9_000));
    let season = season(&book.house(), 2025);
    assert_eq!(
        (season.unassigned_g, season.total_g, season.method),
        (9_000, 9_000, Some(Method::D))
    );
}

fn adds_up(house: &House) -> Result<(), TestCaseError> {
    let season = season(house, 2025);
    let pots: i64 = season.runs.iter().map(|run| run.pot_g).sum();
    let of_yards: i64 = season.yards.iter().map(|row| row.yield_g).sum();
    prop_assert_eq!(
        season.total_g,
        pots,
        "every pot is given to somebody or printed as nobody's"
    );
    prop_assert_eq!(of_yards + season.unassigned_g, season.total_g);
    for row in &season.yards {
        let sure = season.hives.iter().filter(|hive| hive.yard_id == Some(row.yard_id));
        let sure: i64 = sure.map(|hive| hive.yield_g).sum();
        prop_assert_eq!(sure + row.unassigned_in_yard_g, row.yield_g);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn hives_add_up_to_yards_and_yards_to_the_pots_in_any_history(steps in histories::steps(60)) {
        adds_up(&histories::book_after_a_harvest(&steps).house())?;
        adds_up(&histories::book(&steps).house())?;
    }

    #[test]
    fn carried_hives_lose_no_honey(
        moves in prop::collection::vec((1_u32..4, 1_u32..3, 0_i64..120), 0..8),
        flows in prop::collection::vec((1_u32..3, 0_i64..120, 0_i64..60), 0..4),
        stands in prop::collection::vec((1_u32..4, 0_i64..120), 1..4),
        net_g in 0_i64..40_000,
    ) {
        let begin = noon("2025-05-01");
        let days = |days: i64| begin + chrono::TimeDelta::days(days);
        let mut book = yards();
        for (number, to, on) in moves {
            book.tell(0, days(on), HiveMoved { hive_id: hive(number), yard_id: yard(to), permit: None });
        }
        for (of, on, long) in flows {
            let (yard_id, on) = (yard(of), days(on).date_naive());
            book.tell(0, begin, FlowStarted { yard_id, on });
            if long > 0 {
                book.tell(0, begin, FlowEnded { yard_id, on: on + chrono::TimeDelta::days(long) });
            }
        }
        for (number, on) in stands {
            book.tell(1, days(on), placed(41, number));
        }
        spin(&mut book, "2025-09-08", net_g);
        adds_up(&book.house())?;
    }
}

#[test]
fn the_full_weight_on_a_scale_found_right_counts_and_one_found_wrong_afterwards_does_not() {
    // CF-10.
    let scale_id = ScaleId::from_uuid(common::uuid(12, 1));
    let weighed = |grams: i64, scale: Option<ScaleId>| domain::honey_super::SuperWeighed {
        super_id: honey_super(41),
        gross_g: g(grams),
        scale_id: scale,
        lost: None,
    };
    for (passed_after, counts) in [(true, 20_400), (false, 20_000)] {
        let mut book = yards();
        let new = ScaleRegistered {
            scale_id,
            name: name("scale"),
            step_g: None,
        };
        book.tell(0, noon("2025-01-01"), new);
        book.tell(0, noon("2025-09-01"), ScaleChecked { scale_id, passed: true });
        book.tell(1, noon("2025-06-01"), placed(41, 1));
        book.tell(1, noon("2025-09-08"), received(41, None));
        book.tell(1, noon("2025-09-08"), weighed(20_400, Some(scale_id)));
        book.tell(1, noon("2025-09-09"), weighed(20_000, None));
        book.tell(
            0,
            noon("2025-09-20"),
            ScaleChecked {
                scale_id,
                passed: passed_after,
            },
        );
        let house = book.house();
        let filling = &house.honey_super(honey_super(41)).unwrap().filling;
        let counted = domain::weighing::full_of(&house, filling).unwrap();
        assert_eq!((counted.weighing.gross_g.get(), counted.amber), (counts, true));
    }
}

#[test]
fn weighings_before_a_drying_do_not_compete_with_those_after_it() {
    // CF-10: only weighings between two changes compete.
    let mut book = yards();
    book.tell(1, noon("2025-06-01"), placed(41, 1));
    book.tell(1, noon("2025-09-01"), received(41, Some(21_000)));
    let super_ids = vec![honey_super(41)];
    book.tell(
        1,
        noon("2025-09-02"),
        domain::warm_room::DryingStarted {
            super_ids: super_ids.clone(),
            room_id: None,
        },
    );
    book.tell(
        1,
        noon("2025-09-04"),
        domain::warm_room::DryingStopped {
            super_ids,
            room_id: None,
        },
    );
    book.tell(1, noon("2025-09-05"), received(41, Some(20_500)));
    let house = book.house();
    let filling = &house.honey_super(honey_super(41)).unwrap().filling;
    let counted = domain::weighing::full_of(&house, filling).unwrap();
    assert_eq!((counted.weighing.gross_g.get(), counted.amber), (20_500, false));
}

fn measured(book: &mut Book, on: &str, hundredths: i64, meter_id: MeterId) {
    let read = MoistureRead {
        targets: vec![honey_super(41).into()],
        shown: Shown::MoistureHundredths(Moisture::constant(hundredths)),
        honey_tenths_c: None,
        meter_id: Some(meter_id),
        compensated: Some(true),
        places: Some(count(2)),
    };
    book.tell(1, noon(on), read);
}

#[test]
fn a_meter_found_wrong_spoils_all_readings_since_it_was_last_right_and_shows_them_corrected() {
    // MO-8, MO-10: right on 1 July, on 22 July 0.8 too much. The reading of 30 June and of 23 July, after the next
    // good check, count.
    let meter_id = MeterId::from_uuid(common::uuid(14, 1));
    let mut book = yards();
    let new = MeterRegistered {
        meter_id,
        name: name("meter"),
        compensated: true,
    };
    book.tell(0, noon("2025-06-01"), new);
    let check = |passed, offset_hundredths| MeterChecked {
        meter_id,
        passed,
        offset_hundredths,
    };
    book.tell(0, noon("2025-06-28"), check(true, None));
    book.tell(0, noon("2025-07-01"), check(true, None));
    book.tell(0, noon("2025-07-22"), check(false, Some(80)));
    book.tell(0, at("2025-07-22T18:00:00Z"), check(true, None));
    book.tell(1, noon("2025-06-01"), placed(41, 1));
    for (on, shown) in [
        ("2025-06-30", 1_700),
        ("2025-07-05", 1_890),
        ("2025-07-20", 1_800),
        ("2025-07-23", 1_750),
        ("2025-07-31", 1_740),
    ] {
        measured(&mut book, on, shown, meter_id);
    }
    let house = book.house();
    let filling = &house.honey_super(honey_super(41)).unwrap().filling;
    let judged: Vec<_> = filling
        .readings
        .iter()
        .map(|reading| judged(reading, |id| house.meter(id)))
        .map(|judged| {
            (
                judged.meter.unwrap(),
                judged.corrected_hundredths.map(Moisture::get),
                judged.counts(),
            )
        })
        .collect();
    assert_eq!(
        judged,
        [
            (Found::Right, None, true),
            (Found::Wrong, Some(1_810), false),
            (Found::Wrong, Some(1_720), false),
            (Found::Right, None, true),
            (Found::TooLongAgo, None, true),
        ]
    );
    let water = deciding(&filling.readings, |id| house.meter(id));
    assert_eq!(
        water.measured().map(Moisture::get),
        Some(1_750),
        "the highest that counts"
    );
    let wrong = doubts(&house).into_iter().find_map(|doubt| match doubt {
        Doubt::MeterFoundWrong { meter_id, readings } => Some((meter_id, readings.len())),
        _ => None,
    });
    assert_eq!(wrong, Some((meter_id, 2)));
}

#[test]
fn a_check_holds_seven_days_and_not_a_minute_longer() {
    // MO-8.
    let meter_id = MeterId::from_uuid(common::uuid(14, 1));
    let mut book = yards();
    measured(&mut book, "2025-07-01", 1_700, meter_id);
    let check = MeterChecked {
        meter_id,
        passed: true,
        offset_hundredths: None,
    };
    book.tell(0, noon("2025-07-02"), check);
    let house = book.house();
    let meter = house.meter(meter_id).unwrap();
    let found = |time: &str| meter.found_at(at(time));
    assert_eq!(found("2025-07-01T11:00:00Z"), Found::Unchecked);
    assert_eq!(found("2025-07-09T11:00:00Z"), Found::Right);
    assert_eq!(found("2025-07-09T11:00:01Z"), Found::TooLongAgo);
    let read_at_all = read(honey_super(41), 1_700);
    book.tell(1, noon("2025-07-03"), read_at_all);
    let house = book.house();
    let readings = &house.honey_super(honey_super(41)).unwrap().filling.readings;
    let last = judged(readings.last().unwrap(), |id| house.meter(id));
    assert_eq!(
        (last.meter, last.corrected_hundredths),
        (None, None),
        "nobody named a meter"
    );
    assert!(matches!(
        deciding(readings, |id| house.meter(id)),
        Water::Measured { .. }
    ));
}

#[test]
fn a_container_told_of_two_runs_is_counted_once_and_both_are_possible_origins() {
    // CF-4, MB-1.
    let mut book = yards();
    book.tell(1, noon("2025-06-01"), placed(41, 1));
    spin(&mut book, "2025-07-01", 12_000);
    book.tell(1, noon("2025-10-04"), ran(1, 2, 12_000));
    let house = book.house();
    let season = season(&house, 2025);
    assert_eq!(season.total_g, 12_000);
    assert_eq!(
        season.unassigned_g, 12_000,
        "it is with the run told last, of which no super is known"
    );
    let back = domain::trace::trace(&house, common::entries::fill(1).into(), common::minute(900_000)).back;
    for number in [1, 2] {
        let step = back.iter().find(|step| step.subject == run(number).into()).unwrap();
        assert_eq!(step.certainty, domain::trace::Certainty::Possible);
    }
    let doubted = doubts(&house)
        .iter()
        .any(|doubt| matches!(doubt, Doubt::FilledFromTwoRuns { run_ids, .. } if run_ids.len() == 2));
    assert!(doubted);
}

#[test]
fn cappings_and_machine_of_a_run_are_in_its_balance() {
    // MB-1: 13.0 in less 12.0 bulk, 0.5 cappings, 0.2 wax, 0.2 machine leaves 0.1 kg.
    let mut book = yards();
    book.tell(1, noon("2025-06-01"), placed(41, 1));
    spin(&mut book, "2025-07-01", 12_000);
    let cappings = CappingsWeighed {
        run_id: run(1),
        honey_g: g(500),
        wax_g: Some(g(200)),
    };
    book.tell(1, noon("2025-10-04"), cappings);
    let drained = RunDrained {
        run_id: run(1),
        left_in_machine_g: Some(g(200)),
    };
    book.tell(1, noon("2025-10-03"), drained);
    let season = season(&book.house(), 2025);
    let balance = season.runs[0].balance.clone().unwrap();
    assert_eq!((balance.net_g, balance.unexplained_g), (13_000, 100));
    assert_eq!(season.runs[0].pot_g, 12_500);
}

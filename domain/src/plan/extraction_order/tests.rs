//! Orders that can be checked by hand, and what holds for every house.

use proptest::prelude::*;

use super::*;

fn one(label: &str, yard: Option<&str>, waiting_h: i64, moisture: Option<i64>) -> Waiting {
    Waiting {
        label: label.to_owned(),
        super_id: None,
        yard: yard.map(str::to_owned),
        waiting_h: Some(Hours::constant(waiting_h)),
        moisture_hundredths: moisture.map(Moisture::constant),
        off_scale_wet: None,
        drying_for_h: None,
        dried_since_measured: None,
        capped_percent: None,
        brood_seen: None,
        frames: Some(FrameCount::constant(9)),
        flow_on: None,
        objection: None,
    }
}

fn asked(supers: Vec<Waiting>) -> OrderAsked {
    OrderAsked {
        supers,
        house_limit_hundredths: Moisture::constant(1_800),
        store: None,
        beetle_region: None,
        warm_days: None,
        cool_days: None,
        beetle_days: None,
        places: Some(Places::constant(9)),
    }
}

fn order(plan: &OrderPlan) -> Vec<(&str, Action)> {
    plan.supers.iter().map(|one| (one.label.as_str(), one.action)).collect()
}

#[test]
fn one_yard_is_finished_before_the_next_and_the_latest_yard_comes_first() {
    let mut held = one("H", Some("west"), 90, Some(1_700));
    held.objection = Some(Objection {
        code: "on_hold".to_owned(),
        rule: "CF-17".to_owned(),
        sentence: "on hold".to_owned(),
    });
    let plan = plan_extraction_order(&asked(vec![
        one("E1", Some("east"), 10, Some(1_750)),
        one("W1", Some("west"), 30, Some(1_800)),
        held,
        one("E2", Some("east"), 80, Some(1_700)),
        one("X", None, 5, Some(1_700)),
        one("wet", Some("east"), 70, Some(1_801)),
        one("new", Some("west"), 1, None),
    ]));
    assert_eq!(
        order(&plan),
        [
            ("E2", Action::Extract),
            ("E1", Action::Extract),
            ("W1", Action::Extract),
            ("X", Action::Extract),
            ("new", Action::Measure),
            ("wet", Action::Dry),
            ("H", Action::Hold),
        ]
    );
    let runs: Vec<_> = plan
        .runs
        .iter()
        .map(|run| (run.yard.as_deref(), run.supers, run.frames, run.loads, run.drain_first))
        .collect();
    assert_eq!(
        runs,
        [
            (Some("east"), 2, 18, Some(2), false),
            (Some("west"), 1, 9, Some(1), true),
            (None, 1, 9, Some(1), true),
        ]
    );
    // FI-2: 80 hours in warmth are more than three days.
    assert_eq!(
        plan.supers.iter().map(|one| one.late).collect::<Vec<_>>()[0..2],
        [true, false]
    );
    assert!(plan.supers.iter().all(|one| !one.reasons.is_empty()));
}

#[test]
fn supers_wait_three_days_warm_seven_cool_and_two_with_beetles() {
    // FI-2; common practice, no source.
    let late = |hours: i64, store: Option<Store>, beetles: bool| {
        let mut asked = asked(vec![one("S", None, hours, None)]);
        (asked.store, asked.beetle_region) = (store, Some(beetles));
        plan_extraction_order(&asked).supers[0].late
    };
    for (days, store, beetles) in [
        (3, None, false),
        (3, Some(Store::Warm), false),
        (7, Some(Store::Cool), false),
        (2, Some(Store::Warm), true),
        (2, Some(Store::Cool), true),
    ] {
        assert!(!late(days * 24, store, beetles));
        assert!(late(days * 24 + 1, store, beetles));
    }
}

#[test]
fn unripe_honey_goes_back_only_while_it_is_fresh_and_bees_gather() {
    // ST-4: received and put back on a hive.
    let mut unripe = one("S", None, 24, Some(1_950));
    (unripe.capped_percent, unripe.flow_on) = (Some(Percent::constant(74)), Some(true));
    let act = |one: &Waiting| plan_extraction_order(&asked(vec![one.clone()])).supers[0].action;
    assert_eq!(act(&unripe), Action::ReturnToHive);
    for change in [
        |one: &mut Waiting| one.capped_percent = Some(Percent::constant(75)),
        |one: &mut Waiting| one.capped_percent = None,
        |one: &mut Waiting| one.waiting_h = Some(Hours::constant(25)),
        |one: &mut Waiting| one.flow_on = Some(false),
        |one: &mut Waiting| one.flow_on = None,
    ] {
        let mut other = unripe.clone();
        change(&mut other);
        assert_eq!(act(&other), Action::Dry);
    }
}

#[test]
fn brood_and_open_comb_are_told_and_do_not_stop() {
    let mut brood = one("S", None, 1, Some(1_700));
    (brood.brood_seen, brood.capped_percent) = (Some(true), Some(Percent::constant(40)));
    let plan = plan_extraction_order(&asked(vec![brood]));
    let codes: Vec<&str> = plan.supers[0]
        .reasons
        .iter()
        .map(|reason| reason.code.as_str())
        .collect();
    assert_eq!(codes, ["dry_enough", "brood_seen", "little_capped", "yard_unknown"]);
}

prop_compose! {
    fn any_super()(
        label in "[A-C][0-9]",
        yard in prop::option::of("(west|east|hill)"),
        waiting_h in prop::option::of(0_i64..400),
        moisture in prop::option::of(0_i64..=10_000),
        flags in prop::array::uniform6(any::<bool>()),
        capped in prop::option::of(0_i64..=100),
        frames in prop::option::of(0_i64..=30),
    ) -> Waiting {
        Waiting {
            label: label.clone(),
            super_id: None,
            yard,
            waiting_h: waiting_h.map(Hours::constant),
            moisture_hundredths: moisture.map(Moisture::constant),
            off_scale_wet: Some(flags[0] && flags[1]),
            drying_for_h: (flags[2] && flags[3]).then(|| Hours::constant(5)),
            dried_since_measured: Some(flags[4]),
            capped_percent: capped.map(Percent::constant),
            brood_seen: Some(flags[5]),
            frames: frames.map(FrameCount::constant),
            flow_on: Some(flags[1]),
            objection: (flags[0] && flags[5]).then(|| Objection {
                code: "on_hold".to_owned(),
                rule: "CF-17".to_owned(),
                sentence: label,
            }),
        }
    }
}

prop_compose! {
    fn any_house()(
        supers in prop::collection::vec(any_super(), 0..12),
        limit in 0_i64..=10_000,
        beetles in any::<bool>(),
        places in prop::option::of(2_i64..=200),
    ) -> OrderAsked {
        let mut asked = asked(supers);
        asked.house_limit_hundredths = Moisture::constant(limit);
        (asked.beetle_region, asked.places) = (Some(beetles), places.map(Places::constant));
        asked
    }
}

proptest! {
    #[test]
    fn every_super_has_one_place_and_runs_hold_what_is_extracted(asked in any_house()) {
        let plan = plan_extraction_order(&asked);
        let mut given: Vec<&str> = asked.supers.iter().map(|one| one.label.as_str()).collect();
        let mut placed: Vec<&str> = plan.supers.iter().map(|one| one.label.as_str()).collect();
        given.sort_unstable();
        placed.sort_unstable();
        prop_assert_eq!(given, placed);
        let ranks: Vec<i64> = plan.supers.iter().map(|one| one.rank).collect();
        prop_assert_eq!(ranks, (1..=whole(asked.supers.len())).collect::<Vec<_>>());
        for one in &plan.supers {
            prop_assert_eq!(one.run.is_some(), one.action == Action::Extract);
        }
        let extracted = plan.supers.iter().filter(|one| one.action == Action::Extract);
        let in_runs: Vec<i64> = extracted.filter_map(|one| one.run).collect();
        prop_assert!(in_runs.is_sorted());
        prop_assert_eq!(plan.runs.iter().map(|run| run.supers).sum::<i64>(), whole(in_runs.len()));
        // Only the first run needs no cleaning before it.
        prop_assert!(plan.runs.iter().all(|run| run.drain_first == (run.number > 1)));
    }

    #[test]
    fn nothing_above_the_limit_unmeasured_or_held_is_spun(asked in any_house()) {
        let plan = plan_extraction_order(&asked);
        for ordered in plan.supers.iter().filter(|one| one.action == Action::Extract) {
            // Labels may repeat: one of that name has to be fit.
            let fit = asked.supers.iter().any(|one| {
                one.label == ordered.label
                    && one.objection.is_none()
                    && one.off_scale_wet != Some(true)
                    && one.moisture_hundredths.is_some_and(|water| water <= asked.house_limit_hundredths)
            });
            prop_assert!(fit);
        }
    }

    #[test]
    fn more_water_never_brings_a_super_forward(mut asked in any_house(), more in 1_i64..3_000) {
        // One box with a name of its own among the others, measured.
        let mut probe = one("probe", Some("west"), 30, Some(1_700));
        probe.capped_percent = Some(Percent::constant(60));
        probe.flow_on = Some(true);
        for waiting_h in [10, 30, 100] {
            probe.waiting_h = Some(Hours::constant(waiting_h));
            asked.supers.push(probe.clone());
            let rank = |asked: &OrderAsked| {
                let plan = plan_extraction_order(asked);
                plan.supers.iter().find(|one| one.label == "probe").map(|one| (one.rank, one.action))
            };
            let dry = rank(&asked).unwrap();
            let last = asked.supers.len() - 1;
            asked.supers[last].moisture_hundredths = Some(Moisture::constant(1_700 + more));
            let wet = rank(&asked).unwrap();
            prop_assert!(wet >= dry, "{dry:?} {wet:?}");
            asked.supers[last].off_scale_wet = Some(true);
            prop_assert!(rank(&asked).unwrap() >= wet);
            asked.supers.pop();
        }
    }
}

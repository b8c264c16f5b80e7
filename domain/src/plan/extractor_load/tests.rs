//! Whole plans: figures against the published table, and what holds for every question.

use proptest::prelude::*;

use super::*;
use crate::science::spin::spin;

fn boxes(of: &[(&str, i64, Option<i64>)]) -> Vec<BoxOfFrames> {
    let one = |(label, frames, each_g): &(&str, i64, Option<i64>)| BoxOfFrames {
        label: (*label).to_owned(),
        frames: FrameCount::constant(*frames),
        each_g: each_g.map(Grams::constant),
    };
    of.iter().map(one).collect()
}

fn asked(spin: Spin, places: i64, of: &[(&str, i64, Option<i64>)]) -> LoadAsked {
    LoadAsked {
        spin,
        places: Places::constant(places),
        boxes: boxes(of),
        sort_across_boxes: None,
        counterweight_g: None,
        radius_mm: None,
        comb: None,
        honey_tenths_c: None,
        jelly: None,
        maker_turns_per_minute: None,
    }
}

fn codes(plan: &LoadPlan) -> Vec<&str> {
    plan.reasons.iter().map(|reason| reason.code.as_str()).collect()
}

#[test]
fn two_boxes_of_nine_and_eight_in_a_cage_of_ten() {
    // Ten full frames, then seven; a box's frames stay together.
    let plan = plan_extractor_loads(&asked(
        Spin::Radial,
        10,
        &[("S1", 9, Some(2_400)), ("S2", 8, Some(2_000))],
    ))
    .unwrap();
    assert_eq!(plan.loads.iter().map(|load| load.frames).collect::<Vec<_>>(), [10, 7]);
    // Nine of 2.4 kg and one of 2.0 kg: one pair differs by 400 g. Seven alike: one stands alone.
    assert_eq!(
        plan.loads.iter().map(|load| load.imbalance_g).collect::<Vec<_>>(),
        [400, 2_000]
    );
    assert!(plan.proven_best);
    assert!(codes(&plan).contains(&"single_frame") && codes(&plan).contains(&"part_load"));
    // 8 to 20 minutes a load by habit, and 2 to 5 to change frames.
    assert_eq!((plan.from_min, plan.to_min), (20, 50));
}

#[test]
fn a_counterweight_takes_the_place_opposite() {
    let mut asked = asked(Spin::Radial, 10, &[("S1", 7, Some(2_000))]);
    asked.counterweight_g = Some(Grams::constant(700));
    let plan = plan_extractor_loads(&asked).unwrap();
    assert_eq!(plan.largest_imbalance_g, 1_300);
    assert!(!codes(&plan).contains(&"single_frame"));
}

#[test]
fn a_tangential_load_is_turned_twice_and_first_spun_in_part() {
    let plan = plan_extractor_loads(&asked(Spin::Tangential, 4, &[("S1", 4, None)])).unwrap();
    assert_eq!(plan.steps.len(), 3);
    assert!(plan.steps[0].to_turns_per_minute < plan.steps[1].to_turns_per_minute);
    assert!(codes(&plan).contains(&"flips") && codes(&plan).contains(&"not_weighed"));
    assert_eq!(plan.loads[0].places[0].weight_g, 2_400);
}

#[test]
fn speeds_are_those_of_the_force_at_the_radius() {
    // Relative centrifugal force: 300 turns a minute at 0.30 m are 30.19 g, 250 at 0.25 m 17.47 g (textbook formula,
    // computed). A wired comb ends at 41 g: 345 turns at 0.30 m are 39.93 g, 350 would be 41.09.
    let mut asked = asked(Spin::Radial, 9, &[("S1", 9, None)]);
    asked.radius_mm = Some(Millimetres::constant(300));
    asked.comb = Some(Comb::WiredOrPlastic);
    let plan = plan_extractor_loads(&asked).unwrap();
    assert_eq!(plan.steps.last().unwrap().to_turns_per_minute, 345);
    asked.maker_turns_per_minute = Some(Turns::constant(300));
    let slower = plan_extractor_loads(&asked).unwrap();
    assert_eq!(slower.steps.last().unwrap().to_turns_per_minute, 300);
}

#[test]
fn new_wax_is_never_planned_above_15_g() {
    // Common practice, no source: 15 g for new or unwired wax; also where nobody told.
    for kind in [Spin::Radial, Spin::Tangential] {
        for comb in [None, Some(Comb::NewOrUnwired)] {
            for radius in [150, 220, 300, 350, 600] {
                let mut asked = asked(kind, 4, &[("S1", 4, None)]);
                (asked.radius_mm, asked.comb) = (Some(Millimetres::constant(radius)), comb);
                for step in plan_extractor_loads(&asked).unwrap().steps {
                    let turns = Turns::constant(step.to_turns_per_minute);
                    assert!(spin(turns, Millimetres::constant(radius), None, None).force_hundredths_g <= 1_500);
                    assert!(step.from_turns_per_minute <= step.to_turns_per_minute);
                }
            }
        }
    }
}

#[test]
fn cautions_name_the_lid_and_the_makers_manual() {
    let plan = plan_extractor_loads(&asked(Spin::Radial, 9, &[("S1", 9, None)])).unwrap();
    let all = plan.cautions.join(" ");
    assert!(all.contains("Lid closed") && all.contains("stands still") && all.contains("maker's manual"));
}

#[test]
fn nothing_and_too_much_are_refused() {
    assert_eq!(
        plan_extractor_loads(&asked(Spin::Radial, 9, &[("S1", 0, None)])),
        Err(LoadRefused::NoFrames)
    );
    let many: Vec<(&str, i64, Option<i64>)> = vec![("S", 30, None); 201];
    let refused = plan_extractor_loads(&asked(Spin::Radial, 9, &many));
    assert_eq!(refused, Err(LoadRefused::TooMany { got: 6_030 }));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn any_question_has_a_plan_with_every_frame_in_it_or_a_refusal(
        frames in prop::collection::vec((0_i64..=30, prop::option::of(0_i64..=10_000_000)), 0..8),
        places in 2_i64..=60,
        across in any::<bool>(),
        tangential in any::<bool>(),
        radius in prop::option::of(1_i64..=10_000),
        maker in prop::option::of(0_i64..=5_000),
        honey in prop::option::of(-400_i64..=1_500),
    ) {
        let of: Vec<(&str, i64, Option<i64>)> = frames.iter().map(|(frames, each)| ("S", *frames, *each)).collect();
        let kind = if tangential { Spin::Tangential } else { Spin::Radial };
        let mut asked = asked(kind, places, &of);
        asked.sort_across_boxes = Some(across);
        asked.radius_mm = radius.map(Millimetres::constant);
        asked.maker_turns_per_minute = maker.map(Turns::constant);
        asked.honey_tenths_c = honey.map(Temperature::constant);
        let total: i64 = frames.iter().map(|(frames, _)| frames).sum();
        match plan_extractor_loads(&asked) {
            Err(refused) => prop_assert_eq!((refused, total), (LoadRefused::NoFrames, 0)),
            Ok(plan) => {
                prop_assert_eq!(plan.frames, total);
                prop_assert_eq!(plan.loads.iter().map(|load| load.frames).sum::<i64>(), total);
                prop_assert_eq!(whole(plan.loads.len()), (total + places - 1) / places);
                prop_assert!(plan.from_min <= plan.to_min);
                for load in &plan.loads {
                    prop_assert_eq!(whole(load.places.len()), places);
                    prop_assert!(load.imbalance_g >= 0);
                }
                if let Some(maker) = maker {
                    prop_assert!(plan.steps.iter().all(|step| step.to_turns_per_minute <= maker));
                }
            }
        }
    }

    #[test]
    fn sorting_across_boxes_never_makes_an_even_cage_worse(
        frames in prop::collection::vec((1_i64..=12, 1_000_i64..4_000), 1..8),
        half in 1_i64..=10,
    ) {
        let of: Vec<(&str, i64, Option<i64>)> = frames.iter().map(|(frames, each)| ("S", *frames, Some(*each))).collect();
        let mut asked = asked(Spin::Radial, half * 2, &of);
        let kept = plan_extractor_loads(&asked).unwrap().largest_imbalance_g;
        asked.sort_across_boxes = Some(true);
        prop_assert!(plan_extractor_loads(&asked).unwrap().largest_imbalance_g <= kept);
    }
}

//! Lots judged by a sample.

use domain::science::sampling::{Plan, SamplingRefused, Shortfall, judge, to_be_weighed};
use domain::units::Grams;

use crate::near;

fn jar(grams: i64) -> Grams {
    Grams::new(grams).unwrap()
}

/// So many packs of the first weight, the rest of the second; tenths of a gram.
fn packs(low: usize, at: i64, of: usize, rest: i64) -> Vec<i64> {
    let mut weights = vec![rest; of];
    weights[..low].fill(at);
    weights
}

#[test]
fn worked_example_w17_passes_in_canada() {
    // W17: Safe Food for Canadians Regulations, schedules 4 and 5, read: 500 g, lot of 40, sample of 10: mean 500.4,
    // deviation 2.413, factor 1.03, lifted mean 502.89 within 0.01; tolerance 15 g, none below 485.
    let weights = [5_010, 4_990, 5_030, 5_000, 4_980, 5_020, 4_970, 5_050, 5_000, 4_990];
    let got = judge(Plan::Canada, jar(500), 40, &weights).unwrap();
    near(got.lifted_mean_hundredths_g, 50_289, 1);
    assert_eq!((got.mean_hundredths_g, got.deviation_thousandths_g), (50_040, 2_413));
    assert_eq!((got.to_be_weighed, got.fails_from), (10, 2));
    assert_eq!((got.below, got.far_below, got.passes), (0, 0, true));
    assert_eq!(got.shortfalls, []);
}

#[test]
fn worked_example_w19_fails_in_germany() {
    // W19: Fertigpackungsverordnung, annex 3, read: lots of 10 to 99 are weighed as a whole and the mean is not lifted:
    // 499.9 g on average fail.
    let mut weights = packs(20, 4_989, 40, 5_009);
    let got = judge(Plan::Germany, jar(500), 40, &weights).unwrap();
    assert_eq!((got.mean_hundredths_g, got.lifted_mean_hundredths_g), (49_990, 49_990));
    assert_eq!((got.shortfalls, got.passes), (vec![Shortfall::MeanBelow], false));
    // A tenth of a gram more in each is enough.
    weights.iter_mut().for_each(|weight| *weight += 1);
    assert!(judge(Plan::Germany, jar(500), 40, &weights).unwrap().passes);
}

#[test]
fn the_packs_to_be_weighed_are_those_of_the_plans() {
    // Schedules 4 and 5; annex 3 without opening packs; both read.
    for (lot, canada) in [
        (2, 2),
        (10, 10),
        (11, 10),
        (40, 10),
        (41, 11),
        (44, 11),
        (45, 12),
        (128, 32),
        (129, 32),
        (4_000, 32),
        (4_001, 64),
        (8_000, 64),
        (8_001, 96),
        (12_000, 96),
        (12_001, 125),
        (1_000_000, 125),
    ] {
        assert_eq!(to_be_weighed(Plan::Canada, lot), Ok(canada), "{lot}");
    }
    for (lot, germany) in [
        (10, 10),
        (99, 99),
        (100, 50),
        (500, 50),
        (501, 80),
        (3_200, 80),
        (3_201, 125),
        (10_000, 125),
        (10_001, 160),
    ] {
        assert_eq!(to_be_weighed(Plan::Germany, lot), Ok(germany), "{lot}");
    }
    assert_eq!(
        to_be_weighed(Plan::Canada, 1),
        Err(SamplingRefused::LotTooSmall { least: 2, lot: 1 })
    );
    assert_eq!(
        to_be_weighed(Plan::Germany, 9),
        Err(SamplingRefused::LotTooSmall { least: 10, lot: 9 })
    );
}

#[test]
fn the_factors_and_numbers_are_those_of_the_plans() {
    // Half the packs at 490 and half at 510 g: mean 500, deviation 10 sqrt(n/(n-1)); the lift shows the factor, which is
    // Student's t at 0.995 over the root of n (also reproduced with scipy). Tables read.
    for (plan, lot, weighed, factor_thousandths, fails_from) in [
        (Plan::Canada, 40, 10, 1_030, 2),
        (Plan::Canada, 40, 12, 897, 2),
        (Plan::Canada, 64, 16, 737, 2),
        (Plan::Canada, 80, 20, 640, 2),
        (Plan::Canada, 4_000, 32, 485, 3),
        (Plan::Canada, 4_000, 50, 332, 4),
        (Plan::Canada, 8_000, 64, 332, 5),
        (Plan::Canada, 8_000, 80, 269, 6),
        (Plan::Canada, 12_000, 96, 269, 7),
        (Plan::Canada, 12_000, 104, 234, 8),
        (Plan::Canada, 12_001, 126, 0, 8),
        (Plan::Germany, 500, 50, 379, 4),
        (Plan::Germany, 3_200, 80, 295, 6),
        (Plan::Germany, 10_000, 126, 234, 8),
        (Plan::Germany, 10_001, 160, 207, 9),
        (Plan::Germany, 1_000_000, 160, 207, 9),
    ] {
        let got = judge(plan, jar(500), lot, &packs(weighed / 2, 4_900, weighed, 5_100)).unwrap();
        assert_eq!(
            (got.mean_hundredths_g, got.fails_from),
            (50_000, fails_from),
            "{plan:?} {weighed}"
        );
        let lift = got.lifted_mean_hundredths_g - 50_000;
        near(lift * 10_000, got.deviation_thousandths_g * factor_thousandths, 5_600);
        assert!(got.passes);
    }
}

#[test]
fn numbers_between_those_of_canadas_table_take_the_stricter_factor() {
    // 11 packs: the factor of 12, 0.897, and not that of 10. Deviation of five at 490 and six at 510: 10.445.
    let got = judge(Plan::Canada, jar(500), 44, &packs(5, 4_900, 11, 5_100)).unwrap();
    assert_eq!((got.mean_hundredths_g, got.deviation_thousandths_g), (50_091, 10_445));
    assert_eq!(got.lifted_mean_hundredths_g, 51_028);
}

#[test]
fn short_packs_fail_a_lot_from_their_number_on() {
    // Germany: 500 g less 15.0 g; four of fifty. Canada: two of ten.
    let count = |plan, lot, low, at, of| {
        let got = judge(plan, jar(500), lot, &packs(low, at, of, 5_050)).unwrap();
        (got.below, got.far_below, got.shortfalls)
    };
    assert_eq!(count(Plan::Germany, 500, 3, 4_849, 50), (3, 0, vec![]));
    assert_eq!(
        count(Plan::Germany, 500, 4, 4_849, 50),
        (4, 0, vec![Shortfall::TooManyBelow])
    );
    assert_eq!(count(Plan::Germany, 500, 4, 4_850, 50), (0, 0, vec![]));
    assert_eq!(count(Plan::Canada, 40, 1, 4_849, 10), (1, 0, vec![]));
    assert_eq!(
        count(Plan::Canada, 40, 2, 4_849, 10),
        (2, 0, vec![Shortfall::TooManyBelow])
    );
    assert_eq!(count(Plan::Canada, 40, 2, 4_850, 10), (0, 0, vec![]));
    // Up to eight packs one is enough; a whole lot of 100 in Germany may have two.
    assert_eq!(
        count(Plan::Canada, 8, 1, 4_849, 8),
        (1, 0, vec![Shortfall::TooManyBelow])
    );
    assert_eq!(count(Plan::Germany, 100, 2, 4_849, 100), (2, 0, vec![]));
    assert_eq!(
        count(Plan::Germany, 100, 3, 4_849, 100),
        (3, 0, vec![Shortfall::TooManyBelow])
    );
}

#[test]
fn packs_far_below_fail_a_lot_at_once() {
    // Below 470 g: in Germany the first, in Canada the second.
    let failing = |plan, lot, low, of| judge(plan, jar(500), lot, &packs(low, 4_699, of, 5_050)).unwrap();
    let germany = failing(Plan::Germany, 500, 1, 50);
    assert_eq!((germany.far_below, germany.shortfalls), (1, vec![Shortfall::FarBelow]));
    let canada = failing(Plan::Canada, 4_000, 1, 32);
    assert_eq!((canada.far_below, canada.passes), (1, true));
    let canada = failing(Plan::Canada, 4_000, 2, 32);
    assert_eq!((canada.far_below, canada.shortfalls), (2, vec![Shortfall::FarBelow]));
    let none = judge(Plan::Germany, jar(500), 500, &packs(1, 4_700, 50, 5_050)).unwrap();
    assert_eq!((none.below, none.far_below, none.passes), (1, 0, true));
}

#[test]
fn canadas_tolerances_are_not_rounded() {
    // Schedule 4, table 3, read: 3 % of 454 g are 13.62 g, and a pack of 440.3 g lacks more; Germany rounds up to 13.7 g.
    let below = |plan, nominal, at| {
        let weights = packs(1, at, 60, nominal * 10 + 50);
        judge(plan, jar(nominal), 200, &weights).unwrap().below
    };
    assert_eq!(
        (below(Plan::Canada, 454, 4_403), below(Plan::Germany, 454, 4_403)),
        (1, 0)
    );
    assert_eq!(
        (below(Plan::Canada, 454, 4_404), below(Plan::Germany, 454, 4_402)),
        (0, 1)
    );
    // One pack at the limit and one a tenth of a gram below it, in every band.
    for (nominal, at_limit) in [
        (28, 255),
        (50, 455),
        (100, 955),
        (110, 1_051),
        (200, 1_910),
        (250, 2_410),
        (400, 3_880),
        (1_000, 9_850),
        (2_000, 19_700),
        (12_000, 118_500),
        (20_000, 198_000),
        (20_005, 198_050),
    ] {
        assert_eq!(
            (
                below(Plan::Canada, nominal, at_limit),
                below(Plan::Canada, nominal, at_limit - 1)
            ),
            (0, 1),
            "{nominal}"
        );
    }
    // Twice 13.62 g: 426.76.
    let far = |at| {
        judge(Plan::Canada, jar(454), 200, &packs(1, at, 60, 4_590))
            .unwrap()
            .far_below
    };
    assert_eq!((far(4_267), far(4_268)), (1, 0));
    // Germany's own table of doubled errors: 426.7 g.
    let far = |at| {
        judge(Plan::Germany, jar(454), 200, &packs(1, at, 60, 4_590))
            .unwrap()
            .far_below
    };
    assert_eq!((far(4_266), far(4_267)), (1, 0));
}

#[test]
fn a_sample_that_is_none_is_refused() {
    assert_eq!(
        judge(Plan::Canada, jar(500), 40, &[5_000; 9]),
        Err(SamplingRefused::TooFew {
            lot: 40,
            needed: 10,
            weighed: 9
        })
    );
    assert_eq!(
        judge(Plan::Germany, jar(500), 20, &[5_000; 21]),
        Err(SamplingRefused::TooMany { lot: 20, weighed: 21 })
    );
    assert!(matches!(
        judge(Plan::Canada, jar(4), 40, &[5_000; 10]),
        Err(SamplingRefused::Pack(_))
    ));
    // All of a lot is a sample too, and so is a lot of two.
    let two = judge(Plan::Canada, jar(500), 2, &[5_000, 5_002]).unwrap();
    assert_eq!(
        (two.deviation_thousandths_g, two.lifted_mean_hundredths_g, two.passes),
        (141, 50_010, true)
    );
}

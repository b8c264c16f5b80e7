//! What holds for any season, however it went: sums to the gram, one order, ranges that hold their values.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

mod common;

use common::entries::placed;
use common::farm::{Farm, day, noon};
use domain::season::answer::{Answer, Row};
use domain::season::figure::WhyNoRange;
use domain::season::report::Report;
use domain::yields;
use proptest::prelude::*;

const YEARS: [i32; 2] = [2024, 2025];
const HIVES: u32 = 9;

/// What each hive gave in each season in tenths of a kilogram, how many were counted in each yard, which season was
/// weighed, and whether one super is disputed.
#[derive(Clone, Debug)]
struct Drawn {
    gave: [[i64; HIVES as usize]; 2],
    fit: [Option<i64>; 3],
    weighed: [bool; 2],
    disputed: bool,
}

fn drawn() -> impl Strategy<Value = Drawn> {
    let tenths = prop_oneof![Just(0_i64), 1_i64..400];
    let gave = proptest::array::uniform2(proptest::array::uniform9(tenths));
    let fit = proptest::array::uniform3(proptest::option::of(0_i64..8));
    (gave, fit, proptest::array::uniform2(any::<bool>()), any::<bool>()).prop_map(|(gave, fit, weighed, disputed)| {
        Drawn {
            gave,
            fit,
            weighed,
            disputed,
        }
    })
}

fn farm(of: &Drawn) -> Farm {
    let mut farm = Farm::default();
    for (number, called) in [(1, "OST"), (2, "TSD"), (3, "WEN")] {
        farm.yard(number, called);
    }
    for number in 1..=HIVES {
        let line = ["Amber", "Heron", "Slate"][usize::try_from(number / 3 % 3).unwrap()];
        farm.colony(number, 1 + number % 3, Some(line));
    }
    for (at, year) in YEARS.into_iter().enumerate() {
        for (number, fit) in (1..).zip(of.fit) {
            farm.flow(number, year, fit);
        }
        let gave: Vec<(u32, i64)> = (1..=HIVES)
            .zip(of.gave[at])
            .map(|(hive, tenths)| (hive, tenths * 100))
            .collect();
        farm.spun_on(day(year, 7, 12), &gave, of.weighed[at]);
    }
    if of.disputed && of.gave[1].iter().any(|tenths| *tenths > 0) {
        // Somebody without signal wrote the newest box onto another hive of its yard: one number of the ledger earlier.
        let number = farm.boxes();
        farm.book
            .tell_having_seen(9, 60, noon(day(2025, 5, 16)), placed(number, 1 + HIVES % 3));
    }
    farm
}

fn rows(answer: &Answer) -> impl Iterator<Item = &Row> {
    answer.tables.iter().flat_map(|table| &table.rows)
}

fn all(farm: &Farm) -> Vec<Answer> {
    let house = farm.house();
    Report::ALL
        .iter()
        .map(|report| report.answer(&house, 2024, 2025))
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// Yards and unassigned are the season, to the gram, in this answer and in the older one.
    #[test]
    fn yards_and_unassigned_are_the_season(of in drawn()) {
        let house = farm(&of).house();
        for year in YEARS {
            let answer = Report::Yards.answer(&house, year, year);
            let parts: i64 = answer.of("yards").iter().filter_map(|row| row.value("yield_g")).sum();
            let total = answer.of("season")[0].value("yield_g").unwrap();
            prop_assert_eq!(parts, total);
            prop_assert_eq!(total, yields::season(&house, year).total_g);
            // Colonies, disputed supers and what is nobody's are the season, too; a disputed super counts once.
            let colonies = Report::Colonies.answer(&house, year, year);
            let sure: i64 = colonies.of("colonies").iter().filter_map(|row| row.value("yield_g")).sum();
            let rest = &colonies.of("unassigned")[0];
            let rest = rest.value("hive_disputed_g").unwrap() + rest.value("yard_unknown_g").unwrap();
            prop_assert_eq!(sure + rest, total);
            let harvest = Report::Harvest.answer(&house, year, year);
            let newest = harvest.of("years").iter().filter(|row| row.season == Some(year)).filter_map(|row| row.value("so_far_g")).max();
            prop_assert_eq!(newest.unwrap_or(0), total);
        }
    }

    /// Y1 = Y2 x PC / CSF, but for whole grams.
    #[test]
    fn both_yields_agree(of in drawn()) {
        let answer = Report::Yards.answer(&farm(&of).house(), 2025, 2025);
        for row in answer.of("yards") {
            if let (Some(y1), Some(y2)) = (row.value("y1_g"), row.value("y2_g")) {
                let (pc, csf) = (row.value("producing_colonies").unwrap(), row.value("colonies_at_start_of_flow").unwrap());
                prop_assert!((y1 * csf - y2 * pc).abs() <= csf + pc, "{row:?}");
            }
        }
    }

    /// Whatever came in first: the same bytes.
    #[test]
    fn any_order_gives_equal_bytes(of in drawn(), turn in 1_usize..200) {
        let one = farm(&of);
        let mut other = one.clone();
        let len = other.book.entries.len();
        other.book.entries.rotate_left(turn % len);
        for (a, b) in all(&one).iter().zip(&all(&other)) {
            prop_assert_eq!(serde_json::to_string(a).unwrap(), serde_json::to_string(b).unwrap());
        }
    }

    /// A range holds its value; a disputed count has no range of chance on top; what has no range says why or is plain.
    #[test]
    fn ranges_hold_their_values(of in drawn()) {
        for answer in all(&farm(&of)) {
            for row in rows(&answer) {
                for (name, figure) in &row.figures {
                    if let (Some(low), Some(high)) = (figure.low, figure.high) {
                        prop_assert!(low <= high, "{name} {figure:?}");
                        prop_assert!(figure.value.is_none_or(|value| low <= value && value <= high), "{name} {figure:?}");
                    }
                    if figure.why_no_range == Some(WhyNoRange::Disputed) {
                        prop_assert_eq!(figure.level_percent, None);
                    }
                    if figure.why_no_range == Some(WhyNoRange::TooFew) && !name.starts_with("middle") {
                        prop_assert!(figure.low.is_none() && figure.high.is_none(), "{name} {figure:?}");
                    }
                }
            }
        }
    }

    /// Twice the honey everywhere: equal factors. Factors do not know kilograms from pounds.
    #[test]
    fn factors_have_no_unit(of in drawn()) {
        let mut of = of;
        of.weighed = [true; 2];
        of.disputed = false;
        let mut twice = of.clone();
        for tenths in twice.gave.iter_mut().flatten() {
            *tenths *= 2;
        }
        let (one, two) = (farm(&of).house(), farm(&twice).house());
        for report in [Report::QueenLines, Report::YardFactors] {
            let factors = |answer: &Answer| -> Vec<(String, Option<i64>)> {
                let of = rows(answer).filter(|row| row.figures.contains_key("factor_thousandths"));
                of.map(|row| (row.name.clone(), row.value("factor_thousandths"))).collect()
            };
            let (a, b) = (factors(&report.answer(&one, 2024, 2025)), factors(&report.answer(&two, 2024, 2025)));
            prop_assert_eq!(a.len(), b.len());
            for ((name, a), (_, b)) in a.into_iter().zip(b) {
                // Y1 is rounded to whole grams before it is fitted.
                let apart = a.zip(b).map_or(i64::from(a != b), |(a, b)| (a - b).abs());
                prop_assert!(apart <= 1, "{report:?} {name}: {a:?} {b:?}");
            }
        }
    }

    /// A super on one of two hives never makes a yard's honey more or less, and only widens what is said of colonies.
    #[test]
    fn disputes_only_widen(of in drawn()) {
        let mut of = of;
        of.disputed = false;
        let sure = Report::Yards.answer(&farm(&of).house(), 2025, 2025);
        of.disputed = true;
        let disputed = Report::Yards.answer(&farm(&of).house(), 2025, 2025);
        for (a, b) in sure.of("yards").iter().zip(disputed.of("yards")) {
            prop_assert_eq!(a.value("yield_g"), b.value("yield_g"));
            prop_assert_eq!(a.value("y1_g"), b.value("y1_g"));
            let bounds = |row: &Row| row.figures.get("producing_colonies").and_then(|of| of.denominator).map(|of| (of.low, of.high));
            if let (Some((low, high)), Some((lower, higher))) = (bounds(a), bounds(b)) {
                prop_assert!(lower <= low && high <= higher, "{a:?} {b:?}");
            }
        }
    }
}

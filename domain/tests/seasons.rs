//! A season's figures out of the ledger: the reference figures once more, told as entries, and what few colonies,
//! missing counts, zeros and accidents let be said.
//!
//! Every tolerance is one in the last digit that the reference prints. Figures without a source are arithmetic.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

mod common;

use chrono::TimeDelta;
use common::entries::{hive, yard};
use common::farm::{Farm, colony, counted, day, noon};
use common::{name, text, uuid};
use domain::books::{CostBooked, CostKind, PriceOf, PriceSet, Work, WorkBooked};
use domain::colony::{ColonyEnd, ColonyRequeened, Founding};
use domain::hive::HiveMoved;
use domain::house::House;
use domain::ids::{BooksId, OperationId};
use domain::left::{Accident, HoneyLeft, YieldLeftOut};
use domain::season::answer::{Answer, Row};
use domain::season::figure::{Figure, Kind, WhyNoRange};
use domain::season::report::Report;
use domain::settings::{PlannedJars, RegionChosen, SeasonPlanned};
use domain::units::{Minutes, Money, Percent, Year};

const OWN: u16 = 99;

fn asked(house: &House, report: Report, year: i32) -> Answer {
    report.answer(house, year, year)
}

fn row<'a>(answer: &'a Answer, table: &str, called: &str) -> &'a Row {
    let found = answer.of(table).iter().find(|row| row.name == called);
    found.unwrap_or_else(|| panic!("no {called} in {table}: {:#?}", answer.of(table)))
}

fn figure<'a>(answer: &'a Answer, table: &str, called: &str, of: &str) -> &'a Figure {
    let row = row(answer, table, called);
    let found = row.figures.get(of);
    found.unwrap_or_else(|| panic!("{called} has no {of}: {:#?}", row.figures.keys()))
}

/// Within one in the last digit, of thousandths.
fn near(value: Option<i64>, expected: f64) -> bool {
    value.is_some_and(|value| (value as f64 / 1000.0 - expected).abs() < 0.001_1)
}

fn left_out(figure: &Figure) -> Vec<(String, String)> {
    let each = figure.left_out.iter();
    each.map(|out| (out.name.clone(), out.reason.clone())).collect()
}

/// Kilograms in tenths, by line, place and colony.
const FIXTURE_C: [(&str, u32, &[i64]); 12] = [
    ("A", 1, &[312, 284, 401, 220]),
    ("A", 2, &[186]),
    ("A", 3, &[270, 331]),
    ("A", 4, &[442, 380, 515]),
    ("S", 1, &[365, 0]),
    ("S", 2, &[219, 142, 268]),
    ("S", 3, &[304]),
    ("S", 4, &[473]),
    ("H", 1, &[253]),
    ("H", 2, &[125, 177]),
    ("H", 3, &[248, 199, 282]),
    ("H", 4, &[361, 294]),
];

fn three_lines() -> Farm {
    let mut farm = Farm::default();
    for (number, called) in [(1, "P"), (2, "Q"), (3, "R"), (4, "T")] {
        farm.yard(number, called);
        farm.flow(number, 2025, None);
    }
    let mut gave = Vec::new();
    for (line, place, tenths) in FIXTURE_C {
        for kg in tenths {
            let number = u32::try_from(gave.len()).unwrap() + 1;
            farm.colony(number, place, Some(line));
            gave.push((number, kg * 100));
        }
    }
    farm.spun(2025, &gave);
    farm
}

/// V6, V7, V8 (statsmodels GLM Gamma log; R glm quasi mu^2; SciPy): the same figures out of entries.
#[test]
fn lines_are_held_against_each_other_where_they_stood_together() {
    let house = three_lines().house();
    let answer = Report::QueenLines.answer(&house, 2025, 2025);
    for (line, factor, low, high, n) in [
        ("A", 1.1457, 0.941, 1.394, 10),
        ("S", 1.0135, 0.820, 1.253, 7),
        ("H", 0.8612, 0.702, 1.056, 8),
    ] {
        let of = figure(&answer, "lines", line, "factor_thousandths");
        assert!(
            near(of.value, factor) && near(of.low, low) && near(of.high, high),
            "{line} {of:?}"
        );
        assert_eq!(
            (of.n, of.level_percent, of.denominator.unwrap().kind),
            (n, Some(95), Kind::Colonies)
        );
        let place = figure(&answer, "lines", line, "place");
        assert_eq!((place.value, place.low, place.high), (None, Some(1), Some(3)));
    }
    let pair = answer
        .of("pairs")
        .iter()
        .find(|row| row.name == "A" && row.beside.as_deref() == Some("S"));
    let ratio = &pair.unwrap().figures["ratio_thousandths"];
    assert!(
        near(ratio.value, 1.130) && near(ratio.low, 0.724) && near(ratio.high, 1.764),
        "{ratio:?}"
    );
    assert_eq!(pair.unwrap().figures["n_pair_hundredths"].value, Some(740));
    assert!(pair.unwrap().words[0].ends_with("not told apart."));
    assert!(
        answer
            .words
            .contains(&"If you must choose: A, best guess +4 %.".to_owned()),
        "{:?}",
        answer.words
    );
    let season = &answer.of("season")[0];
    assert_eq!(season.figures["degrees_of_freedom"].value, Some(19));
    // V10: without the colony that gave nothing the order turns.
    for (line, factor) in [("A", 1.0454), ("S", 1.1507), ("H", 0.8313)] {
        let of = figure(&answer, "lines_that_made_honey", line, "factor_thousandths");
        assert!(near(of.value, factor), "{line} {of:?}");
    }
}

/// V11 (statsmodels; R): yards over years, one of them without any honey in one year, two not counted in one.
#[test]
fn yards_are_freed_of_good_and_bad_years() {
    let cells: [(u32, [Option<i64>; 4]); 5] = [
        (1, [Some(284), Some(197), Some(241), Some(330)]),
        (2, [Some(220), Some(165), Some(202), Some(294)]),
        (3, [Some(312), Some(180), None, Some(365)]),
        (4, [None, Some(121), Some(149), Some(227)]),
        (5, [Some(256), Some(0), Some(233), Some(301)]),
    ];
    let mut farm = Farm::default();
    for (number, _) in cells {
        farm.yard(number, &format!("N{number}"));
        farm.colony(number, number, None);
    }
    // A yard of one year more, and one with four colonies.
    farm.yard(6, "N6");
    farm.colony(6, 6, None);
    farm.flow(6, 2025, Some(5));
    farm.yard(7, "N7");
    farm.flow(7, 2025, Some(4));
    for (at, year) in (2022..=2025).enumerate() {
        let mut gave = Vec::new();
        for (number, years) in cells {
            if let Some(tenths) = years[at] {
                farm.flow(number, year, Some(10));
                gave.push((number, tenths * 100 * 10));
            }
        }
        farm.spun(year, &gave);
    }
    let house = farm.house();
    let answer = Report::YardFactors.answer(&house, 2022, 2025);
    for (called, factor) in [
        ("N1", 1.2257),
        ("N2", 1.0238),
        ("N3", 1.2997),
        ("N4", 0.8045),
        ("N5", 0.7621),
    ] {
        let of = figure(&answer, "yards", called, "factor_thousandths");
        assert!(near(of.value, factor), "{called} {of:?}");
    }
    let of = figure(&answer, "yards", "N5", "factor_thousandths");
    assert!(near(of.low, 0.500) && near(of.high, 1.162), "{of:?}");
    assert_eq!(answer.of("season")[0].figures["degrees_of_freedom"].value, Some(10));
    let once = figure(&answer, "yards", "N6", "factor_thousandths");
    assert_eq!((once.value, once.why_no_range), (None, Some(WhyNoRange::OneYear)));
    let small = &answer.of("season")[0].figures["cells_left_out"];
    assert_eq!(
        left_out(small),
        [("N7".to_owned(), "2025: fewer_than_five_colonies".to_owned())]
    );
}

/// AN-5: what Y1 may say of 0, 1, 4, 5, 9 and 10 colonies.
#[test]
fn few_colonies_have_no_range() {
    for n in [0_u32, 1, 4, 5, 9, 10] {
        let mut farm = Farm::default();
        farm.yard(1, "W");
        farm.flow(1, 2025, Some(i64::from(n)));
        let gave: Vec<(u32, i64)> = (1..=n)
            .map(|number| (number, 10_000 + 1_000 * i64::from(number)))
            .collect();
        for (number, _) in &gave {
            farm.colony(*number, 1, None);
        }
        farm.spun(2025, &gave);
        let answer = asked(&farm.house(), Report::Yards, 2025);
        let y1 = figure(&answer, "yards", "W", "y1_g");
        let row = row(&answer, "yards", "W");
        match n {
            0 => assert_eq!((y1.value, y1.low, y1.n), (None, None, 0)),
            10 => {
                assert_eq!((y1.value, y1.level_percent), (Some(15_500), Some(95)));
                // SciPy: t.ppf(0.975, 9) = 2.262157, the deviation of 11 to 20 is 3.02765.
                assert!((y1.high.unwrap() - 17_666).abs() <= 1, "{y1:?}");
            }
            _ => {
                assert_eq!((y1.low, y1.high, y1.level_percent), (None, None, None), "{n}");
                assert_eq!(y1.why_no_range, Some(WhyNoRange::TooFew));
                assert_eq!(row.figures.contains_key("middle_colony_g"), n >= 5, "{n}");
            }
        }
        assert_eq!(y1.denominator.unwrap().high, i64::from(n));
    }
}

/// AN-1: without a count there is Y2 only; a yard that gave nothing stays in.
#[test]
fn a_yard_that_nobody_counted_has_y2_only() {
    let mut farm = Farm::default();
    farm.yard(1, "W");
    farm.yard(2, "O");
    farm.flow(1, 2025, None);
    farm.flow(2, 2025, Some(6));
    farm.colony(1, 1, None);
    farm.spun(2025, &[(1, 12_400)]);
    let answer = asked(&farm.house(), Report::Yards, 2025);
    let counted = row(&answer, "yards", "W");
    assert!(!counted.figures.contains_key("y1_g"));
    assert_eq!(counted.value("y2_g"), Some(12_400));
    assert!(counted.words.contains(&"not_counted_at_start_of_flow".to_owned()));
    let empty = row(&answer, "yards", "O");
    assert_eq!(
        (empty.value("yield_g"), empty.value("y1_g"), empty.value("y2_g")),
        (Some(0), Some(0), None)
    );
    // The operation has no Y1 while one of its yards has none.
    let season = figure(&answer, "season", "2025", "y1_g");
    assert_eq!(season.value, None);
    assert_eq!(
        left_out(season),
        [("W".to_owned(), "not_counted_at_start_of_flow".to_owned())]
    );
}

#[test]
fn all_zeros_are_zeros_and_no_factor() {
    let mut farm = Farm::default();
    farm.yard(1, "W");
    farm.flow(1, 2025, Some(12));
    for number in 1..=12 {
        farm.colony(number, 1, Some(if number % 2 == 0 { "A" } else { "S" }));
    }
    farm.spun(2025, &[]);
    let house = farm.house();
    let yards = asked(&house, Report::Yards, 2025);
    assert_eq!(row(&yards, "yards", "W").value("y1_g"), Some(0));
    let lines = Report::QueenLines.answer(&house, 2025, 2025);
    for line in ["A", "S"] {
        let of = figure(&lines, "lines", line, "factor_thousandths");
        assert_eq!((of.value, of.why_no_range), (None, Some(WhyNoRange::NoneMadeHoney)));
    }
    assert!(lines.of("pairs").is_empty() && lines.of("lines_that_made_honey").is_empty());
}

#[test]
fn lines_that_never_stood_together_are_not_compared() {
    let mut farm = Farm::default();
    let mut gave = Vec::new();
    for (of, line) in [(1, "A"), (2, "S")] {
        farm.yard(of, line);
        farm.flow(of, 2025, Some(8));
        for at in 0..8 {
            let number = of * 10 + at;
            farm.colony(number, of, Some(line));
            gave.push((number, 10_000 + 500 * i64::from(number)));
        }
    }
    farm.spun(2025, &gave);
    let answer = Report::QueenLines.answer(&farm.house(), 2025, 2025);
    for line in ["A", "S"] {
        let of = figure(&answer, "lines", line, "factor_thousandths");
        assert_eq!(
            (of.value, of.low, of.why_no_range),
            (None, None, Some(WhyNoRange::NotConnected))
        );
    }
    assert!(answer.of("pairs").is_empty());
    assert_eq!(answer.of("dots").len(), 16, "each colony by itself");
    assert!(!answer.words.iter().any(|words| words.starts_with("If you must")));
}

/// MB-1: a run that nobody weighed is not balanced, and the season's balance says so.
#[test]
fn half_the_runs_unweighed() {
    let mut farm = Farm::default();
    farm.yard(1, "W");
    farm.flow(1, 2025, Some(2));
    farm.colony(1, 1, None);
    farm.colony(2, 1, None);
    let on = day(2025, 7, 12);
    let weighed = farm.spun_on(on, &[(1, 15_000)], true);
    farm.drained(weighed, on + TimeDelta::days(2), (200, 150));
    farm.spun_on(on + TimeDelta::days(20), &[(2, 15_000)], false);
    let house = farm.house();
    let answer = asked(&house, Report::Balance, 2025);
    let balanced = row(&answer, "runs", "R1");
    // 15.0 kg out of the super, 15.0 in the pot, 0.2 wax, 0.15 in the machine.
    assert_eq!(balanced.value("unexplained_g"), Some(-350));
    // Two weighings of the super, one of the pail, cappings and wax: 2 sqrt(5 x 60^2 + 30^2) = 275, of whole grams 274
    // (arithmetic).
    assert_eq!(balanced.value("weighing_alone_g"), Some(274));
    let not = row(&answer, "runs", "R2");
    assert_eq!(not.value("unexplained_g"), None);
    assert!(not.words.contains(&"not_balanced".to_owned()));
    assert_eq!(figure(&answer, "runs", "R2", "unexplained_g").left_out.len(), 2);
    let season = row(&answer, "season", "2025");
    assert_eq!(
        (season.value("net_g"), season.value("runs_not_balanced")),
        (Some(15_000), Some(1))
    );
    // Half the honey is shared evenly: the letter says it, and so does the yard.
    let yards = asked(&house, Report::Yards, 2025);
    let of = row(&yards, "yards", "W");
    assert!(of.words.contains(&"even_shares_hide_differences".to_owned()));
    assert_eq!(of.value("yield_g"), Some(30_000));
}

/// AN-3, V16: two who did not know of each other counted 17 and 18: 369 kg over them are 20.5 to 21.7.
#[test]
fn a_disputed_count_is_a_range() {
    let mut farm = Farm::default();
    farm.yard(1, "TSD");
    farm.colony(1, 1, None);
    farm.flow(1, 2025, None);
    let on = day(2025, 5, 1);
    let saw = farm.book.newest();
    farm.book.tell_having_seen(2, saw, noon(on), counted(1, on, 17));
    farm.book.tell_having_seen(3, saw, noon(on), counted(1, on, 18));
    farm.spun(2025, &[(1, 369_000)]);
    let mut shuffled = farm.clone();
    shuffled.book.entries.reverse();
    for farm in [&farm, &shuffled] {
        let answer = asked(&farm.house(), Report::Yards, 2025);
        let y1 = figure(&answer, "yards", "TSD", "y1_g");
        assert_eq!((y1.value, y1.low, y1.high), (None, Some(20_500), Some(21_706)));
        assert_eq!((y1.level_percent, y1.why_no_range), (None, Some(WhyNoRange::Disputed)));
    }
    // Whoever knew of a count and counted again corrects it.
    farm.tell(on + TimeDelta::days(1), counted(1, on, 18));
    let answer = asked(&farm.house(), Report::Yards, 2025);
    assert_eq!(figure(&answer, "yards", "TSD", "y1_g").value, Some(20_500));
}

/// Twelve colonies of two lines in one yard, 10 to 21 kg.
fn twelve() -> Farm {
    let mut farm = Farm::default();
    farm.yard(1, "W");
    farm.yard(2, "moor");
    farm.flow(1, 2025, Some(12));
    let mut gave = Vec::new();
    for number in 1..=12 {
        farm.colony(number, 1, Some(if number % 2 == 0 { "A" } else { "S" }));
        gave.push((number, 9_000 + 1_000 * i64::from(number)));
    }
    farm.spun(2025, &gave);
    farm
}

fn out_of_lines(farm: &Farm) -> Vec<(String, String)> {
    let answer = Report::QueenLines.answer(&farm.house(), 2025, 2025);
    left_out(&answer.of("season")[0].figures["colonies_left_out"])
}

fn out(of: &str, why: &str) -> (String, String) {
    (of.to_owned(), why.to_owned())
}

/// The owner leaves a hive out after an accident: both figures print.
#[test]
fn an_accident_is_left_out_with_its_reason_and_both_figures_print() {
    let mut farm = twelve();
    farm.tell(
        day(2025, 8, 1),
        YieldLeftOut {
            hive_id: hive(1),
            season: Year::constant(2025),
            accident: Accident::Bear,
            reason: text("a bear took all but one super"),
        },
    );
    let house = farm.house();
    let answer = asked(&house, Report::Yards, 2025);
    let all = figure(&answer, "yards", "W", "y1_g");
    let without = figure(&answer, "yards", "W", "y1_without_accidents_g");
    // 186 kg over 12; 176 over 11 (arithmetic).
    assert_eq!((all.value, all.n), (Some(15_500), 12));
    assert_eq!((without.value, without.n), (Some(16_000), 11));
    assert_eq!(left_out(without), [out("H001", "bear")]);
    assert_eq!(out_of_lines(&farm), [out("H001", "2025: bear")]);
    let colonies = asked(&house, Report::Colonies, 2025);
    assert!(
        !row(&colonies, "colonies", "H001")
            .figures
            .contains_key("index_thousandths")
    );
    // AN-4: 21 kg over the mean of the eleven, 16 kg.
    assert_eq!(
        row(&colonies, "colonies", "H012").value("index_thousandths"),
        Some(1_313)
    );
}

/// AN-3: requeened within the flow, line unknown.
#[test]
fn a_new_queen_within_the_flow_speaks_for_no_line() {
    let mut farm = twelve();
    let new = |number: u32, month: u32| ColonyRequeened {
        colony_id: colony(number),
        on: day(2025, month, 20),
        queen_line: Some(name("A")),
        text: None,
    };
    farm.tell(day(2025, 6, 20), new(1, 6));
    // Before the flow she reigns already; after the last pull she came too late to matter.
    farm.tell(day(2025, 4, 20), new(2, 4));
    farm.tell(day(2025, 9, 20), new(3, 9));
    farm.colony(13, 1, None);
    farm.spun_on(day(2025, 7, 13), &[(13, 5_000)], true);
    assert_eq!(
        out_of_lines(&farm),
        [out("H001", "2025: requeened"), out("H013", "2025: line_unknown")]
    );
}

/// AN-3: a split after the start is counted with its mother, whose honey it carries.
#[test]
fn a_late_split_is_its_mothers() {
    let mut farm = twelve();
    farm.hive(20, 1);
    farm.bees(20, 20, (day(2025, 5, 10), Founding::Split, Some(1)), Some("S"));
    farm.spun_on(day(2025, 8, 12), &[(20, 5_000)], true);
    let house = farm.house();
    let colonies = asked(&house, Report::Colonies, 2025);
    assert_eq!(row(&colonies, "colonies", "H001").value("yield_g"), Some(15_000));
    assert_eq!(colonies.of("colonies").len(), 12);
    let yards = asked(&house, Report::Yards, 2025);
    assert_eq!(row(&yards, "yards", "W").value("producing_colonies"), Some(12));
}

/// AN-3: a dead colony stays in; of two that were united each has half the sum for its line, if it is one line.
#[test]
fn who_died_or_was_united_stays_counted() {
    let mut farm = twelve();
    farm.end(2, day(2025, 6, 1), ColonyEnd::Dead, None);
    farm.end(4, day(2025, 8, 1), ColonyEnd::United, Some(6));
    farm.end(1, day(2025, 8, 1), ColonyEnd::United, Some(8));
    let house = farm.house();
    let colonies = asked(&house, Report::Colonies, 2025);
    assert!(row(&colonies, "colonies", "H002").words.contains(&"dead".to_owned()));
    let yards = asked(&house, Report::Yards, 2025);
    assert_eq!(figure(&yards, "yards", "W", "y1_g").n, 12);
    let lines = Report::QueenLines.answer(&house, 2025, 2025);
    let other = "2025: united_with_another_line";
    assert_eq!(out_of_lines(&farm), [out("H001", other), out("H008", other)]);
    // Four and six together as before, halved: A lost the 17 kg of eight only.
    assert_eq!(
        row(&lines, "lines", "A").value("yield_g"),
        Some(11_000 + 13_000 + 15_000 + 19_000 + 21_000)
    );
}

/// AL-7: carried to the moor in August and spun again: each place its own figures, the operation counts it once, and
/// for its line it is compared with those that went the same way.
#[test]
fn a_carried_hive_is_counted_once() {
    let mut farm = twelve();
    let on = day(2025, 8, 3);
    for number in 1..=6 {
        let moved = HiveMoved {
            hive_id: hive(number),
            yard_id: yard(2),
            permit: None,
        };
        farm.tell(on, moved);
    }
    farm.tell(on, domain::yard::FlowStarted { yard_id: yard(2), on });
    farm.tell(on, counted(2, on, 6));
    let gave: Vec<(u32, i64)> = (1..=6).map(|number| (number, 4_000)).collect();
    farm.spun_on(day(2025, 10, 12), &gave, true);
    let house = farm.house();
    let answer = asked(&house, Report::Yards, 2025);
    assert_eq!(row(&answer, "yards", "moor").value("y1_g"), Some(4_000));
    assert_eq!(
        row(&answer, "season", "2025").value("colonies_at_start_of_flow"),
        Some(12)
    );
    let lines = Report::QueenLines.answer(&house, 2025, 2025);
    assert_eq!(row(&lines, "lines", "A").value("yield_g"), Some(96_000 + 12_000));
    // Two ways, two lines in each: 12 colonies less two lines and two ways, and one.
    assert_eq!(lines.of("season")[0].figures["degrees_of_freedom"].value, Some(9));
}

/// V17 (NumPy, SciPy): Y1 of 22.65 and 34.22, sixty colonies planned.
#[test]
fn next_year_is_low_middle_and_high() {
    let mut farm = Farm::default();
    farm.yard(1, "W");
    farm.colony(1, 1, None);
    for (year, grams) in [(2024, 226_500), (2025, 342_200)] {
        farm.flow(1, year, Some(10));
        farm.spun(year, &[(1, grams)]);
    }
    farm.tell(
        day(2025, 12, 1),
        SeasonPlanned {
            operation_id: OperationId::from_uuid(uuid(OWN, 1)),
            season: Year::constant(2026),
            colonies: common::count(60),
            jars: Some(vec![PlannedJars {
                size_g: common::g(500),
                share_percent: Percent::constant(60),
            }]),
        },
    );
    let answer = asked(&farm.house(), Report::Forecast, 2025);
    let per = figure(&answer, "season", "2026", "per_colony_g");
    for (grams, kg) in [(per.low, 16.2), (per.value, 27.8), (per.high, 47.7)] {
        assert!((grams.unwrap() as f64 / 1000.0 - kg).abs() < 0.06, "{per:?}");
    }
    assert_eq!((per.level_percent, per.n), (Some(80), 2));
    let all = figure(&answer, "season", "2026", "honey_g");
    for (grams, kg) in [(all.low, 974), (all.value, 1670), (all.high, 2865)] {
        assert!((grams.unwrap() - kg * 1000).abs() <= 1000, "{all:?}");
    }
    assert!(
        row(&answer, "season", "2026")
            .words
            .contains(&"borrowed_spread".to_owned())
    );
    // 39 boxes carried 568.7 kg; 60 % of 1,670 kg into jars of 500 g (arithmetic).
    let boxes = figure(&answer, "season", "2026", "boxes").value.unwrap();
    assert!((boxes - 115).abs() <= 1, "{boxes}");
    let jars = row(&answer, "jars", "500 g").value("jars").unwrap();
    assert!((jars - 2004).abs() <= 2, "{jars}");
}

/// V19: 95.00 a colony and 0.55 a kilogram in cash, 9.5 hours a colony and 0.09 a kilogram at 14.00, over sixty
/// colonies and 1,359 kg: 4.744 in cash, 11.876 in full (arithmetic).
#[test]
fn a_kilogram_has_its_cost() {
    let books_id = BooksId::from_uuid(uuid(OWN, 1));
    let mut farm = Farm::default();
    farm.yard(1, "W");
    farm.colony(1, 1, None);
    farm.flow(1, 2024, Some(60));
    farm.spun(2024, &[(1, 1_359_000)]);
    let on = day(2024, 10, 1);
    let cost = |cost, amount, yard_id| CostBooked {
        books_id,
        on,
        cost,
        amount_hundredths: Money::constant(amount),
        yard_id,
        season: None,
        text: None,
    };
    farm.tell(on, cost(CostKind::Supplies, 500_000, None));
    farm.tell(on, cost(CostKind::YardRent, 70_000, Some(yard(1))));
    farm.tell(on, cost(CostKind::JarsAndLabels, 74_745, None));
    for (work, minutes) in [(Work::Field, 34_200), (Work::Bottling, 7_339)] {
        let mut left = minutes;
        while left > 0 {
            let part = left.min(9_000);
            farm.tell(
                on,
                WorkBooked {
                    books_id,
                    on,
                    work,
                    minutes: Minutes::new(part).unwrap(),
                    yard_id: None,
                    paid: None,
                    season: None,
                    text: None,
                },
            );
            left -= part;
        }
    }
    let house = farm.house();
    let answer = asked(&house, Report::Costs, 2024);
    assert!(row(&answer, "season", "2024").words.contains(&"no_price".to_owned()));
    assert!(answer.of("yards").is_empty());
    for (price, amount) in [(PriceOf::OwnHour, 1_400), (PriceOf::Honey, 1_400)] {
        farm.tell(
            on,
            PriceSet {
                books_id,
                season: Year::constant(2024),
                price,
                amount_hundredths: Money::constant(amount),
                text: None,
            },
        );
    }
    let answer = asked(&farm.house(), Report::Costs, 2024);
    let season = row(&answer, "season", "2024");
    assert_eq!(season.value("cash_per_kg_thousandths"), Some(4_744));
    assert!(
        (season.value("full_per_kg_thousandths").unwrap() - 11_876).abs() <= 1,
        "{season:?}"
    );
    assert_eq!(season.value("minutes_per_kg_tenths"), Some(306));
    // V20: 228 a colony over what a kilogram at 14 leaves after 1.81 (arithmetic).
    assert!(
        (season.value("break_even_yield_g").unwrap() - 18_704).abs() <= 5,
        "{season:?}"
    );
    // 1,359 kg at 12.19, less 700 of rent.
    let margin = row(&answer, "yards", "W").value("margin_hundredths").unwrap();
    assert!((margin - (1_359 * 1_219 - 70_000)).abs() <= 1_400, "{margin}");
    assert_eq!(row(&answer, "yards", "W").words, ["paid in 1 of 1 years"]);
}

/// V21 (NumPy `cumsum`): the five runs of the first season of the demonstration business.
#[test]
fn a_season_comes_in_by_days() {
    let mut farm = Farm::default();
    farm.yard(1, "W");
    farm.colony(1, 1, None);
    farm.flow(1, 2024, Some(10));
    for (month, on, kg) in [(5, 30, 255), (7, 9, 207), (7, 22, 408), (7, 30, 309), (9, 12, 180)] {
        farm.spun_on(day(2024, month, on), &[(1, kg * 1_000)], true);
    }
    let answer = asked(&farm.house(), Report::Harvest, 2024);
    let days: Vec<_> = answer.of("season_days").iter().filter_map(|row| row.on).collect();
    assert_eq!(days, [day(2024, 5, 30), day(2024, 7, 22), day(2024, 9, 12)]);
    let last = answer.of("yards").last().unwrap();
    assert_eq!(
        (last.on, last.value("so_far_g")),
        (Some(day(2024, 9, 12)), Some(1_359_000))
    );
    // A yard of one run has its day and no parts.
    let mut once = Farm::default();
    once.yard(1, "W");
    once.colony(1, 1, None);
    once.spun(2024, &[(1, 5_000)]);
    let answer = asked(&once.house(), Report::Harvest, 2024);
    assert_eq!(answer.of("days").len(), 1);
}

/// V23 (NumPy `percentile`): beside kilograms per producing colony only, and nothing without a state.
#[test]
fn public_figures_stand_beside_y2_only() {
    let mut farm = twelve();
    let none = asked(&farm.house(), Report::Context, 2025);
    assert!(none.of("public").is_empty() && none.of("own").len() == 1);
    farm.tell(
        day(2025, 1, 1),
        RegionChosen {
            operation_id: OperationId::from_uuid(uuid(OWN, 1)),
            country: name("US"),
            region: Some(name("Montana")),
        },
    );
    let answer = asked(&farm.house(), Report::Context, 2025);
    let band = figure(&answer, "public", "Montana", "per_harvested_colony_g");
    assert_eq!(
        (band.low, band.value, band.high),
        (Some(32_000), Some(36_000), Some(42_000))
    );
    assert!(answer.words[0].starts_with(
        "Montana 1991-2021: half of the years 32-42 kg per harvested colony, operations of five and more."
    ));
    let figures = answer
        .tables
        .iter()
        .flat_map(|table| &table.rows)
        .flat_map(|row| row.figures.keys());
    assert!(figures.into_iter().all(|figure| !figure.starts_with("y1")));
}

#[test]
fn honey_left_on_a_hive_is_no_yield() {
    let mut farm = twelve();
    let left = HoneyLeft {
        hive_id: hive(1),
        on: day(2025, 8, 1),
        honey_g: common::g(9_000),
        weighed: None,
        text: None,
    };
    farm.tell(day(2025, 8, 1), left);
    let answer = asked(&farm.house(), Report::Colonies, 2025);
    let of = row(&answer, "colonies", "H001");
    assert_eq!(
        (of.value("yield_g"), of.value("honey_left_g")),
        (Some(10_000), Some(9_000))
    );
}

/// A line told later is that of the queen who was there then; the new queen keeps hers.
#[test]
fn a_line_is_told_of_the_queen_who_is_there() {
    let mut farm = twelve();
    farm.tell(
        day(2025, 9, 1),
        ColonyRequeened {
            colony_id: colony(1),
            on: day(2025, 9, 1),
            queen_line: None,
            text: None,
        },
    );
    farm.tell(
        day(2025, 9, 20),
        domain::colony::ColonyDescribed {
            colony_id: colony(1),
            queen_line: Some(name("Wren")),
        },
    );
    let house = farm.house();
    let queens = &house.colony(colony(1)).unwrap().queens;
    let lines: Vec<_> = queens
        .iter()
        .map(|queen| queen.line.as_ref().map(ToString::to_string))
        .collect();
    assert_eq!(lines, [Some("S".to_owned()), Some("Wren".to_owned())]);
    assert_eq!(house.label(colony(1).into()), "Wren");
    let answer = Report::QueenLines.answer(&house, 2025, 2025);
    assert_eq!(figure(&answer, "lines", "S", "factor_thousandths").n, 6);
}

/// Jars hold something, and no more than all the honey goes into them.
#[test]
fn a_plan_for_more_than_all_the_honey_is_refused() {
    let planned = |size_g, shares: &[i64]| {
        let jars = shares.iter().map(|share| PlannedJars {
            size_g: common::g(size_g),
            share_percent: Percent::constant(*share),
        });
        let plan = SeasonPlanned {
            operation_id: OperationId::from_uuid(uuid(OWN, 1)),
            season: Year::constant(2026),
            colonies: common::count(60),
            jars: Some(jars.collect()),
        };
        let decided = domain::decide::decide(&plan.into(), &House::default(), noon(day(2025, 12, 1)));
        decided.err().map(|refused| refused.code)
    };
    assert_eq!(planned(500, &[60, 40]), None);
    assert_eq!(planned(500, &[60, 41]), Some("shares_exceed_the_honey"));
    assert_eq!(planned(0, &[60]), Some("jar_holds_nothing"));
}

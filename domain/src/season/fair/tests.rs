//! Fair factors against statistics packages, and their properties.

use proptest::prelude::*;

use super::*;
use crate::season::student_t;

/// Three lines in four places; kilograms made up for the check.
const LINES: &[(usize, usize, &[f64])] = &[
    (0, 0, &[31.2, 28.4, 40.1, 22.0]),
    (0, 1, &[18.6]),
    (0, 2, &[27.0, 33.1]),
    (0, 3, &[44.2, 38.0, 51.5]),
    (1, 0, &[36.5, 0.0]),
    (1, 1, &[21.9, 14.2, 26.8]),
    (1, 2, &[30.4]),
    (1, 3, &[47.3]),
    (2, 0, &[25.3]),
    (2, 1, &[12.5, 17.7]),
    (2, 2, &[24.8, 19.9, 28.2]),
    (2, 3, &[36.1, 29.4]),
];

/// Five yards over four years.
const YARDS: &[(usize, usize, &[f64])] = &[
    (0, 0, &[28.4]),
    (0, 1, &[19.7]),
    (0, 2, &[24.1]),
    (0, 3, &[33.0]),
    (1, 0, &[22.0]),
    (1, 1, &[16.5]),
    (1, 2, &[20.2]),
    (1, 3, &[29.4]),
    (2, 0, &[31.2]),
    (2, 1, &[18.0]),
    (2, 3, &[36.5]),
    (3, 1, &[12.1]),
    (3, 2, &[14.9]),
    (3, 3, &[22.7]),
    (4, 0, &[25.6]),
    (4, 1, &[0.0]),
    (4, 2, &[23.3]),
    (4, 3, &[30.1]),
];

fn gave(cells: &[(usize, usize, &[f64])]) -> Vec<Gave> {
    let each = cells.iter().flat_map(|(row, block, kg)| {
        kg.iter().map(|kg| Gave {
            row: *row,
            block: *block,
            grams: (kg * 1000.0).round() as i64,
        })
    });
    each.collect()
}

const fn of_lines(alike: f64) -> Ask {
    Ask {
        rows: 3,
        blocks: 4,
        alike,
        of: Of::Lines,
    }
}

const OF_YARDS: Ask = Ask {
    rows: 5,
    blocks: 4,
    alike: 1.0,
    of: Of::Yards,
};

#[track_caller]
fn near(got: f64, expected: f64, within: f64) {
    assert!((got - expected).abs() <= within, "{got} is not {expected}");
}

/// V6, AN-4: statsmodels `GLM(Gamma, log)`, R `glm(quasi(log, mu^2))`.
#[test]
fn factors_are_those_of_a_gamma_model() {
    let fair = fair(of_lines(1.0), &gave(LINES));
    for (row, expected) in fair.rows.iter().zip([1.1457, 1.0135, 0.8612]) {
        near(row.factor.unwrap(), expected, 1e-4);
    }
    near(fair.dispersion.unwrap(), 0.106_29, 1e-5);
    near(fair.df.unwrap(), 19.0, 0.0);
}

/// V7: statsmodels, SciPy.
#[test]
fn factors_have_ranges() {
    let fair = fair(of_lines(1.0), &gave(LINES));
    for (row, (low, high)) in fair.rows.iter().zip([(0.941, 1.394), (0.820, 1.253), (0.702, 1.056)]) {
        near(row.range.unwrap().0, low, 1e-3);
        near(row.range.unwrap().1, high, 1e-3);
        assert_eq!(row.places, Some((1, 3)));
        assert_eq!(row.why, None);
    }
}

/// V8, AN-7: statsmodels, SciPy; the joint ranges tell no two lines apart, so no line has a place of its own.
#[test]
fn two_lines_are_told_apart_only_jointly() {
    let fair = fair(of_lines(1.0), &gave(LINES));
    let expected = [
        (0, 1, 1.130, 0.724, 1.764, 7.40),
        (0, 2, 1.330, 0.869, 2.036, 8.09),
        (1, 2, 1.177, 0.743, 1.865, 6.91),
    ];
    assert_eq!(fair.pairs.len(), expected.len());
    for (pair, (one, other, ratio, low, high, n)) in fair.pairs.iter().zip(expected) {
        assert_eq!((pair.one, pair.other), (one, other));
        near(pair.ratio, ratio, 1e-3);
        near(pair.range.unwrap().0, low, 1e-3);
        near(pair.range.unwrap().1, high, 1e-3);
        near(pair.n, n, 0.01);
        assert!(!pair.told_apart());
    }
}

/// V9, AN-6: NumPy `linalg.solve`.
#[test]
fn best_guesses_are_drawn_to_one() {
    for (alike, expected) in [(1.0, [1.0408, 1.0021, 0.9588]), (1.12, [1.0376, 1.0019, 0.9620])] {
        let fair = fair(of_lines(alike), &gave(LINES));
        for (row, expected) in fair.rows.iter().zip(expected) {
            near(row.guess.unwrap(), expected, 1e-4);
        }
    }
    let twenty: Vec<u32> = std::iter::repeat_n(2, 5).chain(std::iter::repeat_n(1, 15)).collect();
    near(alike(&twenty), 1.12, 1e-9);
    near(alike(&[]), 1.0, 0.0);
}

/// V10: R `glm(Gamma(log))`. Without the one colony that gave nothing the order turns.
#[test]
fn one_empty_colony_turns_the_order() {
    let some: Vec<Gave> = gave(LINES).into_iter().filter(|one| one.grams > 0).collect();
    let fair = fair(of_lines(1.0), &some);
    for (row, expected) in fair.rows.iter().zip([1.0454, 1.1507, 0.8313]) {
        near(row.factor.unwrap(), expected, 1e-4);
    }
}

/// V11, AN-8: statsmodels; R. Yards by their cells, never by their hives.
#[test]
fn yards_are_fitted_from_their_years() {
    let fair = fair(OF_YARDS, &gave(YARDS));
    for (row, expected) in fair.rows.iter().zip([1.2257, 1.0238, 1.2997, 0.8045, 0.7621]) {
        near(row.factor.unwrap(), expected, 1e-4);
    }
    near(fair.dispersion.unwrap(), 0.172_34, 1e-5);
    near(fair.df.unwrap(), 10.0, 0.0);
    let (low, high) = fair.rows[4].range.unwrap();
    near(low, 0.500, 1e-3);
    near(high, 1.162, 1e-3);
}

/// V12: NumPy shows that it diverges.
#[test]
fn zeros_may_leave_it_open() {
    let mut given = vec![
        Gave {
            row: 0,
            block: 0,
            grams: 10_000,
        },
        Gave {
            row: 0,
            block: 1,
            grams: 10_000,
        },
        Gave {
            row: 1,
            block: 0,
            grams: 10_000,
        },
    ];
    given.extend(std::iter::repeat_n(
        Gave {
            row: 1,
            block: 1,
            grams: 0,
        },
        10,
    ));
    let ask = Ask {
        rows: 2,
        blocks: 2,
        alike: 1.0,
        of: Of::Lines,
    };
    let fair = fair(ask, &given);
    for row in &fair.rows {
        assert_eq!(row.why, Some(WhyNoRange::ZerosLeaveItOpen));
        assert_eq!(row.range, None);
    }
}

/// V13: R `glm(Gamma(log))`. Two years are too few for a range.
#[test]
fn two_years_give_factors_and_no_ranges() {
    let years: &[(usize, usize, &[f64])] = &[
        (0, 0, &[20.5]),
        (0, 1, &[27.0]),
        (1, 0, &[26.0]),
        (1, 1, &[33.0]),
        (2, 0, &[29.0]),
        (2, 1, &[41.0]),
        (3, 0, &[14.0]),
        (3, 1, &[38.0]),
    ];
    let ask = Ask {
        rows: 4,
        blocks: 2,
        alike: 1.0,
        of: Of::Yards,
    };
    let fair = fair(ask, &gave(years));
    for (row, expected) in fair.rows.iter().zip([0.858, 1.070, 1.254, 0.868]) {
        near(row.factor.unwrap(), expected, 1e-3);
        assert_eq!((row.range, row.why), (None, Some(WhyNoRange::TooFew)));
    }
    near(fair.df.unwrap(), 3.0, 0.0);
}

#[test]
fn what_cannot_be_compared_is_said_to_be_so() {
    let given = [
        Gave {
            row: 0,
            block: 0,
            grams: 20_000,
        },
        Gave {
            row: 1,
            block: 0,
            grams: 25_000,
        },
        Gave {
            row: 2,
            block: 1,
            grams: 25_000,
        },
        Gave {
            row: 3,
            block: 0,
            grams: 0,
        },
        Gave {
            row: 3,
            block: 2,
            grams: 0,
        },
    ];
    let ask = Ask {
        rows: 5,
        blocks: 3,
        alike: 1.0,
        of: Of::Lines,
    };
    let fair = fair(ask, &given);
    let why: Vec<_> = fair.rows.iter().map(|row| row.why).collect();
    assert_eq!(
        why,
        [
            Some(WhyNoRange::TooFew),
            Some(WhyNoRange::TooFew),
            Some(WhyNoRange::NotConnected),
            Some(WhyNoRange::NoneMadeHoney),
            Some(WhyNoRange::TooFew),
        ]
    );
    assert_eq!(fair.pairs.len(), 1);
    assert_eq!(fair.rows[2].factor, None);
}

fn connected() -> impl Strategy<Value = Vec<Gave>> {
    // Each row stands in each block at least once, with honey.
    let cell = (0..3_usize, 0..4_usize, 1_000..60_000_i64);
    proptest::collection::vec(cell, 0..30).prop_map(|more| {
        let all = (0..12).map(|at| (at / 4, at % 4, 20_000 + 1_000 * i64::try_from(at).unwrap()));
        let each = all.chain(more).map(|(row, block, grams)| Gave { row, block, grams });
        each.collect()
    })
}

fn factors(gave: &[Gave]) -> Vec<f64> {
    fair(of_lines(1.0), gave)
        .rows
        .iter()
        .map(|row| row.factor.unwrap())
        .collect()
}

proptest! {
    /// AN-4: the product of the factors is 1, whatever comes in which order and in which unit.
    #[test]
    fn factors_are_relative(given in connected(), by in 2..5_i64, block in 0..4_usize) {
        let first = factors(&given);
        prop_assert!((first.iter().product::<f64>() - 1.0).abs() < 1e-9);
        let times = |only: Option<usize>| -> Vec<Gave> {
            let scale = |one: &Gave| if only.is_none_or(|only| only == one.block) { one.grams * by } else { one.grams };
            given.iter().map(|one| Gave { grams: scale(one), ..*one }).collect()
        };
        for other in [times(None), times(Some(block))] {
            for (a, b) in first.iter().zip(factors(&other)) {
                prop_assert!((a - b).abs() < 1e-8);
            }
        }
    }

    /// AN-4: more honey in a row never lowers its factor.
    #[test]
    fn more_honey_never_lowers_a_factor(given in connected(), at in 0..12_usize, more in 1..20_000_i64) {
        let mut richer = given.clone();
        richer[at].grams += more;
        let row = richer[at].row;
        prop_assert!(factors(&richer)[row] >= factors(&given)[row] - 1e-9);
    }

    /// AN-7: the joint range holds the single one; places follow from it.
    #[test]
    fn joint_ranges_are_wider(given in connected()) {
        let fair = fair(of_lines(1.0), &given);
        let t = student_t(0.975, fair.df.unwrap()).unwrap();
        for pair in &fair.pairs {
            let Some((low, high)) = pair.range else { continue };
            let half = t * libm::sqrt(fair.dispersion.unwrap() * 2.0 / pair.n);
            prop_assert!(low <= pair.ratio * libm::exp(-half) + 1e-12);
            prop_assert!(high >= pair.ratio * libm::exp(half) - 1e-12);
        }
        for row in &fair.rows {
            if let Some((first, last)) = row.places {
                prop_assert!(1 <= first && first <= last && last <= 3);
            }
        }
    }
}

/// One block: factors are in proportion to means. AN-6: drawn by nothing a guess is the factor, drawn by much it is 1.
#[test]
fn limits_are_what_they_should_be() {
    let given = [
        Gave {
            row: 0,
            block: 0,
            grams: 20_000,
        },
        Gave {
            row: 0,
            block: 0,
            grams: 30_000,
        },
        Gave {
            row: 1,
            block: 0,
            grams: 10_000,
        },
    ];
    let ask = Ask {
        rows: 2,
        blocks: 1,
        alike: 1.0,
        of: Of::Lines,
    };
    let fair = fair(ask, &given);
    near(fair.rows[0].factor.unwrap() / fair.rows[1].factor.unwrap(), 2.5, 1e-9);

    let table = Table::of(of_lines(1.0), &gave(LINES));
    let rows = [0, 1, 2];
    let fitted = Fitted::of(&table, &rows).unwrap();
    for (guess, factor) in fitted.guesses(1.0, 1e-9).unwrap().iter().zip(&fitted.factors) {
        near(*guess, *factor, 1e-6);
    }
    for guess in fitted.guesses(1.0, 1e9).unwrap() {
        near(guess, 1.0, 1e-6);
    }
    let drawn = fitted.guesses(1.0, DRAWN_BY).unwrap();
    near(drawn.iter().map(|guess| libm::log(*guess)).sum(), 0.0, 1e-9);
}

//! What each colony gives: its line, its place and year, chance, and the total that the yard is to give.
//!
//! Chance is log-normal with a coefficient of variation of 45 %, and 6 colonies of 100 give nothing: they swarmed or
//! lost their queen. Of one queen's deviation 0.3 is carried over to her next season.

use super::diary::Dice;
use super::figures::{LINES, OST, QUI, TSD, WEN, YARDS, YIELDS_KG};

/// The deviation of the logarithm that gives a coefficient of variation of 45 %: sqrt(ln(1 + 0.45^2)).
const DEVIATION: f64 = 0.429_421;
/// The share of colonies that give nothing.
const NOTHING: f64 = 0.06;
/// What of a queen's deviation is carried over to her next season.
const CARRIED_OVER: f64 = 0.3;

/// A colony with its places in an even year and in the odd year after it; nothing where it was not there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Colony {
    /// The yard in which its hive was set up.
    pub home: usize,
    /// The hive's number there.
    pub number: usize,
    /// The line of its queen.
    pub line: usize,
    /// The yard in which it counts in each of the two years.
    pub yards: [Option<usize>; 2],
}

/// All colonies. Between the two years one of Tarnsedge dies, one of Ostlehope is split and one of Quillhanger is
/// carried to Wennock Bank.
#[must_use]
pub fn colonies() -> Vec<Colony> {
    let mut all = Vec::new();
    for (home, yard) in YARDS.iter().enumerate() {
        let lines =
            (0..LINES.len()).flat_map(|line| std::iter::repeat_n(line, yard.lines.get(line).copied().unwrap_or(0)));
        let mut lines: Vec<usize> = lines.collect();
        if home == TSD {
            // Its last hive is one of Slate.
            lines.sort_unstable_by_key(|line| *line == 1);
        }
        for (line, number) in lines.into_iter().zip(1..) {
            let yards = match (home, number) {
                (TSD, 18) => [Some(home), None],
                (QUI, 12) => [Some(home), Some(WEN)],
                _ => [Some(home); 2],
            };
            all.push(Colony {
                home,
                number,
                line,
                yards,
            });
        }
    }
    all.push(Colony {
        home: OST,
        number: 17,
        line: 0,
        yards: [None, Some(OST)],
    });
    all
}

/// Whether chance plays a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chance {
    /// As in life.
    Plays,
    /// Every colony gives what its line and its place give.
    Rests,
}

/// Grams of every colony in the two years, yards summing up to their totals; nothing where it was not there.
#[must_use]
pub fn draw(seed: u64, effects: [f64; 3], chance: Chance) -> Vec<[Option<f64>; 2]> {
    draw_with(&mut Dice::new(seed), effects, chance)
}

pub(super) fn draw_with(dice: &mut Dice, effects: [f64; 3], chance: Chance) -> Vec<[Option<f64>; 2]> {
    let colonies = colonies();
    let mut given: Vec<[Option<f64>; 2]> = colonies.iter().map(|of| one(dice, of, effects, chance)).collect();
    for (yard, totals) in YIELDS_KG.iter().enumerate() {
        for (year, kg) in totals.iter().enumerate() {
            let here = |of: &Colony| of.yards.get(year).copied().flatten() == Some(yard);
            let sum: f64 = colonies
                .iter()
                .zip(&given)
                .filter(|(of, _)| here(of))
                .filter_map(|(_, given)| given.get(year).copied().flatten())
                .sum();
            for (of, given) in colonies.iter().zip(&mut given) {
                if let Some(Some(grams)) = given.get_mut(year).filter(|_| here(of)) {
                    #[allow(clippy::cast_precision_loss, reason = "a few hundred kilograms")]
                    let total = (*kg * 1_000) as f64;
                    *grams *= total / sum;
                }
            }
        }
    }
    given
}

fn one(dice: &mut Dice, of: &Colony, effects: [f64; 3], chance: Chance) -> [Option<f64>; 2] {
    let effect = effects.get(of.line).copied().unwrap_or(1.0);
    let first = dice.normal();
    let second = CARRIED_OVER * first + (1.0 - CARRIED_OVER * CARRIED_OVER).sqrt() * dice.normal();
    let mut year = |of_yard: Option<usize>, deviation: f64| {
        let nothing = dice.part() < NOTHING;
        of_yard.map(|_| match chance {
            Chance::Rests => effect,
            Chance::Plays if nothing => 0.0,
            Chance::Plays => effect * (DEVIATION * deviation).exp(),
        })
    };
    let [even, odd] = of.yards;
    [year(even, first), year(odd, second)]
}

#[cfg(test)]
mod tests {
    use domain::season::fair::{Ask, Gave, Of, alike, fair};

    use super::super::figures::EFFECTS;
    use super::super::plan::SEED;
    use super::*;

    /// Grams by line and by place and year.
    fn gave(given: &[[Option<f64>; 2]]) -> (Ask, Vec<Gave>) {
        let mut gave = Vec::new();
        let mut seasons = Vec::new();
        for (of, given) in colonies().iter().zip(given) {
            seasons.push(u32::try_from(of.yards.iter().flatten().count()).unwrap());
            for (year, grams) in given.iter().enumerate() {
                if let (Some(yard), Some(grams)) = (of.yards[year], grams) {
                    gave.push(Gave {
                        row: of.line,
                        block: 2 * yard + year,
                        grams: grams.round() as i64,
                    });
                }
            }
        }
        let ask = Ask {
            rows: 3,
            blocks: 8,
            alike: alike(&seasons),
            of: Of::Lines,
        };
        (ask, gave)
    }

    fn raw_means(gave: &[Gave]) -> [f64; 3] {
        [0, 1, 2].map(|line| {
            let of: Vec<i64> = gave.iter().filter(|one| one.row == line).map(|one| one.grams).collect();
            of.iter().sum::<i64>() as f64 / of.len() as f64 / 1_000.0
        })
    }

    #[test]
    fn the_lines_stand_as_the_tables_say() {
        let all = colonies();
        let count = |yard: usize, line: usize, year: usize| {
            all.iter()
                .filter(|of| of.yards[year] == Some(yard) && of.line == line)
                .count()
        };
        assert_eq!(
            (count(WEN, 0, 0), count(TSD, 1, 0), count(OST, 2, 0), count(QUI, 2, 0)),
            (10, 11, 9, 7)
        );
        for (year, expected) in [(0, [18, 16, 14, 12]), (1, [17, 17, 15, 11])] {
            let fit = [TSD, OST, WEN, QUI].map(|yard| (0..3).map(|line| count(yard, line, year)).sum::<usize>());
            assert_eq!(fit, expected);
        }
    }

    /// The truth of the demo: plain means make Amber look best, since it stands in the best yard; side by side the
    /// lines are found as they were put in.
    #[test]
    fn without_chance_the_plain_means_mislead_and_the_fair_factors_do_not() {
        let (ask, gave) = gave(&draw(SEED, EFFECTS, Chance::Rests));
        let means = raw_means(&gave).map(|kg| format!("{kg:.1}"));
        assert_eq!(means, ["30.7", "27.4", "26.9"]);
        let factors: Vec<f64> = fair(ask, &gave).rows.iter().map(|row| row.factor.unwrap()).collect();
        for (factor, effect) in factors.iter().zip(EFFECTS) {
            assert!((factor / factors[0] - effect).abs() < 0.000_1, "{factors:?}");
        }
    }

    #[test]
    fn with_the_demos_own_chance_no_two_lines_can_be_told_apart() {
        let (ask, gave) = gave(&draw(SEED, EFFECTS, Chance::Plays));
        let fair = fair(ask, &gave);
        assert_eq!(fair.pairs.len(), 3);
        for pair in &fair.pairs {
            let (low, high) = pair.range.unwrap();
            assert!(!pair.told_apart() && low < 1.0 && high > 1.0, "{pair:?}");
        }
        for row in &fair.rows {
            assert_eq!(row.places, Some((1, 3)));
        }
    }

    #[test]
    fn yards_give_their_totals_and_few_colonies_nothing() {
        for seed in 0..50 {
            let given = draw(seed, EFFECTS, Chance::Plays);
            for (year, expected) in [(0, 1_359_000.0), (1, 2_053_000.0)] {
                let sum: f64 = given.iter().filter_map(|of| of[year]).sum();
                assert!((sum - expected).abs() < 1.0, "{sum}");
            }
        }
        let nothing = (0..200)
            .flat_map(|seed| draw(seed, EFFECTS, Chance::Plays))
            .flatten()
            .flatten();
        let nothing = nothing.filter(|grams| *grams == 0.0).count();
        assert!(
            (1_300..1_580).contains(&nothing),
            "{nothing} of 24,000 are about six in a hundred"
        );
    }
}

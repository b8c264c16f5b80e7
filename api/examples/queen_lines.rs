//! How often the fair comparison of queen lines claims what is not so, over many seeds of the demo's business.
//!
//! `cargo run --release -p api --example queen_lines [SEEDS]`. Two seasons of sixty colonies are drawn by each seed: the
//! lines alike, and as they truly are. Aims: a difference that is not there in at most 5 of 100, one with the wrong sign
//! in at most 1, and joint ranges that hold all three true ratios in at least 94.
#![allow(clippy::print_stdout, reason = "it prints what it found")]

use api::demo::figures::EFFECTS;
use api::demo::yields::{Chance, colonies, draw};
use domain::season::fair::{Ask, Fair, Gave, Of, alike, fair};

/// Colonies by line, and the places and years they shared.
fn compare(seed: u64, effects: [f64; 3], count_queens: bool) -> Fair {
    let (mut gave, mut seasons) = (Vec::new(), Vec::new());
    for (of, given) in colonies().iter().zip(draw(seed, effects, Chance::Plays)) {
        seasons.push(of.yards.iter().flatten().fold(0, |sum, _| sum + 1));
        for (year, (yard, grams)) in of.yards.iter().zip(given).enumerate() {
            if let (Some(yard), Some(grams)) = (yard, grams) {
                #[allow(clippy::cast_possible_truncation, reason = "a few tens of kilograms")]
                let grams = grams.round() as i64;
                gave.push(Gave {
                    row: of.line,
                    block: 2 * yard + year,
                    grams,
                });
            }
        }
    }
    let ask = Ask {
        rows: 3,
        blocks: 8,
        alike: if count_queens { alike(&seasons) } else { 1.0 },
        of: Of::Lines,
    };
    fair(ask, &gave)
}

#[derive(Default)]
struct Tally {
    seasons: usize,
    /// Seasons in which some two lines are said to differ.
    claimed: usize,
    /// Seasons in which a difference is claimed the wrong way round.
    wrong_sign: usize,
    /// Seasons in which the joint ranges hold all true ratios.
    held: usize,
    /// Seasons without any range.
    silent: usize,
    dispersion: f64,
}

fn tally(seeds: u64, effects: [f64; 3], count_queens: bool) -> Tally {
    let mut tally = Tally::default();
    for seed in 0..seeds {
        let fair = compare(seed, effects, count_queens);
        let truth = |one: usize, other: usize| {
            let of = |line: usize| effects.get(line).copied().unwrap_or(1.0);
            of(one) / of(other)
        };
        let claims = |pair: &&domain::season::fair::Pair| pair.told_apart();
        let wrong = |pair: &domain::season::fair::Pair| {
            let truth = truth(pair.one, pair.other);
            (truth > 1.0 && pair.ratio < 1.0) || (truth < 1.0 && pair.ratio > 1.0)
        };
        let ranges: Vec<_> = fair.pairs.iter().filter_map(|pair| Some((pair, pair.range?))).collect();
        tally.seasons += 1;
        tally.silent += usize::from(ranges.is_empty());
        tally.claimed += usize::from(fair.pairs.iter().any(|pair| pair.told_apart()));
        tally.wrong_sign += usize::from(fair.pairs.iter().filter(claims).any(wrong));
        let holds = |(pair, (low, high)): &(&domain::season::fair::Pair, (f64, f64))| {
            let truth = truth(pair.one, pair.other);
            *low <= truth && truth <= *high
        };
        tally.held += usize::from(ranges.len() == 3 && ranges.iter().all(holds));
        tally.dispersion += fair.dispersion.unwrap_or_default();
    }
    tally
}

#[allow(clippy::cast_precision_loss, reason = "counts of seeds")]
fn share(of: usize, all: usize) -> f64 {
    100.0 * of as f64 / all.max(1) as f64
}

fn main() {
    let seeds: u64 = std::env::args()
        .nth(1)
        .and_then(|given| given.parse().ok())
        .unwrap_or(2_000);
    println!("{seeds} seeds, two seasons of sixty colonies each, three lines");
    for (title, count_queens) in [
        ("each queen counted as the program counts her over two seasons", true),
        ("every season counted as a queen of its own, for comparison", false),
    ] {
        let alike = tally(seeds, [1.0; 3], count_queens);
        let truly = tally(seeds, EFFECTS, count_queens);
        println!("{title}");
        println!(
            "  lines alike: a difference claimed in {:.2} % of seeds (aim: at most 5), ranges hold in {:.2} %",
            share(alike.claimed, alike.seasons),
            share(alike.held, alike.seasons)
        );
        println!(
            "  lines as they are: claimed in {:.2} %, wrong sign in {:.2} % (aim: at most 1), ranges hold in {:.2} % \
             (aim: at least 94)",
            share(truly.claimed, truly.seasons),
            share(truly.wrong_sign, truly.seasons),
            share(truly.held, truly.seasons)
        );
        #[allow(clippy::cast_precision_loss, reason = "counts of seeds")]
        let dispersion = truly.dispersion / truly.seasons as f64;
        println!(
            "  mean dispersion {dispersion:.3}, no range in {} seeds",
            alike.silent + truly.silent
        );
    }
}

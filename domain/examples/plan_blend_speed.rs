//! How long a blend of forty containers takes to be planned for certain, beside trying every blend of twenty.
//!
//! `cargo run --release -p domain --example plan_blend_speed`. It prints milliseconds and a ratio; it fails nothing. The
//! reference tries each of the 2^20 sets of whole containers once; with one of them in part there would be twenty times
//! as many, and each container more doubles both. Times are only good within one run on one machine.
#![allow(clippy::print_stdout, clippy::expect_used, missing_docs)]

use std::time::Instant;

use domain::plan::blending::{BlendAsked, OnHand, Prefer, WaterKnown, plan_blend};
use domain::text::Name;
use domain::units::{Grams, Moisture, Pfund};

/// A shift register of 32 bits (G. Marsaglia, Xorshift RNGs, 2003).
struct Chance(u32);

impl Chance {
    fn below(&mut self, most: i64) -> i64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 17;
        self.0 ^= self.0 << 5;
        i64::from(self.0) % most
    }
}

/// Containers of nearly one weight: the hard case, since any could stand for another.
fn question(chance: &mut Chance, containers: i64, band: bool) -> BlendAsked {
    let honey = |at: i64| OnHand {
        label: Name::new(&format!("P{at:02}")).expect("a label"),
        from: None,
        content_g: Grams::new(25_000 + chance.below(600)).expect("a weight"),
        moisture_hundredths: Moisture::new(1_680 + chance.below(320)).ok(),
        water_known: WaterKnown::Measured,
        measured_days: None,
        colour_mm: Pfund::new(15 + chance.below(60)).ok(),
        claims: Vec::new(),
        holds: Vec::new(),
        smells: false,
        ferments: false,
        origins: Vec::new(),
        opening_min: None,
    };
    BlendAsked {
        target_hundredths: Moisture::constant(1_800),
        parent_limit_hundredths: None,
        colour_from_mm: band.then_some(Pfund::constant(34)),
        colour_to_mm: band.then_some(Pfund::constant(50)),
        keep: Vec::new(),
        may_lose: Vec::new(),
        may_lose_any: false,
        wanted_g: Grams::new(containers * 25_000 / 2).ok(),
        prefer: Prefer::MostOfTheWettest,
        step_g: None,
        to_be_had_hundredths: None,
        on_hand: (0..containers).map(honey).collect(),
    }
}

/// The heaviest set of whole containers within the target, by trying all.
fn every_set(asked: &BlendAsked) -> i64 {
    let wanted = asked.wanted_g.map_or(i64::MAX, Grams::get);
    let honeys: Vec<(i64, i64)> = asked
        .on_hand
        .iter()
        .map(|honey| {
            let over = honey.moisture_hundredths.map_or(0, Moisture::get) - asked.target_hundredths.get();
            (honey.content_g.get(), honey.content_g.get() * over)
        })
        .collect();
    (0_u32..1 << honeys.len())
        .filter_map(|set| {
            let taken = honeys.iter().enumerate().filter(|(at, _)| set >> at & 1 == 1);
            let (grams, over) = taken.fold((0, 0), |sum, (_, honey)| (sum.0 + honey.0, sum.1 + honey.1));
            (over <= 0 && grams <= wanted).then_some(grams)
        })
        .max()
        .unwrap_or(0)
}

fn milliseconds<T>(work: impl FnOnce() -> T) -> (f64, T) {
    let began = Instant::now();
    let done = work();
    (began.elapsed().as_secs_f64() * 1_000.0, done)
}

fn main() {
    let mut chance = Chance(20_250_711);
    const RUNS: usize = 40;
    for (what, band) in [("water alone", false), ("water and a colour band", true)] {
        let (mut all, mut worst, mut certain) = (0.0, 0.0_f64, 0);
        for _ in 0..RUNS {
            let asked = question(&mut chance, 40, band);
            let (took, plan) = milliseconds(|| plan_blend(asked));
            certain += usize::from(plan.is_ok_and(|plan| plan.proven_best));
            all += took;
            worst = worst.max(took);
        }
        let mean = all / RUNS as f64;
        println!("40 containers, {what}: {mean:.1} ms a plan, {worst:.1} ms at most, {certain} of {RUNS} for certain");
    }
    let asked = question(&mut chance, 20, false);
    let (every, heaviest) = milliseconds(|| every_set(&asked));
    let (planned, plan) = milliseconds(|| plan_blend(asked));
    let weight = plan.map_or(0, |plan| plan.weight_g);
    println!(
        "20 containers: every set of whole ones {every:.1} ms ({heaviest} g), planned {planned:.1} ms ({weight} g)"
    );
    println!(
        "ratio {:.0}; for 40 containers every set would take {:.1e} times as long",
        every / planned,
        2_f64.powi(20)
    );
}

//! What an extractor does to a comb, and how fast it has to turn.
//!
//! The force is that of any body on a circle, in standard gravities (9.80665 m/s2, exact). What a comb bears is common
//! practice without a source: 15 g for new or unwired wax, 45 g for wired or plastic foundation. Not here: how long it
//! takes, and how much honey stays behind.

use crate::described::{answered, words};
use crate::science::number::{fraction, whole};
use crate::units::{Grams, Gravities, Millimetres, Turns};

words! {
    /// What holds a comb together.
    Comb {
        /// New or unwired wax.
        NewOrUnwired = "new_or_unwired",
        /// Wired or plastic foundation.
        WiredOrPlastic = "wired_or_plastic",
    }
}

/// What to heed at an extractor.
pub const CAUTION: &str = "A full comb breaks below what an empty one bears: begin slowly, raise the speed as honey \
    leaves, and turn the frames of a tangential machine. Load evenly, keep the lid shut and hands, hair and sleeves away \
    until it stands still. The maker's manual and highest speed rule.";

const STANDARD_GRAVITY: f64 = 9.806_65;

answered! {
    /// What an extractor does to a comb.
    Spin {
        /// The force, in parts of the weight.
        force_hundredths_g: i64, "hundredths of standard gravity";
        /// How fast the comb's middle moves.
        rim_mm_per_s: i64, "millimetres a second";
        /// The force of the honey on the comb, where its weight was given.
        on_comb_n: Option<i64>, "newtons";
        /// The most that such a comb is spun at by habit, where it was given.
        habit_hundredths_g: Option<i64>, "hundredths of standard gravity";
        /// The highest speed at this radius that stays within that habit, rounded down.
        habit_turns_per_minute: Option<i64>, "turns a minute";
        /// Whether the force is above that habit.
        above_habit: Option<bool>, "true or false";
    }
}

answered! {
    /// How fast an extractor has to turn.
    Speed {
        /// The speed.
        speed_tenths_turns_per_minute: i64, "tenths of a turn a minute";
        /// How fast the comb's middle moves.
        rim_mm_per_s: i64, "millimetres a second";
    }
}

/// The force at the middle of a comb, and what it does to one.
#[must_use]
pub fn spin(speed: Turns, radius: Millimetres, honey: Option<Grams>, comb: Option<Comb>) -> Spin {
    let turning = radians_a_second(fraction(speed.get()));
    let metres = metres(radius);
    let pull = turning * turning * metres;
    let force = whole(pull / STANDARD_GRAVITY * 100.0);
    let habit = comb.map(habit_hundredths_g);
    Spin {
        force_hundredths_g: force,
        rim_mm_per_s: whole(turning * metres * 1_000.0),
        on_comb_n: honey.map(|honey| whole(fraction(honey.get()) / 1_000.0 * pull)),
        habit_hundredths_g: habit,
        habit_turns_per_minute: habit.map(|habit| whole(libm::floor(turns_a_minute(habit, radius)))),
        above_habit: habit.map(|habit| force > habit),
    }
}

/// The speed at which a force acts at the middle of a comb.
#[must_use]
pub fn speed(force: Gravities, radius: Millimetres) -> Speed {
    let turns = turns_a_minute(force.get(), radius);
    Speed {
        speed_tenths_turns_per_minute: whole(turns * 10.0),
        rim_mm_per_s: whole(radians_a_second(turns) * metres(radius) * 1_000.0),
    }
}

/// Common practice, no source.
const fn habit_hundredths_g(comb: Comb) -> i64 {
    match comb {
        Comb::NewOrUnwired => 1_500,
        Comb::WiredOrPlastic => 4_500,
    }
}

fn turns_a_minute(force_hundredths_g: i64, radius: Millimetres) -> f64 {
    let pull = fraction(force_hundredths_g) / 100.0 * STANDARD_GRAVITY;
    libm::sqrt(pull / metres(radius)) * 60.0 / core::f64::consts::TAU
}

fn radians_a_second(turns_a_minute: f64) -> f64 {
    core::f64::consts::TAU * turns_a_minute / 60.0
}

fn metres(radius: Millimetres) -> f64 {
    fraction(radius.get()) / 1_000.0
}

//! Speeds and minutes of a load. All of it is the habit of the trade, none a published limit; the maker's manual and
//! highest speed rule.

use super::{LoadAsked, Step};
use crate::extraction::Spin;
use crate::plan::Reason;
use crate::science::spin::{Comb, speed};
use crate::units::{Gravities, Millimetres, Temperature};

/// The radius of a large machine by habit (0.22 to 0.35 m): nothing turns too fast if the machine is smaller.
const LARGE: Millimetres = Millimetres::constant(350);
/// Honey this warm runs well (27 °C or more, read on a maker's page).
const RUNS_WELL: Temperature = Temperature::constant(270);
/// Wax softens above this (published warm-room limit).
const TOO_WARM: Temperature = Temperature::constant(350);
/// Minutes to change the frames of a load. Common practice, no source.
const CHANGE_MIN: (i64, i64) = (2, 5);

/// What a step pulls at, hundredths of standard gravity, and for how many minutes.
struct Habit {
    what: &'static str,
    pull: (i64, i64),
    minutes: (i64, i64),
}

/// Common practice, no source: 100 to 150 turns a minute first and 250 to 350 at last at 0.25 to 0.3 m, 8 to 20 minutes
/// a load.
const RADIAL: &[Habit] = &[
    Habit {
        what: "begin slowly, until most has left the combs",
        pull: (300, 600),
        minutes: (2, 3),
    },
    Habit {
        what: "raise the speed step by step",
        pull: (600, 1_700),
        minutes: (3, 9),
    },
    Habit {
        what: "spin out; combs that still drip get more minutes, not more speed",
        pull: (1_700, 4_100),
        minutes: (3, 8),
    },
];

/// Common practice: 100 to 150 turns a minute on the first side, 200 to 280 at last. A supplier's page gives a minute and
/// more a side; the first side only in part, since its full back would press through the comb.
const TANGENTIAL: &[Habit] = &[
    Habit {
        what: "first side, slowly and only about half: the full back presses on the comb",
        pull: (300, 600),
        minutes: (1, 2),
    },
    Habit {
        what: "stop, turn every frame; second side, until nothing comes any more",
        pull: (600, 2_400),
        minutes: (2, 4),
    },
    Habit {
        what: "stop, turn every frame back; first side, until nothing comes any more",
        pull: (1_200, 2_400),
        minutes: (2, 4),
    },
];

/// What a comb bears by habit, hundredths of standard gravity; new wax where nobody told.
const fn bears(comb: Option<Comb>) -> i64 {
    match comb {
        Some(Comb::WiredOrPlastic) => 4_500,
        Some(Comb::NewOrUnwired) | None => 1_500,
    }
}

/// The steps of one load.
pub(super) fn steps(asked: &LoadAsked) -> Vec<Step> {
    let habits = match asked.spin {
        Spin::Radial => RADIAL,
        Spin::Tangential => TANGENTIAL,
    };
    let most = bears(asked.comb);
    let turns = |pull: i64| {
        let pull = Gravities::new(pull.min(most)).unwrap_or(Gravities::MIN);
        let turns = speed(pull, asked.radius_mm.unwrap_or(LARGE)).speed_tenths_turns_per_minute / 10;
        // Whole fives are what a dial shows; downwards, so that no limit is passed.
        let turns = turns - turns % 5;
        asked
            .maker_turns_per_minute
            .map_or(turns, |maker| turns.min(maker.get()))
    };
    let step = |habit: &Habit| Step {
        what: habit.what.to_owned(),
        from_turns_per_minute: turns(habit.pull.0),
        to_turns_per_minute: turns(habit.pull.1),
        from_min: habit.minutes.0,
        to_min: habit.minutes.1,
    };
    habits.iter().map(step).collect()
}

/// The minutes of a run.
pub(super) fn minutes(steps: &[Step], loads: usize) -> (i64, i64) {
    let loads = i64::try_from(loads).unwrap_or(i64::MAX);
    let from: i64 = steps.iter().map(|step| step.from_min).sum();
    let to: i64 = steps.iter().map(|step| step.to_min).sum();
    (
        loads.saturating_mul(from + CHANGE_MIN.0),
        loads.saturating_mul(to + CHANGE_MIN.1),
    )
}

/// Why these speeds and minutes.
pub(super) fn reasons(asked: &LoadAsked) -> Vec<Reason> {
    let mut reasons = Vec::new();
    let sentence = match asked.comb {
        Some(Comb::WiredOrPlastic) => {
            "wired and plastic combs are spun at this pull at most by habit; there is no published limit"
        }
        Some(Comb::NewOrUnwired) => {
            "new and unwired wax is spun at this pull at most by habit; there is no published limit"
        }
        None => "nobody told what holds the combs, so they are taken for new wax: this pull at most by habit",
    };
    let pull = Reason::new("comb_bears", "SF-1", sentence).with("pull_hundredths_g", bears(asked.comb));
    reasons.push(match asked.radius_mm {
        Some(radius) => pull.with("radius_mm", radius.get()),
        None => pull,
    });
    if asked.radius_mm.is_none() {
        let sentence =
            "the radius was not told: the speeds are those of a large machine; a smaller one may turn faster";
        reasons.push(Reason::new("radius_assumed", "SF-1", sentence).with("radius_mm", LARGE.get()));
    }
    if let Some(maker) = asked.maker_turns_per_minute {
        let sentence = "no step turns faster than the maker allows";
        reasons.push(Reason::new("maker_limit", "SF-1", sentence).with("turns_per_minute", maker.get()));
    }
    reasons.push(Reason::new(
        "minutes_by_habit",
        "SF-1",
        "minutes are the habit of the trade: they depend on warmth, moisture and comb",
    ));
    if let Some(honey) = asked.honey_tenths_c.filter(|honey| *honey < RUNS_WELL) {
        let sentence = "the honey is cool and leaves slowly: expect the longer time, or warm the supers first";
        reasons.push(Reason::new("cool_honey", "SF-1", sentence).with("honey_tenths_c", honey.get()));
    }
    if asked.jelly == Some(true) {
        let sentence = "honey that sets to a jelly does not leave by spinning alone: loosen it in the cells or press it; \
            more speed breaks combs and brings nothing";
        reasons.push(Reason::new("jelly", "SF-1", sentence));
    }
    if asked.spin == Spin::Tangential {
        let sentence = "every load is stopped and turned twice";
        reasons.push(Reason::new("flips", "SF-1", sentence).with("flips", 2));
    }
    reasons
}

/// What to heed (SF-1).
pub(super) fn cautions(asked: &LoadAsked) -> Vec<String> {
    let mut cautions = vec![
        "Lid closed before it turns; it stands still before a hand or a tool goes in. No loose sleeves, gloves or hair \
         near it."
            .to_owned(),
        "Begin slowly. If it shakes or walks, stop and set the frames anew; never hold it down.".to_owned(),
        "The maker's manual and local codes rule over these figures.".to_owned(),
    ];
    if asked.maker_turns_per_minute.is_none() {
        cautions.push("The highest speed on the machine's plate was not told: look at it first.".to_owned());
    }
    if asked.honey_tenths_c.is_some_and(|honey| honey > TOO_WARM) {
        cautions.push("Combs above 35 °C are soft and break: let them cool before spinning.".to_owned());
    }
    cautions
}

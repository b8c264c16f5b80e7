//! How long stored combs have to be frozen until wax moth in them is dead, in every stage (DI-4).
//!
//! COLOSS BEEBOOK, volume II, 5.8.1: over 24 hours below 0 °C; 2 hours at -15, 3 at -12, 4.5 at -7 °C. Between those
//! temperatures nothing was read, so the time of the next warmer one counts. Not here: how long a box takes to get so cold
//! in its middle, which only a thermometer there can tell.

use crate::described::answered;
use crate::science::span::{OutsideSpan, Span};
use crate::units::Temperature;

/// Temperature of the comb.
pub const COMB: Span = Span {
    what: "the temperature of frozen comb in tenths of a degree Celsius",
    field: "comb_tenths_c",
    from: -150,
    to: -1,
    refused_below: Temperature::MIN.get(),
    refused_above: -1,
};

/// At this or colder, for so long: tenths of a degree Celsius, minutes.
const STEPS: [(i64, i64); 3] = [(-150, 120), (-120, 180), (-70, 270)];
/// Below freezing, for over a day: minutes.
const BELOW_FREEZING_MIN: i64 = 1_440;

answered! {
    /// How long frost kills moth in combs.
    Frost {
        /// The least time, counted from when the middle of the comb is so cold.
        minutes: i64, "minutes";
        /// It has to be longer than that, not just as long.
        longer: bool, "true or false";
        /// Colder than anything that was read: the time is that of the coldest.
        extrapolated: bool, "true or false";
    }
}

/// The time at a temperature of the comb.
///
/// # Errors
/// [`OutsideSpan`] where it does not freeze.
pub fn frost(comb: Temperature) -> Result<Frost, OutsideSpan> {
    let extrapolated = COMB.extrapolates(comb.get())?;
    let step = STEPS.iter().find(|(at, _)| comb.get() <= *at);
    Ok(Frost {
        minutes: step.map_or(BELOW_FREEZING_MIN, |(_, minutes)| *minutes),
        longer: step.is_none(),
        extrapolated,
    })
}

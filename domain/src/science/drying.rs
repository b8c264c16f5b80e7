//! The water that honey has to lose, the days that may take, and the air that carries it away (DR-1 to DR-3).
//!
//! Mass follows from `blend`. Rates: 1 to 3 points of moisture a day in a stack over warm moving air is published (how-to
//! pages on reducing the moisture of honey, read) and is the best there is; 0.3 to 1 is what the trade plans with, without
//! a source; fully capped combs take several times as long. Not here: whether the air is dry enough (`air`).

use crate::blend::{self, BlendRefused};
use crate::described::{Spread, answered};
use crate::science::number::{fraction, whole};
use crate::units::{Grams, Moisture, Thousandths};

/// Points of moisture a day: the fastest published, what may be planned with in good air, and the slowest planned with.
const POINTS_A_DAY: [f64; 3] = [3.0, 1.0, 0.3];

/// What to heed in a warm room.
pub const CAUTION: &str = "Above 35 °C combs soften, near 41 °C they break down. Keep the air moving through every box and \
    measure again: rates are seldom reached. A heater near wax and wood needs its maker's distances and a guard against \
    overheating; local fire rules and the maker's manual rule.";

answered! {
    /// What drying honey takes away.
    Dried {
        /// The water to be taken away.
        water_g: i64, "grams";
        /// What the honey weighs afterwards.
        after_g: i64, "grams";
        /// The days that may take in open or half capped combs: at the best published rate, at a good one, at the slowest
        /// that the trade plans with.
        tenths_days: Spread, "tenths of a day";
    }
}

answered! {
    /// Air that carries water away.
    Carrier {
        /// The air that has to pass.
        air_m3: i64, "cubic metres";
    }
}

/// The water that honey has to lose (DR-1, DR-3).
///
/// # Errors
/// [`BlendRefused`].
pub fn drying(before: Grams, from: Moisture, to: Moisture) -> Result<Dried, BlendRefused> {
    let after = blend::mass_after_drying(before, from, to)?;
    let points = fraction(from.get() - to.get()) / 100.0;
    let [low, value, high] = POINTS_A_DAY.map(|a_day| whole(points / a_day * 10.0));
    Ok(Dried {
        water_g: blend::water_dried_off(before, from, to)?.get(),
        after_g: after.get(),
        tenths_days: Spread { low, value, high },
    })
}

/// The air that carries an amount of water away, where each cubic metre takes up so much; nothing where it takes up none.
#[must_use]
pub fn carrier(water: Grams, taken_up_thousandths_g_per_m3: Thousandths) -> Option<Carrier> {
    let each = fraction(taken_up_thousandths_g_per_m3.get()) / 1_000.0;
    (each > 0.0).then(|| Carrier {
        air_m3: whole(libm::ceil(fraction(water.get()) / each)),
    })
}

//! What is known of the water of a fill or lot.

use crate::blend::weighted_moisture;
use crate::house::House;
use crate::moisture::{Water, deciding};
use crate::subject::Subject;
use crate::units::{Grams, Moisture};

/// How many blends of blends a forecast looks through.
const DEEPEST: usize = 32;

/// What is known of the water of a fill or lot: its own deciding reading, else what its parts forecast (BL-1).
#[must_use]
pub fn water_of(house: &House, of: Subject) -> Water {
    water_at(house, of, 0)
}

fn water_at(house: &House, of: Subject, depth: usize) -> Water {
    let meter = |id| house.meter(id);
    if let Some(fill) = of.as_fill().and_then(|id| house.fill(id)) {
        return deciding(&fill.readings, meter);
    }
    let Some(lot) = of.as_lot().and_then(|id| house.lot(id)) else {
        return Water::Unmeasured;
    };
    let own = deciding(&lot.readings, meter);
    if own != Water::Unmeasured || depth >= DEEPEST {
        return own;
    }
    let parts: Vec<(Subject, Grams)> = lot.parts.iter().map(|part| (part.from, part.weight_g)).collect();
    match forecast(house, &parts, depth + 1) {
        Some(moisture_hundredths) => Water::Forecast { moisture_hundredths },
        None => Water::Unmeasured,
    }
}

pub(super) fn forecast(house: &House, parts: &[(Subject, Grams)], depth: usize) -> Option<Moisture> {
    let parts: Option<Vec<(Grams, Moisture)>> = parts
        .iter()
        .map(|(from, grams)| Some((*grams, water_at(house, *from, depth).value()?)))
        .collect();
    weighted_moisture(&parts?)
}

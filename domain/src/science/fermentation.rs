//! How likely honey is to ferment, by its water and its yeasts (MO-3).
//!
//! Classes: A Practical Manual of Beekeeping, table 2, read; a quotation of a United States handbook has the same
//! classes but lets a count of exactly 1000 or 10 pass, and the stricter reading is used here. They stand for a year of
//! storage and are printed in tenths, so moisture is rounded first. Nothing here is called safe. Not here: limits.

use crate::described::{answered, words};
use crate::science::moisture::rounded_to_tenth;
use crate::units::{Moisture, Temperature};

words! {
    /// A class of the table.
    Band {
        /// Below 17.1 % water.
        Below17 = "below_17_1",
        /// From 17.1 to 18.0 %.
        From17 = "17_1_to_18_0",
        /// From 18.1 to 19.0 %.
        From18 = "18_1_to_19_0",
        /// From 19.1 to 20.0 %.
        From19 = "19_1_to_20_0",
        /// Above 20.0 %.
        Above20 = "above_20_0",
    }
}

words! {
    /// What the table expects within a year.
    Outlook {
        /// It is not expected to ferment.
        Unlikely = "unlikely",
        /// It depends on the yeasts, and they were not counted.
        DependsOnYeast = "depends_on_yeast",
        /// It may ferment.
        AtRisk = "at_risk",
    }
}

answered! {
    /// How likely honey is to ferment.
    Fermentation {
        /// The class of its moisture.
        band: Band, "one of the words";
        /// What the table expects within a year of storage.
        outlook: Outlook, "one of the words";
        /// It keeps only with fewer yeasts than this; nothing in the driest class, where any number keeps, and in the
        /// wettest, where none does.
        keeps_below_yeast_per_g: Option<u32>, "yeasts per gram";
        /// Whether it was judged one class worse because it is set.
        judged_one_class_worse: bool, "true or false";
        /// Whether it is stored too cold for yeasts to grow; nothing where no temperature was given.
        too_cold_for_yeast: Option<bool>, "true or false";
    }
}

/// Wetter than this, set honey is judged one class worse, since what stays liquid in it is wetter; common practice.
const SET_HONEY_ABOVE: Moisture = Moisture::constant(1_800);
/// At this temperature and below yeasts do not grow; J. Powell, introduction to beekeeping, read.
const YEASTS_REST_AT: Temperature = Temperature::constant(110);

/// The fermentation ladder (MO-3), with the yeasts per gram where they were counted.
#[must_use]
pub fn fermentation(
    moisture: Moisture,
    yeast_per_g: Option<u32>,
    set: bool,
    stored: Option<Temperature>,
) -> Fermentation {
    let rounded = rounded_to_tenth(moisture);
    let judged_one_class_worse = set && rounded > SET_HONEY_ABOVE;
    let by_moisture = band(rounded);
    let judged = if judged_one_class_worse {
        worse(by_moisture)
    } else {
        by_moisture
    };
    let keeps_below = match judged {
        Band::Below17 | Band::Above20 => None,
        Band::From17 => Some(1_000),
        Band::From18 => Some(10),
        Band::From19 => Some(1),
    };
    Fermentation {
        band: by_moisture,
        outlook: outlook(judged, keeps_below, yeast_per_g),
        keeps_below_yeast_per_g: keeps_below,
        judged_one_class_worse,
        too_cold_for_yeast: stored.map(|stored| stored <= YEASTS_REST_AT),
    }
}

fn outlook(judged: Band, keeps_below: Option<u32>, yeast_per_g: Option<u32>) -> Outlook {
    match (keeps_below, yeast_per_g) {
        (Some(_), None) => Outlook::DependsOnYeast,
        (Some(limit), Some(count)) if count < limit => Outlook::Unlikely,
        (None, _) if judged == Band::Below17 => Outlook::Unlikely,
        _ => Outlook::AtRisk,
    }
}

fn band(rounded: Moisture) -> Band {
    match rounded.get() {
        ..=1_700 => Band::Below17,
        1_701..=1_800 => Band::From17,
        1_801..=1_900 => Band::From18,
        1_901..=2_000 => Band::From19,
        _ => Band::Above20,
    }
}

const fn worse(band: Band) -> Band {
    match band {
        Band::Below17 => Band::From17,
        Band::From17 => Band::From18,
        Band::From18 => Band::From19,
        Band::From19 | Band::Above20 => Band::Above20,
    }
}

//! Pounds, gallons and inches in grams, millilitres and millimetres. All factors are exact definitions.
//!
//! Whole numbers throughout: one multiplication, one division, rounded once. Not here: formatting for labels.

use crate::described::{answered, words};
use crate::units::Thousandths;

words! {
    /// A unit that is not metric.
    Unit {
        /// Pound, 0.45359237 kg.
        Pound = "pound",
        /// Ounce, a sixteenth of a pound.
        Ounce = "ounce",
        /// US gallon, 231 cubic inches.
        UsGallon = "us_gallon",
        /// US fluid ounce, a 128th of a US gallon.
        UsFluidOunce = "us_fluid_ounce",
        /// Imperial gallon, 4.54609 litres.
        ImperialGallon = "imperial_gallon",
        /// Inch, 25.4 mm.
        Inch = "inch",
    }
}

answered! {
    /// An amount in metric units; one of the three.
    Metric {
        /// A weight.
        tenths_g: Option<i64>, "tenths of a gram";
        /// A volume.
        tenths_ml: Option<i64>, "tenths of a millilitre";
        /// A length.
        tenths_mm: Option<i64>, "tenths of a millimetre";
    }
}

/// An amount in metric units, rounded half up to the tenth.
#[must_use]
pub fn metric(amount: Thousandths, unit: Unit) -> Metric {
    // The factor is that from thousandths of the unit to trillionths of a tenth of the metric one.
    let tenths = |factor: i128| i64::try_from((i128::from(amount.get()) * factor + HALF) / (2 * HALF)).ok();
    let nothing = Metric {
        tenths_g: None,
        tenths_ml: None,
        tenths_mm: None,
    };
    match unit {
        Unit::Pound => Metric {
            tenths_g: tenths(4_535_923_700_000),
            ..nothing
        },
        Unit::Ounce => Metric {
            tenths_g: tenths(283_495_231_250),
            ..nothing
        },
        Unit::UsGallon => Metric {
            tenths_ml: tenths(37_854_117_840_000),
            ..nothing
        },
        Unit::UsFluidOunce => Metric {
            tenths_ml: tenths(295_735_295_625),
            ..nothing
        },
        Unit::ImperialGallon => Metric {
            tenths_ml: tenths(45_460_900_000_000),
            ..nothing
        },
        Unit::Inch => Metric {
            tenths_mm: tenths(254_000_000_000),
            ..nothing
        },
    }
}

/// Half a trillion, so that adding it before dividing rounds half up.
const HALF: i128 = 500_000_000_000;

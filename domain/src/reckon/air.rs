//! Water in air, what warming does to it, and what pulls water out of honey.

use crate::described::asked;
use crate::science::air::{self, Air, AirRefused, Drive, Formula, Warmed};
use crate::science::balance;
use crate::science::sources::{BUCK, CLOVER_BALANCE, MAGNUS, TEXTBOOK_PHYSICS};
use crate::science::span::OutsideSpan;
use crate::units::{Humidity, Moisture, Pascals, Temperature};

use super::{Computation, computation};

pub(super) const ALL: &[Computation] = &[
    computation! {
        "air_state": air_state as (AirAsked) -> Air,
        does "How much water is in air, and at which temperature it would drip.",
        from [BUCK, MAGNUS, TEXTBOOK_PHYSICS],
        rules ["DR-2"],
        holds "0 to 60 °C, marked as extrapolated from -20 to 80 °C, refused beyond; saturation over liquid water.",
    },
    computation! {
        "air_warmed": air_warmed as (WarmedAsked) -> Warmed,
        does "The relative humidity of air after warming or cooling it, and how dry it can make honey.",
        from [BUCK, MAGNUS, CLOVER_BALANCE],
        rules ["DR-2"],
        holds "As air_state, as long as no water is added or taken away.",
    },
    computation! {
        "drying_drive": drying_drive as (DriveAsked) -> Drive,
        does "What pulls water out of honey into air, and whether the air dries the honey at all.",
        from [BUCK, MAGNUS, CLOVER_BALANCE],
        rules ["DR-2"],
        holds "As air_state and balance_humidity. It tells the direction, not how many days it takes.",
    },
];

asked! {
    /// Air.
    AirAsked {
        /// Temperature of the air.
        air_tenths_c: Temperature, "tenths of a degree Celsius", "350", in air::TEMPERATURE;
        /// Its relative humidity.
        relative_humidity_hundredths_percent: Humidity, "hundredths of a per cent", "3000";
        /// Its pressure; 101325 Pa if left out.
        pressure_pa: Option<Pascals>, "pascals", "101325";
        /// Whose formula counts; `buck` if left out.
        formula: Option<Formula>, "one of the words", "\"buck\"";
    }
}

asked! {
    /// Air that is warmed or cooled.
    WarmedAsked {
        /// Temperature of the air before.
        air_tenths_c: Temperature, "tenths of a degree Celsius", "200", in air::TEMPERATURE;
        /// Its relative humidity before.
        relative_humidity_hundredths_percent: Humidity, "hundredths of a per cent", "6000";
        /// Its temperature after.
        to_air_tenths_c: Temperature, "tenths of a degree Celsius", "330", in air::TEMPERATURE.named("to_air_tenths_c");
        /// Whose formula counts; `buck` if left out.
        formula: Option<Formula>, "one of the words", "\"buck\"";
    }
}

asked! {
    /// Honey in air.
    DriveAsked {
        /// Water in the honey.
        moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1860", in balance::MOISTURE;
        /// Temperature of the honey.
        honey_tenths_c: Temperature, "tenths of a degree Celsius", "350", in air::TEMPERATURE.named("honey_tenths_c");
        /// Temperature of the air.
        air_tenths_c: Temperature, "tenths of a degree Celsius", "350", in air::TEMPERATURE;
        /// Relative humidity of the air.
        relative_humidity_hundredths_percent: Humidity, "hundredths of a per cent", "3000";
        /// Whose formula counts; `buck` if left out.
        formula: Option<Formula>, "one of the words", "\"buck\"";
    }
}

fn or_buck(formula: Option<Formula>) -> Formula {
    formula.unwrap_or(Formula::Buck)
}

fn air_state(asked: AirAsked) -> Result<Air, OutsideSpan> {
    air::air(
        asked.air_tenths_c,
        asked.relative_humidity_hundredths_percent,
        asked.pressure_pa.unwrap_or(air::SEA_LEVEL),
        or_buck(asked.formula),
    )
}

fn air_warmed(asked: WarmedAsked) -> Result<Warmed, AirRefused> {
    air::warmed(
        asked.air_tenths_c,
        asked.relative_humidity_hundredths_percent,
        asked.to_air_tenths_c,
        or_buck(asked.formula),
    )
}

fn drying_drive(asked: DriveAsked) -> Result<Drive, OutsideSpan> {
    air::drive(
        asked.moisture_hundredths,
        asked.honey_tenths_c,
        asked.air_tenths_c,
        asked.relative_humidity_hundredths_percent,
        or_buck(asked.formula),
    )
}

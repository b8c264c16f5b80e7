//! Water in air, what warming does to it, and whether it dries honey (DR-2).
//!
//! Saturation by the formula of A. L. Buck (1981, revised 1996), from memory, within 0.05 % of the IAPWS formulation
//! from 0 to 60 °C; by the Magnus formula as the WMO gives it, from memory, within 0.31 % from 0 to 50 °C. Both are over
//! liquid water, below freezing too. The rest is the gas law. Not here: rooms, machines, and how fast honey dries.

use crate::described::{Spread, answered, words};
use crate::science::balance::{self, Table};
use crate::science::number::{fraction, whole};
use crate::science::span::{OutsideSpan, Span};
use crate::units::{Humidity, Moisture, Pascals, Temperature};

words! {
    /// Whose formula gives the pressure of saturated vapour.
    Formula {
        /// Buck: the better one.
        Buck = "buck",
        /// Magnus: for comparison with older tables.
        Magnus = "magnus",
    }
}

/// Temperatures in which both formulas were compared, and how far they are carried.
pub const TEMPERATURE: Span = Span {
    what: "water in air at tenths of a degree Celsius",
    field: "air_tenths_c",
    from: 0,
    to: 600,
    refused_below: -200,
    refused_above: 800,
};
/// Standard pressure at sea level.
pub const SEA_LEVEL: Pascals = Pascals::constant(101_325);

/// Molar mass of water over that of dry air, grams per kilogram.
const WATER_OVER_AIR_G_PER_KG: f64 = 621.98;
/// Grams per cubic metre for each hectopascal over a kelvin: molar mass of water over the gas constant.
const WATER_OVER_GAS_CONSTANT: f64 = 216.68;
const FREEZING_K: f64 = 273.15;

/// Air that cannot be as asked.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AirRefused {
    /// Too cold or too hot for the formulas.
    #[error(transparent)]
    Outside(#[from] OutsideSpan),
    /// Cooling would go below the dew point, where water falls out.
    #[error(
        "at that temperature the air would hold {humidity_hundredths_percent} hundredths of a per cent of its vapour and drip: stay above its dew point"
    )]
    BelowDewPoint {
        /// What the relative humidity would be.
        humidity_hundredths_percent: i64,
    },
}

answered! {
    /// Water in air.
    Air {
        /// Pressure of saturated vapour at this temperature.
        saturation_tenths_pa: i64, "tenths of a pascal";
        /// Pressure of the vapour that is there.
        vapour_pressure_tenths_pa: i64, "tenths of a pascal";
        /// The temperature at which it would drip; nothing where the air is wholly dry.
        dew_point_tenths_c: Option<i64>, "tenths of a degree Celsius";
        /// Water in each cubic metre.
        absolute_humidity_hundredths_g_per_m3: i64, "hundredths of a gram per cubic metre";
        /// Water to each kilogram of dry air.
        mixing_ratio_hundredths_g_per_kg: i64, "hundredths of a gram per kilogram";
        /// Whether the temperature lies beyond what the formula was compared with.
        extrapolated: bool, "true or false";
    }
}

answered! {
    /// Air that was warmed or cooled and kept its water.
    Warmed {
        /// Its relative humidity at the new temperature.
        relative_humidity_hundredths_percent: i64, "hundredths of a per cent";
        /// Pressure of its vapour, which stays what it was.
        vapour_pressure_tenths_pa: i64, "tenths of a pascal";
        /// The driest that this air can make honey, by the clover table; nothing where the table does not reach.
        driest_moisture_hundredths: Option<Spread>, "hundredths of a per cent of mass";
        /// Whether one of the temperatures, or that moisture, lies beyond what is supported.
        extrapolated: bool, "true or false";
    }
}

words! {
    /// What air does to honey.
    Drying {
        /// It takes water from every honey of this moisture.
        Dries = "dries",
        /// Some honeys of this moisture give water, others take some.
        Unsure = "unsure",
        /// It gives water to the honey.
        Wets = "wets",
    }
}

answered! {
    /// What pulls water out of honey.
    Drive {
        /// Pressure of vapour at the honey's surface less that in the air; the ends are those between which honeys of
        /// this moisture lie.
        driving_force_tenths_pa: Spread, "tenths of a pascal";
        /// Pressure of vapour at the surface of the honey.
        at_honey_tenths_pa: Spread, "tenths of a pascal";
        /// Pressure of vapour in the air.
        in_air_tenths_pa: i64, "tenths of a pascal";
        /// What follows.
        verdict: Drying, "one of the words";
        /// Whether a temperature or the moisture lies beyond what is supported.
        extrapolated: bool, "true or false";
    }
}

/// Water in air of a temperature and relative humidity.
///
/// # Errors
/// [`OutsideSpan`].
pub fn air(air: Temperature, humidity: Humidity, pressure: Pascals, formula: Formula) -> Result<Air, OutsideSpan> {
    let extrapolated = TEMPERATURE.extrapolates(air.get())?;
    let vapour = vapour_hpa(air, humidity, formula);
    let dry = fraction(pressure.get()) / 100.0 - vapour;
    Ok(Air {
        saturation_tenths_pa: tenths_pa(saturation_hpa(celsius(air), formula)),
        vapour_pressure_tenths_pa: tenths_pa(vapour),
        dew_point_tenths_c: (humidity > Humidity::MIN).then(|| whole(dew_point_c(vapour, formula) * 10.0)),
        absolute_humidity_hundredths_g_per_m3: whole(
            WATER_OVER_GAS_CONSTANT * vapour / (celsius(air) + FREEZING_K) * 100.0,
        ),
        mixing_ratio_hundredths_g_per_kg: whole(WATER_OVER_AIR_G_PER_KG * vapour / dry * 100.0),
        extrapolated,
    })
}

/// Air that is warmed or cooled without gaining or losing water.
///
/// # Errors
/// [`AirRefused`], below the dew point too.
pub fn warmed(from: Temperature, humidity: Humidity, to: Temperature, formula: Formula) -> Result<Warmed, AirRefused> {
    let mut extrapolated =
        TEMPERATURE.extrapolates(from.get())? | TEMPERATURE.named("to_air_tenths_c").extrapolates(to.get())?;
    let vapour = vapour_hpa(from, humidity, formula);
    let after = whole(vapour / saturation_hpa(celsius(to), formula) * 10_000.0);
    let Ok(humidity) = Humidity::new(after) else {
        return Err(AirRefused::BelowDewPoint {
            humidity_hundredths_percent: after,
        });
    };
    let driest = balance::moisture(humidity, Table::Clover).ok();
    extrapolated |= driest.as_ref().is_some_and(|driest| driest.extrapolated);
    Ok(Warmed {
        relative_humidity_hundredths_percent: after,
        vapour_pressure_tenths_pa: tenths_pa(vapour),
        driest_moisture_hundredths: driest.map(|driest| driest.moisture_hundredths),
        extrapolated,
    })
}

/// What pulls water out of honey into air (DR-2).
///
/// # Errors
/// [`OutsideSpan`].
pub fn drive(
    moisture: Moisture,
    honey: Temperature,
    air: Temperature,
    humidity: Humidity,
    formula: Formula,
) -> Result<Drive, OutsideSpan> {
    let extrapolated = balance::MOISTURE.extrapolates(moisture.get())?
        | TEMPERATURE.named("honey_tenths_c").extrapolates(honey.get())?
        | TEMPERATURE.extrapolates(air.get())?;
    let in_air = vapour_hpa(air, humidity, formula);
    let saturated = saturation_hpa(celsius(honey), formula);
    let at_honey = balance::humidities(moisture, Table::Clover).map(|per_cent| saturated * per_cent / 100.0);
    let [low, value, high] = at_honey.map(|at_honey| tenths_pa(at_honey - in_air));
    let verdict = if low > 0 {
        Drying::Dries
    } else if high > 0 {
        Drying::Unsure
    } else {
        Drying::Wets
    };
    let [least, usual, most] = at_honey.map(tenths_pa);
    Ok(Drive {
        driving_force_tenths_pa: Spread { low, value, high },
        at_honey_tenths_pa: Spread {
            low: least,
            value: usual,
            high: most,
        },
        in_air_tenths_pa: tenths_pa(in_air),
        verdict,
        extrapolated,
    })
}

fn celsius(temperature: Temperature) -> f64 {
    fraction(temperature.get()) / 10.0
}

fn tenths_pa(hpa: f64) -> i64 {
    whole(hpa * 1_000.0)
}

fn vapour_hpa(air: Temperature, humidity: Humidity, formula: Formula) -> f64 {
    saturation_hpa(celsius(air), formula) * fraction(humidity.get()) / 10_000.0
}

/// Pressure of saturated vapour over water, hectopascals.
fn saturation_hpa(celsius: f64, formula: Formula) -> f64 {
    match formula {
        Formula::Buck => 6.1121 * libm::exp((18.678 - celsius / 234.5) * celsius / (257.14 + celsius)),
        Formula::Magnus => 6.112 * libm::exp(17.62 * celsius / (243.12 + celsius)),
    }
}

/// The temperature at which vapour of this pressure is saturated.
///
/// Magnus can be turned round. Buck rises throughout, so an interval is halved until a double cannot tell its ends
/// apart; no vapour asked for here is drier than its lower end.
fn dew_point_c(vapour_hpa: f64, formula: Formula) -> f64 {
    match formula {
        Formula::Magnus => {
            let exponent = libm::log(vapour_hpa / 6.112);
            243.12 * exponent / (17.62 - exponent)
        }
        Formula::Buck => {
            let (mut low, mut high) = (-110.0, 90.0);
            for _ in 0..64 {
                let middle = (low + high) / 2.0;
                if saturation_hpa(middle, formula) < vapour_hpa {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            (low + high) / 2.0
        }
    }
}

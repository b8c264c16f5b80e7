//! What honey weighs for its volume, and which jar it needs (WT-6).
//!
//! Specific gravity at 20/20 °C by moisture: J. W. White 1975, reprinted by R. Krell, FAO Agricultural Services
//! Bulletin 124 (1996), table 2.2, from memory; the points at 17 and 18 % agree with trade specifications that were
//! read. Between the points it is interpolated. What a degree of warmth takes away is from memory too, hence a range.
//! Not here: how a container is tared.

use crate::described::{Spread, answered};
use crate::science::number::{between, fraction, per_cent, whole};
use crate::science::span::{OutsideSpan, Span};
use crate::units::{Millilitres, Moisture, Temperature, TenthsGrams};

/// The moistures of the table, and how far its ends are prolonged.
pub const MOISTURE: Span = Span {
    what: "the density of honey with water in hundredths of a per cent",
    field: "moisture_hundredths",
    from: 1_300,
    to: 2_100,
    refused_below: 1_200,
    refused_above: 2_500,
};
/// The temperatures for which a coefficient is known, and how far it is carried.
pub const TEMPERATURE: Span = Span {
    what: "the density of honey at tenths of a degree Celsius",
    field: "honey_tenths_c",
    from: 200,
    to: 400,
    refused_below: 0,
    refused_above: 600,
};

/// Water in per cent, specific gravity at 20/20 °C.
const SPECIFIC_GRAVITY: [(f64, f64); 9] = [
    (13.0, 1.4457),
    (14.0, 1.4404),
    (15.0, 1.4350),
    (16.0, 1.4295),
    (17.0, 1.4237),
    (18.0, 1.4171),
    (19.0, 1.4101),
    (20.0, 1.4027),
    (21.0, 1.3950),
];
/// Water at 20 °C, grams per litre; confirmed by IAPWS (998.207).
const WATER_G_PER_L: f64 = 998.203;
/// What each degree above 20 takes away, grams per litre: least, usual and most; from memory.
const LIGHTER_G_PER_L: [f64; 3] = [0.4, 0.6, 0.8];
/// A US gallon in litres over a pound in grams; both exact.
const LB_PER_US_GALLON: f64 = 3.785_411_784 / 453.592_37;

answered! {
    /// What honey weighs for its volume.
    Density {
        /// The density; the ends differ by what a degree of warmth takes away.
        density_g_per_l: Spread, "grams per litre";
        /// The same in customary units.
        us_gallon_hundredths_lb: i64, "hundredths of a pound";
        /// Specific gravity at 20/20 °C that belongs to the moisture.
        specific_gravity_e4: i64, "ten-thousandths";
        /// Whether moisture or temperature lies beyond what the source supports.
        extrapolated: bool, "true or false";
    }
}

answered! {
    /// The room that an amount of honey takes.
    Volume {
        /// The volume; the ends differ by what a degree of warmth adds.
        volume_tenths_ml: Spread, "tenths of a millilitre";
        /// Whether moisture or temperature lies beyond what the source supports.
        extrapolated: bool, "true or false";
    }
}

answered! {
    /// What a volume of honey weighs.
    Content {
        /// The weight; the ends differ by what a degree of warmth takes away.
        net_g: Spread, "grams";
        /// Whether moisture or temperature lies beyond what the source supports.
        extrapolated: bool, "true or false";
    }
}

/// The density of honey (WT-6).
///
/// # Errors
/// [`OutsideSpan`].
pub fn density(moisture: Moisture, honey: Temperature) -> Result<Density, OutsideSpan> {
    let extrapolated = extrapolates(moisture, honey)?;
    let [low, value, high] = densities(moisture, honey);
    Ok(Density {
        density_g_per_l: Spread {
            low: whole(low),
            value: whole(value),
            high: whole(high),
        },
        us_gallon_hundredths_lb: whole(value * LB_PER_US_GALLON * 100.0),
        specific_gravity_e4: whole(specific_gravity(moisture) * 10_000.0),
        extrapolated,
    })
}

/// The volume of a net weight, which a jar has to hold to the brim or to its filling mark.
///
/// # Errors
/// [`OutsideSpan`].
pub fn volume(net: TenthsGrams, moisture: Moisture, honey: Temperature) -> Result<Volume, OutsideSpan> {
    let extrapolated = extrapolates(moisture, honey)?;
    let volume_of = |density| whole(fraction(net.get()) / density * 1_000.0);
    // The lightest honey takes the most room.
    let [high, value, low] = densities(moisture, honey).map(volume_of);
    Ok(Volume {
        volume_tenths_ml: Spread { low, value, high },
        extrapolated,
    })
}

/// The net weight that a volume of honey has.
///
/// # Errors
/// [`OutsideSpan`].
pub fn content(volume: Millilitres, moisture: Moisture, honey: Temperature) -> Result<Content, OutsideSpan> {
    let extrapolated = extrapolates(moisture, honey)?;
    let [low, value, high] =
        densities(moisture, honey).map(|density| whole(fraction(volume.get()) * density / 1_000.0));
    Ok(Content {
        net_g: Spread { low, value, high },
        extrapolated,
    })
}

fn extrapolates(moisture: Moisture, honey: Temperature) -> Result<bool, OutsideSpan> {
    Ok(MOISTURE.extrapolates(moisture.get())? | TEMPERATURE.extrapolates(honey.get())?)
}

/// Grams per litre: least, usual, most.
pub(super) fn densities(moisture: Moisture, honey: Temperature) -> [f64; 3] {
    let at_20 = specific_gravity(moisture) * WATER_G_PER_L;
    let warmer = fraction(honey.get() - 200) / 10.0;
    let [least, usual, most] = LIGHTER_G_PER_L.map(|each| at_20 - each * warmer);
    [least.min(most), usual, least.max(most)]
}

fn specific_gravity(moisture: Moisture) -> f64 {
    between(&SPECIFIC_GRAVITY, per_cent(moisture))
}

//! How fast air and wax rise in honey that stands.
//!
//! Stokes' law for a rigid ball: v = g d2 (honey - particle) / (18 viscosity), textbook. It holds while the ball drags
//! little honey along: by its Reynolds number up to 0.1, marked up to 1, refused beyond. A clean bubble rises up to one
//! and a half times as fast. Honey that moves, as in a tank that cools at its walls, carries small particles about, and
//! then none of this holds. Not here: how deep a skim gets.

use crate::described::{Spread, answered, words};
use crate::science::number::{fraction, whole};
use crate::science::span::{OutsideSpan, Span};
use crate::science::{density, viscosity};
use crate::units::{GramsPerLitre, Micrometres, Millimetres, Moisture, Temperature, Viscosity};

words! {
    /// What rises.
    Particle {
        /// A bubble of air.
        Air = "air",
        /// A crumb of wax.
        Wax = "wax",
    }
}

/// The moistures in which both density and viscosity are known, and how far both are carried.
pub const MOISTURE: Span = Span {
    what: "the rise of air and wax in honey with water in hundredths of a per cent",
    to: density::MOISTURE.to,
    ..viscosity::MOISTURE
};
/// The temperatures in which both are known, and how far both are carried.
pub const TEMPERATURE: Span = Span {
    what: "the rise of air and wax in honey at tenths of a degree Celsius",
    refused_below: viscosity::TEMPERATURE.refused_below,
    ..density::TEMPERATURE
};

const STANDARD_GRAVITY: f64 = 9.806_65;
/// How much faster a clean bubble may be than a rigid ball.
const CLEAN_BUBBLE: f64 = 1.5;
/// Up to this Reynolds number Stokes' law is taken as it stands.
const CREEPING_UP_TO: f64 = 0.1;
/// Beyond this one it is out by a sixth and more.
const REFUSED_ABOVE: f64 = 1.0;

/// A rise that is not known.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RiseRefused {
    /// The density or viscosity of the honey is not known.
    #[error(transparent)]
    Outside(#[from] OutsideSpan),
    /// The particle is so large, or the honey so thin, that another law holds.
    #[error(
        "a particle of {diameter_um} micrometres is too large for Stokes' law in honey this thin: watch it rise instead"
    )]
    NotCreeping {
        /// The diameter asked for.
        diameter_um: i64,
    },
}

answered! {
    /// How fast a particle rises.
    Rise {
        /// Its speed; the ends are those of the stiffest and thinnest honey and of the lightest and heaviest particle.
        rise_um_per_h: Spread, "micrometres an hour";
        /// The time in which it rises through the depth.
        minutes: Spread, "minutes";
        /// Its Reynolds number at the usual speed.
        reynolds_millionths: i64, "millionths";
        /// Whether the Reynolds number or the honey lies beyond what is supported.
        extrapolated: bool, "true or false";
    }
}

/// A honey by what is measured of it.
#[derive(Clone, Copy, Debug)]
struct Fluid {
    /// Kilograms per cubic metre.
    density: f64,
    /// Pascal seconds: thinnest, usual, stiffest.
    viscosity: [f64; 3],
}

/// The rise of a particle in honey whose density and viscosity were measured.
///
/// # Errors
/// [`RiseRefused::NotCreeping`].
pub fn in_fluid(
    particle: Particle,
    diameter: Micrometres,
    depth: Millimetres,
    density: GramsPerLitre,
    viscosity: Viscosity,
) -> Result<Rise, RiseRefused> {
    let fluid = Fluid {
        density: fraction(density.get()),
        viscosity: [fraction(viscosity.get()) / 1_000.0; 3],
    };
    rise(particle, diameter, depth, fluid, false)
}

/// The rise of a particle in honey of a moisture and temperature.
///
/// # Errors
/// [`RiseRefused`].
pub fn in_honey(
    particle: Particle,
    diameter: Micrometres,
    depth: Millimetres,
    moisture: Moisture,
    honey: Temperature,
) -> Result<Rise, RiseRefused> {
    let extrapolated = MOISTURE.extrapolates(moisture.get())? | TEMPERATURE.extrapolates(honey.get())?;
    let [_, density, _] = density::densities(moisture, honey);
    let fluid = Fluid {
        density,
        viscosity: viscosity::pascal_seconds(moisture, honey),
    };
    rise(particle, diameter, depth, fluid, extrapolated)
}

fn rise(
    particle: Particle,
    diameter: Micrometres,
    depth: Millimetres,
    fluid: Fluid,
    extrapolated: bool,
) -> Result<Rise, RiseRefused> {
    let [thinnest, usual, stiffest] = fluid.viscosity;
    let [lightest, middle, heaviest] = kilograms_per_m3(particle);
    let metres = fraction(diameter.get()) / 1_000_000.0;
    let speed =
        |weight: f64, stiff: f64| STANDARD_GRAVITY * metres * metres * (fluid.density - weight) / (18.0 * stiff);
    let faster = match particle {
        Particle::Air => CLEAN_BUBBLE,
        Particle::Wax => 1.0,
    };
    let value = speed(middle, usual);
    let reynolds = fluid.density * value * metres / usual;
    if reynolds > REFUSED_ABOVE {
        return Err(RiseRefused::NotCreeping {
            diameter_um: diameter.get(),
        });
    }
    let speeds = [speed(heaviest, stiffest), value, speed(lightest, thinnest) * faster];
    let [low, value, high] = speeds.map(|speed| whole(speed * 3_600.0 * 1_000_000.0));
    let [longest, usual_time, shortest] = speeds.map(|speed| whole(fraction(depth.get()) / 1_000.0 / speed / 60.0));
    Ok(Rise {
        rise_um_per_h: Spread { low, value, high },
        minutes: Spread {
            low: shortest,
            value: usual_time,
            high: longest,
        },
        reynolds_millionths: whole(reynolds * 1_000_000.0),
        extrapolated: extrapolated | (reynolds > CREEPING_UP_TO),
    })
}

/// Lightest, usual, heaviest. Wax from memory; air at sea level and 35 °C, whose weight does not matter here.
const fn kilograms_per_m3(particle: Particle) -> [f64; 3] {
    match particle {
        Particle::Air => [1.15; 3],
        Particle::Wax => [950.0, 960.0, 970.0],
    }
}

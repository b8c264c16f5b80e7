//! In the honey house: extractor, settling tank, sieves, pounds and gallons.

use core::convert::Infallible;

use crate::described::asked;
use crate::science::customary::{self, Metric, Unit};
use crate::science::rise::{self, Particle, Rise, RiseRefused};
use crate::science::sieve::{self, NoSuchSieve, Opening};
use crate::science::sources::{ASTM_SIEVES, COMB_HABIT, EXACT_UNITS, MUNRO, TEXTBOOK_PHYSICS, WHITE_DENSITY};
use crate::science::spin::{self, Comb, Speed, Spin};
use crate::units::{
    Grams, GramsPerLitre, Gravities, Micrometres, Millimetres, Moisture, Temperature, Thousandths, Turns, Viscosity,
};

use super::{Computation, computation};

pub(super) const ALL: &[Computation] = &[
    computation! {
        "spin_force": spin_force as (SpinAsked) -> Spin,
        does "The force that an extractor puts on a comb, and whether such combs are spun that hard.",
        from [TEXTBOOK_PHYSICS, COMB_HABIT],
        rules [],
        holds "The force is exact. What combs bear is habit without a source, and full combs bear less.",
        caution spin::CAUTION,
    },
    computation! {
        "spin_speed": spin_speed as (SpeedAsked) -> Speed,
        does "The speed at which an extractor puts a force on a comb.",
        from [TEXTBOOK_PHYSICS],
        rules [],
        holds "Exact.",
        caution spin::CAUTION,
    },
    computation! {
        "settling": settling as (SettlingAsked) -> Rise,
        does "How long air and wax take to rise in honey of a moisture and temperature.",
        from [TEXTBOOK_PHYSICS, MUNRO, WHITE_DENSITY],
        rules [],
        holds "13.7 to 21 % water and 20 to 40 °C; marked as extrapolated to 13 to 25 % and 5 to 60 °C; Reynolds numbers up to 0.1, marked up to 1, refused beyond. Honey at rest: in tanks that \
            cool at their walls small bubbles are carried about.",
    },
    computation! {
        "settling_measured": settling_measured as (MeasuredAsked) -> Rise,
        does "How long air and wax take to rise in honey whose density and viscosity were measured.",
        from [TEXTBOOK_PHYSICS],
        rules [],
        holds "Reynolds numbers up to 0.1, marked up to 1, refused beyond. Honey at rest.",
    },
    computation! {
        "sieve_opening": sieve_opening as (SieveAsked) -> Opening,
        does "The opening of a sieve by its number.",
        from [ASTM_SIEVES],
        rules [],
        holds "Numbers 20 to 200 of the series.",
    },
    computation! {
        "to_metric": to_metric as (MetricAsked) -> Metric,
        does "Pounds, ounces, gallons and inches in metric units.",
        from [EXACT_UNITS],
        rules [],
        holds "Exact, rounded half up to the tenth.",
    },
];

asked! {
    /// A comb in an extractor.
    SpinAsked {
        /// The speed.
        speed_turns_per_minute: Turns, "turns a minute", "300";
        /// From the axis to the middle of the comb.
        radius_mm: Millimetres, "millimetres", "250";
        /// The honey on the comb.
        honey_g: Option<Grams>, "grams", "2000";
        /// What holds the comb together.
        comb: Option<Comb>, "one of the words", "\"wired_or_plastic\"";
    }
}

asked! {
    /// A force that is wanted.
    SpeedAsked {
        /// The force.
        force_hundredths_g: Gravities, "hundredths of standard gravity", "1500";
        /// From the axis to the middle of the comb.
        radius_mm: Millimetres, "millimetres", "250";
    }
}

asked! {
    /// A tank that settles.
    SettlingAsked {
        /// What rises.
        particle: Particle, "one of the words", "\"air\"";
        /// Its diameter.
        diameter_um: Micrometres, "micrometres", "100";
        /// How deep the honey is.
        depth_mm: Millimetres, "millimetres", "500";
        /// Water in the honey.
        moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1750", in rise::MOISTURE;
        /// Temperature of the honey.
        honey_tenths_c: Temperature, "tenths of a degree Celsius", "350", in rise::TEMPERATURE;
    }
}

asked! {
    /// A tank that settles, with honey that was measured.
    MeasuredAsked {
        /// What rises.
        particle: Particle, "one of the words", "\"air\"";
        /// Its diameter.
        diameter_um: Micrometres, "micrometres", "100";
        /// How deep the honey is.
        depth_mm: Millimetres, "millimetres", "500";
        /// Density of the honey.
        density_g_per_l: GramsPerLitre, "grams per litre", "1414";
        /// Viscosity of the honey.
        viscosity_mpa_s: Viscosity, "millipascal seconds", "1900";
    }
}

asked! {
    /// A sieve.
    SieveAsked {
        /// Its number, as stamped on the rim.
        sieve_number: u32, "a number of the series", "80";
    }
}

asked! {
    /// An amount that is not metric.
    MetricAsked {
        /// The amount.
        amount_thousandths: Thousandths, "thousandths of the unit", "55200";
        /// The unit.
        unit: Unit, "one of the words", "\"pound\"";
    }
}

fn spin_force(asked: SpinAsked) -> Result<Spin, Infallible> {
    Ok(spin::spin(
        asked.speed_turns_per_minute,
        asked.radius_mm,
        asked.honey_g,
        asked.comb,
    ))
}

fn spin_speed(asked: SpeedAsked) -> Result<Speed, Infallible> {
    Ok(spin::speed(asked.force_hundredths_g, asked.radius_mm))
}

fn settling(asked: SettlingAsked) -> Result<Rise, RiseRefused> {
    rise::in_honey(
        asked.particle,
        asked.diameter_um,
        asked.depth_mm,
        asked.moisture_hundredths,
        asked.honey_tenths_c,
    )
}

fn settling_measured(asked: MeasuredAsked) -> Result<Rise, RiseRefused> {
    rise::in_fluid(
        asked.particle,
        asked.diameter_um,
        asked.depth_mm,
        asked.density_g_per_l,
        asked.viscosity_mpa_s,
    )
}

fn sieve_opening(asked: SieveAsked) -> Result<Opening, NoSuchSieve> {
    sieve::opening(asked.sieve_number)
}

fn to_metric(asked: MetricAsked) -> Result<Metric, Infallible> {
    Ok(customary::metric(asked.amount_thousandths, asked.unit))
}

//! What warmth and time do to honey: HMF that forms, diastase that is lost.
//!
//! Both are Arrhenius lines. HMF, of zero order: fitted to the read ranges for 30 mg/kg of Kushnir and Subers 1964 (A
//! Practical Manual of Beekeeping, table 3); honeys differ by a factor of three either way, and another study (Diyala
//! Agricultural Sciences Journal 2023) found much less below 60 °C. Diastase: fitted to the seven half-lives of White,
//! Kushnir and Subers 1964, read in trade notes; it meets them within 2 %. Invertase is lost two to eight times as fast,
//! from memory, and is only mentioned. Not here: limits, and what a warm room does to wax.

use crate::described::{Spread, answered, asked};
use crate::science::number::{fraction, whole};
use crate::science::span::{OutsideSpan, Span};
use crate::units::{Diastase, Hmf, Temperature, WarmMinutes};

/// Temperatures for which HMF was measured, and how far the line is carried.
pub const HMF: Span = Span {
    what: "the forming of HMF at tenths of a degree Celsius",
    field: "honey_tenths_c",
    from: 300,
    to: 700,
    refused_below: -200,
    refused_above: 900,
};
/// Temperatures for which half-lives of diastase were measured, and how far the line is carried.
pub const DIASTASE: Span = Span {
    what: "the loss of diastase at tenths of a degree Celsius",
    field: "honey_tenths_c",
    from: 200,
    to: 800,
    refused_below: -200,
    refused_above: 900,
};

/// How far honeys lie apart in how fast HMF forms.
const HONEYS_DIFFER_BY: f64 = 3.0;
const GAS_CONSTANT: f64 = 8.314_462_618;
const FREEZING_K: f64 = 273.15;
const MINUTES_A_DAY: f64 = 1_440.0;
/// The amount of HMF whose time was published, milligrams per kilogram.
const PUBLISHED_MG_PER_KG: f64 = 30.0;

asked! {
    /// A time at one temperature.
    Warming {
        /// Temperature of the honey.
        honey_tenths_c: Temperature, "tenths of a degree Celsius", "350";
        /// How long.
        minutes: WarmMinutes, "minutes", "4320";
    }
}

answered! {
    /// What a history of warmth did.
    Damage {
        /// HMF that formed; the ends are those between which honeys lie.
        hmf_added_hundredths_mg_per_kg: Spread, "hundredths of a milligram per kilogram";
        /// HMF afterwards, where it was known before.
        hmf_after_hundredths_mg_per_kg: Option<Spread>, "hundredths of a milligram per kilogram";
        /// Diastase that is left of all there was.
        diastase_left_hundredths_percent: i64, "hundredths of a per cent";
        /// The diastase number afterwards, where it was known before.
        diastase_after_hundredths: Option<i64>, "hundredths";
        /// What is known of invertase.
        invertase: &'static str, "words";
        /// Whether some of the temperatures lie beyond what was measured for HMF.
        hmf_extrapolated: bool, "true or false";
        /// Whether some of the temperatures lie beyond what was measured for diastase.
        diastase_extrapolated: bool, "true or false";
    }
}

answered! {
    /// How fast one temperature works.
    Pace {
        /// HMF that forms in a day; the ends are those between which honeys lie.
        hmf_per_day_thousandths_mg_per_kg: Spread, "thousandths of a milligram per kilogram";
        /// The time in which 30 mg/kg form.
        minutes_to_30_mg_per_kg: Spread, "minutes";
        /// The time in which half the diastase is lost.
        diastase_half_life_minutes: i64, "minutes";
        /// Whether the temperature lies beyond what was measured for HMF.
        hmf_extrapolated: bool, "true or false";
        /// Whether the temperature lies beyond what was measured for diastase.
        diastase_extrapolated: bool, "true or false";
    }
}

/// What is known of invertase, without a figure.
pub const INVERTASE: &str = "not worked out: it is lost two to eight times as fast as diastase (from memory)";

/// What a history of warmth did to honey, step by step in any order.
///
/// # Errors
/// [`OutsideSpan`], pointing to the step.
pub fn damage(steps: &[Warming], hmf: Option<Hmf>, diastase: Option<Diastase>) -> Result<Damage, OutsideSpan> {
    let (mut formed, mut halvings) = (0.0, 0.0);
    let (mut hmf_extrapolated, mut diastase_extrapolated) = (false, false);
    for (number, step) in steps.iter().enumerate() {
        let at = || format!("/steps/{number}/honey_tenths_c");
        hmf_extrapolated |= HMF.extrapolates_at(step.honey_tenths_c.get(), at)?;
        diastase_extrapolated |= DIASTASE.extrapolates_at(step.honey_tenths_c.get(), at)?;
        let days = fraction(step.minutes.get()) / MINUTES_A_DAY;
        formed += days * hmf_a_day(step.honey_tenths_c);
        halvings += days / half_life_days(step.honey_tenths_c);
    }
    let left = libm::exp2(-halvings);
    let added = around(formed, 100.0);
    Ok(Damage {
        hmf_added_hundredths_mg_per_kg: added,
        hmf_after_hundredths_mg_per_kg: hmf.map(|before| Spread {
            low: added.low.saturating_add(before.get()),
            value: added.value.saturating_add(before.get()),
            high: added.high.saturating_add(before.get()),
        }),
        diastase_left_hundredths_percent: whole(left * 10_000.0),
        diastase_after_hundredths: diastase.map(|before| whole(left * fraction(before.get()) * 10.0)),
        invertase: INVERTASE,
        hmf_extrapolated,
        diastase_extrapolated,
    })
}

/// How fast one temperature works.
///
/// # Errors
/// [`OutsideSpan`].
pub fn pace(honey: Temperature) -> Result<Pace, OutsideSpan> {
    let hmf_extrapolated = HMF.extrapolates(honey.get())?;
    let diastase_extrapolated = DIASTASE.extrapolates(honey.get())?;
    let a_day = hmf_a_day(honey);
    Ok(Pace {
        hmf_per_day_thousandths_mg_per_kg: around(a_day, 1_000.0),
        minutes_to_30_mg_per_kg: around(PUBLISHED_MG_PER_KG / a_day, MINUTES_A_DAY),
        diastase_half_life_minutes: whole(half_life_days(honey) * MINUTES_A_DAY),
        hmf_extrapolated,
        diastase_extrapolated,
    })
}

/// A value between those of the slowest and the fastest honey, in a smaller unit.
fn around(value: f64, unit: f64) -> Spread {
    Spread {
        low: whole(value / HONEYS_DIFFER_BY * unit),
        value: whole(value * unit),
        high: whole(value * HONEYS_DIFFER_BY * unit),
    }
}

fn kelvin(honey: Temperature) -> f64 {
    fraction(honey.get()) / 10.0 + FREEZING_K
}

/// Milligrams per kilogram.
fn hmf_a_day(honey: Temperature) -> f64 {
    libm::exp(56.13 - 146_300.0 / (GAS_CONSTANT * kelvin(honey)))
}

fn half_life_days(honey: Temperature) -> f64 {
    let an_hour = libm::exp(49.67 - 147_500.0 / (GAS_CONSTANT * kelvin(honey)));
    core::f64::consts::LN_2 / an_hour / 24.0
}

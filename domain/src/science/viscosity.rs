//! How stiff honey is by its water and warmth.
//!
//! ln(Pa s) = -8.497 + 932.0/(t + 60.11) - 0.4207 (W - 16.1), a fit of Vogel's form to the fourteen points of J. A.
//! Munro 1943 (reprinted by R. Krell, FAO Agricultural Services Bulletin 124, 1996, table 2.1), from memory; it meets
//! them within 10 % on average and 24 % at worst. Honeys of one moisture differ by a factor of two either way. It is
//! not for honey that gels at rest, as ling heather and manuka do. Not here: what warmth costs (`heat`).

use crate::described::{Spread, answered};
use crate::science::number::{fraction, per_cent, whole};
use crate::science::span::{OutsideSpan, Span};
use crate::units::{Moisture, Temperature, Viscosity};

/// Moistures that were measured, and how far the model is carried.
pub const MOISTURE: Span = Span {
    what: "the viscosity of honey with water in hundredths of a per cent",
    field: "moisture_hundredths",
    from: 1_370,
    to: 2_150,
    refused_below: 1_300,
    refused_above: 2_500,
};
/// Temperatures that were measured, and how far the model is carried.
pub const TEMPERATURE: Span = Span {
    what: "the viscosity of honey at tenths of a degree Celsius",
    field: "honey_tenths_c",
    from: 137,
    to: 710,
    refused_below: 50,
    refused_above: 800,
};

/// How far honeys of one moisture and temperature lie apart.
pub(super) const HONEYS_DIFFER_BY: f64 = 2.0;

/// Honey whose stiffness is not known.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ViscosityRefused {
    /// Too dry, wet, cold or hot for the model.
    #[error(transparent)]
    Outside(#[from] OutsideSpan),
    /// It gels at rest, and its stiffness depends on how it is stirred.
    #[error("honey that gels at rest has no viscosity of its own: press or agitate it, and measure how it flows then")]
    Gels,
}

answered! {
    /// How stiff honey is.
    Stiffness {
        /// Its viscosity; the ends are those between which honeys lie.
        viscosity_mpa_s: Spread, "millipascal seconds";
        /// Whether moisture or temperature lies beyond what was measured.
        extrapolated: bool, "true or false";
    }
}

answered! {
    /// How warm honey has to be.
    Warmth {
        /// The temperature; the ends are those for the thinnest and the stiffest honey of this moisture.
        honey_tenths_c: Spread, "tenths of a degree Celsius";
        /// Whether moisture or temperature lies beyond what was measured.
        extrapolated: bool, "true or false";
    }
}

/// The viscosity of honey.
///
/// # Errors
/// [`ViscosityRefused`].
pub fn viscosity(moisture: Moisture, honey: Temperature, gels_at_rest: bool) -> Result<Stiffness, ViscosityRefused> {
    if gels_at_rest {
        return Err(ViscosityRefused::Gels);
    }
    let extrapolated = extrapolates(moisture, honey)?;
    let [low, value, high] = pascal_seconds(moisture, honey).map(|stiff| whole(stiff * 1_000.0));
    Ok(Stiffness {
        viscosity_mpa_s: Spread { low, value, high },
        extrapolated,
    })
}

/// The temperature at which honey has a viscosity; the model turned round.
///
/// # Errors
/// [`ViscosityRefused`], where the usual honey would have to be colder or hotter than the model reaches.
pub fn temperature(moisture: Moisture, wanted: Viscosity, gels_at_rest: bool) -> Result<Warmth, ViscosityRefused> {
    if gels_at_rest {
        return Err(ViscosityRefused::Gels);
    }
    let wet = MOISTURE.extrapolates(moisture.get())?;
    let at = |honeys: f64| {
        let exponent = libm::log(fraction(wanted.get()) / 1_000.0 / honeys);
        whole((932.0 / (exponent + 8.497 + 0.4207 * (per_cent(moisture) - 16.1)) - 60.11) * 10.0)
    };
    let value = at(1.0);
    let extrapolated = wet | TEMPERATURE.named("viscosity_mpa_s").extrapolates(value)?;
    Ok(Warmth {
        honey_tenths_c: Spread {
            low: at(1.0 / HONEYS_DIFFER_BY),
            value,
            high: at(HONEYS_DIFFER_BY),
        },
        extrapolated,
    })
}

fn extrapolates(moisture: Moisture, honey: Temperature) -> Result<bool, OutsideSpan> {
    Ok(MOISTURE.extrapolates(moisture.get())? | TEMPERATURE.extrapolates(honey.get())?)
}

/// Pascal seconds: thinnest, usual, stiffest.
pub(super) fn pascal_seconds(moisture: Moisture, honey: Temperature) -> [f64; 3] {
    let celsius = fraction(honey.get()) / 10.0;
    let usual = libm::exp(-8.497 + 932.0 / (celsius + 60.11) - 0.4207 * (per_cent(moisture) - 16.1));
    [usual / HONEYS_DIFFER_BY, usual, usual * HONEYS_DIFFER_BY]
}

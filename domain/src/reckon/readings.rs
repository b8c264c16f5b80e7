//! From readings of a refractometer to the water in honey, and back.

use crate::described::{answered, asked, words};
use crate::science::moisture::{self, Amber, Measured, MoistureRefused, Scale, Scales};
use crate::science::sources::{BOGDANOV, BRIX_FIT};
use crate::science::span::OutsideSpan;
use crate::units::{Brix, Moisture, RefractiveIndex, Temperature};

use super::{Computation, Refusal, computation};

pub(super) const ALL: &[Computation] = &[
    computation! {
        "moisture_from_refraction": moisture_from_refraction as (RefractionAsked) -> Reading,
        does "The water in honey from its refractive index, corrected for temperature where that is due.",
        from [BOGDANOV],
        rules ["MO-4", "MO-5", "MO-6", "MO-7"],
        holds "13.0 to 25.0 % water, marked as extrapolated to 10 to 35 %, refused beyond. Bench instruments are good to 0.1 \
            points, hand instruments to 0.2 to 0.5.",
    },
    computation! {
        "moisture_from_brix": moisture_from_brix as (BrixAsked) -> Reading,
        does "The water in honey from degrees on a sucrose scale or from soluble solids, which are two scales.",
        from [BOGDANOV, BRIX_FIT],
        rules ["MO-4", "MO-5", "MO-6", "MO-7"],
        holds "As moisture_from_refraction. Water is 100 less soluble solids, and never 100 less degrees Brix.",
    },
    computation! {
        "moisture_corrected": moisture_corrected as (ShownAsked) -> Reading,
        does "The water in honey from a meter that shows water, corrected for temperature where that is due.",
        from [BOGDANOV],
        rules ["MO-4", "MO-5", "MO-6", "MO-7"],
        holds "As moisture_from_refraction.",
    },
    computation! {
        "scales_of_honey": scales_of_honey as (ScalesAsked) -> Scales,
        does "What refractometers show for honey of a moisture at 20 °C, on each of their scales.",
        from [BOGDANOV, BRIX_FIT],
        rules ["MO-5"],
        holds "13.0 to 25.0 % water, marked as extrapolated to 10 to 35 %, refused beyond.",
    },
];

words! {
    /// What a meter marked Brix or solids shows.
    SolidsScale {
        /// Degrees Brix of a sucrose solution with the same refraction: what nearly every Brix meter shows.
        Sucrose = "sucrose",
        /// All that is not water, as the grades of the United States mean it.
        SolubleSolids = "soluble_solids",
    }
}

asked! {
    /// A refractive index.
    RefractionAsked {
        /// The refractive index shown, at 589.3 nm.
        refractive_index_e4: RefractiveIndex, "ten-thousandths", "14940";
        /// Temperature of the honey.
        honey_tenths_c: Option<Temperature>, "tenths of a degree Celsius", "250";
        /// Whether the meter corrects for temperature by itself; if nobody knows, the wetter value counts.
        compensated: Option<bool>, "true or false", "false";
    }
}

asked! {
    /// Solids shown.
    BrixAsked {
        /// What is shown.
        solids_hundredths: Brix, "hundredths of a degree Brix or of a per cent", "8000";
        /// On which scale.
        scale: SolidsScale, "one of the words", "\"sucrose\"";
        /// The moisture that somebody worked out from it, to be checked.
        claimed_moisture_hundredths: Option<Moisture>, "hundredths of a per cent of mass", "1830";
        /// Temperature of the honey.
        honey_tenths_c: Option<Temperature>, "tenths of a degree Celsius", "250";
        /// Whether the meter corrects for temperature by itself; if nobody knows, the wetter value counts.
        compensated: Option<bool>, "true or false", "false";
    }
}

asked! {
    /// Water shown.
    ShownAsked {
        /// Water shown.
        shown_moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1780";
        /// Temperature of the honey.
        honey_tenths_c: Option<Temperature>, "tenths of a degree Celsius", "250";
        /// Whether the meter corrects for temperature by itself; if nobody knows, the wetter value counts.
        compensated: Option<bool>, "true or false", "false";
    }
}

asked! {
    /// Honey whose readings are asked for.
    ScalesAsked {
        /// Water in the honey.
        moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1780", in moisture::MOISTURE;
    }
}

answered! {
    /// The water in honey by one reading.
    Reading {
        /// Water at 20 °C, the value that counts.
        moisture_hundredths: Moisture, "hundredths of a per cent of mass";
        /// The same reading without any correction for temperature.
        uncorrected_hundredths: Moisture, "hundredths of a per cent of mass";
        /// The index at 20 °C that belongs to it; nothing where the meter shows water and nothing was corrected.
        refractive_index_e4: Option<RefractiveIndex>, "ten-thousandths";
        /// What makes the value less sure than it looks.
        amber: Vec<Amber>, "words";
        /// Whether it lies beyond the table.
        extrapolated: bool, "true or false";
    }
}

impl From<Measured> for Reading {
    fn from(measured: Measured) -> Self {
        Self {
            moisture_hundredths: measured.moisture,
            uncorrected_hundredths: measured.uncorrected,
            refractive_index_e4: measured.at_20,
            extrapolated: measured.amber.contains(&Amber::Extrapolated),
            amber: measured.amber,
        }
    }
}

fn moisture_from_refraction(asked: RefractionAsked) -> Result<Reading, MoistureRefused> {
    let shown = Scale::RefractiveIndex(asked.refractive_index_e4);
    moisture::moisture(shown, asked.honey_tenths_c, asked.compensated).map(Reading::from)
}

fn moisture_corrected(asked: ShownAsked) -> Result<Reading, MoistureRefused> {
    let shown = Scale::Moisture(asked.shown_moisture_hundredths);
    moisture::moisture(shown, asked.honey_tenths_c, asked.compensated).map(Reading::from)
}

fn moisture_from_brix(asked: BrixAsked) -> Result<Reading, Refusal> {
    let shown = match asked.scale {
        SolidsScale::Sucrose => Scale::Brix(asked.solids_hundredths),
        SolidsScale::SolubleSolids => Scale::Moisture(moisture::of_soluble_solids(asked.solids_hundredths)),
    };
    let measured = moisture::moisture(shown, asked.honey_tenths_c, asked.compensated)?;
    let claimed = asked.claimed_moisture_hundredths;
    let trapped = claimed.is_some_and(|claimed| moisture::is_100_minus_brix(claimed, asked.solids_hundredths));
    if asked.scale == SolidsScale::Sucrose && trapped {
        let sentence = format!(
            "water is not 100 less degrees Brix: on the sucrose scale this honey has {} hundredths of a per cent of water; if \
             the meter shows all that is not water, give scale soluble_solids",
            measured.moisture.get()
        );
        return Err(Refusal::at(
            "hundred_minus_brix",
            "claimed_moisture_hundredths",
            sentence,
        ));
    }
    Ok(measured.into())
}

fn scales_of_honey(asked: ScalesAsked) -> Result<Scales, OutsideSpan> {
    moisture::scales(asked.moisture_hundredths)
}

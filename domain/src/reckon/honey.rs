//! Honey as it stands: what a litre weighs, which jar it needs, how stiff it is, what its colour is called.

use crate::described::asked;
use crate::science::colour::{self, Colour, PfundOfAbsorbance};
use crate::science::density::{self, Content, Density, Volume};
use crate::science::sources::{CANADA_COLOUR, MUNRO, US_COLOUR, WHITE_ABSORBANCE, WHITE_DENSITY};
use crate::science::span::OutsideSpan;
use crate::science::viscosity::{self, Stiffness, ViscosityRefused, Warmth};
use crate::units::{Millilitres, Moisture, Pfund, Temperature, TenthsGrams, Thousandths, Viscosity};

use super::{Computation, computation};

pub(super) const ALL: &[Computation] = &[
    computation! {
        "honey_density": honey_density as (DensityAsked) -> Density,
        does "What a litre and a US gallon of honey weigh.",
        from [WHITE_DENSITY],
        rules ["WT-6"],
        holds "13 to 21 % water and 20 to 40 °C; marked as extrapolated to 12 to 25 % and 0 to 60 °C, refused beyond. \
            Honeys of one moisture differ by some tenths of a per cent besides.",
    },
    computation! {
        "jar_volume": jar_volume as (VolumeAsked) -> Volume,
        does "The room that a net weight of honey takes, which its jar has to have.",
        from [WHITE_DENSITY],
        rules ["WT-6"],
        holds "As honey_density. Leave head space: warm honey and trapped air need more.",
    },
    computation! {
        "honey_in_volume": honey_in_volume as (ContentAsked) -> Content,
        does "What a volume of honey weighs, as in a pail filled to its mark.",
        from [WHITE_DENSITY],
        rules ["WT-6"],
        holds "As honey_density.",
    },
    computation! {
        "honey_viscosity": honey_viscosity as (ViscosityAsked) -> Stiffness,
        does "How stiff honey of a moisture and temperature is.",
        from [MUNRO],
        rules [],
        holds "13.7 to 21.5 % water and 13.7 to 71 °C; marked as extrapolated to 13 to 25 % and 5 to 80 °C, refused \
            beyond and for honey that gels at rest. Honeys differ by a factor of two either way.",
    },
    computation! {
        "temperature_for_viscosity": temperature_for_viscosity as (WarmthAsked) -> Warmth,
        does "The temperature at which honey of a moisture has a viscosity, as for pumping or straining.",
        from [MUNRO],
        rules [],
        holds "As honey_viscosity.",
        caution "Warmth costs: see heat_pace before heating honey, and keep combs below 35 °C.",
    },
    computation! {
        "colour_class": colour_class as (ColourAsked) -> Colour,
        does "What a reading on the Pfund scale is called in the United States and in Canada.",
        from [US_COLOUR, CANADA_COLOUR],
        rules [],
        holds "Liquid honey without crystals. Canada's limits are from memory: look them up before printing a class.",
    },
    computation! {
        "pfund_from_absorbance": pfund_from_absorbance as (AbsorbanceAsked) -> PfundOfAbsorbance,
        does "The reading on the Pfund scale that an absorbance at 635 nm stands for.",
        from [WHITE_ABSORBANCE],
        rules [],
        holds "From memory and only near: half honey, half water by mass, a cell of 10 mm; the 140 mm of the scale, \
            refused beyond.",
    },
];

asked! {
    /// Honey whose density is asked for.
    DensityAsked {
        /// Water in the honey.
        moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1780", in density::MOISTURE;
        /// Temperature of the honey; 20 °C if left out.
        honey_tenths_c: Option<Temperature>, "tenths of a degree Celsius", "250", in density::TEMPERATURE;
    }
}

asked! {
    /// A net weight to be filled.
    VolumeAsked {
        /// The net weight.
        net_tenths_g: TenthsGrams, "tenths of a gram", "5000";
        /// Water in the honey.
        moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1780", in density::MOISTURE;
        /// Temperature of the honey; 20 °C if left out.
        honey_tenths_c: Option<Temperature>, "tenths of a degree Celsius", "350", in density::TEMPERATURE;
    }
}

asked! {
    /// A volume of honey.
    ContentAsked {
        /// The volume.
        volume_ml: Millilitres, "millilitres", "18927";
        /// Water in the honey.
        moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1780", in density::MOISTURE;
        /// Temperature of the honey; 20 °C if left out.
        honey_tenths_c: Option<Temperature>, "tenths of a degree Celsius", "250", in density::TEMPERATURE;
    }
}

asked! {
    /// Honey whose viscosity is asked for.
    ViscosityAsked {
        /// Water in the honey.
        moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1750", in viscosity::MOISTURE;
        /// Temperature of the honey.
        honey_tenths_c: Temperature, "tenths of a degree Celsius", "350", in viscosity::TEMPERATURE;
        /// Whether it gels at rest, as ling heather and manuka do.
        gels_at_rest: Option<bool>, "true or false", "false";
    }
}

asked! {
    /// Honey that is to have a viscosity.
    WarmthAsked {
        /// Water in the honey.
        moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1750", in viscosity::MOISTURE;
        /// The viscosity wanted.
        viscosity_mpa_s: Viscosity, "millipascal seconds", "3000";
        /// Whether it gels at rest, as ling heather and manuka do.
        gels_at_rest: Option<bool>, "true or false", "false";
    }
}

asked! {
    /// A colour reading.
    ColourAsked {
        /// The reading.
        pfund_mm: Pfund, "millimetres", "34";
    }
}

asked! {
    /// An absorbance.
    AbsorbanceAsked {
        /// Absorbance at 635 nm in a cell of 10 mm.
        absorbance_thousandths: Thousandths, "thousandths", "196", in colour::ABSORBANCE;
    }
}

/// Where nobody measured, the tables' own temperature.
fn or_20(honey: Option<Temperature>) -> Temperature {
    honey.unwrap_or(Temperature::constant(200))
}

fn honey_density(asked: DensityAsked) -> Result<Density, OutsideSpan> {
    density::density(asked.moisture_hundredths, or_20(asked.honey_tenths_c))
}

fn jar_volume(asked: VolumeAsked) -> Result<Volume, OutsideSpan> {
    density::volume(
        asked.net_tenths_g,
        asked.moisture_hundredths,
        or_20(asked.honey_tenths_c),
    )
}

fn honey_in_volume(asked: ContentAsked) -> Result<Content, OutsideSpan> {
    density::content(asked.volume_ml, asked.moisture_hundredths, or_20(asked.honey_tenths_c))
}

fn honey_viscosity(asked: ViscosityAsked) -> Result<Stiffness, ViscosityRefused> {
    let gels = asked.gels_at_rest.unwrap_or(false);
    viscosity::viscosity(asked.moisture_hundredths, asked.honey_tenths_c, gels)
}

fn temperature_for_viscosity(asked: WarmthAsked) -> Result<Warmth, ViscosityRefused> {
    let gels = asked.gels_at_rest.unwrap_or(false);
    viscosity::temperature(asked.moisture_hundredths, asked.viscosity_mpa_s, gels)
}

fn colour_class(asked: ColourAsked) -> Result<Colour, OutsideSpan> {
    Ok(colour::colour(asked.pfund_mm))
}

fn pfund_from_absorbance(asked: AbsorbanceAsked) -> Result<PfundOfAbsorbance, OutsideSpan> {
    colour::pfund(asked.absorbance_thousandths)
}

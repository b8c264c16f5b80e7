//! Honey as it stands: what a litre weighs, which jar it needs.

use crate::described::asked;
use crate::science::density::{self, Content, Density, Volume};
use crate::science::sources::WHITE_DENSITY;
use crate::science::span::OutsideSpan;
use crate::units::{Millilitres, Moisture, Temperature, TenthsGrams};

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

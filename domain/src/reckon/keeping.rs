//! How honey keeps: with which air it is in balance, whether it ferments, what warmth costs.

use core::convert::Infallible;

use crate::described::asked;
use crate::science::balance::{self, BalanceHumidity, BalanceMoisture, Table};
use crate::science::fermentation::{self, Fermentation};
use crate::science::frost::{self, Frost};
use crate::science::heat::{self, Damage, Pace, Warming};
use crate::science::sources::{
    CLOVER_BALANCE, COLD_YEASTS, COMB_FROST, FERMENTATION_LADDER, KUSHNIR_SUBERS, MARTIN_BALANCE, WHITE_DIASTASE,
};
use crate::science::span::OutsideSpan;
use crate::units::{Diastase, Hmf, Humidity, Moisture, Temperature};

use super::{Computation, computation};

const HEAT_CAUTION: &str = "Combs soften above 35 °C and break down near 41 °C. Hot honey and wax burn: the maker's manual of \
    the heater rules.";

pub(super) const ALL: &[Computation] = &[
    computation! {
        "balance_humidity": balance_humidity as (HumidityAsked) -> BalanceHumidity,
        does "The relative humidity of air that neither dries nor wets honey of a moisture.",
        from [CLOVER_BALANCE, MARTIN_BALANCE],
        rules ["DR-2"],
        holds "16.1 to 33.9 % water for clover honey, marked as extrapolated to 15 to 35 %, refused beyond. Honeys differ by \
            two to four points; honeydew and set honey lie high.",
    },
    computation! {
        "balance_moisture": balance_moisture as (MoistureAsked) -> BalanceMoisture,
        does "The moisture that air of a relative humidity leaves honey with in the end.",
        from [CLOVER_BALANCE, MARTIN_BALANCE],
        rules ["DR-2"],
        holds "52 to 81 % relative humidity for clover honey, marked as extrapolated to 47 to 82 %, refused beyond.",
    },
    computation! {
        "comb_frost": comb_frost as (FrostAsked) -> Frost,
        does "How long stored combs have to be frozen until moth in them is dead.",
        from [COMB_FROST],
        rules ["DI-4"],
        holds "Below freezing. The time counts from when the middle of the comb is so cold, which takes hours in a full box: \
            put the thermometer there. Bag combs only when they are dry.",
    },
    computation! {
        "fermentation_risk": fermentation_risk as (FermentationAsked) -> Fermentation,
        does "Which class of moisture honey is in, and whether it is expected to ferment within a year.",
        from [FERMENTATION_LADDER, COLD_YEASTS],
        rules ["MO-3"],
        holds "Liquid honey in closed jars for a year. It is an expectation, not a promise: without a count of yeasts only the \
            class is known.",
    },
    computation! {
        "heat_damage": heat_damage as (DamageAsked) -> Damage,
        does "The HMF that a history of warmth adds to honey, and the diastase it leaves.",
        from [KUSHNIR_SUBERS, WHITE_DIASTASE],
        rules ["DR-2"],
        holds "HMF from 30 to 70 °C, diastase from 20 to 80 °C; marked as extrapolated from -20 to 90 °C, refused beyond. \
            Honeys differ by a factor of three in HMF; a laboratory decides.",
        caution HEAT_CAUTION,
    },
    computation! {
        "heat_pace": heat_pace as (PaceAsked) -> Pace,
        does "How fast HMF forms and diastase is lost at one temperature.",
        from [KUSHNIR_SUBERS, WHITE_DIASTASE],
        rules ["DR-2"],
        holds "As heat_damage.",
        caution HEAT_CAUTION,
    },
];

asked! {
    /// Honey whose balance is asked for.
    HumidityAsked {
        /// Water in the honey.
        moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1860", in balance::MOISTURE;
        /// Whose measurements count; `clover` if left out.
        table: Option<Table>, "one of the words", "\"clover\"";
    }
}

asked! {
    /// Air whose balance is asked for.
    MoistureAsked {
        /// Relative humidity of the air.
        relative_humidity_hundredths_percent: Humidity, "hundredths of a per cent", "5800", in balance::HUMIDITY;
        /// Whose measurements count; `clover` if left out.
        table: Option<Table>, "one of the words", "\"clover\"";
    }
}

asked! {
    /// Comb in the cold.
    FrostAsked {
        /// Temperature in the middle of the comb.
        comb_tenths_c: Temperature, "tenths of a degree Celsius", "-150", in frost::COMB;
    }
}

asked! {
    /// Honey that is to be kept.
    FermentationAsked {
        /// Water in the honey.
        moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1780";
        /// Yeasts that were counted.
        yeast_per_g: Option<u32>, "yeasts per gram", "200";
        /// Whether it is set, not pasteurized: above 18 % it is then judged one class worse.
        set: Option<bool>, "true or false", "false";
        /// The temperature at which it is kept.
        stored_tenths_c: Option<Temperature>, "tenths of a degree Celsius", "140";
    }
}

asked! {
    /// A history of warmth.
    DamageAsked {
        /// Times at one temperature each.
        steps: Vec<Warming>, "a list of steps", r#"[{"honey_tenths_c":350,"minutes":43200},{"honey_tenths_c":600,"minutes":300}]"#;
        /// HMF before it.
        hmf_before_hundredths_mg_per_kg: Option<Hmf>, "hundredths of a milligram per kilogram", "300";
        /// Diastase number before it.
        diastase_before_tenths: Option<Diastase>, "tenths", "200";
    }
}

asked! {
    /// A temperature.
    PaceAsked {
        /// Temperature of the honey.
        honey_tenths_c: Temperature, "tenths of a degree Celsius", "350", in heat::HMF;
    }
}

fn balance_humidity(asked: HumidityAsked) -> Result<BalanceHumidity, OutsideSpan> {
    balance::humidity(asked.moisture_hundredths, asked.table.unwrap_or(Table::Clover))
}

fn balance_moisture(asked: MoistureAsked) -> Result<BalanceMoisture, OutsideSpan> {
    let table = asked.table.unwrap_or(Table::Clover);
    balance::moisture(asked.relative_humidity_hundredths_percent, table)
}

fn comb_frost(asked: FrostAsked) -> Result<Frost, OutsideSpan> {
    frost::frost(asked.comb_tenths_c)
}

fn fermentation_risk(asked: FermentationAsked) -> Result<Fermentation, Infallible> {
    Ok(fermentation::fermentation(
        asked.moisture_hundredths,
        asked.yeast_per_g,
        asked.set.unwrap_or(false),
        asked.stored_tenths_c,
    ))
}

fn heat_damage(asked: DamageAsked) -> Result<Damage, OutsideSpan> {
    heat::damage(
        &asked.steps,
        asked.hmf_before_hundredths_mg_per_kg,
        asked.diastase_before_tenths,
    )
}

fn heat_pace(asked: PaceAsked) -> Result<Pace, OutsideSpan> {
    heat::pace(asked.honey_tenths_c)
}

//! What a laboratory may find in honey, by profile: sugars, acids, enzymes, heat marks, screens (MO-1 has the water).
//!
//! For reading beside an analysis; nothing in the program decides by these. Numbers are hundredths of the unit.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::texts::{COMPENDIUM, FORMER_TABLE, GRADES_USA, HONEY_DIRECTIVE, HONEY_ENGLAND};
use super::{Source, Sure};
use crate::limits::Profile;

/// What is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Parameter {
    /// Fructose and glucose together.
    FructoseAndGlucose,
    /// Sucrose.
    Sucrose,
    /// Solids that water does not dissolve.
    WaterInsoluble,
    /// Electrical conductivity.
    ElectricalConductivity,
    /// Free acid.
    FreeAcid,
    /// Activity of diastase.
    Diastase,
    /// Hydroxymethylfurfural.
    Hmf,
    /// Heat used in pressing combs.
    PressingTemperature,
    /// The screen on which nothing may stay.
    Screen,
    /// Points of a grade.
    Score,
}

/// Which side of the figure is allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Bound {
    /// No more than this.
    AtMost,
    /// No less than this.
    AtLeast,
}

/// One limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Limit {
    /// What is measured.
    pub parameter: Parameter,
    /// Which side is allowed.
    pub bound: Bound,
    /// The figure, hundredths of the unit.
    pub hundredths: i64,
    /// The unit.
    pub unit: &'static str,
    /// For which honey.
    pub applies_to: &'static str,
    /// The text.
    pub source: Source,
}

/// The limits of a profile beside those of water.
#[must_use]
pub const fn limits(profile: Profile) -> &'static [Limit] {
    match profile {
        Profile::Eu => EU,
        Profile::UkEngland => UK_ENGLAND,
        Profile::Canada => CANADA,
        Profile::Usa => USA,
    }
}

const fn most(
    (parameter, hundredths, unit): (Parameter, i64, &'static str),
    applies_to: &'static str,
    source: Source,
) -> Limit {
    Limit {
        parameter,
        bound: Bound::AtMost,
        hundredths,
        unit,
        applies_to,
        source,
    }
}

const fn least(
    (parameter, hundredths, unit): (Parameter, i64, &'static str),
    applies_to: &'static str,
    source: Source,
) -> Limit {
    Limit {
        bound: Bound::AtLeast,
        ..most((parameter, hundredths, unit), applies_to, source)
    }
}

use Parameter as P;

const G: &str = "g/100 g";
const LITTLE_SUGAR: &str = "false acacia, alfalfa, firewood banksia, French honeysuckle, red gum, leatherwood, citrus";
/// Read with the rest of annex II; annex I for pressing.
const PRESSING: Source = Source {
    place: "annex I",
    ..HONEY_DIRECTIVE
};

const EU: &[Limit] = &[
    least((P::FructoseAndGlucose, 6_000, G), "blossom honey", HONEY_DIRECTIVE),
    least(
        (P::FructoseAndGlucose, 4_500, G),
        "honeydew honey and its blends with blossom honey",
        HONEY_DIRECTIVE,
    ),
    most((P::Sucrose, 500, G), "honey in general", HONEY_DIRECTIVE),
    most((P::Sucrose, 1_000, G), LITTLE_SUGAR, HONEY_DIRECTIVE),
    most((P::Sucrose, 1_500, G), "lavender, borage", HONEY_DIRECTIVE),
    most((P::WaterInsoluble, 10, G), "honey in general", HONEY_DIRECTIVE),
    most((P::WaterInsoluble, 50, G), "pressed honey", HONEY_DIRECTIVE),
    most(
        (P::ElectricalConductivity, 80, "mS/cm"),
        "honeys without an exception, and their blends",
        HONEY_DIRECTIVE,
    ),
    least(
        (P::ElectricalConductivity, 80, "mS/cm"),
        "honeydew and chestnut honey and their blends",
        HONEY_DIRECTIVE,
    ),
    most((P::FreeAcid, 5_000, "meq/kg"), "honey in general", HONEY_DIRECTIVE),
    most((P::FreeAcid, 8_000, "meq/kg"), "baker's honey", HONEY_DIRECTIVE),
    least(
        (P::Diastase, 800, "Schade units"),
        "honey in general, not baker's",
        HONEY_DIRECTIVE,
    ),
    least(
        (P::Diastase, 300, "Schade units"),
        "honeys poor in enzymes by nature, with HMF up to 15 mg/kg",
        HONEY_DIRECTIVE,
    ),
    most(
        (P::Hmf, 4_000, "mg/kg"),
        "honey in general, not baker's",
        HONEY_DIRECTIVE,
    ),
    most(
        (P::Hmf, 8_000, "mg/kg"),
        "declared origin in a tropical climate, and blends of these",
        HONEY_DIRECTIVE,
    ),
    most((P::PressingTemperature, 4_500, "°C"), "pressed honey", PRESSING),
];

/// The part of the Welsh table that was read ends before it.
const FROM_MEMORY: Source = Source {
    sure: Sure::FromMemory,
    seen_in: "the table goes on past the part that was read",
    ..HONEY_ENGLAND
};

const UK_ENGLAND: &[Limit] = &[
    most((P::Sucrose, 500, G), "honey in general", HONEY_ENGLAND),
    most((P::WaterInsoluble, 10, G), "honey in general", HONEY_ENGLAND),
    most((P::WaterInsoluble, 50, G), "pressed honey", HONEY_ENGLAND),
    most(
        (P::ElectricalConductivity, 80, "mS/cm"),
        "honey in general",
        HONEY_ENGLAND,
    ),
    most((P::Hmf, 4_000, "mg/kg"), "honey in general", FROM_MEMORY),
];

const SCREEN: Source = Source {
    seen_in: "the first part of the page, and the former table, which says 80 mesh; ASTM E11 No. 80 is 0.180 mm",
    sure: Sure::ReadElsewhere,
    ..COMPENDIUM
};

const CANADA: &[Limit] = &[
    least(
        (P::Diastase, 800, "Gothe units"),
        "No. 1 with HMF up to 40 mg/kg",
        COMPENDIUM,
    ),
    least(
        (P::Diastase, 300, "Gothe units"),
        "No. 1 with HMF up to 15 mg/kg",
        COMPENDIUM,
    ),
    most((P::Screen, 18, "mm"), "No. 1: nothing stays on it", SCREEN),
    most(
        (P::Screen, 25, "mm"),
        "No. 2: nothing stays on 60 mesh (ASTM E11 No. 60)",
        FORMER_TABLE,
    ),
    most((P::WaterInsoluble, 10, "%"), "No. 1", FORMER_TABLE),
    most((P::WaterInsoluble, 50, "%"), "No. 1 pressed", FORMER_TABLE),
];

const USA: &[Limit] = &[
    least((P::Score, 9_000, "points"), "U.S. Grade A", GRADES_USA),
    least((P::Score, 8_000, "points"), "U.S. Grade B", GRADES_USA),
    least((P::Score, 7_000, "points"), "U.S. Grade C", GRADES_USA),
];

//! Which of the honey on hand to blend (BL-1 to BL-5): the question, the plan, and what "the best blend" means.
//!
//! A blend **holds** if
//! - no part is one that may not be blended: above the floral limit or 20 %, smelling or fermenting, on hold, or not
//!   measured (`parents`);
//! - its forecast moisture is not above the target, reckoned exactly and not on the rounded figure (BL-1);
//! - its forecast colour is in the band, which reaches half a millimetre beyond its ends; colours are weighted by
//!   mass, which is an approximation;
//! - every claim wished for is kept, and none is lost that the wish does not give up (BL-5): all parts bear the same
//!   claims, those given up apart;
//! - a container is taken whole, or drawn from in whole steps of the scale so that something stays in it.
//!
//! Of the blends that hold the **best** is found by comparing, in this order:
//! 1. where a weight is wanted: whether it is reached to less than one step of the scale, never above it, with one
//!    container drawn from in part at most; else with two; else with three;
//! 2. where none is wanted, or none reaches it: with one container drawn from in part if there is such a blend at
//!    all, else with two, else with three; then the fewest whole steps missing to the wanted weight, or to all there
//!    is;
//! 3. of the first container in rank as many grams as can be, then of the second, and so on
//!    ([`Prefer::MostOfTheWettest`]), or as few ([`Prefer::LeastOfTheDriest`]). In rank the wettest stand first
//!    (the driest), by the tenth of a per cent that a meter shows; among equals the one that costs least (most) to
//!    open, then the exact moisture, then the order given.
//!
//! The search compares every blend, by bounds and not one by one, and says in `proven_best` whether it could rule all
//! better ones out. Everything is a forecast: it never releases a lot (MO-10). Not here: what a decision says to the
//! blend when it is made (`decide`).

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::form::Form;
use crate::plan::Reason;
use crate::plan::described::{chosen_from, planned};
use crate::subject::Subject;
use crate::text::Name;
use crate::units::{Days, Grams, Minutes, Moisture, Pfund};

mod at_hand;
mod needed;
mod parents;
mod pick;
mod planned;
mod reach;
mod search;
#[cfg(test)]
mod tests;
mod words;

pub use at_hand::{BlendWish, ToldOf, from_house};
pub use planned::plan_blend;

/// A container is drawn from in steps of this where nobody says otherwise.
pub const STEP: Grams = Grams::constant(100);
/// No part above this, whatever the sum, where no floral limit is higher (BL-3).
pub const NO_PARENT_ABOVE: Moisture = Moisture::constant(2_000);
/// More containers are not looked at in one plan.
pub const MOST_CONTAINERS: usize = 200;

planned! {
    /// What is wanted of a blend, and what there is.
    BlendAsked {
        /// The most water the blend may have, hundredths of a per cent.
        target_hundredths: Moisture, "hundredths of a per cent of mass", "1800";
        /// No part above this, hundredths of a per cent; 20 %, or the floral limit where that is higher.
        parent_limit_hundredths: Option<Moisture>, "hundredths of a per cent of mass", "2000";
        /// The lightest colour, mm Pfund.
        colour_from_mm: Option<Pfund>, "mm Pfund", "18";
        /// The darkest colour, mm Pfund.
        colour_to_mm: Option<Pfund>, "mm Pfund", "50";
        /// Claims that the blend has to bear.
        #[serde(default)]
        keep: Vec<Name>, "words", r#"["organic"]"#;
        /// Claims that may be lost.
        #[serde(default)]
        may_lose: Vec<Name>, "words", r#"["lime blossom"]"#;
        /// Whether every claim may be lost that is not to be kept.
        #[serde(default)]
        may_lose_any: bool, "true or false", "false";
        /// How much is wanted; as much as can be if left out.
        wanted_g: Option<Grams>, "grams", "30000";
        /// What is used up or saved first.
        #[serde(default)]
        prefer: Prefer, "a word", r#""most_of_the_wettest""#;
        /// In which steps a container is drawn from; 100 g if left out.
        step_g: Option<Grams>, "grams", "100";
        /// The water of honey that could be bought in, hundredths of a per cent; only to say how much is missing.
        to_be_had_hundredths: Option<Moisture>, "hundredths of a per cent of mass", "1650";
        /// What there is.
        on_hand: Vec<OnHand>, "containers", r#"[{"label": "P1", "content_g": 25000, "moisture_hundredths": 1710, "colour_mm": 30, "claims": ["organic"]}, {"label": "P2", "content_g": 20000, "moisture_hundredths": 1940, "colour_mm": 44, "claims": ["organic"]}]"#;
    }
}

/// What is used up or saved first.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Prefer {
    /// As much as can be of the wettest, then of the next.
    #[default]
    MostOfTheWettest,
    /// As little as can be of the driest, then of the next.
    LeastOfTheDriest,
}

/// How the water of a container is known (MO-10).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum WaterKnown {
    /// By the deciding reading.
    #[default]
    Measured,
    /// Reckoned from its parts.
    Forecast,
    /// The meter stood beyond its wet end.
    OffScaleWet,
}

planned! {
    /// Honey that is there: a container with a fill, or a lot.
    OnHand {
        /// What people call it; no two alike.
        label: Name, "words";
        /// The fill or lot.
        from: Option<Subject>, "a thing";
        /// Honey in it.
        content_g: Grams, "grams";
        /// Its water, hundredths of a per cent; absent where nobody measured.
        moisture_hundredths: Option<Moisture>, "hundredths of a per cent of mass";
        /// How that is known.
        #[serde(default)]
        water_known: WaterKnown, "a word";
        /// How long ago it was measured.
        measured_days: Option<Days>, "days";
        /// Its colour, mm Pfund.
        colour_mm: Option<Pfund>, "mm Pfund";
        /// What may be claimed of it: organic, the name of a plant.
        #[serde(default)]
        claims: Vec<Name>, "words";
        /// Holds that stand on it or on anything it came from, in words.
        #[serde(default)]
        holds: Vec<Name>, "words";
        /// Whether it smells or tastes foreign.
        #[serde(default)]
        smells: bool, "true or false";
        /// Whether it ferments.
        #[serde(default)]
        ferments: bool, "true or false";
        /// Where it is from: countries or yards.
        #[serde(default)]
        origins: Vec<Name>, "words";
        /// What it costs to open it: melting, turning, cleaning.
        opening_min: Option<Minutes>, "minutes";
    }
}

planned! {
    /// What to blend, and why.
    BlendPlan {
        /// Whether there is a blend, and whether it weighs what is wanted.
        outcome: BlendOutcome, "a word";
        /// What goes in, in rank.
        parts: Vec<PlannedPart>, "parts";
        /// All of it together.
        weight_g: i64, "grams";
        /// What is missing to the wanted weight.
        missing_g: i64, "grams";
        /// The forecast of its water, hundredths of a per cent, half up (BL-1). It never releases a lot (MO-10).
        forecast_hundredths: Option<Moisture>, "hundredths of a per cent of mass";
        /// The forecast of its colour, tenths of a millimetre Pfund, half up; approximate. Absent where a colour is unknown.
        colour_tenths_mm: Option<i64>, "tenths of a mm Pfund";
        /// Claims that all parts bear.
        claims_kept: Vec<Name>, "words";
        /// Claims that some parts bear and the blend does not (BL-5).
        claims_lost: Vec<Name>, "words";
        /// Where the honey is from, the most first.
        origins: Vec<OriginWeight>, "words";
        /// Work to open the containers, as far as it is known.
        opening_min: i64, "minutes";
        /// What stays where it is, and why.
        left_out: Vec<LeftOut>, "containers";
        /// What would have to be there besides, where the wanted blend cannot be made.
        needed: Option<Needed>, "honey";
        /// Whether every better blend was ruled out.
        proven_best: bool, "true or false";
        /// Why it is so.
        reasons: Vec<Reason>, "reasons";
    }
}

/// What came of the question.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BlendOutcome {
    /// A blend of the wanted weight, or the heaviest there is where no weight is wanted.
    Reached,
    /// A blend, but of less weight.
    LessThanWanted,
    /// No blend holds.
    NoBlend,
}

planned! {
    /// One part of a planned blend.
    PlannedPart {
        /// What people call it.
        label: Name, "words";
        /// The fill or lot.
        from: Option<Subject>, "a thing";
        /// How much is taken.
        weight_g: i64, "grams";
        /// What stays in it.
        left_g: i64, "grams";
        /// Its water.
        moisture_hundredths: Moisture, "hundredths of a per cent of mass";
    }
}

planned! {
    /// How much is from where.
    OriginWeight {
        /// Where from; several together where a container holds honey of several.
        origins: Vec<Name>, "words";
        /// How much.
        weight_g: i64, "grams";
        /// Of the blend, half up.
        share_per_mille: i64, "thousandths";
    }
}

planned! {
    /// A container that is not in the blend.
    LeftOut {
        /// What people call it.
        label: Name, "words";
        /// The fill or lot.
        from: Option<Subject>, "a thing";
        /// Whether it must not be blended at all, as against not being used this time.
        refused: bool, "true or false";
        /// Why.
        reasons: Vec<Reason>, "reasons";
    }
}

planned! {
    /// Honey that would have to be there besides.
    Needed {
        /// At least this much.
        weight_g: i64, "grams";
        /// Of this water at most, hundredths of a per cent.
        moisture_hundredths: Moisture, "hundredths of a per cent of mass";
        /// Of about this colour, where a band is wanted.
        colour_mm: Option<Pfund>, "mm Pfund";
    }
}

chosen_from! {
    Prefer: ["most_of_the_wettest", "least_of_the_driest"],
    WaterKnown: ["measured", "forecast", "off_scale_wet"],
    BlendOutcome: ["reached", "less_than_wanted", "no_blend"],
}

/// A question that cannot be answered.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BlendPlanRefused {
    /// Two containers with one name.
    #[error("two containers are called {label}; give each a name of its own")]
    TwoOfOneLabel {
        /// The name.
        label: String,
    },
    /// A colour band whose ends are exchanged.
    #[error("the colour band ends at {to_mm} mm before it begins at {from_mm} mm; exchange the two")]
    BandTurned {
        /// The lightest colour.
        from_mm: i64,
        /// The darkest colour.
        to_mm: i64,
    },
    /// A scale that shows nothing.
    #[error("a step of the scale of 0 g draws nothing; give at least 1 g")]
    NoStep,
    /// A wanted weight of nothing.
    #[error("a wanted weight of 0 g is no blend; leave it out for as much as can be")]
    NothingWanted,
    /// More containers than one plan looks at.
    #[error(
        "{given} containers are more than the {MOST_CONTAINERS} that one plan looks at; leave out what is not meant"
    )]
    TooMany {
        /// How many there were.
        given: usize,
    },
}

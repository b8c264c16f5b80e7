//! Which of the honey on hand to blend (BL-1 to BL-5): the question, the plan, and what "the best blend" means.
//!
//! A blend **holds** if
//! - no part is one that may not be blended: above the floral limit or 20 %, smelling or fermenting, on hold, or not
//!   measured ([`parents`]);
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

use crate::plan::Reason;
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

pub use at_hand::{BlendWish, from_house};
pub use planned::plan_blend;

/// A container is drawn from in steps of this where nobody says otherwise.
pub const STEP: Grams = Grams::constant(100);
/// No part above this, whatever the sum, where no floral limit is higher (BL-3).
pub const NO_PARENT_ABOVE: Moisture = Moisture::constant(2_000);
/// More containers are not looked at in one plan.
pub const MOST_CONTAINERS: usize = 200;

/// What is wanted of a blend, and what there is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BlendAsked {
    /// The most water the blend may have, hundredths of a per cent.
    pub target_hundredths: Moisture,
    /// No part above this, hundredths of a per cent; 20 %, or the floral limit where that is higher.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parent_limit_hundredths: Option<Moisture>,
    /// The lightest colour, mm Pfund.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub colour_from_mm: Option<Pfund>,
    /// The darkest colour, mm Pfund.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub colour_to_mm: Option<Pfund>,
    /// Claims that the blend has to bear.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub keep: Vec<Name>,
    /// Claims that may be lost.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub may_lose: Vec<Name>,
    /// Whether every claim may be lost that is not to be kept.
    #[serde(default)]
    pub may_lose_any: bool,
    /// How much is wanted; as much as can be if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wanted_g: Option<Grams>,
    /// What is used up or saved first.
    #[serde(default)]
    pub prefer: Prefer,
    /// In which steps a container is drawn from; 100 g if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step_g: Option<Grams>,
    /// The water of honey that could be bought in, hundredths of a per cent; only to say how much is missing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_be_had_hundredths: Option<Moisture>,
    /// What there is.
    pub on_hand: Vec<OnHand>,
}

/// What is used up or saved first.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Prefer {
    /// As much as can be of the wettest, then of the next.
    #[default]
    MostOfTheWettest,
    /// As little as can be of the driest, then of the next.
    LeastOfTheDriest,
}

/// How the water of a container is known (MO-10).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
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

/// Honey that is there: a container with a fill, or a lot.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OnHand {
    /// What people call it; no two alike.
    pub label: Name,
    /// The fill or lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Subject>,
    /// Honey in it.
    pub content_g: Grams,
    /// Its water, hundredths of a per cent; absent where nobody measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moisture_hundredths: Option<Moisture>,
    /// How that is known.
    #[serde(default)]
    pub water_known: WaterKnown,
    /// How long ago it was measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured_days: Option<Days>,
    /// Its colour, mm Pfund.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub colour_mm: Option<Pfund>,
    /// What may be claimed of it: organic, the name of a plant.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub claims: Vec<Name>,
    /// Holds that stand on it or on anything it came from, in words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub holds: Vec<Name>,
    /// Whether it smells or tastes foreign.
    #[serde(default)]
    pub smells: bool,
    /// Whether it ferments.
    #[serde(default)]
    pub ferments: bool,
    /// Where it is from: countries or yards.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub origins: Vec<Name>,
    /// What it costs to open it: melting, turning, cleaning.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opening_min: Option<Minutes>,
}

/// What to blend, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BlendPlan {
    /// Whether there is a blend, and whether it weighs what is wanted.
    pub outcome: BlendOutcome,
    /// What goes in, in rank.
    pub parts: Vec<PlannedPart>,
    /// All of it together.
    pub weight_g: i64,
    /// What is missing to the wanted weight.
    pub missing_g: i64,
    /// The forecast of its water, hundredths of a per cent, half up (BL-1). It never releases a lot (MO-10).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub forecast_hundredths: Option<Moisture>,
    /// The forecast of its colour, tenths of a millimetre Pfund, half up; approximate. Absent where a colour is unknown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub colour_tenths_mm: Option<i64>,
    /// Claims that all parts bear.
    pub claims_kept: Vec<Name>,
    /// Claims that some parts bear and the blend does not (BL-5).
    pub claims_lost: Vec<Name>,
    /// Where the honey is from, the most first.
    pub origins: Vec<OriginWeight>,
    /// Work to open the containers, as far as it is known.
    pub opening_min: i64,
    /// What stays where it is, and why.
    pub left_out: Vec<LeftOut>,
    /// What would have to be there besides, where the wanted blend cannot be made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub needed: Option<Needed>,
    /// Whether every better blend was ruled out.
    pub proven_best: bool,
    /// Why it is so.
    pub reasons: Vec<Reason>,
}

/// What came of the question.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BlendOutcome {
    /// A blend of the wanted weight, or the heaviest there is where no weight is wanted.
    Reached,
    /// A blend, but of less weight.
    LessThanWanted,
    /// No blend holds.
    NoBlend,
}

/// One part of a planned blend.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlannedPart {
    /// What people call it.
    pub label: Name,
    /// The fill or lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Subject>,
    /// How much is taken.
    pub weight_g: i64,
    /// What stays in it.
    pub left_g: i64,
    /// Its water, hundredths of a per cent.
    pub moisture_hundredths: Moisture,
}

/// How much is from where.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OriginWeight {
    /// Where from; several together where a container holds honey of several.
    pub origins: Vec<Name>,
    /// How much.
    pub weight_g: i64,
    /// Of the blend, thousandths, half up.
    pub share_per_mille: i64,
}

/// A container that is not in the blend.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LeftOut {
    /// What people call it.
    pub label: Name,
    /// The fill or lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Subject>,
    /// Whether it must not be blended at all, as against not being used this time.
    pub refused: bool,
    /// Why.
    pub reasons: Vec<Reason>,
}

/// Honey that would have to be there besides.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Needed {
    /// At least this much.
    pub weight_g: i64,
    /// Of this water at most, hundredths of a per cent.
    pub moisture_hundredths: Moisture,
    /// Of about this colour, mm Pfund, where a band is wanted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub colour_mm: Option<Pfund>,
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

//! Planners: what could be done with what there is. A plan is not a decision.

use crate::plan::blending::{BlendAsked, BlendPlan, BlendPlanRefused, plan_blend};
use crate::science::sources::MASS_BALANCE;

use super::{Computation, Refusal, computation};

pub(super) const ALL: &[Computation] = &[computation! {
    "plan_blend": plan_blend as (BlendAsked) -> BlendPlan,
    does "The best blend of the honey on hand for a moisture, a colour band and claims, with the reason of each part.",
    from [MASS_BALANCE],
    rules ["BL-1", "BL-2", "BL-3", "BL-4", "BL-5", "MO-10", "MO-11"],
    holds "Up to 40 containers the best of all blends as a rule, and it says where it could not be sure; up to 200 are looked \
        at. Moisture is exact for well mixed honey, colour approximate. It is a forecast: a lot is released by a reading.",
}];

impl From<BlendPlanRefused> for Refusal {
    fn from(refused: BlendPlanRefused) -> Self {
        let (code, field) = match refused {
            BlendPlanRefused::TwoOfOneLabel { .. } => ("two_of_one_label", "on_hand"),
            BlendPlanRefused::TooMany { .. } => ("too_many", "on_hand"),
            BlendPlanRefused::BandTurned { .. } => ("band_turned", "colour_to_mm"),
            BlendPlanRefused::NoStep => ("no_step", "step_g"),
            BlendPlanRefused::NothingWanted => ("nothing_wanted", "wanted_g"),
        };
        Self::at(code, field, refused.to_string())
    }
}

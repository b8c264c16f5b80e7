//! Planners: what could be done with what there is. A plan is not a decision.

use crate::plan::blending::{BlendAsked, BlendPlan, BlendPlanRefused, plan_blend};
use crate::plan::bottling::{BottlingAsked, BottlingPlan, BottlingPlanRefused, plan_bottling};
use crate::plan::net_content::{ContentAsked, ContentCheckRefused, ContentChecked, check_net_content};
use crate::science::sources::{CANADA_PACKS, GERMAN_PACKS, MASS_BALANCE, STATISTICS, UK_PACKS};

use super::{Computation, Refusal, computation};

pub(super) const ALL: &[Computation] = &[
    computation! {
        "check_net_content": check_net_content as (ContentAsked) -> ContentChecked,
        does "What the weights of full jars say by the rules of a country: shown, not shown or broken, and what to do.",
        from [GERMAN_PACKS, UK_PACKS, CANADA_PACKS, STATISTICS],
        rules ["NC-1", "NC-2", "NC-3"],
        holds "Exact for jars that were weighed; of the others it supposes that fillings scatter normally. The limit for the \
            single jar in the United States is not judged. No legal advice: check with your authority.",
    },
    computation! {
        "plan_blend": plan_blend as (BlendAsked) -> BlendPlan,
        does "The best blend of the honey on hand for a moisture, a colour band and claims, with the reason of each part.",
        from [MASS_BALANCE],
        rules ["BL-1", "BL-2", "BL-3", "BL-4", "BL-5", "MO-10", "MO-11"],
        holds "Up to 40 containers the best of all blends as a rule, and it says where it could not be sure; up to 200 are \
            looked at. Moisture is exact for well mixed honey, colour approximate. It is a forecast: a lot is released by a \
            reading.",
    },
    computation! {
        "plan_bottling": plan_bottling as (BottlingAsked) -> BottlingPlan,
        does "How many jars of which size a lot gives, how full each is aimed at so that the rules hold, and how they are checked.",
        from [GERMAN_PACKS, UK_PACKS, CANADA_PACKS, STATISTICS],
        rules ["ID-7", "MB-5", "NC-1", "NC-2", "NC-3", "SA-1"],
        holds "Supposes that fillings scatter normally, as those did of which the spread was reckoned. It releases nothing. No \
            legal advice: check with your authority.",
        caution "Hot glass breaks: warm jars before warm honey goes in, and throw away what stood beside a broken one.",
    },
];

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

impl From<ContentCheckRefused> for Refusal {
    fn from(refused: ContentCheckRefused) -> Self {
        let (code, field) = match refused {
            ContentCheckRefused::NothingWeighed => ("nothing_weighed", "net_tenths_g"),
            ContentCheckRefused::MoreThanThereAre { .. } => ("more_than_there_are", "jars"),
            ContentCheckRefused::NoWeight { .. } => ("no_weight", "net_tenths_g"),
            ContentCheckRefused::OutsideScheme { .. } => ("outside_scheme", "nominal_g"),
            ContentCheckRefused::Confidence { .. } => ("confidence", "confidence_per_mille"),
        };
        Self::at(code, field, refused.to_string())
    }
}

impl From<BottlingPlanRefused> for Refusal {
    fn from(refused: BottlingPlanRefused) -> Self {
        let (code, field) = match refused {
            BottlingPlanRefused::TwoOfOneLabel { field, .. } => ("two_of_one_label", field),
            BottlingPlanRefused::TooMany { .. } => ("too_many", "sizes"),
            BottlingPlanRefused::TooManyJars => ("too_many_jars", "sizes"),
            BottlingPlanRefused::UnknownLid { .. } => ("unknown_lid", "lids"),
            BottlingPlanRefused::OutsideScheme { .. } => ("outside_scheme", "sizes"),
            BottlingPlanRefused::NoShare { .. } => ("no_share", "sizes"),
            BottlingPlanRefused::SpreadOfTooFew { .. } => ("spread_of_too_few", "sizes"),
            BottlingPlanRefused::Confidence { .. } => ("confidence", "confidence_per_mille"),
            BottlingPlanRefused::NoStep => ("no_step", "scale_step_tenths_g"),
        };
        Self::at(code, field, refused.to_string())
    }
}

//! What the refusals of the formulas are called outside. No sentence of its own: each formula says why.

use crate::blend::BlendRefused;
use crate::science::moisture::MoistureRefused;
use crate::science::span::OutsideSpan;

use super::Refusal;

impl From<OutsideSpan> for Refusal {
    fn from(outside: OutsideSpan) -> Self {
        let sentence = outside.to_string();
        Self {
            code: "outside_validity",
            pointer: outside.pointer,
            sentence,
        }
    }
}

impl From<BlendRefused> for Refusal {
    fn from(refused: BlendRefused) -> Self {
        let code = match refused {
            BlendRefused::DrierIsOverTheLimit => "drier_is_over_the_limit",
            BlendRefused::NotDrierThanTheGoal { .. } => "not_drier_than_the_goal",
            BlendRefused::WetterAfterDrying { .. } => "wetter_after_drying",
            BlendRefused::NothingButWater => "nothing_but_water",
            BlendRefused::MoreThanThereIs => "more_than_there_is",
        };
        Self::whole(code, refused.to_string())
    }
}

impl From<MoistureRefused> for Refusal {
    fn from(refused: MoistureRefused) -> Self {
        let code = match refused {
            MoistureRefused::OutsideReadable { .. } => "not_honey",
            MoistureRefused::OutsideBrix { .. } => "not_honey",
        };
        Self::whole(code, refused.to_string())
    }
}

//! What the refusals of the formulas are called outside. No sentence of its own: each formula says why.

use core::convert::Infallible;

use crate::blend::BlendRefused;
use crate::net_content::NetContentRefused;
use crate::science::air::AirRefused;
use crate::science::moisture::MoistureRefused;
use crate::science::rise::RiseRefused;
use crate::science::sampling::SamplingRefused;
use crate::science::sieve::NoSuchSieve;
use crate::science::span::OutsideSpan;
use crate::science::viscosity::ViscosityRefused;

use super::Refusal;

impl From<Infallible> for Refusal {
    fn from(never: Infallible) -> Self {
        match never {}
    }
}

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
        Self::whole("not_honey", format!("{refused}; read the meter again"))
    }
}

impl From<ViscosityRefused> for Refusal {
    fn from(refused: ViscosityRefused) -> Self {
        match refused {
            ViscosityRefused::Outside(outside) => outside.into(),
            ViscosityRefused::Gels => Self::at("gels_at_rest", "gels_at_rest", refused.to_string()),
        }
    }
}

impl From<RiseRefused> for Refusal {
    fn from(refused: RiseRefused) -> Self {
        match refused {
            RiseRefused::Outside(outside) => outside.into(),
            RiseRefused::NotCreeping { .. } => Self::at("not_creeping", "diameter_um", refused.to_string()),
        }
    }
}

impl From<AirRefused> for Refusal {
    fn from(refused: AirRefused) -> Self {
        match refused {
            AirRefused::Outside(outside) => outside.into(),
            AirRefused::BelowDewPoint { .. } => Self::at("below_dew_point", "to_air_tenths_c", refused.to_string()),
        }
    }
}

impl From<NetContentRefused> for Refusal {
    fn from(refused: NetContentRefused) -> Self {
        let (code, field) = match refused {
            NetContentRefused::OutsideAverageSystem { .. } => ("outside_average_system", "nominal_g"),
            NetContentRefused::NothingWeighed => ("nothing_weighed", "weights_tenths_g"),
        };
        Self::at(code, field, refused.to_string())
    }
}

impl From<SamplingRefused> for Refusal {
    fn from(refused: SamplingRefused) -> Self {
        let (code, field) = match refused {
            SamplingRefused::Pack(pack) => return pack.into(),
            SamplingRefused::LotTooSmall { .. } => ("lot_too_small", "lot_packs"),
            SamplingRefused::TooFew { .. } => ("too_few_weighed", "weights_tenths_g"),
            SamplingRefused::TooMany { .. } => ("too_many_weighed", "lot_packs"),
        };
        Self::at(code, field, refused.to_string())
    }
}

impl From<NoSuchSieve> for Refusal {
    fn from(refused: NoSuchSieve) -> Self {
        Self::at("no_such_sieve", "sieve_number", refused.to_string())
    }
}

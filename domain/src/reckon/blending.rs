//! Mixing and drying: what becomes of kilograms and of water, and how much of one honey another can carry.

use crate::blend::{self, BlendRefused};
use crate::described::{answered, asked};
use crate::science::drying::{self, Carrier, Dried};
use crate::science::sources::{DRYING_RATES, MASS_BALANCE};
use crate::units::{Grams, Moisture, Thousandths};

use super::{Computation, Refusal, computation};

pub(super) const ALL: &[Computation] = &[
    computation! {
        "blend_moisture": blend_moisture as (BlendAsked) -> Blend,
        does "The water in a blend of weighed parts.",
        from [MASS_BALANCE],
        rules ["BL-1", "MO-10"],
        holds "Exact for well mixed honey. It is a forecast: a lot is released by a reading, never by this.",
    },
    computation! {
        "water_to_evaporate": water_to_evaporate as (DryingAsked) -> Dried,
        does "The water that honey loses on its way to a lower moisture, what is left, and the days that may take.",
        from [MASS_BALANCE, DRYING_RATES],
        rules ["DR-1", "DR-2", "DR-3"],
        holds "The masses are exact. The days are for open or half capped combs in warm moving air drier than the honey; \
            capped combs take several times as long.",
        caution drying::CAUTION,
    },
    computation! {
        "air_to_carry_water": air_to_carry_water as (CarrierAsked) -> Carrier,
        does "The air that has to pass to carry an amount of water away.",
        from [MASS_BALANCE],
        rules ["DR-2"],
        holds "Exact for what each cubic metre takes up, which the absolute humidity before and after tells.",
    },
    computation! {
        "most_wetter_honey": most_wetter_honey as (WetterAsked) -> Wetter,
        does "The most wetter honey that drier honey can carry without the blend passing a limit.",
        from [MASS_BALANCE],
        rules ["BL-2", "BL-3"],
        holds "Exact. No part may be over its legal limit, whatever the sum says.",
    },
    computation! {
        "drier_honey_needed": drier_honey_needed as (DrierAsked) -> Drier,
        does "The least drier honey that brings wetter honey down to a goal.",
        from [MASS_BALANCE],
        rules ["BL-2", "BL-3"],
        holds "Exact. No part may be over its legal limit, whatever the sum says.",
    },
];

asked! {
    /// One part of a blend.
    Part {
        /// What it weighs.
        weight_g: Grams, "grams", "120000";
        /// Water in it.
        moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1710";
    }
}

asked! {
    /// The parts of a blend.
    BlendAsked {
        /// The parts.
        parts: Vec<Part>, "a list of parts", r#"[{"weight_g":120000,"moisture_hundredths":1710},{"weight_g":45000,"moisture_hundredths":1940}]"#;
    }
}

answered! {
    /// What a blend becomes.
    Blend {
        /// Its water.
        moisture_thousandths: u32, "thousandths of a per cent of mass";
        /// Its weight.
        weight_g: i64, "grams";
    }
}

asked! {
    /// Honey that is to carry wetter honey.
    WetterAsked {
        /// The weight of the drier honey.
        drier_g: Grams, "grams", "120000";
        /// Water in the drier honey.
        drier_moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1710";
        /// Water in the wetter honey.
        wetter_moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1940";
        /// The most water the blend may hold.
        limit_moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1800";
    }
}

answered! {
    /// How much wetter honey can be carried.
    Wetter {
        /// The most that can be added, rounded down; nothing where it is within the limit itself and can be added
        /// without end.
        most_wetter_g: Option<i64>, "grams";
    }
}

asked! {
    /// Honey that is to become drier.
    DrierAsked {
        /// The weight of the wetter honey.
        wetter_g: Grams, "grams", "40000";
        /// Water in the wetter honey.
        wetter_moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1940";
        /// Water in the drier honey.
        drier_moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1650";
        /// The water wanted.
        goal_moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1780";
    }
}

answered! {
    /// How much drier honey it takes.
    Drier {
        /// The least that has to be added, rounded up.
        drier_g: i64, "grams";
        /// What the blend weighs.
        blend_g: i64, "grams";
    }
}

asked! {
    /// Honey that is to be dried.
    DryingAsked {
        /// What it weighs.
        before_g: Grams, "grams", "250000";
        /// Water in it.
        from_moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1940";
        /// The water wanted.
        to_moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1780";
    }
}

asked! {
    /// Water that air is to carry away.
    CarrierAsked {
        /// The water.
        water_g: Grams, "grams", "1000";
        /// What each cubic metre takes up: its absolute humidity when it leaves less that when it came.
        taken_up_thousandths_g_per_m3: Thousandths, "thousandths of a gram per cubic metre", "3000";
    }
}

fn water_to_evaporate(asked: DryingAsked) -> Result<Dried, BlendRefused> {
    drying::drying(
        asked.before_g,
        asked.from_moisture_hundredths,
        asked.to_moisture_hundredths,
    )
}

fn air_to_carry_water(asked: CarrierAsked) -> Result<Carrier, Refusal> {
    drying::carrier(asked.water_g, asked.taken_up_thousandths_g_per_m3).ok_or_else(|| {
        Refusal::at(
            "nothing_taken_up",
            "taken_up_thousandths_g_per_m3",
            "air that takes up nothing carries nothing away; warm it or dry it first",
        )
    })
}

fn blend_moisture(asked: BlendAsked) -> Result<Blend, Refusal> {
    let parts: Vec<(Grams, Moisture)> = asked
        .parts
        .iter()
        .map(|part| (part.weight_g, part.moisture_hundredths))
        .collect();
    let moisture_thousandths = blend::weighted_moisture_thousandths(&parts).ok_or_else(|| {
        Refusal::at(
            "nothing_to_blend",
            "parts",
            "the parts weigh nothing; give at least one with a weight",
        )
    })?;
    Ok(Blend {
        moisture_thousandths,
        weight_g: parts.iter().map(|(weight, _)| weight.get()).sum(),
    })
}

fn most_wetter_honey(asked: WetterAsked) -> Result<Wetter, BlendRefused> {
    let most = blend::most_wetter_honey(
        (asked.drier_g, asked.drier_moisture_hundredths),
        asked.wetter_moisture_hundredths,
        asked.limit_moisture_hundredths,
    )?;
    Ok(Wetter {
        most_wetter_g: (most < Grams::MAX).then(|| most.get()),
    })
}

fn drier_honey_needed(asked: DrierAsked) -> Result<Drier, BlendRefused> {
    let drier = blend::drier_honey_needed(
        (asked.wetter_g, asked.wetter_moisture_hundredths),
        asked.drier_moisture_hundredths,
        asked.goal_moisture_hundredths,
    )?;
    Ok(Drier {
        drier_g: drier.get(),
        blend_g: drier.get() + asked.wetter_g.get(),
    })
}

//! Mixing and drying: what becomes of kilograms and of water, and how much of one honey another can carry.

use crate::blend::{self, BlendRefused};
use crate::described::{answered, asked};
use crate::science::sources::MASS_BALANCE;
use crate::units::{Grams, Moisture};

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

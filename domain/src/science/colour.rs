//! The colour class of honey from its reading on the Pfund scale.
//!
//! United States classes: the colour designations of the Department of Agriculture, read on a meter maker's page; an
//! upper bound belongs to its class. Canada's limits are from memory of the Canadian Grade Compendium, volume 6, tables
//! 1 and 2, of which only the names were read. Honey is judged liquid, without crystals. Not here: a colour for screens;
//! no standard gives one.

use crate::described::{answered, words};
use crate::science::number::{fraction, whole};
use crate::science::span::{OutsideSpan, Span};
use crate::units::{Pfund, Thousandths};

words! {
    /// Colour classes of the United States.
    UsColour {
        /// Up to 8 mm.
        WaterWhite = "water_white",
        /// Over 8 to 17 mm.
        ExtraWhite = "extra_white",
        /// Over 17 to 34 mm.
        White = "white",
        /// Over 34 to 50 mm.
        ExtraLightAmber = "extra_light_amber",
        /// Over 50 to 85 mm.
        LightAmber = "light_amber",
        /// Over 85 to 114 mm.
        Amber = "amber",
        /// Over 114 mm.
        DarkAmber = "dark_amber",
    }
}

words! {
    /// Canada's classes for packs sold to consumers; limits from memory.
    CanadaConsumerColour {
        /// Up to 30 mm.
        White = "white",
        /// Over 30 to 50 mm.
        Golden = "golden",
        /// Over 50 to 85 mm.
        Amber = "amber",
        /// Over 85 mm.
        Dark = "dark",
    }
}

words! {
    /// Canada's classes for honey in bulk; limits from memory.
    CanadaBulkColour {
        /// Up to 13 mm.
        ExtraWhite = "extra_white",
        /// Over 13 to 30 mm.
        White = "white",
        /// Over 30 to 50 mm.
        Golden = "golden",
        /// Over 50 to 85 mm.
        LightAmber = "light_amber",
        /// Over 85 to 114 mm.
        DarkAmber = "dark_amber",
        /// Over 114 mm.
        Dark = "dark",
    }
}

answered! {
    /// The colour classes of honey.
    Colour {
        /// In the United States.
        us: UsColour, "one of the words";
        /// In Canada, in packs sold to consumers.
        canada_consumer: CanadaConsumerColour, "one of the words";
        /// In Canada, in bulk.
        canada_bulk: CanadaBulkColour, "one of the words";
        /// That Canada's limits are from memory and have to be looked up before they are relied on.
        canada_from_memory: bool, "true or false";
    }
}

/// The classes of a reading.
#[must_use]
pub fn colour(pfund: Pfund) -> Colour {
    use {CanadaBulkColour as Bulk, CanadaConsumerColour as Consumer, UsColour as Us};
    let millimetres = pfund.get();
    Colour {
        us: match millimetres {
            ..=8 => Us::WaterWhite,
            9..=17 => Us::ExtraWhite,
            18..=34 => Us::White,
            35..=50 => Us::ExtraLightAmber,
            51..=85 => Us::LightAmber,
            86..=114 => Us::Amber,
            _ => Us::DarkAmber,
        },
        canada_consumer: match millimetres {
            ..=30 => Consumer::White,
            31..=50 => Consumer::Golden,
            51..=85 => Consumer::Amber,
            _ => Consumer::Dark,
        },
        canada_bulk: match millimetres {
            ..=13 => Bulk::ExtraWhite,
            14..=30 => Bulk::White,
            31..=50 => Bulk::Golden,
            51..=85 => Bulk::LightAmber,
            86..=114 => Bulk::DarkAmber,
            _ => Bulk::Dark,
        },
        canada_from_memory: true,
    }
}

/// The absorbances that stand for readings on the scale, from 0 to 140 mm.
pub const ABSORBANCE: Span = Span {
    what: "a colour from an absorbance in thousandths",
    field: "absorbance_thousandths",
    from: 105,
    to: 481,
    refused_below: 105,
    refused_above: 481,
};

answered! {
    /// A reading on the Pfund scale that stands for an absorbance.
    PfundOfAbsorbance {
        /// The reading.
        pfund_mm: i64, "millimetres";
    }
}

/// Pfund from the absorbance at 635 nm of a solution of half honey by mass in a cell of 10 mm: -38.70 + 371.39 A.
///
/// After White 1984, from memory, and only near.
///
/// # Errors
/// [`OutsideSpan`].
pub fn pfund(absorbance: Thousandths) -> Result<PfundOfAbsorbance, OutsideSpan> {
    ABSORBANCE.extrapolates(absorbance.get())?;
    let millimetres = -38.70 + 371.39 * fraction(absorbance.get()) / 1_000.0;
    Ok(PfundOfAbsorbance {
        pfund_mm: whole(millimetres),
    })
}

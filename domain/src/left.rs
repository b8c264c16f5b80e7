//! Honey that was left on a hive, and a yield that the owner leaves out of a season's figures.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::entry::{Entry, entry};
use crate::fold::Told;
use crate::form::Form;
use crate::ids::{EntryId, HiveId};
use crate::text::Text;
use crate::units::{Grams, Year};

/// What befell a hive that its bees cannot be blamed for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Accident {
    /// A bear, or another large animal.
    Bear,
    /// Stolen.
    Theft,
    /// Flooded.
    Flood,
    /// Burnt.
    Fire,
    /// Blown or broken down.
    Storm,
    /// Broken by people.
    Vandalism,
    /// Sprayed or poisoned.
    Poisoning,
    /// Something else; the reason says what.
    Other,
}

impl Accident {
    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Bear => "bear",
            Self::Theft => "theft",
            Self::Flood => "flood",
            Self::Fire => "fire",
            Self::Storm => "storm",
            Self::Vandalism => "vandalism",
            Self::Poisoning => "poisoning",
            Self::Other => "other",
        }
    }
}

entry! {
    /// Honey was left on a hive when supers were taken: it is no yield, but explains one.
    HoneyLeft = "honey_left" v 1 touches(hive_id) wish LeaveHoney for hive_id: HiveId
    {
        /// The day.
        on: NaiveDate,
        /// How much.
        honey_g: Grams,
    }
    optional {
        /// It was weighed and not estimated.
        weighed: bool,
        /// Words.
        text: Text,
    }
}

entry! {
    /// The owner leaves a hive out of a season's figures after an accident; the figures with it are shown besides.
    YieldLeftOut = "yield_left_out" v 1 touches(hive_id) wish LeaveOut for hive_id: HiveId
    {
        /// The season.
        season: Year,
        /// What happened.
        accident: Accident,
        /// Why its figure says nothing about the bees or the yard.
        reason: Text,
    }
    optional {}
}

/// Honey that was left on a hive.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct LeftOn {
    /// The entry.
    pub entry_id: EntryId,
    /// The day.
    pub on: NaiveDate,
    /// How much.
    pub honey_g: Grams,
    /// It was weighed and not estimated.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub weighed: bool,
}

impl LeftOn {
    pub(crate) fn take_in(kept: &mut Vec<Self>, told: &Told<'_>) {
        if let Entry::HoneyLeft(left) = told.entry {
            // The later telling of one day counts.
            kept.retain(|earlier| earlier.on != left.on);
            kept.push(Self {
                entry_id: told.id(),
                on: left.on,
                honey_g: left.honey_g,
                weighed: left.weighed.unwrap_or(false),
            });
            kept.sort_by_key(|left| left.on);
        }
    }
}

/// A season in which a hive is left out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct OutOfSeason {
    /// The entry.
    pub entry_id: EntryId,
    /// The season.
    pub season: i32,
    /// What happened.
    pub accident: Accident,
    /// Why.
    pub reason: Text,
}

impl OutOfSeason {
    pub(crate) fn take_in(kept: &mut Vec<Self>, told: &Told<'_>) {
        if let Entry::YieldLeftOut(out) = told.entry {
            let season = i32::try_from(out.season.get()).unwrap_or_default();
            kept.retain(|earlier| earlier.season != season);
            kept.push(Self {
                entry_id: told.id(),
                season,
                accident: out.accident,
                reason: out.reason.clone(),
            });
            kept.sort_by_key(|out| out.season);
        }
    }
}

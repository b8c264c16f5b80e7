//! Clearing supers of bees before they are taken off: by escape board, repellent, blower or brush.

use chrono::{DateTime, TimeDelta, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::entry::{Entry, entry};
use crate::fold::Told;
use crate::form::Form;
use crate::ids::{EntryId, HiveId};
use crate::units::Temperature;

/// How supers are cleared of bees.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Clearing {
    /// A one-way board under the supers.
    EscapeBoard,
    /// A lid with repellent. Its label rules.
    FumeBoard,
    /// Air.
    Blower,
    /// A brush.
    Brush,
}

entry! {
    /// Something was fitted that clears supers of bees.
    ClearingFitted = "clearing_fitted" v 1 touches(hive_ids)
    {
        /// The hives.
        hive_ids: Vec<HiveId>,
        /// What.
        clearing: Clearing,
    }
    optional {
        /// The air, tenths of a degree Celsius.
        air_tenths_c: Temperature,
    }
}

/// An escape board left on longer than this is worth a look, hours (IN).
pub const LONG_ON: TimeDelta = TimeDelta::hours(72);
/// Above this repellents work too strongly, tenths of a degree Celsius (IN). A handout of an extension service lists
/// ranges of about 18 to 31 °C for two of them; the label of each rules.
pub const TOO_HOT: Temperature = Temperature::constant(320);

/// The newest clearing fitted to a hive.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Cleared {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// What.
    pub clearing: Clearing,
}

impl Cleared {
    pub(crate) fn take_in(newest: &mut Option<Self>, told: &Told<'_>) {
        if let Entry::ClearingFitted(fitted) = told.entry {
            *newest = Some(Self {
                entry_id: told.id(),
                at: told.at(),
                clearing: fitted.clearing,
            });
        }
    }
}

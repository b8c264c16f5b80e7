//! A super: a box for surplus honey, known by the number painted on it, filled anew several times in its life.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::allocation::BoxClass;
use crate::common::state;
use crate::form::Form;
use crate::grown::Grown;
use crate::ids::{EntryId, HiveId, RunId, ScaleId, YardId};
use crate::moisture::{Reading, Water, deciding_unchecked};
use crate::taint::TaintStep;
use crate::text::{Name, Text};
use crate::units::{FrameCount, Grams, Moisture, Percent, Quarters};

mod entries;
mod fold;
mod in_house;
mod store_places;

pub use entries::*;
pub use store_places::{StorePlace, StorePlaces};

/// Where a super is and what is being done with it (ST-3).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Whereabouts {
    /// In the store, dry or of unknown state.
    #[default]
    InStore,
    /// In the store, still sticky.
    StoredWet,
    /// Stacked in a yard.
    InYard,
    /// On a hive.
    OnHive,
    /// Taken off, still in the yard.
    Pulled,
    /// On the truck.
    OnTruck,
    /// In the honey house, waiting.
    InHouse,
    /// In the honey house, air going through it.
    Drying,
    /// Uncapped into a run.
    Extracted,
    /// No longer a super.
    Ended,
}

impl Whereabouts {
    /// The state in one word, as sent.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::InStore => "in_store",
            Self::StoredWet => "stored_wet",
            Self::InYard => "in_yard",
            Self::OnHive => "on_hive",
            Self::Pulled => "pulled",
            Self::OnTruck => "on_truck",
            Self::InHouse => "in_house",
            Self::Drying => "drying",
            Self::Extracted => "extracted",
            Self::Ended => "ended",
        }
    }
}

/// One stand of a super on a hive.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Stand {
    /// The entry that put it there.
    pub entry_id: EntryId,
    /// The hive that is believed.
    pub hive_id: HiveId,
    /// The other hives it may have been (CF-7); nothing if there is no doubt.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub or_hive_ids: Vec<HiveId>,
    /// Since when.
    pub from: DateTime<Utc>,
    /// The day on the wall.
    pub from_day: NaiveDate,
    /// Until when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<DateTime<Utc>>,
    /// The day on the wall on which it left.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until_day: Option<NaiveDate>,
    /// Nobody wrote it; it follows from a later step (ST-5).
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub assumed: bool,
}

impl Stand {
    /// Every hive it may have been, the believed one first.
    pub fn candidates(&self) -> impl Iterator<Item = HiveId> {
        std::iter::once(self.hive_id).chain(self.or_hive_ids.iter().copied())
    }
}

/// How a super was taken off.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Pulling {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// The hive somebody named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hive_id: Option<HiveId>,
    /// How full it was, in quarters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fullness_quarters: Option<Quarters>,
    /// Full frames.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub full_frames: Option<FrameCount>,
    /// Sealed comb, per cent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capped_percent: Option<Percent>,
    /// Whether brood was seen; absent means nobody looked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub brood_seen: Option<bool>,
}

/// One weighing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Weighing {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// What the scale showed.
    pub gross_g: Grams,
    /// The scale.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale_id: Option<ScaleId>,
}

/// Air that went through a super.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Dried {
    /// Since when; absent where nobody wrote it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<DateTime<Utc>>,
    /// Until when.
    pub until: DateTime<Utc>,
    /// The deciding water before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before_hundredths: Option<Moisture>,
}

/// Honey that was lost out of a super between two weighings.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct LostFromSuper {
    /// The entry.
    pub entry_id: EntryId,
    /// When it was found.
    pub at: DateTime<Utc>,
    /// How much lighter it was than before, grams.
    pub weight_g: i64,
    /// How.
    pub reason: Text,
}

/// One filling of a super: from the hive to the extractor.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(default)]
pub struct Filling {
    /// Where it stood, in order.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub stands: Vec<Stand>,
    /// It went on sticky: what was in it before is in this filling too (AL-6).
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub on_wet: bool,
    /// How it was taken off.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pulled: Option<Pulling>,
    /// When it came into the house.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub received_at: Option<DateTime<Utc>>,
    /// Its full weight: the later weighing (CF-10).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub full: Option<Weighing>,
    /// Earlier weighings of the same honey; one on a scale found right may count instead (CF-10).
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub full_before: Vec<Weighing>,
    /// What was lost out of it before it was spun.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lost: Vec<LostFromSuper>,
    /// Readings since it was last put on, dried or returned (MO-10).
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<Reading>,
    /// When the air was turned on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drying_since: Option<DateTime<Utc>>,
    /// When the air was turned off.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dried_at: Option<DateTime<Utc>>,
    /// The deciding water before drying, if it was not weighed again afterwards.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before_drying_hundredths: Option<Moisture>,
    /// How it was dried, in order.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub drying: Vec<Dried>,
    /// The run it was uncapped into.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub run_id: Option<RunId>,
    /// Other runs it is said to have gone into.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub or_run_ids: Vec<RunId>,
    /// When it was uncapped.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub uncapped_at: Option<DateTime<Utc>>,
    /// Its weight after spinning.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wet: Option<Weighing>,
    /// Earlier weighings after spinning (CF-10).
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub wet_before: Vec<Weighing>,
    /// Frames kept out of the extractor.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub frames_set_aside: Option<FrameCount>,
}

impl Filling {
    /// What is known of its water.
    #[must_use]
    pub fn water(&self) -> Water {
        deciding_unchecked(&self.readings)
    }

    /// The hive it stands or last stood on.
    #[must_use]
    pub fn last_stand(&self) -> Option<&Stand> {
        self.stands.last()
    }
}

state! {
    /// A box for surplus honey.
    Super {
        /// The number painted on it.
        #[serde(skip_serializing_if = "Option::is_none")]
        number: Option<Name>,
        /// Earlier numbers.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        former_numbers: Vec<Name>,
        /// Its height.
        #[serde(skip_serializing_if = "Option::is_none")]
        class: Option<BoxClass>,
        /// Frames in it.
        #[serde(skip_serializing_if = "Option::is_none")]
        frames: Option<FrameCount>,
        /// What it weighs dry.
        #[serde(skip_serializing_if = "Option::is_none")]
        tare_g: Option<Grams>,
        /// Where it is.
        whereabouts: Whereabouts,
        /// The place in the store where it stands, or last stood.
        #[serde(skip_serializing_if = "Option::is_none")]
        place: Option<Name>,
        /// The yard it is stacked in.
        #[serde(skip_serializing_if = "Option::is_none")]
        yard_id: Option<YardId>,
        /// It was given up as a super to become a brood box.
        #[serde(skip_serializing_if = "std::ops::Not::not")]
        brood_box: bool,
        /// Foreign smells it took, and cleanings, in order.
        #[serde(skip_serializing_if = "Grown::is_empty")]
        #[schema(value_type = Vec<TaintStep>)]
        taints: Grown<TaintStep>,
        /// What is in it, or being gathered into it.
        #[serde(skip_serializing_if = "is_empty")]
        filling: Filling,
        /// What was in it before, each extracted.
        #[serde(skip_serializing_if = "Grown::is_empty")]
        #[schema(value_type = Vec<Filling>)]
        extracted: Grown<Filling, 0>,
    }
}

fn is_empty(filling: &Filling) -> bool {
    *filling == Filling::default()
}

/// Within this long, the same telling twice is one happening with two witnesses (CF-2).
pub const SAME_HAPPENING: TimeDelta = TimeDelta::hours(12);

impl Super {
    /// The hive it stands on, if it stands on one.
    #[must_use]
    pub fn on_hive(&self) -> Option<HiveId> {
        match self.whereabouts {
            Whereabouts::OnHive => self.filling.last_stand().map(|stand| stand.hive_id),
            _ => None,
        }
    }

    /// Honey lost out of a filling before it was spun, grams.
    #[must_use]
    pub fn lost_g(filling: &Filling) -> i64 {
        filling.lost.iter().map(|lost| lost.weight_g).sum()
    }

    /// Every filling, the past ones first.
    pub fn fillings(&self) -> impl Iterator<Item = &Filling> {
        self.extracted.iter().chain(std::iter::once(&self.filling))
    }

    /// The filling that went into a run.
    #[must_use]
    pub fn filling_of(&self, run: RunId) -> Option<&Filling> {
        self.fillings().find(|filling| filling.run_id == Some(run))
    }

    /// How full a filling was, in quarters of a frame, without the frames kept out (method C).
    #[must_use]
    pub fn frame_equivalents_quarters(&self, filling: &Filling) -> Option<u32> {
        let pulled = filling.pulled.as_ref()?;
        let aside = filling.frames_set_aside.map_or(0, FrameCount::get);
        let quarters = match (pulled.full_frames, pulled.fullness_quarters) {
            (Some(full), _) => (full.get() - aside).max(0) * 4,
            (None, Some(quarters)) => (self.frames?.get() - aside).max(0) * quarters.get(),
            (None, None) => return None,
        };
        u32::try_from(quarters).ok()
    }
}

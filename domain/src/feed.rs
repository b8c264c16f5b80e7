//! Feeding bees: put on and taken off (FE-2). Honey of a box that stood over feed may be feed (FE-1).

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::Side;
use crate::entry::{Entry, entry, local_date};
use crate::fold::Told;
use crate::form::Form;
use crate::honey_super::SAME_HAPPENING;
use crate::ids::{EntryId, HiveId, MemberId};
use crate::text::{Name, Text};
use crate::units::{Grams, Millilitres};

/// What was fed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FeedKind {
    /// Sugar in water.
    SugarSyrup,
    /// Syrup of inverted sugar or starch.
    InvertSyrup,
    /// Fondant or candy.
    Fondant,
    /// Dry sugar.
    DrySugar,
    /// Pollen or a substitute for it.
    Pollen,
    /// Combs with honey or stores.
    Combs,
    /// Something else.
    Other,
}

/// How much feed a hive got.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FeedAmount {
    /// By weight, grams.
    WeightG(Grams),
    /// By volume, millilitres.
    VolumeMl(Millilitres),
}

impl FeedAmount {
    /// Grams or millilitres: at least that many grams, for no feed is lighter than water.
    #[must_use]
    pub const fn at_least_g(self) -> i64 {
        match self {
            Self::WeightG(grams) => grams.get(),
            Self::VolumeMl(volume) => volume.get(),
        }
    }
}

entry! {
    /// Feed was put on hives.
    FeedPutOn = "feed_put_on" v 1 touches(hive_ids)
    {
        /// The hives.
        hive_ids: Vec<HiveId>,
        /// What.
        feed: FeedKind,
        /// How much each hive got.
        per_hive: FeedAmount,
    }
    optional {
        /// What it was bought as.
        product: Name,
        /// The maker's batch.
        batch: Name,
        /// Why.
        reason: Text,
    }
}

entry! {
    /// Feed was taken off hives, or was eaten up.
    FeedTakenOff = "feed_taken_off" v 1 touches(hive_ids)
    {
        /// The hives.
        hive_ids: Vec<HiveId>,
    }
    optional {}
}

/// One thing told of the feeding of one hive; taken off, if it names no feed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct FeedStep {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// Minutes east of UTC there.
    pub utc_offset_min: i16,
    /// By whom.
    pub by: MemberId,
    /// What was put on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub put_on: Option<FedWith>,
}

/// What a hive was fed with.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct FedWith {
    /// What.
    pub feed: FeedKind,
    /// How much.
    pub per_hive: FeedAmount,
    /// What it was bought as.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub product: Option<Name>,
    /// The maker's batch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch: Option<Name>,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Text>,
}

impl FeedStep {
    /// The day on the wall.
    #[must_use]
    pub fn on(&self) -> NaiveDate {
        local_date(self.at, self.utc_offset_min)
    }

    /// Whether another put on as much of the same within what may have been one happening.
    pub(crate) fn is_alike(&self, later: &Self) -> bool {
        let fed = |step: &Self| step.put_on.as_ref().map(|fed| (fed.feed, fed.per_hive));
        fed(self).is_some() && fed(self) == fed(later) && later.at - self.at <= SAME_HAPPENING
    }

    /// What it says where it is doubted.
    pub(crate) fn side(&self) -> Side {
        let amount = self.put_on.as_ref().and_then(|fed| match fed.per_hive {
            FeedAmount::WeightG(grams) => Some(grams.get()),
            // Told where weights are.
            FeedAmount::VolumeMl(_) => None,
        });
        Side {
            entry_id: self.entry_id,
            at: self.at,
            names: None,
            amount,
        }
    }

    /// What an entry tells of feeding, if it tells any.
    pub(crate) fn of(told: &Told<'_>) -> Option<Self> {
        let put_on = match told.entry {
            Entry::FeedPutOn(fed) => Some(FedWith {
                feed: fed.feed,
                per_hive: fed.per_hive,
                product: fed.product.clone(),
                batch: fed.batch.clone(),
                reason: fed.reason.clone(),
            }),
            Entry::FeedTakenOff(_) => None,
            _ => return None,
        };
        Some(Self {
            entry_id: told.id(),
            at: told.at(),
            utc_offset_min: told.recorded.utc_offset_min,
            by: told.recorded.author,
            put_on,
        })
    }
}

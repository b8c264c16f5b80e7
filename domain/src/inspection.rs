//! A look into a hive. What is absent was not looked at, which is neither no nor nothing (ID-9).

use chrono::{DateTime, TimeDelta, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::disease::Disease;
use crate::entry::{Entry, entry};
use crate::fold::{Memo, Told};
use crate::form::Form;
use crate::ids::{EntryId, HiveId, MemberId};
use crate::text::Text;
use crate::units::FrameCount;

/// How the bees stand for food.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Stores {
    /// They need feed.
    Light,
    /// Enough.
    Enough,
    /// Plenty.
    Heavy,
}

entry! {
    /// Somebody looked into a hive.
    HiveInspected = "hive_inspected" v 1 touches(hive_id) wish Inspect for hive_id: HiveId
    {}
    optional {
        /// Whether eggs were seen.
        eggs_seen: bool,
        /// Whether the queen was seen.
        queen_seen: bool,
        /// Frames with brood.
        brood_frames: FrameCount,
        /// How they stand for food.
        stores: Stores,
        /// A disease somebody suspects: the same as telling the suspicion by itself.
        suspicion: Disease,
        /// In words.
        text: Text,
    }
}

/// The last look into a hive; of each thing, the last time somebody looked at it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Inspected {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// By whom.
    pub by: MemberId,
    /// Whether eggs were seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub eggs: Option<Seen<bool>>,
    /// Whether the queen was seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub queen: Option<Seen<bool>>,
    /// Frames with brood.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub brood_frames: Option<Seen<FrameCount>>,
    /// How they stand for food.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stores: Option<Seen<Stores>>,
}

/// What somebody saw, and when.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Seen<T> {
    /// When.
    pub at: DateTime<Utc>,
    /// What.
    pub what: T,
}

impl Inspected {
    /// Takes in another look: what it did not look at keeps what was seen before.
    pub(crate) fn take_in(before: &mut Option<Self>, told: &Told<'_>) {
        let Entry::HiveInspected(looked) = told.entry else {
            return;
        };
        let mut now = before.take().unwrap_or(Self {
            entry_id: told.id(),
            at: told.at(),
            by: told.recorded.author,
            eggs: None,
            queen: None,
            brood_frames: None,
            stores: None,
        });
        (now.entry_id, now.at, now.by) = (told.id(), told.at(), told.recorded.author);
        see(&mut now.eggs, told, looked.eggs_seen);
        see(&mut now.queen, told, looked.queen_seen);
        see(&mut now.brood_frames, told, looked.brood_frames);
        see(&mut now.stores, told, looked.stores);
        *before = Some(now);
    }
}

/// Somebody saw bees that live: their queen, her eggs, or brood.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct LifeSign {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
}

/// Signs of life are kept so long before the newest one: a count of colonies is settled by then. Our own choice.
const KEPT: TimeDelta = TimeDelta::days(730);

impl LifeSign {
    /// Takes in what an entry tells of life, if it tells any. What nobody looked at is no sign either way (ID-9).
    pub(crate) fn take_in(signs: &mut Vec<Self>, told: &Told<'_>, memo: &mut Memo) {
        let Entry::HiveInspected(looked) = told.entry else {
            return;
        };
        let brood = looked.brood_frames.is_some_and(|frames| frames > FrameCount::MIN);
        if looked.eggs_seen != Some(true) && looked.queen_seen != Some(true) && !brood {
            return;
        }
        memo.remember(told);
        for old in signs.iter().filter(|sign| told.at() - sign.at > KEPT) {
            memo.forget(old.entry_id);
        }
        signs.retain(|sign| told.at() - sign.at <= KEPT);
        signs.push(Self {
            entry_id: told.id(),
            at: told.at(),
        });
    }
}

fn see<T>(kept: &mut Option<Seen<T>>, told: &Told<'_>, what: Option<T>) {
    if let Some(what) = what {
        *kept = Some(Seen { at: told.at(), what });
    }
}

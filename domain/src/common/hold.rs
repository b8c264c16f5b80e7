//! Holds as they are set and ended by hand, and the ends of those that came from elsewhere.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::entry::entry;
use crate::form::Form;
use crate::ids::{EntryId, MemberId};
use crate::subject::Subject;
use crate::text::Text;

/// Why use or sale is barred.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum HoldReason {
    /// Medicine in the hive, or its wait not over (TX-3).
    Treatment,
    /// Feed that may have been carried up (FE-1).
    Feed,
    /// Sick bees, or the suspicion of it (DI-2).
    Disease,
    /// The authority stopped moves (DI-3).
    Standstill,
    /// Brood was seen in the box, and no frames were set aside (DI-1).
    Brood,
    /// Repellent, smoke, fuel or another foreign smell (TA-1).
    Taint,
    /// Broken glass (NC-4).
    Glass,
    /// A torn screen, metal, wood.
    ForeignMatter,
    /// Nobody knows where the honey is from.
    UnknownOrigin,
    /// Too wet, working, or not measured.
    Moisture,
    /// Somebody complained.
    Complaint,
    /// Something else, told in words.
    Other,
}

impl HoldReason {
    /// The reason as people say it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Treatment => "treatment",
            Self::Feed => "feed",
            Self::Disease => "disease",
            Self::Standstill => "official standstill",
            Self::Brood => "brood seen",
            Self::Taint => "foreign smell",
            Self::Glass => "broken glass",
            Self::ForeignMatter => "foreign matter",
            Self::UnknownOrigin => "unknown origin",
            Self::Moisture => "moisture",
            Self::Complaint => "complaint",
            Self::Other => "see the remark",
        }
    }
}

entry! {
    /// Use or sale of a thing and of what came from it was barred.
    HoldSet = "hold_set" v 1 touches(target)
    {
        /// What is barred.
        target: Subject,
        /// Why.
        reason: HoldReason,
    }
    optional {
        /// What was seen, in words.
        text: Text,
    }
}

entry! {
    /// A named person who has seen both sides ended a hold (CF-4, CF-17).
    HoldLifted = "hold_lifted" v 1 touches(target)
    {
        /// What was barred.
        target: Subject,
        /// The entry that set the hold.
        hold_id: EntryId,
        /// Why it may be used again.
        reason: Text,
    }
    optional {}
}

/// A bar on use, with its end if it has ended.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Hold {
    /// The entry that set it.
    pub hold_id: EntryId,
    /// Why.
    pub reason: HoldReason,
    /// In words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<Text>,
    /// Since when.
    pub since: DateTime<Utc>,
    /// Who set it.
    pub set_by: MemberId,
    /// How it ended; nothing while it stands.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lifted: Option<Lifted>,
}

/// The end of a hold.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Lifted {
    /// The entry that ended it.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// By whom.
    pub by: MemberId,
    /// Why.
    pub reason: Text,
}

/// The end, for one thing, of a hold that came to it with the honey or the box.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Lift {
    /// The entry that set the hold, wherever that was.
    pub cause_id: EntryId,
    /// How it ended here.
    pub lifted: Lifted,
}

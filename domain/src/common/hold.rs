//! Holds as they are set and ended by hand, and the ends of those that came from elsewhere.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Common, Flag, FlagCode, Side, raise, settle, standing};
use crate::entry::entry;
use crate::fold::{Memo, Told};
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

/// Bars a thing from use by what is told of it, unless an end that its own clock put before it knew of it.
pub(crate) fn set_hold(
    state: &mut dyn Common,
    told: &Told<'_>,
    memo: &mut Memo,
    reason: HoldReason,
    text: Option<Text>,
) {
    memo.remember(told);
    let mut hold = Hold {
        hold_id: told.id(),
        reason,
        text,
        since: told.at(),
        set_by: told.recorded.author,
        lifted: None,
    };
    match memo.take_lift(told.id()) {
        Some((lifted, by)) if by.knew_of(&told.recorded.mark()) => hold.lifted = Some(lifted),
        Some((lifted, _)) => without_sight(state, told.about, (told.id(), told.at()), &lifted),
        None => {}
    }
    state.holds_mut().push(hold);
}

/// A release without knowledge of a hold ends nothing (CF-12).
pub(super) fn without_sight(
    state: &mut dyn Common,
    about: Subject,
    (hold_id, since): (EntryId, DateTime<Utc>),
    lifted: &Lifted,
) {
    let side = |entry_id, at, names| Side {
        entry_id,
        at,
        names,
        amount: None,
    };
    let sides = [
        side(hold_id, since, Some(about)),
        side(lifted.entry_id, lifted.at, None),
    ];
    raise(state.flags_mut(), FlagCode::LiftedWithoutSight, &sides);
}

/// Takes the doubt back once all that somebody ended blindly was ended by somebody who knew of it.
pub(super) fn seen_after_all(state: &mut dyn Common) {
    let stands =
        |side: &Side| side.names.is_some() && standing(state.holds()).any(|hold| hold.hold_id == side.entry_id);
    let of_code = |flag: &&Flag| flag.code == FlagCode::LiftedWithoutSight;
    let still = state
        .flags()
        .iter()
        .find(of_code)
        .is_some_and(|flag| flag.sides.iter().any(stands));
    if !still {
        settle(state.flags_mut(), FlagCode::LiftedWithoutSight);
    }
}

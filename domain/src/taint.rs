//! Foreign smell and taste in a super, and cleaning it. Honey must have neither (TA-1; Codex Alimentarius CXS 12-1981;
//! Directive 2001/110/EC, annex II), so a tainted box holds its honey, and the box until it was cleaned.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::entry::{Entry, entry};
use crate::fold::Told;
use crate::form::Form;
use crate::grown::Grown;
use crate::ids::{EntryId, MemberId, SuperId};
use crate::text::Text;

/// What got into a box.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Taint {
    /// What drives bees out of supers.
    Repellent,
    /// Too much smoke, or smoke of the wrong stuff.
    Smoke,
    /// Petrol, diesel, oil.
    Fuel,
    /// What keeps moths off stored combs.
    MothControl,
    /// Something else, told in words.
    Other,
}

entry! {
    /// Something foreign got into supers (TA-1).
    TaintNoted = "taint_noted" v 1 touches(super_ids)
    {
        /// The boxes.
        super_ids: Vec<SuperId>,
        /// What it was.
        taint: Taint,
    }
    optional {
        /// In words.
        text: Text,
    }
}

entry! {
    /// Empty boxes were cleaned.
    BoxCleaned = "box_cleaned" v 1 touches(super_ids)
    {
        /// The boxes.
        super_ids: Vec<SuperId>,
        /// How.
        how: Text,
    }
    optional {}
}

/// Something foreign in a box, or its cleaning.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct TaintStep {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// By whom.
    pub by: MemberId,
    /// What got in; nothing if it was cleaned.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taint: Option<Taint>,
    /// In words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<Text>,
}

impl TaintStep {
    /// What an entry tells of taint, if it tells any. A cleaning that ends nothing is not kept.
    pub(crate) fn take_in(steps: &mut Grown<Self>, told: &Told<'_>) {
        let (taint, text) = match told.entry {
            Entry::TaintNoted(noted) => (Some(noted.taint), noted.text.clone()),
            Entry::BoxCleaned(cleaned) if steps.newest().is_some_and(|last| last.taint.is_some()) => {
                (None, Some(cleaned.how.clone()))
            }
            _ => return,
        };
        steps.push(Self {
            entry_id: told.id(),
            at: told.at(),
            by: told.recorded.author,
            taint,
            text,
        });
    }
}

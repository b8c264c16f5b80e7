//! Corrections: an entry is never changed, a later one says what should have been told (ID-10).

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Entry;
use crate::form::{Desk, Form};
use crate::ids::EntryId;
use crate::text::Text;

pub(super) const AMENDED: &str = "amended";
pub(super) const VOIDED: &str = "voided";

/// New content for an entry that was told wrongly (ID-10): the old one stays, this one counts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Amended {
    /// The entry that was told wrongly, or an amendment of it.
    pub entry_id: EntryId,
    /// The kind of the content, that of the original.
    pub kind: String,
    /// The version of that kind.
    pub v: u16,
    /// What should have been told.
    #[serde(rename = "data")]
    #[schema(no_recursion)]
    pub instead: Box<Entry>,
    /// Why it was changed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Text>,
}

impl Form for Amended {
    fn blank() -> Self {
        Self {
            entry_id: Form::blank(),
            kind: String::new(),
            v: 0,
            instead: Form::blank(),
            reason: None,
        }
    }

    fn pass(&mut self, desk: &mut Desk<'_>) {
        desk.open(&[]);
        desk.field("entry_id", &mut self.entry_id);
        desk.field("kind", &mut self.kind);
        desk.field("v", &mut self.v);
        if desk.reads() {
            if self.kind == AMENDED || self.kind == VOIDED {
                let detail = "an amendment holds the corrected content itself, not another correction";
                desk.refuse_field("kind", detail.to_owned());
            }
            match Entry::to_read(&self.kind, self.v) {
                Ok(blank) => *self.instead = blank,
                Err(refused) => desk.fail(refused),
            }
        }
        desk.field("data", &mut self.instead);
        let spared = self.reason.is_none();
        desk.spare("reason", spared, &mut self.reason);
        desk.close();
    }
}

/// Says that an entry did not happen. Voiding a void brings the entry back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Voided {
    /// The entry that did not happen.
    pub entry_id: EntryId,
    /// Why it is withdrawn.
    pub reason: Text,
}

impl Entry {
    /// The earlier entry that this one corrects or withdraws.
    #[must_use]
    pub const fn corrects(&self) -> Option<EntryId> {
        match self {
            Self::Amended(amended) => Some(amended.entry_id),
            Self::Voided(voided) => Some(voided.entry_id),
            _ => None,
        }
    }
}

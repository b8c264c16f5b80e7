//! Corrections: an entry is never changed, a later one says what should have been told (ID-10).

use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use utoipa::ToSchema;

use super::{Entry, ReadRefused, field_by_field};
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

impl Amended {
    pub(super) fn read(data: &str) -> Result<Self, ReadRefused> {
        #[derive(Deserialize)]
        struct AsSent<'a> {
            entry_id: EntryId,
            kind: String,
            v: u16,
            #[serde(borrow)]
            data: &'a RawValue,
            reason: Option<Text>,
        }
        let sent: AsSent<'_> = field_by_field(data)?;
        let cannot = |detail: String| ReadRefused::BadField {
            pointer: "/kind".to_owned(),
            detail,
        };
        if sent.kind == AMENDED || sent.kind == VOIDED {
            return Err(cannot(
                "an amendment holds the corrected content itself, not another correction".to_owned(),
            ));
        }
        let instead = Entry::read(&sent.kind, sent.v, sent.data.get()).map_err(|refused| match refused {
            ReadRefused::BadField { pointer, detail } => ReadRefused::BadField {
                pointer: format!("/data{pointer}"),
                detail,
            },
            other => other,
        })?;
        Ok(Self {
            entry_id: sent.entry_id,
            kind: sent.kind,
            v: sent.v,
            instead: Box::new(instead),
            reason: sent.reason,
        })
    }
}

/// Says that an entry did not happen. Voiding a void brings the entry back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
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

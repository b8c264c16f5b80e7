//! Corrections: an entry is never changed, a later one says what should have been told (ID-10).

use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use utoipa::ToSchema;

use super::{Entry, Fields, ReadRefused};
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
    pub(super) fn of_fields(fields: &Fields<'_>) -> Result<Self, ReadRefused> {
        let kind: String = fields.needed("kind")?;
        let v = fields.needed("v")?;
        let data: &RawValue = fields.needed("data")?;
        let cannot = |detail: String| ReadRefused::BadField {
            pointer: "/kind".to_owned(),
            detail,
        };
        if kind == AMENDED || kind == VOIDED {
            return Err(cannot(
                "an amendment holds the corrected content itself, not another correction".to_owned(),
            ));
        }
        let instead = Entry::read(&kind, v, data.get()).map_err(|refused| match refused {
            ReadRefused::BadField { pointer, detail } => ReadRefused::BadField {
                pointer: format!("/data{pointer}"),
                detail,
            },
            other => other,
        })?;
        Ok(Self {
            entry_id: fields.needed("entry_id")?,
            kind,
            v,
            instead: Box::new(instead),
            reason: fields.optional("reason")?,
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

impl Voided {
    pub(super) fn of_fields(fields: &Fields<'_>) -> Result<Self, ReadRefused> {
        Ok(Self {
            entry_id: fields.needed("entry_id")?,
            reason: fields.needed("reason")?,
        })
    }
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

//! An entry on its way into the ledger: read and hashed before anybody takes the turn.

use std::collections::HashSet;

use chrono::{DateTime, Utc};
use domain::entry::{self, Entry, WrittenBy};
use domain::ids::EntryId;
use serde::Serialize;
use serde_json::value::RawValue;
use uuid::Uuid;

use super::add::AppendRefused;
use super::clocks::{HappenedSrc, to_micros};
use super::hash::{Hash, content_hash};
use crate::auth::{DeviceState, Right, Who};
use crate::clock;

/// Why an entry is kept but not counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quarantine {
    /// The kind is not known here.
    UnknownKind,
    /// The version of the kind is not known here.
    UnknownVersion,
    /// The kind is not for people of this role.
    NotYourRole,
    /// The device has left.
    DeviceLeft,
}

impl Quarantine {
    /// The word for it, as stored and as sent.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::UnknownKind => "unknown_kind",
            Self::UnknownVersion => "unknown_version",
            Self::NotYourRole => "not_your_role",
            Self::DeviceLeft => "device_left",
        }
    }
}

/// An entry that reads, with its hash.
#[derive(Clone, Debug)]
pub struct NewEntry {
    pub(crate) id: Uuid,
    pub(crate) kind: String,
    pub(crate) v: u16,
    /// The whole entry exactly as received.
    pub(crate) body: String,
    pub(crate) content_hash: Hash,
    pub(crate) happened_at: DateTime<Utc>,
    pub(crate) happened_src: HappenedSrc,
    pub(crate) utc_offset_min: i16,
    /// Absent where the device does not count; the ledger's number stands in.
    pub(crate) device_counter: Option<i64>,
    pub(crate) saw: i64,
    /// What it says, or why nobody here can tell.
    pub(crate) content: Result<Entry, Quarantine>,
}

/// An entry made by the service, as it would have been sent.
#[derive(Serialize)]
struct MadeHere<'a> {
    id: Uuid,
    kind: &'a str,
    v: u16,
    data: &'a RawValue,
    happened_at: DateTime<Utc>,
    utc_offset_min: i16,
    happened_src: HappenedSrc,
    saw: i64,
    salt: String,
}

impl NewEntry {
    /// An entry that the office makes through the service. It carries no device counter: the ledger's number
    /// stands in.
    ///
    /// # Errors
    /// When the system has no randomness for its salt, or it cannot be written as JSON.
    pub fn made_here(
        entry: &Entry,
        id: EntryId,
        happened_at: DateTime<Utc>,
        utc_offset_min: i16,
        saw: i64,
    ) -> Result<Self, AppendRefused> {
        let kind = entry.kind();
        let v = entry::spec(kind).map_or(1, |spec| spec.newest);
        let data = RawValue::from_string(serde_json::to_string(entry)?)?;
        let salt = clock::random_bytes::<16>()?;
        let happened_at = to_micros(happened_at);
        let body = serde_json::to_string(&MadeHere {
            id: id.uuid(),
            kind,
            v,
            data: &data,
            happened_at,
            utc_offset_min,
            happened_src: HappenedSrc::Entered,
            saw,
            salt: salt.iter().map(|byte| format!("{byte:02x}")).collect(),
        })?;
        Ok(Self {
            id: id.uuid(),
            kind: kind.to_owned(),
            v,
            content_hash: content_hash(&body)?,
            body,
            happened_at,
            happened_src: HappenedSrc::Entered,
            utc_offset_min,
            device_counter: None,
            saw,
            content: Ok(entry.clone()),
        })
    }

    /// The earlier entry that it corrects or withdraws.
    pub(super) fn corrects(&self) -> Option<Uuid> {
        self.content.as_ref().ok()?.corrects().map(EntryId::uuid)
    }

    /// Why this entry is not counted when this person brings it; nothing if it is. What stands in the ledger and
    /// is the office's to correct is in `closed`.
    pub(super) fn quarantine(&self, who: &Who, closed: &HashSet<Uuid>) -> Option<Quarantine> {
        if who.device_state == DeviceState::Left {
            return Some(Quarantine::DeviceLeft);
        }
        let entry = match &self.content {
            Ok(entry) => entry,
            Err(quarantine) => return Some(*quarantine),
        };
        // A correction may arrive before what it corrects: its new content, of the same kind, tells whose it is.
        let of_office = match entry {
            Entry::Amended(amended) => entry::corrected_by(&amended.instead) == WrittenBy::Office,
            other => is_of_office(other.kind()),
        };
        let closed = self.corrects().is_some_and(|target| closed.contains(&target));
        ((closed || of_office) && !who.role.may(Right::Office)).then_some(Quarantine::NotYourRole)
    }
}

/// Whether only the office may write this kind.
fn is_of_office(kind: &str) -> bool {
    entry::spec(kind).is_some_and(|spec| spec.written_by == WrittenBy::Office)
}

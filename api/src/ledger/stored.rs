//! Entries as they read back from the ledger.

use chrono::{DateTime, Utc};
use domain::entry::{Entry, ReadRefused, Recorded};
use domain::ids::{DeviceId, EntryId, MemberId};
use serde::Deserialize;
use serde_json::value::RawValue;
use uuid::Uuid;

/// seq, id, kind, v, body, device, author, device_counter, saw, utc_offset_min, effective_at.
pub(crate) type Row = (i64, Uuid, String, i32, String, Uuid, Uuid, i64, i64, i16, DateTime<Utc>);

/// An entry that was taken in once and does not read any more.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Unreadable {
    /// The body is not what was taken in.
    #[error("its body does not read")]
    Body(#[from] serde_json::Error),
    /// The data does not read by today's rules.
    #[error("its data does not read")]
    Data(#[from] ReadRefused),
}

#[derive(Deserialize)]
struct OnlyData<'a> {
    #[serde(borrow)]
    data: &'a RawValue,
}

/// The data out of a whole entry.
pub(crate) fn data_of(body: &str) -> Result<&str, serde_json::Error> {
    serde_json::from_str::<OnlyData<'_>>(body).map(|only| only.data.get())
}

/// Reads the content of an entry.
pub(crate) fn read_content(kind: &str, v: i32, body: &str) -> Result<Entry, Unreadable> {
    let version = u16::try_from(v).unwrap_or(u16::MAX);
    Ok(Entry::read(kind, version, data_of(body)?)?)
}

/// Reads an entry.
pub(crate) fn recorded(row: &Row) -> Result<Recorded, Unreadable> {
    let (seq, id, kind, v, body, device, author, device_counter, saw, utc_offset_min, effective_at) = row;
    Ok(Recorded {
        id: EntryId::from_uuid(*id),
        seq: *seq,
        device: DeviceId::from_uuid(*device),
        author: MemberId::from_uuid(*author),
        device_counter: *device_counter,
        saw: *saw,
        effective_at: *effective_at,
        utc_offset_min: *utc_offset_min,
        entry: read_content(kind, *v, body)?,
    })
}

/// Reads an entry; one that does not read any more is left out and said aloud, since no push may fail for it.
pub(crate) fn recorded_or_said(row: &Row) -> Option<Recorded> {
    match recorded(row) {
        Ok(recorded) => Some(recorded),
        Err(error) => {
            tracing::error!(entry.id = %row.1, entry.seq = row.0, %error,
                "a stored entry does not read and is left out; run `yardjar verify`");
            None
        }
    }
}

//! Reading a push: the envelope strictly as a whole, each entry by itself, so that a bad one stops no other.
//!
//! Unknown fields are let pass: a newer program may say more, and the body of an entry is kept as it was sent.

use std::borrow::Cow;

use chrono::{DateTime, TimeZone, Utc};
use domain::entry::{Entry, ReadRefused};
use domain::ids::OperationId;
use serde::de::IgnoredAny;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::ledger::hash::content_hash;
use crate::ledger::{HappenedSrc, NewEntry, Quarantine, Received, RefusedEntry, to_micros};
use crate::side_by_side::side_by_side;

/// The most entries of a push.
pub const ENTRIES_MAX: usize = 500;
/// The most bytes of a push as sent.
pub const SENT_MAX: usize = 1024 * 1024;
/// The most bytes of a push when unpacked.
pub const UNPACKED_MAX: usize = 4 * 1024 * 1024;
/// The most bytes of one entry.
pub const ENTRY_MAX: usize = 64 * 1024;
/// How deep objects and lists may be nested in a push.
pub const DEPTH_MAX: usize = 32;
/// The longest name of a kind.
const KIND_MAX: usize = 64;

/// Some entries of a device.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct Push<'a> {
    /// The business the device believes to write for.
    operation_id: Uuid,
    /// When this was sent, by the device's clock.
    sent_at: DateTime<Utc>,
    /// In the order they were made.
    #[serde(borrow)]
    #[schema(value_type = Vec<EntryAsSent>, min_items = 1, max_items = 500)]
    entries: Vec<&'a RawValue>,
}

/// One thing that happened, as a device sends it.
#[derive(Debug, Serialize, ToSchema)]
pub struct EntryAsSent {
    /// Made by the device, best a UUIDv7; kept with the entry before it is first sent.
    pub id: Uuid,
    /// What happened.
    #[schema(example = "super_pulled")]
    pub kind: String,
    /// The version of the kind.
    pub v: u16,
    /// What is told of it; its form follows from the kind.
    pub data: Entry,
    /// When it happened.
    pub happened_at: DateTime<Utc>,
    /// Minutes east of UTC where it happened.
    #[schema(minimum = -1439, maximum = 1439)]
    pub utc_offset_min: i16,
    /// Where the time comes from.
    pub happened_src: HappenedSrc,
    /// Counts the entries of a device without holes; absent where nothing counts.
    #[schema(minimum = 0)]
    pub device_counter: Option<i64>,
    /// The ledger number the device was at; 0 if it never pulled.
    #[schema(minimum = 0)]
    pub saw: i64,
    /// Sixteen random bytes in hex, so that the hash tells nothing once the rest is erased.
    #[schema(pattern = "^[0-9a-f]{32}$")]
    pub salt: String,
    /// The warnings that were raised when it was made, and which of them somebody answered.
    #[schema(value_type = Option<Vec<Object>>)]
    pub warnings: Option<serde_json::Value>,
}

/// What the service itself reads of an entry.
#[derive(Deserialize)]
struct Frame<'a> {
    id: Uuid,
    #[serde(borrow)]
    kind: Cow<'a, str>,
    v: u16,
    #[serde(borrow)]
    data: &'a RawValue,
    happened_at: DateTime<Utc>,
    utc_offset_min: i16,
    happened_src: HappenedSrc,
    #[serde(default)]
    device_counter: Option<i64>,
    #[serde(default)]
    saw: i64,
    #[serde(borrow)]
    salt: Cow<'a, str>,
    #[serde(default)]
    #[allow(dead_code, reason = "only its form is looked at")]
    warnings: Option<Vec<IgnoredAny>>,
}

/// Why a push could not be read at all.
#[derive(Debug, thiserror::Error)]
pub enum EnvelopeRefused {
    /// It is not JSON, or nested too deeply.
    #[error("{detail}")]
    Malformed {
        /// Where and why.
        detail: String,
    },
    /// A field of the envelope does not read.
    #[error("{detail}")]
    BadField {
        /// Which one, as a JSON pointer.
        pointer: String,
        /// Why.
        detail: String,
    },
}

/// Reads a push.
///
/// # Errors
/// When the envelope does not read; what is wrong with an entry stands in its place.
pub fn read(bytes: &[u8]) -> Result<Received, EnvelopeRefused> {
    refuse_depth(bytes)?;
    let push: Push<'_> = serde_json::from_slice(bytes).map_err(|error| envelope_problem(bytes, &error))?;
    if push.entries.is_empty() || push.entries.len() > ENTRIES_MAX {
        return Err(bad("/entries", format!("a push has 1 to {ENTRIES_MAX} entries")));
    }
    if !plausible(push.sent_at) {
        return Err(bad("/sent_at", "this is no time a device can have".to_owned()));
    }
    Ok(Received {
        operation: OperationId::from_uuid(push.operation_id),
        sent_at: push.sent_at,
        entries: side_by_side(push.entries, |raw| read_entry(raw.get())),
    })
}

fn bad(pointer: &str, detail: String) -> EnvelopeRefused {
    EnvelopeRefused::BadField {
        pointer: pointer.to_owned(),
        detail,
    }
}

/// What is wrong with an envelope; looked for only once something is.
fn envelope_problem(bytes: &[u8], error: &serde_json::Error) -> EnvelopeRefused {
    #[derive(Deserialize)]
    #[allow(dead_code, reason = "only whether it reads matters")]
    struct Skeleton {
        operation_id: Uuid,
        sent_at: DateTime<Utc>,
        entries: Vec<IgnoredAny>,
    }
    let mut json = serde_json::Deserializer::from_slice(bytes);
    match serde_path_to_error::deserialize::<_, Skeleton>(&mut json) {
        Err(wrong) if wrong.inner().is_data() => bad(&pointer(wrong.path()), without_line(&wrong.inner().to_string())),
        _ => EnvelopeRefused::Malformed {
            detail: format!("the body is not JSON: {error}"),
        },
    }
}

/// Refuses what is nested deeper than anything we send; a parser would otherwise be made to climb.
fn refuse_depth(bytes: &[u8]) -> Result<(), EnvelopeRefused> {
    let (mut depth, mut in_text, mut escaped) = (0_usize, false, false);
    for byte in bytes {
        match (in_text, byte) {
            (true, _) if escaped => escaped = false,
            (true, b'\\') => escaped = true,
            (_, b'"') => in_text = !in_text,
            (false, b'[' | b'{') => {
                depth += 1;
                if depth > DEPTH_MAX {
                    return Err(EnvelopeRefused::Malformed {
                        detail: format!("the body is nested deeper than {DEPTH_MAX}"),
                    });
                }
            }
            (false, b']' | b'}') => depth = depth.saturating_sub(1),
            _ => {}
        }
    }
    Ok(())
}

/// A time between 1900 and 9999: what the database keeps and a calendar shows.
fn plausible(at: DateTime<Utc>) -> bool {
    let year = |year| Utc.with_ymd_and_hms(year, 1, 1, 0, 0, 0).single();
    year(1900) <= Some(at) && Some(at) < year(10_000)
}

/// Reads one entry out of a saved outbox, where nobody looked at its depth before.
///
/// # Errors
/// When it is too large, nested too deeply or does not read.
pub fn read_line(sent: &str) -> Result<NewEntry, RefusedEntry> {
    match refuse_depth(sent.as_bytes()) {
        Ok(()) => read_entry(sent),
        Err(error) => Err(RefusedEntry {
            id: None,
            reason: "bad_field",
            pointer: None,
            detail: error.to_string(),
            sent: sent.to_owned(),
        }),
    }
}

/// Reads one entry.
///
/// # Errors
/// When it is too large or does not read.
pub fn read_entry(sent: &str) -> Result<NewEntry, RefusedEntry> {
    let refused = |reason, pointer: Option<String>, detail: String| RefusedEntry {
        id: id_of(sent),
        reason,
        pointer,
        detail,
        sent: sent.to_owned(),
    };
    if sent.len() > ENTRY_MAX {
        return Err(refused(
            "too_large",
            None,
            format!("an entry has at most {ENTRY_MAX} bytes"),
        ));
    }
    let frame: Frame<'_> = serde_json::from_str(sent).map_err(|error| {
        let (pointer, detail) = frame_problem(sent, &error);
        refused("bad_field", Some(pointer), detail)
    })?;
    if let Some((pointer, detail)) = wrong_value(&frame) {
        return Err(refused("bad_field", Some(pointer.to_owned()), detail.to_owned()));
    }
    let content = match Entry::read(&frame.kind, frame.v, frame.data.get()) {
        Ok(entry) => Ok(entry),
        Err(ReadRefused::UnknownKind { .. }) => Err(Quarantine::UnknownKind),
        Err(ReadRefused::UnknownVersion { .. }) => Err(Quarantine::UnknownVersion),
        Err(ReadRefused::BadField { pointer, detail }) => {
            return Err(refused(
                "bad_field",
                Some(format!("/data{pointer}")),
                without_line(&detail),
            ));
        }
    };
    let content_hash =
        content_hash(sent).map_err(|error| refused("bad_field", Some(String::new()), error.to_string()))?;
    Ok(NewEntry {
        id: frame.id,
        kind: frame.kind.into_owned(),
        v: frame.v,
        body: sent.to_owned(),
        content_hash,
        happened_at: to_micros(frame.happened_at),
        happened_src: frame.happened_src,
        utc_offset_min: frame.utc_offset_min,
        device_counter: frame.device_counter,
        saw: frame.saw,
        content,
    })
}

/// What reads but cannot be.
fn wrong_value(frame: &Frame<'_>) -> Option<(&'static str, &'static str)> {
    let plain = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || matches!(b, b'_' | b'.' | b'-');
    let hex = |b: u8| b.is_ascii_digit() || matches!(b, b'a'..=b'f' | b'A'..=b'F');
    if frame.id.is_nil() || frame.id.is_max() {
        return Some(("/id", "this id belongs to nobody"));
    }
    if frame.kind.is_empty() || frame.kind.len() > KIND_MAX || !frame.kind.bytes().all(plain) {
        return Some(("/kind", "a kind is named by up to 64 small letters, digits and _ . -"));
    }
    if !plausible(frame.happened_at) {
        return Some(("/happened_at", "this is no time anything can have happened"));
    }
    if frame.utc_offset_min.unsigned_abs() >= 24 * 60 {
        return Some(("/utc_offset_min", "an offset is less than a day"));
    }
    if frame.device_counter.is_some_and(|counter| counter < 0) {
        return Some(("/device_counter", "a device counts up from 0"));
    }
    if frame.saw < 0 {
        return Some(("/saw", "a ledger counts up from 0"));
    }
    (frame.salt.len() != 32 || !frame.salt.bytes().all(hex)).then_some(("/salt", "a salt is 32 hexadecimal digits"))
}

/// The line of one entry within a push helps nobody.
fn without_line(detail: &str) -> String {
    detail
        .rfind(" at line ")
        .map_or(detail, |end| &detail[..end])
        .to_owned()
}

fn id_of(sent: &str) -> Option<Uuid> {
    #[derive(Deserialize)]
    struct OnlyId {
        id: Uuid,
    }
    serde_json::from_str::<OnlyId>(sent).ok().map(|only| only.id)
}

/// Where a frame does not read; looked for only once one does not.
fn frame_problem(sent: &str, error: &serde_json::Error) -> (String, String) {
    #[derive(Deserialize)]
    #[allow(dead_code, reason = "only whether it reads matters")]
    struct Skeleton {
        id: Uuid,
        kind: String,
        v: u16,
        data: IgnoredAny,
        happened_at: DateTime<Utc>,
        utc_offset_min: i16,
        happened_src: HappenedSrc,
        device_counter: Option<i64>,
        saw: Option<i64>,
        salt: String,
        warnings: Option<Vec<IgnoredAny>>,
    }
    let mut json = serde_json::Deserializer::from_str(sent);
    match serde_path_to_error::deserialize::<_, Skeleton>(&mut json) {
        Err(wrong) => {
            let detail = without_line(&wrong.inner().to_string());
            let mut pointer = pointer(wrong.path());
            if let Some(name) = detail
                .strip_prefix("missing field `")
                .and_then(|rest| rest.strip_suffix('`'))
            {
                pointer = format!("/{name}");
            }
            (pointer, detail)
        }
        Ok(_) => (String::new(), error.to_string()),
    }
}

/// Writes a path as RFC 6901 asks.
fn pointer(path: &serde_path_to_error::Path) -> String {
    use serde_path_to_error::Segment;
    let steps = path.iter().map(|segment| match segment {
        Segment::Seq { index } => format!("/{index}"),
        Segment::Map { key } | Segment::Enum { variant: key } => {
            format!("/{}", key.replace('~', "~0").replace('/', "~1"))
        }
        Segment::Unknown => "/?".to_owned(),
    });
    steps.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const ID: &str = "01890000-0000-7000-8000-000000000001";

    fn sent(kind: &str, data: &str) -> String {
        format!(
            r#"{{"id":"{ID}","kind":"{kind}","v":1,"data":{data},"happened_at":"2026-07-01T10:00:00Z",
            "utc_offset_min":120,"happened_src":"clock","device_counter":3,"saw":0,
            "salt":"000102030405060708090a0b0c0d0e0f","later":{{"x":1}}}}"#
        )
    }

    fn refused(sent: &str) -> (&'static str, String) {
        let refused = read_entry(sent).unwrap_err();
        (refused.reason, refused.pointer.unwrap_or_default())
    }

    #[test]
    fn an_unknown_kind_or_version_is_kept_and_not_read() {
        let new = read_entry(&sent("moon_walked", "{}")).unwrap();
        assert_eq!(new.content, Err(Quarantine::UnknownKind));
        assert_eq!(new.body, sent("moon_walked", "{}"));
        let new = read_entry(&sent("hive_registered", "{}").replace("\"v\":1", "\"v\":900")).unwrap();
        assert_eq!(new.content, Err(Quarantine::UnknownVersion));
    }

    #[test]
    fn what_does_not_read_is_pointed_at() {
        let good = sent("moon_walked", "{}");
        let swap = |from: &str, to: &str| refused(&good.replace(from, to)).1;
        assert_eq!(swap(ID, "17"), "/id");
        assert_eq!(swap(ID, &Uuid::nil().to_string()), "/id");
        assert_eq!(swap("moon_walked", "a\\u0000b"), "/kind");
        assert_eq!(swap("\"kind\":\"moon_walked\",", ""), "/kind");
        assert_eq!(swap("2026-07-01T", "yesterday"), "/happened_at");
        assert_eq!(
            swap("\"utc_offset_min\":120", "\"utc_offset_min\":1440"),
            "/utc_offset_min"
        );
        assert_eq!(swap("\"saw\":0", "\"saw\":-1"), "/saw");
        assert_eq!(swap("\"clock\"", "\"sun\""), "/happened_src");
        assert_eq!(swap("0e0f", "0e0g"), "/salt");
        assert_eq!(swap("{\"x\":1}", "\"\\ud800\""), "");
        let (reason, pointer) = refused(&sent("hive_registered", "{\"hive_id\":4}"));
        assert_eq!(reason, "bad_field");
        assert!(pointer.starts_with("/data"), "{pointer}");
        assert_eq!(
            refused(&sent("moon_walked", &format!("\"{}\"", "x".repeat(ENTRY_MAX)))).0,
            "too_large"
        );
    }

    #[test]
    fn an_envelope_reads_as_a_whole() {
        let push = |entries: &str| {
            format!(r#"{{"operation_id":"{ID}","sent_at":"2026-07-01T10:00:00Z","entries":[{entries}]}}"#)
        };
        let received = read(push(&format!("{},17", sent("moon_walked", "{}"))).as_bytes()).unwrap();
        assert!(received.entries[0].is_ok() && received.entries[1].is_err());
        let code = |text: &str| match read(text.as_bytes()) {
            Err(EnvelopeRefused::Malformed { .. }) => "malformed-envelope",
            Err(EnvelopeRefused::BadField { .. }) => "bad-field",
            Ok(_) => "read",
        };
        assert_eq!(code(&push("")), "bad-field");
        assert_eq!(code(&push(&["17"; 501].join(","))), "bad-field");
        assert_eq!(code("{"), "malformed-envelope");
        assert_eq!(code(&push(&"[".repeat(40))), "malformed-envelope");
        assert_eq!(code(&push("17").replace("2026", "x")), "bad-field");
    }
}

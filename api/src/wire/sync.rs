//! What devices are answered: results of a push, changed states, entries, limits.
//!
//! Rows are written around the kept JSON text as it is; nothing is parsed to be sent.

use std::fmt::Write;

use chrono::{DateTime, SecondsFormat, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::ledger::read::{LedgerRow, OpaqueRow};
use crate::ledger::{Cursor, Outcome, Pushed};
use crate::projections::read::Row;

use super::envelope::EntryAsSent;

/// What became of a push.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PushAnswer {
    /// A cursor: where a reader is who holds everything.
    head: String,
    /// The number of the newest entry.
    last_seq: i64,
    /// One an entry, in order. Only what is named here may leave an outbox.
    results: Vec<PushResult>,
}

/// What became of one entry.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PushResult {
    /// Which entry; absent if it had no valid id.
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<Uuid>,
    /// What became of it.
    result: PushWord,
    /// Its number in the ledger; for a duplicate the old one.
    #[serde(skip_serializing_if = "Option::is_none")]
    seq: Option<i64>,
    /// Why it was quarantined or refused, a fixed word.
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<&'static str>,
    /// Which field, as a JSON pointer into the entry.
    #[serde(skip_serializing_if = "Option::is_none")]
    pointer: Option<String>,
    /// In a sentence.
    #[serde(skip_serializing_if = "Option::is_none")]
    detail: Option<String>,
}

/// What became of one entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub(crate) enum PushWord {
    /// In the ledger, and it counts.
    Stored,
    /// In the ledger since an earlier push.
    Duplicate,
    /// In the ledger, and not counted.
    Quarantined,
    /// Not in the ledger; what was sent is kept for the office to look at.
    Refused,
}

impl From<Pushed> for PushAnswer {
    fn from(pushed: Pushed) -> Self {
        Self {
            head: pushed.head.to_string(),
            last_seq: pushed.head.seq,
            results: results(pushed.outcomes),
        }
    }
}

/// What became of each entry.
pub(crate) fn results(outcomes: Vec<(Option<Uuid>, Outcome)>) -> Vec<PushResult> {
    outcomes
        .into_iter()
        .map(|(id, outcome)| PushResult::new(id, outcome))
        .collect()
}

impl PushAnswer {
    /// The number of the newest entry.
    pub(crate) const fn last_seq(&self) -> i64 {
        self.last_seq
    }

    /// How many entries had this result.
    pub(crate) fn count(&self, word: PushWord) -> usize {
        self.results.iter().filter(|result| result.result == word).count()
    }
}

impl PushResult {
    fn new(id: Option<Uuid>, outcome: Outcome) -> Self {
        let (result, seq, reason, pointer, detail) = match outcome {
            Outcome::Stored { seq } => (PushWord::Stored, Some(seq), None, None, None),
            Outcome::Duplicate { seq } => (PushWord::Duplicate, Some(seq), None, None, None),
            Outcome::Quarantined { seq, reason } => (PushWord::Quarantined, Some(seq), Some(reason.word()), None, None),
            Outcome::Refused(refused) => (
                PushWord::Refused,
                None,
                Some(refused.reason),
                refused.pointer,
                Some(refused.detail),
            ),
        };
        Self {
            id,
            result,
            seq,
            reason,
            pointer,
            detail,
        }
    }
}

/// States that changed.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PullAnswer {
    /// The number of the newest entry in this snapshot.
    head: i64,
    /// In the order of change.
    rows: Vec<PullRow>,
    /// Entries that are kept and not counted.
    quarantined: Vec<OpaqueEntry>,
    /// Entries whose personal text was erased, where everything is read from the beginning: their copies are to be
    /// erased, too.
    erased: Vec<Uuid>,
    /// Whether this is the first page of everything: what was held before is to be forgotten.
    whole: bool,
    /// What to ask with next.
    cursor: String,
    /// Whether more is there already.
    more: bool,
}

/// A state.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PullRow {
    /// What kind of thing.
    #[schema(example = "super")]
    kind: String,
    /// Which one.
    id: Uuid,
    /// The number of the newest entry it is folded from.
    changed_seq: i64,
    /// What people call it.
    label: Option<String>,
    /// Its state in one word.
    status: String,
    /// The state; its form follows from the kind.
    #[schema(value_type = Object)]
    state: serde_json::Value,
}

/// An entry that is kept and not counted.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct OpaqueEntry {
    id: Uuid,
    seq: i64,
    kind: String,
    v: i32,
    /// Why, a fixed word.
    reason: String,
}

/// Entries.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LedgerAnswer {
    /// The number of the newest entry in this snapshot.
    head: i64,
    /// In the order of their numbers.
    entries: Vec<LedgerEntry>,
    /// What to ask with next.
    cursor: String,
    /// Whether more is there already.
    more: bool,
}

/// An entry with what the ledger added.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LedgerEntry {
    seq: i64,
    received_at: DateTime<Utc>,
    /// When it happened, after a wrong clock was set right.
    effective_at: DateTime<Utc>,
    /// Which member.
    author: Uuid,
    /// Which device.
    device: Uuid,
    /// SHA-256 of the entry's canonical form, in hex.
    content_hash: String,
    /// Why it does not count, if it does not.
    quarantine: Option<String>,
    /// The entry exactly as it was sent.
    entry: EntryAsSent,
}

/// What a push may be, and which kinds are understood.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Limits {
    /// The business of this session.
    pub(crate) operation_id: Uuid,
    /// Changes only when the database is another one.
    pub(crate) server_id: Uuid,
    /// The most entries of a push.
    pub(crate) entries_max: usize,
    /// The most bytes of a push as sent.
    pub(crate) sent_bytes_max: usize,
    /// The most bytes of a push when unpacked.
    pub(crate) unpacked_bytes_max: usize,
    /// The most bytes of one entry.
    pub(crate) entry_bytes_max: usize,
    /// How deep a push may be nested.
    pub(crate) depth_max: usize,
    /// Every kind that is understood.
    pub(crate) kinds: Vec<KindLimits>,
}

/// The versions of a kind that are understood.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct KindLimits {
    pub(crate) kind: &'static str,
    /// The oldest version.
    pub(crate) min: u16,
    /// The newest version.
    pub(crate) max: u16,
}

/// Writes a page of states.
pub(crate) fn pull(
    head: &Cursor,
    (rows, opaque, erased): (&[Row], &[OpaqueRow], &[Uuid]),
    cursor: &Cursor,
    whole: bool,
) -> String {
    let mut out = String::with_capacity(size_of_rows(rows) + opaque.len() * 160 + erased.len() * 40 + 300);
    let _ = write!(out, "{{\"head\":{},", head.seq);
    states(&mut out, rows, opaque);
    let _ = write!(out, ",\"erased\":[");
    for (n, id) in erased.iter().enumerate() {
        let comma = if n == 0 { "" } else { "," };
        let _ = write!(out, "{comma}\"{id}\"");
    }
    let more = cursor.after.is_some() || cursor.seq != head.seq;
    let _ = write!(out, "],\"whole\":{whole},\"cursor\":\"{cursor}\",\"more\":{more}}}");
    out
}

/// Writes a part of a first download.
pub(crate) fn part(rows: &[Row], opaque: &[OpaqueRow]) -> String {
    let mut out = String::with_capacity(size_of_rows(rows) + opaque.len() * 160 + 100);
    out.push('{');
    states(&mut out, rows, opaque);
    out.push('}');
    out
}

fn size_of_rows(rows: &[Row]) -> usize {
    rows.iter().map(|row| row.state.len() + 200).sum()
}

fn states(out: &mut String, rows: &[Row], opaque: &[OpaqueRow]) {
    out.push_str("\"rows\":[");
    for (n, row) in rows.iter().enumerate() {
        let comma = if n == 0 { "" } else { "," };
        let _ = write!(
            out,
            "{comma}{{\"kind\":\"{}\",\"id\":\"{}\",\"changed_seq\":{},\"label\":",
            row.subject.kind.name(),
            row.subject.id,
            row.changed_seq
        );
        match &row.label {
            Some(label) => text(out, label),
            None => out.push_str("null"),
        }
        out.push_str(",\"status\":");
        text(out, &row.status);
        let _ = write!(out, ",\"state\":{}}}", row.state);
    }
    out.push_str("],\"quarantined\":[");
    for (n, (seq, id, kind, v, reason)) in opaque.iter().enumerate() {
        let comma = if n == 0 { "" } else { "," };
        let _ = write!(out, "{comma}{{\"id\":\"{id}\",\"seq\":{seq},\"kind\":");
        text(out, kind);
        let _ = write!(out, ",\"v\":{v},\"reason\":\"{reason}\"}}");
    }
    out.push(']');
}

/// Writes a page of entries.
pub(crate) fn ledger(head: &Cursor, rows: &[LedgerRow], cursor: &Cursor) -> String {
    let size = rows.iter().map(|row| row.body.len() + 420).sum::<usize>() + 200;
    let mut out = String::with_capacity(size);
    let _ = write!(out, "{{\"head\":{},\"entries\":[", head.seq);
    for (n, row) in rows.iter().enumerate() {
        let comma = if n == 0 { "" } else { "," };
        let _ = write!(
            out,
            "{comma}{{\"seq\":{},\"received_at\":\"{}\",\"effective_at\":\"{}\",\"author\":\"{}\",\"device\":\"{}\",\
             \"content_hash\":\"",
            row.seq,
            time(row.received_at),
            time(row.effective_at),
            row.author,
            row.device
        );
        for byte in &row.content_hash {
            let _ = write!(out, "{byte:02x}");
        }
        out.push_str("\",\"quarantine\":");
        match &row.quarantine {
            Some(reason) => text(&mut out, reason),
            None => out.push_str("null"),
        }
        let _ = write!(out, ",\"entry\":{}}}", row.body);
    }
    let _ = write!(out, "],\"cursor\":\"{cursor}\",\"more\":{}}}", cursor.seq != head.seq);
    out
}

fn time(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::AutoSi, true)
}

fn text(out: &mut String, text: &str) {
    // Writing text as JSON into memory cannot fail; if it did, an empty text still reads.
    out.push_str(&serde_json::to_string(text).unwrap_or_else(|_| "\"\"".to_owned()));
}

//! What devices are answered besides pushes and pulls: news, first downloads, outboxes that were handed in.

use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::sync::{OpaqueEntry, PullRow, PushResult};

/// What a call that waits for news is told.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct News {
    /// The number of the newest entry.
    pub(crate) head: i64,
    /// Whether there is something to pull.
    pub(crate) moved: bool,
    /// Whether the service ends: come again after a moment, not all at once.
    pub(crate) closing: bool,
}

/// A first download: parts that stay the same.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Snapshot {
    /// The number of the newest entry that is in it.
    pub(crate) seq: i64,
    /// Where to pull from once all parts are there.
    pub(crate) cursor: String,
    /// The parts, in any order good.
    pub(crate) parts: Vec<SnapshotPart>,
}

/// One part of a first download.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SnapshotPart {
    /// Which part, from 1.
    pub(crate) part: i32,
    /// How many states are in it.
    pub(crate) states: i32,
    /// How many bytes it has when unpacked.
    pub(crate) bytes: i32,
    /// SHA-256 of those, in hex.
    pub(crate) sha256: String,
}

/// What stands in a part.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SnapshotStates {
    rows: Vec<PullRow>,
    quarantined: Vec<OpaqueEntry>,
}

/// Something that was refused.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RefusedRow {
    /// Sorts by arrival.
    pub(crate) id: Uuid,
    /// When it arrived.
    pub(crate) received_at: DateTime<Utc>,
    /// The device that sent it.
    pub(crate) device_id: Uuid,
    /// Why it was refused, a fixed word.
    pub(crate) reason: String,
    /// What was sent, cut at 64 KiB.
    pub(crate) sent: String,
}

/// What was refused, the newest first.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RefusedRows {
    /// The newest first.
    pub(crate) items: Vec<RefusedRow>,
    /// What to ask with for older ones; absent at the end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) next: Option<Uuid>,
}

/// What became of an outbox that was handed in.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HandInAnswer {
    /// A cursor: where a reader is who holds everything.
    pub(crate) head: String,
    /// One an entry, in order.
    pub(crate) results: Vec<PushResult>,
}

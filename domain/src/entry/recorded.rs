//! An entry as the ledger has it: who made it where, in which order it is folded, and who knew of whom.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use super::Entry;
use crate::ids::{DeviceId, EntryId, MemberId};

/// An entry with all that the ledger knows about its making: who, on which device, as its how manieth, and when it
/// happened (ID-8). When it was written and when it was received stand beside it in the ledger.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recorded {
    /// Its identity, made by the device.
    pub id: EntryId,
    /// Its number in the operation's ledger.
    pub seq: i64,
    /// The device it was made on.
    pub device: DeviceId,
    /// Who made it.
    pub author: MemberId,
    /// Its number on that device.
    pub device_counter: i64,
    /// The ledger number the device was at.
    pub saw: i64,
    /// When it happened, after a wrong clock was set right.
    pub effective_at: DateTime<Utc>,
    /// Minutes east of UTC where it happened.
    pub utc_offset_min: i16,
    /// What happened.
    pub entry: Entry,
}

/// The total order of the fold (CF-5): by time, then device, then the device's own count, then id.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct OrderKey(DateTime<Utc>, DeviceId, i64, EntryId);

impl Recorded {
    /// Where it stands in the fold.
    #[must_use]
    pub const fn order(&self) -> OrderKey {
        OrderKey(self.effective_at, self.device, self.device_counter, self.id)
    }

    /// The date on the wall where it happened.
    #[must_use]
    pub fn local_date(&self) -> chrono::NaiveDate {
        local_date(self.effective_at, self.utc_offset_min)
    }

    /// What has to be kept of it to tell later whether somebody else had seen it.
    #[must_use]
    pub const fn mark(&self) -> Mark {
        Mark {
            seq: self.seq,
            device: self.device,
            device_counter: self.device_counter,
            saw: self.saw,
        }
    }
}

/// Where an entry stands in the knowledge of the devices.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Mark {
    /// Its number in the ledger.
    pub seq: i64,
    /// The device it was made on.
    pub device: DeviceId,
    /// Its number on that device.
    pub device_counter: i64,
    /// The ledger number the device was at.
    pub saw: i64,
}

impl Mark {
    /// Whether its maker knew of the other entry.
    #[must_use]
    pub fn knew_of(&self, other: &Self) -> bool {
        if self.device == other.device {
            other.device_counter < self.device_counter
        } else {
            other.seq <= self.saw
        }
    }

    /// Whether neither maker knew of the other's entry.
    #[must_use]
    pub fn concurrent_with(&self, other: &Self) -> bool {
        !self.knew_of(other) && !other.knew_of(self)
    }
}

/// The date on the wall, some minutes east of UTC.
#[must_use]
pub fn local_date(at: DateTime<Utc>, utc_offset_min: i16) -> chrono::NaiveDate {
    // A clock at the end of time has no later minute; the date is then that of UTC.
    at.checked_add_signed(chrono::TimeDelta::minutes(i64::from(utc_offset_min)))
        .unwrap_or(at)
        .date_naive()
}

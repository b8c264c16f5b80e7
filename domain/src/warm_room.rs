//! Warm rooms: their air, and which supers are drying in them (DR-2).

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::{Common, FlagCode, Side, state};
use crate::entry::{Entry, entry};
use crate::fold::{Aggregate, Memo, Told};
use crate::form::Form;
use crate::ids::{EntryId, RoomId, SuperId};
use crate::subject::SubjectKind;
use crate::text::Name;
use crate::units::{Percent, Temperature};
use crate::yard::rename;

entry! {
    /// A warm room came into use.
    RoomRegistered = "room_registered" v 1 touches(room_id)
    {
        /// The room.
        room_id: RoomId,
        /// What people call it.
        name: Name,
    }
    optional {}
}

entry! {
    /// A warm room got another name.
    RoomDescribed = "room_described" v 1 touches(room_id) wish DescribeRoom for room_id: RoomId
    {}
    optional {
        /// What people call it.
        name: Name,
    }
}

entry! {
    /// Somebody read the air of a warm room.
    RoomRead = "room_read" v 1 touches(room_id) wish ReadRoom for room_id: RoomId
    {
        /// Temperature of the air, tenths of a degree Celsius.
        air_tenths_c: Temperature,
    }
    optional {
        /// Relative humidity, per cent.
        humidity_percent: Percent,
    }
}

entry! {
    /// Air was sent through supers to take water out of them.
    DryingStarted = "drying_started" v 1 touches(super_ids)
    {
        /// The stack.
        super_ids: Vec<SuperId>,
    }
    optional {
        /// Where.
        room_id: RoomId,
    }
}

entry! {
    /// The drying of supers ended; readings before it no longer count.
    DryingStopped = "drying_stopped" v 1 touches(super_ids)
    {
        /// The stack.
        super_ids: Vec<SuperId>,
    }
    optional {
        /// Where.
        room_id: RoomId,
    }
}

/// The air at one time.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Air {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// Temperature, tenths of a degree Celsius.
    pub air_tenths_c: Temperature,
    /// Relative humidity, per cent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub humidity_percent: Option<Percent>,
}

/// No warm room is hotter (IN).
pub const NO_ROOM_ABOVE: Temperature = Temperature::constant(600);
/// How many readings of the air a room shows; older ones stay in the ledger.
const AIR_SHOWN: usize = 30;

state! {
    /// A heated store before extracting.
    Room {
        /// What people call it.
        #[serde(skip_serializing_if = "Option::is_none")]
        name: Option<Name>,
        /// Earlier names.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        former_names: Vec<Name>,
        /// Its newest readings.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        air: Vec<Air>,
    }
}

impl Aggregate for Room {
    const KIND: SubjectKind = SubjectKind::Room;

    fn apply(&mut self, told: &Told<'_>, _: &mut Memo) {
        match told.entry {
            Entry::RoomRegistered(room) => rename(&mut self.name, &mut self.former_names, Some(&room.name)),
            Entry::RoomDescribed(room) => rename(&mut self.name, &mut self.former_names, room.name.as_ref()),
            Entry::RoomRead(read) => {
                if read.air_tenths_c > NO_ROOM_ABOVE {
                    self.flag(FlagCode::Implausible, [Side::of(told).telling(read.air_tenths_c.get())]);
                }
                self.air.push(Air {
                    entry_id: told.id(),
                    at: told.at(),
                    air_tenths_c: read.air_tenths_c,
                    humidity_percent: read.humidity_percent,
                });
                if self.air.len() > AIR_SHOWN {
                    self.air.remove(0);
                }
            }
            _ => {}
        }
    }

    fn label(&self) -> Option<String> {
        self.name.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        "in_use"
    }
}

//! Moisture readings of anything, and which of them decides (MO-9 to MO-11).
//!
//! The arithmetic from refraction to water is in `science/moisture.rs`.

use chrono::{DateTime, TimeDelta, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::entry::entry;
use crate::fold::Told;
use crate::form::Form;
use crate::ids::{EntryId, MeterId};
use crate::meter::{Found, Meter};
use crate::science::moisture::{Amber, Scale, moisture};
use crate::subject::Subject;
use crate::units::{Brix, Count, Moisture, RefractiveIndex, Temperature};

/// What the meter showed, as it showed it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Shown {
    /// Refractive index, ten-thousandths.
    RefractiveIndexE4(RefractiveIndex),
    /// Degrees Brix, hundredths.
    BrixHundredths(Brix),
    /// Water, hundredths of a per cent.
    MoistureHundredths(Moisture),
    /// Wetter than the scale reaches.
    OffScaleWet,
    /// Drier than the scale reaches.
    OffScaleDry,
}

impl Shown {
    /// The figure on its scale; nothing where the meter was off it.
    #[must_use]
    pub const fn scale(self) -> Option<Scale> {
        match self {
            Self::RefractiveIndexE4(index) => Some(Scale::RefractiveIndex(index)),
            Self::BrixHundredths(brix) => Some(Scale::Brix(brix)),
            Self::MoistureHundredths(water) => Some(Scale::Moisture(water)),
            Self::OffScaleWet | Self::OffScaleDry => None,
        }
    }
}

entry! {
    /// Somebody measured the water in honey.
    MoistureRead = "moisture_read" v 1 touches(targets)
    {
        /// What was measured: a super, several supers of one stack, a run, a fill, a lot.
        targets: Vec<Subject>,
        /// What the meter showed.
        shown: Shown,
    }
    optional {
        /// Temperature of the honey, tenths of a degree Celsius.
        honey_tenths_c: Temperature,
        /// The meter.
        meter_id: MeterId,
        /// Whether that meter corrects for temperature by itself.
        compensated: bool,
        /// In how many places or depths it was taken.
        places: Count,
    }
}

entry! {
    /// The honey in a container or lot was stirred through; readings before it no longer speak for all of it.
    HoneyStirred = "honey_stirred" v 1 touches(target)
    {
        /// What was stirred.
        target: Subject,
    }
    optional {}
}

/// A reading as kept: raw and worked out side by side (MO-6).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Reading {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// What the meter showed.
    pub shown: Shown,
    /// Water at 20 °C, hundredths of a per cent; nothing where the meter was off its scale or showed what honey cannot be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moisture_hundredths: Option<Moisture>,
    /// Temperature of the honey, tenths of a degree Celsius.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub honey_tenths_c: Option<Temperature>,
    /// The meter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub meter_id: Option<MeterId>,
    /// Why it is less sure than it looks.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub amber: Vec<Amber>,
}

impl Reading {
    /// Works a reading out. It is kept whatever it says.
    #[must_use]
    pub fn of(told: &Told<'_>, read: &MoistureRead) -> Self {
        let measured = read
            .shown
            .scale()
            .and_then(|scale| moisture(scale, read.honey_tenths_c, read.compensated).ok());
        Self {
            entry_id: told.id(),
            at: told.at(),
            shown: read.shown,
            moisture_hundredths: measured.as_ref().map(|measured| measured.moisture),
            honey_tenths_c: read.honey_tenths_c,
            meter_id: read.meter_id,
            amber: measured.map(|measured| measured.amber).unwrap_or_default(),
        }
    }

    /// Whether it was a number that honey cannot have.
    #[must_use]
    pub fn cannot_be(&self) -> bool {
        self.moisture_hundredths.is_none() && !matches!(self.shown, Shown::OffScaleWet | Shown::OffScaleDry)
    }
}

/// What is known of the water in some honey.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case", tag = "known")]
pub enum Water {
    /// The highest valid reading since the honey last changed decides (MO-10).
    Measured {
        /// Water, hundredths of a per cent.
        moisture_hundredths: Moisture,
        /// The reading.
        entry_id: EntryId,
        /// When it was taken.
        at: DateTime<Utc>,
        /// When somebody last measured, whatever that showed: by this the reading grows old (MO-11).
        last_at: DateTime<Utc>,
    },
    /// A meter stood beyond its wet end: wetter than any limit, until measured again (CF-4).
    OffScaleWet {
        /// The reading.
        entry_id: EntryId,
        /// When it was taken.
        at: DateTime<Utc>,
    },
    /// Worked out from the parts. A forecast never releases a lot (MO-10).
    Forecast {
        /// Water, hundredths of a per cent.
        moisture_hundredths: Moisture,
    },
    /// Nobody measured.
    Unmeasured,
}

impl Water {
    /// The measured value.
    #[must_use]
    pub const fn measured(&self) -> Option<Moisture> {
        match self {
            Self::Measured {
                moisture_hundredths, ..
            } => Some(*moisture_hundredths),
            _ => None,
        }
    }

    /// The measured or forecast value.
    #[must_use]
    pub const fn value(&self) -> Option<Moisture> {
        match self {
            Self::Measured {
                moisture_hundredths, ..
            }
            | Self::Forecast { moisture_hundredths } => Some(*moisture_hundredths),
            _ => None,
        }
    }

    /// Whether it was measured so long ago that it has to be measured again (MO-11).
    #[must_use]
    pub fn older_than(&self, days: i64, now: DateTime<Utc>) -> bool {
        match self {
            Self::Measured { last_at: at, .. } | Self::OffScaleWet { at, .. } => now - *at > TimeDelta::days(days),
            _ => false,
        }
    }
}

/// Which of the readings since the last change decides (MO-10): the highest valid one, never a mean (CF-11). Readings of a meter that was
/// then found wrong do not count; amber ones do.
#[must_use]
pub fn deciding<'m>(readings: &[Reading], meter: impl Fn(MeterId) -> Option<&'m Meter>) -> Water {
    let counts = |reading: &&Reading| {
        !reading
            .meter_id
            .and_then(&meter)
            .is_some_and(|meter| meter.failed_at(reading.at))
    };
    let valid = || readings.iter().filter(counts);
    if let Some(wet) = valid().find(|reading| reading.shown == Shown::OffScaleWet) {
        return Water::OffScaleWet {
            entry_id: wet.entry_id,
            at: wet.at,
        };
    }
    let water = |reading: &Reading| {
        reading
            .moisture_hundredths
            .map(|water| (water, reading.at, reading.entry_id))
    };
    let last = valid().filter_map(water).map(|(_, at, _)| at).max();
    match valid().filter_map(water).max().zip(last) {
        Some(((moisture_hundredths, at, entry_id), last_at)) => Water::Measured {
            moisture_hundredths,
            entry_id,
            at,
            last_at,
        },
        None => Water::Unmeasured,
    }
}

/// Two readings may lie so far apart and be of one honey: a meter is read to a tenth or two of a point. Our own choice.
const READ_ALIKE: i64 = 30;

/// The driest and the wettest of the valid readings since the honey last changed, where they lie further apart than a
/// meter explains: it may lie in layers. The wetter one decides until somebody stirs it and measures again (CF-11).
#[must_use]
pub fn apart<'m>(readings: &[Reading], meter: impl Fn(MeterId) -> Option<&'m Meter>) -> Option<(Moisture, Moisture)> {
    let failed = |reading: &Reading| {
        let meter = reading.meter_id.and_then(&meter);
        meter.is_some_and(|meter| meter.failed_at(reading.at))
    };
    let valid = readings.iter().filter(|reading| !failed(reading));
    let waters: Vec<Moisture> = valid.filter_map(|reading| reading.moisture_hundredths).collect();
    let (driest, wettest) = (*waters.iter().min()?, *waters.iter().max()?);
    (wettest.get() - driest.get() > READ_ALIKE).then_some((driest, wettest))
}

/// A reading held against the checks of its meter: raw and corrected side by side (MO-7, MO-8).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Judged {
    /// The reading as it was kept.
    pub reading: Reading,
    /// How its meter stood then; nothing where nobody named a meter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub meter: Option<Found>,
    /// What it would have been by the check that found the meter wrong, hundredths of a per cent. It decides nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corrected_hundredths: Option<Moisture>,
}

impl Judged {
    /// Whether it counts for a decision (MO-10): not if its meter was found wrong.
    #[must_use]
    pub fn counts(&self) -> bool {
        self.meter != Some(Found::Wrong)
    }

    /// Whether it is less sure than it looks: by itself, or because its meter was not found right in time.
    #[must_use]
    pub fn is_amber(&self) -> bool {
        !self.reading.amber.is_empty() || self.meter.is_some_and(|found| found != Found::Right)
    }
}

/// Holds a reading against the checks of its meter (MO-8).
#[must_use]
pub fn judged<'m>(reading: &Reading, meter: impl Fn(MeterId) -> Option<&'m Meter>) -> Judged {
    let meter = reading.meter_id.and_then(meter);
    Judged {
        reading: reading.clone(),
        // A meter that nobody registered was never checked either.
        meter: reading
            .meter_id
            .map(|_| meter.map_or(Found::Unchecked, |meter| meter.found_at(reading.at))),
        corrected_hundredths: meter
            .zip(reading.moisture_hundredths)
            .and_then(|(meter, shown)| meter.corrected(reading.at, shown)),
    }
}

/// The same, where no meter is known to have failed.
#[must_use]
pub fn deciding_unchecked(readings: &[Reading]) -> Water {
    deciding(readings, |_| None)
}

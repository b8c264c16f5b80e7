//! Values that are out of the usual, and the way to record them all the same (IN).

use chrono::{DateTime, TimeDelta, Utc};

use crate::content::{HoneyCounted, SCALE_DIFFERENCE_G};
use crate::decide::{Case, Refused, Warning, kg, refused};
use crate::fill::FillSettled;
use crate::honey_super::{SuperRegistered, Whereabouts};
use crate::lot::Lot;
use crate::meter::Found;
use crate::moisture::{Water, deciding, judged};
use crate::science::moisture::Amber;
use crate::subject::Subject;
use crate::text::Name;
use crate::units::{Days, Percent};
use crate::warm_room::{NO_ROOM_ABOVE, RoomRead};
use crate::weighing::booked_otherwise_g;

/// Above this the air of a warm room harms honey, tenths of a degree Celsius (DR-2, IN).
const WARM_TENTHS_C: i64 = 350;
/// Above this the air dries nothing, per cent (DR-2, IN).
const HUMID_PERCENT: i64 = 58;
/// Longer or shorter than this is unusual for settling, days (IN).
const SKIM_DAYS: std::ops::RangeInclusive<i64> = 1..=21;
/// A happening told later than this deserves a question, days (IN).
const LONG_AGO_DAYS: i64 = 14;
/// A happening may lie this far ahead of the clock that judges it, minutes (IN).
pub const AHEAD_MIN: i64 = 10;

impl Refused {
    /// Whether it may be recorded all the same, as doubtful: a value out of the table of inputs, which nobody but the
    /// person at the scale can judge (IN, WT-4, MO-4). What contradicts the book or safety may not.
    #[must_use]
    pub fn may_be_recorded(&self) -> bool {
        matches!(self.rule, "IN" | "WT-4" | "MO-4") && self.code != "too_wet"
    }

    /// The warning it becomes when it is recorded all the same. The fold flags the value as implausible.
    #[must_use]
    pub fn recorded_anyway(self) -> Warning {
        Warning {
            code: self.code,
            detail: format!("recorded as doubtful: {}", self.detail),
            rule: self.rule,
        }
    }
}

/// Whether a happening can lie at a time: a question after two weeks, a refusal ten minutes ahead (IN).
///
/// # Errors
/// [`Refused`] when it has not come yet.
pub fn happened(at: DateTime<Utc>, now: DateTime<Utc>) -> Result<Option<Warning>, Refused> {
    if at > now + TimeDelta::minutes(AHEAD_MIN) {
        return Err(Refused {
            code: "not_yet",
            detail: format!("{at} has not come yet"),
            rule: "IN",
        });
    }
    Ok((now - at > TimeDelta::days(LONG_AGO_DAYS)).then(|| Warning {
        code: "long_ago",
        detail: format!(
            "{} is over {LONG_AGO_DAYS} days ago: is the date right?",
            at.date_naive()
        ),
        rule: "IN",
    }))
}

pub(super) fn read_room(case: &mut Case<'_>, read: &RoomRead) -> Result<(), Refused> {
    case.known(read.room_id)?;
    let air = read.air_tenths_c.get();
    let degrees = format!("{}.{} °C", air / 10, (air % 10).abs());
    if read.air_tenths_c > NO_ROOM_ABOVE {
        let detail = format!("{degrees} is no air of a warm room; look at the thermometer again");
        return Err(refused("impossible_temperature", "IN", detail));
    }
    if air > WARM_TENTHS_C {
        let detail = format!("{degrees} harms honey: turn the heat down and look at the combs");
        case.warn("room_too_warm", "DR-2", detail);
    }
    let humid = read
        .humidity_percent
        .map(Percent::get)
        .filter(|humid| *humid > HUMID_PERCENT);
    if let Some(humid) = humid {
        let detail = format!("at {humid} % humidity honey takes water up instead of giving it off");
        case.warn("room_too_humid", "DR-2", detail);
    }
    Ok(())
}

pub(super) fn skim_days(case: &mut Case<'_>, settled: &FillSettled) {
    let days = settled.days.map(Days::get).filter(|days| !SKIM_DAYS.contains(days));
    if let Some(days) = days {
        case.warn("unusual_settling", "IN", format!("{days} days of settling are unusual"));
    }
}

/// The number on a box is not unique until proved (ID-2): said once, and both keep their history.
pub(super) fn register_super(case: &mut Case<'_>, new: &SuperRegistered) -> Result<(), Refused> {
    case.not_yet(new.super_id)?;
    number_free(case, new.super_id.into(), &new.number);
    Ok(())
}

fn number_free(case: &mut Case<'_>, about: Subject, number: &Name) {
    let same = |other: &Name| other.to_string().eq_ignore_ascii_case(&number.to_string());
    let taken = case.house.supers().any(|(id, state)| {
        Subject::from(id) != about && state.whereabouts != Whereabouts::Ended && state.number.as_ref().is_some_and(same)
    });
    if taken {
        let detail = format!("another box bears the number {number}: paint a suffix on one and describe it so");
        case.warn("number_taken", "ID-2", detail);
    }
}

/// A count never overwrites; where it differs it should say why (MB-7).
pub(super) fn count_honey(case: &mut Case<'_>, counted: &HoneyCounted) -> Result<(), Refused> {
    case.known(counted.target)?;
    let Some(book) = content_g(case, counted.target) else {
        let detail = format!("honey is in a fill or a lot, not in a {}", counted.target.kind.name());
        return Err(refused("not_honey", "ST-11", detail));
    };
    let difference = counted.content_g.get() - book;
    if difference.abs() > SCALE_DIFFERENCE_G && counted.reason.is_none() {
        let detail = format!(
            "{} is {} by the book and {} on the scale: say why",
            case.label(counted.target),
            kg(book),
            kg(counted.content_g.get())
        );
        case.warn("content_differs", "MB-7", detail);
    }
    Ok(())
}

/// Honey in a fill or lot by the weighing that counts (CF-10).
pub(super) fn content_g(case: &Case<'_>, of: Subject) -> Option<i64> {
    match (of.as_fill(), of.as_lot()) {
        (Some(id), _) => case
            .house
            .fill(id)
            .map(|fill| fill.content_g + booked_otherwise_g(case.house, id)),
        (_, Some(id)) => case.house.lot(id).map(|lot| lot.content_g),
        _ => None,
    }
}

/// The reading that decides may be less sure than it looks: the honey too cold or too warm, the meter not checked for
/// a week (MO-7, MO-8). It counts all the same (MO-10).
pub(super) fn warn_of_amber(case: &mut Case<'_>, lot: &Lot) {
    let Water::Measured { entry_id, .. } = deciding(&lot.readings, |id| case.house.meter(id)) else {
        return;
    };
    let deciding = lot.readings.iter().find(|reading| reading.entry_id == entry_id);
    let Some(judged) = deciding.map(|reading| judged(reading, |id| case.house.meter(id))) else {
        return;
    };
    let why = match judged.meter {
        Some(Found::TooLongAgo) => Some("its meter was not checked for a week"),
        Some(Found::Unchecked) => Some("its meter was never checked"),
        _ if judged.reading.amber.contains(&Amber::HoneyTemperature) => Some("the honey was too cold or too warm"),
        _ => None,
    };
    if let Some(why) = why {
        let detail = format!("the deciding reading is less sure than it looks because {why}: measure again if you can");
        case.warn("amber_reading", "MO-8", detail);
    }
}

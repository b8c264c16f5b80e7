//! The diary of the demo: who told what at which time, and the dice that make boxes and combs differ.
//!
//! The dice are seeded, so that every demo holds the same harvest; only the identities are new each time.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::entry::Entry;
use domain::ids::MeterId;
use domain::lot_code::LotCodeRefused;
use domain::moisture::{MoistureRead, Shown};
use domain::science::moisture::refractive_index_at_20;
use domain::subject::Subject;
use domain::text::{Name, Text, TextRefused};
use domain::units::{Count, Grams, Moisture, OutOfRange, RefractiveIndex, Temperature};

/// The year of the harvest.
pub(super) const YEAR: i32 = 2025;
/// All of it happens in summer time, two hours east of UTC.
pub(super) const OFFSET_MIN: i16 = 120;

/// The people, each with one phone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Person {
    /// The owner; phone M.
    Maren,
    /// Yards and extraction; phone T.
    Tobiah,
    /// Yards; phone I.
    Ilse,
    /// Bottling, market and office; phone R.
    Rook,
}

/// Something in the plan that the domain does not take; a mistake in the demo itself.
#[derive(Debug, thiserror::Error)]
pub enum PlanRefused {
    /// A name or a remark.
    #[error(transparent)]
    Text(#[from] TextRefused),
    /// A quantity.
    #[error(transparent)]
    Quantity(#[from] OutOfRange),
    /// A code.
    #[error(transparent)]
    Code(#[from] LotCodeRefused),
    /// A run that needs more containers than there are.
    #[error("a run of the demo has too few containers")]
    TooFewVessels,
}

/// One thing that one person told.
#[derive(Clone, Debug)]
pub(super) struct Told {
    pub(super) by: Person,
    pub(super) at: DateTime<Utc>,
    pub(super) what: Entry,
}

/// Everything that was told, in the order in which it is written here.
#[derive(Debug, Default)]
pub(super) struct Diary {
    pub(super) told: Vec<Told>,
}

impl Diary {
    /// Writes down one thing.
    pub(super) fn tell(&mut self, by: Person, at: DateTime<Utc>, what: impl Into<Entry>) {
        let what = what.into();
        self.told.push(Told { by, at, what });
    }

    /// Writes down what a refractometer without compensation showed at some temperature of the honey.
    pub(super) fn read(
        &mut self,
        by: Person,
        at: DateTime<Utc>,
        targets: Vec<Subject>,
        reading: Glance,
    ) -> Result<(), PlanRefused> {
        let warmer = reading.honey_tenths_c - 200;
        // 0.00023 of index a degree (honey-science, section 1), to the nearest of the scale's last digit.
        let shift = (23 * warmer + 50 * warmer.signum()) / 100;
        let index = refractive_index_at_20(Moisture::new(reading.water_hundredths)?).get() - shift;
        let read = MoistureRead {
            targets,
            shown: Shown::RefractiveIndexE4(RefractiveIndex::new(index)?),
            honey_tenths_c: Some(Temperature::new(reading.honey_tenths_c)?),
            meter_id: Some(reading.meter),
            compensated: Some(false),
            places: None,
        };
        self.tell(by, at, read);
        Ok(())
    }
}

/// One look through the refractometer.
#[derive(Clone, Copy, Debug)]
pub(super) struct Glance {
    pub(super) meter: MeterId,
    pub(super) water_hundredths: i64,
    pub(super) honey_tenths_c: i64,
}

/// A day of the harvest's year.
pub(super) fn day(month: u32, day: u32) -> NaiveDate {
    // A day that does not exist would fall out of the year, which a test looks for.
    NaiveDate::from_ymd_opt(YEAR, month, day).unwrap_or_default()
}

/// A time on the wall, given in hours and minutes of a day.
pub(super) fn at(date: NaiveDate, hour: i64, minute: i64) -> DateTime<Utc> {
    let midnight = date.and_time(chrono::NaiveTime::MIN).and_utc();
    midnight + TimeDelta::minutes(60 * hour + minute - i64::from(OFFSET_MIN))
}

pub(super) fn name(text: &str) -> Result<Name, PlanRefused> {
    Ok(Name::new(text)?)
}

pub(super) fn text(text: &str) -> Result<Text, PlanRefused> {
    Ok(Text::new(text)?)
}

pub(super) fn grams(grams: i64) -> Result<Grams, PlanRefused> {
    Ok(Grams::new(grams)?)
}

pub(super) fn count(count: i64) -> Result<Count, PlanRefused> {
    Ok(Count::new(count)?)
}

/// A small seeded generator: splitmix64.
#[derive(Debug)]
pub(super) struct Dice(u64);

impl Dice {
    pub(super) const fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// From `low` to `high`, both included. The slight favour of a remainder does not matter here.
    pub(super) fn between(&mut self, low: i64, high: i64) -> i64 {
        let span = (high - low + 1).max(1).unsigned_abs();
        low + i64::try_from(self.next() % span).unwrap_or(0)
    }

    /// Puts things into another order.
    pub(super) fn shuffle<T>(&mut self, things: &mut [T]) {
        for last in (1..things.len()).rev() {
            let other = usize::try_from(self.next() % (last as u64 + 1)).unwrap_or(0);
            things.swap(last, other);
        }
    }
}

/// To the nearest step of a scale.
pub(super) const fn to_step(grams: i64, step: i64) -> i64 {
    (grams + step / 2) / step * step
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_dice_fall_the_same_every_time() {
        // The first output of splitmix64 from zero, as published with the generator.
        assert_eq!(Dice::new(0).next(), 0xE220_A839_7B1D_CDAF);
        let (mut one, mut other) = (Dice::new(7), Dice::new(7));
        for _ in 0..100 {
            let fallen = one.between(-3, 3);
            assert!((-3..=3).contains(&fallen));
            assert_eq!(fallen, other.between(-3, 3));
        }
    }

    #[test]
    fn a_time_on_the_wall_is_two_hours_east() {
        assert_eq!(at(day(6, 26), 8, 30).to_rfc3339(), "2025-06-26T06:30:00+00:00");
    }
}

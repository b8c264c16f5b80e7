//! The diary of the demo: who told what at which time, and the dice that make boxes and combs differ.
//!
//! The dice are seeded and make the identities too, so that one seed is one business down to the last entry.

use chrono::{DateTime, Datelike, NaiveDate, TimeDelta, Utc, Weekday};
use domain::entry::Entry;
use domain::ids::{EntryId, MeterId};
use domain::lot_code::LotCodeRefused;
use domain::moisture::{MoistureRead, Shown};
use domain::science::moisture::refractive_index_at_20;
use domain::subject::Subject;
use domain::text::{Name, Text, TextRefused};
use domain::units::{Count, Grams, Moisture, OutOfRange, RefractiveIndex, Temperature};

use uuid::Uuid;

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
    #[error("a run of the demo has too few containers for {run}")]
    TooFewVessels {
        /// Which run.
        run: String,
    },
    /// More supers are needed at a time than there are.
    #[error("the demo has too few supers on {on}")]
    TooFewSupers {
        /// When.
        on: NaiveDate,
    },
    /// Something that the plan names is not in it.
    #[error("the demo names {what}, which is not in it")]
    NotThere {
        /// What.
        what: String,
    },
}

/// One thing that one person told.
#[derive(Clone, Debug)]
pub(super) struct Told {
    pub(super) id: EntryId,
    pub(super) by: Person,
    /// When it happened.
    pub(super) at: DateTime<Utc>,
    /// When it was written down.
    pub(super) written_at: DateTime<Utc>,
    pub(super) what: Entry,
}

/// Everything that was told, in the order in which it is written here.
#[derive(Debug)]
pub(super) struct Diary {
    pub(super) told: Vec<Told>,
    ids: Dice,
}

impl Diary {
    /// An empty one, whose identities follow from a number.
    pub(super) const fn new(seed: u64) -> Self {
        Self {
            told: Vec::new(),
            ids: Dice::new(!seed),
        }
    }

    /// A new identity.
    pub(super) fn id(&mut self) -> Uuid {
        let (high, low) = (self.ids.next(), self.ids.next());
        uuid::Builder::from_random_bytes(((u128::from(high) << 64) | u128::from(low)).to_be_bytes()).into_uuid()
    }

    /// Writes down one thing; answers the identity of the entry.
    pub(super) fn tell(&mut self, by: Person, at: DateTime<Utc>, what: impl Into<Entry>) -> EntryId {
        self.tell_late(by, at, at, what)
    }

    /// Writes down one thing long after it happened.
    pub(super) fn tell_late(
        &mut self,
        by: Person,
        at: DateTime<Utc>,
        written_at: DateTime<Utc>,
        what: impl Into<Entry>,
    ) -> EntryId {
        let id = EntryId::from_uuid(self.id());
        self.told.push(Told {
            id,
            by,
            at,
            written_at,
            what: what.into(),
        });
        id
    }

    /// Writes down what a refractometer without compensation showed at some temperature of the honey.
    pub(super) fn read(
        &mut self,
        by: Person,
        at: DateTime<Utc>,
        targets: Vec<Subject>,
        reading: Glance,
    ) -> Result<EntryId, PlanRefused> {
        let shown = reading.water + if meter_is_wrong(at) { METER_OFF } else { 0 };
        let warmer = reading.honey_tenths_c - 200;
        // 0.00023 of index a degree (honey-science, section 1), to the nearest of the scale's last digit.
        let shift = (23 * warmer + 50 * warmer.signum()) / 100;
        let index = refractive_index_at_20(Moisture::new(shown)?).get() - shift;
        let read = MoistureRead {
            targets,
            shown: Shown::RefractiveIndexE4(RefractiveIndex::new(index)?),
            honey_tenths_c: Some(Temperature::new(reading.honey_tenths_c)?),
            meter_id: Some(reading.meter),
            compensated: Some(false),
            places: None,
        };
        Ok(self.tell(by, at, read))
    }
}

/// What the meter shows too much while it is wrong, hundredths of a point.
pub(super) const METER_OFF: i64 = 80;

/// Whether the meter is wrong, which the check of 22 July 2024 finds.
pub(super) fn meter_is_wrong(when: DateTime<Utc>) -> bool {
    (at(day(2024, (7, 1)), 12, 0)..at(day(2024, (7, 22)), 9, 0)).contains(&when)
}

/// One look through the refractometer.
#[derive(Clone, Copy, Debug)]
pub(super) struct Glance {
    pub(super) meter: MeterId,
    /// Water that is in it, hundredths of a per cent.
    pub(super) water: i64,
    pub(super) honey_tenths_c: i64,
}

/// A day.
pub(super) fn day(year: i32, (month, day): (u32, u32)) -> NaiveDate {
    // A day that does not exist would fall out of all years, which a test looks for.
    NaiveDate::from_ymd_opt(year, month, day).unwrap_or_default()
}

/// Minutes east of UTC on a day: two hours between the last Sundays of March and October, else one.
pub(super) fn offset_min(date: NaiveDate) -> i16 {
    let last_sunday = |month: u32| {
        (25..=31)
            .filter_map(|day| NaiveDate::from_ymd_opt(date.year(), month, day))
            .find(|day| day.weekday() == Weekday::Sun)
            .unwrap_or_default()
    };
    if (last_sunday(3)..last_sunday(10)).contains(&date) {
        120
    } else {
        60
    }
}

/// A time on the wall, given in hours and minutes of a day.
pub(super) fn at(date: NaiveDate, hour: i64, minute: i64) -> DateTime<Utc> {
    let midnight = date.and_time(chrono::NaiveTime::MIN).and_utc();
    midnight + TimeDelta::minutes(60 * hour + minute - i64::from(offset_min(date)))
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

    /// From 0 up to, but not including, 1.
    #[allow(clippy::cast_precision_loss, reason = "53 bits are exact")]
    pub(super) fn part(&mut self) -> f64 {
        (self.next() >> 11) as f64 / 9_007_199_254_740_992.0
    }

    /// A deviate of the standard normal distribution (G. Box and M. Muller, 1958).
    pub(super) fn normal(&mut self) -> f64 {
        let (radius, turn) = (1.0 - self.part(), self.part());
        (-2.0 * radius.ln()).sqrt() * (std::f64::consts::TAU * turn).cos()
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
    fn a_time_on_the_wall_is_two_hours_east_in_summer_and_one_in_winter() {
        assert_eq!(at(day(2025, (6, 26)), 8, 30).to_rfc3339(), "2025-06-26T06:30:00+00:00");
        assert_eq!(at(day(2025, (1, 26)), 8, 30).to_rfc3339(), "2025-01-26T07:30:00+00:00");
        assert_eq!(
            (offset_min(day(2025, (3, 29))), offset_min(day(2025, (3, 30)))),
            (60, 120)
        );
    }

    #[test]
    fn normal_dice_have_mean_nought_and_deviation_one() {
        let mut dice = Dice::new(1);
        let drawn: Vec<f64> = (0..20_000).map(|_| dice.normal()).collect();
        let mean = drawn.iter().sum::<f64>() / 20_000.0;
        let variance = drawn.iter().map(|z| (z - mean).powi(2)).sum::<f64>() / 20_000.0;
        assert!(mean.abs() < 0.03 && (variance - 1.0).abs() < 0.05, "{mean} {variance}");
    }
}

//! The two harvests of the demo: supers put on, taken off, weighed, measured and dried.
//!
//! The weights are made so that the shares by weighing come out as planned, to the tenth of a kilogram: a super's
//! net is its planned share of the pot, raised by what the run loses on the way, to the step of the scale. That is
//! off by at most 25 g, and shares are rounded to 100 g, so that the rounding always finds the plan again.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::allocation::largest_remainder;
use domain::honey_super::{Comb, SuperLoaded, SuperPlaced, SuperPulled, SuperReceived};
use domain::ids::{HiveId, SuperId, YardId};
use domain::meter::MeterChecked;
use domain::subject::Subject;
use domain::units::{Percent, Quarters, Temperature};
use domain::warm_room::{DryingStarted, DryingStopped, RoomRead};

use super::diary::{Diary, Dice, Glance, Person, PlanRefused, at, grams, to_step};
use super::places::{BoxAt, Places, YardAt};

/// The supers of one yard in one run.
pub(super) struct Crop<'a> {
    pub(super) yard: &'a YardAt,
    pub(super) boxes: &'a [BoxAt],
    /// What the yard gives to the pot.
    pub(super) pot_g: i64,
    pub(super) placed_on: NaiveDate,
    /// When the bearer begins to take off.
    pub(super) pulled_at: DateTime<Utc>,
}

/// One run as it is planned.
pub(super) struct RunPlan<'a> {
    pub(super) crops: Vec<Crop<'a>>,
    /// Water of the supers: mean and spread, hundredths of a per cent.
    pub(super) water: (i64, i64),
    /// The wettest supers that are dried, and the water of their stack afterwards.
    pub(super) dried: Option<(usize, i64)>,
    pub(super) received_at: DateTime<Utc>,
    pub(super) received_by: Person,
    pub(super) read_at: DateTime<Utc>,
    pub(super) run_on: NaiveDate,
}

/// A super on its way into a run.
#[derive(Clone, Debug)]
pub(super) struct Full {
    pub(super) id: SuperId,
    pub(super) hive: HiveId,
    yard: YardId,
    tare_g: i64,
    /// What it is to give to the pot.
    share_g: i64,
    pub(super) wet_g: i64,
    pub(super) gross_g: i64,
    water_hundredths: i64,
}

impl Full {
    pub(super) const fn net_g(&self) -> i64 {
        self.gross_g - self.wet_g
    }
}

/// Hundredths of a per cent of the net that do not reach the pot.
#[derive(Clone, Copy, Debug)]
pub(super) struct Losses;

impl Losses {
    pub(super) const CAPPINGS_HONEY: i64 = 700;
    pub(super) const WAX: i64 = 130;
    pub(super) const MACHINE: i64 = 100;
    pub(super) const SAMPLES: i64 = 15;
    const UNEXPLAINED: i64 = 80;
}

/// Plans and tells a harvest up to the door of the extractor.
pub(super) fn bring_in(
    diary: &mut Diary,
    dice: &mut Dice,
    places: &Places,
    plan: &RunPlan<'_>,
) -> Result<Vec<Full>, PlanRefused> {
    let mut supers = Vec::new();
    for crop in &plan.crops {
        supers.extend(share_out(dice, crop));
    }
    give_water(dice, &mut supers, plan.water);
    weigh(dice, &mut supers, plan.dried);
    let mut from = 0;
    for crop in &plan.crops {
        let of_crop = supers.get(from..from + crop.boxes.len()).unwrap_or_default();
        place(diary, crop, of_crop);
        take_off(diary, dice, crop, of_crop)?;
        from += crop.boxes.len();
    }
    receive(diary, places, plan, &supers)?;
    measure(diary, places, plan, &supers)?;
    Ok(supers)
}

/// Spreads a yard's supers over its hives and its pot over its supers. One hive gets none: its bees swarmed.
fn share_out(dice: &mut Dice, crop: &Crop<'_>) -> Vec<Full> {
    let mut hives = crop.yard.hives.clone();
    dice.shuffle(&mut hives);
    hives.pop();
    let weights: Vec<u64> = (0..crop.boxes.len())
        .map(|at| {
            let line = hives.get(at % hives.len().max(1)).map_or(100, |hive| hive.line_percent);
            (line * dice.between(82, 118)).unsigned_abs()
        })
        .collect();
    let steps = largest_remainder((crop.pot_g / 100).unsigned_abs(), &weights);
    let hives = hives.iter().cycle();
    let boxes = crop.boxes.iter().zip(steps).zip(hives);
    boxes
        .map(|((of, steps), hive)| Full {
            id: of.id,
            hive: hive.id,
            yard: crop.yard.id,
            tare_g: of.tare_g,
            share_g: i64::try_from(steps).unwrap_or(0) * 100,
            wet_g: 0,
            gross_g: 0,
            water_hundredths: 0,
        })
        .collect()
}

/// The waters of a normal spread, taken at even steps, so that mean and spread come out whatever the dice say.
fn give_water(dice: &mut Dice, supers: &mut [Full], (mean, spread): (i64, i64)) {
    let count = supers.len().max(1) as f64;
    let step = |at: usize| (at as f64 + 0.5) / count;
    // Tukey's approximation of the normal quantile, within 1 % over the range needed here.
    let quantile = |p: f64| (p.powf(0.1349) - (1.0 - p).powf(0.1349)) / 0.1975;
    #[allow(clippy::cast_possible_truncation)]
    let mut waters: Vec<i64> = (0..supers.len())
        .map(|at| mean + (quantile(step(at)) * spread as f64).round() as i64)
        .collect();
    dice.shuffle(&mut waters);
    for (of, water) in supers.iter_mut().zip(waters) {
        of.water_hundredths = water;
    }
}

/// The wettest supers, wettest first.
fn wettest(supers: &[Full], how_many: usize) -> Vec<&Full> {
    let mut sorted: Vec<&Full> = supers.iter().collect();
    sorted.sort_by_key(|of| -of.water_hundredths);
    sorted.truncate(how_many);
    sorted
}

/// Gives each super the weights that lead to its share.
fn weigh(dice: &mut Dice, supers: &mut [Full], dried: Option<(usize, i64)>) {
    let pot_g: i64 = supers.iter().map(|of| of.share_g).sum();
    // Water that the air takes leaves the net too, in parts of ten thousand.
    let water_off: i64 = dried.map_or(0, |(how_many, after)| {
        let off = |of: &&Full| of.share_g * (of.water_hundredths - after) / (10_000 - after);
        wettest(supers, how_many).iter().map(off).sum::<i64>() * 10_000 / pot_g.max(1)
    });
    let lost = Losses::WAX + Losses::MACHINE + Losses::SAMPLES + Losses::UNEXPLAINED + water_off;
    for of in supers {
        let net_g = to_step(of.share_g * 10_000 / (10_000 - lost), 50);
        of.wet_g = of.tare_g + 50 * dice.between(7, 12);
        of.gross_g = of.wet_g + net_g;
    }
}

fn place(diary: &mut Diary, crop: &Crop<'_>, supers: &[Full]) {
    for (minute, of) in (0..).zip(supers) {
        let placed = SuperPlaced {
            super_id: of.id,
            hive_id: of.hive,
            comb: Some(Comb::Drawn),
        };
        diary.tell(crop.yard.keeper, at(crop.placed_on, 10, 3 * minute), placed);
    }
}

/// Pulled with a look at the caps, then loaded.
fn take_off(diary: &mut Diary, dice: &mut Dice, crop: &Crop<'_>, supers: &[Full]) -> Result<(), PlanRefused> {
    for (at_super, of) in (0..).zip(supers) {
        let when = crop.pulled_at + TimeDelta::minutes(4 * at_super);
        let sealed = 96 - (of.water_hundredths - 1_600) / 12 + dice.between(-4, 4);
        let quarters = match of.share_g {
            11_000.. => 4,
            8_000.. => 3,
            _ => 2,
        };
        let pulled = SuperPulled {
            super_id: of.id,
            hive_id: Some(of.hive),
            fullness_quarters: Some(Quarters::new(quarters)?),
            full_frames: None,
            capped_percent: Some(Percent::new(sealed.clamp(55, 100))?),
            brood_seen: Some(false),
        };
        diary.tell(crop.yard.keeper, when, pulled);
        let yard_id = Some(of.yard);
        let loaded = SuperLoaded {
            super_id: of.id,
            yard_id,
        };
        diary.tell(crop.yard.keeper, when + TimeDelta::minutes(2), loaded);
    }
    Ok(())
}

fn receive(diary: &mut Diary, places: &Places, plan: &RunPlan<'_>, supers: &[Full]) -> Result<(), PlanRefused> {
    for (at_super, of) in (0..).zip(supers) {
        let received = SuperReceived {
            super_id: of.id,
            gross_g: Some(grams(of.gross_g)?),
            scale_id: Some(places.scale),
        };
        let when = plan.received_at + TimeDelta::minutes(2 * at_super);
        diary.tell(plan.received_by, when, received);
    }
    Ok(())
}

/// The meter is checked, every super measured, the wet stack dried and measured again; the room is read meanwhile.
fn measure(diary: &mut Diary, places: &Places, plan: &RunPlan<'_>, supers: &[Full]) -> Result<(), PlanRefused> {
    let checked = MeterChecked {
        meter_id: places.meter,
        passed: true,
        offset_hundredths: Some(0),
    };
    diary.tell(Person::Tobiah, plan.read_at - TimeDelta::minutes(10), checked);
    for (at_super, of) in (0..).zip(supers) {
        let when = plan.read_at + TimeDelta::minutes(2 * at_super);
        let glance = Glance {
            meter: places.meter,
            water_hundredths: of.water_hundredths,
            honey_tenths_c: 236 + at_super % 5 * 4,
        };
        diary.read(Person::Tobiah, when, vec![of.id.into()], glance)?;
    }
    room(diary, places, plan)?;
    match plan.dried {
        Some((how_many, after)) => dry(diary, places, plan, (&wettest(supers, how_many), after)),
        None => Ok(()),
    }
}

/// Air of the warm room, morning and evening until the run.
fn room(diary: &mut Diary, places: &Places, plan: &RunPlan<'_>) -> Result<(), PlanRefused> {
    let mut when = plan.received_at + TimeDelta::hours(1);
    let mut hours = 0;
    while when < at(plan.run_on, 7, 0) {
        let read = RoomRead {
            room_id: places.room,
            air_tenths_c: Temperature::new(318 + hours % 7)?,
            humidity_percent: Some(Percent::new((58 - hours / 3).max(44))?),
        };
        diary.tell(plan.received_by, when, read);
        when += TimeDelta::hours(12);
        hours += 12;
    }
    Ok(())
}

/// Warm dry air for 48 hours; the stack is then measured as one.
fn dry(
    diary: &mut Diary,
    places: &Places,
    plan: &RunPlan<'_>,
    (stack, after): (&[&Full], i64),
) -> Result<(), PlanRefused> {
    let super_ids: Vec<SuperId> = stack.iter().map(|of| of.id).collect();
    let targets: Vec<Subject> = super_ids.iter().map(|id| Subject::from(*id)).collect();
    let room_id = Some(places.room);
    let from = plan.read_at + TimeDelta::hours(3);
    let until = from + TimeDelta::hours(48);
    let started = DryingStarted {
        super_ids: super_ids.clone(),
        room_id,
    };
    diary.tell(Person::Tobiah, from, started);
    diary.tell(Person::Tobiah, until, DryingStopped { super_ids, room_id });
    let glance = Glance {
        meter: places.meter,
        water_hundredths: after,
        honey_tenths_c: 288,
    };
    diary.read(Person::Tobiah, until + TimeDelta::minutes(30), targets, glance)
}

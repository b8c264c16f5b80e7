//! The supers of a run up to the door of the extractor: put on, taken off, weighed, measured and dried.
//!
//! The weights are made so that the shares by weighing come out as planned, to the tenth of a kilogram: a super's
//! net is its planned share of the pot, raised by what the run loses on the way, to the step of the scale. That is
//! off by at most 25 g, and shares are rounded to 100 g, so that the rounding always finds the plan again.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::honey_super::{Comb, SuperLoaded, SuperPlaced, SuperPulled, SuperReceived};
use domain::ids::{HiveId, SuperId, YardId};
use domain::meter::MeterChecked;
use domain::subject::Subject;
use domain::units::{Percent, Quarters, Temperature};
use domain::warm_room::{DryingStarted, DryingStopped, RoomRead};

use super::diary::{Diary, Dice, Glance, Person, PlanRefused, at, day, grams, meter_is_wrong, to_step};
use super::figures::{FromYard, QUI, RunRow, YARDS};
use super::incidents::{Pin, Quirk, pins};
use super::places::{Places, not_there};
use super::supers::{Slot, insist, rob};

/// A super on its way into a run.
#[derive(Clone, Debug)]
pub(super) struct Full {
    pub(super) id: SuperId,
    hive: HiveId,
    yard: YardId,
    keeper: Person,
    placed_on: NaiveDate,
    /// Something is told of it elsewhere.
    pub(super) quirk: Option<Quirk>,
    tare_g: i64,
    /// What it is to give to the pot.
    share_g: i64,
    pub(super) wet_g: i64,
    pub(super) gross_g: i64,
    water: i64,
}

impl Full {
    pub(super) const fn net_g(&self) -> i64 {
        self.gross_g - self.wet_g
    }
}

/// When the supers of a run come in.
#[derive(Clone, Copy, Debug)]
pub(super) struct Times {
    pub(super) run_on: NaiveDate,
    pub(super) pulled_at: DateTime<Utc>,
    pub(super) received_at: DateTime<Utc>,
    pub(super) read_at: DateTime<Utc>,
    pub(super) spun_at: DateTime<Utc>,
}

impl Times {
    pub(super) fn of(year: i32, run: &RunRow) -> Self {
        let on = day(year, run.on);
        // The first run of a year is spun on the day of the pull; what is dried comes in earlier.
        let (before, first_hour) = match (run.name, run.dried) {
            ("R1", _) => (0, 5),
            // Taken off before the hives came back from the moor.
            ("R6a", _) => (7, 9),
            (_, Some(_)) => (4, 9),
            _ => (2, 9),
        };
        let came = on - TimeDelta::days(before);
        Self {
            run_on: on,
            pulled_at: at(came, first_hour, 0),
            received_at: at(came, first_hour + 4, 0),
            read_at: at(came, first_hour + 5, 0),
            spun_at: match run.name {
                "R1" => at(on, 12, 0),
                "R6b" => at(on, 13, 0),
                _ => at(on, 8, 0),
            },
        }
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

    /// What nobody can explain: around 0.8 % of the net with a deviation of 0.5.
    fn unexplained(dice: &mut Dice) -> i64 {
        #[allow(clippy::cast_possible_truncation, reason = "a few hundredths")]
        let drawn = (80.0 + 50.0 * dice.normal().clamp(-2.0, 2.0)).round() as i64;
        drawn
    }
}

/// Plans and tells a harvest up to the door of the extractor.
pub(super) fn bring_in(
    diary: &mut Diary,
    dice: &mut Dice,
    places: &mut Places,
    (year, run, slots): (i32, &RunRow, &[Vec<Slot>]),
) -> Result<Vec<Full>, PlanRefused> {
    let times = Times::of(year, run);
    let mut supers = Vec::new();
    for (from, slots) in run.from.iter().zip(slots) {
        let mut of_yard = boxed(places, (year, run, from), slots.clone())?;
        give_water(dice, &mut of_yard, from.water);
        supers.extend(of_yard);
    }
    weigh(dice, &mut supers, run.dried);
    for of in &supers {
        let told_elsewhere = of.quirk.is_some_and(Quirk::is_placed_elsewhere);
        if !told_elsewhere {
            place(diary, of, &supers);
        }
    }
    take_off(diary, dice, &times, &supers)?;
    receive(diary, places, &times, &supers)?;
    measure(diary, places, (&times, run.dried), &supers)?;
    Ok(supers)
}

/// Finds a box for every filling: the one that was free last, so that boxes are used again within a season.
fn boxed(
    places: &mut Places,
    (year, run, from): (i32, &RunRow, &FromYard),
    mut slots: Vec<Slot>,
) -> Result<Vec<Full>, PlanRefused> {
    let placed_on = day(year, from.placed);
    let yard = if from.moor {
        places.yards[4]
    } else {
        places.yard(from.yard)?
    };
    let keeper = YARDS.get(from.yard).map_or(Person::Tobiah, |row| row.keeper);
    let of_part = places.part == 0;
    if let Some((spared, other)) = super::incidents::spared(year, run.name).filter(|_| of_part && from.yard == QUI) {
        let at = |code: &str| places.hives.iter().position(|hive| hive.code == code);
        if let (Some(spared), Some(other)) = (at(spared), at(other)) {
            for slot in slots.iter_mut().filter(|slot| slot.hive == spared) {
                slot.hive = other;
            }
        }
    }
    let pins: Vec<Pin> = pins(year)
        .filter(|pin| of_part && (pin.run, pin.yard) == (run.name, from.yard))
        .collect();
    let mut pinned: Vec<(usize, Pin)> = Vec::new();
    for pin in pins {
        let hive = places.hives.iter().position(|hive| hive.code == pin.hive);
        let hive = hive.ok_or_else(|| not_there(pin.hive))?;
        let before = pinned.iter().filter(|(_, other)| other.hive == pin.hive).count();
        insist(&mut slots, hive, before);
        let at = (0..slots.len())
            .filter(|at| slots.get(*at).is_some_and(|slot| slot.hive == hive))
            .nth(before)
            .ok_or_else(|| not_there(pin.number))?;
        if pin.quirk == Some(Quirk::Robbed) {
            rob(&mut slots, at, 1_800);
        }
        pinned.push((at, pin));
    }
    let mut supers = Vec::new();
    for (at, slot) in slots.iter().enumerate() {
        let pin = pinned.iter().find(|(of, _)| *of == at).map(|(_, pin)| *pin);
        let free = |of: &super::places::BoxAt| {
            let class = (of.class == domain::allocation::BoxClass::Shallow) == from.moor;
            let reserved = of_part && super::incidents::is_reserved(year, &of.number);
            class && of.free_from <= placed_on && !reserved
        };
        let found = match pin {
            Some(pin) => places.boxes.iter().position(|of| of.number == pin.number),
            None => {
                let free = places.boxes.iter().enumerate().filter(|(_, of)| free(of));
                free.max_by_key(|(at, of)| (of.free_from, std::cmp::Reverse(*at)))
                    .map(|(at, _)| at)
            }
        };
        let hive = places.hives.get(slot.hive).ok_or_else(|| not_there("a hive"))?;
        let hive = hive.id;
        let of = found.and_then(|found| places.boxes.get_mut(found));
        let of = of.ok_or(PlanRefused::TooFewSupers { on: placed_on })?;
        of.free_from = day(year, run.on) + TimeDelta::days(3);
        supers.push(Full {
            id: of.id,
            hive,
            yard,
            keeper,
            placed_on,
            quirk: pin.and_then(|pin| pin.quirk),
            tare_g: of.tare_g,
            share_g: slot.share_g,
            wet_g: 0,
            gross_g: 0,
            water: 0,
        });
    }
    Ok(supers)
}

/// The waters of a normal spread, taken at even steps, so that mean and spread come out whatever the dice say.
fn give_water(dice: &mut Dice, supers: &mut [Full], (mean, spread): (i64, i64)) {
    #[allow(clippy::cast_precision_loss, reason = "a few supers and hundredths")]
    let (count, spread) = (supers.len().max(1) as f64, spread as f64);
    #[allow(clippy::cast_precision_loss, reason = "a few supers")]
    let step = |at: usize| (at as f64 + 0.5) / count;
    // Tukey's approximation of the normal quantile, within 1 % over the range needed here.
    let quantile = |p: f64| (p.powf(0.1349) - (1.0 - p).powf(0.1349)) / 0.1975;
    #[allow(clippy::cast_possible_truncation, reason = "hundredths of a per cent")]
    let mut waters: Vec<i64> = (0..supers.len())
        .map(|at| mean + (quantile(step(at)) * spread).round() as i64)
        .collect();
    dice.shuffle(&mut waters);
    for (of, water) in supers.iter_mut().zip(waters) {
        of.water = water;
    }
}

/// The wettest supers, wettest first.
fn wettest(supers: &[Full], how_many: usize) -> Vec<&Full> {
    let mut sorted: Vec<&Full> = supers.iter().collect();
    sorted.sort_by_key(|of| -of.water);
    sorted.truncate(how_many);
    sorted
}

/// Gives each super the weights that lead to its share.
fn weigh(dice: &mut Dice, supers: &mut [Full], dried: Option<(usize, i64)>) {
    let pot_g: i64 = supers.iter().map(|of| of.share_g).sum();
    // Water that the air takes leaves the net too, in parts of ten thousand.
    let water_off: i64 = dried.map_or(0, |(how_many, after)| {
        let off = |of: &&Full| of.share_g * (of.water - after) / (10_000 - after);
        wettest(supers, how_many).iter().map(off).sum::<i64>() * 10_000 / pot_g.max(1)
    });
    let lost = Losses::WAX + Losses::MACHINE + Losses::SAMPLES + Losses::unexplained(dice) + water_off;
    for of in supers {
        let net_g = to_step(of.share_g * 10_000 / (10_000 - lost), 50);
        of.wet_g = of.tare_g + 50 * dice.between(7, 12);
        of.gross_g = of.wet_g + net_g;
    }
}

fn place(diary: &mut Diary, of: &Full, all: &[Full]) {
    let before = all.iter().take_while(|other| other.id != of.id);
    let minute = before
        .filter(|other| (other.yard, other.placed_on) == (of.yard, of.placed_on))
        .count();
    let placed = SuperPlaced {
        super_id: of.id,
        hive_id: of.hive,
        comb: Some(Comb::Drawn),
    };
    let minute = 3 * i64::try_from(minute).unwrap_or(0);
    diary.tell(of.keeper, at(of.placed_on, 10, minute), placed);
}

/// Pulled with a look at the caps, then loaded.
fn take_off(diary: &mut Diary, dice: &mut Dice, times: &Times, supers: &[Full]) -> Result<(), PlanRefused> {
    for (at_super, of) in (0..).zip(supers) {
        let when = times.pulled_at + TimeDelta::minutes(4 * at_super);
        let sealed = 96 - (of.water - 1_600) / 12 + dice.between(-4, 4);
        // What is robbed later was full when it was taken off.
        let quarters = match of.share_g {
            11_000.. | ..2_000 => 4,
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
        diary.tell(of.keeper, when, pulled);
        let yard_id = Some(of.yard);
        let loaded = SuperLoaded {
            super_id: of.id,
            yard_id,
        };
        diary.tell(of.keeper, when + TimeDelta::minutes(2), loaded);
    }
    Ok(())
}

/// Whoever is in the house weighs what comes in.
const RECEIVED_BY: Person = Person::Rook;

fn receive(diary: &mut Diary, places: &Places, times: &Times, supers: &[Full]) -> Result<(), PlanRefused> {
    for (at_super, of) in (0..).zip(supers) {
        let robbed = of.quirk == Some(Quirk::Robbed);
        let when = if robbed {
            super::incidents::robbed_came_in(times.run_on)
        } else {
            times.received_at + TimeDelta::minutes(at_super)
        };
        let lost_g = of.quirk.map_or(0, Quirk::lost_g);
        let received = SuperReceived {
            super_id: of.id,
            gross_g: Some(grams(of.gross_g + lost_g)?),
            scale_id: Some(places.tools.scale),
        };
        diary.tell(RECEIVED_BY, when, received);
        if lost_g > 0 {
            super::incidents::slumped(diary, (of.id, of.gross_g), (times.run_on, places.tools.scale))?;
        }
    }
    Ok(())
}

/// The meter is checked, every super measured, the wet stack dried and measured again; the room is read meanwhile.
fn measure(
    diary: &mut Diary,
    places: &Places,
    (times, dried): (&Times, Option<(usize, i64)>),
    supers: &[Full],
) -> Result<(), PlanRefused> {
    check_meter(diary, places, times.read_at - TimeDelta::minutes(10));
    for (at_super, of) in (0..).zip(supers) {
        let when = if of.quirk == Some(Quirk::Robbed) {
            super::incidents::robbed_came_in(times.run_on) + TimeDelta::minutes(20)
        } else {
            times.read_at + TimeDelta::minutes(2 * at_super)
        };
        let glance = Glance {
            meter: places.tools.meter,
            water: of.water,
            honey_tenths_c: 236 + at_super % 5 * 4,
        };
        diary.read(Person::Tobiah, when, vec![of.id.into()], glance)?;
    }
    room(diary, places, times)?;
    match dried {
        Some((how_many, after)) => dry(diary, places, times, (&wettest(supers, how_many), after)),
        None => Ok(()),
    }
}

/// The meter against a liquid of known value; nobody does it while it is wrong, else it would have been found.
pub(super) fn check_meter(diary: &mut Diary, places: &Places, when: DateTime<Utc>) {
    if meter_is_wrong(when) {
        return;
    }
    let checked = MeterChecked {
        meter_id: places.tools.meter,
        passed: true,
        offset_hundredths: Some(0),
    };
    diary.tell(Person::Tobiah, when, checked);
}

/// Air of the warm room, morning and evening until the run.
fn room(diary: &mut Diary, places: &Places, times: &Times) -> Result<(), PlanRefused> {
    let mut when = times.received_at + TimeDelta::hours(1);
    let mut hours = 0;
    while when < at(times.run_on, 7, 0) {
        let read = RoomRead {
            room_id: places.tools.room,
            air_tenths_c: Temperature::new(318 + hours % 7)?,
            humidity_percent: Some(Percent::new((58 - hours / 3).max(44))?),
        };
        diary.tell(RECEIVED_BY, when, read);
        when += TimeDelta::hours(12);
        hours += 12;
    }
    Ok(())
}

/// Warm dry air for 48 hours; the stack is then measured as one.
fn dry(diary: &mut Diary, places: &Places, times: &Times, (stack, after): (&[&Full], i64)) -> Result<(), PlanRefused> {
    let super_ids: Vec<SuperId> = stack.iter().map(|of| of.id).collect();
    let targets: Vec<Subject> = super_ids.iter().map(|id| Subject::from(*id)).collect();
    let room_id = Some(places.tools.room);
    let from = times.read_at + TimeDelta::hours(3);
    let until = from + TimeDelta::hours(48);
    let started = DryingStarted {
        super_ids: super_ids.clone(),
        room_id,
    };
    diary.tell(Person::Tobiah, from, started);
    diary.tell(Person::Tobiah, until, DryingStopped { super_ids, room_id });
    let glance = Glance {
        meter: places.tools.meter,
        water: after,
        honey_tenths_c: 288,
    };
    diary.read(Person::Tobiah, until + TimeDelta::minutes(30), targets, glance)?;
    Ok(())
}

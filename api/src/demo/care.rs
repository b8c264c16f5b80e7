//! The year of the bees: flows, counts, splits, losses, the moor, feed and treatments, and the scale hive.

use chrono::TimeDelta;
use domain::colony::{ColonyEnd, ColonyEnded, ColonyRegistered, ColonyRequeened, Founding};
use domain::common::NoteWritten;
use domain::feed::{FeedAmount, FeedKind, FeedPutOn, FeedTakenOff};
use domain::hive::HiveMoved;
use domain::ids::{ColonyId, HiveId};
use domain::inspection::HiveInspected;
use domain::medicine::MedicineAmount;
use domain::treatment::{Basis, TreatmentPutIn, TreatmentTakenOut, Way};
use domain::units::Days;
use domain::yard::{ColoniesCounted, FlowEnded, FlowStarted};

use super::books;
use super::diary::{Diary, Dice, Person, PlanRefused, at, count, day, grams, name, text};
use super::figures::{LINES, OST, QUI, TO_MOOR, TSD, WEN, YARDS};
use super::places::{Places, hive, not_there};
use super::weather::gains;
use super::yields::colonies;

/// Tells of a year; `parity` is 0 for the first of two, 1 for the second.
pub(super) fn year(
    diary: &mut Diary,
    dice: &mut Dice,
    places: &mut Places,
    (year, parity, first): (i32, usize, bool),
    given: &[[Option<f64>; 2]],
) -> Result<(), PlanRefused> {
    match parity {
        1 => after_winter(diary, places, year)?,
        _ if !first => made_good(diary, places, year)?,
        _ => {}
    }
    for yard in 0..YARDS.len() {
        flow_and_count(diary, places, (year, parity, yard))?;
        autumn(diary, places, (year, parity, yard))?;
    }
    if parity == 1 {
        moor(diary, places, year)?;
    }
    books::left_on_hives(diary, places, year)?;
    empty_hives(diary, places, (year, parity), given)?;
    scale_hive(diary, dice, places, year)
}

/// One dies, one is carried to another yard, one is split.
fn after_winter(diary: &mut Diary, places: &mut Places, year: i32) -> Result<(), PlanRefused> {
    let dead = numbered(places, TSD, 18)?.1;
    let ended = ColonyEnded {
        colony_id: dead,
        how: ColonyEnd::Dead,
        united_into: None,
    };
    diary.tell(Person::Tobiah, at(day(year, (2, 20)), 14, 0), ended);
    let moved = HiveMoved {
        hive_id: numbered(places, QUI, 12)?.0,
        yard_id: places.yard(WEN)?,
        permit: None,
    };
    diary.tell(Person::Tobiah, at(day(year, (4, 12)), 7, 0), moved);
    for (minute, number) in [(0, 5), (20, 9)] {
        // Daughters of the same line, long before the flow.
        let hive = places
            .hives
            .iter()
            .find(|hive| (hive.of.home, hive.of.number) == (TSD, number));
        let hive = hive.ok_or_else(|| not_there("a hive of Tarnsedge"))?;
        let queen = ColonyRequeened {
            colony_id: hive.colony,
            on: day(year, (4, 14)),
            queen_line: LINES.get(hive.of.line).map(|line| name(line)).transpose()?,
            text: Some(text("the old queen laid badly")?),
        };
        diary.tell(Person::Tobiah, at(day(year, (4, 14)), 13, minute), queen);
    }
    let when = at(day(year, (4, 20)), 11, 0);
    let split = colonies().into_iter().find(|of| (of.home, of.number) == (OST, 17));
    let split = split.ok_or_else(|| not_there("the split of Ostlehope"))?;
    match places.hives.iter_mut().position(|hive| hive.of == split) {
        None => {
            let hive = hive(diary, places, split, (when, Founding::Split))?;
            places.hives.push(hive);
        }
        Some(known) => settle_anew(diary, places, (known, Founding::Split), when)?,
    }
    Ok(())
}

/// Before another pair of years the yards are as they were.
fn made_good(diary: &mut Diary, places: &mut Places, year: i32) -> Result<(), PlanRefused> {
    let back = HiveMoved {
        hive_id: numbered(places, QUI, 12)?.0,
        yard_id: places.yard(QUI)?,
        permit: None,
    };
    diary.tell(Person::Tobiah, at(day(year, (3, 10)), 7, 0), back);
    let united = ColonyEnded {
        colony_id: numbered(places, OST, 17)?.1,
        how: ColonyEnd::United,
        united_into: Some(numbered(places, OST, 1)?.1),
    };
    diary.tell(Person::Ilse, at(day(year, (3, 12)), 11, 0), united);
    let known = places
        .hives
        .iter()
        .position(|hive| (hive.of.home, hive.of.number) == (TSD, 18));
    let known = known.ok_or_else(|| not_there("the last hive of Tarnsedge"))?;
    settle_anew(diary, places, (known, Founding::Nucleus), at(day(year, (4, 2)), 11, 0))
}

/// New bees in a hive that stood empty.
fn settle_anew(
    diary: &mut Diary,
    places: &mut Places,
    (known, founding): (usize, Founding),
    when: chrono::DateTime<chrono::Utc>,
) -> Result<(), PlanRefused> {
    let colony = ColonyId::from_uuid(diary.id());
    let hive = places.hives.get_mut(known).ok_or_else(|| not_there("a hive"))?;
    hive.colony = colony;
    let bees = ColonyRegistered {
        colony_id: colony,
        hive_id: hive.id,
        founding: Some(founding),
        parent_id: None,
        queen_line: Some(name(LINES.get(hive.of.line).copied().unwrap_or("unknown"))?),
    };
    diary.tell(Person::Maren, when, bees);
    Ok(())
}

fn numbered(places: &Places, home: usize, number: usize) -> Result<(HiveId, ColonyId), PlanRefused> {
    let found = places
        .hives
        .iter()
        .find(|hive| (hive.of.home, hive.of.number) == (home, number));
    found
        .map(|hive| (hive.id, hive.colony))
        .ok_or_else(|| not_there(format!("hive {number} of a yard")))
}

/// The hives that stand in a yard in a year.
fn standing(places: &Places, parity: usize, yard: usize) -> Vec<HiveId> {
    let here = places
        .hives
        .iter()
        .filter(|hive| hive.of.yards.get(parity).copied().flatten() == Some(yard));
    here.map(|hive| hive.id).collect()
}

fn flow_and_count(
    diary: &mut Diary,
    places: &Places,
    (year, parity, yard): (i32, usize, usize),
) -> Result<(), PlanRefused> {
    let row = YARDS.get(yard).ok_or_else(|| not_there("a yard"))?;
    let (yard_id, on) = (places.yard(yard)?, day(year, row.flow_from));
    diary.tell(row.keeper, at(on, 18, 0), FlowStarted { yard_id, on });
    let fit = i64::try_from(standing(places, parity, yard).len()).unwrap_or(0);
    let counted = ColoniesCounted {
        yard_id,
        on,
        fit: count(fit)?,
        unfit: None,
    };
    diary.tell(row.keeper, at(on, 18, 5), counted);
    Ok(())
}

/// After the last supers are off: strips against mites, and syrup for the winter.
fn autumn(diary: &mut Diary, places: &Places, (year, parity, yard): (i32, usize, usize)) -> Result<(), PlanRefused> {
    let keeper = YARDS.get(yard).map_or(Person::Maren, |row| row.keeper);
    let hive_ids = standing(places, parity, yard);
    let hour = i64::try_from(9 + yard).unwrap_or(9);
    let put_in = TreatmentPutIn {
        hive_ids: hive_ids.clone(),
        medicine_id: places.tools.strips,
        batch: Some(name("K4411")?),
        per_hive: Some(MedicineAmount::Pieces(count(2)?)),
        against: Some(name("varroa")?),
        basis: Some(Basis::Routine),
        way: Some(Way::Strip),
        duration_days: Some(Days::new(42)?),
    };
    diary.tell(keeper, at(day(year, (9, 22)), hour, 0), put_in);
    let out = TreatmentTakenOut {
        hive_ids: hive_ids.clone(),
        medicine_id: Some(places.tools.strips),
    };
    diary.tell(keeper, at(day(year, (11, 3)), hour, 0), out);
    let fed = FeedPutOn {
        hive_ids: hive_ids.clone(),
        feed: FeedKind::SugarSyrup,
        per_hive: FeedAmount::WeightG(grams(6_000)?),
        product: Some(name("beet sugar")?),
        batch: None,
        reason: Some(text("winter stores")?),
    };
    diary.tell(keeper, at(day(year, (9, 24)), hour, 0), fed);
    diary.tell(keeper, at(day(year, (10, 6)), hour, 0), FeedTakenOff { hive_ids });
    Ok(())
}

/// Eight hives of Quillhanger to the heather and back.
fn moor(diary: &mut Diary, places: &Places, year: i32) -> Result<(), PlanRefused> {
    let (home, away) = (places.yard(QUI)?, places.yards[4]);
    let on = day(year, (7, 31));
    diary.tell(Person::Tobiah, at(on, 18, 0), FlowEnded { yard_id: home, on });
    for (minute, number) in (0..).zip(1..=TO_MOOR) {
        let hive_id = numbered(places, QUI, number)?.0;
        for ((month, of_month), yard_id) in [((8, 3), away), ((9, 8), home)] {
            let moved = HiveMoved {
                hive_id,
                yard_id,
                permit: None,
            };
            diary.tell(Person::Tobiah, at(day(year, (month, of_month)), 5, 5 * minute), moved);
        }
    }
    let on = day(year, (8, 4));
    diary.tell(Person::Tobiah, at(on, 19, 0), FlowStarted { yard_id: away, on });
    let counted = ColoniesCounted {
        yard_id: away,
        on,
        fit: count(i64::try_from(TO_MOOR).unwrap_or(0))?,
        unfit: None,
    };
    diary.tell(Person::Tobiah, at(on, 19, 5), counted);
    Ok(())
}

/// What colonies that gave nothing looked like.
fn empty_hives(
    diary: &mut Diary,
    places: &Places,
    (year, parity): (i32, usize),
    given: &[[Option<f64>; 2]],
) -> Result<(), PlanRefused> {
    for (of, given) in colonies().iter().zip(given) {
        let nothing = given.get(parity).copied().flatten().is_some_and(|grams| grams <= 0.0);
        let Some(hive) = places.hives.iter().find(|hive| hive.of == *of).filter(|_| nothing) else {
            continue;
        };
        let looked = HiveInspected {
            hive_id: hive.id,
            eggs_seen: Some(false),
            queen_seen: Some(false),
            brood_frames: None,
            stores: None,
            suspicion: None,
            text: Some(text(
                "swarm cells empty, few bees: nothing to expect from it this year",
            )?),
        };
        let keeper = YARDS.get(of.home).map_or(Person::Maren, |row| row.keeper);
        diary.tell(
            keeper,
            at(day(year, (6, 16)), 11, i64::try_from(of.number).unwrap_or(0)),
            looked,
        );
    }
    Ok(())
}

/// W05 stands on a scale: every Sunday somebody writes what it gained in the week.
fn scale_hive(diary: &mut Diary, dice: &mut Dice, places: &Places, year: i32) -> Result<(), PlanRefused> {
    let about = numbered(places, WEN, 5)?.0;
    for week in gains(dice, year, WEN).chunks(7) {
        let gained: f64 = week.iter().map(|(_, kg)| kg).sum();
        let Some((last, _)) = week.last() else { continue };
        let note = NoteWritten {
            about: vec![about.into()],
            text: text(&format!("scale hive: {gained:+.1} kg in the week"))?,
        };
        diary.tell(Person::Ilse, at(*last, 20, 0) + TimeDelta::minutes(1), note);
    }
    Ok(())
}

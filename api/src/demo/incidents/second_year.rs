//! Incidents I14 to I26, of 2025. What the moor, the clock and the two phones do (I19 to I22) is told where it happens.

use chrono::TimeDelta;
use domain::batch::{ComplaintTold, GlassBroken, JarsTakenOut, JarsWent, StockCounted};
use domain::common::{HoldLifted, NoteWritten};
use domain::disease::{Disease, DiseaseCleared, DiseaseSuspected, SickPlace, StandstillLifted, StandstillOrdered};
use domain::honey_super::{SuperEnd, SuperLoaded, SuperMoved, SuperPulled, SuperReceived, SuperScrapped, SuperStored};
use domain::ids::SuperId;
use domain::taint::{Taint, TaintNoted};
use domain::treatment::{Basis, TreatmentGiven, Way};
use domain::units::{Percent, Quarters, Temperature};
use domain::warm_room::RoomRead;

use super::super::diary::{Diary, Person, PlanRefused, at, count, day, grams, name, text};
use super::super::figures::QUI;
use super::super::market::{jars, told};
use super::super::places::{Places, not_there};
use super::{Year, placed};

pub(super) fn in_spring(diary: &mut Diary, places: &Places) -> Result<(), PlanRefused> {
    repellent(diary, places)?;
    standstill(diary, places)?;
    heater(diary, places)
}

pub(super) fn afterwards(diary: &mut Diary, places: &Places, of: &mut Year<'_>) -> Result<(), PlanRefused> {
    glass(diary, of)?;
    moth(diary, places)?;
    treated_late(diary, places)?;
    eleven_short(diary, of)
}

/// I16: repellent over box 071 while it is taken off; it stays out of the run.
fn repellent(diary: &mut Diary, places: &Places) -> Result<(), PlanRefused> {
    let (super_id, hive) = (places.boxed("071")?, places.hive("O07")?.id);
    diary.tell(Person::Ilse, at(day(2025, (5, 3)), 13, 0), placed(super_id, hive));
    let on = day(2025, (5, 24));
    let pulled = SuperPulled {
        super_id,
        hive_id: Some(hive),
        fullness_quarters: Some(Quarters::new(4)?),
        full_frames: None,
        capped_percent: Some(Percent::new(90)?),
        brood_seen: Some(false),
    };
    diary.tell(Person::Ilse, at(on, 8, 0), pulled);
    let noted = TaintNoted {
        super_ids: vec![super_id],
        taint: Taint::Repellent,
        text: Some(text("the bottle tipped over on the frames")?),
    };
    diary.tell(Person::Ilse, at(on, 8, 5), noted);
    let yard_id = None;
    diary.tell(Person::Ilse, at(on, 8, 20), SuperLoaded { super_id, yard_id });
    let received = SuperReceived {
        super_id,
        gross_g: Some(grams(20_400)?),
        scale_id: Some(places.tools.scale),
    };
    diary.tell(Person::Rook, at(on, 10, 0), received);
    Ok(())
}

/// I17: sick brood suspected at Quillhanger; five of its boxes stand at Wennock Bank already.
fn standstill(diary: &mut Diary, places: &Places) -> Result<(), PlanRefused> {
    for (at_box, number) in (1..).zip(["101", "102", "103", "104", "105"]) {
        let super_id = places.boxed(number)?;
        let from_hive_id = places.hive(&format!("Q{at_box:02}"))?.id;
        let to_hive_id = places.hive(&format!("W{at_box:02}"))?.id;
        diary.tell(
            Person::Tobiah,
            at(day(2025, (5, 10)), 11, at_box),
            placed(super_id, from_hive_id),
        );
        let lent = SuperMoved {
            super_id,
            from_hive_id,
            to_hive_id,
        };
        diary.tell(Person::Tobiah, at(day(2025, (5, 28)), 9, at_box), lent);
    }
    let yard_id = places.yard(QUI)?;
    let (place, found) = (SickPlace::YardId(yard_id), at(day(2025, (6, 2)), 10, 0));
    let suspected = DiseaseSuspected {
        place,
        disease: Disease::AmericanFoulbrood,
        text: Some(text("sunken caps in Q05")?),
    };
    let cause_id = diary.tell(Person::Tobiah, found, suspected);
    let ordered = StandstillOrdered {
        yard_id,
        order: name("SN 12/2025")?,
        authority: Some(name("bee inspector")?),
        text: Some(text("until the samples are back")?),
    };
    let order_id = diary.tell(Person::Maren, found + TimeDelta::hours(6), ordered);
    let over = at(day(2025, (6, 20)), 15, 0);
    let cleared = DiseaseCleared {
        place,
        cause_id,
        reason: text("both samples clean")?,
        reference: Some(name("P 332")?),
    };
    diary.tell(Person::Maren, over, cleared);
    let lifted = StandstillLifted {
        yard_id,
        cause_id: order_id,
        reason: text("both samples clean")?,
        notice: Some(name("SN 12/2025 W")?),
    };
    diary.tell(Person::Maren, over + TimeDelta::minutes(5), lifted);
    Ok(())
}

/// I18: the power fails, then the heater sticks: 43 degrees for three hours. What ran out is told at the weighing.
fn heater(diary: &mut Diary, places: &Places) -> Result<(), PlanRefused> {
    let on = day(2025, (7, 12));
    for hour in 2..5 {
        let read = RoomRead {
            room_id: places.tools.room,
            air_tenths_c: Temperature::new(430)?,
            humidity_percent: Some(Percent::new(31)?),
        };
        diary.tell(Person::Rook, at(on, hour, 0), read);
    }
    Ok(())
}

/// I23: glass breaks in the filler.
fn glass(diary: &mut Diary, of: &mut Year<'_>) -> Result<(), PlanRefused> {
    let batch = of.batch(10, 500)?;
    let broke_at = batch.filled_at + TimeDelta::minutes(45);
    let broken = GlassBroken {
        batch_id: batch.id,
        jars_discarded: Some(count(24)?),
        place: Some(name("filler")?),
        cleaned: Some(text("line emptied, washed and looked over with a lamp")?),
    };
    let hold_id = diary.tell(Person::Rook, broke_at, broken);
    batch.book -= 24;
    let out = JarsTakenOut {
        batch_id: batch.id,
        jars: count(24)?,
        went: JarsWent::Broken,
        reason: Some(text("stood beside the broken one")?),
    };
    diary.tell(Person::Rook, broke_at + TimeDelta::minutes(10), out);
    let lifted = HoldLifted {
        target: batch.id.into(),
        hold_id,
        reason: text("neighbours thrown away, line clean, the rest looked through")?,
    };
    diary.tell(Person::Maren, broke_at + TimeDelta::hours(20), lifted);
    Ok(())
}

/// How many boxes stand in one stack of the store.
const STACK: usize = 14;

/// I24: moth in one stack of fourteen; nine are scrapped, five frozen.
fn moth(diary: &mut Diary, places: &Places) -> Result<(), PlanRefused> {
    let found = at(day(2025, (11, 22)), 14, 0);
    let stack: Vec<SuperId> = (81..81 + STACK)
        .map(|number| places.boxed(&format!("{number:03}")))
        .collect::<Result<_, _>>()?;
    for (at_box, super_id) in stack.into_iter().enumerate() {
        let minute = i64::try_from(at_box).unwrap_or(0);
        let stored = SuperStored {
            super_id,
            wet: false,
            place: Some(name("stack 7")?),
        };
        diary.tell(Person::Tobiah, at(day(2025, (10, 21)), 15, minute), stored);
        let when = found + TimeDelta::minutes(minute);
        if at_box < 9 {
            let how = SuperEnd::Scrapped;
            diary.tell(Person::Tobiah, when, SuperScrapped { super_id, how });
        } else {
            let frozen = SuperStored {
                super_id,
                wet: false,
                place: Some(name("freezer")?),
            };
            diary.tell(Person::Tobiah, when, frozen);
        }
        let note = NoteWritten {
            about: vec![super_id.into()],
            text: text("wax moth in stack 7")?,
        };
        diary.tell(Person::Tobiah, when + TimeDelta::seconds(20), note);
    }
    Ok(())
}

/// I25: only in December somebody writes that W09 was treated on 5 July, with supers on.
fn treated_late(diary: &mut Diary, places: &Places) -> Result<(), PlanRefused> {
    let given = TreatmentGiven {
        hive_ids: vec![places.hive("W09")?.id],
        medicine_id: places.tools.strips,
        batch: Some(name("K4411")?),
        per_hive: None,
        against: Some(name("varroa")?),
        basis: Some(Basis::Suspicion),
        way: Some(Way::Trickled),
        duration_days: None,
    };
    diary.tell_late(
        Person::Ilse,
        at(day(2025, (7, 5)), 18, 0),
        at(day(2025, (12, 1)), 19, 0),
        given,
    );
    Ok(())
}

/// I26: eleven jars fewer than the book says, and nobody knows why. One shop bought from this batch.
fn eleven_short(diary: &mut Diary, of: &mut Year<'_>) -> Result<(), PlanRefused> {
    let shop = of.buyers.get(1).copied().ok_or_else(|| not_there("a shop"))?;
    let batch = of.batch(7, 500)?;
    let line = jars(batch, 60)?;
    told(
        diary,
        Person::Rook,
        at(day(2025, (9, 3)), 9, 0),
        (Some(shop), Some("25/S1".to_owned()), None),
        vec![line],
    )?;
    batch.book -= 60;
    let counted = StockCounted {
        batch_id: batch.id,
        jars: count(batch.book - 11)?,
        reason: Some(text("unexplained")?),
    };
    diary.tell(Person::Maren, at(day(2025, (12, 5)), 10, 0), counted);
    Ok(())
}

/// I14, I15: complaints about the late meadow honey of 2024, and a recall for practice. Told with the first year's
/// jars, in the second year.
pub(in super::super) fn of_the_years_before(diary: &mut Diary, of: &mut Year<'_>) -> Result<(), PlanRefused> {
    let batch = of.batch(8, 500)?.id;
    for (date, words) in [
        ((2, 8), "a customer at the market: the jar ferments, the lid is bulging"),
        ((2, 20), "Shop 1: a second jar smells of yeast"),
    ] {
        let complaint = ComplaintTold {
            batch_id: batch,
            text: text(words)?,
            jars: Some(count(1)?),
        };
        diary.tell(Person::Rook, at(day(2025, date), 17, 0), complaint);
    }
    let note = NoteWritten {
        about: vec![of.lot(3)?.into()],
        text: text("recall for practice: every buyer found, every jar accounted for")?,
    };
    diary.tell(Person::Maren, at(day(2025, (3, 18)), 11, 0), note);
    Ok(())
}

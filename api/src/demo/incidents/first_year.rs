//! Incidents I01 to I13, of 2024.

use chrono::{DateTime, TimeDelta, Utc};
use domain::batch::{StockCounted, WeightsChecked};
use domain::colony::{ColonyRegistered, Founding};
use domain::common::{HoldLifted, HoldReason, HoldSet, NoteWritten};
use domain::entry::{Amended, Entry, Voided};
use domain::extraction::FramesSetAside;
use domain::feed::{FeedAmount, FeedKind, FeedPutOn, FeedTakenOff};
use domain::hive::HiveRegistered;
use domain::honey_super::{SuperLoaded, SuperPulled, SuperReceived, SuperStored};
use domain::ids::{BatchId, ColonyId, HiveId};
use domain::medicine::MedicineAmount;
use domain::meter::MeterChecked;
use domain::moisture::{MoistureRead, Shown};
use domain::treatment::{Basis, TreatmentPutIn, TreatmentSeen, TreatmentTakenOut, Way};
use domain::units::{Days, FrameCount, Moisture, Quarters, Temperature};

use super::super::diary::{Diary, METER_OFF, Person, PlanRefused, at, count, day, grams, name, text};
use super::super::figures::OST;
use super::super::market::{jars, told};
use super::super::places::{Places, not_there};
use super::{Year, placed, second_box};

pub(super) fn in_spring(diary: &mut Diary, places: &mut Places) -> Result<(), PlanRefused> {
    on_two_hives(diary, places)?;
    two_boxes_one_number(diary, places)?;
    fed_in_the_wrong_hive(diary, places)?;
    forgotten_strips(diary, places)?;
    meter_off(diary, places);
    Ok(())
}

pub(super) fn afterwards(diary: &mut Diary, places: &Places, of: &mut Year<'_>) -> Result<(), PlanRefused> {
    missing_box(diary, places)?;
    warm_honey(diary, places, of)?;
    brood(diary, places, of)?;
    sold_once(diary, of)
}

/// I01: Tobiah writes box 017 on O04, Ilse on O05, neither has signal.
fn on_two_hives(diary: &mut Diary, places: &Places) -> Result<(), PlanRefused> {
    let on = day(2024, (5, 11));
    let of = places.boxed("017")?;
    diary.tell(Person::Tobiah, at(on, 10, 5), placed(of, places.hive("O04")?.id));
    diary.tell(Person::Ilse, at(on, 10, 20), placed(of, places.hive("O05")?.id));
    Ok(())
}

/// I02: two boxes painted 033 turn up at Ostlehope and Tarnsedge.
fn two_boxes_one_number(diary: &mut Diary, places: &mut Places) -> Result<(), PlanRefused> {
    let on = day(2024, (5, 19));
    let (of, at_meadow) = (places.boxed("033")?, places.hive("T06")?.id);
    diary.tell(Person::Ilse, at(on, 10, 0), placed(of, places.hive("O09")?.id));
    let there = diary.tell(Person::Tobiah, at(on, 10, 40), placed(of, at_meadow));
    let looked = at(day(2024, (5, 21)), 18, 0);
    let second = second_box(diary, places, "033b", at(on, 9, 0))?;
    let instead: Entry = placed(second, at_meadow).into();
    let amended = Amended {
        entry_id: there,
        kind: instead.kind().to_owned(),
        v: 1,
        instead: Box::new(instead),
        reason: Some(text("there are two boxes: the one at Tarnsedge is 033b now")?),
    };
    diary.tell(Person::Maren, looked, Entry::Amended(amended));
    Ok(())
}

/// I03: one of 22 fell off at the gate and was robbed.
fn missing_box(diary: &mut Diary, places: &Places) -> Result<(), PlanRefused> {
    let of = places.boxed("029")?;
    let note = |words: &str| {
        Ok::<_, PlanRefused>(NoteWritten {
            about: vec![of.into()],
            text: text(words)?,
        })
    };
    let missing = note("22 boxes loaded at Ostlehope, 21 received: 029 is missing")?;
    diary.tell(Person::Maren, at(day(2024, (5, 30)), 20, 0), missing);
    let found = note("found at the gate of Ostlehope, robbed: about 9 kg lost")?;
    diary.tell(Person::Tobiah, at(day(2024, (6, 3)), 8, 5), found);
    Ok(())
}

/// I04: the nuclei of Ostlehope are fed, and the feed is written on O11 too, which carries two supers.
fn fed_in_the_wrong_hive(diary: &mut Diary, places: &Places) -> Result<(), PlanRefused> {
    let mut nuclei = Vec::new();
    for (minute, code) in [(0, "ON1"), (5, "ON2")] {
        let hive_id = HiveId::from_uuid(diary.id());
        let when = at(day(2024, (5, 24)), 15, minute);
        let hive = HiveRegistered {
            hive_id,
            yard_id: places.yard(OST)?,
            code: name(code)?,
        };
        diary.tell(Person::Ilse, when, hive);
        let colony = ColonyRegistered {
            colony_id: ColonyId::from_uuid(diary.id()),
            hive_id,
            founding: Some(Founding::Nucleus),
            parent_id: None,
            queen_line: None,
        };
        diary.tell(Person::Ilse, when + TimeDelta::seconds(20), colony);
        nuclei.push(hive_id);
    }
    let feed = |hive_ids: Vec<HiveId>| {
        Ok::<_, PlanRefused>(FeedPutOn {
            hive_ids,
            feed: FeedKind::SugarSyrup,
            per_hive: FeedAmount::WeightG(grams(1_500)?),
            product: Some(name("beet sugar")?),
            batch: None,
            reason: Some(text("June gap")?),
        })
    };
    let on = day(2024, (6, 6));
    diary.tell(Person::Ilse, at(on, 17, 0), feed(nuclei.clone())?);
    let wrong = diary.tell(Person::Ilse, at(on, 17, 10), feed(vec![places.hive("O11")?.id])?);
    let off = FeedTakenOff { hive_ids: nuclei };
    diary.tell(Person::Ilse, at(day(2024, (6, 20)), 17, 0), off);
    let reason = text("wrong hive number: a nucleus was fed, O11 was not opened")?;
    let voided = Voided {
        entry_id: wrong,
        reason,
    };
    diary.tell(Person::Maren, at(day(2024, (6, 11)), 19, 0), Entry::Voided(voided));
    Ok(())
}

/// I05: strips that were put in in April are found in Q07 in June, under boxes 112 and 113.
fn forgotten_strips(diary: &mut Diary, places: &Places) -> Result<(), PlanRefused> {
    let hives: Vec<HiveId> = places
        .hives
        .iter()
        .filter(|hive| hive.code.starts_with('Q'))
        .map(|hive| hive.id)
        .collect();
    let medicine_id = places.tools.strips;
    let put_in = TreatmentPutIn {
        hive_ids: hives.clone(),
        medicine_id,
        batch: Some(name("K4411")?),
        per_hive: Some(MedicineAmount::Pieces(count(2)?)),
        against: Some(name("varroa")?),
        basis: Some(Basis::Diagnosis),
        way: Some(Way::Strip),
        duration_days: Some(Days::new(42)?),
    };
    diary.tell(Person::Tobiah, at(day(2024, (4, 2)), 10, 0), put_in);
    let out = TreatmentTakenOut {
        hive_ids: hives,
        medicine_id: Some(medicine_id),
    };
    diary.tell(Person::Tobiah, at(day(2024, (5, 14)), 10, 0), out);
    let seventh = places.hive("Q07")?.id;
    let boxes = [places.boxed("112")?, places.boxed("113")?];
    for (minute, of) in (0..).zip(boxes) {
        diary.tell(Person::Tobiah, at(day(2024, (6, 8)), 12, minute), placed(of, seventh));
    }
    let found = at(day(2024, (6, 20)), 11, 0);
    let seen = TreatmentSeen {
        hive_ids: vec![seventh],
        medicine_id: Some(medicine_id),
    };
    diary.tell(Person::Tobiah, found, seen);
    let out = TreatmentTakenOut {
        hive_ids: vec![seventh],
        medicine_id: Some(medicine_id),
    };
    diary.tell(Person::Tobiah, found + TimeDelta::minutes(5), out);
    for (minute, super_id) in (0..).step_by(5).zip(boxes) {
        let pulled_at = at(day(2024, (7, 26)), 12, minute);
        let pulled = SuperPulled {
            super_id,
            hive_id: Some(seventh),
            fullness_quarters: Some(Quarters::new(3)?),
            full_frames: None,
            capped_percent: None,
            brood_seen: Some(false),
        };
        diary.tell(Person::Tobiah, pulled_at, pulled);
        let yard_id = None;
        diary.tell(
            Person::Tobiah,
            pulled_at + TimeDelta::minutes(2),
            SuperLoaded { super_id, yard_id },
        );
        let received = SuperReceived {
            super_id,
            gross_g: Some(grams(17_500)?),
            scale_id: Some(places.tools.scale),
        };
        diary.tell(Person::Rook, pulled_at + TimeDelta::hours(5), received);
        let stored = SuperStored {
            super_id,
            wet: false,
            place: Some(name("shelf for what is on hold")?),
        };
        diary.tell(Person::Rook, pulled_at + TimeDelta::hours(6), stored);
    }
    Ok(())
}

/// I06: the check of 22 July finds the meter eight tenths of a point too high; it was right on 1 July.
fn meter_off(diary: &mut Diary, places: &Places) {
    let off = i16::try_from(METER_OFF).ok();
    for (date, hour, passed, offset_hundredths) in [
        ((7, 1), 11, true, Some(0)),
        ((7, 22), 9, false, off),
        ((7, 22), 12, true, Some(0)),
    ] {
        let checked = MeterChecked {
            meter_id: places.tools.meter,
            passed,
            offset_hundredths,
        };
        diary.tell(Person::Tobiah, at(day(2024, date), hour, 0), checked);
    }
}

/// I07: honey of 31 degrees, read by a scale for 20 and not corrected.
fn warm_honey(diary: &mut Diary, places: &Places, of: &Year<'_>) -> Result<(), PlanRefused> {
    let run = of
        .runs
        .iter()
        .find(|(called, _)| *called == "R3")
        .ok_or_else(|| not_there("R3"))?
        .1;
    let on = day(2024, (7, 22));
    for (hour, water, honey) in [(15, 1_890, 310), (18, 1_750, 240)] {
        let read = MoistureRead {
            targets: vec![run.into()],
            shown: Shown::MoistureHundredths(Moisture::new(water)?),
            honey_tenths_c: Some(Temperature::new(honey)?),
            meter_id: Some(places.tools.meter),
            compensated: Some(false),
            places: None,
        };
        diary.tell(Person::Ilse, at(on, hour, 10), read);
    }
    Ok(())
}

/// I10: brood in box 140.
fn brood(diary: &mut Diary, places: &Places, of: &Year<'_>) -> Result<(), PlanRefused> {
    let run_id = of
        .runs
        .iter()
        .find(|(called, _)| *called == "R4")
        .ok_or_else(|| not_there("R4"))?
        .1;
    let aside = FramesSetAside {
        run_id,
        super_id: places.boxed("140")?,
        frames: FrameCount::new(3)?,
        reason: Some(text("brood in them")?),
    };
    diary.tell(Person::Tobiah, at(day(2024, (7, 30)), 16, 40), aside);
    Ok(())
}

/// I12: ten jars hold 497.6 g on average; the batch is held, topped up and weighed again.
pub(in super::super) fn short_jars(
    diary: &mut Diary,
    batch_id: BatchId,
    filled_at: DateTime<Utc>,
) -> Result<(), PlanRefused> {
    let short = vec![4_971, 4_982, 4_968, 4_979, 4_985, 4_973, 4_977, 4_981, 4_966, 4_978];
    let weighed = WeightsChecked {
        batch_id,
        net_tenths_g: short,
        topped_up: None,
    };
    diary.tell(Person::Rook, filled_at + TimeDelta::minutes(60), weighed);
    let hold = HoldSet {
        target: batch_id.into(),
        reason: HoldReason::Other,
        text: Some(text("ten jars hold 497.6 g on average")?),
    };
    let hold_id = diary.tell(Person::Rook, filled_at + TimeDelta::minutes(65), hold);
    let topped = vec![5_012, 5_018, 5_009, 5_022, 5_015, 5_011, 5_017, 5_020, 5_008, 5_014];
    let weighed = WeightsChecked {
        batch_id,
        net_tenths_g: topped,
        topped_up: Some(true),
    };
    diary.tell(Person::Rook, filled_at + TimeDelta::minutes(120), weighed);
    let lifted = HoldLifted {
        target: batch_id.into(),
        hold_id,
        reason: text("topped up and weighed again")?,
    };
    diary.tell(Person::Maren, filled_at + TimeDelta::minutes(125), lifted);
    Ok(())
}

/// I13: Maren and Rook both write the 24 jars that were sold once; the count tells.
fn sold_once(diary: &mut Diary, of: &mut Year<'_>) -> Result<(), PlanRefused> {
    let shop = of.buyers.first().copied();
    let batch = of.batch(6, 250)?;
    let on = day(2024, (11, 20));
    for (by, hour) in [(Person::Maren, 10), (Person::Rook, 13)] {
        let line = jars(batch, 24)?;
        told(diary, by, at(on, hour, 0), (shop, None, None), vec![line])?;
    }
    batch.book -= 24;
    let counted = StockCounted {
        batch_id: batch.id,
        jars: count(batch.book)?,
        reason: Some(text("sold once, written twice")?),
    };
    diary.tell(Person::Rook, at(day(2024, (11, 27)), 10, 0), counted);
    Ok(())
}

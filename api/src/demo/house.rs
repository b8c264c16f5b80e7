//! From containers to jars on the shelf: settled, drawn or blended, measured twice, released, bottled, labelled.

use chrono::{DateTime, Months, NaiveDate, TimeDelta, Utc};
use domain::batch::{BatchStored, Bottled, Labelled, WeightsChecked};
use domain::fill::{FillSettled, Part};
use domain::ids::{BatchId, LotId};
use domain::limits::Claim;
use domain::lot::{Blended, HoneyDrawn, HoneyWasted, LotDescribed, LotReleased, LotSampled};
use domain::lot_code::LotCode;
use domain::meter::MeterChecked;
use domain::moisture::HoneyStirred;
use domain::units::Days;

use super::diary::{Diary, Dice, Glance, Person, PlanRefused, at, count, day, grams, name, text};
use super::extraction::{Drawn, Filled};
use super::market::{deliver, set_aside};
use super::places::Places;
use crate::clock;

/// The season as codes name it.
const SEASON: u16 = 2025;

/// Honey on its way from containers to jars.
struct LotPlan<'a> {
    sequence: u32,
    name: &'static str,
    /// One container is a draw; several are a blend.
    from: Vec<(&'a Filled, i64)>,
    made_on: NaiveDate,
    water: [i64; 2],
    left_behind_g: i64,
    jars: Vec<JarPlan>,
}

/// Jars of one size, filled on one day.
struct JarPlan {
    nominal_g: i64,
    good: i64,
    /// What a jar gets above what it says, grams.
    over_g: i64,
    shelf: &'static str,
}

const fn jars(nominal_g: i64, good: i64, over_g: i64, shelf: &'static str) -> JarPlan {
    JarPlan {
        nominal_g,
        good,
        over_g,
        shelf,
    }
}

/// A batch with the count that the books must show.
#[derive(Debug)]
pub(super) struct Batch {
    pub(super) id: BatchId,
    code: LotCode,
    pub(super) book: i64,
}

/// Tells of everything after the two runs; answers a code that stands on jars.
pub(super) fn sell(
    diary: &mut Diary,
    dice: &mut Dice,
    places: &Places,
    [first, second]: [&Drawn; 2],
) -> Result<LotCode, PlanRefused> {
    let mut batches = Vec::new();
    for plan in lots(first, second) {
        let lot = make(diary, places, &plan)?;
        batches.extend(bottle(diary, dice, (lot, &plan), batches.len())?);
    }
    set_aside(diary, &mut batches)?;
    deliver(diary, &mut batches, [first, second])?;
    // The blend's jars have the longest way behind them.
    let shown = batches.get(6).or(batches.first()).map(|batch| batch.code);
    shown.map_or_else(|| Ok(LotCode::make(SEASON, None, 1)?), Ok)
}

fn lots<'a>(first: &'a Drawn, second: &'a Drawn) -> [LotPlan<'a>; 3] {
    let buckets = first.buckets.iter().take(2).chain(second.buckets.iter().take(3));
    [
        LotPlan {
            sequence: 1,
            name: "summer blossom",
            from: vec![(&first.tank, 700)],
            made_on: day(7, 4),
            water: [1_690, 1_694],
            left_behind_g: 1_000,
            jars: vec![
                jars(500, 200, 2, "shelf A1"),
                jars(250, 168, 1, "shelf A2"),
                jars(1_000, 20, 3, "shelf A3"),
            ],
        },
        LotPlan {
            sequence: 2,
            name: "river meadow",
            from: vec![(&second.tank, 500)],
            made_on: day(7, 21),
            water: [1_762, 1_766],
            left_behind_g: 600,
            jars: vec![
                jars(500, 140, 2, "shelf B1"),
                jars(250, 128, 1, "shelf B2"),
                jars(1_000, 8, 3, "shelf B3"),
            ],
        },
        LotPlan {
            sequence: 3,
            name: "blossom, two yards and a meadow",
            from: buckets.map(|bucket| (bucket, 100)).collect(),
            made_on: day(7, 24),
            water: [1_738, 1_742],
            left_behind_g: 1_400,
            jars: vec![
                jars(500, 180, 2, "shelf C1"),
                jars(1_000, 40, 3, "shelf C3"),
                jars(250, 36, 1, "shelf C2"),
            ],
        },
    ]
}

/// A lot from its containers to its release two days later.
fn make(diary: &mut Diary, places: &Places, plan: &LotPlan<'_>) -> Result<LotId, PlanRefused> {
    let lot_id = LotId::from_uuid(clock::new_id());
    let on = plan.made_on;
    let mut parts = Vec::new();
    for (minute, (fill, off_g)) in (0..).zip(&plan.from) {
        let settled = FillSettled {
            fill_id: fill.id,
            days: Some(Days::new(8)?),
            skimmed_g: Some(grams(*off_g)?),
        };
        diary.tell(Person::Rook, at(on, 8, minute), settled);
        parts.push(Part {
            from: fill.id.into(),
            weight_g: grams(fill.net_g - off_g)?,
        });
    }
    let code = LotCode::make(SEASON, Some('R'), plan.sequence)?;
    let claim = Some(Claim::General);
    match (plan.from.as_slice(), parts.as_slice()) {
        ([(fill, _)], [Part { weight_g, .. }]) => {
            let weight_g = *weight_g;
            let drawn = HoneyDrawn {
                lot_id,
                code,
                fill_id: fill.id,
                weight_g,
                claim,
            };
            diary.tell(Person::Rook, at(on, 9, 0), drawn);
        }
        _ => {
            diary.tell(
                Person::Rook,
                at(on, 9, 0),
                Blended {
                    lot_id,
                    code,
                    parts,
                    claim,
                },
            );
            let target = lot_id.into();
            diary.tell(Person::Rook, at(on, 9, 40), HoneyStirred { target });
        }
    }
    let described = LotDescribed {
        lot_id,
        claim: None,
        name: Some(name(plan.name)?),
        claim_reason: None,
    };
    diary.tell(Person::Rook, at(on, 9, 50), described);
    release(diary, places, lot_id, plan)?;
    Ok(lot_id)
}

/// Measured on the day it was made and again two days later; then Maren tastes and releases it.
fn release(diary: &mut Diary, places: &Places, lot_id: LotId, plan: &LotPlan<'_>) -> Result<(), PlanRefused> {
    let again = plan.made_on + TimeDelta::days(2);
    for (on, water_hundredths) in [plan.made_on, again].into_iter().zip(plan.water) {
        let checked = MeterChecked {
            meter_id: places.meter,
            passed: true,
            offset_hundredths: Some(0),
        };
        diary.tell(Person::Rook, at(on, 10, 0), checked);
        let glance = Glance {
            meter: places.meter,
            water_hundredths,
            honey_tenths_c: 224,
        };
        diary.read(Person::Rook, at(on, 10, 5), vec![lot_id.into()], glance)?;
    }
    let sampled = LotSampled {
        lot_id,
        weight_g: grams(200)?,
    };
    diary.tell(Person::Rook, at(again, 10, 30), sampled);
    let released = LotReleased {
        lot_id,
        samples_kept: Some(count(2)?),
        samples_place: Some(name("sample shelf in the cellar")?),
        tastes_right: Some(true),
        reason: None,
    };
    diary.tell(Person::Maren, at(again, 12, 0), released);
    Ok(())
}

/// Every jar size of a lot, on the day after its release.
fn bottle(
    diary: &mut Diary,
    dice: &mut Dice,
    (lot_id, plan): (LotId, &LotPlan<'_>),
    before: usize,
) -> Result<Vec<Batch>, PlanRefused> {
    let on = plan.made_on + TimeDelta::days(3);
    let mut batches = Vec::new();
    for (hour, jars) in (8..).step_by(3).zip(&plan.jars) {
        let id = BatchId::from_uuid(clock::new_id());
        // Lots and batches of a phone share one count: the first three are the lots.
        let sequence = u32::try_from(before + batches.len() + 4).unwrap_or(u32::MAX);
        let code = LotCode::make(SEASON, Some('R'), sequence)?;
        let bottled = Bottled {
            batch_id: id,
            lot_id,
            code,
            nominal_g: grams(jars.nominal_g)?,
            jars_good: count(jars.good)?,
            jars_broken: None,
            used_g: Some(grams(jars.good * (jars.nominal_g + jars.over_g))?),
            product: Some(name(&format!("Honey, {} g", jars.nominal_g))?),
            label_version: Some(name("2025-1")?),
        };
        diary.tell(Person::Rook, at(on, hour, 0), bottled);
        pack(diary, dice, (id, at(on, hour, 0)), jars)?;
        batches.push(Batch {
            id,
            code,
            book: jars.good,
        });
    }
    let weight_g = grams(plan.left_behind_g)?;
    let reason = text("left on the walls of tank and filler")?;
    diary.tell(
        Person::Rook,
        at(on, 18, 0),
        HoneyWasted {
            lot_id,
            weight_g,
            reason,
        },
    );
    Ok(batches)
}

/// Check weights, labels, shelf.
fn pack(
    diary: &mut Diary,
    dice: &mut Dice,
    (batch_id, filled_at): (BatchId, DateTime<Utc>),
    jars: &JarPlan,
) -> Result<(), PlanRefused> {
    let over = jars.over_g * 10;
    let one = |_| jars.nominal_g * 10 + over + dice.between(-over, over + 5);
    let net_tenths_g = (0..15).map(one).collect();
    let checked = WeightsChecked { batch_id, net_tenths_g };
    diary.tell(Person::Rook, filled_at + TimeDelta::minutes(100), checked);
    let labelled = Labelled {
        batch_id,
        printed: count(jars.good + 4)?,
        used: count(jars.good)?,
        spoilt: Some(count(4)?),
        label_version: Some(name("2025-1")?),
        best_before: filled_at.date_naive().checked_add_months(Months::new(24)),
    };
    diary.tell(Person::Rook, filled_at + TimeDelta::minutes(130), labelled);
    let place = name(jars.shelf)?;
    diary.tell(
        Person::Rook,
        filled_at + TimeDelta::minutes(170),
        BatchStored { batch_id, place },
    );
    Ok(())
}

//! From containers to jars on the shelf: settled, drawn or blended, measured twice, released, bottled, labelled.

use chrono::{DateTime, Months, NaiveDate, TimeDelta, Utc};
use domain::batch::{BatchStored, Bottled, Labelled, WeightsChecked};
use domain::fill::{FillSettled, Part};
use domain::ids::{BatchId, LotId};
use domain::limits::Claim;
use domain::lot::{Blended, HoneyDrawn, HoneyWasted, LotDescribed, LotReleased, LotSampled};
use domain::lot_code::LotCode;
use domain::moisture::HoneyStirred;
use domain::units::Days;

use super::diary::{Diary, Dice, Glance, Person, PlanRefused, at, count, day, grams, meter_is_wrong, name, text};
use super::extraction::ForLot;
use super::figures::{PACKING, SIZES_G};
use super::harvest::check_meter;
use super::incidents;
use super::places::Places;

/// A lot that was made.
#[derive(Clone, Debug)]
pub(super) struct Made {
    pub(super) id: LotId,
    pub(super) year: i32,
    pub(super) sequence: u32,
    pub(super) released_on: NaiveDate,
    heather: bool,
    holds_g: i64,
}

/// A batch with the count that the books must show.
#[derive(Clone, Debug)]
pub(super) struct Batch {
    pub(super) id: BatchId,
    pub(super) code: LotCode,
    /// The number of its lot within the season.
    pub(super) lot: u32,
    pub(super) lot_id: LotId,
    pub(super) size_g: i64,
    pub(super) filled_at: DateTime<Utc>,
    /// The market leaves it alone.
    pub(super) apart: bool,
    pub(super) book: i64,
}

/// Numbers of lots and batches that one part of the business has for itself.
const NUMBERS_A_PART: u32 = 60;

fn first_number(places: &Places) -> u32 {
    NUMBERS_A_PART * u32::try_from(places.part).unwrap_or(0)
}

/// The season as codes name it.
fn season(year: i32) -> u16 {
    u16::try_from(year).unwrap_or(0)
}

/// Makes every lot of a year and fills its jars; answers lots and batches in the order of their making.
pub(super) fn pack(
    diary: &mut Diary,
    dice: &mut Dice,
    places: &Places,
    parity: usize,
    lots: &[ForLot],
) -> Result<(Vec<Made>, Vec<Batch>), PlanRefused> {
    let mut made = Vec::new();
    for lot in lots {
        made.push(make(diary, places, lot)?);
    }
    made.sort_by_key(|lot| (lot.released_on, lot.sequence));
    let jars = share_out_jars(parity, &made);
    let mut batches: Vec<Batch> = Vec::new();
    for (lot, jars) in made.iter().zip(jars) {
        let of_lot = bottle(diary, dice, places, (lot, jars, batches.len()))?;
        batches.extend(of_lot);
    }
    Ok((made, batches))
}

/// How many jars of each size come from which lot: in proportion to what each holds, so that the year's jars come out.
fn share_out_jars(parity: usize, lots: &[Made]) -> Vec<[i64; 3]> {
    let Some(packing) = PACKING.get(parity) else {
        return Vec::new();
    };
    let all_g: i64 = lots.iter().filter(|lot| !lot.heather).map(|lot| lot.holds_g).sum();
    let last = lots.iter().rposition(|lot| !lot.heather);
    let (mut so_far_g, mut done) = (0, [0_i64; 3]);
    let mut shares = Vec::new();
    for (at, lot) in lots.iter().enumerate() {
        if lot.heather {
            shares.push([0, packing.heather, 0]);
            continue;
        }
        so_far_g += lot.holds_g;
        let mut jars = [0; 3];
        // Large jars first: the small ones make up for what rounding leaves.
        for size in [2, 0, 1] {
            let (Some(total), Some(done), Some(own)) = (packing.jars.get(size), done.get_mut(size), jars.get_mut(size))
            else {
                continue;
            };
            let up_to = if Some(at) == last {
                *total
            } else {
                (total * so_far_g + all_g - 1) / all_g.max(1)
            };
            *own = up_to - *done;
            *done = up_to;
        }
        // Whatever the sums say, no more than there is; the next lot takes over.
        let spare_g = lot.holds_g - LEAST_LEFT_G;
        while jars[0] * 502 + jars[1] * 251 + jars[2] * 1_003 > spare_g && jars[1] > 0 && Some(at) != last {
            jars[1] -= 1;
            done[1] -= 1;
        }
        shares.push(jars);
    }
    shares
}

/// What samples and walls take of a lot at the least.
const LEAST_LEFT_G: i64 = 300;
/// A sample of a lot.
const SAMPLE_G: i64 = 200;

/// A lot from its containers to its release.
fn make(diary: &mut Diary, places: &Places, plan: &ForLot) -> Result<Made, PlanRefused> {
    let (row, year) = (plan.row, plan.year);
    let lot_id = LotId::from_uuid(diary.id());
    let on = day(year, row.made_on);
    let twice = incidents::told_by_another(year, row.name).filter(|_| places.part == 0);
    let by = twice.unwrap_or(Person::Rook);
    let mut parts = Vec::new();
    for (minute, fill) in (0..).zip(&plan.fills) {
        let off_g = if fill.tank { 400 } else { 50 };
        let settled = FillSettled {
            fill_id: fill.id,
            days: Some(Days::new(1)?),
            skimmed_g: Some(grams(off_g)?),
        };
        diary.tell(by, at(on, 8, minute), settled);
        parts.push(Part {
            from: fill.id.into(),
            weight_g: grams(fill.net_g - off_g)?,
        });
    }
    let holds_g: i64 = parts.iter().map(|part| part.weight_g.get()).sum();
    let code = LotCode::make(season(year), None, first_number(places) + row.sequence)?;
    let claim = Some(if row.heather { Claim::Heather } else { Claim::General });
    match (plan.fills.as_slice(), parts.as_slice()) {
        ([fill], [Part { weight_g, .. }]) => {
            let drawn = HoneyDrawn {
                lot_id,
                code,
                fill_id: fill.id,
                weight_g: *weight_g,
                claim,
            };
            diary.tell(by, at(on, 9, 0), drawn);
        }
        _ => {
            let blended = Blended {
                lot_id,
                code,
                parts,
                claim,
            };
            diary.tell(by, at(on, 9, 0), blended);
            let target = lot_id.into();
            diary.tell(by, at(on, 9, 40), HoneyStirred { target });
        }
    }
    let described = LotDescribed {
        lot_id,
        claim: None,
        name: Some(name(row.name)?),
        claim_reason: row
            .heather
            .then(|| text("eight hives stood on the moor from 3 August on, spun by itself"))
            .transpose()?,
    };
    diary.tell(by, at(on, 9, 50), described);
    let released_on = release(diary, places, (lot_id, by), (on, water_of(plan)))?;
    Ok(Made {
        id: lot_id,
        year,
        sequence: row.sequence,
        released_on,
        heather: row.heather,
        holds_g,
    })
}

/// Water of a lot, as its parts say.
const fn water_of(plan: &ForLot) -> i64 {
    if plan.row.blend { 1_773 } else { plan.water }
}

/// Measured on the day it was made and again two days later; then Maren tastes and releases it. Where the meter was
/// wrong, it is measured anew after the check that found it.
fn release(
    diary: &mut Diary,
    places: &Places,
    (lot_id, by): (LotId, Person),
    (on, water): (NaiveDate, i64),
) -> Result<NaiveDate, PlanRefused> {
    let mut again = on + TimeDelta::days(2);
    if meter_is_wrong(at(again, 10, 5)) || meter_is_wrong(at(on, 10, 5)) {
        again = again.max(day(2024, (7, 23)));
    }
    for (on, water) in [(on, water), (again, water + 4)] {
        check_meter(diary, places, at(on, 10, 0));
        let glance = Glance {
            meter: places.tools.meter,
            water,
            honey_tenths_c: 224,
        };
        diary.read(by, at(on, 10, 5), vec![lot_id.into()], glance)?;
    }
    let sampled = LotSampled {
        lot_id,
        weight_g: grams(SAMPLE_G)?,
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
    Ok(again)
}

/// Every jar size of a lot, on the day after its release.
fn bottle(
    diary: &mut Diary,
    dice: &mut Dice,
    places: &Places,
    (lot, jars, before): (&Made, [i64; 3], usize),
) -> Result<Vec<Batch>, PlanRefused> {
    let on = lot.released_on + TimeDelta::days(1);
    let mut batches = Vec::new();
    let mut left_g = lot.holds_g - SAMPLE_G;
    for (hour, (good, size_g)) in (8..).step_by(3).zip(jars.into_iter().zip(SIZES_G)) {
        if good == 0 {
            continue;
        }
        // So far above what they say the jars are filled, as far as the lot reaches.
        let over_g = (size_g / 250).min(2);
        let later = jars.iter().zip(SIZES_G).skip_while(|(_, size)| *size != size_g).skip(1);
        let rest_g: i64 = later.map(|(jars, size)| jars * size).sum();
        let over_g = if left_g - rest_g - good * (size_g + over_g) >= 0 {
            over_g
        } else {
            0
        };
        let id = BatchId::from_uuid(diary.id());
        let number = first_number(places) + u32::try_from(before + batches.len() + 1).unwrap_or(u32::MAX);
        let code = LotCode::make(season(lot.year), Some('R'), number)?;
        let used_g = good * (size_g + over_g);
        left_g -= used_g;
        let bottled = Bottled {
            batch_id: id,
            lot_id: lot.id,
            code,
            nominal_g: grams(size_g)?,
            jars_good: count(good)?,
            jars_broken: None,
            used_g: Some(grams(used_g)?),
            product: Some(name(&format!(
                "{}, {size_g} g",
                if lot.heather { "Heather honey" } else { "Honey" }
            ))?),
            label_version: Some(name(&format!("{}-1", lot.year))?),
        };
        let filled_at = at(on, hour, 0);
        diary.tell(Person::Rook, filled_at, bottled);
        let short = places.part == 0 && incidents::fills_short(lot.year, lot.sequence, size_g);
        store(diary, dice, (id, filled_at, lot.year), (size_g, good, over_g, short))?;
        batches.push(Batch {
            id,
            code,
            lot: lot.sequence,
            lot_id: lot.id,
            size_g,
            filled_at,
            apart: places.part == 0 && incidents::is_apart(lot.year, lot.sequence, size_g),
            book: good,
        });
    }
    if left_g > 0 {
        let wasted = HoneyWasted {
            lot_id: lot.id,
            weight_g: grams(left_g)?,
            reason: text("gifts, tasting, and left on the walls of tank and filler")?,
        };
        diary.tell(Person::Rook, at(on, 18, 0), wasted);
    }
    Ok(batches)
}

/// Check weights, labels, shelf.
fn store(
    diary: &mut Diary,
    dice: &mut Dice,
    (batch_id, filled_at, year): (BatchId, DateTime<Utc>, i32),
    (size_g, good, over_g, short): (i64, i64, i64, bool),
) -> Result<(), PlanRefused> {
    if short {
        incidents::short_jars(diary, batch_id, filled_at)?;
    } else {
        let over = over_g.max(1) * 10;
        let one = |_| size_g * 10 + over + dice.between(-over, over + 5);
        let net_tenths_g = (0..15).map(one).collect();
        let checked = WeightsChecked {
            batch_id,
            net_tenths_g,
            topped_up: None,
        };
        diary.tell(Person::Rook, filled_at + TimeDelta::minutes(100), checked);
    }
    let labelled = Labelled {
        batch_id,
        printed: count(good + 4)?,
        used: count(good)?,
        spoilt: Some(count(4)?),
        label_version: Some(name(&format!("{year}-1"))?),
        best_before: filled_at.date_naive().checked_add_months(Months::new(24)),
    };
    diary.tell(Person::Rook, filled_at + TimeDelta::minutes(130), labelled);
    let place = name(&format!(
        "shelf {}",
        ["A", "B", "C"]
            .get(usize::try_from(size_g / 500).unwrap_or(0))
            .unwrap_or(&"D")
    ))?;
    diary.tell(
        Person::Rook,
        filled_at + TimeDelta::minutes(170),
        BatchStored { batch_id, place },
    );
    Ok(())
}

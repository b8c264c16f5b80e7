//! The runs of the demo: uncapping, wet weights, cappings, strainer, machine, and the containers filled.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::extraction::{
    CappingsWeighed, HoneyStrained, RunDrained, RunOpened, SampleTaken, Spin, SuperUncapped, WetWeighed,
};
use domain::fill::ContainerKind;
use domain::honey_super::SuperStored;
use domain::ids::RunId;
use domain::units::{FrameCount, Micrometres};

use super::containers::{BLEND_BUCKET_G, BLEND_TANK_G, BUCKET_G, Filled, Filler, PAIL_G};
use super::diary::{Diary, Glance, Person, PlanRefused, at, day, grams, name, to_step};
use super::figures::{LotRow, RunRow};
use super::harvest::{Full, Losses, Times};
use super::incidents::{Quirk, robbed_came_in};
use super::places::Places;

/// The containers that a lot is to be made of.
pub(super) struct ForLot {
    pub(super) row: &'static LotRow,
    pub(super) year: i32,
    pub(super) fills: Vec<Filled>,
    pub(super) water: i64,
}

/// What a run was drawn into.
pub(super) struct Drawn {
    pub(super) year: i32,
    pub(super) run_on: NaiveDate,
    /// Pails that are sold as they are.
    pub(super) pails: Vec<Filled>,
    /// Containers that are kept in stock.
    pub(super) stock: Vec<Filled>,
    pub(super) lots: Vec<ForLot>,
}

/// How much wetter the honey of the cappings is.
const WETTER_CAPPINGS: i64 = 20;
/// Water of the blend's parts.
const BLEND_WATER: [i64; 2] = [1_710, 1_940];

/// Tells of a run from the first knife to the last pail.
pub(super) fn extract(
    diary: &mut Diary,
    places: &mut Places,
    (year, run): (i32, &'static RunRow),
    supers: &[Full],
) -> Result<(RunId, Drawn), PlanRefused> {
    let times = Times::of(year, run);
    let run_id = RunId::from_uuid(diary.id());
    let label = format!("{:02}-{}{}", year % 100, run.name, places.suffix());
    let heather = run.lots.iter().any(|lot| lot.heather);
    let opened = RunOpened {
        run_id,
        name: Some(name(&label)?),
        extractor: Some(name(if heather {
            "4-frame tangential"
        } else {
            "20-frame radial"
        })?),
        spin: Some(if heather { Spin::Tangential } else { Spin::Radial }),
    };
    diary.tell(Person::Tobiah, times.spun_at, opened);
    let spun = spin(diary, run_id, &times, supers)?;
    let net_g: i64 = supers.iter().map(Full::net_g).sum();
    let pot_g: i64 = run.from.iter().map(|from| from.kg * 1_000).sum();
    let cappings_g = to_step(net_g * Losses::CAPPINGS_HONEY / 10_000, 100);
    let weights = finish(diary, run_id, &times, (supers, net_g, cappings_g, spun))?;
    let mut filler = Filler {
        diary,
        places,
        run_id,
        label,
        when: weights,
        on: times.run_on,
        forgotten: false,
    };
    let drawn = fill(&mut filler, (year, run), pot_g - cappings_g, cappings_g)?;
    read_fills(diary, places, (run, times.run_on, weights), &drawn)?;
    Ok((run_id, drawn))
}

/// Every super uncapped, spun, weighed wet and put away; answers when the last was spun.
fn spin(diary: &mut Diary, run_id: RunId, times: &Times, supers: &[Full]) -> Result<DateTime<Utc>, PlanRefused> {
    let mut last = times.spun_at;
    for (at_super, of) in (0..).zip(supers) {
        let robbed = of.quirk == Some(Quirk::Robbed);
        let when = if robbed {
            robbed_came_in(times.run_on) + TimeDelta::hours(2)
        } else {
            times.spun_at + TimeDelta::minutes(10 + 9 * at_super)
        };
        let super_id = of.id;
        let brood = of.quirk == Some(Quirk::Brood);
        let uncapped = SuperUncapped {
            run_id,
            super_id,
            frames_set_aside: brood.then(|| FrameCount::new(3)).transpose()?,
            group: None,
        };
        diary.tell(Person::Tobiah, when, uncapped);
        let wet = WetWeighed {
            run_id,
            super_id,
            gross_g: grams(of.wet_g)?,
            scale_id: None,
        };
        diary.tell(Person::Tobiah, when + TimeDelta::minutes(25), wet);
        let stored = SuperStored {
            super_id,
            wet: true,
            place: Some(name("wet stack")?),
        };
        let day_over = if robbed {
            when + TimeDelta::hours(4)
        } else {
            at(times.run_on, 21, at_super)
        };
        diary.tell(Person::Ilse, day_over, stored);
        if !robbed {
            last = last.max(when + TimeDelta::minutes(25));
        }
    }
    Ok(last)
}

/// Pails for sale, buckets for the store, then the lots; the last takes what is left and the rest of the cappings.
fn fill(
    filler: &mut Filler<'_>,
    (year, run): (i32, &'static RunRow),
    bulk_g: i64,
    cappings_g: i64,
) -> Result<Drawn, PlanRefused> {
    let sold = Some(filler.on + TimeDelta::days(40));
    let last_lot = run.lots.last().map(|lot| day(year, lot.made_on));
    let mut bulk_g = bulk_g;
    let (mut pails, mut of_cappings, mut cappings_g) = (Vec::new(), Vec::new(), cappings_g);
    for at_pail in 0..run.pails {
        // One pail is of the cappings, where they gave that much.
        let from_cappings = at_pail == 0 && cappings_g >= PAIL_G + 300;
        let pail = filler.fill(ContainerKind::Pail, (PAIL_G, from_cappings), sold)?;
        if from_cappings {
            cappings_g -= PAIL_G;
        } else {
            bulk_g -= PAIL_G;
        }
        pails.push(pail);
    }
    if cappings_g > 0 {
        let kind = if cappings_g > PAIL_G + 300 {
            ContainerKind::Bucket
        } else {
            ContainerKind::Pail
        };
        of_cappings.push(filler.fill(kind, (cappings_g, true), last_lot)?);
    }
    let mut stock = Vec::new();
    let (buckets, bucket_g) = run.stock;
    for _ in 0..buckets {
        let kind = if bucket_g > PAIL_G {
            ContainerKind::Bucket
        } else {
            ContainerKind::Pail
        };
        stock.push(filler.fill(
            kind,
            (bucket_g, false),
            stock_sold_on(year).map(|on| on + TimeDelta::days(9)),
        )?);
        bulk_g -= bucket_g;
    }
    let mut lots = Vec::new();
    for row in run.lots {
        let made_on = Some(day(year, row.made_on));
        let mut fills = Vec::new();
        if row.blend {
            fills.push(filler.fill(ContainerKind::Tank, (BLEND_TANK_G, false), made_on)?);
            for _ in 0..2 {
                fills.push(filler.fill(ContainerKind::Bucket, (BLEND_BUCKET_G, false), made_on)?);
            }
        }
        match row.buckets {
            Some(buckets) => {
                for at_bucket in 0..buckets {
                    filler.forgotten =
                        at_bucket == 0 && filler.places.part == 0 && super::incidents::forgets_a_label(year, run.name);
                    let net_g = if filler.forgotten {
                        super::incidents::WITHOUT_LABEL_G
                    } else {
                        BUCKET_G
                    };
                    fills.push(filler.fill(ContainerKind::Bucket, (net_g, false), made_on)?);
                }
            }
            None => {
                fills.extend(filler.rest(bulk_g, made_on)?);
                fills.append(&mut of_cappings);
            }
        }
        bulk_g -= fills.iter().map(|filled| filled.net_g).sum::<i64>();
        lots.push(ForLot {
            row,
            year,
            fills,
            water: run.water,
        });
    }
    Ok(Drawn {
        year,
        run_on: filler.on,
        pails,
        stock,
        lots,
    })
}

/// When the stock of a year is sold in bulk; that of the last two years is kept.
pub(super) fn stock_sold_on(year: i32) -> Option<NaiveDate> {
    (year < 2024).then(|| day(year + 1, (4, 10)))
}

/// Every container is measured on the evening of the run, each kind of honey by itself.
fn read_fills(
    diary: &mut Diary,
    places: &Places,
    (run, on, filled_at): (&RunRow, NaiveDate, DateTime<Utc>),
    drawn: &Drawn,
) -> Result<(), PlanRefused> {
    let evening = (filled_at + TimeDelta::hours(3)).max(at(on, 19, 0));
    let mut look = |minute: i64, water: i64, fills: Vec<&Filled>| {
        if fills.is_empty() {
            return Ok(());
        }
        let glance = Glance {
            meter: places.tools.meter,
            water,
            honey_tenths_c: 262,
        };
        let targets = fills.into_iter().map(|filled| filled.id.into()).collect();
        diary.read(Person::Tobiah, evening + TimeDelta::minutes(minute), targets, glance)?;
        Ok::<_, PlanRefused>(())
    };
    let ran = |filled: &&Filled| !filled.of_cappings;
    look(
        0,
        run.water,
        drawn.pails.iter().chain(&drawn.stock).filter(ran).collect(),
    )?;
    for (minute, lot) in (2..).step_by(4).zip(&drawn.lots) {
        if lot.row.blend {
            let (tank, rest) = lot.fills.iter().filter(ran).partition(|filled| filled.tank);
            look(minute, BLEND_WATER[0], tank)?;
            look(minute + 2, BLEND_WATER[1], rest)?;
        } else {
            look(minute, run.water, lot.fills.iter().filter(ran).collect())?;
        }
    }
    // What ran out of the cappings is there a day later, and wetter.
    let of_lots = drawn.lots.iter().flat_map(|lot| &lot.fills);
    let of_cappings = drawn.pails.iter().chain(of_lots).filter(|filled| filled.of_cappings);
    look(24 * 60, run.water + WETTER_CAPPINGS, of_cappings.collect())
}

/// Strainer, sample, machine and cappings; answers when the tap is opened.
fn finish(
    diary: &mut Diary,
    run_id: RunId,
    times: &Times,
    (supers, net_g, cappings_g, spun): (&[Full], i64, i64, DateTime<Utc>),
) -> Result<DateTime<Utc>, PlanRefused> {
    let of_net = |share: i64, step: i64| grams(to_step(net_g * share / 10_000, step));
    let tap = spun - TimeDelta::minutes(60);
    let strained = HoneyStrained {
        run_id,
        mesh_um: Micrometres::new(400)?,
        whole_before: Some(true),
        whole_after: Some(true),
    };
    diary.tell(Person::Tobiah, spun + TimeDelta::minutes(5), strained);
    let sample = SampleTaken {
        run_id,
        weight_g: of_net(Losses::SAMPLES, 10)?,
    };
    diary.tell(Person::Tobiah, spun + TimeDelta::minutes(10), sample);
    let robbed = supers.iter().any(|of| of.quirk == Some(Quirk::Robbed));
    let drained_at = if robbed {
        robbed_came_in(times.run_on) + TimeDelta::hours(5)
    } else {
        spun + TimeDelta::minutes(60)
    };
    let left_in_machine_g = Some(of_net(Losses::MACHINE, 50)?);
    diary.tell(
        Person::Tobiah,
        drained_at,
        RunDrained {
            run_id,
            left_in_machine_g,
        },
    );
    let cappings = CappingsWeighed {
        run_id,
        honey_g: grams(cappings_g)?,
        wax_g: Some(of_net(Losses::WAX, 10)?),
    };
    diary.tell(Person::Tobiah, drained_at + TimeDelta::hours(14), cappings);
    Ok(tap)
}

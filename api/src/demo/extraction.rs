//! The two runs of the demo: uncapping, wet weights, cappings, strainer, machine, and the containers filled.

use chrono::{NaiveDate, TimeDelta};
use domain::extraction::{
    CappingsWeighed, HoneyStrained, RunDrained, RunOpened, SampleTaken, Spin, SuperUncapped, WetWeighed,
};
use domain::fill::{ContainerFilled, FillSource};
use domain::honey_super::SuperStored;
use domain::ids::{FillId, RunId};
use domain::units::Micrometres;

use super::diary::{Diary, Glance, Person, PlanRefused, at, grams, name, to_step};
use super::harvest::{Full, Losses};
use super::places::{Places, Vessel};
use crate::clock;

/// What is in a container.
#[derive(Clone, Debug)]
pub(super) struct Filled {
    pub(super) id: FillId,
    pub(super) net_g: i64,
}

/// The containers a run is drawn into.
pub(super) struct Vessels<'a> {
    pub(super) tank: (&'a Vessel, i64),
    pub(super) buckets: Vec<(&'a Vessel, i64)>,
    /// All but the last with their net; the last takes the rest.
    pub(super) pails: Vec<(&'a Vessel, i64)>,
    pub(super) last_pail: &'a Vessel,
    pub(super) cappings: &'a Vessel,
}

/// What a run was drawn into.
#[derive(Debug)]
pub(super) struct Drawn {
    pub(super) tank: Filled,
    pub(super) buckets: Vec<Filled>,
    pub(super) pails: Vec<Filled>,
    pub(super) cappings: Filled,
}

/// One run: its name, its day, the water of what runs out.
#[derive(Clone, Copy)]
pub(super) struct Run {
    pub(super) name: &'static str,
    pub(super) on: NaiveDate,
    pub(super) pot_g: i64,
    pub(super) water_hundredths: i64,
}

/// Tells of a run from the first knife to the last pail.
pub(super) fn extract(
    diary: &mut Diary,
    places: &Places,
    run: Run,
    supers: &[Full],
    vessels: &Vessels<'_>,
) -> Result<Drawn, PlanRefused> {
    let run_id = RunId::from_uuid(clock::new_id());
    let opened = RunOpened {
        run_id,
        name: Some(name(run.name)?),
        extractor: Some(name("20-frame radial")?),
        spin: Some(Spin::Radial),
    };
    diary.tell(Person::Tobiah, at(run.on, 8, 0), opened);
    spin(diary, (run_id, run.on), supers)?;
    let net_g: i64 = supers.iter().map(Full::net_g).sum();
    let cappings_g = to_step(net_g * Losses::CAPPINGS_HONEY / 10_000, 100);
    let drawn = fill(diary, (run_id, run), run.pot_g - cappings_g, (vessels, cappings_g))?;
    finish(diary, (run_id, run.on), net_g, cappings_g)?;
    let glance = Glance {
        meter: places.meter,
        water_hundredths: run.water_hundredths,
        honey_tenths_c: 262,
    };
    let bulk = drawn.buckets.iter().chain(&drawn.pails).chain([&drawn.tank]);
    let targets = bulk.map(|filled| filled.id.into()).collect();
    diary.read(Person::Tobiah, at(run.on, 17, 30), targets, glance)?;
    Ok(drawn)
}

/// Every super uncapped, spun, weighed wet and put away.
fn spin(diary: &mut Diary, (run_id, on): (RunId, NaiveDate), supers: &[Full]) -> Result<(), PlanRefused> {
    for (at_super, of) in (0..).zip(supers) {
        let when = at(on, 8, 10 + 9 * at_super);
        let super_id = of.id;
        let uncapped = SuperUncapped {
            run_id,
            super_id,
            frames_set_aside: None,
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
        let place = Some(name("wet stack")?);
        let stored = SuperStored {
            super_id,
            wet: true,
            place,
        };
        diary.tell(Person::Ilse, at(on, 18, at_super), stored);
    }
    Ok(())
}

/// Bulk honey into tank, buckets and pails; next day the honey of the cappings into a bucket of its own.
fn fill(
    diary: &mut Diary,
    (run_id, run): (RunId, Run),
    bulk_g: i64,
    (vessels, cappings_g): (&Vessels<'_>, i64),
) -> Result<Drawn, PlanRefused> {
    let Vessels {
        tank,
        buckets,
        pails,
        last_pail,
        cappings,
    } = vessels;
    let weighed = std::iter::once(tank).chain(buckets).chain(pails);
    let rest_g = bulk_g - weighed.map(|(_, net_g)| net_g).sum::<i64>();
    let mut minutes = 0;
    let mut into = |vessel: &Vessel, net_g: i64, of_cappings: bool| {
        minutes += 6;
        let (on, source) = if of_cappings {
            (run.on + TimeDelta::days(1), FillSource::CappingsOfRunId(run_id))
        } else {
            (run.on, FillSource::RunId(run_id))
        };
        let fill_id = FillId::from_uuid(clock::new_id());
        let filled = ContainerFilled {
            fill_id,
            source,
            gross_g: grams(net_g + vessel.tare_g)?,
            tare_g: grams(vessel.tare_g)?,
            container_id: Some(vessel.id),
            code: Some(name(&format!("{} {}", run.name, vessel.number))?),
            label_stuck: Some(true),
            group: None,
            scale_id: None,
        };
        diary.tell(Person::Tobiah, at(on, 14, minutes), filled);
        Ok::<_, PlanRefused>(Filled { id: fill_id, net_g })
    };
    let mut all = |vessels: &[(&Vessel, i64)]| {
        vessels
            .iter()
            .map(|(vessel, net_g)| into(vessel, *net_g, false))
            .collect::<Result<Vec<_>, _>>()
    };
    let buckets = all(buckets)?;
    let mut pails = all(pails)?;
    pails.push(into(last_pail, rest_g, false)?);
    let tank = into(tank.0, tank.1, false)?;
    Ok(Drawn {
        tank,
        buckets,
        pails,
        cappings: into(cappings, cappings_g, true)?,
    })
}

/// Strainer, sample, machine and cappings.
fn finish(diary: &mut Diary, (run_id, on): (RunId, NaiveDate), net_g: i64, cappings_g: i64) -> Result<(), PlanRefused> {
    let of_net = |share: i64, step: i64| grams(to_step(net_g * share / 10_000, step));
    let strained = HoneyStrained {
        run_id,
        mesh_um: Micrometres::new(400)?,
        whole_before: Some(true),
        whole_after: Some(true),
    };
    diary.tell(Person::Tobiah, at(on, 15, 50), strained);
    let sample = SampleTaken {
        run_id,
        weight_g: of_net(Losses::SAMPLES, 10)?,
    };
    diary.tell(Person::Tobiah, at(on, 15, 55), sample);
    let left_in_machine_g = Some(of_net(Losses::MACHINE, 50)?);
    diary.tell(
        Person::Tobiah,
        at(on, 16, 30),
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
    diary.tell(Person::Tobiah, at(on + TimeDelta::days(1), 14, 0), cappings);
    Ok(())
}

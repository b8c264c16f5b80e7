//! The whole plan of the demo: places in spring, two harvests in summer, buyers until autumn.

use chrono::{DateTime, Utc};
use domain::ids::OperationId;
use domain::lot_code::LotCode;

use super::diary::{Diary, Dice, Person, PlanRefused, Told, at, day};
use super::extraction::{Drawn, Run, Vessels, extract};
use super::harvest::{Crop, RunPlan, bring_in};
use super::house::sell;
use super::places::{BoxAt, Places, settle};

/// Everything that is told, by time, and a code to try.
#[derive(Debug)]
pub(super) struct Plan {
    pub(super) told: Vec<Told>,
    pub(super) jar_code: LotCode,
}

impl Plan {
    /// Makes it for one business.
    pub(super) fn make(operation: OperationId) -> Result<Self, PlanRefused> {
        let mut diary = Diary::default();
        let mut dice = Dice::new(0x2025);
        let places = settle(&mut diary, &mut dice, operation)?;
        let first = run_2(&mut diary, &mut dice, &places)?;
        let second = run_3(&mut diary, &mut dice, &places)?;
        let jar_code = sell(&mut diary, &mut dice, &places, [&first, &second])?;
        let mut told = diary.told;
        told.sort_by_key(|told| told.at);
        Ok(Self { told, jar_code })
    }

    /// What one person told before a time, or from it on.
    pub(super) fn of(&self, person: Person, before: Option<DateTime<Utc>>, from: Option<DateTime<Utc>>) -> Vec<&Told> {
        let within = |told: &&Told| {
            told.by == person && before.is_none_or(|before| told.at < before) && from.is_none_or(|from| told.at >= from)
        };
        self.told.iter().filter(within).collect()
    }
}

/// When the bees begin to gather: what was told before was told with everybody at home.
pub(super) fn season_begins() -> DateTime<Utc> {
    at(day(5, 1), 0, 0)
}

fn boxes(places: &Places, range: std::ops::Range<usize>) -> &[BoxAt] {
    places.boxes.get(range).unwrap_or_default()
}

/// 25-R2: Wennock Bank 244 kg, Ostlehope 100 kg, on 26 June.
fn run_2(diary: &mut Diary, dice: &mut Dice, places: &Places) -> Result<Drawn, PlanRefused> {
    let on = day(6, 26);
    let plan = RunPlan {
        crops: vec![
            Crop {
                yard: &places.wennock,
                boxes: boxes(places, 40..60),
                pot_g: 244_000,
                placed_on: day(6, 3),
                pulled_at: at(day(6, 25), 8, 0),
            },
            Crop {
                yard: &places.ostlehope,
                boxes: boxes(places, 60..68),
                pot_g: 100_000,
                placed_on: day(5, 26),
                pulled_at: at(day(6, 25), 14, 0),
            },
        ],
        water: (1_690, 40),
        dried: None,
        received_at: at(day(6, 25), 17, 0),
        received_by: Person::Tobiah,
        read_at: at(day(6, 25), 19, 0),
        run_on: on,
    };
    let supers = bring_in(diary, dice, places, &plan)?;
    let run = Run {
        name: "25-R2",
        on,
        pot_g: 344_000,
        water_hundredths: 1_690,
    };
    let vessels = vessels(places, (0, 165_000), (0..4, 4), 0..3).ok_or(PlanRefused::TooFewVessels)?;
    extract(diary, places, run, &supers, &vessels)
}

/// 25-R3: Tarnsedge 339 kg, on 12 July; its wettest stack is dried first.
fn run_3(diary: &mut Diary, dice: &mut Dice, places: &Places) -> Result<Drawn, PlanRefused> {
    let on = day(7, 12);
    let plan = RunPlan {
        crops: vec![Crop {
            yard: &places.tarnsedge,
            boxes: boxes(places, 0..30),
            pot_g: 339_000,
            placed_on: day(6, 4),
            pulled_at: at(day(7, 8), 13, 0),
        }],
        water: (1_790, 70),
        dried: Some((8, 1_760)),
        received_at: at(day(7, 8), 17, 0),
        received_by: Person::Rook,
        read_at: at(day(7, 9), 9, 0),
        run_on: on,
    };
    let supers = bring_in(diary, dice, places, &plan)?;
    let run = Run {
        name: "25-R3",
        on,
        pot_g: 339_000,
        water_hundredths: 1_758,
    };
    let vessels = vessels(places, (1, 112_000), (5..11, 11), 3..6).ok_or(PlanRefused::TooFewVessels)?;
    extract(diary, places, run, &supers, &vessels)
}

/// Honey in the buckets of 30 kg, again and again in this order.
const BUCKETS_G: [i64; 6] = [28_600, 28_400, 28_500, 28_300, 28_200, 28_400];
/// Honey in the pails before the last.
const PAILS_G: [i64; 2] = [12_600, 12_400];

fn vessels(
    places: &Places,
    (tank, tank_g): (usize, i64),
    (buckets, cappings): (std::ops::Range<usize>, usize),
    pails: std::ops::Range<usize>,
) -> Option<Vessels<'_>> {
    let (last_pail, pails) = places.pails.get(pails)?.split_last()?;
    let buckets = places.buckets.get(buckets)?;
    let full = buckets.iter().zip(BUCKETS_G.into_iter().cycle()).collect();
    let small = pails.iter().zip(PAILS_G.into_iter().cycle()).collect();
    Some(Vessels {
        tank: (places.tanks.get(tank)?, tank_g),
        buckets: full,
        pails: small,
        last_pail,
        cappings: places.buckets.get(cappings)?,
    })
}

//! What goes wrong in the two years: twenty-six incidents, told by those who were there. Each is told with its number
//! where it happens; the boxes and hives that play a part in one stand here.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::allocation::BoxClass;
use domain::entry::{Amended, Entry};
use domain::fill::{ContainerFilled, FillSource};
use domain::honey_super::{SuperPlaced, SuperWeighed};
use domain::ids::SuperId;

use super::diary::{Diary, Person, PlanRefused, at, day, text};
use super::figures::{OST, QUI, TSD, WEN};
use super::places::{BoxAt, Places, register_box};

mod first_year;
mod second_year;

pub(super) use first_year::short_jars;
pub(super) use second_year::of_the_years_before;

/// What is different about a super.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Quirk {
    /// Where it was put on is told with the incident.
    PlacedElsewhere,
    /// It fell off the truck and was robbed out.
    Robbed,
    /// Brood was seen in it when it was uncapped.
    Brood,
    /// Its combs slumped, and so many grams ran out.
    Slumped(i64),
}

impl Quirk {
    pub(super) const fn is_placed_elsewhere(self) -> bool {
        matches!(self, Self::PlacedElsewhere)
    }

    /// What it lost before it was spun.
    pub(super) const fn lost_g(self) -> i64 {
        match self {
            Self::Slumped(grams) => grams,
            _ => 0,
        }
    }
}

/// A box that an incident needs on a hive in a run.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pin {
    pub(super) run: &'static str,
    pub(super) yard: usize,
    pub(super) hive: &'static str,
    pub(super) number: &'static str,
    pub(super) quirk: Option<Quirk>,
}

const fn pin(run: &'static str, yard: usize, hive: &'static str, number: &'static str, quirk: Option<Quirk>) -> Pin {
    Pin {
        run,
        yard,
        hive,
        number,
        quirk,
    }
}

const ELSEWHERE: Option<Quirk> = Some(Quirk::PlacedElsewhere);

const FIRST: &[Pin] = &[
    pin("R1", OST, "O04", "017", ELSEWHERE),
    pin("R1", OST, "O09", "033", ELSEWHERE),
    pin("R1", OST, "O12", "029", Some(Quirk::Robbed)),
    pin("R2", OST, "O11", "041", None),
    pin("R2", OST, "O11", "042", None),
    pin("R3", TSD, "T06", "033b", ELSEWHERE),
    pin("R4", QUI, "Q03", "140", Some(Quirk::Brood)),
];

const SECOND: &[Pin] = &[
    pin("R2", WEN, "W01", "101", ELSEWHERE),
    pin("R2", WEN, "W02", "102", ELSEWHERE),
    pin("R2", WEN, "W03", "103", ELSEWHERE),
    pin("R2", WEN, "W04", "104", ELSEWHERE),
    pin("R2", WEN, "W05", "105", ELSEWHERE),
    pin("R3", TSD, "T03", "055", Some(Quirk::Slumped(3_600))),
    pin("R3", TSD, "T05", "056", Some(Quirk::Slumped(2_800))),
    pin("R4", WEN, "W09", "060", None),
];

/// Boxes that are kept for an incident without a run, from a year on: what is in them is on hold.
const APART: [(i32, &str); 3] = [(2024, "112"), (2024, "113"), (2025, "071")];

/// The pins of a year.
pub(super) fn pins(year: i32) -> impl Iterator<Item = Pin> {
    let of_year = match year {
        2024 => FIRST,
        2025 => SECOND,
        _ => &[],
    };
    of_year.iter().copied()
}

/// Whether a box is kept for an incident of the year.
pub(super) fn is_reserved(year: i32, number: &str) -> bool {
    pins(year).any(|pin| pin.number == number) || APART.iter().any(|(from, of)| *from <= year && *of == number)
}

/// I05: the one hive whose honey is not spun with the others', and the one that fills its boxes.
pub(super) fn spared(year: i32, run: &str) -> Option<(&'static str, &'static str)> {
    ((year, run) == (2024, "R4")).then_some(("Q07", "Q08"))
}

/// I03: when the box that fell off the truck came in.
pub(super) fn robbed_came_in(run_on: NaiveDate) -> DateTime<Utc> {
    at(run_on + TimeDelta::days(4), 8, 0)
}

/// I09: the run of which a bucket got no label.
pub(super) fn forgets_a_label(year: i32, run: &str) -> bool {
    (year, run) == (2024, "R4")
}

/// What is in that bucket.
pub(super) const WITHOUT_LABEL_G: i64 = 26_800;

/// I09: told without label and run; six days later Maren finds out.
pub(super) fn without_label(
    diary: &mut Diary,
    when: DateTime<Utc>,
    filled: ContainerFilled,
) -> Result<(), PlanRefused> {
    let unknown = ContainerFilled {
        source: FillSource::Unknown,
        code: None,
        label_stuck: Some(false),
        ..filled.clone()
    };
    let told = diary.tell(Person::Rook, when, unknown);
    let instead: Entry = filled.into();
    let found = Amended {
        entry_id: told,
        kind: instead.kind().to_owned(),
        v: 1,
        instead: Box::new(instead),
        reason: Some(text("the weights of the run fit with it and with no other")?),
    };
    diary.tell(Person::Maren, when + TimeDelta::days(6), Entry::Amended(found));
    Ok(())
}

/// I18: what the heater left of a super, weighed on the morning of the run.
pub(super) fn slumped(
    diary: &mut Diary,
    (super_id, gross_g): (SuperId, i64),
    (run_on, scale): (NaiveDate, domain::ids::ScaleId),
) -> Result<(), PlanRefused> {
    let weighed = SuperWeighed {
        super_id,
        gross_g: super::diary::grams(gross_g)?,
        scale_id: Some(scale),
        lost: Some(text("combs slumped: the heater stuck at 43 degrees for three hours")?),
    };
    diary.tell(Person::Rook, at(run_on, 7, 0), weighed);
    Ok(())
}

/// I12: the batch whose jars hold too little.
pub(super) fn fills_short(year: i32, lot: u32, size_g: i64) -> bool {
    (year, lot, size_g) == (2024, 7, 500)
}

/// I20: the lot that Maren makes while Rook makes another under the same code.
pub(super) fn told_by_another(year: i32, lot: &str) -> Option<Person> {
    ((year, lot) == (2025, "lime")).then_some(Person::Maren)
}

/// I13, I26: batches of which nothing is sold but what the incident tells.
pub(super) fn is_apart(year: i32, lot: u32, size_g: i64) -> bool {
    [(2024, 6, 250), (2025, 7, 500)].contains(&(year, lot, size_g))
}

/// I19: entries made with a phone that is a year behind.
pub(super) fn clock_is_behind(by: Person, when: DateTime<Utc>) -> bool {
    let on = day(2025, (7, 19));
    by == Person::Ilse && (at(on, 0, 0)..at(on, 24, 0)).contains(&when)
}

/// What is told before the harvest of a year.
pub(super) fn in_spring(diary: &mut Diary, places: &mut Places, year: i32) -> Result<(), PlanRefused> {
    match (places.part, year) {
        (0, 2024) => first_year::in_spring(diary, places),
        (0, 2025) => second_year::in_spring(diary, places),
        _ => Ok(()),
    }
}

/// What is at hand when the rest is told.
pub(super) struct Year<'a> {
    pub(super) year: i32,
    pub(super) runs: &'a [(&'static str, domain::ids::RunId)],
    pub(super) lots: &'a [super::house::Made],
    pub(super) batches: &'a mut [super::house::Batch],
    pub(super) buyers: &'a [domain::ids::CustomerId],
}

impl Year<'_> {
    fn batch(&mut self, lot: u32, size_g: i64) -> Result<&mut super::house::Batch, PlanRefused> {
        let found = self
            .batches
            .iter_mut()
            .find(|batch| (batch.lot, batch.size_g) == (lot, size_g));
        found.ok_or_else(|| super::places::not_there(format!("a batch of lot {lot}")))
    }

    fn lot(&self, sequence: u32) -> Result<domain::ids::LotId, PlanRefused> {
        let found = self.lots.iter().find(|lot| lot.sequence == sequence);
        found
            .map(|lot| lot.id)
            .ok_or_else(|| super::places::not_there(format!("lot {sequence}")))
    }
}

/// What is told of a year once its jars are filled.
pub(super) fn afterwards(diary: &mut Diary, places: &Places, of: &mut Year<'_>) -> Result<(), PlanRefused> {
    match (places.part, of.year) {
        (0, 2024) => first_year::afterwards(diary, places, of),
        (0, 2025) => second_year::afterwards(diary, places, of),
        _ => Ok(()),
    }
}

fn placed(super_id: SuperId, hive_id: domain::ids::HiveId) -> SuperPlaced {
    SuperPlaced {
        super_id,
        hive_id,
        comb: Some(domain::honey_super::Comb::Drawn),
    }
}

/// A second box under a number that is painted on another.
fn second_box(
    diary: &mut Diary,
    places: &mut Places,
    number: &str,
    when: DateTime<Utc>,
) -> Result<SuperId, PlanRefused> {
    let id = SuperId::from_uuid(diary.id());
    let tare_g = 7_300;
    register_box(diary, (id, number), (BoxClass::Medium, tare_g), when)?;
    places.boxes.push(BoxAt {
        id,
        number: number.to_owned(),
        class: BoxClass::Medium,
        tare_g,
        free_from: when.date_naive() + TimeDelta::days(1),
    });
    Ok(id)
}

//! Before something is done: what speaks against it. The office is refused what contradicts the book; in a yard the
//! same things are warnings that the entry carries, for the field is right more often than the book (CF-18).
//!
//! One rule a function, all pure. What happened without asking is never refused; the fold flags it.

use std::cell::OnceCell;

use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;

use crate::entry::Entry;
use crate::form::Form;
use crate::holds::Holds;
use crate::house::House;
use crate::subject::Subject;
use crate::trace::{Graph, Held};

mod blending;
mod honey;
mod jars;
mod orders;
mod plausible;
mod runs;
mod safety;
mod settings;
mod supers;
mod water;

pub use plausible::{AHEAD_MIN, happened};
pub(crate) use supers::{board_under, percent};
pub use water::water_of;

/// Something that looks wrong but may be right: said once, and kept with the entry.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Form, ToSchema)]
pub struct Warning {
    /// Its slug.
    pub code: &'static str,
    /// What, with the figures.
    pub detail: String,
    /// The rule of the trade behind it.
    pub rule: &'static str,
}

/// Why something must not be done.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{detail}")]
pub struct Refused {
    /// Its slug.
    pub code: &'static str,
    /// What speaks against it, with the figures and what to do.
    pub detail: String,
    /// The rule of the trade behind it.
    pub rule: &'static str,
}

/// What an answer needs at hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Needs {
    /// The things the entry touches, and the settings.
    Touched,
    /// Everything of the operation: holds follow the honey from wherever they were set.
    WholeHouse,
}

/// What has to be at hand to decide on an entry.
#[must_use]
pub const fn needs(entry: &Entry) -> Needs {
    match entry {
        Entry::LotReleased(_)
        | Entry::Bottled(_)
        | Entry::Labelled(_)
        | Entry::Delivered(_)
        | Entry::HoneyDrawn(_)
        | Entry::Blended(_)
        | Entry::SuperPlaced(_)
        | Entry::SuperMoved(_)
        | Entry::SuperPulled(_)
        | Entry::SuperUncapped(_)
        | Entry::SuperRegistered(_)
        | Entry::HoneyCounted(_)
        | Entry::FillSettled(_)
        | Entry::Returned(_)
        | Entry::HiveRegistered(_)
        | Entry::HiveMoved(_)
        | Entry::ColonyRegistered(_)
        | Entry::ColonyMoved(_)
        | Entry::ContainerFilled(_)
        | Entry::RunOpened(_)
        | Entry::JarsReworked(_)
        | Entry::OrderPicked(_)
        | Entry::GoodsOrdered(_)
        | Entry::RunClosed(_)
        | Entry::RunReopened(_)
        | Entry::HoldLifted(_)
        | Entry::SuperLoaded(_)
        | Entry::SuperLeftInYard(_)
        | Entry::SuperReceived(_)
        | Entry::SuperStored(_)
        | Entry::TreatmentPutIn(_)
        | Entry::TreatmentGiven(_)
        | Entry::TreatmentTakenOut(_)
        | Entry::FeedPutOn(_) => Needs::WholeHouse,
        _ => Needs::Touched,
    }
}

/// What a decision is made from.
pub(crate) struct Case<'a> {
    pub(crate) house: &'a House,
    pub(crate) now: DateTime<Utc>,
    pub(crate) warnings: Vec<Warning>,
    graph: &'a OnceCell<Graph>,
    /// The holds that bear on a thing now, all of them worked out when somebody first asks.
    holds_on: &'a dyn Fn(Subject) -> Vec<Held>,
}

impl<'a> Case<'a> {
    /// The ways of the honey, read off the house when first asked for.
    pub(crate) fn graph(&self) -> &'a Graph {
        self.graph.get_or_init(|| Graph::of(self.house))
    }

    /// The holds that bear on a thing now.
    pub(crate) fn holds_on(&self, subject: impl Into<Subject>) -> Vec<Held> {
        (self.holds_on)(subject.into())
    }

    pub(crate) fn warn(&mut self, code: &'static str, rule: &'static str, detail: String) {
        self.warnings.push(Warning { code, detail, rule });
    }

    pub(crate) fn label(&self, subject: impl Into<Subject>) -> String {
        self.house.label(subject.into())
    }

    /// Refuses to work with something nobody registered.
    pub(crate) fn known(&self, subject: impl Into<Subject>) -> Result<(), Refused> {
        let subject = subject.into();
        if self.house.get(subject).is_some() {
            return Ok(());
        }
        Err(refused(
            "not_registered",
            "ST-11",
            format!("there is no {subject}; register it first"),
        ))
    }

    /// Refuses to begin something of which something was told already.
    fn unheard_of(&self, subject: impl Into<Subject>) -> Result<(), Refused> {
        let subject = subject.into();
        if self.house.get(subject).is_none() {
            return Ok(());
        }
        let detail = format!(
            "{} {} is written already",
            subject.kind.name(),
            self.house.label(subject)
        );
        Err(refused("already_registered", "ID-2", detail))
    }

    fn not_yet(&self, subject: impl Into<Subject>) -> Result<(), Refused> {
        let subject = subject.into();
        match self.house.get(subject) {
            Some(state) if state.label().is_some() => {
                let detail = format!(
                    "{} {} is registered already",
                    subject.kind.name(),
                    self.house.label(subject)
                );
                Err(refused("already_registered", "ID-2", detail))
            }
            _ => Ok(()),
        }
    }
}

pub(crate) fn refused(code: &'static str, rule: &'static str, detail: String) -> Refused {
    Refused { code, detail, rule }
}

/// Kilograms as people say them: with one decimal, and a second only where a weight has one, as one told in pounds.
pub(crate) fn kg(grams: i64) -> String {
    let hundredths = (grams.abs() + 5) / 10;
    let sign = if grams < 0 && hundredths > 0 { "-" } else { "" };
    let (whole, part) = (hundredths / 100, hundredths % 100);
    if part % 10 == 0 {
        format!("{sign}{whole}.{} kg", part / 10)
    } else {
        format!("{sign}{whole}.{part:02} kg")
    }
}

/// Decides as [`decide`] does; a refused value that may be recorded all the same is recorded as doubtful, if the
/// person says so (IN). Values are judged last, so nothing that contradicts the book slips through behind one.
///
/// # Errors
/// [`Refused`] when it must not be done, whatever the person says.
pub fn decide_or_doubt(
    entry: &Entry,
    house: &House,
    now: DateTime<Utc>,
    anyway: bool,
) -> Result<Vec<Warning>, Refused> {
    match decide(entry, house, now) {
        Err(refused) if anyway && refused.may_be_recorded() => Ok(vec![refused.recorded_anyway()]),
        decided => decided,
    }
}

/// Decides on several things from one state of the house: the ways of the honey are read off it once.
pub struct Decider<'a> {
    house: &'a House,
    now: DateTime<Utc>,
    graph: OnceCell<Graph>,
    holds: OnceCell<Holds<'a>>,
}

impl<'a> Decider<'a> {
    /// Decides from this house at this time.
    #[must_use]
    pub const fn new(house: &'a House, now: DateTime<Utc>) -> Self {
        Self {
            house,
            now,
            graph: OnceCell::new(),
            holds: OnceCell::new(),
        }
    }

    /// The house.
    #[must_use]
    pub const fn house(&self) -> &'a House {
        self.house
    }

    /// The time.
    #[must_use]
    pub const fn now(&self) -> DateTime<Utc> {
        self.now
    }

    /// The ways of the honey.
    #[must_use]
    pub fn graph(&self) -> &Graph {
        self.graph.get_or_init(|| Graph::of(self.house))
    }

    /// All holds.
    #[must_use]
    pub fn holds(&self) -> &Holds<'a> {
        self.holds.get_or_init(|| Holds::of(self.house))
    }

    /// Decides whether something may be done.
    ///
    /// # Errors
    /// [`Refused`] when it contradicts what is written, or must not be done.
    pub fn decide(&self, entry: &Entry) -> Result<Vec<Warning>, Refused> {
        let holds_on = |subject| self.holds().on(subject, self.now);
        let case = Case {
            house: self.house,
            now: self.now,
            warnings: Vec::new(),
            graph: &self.graph,
            holds_on: &holds_on,
        };
        weigh_up(case, entry)
    }
}

/// Decides whether something may be done, from what is at hand.
///
/// # Errors
/// [`Refused`] when it contradicts what is written, or must not be done.
pub fn decide(entry: &Entry, house: &House, now: DateTime<Utc>) -> Result<Vec<Warning>, Refused> {
    Decider::new(house, now).decide(entry)
}

fn weigh_up(mut case: Case<'_>, entry: &Entry) -> Result<Vec<Warning>, Refused> {
    match entry {
        Entry::YardRegistered(new) => case.not_yet(new.yard_id)?,
        Entry::HiveRegistered(new) => {
            case.not_yet(new.hive_id)?;
            case.known(new.yard_id)?;
        }
        Entry::HiveMoved(moved) => safety::move_hive(&case, moved)?,
        Entry::ColonyRegistered(new) => {
            case.unheard_of(new.colony_id)?;
            case.known(new.hive_id)?;
        }
        Entry::ColonyMoved(moved) => safety::move_colony(&case, moved)?,
        Entry::RunOpened(new) => runs::open(&mut case, new)?,
        Entry::HoldSet(hold) => case.known(hold.target)?,
        Entry::NoteWritten(note) => note.about.iter().try_for_each(|about| case.known(*about))?,
        Entry::ProfileValueChanged(change) => settings::change_value(&mut case, change)?,
        Entry::SeasonPlanned(plan) => settings::plan_season(plan)?,
        Entry::ColonyRequeened(new) => case.known(new.colony_id)?,
        Entry::HoneyLeft(left) => case.known(left.hive_id)?,
        Entry::YieldLeftOut(out) => case.known(out.hive_id)?,
        Entry::HouseLimitSet(limit) => settings::set_house_limit(&case, limit)?,
        Entry::SuperRegistered(new) => plausible::register_super(&mut case, new)?,
        Entry::RoomRead(read) => plausible::read_room(&mut case, read)?,
        Entry::HoneyCounted(counted) => plausible::count_honey(&mut case, counted)?,
        Entry::MeterRegistered(new) => case.not_yet(new.meter_id)?,
        Entry::ScaleRegistered(new) => case.not_yet(new.scale_id)?,
        Entry::RoomRegistered(new) => case.not_yet(new.room_id)?,
        Entry::ContainerRegistered(new) => case.not_yet(new.container_id)?,
        Entry::CustomerRegistered(new) => case.not_yet(new.customer_id)?,
        Entry::ColonyEnded(end) => supers::end_colony(&case, end)?,
        Entry::SuperPlaced(placed) => supers::place(&mut case, placed)?,
        Entry::SuperMoved(moved) => supers::shift(&mut case, moved)?,
        Entry::SuperPulled(pulled) => supers::pull(&mut case, pulled)?,
        Entry::SuperReceived(received) => supers::receive(&mut case, received)?,
        Entry::SuperWeighed(weighed) => supers::weigh(&mut case, weighed.super_id, weighed.gross_g)?,
        Entry::SuperUncapped(uncapped) => supers::uncap(&mut case, uncapped)?,
        Entry::WetWeighed(weighed) => supers::weigh_wet(&case, weighed)?,
        Entry::RunClosed(closed) => runs::close(&mut case, closed)?,
        Entry::RunReopened(again) => runs::reopen(&case, again)?,
        Entry::CappingsWeighed(cappings) => runs::balance_is_open(&case, cappings.run_id)?,
        Entry::SampleTaken(sample) => runs::balance_is_open(&case, sample.run_id)?,
        Entry::RunDrained(drained) => runs::drain(&case, drained)?,
        Entry::MoistureRead(read) => honey::read(&mut case, read)?,
        Entry::ContainerFilled(filled) => honey::fill(&mut case, filled)?,
        Entry::FillSettled(settled) => honey::settle(&mut case, settled)?,
        Entry::HoneyDrawn(drawn) => honey::draw(&mut case, drawn)?,
        Entry::Blended(blended) => blending::blend(&mut case, blended)?,
        Entry::LotDescribed(described) => honey::describe(&mut case, described)?,
        Entry::HoneyEnded(ended) => jars::end_honey(&case, ended)?,
        Entry::JarsReworked(again) => jars::rework(&mut case, again)?,
        Entry::LotReleased(released) => honey::release(&mut case, released)?,
        Entry::LotSampled(sample) => honey::within_lot(&case, sample.lot_id, sample.weight_g.get())?,
        Entry::HoneyWasted(wasted) => honey::within_lot(&case, wasted.lot_id, wasted.weight_g.get())?,
        Entry::Bottled(bottled) => jars::bottle(&mut case, bottled)?,
        Entry::WeightsChecked(checked) => jars::check_weights(&mut case, checked)?,
        Entry::Labelled(labelled) => jars::label(&mut case, labelled)?,
        Entry::JarsTakenOut(out) => jars::in_stock(&case, out.batch_id, out.jars.get())?,
        Entry::Delivered(delivered) => jars::deliver(&mut case, delivered)?,
        Entry::Returned(returned) => jars::take_back(&case, returned)?,
        Entry::GoodsOrdered(new) => orders::order(&case, new)?,
        Entry::OrderPicked(picked) => orders::pick(&mut case, picked)?,
        Entry::OrderMarked(marked) => orders::mark(&case, marked)?,
        Entry::HoldLifted(lifted) => safety::lift(&mut case, lifted)?,
        Entry::SuperLoaded(loaded) => safety::box_leaves(&case, loaded.super_id, None)?,
        Entry::SuperStored(stored) => safety::box_leaves(&case, stored.super_id, None)?,
        Entry::SuperLeftInYard(left) => safety::box_leaves(&case, left.super_id, Some(left.yard_id))?,
        Entry::MedicineRegistered(new) => case.not_yet(new.medicine_id)?,
        Entry::TreatmentPutIn(treated) => {
            safety::treat(
                &mut case,
                &treated.hive_ids,
                treated.medicine_id,
                treated.batch.as_ref(),
            )?;
        }
        Entry::TreatmentGiven(treated) => {
            safety::treat(
                &mut case,
                &treated.hive_ids,
                treated.medicine_id,
                treated.batch.as_ref(),
            )?;
        }
        Entry::TreatmentTakenOut(out) => safety::take_out(&mut case, out)?,
        Entry::TreatmentSeen(seen) => safety::named(&case, &seen.hive_ids)?,
        Entry::FeedPutOn(fed) => safety::feed(&mut case, fed)?,
        Entry::FeedTakenOff(off) => safety::named(&case, &off.hive_ids)?,
        Entry::DiseaseSuspected(new) => safety::sick(&mut case, new.place)?,
        Entry::DiseaseDiagnosed(new) => safety::sick(&mut case, new.place)?,
        Entry::DiseaseCleared(end) => safety::end_sickness(&case, end.place.subject(), end.cause_id)?,
        Entry::StandstillLifted(end) => safety::end_sickness(&case, end.yard_id.into(), end.cause_id)?,
        Entry::StandstillLicensed(new) => safety::end_sickness(&case, new.yard_id.into(), new.cause_id)?,
        Entry::ClearingFitted(fitted) => supers::clear(&mut case, fitted)?,
        Entry::TaintNoted(noted) => safety::named(&case, &noted.super_ids)?,
        Entry::BoxCleaned(cleaned) => safety::clean(&mut case, cleaned)?,
        Entry::GlassBroken(glass) => safety::break_glass(&mut case, glass),
        _ => {}
    }
    Ok(case.warnings)
}

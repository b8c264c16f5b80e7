//! Everything that holds, read off the states: what was set by hand, and what follows from what happened.

use chrono::{DateTime, Utc};

use super::bees::Dwellings;
use super::cover::{Met, Stands};
use super::spells::{Act, Episode, Spell, Step, episodes, followed, followed_colony};
use super::{Cause, EndsBy};
use crate::common::{Flag, FlagCode, Hold, HoldReason, Side};
use crate::house::House;
use crate::ids::{EntryId, MedicineId};
use crate::ordered::Map;
use crate::settings::AFTER_FEED_DAYS;
use crate::subject::Subject;
use crate::trace::{Certainty, Node};
use crate::treatment::TreatmentAct;

mod boxes;
mod sickness;

/// A hold on bees or on a place, as long as it lasts.
#[derive(Clone, Copy, Debug)]
pub(super) struct OnBees {
    pub cause: usize,
    pub from: DateTime<Utc>,
    pub until: Option<DateTime<Utc>>,
}

/// A cause at a point by itself.
#[derive(Clone, Debug)]
pub(super) struct Seed {
    pub node: Node,
    pub cause: usize,
    pub certainty: Certainty,
    /// The entries about the thing that say so; none where whoever ends the cause must have known.
    pub told: Vec<EntryId>,
}

/// What was gathered.
pub(super) struct Gathered<'a> {
    pub house: &'a House,
    pub dwellings: Dwellings,
    pub stands: Stands<'a>,
    pub causes: Vec<Cause>,
    at: Map<EntryId, usize>,
    pub seeds: Vec<Seed>,
    pub bees: Map<Subject, Vec<OnBees>>,
    pub doubts: Vec<(Subject, Flag)>,
}

impl<'a> Gathered<'a> {
    pub(super) fn from(house: &'a House) -> Self {
        let mut this = Self {
            house,
            dwellings: Dwellings::of(house),
            stands: Stands::of(house),
            causes: Vec::new(),
            at: Map::new(),
            seeds: Vec::new(),
            bees: Map::new(),
            doubts: Vec::new(),
        };
        this.set_by_hand();
        this.treatments();
        this.feedings();
        this.sickness();
        this.boxes();
        this.unknown_fills();
        this
    }

    /// A cause, told once however many hives it names.
    fn cause(&mut self, new: Cause) -> usize {
        let at = *self.at.entry(new.hold_id).or_insert(self.causes.len());
        match self.causes.get_mut(at) {
            Some(known) => {
                known.since = known.since.min(new.since);
                known.until = known.until.zip(new.until).map(|(one, other)| one.max(other));
                for place in new.places {
                    if !known.places.contains(&place) {
                        known.places.push(place);
                    }
                }
            }
            None => self.causes.push(new),
        }
        at
    }

    fn on_bees(
        &mut self,
        subject: impl Into<Subject>,
        cause: usize,
        from: DateTime<Utc>,
        until: Option<DateTime<Utc>>,
    ) {
        let subject = subject.into();
        let lifted = self.lifted(subject, cause, from);
        let until = match (until, lifted) {
            (Some(until), Some(lifted)) => Some(until.min(lifted)),
            (until, lifted) => until.or(lifted),
        };
        self.bees
            .entry(subject)
            .or_default()
            .push(OnBees { cause, from, until });
    }

    /// When a named person ended a cause for a thing that had met it by then.
    fn lifted(&self, subject: Subject, cause: usize, met: DateTime<Utc>) -> Option<DateTime<Utc>> {
        let hold_id = self.causes.get(cause)?.hold_id;
        let lifts = self.house.get(subject)?.lifts().iter();
        lifts
            .filter(|lift| lift.cause_id == hold_id && lift.lifted.at >= met)
            .map(|lift| lift.lifted.at)
            .min()
    }

    /// Bees under something, and the boxes above them. A named release of a hive ends it for its bees and for what is
    /// put on from then on; what was gathered before has a release of its own (CF-17).
    fn on_hives(&mut self, cause: usize, mut spells: Vec<Spell>, wood: bool) {
        for spell in &mut spells {
            let lifted = self.lifted(spell.hive.into(), cause, spell.from);
            if let Some(lifted) = lifted {
                spell.left = Some(spell.left.map_or(lifted, |left| left.min(lifted)));
            }
            self.on_bees(spell.hive, cause, spell.from, spell.over());
            if let Some(colony) = spell.colony {
                self.on_bees(colony, cause, spell.from, spell.over());
            }
        }
        self.on_boxes(cause, &spells, wood);
    }

    fn on_boxes(&mut self, cause: usize, spells: &[Spell], wood: bool) {
        let Some(hold_id) = self.causes.get(cause).map(|cause| cause.hold_id) else {
            return;
        };
        let met = self.stands.met(hold_id, spells, wood);
        self.seed(cause, met);
    }

    fn seed(&mut self, cause: usize, met: impl IntoIterator<Item = Met>) {
        self.seeds.extend(met.into_iter().map(|met| Seed {
            node: met.node,
            cause,
            certainty: met.certainty,
            told: met.told,
        }));
    }

    fn seed_known(&mut self, cause: usize, node: Node) {
        self.seeds.push(Seed {
            node,
            cause,
            certainty: Certainty::Sure,
            told: Vec::new(),
        });
    }

    /// A cause that begins at one thing, unless it was ended there.
    fn seed_thing(&mut self, cause: usize, node: Node, met: DateTime<Utc>) {
        if self.lifted(node.subject, cause, met).is_none() {
            self.seed_known(cause, node);
        }
    }

    fn set_by_hand(&mut self) {
        for (subject, state) in self.house.iter() {
            for hold in state.holds().iter().filter(|hold| hold.lifted.is_none()) {
                self.set_on(subject, hold);
            }
        }
    }

    fn set_on(&mut self, subject: Subject, hold: &Hold) {
        let cause = self.cause(Cause {
            text: hold.text.as_ref().map(ToString::to_string),
            set_by: Some(hold.set_by),
            ..Cause::new(hold.hold_id, hold.reason, subject, hold.since, EndsBy::HoldLifted)
        });
        let carried = matches!(
            hold.reason,
            HoldReason::Treatment | HoldReason::Feed | HoldReason::Disease
        );
        let wood = hold.reason == HoldReason::Disease;
        if let Some(hive) = subject.as_hive() {
            let mut spells = vec![Spell {
                hive,
                colony: None,
                from: hold.since,
                left: None,
                out: None,
                end: None,
            }];
            if carried {
                spells.extend(followed(&self.dwellings, hive, hold.since));
            }
            self.on_hives(cause, spells, wood);
        } else if let Some(colony) = subject.as_colony() {
            self.on_bees(subject, cause, hold.since, None);
            let spells = followed_colony(&self.dwellings, colony, hold.since);
            self.on_hives(cause, spells, wood);
        } else if let Some(yard) = subject.as_yard() {
            self.on_bees(subject, cause, hold.since, None);
            let spells = self.stands.hives_in(yard, hold.since);
            self.on_hives(cause, spells, wood);
        } else if subject.as_super().is_some() {
            let in_box = self
                .stands
                .boxes
                .iter()
                .find(|in_box| Subject::from(in_box.id) == subject);
            let met = in_box.map(|in_box| self.stands.in_box(in_box, hold.since, None));
            self.seed(cause, met.unwrap_or_default());
        } else {
            self.seed_known(cause, subject.into());
        }
    }

    /// TX-3. The label is the one that held when it was put in; without one nobody knows the wait, and it does not end.
    fn treatments(&mut self) {
        let house = self.house;
        let settings = house.settings();
        let least = settings.least_wait_days.map_or(0, |days| days.get());
        let label = |medicine: Option<MedicineId>, at| house.medicine(medicine?)?.label_at(at);
        let wait = |medicine, at| label(medicine, at).map(|label| label.wait_days.get().max(least));
        let steps = house.hives().flat_map(|(hive, state)| {
            state.treatments.iter().map(move |step| Step {
                entry_id: step.entry_id,
                hive,
                act: match step.act {
                    TreatmentAct::PutIn => Act::In,
                    TreatmentAct::Given => Act::AtOnce,
                    TreatmentAct::TakenOut => Act::Out,
                    TreatmentAct::Seen => Act::Seen,
                },
                at: step.at,
                utc_offset_min: step.utc_offset_min,
                medicine: step.medicine_id,
            })
        });
        let mut found = episodes(&self.dwellings, steps.collect(), &wait);
        for episode in &found {
            self.seen_after_out(episode);
        }
        found.retain(|episode| !label(episode.medicine, episode.since).is_some_and(|label| label.supers_allowed));
        self.hold_episodes(found, HoldReason::Treatment, |medicine| {
            medicine.map(|medicine| house.label(medicine.into()))
        });
    }

    fn seen_after_out(&mut self, episode: &Episode) {
        let Some(out) = episode.disputes else { return };
        let side = |entry_id, at| Side {
            entry_id,
            at,
            names: episode.medicine.map(Into::into),
            amount: None,
        };
        let steps = self.house.hive(episode.hive).map(|hive| &hive.treatments);
        let at = |entry| steps.and_then(|steps| steps.iter().find(|step| step.entry_id == entry));
        let sides = [out, episode.entry_id].map(|entry| at(entry).map(|step| side(entry, step.at)));
        self.doubts.push((
            episode.hive.into(),
            Flag {
                code: FlagCode::SeenAfterTakenOut,
                sides: sides.into_iter().flatten().collect(),
            },
        ));
    }

    /// FE-1, with the owner's number of days.
    fn feedings(&mut self) {
        let after = self.house.settings().after_feed_days.unwrap_or(AFTER_FEED_DAYS).get();
        let steps = self.house.hives().flat_map(|(hive, state)| {
            state.feedings.iter().map(move |step| Step {
                entry_id: step.entry_id,
                hive,
                act: if step.put_on.is_some() { Act::In } else { Act::Out },
                at: step.at,
                utc_offset_min: step.utc_offset_min,
                medicine: None,
            })
        });
        let found = episodes(&self.dwellings, steps.collect(), &|_, _| Some(after));
        self.hold_episodes(found, HoldReason::Feed, |_| None);
    }

    fn hold_episodes(
        &mut self,
        found: Vec<Episode>,
        reason: HoldReason,
        text: impl Fn(Option<MedicineId>) -> Option<String>,
    ) {
        let mut spells: Map<usize, Vec<Spell>> = Map::new();
        for episode in found {
            let over = episode.spells.iter().map(|spell| spell.end.map(|end| end.at));
            let until = over.reduce(|one, other| one.zip(other).map(|(one, other)| one.max(other)));
            let cause = self.cause(Cause {
                until: until.flatten(),
                text: text(episode.medicine),
                ..Cause::new(
                    episode.entry_id,
                    reason,
                    episode.hive.into(),
                    episode.since,
                    EndsBy::TimeAndRelease,
                )
            });
            spells.entry(cause).or_default().extend(episode.spells);
        }
        for (cause, spells) in spells {
            self.on_hives(cause, spells, false);
        }
    }
}

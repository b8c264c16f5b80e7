//! Holds: bars on use that follow bees, boxes and honey from the hive to the jar.
//!
//! What was set by hand stands with the thing it was set on. What follows from what happened - medicine and feed in a
//! hive, sick bees, an order of the authority, a foreign smell, brood, honey of unknown origin - is not stored with
//! everything it reaches: it is worked out here from the states, once for a whole house, the same in every order of
//! arrival. Where it is not known on which of several hives a box stood, the holds of all of them apply (CF-7).
//!
//! Bees and boxes are free when a wait is over. Honey gathered meanwhile stays held until a named person who has seen
//! the cause ends it for that honey by naming it (CF-4, CF-17). An official wait, a label and a vet rule over this.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::{Flag, HoldReason};
use crate::form::Form;
use crate::house::House;
use crate::ids::{EntryId, MemberId};
use crate::ordered::Map;
use crate::subject::{Subject, SubjectKind};
use crate::trace::{Certainty, Graph, Held, Node};

mod answer;
mod bees;
mod causes;
mod cover;
mod ends;
mod registers;
mod spells;
mod spread;

pub use answer::{Covered, HoldAnswer, HoldLine, HoldList, Holder, Named, Review};
use causes::{Gathered, OnBees};
use cover::Stands;
pub(crate) use cover::yard_of_box;
use ends::Ends;
pub use registers::{
    DisposalLine, FeedLine, FeedRegister, MedicineRegister, PurchaseLine, TreatmentLine, feed_register,
    medicine_register,
};
use spread::Spread;

/// What ends a hold. Whoever works in the office may do it; a wait also ends by itself, for bees and boxes only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum EndsBy {
    /// Ending the hold where it was set.
    HoldLifted,
    /// For bees and boxes the end of the wait, for honey a named release of each thing.
    TimeAndRelease,
    /// Writing that the disease was cleared, or a named release of each thing.
    Clearance,
    /// Writing that the authority lifted its order.
    OrderLifted,
    /// For the box its cleaning, for honey a named release.
    CleaningAndRelease,
    /// Setting frames aside before spinning, or a named release.
    FramesAside,
    /// A named release of each thing, or writing where the honey is from.
    NamedRelease,
}

/// One cause of holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cause {
    /// The entry that tells it.
    pub hold_id: EntryId,
    /// Why.
    pub reason: HoldReason,
    /// Where it was told: hives, yards, boxes, honey.
    pub places: Vec<Subject>,
    /// Since when.
    pub since: DateTime<Utc>,
    /// When it is over for bees and boxes; nothing where nobody knows.
    pub until: Option<DateTime<Utc>>,
    /// In words: what was seen, or the medicine.
    pub text: Option<String>,
    /// Who set it.
    pub set_by: Option<MemberId>,
    /// What ends it.
    pub ends_by: EndsBy,
    /// How far back it reaches, where that is further than since when.
    pub season: Option<DateTime<Utc>>,
    /// What left a yard although its moves were stopped.
    pub moved: Vec<Subject>,
}

impl Cause {
    fn new(hold_id: EntryId, reason: HoldReason, place: Subject, since: DateTime<Utc>, ends_by: EndsBy) -> Self {
        Self {
            hold_id,
            reason,
            places: vec![place],
            since,
            until: None,
            text: None,
            set_by: None,
            ends_by,
            season: None,
            moved: Vec::new(),
        }
    }
}

/// All holds of a house, worked out once.
pub struct Holds<'a> {
    house: &'a House,
    dwellings: bees::Dwellings,
    stands: Stands<'a>,
    causes: Vec<Cause>,
    on: Vec<Subject>,
    spread: Spread,
    bees: Map<Subject, Vec<OnBees>>,
    /// The same by cause.
    bees_of: Vec<Vec<(Subject, OnBees)>>,
    doubts: Vec<(Subject, Flag)>,
}

impl<'a> Holds<'a> {
    /// Works out all holds.
    #[must_use]
    pub fn of(house: &'a House) -> Self {
        Self::over(house, &Graph::of(house))
    }

    /// The same over a graph that is at hand.
    #[must_use]
    pub fn over(house: &'a House, graph: &Graph) -> Self {
        let gathered = Gathered::from(house);
        let mut spread = Spread::over(graph, gathered.causes.len());
        for in_box in &gathered.stands.boxes {
            if in_box.sticky() {
                let now = in_box.now();
                spread.way(in_box.node(now.saturating_sub(1)), in_box.node(now), Certainty::Sure);
            }
        }
        for seed in &gathered.seeds {
            spread.seed(seed.node, seed.cause, seed.certainty);
        }
        let ends = Ends::of((house, graph), &gathered);
        for (node, cause) in ends.known {
            spread.end(node, cause);
        }
        spread.run();
        let mut bees_of = vec![Vec::new(); gathered.causes.len()];
        for (subject, spells) in &gathered.bees {
            for on in spells {
                if let Some(of_cause) = bees_of.get_mut(on.cause) {
                    of_cause.push((*subject, *on));
                }
            }
        }
        let on = gathered.causes.iter().map(|cause| place_of(house, cause)).collect();
        Self {
            house,
            dwellings: gathered.dwellings,
            stands: gathered.stands,
            causes: gathered.causes,
            on,
            spread,
            bees: gathered.bees,
            bees_of,
            doubts: gathered.doubts.into_iter().chain(ends.unknown).collect(),
        }
    }

    /// Every hold that bears on a thing at a time, what came to it with its honey included. A super is asked for what
    /// is in it now, a colony for the hive it lives in as well.
    #[must_use]
    pub fn on(&self, subject: Subject, now: DateTime<Utc>) -> Vec<Held> {
        let mut held: Vec<Held> = self
            .node_of(subject)
            .map(|node| self.spread.causes_at(node))
            .unwrap_or_default()
            .into_iter()
            .filter_map(|(cause, certainty)| self.held(cause, certainty, None))
            .collect();
        let mut asked = vec![subject];
        let home = subject
            .as_colony()
            .and_then(|colony| self.dwellings.home_at(colony, now));
        asked.extend(home.map(Subject::from));
        for subject in asked {
            let spells = self.bees.get(&subject).into_iter().flatten();
            let running = spells.filter(|on| on.from <= now && on.until.is_none_or(|until| now < until));
            held.extend(running.filter_map(|on| self.held(on.cause, Certainty::Sure, on.until)));
        }
        held.sort_by(|a, b| {
            (a.hold_id, b.certainty, b.until.is_none(), b.until).cmp(&(
                b.hold_id,
                a.certainty,
                a.until.is_none(),
                a.until,
            ))
        });
        held.dedup_by_key(|held| held.hold_id);
        held
    }

    /// What does not add up and can be seen only over several things: medicine seen after it was out, moves in spite
    /// of an order, held goods that have left.
    #[must_use]
    pub fn doubts(&self) -> Vec<(Subject, Flag)> {
        let mut doubts = self.doubts.clone();
        doubts.extend(self.left_under_hold());
        doubts
    }

    /// The causes, in the order in which they were gathered.
    #[must_use]
    pub fn causes(&self) -> &[Cause] {
        &self.causes
    }

    fn held(&self, cause: usize, certainty: Certainty, until: Option<DateTime<Utc>>) -> Option<Held> {
        let (cause, on) = (self.causes.get(cause)?, *self.on.get(cause)?);
        Some(Held {
            on,
            label: self.house.label(on),
            hold_id: cause.hold_id,
            reason: cause.reason,
            since: cause.since,
            until,
            certainty,
        })
    }

    /// The point that stands for a thing: of a super, what is in it now.
    fn node_of(&self, subject: Subject) -> Option<Node> {
        match subject.kind {
            SubjectKind::Super => {
                let at = self
                    .stands
                    .boxes
                    .binary_search_by_key(&subject, |in_box| in_box.id.into());
                let in_box = self.stands.boxes.get(at.ok()?)?;
                Some(in_box.node(in_box.now()))
            }
            _ => Some(subject.into()),
        }
    }
}

/// Where people look for a cause: the one place it was told of, or the yard of its hives.
fn place_of(house: &House, cause: &Cause) -> Subject {
    let [first, rest @ ..] = cause.places.as_slice() else {
        return Subject {
            kind: SubjectKind::Yard,
            id: cause.hold_id.uuid(),
        };
    };
    let yard = |place: &Subject| house.hive(place.as_hive()?)?.yard_at(cause.since);
    match yard(first) {
        Some(common) if !rest.is_empty() && rest.iter().all(|place| yard(place) == Some(common)) => common.into(),
        _ => *first,
    }
}

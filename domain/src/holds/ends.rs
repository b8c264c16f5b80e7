//! Where causes were ended by name for a thing, and for how much of it.
//!
//! A release covers what the person had seen (CF-12): what the thing met by then and what of that had reached the ledger.
//! What comes to it after its release brings its holds anew, and so does what is told late of a time before: somebody has
//! to look again (TX-4).

use chrono::{DateTime, Utc};

use super::causes::Gathered;
use super::place_of;
use crate::common::{Flag, FlagCode, Lift, Side};
use crate::entry::Mark;
use crate::house::House;
use crate::ids::EntryId;
use crate::ordered::{Map, Set};
use crate::subject::{Subject, SubjectKind};
use crate::trace::{Graph, Node};

/// The ends that count, and those that do not.
pub(super) struct Ends {
    /// A cause that ends at a point.
    pub known: Vec<(Node, usize)>,
    /// Releases of somebody who did not know of all that they would cover.
    pub unknown: Vec<(Subject, Flag)>,
}

/// What was told of causes and of ways.
struct Told<'a> {
    house: &'a House,
    graph: &'a Graph,
    /// The tellings by which a cause is at a point by itself.
    seeds: Map<(Node, usize), Vec<EntryId>>,
    /// Sticky boxes: what is in them now began with what was in them before.
    residue: Map<Node, Node>,
}

impl Ends {
    pub(super) fn of((house, graph): (&House, &Graph), gathered: &Gathered<'_>) -> Self {
        let mut this = Self {
            known: Vec::new(),
            unknown: Vec::new(),
        };
        let at: Map<_, usize> = gathered
            .causes
            .iter()
            .enumerate()
            .map(|(at, cause)| (cause.hold_id, at))
            .collect();
        let mut told = None;
        let mut blind: Vec<(Subject, &Lift, usize)> = Vec::new();
        for (subject, state) in house.iter() {
            for lift in state.lifts() {
                let Some(cause) = at.get(&lift.cause_id).copied() else {
                    continue;
                };
                let told: &Told<'_> = told.get_or_insert_with(|| Told::of(house, graph, gathered));
                // Without the fold's memory, as on a phone, a release is taken at its word.
                let by = state.mark(lift.lifted.entry_id);
                for node in covered(house, gathered, subject, lift) {
                    if by.is_some_and(|by| told.unseen(&by, node, cause)) {
                        blind.push((subject, lift, cause));
                    } else {
                        this.known.push((node, cause));
                    }
                }
            }
        }
        // Released again by somebody who has seen it, nothing is left to look at.
        let again: Set<(Subject, usize)> = this.known.iter().map(|(node, cause)| (node.subject, *cause)).collect();
        for (subject, lift, cause) in blind {
            if !again.contains(&(subject, cause)) {
                this.without_sight(house, gathered, (subject, lift, cause));
            }
        }
        this
    }

    fn without_sight(
        &mut self,
        house: &House,
        gathered: &Gathered<'_>,
        (subject, lift, cause): (Subject, &Lift, usize),
    ) {
        let Some(cause) = gathered.causes.get(cause) else {
            return;
        };
        let side = |entry_id, at, names| Side {
            entry_id,
            at,
            names,
            amount: None,
        };
        let flag = Flag {
            code: FlagCode::LiftedWithoutSight,
            sides: vec![
                side(cause.hold_id, cause.since, Some(place_of(house, cause))),
                side(lift.lifted.entry_id, lift.lifted.at, None),
            ],
        };
        if !self.unknown.contains(&(subject, flag.clone())) {
            self.unknown.push((subject, flag));
        }
    }
}

impl<'a> Told<'a> {
    fn of(house: &'a House, graph: &'a Graph, gathered: &'a Gathered<'_>) -> Self {
        let mut seeds: Map<(Node, usize), Vec<EntryId>> = Map::new();
        for seed in &gathered.seeds {
            seeds.entry((seed.node, seed.cause)).or_default().extend(&seed.told);
        }
        let sticky = gathered.stands.boxes.iter().filter(|in_box| in_box.sticky());
        let residue = sticky.map(|in_box| {
            let now = in_box.now();
            (in_box.node(now), in_box.node(now.saturating_sub(1)))
        });
        Self {
            house,
            graph,
            seeds,
            residue: residue.collect(),
        }
    }

    /// Whether anything by which a cause came to a point was not seen by somebody.
    fn unseen(&self, by: &Mark, node: Node, cause: usize) -> bool {
        let mut passed: Set<(Node, bool)> = Set::new();
        let mut waiting = vec![(node, false)];
        while let Some((node, late)) = waiting.pop() {
            // What came late from here came late, whatever else came in time.
            if passed.contains(&(node, true)) || !passed.insert((node, late)) {
                continue;
            }
            if let Some(told) = self.seeds.get(&(node, cause))
                && (late || told.iter().any(|entry| !self.seen(by, node.subject, *entry)))
            {
                return true;
            }
            let residue = self.residue.get(&node).copied();
            for from in self.graph.came_from(node).chain(residue) {
                waiting.push((from, late || !self.way_seen(by, from, node)));
            }
        }
        false
    }

    fn seen(&self, by: &Mark, about: Subject, entry: EntryId) -> bool {
        let mark = self.house.get(about).and_then(|state| state.mark(entry));
        mark.is_none_or(|mark| by.knew_of(&mark))
    }

    /// Whether somebody had seen that honey came from one point to the next.
    fn way_seen(&self, by: &Mark, from: Node, to: Node) -> bool {
        let house = self.house;
        let seen = |entry| self.seen(by, to.subject, entry);
        if let Some(run) = to.subject.as_run().and_then(|id| house.run(id)) {
            let of = from.subject.as_super();
            let mut told = run.supers.iter().filter(|one| Some(one.super_id) == of);
            return told.all(|one| seen(one.entry_id));
        }
        if let Some(fill) = to.subject.as_fill().and_then(|id| house.fill(id)) {
            // One telling is enough to know it.
            let told = fill
                .weighed_before
                .iter()
                .map(|before| before.weighing.entry_id)
                .chain(fill.weighed_by);
            let told: Vec<EntryId> = told.collect();
            return told.is_empty() || told.into_iter().any(seen);
        }
        if let Some(lot) = to.subject.as_lot().and_then(|id| house.lot(id)) {
            return lot.came_in.iter().all(|came| seen(came.entry_id));
        }
        if let Some(batch) = to.subject.as_batch().and_then(|id| house.batch(id)) {
            return batch.filled_by.is_none_or(seen);
        }
        true
    }
}

/// The points that a release is for: a thing that had met everything it is made of by then, of a super the fillings that
/// had begun.
fn covered(house: &House, gathered: &Gathered<'_>, subject: Subject, lift: &Lift) -> Vec<Node> {
    let at = lift.lifted.at;
    if subject.kind == SubjectKind::Super {
        let mut boxes = gathered.stands.boxes.iter();
        let in_box = boxes.find(|in_box| Subject::from(in_box.id) == subject);
        let fillings = in_box.iter().flat_map(|in_box| in_box.fillings.iter().enumerate());
        let begun = fillings.filter(|(_, filling)| filling.from.is_some_and(|began| began <= at));
        return begun
            .map(|(at, _)| Node {
                subject,
                filling: Some(at),
            })
            .collect();
    }
    match last_intake(house, subject) {
        Some(came) if came > at => Vec::new(),
        _ => vec![subject.into()],
    }
}

/// When something last came into a thing.
fn last_intake(house: &House, subject: Subject) -> Option<DateTime<Utc>> {
    if let Some(run) = subject.as_run().and_then(|id| house.run(id)) {
        return run.supers.iter().map(|uncapped| uncapped.at).max();
    }
    if let Some(batch) = subject.as_batch().and_then(|id| house.batch(id)) {
        return batch.filled_at;
    }
    if let Some(fill) = subject.as_fill().and_then(|id| house.fill(id)) {
        return fill.filled_at;
    }
    let lot = subject.as_lot().and_then(|id| house.lot(id))?;
    lot.came_in.iter().map(|came| came.at).max()
}

//! The graph itself: read off the states, walked either way.

use chrono::{DateTime, TimeDelta, Utc};

use super::Certainty;
use crate::content::mixed_in;
use crate::fill::FillSource;
use crate::honey_super::{Filling, Stand};
use crate::house::House;
use crate::ids::{FillId, HiveId, LotId, RunId, SuperId};
use crate::lot_code::LotCode;
use crate::ordered::{Map, Set};
use crate::subject::{Subject, SubjectKind};

/// A point of the graph: a thing, or one filling of a super.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Node {
    /// The thing.
    pub subject: Subject,
    /// Which filling of a super, counted from 0.
    pub filling: Option<usize>,
}

impl From<Subject> for Node {
    fn from(subject: Subject) -> Self {
        Self { subject, filling: None }
    }
}

/// Honey that went from one point to the next.
#[derive(Clone, Copy, Debug)]
struct Edge {
    from: Node,
    to: Node,
    certainty: Certainty,
    /// Grams or jars that went, where somebody told.
    amount: Option<i64>,
}

/// Which way a trace is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Towards the hives.
    Back,
    /// Towards the buyers.
    Forward,
}

/// All honey's ways through an operation.
#[derive(Clone, Debug, Default)]
pub struct Graph {
    edges: Vec<Edge>,
    from: Map<Node, Vec<usize>>,
    to: Map<Node, Vec<usize>>,
}

impl Graph {
    /// Reads the graph off the states.
    #[must_use]
    pub fn of(house: &House) -> Self {
        let mut graph = Self::default();
        for (id, state) in house.supers() {
            for (at, filling) in state.fillings().enumerate() {
                graph.add_filling(house, id, at, filling);
            }
        }
        graph.add_runs(house);
        for (id, lot) in house.lots() {
            for part in &lot.parts {
                graph.add(part.from, Subject::from(id), Certainty::Sure, Some(part.weight_g.get()));
            }
        }
        for (id, fill) in house.fills() {
            for taken in fill
                .taken_out
                .iter()
                .filter(|taken| taken.into.kind == SubjectKind::Delivery)
            {
                graph.add(Subject::from(id), taken.into, Certainty::Sure, Some(taken.weight_g));
            }
        }
        graph.add_jars(house);
        graph
    }

    fn add_runs(&mut self, house: &House) {
        let mut tellings: Map<FillId, usize> = Map::new();
        for (_, run) in house.runs() {
            for fill in &run.fills {
                *tellings.entry(fill.fill_id).or_default() += 1;
            }
        }
        for (id, run) in house.runs() {
            for fill in &run.fills {
                // Said to have run out of two extractors, it may be of either.
                let certainty = sure_if(tellings.get(&fill.fill_id).is_none_or(|runs| *runs == 1));
                self.add(
                    Subject::from(id),
                    Subject::from(fill.fill_id),
                    certainty,
                    Some(fill.net_g),
                );
            }
        }
        // What nobody knows the run of may be of any that was drawn off by then: all are its parents (RC-3).
        for (id, fill) in house
            .fills()
            .filter(|(_, fill)| fill.source == Some(FillSource::Unknown))
        {
            for run in fill.filled_at.iter().flat_map(|at| drawn_off_by(house, *at)) {
                self.add(Subject::from(run), Subject::from(id), Certainty::Possible, None);
            }
        }
        // What was run in on top of other honey may be that honey, too (CF-4).
        for mixed in mixed_in(house) {
            self.add(
                Subject::from(mixed.held),
                Subject::from(mixed.filled),
                Certainty::Possible,
                None,
            );
        }
    }

    fn add_jars(&mut self, house: &House) {
        let mut bearers: Map<LotCode, Vec<LotId>> = Map::new();
        for (id, code) in house.lots().filter_map(|(id, lot)| Some((id, lot.code?))) {
            bearers.entry(code).or_default().push(id);
        }
        for (id, batch) in house.batches() {
            let used = batch.or_lot_ids.is_empty().then_some(batch.used_g);
            for lot in batch.lots() {
                let certainty = sure_if(batch.or_lot_ids.is_empty());
                self.add(Subject::from(lot), Subject::from(id), certainty, used);
            }
            // Jars that bear the code of several lots belong to all of them (CF-13).
            let of_code = batch.code.and_then(|code| bearers.get(&code));
            for lot in of_code
                .into_iter()
                .flatten()
                .filter(|lots| batch.lots().all(|lot| lot != **lots))
            {
                self.add(Subject::from(*lot), Subject::from(id), Certainty::Possible, None);
            }
            for moved in &batch.delivered {
                self.add(
                    Subject::from(id),
                    Subject::from(moved.delivery_id),
                    Certainty::Sure,
                    Some(moved.jars),
                );
            }
        }
        for (subject, state) in house.of_kind(SubjectKind::Delivery) {
            if let Some(customer) = state.as_delivery().and_then(|delivery| delivery.customer_id) {
                self.add(subject, Subject::from(customer), Certainty::Sure, None);
            }
        }
    }

    fn add_filling(&mut self, house: &House, id: SuperId, at: usize, filling: &Filling) {
        let node = Node {
            subject: id.into(),
            filling: Some(at),
        };
        for stand in &filling.stands {
            let certainty = if stand.or_hive_ids.is_empty() {
                Certainty::Sure
            } else {
                Certainty::Possible
            };
            let yards: Vec<Set<Subject>> = stand.candidates().map(|hive| yards_of(house, hive, stand)).collect();
            for hive in stand.candidates() {
                self.add(Subject::from(hive), node, certainty, None);
            }
            for yard in yards.iter().flatten().collect::<Set<_>>() {
                let sure = yards.iter().all(|of_one| of_one.contains(yard));
                let certainty = if sure { Certainty::Sure } else { Certainty::Possible };
                self.add(*yard, node, certainty, None);
            }
        }
        // A sticky box brings what was in it before along (AL-6).
        if filling.on_wet && at > 0 {
            self.add(
                Node {
                    subject: id.into(),
                    filling: Some(at - 1),
                },
                node,
                Certainty::Sure,
                None,
            );
        }
        let net = match (&filling.full, &filling.wet) {
            (Some(full), Some(wet)) => Some(full.gross_g.get() - wet.gross_g.get()),
            _ => None,
        };
        let disputed = !filling.or_run_ids.is_empty();
        for run in filling.run_id.iter().chain(&filling.or_run_ids) {
            let certainty = if disputed { Certainty::Possible } else { Certainty::Sure };
            self.add(node, Subject::from(*run), certainty, net);
        }
    }

    fn add(&mut self, from: impl Into<Node>, to: impl Into<Node>, certainty: Certainty, amount: Option<i64>) {
        let edge = Edge {
            from: from.into(),
            to: to.into(),
            certainty,
            amount,
        };
        let at = self.edges.len();
        self.from.entry(edge.from).or_default().push(at);
        self.to.entry(edge.to).or_default().push(at);
        self.edges.push(edge);
    }

    /// Every way that honey went, one step each.
    pub(crate) fn ways(&self) -> impl Iterator<Item = (Node, Node, Certainty)> {
        self.edges.iter().map(|edge| (edge.from, edge.to, edge.certainty))
    }

    /// The points from which honey came to a point.
    pub(crate) fn came_from(&self, node: Node) -> impl Iterator<Item = Node> {
        self.neighbours(node, Direction::Back).map(|(from, _)| from)
    }

    fn neighbours(&self, node: Node, direction: Direction) -> impl Iterator<Item = (Node, Edge)> {
        let edges = match direction {
            Direction::Back => self.to.get(&node),
            Direction::Forward => self.from.get(&node),
        };
        edges
            .into_iter()
            .flatten()
            .filter_map(move |at| self.edges.get(*at))
            .map(move |edge| match direction {
                Direction::Back => (edge.from, *edge),
                Direction::Forward => (edge.to, *edge),
            })
    }

    /// The points at which a trace of a thing begins: itself, or every filling of a super.
    fn starts(&self, subject: Subject) -> Vec<Node> {
        let from = Node { subject, filling: None };
        let to = Node {
            subject,
            filling: Some(usize::MAX),
        };
        let mut starts: Set<Node> = self.from.between(&from, &to).map(|(node, _)| *node).collect();
        starts.extend(self.to.between(&from, &to).map(|(node, _)| *node));
        starts.insert(from);
        starts.into_iter().collect()
    }

    /// Everything reached from some things, with how sure the surest way there is and how many steps away it is. A loop
    /// in the ancestry is walked once.
    pub(crate) fn reach(&self, all: &[Subject], direction: Direction) -> Map<Node, Reached> {
        let starts = all.iter().flat_map(|subject| self.starts(*subject));
        self.reach_from(starts.map(|node| (node, Certainty::Sure)), direction)
    }

    /// The same from some points, each as sure as it is to begin with.
    pub(crate) fn reach_from(
        &self,
        starts: impl IntoIterator<Item = (Node, Certainty)>,
        direction: Direction,
    ) -> Map<Node, Reached> {
        let mut reached: Map<Node, Reached> = Map::new();
        let begin = |(node, certainty)| {
            (
                node,
                Reached {
                    certainty,
                    steps: 0,
                    amount: None,
                },
            )
        };
        let mut waiting: std::collections::VecDeque<(Node, Reached)> = starts.into_iter().map(begin).collect();
        while let Some((node, how)) = waiting.pop_front() {
            match reached.get_mut(&node) {
                Some(before) if before.certainty >= how.certainty => continue,
                Some(before) => before.certainty = how.certainty,
                None => {
                    reached.insert(node, how);
                }
            }
            for (next, edge) in self.neighbours(node, direction) {
                let certainty = how.certainty.min(edge.certainty);
                waiting.push_back((
                    next,
                    Reached {
                        certainty,
                        steps: how.steps + 1,
                        amount: edge.amount,
                    },
                ));
            }
        }
        reached
    }

    /// The things reached from a thing, itself among them, each once.
    #[must_use]
    pub fn destinations(&self, subject: Subject, direction: Direction) -> Set<Subject> {
        self.reach(&[subject], direction)
            .into_keys()
            .map(|node| node.subject)
            .collect()
    }

    /// Whether a thing came, by however many steps, from another.
    #[must_use]
    pub fn descends(&self, subject: Subject, ancestor: Subject) -> bool {
        self.origins(subject).keys().any(|node| node.subject == ancestor)
    }

    /// The things from which the honey of a thing came, itself among them.
    #[must_use]
    pub fn origins(&self, subject: Subject) -> Map<Node, Certainty> {
        self.reach(&[subject], Direction::Back)
            .into_iter()
            .map(|(node, how)| (node, how.certainty))
            .collect()
    }
}

/// How long before a container is found full its honey may have been spun. Our own choice: honey stands in an open
/// tank for days, not for weeks.
const STANDS_FOR: TimeDelta = TimeDelta::days(14);

/// The runs whose honey may be in a container that was found full at a time.
fn drawn_off_by(house: &House, at: DateTime<Utc>) -> impl Iterator<Item = RunId> {
    let began = move |began: DateTime<Utc>| began <= at && at - began <= STANDS_FOR;
    house
        .runs()
        .filter(move |(_, run)| run.began_at.is_some_and(began))
        .map(|(id, _)| id)
}

const fn sure_if(sure: bool) -> Certainty {
    if sure { Certainty::Sure } else { Certainty::Possible }
}

#[derive(Clone, Copy, Debug)]
pub(crate) struct Reached {
    pub(crate) certainty: Certainty,
    pub(crate) steps: u32,
    pub(crate) amount: Option<i64>,
}

/// The yards a hive stood in while a super stood on it: a hive that is carried away takes its supers along (AL-7).
fn yards_of(house: &House, hive: HiveId, stand: &Stand) -> Set<Subject> {
    let Some(hive) = house.hive(hive) else {
        return Set::new();
    };
    let carried = hive
        .stays
        .iter()
        .filter(|stay| stay.from > stand.from && stand.until.is_none_or(|until| stay.from < until));
    let first = hive.yard_at(stand.from).into_iter();
    first
        .chain(carried.map(|stay| stay.yard_id))
        .map(Subject::from)
        .collect()
}

/// The yards a super may have stood in while it was at one stand.
pub(crate) fn yards_of_stand(house: &House, stand: &Stand) -> Set<Subject> {
    let hives = stand.candidates();
    hives.flat_map(|hive| yards_of(house, hive, stand)).collect()
}

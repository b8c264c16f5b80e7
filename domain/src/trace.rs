//! From the jar back to the hives and from the hive forward to the buyers: one relation read from both ends (LO-4).
//!
//! A super is filled anew every year, so what is traced is its filling. A disputed origin is the union of its
//! candidates (RC-3). Holds follow the honey along the same edges (BL-4).

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::HoldReason;
use crate::form::Form;
use crate::holds::Holds;
use crate::house::House;
use crate::ids::EntryId;
use crate::ordered::Map;
use crate::subject::{Subject, SubjectKind};

mod graph;

pub(crate) use graph::Reached;
pub(crate) use graph::yards_of_stand;
pub use graph::{Direction, Graph, Node};

/// How sure a connection is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Certainty {
    /// One of several candidates.
    Possible,
    /// Nobody disputes it.
    Sure,
}

/// One thing on the way of the honey.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Step {
    /// The thing.
    #[serde(flatten)]
    pub subject: Subject,
    /// What people call it.
    pub label: String,
    /// How sure it is on the way.
    pub certainty: Certainty,
    /// How many steps away.
    pub steps: u32,
    /// Grams that went (jars towards a delivery), where one weighing tells.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amount: Option<i64>,
    /// The day a super was taken off for the filling meant.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub filling_pulled_at: Option<DateTime<Utc>>,
}

/// Where the honey of a thing came from and where it went.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Trace {
    /// The thing asked about.
    pub subject: Subject,
    /// What people call it.
    pub label: String,
    /// Towards the hives, nearest first.
    pub back: Vec<Step>,
    /// Towards the buyers, nearest first.
    pub forward: Vec<Step>,
    /// Holds that stand on it or on anything it came from.
    pub holds: Vec<Held>,
    /// What has to be called back if this is bad (RC-1).
    pub affected: Affected,
}

/// What a recall from here would have to find.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Affected {
    /// The batches, by code.
    pub batches: Vec<AffectedBatch>,
    /// Jars filled in all of them.
    pub jars: i64,
    /// Honey in those jars by declared content.
    pub net_g: i64,
    /// Everybody who got any of it.
    pub customers: Vec<Subject>,
}

/// A batch in a recall, with every jar accounted for (RC-2).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct AffectedBatch {
    /// The batch.
    pub subject: Subject,
    /// The code on the jars.
    pub code: String,
    /// How sure it is that it is affected.
    pub certainty: Certainty,
    /// Jars filled good.
    pub jars_filled: i64,
    /// Jars in stock.
    pub in_stock: i64,
    /// Jars sold to named buyers, less those returned.
    pub sold_to_customers: i64,
    /// Jars sold to the public.
    pub sold_to_public: i64,
    /// Jars given, broken, kept as samples or eaten at home.
    pub given_broken_samples: i64,
    /// Jars emptied into another lot.
    #[serde(default, skip_serializing_if = "crate::extraction::is_zero")]
    pub reworked: i64,
    /// Jars nobody can explain.
    pub unexplained: i64,
}

/// A hold that bears on a thing, and where it was set.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Held {
    /// Where it was set.
    pub on: Subject,
    /// What people call that.
    pub label: String,
    /// The entry that set it.
    pub hold_id: EntryId,
    /// Why.
    pub reason: HoldReason,
    /// Since when.
    pub since: DateTime<Utc>,
    /// When it is over for bees, where that is known; never for honey.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<DateTime<Utc>>,
    /// How sure it is that the honey met it; a possible hold holds as well (CF-4).
    pub certainty: Certainty,
}

/// Traces a thing both ways, with the holds of now.
#[must_use]
pub fn trace(house: &House, subject: Subject, now: DateTime<Utc>) -> Trace {
    trace_all(house, subject, &[], now)
}

/// Traces whatever bears a code or number; several that bear one are traced together, since a jar in the hand may be
/// of any of them (CF-13, RC-3).
#[must_use]
pub fn trace_code(house: &House, code: &str, now: DateTime<Utc>) -> Option<Trace> {
    let all = house.all_named(code);
    let (first, others) = all.split_first()?;
    Some(trace_all(house, *first, others, now))
}

fn trace_all(house: &House, subject: Subject, others: &[Subject], now: DateTime<Utc>) -> Trace {
    let graph = Graph::of(house);
    let all: Vec<Subject> = std::iter::once(subject).chain(others.iter().copied()).collect();
    Trace {
        subject,
        label: all.iter().map(|one| house.label(*one)).collect::<Vec<_>>().join(", "),
        back: steps(house, &graph, &all, Direction::Back),
        forward: steps(house, &graph, &all, Direction::Forward),
        holds: held_on_any(house, &graph, &all, now),
        affected: affected(house, graph.reach(&all, Direction::Forward)),
    }
}

/// Everything that some things reach in one direction, nearest first, over a graph that is at hand.
#[must_use]
pub fn steps(house: &House, graph: &Graph, all: &[Subject], direction: Direction) -> Vec<Step> {
    let mut steps: Vec<Step> = graph
        .reach(all, direction)
        .into_iter()
        .filter(|(node, _)| !all.contains(&node.subject))
        .map(|(node, how)| step(house, node, how))
        .collect();
    steps.sort_by(|a, b| (a.steps, a.subject.kind, &a.label).cmp(&(b.steps, b.subject.kind, &b.label)));
    steps
}

/// The holds on things that are asked about together, each once and as sure as it is anywhere.
fn held_on_any(house: &House, graph: &Graph, all: &[Subject], now: DateTime<Utc>) -> Vec<Held> {
    let holds = Holds::over(house, graph);
    let mut held: Vec<Held> = all.iter().flat_map(|subject| holds.on(*subject, now)).collect();
    held.sort_by(|a, b| (a.hold_id, b.certainty).cmp(&(b.hold_id, a.certainty)));
    held.dedup_by_key(|held| held.hold_id);
    held
}

fn step(house: &House, node: Node, how: Reached) -> Step {
    let filling = node.filling.and_then(|at| {
        let state = node.subject.as_super().and_then(|id| house.honey_super(id))?;
        state.fillings().nth(at)
    });
    Step {
        subject: node.subject,
        label: house.label(node.subject),
        certainty: how.certainty,
        steps: how.steps,
        amount: how.amount,
        filling_pulled_at: filling
            .and_then(|filling| filling.pulled.as_ref())
            .map(|pulled| pulled.at),
    }
}

pub(crate) fn affected(house: &House, reached: Map<Node, Reached>) -> Affected {
    let mut affected = Affected::default();
    for (node, how) in reached {
        if node.subject.kind == SubjectKind::Customer {
            affected.customers.push(node.subject);
        }
        let Some(batch) = node.subject.as_batch().and_then(|id| house.batch(id)) else {
            continue;
        };
        let to_customers = batch.delivered.iter().filter(|moved| moved.customer_id.is_some());
        let to_customers: i64 = to_customers.map(|moved| moved.jars).sum();
        let returned: i64 = batch.returned.iter().map(|moved| moved.jars).sum();
        let sold_to_customers = to_customers - returned.min(to_customers);
        affected.jars += batch.jars_good;
        affected.net_g += batch.jars_good * batch.nominal_g.map_or(0, crate::units::Grams::get);
        affected.batches.push(AffectedBatch {
            subject: node.subject,
            code: house.label(node.subject),
            certainty: how.certainty,
            jars_filled: batch.jars_good,
            in_stock: batch.jars_in_stock,
            sold_to_customers,
            sold_to_public: batch.jars_sold() - sold_to_customers,
            given_broken_samples: batch.given + batch.broken + batch.samples + batch.own_use,
            reworked: batch.reworked,
            unexplained: batch.jars_unexplained(),
        });
    }
    affected.batches.sort_by(|a, b| a.code.cmp(&b.code));
    affected.customers.sort();
    affected.customers.dedup();
    affected
}

/// Every hold that bears on a thing at a time, those that came with its honey included. Who asks of several things
/// works out [`Holds`] once.
#[must_use]
pub fn holds_on(house: &House, subject: Subject, now: DateTime<Utc>) -> Vec<Held> {
    Holds::of(house).on(subject, now)
}

/// Whether a lot came, by however many steps, from another thing.
#[must_use]
pub fn descends_from(house: &House, subject: Subject, ancestor: Subject) -> bool {
    Graph::of(house).descends(subject, ancestor)
}

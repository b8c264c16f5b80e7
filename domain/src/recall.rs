//! A recall: from anything that may be bad to every jar of it, to everybody who has some, and to one plain text for an
//! authority (RC-1, RC-2, RC-5). One step back and one forward are in it (RT-3).
//!
//! Nothing is recalled here: a person decides, and tells it as the end of a lot or batch.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::delivery::Delivery;
use crate::holds::Named;
use crate::honey_super::Filling;
use crate::house::House;
use crate::ids::{CustomerId, DeliveryId, MedicineId};
use crate::ordered::{Map, Set};
use crate::subject::{Subject, SubjectKind};
use crate::text::{Name, Text};
use crate::trace::{Affected, Certainty, Direction, Graph, Node, Reached, affected};
use crate::treatment::{TreatmentAct, TreatmentStep};

mod words;

pub use words::plain_text;

/// What a recall begins with (RC-1).
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Suspect {
    /// Lots, supers, hives, yards, runs, containers, batches; of a delivery the jars in it.
    Things(Vec<Subject>),
    /// A batch of medicine: the honey that was on the hives it was put into, until it came out.
    MedicineBatch(MedicineId, Name),
    /// What was filled, drawn, blended, bottled or spun on a day, UTC.
    Day(NaiveDate),
}

/// Something that went to somebody.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Sent {
    /// The delivery.
    pub delivery_id: DeliveryId,
    /// Its note, if it has a number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note_number: Option<Name>,
    /// When.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<DateTime<Utc>>,
    /// What.
    pub goods: Named,
    /// How sure it is that it is affected.
    pub certainty: Certainty,
    /// Jars.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub jars: Option<i64>,
    /// Honey in bulk, grams.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight_g: Option<i64>,
}

/// Somebody to ring.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Buyer {
    /// The buyer; nobody is named at a public sale, and nobody to those who may not read buyers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub customer_id: Option<CustomerId>,
    /// What they are called, or where it was sold to the public.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// Whom to ring.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub phone: Option<Name>,
    /// Where.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<Text>,
    /// What they got.
    pub sent: Vec<Sent>,
}

/// Everything that a recall has to find.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Recall {
    /// What it begins with.
    pub from: Vec<Named>,
    /// Where that came from: hives, yards, and whoever it was bought from.
    pub back: Vec<Named>,
    /// Whoever supplied honey that was bought in.
    pub suppliers: Vec<Name>,
    /// The jars, every one accounted for.
    pub affected: Affected,
    /// Jars of which it is sure.
    pub jars_surely: i64,
    /// Whom to ring, by name; public sales last.
    pub buyers: Vec<Buyer>,
}

/// Works out a recall.
#[must_use]
pub fn recall(house: &House, suspect: &Suspect) -> Recall {
    let graph = Graph::of(house);
    let starts = starts(house, suspect);
    let subjects: Set<Subject> = starts.keys().map(|node| node.subject).collect();
    let ahead = graph.reach_from(
        starts.iter().map(|(node, certainty)| (*node, *certainty)),
        Direction::Forward,
    );
    let ahead = match suspect {
        Suspect::Things(things) => {
            let mut ahead = ahead;
            ahead.extend(graph.reach(&of_deliveries(house, things), Direction::Forward));
            ahead
        }
        _ => ahead,
    };
    let behind = graph.reach_from(
        starts.iter().map(|(node, certainty)| (*node, *certainty)),
        Direction::Back,
    );
    let mut back: Vec<Named> = behind
        .keys()
        .map(|node| node.subject)
        .filter(|subject| matches!(subject.kind, SubjectKind::Hive | SubjectKind::Yard))
        .collect::<Set<_>>()
        .into_iter()
        .map(|subject| named(house, subject))
        .collect();
    back.sort_by(|a, b| (a.subject.kind, &a.label).cmp(&(b.subject.kind, &b.label)));
    let suppliers: Set<Name> = behind
        .keys()
        .chain(ahead.keys())
        .filter_map(|node| house.fill(node.subject.as_fill()?)?.source.as_ref())
        .filter_map(|source| match source {
            crate::fill::FillSource::BoughtFrom(name) => Some(name.clone()),
            _ => None,
        })
        .collect();
    let buyers = buyers(house, &ahead);
    let affected = affected(house, ahead);
    let surely = affected
        .batches
        .iter()
        .filter(|batch| batch.certainty == Certainty::Sure);
    Recall {
        from: subjects.into_iter().map(|subject| named(house, subject)).collect(),
        back,
        suppliers: suppliers.into_iter().collect(),
        jars_surely: surely.map(|batch| batch.jars_filled).sum(),
        affected,
        buyers,
    }
}

fn named(house: &House, subject: Subject) -> Named {
    Named {
        subject,
        label: house.label(subject),
    }
}

/// The goods of deliveries among some things, and the other things themselves.
fn of_deliveries(house: &House, things: &[Subject]) -> Vec<Subject> {
    let goods = |thing: &Subject| match house.get(*thing).and_then(|state| state.as_delivery()) {
        Some(delivery) => delivery.lines.iter().map(crate::delivery::Line::subject).collect(),
        None => vec![*thing],
    };
    things.iter().flat_map(goods).collect()
}

/// Every point of a thing: of a super all its fillings.
fn points(house: &House, subject: Subject) -> Vec<Node> {
    let mut points = vec![Node::from(subject)];
    if let Some(state) = subject.as_super().and_then(|id| house.honey_super(id)) {
        points.extend((0..state.fillings().count()).map(|at| Node {
            subject,
            filling: Some(at),
        }));
    }
    points
}

fn starts(house: &House, suspect: &Suspect) -> Map<Node, Certainty> {
    let sure = |node| (node, Certainty::Sure);
    match suspect {
        Suspect::Things(things) => {
            let all = of_deliveries(house, things);
            all.into_iter()
                .flat_map(|subject| points(house, subject))
                .map(sure)
                .collect()
        }
        Suspect::MedicineBatch(medicine, batch) => treated_with(house, *medicine, batch),
        Suspect::Day(day) => of_day(house, *day)
            .into_iter()
            .map(|subject| sure(subject.into()))
            .collect(),
    }
}

/// The fillings that were on hives while a batch of medicine was in them: from when it went in until it came out.
fn treated_with(house: &House, medicine: MedicineId, batch: &Name) -> Map<Node, Certainty> {
    let of_batch = |step: &&TreatmentStep| {
        let same = step
            .batch
            .as_ref()
            .is_some_and(|other| other.as_str().eq_ignore_ascii_case(batch.as_str()));
        step.medicine_id == Some(medicine) && same
    };
    let mut met: Map<Node, Certainty> = Map::new();
    for (hive, state) in house.hives() {
        for step in state.treatments.iter().filter(of_batch) {
            let ends = state.treatments.iter().filter(|other| {
                let same = other.medicine_id.is_none() || other.medicine_id == Some(medicine);
                other.act == TreatmentAct::TakenOut && same && other.at >= step.at
            });
            let out = match step.act {
                TreatmentAct::Given => Some(step.at),
                _ => ends.map(|other| other.at).min(),
            };
            for (id, state) in house.supers() {
                for (at, filling) in state.fillings().enumerate() {
                    if let Some(certainty) = stood(filling, hive, step.at, out) {
                        let node = Node {
                            subject: id.into(),
                            filling: Some(at),
                        };
                        let kept = met.entry(node).or_insert(certainty);
                        *kept = (*kept).max(certainty);
                    }
                }
            }
        }
    }
    met
}

fn stood(
    filling: &Filling,
    hive: crate::ids::HiveId,
    from: DateTime<Utc>,
    until: Option<DateTime<Utc>>,
) -> Option<Certainty> {
    let there = filling.stands.iter().filter(|stand| {
        stand.until.is_none_or(|left| left >= from)
            && until.is_none_or(|until| stand.from <= until)
            && stand.candidates().any(|candidate| candidate == hive)
    });
    let sure = |alone: bool| if alone { Certainty::Sure } else { Certainty::Possible };
    there.map(|stand| sure(stand.or_hive_ids.is_empty())).max()
}

fn of_day(house: &House, day: NaiveDate) -> Vec<Subject> {
    let on = |at: Option<DateTime<Utc>>| at.is_some_and(|at| at.date_naive() == day);
    let runs = house
        .runs()
        .filter(|(_, run)| run.on == Some(day))
        .map(|(id, _)| id.into());
    let fills = house
        .fills()
        .filter(|(_, fill)| on(fill.filled_at))
        .map(|(id, _)| id.into());
    let lots = house.lots().filter(|(_, lot)| on(lot.made_at)).map(|(id, _)| id.into());
    let batches = house
        .batches()
        .filter(|(_, batch)| on(batch.filled_at))
        .map(|(id, _)| id.into());
    runs.chain(fills).chain(lots).chain(batches).collect()
}

/// Everybody who got any of what is ahead.
fn buyers(house: &House, ahead: &Map<Node, Reached>) -> Vec<Buyer> {
    let mut buyers: Map<(Option<CustomerId>, Option<String>), Buyer> = Map::new();
    for (subject, state) in house.of_kind(SubjectKind::Delivery) {
        let (Some(id), Some(delivery)) = (subject.as_delivery(), state.as_delivery()) else {
            continue;
        };
        let sent: Vec<Sent> = sent(house, id, delivery, ahead);
        if sent.is_empty() {
            continue;
        }
        let customer = delivery.customer_id.and_then(|id| house.get(id.into())?.as_customer());
        let public = delivery.place.as_ref().map(ToString::to_string);
        let label = match delivery.customer_id {
            Some(id) => house.get(id.into()).and_then(crate::state::State::label),
            None => public,
        };
        let buyer = buyers
            .entry((delivery.customer_id, label.clone()))
            .or_insert_with(|| Buyer {
                customer_id: delivery.customer_id,
                label,
                phone: customer.and_then(|customer| customer.phone.clone()),
                address: customer.and_then(|customer| customer.address.clone()),
                sent: Vec::new(),
            });
        buyer.sent.extend(sent);
    }
    let mut buyers: Vec<Buyer> = buyers.into_values().collect();
    buyers.sort_by(|a, b| (a.customer_id.is_none(), &a.label).cmp(&(b.customer_id.is_none(), &b.label)));
    buyers
}

fn sent(house: &House, delivery_id: DeliveryId, delivery: &Delivery, ahead: &Map<Node, Reached>) -> Vec<Sent> {
    use crate::delivery::Goods;
    let lines = delivery.lines.iter().filter_map(|line| {
        let how = ahead.get(&Node::from(line.subject()))?;
        let (jars, weight_g) = match &line.goods {
            Goods::Jars { count, .. } => (Some(count.get()), None),
            Goods::Bulk { weight_g, .. } => (None, Some(weight_g.get())),
        };
        Some(Sent {
            delivery_id,
            note_number: delivery.note_number.clone(),
            at: delivery.at,
            goods: named(house, line.subject()),
            certainty: how.certainty,
            jars,
            weight_g,
        })
    });
    lines.collect()
}

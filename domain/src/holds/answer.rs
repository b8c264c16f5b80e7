//! What every hold answers: since when, because of which entry, what it covers, who may end it, what that would free.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Cause, EndsBy, Holds};
use crate::common::{Flag, FlagCode, HoldReason, Side};
use crate::form::Form;
use crate::honey_super::Whereabouts;
use crate::ids::{CustomerId, DeliveryId, EntryId, MemberId, YardId};
use crate::ordered::{Map, Set};
use crate::subject::{Subject, SubjectKind};
use crate::trace::{Certainty, Node};

/// A thing with what people call it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
pub struct Named {
    /// The thing.
    #[serde(flatten)]
    pub subject: Subject,
    /// What people call it.
    pub label: String,
}

/// A thing under a hold.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Covered {
    /// The thing.
    #[serde(flatten)]
    pub subject: Subject,
    /// What people call it.
    pub label: String,
    /// Whether it surely met the cause, or may have; a possible hold holds as well (CF-4).
    pub certainty: Certainty,
    /// It is still here, or something of it is.
    pub here: bool,
    /// When it is over for bees, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<DateTime<Utc>>,
}

/// Who got something that is on hold.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Holder {
    /// The delivery.
    pub delivery_id: DeliveryId,
    /// Who got it; nobody named at a public sale.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub customer_id: Option<CustomerId>,
    /// What people call whoever got it, as far as the caller may know.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// Jars, less those that came back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub jars: Option<i64>,
    /// Honey in bulk, grams.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight_g: Option<i64>,
}

/// Something on hold that has left: somebody has to look at it. Nothing is recalled by itself (TX-4).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Review {
    /// What left: a batch, or honey in bulk.
    #[serde(flatten)]
    pub subject: Subject,
    /// What people call it.
    pub label: String,
    /// How sure it is that it met the cause.
    pub certainty: Certainty,
    /// Who has it, by time.
    pub holders: Vec<Holder>,
}

/// A hold in a list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct HoldLine {
    /// The entry that tells the cause; ending it names this.
    pub hold_id: EntryId,
    /// Why.
    pub reason: HoldReason,
    /// Where it was told.
    pub on: Vec<Named>,
    /// Since when.
    pub since: DateTime<Utc>,
    /// When it is over for bees and boxes, where that is known. Never the end for honey gathered meanwhile (CF-17).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<DateTime<Utc>>,
    /// In words: what was seen, or the medicine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
    /// Who set it, where a person did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub set_by: Option<MemberId>,
    /// What ends it; whoever works in the office may.
    pub ends_by: EndsBy,
    /// Things here that it covers.
    pub here: u32,
    /// Things on hold of which something has left.
    pub to_review: u32,
}

/// Every hold that covers anything.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct HoldList {
    /// The holds, the newest first.
    pub holds: Vec<HoldLine>,
}

/// Everything about one hold.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct HoldAnswer {
    /// The hold.
    #[serde(flatten)]
    pub line: HoldLine,
    /// What it covers, the sure first.
    pub covers: Vec<Covered>,
    /// What is here and would be free without this hold.
    pub would_release: Vec<Named>,
    /// Yards that covered boxes and hives were in besides: look there, too (DI-2).
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub contact_yards: Vec<Named>,
    /// What left although moves were stopped (DI-3).
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub moved: Vec<Named>,
    /// What has left and who has it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub review: Vec<Review>,
}

impl Holds<'_> {
    /// Every hold that covers anything at a time, the newest first.
    #[must_use]
    pub fn list(&self, now: DateTime<Utc>) -> HoldList {
        let points = self.spread.by_cause(self.causes.len());
        let causes = self.causes.iter().zip(points).enumerate();
        let lines = causes.filter_map(|(at, (cause, points))| {
            let covers = self.covers(at, points, now);
            (!covers.is_empty()).then(|| self.line(cause, &covers))
        });
        let mut holds: Vec<HoldLine> = lines.collect();
        holds.sort_by_key(|line| std::cmp::Reverse((line.since, line.hold_id)));
        HoldList { holds }
    }

    /// Everything about the hold of an entry; nothing if the entry holds nothing.
    #[must_use]
    pub fn answer(&self, hold_id: EntryId, now: DateTime<Utc>) -> Option<HoldAnswer> {
        let at = self.causes.iter().position(|cause| cause.hold_id == hold_id)?;
        let cause = self.causes.get(at)?;
        let covers = self.covers(at, self.spread.nodes_of(at), now);
        let freed = covers.iter().filter(|covered| {
            let others = self.on(covered.subject, now);
            covered.here && others.iter().all(|held| held.hold_id == hold_id)
        });
        Some(HoldAnswer {
            line: self.line(cause, &covers),
            would_release: freed.map(|covered| self.named(covered.subject)).collect(),
            contact_yards: self.contact_yards(cause, &covers),
            moved: cause.moved.iter().map(|subject| self.named(*subject)).collect(),
            review: self.review(&covers),
            covers,
        })
    }

    fn named(&self, subject: Subject) -> Named {
        Named {
            subject,
            label: self.house.label(subject),
        }
    }

    fn line(&self, cause: &Cause, covers: &[Covered]) -> HoldLine {
        let count = |of: usize| u32::try_from(of).unwrap_or(u32::MAX);
        HoldLine {
            hold_id: cause.hold_id,
            reason: cause.reason,
            on: cause.places.iter().map(|place| self.named(*place)).collect(),
            since: cause.since,
            until: cause.until,
            text: cause.text.clone(),
            set_by: cause.set_by,
            ends_by: cause.ends_by,
            here: count(covers.iter().filter(|covered| covered.here).count()),
            to_review: count(self.review(covers).len()),
        }
    }

    /// What a cause covers at a time: where it came with honey and boxes, and where its bees are.
    fn covers(
        &self,
        cause: usize,
        points: impl IntoIterator<Item = (Node, Certainty)>,
        now: DateTime<Utc>,
    ) -> Vec<Covered> {
        let mut found: Map<Subject, Covered> = Map::new();
        let mut add = |subject: Subject, certainty: Certainty, here: bool, until| {
            let covered = found.entry(subject).or_insert_with(|| Covered {
                subject,
                label: self.house.label(subject),
                certainty,
                here,
                until,
            });
            covered.certainty = covered.certainty.max(certainty);
            covered.here |= here;
        };
        for (node, certainty) in points {
            let here = match node.subject.kind {
                SubjectKind::Super => self.node_of(node.subject) == Some(node) && self.in_use(node.subject),
                _ => self.is_here(node.subject),
            };
            add(node.subject, certainty, here, None);
        }
        let spells = self.bees_of.get(cause).into_iter().flatten();
        let running = spells.filter(|(_, on)| on.from <= now && on.until.is_none_or(|until| now < until));
        for (subject, on) in running {
            add(*subject, Certainty::Sure, true, on.until);
        }
        let mut covers: Vec<Covered> = found.into_values().collect();
        covers.sort_by(|a, b| {
            (b.certainty, a.subject.kind, &a.label, a.subject).cmp(&(a.certainty, b.subject.kind, &b.label, b.subject))
        });
        covers
    }

    fn in_use(&self, subject: Subject) -> bool {
        let state = subject.as_super().and_then(|id| self.house.honey_super(id));
        state.is_some_and(|state| state.whereabouts != Whereabouts::Ended)
    }

    fn is_here(&self, subject: Subject) -> bool {
        if let Some(fill) = subject.as_fill().and_then(|id| self.house.fill(id)) {
            return fill.content_g > 0;
        }
        if let Some(lot) = subject.as_lot().and_then(|id| self.house.lot(id)) {
            return lot.content_g > 0;
        }
        let batch = subject.as_batch().and_then(|id| self.house.batch(id));
        batch.is_some_and(|batch| batch.jars_in_stock > 0)
    }

    fn review(&self, covers: &[Covered]) -> Vec<Review> {
        let left = covers.iter().filter_map(|covered| {
            let holders = self.holders(covered.subject);
            (!holders.is_empty()).then(|| Review {
                subject: covered.subject,
                label: covered.label.clone(),
                certainty: covered.certainty,
                holders,
            })
        });
        left.collect()
    }

    /// Who has jars of a batch, or honey of a fill or lot in bulk.
    fn holders(&self, subject: Subject) -> Vec<Holder> {
        let label = |id: Option<CustomerId>| id.and_then(|id| self.house.get(id.into())?.label());
        if let Some(batch) = subject.as_batch().and_then(|id| self.house.batch(id)) {
            let sent = batch.delivered.iter().map(|sent| {
                let back = batch
                    .returned
                    .iter()
                    .filter(|back| back.delivery_id == sent.delivery_id);
                let back: i64 = back.map(|back| back.jars).sum();
                Holder {
                    delivery_id: sent.delivery_id,
                    customer_id: sent.customer_id,
                    label: label(sent.customer_id),
                    at: sent.at,
                    jars: Some(sent.jars - back),
                    weight_g: None,
                }
            });
            return sent.filter(|holder| holder.jars.is_some_and(|jars| jars > 0)).collect();
        }
        let taken = subject
            .as_fill()
            .and_then(|id| self.house.fill(id))
            .map(|fill| &fill.taken_out);
        let out = taken.into_iter().flatten().filter_map(|taken| {
            let delivery_id = taken.into.as_delivery()?;
            let state = self.house.get(taken.into).and_then(|state| state.as_delivery());
            let customer_id = state.and_then(|delivery| delivery.customer_id);
            Some(Holder {
                delivery_id,
                customer_id,
                label: label(customer_id),
                at: taken.at,
                jars: None,
                weight_g: Some(taken.weight_g),
            })
        });
        out.collect()
    }

    fn contact_yards(&self, cause: &Cause, covers: &[Covered]) -> Vec<Named> {
        if !matches!(cause.reason, HoldReason::Disease | HoldReason::Standstill) {
            return Vec::new();
        }
        let yard_at = |hive, at| self.house.hive(hive).and_then(|hive| hive.yard_at(at));
        let own: Set<YardId> = cause
            .places
            .iter()
            .filter_map(|place| place.as_yard().or_else(|| yard_at(place.as_hive()?, cause.since)))
            .collect();
        let since = cause.season.unwrap_or(cause.since);
        let mut yards: Set<YardId> = Set::new();
        for state in covers
            .iter()
            .filter_map(|covered| self.house.honey_super(covered.subject.as_super()?))
        {
            for stand in state.fillings().flat_map(|filling| &filling.stands) {
                if stand.until.is_none_or(|until| until >= since) {
                    for hive in stand.candidates() {
                        yards.extend(yard_at(hive, stand.from.max(since)));
                        yards.extend(stand.until.and_then(|until| yard_at(hive, until)));
                    }
                }
            }
            yards.extend(super::yard_of_box(self.house, state));
        }
        for hive in own.iter().flat_map(|yard| self.stands.hives_in(*yard, since)) {
            let stays = self.house.hive(hive.hive).map(|hive| &hive.stays);
            yards.extend(
                stays
                    .into_iter()
                    .flatten()
                    .filter(|stay| stay.from >= since)
                    .map(|stay| stay.yard_id),
            );
        }
        let mut named: Vec<Named> = yards.difference(&own).map(|yard| self.named((*yard).into())).collect();
        named.sort_by(|a, b| (&a.label, a.subject).cmp(&(&b.label, b.subject)));
        named
    }

    /// Batches and bulk honey on hold of which something has left (TX-4).
    pub(super) fn left_under_hold(&self) -> Vec<(Subject, Flag)> {
        let batches = self.house.batches().map(|(id, _)| Subject::from(id));
        let fills = self.house.fills().map(|(id, _)| Subject::from(id));
        let mut found = Vec::new();
        for subject in batches.chain(fills) {
            let causes = self.spread.causes_at(subject.into());
            if causes.is_empty() {
                continue;
            }
            let holders = self.holders(subject);
            if holders.is_empty() {
                continue;
            }
            let causes = causes.iter().filter_map(|(cause, _)| self.causes.get(*cause));
            let sides = causes.map(|cause| Side {
                entry_id: cause.hold_id,
                at: cause.since,
                names: cause.places.first().copied(),
                amount: None,
            });
            let code = FlagCode::LeftUnderHold;
            found.push((
                subject,
                Flag {
                    code,
                    sides: sides.collect(),
                },
            ));
        }
        found
    }
}

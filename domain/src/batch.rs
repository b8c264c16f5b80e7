//! A jar batch: one lot, one jar size, one label, one filling day (ID-7), and where its jars went: filled, weighed,
//! labelled, in store, sold, or ended otherwise (ST-9).

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::{Common, FlagCode, Side, state};
use crate::entry::Entry;
use crate::fold::{Aggregate, Memo, Told};
use crate::form::Form;
use crate::honey_super::SAME_HAPPENING;
use crate::ids::{BatchId, CustomerId, DeliveryId, EntryId, LotId};
use crate::lot::{Gone, end_honey, ended_as};
use crate::lot_code::LotCode;
use crate::profile::Rules;
use crate::subject::SubjectKind;
use crate::text::{Name, Text};
use crate::units::{Count, Grams};

mod entries;
mod glass;

pub use glass::*;

pub use entries::*;

/// Jars that went to somebody, or came back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct JarsMoved {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// The delivery.
    pub delivery_id: DeliveryId,
    /// Who got them; nobody named at a public sale.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub customer_id: Option<CustomerId>,
    /// How many.
    pub jars: i64,
    /// Where they were sold, if to the public.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<Name>,
}

impl JarsMoved {
    fn side(&self) -> Side {
        Side {
            entry_id: self.entry_id,
            at: self.at,
            names: Some(self.delivery_id.into()),
            amount: Some(self.jars),
        }
    }
}

/// A difference that a count brought to light.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Corrected {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// Found less book.
    pub difference: i64,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Text>,
}

/// A complaint about jars.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Complaint {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// What was wrong.
    pub text: Text,
    /// How many jars.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub jars: Option<Count>,
}

/// Labels of a batch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct LabelsUsed {
    /// The entry.
    pub entry_id: EntryId,
    /// Printed.
    pub printed: Count,
    /// On jars.
    pub used: Count,
    /// Spoilt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spoilt: Option<Count>,
    /// Best before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub best_before: Option<NaiveDate>,
}

state! {
    /// Jars of one filling.
    Batch {
        /// The code on the jars.
        #[serde(skip_serializing_if = "Option::is_none")]
        code: Option<LotCode>,
        /// The lot they were filled from.
        #[serde(skip_serializing_if = "Option::is_none")]
        lot_id: Option<LotId>,
        /// Other lots that another telling names: the jars belong to all of them until somebody settles it (CF-4).
        #[serde(skip_serializing_if = "Vec::is_empty")]
        or_lot_ids: Vec<LotId>,
        /// What they are sold as.
        #[serde(skip_serializing_if = "Option::is_none")]
        product: Option<Name>,
        /// Declared net content of a jar.
        #[serde(skip_serializing_if = "Option::is_none")]
        nominal_g: Option<Grams>,
        /// The entry that first told of it.
        #[serde(skip_serializing_if = "Option::is_none")]
        filled_by: Option<EntryId>,
        /// When they were filled.
        #[serde(skip_serializing_if = "Option::is_none")]
        filled_at: Option<DateTime<Utc>>,
        /// Jars filled good.
        jars_good: i64,
        /// Jars broken in filling.
        #[serde(skip_serializing_if = "crate::extraction::is_zero")]
        jars_broken: i64,
        /// Honey that left the lot for them.
        used_g: i64,
        /// Weights of full jars since they were last topped up, net, tenths of a gram.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        net_tenths_g: Vec<i64>,
        /// Labels.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        labels: Vec<LabelsUsed>,
        /// Glass that broke.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        broke: Vec<Broke>,
        /// Complaints, in order.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        complaints: Vec<Complaint>,
        /// Where they stand.
        #[serde(skip_serializing_if = "Option::is_none")]
        place: Option<Name>,
        /// Jars delivered.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        delivered: Vec<JarsMoved>,
        /// Jars that came back; they are stock again, kept apart (MB-5).
        #[serde(skip_serializing_if = "Vec::is_empty")]
        returned: Vec<JarsMoved>,
        /// Jars given away.
        #[serde(skip_serializing_if = "crate::extraction::is_zero")]
        given: i64,
        /// Jars broken in store.
        #[serde(skip_serializing_if = "crate::extraction::is_zero")]
        broken: i64,
        /// Jars kept back or opened as samples.
        #[serde(skip_serializing_if = "crate::extraction::is_zero")]
        samples: i64,
        /// Jars eaten at home.
        #[serde(skip_serializing_if = "crate::extraction::is_zero")]
        own_use: i64,
        /// Jars emptied into another lot.
        #[serde(skip_serializing_if = "crate::extraction::is_zero")]
        reworked: i64,
        /// It was withdrawn, recalled or destroyed.
        #[serde(skip_serializing_if = "Option::is_none")]
        ended: Option<Gone>,
        /// Differences that counts brought to light.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        corrections: Vec<Corrected>,
        /// Jars of sales that may have been told twice: so many more may be in stock than by the book (CF-2).
        #[serde(skip_serializing_if = "crate::extraction::is_zero")]
        jars_told_twice: i64,
        /// Jars in stock by the book.
        jars_in_stock: i64,
    }
}

impl Batch {
    /// Jars sold, less those that came back.
    #[must_use]
    pub fn jars_sold(&self) -> i64 {
        let sum = |moved: &[JarsMoved]| moved.iter().map(|moved| moved.jars).sum::<i64>();
        sum(&self.delivered) - sum(&self.returned)
    }

    /// Jars that nobody can explain (RC-2).
    #[must_use]
    pub fn jars_unexplained(&self) -> i64 {
        -self
            .corrections
            .iter()
            .map(|corrected| corrected.difference)
            .sum::<i64>()
    }

    /// Every lot they may be of, the believed one first.
    pub fn lots(&self) -> impl Iterator<Item = LotId> {
        self.lot_id.into_iter().chain(self.or_lot_ids.iter().copied())
    }

    /// Best before as its newest label says, else so long after filling as the rules in force say (FI-3).
    #[must_use]
    pub fn best_before(&self, rules: Rules<'_>) -> Option<NaiveDate> {
        let told = self.labels.iter().rev().find_map(|labels| labels.best_before);
        told.or_else(|| rules.best_before(self.filled_at?.date_naive()))
    }

    /// The fewest and the most jars that can be in stock: a sale that may have been told twice is one or two.
    #[must_use]
    pub const fn jars_in_stock_range(&self) -> (i64, i64) {
        (self.jars_in_stock, self.jars_in_stock + self.jars_told_twice)
    }

    fn book(&self) -> i64 {
        let out = self.given + self.broken + self.samples + self.own_use + self.reworked;
        self.jars_good - self.jars_sold() - out - self.jars_unexplained()
    }

    fn recount(&mut self) {
        self.jars_in_stock = self.book();
        if self.filled_at.is_some() && self.jars_in_stock < 0 {
            let sides: Vec<Side> = self.delivered.iter().map(JarsMoved::side).collect();
            self.flag(FlagCode::MoreOutThanFilled, sides);
        } else {
            self.unflag(FlagCode::MoreOutThanFilled);
        }
    }

    /// Sold alike within twelve hours by two who did not know of each other, both count and the stock is a range
    /// (CF-2).
    fn deliver(&mut self, told: &Told<'_>, memo: &mut Memo, new: JarsMoved) {
        memo.remember(told);
        for old in self
            .delivered
            .iter()
            .filter(|earlier| new.at - earlier.at > SAME_HAPPENING)
        {
            memo.forget(old.entry_id);
        }
        let alike = |earlier: &&JarsMoved| {
            (earlier.jars, earlier.customer_id, &earlier.place) == (new.jars, new.customer_id, &new.place)
                && new.at - earlier.at <= SAME_HAPPENING
                && memo.concurrent(earlier.entry_id, told)
        };
        let sides: Vec<Side> = self.delivered.iter().filter(alike).map(JarsMoved::side).collect();
        if !sides.is_empty() {
            self.jars_told_twice += new.jars;
            self.flag(FlagCode::ToldTwice, [sides, vec![new.side()]].concat());
        }
        self.delivered.push(new);
    }

    fn fill(&mut self, told: &Told<'_>, memo: &mut Memo, bottled: &Bottled) {
        if let (Some(before), Some(at)) = (self.lot_id, self.filled_at)
            && before != bottled.lot_id
        {
            // Jars of one batch are of one lot (ID-7); told of two, both stay in the trace.
            self.or_lot_ids.push(before);
            self.or_lot_ids.retain(|lot| *lot != bottled.lot_id);
            self.or_lot_ids.sort_unstable();
            self.or_lot_ids.dedup();
            let first = Side {
                entry_id: self.filled_by.unwrap_or(told.id()),
                at,
                names: None,
                amount: None,
            };
            let second = Side::of(told).naming(bottled.lot_id);
            self.flag(FlagCode::OfTwoOrigins, [first.naming(before), second]);
        }
        // What arrives later was not known to whoever filled.
        memo.remember(told);
        self.filled_by.get_or_insert(told.id());
        (self.code, self.lot_id) = (Some(bottled.code), Some(bottled.lot_id));
        self.product = bottled.product.clone().or(self.product.take());
        self.nominal_g = Some(bottled.nominal_g);
        self.filled_at.get_or_insert(told.at());
        self.jars_good += bottled.jars_good.get();
        self.jars_broken += bottled.jars_broken.map_or(0, Count::get);
        self.used_g += bottled.used_g();
    }
}

impl Aggregate for Batch {
    const KIND: SubjectKind = SubjectKind::Batch;

    fn apply(&mut self, told: &Told<'_>, memo: &mut Memo) {
        let id = BatchId::from_uuid(told.about.id);
        match told.entry {
            Entry::Bottled(bottled) => self.fill(told, memo, bottled),
            Entry::WeightsChecked(checked) => {
                if checked.topped_up == Some(true) {
                    self.net_tenths_g.clear();
                }
                self.net_tenths_g.extend_from_slice(&checked.net_tenths_g);
            }
            Entry::ComplaintTold(complaint) => self.complaints.push(Complaint {
                entry_id: told.id(),
                at: told.at(),
                text: complaint.text.clone(),
                jars: complaint.jars,
            }),
            Entry::Labelled(labelled) => self.labels.push(LabelsUsed {
                entry_id: told.id(),
                printed: labelled.printed,
                used: labelled.used,
                spoilt: labelled.spoilt,
                best_before: labelled.best_before,
            }),
            Entry::GlassBroken(glass) => self.break_glass(told, memo, glass),
            Entry::JarsReworked(again) => self.reworked += again.jars.get(),
            Entry::HoneyEnded(ended) => self.ended = Some(end_honey(self, (told, memo), ended)),
            Entry::BatchStored(stored) => self.place = Some(stored.place.clone()),
            Entry::JarsTakenOut(out) => {
                let of = match out.went {
                    JarsWent::Given => &mut self.given,
                    JarsWent::Broken => &mut self.broken,
                    JarsWent::Samples => &mut self.samples,
                    JarsWent::OwnUse => &mut self.own_use,
                };
                *of += out.jars.get();
            }
            Entry::Delivered(delivered) => self.deliver(
                told,
                memo,
                JarsMoved {
                    entry_id: told.id(),
                    at: told.at(),
                    delivery_id: delivered.delivery_id,
                    customer_id: delivered.customer_id,
                    jars: delivered.jars(id),
                    place: delivered.place.clone(),
                },
            ),
            Entry::Returned(returned) => self.returned.push(JarsMoved {
                entry_id: told.id(),
                at: told.at(),
                delivery_id: returned.delivery_id,
                customer_id: None,
                jars: returned.jars.get(),
                place: None,
            }),
            Entry::StockCounted(counted) => {
                // What is there settles whether it was sold once or twice.
                self.unflag(FlagCode::ToldTwice);
                self.jars_told_twice = 0;
                let difference = counted.jars.get() - self.book();
                if difference != 0 {
                    let reason = counted.reason.clone();
                    self.corrections.push(Corrected {
                        entry_id: told.id(),
                        at: told.at(),
                        difference,
                        reason,
                    });
                }
            }
            _ => {}
        }
        self.recount();
    }

    fn label(&self) -> Option<String> {
        self.code.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        if let Some(end) = ended_as(self, self.ended.as_ref()) {
            end
        } else if self.standing_holds().next().is_some() {
            "on_hold"
        } else if self.filled_at.is_none() {
            "not_filled"
        } else if self.jars_in_stock <= 0 && self.reworked > 0 {
            "reworked"
        } else if self.jars_in_stock <= 0 {
            "sold_out"
        } else if !self.delivered.is_empty() {
            "part_sold"
        } else if self.place.is_some() {
            "in_store"
        } else if !self.labels.is_empty() {
            "labelled"
        } else if !self.net_tenths_g.is_empty() {
            "check_weighed"
        } else {
            "filled"
        }
    }
}

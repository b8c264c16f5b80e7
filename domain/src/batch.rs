//! A jar batch: one lot, one jar size, one label, one filling day (ID-7), and where its jars went.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::{Common, FlagCode, Side, state};
use crate::entry::{Entry, entry};
use crate::fold::{Aggregate, Memo, Told};
use crate::ids::{BatchId, CustomerId, DeliveryId, EntryId, LotId};
use crate::lot_code::LotCode;
use crate::subject::SubjectKind;
use crate::text::{Name, Text};
use crate::units::{Count, Grams};

/// How jars left the stock without being sold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum JarsWent {
    /// Given away.
    Given,
    /// Broken; their honey is waste.
    Broken,
    /// Kept back or opened as samples.
    Samples,
    /// Eaten at home.
    OwnUse,
}

entry! {
    /// Jars were filled from a lot.
    Bottled = "bottled" v 1 touches(batch_id, lot_id) wish Bottle for lot_id: LotId
    {
        /// The batch.
        batch_id: BatchId,
        /// The code on its jars (LO-2).
        code: LotCode,
        /// Net content as declared, each jar.
        nominal_g: Grams,
        /// Jars filled good.
        jars_good: Count,
    }
    optional {
        /// Jars broken in filling.
        jars_broken: Count,
        /// Honey that left the lot, if it was weighed; else jars by their declared content.
        used_g: Grams,
        /// What the jars are sold as.
        product: Name,
        /// Which label they get.
        label_version: Name,
    }
}

entry! {
    /// Full jars were weighed (NC-3).
    WeightsChecked = "weights_checked" v 1 touches(batch_id) wish CheckWeights for batch_id: BatchId
    {
        /// Net content of each jar, tenths of a gram.
        net_tenths_g: Vec<i64>,
    }
    optional {}
}

entry! {
    /// Labels were printed and used (MB-6).
    Labelled = "labelled" v 1 touches(batch_id) wish Label for batch_id: BatchId
    {
        /// Labels printed.
        printed: Count,
        /// Labels on jars.
        used: Count,
    }
    optional {
        /// Labels spoilt.
        spoilt: Count,
        /// Which label.
        label_version: Name,
        /// Best before (FI-3).
        best_before: NaiveDate,
    }
}

entry! {
    /// Jars were put away.
    BatchStored = "batch_stored" v 1 touches(batch_id) wish StoreBatch for batch_id: BatchId
    {
        /// Where.
        place: Name,
    }
    optional {}
}

entry! {
    /// Jars left the stock without being sold.
    JarsTakenOut = "jars_taken_out" v 1 touches(batch_id) wish TakeJarsOut for batch_id: BatchId
    {
        /// How many.
        jars: Count,
        /// How.
        went: JarsWent,
    }
    optional {
        /// In words.
        reason: Text,
    }
}

entry! {
    /// The jars in store were counted. A count never overwrites: the difference is posted with its reason (MB-7).
    StockCounted = "stock_counted" v 1 touches(batch_id) wish CountStock for batch_id: BatchId
    {
        /// Jars found.
        jars: Count,
    }
    optional {
        /// Why it differs from the book.
        reason: Text,
    }
}

impl Bottled {
    /// Honey that left the lot: as weighed, else by declared content of all jars, the broken ones too.
    #[must_use]
    pub fn used_g(&self) -> i64 {
        let jars = self.jars_good.get() + self.jars_broken.map_or(0, Count::get);
        self.used_g.map_or(jars * self.nominal_g.get(), Grams::get)
    }
}

/// Jars that went to somebody, or came back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
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
}

/// A difference that a count brought to light.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
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

/// Labels of a batch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
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
        /// What they are sold as.
        #[serde(skip_serializing_if = "Option::is_none")]
        product: Option<Name>,
        /// Declared net content of a jar.
        #[serde(skip_serializing_if = "Option::is_none")]
        nominal_g: Option<Grams>,
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
        /// Weights of full jars, net, tenths of a gram.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        net_tenths_g: Vec<i64>,
        /// Labels.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        labels: Vec<LabelsUsed>,
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
        /// Differences that counts brought to light.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        corrections: Vec<Corrected>,
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

    fn book(&self) -> i64 {
        let out = self.given + self.broken + self.samples + self.own_use;
        self.jars_good - self.jars_sold() - out - self.jars_unexplained()
    }

    fn recount(&mut self) {
        self.jars_in_stock = self.book();
        if self.filled_at.is_some() && self.jars_in_stock < 0 {
            let sides: Vec<Side> = self
                .delivered
                .iter()
                .map(|moved| Side {
                    entry_id: moved.entry_id,
                    at: moved.at,
                    names: Some(moved.delivery_id.into()),
                    amount: Some(moved.jars),
                })
                .collect();
            self.flag(FlagCode::MoreOutThanFilled, sides);
        } else {
            self.unflag(FlagCode::MoreOutThanFilled);
        }
    }

    fn fill(&mut self, told: &Told<'_>, bottled: &Bottled) {
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

    fn apply(&mut self, told: &Told<'_>, _: &mut Memo) {
        let id = BatchId::from_uuid(told.about.id);
        match told.entry {
            Entry::Bottled(bottled) => self.fill(told, bottled),
            Entry::WeightsChecked(checked) => self.net_tenths_g.extend_from_slice(&checked.net_tenths_g),
            Entry::Labelled(labelled) => self.labels.push(LabelsUsed {
                entry_id: told.id(),
                printed: labelled.printed,
                used: labelled.used,
                spoilt: labelled.spoilt,
                best_before: labelled.best_before,
            }),
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
            Entry::Delivered(delivered) => self.delivered.push(JarsMoved {
                entry_id: told.id(),
                at: told.at(),
                delivery_id: delivered.delivery_id,
                customer_id: delivered.customer_id,
                jars: delivered.jars(id),
            }),
            Entry::Returned(returned) => self.returned.push(JarsMoved {
                entry_id: told.id(),
                at: told.at(),
                delivery_id: returned.delivery_id,
                customer_id: None,
                jars: returned.jars.get(),
            }),
            Entry::StockCounted(counted) => {
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
        if self.standing_holds().next().is_some() {
            "on_hold"
        } else if self.filled_at.is_none() {
            "not_filled"
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

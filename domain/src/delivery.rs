//! Buyers and what they got. A trade delivery names its batches; a public sale need not name a person (ST-10).

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::{Common, FlagCode, Side, state};
use crate::entry::{Entry, entry};
use crate::fold::{Aggregate, Memo, Told};
use crate::form::Form;
use crate::ids::{BatchId, CustomerId, DeliveryId, EntryId, FillId};
use crate::subject::{Subject, SubjectKind, Touch};
use crate::text::{Name, Text};
use crate::units::{Count, Grams};
use crate::yard::{rename, retell};

mod orders;

pub use orders::*;

entry! {
    /// Somebody who buys was written down.
    CustomerRegistered = "customer_registered" v 1 touches(customer_id)
    {
        /// The buyer.
        customer_id: CustomerId,
        /// What they are called.
        name: Name,
    }
    optional {
        /// Where.
        address: Text,
        /// Whom to ring in a recall.
        phone: Name,
    }
}

entry! {
    /// Words about a buyer changed.
    CustomerDescribed = "customer_described" v 1 touches(customer_id) wish DescribeCustomer for customer_id: CustomerId
    {}
    optional {
        /// What they are called.
        name: Name,
        /// Where.
        address: Text,
        /// Whom to ring in a recall.
        phone: Name,
    }
}

/// What a line of a delivery is about.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Goods {
    /// Jars of one batch.
    Jars {
        /// The batch.
        batch_id: BatchId,
        /// How many.
        count: Count,
    },
    /// Honey in bulk.
    Bulk {
        /// The fill.
        fill_id: FillId,
        /// How much.
        weight_g: Grams,
    },
}

/// One line of a delivery.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Line {
    /// What.
    pub goods: Goods,
    /// Price of the line, hundredths of the operation's money.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub price_hundredths: Option<u32>,
}

impl Line {
    /// The batch or fill it is about.
    #[must_use]
    pub fn subject(&self) -> Subject {
        match &self.goods {
            Goods::Jars { batch_id, .. } => (*batch_id).into(),
            Goods::Bulk { fill_id, .. } => (*fill_id).into(),
        }
    }
}

impl Touch for Line {
    fn touch(&self, out: &mut Vec<Subject>) {
        out.push(self.subject());
    }
}

entry! {
    /// Goods left the house.
    Delivered = "delivered" v 1 touches(delivery_id, lines)
    {
        /// The delivery.
        delivery_id: DeliveryId,
        /// What went.
        lines: Vec<Line>,
    }
    optional {
        /// Who got it; absent at a public sale.
        customer_id: CustomerId,
        /// The delivery note.
        note_number: Name,
        /// Where it was sold, if to the public.
        place: Name,
    }
}

entry! {
    /// Jars came back.
    Returned = "returned" v 1 touches(delivery_id, batch_id) wish Return for delivery_id: DeliveryId
    {
        /// The batch.
        batch_id: BatchId,
        /// How many.
        jars: Count,
    }
    optional {
        /// Why.
        reason: Text,
    }
}

impl Delivered {
    /// Jars of one batch.
    #[must_use]
    pub fn jars(&self, of: BatchId) -> i64 {
        let jars = self.lines.iter().map(|line| match &line.goods {
            Goods::Jars { batch_id, count } if *batch_id == of => count.get(),
            _ => 0,
        });
        jars.sum()
    }

    /// Honey in bulk out of one fill.
    #[must_use]
    pub fn bulk_g(&self, of: FillId) -> i64 {
        let grams = self.lines.iter().map(|line| match &line.goods {
            Goods::Bulk { fill_id, weight_g } if *fill_id == of => weight_g.get(),
            _ => 0,
        });
        grams.sum()
    }
}

state! {
    /// A buyer.
    Customer {
        /// What they are called.
        #[serde(skip_serializing_if = "Option::is_none")]
        name: Option<Name>,
        /// What they were called.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        former_names: Vec<Name>,
        /// Where.
        #[serde(skip_serializing_if = "Option::is_none")]
        address: Option<Text>,
        /// Whom to ring in a recall.
        #[serde(skip_serializing_if = "Option::is_none")]
        phone: Option<Name>,
    }
}

impl Aggregate for Customer {
    const KIND: SubjectKind = SubjectKind::Customer;

    fn apply(&mut self, told: &Told<'_>, _: &mut Memo) {
        match told.entry {
            Entry::CustomerRegistered(new) => {
                rename(&mut self.name, &mut self.former_names, Some(&new.name));
                retell(&mut self.address, new.address.as_ref());
                retell(&mut self.phone, new.phone.as_ref());
            }
            Entry::CustomerDescribed(new) => {
                rename(&mut self.name, &mut self.former_names, new.name.as_ref());
                retell(&mut self.address, new.address.as_ref());
                retell(&mut self.phone, new.phone.as_ref());
            }
            _ => {}
        }
    }

    fn label(&self) -> Option<String> {
        self.name.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        "in_use"
    }
}

state! {
    /// Goods that left, from the order on.
    Delivery {
        /// Who got them; nobody named at a public sale.
        #[serde(skip_serializing_if = "Option::is_none")]
        customer_id: Option<CustomerId>,
        /// What was ordered before.
        #[serde(skip_serializing_if = "Option::is_none")]
        order: Option<Order>,
        /// When they left.
        #[serde(skip_serializing_if = "Option::is_none")]
        at: Option<DateTime<Utc>>,
        /// The entry that first told of it.
        #[serde(skip_serializing_if = "Option::is_none")]
        delivered_by: Option<EntryId>,
        /// What went.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        lines: Vec<Line>,
        /// The delivery note.
        #[serde(skip_serializing_if = "Option::is_none")]
        note_number: Option<Name>,
        /// Where it was sold, if to the public.
        #[serde(skip_serializing_if = "Option::is_none")]
        place: Option<Name>,
        /// Jars that came back.
        #[serde(skip_serializing_if = "crate::extraction::is_zero")]
        jars_returned: i64,
    }
}

impl Delivery {
    /// Jars that left.
    #[must_use]
    pub fn jars(&self) -> i64 {
        let jars = self.lines.iter().map(|line| match &line.goods {
            Goods::Jars { count, .. } => count.get(),
            Goods::Bulk { .. } => 0,
        });
        jars.sum()
    }

    /// The day by which it is known where it has no number: when it left, or was ordered.
    #[must_use]
    pub fn day(&self) -> Option<NaiveDate> {
        let ordered_at = self.order.as_ref().and_then(|order| order.ordered_at);
        self.at.or(ordered_at).map(|at| at.date_naive())
    }

    /// Everything that left came back.
    #[must_use]
    pub fn is_back(&self) -> bool {
        let only_jars = self.lines.iter().all(|line| matches!(line.goods, Goods::Jars { .. }));
        only_jars && self.jars_returned > 0 && self.jars_returned >= self.jars()
    }

    /// Delivered stands against cancelled, whichever was told first: the goods left the house, and the cancellation
    /// asks for their return (CF-15).
    fn stands_delivered(&mut self) {
        let cancelled = self.order.as_ref().and_then(|order| order.cancelled.as_ref());
        let both = cancelled.zip(self.delivered_by.zip(self.at));
        let Some((cancelled, (delivered_by, at))) = both.filter(|_| !self.is_back()) else {
            self.unflag(FlagCode::DeliveredThoughCancelled);
            return;
        };
        let side = |entry_id, at, names| Side {
            entry_id,
            at,
            names,
            amount: None,
        };
        let buyer = self
            .customer_id
            .map_or_else(|| self.lines.first().map(Line::subject), |id| Some(id.into()));
        let sides = [
            side(cancelled.entry_id, cancelled.at, None),
            side(delivered_by, at, buyer),
        ];
        self.flag(FlagCode::DeliveredThoughCancelled, sides);
    }
}

impl Aggregate for Delivery {
    const KIND: SubjectKind = SubjectKind::Delivery;

    fn apply(&mut self, told: &Told<'_>, _: &mut Memo) {
        match told.entry {
            Entry::Delivered(delivered) => {
                self.customer_id = delivered.customer_id.or(self.customer_id);
                self.at.get_or_insert(told.at());
                self.delivered_by.get_or_insert(told.id());
                self.lines.extend_from_slice(&delivered.lines);
                retell(&mut self.note_number, delivered.note_number.as_ref());
                retell(&mut self.place, delivered.place.as_ref());
            }
            Entry::Returned(returned) => self.jars_returned += returned.jars.get(),
            Entry::GoodsOrdered(_) | Entry::OrderPicked(_) | Entry::OrderMarked(_) => self.take_order(told),
            _ => {}
        }
        self.stands_delivered();
    }

    fn label(&self) -> Option<String> {
        self.note_number
            .as_ref()
            .or(self.place.as_ref())
            .map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        let order = self.order.as_ref();
        let cancelled = order.is_some_and(|order| order.cancelled.is_some());
        match self.at {
            Some(_) if self.is_back() => "returned",
            Some(_) if cancelled => "return_asked",
            Some(_) if self.jars_returned > 0 => "partly_returned",
            Some(_) if order.is_some_and(|order| order.paid_at.is_some()) => "paid",
            Some(_) => "delivered",
            None if cancelled => "cancelled",
            None => order.map_or("not_delivered", Order::step),
        }
    }
}

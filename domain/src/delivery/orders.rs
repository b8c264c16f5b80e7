//! What comes before a delivery and after it: ordered, confirmed, picked, cancelled, paid (ST-10). An order is the
//! delivery it becomes, under the same id.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Delivery, Line};
use crate::entry::{Entry, entry};
use crate::fold::Told;
use crate::form::Form;
use crate::ids::{CustomerId, DeliveryId, EntryId};
use crate::text::{Name, Text};
use crate::units::{Count, Grams};

/// Jars that somebody wants. Which batch they come from is settled when they are picked.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Wanted {
    /// Declared content of a jar.
    pub nominal_g: Grams,
    /// How many.
    pub count: Count,
    /// What they are sold as.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub product: Option<Name>,
}

entry! {
    /// Somebody ordered goods: a draft until it is confirmed (ST-10).
    GoodsOrdered = "goods_ordered" v 1 touches(delivery_id)
    {
        /// The delivery it is to become.
        delivery_id: DeliveryId,
        /// What is wanted.
        wanted: Vec<Wanted>,
    }
    optional {
        /// Who ordered.
        customer_id: CustomerId,
        /// The day it is wanted on.
        wanted_on: NaiveDate,
        /// The number of the order.
        note_number: Name,
    }
}

entry! {
    /// The goods of an order were put together: from here on their batches are named (ST-10).
    OrderPicked = "order_picked" v 1 touches(delivery_id) wish PickOrder for delivery_id: DeliveryId
    {
        /// What was put together.
        lines: Vec<Line>,
    }
    optional {}
}

/// A step of an order that names no goods.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum OrderMark {
    /// It is agreed.
    Confirmed,
    /// It is not wanted any more.
    Cancelled,
    /// It is paid.
    Paid,
}

entry! {
    /// An order was confirmed, cancelled or paid.
    OrderMarked = "order_marked" v 1 touches(delivery_id) wish MarkOrder for delivery_id: DeliveryId
    {
        /// Which of them.
        mark: OrderMark,
    }
    optional {
        /// Why.
        reason: Text,
    }
}

/// An order that was called off.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Cancelled {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Text>,
}

/// What was ordered, and how far that is.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(default)]
pub struct Order {
    /// When it was ordered.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ordered_at: Option<DateTime<Utc>>,
    /// What is wanted.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub wanted: Vec<Wanted>,
    /// The day it is wanted on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wanted_on: Option<NaiveDate>,
    /// When it was confirmed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub confirmed_at: Option<DateTime<Utc>>,
    /// What was put together for it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub picked: Vec<Line>,
    /// It was called off.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cancelled: Option<Cancelled>,
    /// When it was paid.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub paid_at: Option<DateTime<Utc>>,
}

impl Order {
    /// How far it is, before anything left.
    pub(super) const fn step(&self) -> &'static str {
        if !self.picked.is_empty() {
            "picked"
        } else if self.confirmed_at.is_some() {
            "confirmed"
        } else if self.ordered_at.is_some() {
            "draft"
        } else {
            "not_delivered"
        }
    }
}

impl Delivery {
    /// Takes in a step of the order. Told twice, what is wanted is what was told last; two pickings add up.
    pub(super) fn take_order(&mut self, told: &Told<'_>) {
        let order = self.order.get_or_insert_with(Order::default);
        match told.entry {
            Entry::GoodsOrdered(new) => {
                order.ordered_at.get_or_insert(told.at());
                order.wanted.clone_from(&new.wanted);
                order.wanted_on = new.wanted_on.or(order.wanted_on);
                self.customer_id = self.customer_id.or(new.customer_id);
                if self.note_number.is_none() {
                    self.note_number.clone_from(&new.note_number);
                }
            }
            Entry::OrderPicked(picked) => order.picked.extend_from_slice(&picked.lines),
            Entry::OrderMarked(marked) => match marked.mark {
                OrderMark::Confirmed => {
                    order.confirmed_at.get_or_insert(told.at());
                }
                OrderMark::Paid => {
                    order.paid_at.get_or_insert(told.at());
                }
                OrderMark::Cancelled => {
                    order.cancelled.get_or_insert_with(|| Cancelled {
                        entry_id: told.id(),
                        at: told.at(),
                        reason: marked.reason.clone(),
                    });
                }
            },
            _ => {}
        }
    }
}

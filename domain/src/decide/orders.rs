//! Decisions about orders before goods leave, and what happens to them afterwards (ST-10, CF-15).

use crate::decide::jars::may_leave;
use crate::decide::{Case, Refused, refused};
use crate::delivery::{Delivery, GoodsOrdered, OrderMark, OrderMarked, OrderPicked};
use crate::ids::DeliveryId;

pub(super) fn delivery_of<'a>(case: &Case<'a>, id: DeliveryId) -> Option<&'a Delivery> {
    case.house.get(id.into()).and_then(|state| state.as_delivery())
}

pub(super) fn order(case: &Case<'_>, new: &GoodsOrdered) -> Result<(), Refused> {
    case.unheard_of(new.delivery_id)?;
    if new.wanted.is_empty() {
        return Err(refused("no_lines", "ST-10", "an order names what is wanted".to_owned()));
    }
    new.customer_id.map_or(Ok(()), |customer| case.known(customer))
}

/// An order that can still go on.
fn going_on<'a>(case: &Case<'a>, id: DeliveryId) -> Result<&'a Delivery, Refused> {
    let Some(state) = delivery_of(case, id).filter(|state| state.order.is_some()) else {
        return Err(refused(
            "not_ordered",
            "ST-10",
            "there is no such order; write it first".to_owned(),
        ));
    };
    not_cancelled(state)?;
    match state.at {
        Some(at) => {
            let detail = format!("these goods left on {}: take them back instead", at.date_naive());
            Err(refused("already_delivered", "CF-15", detail))
        }
        None => Ok(state),
    }
}

/// What was called off is ordered anew if it is wanted after all.
pub(super) fn not_cancelled(state: &Delivery) -> Result<(), Refused> {
    match state.order.as_ref().and_then(|order| order.cancelled.as_ref()) {
        Some(cancelled) => {
            let detail = format!(
                "this order was cancelled on {}: withdraw that, or write another order",
                cancelled.at.date_naive()
            );
            Err(refused("order_cancelled", "CF-15", detail))
        }
        None => Ok(()),
    }
}

pub(super) fn pick(case: &mut Case<'_>, picked: &OrderPicked) -> Result<(), Refused> {
    going_on(case, picked.delivery_id)?;
    if picked.lines.is_empty() {
        let detail = "name the batches that were put together".to_owned();
        return Err(refused("no_lines", "ST-10", detail));
    }
    may_leave(case, &picked.lines)
}

pub(super) fn mark(case: &Case<'_>, marked: &OrderMarked) -> Result<(), Refused> {
    match marked.mark {
        OrderMark::Confirmed | OrderMark::Cancelled => going_on(case, marked.delivery_id).map(|_| ()),
        OrderMark::Paid => match delivery_of(case, marked.delivery_id).and_then(|state| state.at) {
            Some(_) => Ok(()),
            None => {
                let detail = "nothing was delivered yet; a payment in advance is not kept here".to_owned();
                Err(refused("not_delivered", "ST-10", detail))
            }
        },
    }
}

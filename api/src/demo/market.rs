//! Where the jars and the bulk honey go: kept back, delivered, sold at the market, returned, counted.

use chrono::{DateTime, Utc};
use domain::batch::{JarsTakenOut, JarsWent, StockCounted};
use domain::delivery::{CustomerRegistered, Delivered, Goods, Line, Returned};
use domain::ids::{CustomerId, DeliveryId};

use super::diary::{Diary, Person, PlanRefused, at, count, day, grams, name, text};
use super::extraction::{Drawn, Filled};
use super::house::Batch;
use crate::clock;

/// Two jars of each lot kept back (SA-1), and one that fell.
pub(super) fn set_aside(diary: &mut Diary, batches: &mut [Batch]) -> Result<(), PlanRefused> {
    for (at_batch, jars, went, why) in [
        (0, 2, JarsWent::Samples, "kept back"),
        (3, 2, JarsWent::Samples, "kept back"),
        (6, 2, JarsWent::Samples, "kept back"),
        (4, 1, JarsWent::Broken, "fell from the shelf"),
    ] {
        let Some(batch) = batches.get_mut(at_batch) else {
            continue;
        };
        batch.book -= jars;
        let out = JarsTakenOut {
            batch_id: batch.id,
            jars: count(jars)?,
            went,
            reason: Some(text(why)?),
        };
        diary.tell(Person::Rook, at(day(7, 29), 17, jars), out);
    }
    Ok(())
}

/// Who buys, named by kind only.
const BUYERS: [&str; 5] = ["Shop 1", "Shop 2", "Bakery", "Restaurant", "Bulk buyer"];

/// A load of jars: month and day, buyer (none for the weekly market), batches with their jars.
type Load = ((u32, u32), Option<usize>, &'static [(usize, i64)]);

const LOADS: [Load; 10] = [
    ((8, 4), Some(0), &[(0, 48), (1, 24)]),
    ((8, 6), Some(1), &[(1, 36), (3, 36)]),
    ((8, 9), None, &[(0, 30), (1, 20), (2, 6)]),
    ((8, 12), Some(3), &[(2, 8), (7, 12)]),
    ((8, 30), None, &[(3, 24), (4, 18), (6, 20)]),
    ((9, 10), Some(0), &[(6, 48), (8, 12)]),
    ((9, 24), Some(2), &[(7, 10)]),
    ((9, 26), Some(1), &[(6, 36), (4, 24)]),
    ((10, 4), None, &[(0, 22), (6, 16)]),
    ((10, 18), Some(3), &[(7, 10)]),
];

/// All deliveries of the season, then the return and the count.
pub(super) fn deliver(
    diary: &mut Diary,
    batches: &mut [Batch],
    [first, second]: [&Drawn; 2],
) -> Result<(), PlanRefused> {
    let mut buyers = Vec::new();
    for (minute, kind) in (0..).zip(BUYERS) {
        let customer_id = CustomerId::from_uuid(clock::new_id());
        let name = name(kind)?;
        let registered = CustomerRegistered {
            customer_id,
            name,
            address: None,
            phone: None,
        };
        diary.tell(Person::Rook, at(day(7, 30), 9, minute), registered);
        buyers.push(customer_id);
    }
    let mut notes = 0;
    let mut sent = Vec::new();
    for ((month, on), buyer, load) in LOADS {
        let mut lines = Vec::new();
        for (at_batch, jars) in load {
            let Some(batch) = batches.get_mut(*at_batch) else {
                continue;
            };
            batch.book -= jars;
            lines.push(line(Goods::Jars {
                batch_id: batch.id,
                count: count(*jars)?,
            }));
        }
        let customer = buyer.and_then(|buyer| buyers.get(buyer).copied());
        sent.push(send(diary, at(day(month, on), 9, 0), (customer, &mut notes), lines)?);
    }
    let pails = second.pails.iter().take(2).chain([&first.cappings]);
    let to_bakery = bulk(pails)?;
    send(
        diary,
        at(day(8, 14), 8, 0),
        (buyers.get(2).copied(), &mut notes),
        to_bakery,
    )?;
    let buckets = first.buckets.iter().skip(2).chain(second.buckets.iter().skip(3));
    let to_trade = bulk(buckets)?;
    send(
        diary,
        at(day(8, 20), 8, 0),
        (buyers.get(4).copied(), &mut notes),
        to_trade,
    )?;
    come_back(diary, batches, sent.get(1).copied())
}

const fn line(goods: Goods) -> Line {
    Line {
        goods,
        price_hundredths: None,
    }
}

/// Whole containers, as they stand.
fn bulk<'a>(fills: impl Iterator<Item = &'a Filled>) -> Result<Vec<Line>, PlanRefused> {
    let whole = |fill: &Filled| {
        Ok(line(Goods::Bulk {
            fill_id: fill.id,
            weight_g: grams(fill.net_g)?,
        }))
    };
    fills.map(whole).collect()
}

fn send(
    diary: &mut Diary,
    when: DateTime<Utc>,
    (customer_id, notes): (Option<CustomerId>, &mut u32),
    lines: Vec<Line>,
) -> Result<DeliveryId, PlanRefused> {
    let delivery_id = DeliveryId::from_uuid(clock::new_id());
    let (note_number, place) = if customer_id.is_some() {
        *notes += 1;
        (Some(name(&format!("25/{notes:03}"))?), None)
    } else {
        (None, Some(name("weekly market")?))
    };
    let delivered = Delivered {
        delivery_id,
        lines,
        customer_id,
        note_number,
        place,
    };
    diary.tell(Person::Rook, when, delivered);
    Ok(delivery_id)
}

/// One return, and one count of a shelf that finds two jars fewer than the books say.
fn come_back(diary: &mut Diary, batches: &[Batch], from: Option<DeliveryId>) -> Result<(), PlanRefused> {
    if let (Some(delivery_id), Some(batch)) = (from, batches.get(1)) {
        let returned = Returned {
            delivery_id,
            batch_id: batch.id,
            jars: count(3)?,
            reason: Some(text("lids dented on the way")?),
        };
        diary.tell(Person::Rook, at(day(9, 12), 16, 0), returned);
    }
    if let Some(batch) = batches.first() {
        let counted = StockCounted {
            batch_id: batch.id,
            jars: count(batch.book - 2)?,
            reason: Some(text("unexplained")?),
        };
        diary.tell(Person::Rook, at(day(10, 20), 10, 0), counted);
    }
    Ok(())
}

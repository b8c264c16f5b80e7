//! Where the jars and the bulk honey go: kept back, delivered, sold at market and gate, returned.

use chrono::{DateTime, Datelike, NaiveDate, TimeDelta, Utc};
use domain::batch::{JarsTakenOut, JarsWent};
use domain::delivery::{CustomerRegistered, Delivered, Goods, Line, Returned};
use domain::ids::{CustomerId, DeliveryId};

use super::containers::Filled;
use super::diary::{Diary, Dice, Person, PlanRefused, at, count, day, grams, name, text};
use super::extraction::{Drawn, stock_sold_on};
use super::house::Batch;
use super::places::not_there;

/// Who buys, named by kind only.
const BUYERS: [&str; 5] = ["Shop 1", "Shop 2", "Bakery", "Restaurant", "Bulk buyer"];
const BAKERY: usize = 2;
const BULK_BUYER: usize = 4;

/// The buyers, and the numbers of their delivery notes.
#[derive(Debug, Default)]
pub(super) struct Market {
    pub(super) buyers: Vec<CustomerId>,
    notes: u32,
    /// The newest deliveries to shops, with a batch and its jars.
    sent: Vec<(DeliveryId, usize, i64)>,
}

impl Market {
    pub(super) fn open(diary: &mut Diary, year: i32) -> Result<Self, PlanRefused> {
        let mut market = Self::default();
        for (minute, kind) in (0..).zip(BUYERS) {
            let customer_id = CustomerId::from_uuid(diary.id());
            let registered = CustomerRegistered {
                customer_id,
                name: name(kind)?,
                address: None,
                phone: None,
            };
            diary.tell(Person::Rook, at(day(year, (3, 20)), 9, minute), registered);
            market.buyers.push(customer_id);
        }
        Ok(market)
    }

    fn note(&mut self, year: i32) -> String {
        self.notes += 1;
        format!("{:02}/{:03}", year % 100, self.notes)
    }

    /// Whole pails of every run, by turns to the bakery and the bulk buyer.
    pub(super) fn sell_pails(&mut self, diary: &mut Diary, drawn: &[Drawn]) -> Result<(), PlanRefused> {
        for (at_run, of) in drawn.iter().enumerate().filter(|(_, of)| !of.pails.is_empty()) {
            let buyer = if at_run % 2 == 0 { BULK_BUYER } else { BAKERY };
            self.sell_whole(diary, (of.run_on + TimeDelta::days(30), buyer), &of.pails)?;
        }
        for of in drawn.iter().filter(|of| !of.stock.is_empty()) {
            if let Some(on) = stock_sold_on(of.year) {
                self.sell_whole(diary, (on, BULK_BUYER), &of.stock)?;
            }
        }
        Ok(())
    }

    /// Containers as they stand.
    fn sell_whole(
        &mut self,
        diary: &mut Diary,
        (on, buyer): (NaiveDate, usize),
        fills: &[Filled],
    ) -> Result<(), PlanRefused> {
        let whole = |fill: &Filled| {
            Ok(line(Goods::Bulk {
                fill_id: fill.id,
                weight_g: grams(fill.net_g)?,
            }))
        };
        let lines: Result<Vec<Line>, PlanRefused> = fills.iter().map(whole).collect();
        let note = Some(self.note(on.year()));
        let customer = self.buyers.get(buyer).copied();
        told(diary, Person::Rook, at(on, 8, 0), (customer, note, None), lines?)?;
        Ok(())
    }

    /// Sells the jars of a year from its first batch until the next summer, the oldest first.
    pub(super) fn sell_jars(
        &mut self,
        diary: &mut Diary,
        dice: &mut Dice,
        batches: &mut [Batch],
        until: NaiveDate,
    ) -> Result<(), PlanRefused> {
        keep_back(diary, batches)?;
        let Some(first) = batches.iter().map(|batch| batch.filled_at).min() else {
            return Ok(());
        };
        let mut on = first.date_naive() + TimeDelta::days(5);
        for week in 0.. {
            if on > until {
                break;
            }
            self.week(diary, dice, (week, on), batches)?;
            on += TimeDelta::days(7);
        }
        self.come_back(diary, batches, until)
    }

    /// One load a week: the shops, the weekly market and the gate in turn, the restaurant now and then.
    fn week(
        &mut self,
        diary: &mut Diary,
        dice: &mut Dice,
        (week, on): (usize, NaiveDate),
        batches: &mut [Batch],
    ) -> Result<(), PlanRefused> {
        let (buyer, place) = match week % 6 {
            0 => (Some(0), None),
            1 | 4 => (None, Some("weekly market")),
            2 => (Some(1), None),
            3 => (None, Some("gate")),
            _ => (Some(3), None),
        };
        let mut lines = Vec::new();
        for size_g in [500, 250, 1_000] {
            let wanted = match size_g {
                500 => 12 * dice.between(2, 4),
                250 => 12 * dice.between(1, 3),
                _ => 2 * dice.between(1, 3),
            };
            let when = at(on, 9, 0);
            let sold = batches.iter_mut().enumerate().find(|(_, batch)| {
                let there = batch.filled_at + TimeDelta::days(2) < when && !batch.apart;
                batch.size_g == size_g && there && batch.book > wanted + KEPT
            });
            if let Some((at_batch, batch)) = sold {
                batch.book -= wanted;
                lines.push((at_batch, batch.id, wanted));
            }
        }
        if lines.is_empty() {
            return Ok(());
        }
        let note = buyer.map(|_| self.note(on.year()));
        let of_lines = lines
            .iter()
            .map(|(_, batch_id, jars)| {
                Ok(line(Goods::Jars {
                    batch_id: *batch_id,
                    count: count(*jars)?,
                }))
            })
            .collect::<Result<Vec<Line>, PlanRefused>>()?;
        let customer = buyer.and_then(|buyer| self.buyers.get(buyer).copied());
        let delivery = told(diary, Person::Rook, at(on, 9, 0), (customer, note, place), of_lines)?;
        if let (Some(_), Some((at_batch, _, jars))) = (buyer, lines.first()) {
            self.sent.push((delivery, *at_batch, *jars));
        }
        Ok(())
    }

    /// One return of a few jars.
    fn come_back(&mut self, diary: &mut Diary, batches: &mut [Batch], until: NaiveDate) -> Result<(), PlanRefused> {
        let sent = std::mem::take(&mut self.sent);
        let Some((delivery_id, at_batch, jars)) = sent.get(sent.len() / 2) else {
            return Ok(());
        };
        let batch = batches.get_mut(*at_batch).ok_or_else(|| not_there("a batch"))?;
        let back = (*jars).min(3);
        batch.book += back;
        let returned = Returned {
            delivery_id: *delivery_id,
            batch_id: batch.id,
            jars: count(back)?,
            reason: Some(text("lids dented on the way")?),
        };
        diary.tell(Person::Rook, at(until, 16, 0), returned);
        Ok(())
    }
}

/// Jars of a batch that the market leaves on the shelf.
const KEPT: i64 = 14;

/// Two jars of each lot kept back (SA-1), and one that fell.
fn keep_back(diary: &mut Diary, batches: &mut [Batch]) -> Result<(), PlanRefused> {
    let mut lots = std::collections::BTreeSet::new();
    for (at_batch, batch) in batches.iter_mut().enumerate() {
        let mut out = |jars: i64, went: JarsWent, why: &str| {
            batch.book -= jars;
            let out = JarsTakenOut {
                batch_id: batch.id,
                jars: count(jars)?,
                went,
                reason: Some(text(why)?),
            };
            diary.tell(Person::Rook, batch.filled_at + TimeDelta::hours(30), out);
            Ok::<_, PlanRefused>(())
        };
        if lots.insert(batch.lot_id) {
            out(2, JarsWent::Samples, "kept back")?;
        }
        if at_batch == 4 {
            out(1, JarsWent::Broken, "fell from the shelf")?;
        }
    }
    Ok(())
}

const fn line(goods: Goods) -> Line {
    Line {
        goods,
        price_hundredths: None,
    }
}

/// Tells of a delivery; without a customer it was a public sale at a place.
pub(super) fn told(
    diary: &mut Diary,
    by: Person,
    when: DateTime<Utc>,
    (customer_id, note, place): (Option<CustomerId>, Option<String>, Option<&str>),
    lines: Vec<Line>,
) -> Result<DeliveryId, PlanRefused> {
    let delivery_id = DeliveryId::from_uuid(diary.id());
    let delivered = Delivered {
        delivery_id,
        lines,
        customer_id,
        note_number: note.map(|note| name(&note)).transpose()?,
        place: place.map(name).transpose()?,
    };
    diary.tell(by, when, delivered);
    Ok(delivery_id)
}

/// Jars of one batch, as a line.
pub(super) fn jars(batch: &Batch, jars: i64) -> Result<Line, PlanRefused> {
    Ok(line(Goods::Jars {
        batch_id: batch.id,
        count: count(jars)?,
    }))
}

//! What was booked for one season, and the sums that the figures of costs are made from.

use std::collections::BTreeMap;

use super::cost::{Costs, Minutes};
use super::{float, whole};
use crate::books::{CostKind, Earned, PriceOf, Spent, Work, Worked};
use crate::house::House;

/// What was booked for one season.
pub(super) struct Kept {
    pub(super) work: Vec<Worked>,
    pub(super) costs: Vec<Spent>,
    pub(super) incomes: Vec<Earned>,
    prices: BTreeMap<PriceOf, i64>,
}

impl Kept {
    pub(super) fn of(house: &House, year: i32) -> Self {
        let mut kept = Self {
            work: Vec::new(),
            costs: Vec::new(),
            incomes: Vec::new(),
            prices: BTreeMap::new(),
        };
        for (_, books) in house.all_books() {
            kept.work.extend(books.work.iter().filter(|sum| sum.season == year));
            kept.costs.extend(books.costs.iter().filter(|sum| sum.season == year));
            kept.incomes
                .extend(books.incomes.iter().filter(|sum| sum.season == year));
            let prices = books.prices.iter().filter(|price| price.season == year);
            kept.prices
                .extend(prices.map(|price| (price.price, price.amount_hundredths)));
        }
        kept
    }

    /// What a kilogram brings, in hundredths: the average that the owner set, else the one price there is.
    pub(super) fn price(&self) -> Option<i64> {
        let jars = self.prices.get(&PriceOf::HoneyInJars).copied();
        let bulk = self.prices.get(&PriceOf::HoneyInBulk).copied();
        self.prices.get(&PriceOf::Honey).copied().or(match (jars, bulk) {
            (Some(one), None) | (None, Some(one)) => Some(one),
            _ => None,
        })
    }

    pub(super) fn hour(&self, of: PriceOf) -> Option<i64> {
        self.prices.get(&of).copied()
    }

    pub(super) fn minutes(&self, counts: impl Fn(&Worked) -> bool) -> i64 {
        self.work.iter().filter(|sum| counts(sum)).map(|sum| sum.minutes).sum()
    }

    pub(super) fn spent(&self, counts: impl Fn(&Spent) -> bool) -> i64 {
        self.costs
            .iter()
            .filter(|sum| counts(sum))
            .map(|sum| sum.amount_hundredths)
            .sum()
    }

    /// The owner's own hours in money; wages are among the costs already.
    pub(super) fn own_work(&self, counts: impl Fn(&Worked) -> bool) -> i64 {
        let minutes = self.minutes(|sum| !sum.paid && counts(sum));
        let rate = self.hour(PriceOf::OwnHour).unwrap_or_default();
        whole(float(minutes) * float(rate) / 60.0).unwrap_or_default()
    }

    /// What grows with the honey, in hundredths.
    pub(super) fn variable(&self) -> i64 {
        self.spent(|sum| sum.cost.grows_with_honey()) + self.own_work(|sum| sum.work.grows_with_honey())
    }

    pub(super) fn is_empty(&self) -> bool {
        self.work.is_empty() && self.costs.is_empty()
    }

    pub(super) fn costs(&self, saleable_g: i64) -> Costs {
        let of = |work: Work| self.minutes(|sum| sum.work == work);
        Costs {
            cash_hundredths: self.spent(|sum| sum.cost.is_cash()),
            depreciation_hundredths: self.spent(|sum| sum.cost == CostKind::Depreciation),
            other_income_hundredths: self.incomes.iter().map(|sum| sum.amount_hundredths).sum(),
            minutes: Minutes {
                field: of(Work::Field),
                travel: of(Work::Travel),
                house: of(Work::House),
                bottling: of(Work::Bottling),
                selling: of(Work::Selling),
                office: of(Work::Office),
            },
            paid_minutes: self.minutes(|sum| sum.paid),
            own_rate_hundredths: self.hour(PriceOf::OwnHour).unwrap_or_default(),
            saleable_g,
        }
    }
}

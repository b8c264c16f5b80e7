//! Work, costs, income and prices: what a season's money and hours are reckoned from (EC-1 to EC-3).
//!
//! Kept as sums by year, so that the state stays small however often something is booked; the single bookings are
//! entries and are corrected as such. Not here: what a kilogram cost, which is in `season`, and tax.

use chrono::{Datelike, NaiveDate};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::state;
use crate::entry::{Entry, entry};
use crate::fold::{Aggregate, Memo, Told};
use crate::form::Form;
use crate::ids::{BooksId, EntryId, YardId};
use crate::subject::SubjectKind;
use crate::text::Text;
use crate::units::{Minutes, Money, Year};

/// Kinds of work (EC-3).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Work {
    /// In the yards.
    Field,
    /// On the road.
    Travel,
    /// In the honey house.
    House,
    /// Filling and labelling jars.
    Bottling,
    /// At the market, in shops.
    Selling,
    /// At the desk.
    Office,
}

/// Kinds of cost. The list follows the headings of provincial guides to the cost of honey production (EC-1).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CostKind {
    /// Sugar, syrup, pollen substitute.
    Feed,
    /// Medicines and tests.
    Medicine,
    /// Bees and queens that were bought.
    Bees,
    /// Fuel and the vehicle.
    Fuel,
    /// Rent of yards and rooms.
    YardRent,
    /// Paid help.
    Wages,
    /// Power and water.
    PowerAndWater,
    /// Jars, lids, labels, pails that leave.
    JarsAndLabels,
    /// Stalls, postage, fees, advertising.
    Selling,
    /// Frames, wax sheets, paint, small tools.
    Supplies,
    /// Repairs and upkeep.
    Repairs,
    /// Insurance.
    Insurance,
    /// Interest.
    Interest,
    /// Anything else that was paid.
    Other,
    /// What hives and machines lost in worth: no money was paid.
    Depreciation,
}

impl CostKind {
    /// Whether money was paid (EC-1).
    #[must_use]
    pub const fn is_cash(self) -> bool {
        !matches!(self, Self::Depreciation)
    }

    /// Whether it grows with the honey and not with the colonies (EC-2); a design choice.
    #[must_use]
    pub const fn grows_with_honey(self) -> bool {
        matches!(self, Self::JarsAndLabels | Self::Selling)
    }
}

impl Work {
    /// Whether it grows with the honey and not with the colonies (EC-2); a design choice.
    #[must_use]
    pub const fn grows_with_honey(self) -> bool {
        matches!(self, Self::Bottling | Self::Selling)
    }
}

/// Income that honey does not bring.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum IncomeKind {
    /// Wax.
    Wax,
    /// Hives lent to growers.
    Pollination,
    /// Colonies and queens that were sold.
    Bees,
    /// Anything else.
    Other,
}

/// What a price is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PriceOf {
    /// A kilogram of honey, on the average of all ways it is sold.
    Honey,
    /// A kilogram of honey in jars.
    HoneyInJars,
    /// A kilogram of honey in bulk.
    HoneyInBulk,
    /// An hour of the owner's own work.
    OwnHour,
    /// An hour of drying: power, and what else it takes.
    DryingHour,
}

entry! {
    /// Somebody wrote down time that was worked (EC-3).
    WorkBooked = "work_booked" v 1 touches(books_id)
    {
        /// The books: as a rule those under the operation's own id.
        books_id: BooksId,
        /// The day.
        on: NaiveDate,
        /// What kind of work.
        work: Work,
        /// How long, in minutes, all who worked together.
        minutes: Minutes,
    }
    optional {
        /// The yard it was for.
        yard_id: YardId,
        /// It was paid as wages, which are a cost besides.
        paid: bool,
        /// The season it is for, if that is not the year of the day.
        season: Year,
        /// Words.
        text: Text,
    }
}

entry! {
    /// A cost was booked (EC-1).
    CostBooked = "cost_booked" v 1 touches(books_id)
    {
        /// The books: as a rule those under the operation's own id.
        books_id: BooksId,
        /// The day.
        on: NaiveDate,
        /// What kind of cost.
        cost: CostKind,
        /// How much, in hundredths of money.
        amount_hundredths: Money,
    }
    optional {
        /// The yard that it would not have been paid without.
        yard_id: YardId,
        /// The season it is for, if that is not the year of the day.
        season: Year,
        /// Words.
        text: Text,
    }
}

entry! {
    /// Income other than from honey was booked (EC-1).
    IncomeBooked = "income_booked" v 1 touches(books_id)
    {
        /// The books: as a rule those under the operation's own id.
        books_id: BooksId,
        /// The day.
        on: NaiveDate,
        /// What brought it.
        income: IncomeKind,
        /// How much, in hundredths of money.
        amount_hundredths: Money,
    }
    optional {
        /// The season it is for, if that is not the year of the day.
        season: Year,
        /// Words.
        text: Text,
    }
}

entry! {
    /// The owner set a price of a season; the later one counts (EC-2).
    PriceSet = "price_set" v 1 touches(books_id)
    {
        /// The books: as a rule those under the operation's own id.
        books_id: BooksId,
        /// The season.
        season: Year,
        /// What it is for.
        price: PriceOf,
        /// How much a kilogram or an hour, in hundredths of money.
        amount_hundredths: Money,
    }
    optional {
        /// Words.
        text: Text,
    }
}

/// Time of one kind in one season.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Worked {
    /// The season.
    pub season: i32,
    /// What kind of work.
    pub work: Work,
    /// The yard it was for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub yard_id: Option<YardId>,
    /// It was paid as wages.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub paid: bool,
    /// All of it, in minutes.
    pub minutes: i64,
}

/// Costs of one kind in one season.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Spent {
    /// The season.
    pub season: i32,
    /// What kind of cost.
    pub cost: CostKind,
    /// The yard that they would not have been paid without.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub yard_id: Option<YardId>,
    /// All of them, in hundredths.
    pub amount_hundredths: i64,
}

/// Income of one kind in one season.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Earned {
    /// The season.
    pub season: i32,
    /// What brought it.
    pub income: IncomeKind,
    /// All of it, in hundredths.
    pub amount_hundredths: i64,
}

/// A price of one season.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Price {
    /// The entry.
    pub entry_id: EntryId,
    /// The season.
    pub season: i32,
    /// What it is for.
    pub price: PriceOf,
    /// How much, in hundredths.
    pub amount_hundredths: i64,
}

state! {
    /// What the business worked, paid and earned, by season.
    Books {
        /// Time worked.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        work: Vec<Worked>,
        /// Costs.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        costs: Vec<Spent>,
        /// Income that honey does not bring.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        incomes: Vec<Earned>,
        /// Prices.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        prices: Vec<Price>,
    }
}

fn season_of(told: Option<Year>, on: NaiveDate) -> i32 {
    told.and_then(|year| i32::try_from(year.get()).ok())
        .unwrap_or_else(|| on.year())
}

impl Books {
    fn worked(&mut self, told: &WorkBooked) {
        let season = season_of(told.season, told.on);
        let (work, yard_id, paid) = (told.work, told.yard_id, told.paid.unwrap_or(false));
        let same = |sum: &&mut Worked| (sum.season, sum.work, sum.yard_id, sum.paid) == (season, work, yard_id, paid);
        match self.work.iter_mut().find(same) {
            Some(sum) => sum.minutes = sum.minutes.saturating_add(told.minutes.get()),
            None => self.work.push(Worked {
                season,
                work,
                yard_id,
                paid,
                minutes: told.minutes.get(),
            }),
        }
    }

    fn spent(&mut self, told: &CostBooked) {
        let season = season_of(told.season, told.on);
        let (cost, yard_id) = (told.cost, told.yard_id);
        let same = |sum: &&mut Spent| (sum.season, sum.cost, sum.yard_id) == (season, cost, yard_id);
        match self.costs.iter_mut().find(same) {
            Some(sum) => sum.amount_hundredths = sum.amount_hundredths.saturating_add(told.amount_hundredths.get()),
            None => self.costs.push(Spent {
                season,
                cost,
                yard_id,
                amount_hundredths: told.amount_hundredths.get(),
            }),
        }
    }

    fn earned(&mut self, told: &IncomeBooked) {
        let season = season_of(told.season, told.on);
        let same = |sum: &&mut Earned| (sum.season, sum.income) == (season, told.income);
        match self.incomes.iter_mut().find(same) {
            Some(sum) => sum.amount_hundredths = sum.amount_hundredths.saturating_add(told.amount_hundredths.get()),
            None => self.incomes.push(Earned {
                season,
                income: told.income,
                amount_hundredths: told.amount_hundredths.get(),
            }),
        }
    }
}

impl Aggregate for Books {
    const KIND: SubjectKind = SubjectKind::Books;

    fn apply(&mut self, told: &Told<'_>, _: &mut Memo) {
        match told.entry {
            Entry::WorkBooked(work) => self.worked(work),
            Entry::CostBooked(cost) => self.spent(cost),
            Entry::IncomeBooked(income) => self.earned(income),
            Entry::PriceSet(set) => {
                let (season, price) = (i32::try_from(set.season.get()).unwrap_or_default(), set.price);
                self.prices
                    .retain(|earlier| (earlier.season, earlier.price) != (season, price));
                self.prices.push(Price {
                    entry_id: told.id(),
                    season,
                    price,
                    amount_hundredths: set.amount_hundredths.get(),
                });
            }
            _ => {}
        }
    }

    fn label(&self) -> Option<String> {
        None
    }

    fn status(&self) -> &'static str {
        "in_use"
    }
}

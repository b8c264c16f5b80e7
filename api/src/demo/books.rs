//! What the owner books: hours, costs, prices, and the plan for the next season.
//!
//! A colony costs 95 u of money and 9.5 hours a year, a kilogram of honey 0.55 u and 0.09 hours; the bookings of a year
//! add up to that, to the hundredth and to the minute.

use domain::books::{CostBooked, CostKind, PriceOf, PriceSet, Work, WorkBooked};
use domain::ids::{BooksId, OperationId};
use domain::left::HoneyLeft;
use domain::settings::{PlannedJars, SeasonPlanned};
use domain::units::{Minutes, Money, Percent, Year};

use super::diary::{Diary, Person, PlanRefused, at, count, day, grams};
use super::figures::YIELDS_KG;
use super::places::{Places, not_there};

/// Costs of a year for each colony, hundredths; together 95 u.
const OF_COLONIES: [(CostKind, (u32, u32), i64); 7] = [
    (CostKind::Feed, (9, 18), 3_400),
    (CostKind::Medicine, (3, 9), 600),
    (CostKind::Bees, (5, 30), 900),
    (CostKind::Fuel, (10, 31), 2_100),
    (CostKind::Supplies, (2, 20), 1_300),
    (CostKind::Repairs, (11, 15), 700),
    (CostKind::Insurance, (1, 15), 500),
];
/// Costs of a year for each kilogram, hundredths; together 0.55 u.
const OF_HONEY: [(CostKind, (u32, u32), i64); 2] = [
    (CostKind::JarsAndLabels, (6, 10), 42),
    (CostKind::Selling, (11, 30), 13),
];
/// Minutes of a year for each colony, by month; together 570.
const OF_COLONIES_MIN: [(Work, u32, i64); 9] = [
    (Work::Field, 4, 60),
    (Work::Field, 5, 110),
    (Work::Field, 6, 95),
    (Work::Field, 7, 85),
    (Work::Field, 8, 50),
    (Work::Field, 9, 60),
    (Work::Travel, 7, 50),
    (Work::House, 8, 40),
    (Work::Office, 11, 20),
];
/// Minutes of a year for each kilogram, tenths; together 5.4.
const OF_HONEY_MIN: [(Work, u32, i64); 2] = [(Work::Bottling, 10, 30), (Work::Selling, 12, 24)];
/// No booking is longer than a day of several people.
const MOST_MIN: i64 = 9_000;

/// Tells the bookings of a year, for so many parts of the business.
pub(super) fn year(
    diary: &mut Diary,
    operation: OperationId,
    (year, parity, parts): (i32, usize, i64),
) -> Result<(), PlanRefused> {
    let books_id = BooksId::from_uuid(operation.uuid());
    let kg: i64 = parts * YIELDS_KG.iter().filter_map(|kg| kg.get(parity)).sum::<i64>();
    let colonies = 60 * parts;
    let costs = OF_COLONIES
        .iter()
        .map(|(cost, date, each)| (*cost, *date, each * colonies));
    let costs = costs.chain(OF_HONEY.iter().map(|(cost, date, each)| (*cost, *date, each * kg)));
    for (cost, date, amount) in costs {
        let on = day(year, date);
        let booked = CostBooked {
            books_id,
            on,
            cost,
            amount_hundredths: Money::new(amount)?,
            yard_id: None,
            season: None,
            text: None,
        };
        diary.tell(Person::Maren, at(on, 20, 0), booked);
    }
    let work = OF_COLONIES_MIN
        .iter()
        .map(|(work, month, each)| (*work, *month, each * colonies));
    // Half a minute more or less is nobody's.
    let work = work.chain(
        OF_HONEY_MIN
            .iter()
            .map(|(work, month, each)| (*work, *month, (each * kg + 5) / 10)),
    );
    for (work, month, minutes) in work {
        let on = day(year, (month, 28));
        let mut left = minutes;
        while left > 0 {
            let now = left.min(MOST_MIN);
            left -= now;
            let booked = WorkBooked {
                books_id,
                on,
                work,
                minutes: Minutes::new(now)?,
                yard_id: None,
                paid: None,
                season: None,
                text: None,
            };
            diary.tell(Person::Maren, at(on, 20, 10), booked);
        }
    }
    for (price, amount) in [
        (PriceOf::OwnHour, 1_400),
        (PriceOf::Honey, 1_400),
        (PriceOf::HoneyInBulk, 800),
        (PriceOf::DryingHour, 60),
    ] {
        let set = PriceSet {
            books_id,
            season: Year::new(i64::from(year))?,
            price,
            amount_hundredths: Money::new(amount)?,
            text: None,
        };
        diary.tell(Person::Maren, at(day(year, (2, 10)), 20, 0), set);
    }
    Ok(())
}

/// What the owner means to do in the season after the last.
pub(super) fn plan(diary: &mut Diary, operation_id: OperationId, (year, parts): (i32, i64)) -> Result<(), PlanRefused> {
    let jars = [(500, 60), (250, 28), (1_000, 12)];
    let jars: Result<Vec<PlannedJars>, PlanRefused> = jars
        .into_iter()
        .map(|(size, share)| {
            Ok(PlannedJars {
                size_g: grams(size)?,
                share_percent: Percent::new(share)?,
            })
        })
        .collect();
    let planned = SeasonPlanned {
        operation_id,
        season: Year::new(i64::from(year))?,
        colonies: count(60 * parts)?,
        jars: Some(jars?),
    };
    diary.tell(Person::Maren, at(day(year - 1, (12, 20)), 20, 0), planned);
    Ok(())
}

/// Honey that was left on two hives for the winter.
pub(super) fn left_on_hives(diary: &mut Diary, places: &Places, year: i32) -> Result<(), PlanRefused> {
    for (home, number) in [(super::figures::TSD, 2), (super::figures::WEN, 8)] {
        let hive = places
            .hives
            .iter()
            .find(|hive| (hive.of.home, hive.of.number) == (home, number));
        let hive_id = hive.ok_or_else(|| not_there("a hive"))?.id;
        let on = day(year, (9, 15));
        let left = HoneyLeft {
            hive_id,
            on,
            honey_g: grams(6_000)?,
            weighed: None,
            text: None,
        };
        diary.tell(Person::Tobiah, at(on, 12, i64::try_from(number).unwrap_or(0)), left);
    }
    Ok(())
}

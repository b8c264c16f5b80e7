//! What a kilogram cost, what price pays for it, and how many kilograms a colony has to give (EC-1 to EC-4).
//!
//! Money in hundredths of whatever money the owner uses, time in minutes. The lay-out follows a provincial guide to the
//! costs of honey production (Manitoba Agriculture, from its published headings). Not here: tax.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{float, whole};

/// Minutes by kind of work (EC-3).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(default)]
pub struct Minutes {
    /// In the yards.
    pub field: i64,
    /// On the road.
    pub travel: i64,
    /// In the honey house.
    pub house: i64,
    /// Filling and labelling jars.
    pub bottling: i64,
    /// At the market, in shops.
    pub selling: i64,
    /// At the desk.
    pub office: i64,
}

impl Minutes {
    /// All of them.
    #[must_use]
    pub const fn total(&self) -> i64 {
        self.field + self.travel + self.house + self.bottling + self.selling + self.office
    }
}

/// What a season cost.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Costs {
    /// Money that was paid, in hundredths.
    pub cash_hundredths: i64,
    /// What hives and machines lost in worth, in hundredths.
    pub depreciation_hundredths: i64,
    /// Wax and other income that honey does not bring, in hundredths.
    pub other_income_hundredths: i64,
    /// Time.
    pub minutes: Minutes,
    /// Of that time, what was paid as wages, which are in the cash already.
    #[serde(default)]
    pub paid_minutes: i64,
    /// What the owner's hour is worth to the owner, in hundredths.
    pub own_rate_hundredths: i64,
    /// Honey that can be sold.
    pub saleable_g: i64,
}

/// What a kilogram cost.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PerKilogram {
    /// Money paid, less other income, in thousandths.
    pub cash_thousandths: i64,
    /// With worth lost and the owner's hours, in thousandths; the price that pays for it (EC-2).
    pub full_thousandths: i64,
    /// Minutes of work, in tenths.
    pub minutes_tenths: i64,
}

/// What a kilogram cost (EC-1); nothing without honey.
#[must_use]
pub fn per_kilogram(costs: &Costs) -> Option<PerKilogram> {
    if costs.saleable_g <= 0 {
        return None;
    }
    let kg = float(costs.saleable_g) / 1000.0;
    let cash = float(costs.cash_hundredths - costs.other_income_hundredths);
    let hours = float(costs.minutes.total() - costs.paid_minutes) / 60.0;
    let full = cash + float(costs.depreciation_hundredths) + hours * float(costs.own_rate_hundredths);
    Some(PerKilogram {
        cash_thousandths: whole(cash * 10.0 / kg)?,
        full_thousandths: whole(full * 10.0 / kg)?,
        minutes_tenths: whole(float(costs.minutes.total()) * 10.0 / kg)?,
    })
}

/// The kilograms a colony has to give before it pays, in grams: what a colony costs over what a kilogram leaves
/// (EC-2). Nothing where a kilogram costs as much as it brings.
#[must_use]
pub fn break_even_yield_g(per_colony_hundredths: i64, price_hundredths: i64, variable_hundredths: i64) -> Option<i64> {
    let leaves = price_hundredths - variable_hundredths;
    if leaves <= 0 || per_colony_hundredths < 0 {
        return None;
    }
    whole(float(per_colony_hundredths) * 1000.0 / float(leaves))
}

/// What others' honey cost, as context and never as a yardstick (EC-4).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Benchmark {
    /// Money a pound, in hundredths.
    pub mean_hundredths_per_lb: i64,
    /// Its spread.
    pub deviation_hundredths_per_lb: i64,
    /// Beekeepers asked.
    pub n: i64,
    /// The year.
    pub year: i32,
    /// In which money.
    pub money: &'static str,
    /// Who asked.
    pub source: &'static str,
}

/// Eight beekeepers of one province in one year; its authors warn of the spread themselves.
pub const SASKATCHEWAN_2015: Benchmark = Benchmark {
    mean_hundredths_per_lb: 148,
    deviation_hundredths_per_lb: 32,
    n: 8,
    year: 2015,
    money: "CAD",
    source: "Saskatchewan study of the cost of honey production, 2015",
};

#[cfg(test)]
mod tests {
    use super::*;

    /// EC-1, EC-3, V19: cash and full costs of two seasons of the demonstration business (arithmetic: 95.00 a colony and
    /// 0.55 a kilogram; 9.5 hours a colony and 0.09 a kilogram at 14.00).
    fn demo(colonies: i64, grams: i64) -> Costs {
        let minutes = colonies * 570 + grams * 54 / 10_000;
        Costs {
            cash_hundredths: colonies * 9_500 + grams * 55 / 1000,
            depreciation_hundredths: 0,
            other_income_hundredths: 0,
            minutes: Minutes {
                field: minutes / 2,
                house: minutes - minutes / 2,
                ..Minutes::default()
            },
            paid_minutes: 0,
            own_rate_hundredths: 1_400,
            saleable_g: grams,
        }
    }

    #[test]
    fn costs_are_shown_in_cash_and_in_full() {
        let first = per_kilogram(&demo(60, 1_359_000)).unwrap();
        assert!((first.cash_thousandths - 4_744).abs() <= 1, "{first:?}");
        assert!((first.full_thousandths - 11_876).abs() <= 2, "{first:?}");
        let with_wax = Costs {
            other_income_hundredths: 13_590,
            depreciation_hundredths: 27_180,
            ..demo(60, 1_359_000)
        };
        let second = per_kilogram(&with_wax).unwrap();
        assert_eq!(first.cash_thousandths - second.cash_thousandths, 100);
        assert_eq!(second.full_thousandths - first.full_thousandths, 100);
        assert_eq!(
            per_kilogram(&Costs {
                saleable_g: 0,
                ..with_wax
            }),
            None
        );
    }

    /// EC-2, V20: 228 a colony and 1.81 a kilogram at a price of 14 and of 12 (arithmetic).
    #[test]
    fn a_colony_pays_from_its_break_even_yield_on() {
        assert_eq!(break_even_yield_g(22_800, 1_400, 181), Some(18_704));
        assert_eq!(break_even_yield_g(22_800, 1_200, 181), Some(22_375));
        assert_eq!(break_even_yield_g(22_800, 181, 181), None);
    }

    /// EC-4: the study names its eight beekeepers.
    #[test]
    fn a_benchmark_says_of_how_many_it_is() {
        assert_eq!(SASKATCHEWAN_2015.n, 8);
        assert_eq!(SASKATCHEWAN_2015.year, 2015);
    }
}

//! One's own kilograms per harvested colony beside those of the state: context, and never a rank or a yardstick.
//!
//! The table is that of the yearly Honey reports of the National Agricultural Statistics Service, United States
//! Department of Agriculture, 1991 to 2021, by state: pounds of honey per honey-producing colony of operations with
//! five and more colonies. A state of which the report gives no year is not in it.

use std::collections::BTreeMap;

use super::answer::{Answer, Row};
use super::curve::quartiles;
use super::figure::Figure;
use super::gathered::Gathered;
use super::yards::counted;
use super::{float, whole};
use crate::house::House;

/// State, year, pounds.
const UNITED_STATES: &str = include_str!("context/united_states.csv");
/// Where it is from.
const SOURCE: &str = "USDA, National Agricultural Statistics Service: Honey, yearly reports, 1991-2021";
/// Kilograms in a pound, exact.
const KG_IN_A_POUND: f64 = 0.453_592_37;

/// What a harvested colony gave in each year, in grams, by year, for one state.
fn years_of(state: &str) -> BTreeMap<i32, i64> {
    let lines = UNITED_STATES.lines().skip(1).filter_map(|line| {
        let mut parts = line.split(',');
        let (of, year, pounds) = (parts.next()?, parts.next()?, parts.next()?);
        of.eq_ignore_ascii_case(state.trim()).then_some(())?;
        Some((year.parse().ok()?, grams(pounds.parse().ok()?)?))
    });
    lines.collect()
}

/// What a harvested colony gave in one year, in grams, in every state: to hold the table against its reference.
#[cfg(test)]
fn states_in(year: i32) -> BTreeMap<&'static str, i64> {
    let lines = UNITED_STATES.lines().skip(1).filter_map(|line| {
        let mut parts = line.split(',');
        let (of, when, pounds) = (parts.next()?, parts.next()?, parts.next()?);
        (when.parse() == Ok(year)).then_some(())?;
        Some((of, grams(pounds.parse().ok()?)?))
    });
    lines.collect()
}

fn grams(pounds: i64) -> Option<i64> {
    whole(float(pounds) * KG_IN_A_POUND * 1000.0)
}

/// Whole kilograms, half up, as grams: public figures are not known better.
fn whole_kg(grams: i64) -> i64 {
    (grams + 500).div_euclid(1000) * 1000
}

/// The answer to "how do I compare".
#[must_use]
pub fn context(house: &House, year: i32) -> Answer {
    let gathered = Gathered::of(house, year);
    let period = gathered.period();
    let mut answer = Answer::new("context", period.clone());
    let mut own = Vec::new();
    for yard in gathered.yards().into_iter().filter(|yard| gathered.knows(*yard)) {
        let producing = gathered.producing(gathered.shares_of(yard));
        let y2 = Figure::of(&period).per(gathered.yard_g(yard), producing);
        own.push(
            Row::of(house, yard)
                .with("producing_colonies", counted(&period, producing))
                .with("y2_g", y2),
        );
    }
    let producing = gathered.producing(gathered.shares());
    let all = Row::new(period.clone())
        .with("producing_colonies", counted(&period, producing))
        .with("y2_g", Figure::of(&period).per(gathered.total_g(), producing));
    answer.table("own", own);
    answer.table("season", vec![all]);
    public(house, &mut answer);
    answer
}

fn public(house: &House, answer: &mut Answer) {
    let settings = house.settings();
    let Some(region) = settings.region else {
        answer
            .words
            .push("No state is chosen, so there is nothing to put beside these figures.".to_owned());
        return;
    };
    let country = region.country.to_string();
    let Some(state) = region.region.map(|state| state.to_string()) else {
        answer.words.push(format!(
            "Of {country} as a whole there is nothing to put beside these figures."
        ));
        return;
    };
    let years = if country.eq_ignore_ascii_case("US") {
        years_of(&state)
    } else {
        BTreeMap::new()
    };
    let values: Vec<i64> = years.values().copied().collect();
    let (Some([low, middle, high]), Some((first, _)), Some((last, _))) =
        (quartiles(&values), years.first_key_value(), years.last_key_value())
    else {
        answer
            .words
            .push(format!("There are no public figures of {state} here."));
        return;
    };
    let period = format!("{first}-{last}");
    let mut band = Figure::plain(&period, whole_kg(middle), values.len());
    (band.low, band.high) = (Some(whole_kg(low)), Some(whole_kg(high)));
    band.level_percent = Some(50);
    answer.table("public", vec![Row::new(&*state).with("per_harvested_colony_g", band)]);
    let year_row = |(year, grams): (&i32, &i64)| {
        let mut row = Row::new(&*state);
        row.season = Some(*year);
        row.with(
            "per_harvested_colony_g",
            Figure::plain(&year.to_string(), whole_kg(*grams), 1),
        )
    };
    answer.table("public_years", years.iter().map(year_row).collect());
    let kg = |grams: i64| whole_kg(grams) / 1000;
    answer.words.push(format!(
        "{state} {period}: half of the years {}-{} kg per harvested colony, operations of five and more. {SOURCE}.",
        kg(low),
        kg(high)
    ));
    answer.words.push(
        "It stands beside kilograms per producing colony only: those per colony at the start of the flow are another \
         figure."
            .to_owned(),
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tenths(grams: [i64; 3]) -> [i64; 3] {
        grams.map(|g| (g + 50) / 100)
    }

    /// V23: NumPy `percentile` over the table.
    #[test]
    fn quartiles_of_the_table_are_those_of_the_reference() {
        let of_2021: Vec<i64> = states_in(2021).into_values().collect();
        assert_eq!(of_2021.len(), 40);
        assert_eq!(quartiles(&of_2021).map(tenths), Some([171, 204, 249]));
        let montana: Vec<i64> = years_of("Montana").into_values().collect();
        assert_eq!(montana.len(), 31);
        assert_eq!(quartiles(&montana).map(tenths), Some([318, 363, 417]));
    }

    #[test]
    fn sums_of_states_are_not_in_the_table() {
        for sum in ["United States", "Other States", "OTHER STATES 5/"] {
            assert!(years_of(sum).is_empty(), "{sum}");
        }
        assert!(years_of(" montana ").contains_key(&1991));
    }
}

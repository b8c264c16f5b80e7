//! When the honey came in: the day by which a tenth, half and nine tenths of it were spun.

use chrono::NaiveDate;

/// The day by which so many per cent of the honey were in; nothing without honey.
#[must_use]
pub fn day_by(percent: i64, runs: &[(NaiveDate, i64)]) -> Option<NaiveDate> {
    let mut runs = runs.to_vec();
    runs.sort_unstable();
    let total: i64 = runs.iter().map(|(_, grams)| grams).sum();
    if total <= 0 {
        return None;
    }
    let mut so_far = 0_i128;
    runs.into_iter().find_map(|(day, grams)| {
        so_far += i128::from(grams);
        (so_far * 100 >= i128::from(total) * i128::from(percent)).then_some(day)
    })
}

/// Quartiles of states or years, beside which one's own dots are put and never ranked: linear between neighbours.
#[must_use]
pub fn quartiles(values: &[i64]) -> Option<[i64; 3]> {
    let mut sorted = values.to_vec();
    sorted.sort_unstable();
    let last = sorted.len().checked_sub(1)?;
    let at = |quarter: usize| {
        // In quarters of a step between neighbours.
        let place = last * quarter;
        let (below, rest) = (place / 4, place % 4);
        let low = super::float(*sorted.get(below)?);
        let high = super::float(*sorted.get((below + 1).min(last))?);
        super::whole(low + (high - low) * f64::from(u32::try_from(rest).ok()?) / 4.0)
    };
    Some([at(1)?, at(2)?, at(3)?])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(month: u32, day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2024, month, day).unwrap()
    }

    /// V21: NumPy `cumsum` over the five runs of the first season of the demonstration business.
    #[test]
    fn a_season_comes_in_by_days() {
        let runs = [
            (on(9, 12), 180_000),
            (on(5, 30), 255_000),
            (on(7, 9), 207_000),
            (on(7, 22), 408_000),
            (on(7, 30), 309_000),
        ];
        assert_eq!(day_by(10, &runs), Some(on(5, 30)));
        assert_eq!(day_by(50, &runs), Some(on(7, 22)));
        assert_eq!(day_by(90, &runs), Some(on(9, 12)));
        assert_eq!(day_by(100, &runs), Some(on(9, 12)));
        assert_eq!(day_by(50, &[]), None);
        assert_eq!(day_by(50, &[(on(5, 1), 0)]), None);
    }

    /// As NumPy `percentile` with its usual, linear method.
    #[test]
    fn quartiles_lie_between_neighbours() {
        assert_eq!(quartiles(&[1, 2, 3, 4, 5]), Some([2, 3, 4]));
        assert_eq!(quartiles(&[100, 200, 300, 400]), Some([175, 250, 325]));
        assert_eq!(quartiles(&[7]), Some([7, 7, 7]));
        assert_eq!(quartiles(&[]), None);
    }
}

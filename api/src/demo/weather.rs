//! Weather and flow: what a strong colony gains on a day in each yard. It gives the scale hive its trace.
//!
//! Gain of a day: the flows, each a bell over the days, times how good the weather was, less what the colony eats.

use chrono::{Datelike, NaiveDate};

use super::diary::{Dice, day};

/// Mean of the highest temperature, degrees Celsius, and wet days, May to September of an even and an odd year.
const MONTHS: [[(f64, f64); 5]; 2] = [
    [(15.0, 14.0), (18.0, 12.0), (21.0, 9.0), (21.0, 10.0), (17.0, 11.0)],
    [(18.0, 7.0), (21.0, 8.0), (24.0, 7.0), (23.0, 8.0), (18.0, 9.0)],
];
/// What a colony eats, kilograms a day.
const UPKEEP_KG: f64 = 0.25;

/// A flow: its peak, its spread in days, and what it gives there a day in each of the yards, kilograms.
struct Flow {
    peak: (u32, u32),
    sigma: f64,
    kg: [f64; 4],
    /// Only in an odd year.
    odd: bool,
}

const FLOWS: [Flow; 7] = [
    flow((4, 28), 7.0, [0.35; 4]),
    flow((5, 16), 8.0, [0.2, 1.9, 0.5, 0.1]),
    flow((6, 30), 9.0, [1.2, 1.1, 1.5, 0.9]),
    flow((7, 12), 5.0, [0.7, 0.4, 1.3, 0.9]),
    flow((8, 22), 9.0, [0.8, 0.0, 0.0, 0.0]),
    Flow {
        odd: true,
        ..flow((8, 19), 8.0, [0.0, 0.0, 0.0, 1.6])
    },
    Flow {
        odd: true,
        ..flow((7, 20), 7.0, [0.0, 0.0, 0.0, 1.2])
    },
];

const fn flow(peak: (u32, u32), sigma: f64, kg: [f64; 4]) -> Flow {
    Flow {
        peak,
        sigma,
        kg,
        odd: false,
    }
}

/// Kilograms that a strong colony of a yard gains on each day from 15 April to 15 September.
pub(super) fn gains(dice: &mut Dice, year: i32, yard: usize) -> Vec<(NaiveDate, f64)> {
    let parity = usize::from(year % 2 != 0);
    let until = day(year, (9, 15));
    let days = day(year, (4, 15)).iter_days().take_while(|on| *on <= until);
    days.map(|on| {
        let month = usize::try_from(on.month().saturating_sub(5)).unwrap_or(0);
        let (warm, wet_days) = MONTHS
            .get(parity)
            .and_then(|of| of.get(month))
            .copied()
            .unwrap_or((13.0, 12.0));
        let highest = 3.0_f64.mul_add(dice.normal(), warm);
        // A wet day is wet for a third to all of it.
        let wet = if dice.part() < wet_days / 30.0 {
            0.3 + 0.7 * dice.part()
        } else {
            0.0
        };
        let flies = ((highest - 13.0) / 9.0).clamp(0.0, 1.0) * (1.0 - wet);
        (on, flies * offered(on, year, yard) - UPKEEP_KG)
    })
    .collect()
}

/// What the flowers of a day offer.
fn offered(on: NaiveDate, year: i32, yard: usize) -> f64 {
    // Between the rape and the clover nothing flowers.
    if (day(year, (6, 2))..=day(year, (6, 14))).contains(&on) {
        return 0.0;
    }
    let of = |flow: &Flow| {
        #[allow(clippy::cast_precision_loss, reason = "days of a year")]
        let away = (on - day(year, flow.peak)).num_days() as f64 / flow.sigma;
        flow.kg.get(yard).copied().unwrap_or(0.0) * (-away * away / 2.0).exp()
    };
    FLOWS.iter().filter(|flow| !flow.odd || year % 2 != 0).map(of).sum()
}

#[cfg(test)]
mod tests {
    use super::super::figures::{OST, WEN};
    use super::*;

    fn gained(year: i32, yard: usize) -> f64 {
        (0..40)
            .map(|seed| {
                gains(&mut Dice::new(seed), year, yard)
                    .iter()
                    .map(|(_, kg)| kg)
                    .sum::<f64>()
            })
            .sum::<f64>()
            / 40.0
    }

    #[test]
    fn the_fine_year_gives_more_and_chalk_gives_most() {
        assert!(gained(2025, WEN) > 1.2 * gained(2024, WEN));
        assert!(gained(2025, WEN) > gained(2025, OST));
    }

    #[test]
    fn between_rape_and_clover_there_is_only_upkeep() {
        let of = gains(&mut Dice::new(1), 2025, OST);
        let gap = of
            .iter()
            .filter(|(on, _)| (day(2025, (6, 2))..=day(2025, (6, 14))).contains(on));
        assert!(gap.clone().count() == 13 && gap.clone().all(|(_, kg)| (kg + UPKEEP_KG).abs() < 1e-9));
    }
}

//! Whether a lot of packs holds what its labels say, judged by a sample (NC-1).
//!
//! Canada: Safe Food for Canadians Regulations, schedules 4 and 5, read. Germany: Fertigpackungsverordnung of 18 November
//! 2020, annex 3, plans without opening packs, read; it implements Directive 76/211/EEC. Both lift the mean by a factor
//! times the deviation of the sample, Student's t at 0.995 over the root of its number. Not here: a batch that is judged
//! by the packs weighed alone (`net_content`), and the tare.

use crate::described::{answered, words};
use crate::net_content::{NetContentRefused, german_t2_tenths_g, tolerable_negative_error_tenths_g};
use crate::science::number::{fraction, whole};
use crate::units::Grams;

words! {
    /// Whose plan is followed.
    Plan {
        /// Canada.
        Canada = "canada",
        /// Germany.
        Germany = "germany",
    }
}

words! {
    /// What speaks against a lot.
    Shortfall {
        /// Packs lie so far below that none, or in Canada no second one, may.
        FarBelow = "far_below",
        /// Too many packs lie below by more than the tolerance.
        TooManyBelow = "too_many_below",
        /// The mean, lifted as the plan allows, does not reach the nominal mass.
        MeanBelow = "mean_below",
    }
}

/// A sample that the plan does not judge.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SamplingRefused {
    /// Too small or too large a pack.
    #[error(transparent)]
    Pack(#[from] NetContentRefused),
    /// A lot for which there is no plan.
    #[error("the plan is for lots of {least} packs and more, and this has {lot}: weigh them all and judge each")]
    LotTooSmall {
        /// The smallest lot.
        least: i64,
        /// The lot.
        lot: i64,
    },
    /// Fewer packs than the plan asks for.
    #[error("of a lot of {lot} packs {needed} have to be weighed, and there are {weighed} weights: weigh more")]
    TooFew {
        /// The lot.
        lot: i64,
        /// How many the plan asks for.
        needed: i64,
        /// How many there are.
        weighed: i64,
    },
    /// More weights than packs.
    #[error("a lot of {lot} packs has no {weighed} weights: give the size of the lot")]
    TooMany {
        /// The lot.
        lot: i64,
        /// How many there are.
        weighed: i64,
    },
}

answered! {
    /// What a sample says of its lot.
    SampleVerdict {
        /// Whether nothing speaks against the lot.
        passes: bool, "true or false";
        /// What speaks against it, the gravest first.
        shortfalls: Vec<Shortfall>, "the words";
        /// The packs that the plan asks to be weighed.
        to_be_weighed: i64, "packs";
        /// The mean of those weighed.
        mean_hundredths_g: i64, "hundredths of a gram";
        /// Their standard deviation, by one less than their number.
        deviation_thousandths_g: i64, "thousandths of a gram";
        /// The mean lifted as the plan allows; where all packs were weighed it is the mean.
        lifted_mean_hundredths_g: i64, "hundredths of a gram";
        /// The packs that lie below the nominal mass by more than the tolerance.
        below: i64, "packs";
        /// The number of such packs from which the lot fails.
        fails_from: i64, "packs";
        /// The packs that lie below it by more than twice the tolerance.
        far_below: i64, "packs";
    }
}

/// Numbers weighed that a plan knows, and the factor for each.
const CANADA_FACTORS: [(i64, f64); 11] = [
    (5, 2.06),
    (8, 1.24),
    (10, 1.03),
    (12, 0.897),
    (16, 0.737),
    (20, 0.640),
    (25, 0.559),
    (32, 0.485),
    (64, 0.332),
    (96, 0.269),
    (125, 0.234),
];
/// Numbers weighed up to each, and the number of short packs from which the lot fails.
const CANADA_FAILS_FROM: [(i64, i64); 8] = [(8, 1), (20, 2), (32, 3), (50, 4), (65, 5), (80, 6), (102, 7), (125, 8)];
/// Lots up to each: packs to be weighed, short packs from which the lot fails, factor.
const GERMANY: [(i64, i64, i64, f64); 4] = [
    (500, 50, 4, 0.379),
    (3_200, 80, 6, 0.295),
    (10_000, 125, 8, 0.234),
    (i64::MAX, 160, 9, 0.207),
];

/// The packs of a lot that have to be weighed.
///
/// # Errors
/// [`SamplingRefused::LotTooSmall`].
pub fn to_be_weighed(plan: Plan, lot: i64) -> Result<i64, SamplingRefused> {
    let least = match plan {
        Plan::Canada => 2,
        Plan::Germany => 10,
    };
    if lot < least {
        return Err(SamplingRefused::LotTooSmall { least, lot });
    }
    Ok(match (plan, lot) {
        (Plan::Canada, ..=10) | (Plan::Germany, ..=99) => lot,
        (Plan::Canada, ..=128) => ((lot + 3) / 4).max(10),
        (Plan::Canada, ..=4_000) => 32,
        (Plan::Canada, ..=8_000) => 64,
        (Plan::Canada, ..=12_000) => 96,
        (Plan::Canada, _) => 125,
        (Plan::Germany, _) => german_plan(lot).0,
    })
}

/// Judges a lot by the net weights of a sample, tenths of a gram (NC-1).
///
/// For numbers between those that Canada's table has, as read, the next larger one counts, which is stricter by less
/// than the table's own steps; so are its tolerances, which are not rounded there.
///
/// # Errors
/// [`SamplingRefused`].
pub fn judge(plan: Plan, nominal: Grams, lot: i64, weights_tenths_g: &[i64]) -> Result<SampleVerdict, SamplingRefused> {
    let needed = to_be_weighed(plan, lot)?;
    let weighed = i64::try_from(weights_tenths_g.len()).unwrap_or(i64::MAX);
    if weighed < needed {
        return Err(SamplingRefused::TooFew { lot, needed, weighed });
    }
    if weighed > lot {
        return Err(SamplingRefused::TooMany { lot, weighed });
    }
    let [short, far_short] = limits_thousandths_g(plan, nominal)?;
    let below_limit = |limit: i64| {
        weights_tenths_g
            .iter()
            .filter(|weight| weight.saturating_mul(100) < limit)
            .count()
    };
    let below = i64::try_from(below_limit(short)).unwrap_or(i64::MAX);
    let far_below = i64::try_from(below_limit(far_short)).unwrap_or(i64::MAX);
    let (factor, fails_from) = if weighed == lot {
        (0.0, all_weighed_fail_from(plan, lot))
    } else {
        factor_and_fails_from(plan, lot, weighed)
    };

    let (mean, deviation) = mean_and_deviation_g(weights_tenths_g);
    let lifted = mean + factor * deviation;
    let far_allowed = match plan {
        Plan::Canada => 1,
        Plan::Germany => 0,
    };
    let mut shortfalls = Vec::new();
    if far_below > far_allowed {
        shortfalls.push(Shortfall::FarBelow);
    }
    if below >= fails_from {
        shortfalls.push(Shortfall::TooManyBelow);
    }
    // What a sum of tenths leaves over in a double is far below a thousandth.
    if whole(lifted * 1_000.0) < nominal.get() * 1_000 {
        shortfalls.push(Shortfall::MeanBelow);
    }
    Ok(SampleVerdict {
        passes: shortfalls.is_empty(),
        shortfalls,
        to_be_weighed: needed,
        mean_hundredths_g: whole(mean * 100.0),
        deviation_thousandths_g: whole(deviation * 1_000.0),
        lifted_mean_hundredths_g: whole(lifted * 100.0),
        below,
        fails_from,
        far_below,
    })
}

/// Short packs from which a lot fails that was weighed as a whole: in Germany what exceeds 2 %.
fn all_weighed_fail_from(plan: Plan, lot: i64) -> i64 {
    match plan {
        Plan::Canada => canada_fails_from(lot),
        Plan::Germany => lot / 50 + 1,
    }
}

/// The factor of the deviation and the number of short packs from which a lot fails, where a sample was weighed.
pub(crate) fn factor_and_fails_from(plan: Plan, lot: i64, weighed: i64) -> (f64, i64) {
    match plan {
        Plan::Canada => {
            let factor = CANADA_FACTORS.iter().find(|(number, _)| weighed <= *number);
            (factor.map_or(0.0, |(_, factor)| *factor), canada_fails_from(weighed))
        }
        Plan::Germany => {
            let (_, fails_from, factor) = german_plan(lot);
            (factor, fails_from)
        }
    }
}

fn canada_fails_from(weighed: i64) -> i64 {
    let row = CANADA_FAILS_FROM.iter().find(|(up_to, _)| weighed <= *up_to);
    row.map_or(8, |(_, fails_from)| *fails_from)
}

fn german_plan(lot: i64) -> (i64, i64, f64) {
    let row = GERMANY.iter().find(|(up_to, ..)| lot <= *up_to);
    row.map_or((160, 9, 0.207), |(_, weighed, fails_from, factor)| {
        (*weighed, *fails_from, *factor)
    })
}

/// The nominal mass less the tolerance and less twice the tolerance, thousandths of a gram.
pub(crate) fn limits_thousandths_g(plan: Plan, nominal: Grams) -> Result<[i64; 2], NetContentRefused> {
    let rounded = tolerable_negative_error_tenths_g(nominal)? * 100;
    let nominal_g = nominal.get();
    let full = nominal_g * 1_000;
    Ok(match plan {
        Plan::Germany => [full - rounded, german_t2_tenths_g(nominal)? * 100],
        Plan::Canada => {
            let tolerance = match nominal_g {
                ..=50 => nominal_g * 90,
                101..=200 => nominal_g * 45,
                301..=500 => nominal_g * 30,
                1_001..=10_000 => nominal_g * 15,
                15_001.. => nominal_g * 10,
                // The other bands have the same grams for every pack.
                _ => rounded,
            };
            [full - tolerance, full - 2 * tolerance]
        }
    })
}

/// Grams; one weight alone has no deviation.
fn mean_and_deviation_g(weights_tenths_g: &[i64]) -> (f64, f64) {
    let number = fraction(i64::try_from(weights_tenths_g.len()).unwrap_or(i64::MAX));
    let grams = || weights_tenths_g.iter().map(|weight| fraction(*weight) / 10.0);
    let mean = grams().sum::<f64>() / number;
    let squares: f64 = grams().map(|weight| (weight - mean) * (weight - mean)).sum();
    (mean, libm::sqrt(squares / (number - 1.0).max(1.0)))
}

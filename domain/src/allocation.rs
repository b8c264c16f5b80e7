//! Which super, and so which hive and yard, gave how much of a run's honey (AL-1 to AL-4, WT-1 to WT-5).
//!
//! Told the weights, this divides; it knows no entries. Not here: which hive a super stood on and in which days of
//! the flow, the disputed ones (AL-5), moved hives (AL-7), and the trace of a wet super's filling before (AL-6; its
//! kilograms need no carry-over, since in method A they cancel and in B the residue is taken off once).

use std::cmp::Ordering;

use serde::{Deserialize, Serialize};

use crate::form::Form;
use crate::ids::SuperId;
use crate::units::Grams;

/// The step of every share (AL-3), grams.
const STEP_G: i64 = 100;
/// From this gross weight on a word about lifting is due (WT-5): the heaviest even lift of
/// United States occupational guidance, about 23 kg, read.
pub const LIFT_CAUTION: Grams = Grams::constant(23_000);

/// How a share of honey was found, best first (WT-3). The worse of two letters is their `max`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, Form, utoipa::ToSchema)]
pub enum Method {
    /// Weighed before uncapping and after spinning.
    A,
    /// Weighed before uncapping only; tare and residue taken off.
    B,
    /// Full-frame equivalents.
    C,
    /// Equal shares.
    D,
}

impl Method {
    /// All letters, best first.
    pub const ALL: [Self; 4] = [Self::A, Self::B, Self::C, Self::D];
}

/// A box by its height.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, Form, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BoxClass {
    /// As high as a brood box.
    Deep,
    /// The usual super.
    Medium,
    /// The lowest super.
    Shallow,
}

impl BoxClass {
    /// What an empty, dry box of ten drawn frames weighs when nobody has weighed this one (WT-2).
    ///
    /// Common practice, no source: a medium box of 2.5 kg with ten frames of 0.45 kg, a deep box of 3.5 kg, the rest
    /// in proportion to height. Boxes differ by a kilogram; one's own scale is always better.
    #[must_use]
    pub const fn tare(self) -> Grams {
        match self {
            Self::Deep => Grams::constant(10_100),
            Self::Medium => Grams::constant(7_000),
            Self::Shallow => Grams::constant(6_100),
        }
    }

    /// The honey in a full box: the middle of what full boxes weigh (WT-4) less [`Self::tare`].
    #[must_use]
    pub const fn full_net(self) -> Grams {
        match self {
            Self::Deep => Grams::constant(28_400),
            Self::Medium => Grams::constant(15_500),
            Self::Shallow => Grams::constant(9_400),
        }
    }

    /// The honey that spinning leaves on the combs (WT-2). Our own choice around 0.3 to 1.0 kg, which is common
    /// practice without a source.
    #[must_use]
    pub const fn residue(self) -> Grams {
        match self {
            Self::Deep => Grams::constant(700),
            Self::Medium => Grams::constant(500),
            Self::Shallow => Grams::constant(400),
        }
    }
}

/// What is known of one super in one run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SuperWeights {
    /// Which one.
    pub super_id: SuperId,
    /// The number on the box, which decides ties.
    pub number: String,
    /// Gross before uncapping.
    pub in_g: Option<Grams>,
    /// Gross after spinning.
    pub wet_g: Option<Grams>,
    /// The box's own tare, or its operation's for the class; without one, [`BoxClass::tare`].
    pub tare_g: Option<Grams>,
    /// Its height.
    pub class: BoxClass,
    /// Frames times fullness, in quarters of a full frame: nine full frames are 36.
    pub frame_equivalents_quarters: Option<u32>,
}

/// The division of one pot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Allocation {
    /// The letter all shares carry.
    pub method: Method,
    /// What was divided: the pot rounded half up to 0.1 kg, grams. The shares add up to it.
    pub pot_g: Grams,
    /// The shares by super number. Empty when there was no super, and then nothing was given to anybody.
    pub shares: Vec<Share>,
}

/// What one super gave.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Share {
    /// Which super.
    pub super_id: SuperId,
    /// Its honey by weighing, wax and all, under the letter of the allocation; `None` under C and D, where nothing
    /// was weighed. Below nothing where a scale or a tare was wrong; such a super gets no share.
    pub net_g: Option<i64>,
    /// Its share of the pot, a multiple of 100 g.
    pub share_g: Grams,
}

/// Whether a gross weight before uncapping can be that of a full super (WT-4).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, Form, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Plausible {
    /// It can.
    Fine,
    /// Lighter than its class usually is; ask.
    UnusuallyLight,
    /// Heavier than its class usually is; ask.
    UnusuallyHeavy,
    /// It cannot: nothing, more than 60 kg, or more than a kilogram below the tare.
    Impossible,
}

/// The honey of one super by weighing, grams (WT-1, WT-2): A is gross in less gross wet, B gross in less tare and
/// residue. `None` where a weight is missing, and for C and D, which weigh nothing. Below nothing when a weight or a
/// tare is wrong.
#[must_use]
pub fn net(weights: &SuperWeights, method: Method) -> Option<i64> {
    let gross_g = weights.in_g?.get();
    match method {
        Method::A => Some(gross_g - weights.wet_g?.get()),
        Method::B => {
            let tare = weights.tare_g.unwrap_or(weights.class.tare());
            Some(gross_g - tare.get() - weights.class.residue().get())
        }
        Method::C | Method::D => None,
    }
}

/// The best letter that every super of a run reaches (AL-2); D when there is none.
#[must_use]
pub fn best_common_method(supers: &[SuperWeights]) -> Method {
    let reached = |method: &Method| supers.iter().all(|weights| weight(weights, *method).is_some());
    Method::ALL
        .into_iter()
        .find(|method| !supers.is_empty() && reached(method))
        .unwrap_or(Method::D)
}

/// Divides a pot among the supers of a run (AL-1 to AL-3).
///
/// All shares carry one letter, the best that every super reaches and under which they weigh anything at all: if no
/// super is heavier than its tare, weighing decides nothing and the next letter does. Shares are multiples of 0.1 kg
/// by [`largest_remainder`], ties going to the lower super number. The order of `supers` does not matter.
#[must_use]
pub fn allocate(pot: Grams, supers: &[SuperWeights]) -> Allocation {
    let (method, mut weighed) = deciding(supers);
    weighed.sort_by(|(first, first_weight), (second, second_weight)| {
        compare_numbers(&first.number, &second.number)
            .then(first.super_id.cmp(&second.super_id))
            // Only the same box twice in one run gets this far; even then the order told must not matter.
            .then(first_weight.cmp(second_weight))
            // What is below nothing counts as nothing and is still shown.
            .then_with(|| net(first, method).cmp(&net(second, method)))
    });

    let steps = (pot.get() + STEP_G / 2) / STEP_G;
    let weights: Vec<u64> = weighed.iter().map(|(_, weight)| *weight).collect();
    let shares = largest_remainder(steps.unsigned_abs(), &weights);
    let shares = weighed.iter().zip(shares).map(|((weights, _), steps)| Share {
        super_id: weights.super_id,
        net_g: net(weights, method),
        share_g: from_steps(steps),
    });
    Allocation {
        method,
        pot_g: from_steps(steps.unsigned_abs()),
        shares: shares.collect(),
    }
}

/// Splits a super's share over the hives it stood on in turn, by days (AL-4), ties to the earlier. `days` are those in
/// the flow or, if there is none, all days; which of the two is the caller's to know. Parts are multiples of 0.1 kg,
/// and so must the share be; what it has beyond that stays with the last part. The hives' letter is the run's, but no
/// better than C: `method.max(Method::C)`.
#[must_use]
pub fn split_by_days(share: Grams, days: &[u64]) -> Vec<Grams> {
    let steps = (share.get() / STEP_G).unsigned_abs();
    let mut parts: Vec<Grams> = largest_remainder(steps, days).into_iter().map(from_steps).collect();
    if let Some(last) = parts.last_mut() {
        *last = Grams::new(last.get() + share.get() % STEP_G).unwrap_or(*last);
    }
    parts
}

/// Divides whole units in proportion to weights so that the parts add up (AL-3): everybody gets the whole part of the
/// exact share, and what is left goes one by one to the largest fractions, ties to the earlier.
///
/// If all weights are nothing the parts are equal, as under method D: something is there, and nothing says whose it
/// is. Without weights there are no parts.
#[must_use]
pub fn largest_remainder(total_units: u64, weights: &[u64]) -> Vec<u64> {
    let sum: u128 = weights.iter().map(|weight| u128::from(*weight)).sum();
    if sum == 0 {
        return if weights.is_empty() {
            Vec::new()
        } else {
            largest_remainder(total_units, &vec![1; weights.len()])
        };
    }
    let exact = |weight: u64| u128::from(total_units) * u128::from(weight);
    // A part never exceeds the whole, so this always fits.
    let mut parts: Vec<u64> = weights
        .iter()
        .map(|weight| u64::try_from(exact(*weight) / sum).unwrap_or(total_units))
        .collect();

    let given: u64 = parts.iter().sum();
    let mut by_remainder: Vec<usize> = (0..weights.len()).collect();
    by_remainder.sort_by_key(|at| std::cmp::Reverse(weights.get(*at).map(|weight| exact(*weight) % sum)));
    let left = usize::try_from(total_units - given).unwrap_or(usize::MAX);
    for at in by_remainder.into_iter().take(left) {
        if let Some(part) = parts.get_mut(at) {
            *part += 1;
        }
    }
    parts
}

/// The order of the numbers on boxes (AL-3): runs of digits compare as numbers, everything between them as text; what
/// is equal so far (7 and 007) compares as text altogether.
#[must_use]
pub fn compare_numbers(first: &str, second: &str) -> Ordering {
    let (mut left, mut right) = (first, second);
    while !left.is_empty() && !right.is_empty() {
        let ((left_chunk, left_rest), (right_chunk, right_rest)) = (chunk(left), chunk(right));
        let ordering = compare_chunks(left_chunk, right_chunk);
        if ordering.is_ne() {
            return ordering;
        }
        (left, right) = (left_rest, right_rest);
    }
    left.len().cmp(&right.len()).then_with(|| first.cmp(second))
}

/// The letter of a total (WT-3): the best such that letters worse than it make up less than 10 % of its kilograms
/// together. Parts are letters with grams; what is below nothing counts as nothing. `None` without parts; if they
/// weigh nothing, the worst of their letters.
#[must_use]
pub fn total_letter(parts: &[(Method, i64)]) -> Option<Method> {
    let sum = |worse_than: Option<Method>| -> i128 {
        let counted = parts.iter().filter(|(method, _)| Some(*method) > worse_than);
        counted.map(|(_, grams)| i128::from(*grams).max(0)).sum()
    };
    let worst = parts.iter().map(|(method, _)| *method).max()?;
    let total = sum(None);
    let good_enough = |method: &Method| sum(Some(*method)) * 10 < total;
    Some(Method::ALL.into_iter().find(good_enough).unwrap_or(worst))
}

/// Whether a gross weight before uncapping can be true (WT-4); `tare` is the box's own where there is one.
///
/// Warned outside 12 to 45 kg for a deep, 9 to 30 for a medium and 7 to 22 for a shallow box. Our own choice around
/// the weights of full boxes that were read (36 to 41, 18 to 27, 13 to 18 kg) on general pages without authority.
#[must_use]
pub fn gross_plausible(class: BoxClass, gross: Grams, tare: Option<Grams>) -> Plausible {
    let gross_g = gross.get();
    let (light_g, heavy_g) = match class {
        BoxClass::Deep => (12_000, 45_000),
        BoxClass::Medium => (9_000, 30_000),
        BoxClass::Shallow => (7_000, 22_000),
    };
    if gross_g == 0 || gross_g > 60_000 || gross_g < tare.unwrap_or(class.tare()).get() - 1_000 {
        Plausible::Impossible
    } else if gross_g < light_g {
        Plausible::UnusuallyLight
    } else if gross_g > heavy_g {
        Plausible::UnusuallyHeavy
    } else {
        Plausible::Fine
    }
}

/// The letter that decides, and each super with its weight under it.
fn deciding(supers: &[SuperWeights]) -> (Method, Vec<(&SuperWeights, u64)>) {
    let best = best_common_method(supers);
    for method in Method::ALL.into_iter().filter(|method| *method >= best) {
        let weighed: Option<Vec<_>> = supers
            .iter()
            .map(|weights| weight(weights, method).map(|weight| (weights, weight)))
            .collect();
        if let Some(weighed) = weighed.filter(|weighed| weighed.iter().any(|(_, weight)| *weight > 0)) {
            return (method, weighed);
        }
    }
    (Method::D, Vec::new())
}

/// What a super counts for under a letter (AL-2); `None` where it does not reach the letter.
fn weight(weights: &SuperWeights, method: Method) -> Option<u64> {
    match method {
        Method::A | Method::B => net(weights, method).map(|net| net.max(0).unsigned_abs()),
        Method::C => weights.frame_equivalents_quarters.map(u64::from),
        Method::D => Some(1),
    }
}

/// Steps of 0.1 kg in grams. There are never more of them than a [`Grams`] had.
fn from_steps(steps: u64) -> Grams {
    let grams = i64::try_from(steps).ok().and_then(|steps| steps.checked_mul(STEP_G));
    grams.and_then(|grams| Grams::new(grams).ok()).unwrap_or(Grams::MAX)
}

/// The digits, or the text without digits, that `text` starts with, and what follows.
fn chunk(text: &str) -> (&str, &str) {
    let digits = text.starts_with(|first: char| first.is_ascii_digit());
    let end = text
        .find(|next: char| next.is_ascii_digit() != digits)
        .unwrap_or(text.len());
    text.split_at(end)
}

/// Digits before text. Numbers of any length: without leading zeros the longer one is the greater.
fn compare_chunks(first: &str, second: &str) -> Ordering {
    let is_number = |chunk: &str| chunk.starts_with(|first: char| first.is_ascii_digit());
    match (is_number(first), is_number(second)) {
        (true, true) => {
            let (first, second) = (first.trim_start_matches('0'), second.trim_start_matches('0'));
            first.len().cmp(&second.len()).then_with(|| first.cmp(second))
        }
        (true, false) => Ordering::Less,
        (false, true) => Ordering::Greater,
        (false, false) => first.cmp(second),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use uuid::Uuid;

    use super::*;

    /// Fixture A: number, hive, in, wet (in 100 g), full frames.
    const FIXTURE_A: [(&str, &str, i64, i64, u32); 6] = [
        ("S041", "W03", 214, 81, 9),
        ("S042", "W03", 198, 79, 8),
        ("S057", "W07", 226, 82, 9),
        ("S088", "O02", 201, 80, 8),
        ("S090", "O02", 163, 78, 6),
        ("S103", "O11", 189, 83, 7),
    ];
    const POT: Grams = Grams::constant(67_000);

    fn id(number: u128) -> SuperId {
        SuperId::from_uuid(Uuid::from_u128(number))
    }

    fn fixture_a() -> Vec<SuperWeights> {
        (1..)
            .zip(FIXTURE_A)
            .map(|(at, (number, _, gross, wet, frames))| SuperWeights {
                super_id: id(at),
                number: number.to_owned(),
                in_g: Grams::new(gross * 100).ok(),
                wet_g: Grams::new(wet * 100).ok(),
                tare_g: None,
                class: BoxClass::Medium,
                frame_equivalents_quarters: Some(frames * 4),
            })
            .collect()
    }

    fn without_weights() -> Vec<SuperWeights> {
        let strip = |weights| SuperWeights {
            in_g: None,
            wet_g: None,
            ..weights
        };
        fixture_a().into_iter().map(strip).collect()
    }

    fn shares(allocation: &Allocation) -> Vec<i64> {
        allocation.shares.iter().map(|share| share.share_g.get()).collect()
    }

    /// The sum of the shares whose hive starts like this.
    fn sum_of(allocation: &Allocation, hive: &str) -> i64 {
        let of_hive = shares(allocation)
            .into_iter()
            .zip(FIXTURE_A)
            .filter(|(_, row)| row.1.starts_with(hive));
        of_hive.map(|(share, _)| share).sum()
    }

    #[test]
    fn a_super_told_twice_below_its_tare_is_shown_in_one_order() {
        let mut supers: Vec<_> = fixture_a()
            .into_iter()
            .map(|weights| SuperWeights { wet_g: None, ..weights })
            .collect();
        // Medium, tare 7.0 kg and residue 0.5 kg: 1.4 and 2.5 kg below nothing.
        for gross in [6_100, 5_000] {
            let told = SuperWeights {
                in_g: Some(Grams::constant(gross)),
                ..supers[0].clone()
            };
            supers.push(told);
        }
        let allocation = allocate(POT, &supers);
        let nets: Vec<_> = allocation.shares.iter().filter_map(|share| share.net_g).collect();
        assert_eq!(nets, [-2_500, -1_400, 13_900, 12_300, 15_100, 12_600, 8_800, 11_400]);
        supers.reverse();
        assert_eq!(allocate(POT, &supers), allocation);
    }

    #[test]
    fn fixture_a_by_weighing_gives_column_a() {
        // AL-2, AL-3, WT-1; fixture A, arithmetic.
        let allocation = allocate(POT, &fixture_a());
        assert_eq!((allocation.method, allocation.pot_g), (Method::A, POT));
        assert_eq!(shares(&allocation), [12_600, 11_300, 13_600, 11_500, 8_000, 10_000]);
        assert_eq!(
            allocation.shares.iter().filter_map(|share| share.net_g).sum::<i64>(),
            70_800
        );
        for (place, sum) in [
            ("W03", 23_900),
            ("W07", 13_600),
            ("O02", 19_500),
            ("O11", 10_000),
            ("W", 37_500),
            ("O", 29_500),
        ] {
            assert_eq!(sum_of(&allocation, place), sum, "{place}");
        }
    }

    #[test]
    fn fixture_a_by_frames_gives_column_c() {
        // AL-2; yards as in the long form of the rules.
        let allocation = allocate(POT, &without_weights());
        assert_eq!(allocation.method, Method::C);
        assert_eq!(shares(&allocation), [12_800, 11_400, 12_800, 11_400, 8_600, 10_000]);
        assert_eq!((sum_of(&allocation, "W"), sum_of(&allocation, "O")), (37_000, 30_000));
        assert!(allocation.shares.iter().all(|share| share.net_g.is_none()));
    }

    #[test]
    fn fixture_a_in_equal_shares_gives_column_d() {
        // AL-3: ties to the lower super number.
        let mut supers = without_weights();
        supers[3].frame_equivalents_quarters = None;
        let allocation = allocate(POT, &supers);
        assert_eq!(allocation.method, Method::D);
        assert_eq!(shares(&allocation), [11_200, 11_200, 11_200, 11_200, 11_100, 11_100]);
    }

    #[test]
    fn one_missing_wet_weight_takes_the_whole_run_to_b() {
        // AL-2: letters are never mixed inside one run.
        let mut supers = fixture_a();
        supers[0].wet_g = None;
        let allocation = allocate(POT, &supers);
        assert_eq!(allocation.method, Method::B);
        assert_eq!(allocation.shares[0].net_g, Some(21_400 - 7_000 - 500));
        assert_eq!(shares(&allocation).iter().sum::<i64>(), 67_000);
    }

    #[test]
    fn method_b_takes_off_the_own_tare_and_the_residue_of_the_class() {
        // WT-2: residue 0.7, 0.5 and 0.4 kg.
        let mut weights = fixture_a().remove(0);
        weights.tare_g = Grams::new(7_400).ok();
        for (class, residue) in [(BoxClass::Deep, 700), (BoxClass::Medium, 500), (BoxClass::Shallow, 400)] {
            weights.class = class;
            assert_eq!(net(&weights, Method::B), Some(21_400 - 7_400 - residue));
        }
        assert_eq!(net(&weights, Method::A), Some(13_300));
        assert_eq!((net(&weights, Method::C), net(&weights, Method::D)), (None, None));
        weights.tare_g = None;
        assert_eq!(net(&weights, Method::B), Some(21_400 - 6_100 - 400));
    }

    #[test]
    fn a_pot_between_two_steps_is_rounded_half_up_first() {
        // AL-3.
        for (pot, rounded) in [(67_049, 67_000), (67_050, 67_100), (49, 0), (50, 100)] {
            let allocation = allocate(Grams::constant(pot), &fixture_a());
            assert_eq!(allocation.pot_g.get(), rounded);
            assert_eq!(shares(&allocation).iter().sum::<i64>(), rounded);
        }
        assert_eq!(
            shares(&allocate(Grams::MAX, &fixture_a())).iter().sum::<i64>(),
            10_000_000
        );
    }

    #[test]
    fn a_super_that_cannot_be_right_gets_nothing_and_a_run_of_them_falls_to_the_next_letter() {
        let mut supers = fixture_a();
        supers[4].wet_g = Grams::new(20_000).ok();
        let allocation = allocate(POT, &supers);
        assert_eq!((allocation.method, shares(&allocation)[4]), (Method::A, 0));
        assert_eq!(allocation.shares[4].net_g, Some(-3_700));
        for weights in &mut supers {
            weights.wet_g = weights.in_g;
        }
        assert_eq!(allocate(POT, &supers).method, Method::B);
        for weights in &mut supers {
            weights.tare_g = weights.in_g;
            weights.frame_equivalents_quarters = Some(0);
        }
        assert_eq!(allocate(POT, &supers).method, Method::D);
    }

    #[test]
    fn without_supers_nobody_gets_anything() {
        let allocation = allocate(POT, &[]);
        assert_eq!(
            (allocation.method, allocation.pot_g, allocation.shares),
            (Method::D, POT, vec![])
        );
        assert_eq!(best_common_method(&[]), Method::D);
    }

    #[test]
    fn numbers_on_boxes_compare_as_numbers() {
        // AL-3.
        let mut numbers = [
            "S103",
            "10",
            "S41a",
            "007",
            "9",
            "S041",
            "7",
            "S9",
            "M200",
            "",
            "S41",
            "99999999999999999999",
        ];
        numbers.sort_by(|first, second| compare_numbers(first, second));
        assert_eq!(
            numbers,
            [
                "",
                "007",
                "7",
                "9",
                "10",
                "99999999999999999999",
                "M200",
                "S9",
                "S041",
                "S41",
                "S41a",
                "S103"
            ]
        );
    }

    #[test]
    fn a_tie_goes_to_the_lower_number_and_not_to_the_text() {
        // AL-3: S9 before S10, whichever was told first.
        let weights = |at, number: &str| SuperWeights {
            super_id: id(at),
            number: number.to_owned(),
            frame_equivalents_quarters: Some(4),
            ..without_weights().remove(0)
        };
        let allocation = allocate(Grams::constant(100), &[weights(1, "S10"), weights(2, "S9")]);
        let got = allocation
            .shares
            .iter()
            .map(|share| (share.super_id, share.share_g.get()));
        assert_eq!(got.collect::<Vec<_>>(), [(id(2), 100), (id(1), 0)]);
    }

    #[test]
    fn days_on_hives_split_a_share_exactly() {
        // AL-4; 12.6 kg over 10, 10 and 1 days, and without any day in equal parts.
        let parts = |share, days: &[u64]| {
            split_by_days(Grams::constant(share), days)
                .into_iter()
                .map(Grams::get)
                .collect::<Vec<_>>()
        };
        assert_eq!(parts(12_600, &[10, 10, 1]), [6_000, 6_000, 600]);
        assert_eq!(parts(100, &[3, 3]), [100, 0]);
        assert_eq!(parts(200, &[0, 0]), [100, 100]);
        assert_eq!(parts(12_640, &[1, 1]), [6_300, 6_340]);
        assert_eq!(parts(12_600, &[]), [0; 0]);
        assert_eq!(Method::A.max(Method::C), Method::C);
    }

    #[test]
    fn a_total_carries_the_best_letter_that_less_than_a_tenth_falls_below() {
        // WT-3.
        use Method::{A, B, C, D};
        for (parts, letter) in [
            (vec![], None),
            (vec![(A, 91), (D, 9)], Some(A)),
            (vec![(A, 90), (D, 10)], Some(D)),
            (vec![(A, 90), (B, 5), (D, 5)], Some(B)),
            (vec![(A, 80), (C, 11), (D, 9)], Some(C)),
            (vec![(B, 100)], Some(B)),
            (vec![(A, 0), (C, 0)], Some(C)),
            (vec![(A, 100), (D, -500)], Some(A)),
        ] {
            assert_eq!(total_letter(&parts), letter, "{parts:?}");
        }
    }

    #[test]
    fn gross_weights_are_held_against_their_class() {
        // WT-4.
        use Plausible::{Fine, Impossible, UnusuallyHeavy, UnusuallyLight};
        for (class, gross, plausible) in [
            (BoxClass::Medium, 21_400, Fine),
            (BoxClass::Medium, 9_000, Fine),
            (BoxClass::Medium, 8_999, UnusuallyLight),
            (BoxClass::Medium, 30_000, Fine),
            (BoxClass::Medium, 30_001, UnusuallyHeavy),
            (BoxClass::Medium, 60_001, Impossible),
            (BoxClass::Medium, 5_999, Impossible),
            (BoxClass::Deep, 11_999, UnusuallyLight),
            (BoxClass::Deep, 45_001, UnusuallyHeavy),
            (BoxClass::Deep, 60_000, UnusuallyHeavy),
            (BoxClass::Deep, 60_001, Impossible),
            (BoxClass::Shallow, 6_999, UnusuallyLight),
            (BoxClass::Shallow, 22_001, UnusuallyHeavy),
            (BoxClass::Shallow, 0, Impossible),
        ] {
            assert_eq!(
                gross_plausible(class, Grams::constant(gross), None),
                plausible,
                "{class:?} {gross}"
            );
        }
        let own = Some(Grams::constant(8_400));
        assert_eq!(
            gross_plausible(BoxClass::Medium, Grams::constant(7_399), own),
            Impossible
        );
        assert_eq!(
            gross_plausible(BoxClass::Medium, Grams::constant(7_400), own),
            UnusuallyLight
        );
    }

    #[test]
    fn letters_and_classes_are_stored_as_plain_words() {
        assert_eq!(serde_json::to_string(&Method::A).ok().as_deref(), Some("\"A\""));
        assert_eq!(
            serde_json::to_string(&BoxClass::Shallow).ok().as_deref(),
            Some("\"shallow\"")
        );
    }

    prop_compose! {
        fn any_super()(
            at in 0_u128..6, number in "[SM]?0{0,2}[0-9]{1,2}[ab]?", class in 0_usize..3,
            gross in prop::option::weighted(0.9, 0_i64..40_000), wet in prop::option::weighted(0.8, 0_i64..12_000),
            frames in prop::option::weighted(0.8, 0_u32..44),
        ) -> SuperWeights {
            SuperWeights {
                super_id: id(at),
                number,
                in_g: gross.and_then(|gross| Grams::new(gross).ok()),
                wet_g: wet.and_then(|wet| Grams::new(wet).ok()),
                tare_g: None,
                class: [BoxClass::Deep, BoxClass::Medium, BoxClass::Shallow][class],
                frame_equivalents_quarters: frames,
            }
        }
    }

    proptest! {
        #[test]
        fn no_honey_is_lost_and_the_order_told_does_not_matter(
            pot in 0_i64..=10_000_000,
            (supers, shuffled) in prop::collection::vec(any_super(), 1..12)
                .prop_flat_map(|supers| (Just(supers.clone()), Just(supers).prop_shuffle())),
        ) {
            let pot = Grams::constant(pot);
            let allocation = allocate(pot, &supers);
            prop_assert_eq!(shares(&allocation).iter().sum::<i64>(), allocation.pot_g.get());
            prop_assert!((allocation.pot_g.get() - pot.get()).abs() <= 50);
            prop_assert!(allocation.shares.iter().all(|share| share.share_g.get() % 100 == 0));
            prop_assert_eq!(allocation.shares.len(), supers.len());
            prop_assert_eq!(allocation, allocate(pot, &shuffled));
        }

        #[test]
        fn parts_add_up_and_lie_within_one_unit_of_the_exact_share(
            total in 0_u64..1_000_000_000, weights in prop::collection::vec(0_u64..1_000_000, 1..20),
        ) {
            let parts = largest_remainder(total, &weights);
            prop_assert_eq!(parts.iter().sum::<u64>(), total);
            let sum: u64 = weights.iter().sum();
            for (part, weight) in parts.iter().zip(&weights).filter(|_| sum > 0) {
                let exact = u128::from(total) * u128::from(*weight);
                let got = u128::from(*part) * u128::from(sum);
                prop_assert!(got.abs_diff(exact) < u128::from(sum));
                prop_assert!(*weight > 0 || *part == 0, "who gave nothing gets nothing");
            }
        }

        #[test]
        fn the_largest_numbers_do_not_overflow(weights in prop::collection::vec(any::<u64>(), 1..6)) {
            let parts = largest_remainder(u64::MAX, &weights);
            prop_assert_eq!(parts.iter().map(|part| u128::from(*part)).sum::<u128>(), u128::from(u64::MAX));
        }

        #[test]
        fn splitting_by_days_loses_nothing(share in 0_i64..=100_000, days in prop::collection::vec(0_u64..200, 1..6)) {
            let parts = split_by_days(Grams::constant(share), &days);
            prop_assert_eq!(parts.into_iter().map(Grams::get).sum::<i64>(), share);
        }

        #[test]
        fn a_total_is_never_better_than_its_best_nor_worse_than_its_worst_part(
            parts in prop::collection::vec((prop::sample::select(Method::ALL.to_vec()), 0_i64..100_000), 1..8),
        ) {
            let letters = parts.iter().map(|(method, _)| *method);
            let letter = total_letter(&parts);
            prop_assert!(letter >= letters.clone().min() && letter <= letters.max());
        }

        #[test]
        fn the_order_of_numbers_is_one_order(
            first in "[SM]?[0-9]{0,3}[ab]?", second in "[SM]?[0-9]{0,3}[ab]?", third in "[SM]?[0-9]{0,3}[ab]?",
        ) {
            let order = compare_numbers(&first, &second);
            prop_assert_eq!(order, compare_numbers(&second, &first).reverse());
            prop_assert_eq!(order.is_eq(), first == second);
            if order.is_lt() && compare_numbers(&second, &third).is_lt() {
                prop_assert!(compare_numbers(&first, &third).is_lt());
            }
        }
    }
}

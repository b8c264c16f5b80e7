//! What mixing and drying do to kilograms and to water (BL-1, BL-2, DR-1, DR-3).
//!
//! Whole numbers throughout: water and solids are conserved, so every result is one division, rounded once. Not
//! here: which moisture of a part counts (MO-10), whether a part may be blended at all (BL-3 to BL-5), and what
//! drying does to the air (DR-2). A moisture reckoned here is a forecast; it never releases a lot.

use crate::units::{Grams, Moisture};

/// Mixing or drying that does not lead where it is meant to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum BlendRefused {
    /// The honey meant to carry the wetter honey is over the limit itself.
    #[error("the drier honey is over the limit already")]
    DrierIsOverTheLimit,
    /// The honey meant to bring the moisture down is not drier than the goal.
    #[error("honey at {drier_hundredths} hundredths of a per cent cannot bring a blend down to {goal_hundredths}")]
    NotDrierThanTheGoal {
        /// The water of the honey that was to be added, hundredths of a per cent.
        drier_hundredths: i64,
        /// The water wanted, hundredths of a per cent.
        goal_hundredths: i64,
    },
    /// Drying takes water away.
    #[error("drying cannot bring {from_hundredths} hundredths of a per cent of water up to {to_hundredths}")]
    WetterAfterDrying {
        /// The water before, hundredths of a per cent.
        from_hundredths: i64,
        /// The water after, hundredths of a per cent.
        to_hundredths: i64,
    },
    /// Pure water holds nothing that drying could leave behind.
    #[error("there is nothing but water to dry")]
    NothingButWater,
    /// The answer is more honey than there is.
    #[error("it would take more than ten tonnes of honey")]
    MoreThanThereIs,
}

/// The moisture of a blend, hundredths of a per cent, rounded half up (BL-1); `None` when the parts weigh nothing.
///
/// m = SUM(w m) / SUM(w); 120 kg at 17.1 % with 45 kg at 19.4 % make 17.73 %. Arithmetic.
#[must_use]
pub fn weighted_moisture(parts: &[(Grams, Moisture)]) -> Option<Moisture> {
    let hundredths = weighted(parts, 1)?;
    Moisture::new(hundredths).ok()
}

/// The moisture of a blend, thousandths of a per cent, rounded half up (BL-1); `None` when the parts weigh nothing.
///
/// For papers and checks; the hundredths of [`weighted_moisture`] are rounded from the exact ratio, not from this.
#[must_use]
pub fn weighted_moisture_thousandths(parts: &[(Grams, Moisture)]) -> Option<u32> {
    u32::try_from(weighted(parts, 10)?).ok()
}

/// The most wetter honey, grams rounded down, that a drier part can carry without the blend passing the limit (BL-2).
///
/// w1 (L - m1) / (m2 - L); 120 kg at 17.1 % carry 77.1 kg at 19.4 % to 18.0 %. Arithmetic. Honey that is itself
/// within the limit can be added without end, which comes out as [`Grams::MAX`], as does any amount beyond it.
///
/// # Errors
/// [`BlendRefused::DrierIsOverTheLimit`].
pub fn most_wetter_honey(drier: (Grams, Moisture), wetter: Moisture, limit: Moisture) -> Result<Grams, BlendRefused> {
    let (weight, drier) = drier;
    if drier > limit {
        return Err(BlendRefused::DrierIsOverTheLimit);
    }
    if wetter <= limit {
        return Ok(Grams::MAX);
    }
    let most = wide(weight.get()) * wide(limit.get() - drier.get()) / wide(wetter.get() - limit.get());
    Ok(grams(most).unwrap_or(Grams::MAX))
}

/// The least drier honey, grams rounded up, that brings a wetter part down to the goal (BL-2 asked the other way).
///
/// w (m - goal) / (goal - drier); 40 kg at 19.4 % need 49.23 kg at 16.5 % to reach 17.8 %. Arithmetic. Honey that
/// is within the goal already needs none.
///
/// # Errors
/// [`BlendRefused::NotDrierThanTheGoal`], and [`BlendRefused::MoreThanThereIs`] beyond ten tonnes.
pub fn drier_honey_needed(wetter: (Grams, Moisture), drier: Moisture, goal: Moisture) -> Result<Grams, BlendRefused> {
    let (weight, wetter) = wetter;
    if wetter <= goal || weight == Grams::MIN {
        return Ok(Grams::MIN);
    }
    if drier >= goal {
        return Err(BlendRefused::NotDrierThanTheGoal {
            drier_hundredths: drier.get(),
            goal_hundredths: goal.get(),
        });
    }
    let over = wide(weight.get()) * wide(wetter.get() - goal.get());
    let room = wide(goal.get() - drier.get());
    grams((over + room - 1) / room).ok_or(BlendRefused::MoreThanThereIs)
}

/// What honey weighs after drying, grams rounded half up (DR-1).
///
/// Solids are conserved: w2 = w1 (100 - m1) / (100 - m2); 100 kg from 19.5 to 17.8 % leave 97.93 kg. Arithmetic.
///
/// # Errors
/// [`BlendRefused::WetterAfterDrying`] and [`BlendRefused::NothingButWater`].
pub fn mass_after_drying(before: Grams, from: Moisture, to: Moisture) -> Result<Grams, BlendRefused> {
    if to > from {
        return Err(BlendRefused::WetterAfterDrying {
            from_hundredths: from.get(),
            to_hundredths: to.get(),
        });
    }
    if from == Moisture::MAX {
        return Err(BlendRefused::NothingButWater);
    }
    let solids = wide(before.get()) * wide(Moisture::MAX.get() - from.get());
    let after = rounded(solids, wide(Moisture::MAX.get() - to.get()));
    // Never more than before, since `to` is not above `from`.
    Ok(grams(after).unwrap_or(before))
}

/// The water to book as dried off, grams (DR-3): what [`mass_after_drying`] leaves missing, to the gram.
///
/// # Errors
/// As [`mass_after_drying`].
pub fn water_dried_off(before: Grams, from: Moisture, to: Moisture) -> Result<Grams, BlendRefused> {
    let after = mass_after_drying(before, from, to)?;
    Ok(Grams::new(before.get() - after.get()).unwrap_or(Grams::MIN))
}

/// Water over weight in units of a hundredth of a per cent divided by `finer`, half up.
fn weighted(parts: &[(Grams, Moisture)], finer: i128) -> Option<i64> {
    let weight: i128 = parts.iter().map(|(weight, _)| wide(weight.get())).sum();
    let water: i128 = parts
        .iter()
        .map(|(weight, moisture)| wide(weight.get()) * wide(moisture.get()))
        .sum();
    if weight == 0 {
        return None;
    }
    i64::try_from(rounded(water * finer, weight)).ok()
}

/// A quotient of two numbers that are not negative, half up.
const fn rounded(above: i128, below: i128) -> i128 {
    (2 * above + below) / (2 * below)
}

fn wide(value: i64) -> i128 {
    i128::from(value)
}

fn grams(value: i128) -> Option<Grams> {
    i64::try_from(value).ok().and_then(|value| Grams::new(value).ok())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const fn part(kilograms: i64, hundredths: i64) -> (Grams, Moisture) {
        (Grams::constant(kilograms * 1_000), Moisture::constant(hundredths))
    }

    const fn water(hundredths: i64) -> Moisture {
        Moisture::constant(hundredths)
    }

    #[test]
    fn the_blend_of_bl_1_has_17_73_per_cent() {
        // BL-1, arithmetic.
        assert_eq!(
            weighted_moisture(&[part(120, 1_710), part(45, 1_940)]),
            Some(water(1_773))
        );
        assert_eq!(weighted_moisture(&[]), None);
        assert_eq!(weighted_moisture(&[part(0, 1_710)]), None);
    }

    #[test]
    fn worked_example_w10_has_17_225_per_cent() {
        // W10: 120 kg at 16.5 % and 40 kg at 19.4 % make 160 kg at 17.225 %; mass balance. Half of a hundredth goes up.
        let parts = [part(120, 1_650), part(40, 1_940)];
        assert_eq!(weighted_moisture_thousandths(&parts), Some(17_225));
        assert_eq!(weighted_moisture(&parts), Some(water(1_723)));
    }

    #[test]
    fn hundredths_are_not_rounded_twice() {
        // Exactly 0.0149 % of a hundred parts: 15 thousandths, but still one hundredth.
        let parts = [(Grams::constant(9_851), water(0)), (Grams::constant(149), water(100))];
        assert_eq!(weighted_moisture_thousandths(&parts), Some(15));
        assert_eq!(weighted_moisture(&parts), Some(water(1)));
    }

    #[test]
    fn bl_2_lets_120_kg_carry_77_1_kg() {
        // BL-2, arithmetic: 77 142.86 g, rounded down so that the limit holds.
        assert_eq!(
            most_wetter_honey(part(120, 1_710), water(1_940), water(1_800)),
            Ok(Grams::constant(77_142))
        );
        assert_eq!(
            most_wetter_honey(part(120, 1_710), water(1_800), water(1_800)),
            Ok(Grams::MAX)
        );
        assert_eq!(
            most_wetter_honey(part(120, 1_800), water(1_940), water(1_800)),
            Ok(Grams::MIN)
        );
        assert_eq!(
            most_wetter_honey(part(120, 1_801), water(1_940), water(1_800)),
            Err(BlendRefused::DrierIsOverTheLimit)
        );
    }

    #[test]
    fn worked_example_w11_needs_49_23_kg() {
        // W11: 40 kg at 19.4 % to 17.8 % with honey at 16.5 %; mass balance, tolerance 0.01 kg.
        assert_eq!(
            drier_honey_needed(part(40, 1_940), water(1_650), water(1_780)),
            Ok(Grams::constant(49_231))
        );
        assert_eq!(
            drier_honey_needed(part(40, 1_780), water(1_650), water(1_780)),
            Ok(Grams::MIN)
        );
        assert_eq!(
            drier_honey_needed(part(40, 1_940), water(1_780), water(1_780)),
            Err(BlendRefused::NotDrierThanTheGoal {
                drier_hundredths: 1_780,
                goal_hundredths: 1_780
            })
        );
        assert_eq!(
            drier_honey_needed(part(9_000, 1_940), water(1_779), water(1_780)),
            Err(BlendRefused::MoreThanThereIs)
        );
    }

    #[test]
    fn what_needs_nothing_needs_nothing_of_any_honey() {
        // Within the goal, or no honey at all: even honey that could bring nothing down will do.
        for wetter in [part(40, 1_780), part(40, 1_700), part(0, 1_940)] {
            assert_eq!(drier_honey_needed(wetter, water(1_780), water(1_780)), Ok(Grams::MIN));
        }
        // Arithmetic: 40 kg a point over need exactly 40 kg a point below.
        assert_eq!(
            drier_honey_needed(part(40, 1_900), water(1_700), water(1_800)),
            Ok(Grams::constant(40_000))
        );
        // The most honey there can be is still an answer, a gram more is none.
        assert_eq!(
            drier_honey_needed(part(10_000, 1_801), water(1_799), water(1_800)),
            Ok(Grams::MAX)
        );
        assert_eq!(
            drier_honey_needed(part(10_000, 1_802), water(1_799), water(1_800)),
            Err(BlendRefused::MoreThanThereIs)
        );
    }

    #[test]
    fn what_can_be_carried_is_never_more_than_there_can_be() {
        // 10 t a point below carry 10 t a point over, and could carry a hundred times that of honey barely over.
        let drier = part(10_000, 1_700);
        assert_eq!(most_wetter_honey(drier, water(1_900), water(1_800)), Ok(Grams::MAX));
        assert_eq!(most_wetter_honey(drier, water(1_801), water(1_800)), Ok(Grams::MAX));
        assert_eq!(
            most_wetter_honey(drier, water(2_000), water(1_800)),
            Ok(Grams::constant(5_000_000))
        );
    }

    #[test]
    fn the_dryings_of_dr_1_leave_their_kilograms() {
        // DR-1, arithmetic: 97.93, 232.98 and 29.49 kg.
        for (kilograms, from, to, left) in [
            (100, 1_950, 1_780, 97_932),
            (240, 2_040, 1_800, 232_976),
            (30, 1_890, 1_750, 29_491),
        ] {
            let before = Grams::constant(kilograms * 1_000);
            assert_eq!(
                mass_after_drying(before, water(from), water(to)),
                Ok(Grams::constant(left))
            );
        }
    }

    #[test]
    fn worked_example_w12_dries_off_4_866_kg() {
        // W12, DR-3: 250 kg from 19.4 to 17.8 %, leaving 245.134 kg; mass balance, tolerance 0.001 kg.
        let before = Grams::constant(250_000);
        assert_eq!(
            water_dried_off(before, water(1_940), water(1_780)),
            Ok(Grams::constant(4_866))
        );
        assert_eq!(
            mass_after_drying(before, water(1_940), water(1_780)),
            Ok(Grams::constant(245_134))
        );
    }

    #[test]
    fn drying_never_adds_water() {
        let kilogram = Grams::constant(1_000);
        assert_eq!(
            mass_after_drying(kilogram, water(1_780), water(1_781)),
            Err(BlendRefused::WetterAfterDrying {
                from_hundredths: 1_780,
                to_hundredths: 1_781
            })
        );
        assert_eq!(
            mass_after_drying(kilogram, Moisture::MAX, water(1_700)),
            Err(BlendRefused::NothingButWater)
        );
        assert_eq!(
            mass_after_drying(Grams::MAX, water(1_800), water(1_800)),
            Ok(Grams::MAX)
        );
    }

    prop_compose! {
        fn any_part()(weight in 0_i64..=10_000_000, hundredths in 1_000_i64..=3_500) -> (Grams, Moisture) {
            (Grams::constant(weight), Moisture::constant(hundredths))
        }
    }

    proptest! {
        #[test]
        fn a_blend_lies_between_its_driest_and_its_wettest_part(parts in prop::collection::vec(any_part(), 1..12)) {
            let weighing = parts.iter().filter(|(weight, _)| weight.get() > 0).map(|(_, moisture)| *moisture);
            let (driest, wettest) = (weighing.clone().min(), weighing.max());
            let blend = weighted_moisture(&parts);
            prop_assert!(blend >= driest && blend <= wettest);
        }

        #[test]
        fn the_water_of_a_blend_is_that_of_its_parts(parts in prop::collection::vec(any_part(), 1..12)) {
            let weight: i64 = parts.iter().map(|(weight, _)| weight.get()).sum();
            let water: i64 = parts.iter().map(|(weight, moisture)| weight.get() * moisture.get()).sum();
            if let Some(thousandths) = weighted_moisture_thousandths(&parts) {
                prop_assert!((i64::from(thousandths) * weight - 10 * water).abs() * 2 <= weight);
            }
        }

        #[test]
        fn in_any_order_the_blend_is_the_same(parts in prop::collection::vec(any_part(), 1..12)) {
            let mut turned = parts.clone();
            turned.reverse();
            prop_assert_eq!(weighted_moisture(&parts), weighted_moisture(&turned));
        }

        #[test]
        fn drying_conserves_kilograms_and_solids(
            before in 0_i64..=10_000_000, from in 1_000_i64..=3_500, less in 0_i64..=1_000,
        ) {
            let (before, from, to) = (Grams::constant(before), water(from), water(from - less));
            let (Ok(after), Ok(off)) = (mass_after_drying(before, from, to), water_dried_off(before, from, to)) else {
                return Err(TestCaseError::fail("drying was refused"));
            };
            prop_assert_eq!(after.get() + off.get(), before.get());
            let solids_before = before.get() * (10_000 - from.get());
            let solids_after = after.get() * (10_000 - to.get());
            prop_assert!((solids_before - solids_after).abs() * 2 <= 10_000 - to.get());
        }

        #[test]
        fn the_most_wetter_honey_stays_at_the_limit_and_a_gram_more_does_not(
            weight in 1_i64..=1_000_000, drier in 1_300_i64..=1_800, wetter in 1_810_i64..=2_500,
        ) {
            let limit = water(1_800);
            let first = (Grams::constant(weight), water(drier));
            let Ok(most) = most_wetter_honey(first, water(wetter), limit) else {
                return Err(TestCaseError::fail("the drier part is within the limit"));
            };
            let over = |second: i64| weight * drier + second * wetter - (weight + second) * 1_800;
            prop_assert!(over(most.get()) <= 0);
            prop_assert!(most == Grams::MAX || over(most.get() + 1) > 0);
        }

        #[test]
        fn the_drier_honey_needed_is_enough_and_a_gram_less_is_not(
            weight in 1_i64..=1_000_000, wetter in 1_801_i64..=2_500, drier in 1_300_i64..=1_790,
        ) {
            let second = (Grams::constant(weight), water(wetter));
            if let Ok(needed) = drier_honey_needed(second, water(drier), water(1_800)) {
                let over = |first: i64| first * drier + weight * wetter - (weight + first) * 1_800;
                prop_assert!(over(needed.get()) <= 0 && over(needed.get() - 1) > 0);
            }
        }
    }
}

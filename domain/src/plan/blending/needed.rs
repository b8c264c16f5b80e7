//! What honey would have to be there besides, where the wanted blend cannot be made of what there is.

use super::search::{Item, Problem, Search};
use super::{BlendAsked, Needed, OnHand};
use crate::units::{Moisture, Pfund};

/// Honey to be bought in is taken to be this much drier than the target where there is none on hand that is drier.
const DRIER_BY_HUNDREDTHS: i64 = 100;

/// The least honey that, together with what may be blended, makes the wanted weight (or carries all there is) if
/// containers could be divided at will. Nothing where no amount would do.
pub(super) fn needed(asked: &BlendAsked, usable: &[&OnHand], problem: &Problem) -> Option<Needed> {
    let target = asked.target_hundredths;
    let driest = usable.iter().filter_map(|honey| honey.moisture_hundredths).min();
    let moisture = asked.to_be_had_hundredths.or(driest.filter(|water| *water < target));
    let moisture = moisture.or_else(|| Moisture::new((target.get() - DRIER_BY_HUNDREDTHS).max(0)).ok())?;
    if moisture > target {
        return None;
    }
    let middle = problem.band.map(|(low, high)| (low + high) / 2);
    let all_g: i64 = problem.items.iter().map(|item| item.weight_g).sum();
    // Without a wish: enough to carry all there is.
    let enough = |weight_g: i64| {
        let mut more = problem.clone();
        if weight_g > 0 {
            more.items.push(Item {
                weight_g,
                over: moisture.get() - target.get(),
                colour_mm: middle.unwrap_or(0),
            });
        }
        let goal_g = asked.wanted_g.map_or(all_g + weight_g, crate::units::Grams::get);
        Search::new(&more).most_divided(goal_g) == goal_g
    };
    let (mut short, mut does) = (-1, crate::units::Grams::MAX.get());
    if !enough(does) {
        return None;
    }
    while does - short > 1 {
        let middle = short + (does - short) / 2;
        if enough(middle) {
            does = middle;
        } else {
            short = middle;
        }
    }
    (does > 0).then_some(())?;
    Some(Needed {
        weight_g: does,
        moisture_hundredths: moisture,
        colour_mm: middle.and_then(|mm| Pfund::new(mm).ok()),
    })
}

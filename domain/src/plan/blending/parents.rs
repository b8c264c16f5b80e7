//! Which honey may not be a part of a blend, and why (BL-3 to BL-5, MO-10).

use super::{BlendAsked, NO_PARENT_ABOVE, OnHand, WaterKnown};
use crate::decide::percent;
use crate::plan::Reason;
use crate::units::Moisture;

/// The most water a part may have.
pub(super) fn most_of_a_part(asked: &BlendAsked) -> Moisture {
    asked.parent_limit_hundredths.unwrap_or(NO_PARENT_ABOVE)
}

/// Everything that bars a container from any blend of this kind; empty where nothing does.
pub(super) fn bars(asked: &BlendAsked, honey: &OnHand) -> Vec<Reason> {
    let name = &honey.label;
    let mut bars = Vec::new();
    if honey.content_g.get() == 0 {
        bars.push(Reason::new("empty", "ST-7", format!("{name} holds nothing")));
    }
    for hold in &honey.holds {
        let sentence =
            format!("{name} is on hold: {hold}; what is made of it would be held too, until a named person ends it");
        bars.push(Reason::new("on_hold", "BL-4", sentence));
    }
    if honey.smells {
        let sentence = format!("{name} smells or tastes foreign, which no blending mends");
        bars.push(Reason::new("smells", "BL-3", sentence));
    }
    if honey.ferments {
        let sentence = format!("{name} ferments and would set the whole blend working");
        bars.push(Reason::new("ferments", "BL-3", sentence));
    }
    bars.extend(wet(asked, honey));
    let missing = asked.keep.iter().filter(|claim| !honey.claims.contains(claim));
    bars.extend(missing.map(|claim| {
        let sentence = format!("{name} may not be called {claim}, and the blend is to keep that claim");
        Reason::new("lacks_claim", "BL-5", sentence)
    }));
    if banded(asked) && honey.colour_mm.is_none() {
        let sentence = format!("the colour of {name} is not known, so that the blend's cannot be reckoned; grade it");
        bars.push(Reason::new("colour_unknown", "BL-1", sentence));
    }
    bars
}

pub(super) const fn banded(asked: &BlendAsked) -> bool {
    asked.colour_from_mm.is_some() || asked.colour_to_mm.is_some()
}

fn wet(asked: &BlendAsked, honey: &OnHand) -> Option<Reason> {
    let name = &honey.label;
    let most = most_of_a_part(asked);
    match (honey.water_known, honey.moisture_hundredths) {
        (WaterKnown::OffScaleWet, _) => {
            let sentence = format!("{name} was wetter than the meter reaches; measure it again");
            Some(Reason::new("off_scale_wet", "BL-3", sentence))
        }
        (_, None) => {
            let sentence = format!("{name} was never measured; measure it first");
            Some(Reason::new("not_measured", "MO-10", sentence))
        }
        (WaterKnown::Measured, Some(water)) if water > most => Some(too_wet(name.as_str(), water, most)),
        (WaterKnown::Forecast, Some(water)) => {
            let sentence = format!(
                "the water of {name} is only reckoned, {}; measure it first",
                percent(water)
            );
            Some(Reason::new("only_forecast", "MO-10", sentence).with("forecast_hundredths", water))
        }
        (WaterKnown::Measured, Some(_)) => None,
    }
}

fn too_wet(name: &str, water: Moisture, most: Moisture) -> Reason {
    let sentence = format!(
        "{name} is at {}; nothing above {} is blended away, whatever the sum",
        percent(water),
        percent(most)
    );
    Reason::new("parent_too_wet", "BL-3", sentence)
        .with("moisture_hundredths", water)
        .with("parent_limit_hundredths", most)
}

//! Decisions about blends: what may be a part, and what comes of it (BL-1 to BL-5).

use crate::common::HoldReason;
use crate::decide::honey::{code_free, new_lot, take};
use crate::decide::supers::percent;
use crate::decide::water::{forecast, water_of};
use crate::decide::{Case, Refused, refused};
use crate::limits::Claim;
use crate::lot::Blended;
use crate::moisture::Water;
use crate::subject::Subject;
use crate::trace::Held;
use crate::units::Moisture;

/// No parent above the floral limit or 20 %, whatever the sum (BL-3).
const NO_PARENT_ABOVE: Moisture = Moisture::constant(2_000);

/// No part that is too wet by itself, smells or works, whatever the sum (BL-3).
fn fit_for_blending(case: &Case<'_>, part: Subject, most: Moisture) -> Result<(), Refused> {
    let label = case.label(part);
    match water_of(case.house, part) {
        Water::OffScaleWet { .. } => {
            let detail = format!("{label} is wetter than the meter reaches; measure it again or dry it first");
            return Err(refused("parent_too_wet", "BL-3", detail));
        }
        Water::Measured {
            moisture_hundredths: water,
            ..
        }
        | Water::Forecast {
            moisture_hundredths: water,
        } if water > most => {
            let (water, most) = (percent(water), percent(most));
            let detail = format!("{label} is at {water}; nothing above {most} may be blended away");
            return Err(refused("parent_too_wet", "BL-3", detail));
        }
        _ => {}
    }
    let spoilt = |held: &Held| matches!(held.reason, HoldReason::Taint | HoldReason::Moisture);
    match case.holds_on(part).into_iter().find(spoilt) {
        Some(held) => {
            let detail = format!(
                "{label} is held for {} since {}: what smells or works spoils the whole blend; a named person has to \
                 taste it and end that hold first",
                held.reason.words(),
                held.since.date_naive()
            );
            Err(refused("parent_spoilt", "BL-3", detail))
        }
        None => Ok(()),
    }
}

pub(super) fn blend(case: &mut Case<'_>, blended: &Blended) -> Result<(), Refused> {
    new_lot(case, blended.lot_id)?;
    code_free(case, blended.code, blended.lot_id)?;
    if blended.parts.is_empty() {
        return Err(refused(
            "no_parts",
            "BL-4",
            "say what it was made of in parts".to_owned(),
        ));
    }
    let claim = blended.claim.unwrap_or(Claim::General);
    let most = NO_PARENT_ABOVE.max(case.house.settings().legal_limit(claim));
    for part in &blended.parts {
        if case.graph().descends(part.from, blended.lot_id.into()) {
            let detail = format!("{} comes from this lot itself", case.label(part.from));
            return Err(refused("ancestry_loop", "ST-11", detail));
        }
        let together: i64 = blended
            .parts
            .iter()
            .filter(|other| other.from == part.from)
            .map(|other| other.weight_g.get())
            .sum();
        take(case, part.from, together)?;
        fit_for_blending(case, part.from, most)?;
    }
    let limit = case.house.settings().house_limit();
    match forecast(
        case.house,
        &blended
            .parts
            .iter()
            .map(|part| (part.from, part.weight_g))
            .collect::<Vec<_>>(),
        0,
    ) {
        Some(water) if water > limit => {
            let detail = format!(
                "the blend is forecast at {}, above the house limit {}",
                percent(water),
                percent(limit)
            );
            case.warn("forecast_too_wet", "BL-1", detail);
        }
        Some(water) => {
            let detail = format!("the blend is forecast at {}; measure it before release", percent(water));
            case.warn("forecast", "MO-10", detail);
        }
        None => case.warn(
            "no_forecast",
            "BL-1",
            "a part was never measured: no forecast".to_owned(),
        ),
    }
    Ok(())
}

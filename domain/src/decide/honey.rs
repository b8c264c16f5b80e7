//! Decisions about honey between extractor and jar: fills, draws, blends, releases, holds.

use crate::decide::plausible::{content_g, skim_days, warn_of_amber};
use crate::decide::supers::percent;
use crate::decide::{Case, Refused, kg, refused};
use crate::fill::{ContainerFilled, FillSettled, SCALE_DIFFERENCE_G};
use crate::honey_super::Whereabouts;
use crate::ids::LotId;
use crate::limits::{Claim, RE_MEASURE_DAYS, READABLE_FROM, READABLE_TO, ReadingWarning, reading_warning};
use crate::lot::{HoneyDrawn, Lot, LotDescribed, LotReleased};
use crate::moisture::{MoistureRead, Shown, Water, apart, deciding};
use crate::science::moisture::moisture;
use crate::subject::{Subject, SubjectKind};
use crate::units::{Count, Grams, Moisture};

pub(super) fn read(case: &mut Case<'_>, read: &MoistureRead) -> Result<(), Refused> {
    if read.targets.is_empty() {
        return Err(refused(
            "no_target",
            "MO-9",
            "say what was measured in targets".to_owned(),
        ));
    }
    for target in &read.targets {
        case.known(*target)?;
        let spun = target.as_super().and_then(|id| case.house.honey_super(id));
        if spun.is_some_and(|state| state.whereabouts == Whereabouts::Extracted) {
            let detail = format!("super {} is spun; measure what ran out of it", case.label(*target));
            return Err(refused("already_extracted", "MO-10", detail));
        }
    }
    few_places(case, read);
    if let Shown::MoistureHundredths(water) = read.shown {
        if water < READABLE_FROM || water > READABLE_TO {
            let detail = format!(
                "{} is no moisture of honey; off the scale is told as such",
                percent(water)
            );
            return Err(refused("reading_cannot_be", "MO-4", detail));
        }
        match reading_warning(at_20(case, read).unwrap_or(water), case.house.settings().house_limit()) {
            Some(ReadingWarning::UnusuallyDry) => {
                case.warn("unusually_dry", "MO-4", format!("{} is unusually dry", percent(water)));
            }
            Some(ReadingWarning::AboveHouseLimit) => {
                case.warn(
                    "too_wet",
                    "MO-2",
                    format!("{} is above the house limit", percent(water)),
                );
            }
            None => {}
        }
    }
    Ok(())
}

/// From this weight on honey in a container lies in layers that one place does not speak for (MO-9). Our own choice.
const LAYERED_G: i64 = 30_000;

/// Where samples are to be taken (MO-9): of a super from a middle and an outer frame, for capped is no proof of dry; of
/// much honey at three depths, or after stirring.
fn few_places(case: &mut Case<'_>, read: &MoistureRead) {
    let Some(places) = read.places.map(Count::get) else {
        return;
    };
    for target in &read.targets {
        let much = content_g(case, *target).is_some_and(|content| content > LAYERED_G);
        let advice = match target.kind {
            SubjectKind::Super if places < 2 => "take a middle and an outer frame: capped is no proof of dry",
            SubjectKind::Fill | SubjectKind::Lot if much && places < 3 => "take three depths, or stir it through first",
            _ => continue,
        };
        let detail = format!("{places} places are few for {}: {advice}", case.label(*target));
        case.warn("few_places", "MO-9", detail);
    }
}

/// From this far on what a meter shows and what is in the honey differ worth a word, hundredths of a point (MO-7).
const WORTH_A_WORD: i64 = 50;

/// The water that a reading means at 20 degrees, with a word where the honey was far from that (MO-6, MO-7).
fn at_20(case: &mut Case<'_>, read: &MoistureRead) -> Option<Moisture> {
    let scale = read.shown.scale()?;
    let measured = moisture(scale, read.honey_tenths_c, read.compensated).ok()?;
    let off = measured.uncorrected.get() - measured.moisture.get();
    if let Some(degrees) = read.honey_tenths_c.filter(|_| off.abs() >= WORTH_A_WORD) {
        let tenths = (off.abs() + 5) / 10;
        let detail = format!(
            "at {}.{} °C this meter shows about {}.{} points too {}: it counts as {}; measure again at about 20 °C",
            degrees.get() / 10,
            degrees.get() % 10,
            tenths / 10,
            tenths % 10,
            if off > 0 { "high" } else { "low" },
            percent(measured.moisture)
        );
        case.warn("honey_temperature", "MO-7", detail);
    }
    Some(measured.moisture)
}

pub(super) fn fill(case: &mut Case<'_>, filled: &ContainerFilled) -> Result<(), Refused> {
    let net = filled.gross_g.get() - filled.tare_g.get();
    if net <= 0 {
        let detail = format!(
            "{} gross less {} tare is no honey",
            kg(filled.gross_g.get()),
            kg(filled.tare_g.get())
        );
        return Err(refused("no_net_weight", "IN", detail));
    }
    if case.house.fill(filled.fill_id).is_some() {
        let detail = "this fill is written already; amend its entry to correct it".to_owned();
        return Err(refused("already_registered", "ID-5", detail));
    }
    let Some(id) = filled.container_id else { return Ok(()) };
    case.known(id)?;
    let Some(container) = case.house.container(id) else {
        return Ok(());
    };
    let number = case.label(id);
    let rest = container
        .fill_id
        .and_then(|fill| case.house.fill(fill))
        .filter(|fill| fill.content_g > 0);
    if let Some(rest) = rest {
        let detail = format!("{number} still holds {}; draw or wash it out first", kg(rest.content_g));
        return Err(refused("container_not_empty", "ST-11", detail));
    }
    if container.fill_id.is_some() {
        let detail = format!("nobody wrote that {number} was washed since it was emptied: wash it first");
        case.warn("not_washed", "ST-7", detail);
    }
    if let Some(holds) = container.holds_ml {
        // 1.42 kg a litre (WT-6).
        let most = holds.get() * 142 / 100;
        if net > most {
            case.warn(
                "over_capacity",
                "IN",
                format!("{} is more than {number} holds, {}", kg(net), kg(most)),
            );
        } else if net * 4 < most {
            let detail = format!(
                "{} is little for {number}, which holds {}: is the point right?",
                kg(net),
                kg(most)
            );
            case.warn("under_a_quarter", "IN", detail);
        }
    }
    if filled.label_stuck == Some(false) {
        case.warn(
            "no_label",
            "ID-5",
            format!("{number} has no label; stick one on before the next is filled"),
        );
    }
    Ok(())
}

pub(super) fn settle(case: &mut Case<'_>, settled: &FillSettled) -> Result<(), Refused> {
    case.known(settled.fill_id)?;
    skim_days(case, settled);
    let content = content_g(case, settled.fill_id.into()).unwrap_or(0);
    let skimmed = settled.skimmed_g.map_or(0, Grams::get);
    if skimmed > content + SCALE_DIFFERENCE_G {
        let detail = format!("{} cannot be skimmed off {}", kg(skimmed), kg(content));
        return Err(refused("more_than_it_holds", "CF-9", detail));
    }
    Ok(())
}

/// Honey may be taken from a fill or lot as far as it is there (CF-9).
pub(super) fn take(case: &mut Case<'_>, from: Subject, grams: i64) -> Result<(), Refused> {
    case.known(from)?;
    let Some(content) = content_g(case, from) else {
        let detail = format!("honey is taken from a fill or a lot, not from a {}", from.kind.name());
        return Err(refused("not_honey", "ST-11", detail));
    };
    if content < -SCALE_DIFFERENCE_G {
        let detail = format!(
            "more was taken from {} than it held: weigh what is left and tell that count first",
            case.label(from)
        );
        return Err(refused("overdrawn", "CF-9", detail));
    }
    if grams <= 0 || grams > content + SCALE_DIFFERENCE_G {
        let detail = format!(
            "{} cannot be taken from {}: it holds {}",
            kg(grams),
            case.label(from),
            kg(content)
        );
        return Err(refused("more_than_it_holds", "CF-9", detail));
    }
    warn_of_held_part(case, from);
    Ok(())
}

pub(super) fn warn_of_held_part(case: &mut Case<'_>, from: Subject) {
    if let Some(held) = case.holds_on(from).first() {
        let detail = format!(
            "{} is on hold since {}; what is made of it is held too",
            case.label(from),
            held.since.date_naive()
        );
        case.warn("on_hold", "BL-4", detail);
    }
}

pub(super) fn new_lot(case: &Case<'_>, lot: LotId) -> Result<(), Refused> {
    match case.house.lot(lot) {
        Some(state) if state.made_at.is_some() => {
            let detail = format!(
                "lot {} exists already; honey that comes to it makes a new lot",
                case.label(lot)
            );
            Err(refused("already_registered", "ID-6", detail))
        }
        _ => Ok(()),
    }
}

pub(super) fn code_free(case: &Case<'_>, code: crate::lot_code::LotCode, lot: LotId) -> Result<(), Refused> {
    let taken = case
        .house
        .lots()
        .any(|(other, state)| other != lot && state.code == Some(code));
    if taken {
        return Err(refused(
            "code_taken",
            "LO-2",
            format!("code {code} belongs to another lot and is never used again"),
        ));
    }
    Ok(())
}

pub(super) fn draw(case: &mut Case<'_>, drawn: &HoneyDrawn) -> Result<(), Refused> {
    new_lot(case, drawn.lot_id)?;
    code_free(case, drawn.code, drawn.lot_id)?;
    take(case, drawn.fill_id.into(), drawn.weight_g.get())
}

/// A lot that may be used: no hold on it or on anything it came from, measured since it was last mixed, and dry
/// enough for its claim (MO-1, MO-2, MO-10, MO-11).
pub(super) fn fit_for_use<'a>(case: &Case<'a>, id: LotId) -> Result<&'a Lot, Refused> {
    case.known(id)?;
    let code = case.label(id);
    let Some(lot) = case.house.lot(id).filter(|lot| lot.made_at.is_some()) else {
        return Err(refused(
            "not_registered",
            "ST-8",
            format!("lot {code} was never drawn or blended"),
        ));
    };
    if let Some(held) = case.holds_on(id).first() {
        let detail = format!(
            "lot {code} is on hold: {} {} since {}; a named person has to end that hold first",
            held.on.kind.name(),
            held.label,
            held.since.date_naive()
        );
        return Err(refused("on_hold", "CF-12", detail));
    }
    let limit = case.house.settings().release_limit(lot.claim());
    match deciding(&lot.readings, |id| case.house.meter(id)) {
        Water::OffScaleWet { .. } => {
            let detail = format!("lot {code} is wetter than the meter reaches; measure it again");
            Err(refused("too_wet", "MO-4", detail))
        }
        Water::Measured {
            moisture_hundredths, ..
        } if moisture_hundredths > limit => {
            let detail = format!(
                "lot {code} is at {}, above its limit {}",
                percent(moisture_hundredths),
                percent(limit)
            );
            Err(refused("too_wet", "MO-2", detail))
        }
        measured @ Water::Measured { .. } if measured.older_than(RE_MEASURE_DAYS.get(), case.now) => {
            let detail = format!(
                "lot {code} was last measured over {} days ago; measure it again",
                RE_MEASURE_DAYS.get()
            );
            Err(refused("measured_too_long_ago", "MO-11", detail))
        }
        Water::Measured { .. } => Ok(lot),
        Water::Forecast { .. } | Water::Unmeasured => {
            let detail = format!("lot {code} was not measured since it was last mixed; a forecast does not release it");
            Err(refused("not_measured", "MO-10", detail))
        }
    }
}

pub(super) fn release(case: &mut Case<'_>, released: &LotReleased) -> Result<(), Refused> {
    let lot = fit_for_use(case, released.lot_id)?;
    warn_of_amber(case, lot);
    if let Some((driest, wettest)) = apart(&lot.readings, |id| case.house.meter(id)) {
        let detail = format!(
            "{} and {} were read since it was last mixed, and the wetter decides: stir it through and measure again",
            percent(driest),
            percent(wettest)
        );
        case.warn("readings_apart", "CF-11", detail);
    }
    warn_of_claim(case, lot.claim(), lot.claim_reason.is_some());
    if released.samples_kept.is_none_or(|kept| kept.get() < 2) {
        case.warn(
            "no_samples",
            "SA-1",
            "keep two jars of this lot and write where they are".to_owned(),
        );
    } else if released.samples_place.is_none() {
        let detail = "write where the jars kept back stand: they are looked for when somebody complains".to_owned();
        case.warn("no_samples_place", "SA-1", detail);
    }
    if released.tastes_right == Some(false) {
        return Err(refused(
            "tastes_wrong",
            "TA-1",
            "honey that tastes or smells foreign is held, not released".to_owned(),
        ));
    }
    Ok(())
}

/// The name of a plant needs its reason (LB-2).
pub(super) fn warn_of_claim(case: &mut Case<'_>, claim: Claim, has_reason: bool) {
    if claim.is_floral() && !has_reason {
        let detail =
            "a plant may be named only if the honey comes wholly or mainly from it and tastes so: write why it \
                      does, with the lot"
                .to_owned();
        case.warn("claim_without_reason", "LB-2", detail);
    }
}

pub(super) fn describe(case: &mut Case<'_>, described: &LotDescribed) -> Result<(), Refused> {
    case.known(described.lot_id)?;
    if let Some(claim) = described.claim {
        let lot = case.house.lot(described.lot_id);
        let known = lot.is_some_and(|lot| lot.claim_reason.is_some());
        warn_of_claim(case, claim, known || described.claim_reason.is_some());
    }
    Ok(())
}

pub(super) fn within_lot(case: &Case<'_>, id: LotId, grams: i64) -> Result<(), Refused> {
    case.known(id)?;
    let content = case.house.lot(id).map_or(0, |lot| lot.content_g);
    if grams > content + SCALE_DIFFERENCE_G {
        let detail = format!(
            "{} cannot be taken from lot {}: it holds {}",
            kg(grams),
            case.label(id),
            kg(content)
        );
        return Err(refused("more_than_it_holds", "CF-9", detail));
    }
    Ok(())
}

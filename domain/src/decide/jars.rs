//! Decisions about jars: filling, weighing, labelling, delivering, taking back.

use crate::batch::{Batch, Bottled, JarsReworked, Labelled, WeightsChecked};
use crate::common::FlagCode;
use crate::decide::honey::{code_free, fit_for_use, new_lot, warn_of_claim, warn_of_held_part};
use crate::decide::orders::{delivery_of, not_cancelled};
use crate::decide::plausible::content_g;
use crate::decide::{Case, Refused, kg, refused};
use crate::delivery::{Delivered, Goods, Line, Returned};
use crate::fill::SCALE_DIFFERENCE_G;
use crate::ids::BatchId;
use crate::lot::{HoneyEnd, HoneyEnded};
use crate::net_content::{ContentFailure, judge};
use crate::subject::Subject;
use crate::units::Count;

pub(super) fn bottle(case: &mut Case<'_>, bottled: &Bottled) -> Result<(), Refused> {
    let lot = fit_for_use(case, bottled.lot_id)?;
    let code = case.label(bottled.lot_id);
    if lot.released().is_none() {
        let detail = format!("lot {code} is not released; a named person has to release it first");
        return Err(refused("not_released", "ST-8", detail));
    }
    if lot.flags.iter().any(|flag| flag.code == FlagCode::Overdrawn) {
        let detail = format!("more was taken from lot {code} than it held; count it and settle that first");
        return Err(refused("overdrawn", "CF-9", detail));
    }
    if bottled.used_g() > lot.content_g + SCALE_DIFFERENCE_G {
        let detail = format!(
            "{} cannot be filled from lot {code}: it holds {}",
            kg(bottled.used_g()),
            kg(lot.content_g)
        );
        return Err(refused("more_than_it_holds", "CF-9", detail));
    }
    if bottled.jars_good.get() == 0 || bottled.nominal_g.get() == 0 {
        return Err(refused(
            "no_jars",
            "ID-7",
            "a batch has at least one jar with something in it".to_owned(),
        ));
    }
    let other = case
        .house
        .batches()
        .find(|(id, state)| *id != bottled.batch_id && state.code == Some(bottled.code));
    if other.is_some() {
        let detail = format!("code {} is on other jars and is never used again", bottled.code);
        return Err(refused("code_taken", "LO-2", detail));
    }
    if case
        .house
        .batch(bottled.batch_id)
        .is_some_and(|batch| batch.filled_at.is_some())
    {
        let detail = "this batch is filled; another filling is another batch".to_owned();
        return Err(refused("already_registered", "ID-7", detail));
    }
    let declared = bottled.jars_good.get() * bottled.nominal_g.get();
    if let Some(used) = bottled.used_g
        && (used.get() - declared).abs() * 50 > declared
    {
        let detail = format!(
            "{} used for {} declared: more than 2 % apart",
            kg(used.get()),
            kg(declared)
        );
        case.warn("used_differs", "IN", detail);
    }
    if bottled.jars_broken.is_some_and(|broken| broken.get() > 0) {
        let detail = "broken glass: hold the batch, throw the neighbours away, write the cleaning".to_owned();
        case.warn("glass", "NC-4", detail);
    }
    Ok(())
}

pub(super) fn check_weights(case: &mut Case<'_>, checked: &WeightsChecked) -> Result<(), Refused> {
    case.known(checked.batch_id)?;
    if checked.net_tenths_g.iter().any(|weight| *weight <= 0) {
        return Err(refused(
            "impossible_weight",
            "NC-3",
            "a full jar weighs more than nothing".to_owned(),
        ));
    }
    let Some(nominal) = case.house.batch(checked.batch_id).and_then(|batch| batch.nominal_g) else {
        return Ok(());
    };
    let rule = case.house.settings().rules().content_rule();
    let Ok(verdict) = judge(nominal, &checked.net_tenths_g, rule) else {
        return Ok(());
    };
    for failure in &verdict.failures {
        let detail = match failure {
            ContentFailure::PackBelowT2 => "a jar is short by more than twice the tolerable error: take it out",
            ContentFailure::TooManyBelowT1 => "too many jars are short: weigh more of them",
            ContentFailure::MeanBelowNominal => "the jars hold less than declared on average: top them up",
            ContentFailure::PackBelowNominal => "a jar holds less than declared: top it up",
        };
        case.warn("net_content", "NC-1", detail.to_owned());
    }
    Ok(())
}

/// No label is printed for jars that are on hold, and none of them leaves the house (LB-3).
fn not_held(case: &Case<'_>, subject: Subject) -> Result<(), Refused> {
    match case.holds_on(subject).first() {
        None => Ok(()),
        Some(held) => {
            let detail = format!(
                "{} is on hold: {} {} since {}",
                case.label(subject),
                held.on.kind.name(),
                held.label,
                held.since.date_naive()
            );
            Err(refused("on_hold", "LB-3", detail))
        }
    }
}

/// Jars that hold less than their label says are held until they are topped up and weighed again (NC-1).
fn not_short(case: &Case<'_>, id: BatchId) -> Result<(), Refused> {
    let Some((batch, nominal)) = case.house.batch(id).and_then(|batch| Some((batch, batch.nominal_g?))) else {
        return Ok(());
    };
    let rule = case.house.settings().rules().content_rule();
    match judge(nominal, &batch.net_tenths_g, rule) {
        Ok(verdict) if verdict.failures.contains(&ContentFailure::MeanBelowNominal) => {
            let sum: i64 = batch.net_tenths_g.iter().sum();
            let count = i64::try_from(batch.net_tenths_g.len()).unwrap_or(i64::MAX);
            let mean = sum / count.max(1);
            let detail = format!(
                "the jars of batch {} hold {}.{} g on average and not {} g: top them up and weigh them again",
                case.label(id),
                mean / 10,
                mean % 10,
                nominal.get()
            );
            Err(refused("net_content", "NC-1", detail))
        }
        _ => Ok(()),
    }
}

pub(super) fn label(case: &mut Case<'_>, labelled: &Labelled) -> Result<(), Refused> {
    case.known(labelled.batch_id)?;
    not_held(case, labelled.batch_id.into())?;
    let lot = case.house.batch(labelled.batch_id).and_then(|batch| batch.lot_id);
    if let Some(lot) = lot.and_then(|id| case.house.lot(id)) {
        warn_of_claim(case, lot.claim(), lot.claim_reason.is_some());
    }
    not_short(case, labelled.batch_id)?;
    let spoilt = labelled.spoilt.map_or(0, Count::get);
    if labelled.used.get() + spoilt > labelled.printed.get() {
        let detail = format!(
            "{} used and {spoilt} spoilt are more than {} printed",
            labelled.used.get(),
            labelled.printed.get()
        );
        return Err(refused("more_labels_than_printed", "MB-6", detail));
    }
    if labelled.used.get() + spoilt != labelled.printed.get() {
        case.warn(
            "labels_left",
            "MB-6",
            "labels are left over: destroy them or write where they are".to_owned(),
        );
    }
    Ok(())
}

pub(super) fn in_stock(case: &Case<'_>, id: BatchId, jars: i64) -> Result<(), Refused> {
    case.known(id)?;
    let stock = case.house.batch(id).map_or(0, |batch| batch.jars_in_stock);
    if jars > stock {
        let detail = format!(
            "{jars} jars cannot leave batch {}: {stock} are in stock",
            case.label(id)
        );
        return Err(refused("more_than_in_stock", "ST-11", detail));
    }
    Ok(())
}

/// What leaves the house names its batch or its fill, whoever gets it: every line of a delivery does. A buyer in the
/// trade is named besides, the public is not (ST-10).
pub(super) fn deliver(case: &mut Case<'_>, delivered: &Delivered) -> Result<(), Refused> {
    if delivered.lines.is_empty() {
        return Err(refused("no_lines", "ST-10", "a delivery names what went".to_owned()));
    }
    if let Some(state) = delivery_of(case, delivered.delivery_id) {
        if state.at.is_some() {
            let detail = "this delivery is written already".to_owned();
            return Err(refused("already_registered", "ST-10", detail));
        }
        not_cancelled(state)?;
    }
    if let Some(customer) = delivered.customer_id {
        case.known(customer)?;
    }
    may_leave(case, &delivered.lines)
}

/// What is picked for somebody is there and not held; older goods are named (FI-1, LB-3).
pub(super) fn may_leave(case: &mut Case<'_>, lines: &[Line]) -> Result<(), Refused> {
    for line in lines {
        let subject = line.subject();
        let same = lines.iter().filter(|other| other.subject() == subject);
        match line.goods {
            Goods::Jars { batch_id, .. } => {
                let jars = same.map(|line| match &line.goods {
                    Goods::Jars { count, .. } => count.get(),
                    Goods::Bulk { .. } => 0,
                });
                in_stock(case, batch_id, jars.sum())?;
                not_held(case, subject)?;
                not_short(case, batch_id)?;
                warn_of_older(case, batch_id);
            }
            Goods::Bulk { fill_id, .. } => {
                case.known(fill_id)?;
                not_held(case, subject)?;
                let grams = same.map(|line| match &line.goods {
                    Goods::Bulk { weight_g, .. } => weight_g.get(),
                    Goods::Jars { .. } => 0,
                });
                let content = content_g(case, subject).unwrap_or(0);
                if grams.sum::<i64>() > content + SCALE_DIFFERENCE_G {
                    let detail = format!("{} holds {}", case.label(fill_id), kg(content));
                    return Err(refused("more_than_it_holds", "CF-9", detail));
                }
            }
        }
    }
    Ok(())
}

/// First in, first out by the lot's release, then by filling, within one kind and size (FI-1).
fn warn_of_older(case: &mut Case<'_>, id: BatchId) {
    let Some(batch) = case.house.batch(id) else { return };
    let age = |of: &Batch| {
        let lot = of.lot_id.and_then(|lot| case.house.lot(lot));
        let released = lot.and_then(|lot| lot.released()).map(|released| released.at);
        (released.or(of.filled_at), of.filled_at)
    };
    let older = case.house.batches().find(|(_, other)| {
        other.nominal_g == batch.nominal_g
            && other.product == batch.product
            && other.jars_in_stock > 0
            && age(other) < age(batch)
    });
    if let Some((older, _)) = older {
        let detail = format!("batch {} is older and still in stock", case.label(older));
        case.warn("older_in_stock", "FI-1", detail);
    }
}

pub(super) fn take_back(case: &Case<'_>, returned: &Returned) -> Result<(), Refused> {
    case.known(returned.delivery_id)?;
    let Some(batch) = case.house.batch(returned.batch_id) else {
        return case.known(returned.batch_id);
    };
    let of_this = |moved: &&crate::batch::JarsMoved| moved.delivery_id == returned.delivery_id;
    let sent: i64 = batch.delivered.iter().filter(of_this).map(|moved| moved.jars).sum();
    let back: i64 = batch.returned.iter().filter(of_this).map(|moved| moved.jars).sum();
    if returned.jars.get() > sent - back {
        let detail = format!(
            "{} jars cannot come back: {} went out on this delivery",
            returned.jars.get(),
            sent - back
        );
        return Err(refused("more_than_delivered", "ST-10", detail));
    }
    Ok(())
}

/// Lots and batches end; what is in a pail is drawn first (ST-8, ST-9).
pub(super) fn end_honey(case: &Case<'_>, ended: &HoneyEnded) -> Result<(), Refused> {
    case.known(ended.target)?;
    let lot = ended.target.as_lot().and_then(|id| case.house.lot(id));
    let batch = ended.target.as_batch().and_then(|id| case.house.batch(id));
    let gone = match (lot, batch) {
        (Some(lot), _) => lot.ended.as_ref(),
        (_, Some(_)) if ended.how == HoneyEnd::Downgraded => {
            let detail = "jars are not downgraded: empty them into a lot of baker's honey".to_owned();
            return Err(refused("not_so_ended", "ST-9", detail));
        }
        (_, Some(batch)) => batch.ended.as_ref(),
        _ => {
            let detail = format!("a {} is not ended so; name a lot or a batch", ended.target.kind.name());
            return Err(refused("not_so_ended", "ST-8", detail));
        }
    };
    match gone.filter(|gone| gone.how == ended.how) {
        Some(gone) => {
            let detail = format!("{} ended so on {}", case.label(ended.target), gone.at.date_naive());
            Err(refused("already_ended", "ST-8", detail))
        }
        None => Ok(()),
    }
}

/// Jars that are emptied make a new lot of what came out of them (ID-6).
pub(super) fn rework(case: &mut Case<'_>, again: &JarsReworked) -> Result<(), Refused> {
    new_lot(case, again.lot_id)?;
    code_free(case, again.code, again.lot_id)?;
    in_stock(case, again.batch_id, again.jars.get())?;
    if again.jars.get() == 0 {
        return Err(refused("no_jars", "ID-7", "say how many jars were emptied".to_owned()));
    }
    warn_of_held_part(case, again.batch_id.into());
    Ok(())
}

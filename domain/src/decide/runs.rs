//! Decisions about extraction runs: opened, drained, closed, opened again.

use crate::balance::Band;
use crate::decide::{Case, Refused, refused};
use crate::extraction::{Run, RunClosed, RunDrained, RunOpened, RunReopened};
use crate::ids::RunId;
use crate::yields::run_balance;

/// A run lasts until its extractor is drained and clean, whatever people call it (ID-4).
pub(super) fn open(case: &mut Case<'_>, new: &RunOpened) -> Result<(), Refused> {
    case.unheard_of(new.run_id)?;
    let Some(extractor) = &new.extractor else { return Ok(()) };
    let same = |run: &Run| {
        let other = run.extractor.as_ref();
        other.is_some_and(|other| other.as_str().eq_ignore_ascii_case(extractor.as_str()))
    };
    let going = case.house.runs().find(|(_, run)| run.drained.is_none() && same(run));
    if let Some((id, _)) = going {
        let detail = format!(
            "{extractor} was not drained after run {}: what is spun now is of both; drain it first, or go on with that run",
            case.label(id)
        );
        case.warn("extractor_in_use", "ID-4", detail);
    }
    Ok(())
}

pub(super) fn drain(case: &Case<'_>, drained: &RunDrained) -> Result<(), Refused> {
    case.known(drained.run_id)?;
    match case.house.run(drained.run_id).and_then(|run| run.drained.as_ref()) {
        Some(before) => {
            let detail = format!("this run was drained on {}", before.at.date_naive());
            Err(refused("run_drained", "ST-6", detail))
        }
        None => Ok(()),
    }
}

/// A run is closed once it is drained and everything of it is weighed (ST-6). What is missing is said.
pub(super) fn close(case: &mut Case<'_>, closed: &RunClosed) -> Result<(), Refused> {
    case.known(closed.run_id)?;
    balance_is_open(case, closed.run_id)?;
    let label = case.label(closed.run_id);
    let Some(run) = case.house.run(closed.run_id).filter(|run| run.drained.is_some()) else {
        let detail = format!("run {label} is not drained: drain the extractor first");
        return Err(refused("not_drained", "ST-6", detail));
    };
    match run_balance(case.house, closed.run_id, run) {
        None => {
            let detail = format!("not everything of run {label} is weighed: supers full and spun, containers, wax");
            case.warn("not_all_weighed", "ST-6", detail);
        }
        Some(balance) if balance.band != Band::Green => {
            let detail = format!("the balance of run {label} does not come out: look at the weights before closing it");
            case.warn("balance_off", "MB-2", detail);
        }
        Some(_) => {}
    }
    Ok(())
}

/// Nothing is weighed into a closed balance; it is opened again first (ST-6).
pub(super) fn balance_is_open(case: &Case<'_>, id: RunId) -> Result<(), Refused> {
    match case.house.run(id).and_then(|run| run.closed.as_ref()) {
        Some(closed) => {
            let detail = format!(
                "run {} was closed on {}: open it again first, which can be done while none of its honey is drawn",
                case.label(id),
                closed.at.date_naive()
            );
            Err(refused("run_closed", "ST-6", detail))
        }
        None => Ok(()),
    }
}

/// A run is opened again only until something is made of its honey; after that only corrections are right (ST-6).
pub(super) fn reopen(case: &Case<'_>, again: &RunReopened) -> Result<(), Refused> {
    case.known(again.run_id)?;
    let label = case.label(again.run_id);
    let Some(run) = case.house.run(again.run_id).filter(|run| run.closed.is_some()) else {
        return Err(refused("not_closed", "ST-6", format!("run {label} is not closed")));
    };
    let used = run.fills.iter().find_map(|ran| {
        let fill = case.house.fill(ran.fill_id)?;
        (!fill.taken_out.is_empty()).then_some(ran.fill_id)
    });
    match used {
        Some(fill) => {
            let detail = format!(
                "honey of run {label} was taken out of {}: correct the entry that was wrong instead",
                case.label(fill)
            );
            Err(refused("honey_drawn_already", "ST-6", detail))
        }
        None => Ok(()),
    }
}

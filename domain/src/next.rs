//! What waits in the house and what to do with it next, each with the rule that says so.

use chrono::{DateTime, TimeDelta, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::clearing::LONG_ON;
use crate::decide::{Decider, board_under, kg, percent, water_of};
use crate::form::Form;
use crate::holds::Holds;
use crate::honey_super::Super;
use crate::house::House;
use crate::limits::{BULK_RE_MEASURE_DAYS, RE_MEASURE_DAYS};
use crate::lot::{Retained, retained};
use crate::moisture::{Reading, Water, apart, deciding};
use crate::plan::extraction_order::{Action, OrderAsked, Ordered, plan_extraction_order, since};
use crate::subject::Subject;

/// What to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Act {
    /// Leave it and ask the person who may end the hold.
    Hold,
    /// Measure it for the first time.
    Measure,
    /// Measure it again.
    ReMeasure,
    /// Take water out of it.
    Dry,
    /// Put it back on a hive: bees dry it best while they gather.
    ReturnToHive,
    /// Uncap and spin it.
    Extract,
    /// Let it settle and skim it.
    Settle,
    /// Draw or blend it into a lot.
    Draw,
    /// Release it.
    Release,
    /// Fill jars from it.
    Bottle,
    /// Take its supers off: they are cleared of bees.
    Pull,
    /// Let the jars go that were kept back.
    LetSamplesGo,
}

/// One thing that waits.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Task {
    /// What waits.
    #[serde(flatten)]
    pub subject: Subject,
    /// What people call it.
    pub label: String,
    /// What to do.
    pub act: Act,
    /// Why, with the figures.
    pub why: String,
    /// The rule of the trade that says so.
    pub rule: String,
    /// Since when it waits.
    pub since: Option<DateTime<Utc>>,
    /// It has waited too long already.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub late: bool,
}

/// Everything that waits, the late first, then the oldest.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Next {
    /// The tasks.
    pub tasks: Vec<Task>,
}

impl From<Action> for Act {
    fn from(action: Action) -> Self {
        match action {
            Action::Extract => Self::Extract,
            Action::ReMeasure => Self::ReMeasure,
            Action::Measure => Self::Measure,
            Action::Dry => Self::Dry,
            Action::ReturnToHive => Self::ReturnToHive,
            Action::Hold => Self::Hold,
        }
    }
}

/// An escape board has done its work after a night. Common practice, no source.
const BOARD_WORKS: TimeDelta = TimeDelta::hours(12);

/// Says what to do next with everything in the house.
#[must_use]
pub fn next(house: &House, now: DateTime<Utc>) -> Next {
    // Read off once: every task asks it.
    let decider = Decider::new(house, now);
    let holds = decider.holds();
    let order = plan_extraction_order(&OrderAsked::of_decider(&decider, None));
    let supers = order.supers.into_iter().filter_map(|one| of_super(house, one));
    let fills = house
        .fills()
        .filter(|(_, fill)| fill.filled_at.is_some() && fill.content_g > 0)
        .map(|(id, _)| of_fill((house, holds), id.into(), now));
    let lots = house
        .lots()
        .filter(|(_, lot)| lot.made_at.is_some() && lot.content_g > 0)
        .map(|(id, _)| of_lot((house, holds), id.into(), now));
    let boards = house
        .supers()
        .filter_map(|(id, state)| cleared(house, id.into(), state, now));
    let mut tasks: Vec<Task> = supers.chain(fills.flatten()).chain(lots.flatten()).collect();
    tasks.extend(boards.chain(samples(house, now)));
    tasks.sort_by(|a, b| (!a.late, a.since, &a.label, a.subject).cmp(&(!b.late, b.since, &b.label, b.subject)));
    Next { tasks }
}

fn task(house: &House, subject: Subject, since: Option<DateTime<Utc>>, (act, rule, why): (Act, &str, String)) -> Task {
    Task {
        subject,
        label: house.label(subject),
        act,
        why,
        rule: rule.to_owned(),
        since,
        late: false,
    }
}

fn held(holds: &Holds<'_>, subject: Subject, now: DateTime<Utc>) -> Option<(Act, &'static str, String)> {
    let held = holds.on(subject, now).into_iter().next()?;
    let why = format!(
        "on hold: {} {} since {}",
        held.on.kind.name(),
        held.label,
        held.since.date_naive()
    );
    Some((Act::Hold, "CF-17", why))
}

fn of_super(house: &House, one: Ordered) -> Option<Task> {
    let id = one.super_id?;
    let rule = one.reasons.first()?.rule.clone();
    let why: Vec<String> = one.reasons.into_iter().map(|reason| reason.sentence).collect();
    Some(Task {
        subject: id.into(),
        label: one.label,
        act: one.action.into(),
        why: why.join("; "),
        rule,
        since: house.honey_super(id).and_then(since),
        late: one.late,
    })
}

fn of_fill((house, holds): (&House, &Holds<'_>), subject: Subject, now: DateTime<Utc>) -> Option<Task> {
    let fill = house.fill(subject.as_fill()?)?;
    let water = water_of(house, subject);
    let what = held(holds, subject, now).unwrap_or_else(|| match water {
        Water::Unmeasured => (
            Act::Measure,
            "MO-9",
            format!("{} in it, not measured", kg(fill.content_g)),
        ),
        _ if apart(&fill.readings, |id| house.meter(id)).is_some() => stir(&fill.readings, house),
        ref old if old.older_than(BULK_RE_MEASURE_DAYS.get(), now) => (
            Act::ReMeasure,
            "MO-11",
            format!("measured over {} days ago", BULK_RE_MEASURE_DAYS.get()),
        ),
        _ if fill.settled_at.is_none() => (Act::Settle, "ST-7", "let wax and air rise, then skim".to_owned()),
        _ => (
            Act::Draw,
            "ID-6",
            format!("{} settled and measured", kg(fill.content_g)),
        ),
    });
    Some(task(house, subject, fill.filled_at, what))
}

/// A super above an escape board, the morning after.
fn cleared(house: &House, subject: Subject, state: &Super, now: DateTime<Utc>) -> Option<Task> {
    let board = board_under(house, state).filter(|board| now - board.at >= BOARD_WORKS)?;
    let why = format!("its escape board is on since {}", board.at.date_naive());
    let late = now - board.at > LONG_ON;
    Some(Task {
        late,
        ..task(house, subject, Some(board.at), (Act::Pull, "IN", why))
    })
}

/// Jars that were kept back long enough (SA-1).
fn samples(house: &House, now: DateTime<Utc>) -> impl Iterator<Item = Task> + '_ {
    let over = move |kept: &Retained| kept.keep_until.is_some_and(|until| until < now.date_naive());
    retained(house).into_iter().filter(over).map(move |kept| {
        let place = kept
            .place
            .as_ref()
            .map_or_else(String::new, |place| format!(", in {place}"));
        let why = format!("{} jars kept back long enough{place}", kept.jars);
        task(
            house,
            kept.lot_id.into(),
            Some(kept.since),
            (Act::LetSamplesGo, "SA-1", why),
        )
    })
}

/// Two readings of one honey that contradict each other are settled by a third, after stirring (CF-11).
fn stir(readings: &[Reading], house: &House) -> (Act, &'static str, String) {
    let between = apart(readings, |id| house.meter(id));
    let between = between.map_or_else(String::new, |(driest, wettest)| {
        format!("{} and {} were read of it: ", percent(driest), percent(wettest))
    });
    let why = format!("{between}stir it through and measure again; until then the wetter decides");
    (Act::ReMeasure, "CF-11", why)
}

fn of_lot((house, holds): (&House, &Holds<'_>), subject: Subject, now: DateTime<Utc>) -> Option<Task> {
    let lot = house.lot(subject.as_lot()?)?;
    let limit = house.settings().release_limit(lot.claim());
    let what = held(holds, subject, now).unwrap_or_else(|| match deciding(&lot.readings, |id| house.meter(id)) {
        Water::Unmeasured | Water::Forecast { .. } => (
            Act::Measure,
            "MO-10",
            "not measured since it was mixed; a forecast does not release it".to_owned(),
        ),
        Water::OffScaleWet { .. } => (Act::ReMeasure, "MO-4", "wetter than the meter reaches".to_owned()),
        _ if apart(&lot.readings, |id| house.meter(id)).is_some() => stir(&lot.readings, house),
        Water::Measured {
            moisture_hundredths, ..
        } if moisture_hundredths > limit => {
            let why = format!(
                "{} is above its limit {}: blend or dry it",
                percent(moisture_hundredths),
                percent(limit)
            );
            (Act::Hold, "MO-2", why)
        }
        ref old if old.older_than(RE_MEASURE_DAYS.get(), now) => (
            Act::ReMeasure,
            "MO-11",
            format!("measured over {} days ago", RE_MEASURE_DAYS.get()),
        ),
        _ if lot.released().is_none() => (Act::Release, "ST-8", "measured and within its limit".to_owned()),
        _ => (Act::Bottle, "ST-9", format!("released, {} left", kg(lot.content_g))),
    });
    Some(task(house, subject, lot.mixed_at, what))
}

//! Sick bees, and the official stop on moves (DI-2, DI-3).

use chrono::{DateTime, Datelike, NaiveDate, NaiveTime, TimeDelta, Utc};

use super::Gathered;
use crate::common::{Flag, FlagCode, HoldReason, Side};
use crate::disease::{SickAct, SickStep};
use crate::holds::cover::{BoxOf, yard_of_box};
use crate::holds::spells::{followed, long_before};
use crate::holds::{Cause, EndsBy};
use crate::honey_super::Whereabouts;
use crate::ids::{EntryId, HiveId, YardId};
use crate::subject::Subject;
use crate::trace::Node;

impl Gathered<'_> {
    /// DI-2 and DI-3. Cleared or lifted by the entry's name, it is over for everything it held.
    pub(super) fn sickness(&mut self) {
        let house = self.house;
        for (yard, state) in house.yards() {
            self.sick(yard.into(), &state.sickness, |_| Some(yard), None);
        }
        for (hive, state) in house.hives() {
            self.sick(hive.into(), &state.sickness, |at| state.yard_at(at), Some(hive));
        }
    }

    fn sick(
        &mut self,
        place: Subject,
        steps: &[SickStep],
        yard_at: impl Fn(DateTime<Utc>) -> Option<YardId>,
        hive: Option<HiveId>,
    ) {
        let over = |entry| {
            steps.iter().any(|step| match &step.act {
                SickAct::Cleared(of, _) | SickAct::Lifted(of, _) => *of == entry,
                _ => false,
            })
        };
        for step in steps {
            let (reason, ends_by) = match &step.act {
                SickAct::Suspected(_) | SickAct::Diagnosed(..) => (HoldReason::Disease, EndsBy::Clearance),
                SickAct::Ordered(_) => (HoldReason::Standstill, EndsBy::OrderLifted),
                _ => continue,
            };
            if over(step.entry_id) {
                continue;
            }
            let since = if reason == HoldReason::Disease {
                season_of(step)
            } else {
                step.at
            };
            let cause = self.cause(Cause {
                text: step.text.as_ref().map(ToString::to_string),
                set_by: Some(step.by),
                season: Some(since),
                ..Cause::new(step.entry_id, reason, place, step.at, ends_by)
            });
            let mut on_boxes = hive.map_or_else(Vec::new, |hive| followed(&self.dwellings, hive, step.at));
            let sick_bees = on_boxes.clone();
            if let Some(yard) = yard_at(step.at) {
                self.on_bees(yard, cause, step.at, None);
                let stood = self.stands.hives_in(yard, since);
                for spell in stood
                    .iter()
                    .filter(|spell| spell.left.is_none_or(|left| left > step.at))
                {
                    self.on_bees(spell.hive, cause, spell.from.max(step.at), spell.left);
                }
                on_boxes.extend(stood);
                self.stacked_in(cause, yard);
            }
            for spell in sick_bees {
                self.on_bees(spell.hive, cause, spell.from, spell.over());
                if let Some(colony) = spell.colony {
                    self.on_bees(colony, cause, spell.from, spell.over());
                }
            }
            self.on_boxes(cause, &on_boxes, true);
            if reason == HoldReason::Standstill {
                self.moved_under(cause, place, step, steps);
            }
        }
    }

    /// Boxes that lie in a yard without a hive.
    fn stacked_in(&mut self, cause: usize, yard: YardId) {
        let lies = |in_box: &&BoxOf<'_>| {
            in_box.state.whereabouts == Whereabouts::InYard && yard_of_box(self.house, in_box.state) == Some(yard)
        };
        let there: Vec<Node> = self
            .stands
            .boxes
            .iter()
            .filter(lies)
            .map(|in_box| in_box.node(in_box.now()))
            .collect();
        let since = self.causes.get(cause).map(|cause| cause.since);
        for node in there {
            if let Some(since) = since {
                self.seed_thing(cause, node, since);
            }
        }
    }

    /// What left a yard while its moves were stopped: seen only afterwards, where somebody did not ask (DI-3).
    fn moved_under(&mut self, cause: usize, place: Subject, order: &SickStep, steps: &[SickStep]) {
        let licensed = |at: DateTime<Utc>| {
            steps.iter().any(|step| match &step.act {
                SickAct::Licensed(of, _, until) => {
                    *of == order.entry_id && step.at <= at && until.is_none_or(|until| at.date_naive() <= until)
                }
                _ => false,
            })
        };
        let Some(yard) = place.as_yard() else { return };
        let mut moved: Vec<(Subject, EntryId, DateTime<Utc>)> = Vec::new();
        for (id, hive) in self.house.hives() {
            for pair in hive.stays.windows(2) {
                let [before, after] = pair else { continue };
                if before.yard_id == yard && after.from >= order.at && after.permit.is_none() && !licensed(after.from) {
                    moved.push((id.into(), after.entry_id, after.from));
                }
            }
        }
        for in_box in &self.stands.boxes {
            for filling in in_box.state.fillings() {
                for pair in filling.stands.windows(2) {
                    let [before, after] = pair else { continue };
                    let yard_of = |hive, at| self.house.hive(hive).and_then(|hive| hive.yard_at(at));
                    let from = yard_of(before.hive_id, before.until.unwrap_or(before.from));
                    let to = yard_of(after.hive_id, after.from);
                    if from == Some(yard) && to != from && after.from >= order.at && !licensed(after.from) {
                        moved.push((in_box.id.into(), after.entry_id, after.from));
                    }
                }
                let last = filling.stands.last().filter(|stand| {
                    let hive = self.house.hive(stand.hive_id);
                    hive.and_then(|hive| hive.yard_at(stand.until.unwrap_or(stand.from))) == Some(yard)
                });
                if let (Some(stand), Some(came)) = (last, filling.received_at.or(filling.uncapped_at))
                    && came >= order.at
                    && !licensed(came)
                {
                    let told = filling.pulled.as_ref().map_or(stand.entry_id, |pulled| pulled.entry_id);
                    moved.push((in_box.id.into(), told, came));
                }
            }
        }
        for (subject, entry_id, at) in moved {
            let sides = [(order.entry_id, order.at), (entry_id, at)].map(|(entry_id, at)| Side {
                entry_id,
                at,
                names: Some(place),
                amount: None,
            });
            self.doubts.push((
                subject,
                Flag {
                    code: FlagCode::MovedUnderStandstill,
                    sides: sides.to_vec(),
                },
            ));
            if let Some(cause) = self.causes.get_mut(cause) {
                cause.moved.push(subject);
            }
        }
    }
}

/// The beginning of the season in which something was told: the first day of its year, or half a year before where
/// that is earlier, since a southern summer lies over the turn of the year. Our choice.
fn season_of(step: &SickStep) -> DateTime<Utc> {
    let half_a_year = long_before(step.at);
    let new_year = NaiveDate::from_ymd_opt(step.on().year(), 1, 1).and_then(|day| {
        let midnight = day.and_time(NaiveTime::MIN);
        let offset = TimeDelta::minutes(i64::from(step.utc_offset_min));
        midnight.checked_sub_signed(offset).map(|midnight| midnight.and_utc())
    });
    new_year.map_or(half_a_year, |new_year| new_year.min(half_a_year))
}

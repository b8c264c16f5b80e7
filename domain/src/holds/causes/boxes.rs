//! What boxes and containers bring by themselves: foreign smells, brood, honey of which nobody knows the hive.

use chrono::{DateTime, Utc};

use super::Gathered;
use crate::common::HoldReason;
use crate::fill::FillSource;
use crate::holds::cover::Met;
use crate::holds::{Cause, EndsBy};
use crate::ids::EntryId;
use crate::subject::Subject;
use crate::trace::Certainty;
use crate::units::FrameCount;

impl Gathered<'_> {
    /// What the boxes themselves bring: foreign smells (TA-1), brood (DI-1), honey of which nobody knows the hive.
    pub(super) fn boxes(&mut self) {
        let mut found: Vec<(Cause, Vec<Met>, DateTime<Utc>)> = Vec::new();
        for in_box in &self.stands.boxes {
            let place = Subject::from(in_box.id);
            for (at, step) in in_box.state.taints.iter().enumerate() {
                if step.taint.is_none() {
                    continue;
                }
                let later = in_box.state.taints.get(at..).unwrap_or_default();
                let cleaned = later.iter().find(|later| later.taint.is_none()).map(|step| step.at);
                let cause = Cause {
                    text: step.text.as_ref().map(ToString::to_string),
                    set_by: Some(step.by),
                    ..Cause::new(
                        step.entry_id,
                        HoldReason::Taint,
                        place,
                        step.at,
                        EndsBy::CleaningAndRelease,
                    )
                };
                found.push((cause, self.stands.in_box(in_box, step.at, cleaned), step.at));
            }
            for (at, filling) in in_box.state.fillings().enumerate() {
                let met = || {
                    vec![Met {
                        node: in_box.node(at),
                        certainty: Certainty::Sure,
                        told: Vec::new(),
                    }]
                };
                let aside = filling.frames_set_aside.map_or(0, FrameCount::get);
                if let Some(pulled) = filling.pulled.as_ref().filter(|pulled| pulled.brood_seen == Some(true))
                    && aside == 0
                {
                    let cause = Cause::new(
                        pulled.entry_id,
                        HoldReason::Brood,
                        place,
                        pulled.at,
                        EndsBy::FramesAside,
                    );
                    found.push((cause, met(), pulled.at));
                }
                if let (true, Some(run), Some(spun)) = (filling.stands.is_empty(), filling.run_id, filling.uncapped_at)
                    && let Some(run) = self.house.run(run)
                    && let Some(told) = run.supers.iter().find(|uncapped| uncapped.super_id == in_box.id)
                {
                    let reason = HoldReason::UnknownOrigin;
                    let cause = Cause::new(told.entry_id, reason, place, spun, EndsBy::NamedRelease);
                    found.push((cause, met(), spun));
                }
            }
        }
        for (cause, met, since) in found {
            let cause = self.cause(cause);
            for met in met {
                self.seed_thing(cause, met.node, since);
            }
        }
    }

    /// A fill of unknown origin holds itself until somebody says where it is from.
    pub(super) fn unknown_fills(&mut self) {
        for (id, fill) in self.house.fills() {
            if let (Some(FillSource::Unknown), Some(since)) = (&fill.source, fill.filled_at) {
                let (hold_id, reason) = (EntryId::from_uuid(id.uuid()), HoldReason::UnknownOrigin);
                let cause = self.cause(Cause::new(hold_id, reason, id.into(), since, EndsBy::NamedRelease));
                self.seed_thing(cause, Subject::from(id).into(), since);
            }
        }
    }
}

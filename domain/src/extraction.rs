//! An extraction run: everything between two drained and clean states of one extractor (ID-4). Open, running, drained,
//! weighed, closed; opened again only while none of its honey was drawn or sold (ST-6).

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::{Common, FlagCode, HoldReason, Side, set_hold, state};
use crate::entry::Entry;
use crate::fill::FillSource;
use crate::fold::{Aggregate, Memo, Told};
use crate::form::Form;
use crate::ids::{EntryId, FillId, MemberId, SuperId};
use crate::moisture::Reading;
use crate::subject::SubjectKind;
use crate::text::Name;
use crate::units::{Grams, Micrometres};
use crate::yard::retell;

mod entries;

pub use entries::*;

/// A super in a run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Uncapped {
    /// The entry.
    pub entry_id: EntryId,
    /// The super.
    pub super_id: SuperId,
    /// When.
    pub at: DateTime<Utc>,
    /// It was weighed after spinning.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub wet: bool,
    /// The group of supers whose honey ran into containers of its own (AL-2).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub group: Option<Name>,
}

/// A container filled from a run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct RanInto {
    /// The fill.
    pub fill_id: FillId,
    /// Honey in it as weighed at filling.
    pub net_g: i64,
    /// It is honey that ran out of the cappings.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub of_cappings: bool,
    /// The group of supers that ran into it, and no other (AL-2).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub group: Option<Name>,
}

/// A screen, looked at.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Strained {
    /// The entry.
    pub entry_id: EntryId,
    /// Width of the mesh, micrometres.
    pub mesh_um: Micrometres,
    /// Whole before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub whole_before: Option<bool>,
    /// Whole after.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub whole_after: Option<bool>,
}

/// The end of a run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Drained {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// Honey left in the machine, if it was weighed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_in_machine_g: Option<Grams>,
}

/// The balance of a run was closed, or opened again.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Closed {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// By whom.
    pub by: MemberId,
}

/// Cappings as weighed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Cappings {
    /// The entry.
    pub entry_id: EntryId,
    /// Honey that ran out of them.
    pub honey_g: Grams,
    /// Wax.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wax_g: Option<Grams>,
}

state! {
    /// One extraction.
    Run {
        /// What people call it.
        #[serde(skip_serializing_if = "Option::is_none")]
        name: Option<Name>,
        /// The extractor.
        #[serde(skip_serializing_if = "Option::is_none")]
        extractor: Option<Name>,
        /// How it holds its frames.
        #[serde(skip_serializing_if = "Option::is_none")]
        spin: Option<Spin>,
        /// The first thing told of it.
        #[serde(skip_serializing_if = "Option::is_none")]
        began_at: Option<DateTime<Utc>>,
        /// Its day on the wall, which decides its season.
        #[serde(skip_serializing_if = "Option::is_none")]
        on: Option<NaiveDate>,
        /// The supers in it.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        supers: Vec<Uncapped>,
        /// Screens it ran through.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        strained: Vec<Strained>,
        /// Weighings of cappings; they add up.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        cappings: Vec<Cappings>,
        /// Samples taken, together.
        #[serde(skip_serializing_if = "is_zero")]
        samples_g: i64,
        /// The containers it ran into.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        fills: Vec<RanInto>,
        /// Readings of what ran out.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        readings: Vec<Reading>,
        /// Its end.
        #[serde(skip_serializing_if = "Option::is_none")]
        drained: Option<Drained>,
        /// Its balance is closed (ST-6).
        #[serde(skip_serializing_if = "Option::is_none")]
        closed: Option<Closed>,
        /// How often it was opened again.
        #[serde(skip_serializing_if = "is_zero")]
        reopened: i64,
    }
}

#[allow(clippy::trivially_copy_pass_by_ref)]
pub(crate) fn is_zero(grams: &i64) -> bool {
    *grams == 0
}

impl Run {
    /// Honey in the containers it ran into, as weighed at filling, without that of the cappings.
    #[must_use]
    pub fn bulk_g(&self) -> i64 {
        self.fills
            .iter()
            .filter(|fill| !fill.of_cappings)
            .map(|fill| fill.net_g)
            .sum()
    }

    /// Honey recovered from the cappings: as weighed when they were drained, or in the container it ran into.
    #[must_use]
    pub fn cappings_honey_g(&self) -> i64 {
        let weighed: i64 = self.cappings.iter().map(|cappings| cappings.honey_g.get()).sum();
        let filled: i64 = self
            .fills
            .iter()
            .filter(|fill| fill.of_cappings)
            .map(|fill| fill.net_g)
            .sum();
        if weighed > 0 { weighed } else { filled }
    }

    /// Wax of the cappings; nothing if nobody weighed it.
    #[must_use]
    pub fn wax_g(&self) -> Option<i64> {
        let weighed: Vec<i64> = self
            .cappings
            .iter()
            .filter_map(|cappings| cappings.wax_g)
            .map(Grams::get)
            .collect();
        (!weighed.is_empty()).then(|| weighed.iter().sum())
    }

    /// What the hives gave: bulk and recovered cappings honey as weighed at filling (AL-1).
    #[must_use]
    pub fn pot_g(&self) -> i64 {
        self.bulk_g() + self.cappings_honey_g()
    }

    fn uncap(&mut self, (told, memo): (&Told<'_>, &mut Memo), super_id: SuperId, group: Option<&Name>) {
        let wet = matches!(told.entry, Entry::WetWeighed(_));
        if let Some(earlier) = self.supers.iter_mut().find(|earlier| earlier.super_id == super_id) {
            earlier.wet |= wet;
            if earlier.group.is_none() {
                earlier.group = group.cloned();
            }
            return;
        }
        // What arrives after jars were filled was not known to whoever filled them.
        memo.remember(told);
        self.supers.push(Uncapped {
            entry_id: told.id(),
            super_id,
            at: told.at(),
            wet,
            group: group.cloned(),
        });
        if let Some(drained) = &self.drained {
            let end = Side {
                entry_id: drained.entry_id,
                at: drained.at,
                names: None,
                amount: None,
            };
            self.flag(FlagCode::AddedAfterDrained, [end, Side::of(told).naming(super_id)]);
        }
    }

    fn strain(&mut self, told: &Told<'_>, memo: &mut Memo, strained: &HoneyStrained) {
        let (whole_before, whole_after) = (strained.whole_before, strained.whole_after);
        self.strained.push(Strained {
            entry_id: told.id(),
            mesh_um: strained.mesh_um,
            whole_before,
            whole_after,
        });
        if whole_after == Some(false) {
            set_hold(self, told, memo, HoldReason::ForeignMatter, None);
        }
    }
}

impl Aggregate for Run {
    const KIND: SubjectKind = SubjectKind::Run;

    fn apply(&mut self, told: &Told<'_>, memo: &mut Memo) {
        if self.began_at.is_none() {
            (self.began_at, self.on) = (Some(told.at()), Some(told.on()));
        }
        match told.entry {
            Entry::RunOpened(run) => {
                retell(&mut self.name, run.name.as_ref());
                retell(&mut self.extractor, run.extractor.as_ref());
                retell(&mut self.spin, run.spin.as_ref());
            }
            Entry::RunDescribed(run) => {
                retell(&mut self.name, run.name.as_ref());
                retell(&mut self.extractor, run.extractor.as_ref());
                retell(&mut self.spin, run.spin.as_ref());
            }
            Entry::SuperUncapped(uncapped) => {
                self.uncap((told, memo), uncapped.super_id, uncapped.group.as_ref());
            }
            // A box weighed after spinning was spun, even if nobody wrote that it went in (ST-5).
            Entry::WetWeighed(weighed) => self.uncap((told, memo), weighed.super_id, None),
            Entry::RunClosed(_) => {
                self.closed.get_or_insert(Closed {
                    entry_id: told.id(),
                    at: told.at(),
                    by: told.recorded.author,
                });
            }
            Entry::RunReopened(_) => {
                self.closed = None;
                self.reopened += 1;
            }
            Entry::RunDrained(drained) if self.drained.is_none() => {
                let left_in_machine_g = drained.left_in_machine_g;
                self.drained = Some(Drained {
                    entry_id: told.id(),
                    at: told.at(),
                    left_in_machine_g,
                });
            }
            Entry::CappingsWeighed(cappings) => {
                let (honey_g, wax_g) = (cappings.honey_g, cappings.wax_g);
                self.cappings.push(Cappings {
                    entry_id: told.id(),
                    honey_g,
                    wax_g,
                });
            }
            Entry::SampleTaken(sample) => self.samples_g += sample.weight_g.get(),
            Entry::HoneyStrained(strained) => self.strain(told, memo, strained),
            Entry::ContainerFilled(filled) => {
                // Told twice it is one fill, of which the later weighing counts (CF-10).
                let before = self.fills.iter().find(|fill| fill.fill_id == filled.fill_id);
                let group = before.and_then(|fill| fill.group.clone());
                self.fills.retain(|fill| fill.fill_id != filled.fill_id);
                let of_cappings = matches!(filled.source, FillSource::CappingsOfRunId(_));
                self.fills.push(RanInto {
                    fill_id: filled.fill_id,
                    net_g: filled.net_g(),
                    of_cappings,
                    group: filled.group.clone().or(group),
                });
            }
            Entry::MoistureRead(read) => self.readings.push(Reading::of(told, read)),
            _ => {}
        }
    }

    fn label(&self) -> Option<String> {
        self.name.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        match (&self.closed, &self.drained, self.supers.is_empty()) {
            (Some(_), ..) => "closed",
            (None, Some(_), false) if self.supers.iter().all(|uncapped| uncapped.wet) => "weighed",
            (None, Some(_), _) => "drained",
            (None, None, false) => "running",
            (None, None, true) => "open",
        }
    }
}

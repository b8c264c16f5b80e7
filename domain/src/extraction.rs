//! An extraction run: everything between two drained and clean states of one extractor (ID-4).

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::{Common, FlagCode, Hold, HoldReason, Side, state};
use crate::entry::Entry;
use crate::fill::FillSource;
use crate::fold::{Aggregate, Memo, Told};
use crate::form::Form;
use crate::ids::{EntryId, FillId, SuperId};
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

    fn uncap(&mut self, (told, memo): (&Told<'_>, &mut Memo), super_id: SuperId) {
        if self.supers.iter().any(|earlier| earlier.super_id == super_id) {
            return;
        }
        // What arrives after jars were filled was not known to whoever filled them.
        memo.remember(told);
        self.supers.push(Uncapped {
            entry_id: told.id(),
            super_id,
            at: told.at(),
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

    fn strain(&mut self, told: &Told<'_>, strained: &HoneyStrained) {
        let (whole_before, whole_after) = (strained.whole_before, strained.whole_after);
        self.strained.push(Strained {
            entry_id: told.id(),
            mesh_um: strained.mesh_um,
            whole_before,
            whole_after,
        });
        if whole_after == Some(false) {
            self.holds.push(Hold {
                hold_id: told.id(),
                reason: HoldReason::ForeignMatter,
                text: None,
                since: told.at(),
                set_by: told.recorded.author,
                lifted: None,
            });
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
            Entry::SuperUncapped(uncapped) => self.uncap((told, memo), uncapped.super_id),
            // A box weighed after spinning was spun, even if nobody wrote that it went in (ST-5).
            Entry::WetWeighed(weighed) => self.uncap((told, memo), weighed.super_id),
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
            Entry::HoneyStrained(strained) => {
                self.strain(told, strained);
                if let Some(hold) = self.holds.iter_mut().find(|hold| hold.hold_id == told.id()) {
                    hold.lifted = memo.take_lift(told.id());
                }
            }
            Entry::ContainerFilled(filled) => {
                // Told twice it is one fill, of which the later weighing counts (CF-10).
                self.fills.retain(|fill| fill.fill_id != filled.fill_id);
                let of_cappings = matches!(filled.source, FillSource::CappingsOfRunId(_));
                self.fills.push(RanInto {
                    fill_id: filled.fill_id,
                    net_g: filled.net_g(),
                    of_cappings,
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
        match (&self.drained, self.supers.is_empty()) {
            (Some(_), _) => "drained",
            (None, false) => "running",
            (None, true) => "open",
        }
    }
}

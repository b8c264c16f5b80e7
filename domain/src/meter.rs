//! Refractometers and scales: what they are, and when they were last found right.

use chrono::{DateTime, TimeDelta, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::state;
use crate::entry::{Entry, entry};
use crate::fold::{Aggregate, Memo, Told};
use crate::form::Form;
use crate::grown::{Grown, grows};
use crate::ids::{EntryId, MeterId, ScaleId};
use crate::limits::METER_CHECK_DAYS;
use crate::subject::SubjectKind;
use crate::text::Name;
use crate::units::{Grams, Moisture};
use crate::yard::{rename, retell};

entry! {
    /// A refractometer came into use.
    MeterRegistered = "meter_registered" v 1 touches(meter_id)
    {
        /// The meter.
        meter_id: MeterId,
        /// What stands on it.
        name: Name,
        /// Whether it corrects for the temperature of the honey by itself (MO-6).
        compensated: bool,
    }
    optional {}
}

entry! {
    /// Words about a meter changed.
    MeterDescribed = "meter_described" v 1 touches(meter_id) wish DescribeMeter for meter_id: MeterId
    {}
    optional {
        /// What stands on it.
        name: Name,
        /// Whether it corrects for the temperature of the honey by itself.
        compensated: bool,
    }
}

entry! {
    /// A meter was held against a liquid of known value (MO-8).
    MeterChecked = "meter_checked" v 1 touches(meter_id) wish CheckMeter for meter_id: MeterId
    {
        /// Whether it may be trusted.
        passed: bool,
    }
    optional {
        /// What it showed too much, hundredths of a point of water; negative if too little.
        offset_hundredths: i16,
    }
}

entry! {
    /// A scale came into use.
    ScaleRegistered = "scale_registered" v 1 touches(scale_id)
    {
        /// The scale.
        scale_id: ScaleId,
        /// What stands on it.
        name: Name,
    }
    optional {
        /// Its step.
        step_g: Grams,
    }
}

entry! {
    /// Words about a scale changed.
    ScaleDescribed = "scale_described" v 1 touches(scale_id) wish DescribeScale for scale_id: ScaleId
    {}
    optional {
        /// What stands on it.
        name: Name,
        /// Its step.
        step_g: Grams,
    }
}

entry! {
    /// A scale was held against a known weight.
    ScaleChecked = "scale_checked" v 1 touches(scale_id) wish CheckScale for scale_id: ScaleId
    {
        /// Whether it may be trusted.
        passed: bool,
    }
    optional {}
}

/// One check of a meter or scale.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Check {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// Whether it was found right.
    pub passed: bool,
    /// What it showed too much, hundredths of a point of water.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offset_hundredths: Option<i16>,
}

state! {
    /// A refractometer.
    Meter {
        /// What stands on it.
        #[serde(skip_serializing_if = "Option::is_none")]
        name: Option<Name>,
        /// Earlier names.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        former_names: Vec<Name>,
        /// Whether it corrects for temperature by itself.
        #[serde(skip_serializing_if = "Option::is_none")]
        compensated: Option<bool>,
        /// Its checks, in order.
        #[serde(skip_serializing_if = "Grown::is_empty")]
        #[schema(value_type = Vec<Check>)]
        checks: Grown<Check>,
    }
}

state! {
    /// A weighing scale.
    Scale {
        /// What stands on it.
        #[serde(skip_serializing_if = "Option::is_none")]
        name: Option<Name>,
        /// Earlier names.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        former_names: Vec<Name>,
        /// Its step.
        #[serde(skip_serializing_if = "Option::is_none")]
        step_g: Option<Grams>,
        /// Its checks, in order.
        #[serde(skip_serializing_if = "Grown::is_empty")]
        #[schema(value_type = Vec<Check>)]
        checks: Grown<Check>,
    }
}

/// How a meter or scale stood when something was measured with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Found {
    /// Found right not long before, and not found wrong at the next check.
    Right,
    /// Found right, but longer ago than a check holds (MO-8).
    TooLongAgo,
    /// Never checked before.
    Unchecked,
    /// Found wrong at the check before, or at the next one after (MO-8).
    Wrong,
}

/// How long a check holds: for ever, or so many days.
fn found(checks: &[Check], at: DateTime<Utc>, holds: Option<TimeDelta>) -> Found {
    let before = checks.iter().rev().find(|check| check.at <= at);
    let after = checks.iter().find(|check| check.at > at);
    if before.is_some_and(|check| !check.passed) || after.is_some_and(|check| !check.passed) {
        return Found::Wrong;
    }
    match before {
        None => Found::Unchecked,
        Some(check) if holds.is_some_and(|holds| at - check.at > holds) => Found::TooLongAgo,
        Some(_) => Found::Right,
    }
}

impl Meter {
    /// Whether a reading taken then counts: a failed check spoils all readings since the last good one (MO-8), and
    /// those after it until the meter is found right again.
    #[must_use]
    pub fn failed_at(&self, at: DateTime<Utc>) -> bool {
        self.found_at(at) == Found::Wrong
    }

    /// How the meter stood at a time; a check holds seven days (MO-8).
    #[must_use]
    pub fn found_at(&self, at: DateTime<Utc>) -> Found {
        found(&self.checks, at, Some(TimeDelta::days(METER_CHECK_DAYS.get())))
    }

    /// What a reading of a meter found wrong would have been, by what the check says it showed too much: shown beside
    /// the raw value and never instead of it (MO-8). Nothing where the meter was not found wrong or nobody told by how
    /// much.
    #[must_use]
    pub fn corrected(&self, at: DateTime<Utc>, shown: Moisture) -> Option<Moisture> {
        let before = self.checks.iter().rev().find(|check| check.at <= at);
        let after = self.checks.iter().find(|check| check.at > at);
        let wrong = [before, after].into_iter().flatten().find(|check| !check.passed)?;
        Moisture::new(shown.get() - i64::from(wrong.offset_hundredths?)).ok()
    }
}

impl Scale {
    /// How the scale stood at a time (CF-10). No rule says how long its check holds.
    #[must_use]
    pub fn found_at(&self, at: DateTime<Utc>) -> Found {
        found(&self.checks, at, None)
    }
}

impl Aggregate for Meter {
    const KIND: SubjectKind = SubjectKind::Meter;

    grows!(checks);

    fn apply(&mut self, told: &Told<'_>, _: &mut Memo) {
        match told.entry {
            Entry::MeterRegistered(meter) => {
                rename(&mut self.name, &mut self.former_names, Some(&meter.name));
                self.compensated = Some(meter.compensated);
            }
            Entry::MeterDescribed(meter) => {
                rename(&mut self.name, &mut self.former_names, meter.name.as_ref());
                retell(&mut self.compensated, meter.compensated.as_ref());
            }
            Entry::MeterChecked(check) => self.checks.push(Check {
                entry_id: told.id(),
                at: told.at(),
                passed: check.passed,
                offset_hundredths: check.offset_hundredths,
            }),
            _ => {}
        }
    }

    fn label(&self) -> Option<String> {
        self.name.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        last_found(&self.checks)
    }
}

impl Aggregate for Scale {
    const KIND: SubjectKind = SubjectKind::Scale;

    grows!(checks);

    fn apply(&mut self, told: &Told<'_>, _: &mut Memo) {
        match told.entry {
            Entry::ScaleRegistered(scale) => {
                rename(&mut self.name, &mut self.former_names, Some(&scale.name));
                retell(&mut self.step_g, scale.step_g.as_ref());
            }
            Entry::ScaleDescribed(scale) => {
                rename(&mut self.name, &mut self.former_names, scale.name.as_ref());
                retell(&mut self.step_g, scale.step_g.as_ref());
            }
            Entry::ScaleChecked(check) => self.checks.push(Check {
                entry_id: told.id(),
                at: told.at(),
                passed: check.passed,
                offset_hundredths: None,
            }),
            _ => {}
        }
    }

    fn label(&self) -> Option<String> {
        self.name.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        last_found(&self.checks)
    }
}

fn last_found(checks: &Grown<Check>) -> &'static str {
    match checks.newest() {
        None => "never_checked",
        Some(check) if check.passed => "found_right",
        Some(_) => "found_wrong",
    }
}

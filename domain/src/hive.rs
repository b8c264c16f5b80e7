//! A hive: the stand and boxes at one spot, which may be carried to another yard. The bees are a colony (ID-1).

use chrono::{DateTime, NaiveDate, Utc};

use crate::clearing::Cleared;
use crate::common::{Common, FlagCode, state};
use crate::disease::SickStep;
use crate::entry::{Entry, entry};
use crate::feed::FeedStep;
use crate::fold::{Aggregate, Memo, Told};
use crate::grown::{Grown, grows};
use crate::ids::{EntryId, HiveId, YardId};
use crate::inspection::{Inspected, LifeSign};
use crate::left::{LeftOn, OutOfSeason};
use crate::subject::SubjectKind;
use crate::text::Name;
use crate::treatment::TreatmentStep;
use crate::yard::rename;

entry! {
    /// A hive was set up.
    HiveRegistered = "hive_registered" v 1 touches(hive_id)
    {
        /// The hive.
        hive_id: HiveId,
        /// Where it stands.
        yard_id: YardId,
        /// What is painted on it.
        code: Name,
    }
    optional {}
}

entry! {
    /// A hive got another mark.
    HiveDescribed = "hive_described" v 1 touches(hive_id) wish DescribeHive for hive_id: HiveId
    {}
    optional {
        /// What is painted on it.
        code: Name,
    }
}

entry! {
    /// A hive was carried to another yard (AL-7).
    HiveMoved = "hive_moved" v 1 touches(hive_id) wish MoveHive for hive_id: HiveId
    {
        /// Where it stands now.
        yard_id: YardId,
    }
    optional {
        /// The permit or notice it was moved under.
        permit: Name,
    }
}

/// One stay of a hive in a yard.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, crate::form::Form, utoipa::ToSchema)]
pub struct Stay {
    /// The entry that brought it.
    pub entry_id: EntryId,
    /// The yard.
    pub yard_id: YardId,
    /// Since when.
    pub from: DateTime<Utc>,
    /// The day on the wall.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_day: Option<NaiveDate>,
    /// The permit or notice it was moved under.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub permit: Option<Name>,
}

impl Stay {
    /// The day on the wall on which it began.
    #[must_use]
    pub fn day(&self) -> NaiveDate {
        self.from_day.unwrap_or_else(|| self.from.date_naive())
    }
}

state! {
    /// A place for bees.
    Hive {
        /// What is painted on it.
        #[serde(skip_serializing_if = "Option::is_none")]
        code: Option<Name>,
        /// Earlier marks.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        former_codes: Vec<Name>,
        /// Where it stood, in order.
        #[serde(skip_serializing_if = "Grown::is_empty")]
        #[schema(value_type = Vec<Stay>)]
        stays: Grown<Stay>,
        /// What was told of treatments, in order.
        #[serde(skip_serializing_if = "Grown::is_empty")]
        #[schema(value_type = Vec<TreatmentStep>)]
        treatments: Grown<TreatmentStep>,
        /// What was told of feeding, in order.
        #[serde(skip_serializing_if = "Grown::is_empty")]
        #[schema(value_type = Vec<FeedStep>)]
        feedings: Grown<FeedStep>,
        /// What was told of sick bees, in order.
        #[serde(skip_serializing_if = "Grown::is_empty")]
        #[schema(value_type = Vec<SickStep>)]
        sickness: Grown<SickStep>,
        /// What was last seen in it.
        #[serde(skip_serializing_if = "Option::is_none")]
        inspected: Option<Inspected>,
        /// Honey that was left on it, by day.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        honey_left: Vec<LeftOn>,
        /// Seasons whose figures the owner leaves it out of.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        left_out: Vec<OutOfSeason>,
        /// When bees were seen living in it, in order.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        alive: Vec<LifeSign>,
        /// What was last fitted to clear its supers.
        #[serde(skip_serializing_if = "Option::is_none")]
        clearing: Option<Cleared>,
    }
}

impl Hive {
    /// The yard it stood in at a time; before its first entry, where it was first seen.
    #[must_use]
    pub fn yard_at(&self, at: DateTime<Utc>) -> Option<YardId> {
        let stay = self
            .stays
            .iter()
            .rev()
            .find(|stay| stay.from <= at)
            .or_else(|| self.stays.first());
        stay.map(|stay| stay.yard_id)
    }

    /// Takes in a feeding. Told alike within twelve hours, with nothing told of feeding between, by two who did not know
    /// of each other, both count and somebody is asked whether it was one (CF-2).
    fn feed(&mut self, told: &Told<'_>, memo: &mut Memo) {
        let Some(new) = FeedStep::of(told) else { return };
        memo.remember(told);
        let before = self.feedings.newest().filter(|before| before.is_alike(&new));
        if let Some(before) = before.filter(|before| memo.concurrent(before.entry_id, told)) {
            let sides = vec![before.side(), new.side()];
            self.flag(FlagCode::FedTwice, sides);
        }
        self.feedings.push(new);
    }

    /// The yard it stands in.
    #[must_use]
    pub fn yard(&self) -> Option<YardId> {
        self.stays.newest().map(|stay| stay.yard_id)
    }
}

impl Aggregate for Hive {
    const KIND: SubjectKind = SubjectKind::Hive;

    grows!(stays, treatments, feedings, sickness);

    fn apply(&mut self, told: &Told<'_>, memo: &mut Memo) {
        let stay = |yard_id| Stay {
            entry_id: told.id(),
            yard_id,
            from: told.at(),
            from_day: Some(told.on()),
            permit: None,
        };
        self.treatments.extend(TreatmentStep::of(told));
        self.feed(told, memo);
        self.sickness.extend(SickStep::of(told));
        Inspected::take_in(&mut self.inspected, told);
        LeftOn::take_in(&mut self.honey_left, told);
        OutOfSeason::take_in(&mut self.left_out, told);
        LifeSign::take_in(&mut self.alive, told, memo);
        Cleared::take_in(&mut self.clearing, told);
        match told.entry {
            Entry::HiveRegistered(hive) => {
                self.stays.push(stay(hive.yard_id));
                rename(&mut self.code, &mut self.former_codes, Some(&hive.code));
            }
            Entry::HiveDescribed(hive) => rename(&mut self.code, &mut self.former_codes, hive.code.as_ref()),
            Entry::HiveMoved(moved) if self.yard() != Some(moved.yard_id) => {
                self.stays.push(Stay {
                    permit: moved.permit.clone(),
                    ..stay(moved.yard_id)
                });
            }
            _ => {}
        }
    }

    fn label(&self) -> Option<String> {
        self.code.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        "in_use"
    }
}

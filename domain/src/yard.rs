//! A yard: a place with hives, its flow dates and the count of colonies fit to produce.

use chrono::NaiveDate;

use crate::common::state;
use crate::disease::SickStep;
use crate::entry::{Entry, entry};
use crate::fold::{Aggregate, Memo, Told};
use crate::grown::{Grown, grows};
use crate::ids::{EntryId, YardId};
use crate::subject::SubjectKind;
use crate::text::{Name, Text};
use crate::units::{Count, LatitudeE5, LongitudeE5};

entry! {
    /// A yard was taken into use.
    YardRegistered = "yard_registered" v 1 touches(yard_id)
    {
        /// The yard.
        yard_id: YardId,
        /// What people call it.
        name: Name,
    }
    optional {
        /// The short mark that stands in front of hive numbers.
        code: Name,
        /// The ground and what grows there.
        ground: Text,
        /// How far north, in hundred-thousandths of a degree (about a metre); negative in the south.
        latitude_e5: LatitudeE5,
        /// How far east, in hundred-thousandths of a degree; negative in the west.
        longitude_e5: LongitudeE5,
    }
}

entry! {
    /// Words about a yard changed; the later ones count and the former names are kept (CF-6).
    YardDescribed = "yard_described" v 1 touches(yard_id) wish DescribeYard for yard_id: YardId
    {}
    optional {
        /// What people call it.
        name: Name,
        /// The short mark that stands in front of hive numbers.
        code: Name,
        /// The ground and what grows there.
        ground: Text,
        /// How far north, in hundred-thousandths of a degree (about a metre); negative in the south.
        latitude_e5: LatitudeE5,
        /// How far east, in hundred-thousandths of a degree; negative in the west.
        longitude_e5: LongitudeE5,
    }
}

entry! {
    /// Somebody counted the colonies fit to produce: the denominator that everything else needs (AN-1).
    ColoniesCounted = "colonies_counted" v 1 touches(yard_id) wish CountColonies for yard_id: YardId
    {
        /// The day it holds for, as a rule the start of the flow.
        on: NaiveDate,
        /// Colonies fit to produce.
        fit: Count,
    }
    optional {
        /// Colonies alive but not fit.
        unfit: Count,
    }
}

entry! {
    /// The owner set the day on which a yard's flow began (AL-4).
    FlowStarted = "flow_started" v 1 touches(yard_id) wish StartFlow for yard_id: YardId
    {
        /// The first day.
        on: NaiveDate,
    }
    optional {}
}

entry! {
    /// The owner set the day on which a yard's flow ended (AL-4).
    FlowEnded = "flow_ended" v 1 touches(yard_id) wish EndFlow for yard_id: YardId
    {
        /// The last day.
        on: NaiveDate,
    }
    optional {}
}

/// One count of colonies.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, crate::form::Form, utoipa::ToSchema)]
pub struct Counted {
    /// The entry.
    pub entry_id: EntryId,
    /// The day it holds for.
    pub on: NaiveDate,
    /// Colonies fit to produce.
    pub fit: Count,
    /// What others counted on that day who did not know of this count: the true number is one of them (CF-2).
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub or_fit: Vec<Count>,
}

impl Counted {
    /// The fewest and the most there can have been.
    #[must_use]
    pub fn bounds(&self) -> (i64, i64) {
        let all = || self.or_fit.iter().map(|fit| fit.get());
        let fit = self.fit.get();
        (all().fold(fit, i64::min), all().fold(fit, i64::max))
    }
}

/// One flow at a yard.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, crate::form::Form, utoipa::ToSchema)]
pub struct Flow {
    /// The first day.
    pub from: NaiveDate,
    /// The last day, if the owner set one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<NaiveDate>,
}

state! {
    /// A place with hives.
    Yard {
        /// What people call it.
        #[serde(skip_serializing_if = "Option::is_none")]
        name: Option<Name>,
        /// What people called it before.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        former_names: Vec<Name>,
        /// The short mark in front of hive numbers.
        #[serde(skip_serializing_if = "Option::is_none")]
        code: Option<Name>,
        /// The ground.
        #[serde(skip_serializing_if = "Option::is_none")]
        ground: Option<Text>,
        /// How far north, in hundred-thousandths of a degree.
        #[serde(skip_serializing_if = "Option::is_none")]
        latitude_e5: Option<LatitudeE5>,
        /// How far east, in hundred-thousandths of a degree.
        #[serde(skip_serializing_if = "Option::is_none")]
        longitude_e5: Option<LongitudeE5>,
        /// Counts of colonies by day: the latest told, and those it did not know of.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        counts: Vec<Counted>,
        /// Flows, by their first day.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        flows: Vec<Flow>,
        /// What was told of sick bees and of orders of the authority, in order.
        #[serde(skip_serializing_if = "Grown::is_empty")]
        #[schema(value_type = Vec<SickStep>)]
        sickness: Grown<SickStep>,
    }
}

/// Replaces a name and keeps the one before (CF-6).
pub(crate) fn rename(name: &mut Option<Name>, former: &mut Vec<Name>, new: Option<&Name>) {
    let Some(new) = new else { return };
    if let Some(old) = name.replace(new.clone())
        && old != *new
        && !former.contains(&old)
    {
        former.push(old);
    }
}

/// Replaces what was told and leaves the rest.
pub(crate) fn retell<T: Clone>(kept: &mut Option<T>, told: Option<&T>) {
    if let Some(told) = told {
        *kept = Some(told.clone());
    }
}

impl Yard {
    /// The colonies fit to produce on the start of the flow of a year: the count nearest to that day, or the first
    /// of the year where nobody set the day (AN-1).
    #[must_use]
    pub fn fit_at_start_of_flow(&self, year: i32) -> Option<&Counted> {
        use chrono::Datelike;
        let of_year = self.counts.iter().filter(|count| count.on.year() == year);
        match self.flow_of(year) {
            Some(flow) => of_year.min_by_key(|count| ((count.on - flow.from).num_days().abs(), count.on)),
            None => of_year.min_by_key(|count| count.on),
        }
    }

    /// The first flow of a year.
    #[must_use]
    pub fn flow_of(&self, year: i32) -> Option<&Flow> {
        use chrono::Datelike;
        self.flows.iter().find(|flow| flow.from.year() == year)
    }
}

impl Yard {
    /// A later count of a day counts instead of an earlier one that it knew of, and beside one that it did not.
    fn count(&mut self, told: &Told<'_>, memo: &mut Memo, count: &ColoniesCounted) {
        let mut new = Counted {
            entry_id: told.id(),
            on: count.on,
            fit: count.fit,
            or_fit: Vec::new(),
        };
        if let Some(at) = self.counts.iter().position(|earlier| earlier.on == count.on) {
            let earlier = self.counts.remove(at);
            if memo.concurrent(earlier.entry_id, told) {
                new.or_fit = earlier.or_fit;
                new.or_fit.push(earlier.fit);
                new.or_fit.retain(|fit| *fit != count.fit);
                new.or_fit.sort_unstable();
                new.or_fit.dedup();
            }
            memo.forget(earlier.entry_id);
        }
        memo.remember(told);
        self.counts.push(new);
        self.counts.sort_by_key(|count| count.on);
    }
}

impl Aggregate for Yard {
    const KIND: SubjectKind = SubjectKind::Yard;

    grows!(sickness);

    fn apply(&mut self, told: &Told<'_>, memo: &mut Memo) {
        self.sickness.extend(SickStep::of(told));
        match told.entry {
            Entry::YardRegistered(yard) => {
                rename(&mut self.name, &mut self.former_names, Some(&yard.name));
                retell(&mut self.code, yard.code.as_ref());
                retell(&mut self.ground, yard.ground.as_ref());
                retell(&mut self.latitude_e5, yard.latitude_e5.as_ref());
                retell(&mut self.longitude_e5, yard.longitude_e5.as_ref());
            }
            Entry::YardDescribed(yard) => {
                rename(&mut self.name, &mut self.former_names, yard.name.as_ref());
                retell(&mut self.code, yard.code.as_ref());
                retell(&mut self.ground, yard.ground.as_ref());
                retell(&mut self.latitude_e5, yard.latitude_e5.as_ref());
                retell(&mut self.longitude_e5, yard.longitude_e5.as_ref());
            }
            Entry::ColoniesCounted(count) => {
                self.count(told, memo, count);
            }
            Entry::FlowStarted(flow) => {
                self.flows.retain(|earlier| earlier.from != flow.on);
                self.flows.push(Flow {
                    from: flow.on,
                    until: None,
                });
                self.flows.sort_by_key(|flow| flow.from);
            }
            Entry::FlowEnded(end) => {
                if let Some(flow) = self.flows.iter_mut().rev().find(|flow| flow.from <= end.on) {
                    flow.until = Some(end.on);
                }
            }
            _ => {}
        }
    }

    fn label(&self) -> Option<String> {
        self.name.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        "in_use"
    }
}

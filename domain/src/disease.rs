//! Sick bees: suspicion, diagnosis, clearance, and the official stop on moves.
//!
//! Foulbroods and some pests are notifiable in many places: tell the authority, whose text rules. A suspicion is kept
//! as a suspicion (ID-11); whoever ends one names it.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::entry::{Entry, entry, local_date};
use crate::fold::Told;
use crate::form::Form;
use crate::ids::{EntryId, HiveId, MemberId, YardId};
use crate::subject::{Subject, Touch};
use crate::text::{Name, Text};

/// What the bees have, or are thought to have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Disease {
    /// American foulbrood.
    AmericanFoulbrood,
    /// European foulbrood.
    EuropeanFoulbrood,
    /// Small hive beetle.
    SmallHiveBeetle,
    /// Tropilaelaps mites.
    Tropilaelaps,
    /// Chalkbrood.
    Chalkbrood,
    /// Sacbrood.
    Sacbrood,
    /// Sick, of what nobody can tell yet.
    Unknown,
    /// Something else, told in words.
    Other,
}

/// Where sick bees are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SickPlace {
    /// In one hive.
    HiveId(HiveId),
    /// Somewhere in a yard.
    YardId(YardId),
}

impl SickPlace {
    /// The thing itself.
    #[must_use]
    pub fn subject(self) -> Subject {
        match self {
            Self::HiveId(hive) => hive.into(),
            Self::YardId(yard) => yard.into(),
        }
    }
}

impl Touch for SickPlace {
    fn touch(&self, out: &mut Vec<Subject>) {
        out.push(self.subject());
    }
}

entry! {
    /// Somebody suspects a disease (DI-2).
    DiseaseSuspected = "disease_suspected" v 1 touches(place)
    {
        /// Where.
        place: SickPlace,
        /// What it may be.
        disease: Disease,
    }
    optional {
        /// What was seen.
        text: Text,
    }
}

entry! {
    /// A disease was found by somebody who may say so.
    DiseaseDiagnosed = "disease_diagnosed" v 1 touches(place)
    {
        /// Where.
        place: SickPlace,
        /// What it is.
        disease: Disease,
        /// Who found it: laboratory, vet, inspector.
        found_by: Name,
    }
    optional {
        /// The number of sample or report.
        reference: Name,
        /// In words.
        text: Text,
    }
}

entry! {
    /// A suspicion or a diagnosis is over.
    DiseaseCleared = "disease_cleared" v 1 touches(place)
    {
        /// Where.
        place: SickPlace,
        /// The entry that told of it.
        cause_id: EntryId,
        /// Why: the result, or what was done.
        reason: Text,
    }
    optional {
        /// The number of sample or report.
        reference: Name,
    }
}

entry! {
    /// The authority stopped moves out of a yard (DI-3).
    StandstillOrdered = "standstill_ordered" v 1 touches(yard_id) wish OrderStandstill for yard_id: YardId
    {
        /// The number of the order.
        order: Name,
    }
    optional {
        /// Who ordered it.
        authority: Name,
        /// In words.
        text: Text,
    }
}

entry! {
    /// The authority lifted its order.
    StandstillLifted = "standstill_lifted" v 1 touches(yard_id) wish LiftStandstill for yard_id: YardId
    {
        /// The entry that told of the order.
        cause_id: EntryId,
        /// Why, and by whom.
        reason: Text,
    }
    optional {
        /// The number of the notice.
        notice: Name,
    }
}

entry! {
    /// The authority allowed moves in spite of its order.
    StandstillLicensed = "standstill_licensed" v 1 touches(yard_id) wish LicenseMoves for yard_id: YardId
    {
        /// The entry that told of the order.
        cause_id: EntryId,
        /// The number of the licence.
        licence: Name,
    }
    optional {
        /// The last day it holds for; without one, until the order is lifted.
        until: NaiveDate,
    }
}

/// What was told of a disease or an order.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SickAct {
    /// Somebody suspects it.
    Suspected(Disease),
    /// It was found by the one named.
    Diagnosed(Disease, Name),
    /// What that entry told is over, and why.
    Cleared(EntryId, Text),
    /// Moves were stopped by the order of that number.
    Ordered(Name),
    /// The order told by that entry is lifted, and why.
    Lifted(EntryId, Text),
    /// Moves are allowed by the licence of that number in spite of that order, up to a day.
    Licensed(EntryId, Name, Option<NaiveDate>),
}

/// One thing told of sickness in a hive or yard.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct SickStep {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// Minutes east of UTC there.
    pub utc_offset_min: i16,
    /// By whom it was written.
    pub by: MemberId,
    /// What was told.
    pub act: SickAct,
    /// In words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<Text>,
    /// Number of the sample, report or notice; who ordered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reference: Option<Name>,
}

impl SickStep {
    /// The day on the wall.
    #[must_use]
    pub fn on(&self) -> NaiveDate {
        local_date(self.at, self.utc_offset_min)
    }

    /// What an entry tells of sickness, if it tells any.
    pub(crate) fn of(told: &Told<'_>) -> Option<Self> {
        let (act, text, reference) = match told.entry {
            Entry::DiseaseSuspected(new) => (SickAct::Suspected(new.disease), new.text.clone(), None),
            Entry::HiveInspected(looked) => (SickAct::Suspected(looked.suspicion?), looked.text.clone(), None),
            Entry::DiseaseDiagnosed(new) => (
                SickAct::Diagnosed(new.disease, new.found_by.clone()),
                new.text.clone(),
                new.reference.clone(),
            ),
            Entry::DiseaseCleared(end) => (
                SickAct::Cleared(end.cause_id, end.reason.clone()),
                None,
                end.reference.clone(),
            ),
            Entry::StandstillOrdered(new) => (
                SickAct::Ordered(new.order.clone()),
                new.text.clone(),
                new.authority.clone(),
            ),
            Entry::StandstillLifted(end) => (
                SickAct::Lifted(end.cause_id, end.reason.clone()),
                None,
                end.notice.clone(),
            ),
            Entry::StandstillLicensed(new) => (
                SickAct::Licensed(new.cause_id, new.licence.clone(), new.until),
                None,
                None,
            ),
            _ => return None,
        };
        Some(Self {
            entry_id: told.id(),
            at: told.at(),
            utc_offset_min: told.recorded.utc_offset_min,
            by: told.recorded.author,
            act,
            text,
            reference,
        })
    }
}

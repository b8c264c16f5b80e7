//! Treatments of bees: put in, taken out, seen still in, or given at once (TX-2).
//!
//! Told of hives, for that is what a person stands before; which bees it was follows from who lived there. What
//! belongs together and how long it holds is worked out in `holds`. Follow the label; a vet or the authority rules.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::entry::{Entry, entry, local_date};
use crate::fold::Told;
use crate::form::Form;
use crate::ids::{EntryId, HiveId, MedicineId, MemberId};
use crate::medicine::MedicineAmount;
use crate::text::Name;
use crate::units::Days;

/// What a treatment rests on; a suspicion stays a suspicion (ID-11).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// Somebody competent found it.
    Diagnosis,
    /// Somebody suspects it.
    Suspicion,
    /// Neither: it is done every year, or ordered for all.
    Routine,
}

/// How a medicine gets to the bees.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// Strips between the combs.
    Strip,
    /// A pad or tray that gives off vapour.
    Evaporated,
    /// Heated to vapour.
    Sublimated,
    /// Trickled between the combs.
    Trickled,
    /// Sprayed on the bees.
    Sprayed,
    /// In their feed.
    InFeed,
    /// Dusted.
    Dusted,
    /// Otherwise.
    Other,
}

entry! {
    /// Medicine was put into hives, to stay in for a while.
    TreatmentPutIn = "treatment_put_in" v 1 touches(hive_ids)
    {
        /// The hives.
        hive_ids: Vec<HiveId>,
        /// The medicine, from the cupboard's list.
        medicine_id: MedicineId,
    }
    optional {
        /// The maker's batch.
        batch: Name,
        /// How much each hive got.
        per_hive: MedicineAmount,
        /// Against what.
        against: Name,
        /// What that rests on.
        basis: Basis,
        /// How.
        way: Way,
        /// How long it is to stay in.
        duration_days: Days,
    }
}

entry! {
    /// Medicine was given to hives at once: nothing stays in.
    TreatmentGiven = "treatment_given" v 1 touches(hive_ids)
    {
        /// The hives.
        hive_ids: Vec<HiveId>,
        /// The medicine, from the cupboard's list.
        medicine_id: MedicineId,
    }
    optional {
        /// The maker's batch.
        batch: Name,
        /// How much each hive got.
        per_hive: MedicineAmount,
        /// Against what.
        against: Name,
        /// What that rests on.
        basis: Basis,
        /// How.
        way: Way,
        /// How long it works, by its label.
        duration_days: Days,
    }
}

entry! {
    /// Medicine was taken out of hives.
    TreatmentTakenOut = "treatment_taken_out" v 1 touches(hive_ids)
    {
        /// The hives.
        hive_ids: Vec<HiveId>,
    }
    optional {
        /// Which medicine; all that was in, if absent.
        medicine_id: MedicineId,
    }
}

entry! {
    /// Medicine was seen still in hives, whatever was told before.
    TreatmentSeen = "treatment_seen" v 1 touches(hive_ids)
    {
        /// The hives.
        hive_ids: Vec<HiveId>,
    }
    optional {
        /// Which medicine, if it could be told.
        medicine_id: MedicineId,
    }
}

/// What of a treatment was told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TreatmentAct {
    /// It went in.
    PutIn,
    /// It was given at once.
    Given,
    /// It came out.
    TakenOut,
    /// It was seen in.
    Seen,
}

/// One thing told of a treatment of one hive.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct TreatmentStep {
    /// The entry.
    pub entry_id: EntryId,
    /// What was told.
    pub act: TreatmentAct,
    /// When.
    pub at: DateTime<Utc>,
    /// Minutes east of UTC there: a wait ends with a day on the wall.
    pub utc_offset_min: i16,
    /// By whom.
    pub by: MemberId,
    /// The medicine, if it was named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub medicine_id: Option<MedicineId>,
    /// The maker's batch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch: Option<Name>,
    /// How much the hive got.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub per_hive: Option<MedicineAmount>,
    /// Against what.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub against: Option<Name>,
    /// What that rests on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Basis>,
    /// How.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub way: Option<Way>,
    /// How long it is to stay in or to work.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub duration_days: Option<Days>,
}

impl TreatmentStep {
    /// The day on the wall.
    #[must_use]
    pub fn on(&self) -> NaiveDate {
        local_date(self.at, self.utc_offset_min)
    }

    /// What an entry tells of a treatment, if it tells any.
    pub(crate) fn of(told: &Told<'_>) -> Option<Self> {
        let step = |act, medicine_id| Self {
            entry_id: told.id(),
            act,
            at: told.at(),
            utc_offset_min: told.recorded.utc_offset_min,
            by: told.recorded.author,
            medicine_id,
            batch: None,
            per_hive: None,
            against: None,
            basis: None,
            way: None,
            duration_days: None,
        };
        Some(match told.entry {
            Entry::TreatmentPutIn(treated) => Self {
                batch: treated.batch.clone(),
                per_hive: treated.per_hive,
                against: treated.against.clone(),
                basis: treated.basis,
                way: treated.way,
                duration_days: treated.duration_days,
                ..step(TreatmentAct::PutIn, Some(treated.medicine_id))
            },
            Entry::TreatmentGiven(treated) => Self {
                batch: treated.batch.clone(),
                per_hive: treated.per_hive,
                against: treated.against.clone(),
                basis: treated.basis,
                way: treated.way,
                duration_days: treated.duration_days,
                ..step(TreatmentAct::Given, Some(treated.medicine_id))
            },
            Entry::TreatmentTakenOut(out) => step(TreatmentAct::TakenOut, out.medicine_id),
            Entry::TreatmentSeen(seen) => step(TreatmentAct::Seen, seen.medicine_id),
            _ => return None,
        })
    }
}

//! What the owner has settled for the whole operation: whose limits apply, and the house's own.

use crate::common::state;
use crate::entry::{Entry, entry};
use crate::fold::{Aggregate, Memo, Told};
use crate::ids::OperationId;
use crate::limits::{Profile, house_limit_default};
use crate::subject::SubjectKind;
use crate::units::Moisture;

entry! {
    /// The owner chose whose limits and label rules apply.
    ProfileChosen = "profile_chosen" v 1 touches(operation_id)
    {
        /// The operation.
        operation_id: OperationId,
        /// The country's rules.
        profile: Profile,
    }
    optional {}
}

entry! {
    /// The owner set the house's own moisture limit (MO-2).
    HouseLimitSet = "house_limit_set" v 1 touches(operation_id)
    {
        /// The operation.
        operation_id: OperationId,
        /// The most water, hundredths of a per cent.
        moisture_hundredths: Moisture,
    }
    optional {}
}

state! {
    /// What holds for the whole operation.
    Settings {
        /// The country's rules; the EU's until somebody chooses.
        #[serde(skip_serializing_if = "Option::is_none")]
        profile: Option<Profile>,
        /// The house's own limit, if the owner set one.
        #[serde(skip_serializing_if = "Option::is_none")]
        house_limit_hundredths: Option<Moisture>,
    }
}

impl Settings {
    /// Whose limits apply.
    #[must_use]
    pub fn profile(&self) -> Profile {
        self.profile.unwrap_or(Profile::Eu)
    }

    /// The house's limit: the owner's, else the default of the profile (MO-2).
    #[must_use]
    pub fn house_limit(&self) -> Moisture {
        self.house_limit_hundredths
            .unwrap_or_else(|| house_limit_default(self.profile()))
    }
}

impl Aggregate for Settings {
    const KIND: SubjectKind = SubjectKind::Settings;

    fn apply(&mut self, told: &Told<'_>, _: &mut Memo) {
        match told.entry {
            Entry::ProfileChosen(chosen) => self.profile = Some(chosen.profile),
            Entry::HouseLimitSet(limit) => self.house_limit_hundredths = Some(limit.moisture_hundredths),
            _ => {}
        }
    }

    fn label(&self) -> Option<String> {
        None
    }

    fn status(&self) -> &'static str {
        "in_use"
    }
}

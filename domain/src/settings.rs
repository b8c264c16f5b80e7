//! What the owner has settled for the whole operation: whose limits apply, the house's own, and where a value of the
//! profile was found to be another.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::state;
use crate::entry::{Entry, entry};
use crate::fold::{Aggregate, Memo, Told};
use crate::form::Form;
use crate::ids::{EntryId, OperationId};
use crate::limits::{Claim, Profile};
use crate::profile::{Changed, ProfileKey, ProfileValue, Rules};
use crate::subject::SubjectKind;
use crate::text::{Name, Text};
use crate::units::{Count, Days, Grams, Moisture, Percent, Year};
use crate::yard::retell;

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

entry! {
    /// The owner changed a value of a profile, or took the change back.
    ProfileValueChanged = "profile_value_changed" v 1 touches(operation_id)
    {
        /// The operation.
        operation_id: OperationId,
        /// The profile whose value it is; others keep theirs.
        profile: Profile,
        /// What it is about.
        key: ProfileKey,
        /// Why: the text, its edition, or the authority that said so.
        reason: Text,
    }
    optional {
        /// The new value; absent takes the change back.
        value: ProfileValue,
    }
}

entry! {
    /// The owner set how many days holds last where no label says so (FE-1), or the least wait after any medicine.
    HoldDaysSet = "hold_days_set" v 1 touches(operation_id)
    {
        /// The operation.
        operation_id: OperationId,
    }
    optional {
        /// Whole days after feed came off in which a super that goes on is held (FE-1).
        after_feed_days: Days,
        /// The least whole days after a medicine came out, whatever its label says: some organic rules ask for more
        /// than a label that says none.
        least_wait_days: Days,
    }
}

entry! {
    /// The owner said where the business is, so that public figures of that place can stand beside its own.
    RegionChosen = "region_chosen" v 1 touches(operation_id)
    {
        /// The operation.
        operation_id: OperationId,
        /// The country, as its two letters in ISO 3166-1.
        country: Name,
    }
    optional {
        /// The state or province, in the words of its statistics.
        region: Name,
    }
}

entry! {
    /// The owner planned a season: what the forecast is made for. The later plan counts.
    SeasonPlanned = "season_planned" v 1 touches(operation_id)
    {
        /// The operation.
        operation_id: OperationId,
        /// The season.
        season: Year,
        /// Colonies fit to produce at the start of the flow.
        colonies: Count,
    }
    optional {
        /// Into which jars the honey is to go.
        jars: Vec<PlannedJars>,
    }
}

/// A size of jar and how much of the honey is to go into it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct PlannedJars {
    /// What one jar holds, in grams.
    pub size_g: Grams,
    /// The share of the honey, in whole per cent.
    pub share_percent: Percent,
}

/// Where the business is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Region {
    /// The country, as its two letters in ISO 3166-1.
    pub country: Name,
    /// The state or province.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub region: Option<Name>,
}

/// A season as planned.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct PlannedSeason {
    /// The entry.
    pub entry_id: EntryId,
    /// The season.
    pub season: i32,
    /// Colonies fit to produce at the start of the flow.
    pub colonies: Count,
    /// Into which jars the honey is to go.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub jars: Vec<PlannedJars>,
}

/// Days after feed came off, until the owner sets another number (FE-1).
pub const AFTER_FEED_DAYS: Days = Days::constant(14);

state! {
    /// What holds for the whole operation.
    Settings {
        /// The country's rules; the EU's until somebody chooses.
        #[serde(skip_serializing_if = "Option::is_none")]
        profile: Option<Profile>,
        /// The house's own limit, if the owner set one.
        #[serde(skip_serializing_if = "Option::is_none")]
        house_limit_hundredths: Option<Moisture>,
        /// The owner's own values in place of a profile's, one a value.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        changed: Vec<Changed>,
        /// Days after feed, if the owner set them.
        #[serde(skip_serializing_if = "Option::is_none")]
        after_feed_days: Option<Days>,
        /// The least wait after any medicine, if the owner set one.
        #[serde(skip_serializing_if = "Option::is_none")]
        least_wait_days: Option<Days>,
        /// Where the business is.
        #[serde(skip_serializing_if = "Option::is_none")]
        region: Option<Region>,
        /// Seasons as planned, by year.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        plans: Vec<PlannedSeason>,
    }
}

impl Settings {
    /// Whose limits apply.
    #[must_use]
    pub fn profile(&self) -> Profile {
        self.profile.unwrap_or(Profile::Eu)
    }

    /// The rules in force: the profile's under the owner's changes.
    #[must_use]
    pub fn rules(&self) -> Rules<'_> {
        Rules::changed_by(self.profile(), &self.changed)
    }

    /// The house's limit: the owner's, else the default of the profile (MO-2).
    #[must_use]
    pub fn house_limit(&self) -> Moisture {
        self.house_limit_hundredths
            .unwrap_or_else(|| self.rules().house_limit_default())
    }

    /// The most water that honey with this claim may hold (MO-1).
    #[must_use]
    pub fn legal_limit(&self, claim: Claim) -> Moisture {
        self.rules().legal_limit(claim)
    }

    /// The moisture up to which a lot may be released (MO-1, MO-2).
    #[must_use]
    pub fn release_limit(&self, claim: Claim) -> Moisture {
        self.rules().release_limit(claim, Some(self.house_limit()))
    }
}

impl Settings {
    fn change(&mut self, told: &Told<'_>, change: &ProfileValueChanged) {
        let (profile, key) = (change.profile, change.key);
        self.changed
            .retain(|earlier| (earlier.profile, earlier.key) != (profile, key));
        if let Some(value) = change.value {
            self.changed.push(Changed {
                entry_id: told.id(),
                at: told.at(),
                by: told.recorded.author,
                profile,
                key,
                value,
                reason: change.reason.clone(),
            });
        }
    }
}

impl Aggregate for Settings {
    const KIND: SubjectKind = SubjectKind::Settings;

    fn apply(&mut self, told: &Told<'_>, _: &mut Memo) {
        match told.entry {
            Entry::ProfileChosen(chosen) => self.profile = Some(chosen.profile),
            Entry::ProfileValueChanged(change) => self.change(told, change),
            Entry::HouseLimitSet(limit) => self.house_limit_hundredths = Some(limit.moisture_hundredths),
            Entry::HoldDaysSet(days) => {
                retell(&mut self.after_feed_days, days.after_feed_days.as_ref());
                retell(&mut self.least_wait_days, days.least_wait_days.as_ref());
            }
            Entry::RegionChosen(chosen) => {
                self.region = Some(Region {
                    country: chosen.country.clone(),
                    region: chosen.region.clone(),
                });
            }
            Entry::SeasonPlanned(plan) => {
                let season = i32::try_from(plan.season.get()).unwrap_or_default();
                self.plans.retain(|earlier| earlier.season != season);
                self.plans.push(PlannedSeason {
                    entry_id: told.id(),
                    season,
                    colonies: plan.colonies,
                    jars: plan.jars.clone().unwrap_or_default(),
                });
                self.plans.sort_by_key(|plan| plan.season);
            }
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

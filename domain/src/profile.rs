//! What a jurisdiction asks of honey, as data: limits, grades, net content, lot codes, how long records are kept,
//! how soon an authority is answered. Every value names the text it comes from and how it was seen (MO-1, LB-1, RT-1).
//!
//! None of this is legal advice: the text in force and the authority rule, and every value is shown with
//! [`CHECK`]. The owner may tighten or change a value (`settings.rs`); [`Rules`] gives the one in force. What stands
//! on a label is in `profile/label.rs`, what a laboratory finds in `profile/composition.rs`.

use chrono::{DateTime, Months as ChronoMonths, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::form::Form;
use crate::ids::{EntryId, MemberId};
use crate::limits::{Claim, HOUSE_LIMIT_AT_MOST, Profile, READABLE_TO};
use crate::net_content::ContentRule;
use crate::settings::Settings;
use crate::text::Text;
use crate::units::{Days, Moisture, Months};

pub mod composition;
pub mod label;
mod notes;
mod texts;
mod value;

pub use notes::{Note, notes};

pub use value::{LotCodeDuty, ProfileKey, ProfileValue, Source, Sure};

/// What is said beside every value.
pub const CHECK: &str = "No legal advice. Check with your authority: the text in force rules.";

/// One value of a profile.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Row {
    /// What it is about.
    pub key: ProfileKey,
    /// How much.
    pub value: ProfileValue,
    /// Where from.
    pub source: Source,
}

/// The owner's own value.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Changed {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// By whom.
    pub by: MemberId,
    /// The profile it belongs to; another profile keeps its own.
    pub profile: Profile,
    /// What it is about.
    pub key: ProfileKey,
    /// How much.
    pub value: ProfileValue,
    /// Why.
    pub reason: Text,
}

/// A class of quality with its highest moisture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Grade {
    /// The name the grade is traded under.
    pub name: &'static str,
    /// The most water for this grade.
    pub most: Moisture,
    /// The most water if the honey is marked as pasteurized, where the grade knows that.
    pub most_pasteurized: Option<Moisture>,
}

/// A value in force, with its origin.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct InForce {
    /// What it is about.
    pub key: ProfileKey,
    /// What that means, in a sentence.
    pub means: &'static str,
    /// How much.
    pub value: ProfileValue,
    /// What the text says.
    pub text_value: ProfileValue,
    /// The text.
    pub source: Source,
    /// The owner's change, where there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub changed: Option<Changed>,
    /// What to do before relying on it.
    pub check: &'static str,
}

/// Everything that is in force, with its texts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ProfileInForce {
    /// Whose rules.
    pub profile: Profile,
    /// The most water that is released, hundredths of a per cent: the house's own limit within the law's.
    pub house_limit_hundredths: Moisture,
    /// The values.
    pub values: Vec<InForce>,
    /// What a laboratory may find, for reading beside an analysis.
    pub composition: Vec<composition::Limit>,
    /// What else the texts say.
    pub notes: Vec<Note>,
    /// What to do before relying on it.
    pub check: &'static str,
}

impl ProfileInForce {
    /// What an operation has settled.
    #[must_use]
    pub fn of(settings: &Settings) -> Self {
        let rules = settings.rules();
        Self {
            profile: rules.profile(),
            house_limit_hundredths: settings.release_limit(Claim::General),
            values: rules.all(),
            composition: composition::limits(rules.profile()).to_vec(),
            notes: notes(rules.profile()).to_vec(),
            check: CHECK,
        }
    }
}

/// The rules in force: a profile's texts under the owner's changes.
#[derive(Clone, Copy, Debug)]
pub struct Rules<'a> {
    profile: Profile,
    changes: &'a [Changed],
}

impl<'a> Rules<'a> {
    /// What the texts of a profile say, before any change.
    #[must_use]
    pub const fn of_texts(profile: Profile) -> Self {
        Self { profile, changes: &[] }
    }

    /// The same under the owner's changes; those for other profiles are passed over.
    #[must_use]
    pub const fn changed_by(profile: Profile, changes: &'a [Changed]) -> Self {
        Self { profile, changes }
    }

    /// Whose rules these are.
    #[must_use]
    pub const fn profile(self) -> Profile {
        self.profile
    }

    /// What the text says of something; nothing where the profile says nothing.
    #[must_use]
    pub fn text(self, key: ProfileKey) -> Option<&'static Row> {
        texts::rows(self.profile)
            .iter()
            .chain(texts::HABITS)
            .find(|row| row.key == key)
    }

    /// The owner's change of something.
    #[must_use]
    pub fn change(self, key: ProfileKey) -> Option<&'a Changed> {
        self.changes
            .iter()
            .rev()
            .find(|change| change.key == key && (change.profile == self.profile || texts::is_habit(key)))
            .filter(|change| key.takes(change.value) && self.text(key).is_some())
    }

    /// The value in force; nothing where the profile says nothing.
    #[must_use]
    pub fn value(self, key: ProfileKey) -> Option<ProfileValue> {
        let changed = self.change(key).map(|change| change.value);
        changed.or_else(|| Some(self.text(key)?.value))
    }

    /// Every value in force, with its source.
    #[must_use]
    pub fn all(self) -> Vec<InForce> {
        let rows = texts::rows(self.profile).iter().chain(texts::HABITS);
        rows.map(|row| InForce {
            key: row.key,
            means: row.key.means(),
            value: self.value(row.key).unwrap_or(row.value),
            text_value: row.value,
            source: row.source,
            changed: self.change(row.key).cloned(),
            check: CHECK,
        })
        .collect()
    }

    fn moisture(self, key: ProfileKey) -> Option<Moisture> {
        match self.value(key)? {
            ProfileValue::MoistureHundredths(most) => Some(most),
            _ => None,
        }
    }

    /// The grades, best first; empty where honey is not graded.
    #[must_use]
    pub fn grades(self) -> Vec<Grade> {
        use ProfileKey as Key;
        let keys = [
            (Key::MoistureGradeOne, Some(Key::MoistureGradeOnePasteurized)),
            (Key::MoistureGradeTwo, Some(Key::MoistureGradeTwoPasteurized)),
            (Key::MoistureGradeThree, None),
        ];
        let names = texts::grade_names(self.profile);
        let grades = names.iter().zip(keys).filter_map(|(name, (key, pasteurized))| {
            Some(Grade {
                name,
                most: self.moisture(key)?,
                most_pasteurized: pasteurized.and_then(|key| self.moisture(key)),
            })
        });
        grades.collect()
    }

    /// The limit a claim has of its own (MO-1).
    #[must_use]
    pub fn exception(self, claim: Claim) -> Option<Moisture> {
        match claim {
            Claim::General => None,
            Claim::Heather => self.moisture(ProfileKey::MoistureHeather),
            Claim::Bakers => self.moisture(ProfileKey::MoistureBakers),
            Claim::BakersHeather => self.moisture(ProfileKey::MoistureBakersHeather),
        }
    }

    /// The most water that honey with this claim may hold (MO-1). Where the profile has no general limit, its last
    /// grade stands for one; where it has neither, nothing above the scale is honey.
    #[must_use]
    pub fn legal_limit(self, claim: Claim) -> Moisture {
        let general = || self.moisture(ProfileKey::MoistureGeneral);
        let last = || self.grades().last().map(|grade| grade.most);
        self.exception(claim)
            .or_else(general)
            .or_else(last)
            .unwrap_or(READABLE_TO)
    }

    /// The most water of the best grade, not pasteurized; where honey is not graded, the general limit (MO-2).
    #[must_use]
    pub fn best_grade(self) -> Moisture {
        let best = self.grades().first().map(|grade| grade.most);
        best.unwrap_or_else(|| self.legal_limit(Claim::General))
    }

    /// The limit of one's own that an operation starts with: 18.0 %, or half a point below the best grade where that
    /// is less (MO-2).
    #[must_use]
    pub fn house_limit_default(self) -> Moisture {
        let below_best = Moisture::new(self.best_grade().get() - 50).unwrap_or(Moisture::MIN);
        below_best.min(HOUSE_LIMIT_AT_MOST)
    }

    /// The moisture up to which a lot may be released (MO-1, MO-2); `house` is the owner's limit if one was set.
    ///
    /// The house limit counts for honey in general. A claim for which the profile makes an exception is held to that
    /// exception alone, since heather honey would hardly ever meet a house limit. Where the profile knows no exception
    /// the claim changes nothing. No house limit lifts the law.
    #[must_use]
    pub fn release_limit(self, claim: Claim, house: Option<Moisture>) -> Moisture {
        self.exception(claim).unwrap_or_else(|| {
            let house = house.unwrap_or_else(|| self.house_limit_default());
            house.min(self.legal_limit(Claim::General))
        })
    }

    /// How jars are judged by weight (NC-1).
    #[must_use]
    pub fn content_rule(self) -> ContentRule {
        match self.value(ProfileKey::NetContent) {
            Some(ProfileValue::NetContent(rule)) => rule,
            _ => ContentRule::Minimum,
        }
    }

    /// Whether a jar needs a lot code (LO-3).
    #[must_use]
    pub fn lot_code(self) -> LotCodeDuty {
        match self.value(ProfileKey::LotCode) {
            Some(ProfileValue::LotCode(duty)) => duty,
            _ => LotCodeDuty::Always,
        }
    }

    /// A value in days.
    #[must_use]
    pub fn days(self, key: ProfileKey) -> Option<Days> {
        match self.value(key)? {
            ProfileValue::Days(days) => Some(days),
            _ => None,
        }
    }

    /// A value in months.
    #[must_use]
    pub fn months(self, key: ProfileKey) -> Option<Months> {
        match self.value(key)? {
            ProfileValue::Months(months) => Some(months),
            _ => None,
        }
    }

    /// Best before of honey filled on a day, where nobody says otherwise (FI-3).
    #[must_use]
    pub fn best_before(self, filled_on: NaiveDate) -> Option<NaiveDate> {
        let months = self.months(ProfileKey::BestBefore)?;
        filled_on.checked_add_months(ChronoMonths::new(u32::try_from(months.get()).ok()?))
    }

    /// A yes or no; no where the profile says nothing.
    #[must_use]
    pub fn yes(self, key: ProfileKey) -> bool {
        self.value(key) == Some(ProfileValue::Yes(true))
    }
}

#[cfg(test)]
mod tests;

//! How much water honey may hold, by jurisdiction and by what is claimed of it (MO-1, MO-2), and the bounds and
//! ages that readings are held against (MO-4, MO-8, MO-11).
//!
//! Not here: the limits themselves with their texts, which are data (`profile.rs`), how a reading becomes a moisture
//! (`science::moisture`), and whether a lot may be released.

use serde::{Deserialize, Serialize};

use crate::form::Form;
use crate::profile::Rules;
use crate::units::{Days, Moisture};

/// A moisture reading below this cannot be honey (MO-4). Our own choice; scales commonly end at 13 and 25 %.
pub const READABLE_FROM: Moisture = Moisture::constant(1_000);
/// A moisture reading above this cannot be honey (MO-4). Our own choice.
pub const READABLE_TO: Moisture = Moisture::constant(3_500);
/// A moisture reading below this is worth a question (MO-4). Our own choice.
pub const WARN_BELOW: Moisture = Moisture::constant(1_400);
/// The highest house limit that is ever a default (MO-2). Our own choice, inside the first classes of MO-3.
pub const HOUSE_LIMIT_AT_MOST: Moisture = Moisture::constant(1_800);
/// A reading older than this is taken again before bottling (MO-11). Our own choice.
pub const RE_MEASURE_DAYS: Days = Days::constant(14);
/// A reading of honey in bulk store older than this is taken again (MO-11). Our own choice.
pub const BULK_RE_MEASURE_DAYS: Days = Days::constant(90);
/// Readings of a meter whose check is older than this are amber (MO-8). Our own choice.
pub const METER_CHECK_DAYS: Days = Days::constant(7);

/// The jurisdiction whose limits and labels the operation follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, Form, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Profile {
    /// The European Union.
    Eu,
    /// England.
    UkEngland,
    /// Canada.
    Canada,
    /// The United States of America.
    Usa,
}

/// What is claimed of honey, as far as it changes its limit of moisture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, Form, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Claim {
    /// Honey as such, and every floral claim without an exception.
    General,
    /// From ling heather, Calluna.
    Heather,
    /// Baker's honey, for cooking only.
    Bakers,
    /// Baker's honey from ling heather.
    BakersHeather,
}

impl Claim {
    /// Whether it names a plant, for which the lot needs a reason (LB-2).
    #[must_use]
    pub const fn is_floral(self) -> bool {
        matches!(self, Self::Heather | Self::BakersHeather)
    }
}

/// What is remarkable about a moisture that can be true (MO-4).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, Form, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ReadingWarning {
    /// Drier than honey usually gets.
    UnusuallyDry,
    /// Wetter than the house limit.
    AboveHouseLimit,
}

/// The most water that honey with this claim may hold by the texts of a profile (MO-1); `Settings::legal_limit` has
/// the one in force.
#[must_use]
pub fn legal_limit(profile: Profile, claim: Claim) -> Moisture {
    Rules::of_texts(profile).legal_limit(claim)
}

/// The limit of one's own that a new operation starts with (MO-2).
#[must_use]
pub fn house_limit_default(profile: Profile) -> Moisture {
    Rules::of_texts(profile).house_limit_default()
}

/// The moisture up to which a lot may be released by the texts of a profile (MO-1, MO-2); `Settings::release_limit`
/// has the one in force.
#[must_use]
pub fn release_limit(profile: Profile, claim: Claim, house: Option<Moisture>) -> Moisture {
    Rules::of_texts(profile).release_limit(claim, house)
}

/// Whether a moisture that can be true deserves a question, held against the house limit (MO-4). The bounds
/// themselves do not.
#[must_use]
pub fn reading_warning(moisture: Moisture, house_limit: Moisture) -> Option<ReadingWarning> {
    if moisture < WARN_BELOW {
        Some(ReadingWarning::UnusuallyDry)
    } else if moisture > house_limit {
        Some(ReadingWarning::AboveHouseLimit)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PROFILES: [Profile; 4] = [Profile::Eu, Profile::UkEngland, Profile::Canada, Profile::Usa];
    const CLAIMS: [Claim; 4] = [Claim::General, Claim::Heather, Claim::Bakers, Claim::BakersHeather];

    #[test]
    fn eu_and_english_limits_are_those_of_the_directive() {
        // MO-1; Directive 2001/110/EC annex II, read in transpositions.
        for profile in [Profile::Eu, Profile::UkEngland] {
            assert_eq!(
                CLAIMS.map(|claim| legal_limit(profile, claim).get()),
                [2_000, 2_300, 2_300, 2_500]
            );
        }
    }

    #[test]
    fn north_america_grades_honey_and_knows_no_exception() {
        // MO-1; sources at the tables.
        let grades = |profile| Rules::of_texts(profile).grades();
        let most = |profile| grades(profile).iter().map(|grade| grade.most.get()).collect::<Vec<_>>();
        assert_eq!(most(Profile::Canada), [1_780, 1_860, 2_000]);
        assert_eq!(most(Profile::Usa), [1_860, 1_860, 2_000]);
        let canada = grades(Profile::Canada);
        let pasteurized = canada.iter().map(|grade| grade.most_pasteurized.map(Moisture::get));
        assert_eq!(pasteurized.collect::<Vec<_>>(), [Some(1_860), Some(2_000), None]);
        for profile in [Profile::Canada, Profile::Usa] {
            assert_eq!(CLAIMS.map(|claim| legal_limit(profile, claim).get()), [2_000; 4]);
        }
    }

    #[test]
    fn the_house_limit_starts_at_18_or_half_a_point_below_the_best_grade() {
        // MO-2.
        assert_eq!(
            PROFILES.map(|profile| house_limit_default(profile).get()),
            [1_800, 1_800, 1_730, 1_800]
        );
        assert_eq!(
            PROFILES.map(|profile| Rules::of_texts(profile).best_grade().get()),
            [2_000, 2_000, 1_780, 1_860]
        );
    }

    #[test]
    fn heather_is_held_to_the_law_and_other_honey_to_the_house() {
        // MO-1, MO-2.
        let house = Some(Moisture::constant(1_750));
        assert_eq!(release_limit(Profile::Eu, Claim::General, house).get(), 1_750);
        assert_eq!(release_limit(Profile::Eu, Claim::General, None).get(), 1_800);
        assert_eq!(release_limit(Profile::Eu, Claim::Heather, house).get(), 2_300);
        assert_eq!(
            release_limit(Profile::UkEngland, Claim::BakersHeather, house).get(),
            2_500
        );
        assert_eq!(release_limit(Profile::Canada, Claim::Heather, None).get(), 1_730);
        assert_eq!(
            release_limit(Profile::Eu, Claim::General, Some(Moisture::constant(2_400))).get(),
            2_000
        );
    }

    #[test]
    fn a_release_never_exceeds_the_law() {
        for profile in PROFILES {
            for claim in CLAIMS {
                for house in (0..=10_000).step_by(50) {
                    let limit = release_limit(profile, claim, Some(Moisture::constant(house)));
                    assert!(limit <= legal_limit(profile, claim));
                }
            }
        }
    }

    #[test]
    fn a_reading_below_14_or_above_the_house_limit_is_questioned() {
        // MO-4.
        let house = Moisture::constant(1_800);
        let warn = |hundredths| reading_warning(Moisture::constant(hundredths), house);
        assert_eq!(warn(1_399), Some(ReadingWarning::UnusuallyDry));
        assert_eq!(warn(1_400), None);
        assert_eq!(warn(1_800), None);
        assert_eq!(warn(1_801), Some(ReadingWarning::AboveHouseLimit));
    }
}

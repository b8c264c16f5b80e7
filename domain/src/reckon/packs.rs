//! What the law lets a jar lack and honey hold: net content and moisture by jurisdiction.

use core::convert::Infallible;

use crate::described::{answered, asked};
use crate::limits::{self, Claim, Profile};
use crate::net_content::{self, ContentFailure, ContentRule, NetContentRefused};
use crate::profile::Rules;
use crate::science::sampling::{self, Plan, SampleVerdict, SamplingRefused};
use crate::science::sources::{CANADA_GRADES, CANADA_PACKS, GERMAN_PACKS, HONEY_DIRECTIVE, UK_PACKS, US_GRADES};
use crate::units::{Count, Grams, Moisture};

use super::{Computation, computation};

pub(super) const ALL: &[Computation] = &[
    computation! {
        "pack_limits": pack_limits as (PackAsked) -> PackLimits,
        does "How much a pack may lack in the average system, and the two limits that follow.",
        from [GERMAN_PACKS, UK_PACKS],
        rules ["NC-1", "NC-2"],
        holds "Packs from 5 g to 25 kg, refused beyond. The text in force rules.",
    },
    computation! {
        "check_weights": check_weights as (WeightsAsked) -> Checked,
        does "Whether the packs of a filling that were weighed hold what their label says.",
        from [GERMAN_PACKS, UK_PACKS],
        rules ["NC-1", "NC-2", "NC-3"],
        holds "The packs that were weighed, nothing else; for a lot see sample_check. The text in force rules.",
    },
    computation! {
        "sample_check": sample_check as (SampleAsked) -> SampleVerdict,
        does "Whether a lot holds what its labels say, by the sampling plan of Canada or Germany.",
        from [CANADA_PACKS, GERMAN_PACKS],
        rules ["NC-1", "NC-2"],
        holds "Lots of 2 packs and more in Canada, of 10 and more in Germany. The text in force rules.",
    },
    computation! {
        "moisture_limits": moisture_limits as (LimitsAsked) -> MoistureLimits,
        does "The most water that honey may hold by law, for its claim and up to which a lot is released.",
        from [HONEY_DIRECTIVE, CANADA_GRADES, US_GRADES],
        rules ["MO-1", "MO-2"],
        holds "Honey of honey bees under the profile chosen. Not legal advice: the text in force rules.",
    },
];

asked! {
    /// A pack.
    PackAsked {
        /// Its nominal mass.
        nominal_g: Grams, "grams", "454";
    }
}

answered! {
    /// What a pack may lack.
    PackLimits {
        /// The tolerable negative error.
        error_tenths_g: i64, "tenths of a gram";
        /// Few packs may lie below this.
        t1_tenths_g: i64, "tenths of a gram";
        /// No pack may lie below this.
        t2_tenths_g: i64, "tenths of a gram";
        /// The same by the German table of doubled errors, which rounds once.
        german_t2_tenths_g: i64, "tenths of a gram";
    }
}

asked! {
    /// Packs that were weighed.
    WeightsAsked {
        /// Their nominal mass.
        nominal_g: Grams, "grams", "500";
        /// Their net weights.
        weights_tenths_g: Vec<i64>, "tenths of a gram", "[5010,4990,5030]";
        /// How they are judged.
        rule: ContentRule, "one of the words", "\"average_eu\"";
    }
}

answered! {
    /// What the weights say.
    Checked {
        /// Whether nothing speaks against the packs.
        passes: bool, "true or false";
        /// What speaks against them, the gravest first.
        failures: Vec<ContentFailure>, "the words";
        /// Their mean, rounded down.
        mean_tenths_g: i64, "tenths of a gram";
        /// How many lie below the nominal mass.
        below_nominal: i64, "packs";
        /// How many lie below the first limit.
        below_t1: i64, "packs";
        /// How many lie below the second limit.
        below_t2: i64, "packs";
    }
}

asked! {
    /// A lot of which a sample was weighed.
    SampleAsked {
        /// Whose plan is followed.
        plan: Plan, "one of the words", "\"canada\"";
        /// The nominal mass of each pack.
        nominal_g: Grams, "grams", "500";
        /// How many packs the lot has.
        lot_packs: Count, "packs", "40";
        /// The net weights of those that were weighed.
        weights_tenths_g: Vec<i64>, "tenths of a gram", "[5010,4990,5030,5000,4980,5020,4970,5050,5000,4990]";
    }
}

asked! {
    /// Whose limits are asked for.
    LimitsAsked {
        /// The jurisdiction.
        profile: Profile, "one of the words", "\"eu\"";
        /// What is claimed of the honey; `general` if left out.
        claim: Option<Claim>, "one of the words", "\"general\"";
        /// The owner's own limit.
        house_moisture_hundredths: Option<Moisture>, "hundredths of a per cent of mass", "1800";
    }
}

answered! {
    /// A grade.
    GradeLimit {
        /// The name it is traded under.
        grade: &'static str, "words";
        /// The most water for it.
        most_moisture_hundredths: Moisture, "hundredths of a per cent of mass";
        /// The most if marked as pasteurized, where the grade knows that.
        most_pasteurized_moisture_hundredths: Option<Moisture>, "hundredths of a per cent of mass";
    }
}

answered! {
    /// How much water honey may hold.
    MoistureLimits {
        /// By law, or by the last grade where no law says.
        legal_moisture_hundredths: Moisture, "hundredths of a per cent of mass";
        /// Up to which a lot is released.
        release_moisture_hundredths: Moisture, "hundredths of a per cent of mass";
        /// The grades, best first; none where honey is not graded.
        grades: Vec<GradeLimit>, "grades";
    }
}

fn pack_limits(asked: PackAsked) -> Result<PackLimits, NetContentRefused> {
    let limits = net_content::pack_limits(asked.nominal_g)?;
    Ok(PackLimits {
        error_tenths_g: limits.error_tenths_g,
        t1_tenths_g: limits.t1_tenths_g,
        t2_tenths_g: limits.t2_tenths_g,
        german_t2_tenths_g: net_content::german_t2_tenths_g(asked.nominal_g)?,
    })
}

fn check_weights(asked: WeightsAsked) -> Result<Checked, NetContentRefused> {
    let verdict = net_content::judge(asked.nominal_g, &asked.weights_tenths_g, asked.rule)?;
    let packs = |count: usize| i64::try_from(count).unwrap_or(i64::MAX);
    Ok(Checked {
        passes: verdict.passes(),
        mean_tenths_g: verdict.mean_tenths_g,
        below_nominal: packs(verdict.below_nominal),
        below_t1: packs(verdict.below_t1),
        below_t2: packs(verdict.below_t2),
        failures: verdict.failures,
    })
}

fn sample_check(asked: SampleAsked) -> Result<SampleVerdict, SamplingRefused> {
    sampling::judge(
        asked.plan,
        asked.nominal_g,
        asked.lot_packs.get(),
        &asked.weights_tenths_g,
    )
}

fn moisture_limits(asked: LimitsAsked) -> Result<MoistureLimits, Infallible> {
    let claim = asked.claim.unwrap_or(Claim::General);
    let grades = Rules::of_texts(asked.profile)
        .grades()
        .into_iter()
        .map(|grade| GradeLimit {
            grade: grade.name,
            most_moisture_hundredths: grade.most,
            most_pasteurized_moisture_hundredths: grade.most_pasteurized,
        });
    Ok(MoistureLimits {
        legal_moisture_hundredths: limits::legal_limit(asked.profile, claim),
        release_moisture_hundredths: limits::release_limit(asked.profile, claim, asked.house_moisture_hundredths),
        grades: grades.collect(),
    })
}

//! What the weights of full jars say by the rules of a country (NC-1 to NC-3): shown, not shown, or broken, and what
//! to do.
//!
//! A sample is not the batch. A rule **passes** only where the whole batch was weighed, or where the sample shows with
//! the confidence asked that the batch keeps it; it **fails** where the jars weighed break it themselves, or where an
//! authority's test of them would. Between the two nothing is shown. Nothing is rounded in the packer's favour.
//! Shares of jars not weighed suppose that fillings scatter normally. Not here: the arithmetic of the limits
//! (`net_content.rs`) and the sampling plans (`tables`).

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::form::Form;
use crate::limits::Profile;
use crate::plan::Reason;
use crate::plan::described::{chosen_from, planned};
use crate::units::{Count, Grams, PerMille, TenthsGrams};

mod judge;
pub(crate) mod limits;
pub(crate) mod tables;
mod words;

pub use judge::check_net_content;
pub(crate) use judge::least_spread;

/// A confidence where nobody says otherwise.
pub const CONFIDENCE: PerMille = PerMille::constant(950);
/// The step of a scale where nobody says otherwise.
pub const SCALE_STEP: TenthsGrams = TenthsGrams::constant(10);

/// By which rules a batch of jars is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Scheme {
    /// The average system of the European Union, in the German text: at most 2 % below the first limit.
    Eu,
    /// The average system of the United Kingdom, in its guidance: at most 2.5 % below the first limit.
    Uk,
    /// Canada's lot check.
    Canada,
    /// The average system of the United States; its limit for the single jar was not read and is not judged here.
    Usa,
    /// No jar below its nominal mass.
    Minimum,
}

impl From<Profile> for Scheme {
    fn from(profile: Profile) -> Self {
        match profile {
            Profile::Eu => Self::Eu,
            Profile::UkEngland => Self::Uk,
            Profile::Canada => Self::Canada,
            Profile::Usa => Self::Usa,
        }
    }
}

planned! {
    /// Weights of full jars of one batch.
    ContentAsked {
        /// By which rules.
        scheme: Scheme, "a word", r#""eu""#;
        /// What the label declares.
        nominal_g: Grams, "grams", "500";
        /// Jars in the batch.
        jars: Count, "jars", "120";
        /// What the jars weighed hold, net of their tare.
        net_tenths_g: Vec<i64>, "tenths of a gram each",
            "[5020, 5050, 5010, 5040, 5060, 5030, 5020, 5040, 5050, 5030, 5010, 5040, 5030, 5060, 5020]";
        /// The step of the scale; 1 g if left out.
        scale_step_tenths_g: Option<TenthsGrams>, "tenths of a gram", "10";
        /// How sure a pass has to be; 950 if left out.
        confidence_per_mille: Option<PerMille>, "thousandths", "950";
    }
}

/// What is known of a rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Shown {
    /// It is kept.
    Pass,
    /// Neither.
    NotShown,
    /// It is broken.
    Fail,
}

/// One rule of a scheme.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ContentPoint {
    /// The jars hold on average what they declare.
    Mean,
    /// Few jars lie below the first limit.
    FewBelowFirst,
    /// No jar lies below the second limit.
    NoneBelowSecond,
    /// No jar lies below its nominal mass.
    NoneBelowNominal,
    /// No jar lies below a limit that was not read.
    SingleJar,
}

planned! {
    /// What is known of one rule.
    PointChecked {
        /// Which.
        point: ContentPoint, "a word";
        /// What is known.
        shown: Shown, "a word";
        /// Why.
        reason: Reason, "a reason";
    }
}

planned! {
    /// What the weights say.
    ContentChecked {
        /// The worst of its rules.
        verdict: Shown, "a word";
        /// Jars weighed.
        weighed: i64, "jars";
        /// Whether that is the whole batch.
        whole_batch: bool, "true or false";
        /// Their mean, rounded down.
        mean_hundredths_g: i64, "hundredths of a gram";
        /// Their standard deviation (n - 1), rounded up; absent for a single jar.
        spread_hundredths_g: Option<i64>, "hundredths of a gram";
        /// Jars below what is declared.
        below_nominal: i64, "jars";
        /// Jars below the first limit, those below the second included; absent where the scheme has none that was read.
        below_first: Option<i64>, "jars";
        /// Jars below the second limit.
        below_second: Option<i64>, "jars";
        /// Rule by rule.
        points: Vec<PointChecked>, "rules";
        /// Jars an authority would weigh of this batch; absent where no plan was read.
        official_sample_jars: Option<i64>, "jars";
        /// The greatest declaration, in whole grams and not above the present one, that these weights would pass; absent
        /// where there is none, or where the present one passes.
        relabel_g: Option<i64>, "grams";
        /// What to do, the most urgent first.
        to_do: Vec<Reason>, "reasons";
    }
}

chosen_from! {
    Scheme: ["eu", "uk", "canada", "usa", "minimum"],
    Shown: ["pass", "not_shown", "fail"],
    ContentPoint: ["mean", "few_below_first", "none_below_second", "none_below_nominal", "single_jar"],
}

/// Weights that cannot be judged.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ContentCheckRefused {
    /// No jar was weighed.
    #[error("no jar was weighed; weigh five at the start, five in the middle and five at the end")]
    NothingWeighed,
    /// More jars were weighed than there are.
    #[error("{weighed} jars were weighed of a batch of {jars}; correct one of the two")]
    MoreThanThereAre {
        /// Weights given.
        weighed: usize,
        /// Jars in the batch.
        jars: i64,
    },
    /// A jar that weighs nothing, or more than any jar.
    #[error("jar {place} holds {tenths_g} tenths of a gram, which no full jar does; weigh it again, net of its tare")]
    NoWeight {
        /// Which, counted from 1.
        place: usize,
        /// What was given.
        tenths_g: i64,
    },
    /// A nominal mass that the scheme does not know.
    #[error("this scheme judges packs from 5 g to 25 kg, and {nominal_g} g is not among them")]
    OutsideScheme {
        /// The nominal mass.
        nominal_g: i64,
    },
    /// A confidence that shows nothing, or that nothing reaches.
    #[error("a confidence of {per_mille} thousandths is out of use; give 500 to 999")]
    Confidence {
        /// What was given.
        per_mille: i64,
    },
}

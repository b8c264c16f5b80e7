//! How many jars of which size a lot gives, how full each is aimed at, and how they are checked (NC-1 to NC-3, SA-1).
//!
//! **How full.** The aim of a size is the least mass, in whole steps of the scale, for which the rules of the scheme
//! hold for jars not yet filled, judged by the spread of those already filled and by how many they were: the mean of
//! the batch, few jars below the first limit, none below the second (each rule in `aim`). Half a step is added, since
//! a scale shows no finer. Where nobody knows the spread, two grams more than declared, which is habit and shows nothing.
//!
//! **How many.** Sizes of a lower priority number come first. Among those of one number jar after jar goes to the size
//! that is furthest below its share of the honey, as long as there are honey, jars and lids for it and no more are
//! wanted. Nothing is better by that order: no size can have a jar more without one before it having less.
//!
//! A plan fills nothing and releases nothing: whether the lot may be bottled is decided (`decide`). Fractions stay in
//! here; figures come out rounded away from the packer's favour.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::form::Form;
use crate::plan::Reason;
use crate::plan::described::{chosen_from, planned};
use crate::plan::net_content::Scheme;
use crate::text::Name;
use crate::units::{Count, Grams, HundredthsGrams, PerMille, TenthsGrams};

mod aim;
mod at_hand;
mod planned;
mod share_out;
mod words;

pub use at_hand::{BottlingWish, JarEntry, bottling_from_house};
pub use planned::plan_bottling;

/// Jars kept back of a lot where nobody says otherwise (SA-1). Common practice, no source.
pub const RETAINED: Count = Count::constant(2);
/// Aimed at above the declaration where the spread is unknown, tenths of a gram. Common practice, no source.
pub const HABIT_TENTHS_G: i64 = 20;
/// More jars are not filled by one plan.
pub const MOST_JARS: i64 = 200_000;
/// More sizes are not looked at in one plan.
pub const MOST_SIZES: usize = 50;

planned! {
    /// A lot to be bottled.
    BottlingAsked {
        /// By which rules the jars are judged.
        scheme: Scheme, "a word", r#""eu""#;
        /// Honey there is, net.
        available_g: Grams, "grams", "120000";
        /// What stays in the tank.
        heel_g: Option<Grams>, "grams", "2000";
        /// What is lost in sieve and hose, of all that leaves the tank.
        loss_per_mille: Option<PerMille>, "thousandths", "10";
        /// Jars kept back; 2 if left out (SA-1).
        retained_jars: Option<Count>, "jars", "2";
        /// The step of the scale; 1 g if left out.
        scale_step_tenths_g: Option<TenthsGrams>, "tenths of a gram", "10";
        /// How sure it has to be that the rules hold; 950 if left out.
        confidence_per_mille: Option<PerMille>, "thousandths", "950";
        /// What a kilogram is worth, for what overfilling costs.
        price_per_kg_hundredths: Option<Count>, "hundredths of the currency", "1100";
        /// The sizes wanted.
        sizes: Vec<JarSize>, "sizes",
            r#"[{"label": "500 g", "nominal_g": 500, "share": 2, "spread_hundredths_g": 180, "spread_jars": 15, "jars_on_hand": 300}, {"label": "250 g", "nominal_g": 250, "share": 1, "spread_hundredths_g": 150, "spread_jars": 15}]"#;
        /// Lids that several sizes share.
        #[serde(default)]
        lids: Vec<LidsOnHand>, "lids", r#"[{"lid": "82 mm", "on_hand": 200}]"#;
    }
}

planned! {
    /// A size of jar.
    JarSize {
        /// What people call it; no two alike.
        label: Name, "words";
        /// What its label declares.
        nominal_g: Grams, "grams";
        /// Which sizes come first: 1 before 2. 1 if left out.
        priority: Option<Count>, "a rank";
        /// Its part of the honey among sizes of one priority. 1 if left out.
        share: Option<Count>, "parts";
        /// Jars wanted for sale; as many as can be if left out.
        jars_wanted: Option<Count>, "jars";
        /// Empty jars there are; enough if left out.
        jars_on_hand: Option<Count>, "jars";
        /// Which lid it takes; lids are enough if left out.
        lid: Option<Name>, "words";
        /// Standard deviation (n - 1) of jars filled like this.
        spread_hundredths_g: Option<HundredthsGrams>, "hundredths of a gram";
        /// Of how many jars that was reckoned.
        spread_jars: Option<Count>, "jars";
    }
}

planned! {
    /// Lids of one kind.
    LidsOnHand {
        /// What kind.
        lid: Name, "words";
        /// How many.
        on_hand: Count, "lids";
    }
}

/// Which rule asks for the most.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum AimedBy {
    /// The mean of the batch.
    Mean,
    /// Few jars below the first limit.
    FewBelowFirst,
    /// No jar below the second limit.
    NoneBelowSecond,
    /// No jar below its nominal mass.
    NoneBelowNominal,
    /// The spread is unknown.
    Habit,
}

/// What ends the filling of a size.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum EndedBy {
    /// The honey, or the sizes before it.
    Honey,
    /// Its empty jars.
    Jars,
    /// Its lids.
    Lids,
    /// No more were wanted.
    Wanted,
}

chosen_from! {
    AimedBy: ["mean", "few_below_first", "none_below_second", "none_below_nominal", "habit"],
    EndedBy: ["honey", "jars", "lids", "wanted"],
}

planned! {
    /// What is planned of one size.
    SizePlanned {
        /// What people call it.
        label: Name, "words";
        /// What its label declares.
        nominal_g: Grams, "grams";
        /// Jars to fill.
        jars: i64, "jars";
        /// Of these, kept back (SA-1).
        jars_retained: i64, "jars";
        /// Of these, for sale.
        jars_for_sale: i64, "jars";
        /// How full each is aimed at, net.
        aim_tenths_g: i64, "tenths of a gram";
        /// How much that is above the declaration.
        over_tenths_g: i64, "tenths of a gram";
        /// Which rule asks for it.
        aimed_by: AimedBy, "a word";
        /// Few jars may lie below it; absent where the scheme has no such limit that was read.
        first_limit_mg: Option<i64>, "milligrams";
        /// None may lie below it.
        second_limit_mg: Option<i64>, "milligrams";
        /// Honey in these jars, rounded up.
        filled_g: i64, "grams";
        /// Honey above the declaration in these jars, rounded up.
        given_away_g: i64, "grams";
        /// What ended it.
        ended_by: EndedBy, "a word";
        /// How it is checked.
        check: CheckPlanned, "a check";
    }
}

planned! {
    /// How a batch of jars is checked.
    CheckPlanned {
        /// Empty jars to weigh for the tare.
        tare_jars: i64, "jars";
        /// Full jars to weigh at the start.
        start_jars: i64, "jars";
        /// Full jars to weigh in the middle.
        middle_jars: i64, "jars";
        /// Full jars to weigh at the end.
        end_jars: i64, "jars";
        /// Jars an authority would weigh of this batch; absent where no plan was read.
        official_sample_jars: Option<i64>, "jars";
        /// Jars that will show the mean if they come out as aimed; the batch where no sample will; absent without a spread.
        to_show_mean_jars: Option<i64>, "jars";
    }
}

planned! {
    /// What to fill, and why.
    BottlingPlan {
        /// Size by size, as asked.
        sizes: Vec<SizePlanned>, "sizes";
        /// All jars.
        jars: i64, "jars";
        /// Jars kept back.
        jars_retained: i64, "jars";
        /// Honey in jars, rounded up.
        filled_g: i64, "grams";
        /// Honey lost on the way, rounded up.
        lost_g: i64, "grams";
        /// Honey above the declarations, rounded up.
        given_away_g: i64, "grams";
        /// What that is worth, rounded up.
        given_away_hundredths: Option<i64>, "hundredths of the currency";
        /// What stays in the tank, the heel included.
        left_g: i64, "grams";
        /// Why it is so.
        reasons: Vec<Reason>, "reasons";
    }
}

/// A question that cannot be answered.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BottlingPlanRefused {
    /// Two sizes or two kinds of lid with one name.
    #[error("{label} is there twice; give each a name of its own")]
    TwoOfOneLabel {
        /// Which list.
        field: &'static str,
        /// The name.
        label: String,
    },
    /// More sizes than one plan looks at.
    #[error("{given} sizes are more than the {MOST_SIZES} that one plan looks at")]
    TooMany {
        /// How many there were.
        given: usize,
    },
    /// More jars than one plan fills.
    #[error("that could be more than {MOST_JARS} jars; plan the lot in parts, or leave out the smallest size")]
    TooManyJars,
    /// A lid that is not in the list.
    #[error(
        "{label} takes the lid {lid}, of which nobody says how many there are; add it to lids, or leave the lid out"
    )]
    UnknownLid {
        /// The size.
        label: String,
        /// The lid.
        lid: String,
    },
    /// A nominal mass that the scheme does not know.
    #[error("{label}: this scheme judges packs from 5 g to 25 kg, and {nominal_g} g is not among them")]
    OutsideScheme {
        /// The size.
        label: String,
        /// The nominal mass.
        nominal_g: i64,
    },
    /// A share of nothing.
    #[error("{label} has a share of 0; leave the size out, or give it a share of at least 1")]
    NoShare {
        /// The size.
        label: String,
    },
    /// A spread of jars that have none.
    #[error("{label}: a spread takes at least two jars; say in spread_jars of how many it was reckoned")]
    SpreadOfTooFew {
        /// The size.
        label: String,
    },
    /// A confidence that shows nothing, or that nothing reaches.
    #[error("a confidence of {per_mille} thousandths is out of use; give 500 to 999")]
    Confidence {
        /// What was given.
        per_mille: i64,
    },
    /// A step of nothing.
    #[error("a scale that steps by 0 weighs nothing; give at least a tenth of a gram")]
    NoStep,
}

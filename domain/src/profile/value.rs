//! The words and numbers a profile is written in: what a value is about, how much it is, and where it comes from.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::described::{Described, Holds, Kind, answered};
use crate::form::Form;
use crate::limits::{READABLE_FROM, READABLE_TO};
use crate::net_content::ContentRule;
use crate::plan::described::chosen_from;
use crate::units::{Days, Hours, Moisture, Months};

/// How a value was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Sure {
    /// In the text itself.
    Read,
    /// In a transposition, a summary, guidance or a quotation.
    ReadElsewhere,
    /// Not seen; remembered.
    FromMemory,
    /// What people do; no text asks for it.
    CommonPractice,
    /// Our own choice, which the owner may change.
    OwnChoice,
}

answered! {
    /// Where a value comes from.
    Source {
        /// The text: the act or standard.
        text: &'static str, "words";
        /// The place in it.
        place: &'static str, "words";
        /// Which edition, or its date.
        edition: &'static str, "words";
        /// Where it was seen, if not in the text itself, and what is doubtful about it.
        seen_in: &'static str, "words";
        /// How sure that makes it.
        sure: Sure, "one of the words";
    }
}

impl Copy for Source {}

impl Holds for Source {
    const KIND: Kind = Kind::Object { fields: Self::FIELDS };
}

chosen_from!(Sure: ["read", "read_elsewhere", "from_memory", "common_practice", "own_choice"]);

/// What a value is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ProfileKey {
    /// The most water in honey for which there is no exception.
    MoistureGeneral,
    /// The most water in honey from ling heather.
    MoistureHeather,
    /// The most water in baker's honey.
    MoistureBakers,
    /// The most water in baker's honey from ling heather.
    MoistureBakersHeather,
    /// The most water for the best grade.
    MoistureGradeOne,
    /// The same, marked as pasteurized.
    MoistureGradeOnePasteurized,
    /// The most water for the second grade.
    MoistureGradeTwo,
    /// The same, marked as pasteurized.
    MoistureGradeTwoPasteurized,
    /// The most water for the third grade.
    MoistureGradeThree,
    /// How jars are judged by weight (NC-1).
    NetContent,
    /// Whether a lot code has to stand on a jar (LO-3).
    LotCode,
    /// How long honey is good from filling, where nobody says otherwise (FI-3).
    BestBefore,
    /// How long it is kept who supplied and who received what (RT-3).
    KeepTraceRecords,
    /// How long records of medicines are kept.
    KeepMedicineRecords,
    /// How soon an authority gets the trace of a lot.
    RequestAnswer,
    /// How often a recall is exercised (RC-4).
    RecallExercise,
    /// Supers wait in warmth no longer than this (FI-2).
    SupersWaitWarm,
    /// Supers wait in a cool room no longer than this (FI-2).
    SupersWaitCool,
    /// Supers wait no longer than this where small hive beetles live (FI-2).
    SupersWaitBeetle,
    /// Small hive beetles live here.
    BeetleRegion,
    /// A line about infants is proposed for the label.
    InfantCaution,
}

/// Whether a jar needs a lot code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LotCodeDuty {
    /// Always.
    Always,
    /// Unless the best-before date shows day and month.
    UnlessDatedToTheDay,
    /// Not by a general rule.
    NotGenerally,
}

/// A value, its unit in the name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ProfileValue {
    /// Water, hundredths of a per cent.
    MoistureHundredths(Moisture),
    /// A rule for the weight of jars.
    NetContent(ContentRule),
    /// A rule for lot codes.
    LotCode(LotCodeDuty),
    /// Months.
    Months(Months),
    /// Days.
    Days(Days),
    /// Hours.
    Hours(Hours),
    /// When asked, without a number of hours.
    OnDemand,
    /// Yes or no.
    Yes(bool),
}

impl ProfileKey {
    /// What it is about, in a sentence.
    #[must_use]
    pub const fn means(self) -> &'static str {
        match self {
            Self::MoistureGeneral => "most water in honey without an exception",
            Self::MoistureHeather => "most water in honey from ling heather",
            Self::MoistureBakers => "most water in baker's honey",
            Self::MoistureBakersHeather => "most water in baker's honey from ling heather",
            Self::MoistureGradeOne => "most water for the best grade",
            Self::MoistureGradeOnePasteurized => "most water for the best grade, marked as pasteurized",
            Self::MoistureGradeTwo => "most water for the second grade",
            Self::MoistureGradeTwoPasteurized => "most water for the second grade, marked as pasteurized",
            Self::MoistureGradeThree => "most water for the third grade",
            Self::NetContent => "how jars are judged by weight",
            Self::LotCode => "whether a jar needs a lot code",
            Self::BestBefore => "time from filling to best before",
            Self::KeepTraceRecords => "how long to keep who supplied and who received what",
            Self::KeepMedicineRecords => "how long to keep records of medicines",
            Self::RequestAnswer => "how soon an authority gets the trace of a lot",
            Self::RecallExercise => "how often to exercise a recall",
            Self::SupersWaitWarm => "how long full supers may wait in warmth",
            Self::SupersWaitCool => "how long full supers may wait in a cool room",
            Self::SupersWaitBeetle => "how long full supers may wait where small hive beetles live",
            Self::BeetleRegion => "small hive beetles live here",
            Self::InfantCaution => "propose a line about infants for the label",
        }
    }

    /// The rule of the trade it belongs to.
    #[must_use]
    pub const fn rule(self) -> &'static str {
        match self {
            Self::NetContent => "NC-1",
            Self::LotCode => "LO-3",
            Self::BestBefore => "FI-3",
            Self::KeepTraceRecords | Self::KeepMedicineRecords => "RT-1",
            Self::RequestAnswer => "RC-5",
            Self::RecallExercise => "RC-4",
            Self::SupersWaitWarm | Self::SupersWaitCool | Self::SupersWaitBeetle | Self::BeetleRegion => "FI-2",
            Self::InfantCaution => "LB-1",
            _ => "MO-1",
        }
    }

    /// Whether a value is of the kind that this key takes, and can be true.
    #[must_use]
    pub fn takes(self, value: ProfileValue) -> bool {
        match self {
            Self::MoistureGeneral
            | Self::MoistureHeather
            | Self::MoistureBakers
            | Self::MoistureBakersHeather
            | Self::MoistureGradeOne
            | Self::MoistureGradeOnePasteurized
            | Self::MoistureGradeTwo
            | Self::MoistureGradeTwoPasteurized
            | Self::MoistureGradeThree => {
                matches!(value, ProfileValue::MoistureHundredths(most) if (READABLE_FROM..=READABLE_TO).contains(&most))
            }
            Self::NetContent => matches!(value, ProfileValue::NetContent(_)),
            Self::LotCode => matches!(value, ProfileValue::LotCode(_)),
            Self::BestBefore | Self::KeepTraceRecords | Self::KeepMedicineRecords | Self::RecallExercise => {
                matches!(value, ProfileValue::Months(months) if months.get() > 0)
            }
            Self::RequestAnswer => matches!(value, ProfileValue::Hours(_) | ProfileValue::OnDemand),
            Self::SupersWaitWarm | Self::SupersWaitCool | Self::SupersWaitBeetle => {
                matches!(value, ProfileValue::Days(_))
            }
            Self::BeetleRegion | Self::InfantCaution => matches!(value, ProfileValue::Yes(_)),
        }
    }
}

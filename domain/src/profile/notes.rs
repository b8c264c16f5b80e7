//! What a profile says beside its values: who has to know whom, and which duties do not reach honey (RT-2, RT-3, RT-4).

use serde::Serialize;
use utoipa::ToSchema;

use super::texts::FOOD_LAW;
use super::{Source, Sure};
use crate::limits::Profile;

/// One remark with its text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Note {
    /// The rule of the trade.
    pub rule: &'static str,
    /// What it says.
    pub says: &'static str,
    /// The text.
    pub source: Source,
}

const fn source(text: &'static str, place: &'static str, seen_in: &'static str, sure: Sure) -> Source {
    Source {
        text,
        place,
        edition: "",
        seen_in,
        sure,
    }
}

/// RT-3: one step back, one step forward.
const EU: &[Note] = &[Note {
    rule: "RT-3",
    says: "Whoever supplied honey and every business that received it can be named on demand; a final consumer need not be.",
    source: FOOD_LAW,
}];

/// RT-4: what a small licence holder need not have.
const CANADA: &[Note] = &[
    Note {
        rule: "RT-3",
        says: "Whoever supplied honey and whoever received it is kept for two years; sales to consumers at retail need no \
               name.",
        source: source(
            "Safe Food for Canadians Regulations, SOR/2018-108",
            "section 90",
            "",
            Sure::Read,
        ),
    },
    Note {
        rule: "RT-4",
        says: "With food sales of 100 000 dollars a year or less no written preventive control plan is asked for honey; \
               traceability is.",
        source: source(
            "Safe Food for Canadians Regulations, SOR/2018-108",
            "sections 86(3) and 90",
            "",
            Sure::Read,
        ),
    },
];

/// RT-2: the list that honey is not on.
const USA: &[Note] = &[
    Note {
        rule: "RT-2",
        says: "Honey is not on the food traceability list, so the additional records of that rule are not asked for it.",
        source: source(
            "FDA food traceability rule, 21 CFR part 1 subpart S",
            "food traceability list",
            "summaries, not the list itself",
            Sure::ReadElsewhere,
        ),
    },
    Note {
        rule: "RT-3",
        says: "Those who pack or hold food keep who supplied it and who received it; farms are left out.",
        source: source(
            "Bioterrorism Act, rule on records, 21 CFR part 1 subpart J",
            "",
            "",
            Sure::ReadElsewhere,
        ),
    },
];

/// The remarks of a profile.
#[must_use]
pub const fn notes(profile: Profile) -> &'static [Note] {
    match profile {
        Profile::Eu | Profile::UkEngland => EU,
        Profile::Canada => CANADA,
        Profile::Usa => USA,
    }
}

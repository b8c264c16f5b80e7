//! The values of each profile with the texts they come from (MO-1, LO-3, NC-1, RT-1), and the habits of houses that
//! no text settles. One table a profile; nothing here is computed.

use super::{LotCodeDuty, ProfileKey as Key, ProfileValue, Row, Source, Sure};
use crate::limits::Profile;
use crate::net_content::ContentRule;
use crate::units::{Days, Hours, Moisture, Months};

/// The values of a profile.
pub(super) const fn rows(profile: Profile) -> &'static [Row] {
    match profile {
        Profile::Eu => EU,
        Profile::UkEngland => UK_ENGLAND,
        Profile::Canada => CANADA,
        Profile::Usa => USA,
    }
}

/// The names of a profile's grades, best first.
pub(super) const fn grade_names(profile: Profile) -> &'static [&'static str] {
    match profile {
        Profile::Eu | Profile::UkEngland => &[],
        Profile::Canada => &["Canada No. 1", "Canada No. 2", "Canada No. 3"],
        Profile::Usa => &["U.S. Grade A", "U.S. Grade B", "U.S. Grade C"],
    }
}

/// Whether a key is a habit of the house, the same under every profile.
pub(super) fn is_habit(key: Key) -> bool {
    HABITS.iter().any(|row| row.key == key)
}

const fn water(key: Key, hundredths: i64, source: Source) -> Row {
    let value = ProfileValue::MoistureHundredths(Moisture::constant(hundredths));
    Row { key, value, source }
}

const fn months(key: Key, months: i64, source: Source) -> Row {
    let value = ProfileValue::Months(Months::constant(months));
    Row { key, value, source }
}

const fn days(key: Key, days: i64, source: Source) -> Row {
    let value = ProfileValue::Days(Days::constant(days));
    Row { key, value, source }
}

const fn row(key: Key, value: ProfileValue, source: Source) -> Row {
    Row { key, value, source }
}

const fn source(text: &'static str, place: &'static str, edition: &'static str) -> Source {
    Source {
        text,
        place,
        edition,
        seen_in: "",
        sure: Sure::Read,
    }
}

const fn seen(source: Source, sure: Sure, seen_in: &'static str) -> Source {
    Source {
        seen_in,
        sure,
        ..source
    }
}

/// Directive 2001/110/EC, annex II.
pub(super) const HONEY_DIRECTIVE: Source = seen(
    source("Directive 2001/110/EC", "annex II", "20 December 2001"),
    Sure::ReadElsewhere,
    "transpositions: Germany 2004, France decree 2003-587 annex II, Wales WSI 2015/1507 schedule 1; not the Official Journal",
);
pub(super) const FOOD_LAW: Source = seen(
    source("Regulation (EC) No 178/2002", "article 18", "28 January 2002"),
    Sure::ReadElsewhere,
    "pages of the Irish and British food authorities",
);
const MEDICINES_EU: Source = seen(
    source("Regulation (EU) 2019/6", "article 108", "11 December 2018"),
    Sure::ReadElsewhere,
    "Deutsches Bienen-Journal, January 2023",
);
const LOT_EU: Source = seen(
    source("Directive 2011/91/EU", "article 3 and recitals", "13 December 2011"),
    Sure::ReadElsewhere,
    "parts of the text, a summary, and the Estonian transposition",
);
const FILL_EU: Source = seen(
    source("Directive 76/211/EEC", "annex I", "20 January 1976"),
    Sure::ReadElsewhere,
    "German Fertigpackungsverordnung, 18 November 2020, section 9",
);
const BEST_BEFORE: Source = seen(
    source("", "", ""),
    Sure::CommonPractice,
    "two years are usual in Europe; no text sets a length",
);
const MOCK_RECALL: Source = seen(
    source("", "", ""),
    Sure::OwnChoice,
    "once a year; Canada asks it of licence holders",
);

const EU: &[Row] = &[
    water(Key::MoistureGeneral, 2_000, HONEY_DIRECTIVE),
    water(Key::MoistureHeather, 2_300, HONEY_DIRECTIVE),
    water(Key::MoistureBakers, 2_300, HONEY_DIRECTIVE),
    water(Key::MoistureBakersHeather, 2_500, HONEY_DIRECTIVE),
    row(
        Key::NetContent,
        ProfileValue::NetContent(ContentRule::AverageEu),
        FILL_EU,
    ),
    row(
        Key::LotCode,
        ProfileValue::LotCode(LotCodeDuty::UnlessDatedToTheDay),
        LOT_EU,
    ),
    months(Key::BestBefore, 24, BEST_BEFORE),
    months(
        Key::KeepTraceRecords,
        60,
        seen(
            FOOD_LAW,
            Sure::ReadElsewhere,
            "the article names no period; five years are the advice of several authorities",
        ),
    ),
    months(Key::KeepMedicineRecords, 60, MEDICINES_EU),
    row(Key::RequestAnswer, ProfileValue::OnDemand, FOOD_LAW),
    months(Key::RecallExercise, 12, MOCK_RECALL),
];

/// The directive as retained in the United Kingdom.
pub(super) const HONEY_ENGLAND: Source = seen(
    source("Honey (England) Regulations 2015, SI 2015/1348", "schedule 1", "2015"),
    Sure::ReadElsewhere,
    "the Welsh twin WSI 2015/1507 schedule 1 and the retained Directive 2001/110/EC; that England's figures are the same is from memory",
);

const UK_ENGLAND: &[Row] = &[
    water(Key::MoistureGeneral, 2_000, HONEY_ENGLAND),
    water(Key::MoistureHeather, 2_300, HONEY_ENGLAND),
    water(Key::MoistureBakers, 2_300, HONEY_ENGLAND),
    water(Key::MoistureBakersHeather, 2_500, HONEY_ENGLAND),
    row(
        Key::NetContent,
        ProfileValue::NetContent(ContentRule::AverageUk),
        seen(
            source(
                "Weights and Measures (Packaged Goods) Regulations",
                "",
                "2006, from memory",
            ),
            Sure::ReadElsewhere,
            "guidance of the government on packaged goods",
        ),
    ),
    row(
        Key::LotCode,
        ProfileValue::LotCode(LotCodeDuty::UnlessDatedToTheDay),
        seen(
            source("Food (Lot Marking) Regulations", "", "1996"),
            Sure::ReadElsewhere,
            "a sheet of trading standards on date and lot marks",
        ),
    ),
    months(Key::BestBefore, 24, BEST_BEFORE),
    months(
        Key::KeepTraceRecords,
        60,
        seen(
            source(
                "Regulation (EC) No 178/2002 as retained",
                "article 18",
                "28 January 2002",
            ),
            Sure::ReadElsewhere,
            "training pages of the food authority; the article names no period, five years are advice",
        ),
    ),
    months(
        Key::KeepMedicineRecords,
        60,
        seen(
            source("Veterinary Medicines Regulations", "", "not stated where it was seen"),
            Sure::ReadElsewhere,
            "guidance on medicine records on pages of beekeepers' associations",
        ),
    ),
    row(
        Key::RequestAnswer,
        ProfileValue::OnDemand,
        seen(
            source(
                "Regulation (EC) No 178/2002 as retained",
                "article 18",
                "28 January 2002",
            ),
            Sure::ReadElsewhere,
            "training pages of the food authority",
        ),
    ),
    months(Key::RecallExercise, 12, MOCK_RECALL),
];

/// The Canadian grades of honey, as now published.
pub(super) const COMPENDIUM: Source = seen(
    source(
        "Canadian Grade Compendium",
        "volume 6, honey",
        "as published by the inspection agency",
    ),
    Sure::Read,
    "the first part of the page",
);
/// The former Canadian table of grades.
pub(super) const FORMER_TABLE: Source = seen(
    source("Honey Regulations (Canada), repealed", "table III", "as quoted in 2015"),
    Sure::ReadElsewhere,
    "a quotation; look it up in the Canadian Grade Compendium, volume 6",
);
const fn safe_food(place: &'static str) -> Source {
    source(
        "Safe Food for Canadians Regulations, SOR/2018-108",
        place,
        "official XML, July 2026",
    )
}

const CANADA: &[Row] = &[
    water(Key::MoistureGradeOne, 1_780, COMPENDIUM),
    water(Key::MoistureGradeOnePasteurized, 1_860, COMPENDIUM),
    water(Key::MoistureGradeTwo, 1_860, FORMER_TABLE),
    water(Key::MoistureGradeTwoPasteurized, 2_000, FORMER_TABLE),
    water(
        Key::MoistureGradeThree,
        2_000,
        seen(
            FORMER_TABLE,
            Sure::ReadElsewhere,
            "at third hand; not to be relied on without the text",
        ),
    ),
    row(
        Key::NetContent,
        ProfileValue::NetContent(ContentRule::Minimum),
        seen(
            safe_food("schedule 4"),
            Sure::OwnChoice,
            "stricter than the schedule, which allows tolerances and tests the lot's mean",
        ),
    ),
    row(
        Key::LotCode,
        ProfileValue::LotCode(LotCodeDuty::Always),
        safe_food("part 5"),
    ),
    months(Key::BestBefore, 24, BEST_BEFORE),
    months(Key::KeepTraceRecords, 24, safe_food("sections 90 and 91")),
    months(
        Key::KeepMedicineRecords,
        24,
        seen(
            safe_food("sections 90 and 91"),
            Sure::FromMemory,
            "the period of the trace records; a rule for medicines of bees was not read",
        ),
    ),
    row(
        Key::RequestAnswer,
        ProfileValue::Hours(Hours::constant(24)),
        safe_food("section 91"),
    ),
    months(Key::RecallExercise, 12, safe_food("section 84(2)")),
];

/// The voluntary grades of the United States. Printed as soluble solids of 81.4 and 80.0 %, which are 100 minus
/// moisture and not degrees Brix.
pub(super) const GRADES_USA: Source = seen(
    source(
        "United States Standards for Grades of Extracted Honey",
        "",
        "effective 23 May 1985",
    ),
    Sure::ReadElsewhere,
    "a summary; the standard is voluntary, there is no federal limit",
);
const RECORDS_USA: Source = seen(
    source(
        "Bioterrorism Act, rule on records, 21 CFR part 1 subpart J",
        "",
        "fact sheet of November 2005",
    ),
    Sure::ReadElsewhere,
    "an archived fact sheet of the food authority: up to two years, farms excluded",
);

const USA: &[Row] = &[
    water(Key::MoistureGradeOne, 1_860, GRADES_USA),
    water(Key::MoistureGradeTwo, 1_860, GRADES_USA),
    water(Key::MoistureGradeThree, 2_000, GRADES_USA),
    row(
        Key::NetContent,
        ProfileValue::NetContent(ContentRule::Minimum),
        seen(
            source("NIST Handbook 133", "chapter 2", "edition not seen"),
            Sure::OwnChoice,
            "stricter than the handbook, whose tables were not read: it tests the lot's mean and allows variations",
        ),
    ),
    row(
        Key::LotCode,
        ProfileValue::LotCode(LotCodeDuty::NotGenerally),
        seen(
            source("", "", ""),
            Sure::FromMemory,
            "no federal rule for honey is known; rules of states vary",
        ),
    ),
    months(Key::BestBefore, 24, BEST_BEFORE),
    months(Key::KeepTraceRecords, 24, RECORDS_USA),
    months(
        Key::KeepMedicineRecords,
        24,
        seen(
            RECORDS_USA,
            Sure::FromMemory,
            "the period of the records rule; a rule for medicines of bees was not read",
        ),
    ),
    row(
        Key::RequestAnswer,
        ProfileValue::Hours(Hours::constant(24)),
        seen(
            source("21 CFR part 1 subparts J and S", "", "2005 and 2022"),
            Sure::ReadElsewhere,
            "summaries: 24 hours; honey is not on the list of subpart S",
        ),
    ),
    months(Key::RecallExercise, 12, MOCK_RECALL),
];

const WAITING: Source = seen(
    source("", "", ""),
    Sure::CommonPractice,
    "no published figure; beetles and moths spoil combs within days",
);

/// What houses do, the same under every profile.
pub(super) const HABITS: &[Row] = &[
    days(Key::SupersWaitWarm, 3, WAITING),
    days(Key::SupersWaitCool, 7, WAITING),
    days(Key::SupersWaitBeetle, 2, WAITING),
    row(
        Key::BeetleRegion,
        ProfileValue::Yes(false),
        seen(
            source("", "", ""),
            Sure::OwnChoice,
            "say yes where small hive beetles live",
        ),
    ),
    row(
        Key::InfantCaution,
        ProfileValue::Yes(true),
        seen(
            source("", "", ""),
            Sure::CommonPractice,
            "widely advised: no honey under twelve months of age; a page of Quebec's public health was read",
        ),
    ),
];

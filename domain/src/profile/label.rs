//! What has to stand on a label, by profile and by what is true of the jar (LB-1), and how high its figures are.
//!
//! The fields and conditions are data in `label/tables.rs`. Nothing here writes a label or judges its words; the
//! text in force rules.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{CHECK, LotCodeDuty, ProfileKey, Rules, Source};
use crate::described::{Described, Holds, Kind, answered};
use crate::form::Form;
use crate::house::House;
use crate::ids::BatchId;
use crate::limits::{Claim, Profile};
use crate::lot::Lot;
use crate::plan::described::{chosen_from, planned};
use crate::units::{Grams, SquareMillimetres};

mod tables;

/// A part of a label.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LabelItem {
    /// The name of the food.
    Name,
    /// That it is for cooking only.
    CookingOnly,
    /// Net quantity.
    NetQuantity,
    /// The mark of the average system.
    AverageMark,
    /// Best before.
    BestBefore,
    /// Who answers for it, and where.
    Operator,
    /// The country of origin.
    Origin,
    /// Every country of a blend with its share.
    BlendShares,
    /// The lot.
    Lot,
    /// The grade.
    Grade,
    /// The class of colour.
    ColourClass,
    /// Both official languages.
    TwoLanguages,
    /// That infants get none.
    InfantCaution,
}

/// When a part is needed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum When {
    Always,
    /// As the lot-code duty in force says.
    LotDuty,
    /// Sold as baker's honey.
    Bakers,
    /// Honey of several countries, labelled from this day on (year, month, day).
    BlendFrom(i32, u32, u32),
    /// Honey of several countries.
    Blend,
    /// It came from abroad.
    Imported,
    /// Graded by law: sent between provinces, imported or exported.
    Traded,
    /// Never by a rule; useful.
    Advised,
    /// As the owner's wish about it says.
    Wish(ProfileKey),
    /// Not by a rule.
    NotAsked,
}

/// One row of a profile's table.
#[derive(Clone, Copy, Debug)]
struct Part {
    item: LabelItem,
    when: When,
    says: &'static str,
    with_name: bool,
    source: Source,
}

/// By what the height of figures is found.
#[derive(Clone, Copy, Debug)]
enum Heights {
    /// By the nominal mass, grams.
    Mass(&'static [(i64, i64)], i64, Source),
    /// By the area of the main panel, square millimetres.
    Panel(&'static [(i64, i64)], i64, Source),
}

planned! {
    /// What is true of a jar.
    LabelQuestion {
        /// Whose rules.
        profile: Profile, "one of the words", "\"eu\"";
        /// Declared net content.
        nominal_g: Option<Grams>, "grams", "500";
        /// Area of the panel that faces the buyer.
        panel_mm2: Option<SquareMillimetres>, "square millimetres", "6000";
        /// The day it is labelled; the newest rules if left out.
        labelled_on: Option<NaiveDate>, "a day", "\"2026-09-01\"";
        /// Under what claim it is sold; as honey in general if left out.
        claim: Option<Claim>, "one of the words", "\"general\"";
        /// Whether honey of several countries is in it.
        #[serde(default)]
        several_countries: bool, "true or false", "false";
        /// Whether it came from abroad.
        #[serde(default)]
        imported: bool, "true or false", "false";
        /// Whether it is sent to another province, or abroad.
        #[serde(default)]
        leaves_province: bool, "true or false", "false";
        /// Whether its best-before date shows day and month.
        #[serde(default)]
        dated_to_the_day: bool, "true or false", "false";
    }
}

/// Whether a part has to be there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Needed {
    /// It has to stand there.
    Required,
    /// It may, and it helps.
    Advised,
    /// No rule asks for it here.
    NotAsked,
}

answered! {
    /// A part of the label, for this jar.
    LabelField {
        /// Which part.
        item: LabelItem, "one of the words";
        /// Whether it has to be there.
        needed: Needed, "one of the words";
        /// What it says, or when it is needed.
        says: &'static str, "words";
        /// Whether it stands where the name is seen.
        with_name: bool, "true or false";
        /// The text.
        source: Source, "a source";
    }
}

answered! {
    /// How high the figures of the net quantity are at least.
    FigureHeight {
        /// Their height.
        tenths_mm: i64, "tenths of a millimetre";
        /// The text.
        source: Source, "a source";
    }
}

answered! {
    /// A label, part by part.
    LabelFields {
        /// Whose rules.
        profile: Profile, "one of the words";
        /// Its parts: the required first.
        fields: Vec<LabelField>, "a list of parts";
        /// The height of the figures, where the mass or the panel it depends on was told.
        figure_height: Option<FigureHeight>, "an object";
        /// What to tell for the height to be known.
        height_needs: Option<&'static str>, "the name of a field";
        /// What to do before printing.
        check: &'static str, "words";
    }
}

impl Holds for FigureHeight {
    const KIND: Kind = Kind::Object { fields: Self::FIELDS };
}

chosen_from!(
    LabelItem: [
        "name", "cooking_only", "net_quantity", "average_mark", "best_before", "operator", "origin", "blend_shares",
        "lot", "grade", "colour_class", "two_languages", "infant_caution",
    ],
    Needed: ["required", "advised", "not_asked"],
);

impl LabelQuestion {
    /// The question for a batch, as far as the book answers it: origins abroad and where it is sent are not in it.
    #[must_use]
    pub fn of_batch(house: &House, id: BatchId) -> Option<Self> {
        let batch = house.batch(id)?;
        let lot = batch.lot_id.and_then(|id| house.lot(id));
        Some(Self {
            profile: house.settings().profile(),
            nominal_g: batch.nominal_g,
            panel_mm2: None,
            labelled_on: batch.filled_at.map(|at| at.date_naive()),
            claim: lot.map(Lot::claim),
            several_countries: false,
            imported: false,
            leaves_province: false,
            dated_to_the_day: false,
        })
    }
}

/// What stands on the label of a jar by the texts of its profile.
#[must_use]
pub fn label_fields(question: &LabelQuestion) -> LabelFields {
    label_fields_by(Rules::of_texts(question.profile), question)
}

/// The same by the rules in force, whose profile counts.
#[must_use]
pub fn label_fields_by(rules: Rules<'_>, question: &LabelQuestion) -> LabelFields {
    let profile = rules.profile();
    let mut fields: Vec<LabelField> = tables::parts(profile)
        .iter()
        .map(|part| LabelField {
            item: part.item,
            needed: needed(part.when, rules, question),
            says: part.says,
            with_name: part.with_name,
            source: part.source,
        })
        .collect();
    fields.sort_by_key(|field| field.needed);
    let (figure_height, height_needs) = height(tables::heights(profile), question);
    LabelFields {
        profile,
        fields,
        figure_height,
        height_needs,
        check: CHECK,
    }
}

fn needed(when: When, rules: Rules<'_>, question: &LabelQuestion) -> Needed {
    let asked = |yes: bool| if yes { Needed::Required } else { Needed::NotAsked };
    match when {
        When::Always => Needed::Required,
        When::NotAsked => Needed::NotAsked,
        When::Advised => Needed::Advised,
        When::Bakers => asked(matches!(question.claim, Some(Claim::Bakers | Claim::BakersHeather))),
        When::Blend => asked(question.several_countries),
        When::BlendFrom(year, month, day) => {
            let from = NaiveDate::from_ymd_opt(year, month, day);
            let in_force = question.labelled_on.is_none_or(|on| from.is_none_or(|from| on >= from));
            asked(question.several_countries && in_force)
        }
        When::Imported => asked(question.imported || question.several_countries),
        When::Traded => asked(question.leaves_province || question.imported),
        When::Wish(key) if rules.yes(key) => Needed::Advised,
        When::Wish(_) => Needed::NotAsked,
        When::LotDuty => match rules.lot_code() {
            LotCodeDuty::Always => Needed::Required,
            LotCodeDuty::UnlessDatedToTheDay if !question.dated_to_the_day => Needed::Required,
            LotCodeDuty::UnlessDatedToTheDay | LotCodeDuty::NotGenerally => Needed::Advised,
        },
    }
}

fn height(heights: Heights, question: &LabelQuestion) -> (Option<FigureHeight>, Option<&'static str>) {
    let (steps, above, source, told, needs) = match heights {
        Heights::Mass(steps, above, source) => (steps, above, source, question.nominal_g.map(Grams::get), "nominal_g"),
        Heights::Panel(steps, above, source) => {
            let told = question.panel_mm2.map(SquareMillimetres::get);
            (steps, above, source, told, "panel_mm2")
        }
    };
    let Some(told) = told else { return (None, Some(needs)) };
    let step = steps.iter().find(|(up_to, _)| told <= *up_to);
    let tenths_mm = step.map_or(above, |(_, tenths_mm)| *tenths_mm);
    (Some(FigureHeight { tenths_mm, source }), None)
}

#[cfg(test)]
mod tests;

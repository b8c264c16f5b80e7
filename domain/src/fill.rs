//! What is in a container between two washings. The fill is the traced thing, not the pail: the same pail in June and
//! in August is two fills (ID-5). Full, settled, part drawn, heel, empty; the container is washed between two (ST-7).

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::{Common, FlagCode, Side, state};
use crate::content::{Difference, TakenOut, count, differences_g, judge_content, take_out, taken_g};
use crate::entry::{Entry, entry};
use crate::extraction::is_zero;
use crate::fold::{Aggregate, Memo, Told};
use crate::form::Form;
use crate::honey_super::Weighing;
use crate::ids::{ContainerId, EntryId, FillId, RunId, ScaleId};
use crate::moisture::{Reading, Water, deciding_unchecked};
use crate::subject::{Subject, SubjectKind, Touch};
use crate::text::Name;
use crate::units::{Days, Grams};
use crate::weighing::differ;
use crate::yard::retell;

mod container;

pub use crate::content::SCALE_DIFFERENCE_G;
pub use container::*;

/// Where the honey in a container came from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FillSource {
    /// It ran out of the extractor.
    RunId(RunId),
    /// It ran out of the cappings of a run: a lot of its own (ID-6).
    CappingsOfRunId(RunId),
    /// It was bought in.
    BoughtFrom(Name),
    /// Nobody knows; it is held until somebody does.
    Unknown,
}

impl Touch for FillSource {
    fn touch(&self, out: &mut Vec<Subject>) {
        if let Self::RunId(run) | Self::CappingsOfRunId(run) = self {
            run.touch(out);
        }
    }
}

entry! {
    /// Honey ran into a container.
    ContainerFilled = "container_filled" v 1 touches(fill_id, source, container_id)
    {
        /// What is in it from now on.
        fill_id: FillId,
        /// Where the honey came from.
        source: FillSource,
        /// Container and honey together.
        gross_g: Grams,
        /// The container alone.
        tare_g: Grams,
    }
    optional {
        /// The container.
        container_id: ContainerId,
        /// What was written on its label.
        code: Name,
        /// Whether the label was stuck on; absent means nobody looked.
        label_stuck: bool,
        /// The scale.
        scale_id: ScaleId,
        /// The group of supers that ran into it and into nothing else (AL-2).
        group: Name,
    }
}

entry! {
    /// Honey has rested, and what rose was taken off.
    FillSettled = "fill_settled" v 1 touches(fill_id) wish Settle for fill_id: FillId
    {}
    optional {
        /// How long it rested.
        days: Days,
        /// What was skimmed off.
        skimmed_g: Grams,
    }
}

impl ContainerFilled {
    /// Honey in it: gross less tare. Never below nothing; a tare above the gross is flagged by the fold.
    #[must_use]
    pub fn net_g(&self) -> i64 {
        (self.gross_g.get() - self.tare_g.get()).max(0)
    }
}

state! {
    /// What is in a container between two washings.
    Fill {
        /// The container.
        #[serde(skip_serializing_if = "Option::is_none")]
        container_id: Option<ContainerId>,
        /// What was written on its label.
        #[serde(skip_serializing_if = "Option::is_none")]
        code: Option<Name>,
        /// Where the honey came from.
        #[serde(skip_serializing_if = "Option::is_none")]
        source: Option<FillSource>,
        /// When it was filled.
        #[serde(skip_serializing_if = "Option::is_none")]
        filled_at: Option<DateTime<Utc>>,
        /// Container and honey together.
        #[serde(skip_serializing_if = "Option::is_none")]
        gross_g: Option<Grams>,
        /// The container alone.
        #[serde(skip_serializing_if = "Option::is_none")]
        tare_g: Option<Grams>,
        /// The entry that told these weights.
        #[serde(skip_serializing_if = "Option::is_none")]
        weighed_by: Option<EntryId>,
        /// When that was.
        #[serde(skip_serializing_if = "Option::is_none")]
        weighed_at: Option<DateTime<Utc>>,
        /// The scale.
        #[serde(skip_serializing_if = "Option::is_none")]
        scale_id: Option<ScaleId>,
        /// Earlier weighings of the same honey; one on a scale found right may count instead (CF-10).
        #[serde(skip_serializing_if = "Vec::is_empty")]
        weighed_before: Vec<PailWeighing>,
        /// Whether the label was stuck on.
        #[serde(skip_serializing_if = "Option::is_none")]
        label_stuck: Option<bool>,
        /// What was skimmed off.
        #[serde(skip_serializing_if = "is_zero")]
        skimmed_g: i64,
        /// When it was last skimmed or found settled.
        #[serde(skip_serializing_if = "Option::is_none")]
        settled_at: Option<DateTime<Utc>>,
        /// Readings since it was filled or stirred (MO-10).
        #[serde(skip_serializing_if = "Vec::is_empty")]
        readings: Vec<Reading>,
        /// What left it.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        taken_out: Vec<TakenOut>,
        /// What weighings of the rest brought to light (MB-7).
        #[serde(skip_serializing_if = "Vec::is_empty")]
        differences: Vec<Difference>,
        /// Honey still in it; below nothing if too much was told to have left it.
        content_g: i64,
    }
}

impl Fill {
    /// Honey as weighed at filling.
    #[must_use]
    pub fn net_g(&self) -> i64 {
        match (self.gross_g, self.tare_g) {
            (Some(gross), Some(tare)) => (gross.get() - tare.get()).max(0),
            _ => 0,
        }
    }

    /// What is known of its water.
    #[must_use]
    pub fn water(&self) -> Water {
        deciding_unchecked(&self.readings)
    }

    /// The weighing that the fold believes: the later one.
    #[must_use]
    pub fn weighing(&self) -> Option<PailWeighing> {
        Some(PailWeighing {
            weighing: Weighing {
                entry_id: self.weighed_by?,
                at: self.weighed_at?,
                gross_g: self.gross_g?,
                scale_id: self.scale_id,
            },
            tare_g: self.tare_g?,
        })
    }

    fn recount(&mut self) {
        self.content_g = self.net_g() - self.skimmed_g - taken_g(&self.taken_out) + differences_g(&self.differences);
        if self.filled_at.is_some() {
            let taken = std::mem::take(&mut self.taken_out);
            judge_content(self, &taken, self.content_g);
            self.taken_out = taken;
        }
    }

    fn fill(&mut self, told: &Told<'_>, filled: &ContainerFilled) {
        if filled.gross_g <= filled.tare_g {
            self.flag(FlagCode::Implausible, [Side::of(told).telling(filled.gross_g.get())]);
        }
        if let Some(before) = self.weighing() {
            self.fill_again(told, filled, before);
        }
        self.container_id = filled.container_id.or(self.container_id);
        retell(&mut self.code, filled.code.as_ref());
        self.source = Some(filled.source.clone());
        self.filled_at.get_or_insert(told.at());
        (self.gross_g, self.tare_g) = (Some(filled.gross_g), Some(filled.tare_g));
        (self.weighed_by, self.weighed_at) = (Some(told.id()), Some(told.at()));
        self.scale_id = filled.scale_id;
        self.label_stuck = filled.label_stuck.or(self.label_stuck);
    }

    /// One fill told twice: another weight is a second weighing of the same honey (CF-10), another source a second
    /// origin (CF-4).
    fn fill_again(&mut self, told: &Told<'_>, filled: &ContainerFilled, before: PailWeighing) {
        let of = &before.weighing;
        let first = Side {
            entry_id: of.entry_id,
            at: of.at,
            names: None,
            amount: None,
        };
        if differ(filled.gross_g, of.gross_g) {
            let sides = [
                first.clone().telling(of.gross_g.get()),
                Side::of(told).telling(filled.gross_g.get()),
            ];
            self.flag(FlagCode::WeightsDiffer, sides);
        }
        if self.source.as_ref().is_some_and(|source| *source != filled.source) {
            let names = |source: &FillSource| {
                let mut named = Vec::new();
                source.touch(&mut named);
                named.first().copied()
            };
            let first = Side {
                names: self.source.as_ref().and_then(names),
                ..first
            };
            let second = Side {
                names: names(&filled.source),
                ..Side::of(told)
            };
            self.flag(FlagCode::OfTwoOrigins, [first, second]);
        }
        if (of.gross_g, before.tare_g) != (filled.gross_g, filled.tare_g) {
            self.weighed_before.push(before);
        }
    }

    fn taken(&mut self, told: &Told<'_>, memo: &mut Memo, weight_g: i64, into: impl Into<Subject>) {
        let mut taken = std::mem::take(&mut self.taken_out);
        let new = TakenOut::of(told, weight_g, into.into());
        take_out(self, &mut taken, new, (told, memo));
        self.taken_out = taken;
    }
}

/// A full container on the scale.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct PailWeighing {
    /// Container and honey together.
    #[serde(flatten)]
    pub weighing: Weighing,
    /// The container alone.
    pub tare_g: Grams,
}

impl PailWeighing {
    /// Honey in it, never below nothing.
    #[must_use]
    pub fn net_g(&self) -> i64 {
        (self.weighing.gross_g.get() - self.tare_g.get()).max(0)
    }
}

impl Aggregate for Fill {
    const KIND: SubjectKind = SubjectKind::Fill;

    fn apply(&mut self, told: &Told<'_>, memo: &mut Memo) {
        match told.entry {
            Entry::ContainerFilled(filled) => {
                memo.remember(told);
                self.fill(told, filled);
            }
            Entry::FillSettled(settled) => {
                self.skimmed_g += settled.skimmed_g.map_or(0, Grams::get);
                self.settled_at = Some(told.at());
            }
            Entry::HoneyStirred(_) => self.readings.clear(),
            Entry::MoistureRead(read) => self.readings.push(Reading::of(told, read)),
            Entry::HoneyDrawn(drawn) => self.taken(told, memo, drawn.weight_g.get(), drawn.lot_id),
            Entry::Blended(blended) => {
                let of_this = blended.parts.iter().filter(|part| part.from == told.about);
                let weight_g = of_this.map(|part| part.weight_g.get()).sum();
                self.taken(told, memo, weight_g, blended.lot_id);
            }
            Entry::Delivered(delivered) => {
                let weight_g = delivered.bulk_g(FillId::from_uuid(told.about.id));
                self.taken(told, memo, weight_g, delivered.delivery_id);
            }
            Entry::HoneyCounted(counted) => {
                let difference = count(self, self.content_g, told, counted);
                self.differences.extend(difference);
            }
            _ => {}
        }
        self.recount();
    }

    fn label(&self) -> Option<String> {
        self.code.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        match (self.filled_at, self.taken_out.is_empty(), self.content_g) {
            (None, ..) => "not_filled",
            (_, _, content) if content < -SCALE_DIFFERENCE_G => "overdrawn",
            (_, false, content) if content <= 0 => "empty",
            // A tenth is left: the last kilos. Our own choice.
            (_, false, content) if content * 10 <= self.net_g() => "heel",
            (_, false, _) => "part_drawn",
            _ if self.settled_at.is_some() => "settled",
            _ => "full",
        }
    }
}

/// A part of a blend.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Part {
    /// The fill or lot it was taken from.
    pub from: Subject,
    /// How much.
    pub weight_g: Grams,
}

impl Touch for Part {
    fn touch(&self, out: &mut Vec<Subject>) {
        self.from.touch(out);
    }
}

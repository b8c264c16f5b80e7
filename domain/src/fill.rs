//! Containers and what is in them. The fill is the traced thing, not the pail: the same pail in June and in August is
//! two fills (ID-5).

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::{Common, FlagCode, Side, state};
use crate::entry::{Entry, entry};
use crate::extraction::is_zero;
use crate::fold::{Aggregate, Memo, Told};
use crate::ids::{ContainerId, EntryId, FillId, RunId};
use crate::moisture::{Reading, Water, deciding_unchecked};
use crate::subject::{Subject, SubjectKind, Touch};
use crate::text::Name;
use crate::units::{Days, Grams, Millilitres};
use crate::yard::{rename, retell};

/// What kind of container it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ContainerKind {
    /// Up to about 15 kg.
    Pail,
    /// Up to about 30 kg.
    Bucket,
    /// Stands in the house, has a tap.
    Tank,
    /// Moved by truck.
    Drum,
}

entry! {
    /// A container came into use.
    ContainerRegistered = "container_registered" v 1 touches(container_id)
    {
        /// The container.
        container_id: ContainerId,
        /// What is painted on it.
        number: Name,
        /// What kind it is.
        container: ContainerKind,
        /// What it weighs empty.
        tare_g: Grams,
        /// What it holds.
        holds_ml: Millilitres,
    }
    optional {}
}

entry! {
    /// Words about a container changed.
    ContainerDescribed = "container_described" v 1 touches(container_id) wish DescribeContainer for container_id: ContainerId
    {}
    optional {
        /// What is painted on it.
        number: Name,
        /// What it weighs empty.
        tare_g: Grams,
        /// What it holds.
        holds_ml: Millilitres,
    }
}

entry! {
    /// A container was emptied and washed.
    ContainerWashed = "container_washed" v 1 touches(container_id) wish WashContainer for container_id: ContainerId
    {}
    optional {}
}

/// Where the honey in a container came from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
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

/// Scale difference that is not yet an overdraft (CF-9).
pub const SCALE_DIFFERENCE_G: i64 = 500;

/// Honey that left a container or lot.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct TakenOut {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// How much.
    pub weight_g: i64,
    /// What it became, or who got it.
    pub into: Subject,
}

/// Sums what was taken, and flags what cannot be: two draws both count, even when together they are too much (CF-9).
pub(crate) fn take_out<C: Common>(state: &mut C, taken: &[TakenOut], held_g: i64) {
    let out: i64 = taken.iter().map(|taken| taken.weight_g).sum();
    if held_g - out < -SCALE_DIFFERENCE_G {
        let sides = taken.iter().map(|taken| Side {
            entry_id: taken.entry_id,
            at: taken.at,
            names: Some(taken.into),
            amount: Some(taken.weight_g),
        });
        state.flag(FlagCode::Overdrawn, sides);
    } else {
        state.unflag(FlagCode::Overdrawn);
    }
}

state! {
    /// A pail, bucket, tank or drum.
    Container {
        /// What is painted on it.
        #[serde(skip_serializing_if = "Option::is_none")]
        number: Option<Name>,
        /// Earlier numbers.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        former_numbers: Vec<Name>,
        /// What kind it is.
        #[serde(skip_serializing_if = "Option::is_none")]
        container: Option<ContainerKind>,
        /// What it weighs empty.
        #[serde(skip_serializing_if = "Option::is_none")]
        tare_g: Option<Grams>,
        /// What it holds.
        #[serde(skip_serializing_if = "Option::is_none")]
        holds_ml: Option<Millilitres>,
        /// What is in it since it was last washed.
        #[serde(skip_serializing_if = "Option::is_none")]
        fill_id: Option<FillId>,
    }
}

impl Aggregate for Container {
    const KIND: SubjectKind = SubjectKind::Container;

    fn apply(&mut self, told: &Told<'_>, _: &mut Memo) {
        match told.entry {
            Entry::ContainerRegistered(new) => {
                rename(&mut self.number, &mut self.former_numbers, Some(&new.number));
                self.container = Some(new.container);
                (self.tare_g, self.holds_ml) = (Some(new.tare_g), Some(new.holds_ml));
            }
            Entry::ContainerDescribed(new) => {
                rename(&mut self.number, &mut self.former_numbers, new.number.as_ref());
                retell(&mut self.tare_g, new.tare_g.as_ref());
                retell(&mut self.holds_ml, new.holds_ml.as_ref());
            }
            Entry::ContainerWashed(_) => self.fill_id = None,
            Entry::ContainerFilled(filled) => self.fill_id = Some(filled.fill_id),
            _ => {}
        }
    }

    fn label(&self) -> Option<String> {
        self.number.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        if self.fill_id.is_some() { "filled" } else { "empty" }
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

    fn recount(&mut self) {
        let held = self.net_g() - self.skimmed_g;
        let out: i64 = self.taken_out.iter().map(|taken| taken.weight_g).sum();
        self.content_g = held - out;
        if self.filled_at.is_some() {
            let taken = std::mem::take(&mut self.taken_out);
            take_out(self, &taken, held);
            self.taken_out = taken;
        }
    }

    fn fill(&mut self, told: &Told<'_>, filled: &ContainerFilled) {
        if let Some(at) = self.filled_at {
            // One fill told twice; another weight is a second weighing of the same honey (CF-10).
            let old = self.gross_g.map_or(0, Grams::get);
            let tolerance = (filled.net_g() / 100).max(200);
            if (old - filled.gross_g.get()).abs() > tolerance {
                let earlier = Side { at, ..Side::of(told) }.telling(old);
                self.flag(
                    FlagCode::WeightsDiffer,
                    [earlier, Side::of(told).telling(filled.gross_g.get())],
                );
            }
        }
        self.container_id = filled.container_id.or(self.container_id);
        retell(&mut self.code, filled.code.as_ref());
        self.source = Some(filled.source.clone());
        self.filled_at.get_or_insert(told.at());
        (self.gross_g, self.tare_g) = (Some(filled.gross_g), Some(filled.tare_g));
        self.label_stuck = filled.label_stuck.or(self.label_stuck);
    }

    fn taken(&mut self, told: &Told<'_>, weight_g: i64, into: Subject) {
        self.taken_out.push(TakenOut {
            entry_id: told.id(),
            at: told.at(),
            weight_g,
            into,
        });
    }
}

impl Aggregate for Fill {
    const KIND: SubjectKind = SubjectKind::Fill;

    fn apply(&mut self, told: &Told<'_>, _: &mut Memo) {
        match told.entry {
            Entry::ContainerFilled(filled) => self.fill(told, filled),
            Entry::FillSettled(settled) => {
                self.skimmed_g += settled.skimmed_g.map_or(0, Grams::get);
                self.settled_at = Some(told.at());
            }
            Entry::HoneyStirred(_) => self.readings.clear(),
            Entry::MoistureRead(read) => self.readings.push(Reading::of(told, read)),
            Entry::HoneyDrawn(drawn) => self.taken(told, drawn.weight_g.get(), drawn.lot_id.into()),
            Entry::Blended(blended) => {
                let of_this = blended.parts.iter().filter(|part| part.from == told.about);
                let weight_g = of_this.map(|part| part.weight_g.get()).sum();
                self.taken(told, weight_g, blended.lot_id.into());
            }
            Entry::Delivered(delivered) => {
                let weight_g = delivered.bulk_g(FillId::from_uuid(told.about.id));
                self.taken(told, weight_g, delivered.delivery_id.into());
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
            (_, false, _) => "part_drawn",
            _ if self.settled_at.is_some() => "settled",
            _ => "full",
        }
    }
}

/// A part of a blend.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
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

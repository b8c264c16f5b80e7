//! Planners for supers in the house, and the parts of a label. A plan is not a decision.

use std::convert::Infallible;

use crate::plan::drying::{DryingAsked, DryingPlan, plan_drying};
use crate::plan::extraction_order::{OrderAsked, OrderPlan, plan_extraction_order};
use crate::plan::extractor_load::{LoadAsked, LoadPlan, LoadRefused, plan_extractor_loads};
use crate::profile::label::{LabelFields, LabelQuestion, label_fields};
use crate::science::sources::{
    BUCK, CLOVER_BALANCE, COMB_HABIT, DRYING_RATES, LABEL_LAW, MASS_BALANCE, TEXTBOOK_PHYSICS, WAITING_HABIT,
};
use crate::science::{drying, spin};

use super::{Computation, Refusal, computation};

pub(super) const ALL: &[Computation] = &[
    computation! {
        "plan_drying": dry as (DryingAsked) -> DryingPlan,
        does "Whether the air of a room dries honey in combs, the water to be lost, the hours as a range, and when to \
            measure again.",
        from [CLOVER_BALANCE, BUCK, MASS_BALANCE, DRYING_RATES],
        rules ["DR-1", "DR-2", "DR-3", "MO-9"],
        holds "For honey in combs. The water is exact, the direction as good as the balance table, the hours are anecdotes \
            and the habit of the trade: measure, do not wait for them.",
        caution drying::CAUTION,
    },
    computation! {
        "plan_extractor_loads": load as (LoadAsked) -> LoadPlan,
        does "Which frames stand opposite which in an extractor, in how many loads, at which speeds and for how long.",
        from [COMB_HABIT, TEXTBOOK_PHYSICS],
        rules ["SF-1", "WT-1"],
        holds "Balance is exact for the weights given and, where it says so, proven best. Speeds and minutes are the habit \
            of the trade without a published source; the maker's manual rules.",
        caution spin::CAUTION,
    },
    computation! {
        "plan_extraction_order": order as (OrderAsked) -> OrderPlan,
        does "What to do with the supers in a house and in which order, one yard after the other.",
        from [WAITING_HABIT],
        rules ["FI-2", "MO-2", "MO-9", "MO-10", "DI-1", "ID-4", "CF-17"],
        holds "For what was told. How long supers may wait is common practice without a source.",
        caution "Full supers are heavy: two people or a trolley from 23 kg. Hot knives burn and cut. Local codes and the \
            makers' manuals rule.",
    },
    computation! {
        "label_fields": fields as (LabelQuestion) -> LabelFields,
        does "What stands on the label of a jar by the texts of a profile, and how high its figures are.",
        from [LABEL_LAW],
        rules ["LB-1", "LO-3"],
        holds "A summary, part by part with its text and how that was seen; no legal advice. Check with your authority.",
    },
];

fn dry(asked: DryingAsked) -> Result<DryingPlan, Refusal> {
    plan_drying(&asked)
}

fn load(asked: LoadAsked) -> Result<LoadPlan, Refusal> {
    plan_extractor_loads(&asked).map_err(|refused| {
        let code = match refused {
            LoadRefused::NoFrames => "no_frames",
            LoadRefused::TooMany { .. } => "too_many_frames",
        };
        Refusal::at(code, "boxes", refused.to_string())
    })
}

fn order(asked: OrderAsked) -> Result<OrderPlan, Infallible> {
    Ok(plan_extraction_order(&asked))
}

fn fields(asked: LabelQuestion) -> Result<LabelFields, Infallible> {
    Ok(label_fields(&asked))
}

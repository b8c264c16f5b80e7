//! The question for a planner, read off what the house holds: contents, deciding readings, holds, origins (MO-10, BL-4).
//!
//! What the book does not know (colour, organic, smell, the work of opening) can be told beside the wish.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{BlendAsked, BlendPlan, NO_PARENT_ABOVE, OnHand, Prefer, WaterKnown};
use crate::decide::water_of;
use crate::fill::{FillSource, Part};
use crate::form::Form;
use crate::holds::Holds;
use crate::house::House;
use crate::limits::Claim;
use crate::moisture::Water;
use crate::ordered::{Map, Set};
use crate::subject::{Subject, SubjectKind};
use crate::text::Name;
use crate::trace::{Graph, Held};
use crate::units::{Days, Grams, Minutes, Moisture, Pfund};

/// What is wanted of a blend of what the house holds. What each field means is told at [`BlendAsked`].
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BlendWish {
    /// Under what claim it is to be sold; as honey in general if left out. It sets the limits (MO-1, MO-2).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub claim: Option<Claim>,
    /// The most water, hundredths of a per cent; the limit of release if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target_hundredths: Option<Moisture>,
    /// The lightest colour, mm Pfund.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub colour_from_mm: Option<Pfund>,
    /// The darkest colour, mm Pfund.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub colour_to_mm: Option<Pfund>,
    /// Claims that the blend has to bear.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub keep: Vec<Name>,
    /// Claims that may be lost.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub may_lose: Vec<Name>,
    /// Whether every claim may be lost that is not to be kept.
    #[serde(default)]
    pub may_lose_any: bool,
    /// How much is wanted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wanted_g: Option<Grams>,
    /// What is used up or saved first.
    #[serde(default)]
    pub prefer: Prefer,
    /// In which steps a container is drawn from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step_g: Option<Grams>,
    /// Only these; everything on hand if left out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub only: Vec<Subject>,
    /// Not these.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub without: Vec<Subject>,
    /// What the book does not know.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub told: Vec<ToldOf>,
}

/// What somebody knows of a fill or lot that the book does not.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ToldOf {
    /// The fill or lot.
    pub of: Subject,
    /// Its colour, mm Pfund.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub colour_mm: Option<Pfund>,
    /// What may be claimed of it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub claims: Vec<Name>,
    /// What it costs to open it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opening_min: Option<Minutes>,
    /// Whether it smells or tastes foreign.
    #[serde(default)]
    pub smells: bool,
    /// Whether it ferments.
    #[serde(default)]
    pub ferments: bool,
}

/// The question that a wish is, with everything that the house holds.
#[must_use]
pub fn from_house(house: &House, now: DateTime<Utc>, wish: &BlendWish) -> BlendAsked {
    let settings = house.settings();
    let claim = wish.claim.unwrap_or(Claim::General);
    let limit = settings.release_limit(claim);
    let mut keep = wish.keep.clone();
    keep.extend(words(claim).filter(|word| !wish.keep.contains(word)));
    BlendAsked {
        target_hundredths: wish.target_hundredths.unwrap_or(limit),
        parent_limit_hundredths: Some(NO_PARENT_ABOVE.max(settings.legal_limit(claim))),
        colour_from_mm: wish.colour_from_mm,
        colour_to_mm: wish.colour_to_mm,
        keep,
        may_lose: wish.may_lose.clone(),
        may_lose_any: wish.may_lose_any,
        wanted_g: wish.wanted_g,
        prefer: wish.prefer,
        step_g: wish.step_g,
        to_be_had_hundredths: None,
        on_hand: on_hand(house, now, wish),
    }
}

/// Every fill and lot that holds honey, as the planner sees it.
fn on_hand(house: &House, now: DateTime<Utc>, wish: &BlendWish) -> Vec<OnHand> {
    let graph = Graph::of(house);
    let holds = Holds::over(house, &graph);
    let fills = house
        .fills()
        .map(|(id, fill)| (Subject::from(id), fill.content_g, Claim::General));
    let lots = house
        .lots()
        .map(|(id, lot)| (Subject::from(id), lot.content_g, lot.claim()));
    let meant = |of: &Subject| (wish.only.is_empty() || wish.only.contains(of)) && !wish.without.contains(of);
    let mut on_hand: Vec<OnHand> = fills
        .chain(lots)
        .filter(|(of, content_g, _)| *content_g > 0 && meant(of))
        .filter_map(|(of, content_g, claim)| honey(house, (&graph, &holds), now, of, content_g, claim))
        .collect();
    for told in &wish.told {
        for honey in on_hand.iter_mut().filter(|honey| honey.from == Some(told.of)) {
            honey.colour_mm = told.colour_mm.or(honey.colour_mm);
            honey.claims.extend(told.claims.iter().cloned());
            honey.opening_min = told.opening_min.or(honey.opening_min);
            (honey.smells, honey.ferments) = (honey.smells || told.smells, honey.ferments || told.ferments);
        }
    }
    tell_apart(&mut on_hand);
    on_hand
}

fn honey(
    house: &House,
    (graph, holds): (&Graph, &Holds<'_>),
    now: DateTime<Utc>,
    of: Subject,
    content_g: i64,
    claim: Claim,
) -> Option<OnHand> {
    let water = water_of(house, of);
    let (moisture_hundredths, water_known) = match water {
        Water::OffScaleWet { .. } => (None, WaterKnown::OffScaleWet),
        Water::Forecast { moisture_hundredths } => (Some(moisture_hundredths), WaterKnown::Forecast),
        Water::Measured {
            moisture_hundredths, ..
        } => (Some(moisture_hundredths), WaterKnown::Measured),
        Water::Unmeasured => (None, WaterKnown::Measured),
    };
    let measured_days = match water {
        Water::Measured { last_at, .. } => Days::new((now - last_at).num_days().max(0)).ok(),
        _ => None,
    };
    Some(OnHand {
        label: Name::new(&called(house, of)).ok()?,
        from: Some(of),
        content_g: Grams::new(content_g).ok()?,
        moisture_hundredths,
        water_known,
        measured_days,
        colour_mm: None,
        claims: words(claim).collect(),
        holds: holds.on(of, now).iter().filter_map(in_words).collect(),
        smells: false,
        ferments: false,
        origins: origins(house, graph, of),
        opening_min: None,
    })
}

/// What stands on the pail, where the fill itself bears no code.
fn called(house: &House, of: Subject) -> String {
    let container = || {
        let id = house.fill(of.as_fill()?)?.container_id?;
        house.get(id.into())?.label()
    };
    let own = house.get(of).and_then(crate::state::State::label);
    own.or_else(container).unwrap_or_else(|| of.to_string())
}

/// A label that several bear is told apart by the id behind it.
fn tell_apart(on_hand: &mut [OnHand]) {
    let mut counts: Map<Name, usize> = Map::new();
    for honey in on_hand.iter() {
        *counts.entry(honey.label.clone()).or_default() += 1;
    }
    for honey in on_hand {
        if counts.get(&honey.label).is_some_and(|count| *count > 1)
            && let Some(from) = honey.from
            && let Ok(label) = Name::new(&format!(
                "{} ({})",
                honey.label.as_str().chars().take(70).collect::<String>(),
                from.id
            ))
        {
            honey.label = label;
        }
    }
}

fn in_words(held: &Held) -> Option<Name> {
    let reason = serde_json::to_value(held.reason).ok()?;
    let reason = reason.as_str()?.replace('_', " ");
    let label: String = held.label.chars().take(60).collect();
    Name::new(&format!(
        "{reason}, set on {} {label}, {}",
        held.on.kind.name(),
        held.since.date_naive()
    ))
    .ok()
}

/// The yards its honey came from, and who sold what was bought in.
fn origins(house: &House, graph: &Graph, of: Subject) -> Vec<Name> {
    let mut names = Set::new();
    for node in graph.origins(of).keys() {
        match node.subject.kind {
            SubjectKind::Yard => names.extend(Name::new(&house.label(node.subject))),
            SubjectKind::Fill => {
                let fill = node.subject.as_fill().and_then(|id| house.fill(id));
                if let Some(FillSource::BoughtFrom(seller)) = fill.and_then(|fill| fill.source.as_ref()) {
                    names.insert(seller.clone());
                }
            }
            _ => {}
        }
    }
    names.into_iter().collect()
}

/// A claim of the law, as a word that a label bears.
fn words(claim: Claim) -> impl Iterator<Item = Name> {
    let words: &[&str] = match claim {
        Claim::General => &[],
        Claim::Heather => &["heather"],
        Claim::Bakers => &["baker's honey"],
        Claim::BakersHeather => &["baker's honey", "heather"],
    };
    words.iter().filter_map(|word| Name::new(word).ok())
}

impl BlendPlan {
    /// The parts as the entry of a blend names them; those without a fill or lot are passed over.
    #[must_use]
    pub fn entry_parts(&self) -> Vec<Part> {
        let part = |from: Option<Subject>, grams: i64| {
            Some(Part {
                from: from?,
                weight_g: Grams::new(grams).ok()?,
            })
        };
        self.parts
            .iter()
            .filter_map(|taken| part(taken.from, taken.weight_g))
            .collect()
    }
}

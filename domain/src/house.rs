//! The states at hand for a decision or an answer, looked up by what they are of.

use std::collections::BTreeMap;

use crate::batch::Batch;
use crate::extraction::Run;
use crate::fill::{Container, Fill};
use crate::hive::Hive;
use crate::honey_super::Super;
use crate::ids::{BatchId, ContainerId, FillId, HiveId, LotId, MeterId, RunId, SuperId, YardId};
use crate::lot::Lot;
use crate::meter::Meter;
use crate::settings::Settings;
use crate::state::State;
use crate::subject::{Subject, SubjectKind};
use crate::yard::Yard;

/// Folded states of one operation: those that a question needs, or all of them.
#[derive(Clone, Debug, Default)]
pub struct House {
    states: BTreeMap<Subject, State>,
}

macro_rules! lookups {
    ($($(#[$doc:meta])* $one:ident $many:ident $kind:ident $id:ident $as_kind:ident $state:ident),* $(,)?) => {
        impl House {
            $(
                $(#[$doc])*
                #[must_use]
                pub fn $one(&self, id: $id) -> Option<&$state> {
                    self.states.get(&id.into()).and_then(State::$as_kind)
                }

                /// All of that kind, by id.
                pub fn $many(&self) -> impl Iterator<Item = ($id, &$state)> {
                    self.of_kind(SubjectKind::$kind)
                        .filter_map(|(subject, state)| Some(($id::from_uuid(subject.id), state.$as_kind()?)))
                }
            )*
        }
    };
}

lookups! {
    /// A batch of jars.
    batch batches Batch BatchId as_batch Batch,
    /// A container.
    container containers Container ContainerId as_container Container,
    /// What is in a container.
    fill fills Fill FillId as_fill Fill,
    /// A hive.
    hive hives Hive HiveId as_hive Hive,
    /// A lot.
    lot lots Lot LotId as_lot Lot,
    /// A refractometer.
    meter meters Meter MeterId as_meter Meter,
    /// A run.
    run runs Run RunId as_run Run,
    /// A super.
    honey_super supers Super SuperId as_super Super,
    /// A yard.
    yard yards Yard YardId as_yard Yard,
}

impl House {
    /// Adds a state.
    pub fn insert(&mut self, subject: Subject, state: State) {
        self.states.insert(subject, state);
    }

    /// Takes a state away again.
    pub fn remove(&mut self, subject: Subject) {
        self.states.remove(&subject);
    }

    /// The state of a thing, if it is at hand.
    #[must_use]
    pub fn get(&self, subject: Subject) -> Option<&State> {
        self.states.get(&subject)
    }

    /// Everything at hand.
    pub fn iter(&self) -> impl Iterator<Item = (Subject, &State)> {
        self.states.iter().map(|(subject, state)| (*subject, state))
    }

    /// Everything of one kind, by id.
    pub fn of_kind(&self, kind: SubjectKind) -> impl Iterator<Item = (Subject, &State)> {
        let from = Subject {
            kind,
            id: uuid::Uuid::nil(),
        };
        let to = Subject {
            kind,
            id: uuid::Uuid::max(),
        };
        self.states.range(from..=to).map(|(subject, state)| (*subject, state))
    }

    /// What people call a thing; its kind and id where nobody named it.
    #[must_use]
    pub fn label(&self, subject: Subject) -> String {
        self.get(subject)
            .and_then(State::label)
            .unwrap_or_else(|| subject.to_string())
    }

    /// The thing that bears a code or number, as people type it; the one nearest to the jar where several do.
    #[must_use]
    pub fn named(&self, code: &str) -> Option<Subject> {
        let wanted = code.trim();
        let parsed = crate::lot_code::LotCode::parse(wanted)
            .ok()
            .map(|code| code.to_string());
        let bears = |subject: &Subject, state: &State| {
            let label = state.label();
            let same = |label: &String| label.eq_ignore_ascii_case(wanted) || parsed.as_ref() == Some(label);
            label.as_ref().is_some_and(same) || subject.id.to_string() == wanted
        };
        [
            SubjectKind::Batch,
            SubjectKind::Lot,
            SubjectKind::Fill,
            SubjectKind::Super,
            SubjectKind::Hive,
            SubjectKind::Run,
        ]
        .into_iter()
        .chain([
            SubjectKind::Container,
            SubjectKind::Yard,
            SubjectKind::Customer,
            SubjectKind::Delivery,
        ])
        .find_map(|kind| self.of_kind(kind).find(|(subject, state)| bears(subject, state)))
        .map(|(subject, _)| subject)
    }

    /// What the owner settled; the defaults where nothing was.
    #[must_use]
    pub fn settings(&self) -> Settings {
        self.of_kind(SubjectKind::Settings)
            .find_map(|(_, state)| state.as_settings().cloned())
            .unwrap_or_default()
    }
}

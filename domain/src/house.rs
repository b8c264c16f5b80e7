//! The states at hand for a decision or an answer, looked up by what they are of.

use crate::batch::Batch;
use crate::books::Books;
use crate::colony::Colony;
use crate::extraction::Run;
use crate::fill::{Container, Fill};
use crate::hive::Hive;
use crate::honey_super::{Super, Whereabouts};
use crate::ids::{
    BatchId, BooksId, ColonyId, ContainerId, FillId, HiveId, LotId, MedicineId, MeterId, RunId, ScaleId, SuperId,
    YardId,
};
use crate::lot::Lot;
use crate::medicine::Medicine;
use crate::meter::{Meter, Scale};
use crate::ordered::{Map, Set};
use crate::settings::Settings;
use crate::state::State;
use crate::subject::{Subject, SubjectKind};
use crate::yard::Yard;
use uuid::Uuid;

/// Folded states of one operation: those that a question needs, or all of them.
#[derive(Clone, Debug, Default)]
pub struct House {
    states: Map<Subject, State>,
    /// Who bears a number or code, for those kinds of which two may bear one.
    bearers: Map<(SubjectKind, String), Set<Uuid>>,
}

/// The number or code by which a thing is known, if another of its kind may bear the same (ID-2, CF-13).
fn shareable(subject: Subject, state: &State) -> Option<(SubjectKind, String)> {
    let in_use = match subject.kind {
        SubjectKind::Lot | SubjectKind::Batch => true,
        SubjectKind::Super => state
            .as_super()
            .is_some_and(|state| state.whereabouts != Whereabouts::Ended),
        _ => false,
    };
    let label = state.label().filter(|_| in_use)?;
    Some((subject.kind, label.to_lowercase()))
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
    /// Work, costs, income and prices.
    books all_books Books BooksId as_books Books,
    /// A colony.
    colony colonies Colony ColonyId as_colony Colony,
    /// A container.
    container containers Container ContainerId as_container Container,
    /// What is in a container.
    fill fills Fill FillId as_fill Fill,
    /// A hive.
    hive hives Hive HiveId as_hive Hive,
    /// A lot.
    lot lots Lot LotId as_lot Lot,
    /// A medicine.
    medicine medicines Medicine MedicineId as_medicine Medicine,
    /// A refractometer.
    meter meters Meter MeterId as_meter Meter,
    /// A run.
    run runs Run RunId as_run Run,
    /// A weighing scale.
    scale scales Scale ScaleId as_scale Scale,
    /// A super.
    honey_super supers Super SuperId as_super Super,
    /// A yard.
    yard yards Yard YardId as_yard Yard,
}

impl House {
    /// Adds a state.
    pub fn insert(&mut self, subject: Subject, state: State) {
        if let Some(before) = self.states.get(&subject).and_then(|before| shareable(subject, before))
            && let Some(bearers) = self.bearers.get_mut(&before)
        {
            bearers.remove(&subject.id);
        }
        if let Some(bears) = shareable(subject, &state) {
            self.bearers.entry(bears).or_default().insert(subject.id);
        }
        self.states.insert(subject, state);
    }

    /// Takes a state away again.
    pub fn remove(&mut self, subject: Subject) -> Option<State> {
        self.states.remove(&subject)
    }

    /// A state to be written, which takes it by `&mut`; what it says must stay the same.
    pub(crate) fn for_writing(&mut self, subject: Subject) -> Option<&mut State> {
        self.states.get_mut(&subject)
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
        self.states
            .between(&from, &to)
            .map(|(subject, state)| (*subject, state))
    }

    /// What people call a thing; a delivery without a number by its day, and its kind and id where nobody named it. Of
    /// several that bear one number or code each gets a letter behind it until somebody settles it (CF-8, CF-13).
    #[must_use]
    pub fn label(&self, subject: Subject) -> String {
        let Some(state) = self.get(subject) else {
            return subject.to_string();
        };
        let day = || state.as_delivery()?.day().map(|day| day.to_string());
        let Some(label) = state.label().or_else(day) else {
            return subject.to_string();
        };
        match shareable(subject, state).and_then(|bears| self.suffix(subject, &bears)) {
            Some(suffix) => format!("{label}{suffix}"),
            None => label,
        }
    }

    fn suffix(&self, subject: Subject, bears: &(SubjectKind, String)) -> Option<String> {
        let bearers = self.bearers.get(bears).filter(|bearers| bearers.len() > 1)?;
        let at = bearers.iter().position(|id| *id == subject.id)?;
        Some(match u8::try_from(at).ok().filter(|at| *at < 26) {
            Some(at) => char::from(b'a' + at).to_string(),
            None => format!("-{at}"),
        })
    }

    /// Everything that may be meant by a code or number, as people type it: of the kind nearest to the jar that bears
    /// it, all that do.
    #[must_use]
    pub fn all_named(&self, code: &str) -> Vec<Subject> {
        let Some(first) = self.named(code) else {
            return Vec::new();
        };
        let bears = self.get(first).and_then(|state| shareable(first, state));
        // Asked with its letter, only the one is meant.
        let one = self.label(first).eq_ignore_ascii_case(code.trim());
        match bears
            .and_then(|bears| self.bearers.get(&bears))
            .filter(|bearers| !one && bearers.len() > 1)
        {
            Some(bearers) => bearers
                .iter()
                .map(|id| Subject {
                    kind: first.kind,
                    id: *id,
                })
                .collect(),
            None => vec![first],
        }
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
            label.as_ref().is_some_and(same)
                || subject.id.to_string() == wanted
                || (label.is_some() && self.label(*subject).eq_ignore_ascii_case(wanted))
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

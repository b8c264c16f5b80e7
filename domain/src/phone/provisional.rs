//! What a phone shows of things it wrote and has not sent: the rows it pulled, with its own entries folded on top.
//!
//! Only a likeness: the service folds again once it has them. A correction of something unsent counts at once; one of
//! something sent before needs entries that the phone does not keep, and shows after sending.

use chrono::{DateTime, Utc};

use super::{BadField, Phone, Shown, ShownRow, asked, part};
use crate::entry::{Entry, Recorded};
use crate::form::{Form, Node, Raw, written};
use crate::ids::{DeviceId, EntryId, MemberId};
use crate::ordered::{Map, Set};
use crate::state::State;
use crate::subject::Subject;

/// An entry of the outbox, as it will be sent. More may stand in it; only this is read.
#[derive(Debug, Form)]
struct Unsent {
    id: EntryId,
    kind: String,
    v: u16,
    happened_at: DateTime<Utc>,
    utc_offset_min: i16,
    device_counter: i64,
    saw: i64,
}

/// Whose outbox it is.
#[derive(Debug, Form)]
struct Whose {
    device_id: DeviceId,
}

/// Reads the outbox.
///
/// # Errors
/// Where an entry does not read, which only another program's entry can.
pub(super) fn read(ask: &Node<'_>, entries: &[Node<'_>]) -> Result<Vec<Recorded>, BadField> {
    let device = asked::<Whose>(ask)?.device_id;
    let read = entries.iter().enumerate().map(|(at, node)| {
        let unsent: Unsent = asked(node)?;
        let entry = Entry::told(&unsent.kind, unsent.v, part(node, "data")?).map_err(|refused| BadField {
            pointer: format!("/entries/{at}"),
            detail: refused.to_string(),
        })?;
        Ok(Recorded {
            id: unsent.id,
            // Later than everything the phone knew of.
            seq: i64::MAX,
            device,
            author: MemberId::from_uuid(uuid::Uuid::nil()),
            device_counter: unsent.device_counter,
            saw: unsent.saw,
            effective_at: unsent.happened_at,
            utc_offset_min: unsent.utc_offset_min,
            entry,
        })
    });
    read.collect()
}

/// The entries that count, corrections of unsent ones done, and those whose effect shows only after sending.
fn settle(mut unsent: Vec<Recorded>) -> (Vec<Recorded>, Vec<EntryId>) {
    unsent.sort_by_key(|recorded| recorded.device_counter);
    let mut counts: Map<EntryId, Recorded> = Map::new();
    let mut order = Vec::new();
    let mut withdrawn: Map<EntryId, Recorded> = Map::new();
    // What an amendment or a withdrawal was about, so that correcting a correction finds the same thing.
    let mut meant: Map<EntryId, EntryId> = Map::new();
    let mut after_sending = Vec::new();
    for recorded in unsent {
        let Some(target) = recorded.entry.corrects() else {
            order.push(recorded.id);
            counts.insert(recorded.id, recorded);
            continue;
        };
        let original = meant.get(&target).copied().unwrap_or(target);
        meant.insert(recorded.id, original);
        let id = recorded.id;
        match recorded.entry {
            Entry::Amended(amended) if counts.contains_key(&original) => {
                if let Some(amends) = counts.get_mut(&original) {
                    amends.entry = *amended.instead;
                }
            }
            Entry::Voided(_) if target == original && counts.contains_key(&original) => {
                if let Some(gone) = counts.remove(&original) {
                    withdrawn.insert(original, gone);
                }
            }
            // Withdrawing the withdrawal brings it back.
            Entry::Voided(_) if withdrawn.contains_key(&original) => {
                if let Some(back) = withdrawn.remove(&original) {
                    counts.insert(original, back);
                }
            }
            _ => after_sending.push(id),
        }
    }
    let settled = order.into_iter().filter_map(|id| counts.remove(&id)).collect();
    (settled, after_sending)
}

impl Phone {
    /// Takes in a row from the service: beneath what is folded on, if anything is.
    pub(super) fn put(&mut self, subject: Subject, state: State) {
        match self.beneath.get_mut(&subject) {
            Some(beneath) => *beneath = Some(state),
            None => self.house.insert(subject, state),
        }
    }

    /// Folds the outbox on, in place of what was folded on before, and answers every row that shows it or no longer
    /// does.
    pub(super) fn fold_on(&mut self, unsent: Vec<Recorded>) -> Shown {
        let mut changed = Set::new();
        for (subject, state) in std::mem::take(&mut self.beneath) {
            changed.insert(subject);
            match state {
                Some(state) => self.house.insert(subject, state),
                None => {
                    self.house.remove(subject);
                }
            }
        }
        let (counts, after_sending) = settle(unsent);
        let mut told: Map<Subject, Vec<&Recorded>> = Map::new();
        for recorded in &counts {
            for subject in recorded.entry.touches() {
                told.entry(subject).or_default().push(recorded);
            }
        }
        for (subject, entries) in told {
            let mut before = self.house.remove(subject);
            let again = before
                .as_mut()
                .map_or_else(|| Some(State::empty(subject.kind)), State::again);
            // Without a memory of earlier entries there is nothing that could sort after these.
            let folded = again.and_then(|mut state| state.go_on_with(subject, entries).then_some(state));
            if let Some(state) = folded {
                self.house.insert(subject, state);
                self.beneath.insert(subject, before);
                changed.insert(subject);
            } else if let Some(before) = before {
                self.house.insert(subject, before);
            }
        }
        let rows = changed.into_iter().filter_map(|subject| {
            let state = self.house.for_writing(subject)?;
            Some(ShownRow {
                subject,
                label: state.label(),
                status: state.status(),
                state: Raw(written(state)),
            })
        });
        Shown {
            rows: rows.collect(),
            after_sending,
        }
    }
}

//! From new entries to new state rows: going on from the kept state where that is right, else folding anew.

use std::collections::{BTreeMap, HashMap};

use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::entry::Recorded;
use domain::state::{FOLD_VERSION, State};
use domain::subject::{Subject, SubjectKind};
use uuid::Uuid;

use crate::ledger::sql::{FindLinked, FindStates};
use crate::ledger::stored;

/// A state as it is kept.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct StateRow {
    /// The thing.
    pub(crate) subject: Subject,
    /// The number of the newest entry it is folded from.
    pub(crate) changed_seq: i64,
    /// What people call it.
    pub(crate) label: Option<String>,
    /// Its state in one word.
    pub(crate) status: &'static str,
    /// How many flags it carries.
    pub(crate) flags: i32,
    /// The state as shown.
    pub(crate) state: String,
    /// What the fold needs to go on.
    pub(crate) memo: String,
}

impl StateRow {
    fn new(subject: Subject, changed_seq: i64, state: &State) -> Self {
        Self {
            subject,
            changed_seq,
            label: state.label(),
            status: state.status(),
            flags: i32::try_from(state.flags().len()).unwrap_or(i32::MAX),
            state: state.state_json(),
            memo: state.memo_json(),
        }
    }
}

/// What some entries change.
#[derive(Debug, Default)]
pub(crate) struct Changes(BTreeMap<Subject, Change>);

#[derive(Debug, Default)]
struct Change {
    /// The entries that are not linked to the thing yet.
    entries: Vec<Recorded>,
    /// Whether a correction is among them.
    anew: bool,
}

impl Changes {
    /// A thing changes by one more entry.
    pub(crate) fn go_on(&mut self, subject: Subject, entry: Recorded) {
        self.0.entry(subject).or_default().entries.push(entry);
    }

    /// A thing must be folded anew, with these entries besides those that are linked to it already.
    pub(crate) fn anew(&mut self, subject: Subject, entries: &[Recorded]) {
        let change = self.0.entry(subject).or_default();
        change.entries.extend_from_slice(entries);
        change.anew = true;
    }

    /// Folds every changed thing.
    ///
    /// # Errors
    /// When the database refuses.
    pub(crate) async fn fold(
        mut self,
        conn: &mut AsyncPgConnection,
        operation: Uuid,
    ) -> Result<Vec<StateRow>, diesel::result::Error> {
        let (kinds, ids) = names(
            self.0
                .iter()
                .filter(|(_, change)| !change.anew)
                .map(|(subject, _)| subject),
        );
        let kept: Vec<(String, Uuid, String, String, i32)> = FindStates {
            kinds: &kinds,
            ids: &ids,
            operation: &operation,
        }
        .load(conn)
        .await?;
        let mut kept: HashMap<Subject, Kept> = kept
            .into_iter()
            .filter_map(|(kind, id, state, memo, version)| {
                let subject = Subject {
                    kind: SubjectKind::named(&kind)?,
                    id,
                };
                Some((subject, Kept { state, memo, version }))
            })
            .collect();
        let mut rows = Vec::with_capacity(self.0.len());
        self.0
            .retain(|subject, change| match change.gone_on(*subject, kept.remove(subject)) {
                Some(row) => {
                    rows.push(row);
                    false
                }
                None => true,
            });
        if !self.0.is_empty() {
            let entries = self.0.into_iter().map(|(subject, change)| (subject, change.entries));
            rows.extend(fold_anew(conn, operation, entries.collect()).await?);
        }
        Ok(rows)
    }
}

struct Kept {
    state: String,
    memo: String,
    version: i32,
}

impl Change {
    /// The state gone on from the kept one; none where only folding anew is right.
    fn gone_on(&self, subject: Subject, kept: Option<Kept>) -> Option<StateRow> {
        if self.anew {
            return None;
        }
        let mut state = match kept {
            None => State::empty(subject.kind),
            Some(kept) if kept.version == FOLD_VERSION => {
                // A kept state that does not read was written by other rules: folding anew mends it.
                State::read(subject.kind, &kept.state, &kept.memo).ok()?
            }
            Some(_) => return None,
        };
        let newest = newest(&self.entries);
        state
            .go_on(subject, &self.entries)
            .then(|| StateRow::new(subject, newest, &state))
    }
}

fn newest(entries: &[Recorded]) -> i64 {
    entries.iter().map(|recorded| recorded.seq).max().unwrap_or(0)
}

fn names<'a>(subjects: impl Iterator<Item = &'a Subject>) -> (Vec<&'static str>, Vec<Uuid>) {
    subjects.map(|subject| (subject.kind.name(), subject.id)).unzip()
}

/// Folds things from all their linked entries and those given.
///
/// # Errors
/// When the database refuses.
pub(crate) async fn fold_anew(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    mut entries: BTreeMap<Subject, Vec<Recorded>>,
) -> Result<Vec<StateRow>, diesel::result::Error> {
    let (kinds, ids) = names(entries.keys());
    let linked: Vec<(String, Uuid, stored::Row)> = FindLinked {
        kinds: &kinds,
        ids: &ids,
        operation: &operation,
    }
    .load(conn)
    .await?;
    // An entry may be about several things; it is read once.
    let mut read: HashMap<i64, Option<Recorded>> = HashMap::new();
    for (kind, id, row) in &linked {
        let recorded = read.entry(row.0).or_insert_with(|| stored::recorded_or_said(row));
        let subject = SubjectKind::named(kind).map(|kind| Subject { kind, id: *id });
        if let (Some(recorded), Some(subject)) = (recorded, subject) {
            entries.entry(subject).or_default().push(recorded.clone());
        }
    }
    let rows = entries
        .into_iter()
        .filter(|(_, entries)| !entries.is_empty())
        .map(|(subject, entries)| StateRow::new(subject, newest(&entries), &State::fold(subject, &entries)));
    Ok(rows.collect())
}

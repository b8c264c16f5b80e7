//! From new entries to new state rows: going on from the kept state where that is right, else folding anew.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::entry::Recorded;
use domain::grown::joined;
use domain::state::{FOLD_VERSION, State};
use domain::subject::{Subject, SubjectKind};
use uuid::Uuid;

use crate::ledger::sql::{DropParts, FindLinked, FindStates};
use crate::ledger::steps::Steps;
use crate::ledger::stored;
use crate::side_by_side::side_by_side;

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
    /// Which parts lie beside it already, and which one joins them now, of state and memory.
    pub(crate) parts: Parts,
}

/// The parts of a state.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Parts {
    /// All lie elsewhere up to this number; none where the state was folded anew.
    pub(crate) before: i32,
    /// What left it now.
    pub(crate) new: Option<(String, String)>,
}

impl Parts {
    /// How many there are.
    pub(crate) fn count(&self) -> i32 {
        self.before + i32::from(self.new.is_some())
    }
}

/// A part that is new: whose, its number, its texts of state and memory.
pub(crate) type NewPart<'a> = (Subject, i32, &'a str, &'a str);

/// The parts that left these states.
pub(crate) fn new_parts(rows: &[StateRow]) -> Vec<NewPart<'_>> {
    let with_part = rows.iter().filter_map(|row| Some((row, row.parts.new.as_ref()?)));
    with_part
        .map(|(row, (state, memo))| (row.subject, row.parts.before, state.as_str(), memo.as_str()))
        .collect()
}

impl StateRow {
    fn new(subject: Subject, changed_seq: i64, state: &mut State, parts: i32) -> Self {
        let (label, status) = (state.label(), state.status());
        let new = state.put_away();
        Self {
            subject,
            changed_seq,
            label,
            status,
            flags: i32::try_from(state.flags().len()).unwrap_or(i32::MAX),
            state: state.state_json(),
            memo: state.memo_json(),
            parts: Parts { before: parts, new },
        }
    }

    /// The state with its part, where it was folded anew, as [`joined`] writes it.
    ///
    /// # Errors
    /// When they do not read, which would be a fault of ours.
    pub(crate) fn whole(&self) -> Result<String, serde_json::Error> {
        let parts = self.parts.new.as_ref().map(|(state, _)| state.as_str());
        joined(&self.state, parts)
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

    /// Folds every changed thing, going on from what is kept of it.
    ///
    /// # Errors
    /// When the database refuses.
    pub(crate) async fn fold(
        self,
        conn: &mut AsyncPgConnection,
        operation: Uuid,
        mut kept: KeptStates,
    ) -> Result<Vec<StateRow>, diesel::result::Error> {
        let changed = self.0.into_iter().map(|(subject, change)| {
            let kept = kept.0.remove(&subject);
            (subject, change, kept)
        });
        let folded = side_by_side(changed.collect(), |(subject, change, kept)| {
            let row = change.gone_on(subject, kept);
            (subject, change, row)
        });
        let (mut rows, mut anew) = (Vec::with_capacity(folded.len()), BTreeMap::new());
        for (subject, change, row) in folded {
            match row {
                Some(row) => rows.push(row),
                None => drop(anew.insert(subject, change.entries)),
            }
        }
        if !anew.is_empty() {
            Steps::asked_besides("fold", 2);
            drop_parts(conn, operation, anew.keys()).await?;
            rows.extend(fold_anew(conn, operation, anew).await?);
        }
        Ok(rows)
    }
}

/// What is kept of some things.
pub(crate) struct KeptStates(HashMap<Subject, Kept>);

impl KeptStates {
    /// Asks for them.
    ///
    /// # Errors
    /// When the database refuses.
    pub(crate) async fn ask(
        mut conn: &AsyncPgConnection,
        operation: Uuid,
        subjects: &BTreeSet<Subject>,
    ) -> Result<Self, diesel::result::Error> {
        let (kinds, ids) = names(subjects.iter());
        let question = FindStates {
            kinds: &kinds,
            ids: &ids,
            operation: &operation,
        };
        let kept: Vec<(String, Uuid, String, String, i32, i32)> = question.load(&mut conn).await?;
        let named = |(kind, id, state, memo, version, parts): (String, _, _, _, _, _)| {
            let kind = SubjectKind::named(&kind)?;
            let kept = Kept {
                state,
                memo,
                version,
                parts,
            };
            Some((Subject { kind, id }, kept))
        };
        Ok(Self(kept.into_iter().filter_map(named).collect()))
    }
}

struct Kept {
    state: String,
    memo: String,
    version: i32,
    parts: i32,
}

impl Change {
    /// The state gone on from the kept one; none where only folding anew is right.
    fn gone_on(&self, subject: Subject, kept: Option<Kept>) -> Option<StateRow> {
        if self.anew {
            return None;
        }
        let (mut state, parts) = match kept {
            None => (State::empty(subject.kind), 0),
            Some(kept) if kept.version == FOLD_VERSION => {
                // A kept state that does not read was written by other rules: folding anew mends it.
                let mut state = State::read(subject.kind, &kept.state, &kept.memo).ok()?;
                if kept.parts > 0 {
                    state.begin_away();
                }
                (state, kept.parts)
            }
            Some(_) => return None,
        };
        let newest = newest(&self.entries);
        state
            .go_on(subject, &self.entries)
            .then(|| StateRow::new(subject, newest, &mut state, parts))
    }
}

fn newest(entries: &[Recorded]) -> i64 {
    entries.iter().map(|recorded| recorded.seq).max().unwrap_or(0)
}

fn names<'a>(subjects: impl Iterator<Item = &'a Subject>) -> (Vec<&'static str>, Vec<Uuid>) {
    subjects.map(|subject| (subject.kind.name(), subject.id)).unzip()
}

/// Drops the parts of things that are folded anew.
///
/// # Errors
/// When the database refuses.
pub(crate) async fn drop_parts(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    subjects: impl Iterator<Item = &Subject>,
) -> Result<(), diesel::result::Error> {
    let (kinds, ids) = names(subjects);
    let statement = DropParts {
        kinds: &kinds,
        ids: &ids,
        operation: &operation,
    };
    statement.execute(conn).await?;
    Ok(())
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
        .map(|(subject, entries)| StateRow::new(subject, newest(&entries), &mut State::fold(subject, &entries), 0));
    Ok(rows.collect())
}

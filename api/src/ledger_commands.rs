//! `yardjar rebuild` and `yardjar verify`: making what follows from the ledger anew, and proving that it follows.
//!
//! Both work as `yj_owner`, one operation a transaction, and beside a running service: a rebuild holds the turn, so
//! pushes wait or are told to come again; a verification reads one snapshot and holds nobody up. A rebuild yields the
//! same links and the same states with the same `changed_seq`, since all of that follows from the entries alone.

mod catch_up;
mod rebuild;
mod verify;

use std::collections::{BTreeMap, BTreeSet, HashSet};

use diesel::sql_types::{BigInt, Binary, Nullable, Text, Uuid as SqlUuid};
use diesel::{ConnectionError, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::subject::Subject;
use uuid::Uuid;

use crate::ledger::sql::{FindRelated, StoredColumns, statement};
use crate::ledger::{Member, relate, stored};
use crate::projections::{StateRow, fold_anew};

pub use catch_up::catch_up;
pub use rebuild::rebuild;
pub use verify::{Fault, OperationReport, Report, verify, verify_after};

/// Entries and things that are looked at in one go.
const CHUNK: usize = 1_000;

/// Why a command ended early.
#[derive(Debug, thiserror::Error)]
pub enum CommandRefused {
    /// The database cannot be reached.
    #[error("the database cannot be reached")]
    Unreachable(#[from] ConnectionError),
    /// A statement failed.
    #[error("the database refused a statement")]
    Statement(#[from] diesel::result::Error),
    /// There is no such business.
    #[error("there is no operation called {0:?}")]
    UnknownOperation(String),
}

#[derive(QueryableByName)]
pub(crate) struct Operation {
    #[diesel(sql_type = SqlUuid)]
    pub(crate) id: Uuid,
    #[diesel(sql_type = Text)]
    pub(crate) name: String,
}

pub(crate) async fn operations(
    conn: &mut AsyncPgConnection,
    only: Option<&str>,
) -> Result<Vec<Operation>, CommandRefused> {
    let question = diesel::sql_query(
        "select id, name from operation where $1 is null or name = $1 or id::text = $1 order by created_at, id",
    );
    let found: Vec<Operation> = question.bind::<Nullable<Text>, _>(only).load(conn).await?;
    match only {
        Some(name) if found.is_empty() => Err(CommandRefused::UnknownOperation(name.to_owned())),
        _ => Ok(found),
    }
}

pub(crate) async fn open(conn: &mut AsyncPgConnection, operation: Uuid) -> Result<(), diesel::result::Error> {
    let set = diesel::sql_query("select set_config('app.operation', $1, true)");
    set.bind::<Text, _>(operation.to_string()).execute(conn).await?;
    Ok(())
}

type Extras = (Binary, Binary, Nullable<SqlUuid>, Nullable<Text>);
type ExtrasRead = (Vec<u8>, Vec<u8>, Option<Uuid>, Option<String>);

statement! {
    /// Whole entries in the order of their numbers.
    WholeEntries -> (StoredColumns, Extras),
    "select e.seq, e.id, e.kind, e.v, e.body, e.device_id, e.author_id, e.device_counter, e.saw, e.utc_offset_min,
            e.effective_at, e.content_hash, e.chain, e.corrects, e.quarantine
       from entry e where e.operation_id = ",
    operation: Uuid as SqlUuid,
    " and e.seq > ",
    after: i64 as BigInt,
    " order by e.seq limit ",
    limit: i64 as BigInt,
    "",
}

type Links = BTreeSet<(Subject, i64)>;

/// Goes over the ledger after a number in order, shows each entry, and answers which entries belong to which things.
async fn walk(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    begin: i64,
    mut each: impl FnMut(&stored::Row, &ExtrasRead, Option<&stored::Unreadable>),
) -> Result<Links, diesel::result::Error> {
    let limit = i64::try_from(CHUNK).unwrap_or(i64::MAX);
    let (mut links, mut corrections, mut after) = (Links::new(), HashSet::new(), begin);
    loop {
        let question = WholeEntries {
            operation: &operation,
            after: &after,
            limit: &limit,
        };
        let rows: Vec<(stored::Row, ExtrasRead)> = question.load(conn).await?;
        let Some((last, _)) = rows.last() else { break };
        after = last.0;
        for (row, extras) in &rows {
            if extras.3.is_some() {
                each(row, extras, None);
                continue;
            }
            match stored::recorded(row) {
                Err(error) => each(row, extras, Some(&error)),
                Ok(recorded) => {
                    each(row, extras, None);
                    // A correction before the beginning may have waited for this one.
                    corrections.extend((begin > 0).then_some(row.1));
                    match recorded.entry.corrects() {
                        Some(target) => corrections.extend([row.1, target.uuid()]),
                        None => links.extend(recorded.entry.touches().into_iter().map(|subject| (subject, row.0))),
                    }
                }
            }
        }
    }
    let ids: Vec<Uuid> = corrections.into_iter().collect();
    let related: Vec<(stored::Row, Option<Uuid>)> = FindRelated {
        ids: &ids,
        operation: &operation,
    }
    .load(conn)
    .await?;
    let members = related
        .iter()
        .filter_map(|(row, _)| stored::recorded(row).ok())
        .map(Member::new);
    for group in relate(members.collect()) {
        for subject in &group.subjects {
            links.extend(group.members.iter().map(|member| (*subject, member.seq)));
        }
    }
    Ok(links)
}

fn subjects<'a>(links: impl IntoIterator<Item = &'a (Subject, i64)>) -> Vec<Subject> {
    let mut subjects: Vec<Subject> = links.into_iter().map(|(subject, _)| *subject).collect();
    subjects.dedup();
    subjects
}

async fn fold(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    subjects: &[Subject],
) -> Result<Vec<StateRow>, diesel::result::Error> {
    let none: BTreeMap<_, _> = subjects.iter().map(|subject| (*subject, Vec::new())).collect();
    fold_anew(conn, operation, none).await
}

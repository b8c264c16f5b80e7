//! Reading states: some by name, all of a kind, pages of a kind, and what changed since a number.
//!
//! Who has no right to read customers is not shown customers and deliveries, whatever was asked for.

use diesel::sql_types::{Array, BigInt, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::grown::joined;
use domain::state::State;
use domain::subject::{Subject, SubjectKind};
use uuid::Uuid;

use crate::auth::{Right, Who};
use crate::ledger::Position;
use crate::ledger::sql::statement;

/// A state as it is read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// The thing.
    pub subject: Subject,
    /// The number of the newest entry it is folded from.
    pub changed_seq: i64,
    /// What people call it.
    pub label: Option<String>,
    /// Its state in one word.
    pub status: String,
    /// How many flags it carries.
    pub flags: i32,
    /// The state as JSON text.
    pub state: String,
    /// The fold's memory as JSON text.
    pub memo: String,
}

impl Row {
    /// The state itself.
    ///
    /// # Errors
    /// When it was kept by a program that wrote it otherwise.
    pub fn read(&self) -> Result<State, serde_json::Error> {
        State::read(self.subject.kind, &self.state, &self.memo)
    }
}

type Columns = (
    (Text, SqlUuid, BigInt, Nullable<Text>, Text, Integer),
    (Text, Nullable<Array<Text>>),
    (Text, Nullable<Array<Text>>),
);
type Named = (String, Uuid, i64, Option<String>, String, i32);
/// A text with the parts that left it.
type WithParts = (String, Option<Vec<String>>);
type Read = (Named, WithParts, WithParts);

/// The columns of a row `s` and what left it, with the memory or with an empty one. Most rows have no parts, and nobody
/// looks for them.
macro_rules! columns {
    () => {
        concat!(columns!(@named), ", '{}'::text, null::text[]")
    };
    (memo) => {
        concat!(columns!(@named), ", s.memo, ", columns!(@past "memo"))
    };
    (@named) => {
        concat!("s.kind, s.id, s.changed_seq, s.label, s.status, s.flags, s.state, ", columns!(@past "state"))
    };
    (@past $of:literal) => {
        concat!(
            "case when s.parts > 0 then array(select p.", $of, " from state_part p where p.operation_id = s.operation_id ",
            "and p.kind = s.kind and p.id = s.id order by p.n) end"
        )
    };
}

statement! {
    /// Some states.
    ByName -> Columns,
    concat!("select ", columns!(memo), " from unnest("),
    kinds: [&'a str] as Array<Text>,
    ", ",
    ids: [Uuid] as Array<SqlUuid>,
    ") as k(kind, id) cross join lateral (
        select * from state_row s
         where s.kind = k.kind and s.id = k.id and s.operation_id = ",
    operation: Uuid as SqlUuid,
    " limit 1) s",
}

statement! {
    /// All states that bear these numbers and codes.
    Bearing -> Columns,
    concat!("select ", columns!(memo), " from state_row s where operation_id = "),
    operation: Uuid as SqlUuid,
    " and (kind, lower(label)) in (select kind, lower(label) from unnest(",
    kinds: [&'a str] as Array<Text>,
    ", ",
    labels: [&'a str] as Array<Text>,
    ") as borne(kind, label))",
}

statement! {
    /// All states of some kinds.
    ByKind -> Columns,
    concat!("select ", columns!(memo), " from state_row s where operation_id = "),
    operation: Uuid as SqlUuid,
    " and kind = any(",
    kinds: [&'a str] as Array<Text>,
    ") order by kind, label nulls last, id",
}

statement! {
    /// All states of some kinds, without the memories of their folds.
    ByKindBare -> Columns,
    concat!("select ", columns!(), " from state_row s where operation_id = "),
    operation: Uuid as SqlUuid,
    " and kind = any(",
    kinds: [&'a str] as Array<Text>,
    ") order by kind, id",
}

statement! {
    /// A page of a kind.
    Page -> Columns,
    concat!("select ", columns!(memo), " from state_row s where operation_id = "),
    operation: Uuid as SqlUuid,
    " and kind = ",
    kind: &'a str as Text,
    " and (status = ",
    status: Option<&'a str> as Nullable<Text>,
    " or $3 is null) and (coalesce(label, ''), id) > (coalesce(",
    after_label: Option<&'a str> as Nullable<Text>,
    ", ''), coalesce(",
    after_id: Option<Uuid> as Nullable<SqlUuid>,
    ", '00000000-0000-0000-0000-000000000000')) order by coalesce(label, ''), id limit ",
    limit: i64 as BigInt,
    "",
}

statement! {
    /// What changed, in the order of change.
    Since -> Columns,
    concat!("select ", columns!(), " from state_row s where operation_id = "),
    operation: Uuid as SqlUuid,
    " and changed_seq >= ",
    seq: i64 as BigInt,
    " and (changed_seq, kind, id) > ($2, ",
    kind: &'a str as Text,
    ", ",
    id: Uuid as SqlUuid,
    ") and kind <> all(",
    hidden: [&'a str] as Array<Text>,
    ") order by changed_seq, kind, id limit ",
    limit: i64 as BigInt,
    "",
}

/// The kinds that not everybody may read.
const OF_CUSTOMERS: [SubjectKind; 3] = [SubjectKind::Books, SubjectKind::Customer, SubjectKind::Delivery];

fn shown(who: &Who, kind: SubjectKind) -> bool {
    who.role.may(Right::ReadCustomers) || !OF_CUSTOMERS.contains(&kind)
}

/// The names of those kinds that somebody may read.
fn names_shown(who: &Who, kinds: &[SubjectKind]) -> Vec<&'static str> {
    let of = kinds.iter().filter(|kind| shown(who, **kind));
    of.map(|kind| kind.name()).collect()
}

/// Some states with the number of their last change, in no order; what does not exist is absent.
///
/// # Errors
/// When the database refuses or a kept state does not read.
pub async fn load(
    conn: &mut AsyncPgConnection,
    who: &Who,
    subjects: &[Subject],
) -> Result<Vec<(Subject, State, i64)>, diesel::result::Error> {
    read_all(load_rows(conn, who, subjects).await?)
}

/// Every state that bears one of these numbers or codes, those of which that are asked about too.
///
/// # Errors
/// When the database refuses or a kept state does not read.
pub async fn load_bearing(
    conn: &mut AsyncPgConnection,
    who: &Who,
    borne: &[(SubjectKind, String)],
) -> Result<Vec<(Subject, State, i64)>, diesel::result::Error> {
    let (kinds, labels): (Vec<&str>, Vec<&str>) = borne
        .iter()
        .filter(|(kind, _)| shown(who, *kind))
        .map(|(kind, label)| (kind.name(), label.as_str()))
        .unzip();
    let question = Bearing {
        operation: &who.operation.uuid(),
        kinds: &kinds,
        labels: &labels,
    };
    read_all(rows(question.load(conn).await?)?)
}

fn read_all(rows: Vec<Row>) -> Result<Vec<(Subject, State, i64)>, diesel::result::Error> {
    rows.into_iter()
        .map(|row| match row.read() {
            Ok(state) => Ok((row.subject, state, row.changed_seq)),
            Err(error) => Err(diesel::result::Error::DeserializationError(error.into())),
        })
        .collect()
}

/// As [`load`], the rows unread.
///
/// # Errors
/// When the database refuses.
pub async fn load_rows(
    conn: &mut AsyncPgConnection,
    who: &Who,
    subjects: &[Subject],
) -> Result<Vec<Row>, diesel::result::Error> {
    let (kinds, ids): (Vec<&str>, Vec<Uuid>) = subjects
        .iter()
        .filter(|subject| shown(who, subject.kind))
        .map(|subject| (subject.kind.name(), subject.id))
        .unzip();
    let operation = who.operation.uuid();
    let question = ByName {
        kinds: &kinds,
        ids: &ids,
        operation: &operation,
    };
    rows(question.load(conn).await?)
}

/// Every state of some kinds, by kind and label.
///
/// # Errors
/// When the database refuses.
pub async fn load_kinds(
    conn: &mut AsyncPgConnection,
    who: &Who,
    kinds: &[SubjectKind],
) -> Result<Vec<Row>, diesel::result::Error> {
    let kinds = names_shown(who, kinds);
    let question = ByKind {
        operation: &who.operation.uuid(),
        kinds: &kinds,
    };
    rows(question.load(conn).await?)
}

/// The same to be read only and never folded on: without the memories of the folds, which may be as long as the states.
///
/// # Errors
/// When the database refuses.
pub async fn load_bare(
    conn: &mut AsyncPgConnection,
    who: &Who,
    kinds: &[SubjectKind],
) -> Result<Vec<Row>, diesel::result::Error> {
    let kinds = names_shown(who, kinds);
    let question = ByKindBare {
        operation: &who.operation.uuid(),
        kinds: &kinds,
    };
    rows(question.load(conn).await?)
}

/// A page of a kind by label and id, unlabelled ones first.
///
/// # Errors
/// When the database refuses.
pub async fn list(
    conn: &mut AsyncPgConnection,
    who: &Who,
    kind: SubjectKind,
    status: Option<&str>,
    after: Option<(&str, Uuid)>,
    limit: i64,
) -> Result<Vec<Row>, diesel::result::Error> {
    if !shown(who, kind) {
        return Ok(Vec::new());
    }
    let question = Page {
        operation: &who.operation.uuid(),
        kind: &kind.name(),
        status: &status,
        after_label: &after.map(|(label, _)| label),
        after_id: &after.map(|(_, id)| id),
        limit: &limit,
    };
    rows(question.load(conn).await?)
}

/// What changed after a position, in the order of change, and whether the page is full. The memos stay behind.
pub(crate) async fn since(
    conn: &mut AsyncPgConnection,
    who: &Who,
    after: &Position,
    limit: i64,
) -> Result<(Vec<Row>, bool), diesel::result::Error> {
    let hidden: Vec<&str> = OF_CUSTOMERS
        .iter()
        .filter(|kind| !shown(who, **kind))
        .map(|kind| kind.name())
        .collect();
    let question = Since {
        operation: &who.operation.uuid(),
        seq: &after.seq,
        kind: &after.kind.as_str(),
        id: &after.id,
        hidden: &hidden,
        limit: &limit,
    };
    let read: Vec<Read> = question.load(conn).await?;
    let full = i64::try_from(read.len()).is_ok_and(|count| count >= limit);
    Ok((rows(read)?, full))
}

fn rows(read: Vec<Read>) -> Result<Vec<Row>, diesel::result::Error> {
    // A kind that a newer program wrote is not for this one to show.
    let known = |(named, state, memo): Read| Some((SubjectKind::named(&named.0)?, named, state, memo));
    let row = |(kind, (_, id, changed_seq, label, status, flags), state, memo)| {
        Ok(Row {
            subject: Subject { kind, id },
            changed_seq,
            label,
            status,
            flags,
            state: whole(state)?,
            memo: whole(memo)?,
        })
    };
    read.into_iter().filter_map(known).map(row).collect()
}

/// The text with all that left it.
fn whole((text, parts): WithParts) -> Result<String, diesel::result::Error> {
    match parts {
        None => Ok(text),
        Some(parts) => joined(&text, parts.iter().map(String::as_str))
            .map_err(|error| diesel::result::Error::DeserializationError(error.into())),
    }
}

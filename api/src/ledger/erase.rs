//! Erasing what an entry says of people. Id, number, hash and chain stay, so that the ledger still proves itself; body
//! and salt go, and everything that was folded from them is folded anew.

use std::collections::{BTreeMap, HashMap};

use diesel::sql_types::{Array, BigInt, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel::{OptionalExtension, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::subject::{Subject, SubjectKind};
use serde_json::{Map, Value};
use uuid::Uuid;

use super::keep_states;
use super::sql::statement;
use crate::auth::Who;
use crate::clock;
use crate::projections::fold_anew;

/// The salt of an entry that was erased.
const NO_SALT: &str = "00000000000000000000000000000000";
/// What of an entry's frame stays.
const FRAME: &[&str] = &[
    "id",
    "kind",
    "v",
    "happened_at",
    "utc_offset_min",
    "happened_src",
    "device_counter",
    "saw",
];

statement! {
    /// An entry that may be erased.
    FindWhole -> (BigInt, Text, Integer, Text),
    "select seq, kind, v, body from entry where operation_id = ",
    operation: Uuid as SqlUuid,
    " and id = ",
    id: Uuid as SqlUuid,
    "",
}

statement! {
    /// The things that are folded from an entry.
    FindFolded -> (Text, SqlUuid),
    "select kind, subject_id from entry_subject where operation_id = ",
    operation: Uuid as SqlUuid,
    " and seq = ",
    seq: i64 as BigInt,
    "",
}

statement! {
    /// Which of these entries are to be erased.
    FindAwaited -> SqlUuid,
    "select entry_id from erasure where operation_id = ",
    operation: Uuid as SqlUuid,
    " and not done and entry_id = any(",
    ids: [Uuid] as Array<SqlUuid>,
    ")",
}

/// Why an entry cannot be erased.
#[derive(Debug, thiserror::Error)]
pub enum EraseRefused {
    /// It is not in this ledger.
    #[error("there is no such entry")]
    Absent,
    /// Its content is not understood here, so nobody can tell what in it is personal.
    #[error("the entry is of a kind or version that is not known here")]
    Unread,
    /// The database refused.
    #[error("the entry could not be erased")]
    Database(#[from] diesel::result::Error),
}

#[derive(QueryableByName)]
struct Done {
    #[diesel(sql_type = diesel::sql_types::Bool)]
    #[allow(dead_code, reason = "the answer only says that it was there")]
    here: bool,
}

/// Blanks an entry and folds anew what it touched. The caller holds the turn.
///
/// # Errors
/// When there is no such entry, nobody can tell what is personal in it, or the database refuses.
pub async fn erase(conn: &mut AsyncPgConnection, who: &Who, id: Uuid) -> Result<(), EraseRefused> {
    let operation = who.operation.uuid();
    let question = FindWhole {
        operation: &operation,
        id: &id,
    };
    let found: Option<(i64, String, i32, String)> = question.get_result(conn).await.optional()?;
    let (seq, kind, v, body) = found.ok_or(EraseRefused::Absent)?;
    let blank = blanked(&kind, v, &body).ok_or(EraseRefused::Unread)?;
    note(conn, who, id, Some(&blank)).await?;
    let question = FindFolded {
        operation: &operation,
        seq: &seq,
    };
    let folded: Vec<(String, Uuid)> = question.load(conn).await?;
    let subject = |(kind, id): (String, Uuid)| {
        Some(Subject {
            kind: SubjectKind::named(&kind)?,
            id,
        })
    };
    let subjects: BTreeMap<Subject, Vec<_>> = folded
        .into_iter()
        .filter_map(subject)
        .map(|of| (of, Vec::new()))
        .collect();
    let rows = fold_anew(conn, operation, subjects).await?;
    keep_states(conn, operation, &rows).await?;
    Ok(())
}

/// Notes that an entry is to be blank, whether it is here or not.
///
/// # Errors
/// When the database refuses.
async fn note(
    conn: &mut AsyncPgConnection,
    who: &Who,
    id: Uuid,
    blank: Option<&str>,
) -> Result<(), diesel::result::Error> {
    let statement = diesel::sql_query("select entry_erase($1, $2, $3, $4) as here");
    let _: Done = statement
        .bind::<SqlUuid, _>(id)
        .bind::<SqlUuid, _>(who.member.uuid())
        .bind::<Timestamptz, _>(clock::now())
        .bind::<Nullable<Text>, _>(blank)
        .get_result(conn)
        .await?;
    Ok(())
}

/// Erases what has just arrived again after a backup was restored that did not have it.
pub(super) async fn again(
    conn: &mut AsyncPgConnection,
    who: &Who,
    arrived: &HashMap<Uuid, i64>,
) -> Result<(), diesel::result::Error> {
    let ids: Vec<Uuid> = arrived.keys().copied().collect();
    let question = FindAwaited {
        operation: &who.operation.uuid(),
        ids: &ids,
    };
    for id in question.load::<Uuid>(conn).await? {
        match erase(conn, who, id).await {
            Ok(()) => tracing::info!(entry.id = %id, "an entry that came back was erased again"),
            Err(EraseRefused::Database(error)) => return Err(error),
            Err(refused) => tracing::error!(entry.id = %id, %refused, "an entry could not be erased again"),
        }
    }
    Ok(())
}

/// The whole entry without what people typed and without its salt.
pub(crate) fn blanked(kind: &str, v: i32, body: &str) -> Option<String> {
    let mut fields: Map<String, Value> = serde_json::from_str(body).ok()?;
    let data = fields.get("data")?.to_string();
    let data = domain::personal::blank(kind, u16::try_from(v).ok()?, &data).ok()?;
    fields.retain(|name, _| FRAME.contains(&name.as_str()));
    fields.insert("data".to_owned(), data);
    fields.insert("salt".to_owned(), Value::String(NO_SALT.to_owned()));
    fields.insert("erased".to_owned(), Value::Bool(true));
    Some(Value::Object(fields).to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_frame_stays_and_the_salt_goes() {
        let body = r#"{"id":"00000000-0000-4000-8000-000000000001","kind":"note_written","v":1,"salt":"11","saw":4,
            "data":{"about":[],"text":"Ida"},"warnings":[{"said":"Ida"}],"odd":"Ida"}"#;
        let blank = blanked("note_written", 1, body).unwrap();
        assert!(
            !blank.contains("Ida") && !blank.contains("\"11\"") && blank.contains("\"saw\":4"),
            "{blank}"
        );
        assert_eq!(blanked("moon_walked", 1, body), None);
    }
}

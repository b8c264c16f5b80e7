//! What a start makes good: entries that an older program set apart and this one understands, states that were folded
//! by older rules, and erasures that a restored backup undid.

use std::collections::{HashMap, HashSet};

use diesel::sql_types::{Array, Bool, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel::{OptionalExtension, QueryableByName};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl};
use domain::entry::{WrittenBy, kind_corrected_by, spec};
use domain::ids::EntryId;
use domain::state::FOLD_VERSION;
use uuid::Uuid;

use super::rebuild::rebuild_one;
use super::{CommandRefused, open, operations};
use crate::auth::{Right, Role};
use crate::config::Secret;
use crate::erasures::Erasure;
use crate::ledger::{blanked, stored};
use crate::{clock, database};

#[derive(QueryableByName)]
struct SetApart {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    kind: String,
    #[diesel(sql_type = Integer)]
    v: i32,
    #[diesel(sql_type = Text)]
    body: String,
    #[diesel(sql_type = Text)]
    role: String,
}

#[derive(QueryableByName)]
struct Answer {
    #[diesel(sql_type = Bool)]
    yes: bool,
}

/// Brings every operation up to date. Costs three look-ups an operation where nothing is to be done.
///
/// # Errors
/// When the database refuses; an operation is brought up to date whole or not at all.
pub async fn catch_up(url: &Secret, erasures: &[Erasure]) -> Result<(), CommandRefused> {
    let mut conn = database::as_owner(url).await?;
    for operation in operations(&mut conn, None).await? {
        let erasures: Vec<&Erasure> = erasures.iter().filter(|of| of.operation == operation.id).collect();
        let done = conn
            .transaction(async |conn| one(conn, operation.id, &erasures).await)
            .await?;
        if let Some((counted, erased)) = done {
            tracing::info!(operation.id = %operation.id, entries.counted = counted, entries.erased = erased,
                "the states of {} were made anew", operation.id);
        }
    }
    Ok(())
}

/// How many entries count from now on and how many were erased again; nothing if there was nothing to do.
async fn one(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    erasures: &[&Erasure],
) -> Result<Option<(usize, usize)>, diesel::result::Error> {
    open(conn, operation).await?;
    let counted = count_what_reads(conn, operation).await?;
    let erased = erase_again(conn, operation, erasures).await?;
    // An older program beside this one leaves newer states alone.
    let old = "select exists (select from state_row where operation_id = $1 and fold_version < $2) as yes";
    let old = diesel::sql_query(old)
        .bind::<SqlUuid, _>(operation)
        .bind::<Integer, _>(FOLD_VERSION);
    let Answer { yes: old } = old.get_result(conn).await?;
    if counted == 0 && erased == 0 && !old {
        return Ok(None);
    }
    rebuild_one(conn, operation).await?;
    Ok(Some((counted, erased)))
}

/// Counts from now on what was only set apart because nobody here could read it.
async fn count_what_reads(conn: &mut AsyncPgConnection, operation: Uuid) -> Result<usize, diesel::result::Error> {
    let question = diesel::sql_query(
        "select e.id, e.kind, e.v, e.body, m.role from entry e
           join member m on m.operation_id = e.operation_id and m.id = e.author_id
          where e.operation_id = $1 and e.quarantine in ('unknown_kind', 'unknown_version')",
    );
    let apart: Vec<SetApart> = question.bind::<SqlUuid, _>(operation).load(conn).await?;
    let mut counted = 0;
    for row in apart {
        let Ok(entry) = stored::read_content(&row.kind, row.v, &row.body) else {
            continue;
        };
        let may = Role::from_word(&row.role).is_some_and(|role| role.may(Right::Office));
        let of_office = match entry.corrects() {
            Some(target) if !may => is_of_office(conn, operation, target.uuid()).await?,
            _ => spec(entry.kind()).is_some_and(|spec| spec.written_by == WrittenBy::Office),
        };
        let update =
            diesel::sql_query("update entry set quarantine = $3, corrects = $4 where operation_id = $1 and id = $2");
        let (why, corrects) = match of_office && !may {
            true => (Some("not_your_role"), None),
            false => (None, entry.corrects().map(EntryId::uuid)),
        };
        counted += usize::from(why.is_none());
        update
            .bind::<SqlUuid, _>(operation)
            .bind::<SqlUuid, _>(row.id)
            .bind::<Nullable<Text>, _>(why)
            .bind::<Nullable<SqlUuid>, _>(corrects)
            .execute(conn)
            .await?;
    }
    Ok(counted)
}

#[derive(QueryableByName)]
struct Kind {
    #[diesel(sql_type = Text)]
    kind: String,
}

/// Whether only the office takes back this entry. What cannot be told for certain is the office's.
async fn is_of_office(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    target: Uuid,
) -> Result<bool, diesel::result::Error> {
    let question = diesel::sql_query("select kind from entry where operation_id = $1 and id = $2");
    let question = question.bind::<SqlUuid, _>(operation).bind::<SqlUuid, _>(target);
    let target = question.get_result::<Kind>(conn).await.optional()?;
    Ok(target.is_none_or(|Kind { kind }| {
        matches!(kind.as_str(), "amended" | "voided") || kind_corrected_by(&kind) == WrittenBy::Office
    }))
}

#[derive(QueryableByName)]
struct Here {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    kind: String,
    #[diesel(sql_type = Integer)]
    v: i32,
    #[diesel(sql_type = Text)]
    body: String,
    #[diesel(sql_type = Bool)]
    done: bool,
}

async fn erase_again(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    erasures: &[&Erasure],
) -> Result<usize, diesel::result::Error> {
    if erasures.is_empty() {
        return Ok(0);
    }
    let ids: Vec<Uuid> = erasures.iter().map(|of| of.entry).collect();
    let question = diesel::sql_query(
        "select e.id, e.kind, e.v, e.body, coalesce(r.done, false) as done from entry e
           left join erasure r on r.operation_id = e.operation_id and r.entry_id = e.id
          where e.operation_id = $1 and e.id = any($2)",
    );
    let question = question.bind::<SqlUuid, _>(operation).bind::<Array<SqlUuid>, _>(&ids);
    let here: HashMap<Uuid, Here> = question
        .load::<Here>(conn)
        .await?
        .into_iter()
        .map(|row| (row.id, row))
        .collect();
    let (mut erased, mut seen) = (0, HashSet::new());
    for of in erasures.iter().filter(|of| seen.insert(of.entry)) {
        let blank = match here.get(&of.entry) {
            Some(row) if row.done => continue,
            Some(row) => blanked(&row.kind, row.v, &row.body),
            None => None,
        };
        let note = diesel::sql_query("select entry_erase($1, $2, $3, $4) as yes");
        let Answer { yes } = note
            .bind::<SqlUuid, _>(of.entry)
            .bind::<SqlUuid, _>(of.member)
            .bind::<Timestamptz, _>(clock::now())
            .bind::<Nullable<Text>, _>(blank)
            .get_result(conn)
            .await?;
        erased += usize::from(yes);
    }
    Ok(erased)
}

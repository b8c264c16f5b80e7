//! The entries of one thing, newest first: what an office reads before it amends or withdraws one of them.

use actix_web::{HttpResponse, get, web};
use domain::subject::SubjectKind;
use futures_util::FutureExt;
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

use super::App;
use super::problem::{CommonProblems, Problem};
use super::session::Session;
use super::sync::{json_text, met};
use crate::auth::Right;
use crate::ledger::read as ledger_read;
use crate::wire::sync::{self as wire, LedgerAnswer};

/// Entries of a thing unless asked otherwise.
const NEWEST: i64 = 50;
/// The most at once.
const NEWEST_MAX: i64 = 1_000;

/// Which thing, and how many of its entries.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(crate) struct OfThing {
    /// The kind of thing, as in its rows.
    #[param(value_type = String)]
    kind: SubjectKind,
    /// Which one.
    id: Uuid,
    /// How many, at most.
    #[param(minimum = 1, maximum = 1000, default = 50)]
    limit: Option<i64>,
}

/// What was told of a thing, newest first, corrections among them. Who may not read customers may not read this.
#[utoipa::path(tag = "ledger", operation_id = "entries_of_thing", security(("bearer" = [])), params(OfThing),
    responses((status = 200, body = LedgerAnswer), CommonProblems))]
#[get("/v1/entries")]
pub(crate) async fn of_thing(
    app: web::Data<App>,
    session: Session,
    asked: web::Query<OfThing>,
) -> Result<HttpResponse, Problem> {
    let OfThing { kind, id, limit } = asked.into_inner();
    let limit = limit.unwrap_or(NEWEST).clamp(1, NEWEST_MAX);
    let work = app.snapshot(&session, move |conn, who| {
        async move {
            who.may(Right::ReadCustomers)?;
            let head = met(conn, &who, None).await?;
            let rows = ledger_read::of_thing(conn, who.operation.uuid(), (kind.name(), id), limit).await?;
            Ok(wire::ledger(&head, &rows, &head))
        }
        .boxed()
    });
    work.await.map(json_text)
}

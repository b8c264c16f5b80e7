//! Erasing personal text: the owner's decision about one entry.

use actix_web::{HttpResponse, post, web};
use diesel_async::AsyncConnection;
use serde::Deserialize;
use serde_json::json;
use utoipa::ToSchema;
use uuid::Uuid;

use super::App;
use super::body::Body;
use super::problem::{BodyProblems, CommonProblems, Problem};
use super::session::Session;
use crate::auth::{Right, audit};
use crate::erasures::{self, Erasure};
use crate::ledger::{EraseRefused, Turn, erase as erase_entry};

/// Why it is erased.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Why {
    /// The person asked for it.
    Asked,
    /// It should never have been written down.
    Mistake,
    /// It is not needed any more.
    NotNeeded,
}

/// The decision.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct Erase {
    /// Why.
    why: Why,
}

/// Blanks what people typed in an entry, and its salt; id, number, hash and everything that is no text stay, and so
/// does the chain.
///
/// It reaches every phone with its next pull, is in no download made from now on, and holds after a backup is restored.
/// Nothing brings the text back. Wants the password within the last five minutes.
#[utoipa::path(tag = "ledger", operation_id = "erase_entry", security(("bearer" = [])), request_body = Erase,
    params(("id" = Uuid, Path, description = "the entry")),
    responses((status = 204, description = "It is blank"), CommonProblems, BodyProblems))]
#[post("/v1/entries/{id}/erasures")]
pub(crate) async fn erase(
    app: web::Data<App>,
    session: Session,
    id: web::Path<Uuid>,
    body: Body<Erase>,
) -> Result<HttpResponse, Problem> {
    let (mut conn, id, data) = (app.writer(&session, 0).await?, *id, app.config.data.clone());
    let why = match body.0.why {
        Why::Asked => "asked",
        Why::Mistake => "mistake",
        Why::NotNeeded => "not-needed",
    };
    let work = app.db.detached(async move {
        conn.transaction(async |conn| {
            let turn = Turn::begin(conn, &session, Right::Owner).await?;
            let who = *turn.who();
            who.may_now(Right::Owner)?;
            erase_entry(conn, &who, id).await?;
            audit::note(conn, &who, "erase", &json!({ "entry": id, "why": why })).await?;
            let erasure = Erasure {
                operation: who.operation.uuid(),
                entry: id,
                member: who.member.uuid(),
            };
            // Before the commit: what the list does not have, a restored backup would bring back.
            let listed = tokio::task::spawn_blocking(move || erasures::tell(&data, &erasure));
            listed.await.map_err(Problem::internal)?.map_err(Problem::busy)
        })
        .await
    });
    work.await?;
    Ok(HttpResponse::NoContent().finish())
}

impl From<EraseRefused> for Problem {
    fn from(refused: EraseRefused) -> Self {
        match refused {
            EraseRefused::Absent => Self::NotFound,
            EraseRefused::Unread => Self::Contradiction {
                code: "not_understood",
                detail: refused.to_string(),
            },
            EraseRefused::Database(error) => error.into(),
        }
    }
}

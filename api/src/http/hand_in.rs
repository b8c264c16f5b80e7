//! What did not come by the phone itself: an outbox handed in at the office, and what was refused.

use actix_web::{HttpRequest, get, post, web};
use domain::ids::DeviceId;
use futures_util::FutureExt;
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::App;
use super::body::receive_as;
use super::problem::{BodyProblems, CommonProblems, Problem};
use super::session::Session;
use crate::auth::Right;
use crate::ledger::{self, HandInRefused, dead_letters};
use crate::wire::downloads::{HandInAnswer, RefusedRow, RefusedRows};
use crate::wire::envelope::{self, ENTRIES_MAX};
use crate::wire::sync as wire;

/// The most bytes of an outbox as sent, and unpacked.
const OUTBOX_MAX: (usize, usize) = (8 * 1024 * 1024, 32 * 1024 * 1024);

/// The first line of a saved outbox.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct FirstLine {
    /// Which form the lines have: 1.
    outbox: u8,
    /// The business the device belonged to.
    operation_id: Uuid,
    /// The device that recorded the entries.
    device_id: Uuid,
}

/// Takes in an outbox that was saved on a phone: NDJSON, a first line that says whose it is, then one entry a line.
///
/// The entries keep the device that recorded them; whoever hands them in becomes their author, and the books say so.
/// Entries that came before are answered as duplicates, so handing in twice is harmless.
#[utoipa::path(tag = "sync", operation_id = "hand_in", security(("bearer" = [])),
    request_body(content = String, content_type = "application/x-ndjson", description = "a first line, then one entry a line"),
    responses((status = 200, body = HandInAnswer), CommonProblems, BodyProblems))]
#[post("/v1/sync/outboxes")]
pub(crate) async fn take_outbox(
    app: web::Data<App>,
    session: Session,
    request: HttpRequest,
    payload: web::Payload,
) -> Result<web::Json<HandInAnswer>, Problem> {
    let bytes = receive_as("application/x-ndjson", &request, payload.into_inner(), OUTBOX_MAX).await?;
    let text = std::str::from_utf8(&bytes).map_err(|_| malformed("the outbox is not UTF-8"))?;
    let mut lines = text.lines().map(str::trim).filter(|line| !line.is_empty());
    let first: FirstLine = lines
        .next()
        .and_then(|line| serde_json::from_str(line).ok())
        .filter(|first: &FirstLine| first.outbox == 1)
        .ok_or_else(|| malformed("the first line of an outbox says outbox, operation_id and device_id"))?;
    let entries: Vec<_> = lines.map(envelope::read_line).collect();
    let mut answer = HandInAnswer {
        head: String::new(),
        results: Vec::with_capacity(entries.len()),
    };
    let operation = permitted(&app, &session).await?;
    if operation != first.operation_id {
        return Err(Problem::WrongOperation);
    }
    // An outbox may hold a whole season; the turn is given back between its pieces.
    for piece in entries.chunks(ENTRIES_MAX) {
        let (mut conn, session, piece) = (
            app.writer(&session, bytes.len()).await?,
            session.clone(),
            piece.to_vec(),
        );
        let device = DeviceId::from_uuid(first.device_id);
        let work = app
            .db
            .detached(async move { Ok::<_, Problem>(ledger::hand_in(&mut conn, &session, device, &piece).await?) });
        let handed = work.await?;
        app.waiters.tell(operation, handed.head.seq);
        answer.head = handed.head.to_string();
        answer.results.extend(wire::results(handed.outcomes));
    }
    Ok(web::Json(answer))
}

fn malformed(detail: &str) -> Problem {
    Problem::MalformedEnvelope {
        detail: detail.to_owned(),
    }
}

async fn permitted(app: &App, session: &Session) -> Result<Uuid, Problem> {
    let work = app.snapshot(session, move |_, who| {
        async move {
            who.may(Right::Office)?;
            Ok(who.operation.uuid())
        }
        .boxed()
    });
    work.await
}

impl From<HandInRefused> for Problem {
    fn from(refused: HandInRefused) -> Self {
        match refused {
            HandInRefused::NoSuchDevice => Self::NotFound,
            HandInRefused::Push(refused) => refused.into(),
        }
    }
}

/// Which page.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(crate) struct Before {
    /// Only what arrived before this one.
    before: Option<Uuid>,
    /// How many, at most.
    #[param(minimum = 1, maximum = 500, default = 100)]
    limit: Option<i64>,
}

/// What was sent and refused, with its bytes, the newest first. The newest thousand are kept.
#[utoipa::path(tag = "sync", operation_id = "refused_entries", security(("bearer" = [])), params(Before),
    responses((status = 200, body = RefusedRows), CommonProblems))]
#[get("/v1/refused-entries")]
pub(crate) async fn list_refused(
    app: web::Data<App>,
    session: Session,
    before: web::Query<Before>,
) -> Result<web::Json<RefusedRows>, Problem> {
    let limit = before.limit.unwrap_or(100).clamp(1, 500);
    let before = before.before;
    let work = app.snapshot(&session, move |conn, who| {
        async move {
            who.may(Right::Office)?;
            Ok(dead_letters::list(conn, who.operation.uuid(), before, limit).await?)
        }
        .boxed()
    });
    let letters = work.await?;
    let full = i64::try_from(letters.len()).is_ok_and(|count| count >= limit);
    let next = letters.last().filter(|_| full).map(|letter| letter.0);
    let item = |(id, received_at, device_id, reason, sent)| RefusedRow {
        id,
        received_at,
        device_id,
        reason,
        sent,
    };
    let items = letters.into_iter().map(item).collect();
    Ok(web::Json(RefusedRows { items, next }))
}

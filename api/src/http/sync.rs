//! The calls of devices: push, pull, the ledger itself, limits.

use std::convert::Infallible;

use actix_web::body::SizedStream;
use actix_web::http::header::ContentType;
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use diesel_async::AsyncPgConnection;
use futures_util::FutureExt;
use futures_util::stream;
use serde::Deserialize;
use serde_json::{Map, json};
use utoipa::IntoParams;
use uuid::Uuid;

use super::App;
use super::body::receive;
use super::problem::{BodyProblems, CommonProblems, Problem, ProblemBody};
use super::session::Session;
use crate::auth::{Right, Who};
use crate::ledger::read::{self as ledger_read, LedgerRow};
use crate::ledger::steps::Steps;
use crate::ledger::{self, AppendRefused, Cursor, Position, PushRefused};
use crate::projections::read;
use crate::wire::envelope::{self, ENTRIES_MAX, ENTRY_MAX, SENT_MAX, UNPACKED_MAX};
use crate::wire::sync::{self as wire, KindLimits, LedgerAnswer, Limits, PullAnswer, PushAnswer, PushWord};

/// Rows of a page unless asked otherwise.
const PAGE: i64 = 1_000;
/// The most rows of a page.
const PAGE_MAX: i64 = 5_000;

/// Which page.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(crate) struct Page {
    /// Where the reader is; absent to begin.
    cursor: Option<String>,
    /// How many rows, at most.
    #[param(minimum = 1, maximum = 5000, default = 1000)]
    limit: Option<i64>,
}

impl Page {
    fn cursor(&self) -> Result<Option<Cursor>, Problem> {
        cursor(self.cursor.as_deref())
    }

    fn limit(&self) -> i64 {
        self.limit.unwrap_or(PAGE).clamp(1, PAGE_MAX)
    }
}

/// Reads a cursor out of a query.
pub(super) fn cursor(text: Option<&str>) -> Result<Option<Cursor>, Problem> {
    let read = text.map(str::parse).transpose();
    read.map_err(|error: ledger::NotACursor| Problem::BadField {
        pointer: "/cursor".to_owned(),
        detail: error.to_string(),
    })
}

/// Takes in what a device recorded: 1 to 500 entries, in one transaction.
///
/// Each entry has a result of its own; a bad one stops no other. Sending the same entries again is harmless.
#[utoipa::path(tag = "sync", security(("bearer" = [])), request_body = envelope::Push<'static>,
    responses((status = 200, body = PushAnswer), CommonProblems, BodyProblems))]
#[post("/v1/sync/push")]
pub(crate) async fn push(
    app: web::Data<App>,
    session: Session,
    request: HttpRequest,
    payload: web::Payload,
) -> Result<web::Json<PushAnswer>, Problem> {
    let bytes = receive(&request, payload.into_inner(), SENT_MAX, UNPACKED_MAX).await?;
    let mut steps = Steps::begin();
    let received = envelope::read(&bytes)?;
    let holds = bytes.len();
    drop(bytes);
    steps.done("read", 0);
    let (lanes, db) = (app.lanes.clone(), app.db.clone());
    let work = app.db.detached(async move {
        // Waited for here and not by the worker: whose turn it is goes on without waiting for a worker that is busy.
        // Of a session that never wrote the business is taken at its word: the push sends away who names another one.
        let claimed = received.operation.uuid();
        let mut conn = lanes.writer(&db, &session, claimed, holds).await?;
        steps.done("connection", 0);
        let pushed = ledger::push(&mut conn, &session, &received).await?;
        Ok::<_, Problem>((received.operation, PushAnswer::from(pushed)))
    });
    let (operation, answer) = work.await?;
    app.waiters.tell(operation.uuid(), answer.last_seq());
    tracing::info!(
        entries.stored = answer.count(PushWord::Stored),
        entries.duplicate = answer.count(PushWord::Duplicate),
        entries.quarantined = answer.count(PushWord::Quarantined),
        entries.refused = answer.count(PushWord::Refused),
        "a push was taken in"
    );
    Ok(web::Json(answer))
}

/// The states that changed since a cursor, with the head, in one snapshot.
///
/// `whole` says that everything is read from the beginning: what the reader held before is to be forgotten.
#[utoipa::path(tag = "sync", security(("bearer" = [])), params(Page),
    responses((status = 200, body = PullAnswer), CommonProblems,
        (status = 409, body = ProblemBody, content_type = "application/problem+json",
         description = "The ledger was restored from an older backup: `ledger-diverged` with `head` and `at`")))]
#[get("/v1/sync/pull")]
pub(crate) async fn pull(
    app: web::Data<App>,
    session: Session,
    page: web::Query<Page>,
) -> Result<HttpResponse, Problem> {
    let (cursor, limit) = (page.cursor()?, page.limit());
    let work = app.snapshot(&session, move |conn, who| {
        async move {
            who.may(Right::Read)?;
            pull_page(conn, &who, cursor, limit).await
        }
        .boxed()
    });
    work.await.map(json_text)
}

async fn pull_page(
    conn: &mut AsyncPgConnection,
    who: &Who,
    cursor: Option<Cursor>,
    limit: i64,
) -> Result<String, Problem> {
    let head = met(conn, who, cursor.as_ref()).await?;
    // States that were made anew are all read again, whatever the cursor held.
    let cursor = cursor.filter(|cursor| cursor.epoch == head.epoch);
    let whole = cursor.is_none();
    let read_to = cursor.as_ref().map_or(0, Cursor::read_to);
    // A cursor that holds everything up to a number goes on after every row of that number.
    let after = cursor.and_then(|cursor| cursor.after).unwrap_or_else(|| Position {
        seq: if whole { 0 } else { read_to.saturating_add(1) },
        kind: String::new(),
        id: Uuid::nil(),
    });
    let (mut rows, full) = read::since(conn, who, &after, limit).await?;
    let mut end = Cursor {
        after: None,
        ..head.clone()
    };
    if let Some(last) = rows.last().filter(|_| full) {
        end.after = Some(Position {
            seq: last.changed_seq,
            kind: last.subject.kind.name().to_owned(),
            id: last.subject.id,
        });
    }
    let operation = who.operation.uuid();
    let opaque = ledger_read::opaque(conn, operation, (read_to, end.read_to()), limit).await?;
    if let Some((last, ..)) = opaque
        .last()
        .filter(|_| i64::try_from(opaque.len()).is_ok_and(|n| n >= limit))
    {
        // So many are quarantined that the page ends with them; the rows behind them come with the next.
        rows.retain(|row| row.changed_seq <= *last);
        end = Cursor {
            epoch: head.epoch,
            ..ledger_read::cursor_at(conn, operation, *last).await?
        };
    }
    let erased = if whole {
        ledger_read::erased(conn, operation).await?
    } else {
        Vec::new()
    };
    Ok(wire::pull(&head, (&rows, &opaque, &erased), &end, whole))
}

/// The entries themselves, for other systems and for audit. Who may not read customers may not read this.
#[utoipa::path(tag = "ledger", security(("bearer" = [])), params(Page),
    responses((status = 200, body = LedgerAnswer), CommonProblems,
        (status = 409, body = ProblemBody, content_type = "application/problem+json",
         description = "The ledger was restored from an older backup: `ledger-diverged` with `head` and `at`")))]
#[get("/v1/ledger")]
pub(crate) async fn entries(
    app: web::Data<App>,
    session: Session,
    page: web::Query<Page>,
) -> Result<HttpResponse, Problem> {
    let (cursor, limit) = (page.cursor()?, page.limit());
    let work = app.snapshot(&session, move |conn, who| {
        async move {
            who.may(Right::ReadCustomers)?;
            let head = met(conn, &who, cursor.as_ref()).await?;
            let after = cursor.as_ref().map_or(0, Cursor::read_to);
            let rows = ledger_read::entries(conn, who.operation.uuid(), after, limit).await?;
            let end = rows.last().and_then(LedgerRow::cursor).unwrap_or_else(|| head.clone());
            Ok(wire::ledger(&head, &rows, &end))
        }
        .boxed()
    });
    work.await.map(json_text)
}

/// What a push may be, and which kinds are understood in which versions.
#[utoipa::path(tag = "sync", security(("bearer" = [])),
    responses((status = 200, body = Limits), CommonProblems))]
#[get("/v1/sync/limits")]
pub(crate) async fn limits(app: web::Data<App>, session: Session) -> Result<web::Json<Limits>, Problem> {
    let work = app.snapshot(&session, move |conn, who| {
        async move {
            let server_id = ledger_read::server_id(conn).await?;
            Ok((who.operation.uuid(), server_id))
        }
        .boxed()
    });
    let (operation_id, server_id) = work.await?;
    let kind = |spec: &domain::entry::KindSpec| KindLimits {
        kind: spec.kind,
        min: spec.oldest,
        max: spec.newest,
    };
    Ok(web::Json(Limits {
        operation_id,
        server_id,
        entries_max: ENTRIES_MAX,
        sent_bytes_max: SENT_MAX,
        unpacked_bytes_max: UNPACKED_MAX,
        entry_bytes_max: ENTRY_MAX,
        depth_max: envelope::DEPTH_MAX,
        kinds: domain::entry::KINDS.iter().map(kind).collect(),
    }))
}

/// The head, once it is sure that the cursor came from this ledger.
pub(super) async fn met(conn: &mut AsyncPgConnection, who: &Who, cursor: Option<&Cursor>) -> Result<Cursor, Problem> {
    let met = ledger_read::meet(conn, who.operation.uuid(), cursor).await?;
    if met.fits {
        return Ok(met.head);
    }
    let mut extra = Map::new();
    extra.insert("head".to_owned(), json!(met.head.to_string()));
    extra.insert("at".to_owned(), json!(met.common));
    Err(Problem::LedgerDiverged { extra })
}

/// JSON that is written already. It goes out in pieces: a worker copies what it sends, and would copy all of it at once.
pub(super) fn json_text(text: String) -> HttpResponse {
    const PIECE: usize = 32 * 1024;
    let mut rest = web::Bytes::from(text);
    let size = u64::try_from(rest.len()).unwrap_or(u64::MAX);
    let pieces = std::iter::from_fn(move || {
        let piece = rest.split_to(PIECE.min(rest.len()));
        (!piece.is_empty()).then_some(Ok::<_, Infallible>(piece))
    });
    let body = SizedStream::new(size, stream::iter(pieces));
    HttpResponse::Ok().content_type(ContentType::json()).body(body)
}

impl From<PushRefused> for Problem {
    fn from(refused: PushRefused) -> Self {
        match refused {
            PushRefused::Enter(refused) => refused.into(),
            PushRefused::WrongOperation => Self::WrongOperation,
            PushRefused::Append(refused) => refused.into(),
            PushRefused::Database(error) => error.into(),
        }
    }
}

impl From<AppendRefused> for Problem {
    fn from(refused: AppendRefused) -> Self {
        match refused {
            AppendRefused::IdReused(_) => Self::IdReused,
            AppendRefused::Quarantined(_) => Self::Forbidden {
                detail: refused.to_string(),
            },
            AppendRefused::NoRandomness(error) => error.into(),
            AppendRefused::Json(error) => Self::internal(error),
            AppendRefused::Database(error) => error.into(),
        }
    }
}

//! What a phone reads besides pulling: a first download in parts that stay the same, and a call that waits for news.

use std::io::{Read, Write};
use std::time::{Duration, Instant};

use actix_web::http::header::{ACCEPT_ENCODING, CONTENT_ENCODING, ContentType};
use actix_web::{HttpRequest, HttpResponse, get, web};
use diesel_async::AsyncPgConnection;
use flate2::Compression;
use flate2::read::GzDecoder;
use flate2::write::GzEncoder;
use futures_util::FutureExt;
use serde::Deserialize;
use sha2::{Digest, Sha256};
use utoipa::IntoParams;
use uuid::Uuid;

use super::App;
use super::problem::{CommonProblems, Problem, ProblemBody};
use super::session::Session;
use super::sync::met;
use crate::auth::{self, Right, Who};
use crate::clock;
use crate::ledger::read::{self as ledger_read, OpaqueRow};
use crate::ledger::{Cursor, Position};
use crate::projections::read::{self, Row};
use crate::projections::snapshots::{self, Audience, Part};
use crate::wire::downloads::{News, Snapshot, SnapshotPart, SnapshotStates};
use crate::wire::sync as wire;

/// The longest wait.
const WAIT: Duration = Duration::from_secs(25);
/// The most states of a part, and its most bytes as sent.
const PART: (usize, usize) = (1_000, 256 * 1024);
/// A kept download is handed out again until the ledger has grown by so many entries.
const STALE: i64 = 1_000;

/// Where the caller is.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(crate) struct Waiting {
    /// Where the reader is; absent to hear of the first entry.
    cursor: Option<String>,
    /// How long to wait at most.
    #[param(minimum = 0, maximum = 25, default = 25)]
    seconds: Option<u64>,
}

/// Waits until there is something to pull, at most 25 seconds.
///
/// News of this service come at once, those of another on the same database within two seconds. Whoever waits holds no
/// connection to the database. At the end of the service everybody is told so: come again after a moment, each phone
/// after another.
#[utoipa::path(tag = "sync", security(("bearer" = [])), params(Waiting),
    responses((status = 200, body = News), CommonProblems,
        (status = 409, body = ProblemBody, content_type = "application/problem+json",
         description = "The ledger was restored from an older backup: `ledger-diverged` with `head` and `at`")))]
#[get("/v1/sync/wait")]
pub(crate) async fn wait(
    app: web::Data<App>,
    session: Session,
    waiting: web::Query<Waiting>,
) -> Result<web::Json<News>, Problem> {
    let cursor = super::sync::cursor(waiting.cursor.as_deref())?;
    let at_most = waiting.seconds.map_or(WAIT, Duration::from_secs).min(WAIT);
    let began = Instant::now();
    let mut seat = None;
    let mut closing = false;
    loop {
        let (operation, head, moved) = news(&app, &session, cursor.clone()).await?;
        let left = at_most.saturating_sub(began.elapsed());
        if moved || closing || left.is_zero() {
            return Ok(web::Json(News { head, moved, closing }));
        }
        let seat = match &mut seat {
            Some(seat) => seat,
            none => none.insert(
                app.waiters
                    .sit(operation, head)
                    .ok_or_else(|| Problem::busy("too many wait for news"))?,
            ),
        };
        closing = seat.wait(left).await;
    }
}

/// Looks whether there is news. Asked at each wake-up: a revocation counts here, too.
async fn news(app: &App, session: &Session, cursor: Option<Cursor>) -> Result<(Uuid, i64, bool), Problem> {
    let work = app.snapshot(session, move |conn, who| {
        async move {
            who.may(Right::Read)?;
            let head = met(conn, &who, cursor.as_ref()).await?;
            let again = cursor
                .as_ref()
                .is_some_and(|cursor| cursor.epoch.is_some() && cursor.epoch != head.epoch);
            let moved = again || cursor.as_ref().map_or(0, Cursor::read_to) < head.seq;
            Ok((who.operation.uuid(), head.seq, moved))
        }
        .boxed()
    });
    work.await
}

/// The first download of a new phone: which parts there are and where to pull from afterwards.
///
/// Parts of a number stay the same for a day, so a cut costs one part. A part that is gone means: begin anew.
#[utoipa::path(tag = "sync", operation_id = "snapshot", security(("bearer" = [])), responses((status = 200, body = Snapshot), CommonProblems))]
#[get("/v1/sync/snapshot")]
pub(crate) async fn begin(app: web::Data<App>, session: Session) -> Result<web::Json<Snapshot>, Problem> {
    let (mut conn, session) = (app.db.connection().await?, session.clone());
    let work = app.db.detached(async move {
        let mut transaction = conn.build_transaction().repeatable_read();
        transaction
            .run(async |conn| {
                let who = auth::enter(conn, &session).await?;
                who.may(Right::Read)?;
                let head = met(conn, &who, None).await?;
                let audience = Audience::of(&who);
                let operation = who.operation.uuid();
                let kept = snapshots::newest(conn, operation, audience).await?;
                if let Some(first) = kept.first()
                    && head.seq - first.seq < STALE
                    && first
                        .cursor
                        .parse()
                        .is_ok_and(|cursor: Cursor| cursor.epoch == head.epoch)
                {
                    return Ok(kept);
                }
                let parts = parts(conn, &who, &head).await?;
                snapshots::keep(conn, operation, audience, &parts).await?;
                Ok::<_, Problem>(parts)
            })
            .await
    });
    let parts = work.await?;
    let first = parts
        .first()
        .ok_or_else(|| Problem::internal("a download has no part"))?;
    let (seq, cursor) = (first.seq, first.cursor.clone());
    let part = |part: &Part| SnapshotPart {
        part: part.part,
        states: part.states,
        bytes: part.size,
        sha256: part.sha256.iter().map(|byte| format!("{byte:02x}")).collect(),
    };
    let parts = parts.iter().map(part).collect();
    Ok(web::Json(Snapshot { seq, cursor, parts }))
}

/// All states as of the head, cut into parts.
async fn parts(conn: &mut AsyncPgConnection, who: &Who, head: &Cursor) -> Result<Vec<Part>, Problem> {
    let mut after = Position {
        seq: 0,
        kind: String::new(),
        id: Uuid::nil(),
    };
    let limit = i64::try_from(PART.0).map_err(Problem::internal)?;
    let mut opaque = ledger_read::opaque(conn, who.operation.uuid(), (0, head.seq), i64::from(u32::MAX)).await?;
    let mut packed = Vec::new();
    loop {
        let (rows, full) = read::since(conn, who, &after, limit).await?;
        if let Some(last) = rows.last() {
            after = Position {
                seq: last.changed_seq,
                kind: last.subject.kind.name().to_owned(),
                id: last.subject.id,
            };
        }
        let apart = opaque.split_off(opaque.len().min(PART.0));
        let shown = std::mem::replace(&mut opaque, apart);
        let whole = !full && opaque.is_empty();
        let more = tokio::task::spawn_blocking(move || pack(&rows, &shown))
            .await
            .map_err(Problem::internal)?;
        packed.extend(more.map_err(Problem::internal)?);
        if whole {
            break;
        }
    }
    let (made_at, cursor) = (clock::now(), head.to_string());
    let number = |(n, (states, size, sha256, bytes)): (usize, Packed)| {
        Ok::<_, Problem>(Part {
            seq: head.seq,
            part: i32::try_from(n + 1).map_err(Problem::internal)?,
            made_at,
            cursor: cursor.clone(),
            states: i32::try_from(states).map_err(Problem::internal)?,
            size: i32::try_from(size).map_err(Problem::internal)?,
            sha256,
            packed: bytes,
        })
    };
    packed.into_iter().enumerate().map(number).collect()
}

/// How many states, how many bytes unpacked, their hash, and the packed bytes.
type Packed = (usize, usize, Vec<u8>, Vec<u8>);

/// Packs states into one part, or more where one would be too large.
fn pack(rows: &[Row], opaque: &[OpaqueRow]) -> std::io::Result<Vec<Packed>> {
    let text = wire::part(rows, opaque);
    let mut packer = GzEncoder::new(Vec::new(), Compression::new(6));
    packer.write_all(text.as_bytes())?;
    let packed = packer.finish()?;
    if packed.len() > PART.1 && rows.len() > 1 {
        let (first, second) = rows.split_at(rows.len() / 2);
        let mut parts = pack(first, opaque)?;
        parts.extend(pack(second, &[])?);
        return Ok(parts);
    }
    let sha256 = Sha256::digest(text.as_bytes()).to_vec();
    Ok(vec![(rows.len(), text.len(), sha256, packed)])
}

/// One part of a first download.
#[utoipa::path(tag = "sync", operation_id = "snapshot_part", security(("bearer" = [])),
    params(("seq" = i64, Path, description = "the number of the download"), ("part" = i32, Path, description = "which part, from 1")),
    responses((status = 200, body = SnapshotStates), CommonProblems))]
#[get("/v1/sync/snapshot/{seq}/{part}")]
pub(crate) async fn read_part(
    app: web::Data<App>,
    session: Session,
    request: HttpRequest,
    which: web::Path<(i64, i32)>,
) -> Result<HttpResponse, Problem> {
    let (seq, part) = which.into_inner();
    let work = app.snapshot(&session, move |conn, who| {
        async move {
            who.may(Right::Read)?;
            Ok(snapshots::part(conn, who.operation.uuid(), Audience::of(&who), (seq, part)).await?)
        }
        .boxed()
    });
    let packed = work.await?.ok_or(Problem::NotFound)?;
    let takes_gzip = request.headers().get_all(ACCEPT_ENCODING).any(|value| {
        let offered = value.to_str().unwrap_or_default().split(',');
        offered
            .map(|one| one.split(';').next().unwrap_or_default().trim())
            .any(|one| one == "gzip")
    });
    let mut answer = HttpResponse::Ok();
    answer.content_type(ContentType::json());
    if takes_gzip {
        return Ok(answer.insert_header((CONTENT_ENCODING, "gzip")).body(packed));
    }
    let mut unpacked = Vec::new();
    GzDecoder::new(&packed[..])
        .read_to_end(&mut unpacked)
        .map_err(Problem::internal)?;
    Ok(answer.body(unpacked))
}

//! Photos: sent in pieces whenever there is signal, days after the entry that names them if need be.
//!
//! A photo is called by the SHA-256 of its bytes, so sending it twice is harmless and a damaged one is noticed. An entry
//! names its photos in `photos`, beside its data; it counts whether they ever arrive or not.

use actix_web::http::header::{CONTENT_TYPE, HeaderValue};
use actix_web::{HttpRequest, HttpResponse, get, patch, post, web};
use futures_util::FutureExt;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::App;
use super::body::{Body, Pace};
use super::problem::{BodyProblems, CommonProblems, Problem, ProblemBody};
use super::session::Session;
use crate::auth::Right;
use crate::photos::{self, Name, PHOTO_MAX, PIECE_MAX, PhotoRefused};

/// A photo that is to come.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct Begin {
    /// SHA-256 of its bytes, in hex.
    #[schema(pattern = "^[0-9a-f]{64}$")]
    sha256: String,
}

/// Where to go on.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(crate) struct Piece {
    /// How many bytes are there already.
    #[param(minimum = 0)]
    offset: u64,
    /// How many bytes the whole photo has.
    #[param(minimum = 1, maximum = 12582912)]
    of: u64,
}

/// How much of a photo is here.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Progress {
    /// How many bytes are here: where the next piece begins.
    offset: u64,
    /// Whether it is whole, and its bytes are those it is called by.
    complete: bool,
}

impl From<photos::Progress> for Progress {
    fn from(photos::Progress { offset, complete }: photos::Progress) -> Self {
        Self { offset, complete }
    }
}

/// A name that is none is told so where it is given, and has nothing behind it where it is asked for.
fn called(operation: Uuid, sha256: &str) -> Result<Name, Problem> {
    Name::of(operation, sha256).ok_or_else(|| Problem::BadField {
        pointer: "/sha256".to_owned(),
        detail: "a photo is called by 64 small hexadecimal digits".to_owned(),
    })
}

async fn operation(app: &App, session: &Session, right: Right) -> Result<Uuid, Problem> {
    let work = app.snapshot(session, move |_, who| {
        async move {
            who.may(Right::Read)?;
            who.may(right)?;
            Ok(who.operation.uuid())
        }
        .boxed()
    });
    work.await
}

/// Goes on even if the caller hangs up: what came is kept.
async fn detached<T, F>(app: &App, work: F) -> Result<T, Problem>
where
    T: Send + 'static,
    F: Future<Output = Result<T, PhotoRefused>> + Send + 'static,
{
    app.db.detached(async move { work.await.map_err(Problem::from) }).await
}

/// Asks how much of a photo is here: where to begin, or to go on after a cut, however long ago.
#[utoipa::path(tag = "photos", operation_id = "begin_photo", security(("bearer" = [])), request_body = Begin,
    responses((status = 200, body = Progress), CommonProblems, BodyProblems))]
#[post("/v1/photos")]
pub(crate) async fn begin(
    app: web::Data<App>,
    session: Session,
    body: Body<Begin>,
) -> Result<web::Json<Progress>, Problem> {
    let operation = operation(&app, &session, Right::Push).await?;
    let (photos, name) = (app.photos.clone(), called(operation, &body.0.sha256)?);
    let progress = detached(&app, async move { photos.progress(&name).await }).await?;
    Ok(web::Json(progress.into()))
}

/// Sends the next piece, at most 1 MiB. The last one is answered only if the whole is what it is called by.
#[utoipa::path(tag = "photos", operation_id = "send_photo", security(("bearer" = [])), params(Piece,
        ("sha256" = String, Path, description = "SHA-256 of the whole photo, in hex")),
    request_body(content = Vec<u8>, content_type = "application/octet-stream"),
    responses((status = 200, body = Progress), CommonProblems, BodyProblems,
        (status = 412, body = ProblemBody, content_type = "application/problem+json",
         description = "Another number of bytes is here: ask where to go on")))]
#[patch("/v1/photos/{sha256}")]
pub(crate) async fn go_on(
    app: web::Data<App>,
    session: Session,
    sha256: web::Path<String>,
    piece: web::Query<Piece>,
    request: HttpRequest,
    mut payload: web::Payload,
) -> Result<web::Json<Progress>, Problem> {
    let operation = operation(&app, &session, Right::Push).await?;
    let octets = HeaderValue::from_static("application/octet-stream");
    if request.headers().get(CONTENT_TYPE) != Some(&octets) {
        return Err(Problem::UnsupportedMediaType {
            detail: "a piece of a photo is application/octet-stream",
        });
    }
    if piece.of > PHOTO_MAX {
        return Err(Problem::TooLarge {
            limit: usize::try_from(PHOTO_MAX).unwrap_or(usize::MAX),
        });
    }
    let (mut bytes, mut pace) = (Vec::new(), Pace::of(&request));
    while let Some(more) = pace.next(&mut payload).await? {
        let Ok(more) = more else {
            // What came before the cut is kept: that is the point of pieces.
            break;
        };
        if bytes.len() + more.len() > PIECE_MAX {
            return Err(Problem::TooLarge { limit: PIECE_MAX });
        }
        bytes.extend_from_slice(&more);
    }
    let (photos, name) = (
        app.photos.clone(),
        Name::of(operation, &sha256).ok_or(Problem::NotFound)?,
    );
    let piece = photos::Piece {
        offset: piece.offset,
        of: piece.of,
        bytes,
    };
    let progress = detached(&app, async move { photos.go_on(&name, piece).await }).await?;
    Ok(web::Json(progress.into()))
}

/// A photo that is whole.
#[utoipa::path(tag = "photos", operation_id = "read_photo", security(("bearer" = [])),
    params(("sha256" = String, Path, description = "SHA-256 of the photo, in hex")),
    responses((status = 200, body = Vec<u8>, content_type = "image/jpeg"), CommonProblems))]
#[get("/v1/photos/{sha256}")]
pub(crate) async fn read(
    app: web::Data<App>,
    session: Session,
    sha256: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    let operation = operation(&app, &session, Right::Read).await?;
    let (photos, name) = (
        app.photos.clone(),
        Name::of(operation, &sha256).ok_or(Problem::NotFound)?,
    );
    let photo = detached(&app, async move { photos.read(&name).await }).await?;
    let (bytes, media_type) = photo.ok_or(Problem::NotFound)?;
    Ok(HttpResponse::Ok().content_type(media_type).body(bytes))
}

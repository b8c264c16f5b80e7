//! Photos: sent in pieces whenever there is signal, days after the entry that names them if need be.
//!
//! A photo is called by the SHA-256 of its bytes, so sending it twice is harmless and a damaged one is noticed. An entry
//! names its photos in `photos`, beside its data; it counts whether they ever arrive or not.

use std::fs::{File, OpenOptions};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use actix_web::http::header::{CONTENT_TYPE, HeaderValue};
use actix_web::{HttpRequest, HttpResponse, get, patch, post, web};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::App;
use super::body::{Body, Pace};
use super::problem::{BodyProblems, CommonProblems, Problem, ProblemBody};
use super::session::Session;
use crate::auth::{self, Right};

/// The most bytes of a photo.
const PHOTO_MAX: u64 = 12 * 1024 * 1024;
/// The most bytes of a piece.
const PIECE_MAX: usize = 1024 * 1024;

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

/// Which photo of which business, as a file.
struct Place {
    whole: PathBuf,
    part: PathBuf,
}

impl Place {
    /// Only names of our own making become paths.
    fn of(data: &Path, operation: Uuid, sha256: &str) -> Result<Self, Problem> {
        let plain = sha256.len() == 64 && sha256.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'a'..=b'f'));
        if !plain {
            return Err(Problem::BadField {
                pointer: "/sha256".to_owned(),
                detail: "a photo is called by 64 small hexadecimal digits".to_owned(),
            });
        }
        let folder = data.join("photos").join(operation.to_string());
        std::fs::create_dir_all(&folder).map_err(Problem::busy)?;
        Ok(Self {
            whole: folder.join(sha256),
            part: folder.join(format!("{sha256}.part")),
        })
    }

    fn progress(&self) -> Progress {
        let length = |path: &Path| std::fs::metadata(path).map(|file| file.len()).ok();
        match length(&self.whole) {
            Some(offset) => Progress { offset, complete: true },
            None => Progress {
                offset: length(&self.part).unwrap_or_default(),
                complete: false,
            },
        }
    }

    /// Adds a piece behind what is there. Two who do so at once take turns.
    fn go_on(&self, piece: &Piece, bytes: &[u8], sha256: &str) -> Result<Progress, Problem> {
        if self.whole.exists() {
            return Ok(self.progress());
        }
        let mut file = OpenOptions::new()
            .create(true)
            .truncate(false)
            .read(true)
            .write(true)
            .open(&self.part)
            .map_err(Problem::busy)?;
        file.lock().map_err(Problem::busy)?;
        let there = file.seek(SeekFrom::End(0)).map_err(Problem::busy)?;
        let after = there.saturating_add(u64::try_from(bytes.len()).unwrap_or(u64::MAX));
        if there != piece.offset || after > piece.of {
            return Err(Problem::PreconditionFailed);
        }
        file.write_all(bytes)
            .and_then(|()| file.sync_data())
            .map_err(Problem::busy)?;
        if after == piece.of {
            self.finish(&mut file, sha256)?;
        }
        Ok(self.progress())
    }

    fn finish(&self, file: &mut File, sha256: &str) -> Result<(), Problem> {
        let mut bytes = Vec::new();
        file.seek(SeekFrom::Start(0))
            .and_then(|_| file.read_to_end(&mut bytes))
            .map_err(Problem::busy)?;
        let hash: String = Sha256::digest(&bytes)
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect();
        let refused = match (hash == sha256, media_type(&bytes)) {
            (false, _) => Some((
                "wrong_checksum",
                "the bytes are not those the photo is called by: send it again",
            )),
            (_, None) => Some(("not_a_photo", "a photo is a JPEG, PNG or WebP file")),
            _ => None,
        };
        if let Some((code, detail)) = refused {
            std::fs::remove_file(&self.part).map_err(Problem::busy)?;
            return Err(Problem::Contradiction {
                code,
                detail: detail.to_owned(),
            });
        }
        std::fs::rename(&self.part, &self.whole).map_err(Problem::busy)
    }
}

/// What the first bytes say; the word of the sender is not asked.
fn media_type(bytes: &[u8]) -> Option<&'static str> {
    match bytes {
        [0xff, 0xd8, 0xff, ..] => Some("image/jpeg"),
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => Some("image/png"),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Some("image/webp"),
        _ => None,
    }
}

async fn operation(app: &App, session: &Session, right: Right) -> Result<Uuid, Problem> {
    let (mut conn, session) = (app.db.connection().await?, session.clone());
    let work = app.db.detached(async move {
        let mut snapshot = conn.build_transaction().read_only();
        snapshot
            .run(async |conn| {
                let who = auth::enter(conn, &session).await?;
                who.may(Right::Read)?;
                who.may(right)?;
                Ok::<_, Problem>(who.operation.uuid())
            })
            .await
    });
    work.await
}

async fn on_disk<T: Send + 'static>(work: impl FnOnce() -> Result<T, Problem> + Send + 'static) -> Result<T, Problem> {
    tokio::task::spawn_blocking(work).await.map_err(Problem::internal)?
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
    let data = app.config.data.clone();
    let progress = on_disk(move || Ok(Place::of(&data, operation, &body.0.sha256)?.progress()));
    progress.await.map(web::Json)
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
    let data = app.config.data.clone();
    let (sha256, piece) = (sha256.into_inner(), piece.into_inner());
    let progress = on_disk(move || {
        let place = Place::of(&data, operation, &sha256).map_err(|_| Problem::NotFound)?;
        place.go_on(&piece, &bytes, &sha256)
    });
    progress.await.map(web::Json)
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
    let data = app.config.data.clone();
    let bytes = on_disk(move || {
        let place = Place::of(&data, operation, &sha256).map_err(|_| Problem::NotFound)?;
        match std::fs::read(&place.whole) {
            Ok(bytes) => Ok(bytes),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Err(Problem::NotFound),
            Err(error) => Err(Problem::busy(error)),
        }
    });
    let bytes = bytes.await?;
    let media_type = media_type(&bytes).unwrap_or("application/octet-stream");
    Ok(HttpResponse::Ok().content_type(media_type).body(bytes))
}

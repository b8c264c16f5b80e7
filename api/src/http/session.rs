//! What handlers take from a request's head: the bearer's session and the version an edit is based on.

use std::future::{Ready, ready};
use std::ops::Deref;
use std::sync::{Arc, OnceLock};

use actix_web::dev::Payload;
use actix_web::http::header::{AUTHORIZATION, IF_MATCH};
use actix_web::{FromRequest, HttpMessage, HttpRequest, web};
use domain::ids::OperationId;
use uuid::Uuid;

use super::App;
use super::problem::Problem;
use crate::auth::{Bearer, token};
use crate::clock;

/// The access token of the request, checked without the database. Hand it to [`crate::auth::enter`].
#[derive(Debug, Clone)]
pub struct Session(pub Bearer);

impl Deref for Session {
    type Target = Bearer;

    fn deref(&self) -> &Bearer {
        &self.0
    }
}

/// The session of a request, for whoever looks after its body.
#[derive(Debug, Clone, Copy)]
pub(super) struct Holder(pub(super) Uuid);

/// Filled in once the operation is known; the request's log line reads it.
pub(super) type Seen = Arc<OnceLock<OperationId>>;

impl FromRequest for Session {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(session(request))
    }
}

fn session(request: &HttpRequest) -> Result<Session, Problem> {
    let mut headers = request.headers().get_all(AUTHORIZATION);
    let (Some(header), None) = (headers.next(), headers.next()) else {
        return Err(Problem::Unauthorized);
    };
    let text = header.to_str().map_err(|_| Problem::Unauthorized)?;
    let (scheme, token) = text.split_once(' ').ok_or(Problem::Unauthorized)?;
    if !scheme.eq_ignore_ascii_case("bearer") {
        return Err(Problem::Unauthorized);
    }
    let app = request
        .app_data::<web::Data<App>>()
        .ok_or_else(|| Problem::internal("the app has no data"))?;
    let claims = token::check(&app.keys, token.trim(), clock::now())?;
    let seen = request.extensions().get::<Seen>().cloned().unwrap_or_default();
    request.extensions_mut().insert(Holder(claims.sid.uuid()));
    Ok(Session(Bearer {
        session: claims.sid,
        epoch: claims.ep,
        seen,
    }))
}

/// The version an edit is based on, out of `If-Match`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IfMatch(String);

impl IfMatch {
    /// The version as a number.
    ///
    /// # Errors
    /// When it is none of ours, which is as good as an old one.
    pub fn version<T: std::str::FromStr>(&self) -> Result<T, Problem> {
        self.0.parse().map_err(|_| Problem::PreconditionFailed)
    }
}

impl FromRequest for IfMatch {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let header = request.headers().get(IF_MATCH).ok_or(Problem::PreconditionRequired);
        ready(header.and_then(|value| {
            let tag = value
                .to_str()
                .ok()
                .and_then(|text| text.trim().strip_prefix('"')?.strip_suffix('"'));
            tag.map(|tag| Self(tag.to_owned())).ok_or(Problem::PreconditionFailed)
        }))
    }
}

/// The `ETag` of a version.
#[must_use]
pub fn etag(version: impl std::fmt::Display) -> String {
    format!("\"{version}\"")
}

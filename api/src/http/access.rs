//! How phones reach the service, for the Office to show: addresses, the authority's fingerprint, and QR codes.

use actix_web::{get, post, web};
use diesel_async::AsyncConnection;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::App;
use super::body::Body;
use super::problem::{BodyProblems, CommonProblems, Problem};
use super::session::Session;
use crate::auth::{self, Right};
use crate::config::Transport;
use crate::qr;

/// The longest text that is made into a QR code: more would be hard to read off a screen.
const QR_MOST: usize = 300;

/// How phones reach the service.
#[derive(Serialize, ToSchema)]
pub(crate) struct Access {
    /// `local`: only from the machine itself; `own`: by TLS with an authority of its own; `given`: by TLS with a
    /// certificate that was given; `proxy`: by a proxy in front.
    transport: &'static str,
    /// Addresses for phones of this network, the likeliest first; empty where the service does not know them.
    addresses: Vec<String>,
    /// Where a phone is led through trusting the authority.
    #[serde(skip_serializing_if = "Option::is_none")]
    first_visit: Option<String>,
    /// SHA-256 of the authority's certificate, to compare by eye.
    #[serde(skip_serializing_if = "Option::is_none")]
    fingerprint: Option<String>,
}

/// A text to be made into a QR code.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct QrWish {
    /// The text.
    #[schema(min_length = 1, max_length = 300)]
    text: String,
}

/// A QR code of level M, without the quiet zone of four modules that it needs around it.
#[derive(Serialize, ToSchema)]
pub(crate) struct Qr {
    /// From the top, `1` for dark and `0` for light.
    rows: Vec<String>,
}

async fn may_read(app: &App, session: Session) -> Result<(), Problem> {
    let mut conn = app.db.connection().await?;
    let work = app.db.detached(async move {
        conn.transaction(async |conn| {
            let who = auth::enter(conn, &session).await?;
            who.may(Right::Read)?;
            Ok::<_, Problem>(())
        })
        .await
    });
    work.await
}

/// How phones reach the service.
#[utoipa::path(tag = "devices", operation_id = "read_access", security(("bearer" = [])), responses((status = 200, body = Access), CommonProblems))]
#[get("/v1/access")]
pub(crate) async fn read(app: web::Data<App>, session: Session) -> Result<web::Json<Access>, Problem> {
    may_read(&app, session).await?;
    let hosts = app.access.hosts();
    let authority = app.access.authority();
    let transport = match app.config.transport {
        Transport::Plain if app.config.behind_proxy => "proxy",
        Transport::Plain => "local",
        Transport::Given { .. } => "given",
        Transport::Own { .. } => "own",
    };
    Ok(web::Json(Access {
        transport,
        first_visit: authority.and(hosts.first()).map(|host| format!("http://{host}/")),
        addresses: hosts.iter().map(|host| format!("https://{host}/")).collect(),
        fingerprint: authority.map(crate::tls::Authority::fingerprint),
    }))
}

/// Makes a text into a QR code. Nothing of it is kept.
#[utoipa::path(tag = "devices", operation_id = "make_qr", security(("bearer" = [])), request_body = QrWish,
    responses((status = 200, body = Qr), CommonProblems, BodyProblems))]
#[post("/v1/qr-codes")]
pub(crate) async fn make_qr(
    app: web::Data<App>,
    session: Session,
    body: Body<QrWish>,
) -> Result<web::Json<Qr>, Problem> {
    may_read(&app, session).await?;
    let text = body.0.text;
    let fits = (1..=QR_MOST).contains(&text.chars().count());
    let rows = fits.then(|| qr::rows(&text)).flatten();
    let rows = rows.ok_or_else(|| Problem::BadField {
        pointer: "/text".to_owned(),
        detail: format!("a text of 1 to {QR_MOST} characters can be made into a code"),
    })?;
    Ok(web::Json(Qr { rows }))
}

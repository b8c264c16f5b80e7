//! The ways in and out: `/v1/auth/…` and `/v1/me`.

use actix_web::{HttpResponse, get, post, web};
use diesel_async::AsyncConnection;
use domain::ids::{DeviceId, MemberId, OperationId};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::App;
use super::body::{Body, STRANGERS_MAX};
use super::names::Name;
use super::problem::{BodyProblems, CommonProblems, Problem};
use super::session::Session;
use crate::auth::{self, Door, Right, Role, SignedIn, members, refresh as sessions, sign_in as ways_in, token};
use crate::clock;
use crate::config::Secret;

/// A login with its password, on a browser that is to be a device.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct SignIn {
    /// As it was entered for the member; capital and small letters are the same.
    #[schema(value_type = String, example = "owner")]
    login: Name<64>,
    /// 15 to 256 characters, as typed.
    #[schema(value_type = String, format = Password)]
    password: Secret,
    /// How to call this browser in the list of devices.
    #[schema(value_type = String, max_length = 80, example = "Office computer")]
    device_name: Name<80>,
}

/// A one-use code from the office.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct Enrol {
    /// Typed or scanned.
    #[schema(value_type = String, example = "7KQM-4XH2P-WT9RC")]
    code: Secret,
    /// How to call this phone; the office's name for it otherwise.
    #[schema(value_type = Option<String>, max_length = 80)]
    device_name: Option<Name<80>>,
}

/// A refresh token and the secret of the device it was given to.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct Refresh {
    /// The newest one that was received.
    #[schema(value_type = String)]
    refresh_token: Secret,
    /// As given when the device joined.
    #[schema(value_type = String)]
    device_secret: Secret,
}

/// The password again.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct Confirm {
    /// As typed at sign-in.
    #[schema(value_type = String, format = Password)]
    password: Secret,
}

/// What a device needs from now on.
#[derive(Serialize, ToSchema)]
pub(crate) struct Tokens {
    /// For the `Authorization: Bearer` header; keep it in memory only.
    access_token: String,
    /// How long that is good.
    expires_in_s: i64,
    /// Good once; keep the newest one.
    refresh_token: String,
    /// Given once, when the device joins; shown at every refresh.
    #[serde(skip_serializing_if = "Option::is_none")]
    device_secret: Option<String>,
    /// The business.
    operation_id: OperationId,
    /// The person.
    member_id: MemberId,
    /// This device.
    device_id: DeviceId,
    /// What the person may do.
    role: Role,
}

fn door(app: &App) -> Door<'_> {
    Door {
        db: &app.db,
        keys: &app.keys,
        hasher: &app.hasher,
    }
}

fn tokens(app: &App, signed_in: &SignedIn) -> Result<Tokens, Problem> {
    let who = &signed_in.who;
    let access = token::issue(&app.keys, who.member, who.session, signed_in.epoch, clock::now());
    Ok(Tokens {
        access_token: access.map_err(Problem::internal)?,
        expires_in_s: token::LIFETIME_S,
        refresh_token: signed_in.refresh_token.expose().to_owned(),
        device_secret: Some(signed_in.device_secret.expose().to_owned()),
        operation_id: who.operation,
        member_id: who.member,
        device_id: who.device,
        role: who.role,
    })
}

/// Signs in with a password; this browser becomes a device.
#[utoipa::path(tag = "auth", request_body = SignIn,
    responses((status = 200, body = Tokens), CommonProblems, BodyProblems))]
#[post("/v1/auth/sign-in")]
pub(crate) async fn sign_in(
    app: web::Data<App>,
    body: Body<SignIn, STRANGERS_MAX, STRANGERS_MAX>,
) -> Result<web::Json<Tokens>, Problem> {
    let Body(SignIn {
        login,
        password,
        device_name,
    }) = body;
    let signed_in = ways_in::by_password(door(&app), login.as_str(), &password, device_name.as_str()).await?;
    tracing::info!(device.id = %signed_in.who.device, "device {} signed in", signed_in.who.device);
    tokens(&app, &signed_in).map(web::Json)
}

/// Enrols a phone by a one-use code.
#[utoipa::path(tag = "auth", request_body = Enrol,
    responses((status = 200, body = Tokens), CommonProblems, BodyProblems))]
#[post("/v1/auth/enrolments")]
pub(crate) async fn enrol(
    app: web::Data<App>,
    body: Body<Enrol, STRANGERS_MAX, STRANGERS_MAX>,
) -> Result<web::Json<Tokens>, Problem> {
    let Body(Enrol { code, device_name }) = body;
    let signed_in = ways_in::by_code(door(&app), &code, device_name.as_ref().map(Name::as_str)).await?;
    tracing::info!(device.id = %signed_in.who.device, "device {} enrolled", signed_in.who.device);
    tokens(&app, &signed_in).map(web::Json)
}

/// Gives a new access token and the next refresh token. Safe to repeat when the answer was lost.
#[utoipa::path(tag = "auth", request_body = Refresh,
    responses((status = 200, body = Tokens), CommonProblems, BodyProblems))]
#[post("/v1/auth/refresh")]
pub(crate) async fn refresh(
    app: web::Data<App>,
    body: Body<Refresh, STRANGERS_MAX, STRANGERS_MAX>,
) -> Result<web::Json<Tokens>, Problem> {
    let Body(Refresh {
        refresh_token,
        device_secret,
    }) = body;
    let given = sessions::Token::read(&refresh_token).ok_or(Problem::WrongCredentials)?;
    let mut conn = app.db.connection().await?;
    let within = app.clone();
    let refreshed = app
        .db
        .detached(async move {
            // Commits when it refuses as well: a stolen token ends its session.
            conn.transaction(async |conn| {
                let refreshed = sessions::refresh(conn, &within.keys, &given, &device_secret).await;
                refreshed.map_err(Problem::from)
            })
            .await
        })
        .await?
        .ok_or(Problem::WrongCredentials)?;
    let access = token::issue(
        &app.keys,
        refreshed.member,
        refreshed.session,
        refreshed.epoch,
        clock::now(),
    );
    Ok(web::Json(Tokens {
        access_token: access.map_err(Problem::internal)?,
        expires_in_s: token::LIFETIME_S,
        refresh_token: refreshed.token.expose().to_owned(),
        device_secret: None,
        operation_id: refreshed.operation,
        member_id: refreshed.member,
        device_id: refreshed.device,
        role: refreshed.role,
    }))
}

/// Ends this session. What the device has not yet pushed should be pushed before.
#[utoipa::path(tag = "auth", security(("bearer" = [])), responses((status = 204), CommonProblems))]
#[post("/v1/auth/leave")]
pub(crate) async fn leave(app: web::Data<App>, session: Session) -> Result<HttpResponse, Problem> {
    let mut conn = app.db.connection().await?;
    app.db
        .detached(async move {
            conn.transaction(async |conn| {
                let who = auth::enter(conn, &session).await?;
                Ok::<_, Problem>(sessions::end(conn, who.session, "signed-out").await?)
            })
            .await
        })
        .await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Gives the password again; for five minutes, people and devices can be changed.
#[utoipa::path(tag = "auth", security(("bearer" = [])), request_body = Confirm,
    responses((status = 204), CommonProblems, BodyProblems))]
#[post("/v1/auth/confirmations")]
pub(crate) async fn confirm(
    app: web::Data<App>,
    session: Session,
    body: Body<Confirm>,
) -> Result<HttpResponse, Problem> {
    ways_in::confirm(door(&app), &session, &body.0.password).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Who is signed in.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Me {
    /// The business.
    operation_id: OperationId,
    /// What it is called.
    operation_name: String,
    /// Everything in it is made up, as in the demo: say so on the first screen.
    invented: bool,
    /// The person.
    member_id: MemberId,
    /// How the person is called.
    name: String,
    /// What the person may do.
    role: Role,
    /// This device.
    device_id: DeviceId,
    /// Whether the password was given within the last five minutes.
    confirmed: bool,
}

/// Says who is signed in.
#[utoipa::path(tag = "auth", security(("bearer" = [])), responses((status = 200, body = Me), CommonProblems))]
#[get("/v1/me")]
pub(crate) async fn me(app: web::Data<App>, session: Session) -> Result<web::Json<Me>, Problem> {
    let mut conn = app.db.connection().await?;
    let work = app.db.detached(async move {
        conn.transaction(async |conn| {
            let who = auth::enter(conn, &session).await?;
            who.may(Right::Read)?;
            let member = members::find(conn, who.member).await?.ok_or(Problem::NotFound)?;
            Ok::<_, Problem>(Me {
                operation_id: who.operation,
                operation_name: members::operation_name(conn).await?,
                invented: members::operation_invented(conn).await?,
                member_id: who.member,
                name: member.name,
                role: who.role,
                device_id: who.device,
                confirmed: who.confirmed,
            })
        })
        .await
    });
    work.await.map(web::Json)
}

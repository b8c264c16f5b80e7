//! The devices of an operation and the codes by which phones join: `/v1/devices`.

use actix_web::{HttpResponse, get, post, web};
use chrono::{DateTime, Utc};
use diesel_async::AsyncConnection;
use domain::ids::{DeviceId, MemberId};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::App;
use super::body::Body;
use super::names::Name;
use super::problem::{BodyProblems, CommonProblems, Problem};
use super::session::Session;
use crate::auth::codes::NewCode;
use crate::auth::devices::{self, Device, KeptCode, RevocationKind};
use crate::auth::{self, Right, members};

/// A phone that is to join.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct MakeCode {
    /// Who will carry it.
    member_id: MemberId,
    /// How the office calls it.
    #[schema(value_type = String, min_length = 1, max_length = 80)]
    device_name: Name<80>,
}

/// A code to read out or show; it cannot be asked for again.
#[derive(Serialize, ToSchema)]
pub(crate) struct Code {
    /// To be typed.
    #[schema(example = "7KQM-4XH2P-WT9RC")]
    code: String,
    /// Until when.
    expires_at: DateTime<Utc>,
    /// The text of the QR code.
    qr: String,
}

/// A device.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DeviceRow {
    /// Which device.
    id: DeviceId,
    /// Who carries it.
    member_id: MemberId,
    /// How it is called.
    name: String,
    /// `phone`, `browser`, `program` or `console`.
    kind: String,
    /// `active`, `left` or `lost`.
    state: String,
    /// When it joined.
    enrolled_at: DateTime<Utc>,
    /// When it was last heard: within a quarter of an hour of its last call.
    #[serde(skip_serializing_if = "Option::is_none")]
    heard_at: Option<DateTime<Utc>>,
    /// When it was revoked.
    #[serde(skip_serializing_if = "Option::is_none")]
    left_at: Option<DateTime<Utc>>,
}

impl From<Device> for DeviceRow {
    fn from(device: Device) -> Self {
        Self {
            id: device.id(),
            member_id: device.member(),
            name: device.name,
            kind: device.kind,
            state: device.state,
            enrolled_at: device.enrolled_at,
            heard_at: device.heard_at,
            left_at: device.left_at,
        }
    }
}

/// Devices, all of them.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Devices {
    /// In the order they joined.
    items: Vec<DeviceRow>,
}

/// How to revoke a device.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct Revoke {
    /// Whether it left with its bearer or is in other hands.
    kind: RevocationKind,
}

/// Lists the devices.
#[utoipa::path(tag = "devices", operation_id = "list_devices", security(("bearer" = [])), responses((status = 200, body = Devices), CommonProblems))]
#[get("/v1/devices")]
pub(crate) async fn list(app: web::Data<App>, session: Session) -> Result<web::Json<Devices>, Problem> {
    let mut conn = app.db.connection().await?;
    let work = app.db.detached(async move {
        conn.transaction(async |conn| {
            let who = auth::enter(conn, &session).await?;
            who.may(Right::Office)?;
            let items = devices::list(conn).await?.into_iter().map(DeviceRow::from).collect();
            Ok::<_, Problem>(Devices { items })
        })
        .await
    });
    work.await.map(web::Json)
}

/// Makes a one-use code for a phone, good for ten minutes. Wants the password within the last five minutes.
#[utoipa::path(tag = "devices", security(("bearer" = [])), request_body = MakeCode,
    responses((status = 201, body = Code), CommonProblems, BodyProblems))]
#[post("/v1/devices/codes")]
pub(crate) async fn make_code(
    app: web::Data<App>,
    session: Session,
    body: Body<MakeCode>,
) -> Result<HttpResponse, Problem> {
    let wish = body.0;
    permitted(&app, &session, Right::Office).await?;
    for _ in 0..8 {
        let code = NewCode::make()?;
        let typed_hash = app.hasher.hash(&code.typed).await?;
        let (member, name) = (wish.member_id, wish.device_name.clone());
        let (mut conn, session) = (app.db.connection().await?, session.clone());
        let kept = app.db.detached(async move {
            conn.transaction(async |conn| {
                let who = auth::enter(conn, &session).await?;
                who.may_now(Right::Office)?;
                let bearer = members::find(conn, member).await?.ok_or(Problem::NotFound)?;
                who.may_deal_with(bearer.role())?;
                let keep = KeptCode {
                    code: &code,
                    typed_hash: &typed_hash,
                    member,
                    device_name: name.as_str(),
                };
                Ok::<_, Problem>(devices::keep_code(conn, &who, &keep).await?)
            })
            .await
            .map(|expires_at| (code, expires_at))
        });
        if let (code, Some(expires_at)) = kept.await? {
            let answer = Code {
                code: code.for_people(),
                expires_at,
                qr: code.for_cameras(),
            };
            return Ok(HttpResponse::Created().json(answer));
        }
    }
    Err(Problem::busy("no free enrolment code was found"))
}

/// Revokes a device. Doing so twice changes nothing; `lost` outranks `left`. Wants the password within the last
/// five minutes.
#[utoipa::path(tag = "devices", security(("bearer" = [])), request_body = Revoke,
    params(("id" = Uuid, Path, description = "Which device")),
    responses((status = 200, body = DeviceRow), CommonProblems, BodyProblems))]
#[post("/v1/devices/{id}/revocations")]
pub(crate) async fn revoke(
    app: web::Data<App>,
    session: Session,
    id: web::Path<Uuid>,
    body: Body<Revoke>,
) -> Result<web::Json<DeviceRow>, Problem> {
    let (id, kind) = (DeviceId::from_uuid(id.into_inner()), body.0.kind);
    let mut conn = app.db.connection().await?;
    let work = app.db.detached(async move {
        conn.transaction(async |conn| {
            let who = auth::enter(conn, &session).await?;
            who.may_now(Right::Office)?;
            let device = devices::find(conn, id).await?.ok_or(Problem::NotFound)?;
            who.may_deal_with(device.role())?;
            devices::revoke(conn, &who, &device, kind).await?;
            let after = devices::find(conn, id).await?.ok_or(Problem::NotFound)?;
            Ok::<_, Problem>(DeviceRow::from(after))
        })
        .await
    });
    let row = work.await?;
    tracing::info!(device.id = %row.id, "device {} was revoked", row.id);
    Ok(web::Json(row))
}

/// Asks beforehand whether a call that costs much may be made at all; answers the name of the business.
pub(super) async fn permitted(app: &App, session: &Session, right: Right) -> Result<String, Problem> {
    let (mut conn, session) = (app.db.connection().await?, session.clone());
    let work = app.db.detached(async move {
        conn.transaction(async |conn| {
            let who = auth::enter(conn, &session).await?;
            who.may_now(right)?;
            Ok::<_, Problem>(members::operation_name(conn).await?)
        })
        .await
    });
    work.await
}

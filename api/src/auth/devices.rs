//! The devices of one operation and the codes by which they join, inside a transaction that [`super::enter`] opened.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::sql_types::{Binary, Bool, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel::{OptionalExtension, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::ids::{DeviceId, MemberId};
use serde::{Deserialize, Serialize};
use serde_json::json;
use utoipa::ToSchema;
use uuid::Uuid;

use super::audit;
use super::codes::{LIFETIME_MIN, NewCode};
use super::enter::Who;
use super::role::Role;
use crate::clock;

/// A device as read.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct Device {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    member_id: Uuid,
    /// How the person calls it.
    #[diesel(sql_type = Text)]
    pub name: String,
    /// `phone`, `browser`, `program` or `console`.
    #[diesel(sql_type = Text)]
    pub kind: String,
    /// `active`, `left` or `lost`.
    #[diesel(sql_type = Text)]
    pub state: String,
    /// When it joined.
    #[diesel(sql_type = Timestamptz)]
    pub enrolled_at: DateTime<Utc>,
    /// When it last got a token; absent where it never came in.
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub heard_at: Option<DateTime<Utc>>,
    /// When it was revoked.
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub left_at: Option<DateTime<Utc>>,
    #[diesel(sql_type = Text)]
    role: String,
}

impl Device {
    /// Which device.
    #[must_use]
    pub fn id(&self) -> DeviceId {
        DeviceId::from_uuid(self.id)
    }

    /// Who carries it.
    #[must_use]
    pub fn member(&self) -> MemberId {
        MemberId::from_uuid(self.member_id)
    }

    /// The role of whoever carries it; an unknown word counts as the highest, so that it is dealt with by owners.
    #[must_use]
    pub fn role(&self) -> Role {
        Role::from_word(&self.role).unwrap_or(Role::Owner)
    }
}

/// How a device is revoked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum RevocationKind {
    /// Its bearer has left: for 30 days it may push what it still holds, which is quarantined.
    Left,
    /// It is in other hands: nothing any more.
    Lost,
}

impl RevocationKind {
    const fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Lost => "lost",
        }
    }
}

/// The devices, in the order they joined.
///
/// # Errors
/// When the database refuses.
pub async fn list(conn: &mut AsyncPgConnection) -> Result<Vec<Device>, diesel::result::Error> {
    diesel::sql_query("select * from device_list(null)").load(conn).await
}

/// One device.
///
/// # Errors
/// When the database refuses.
pub async fn find(conn: &mut AsyncPgConnection, id: DeviceId) -> Result<Option<Device>, diesel::result::Error> {
    let one = diesel::sql_query("select * from device_list($1)").bind::<SqlUuid, _>(id.uuid());
    one.get_result(conn).await.optional()
}

/// Takes a device's rights. Doing so twice changes nothing; lost outranks left.
///
/// # Errors
/// When the database refuses.
pub async fn revoke(
    conn: &mut AsyncPgConnection,
    who: &Who,
    device: &Device,
    kind: RevocationKind,
) -> Result<(), diesel::result::Error> {
    let revoke = diesel::sql_query("select device_revoke($1, $2)");
    revoke
        .bind::<SqlUuid, _>(device.id)
        .bind::<Text, _>(kind.word())
        .execute(conn)
        .await?;
    audit::note(
        conn,
        who,
        "device-revoked",
        &json!({ "device.id": device.id, "kind": kind }),
    )
    .await
}

#[derive(QueryableByName)]
struct Answer {
    #[diesel(sql_type = Bool)]
    yes: bool,
}

/// Keeps a code that was just made and says until when it is good. Nothing: its first characters are taken by
/// another that is still good, so make a new one.
///
/// # Errors
/// When the database refuses.
pub async fn keep_code(
    conn: &mut AsyncPgConnection,
    who: &Who,
    code: &KeptCode<'_>,
) -> Result<Option<DateTime<Utc>>, diesel::result::Error> {
    let expires_at = clock::now() + TimeDelta::minutes(LIFETIME_MIN);
    let id = clock::new_id();
    let make = diesel::sql_query("select code_make($1, $2, $3, $4, $5, $6, $7) as yes")
        .bind::<SqlUuid, _>(id)
        .bind::<Text, _>(&code.code.lookup)
        .bind::<Text, _>(code.typed_hash)
        .bind::<Binary, _>(code.code.scanned_kept())
        .bind::<SqlUuid, _>(code.member.uuid())
        .bind::<Text, _>(code.device_name)
        .bind::<Timestamptz, _>(expires_at);
    if !make.get_result::<Answer>(conn).await?.yes {
        return Ok(None);
    }
    audit::note(
        conn,
        who,
        "code-made",
        &json!({ "member.id": code.member, "code.id": id }),
    )
    .await?;
    Ok(Some(expires_at))
}

/// A code with what is to be kept of it.
pub struct KeptCode<'a> {
    /// The code.
    pub code: &'a NewCode,
    /// The slow hash of what is typed.
    pub typed_hash: &'a str,
    /// Who will carry the device.
    pub member: MemberId,
    /// How the office calls the device.
    pub device_name: &'a str,
}

//! What every way in ends with: a device, its session, and the secrets that are shown once.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use diesel::sql_types::{Binary, Bool, Integer, Text, Uuid as SqlUuid};
use diesel::{OptionalExtension, QueryableByName};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl};
use domain::ids::{DeviceId, MemberId, OperationId, SessionId};
use serde_json::json;
use uuid::Uuid;

use super::enter::{DeviceState, Who};
use super::keys::Keys;
use super::password::Hasher;
use super::role::Role;
use super::sign_in::SignInRefused;
use super::{audit, fingerprint, refresh};
use crate::clock::{self, NoRandomness};
use crate::config::Secret;
use crate::database::Database;

/// What a way in needs.
#[derive(Clone, Copy)]
pub struct Door<'a> {
    /// Where sessions are kept.
    pub db: &'a Database,
    /// What makes refresh tokens.
    pub keys: &'a Keys,
    /// What checks passwords.
    pub hasher: &'a Hasher,
}

/// Somebody came in on a new device.
#[derive(Debug)]
pub struct SignedIn {
    /// Who, as of now.
    pub who: Who,
    /// The member's epoch.
    pub epoch: i32,
    /// The first refresh token.
    pub refresh_token: Secret,
    /// What the device must show at each refresh.
    pub device_secret: Secret,
}

/// A device about to be enrolled, with the secrets that are shown once.
pub(super) struct NewDevice {
    operation: Uuid,
    member: Uuid,
    device: Uuid,
    session: SessionId,
    name: String,
    kind: &'static str,
    salt: [u8; refresh::SALT_BYTES],
    secret: Secret,
}

impl NewDevice {
    pub(super) fn make(operation: Uuid, member: Uuid, name: &str, kind: &'static str) -> Result<Self, NoRandomness> {
        let secret: [u8; 32] = clock::random_bytes()?;
        Ok(Self {
            operation,
            member,
            device: clock::new_id(),
            session: SessionId::from_uuid(clock::new_id()),
            name: name.to_owned(),
            kind,
            salt: clock::random_bytes()?,
            secret: Secret::new(URL_SAFE_NO_PAD.encode(secret)),
        })
    }
}

/// By which way a device came.
pub(super) enum Opening {
    /// A password, given just now; holds the fingerprint of the login.
    Password(Vec<u8>),
    /// A code, which is used up.
    Code(Uuid),
}

/// Opens the session of a new device.
pub(super) async fn open(door: Door<'_>, new: NewDevice, opening: Opening) -> Result<SignedIn, SignInRefused> {
    let token = refresh::first(door.keys, new.session, &new.salt);
    let mut conn = door.db.connection().await?;
    door.db
        .detached(async move {
            let kept = token.kept();
            let (who, epoch) = conn
                .transaction(async |conn| write(conn, &new, &opening, &kept).await)
                .await?;
            Ok(SignedIn {
                who,
                epoch,
                refresh_token: token.written(),
                device_secret: new.secret,
            })
        })
        .await
}

#[derive(QueryableByName)]
struct Answer {
    #[diesel(sql_type = Bool)]
    yes: bool,
}

#[derive(QueryableByName)]
struct Opened {
    #[diesel(sql_type = Integer)]
    epoch: i32,
    #[diesel(sql_type = Text)]
    role: String,
}

async fn write(
    conn: &mut AsyncPgConnection,
    new: &NewDevice,
    opening: &Opening,
    token_hash: &[u8],
) -> Result<(Who, i32), SignInRefused> {
    let (deed, confirmed) = match opening {
        Opening::Password(login_hash) => {
            let clear = diesel::sql_query("select sign_in_clear($1)").bind::<Binary, _>(login_hash);
            clear.execute(conn).await?;
            ("sign-in", true)
        }
        Opening::Code(id) => {
            let spend = diesel::sql_query("select code_use($1) as yes").bind::<SqlUuid, _>(id);
            if !spend.get_result::<Answer>(conn).await?.yes {
                return Err(SignInRefused::Wrong);
            }
            ("enrolled", false)
        }
    };
    let add = diesel::sql_query("select device_add($1, $2, $3, $4, $5, $6)");
    add.bind::<SqlUuid, _>(new.operation)
        .bind::<SqlUuid, _>(new.member)
        .bind::<SqlUuid, _>(new.device)
        .bind::<Text, _>(&new.name)
        .bind::<Text, _>(new.kind)
        .bind::<Binary, _>(fingerprint(new.secret.expose().as_bytes()))
        .execute(conn)
        .await?;
    let open = diesel::sql_query("select * from session_open($1, $2, $3, $4, $5, $6, $7)");
    let opened = open
        .bind::<SqlUuid, _>(new.session.uuid())
        .bind::<SqlUuid, _>(new.operation)
        .bind::<SqlUuid, _>(new.member)
        .bind::<SqlUuid, _>(new.device)
        .bind::<Binary, _>(new.salt.as_slice())
        .bind::<Binary, _>(token_hash)
        .bind::<Bool, _>(confirmed)
        .get_result::<Opened>(conn)
        .await
        .optional()?
        .ok_or(SignInRefused::Wrong)?;
    let who = Who {
        operation: OperationId::from_uuid(new.operation),
        member: MemberId::from_uuid(new.member),
        device: DeviceId::from_uuid(new.device),
        session: new.session,
        role: Role::from_word(&opened.role).ok_or(SignInRefused::Wrong)?,
        device_state: DeviceState::Active,
        confirmed,
    };
    audit::note(conn, &who, deed, &json!({ "session.id": new.session })).await?;
    Ok((who, opened.epoch))
}

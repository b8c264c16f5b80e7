//! The ways in: a login with its password, a code on a phone, and the password again.
//!
//! An attempt is booked before the password is looked at, and the slow hash runs outside any transaction.

use diesel::sql_types::{Binary, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel::{OptionalExtension, QueryableByName};
use diesel_async::{AsyncConnection, RunQueryDsl};
use uuid::Uuid;

use super::codes::GivenCode;
use super::enter::{Bearer, EnterRefused, Who, enter};
use super::fingerprint;
use super::opening::{Door, NewDevice, Opening, SignedIn, open};
use super::password::HashRefused;
use crate::clock::NoRandomness;
use crate::config::Secret;
use crate::database::{Database, DatabaseRefused, Interrupted};

/// Why nobody came in. Which of login, password or code was wrong is not told.
#[derive(Debug, thiserror::Error)]
pub enum SignInRefused {
    /// The login, the password or the code is not good.
    #[error("the credentials are not good")]
    Wrong,
    /// Too many wrong ones lately.
    #[error("too many attempts, wait {retry_after_s} s")]
    TooMany {
        /// How long to wait.
        retry_after_s: u32,
    },
    /// Nothing could be hashed.
    #[error(transparent)]
    Hash(#[from] HashRefused),
    /// The session that wants to confirm itself is not good.
    #[error(transparent)]
    Enter(#[from] EnterRefused),
    /// There is no connection.
    #[error(transparent)]
    Database(#[from] DatabaseRefused),
    /// The database refused.
    #[error("the database refused")]
    Query(#[from] diesel::result::Error),
    /// No secrets could be made.
    #[error(transparent)]
    NoRandomness(#[from] NoRandomness),
    /// The work was torn down.
    #[error(transparent)]
    Interrupted(#[from] Interrupted),
}

#[derive(QueryableByName)]
struct Wait {
    #[diesel(sql_type = Integer)]
    seconds: i32,
}

#[derive(QueryableByName)]
struct Found {
    #[diesel(sql_type = SqlUuid)]
    operation_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    member_id: Uuid,
    #[diesel(sql_type = Text)]
    password_hash: String,
}

/// Comes in by login and password, as a new device of the kind `browser`.
///
/// # Errors
/// When they are wrong, were wrong too often, or something is busy.
pub async fn by_password(
    door: Door<'_>,
    login: &str,
    password: &Secret,
    device_name: &str,
) -> Result<SignedIn, SignInRefused> {
    let login_hash = fingerprint(login.to_lowercase().as_bytes());
    begin(door.db, login_hash.clone()).await?;
    let found = {
        let mut conn = door.db.connection().await?;
        let find = diesel::sql_query("select * from sign_in_find($1)").bind::<Text, _>(login);
        find.get_result::<Found>(&mut conn).await.optional()?
    };
    let fits = door
        .hasher
        .fits(password, found.as_ref().map(|found| found.password_hash.as_str()))
        .await?;
    match found {
        Some(found) if fits => {
            let new = NewDevice::make(found.operation_id, found.member_id, device_name, "browser")?;
            open(door, new, Opening::Password(login_hash)).await
        }
        Some(found) => {
            failed(door.db, found.operation_id, found.member_id).await?;
            Err(SignInRefused::Wrong)
        }
        None => Err(SignInRefused::Wrong),
    }
}

/// Books an attempt, or says how long to wait before the next.
async fn begin(db: &Database, login_hash: Vec<u8>) -> Result<(), SignInRefused> {
    let mut conn = db.connection().await?;
    db.detached(async move {
        let book = diesel::sql_query("select sign_in_begin($1) as seconds").bind::<Binary, _>(login_hash);
        let Wait { seconds } = book.get_result(&mut conn).await?;
        match u32::try_from(seconds) {
            Ok(0) | Err(_) => Ok(()),
            Ok(retry_after_s) => Err(SignInRefused::TooMany { retry_after_s }),
        }
    })
    .await
}

async fn failed(db: &Database, operation: Uuid, member: Uuid) -> Result<(), SignInRefused> {
    let mut conn = db.connection().await?;
    db.detached(async move {
        let note = diesel::sql_query("select sign_in_failed($1, $2)");
        note.bind::<SqlUuid, _>(operation)
            .bind::<SqlUuid, _>(member)
            .execute(&mut conn)
            .await?;
        Ok(())
    })
    .await
}

#[derive(QueryableByName)]
struct Tried {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    secret_hash: String,
    #[diesel(sql_type = Binary)]
    qr_hash: Vec<u8>,
    #[diesel(sql_type = SqlUuid)]
    operation_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    member_id: Uuid,
    #[diesel(sql_type = Text)]
    device_name: String,
}

/// Enrols a phone by a code. Without a name of its own the device keeps the one the office gave it.
///
/// # Errors
/// When the code is not good (any more), or something is busy.
pub async fn by_code(door: Door<'_>, code: &Secret, device_name: Option<&str>) -> Result<SignedIn, SignInRefused> {
    let given = GivenCode::read(code).ok_or(SignInRefused::Wrong)?;
    let mut conn = door.db.connection().await?;
    let lookup = given.lookup().to_owned();
    let tried: Option<Tried> = door
        .db
        .detached(async move {
            let take = diesel::sql_query("select * from code_try($1)").bind::<Text, _>(lookup);
            Ok::<_, SignInRefused>(take.get_result(&mut conn).await.optional()?)
        })
        .await?;
    let fits = match &given {
        GivenCode::Typed { proof, .. } => {
            door.hasher
                .fits(proof, tried.as_ref().map(|tried| tried.secret_hash.as_str()))
                .await?
        }
        GivenCode::Scanned { proof, .. } => {
            use subtle::ConstantTimeEq;
            tried
                .as_ref()
                .is_some_and(|tried| bool::from(tried.qr_hash.ct_eq(proof)))
        }
    };
    let tried = tried.filter(|_| fits).ok_or(SignInRefused::Wrong)?;
    let name = device_name.unwrap_or(&tried.device_name);
    let new = NewDevice::make(tried.operation_id, tried.member_id, name, "phone")?;
    open(door, new, Opening::Code(tried.id)).await
}

#[derive(QueryableByName)]
struct Again {
    #[diesel(sql_type = Text)]
    login: String,
    #[diesel(sql_type = Nullable<Text>)]
    password_hash: Option<String>,
}

/// Takes the password again in a session that is open; good for five minutes.
///
/// # Errors
/// When it is wrong, was wrong too often, or the session is over.
pub async fn confirm(door: Door<'_>, bearer: &Bearer, password: &Secret) -> Result<(), SignInRefused> {
    let mut conn = door.db.connection().await?;
    let asks = bearer.clone();
    let again: Option<(Who, Again)> = door
        .db
        .detached(async move {
            conn.transaction(async |conn| {
                let who = enter(conn, &asks).await?;
                let find = diesel::sql_query("select * from sign_in_again($1)");
                let again = find
                    .bind::<SqlUuid, _>(who.session.uuid())
                    .get_result::<Again>(conn)
                    .await
                    .optional()?;
                Ok::<_, SignInRefused>(again.map(|again| (who, again)))
            })
            .await
        })
        .await?;
    let (who, again) = again.ok_or(SignInRefused::Wrong)?;
    let login_hash = fingerprint(again.login.as_bytes());
    begin(door.db, login_hash.clone()).await?;
    if !door.hasher.fits(password, again.password_hash.as_deref()).await? {
        failed(door.db, who.operation.uuid(), who.member.uuid()).await?;
        return Err(SignInRefused::Wrong);
    }
    let (mut conn, asks) = (door.db.connection().await?, bearer.clone());
    door.db
        .detached(async move {
            conn.transaction(async |conn| {
                let who = enter(conn, &asks).await?;
                let clear = diesel::sql_query("select sign_in_clear($1)").bind::<Binary, _>(&login_hash);
                clear.execute(conn).await?;
                let confirm = diesel::sql_query("select session_confirm($1)");
                confirm.bind::<SqlUuid, _>(who.session.uuid()).execute(conn).await?;
                Ok(())
            })
            .await
        })
        .await
}

//! The people of one operation, inside a transaction that [`super::enter`] has opened.

use chrono::{DateTime, Utc};
use diesel::result::DatabaseErrorKind;
use diesel::result::Error as DieselError;
use diesel::sql_types::{Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel::{OptionalExtension, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::ids::MemberId;
use serde_json::json;
use uuid::Uuid;

use super::audit;
use super::enter::Who;
use super::role::Role;

/// A person as read.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct Member {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    /// How the person is called.
    #[diesel(sql_type = Text)]
    pub name: String,
    /// What is typed at sign-in.
    #[diesel(sql_type = Nullable<Text>)]
    pub login: Option<String>,
    #[diesel(sql_type = Text)]
    role: String,
    /// `active`, `pending` or `left`.
    #[diesel(sql_type = Text)]
    pub state: String,
    /// Raised by each change.
    #[diesel(sql_type = Integer)]
    pub version: i32,
    /// When the person was entered.
    #[diesel(sql_type = Timestamptz)]
    pub created_at: DateTime<Utc>,
}

impl Member {
    /// Whose row it is.
    #[must_use]
    pub fn id(&self) -> MemberId {
        MemberId::from_uuid(self.id)
    }

    /// The role; a word this program does not know has the fewest rights.
    #[must_use]
    pub fn role(&self) -> Role {
        Role::from_word(&self.role).unwrap_or(Role::Viewer)
    }
}

/// A person to enter, the password already hashed.
#[derive(Debug)]
pub struct NewMember {
    /// Made by whoever enters the person.
    pub id: MemberId,
    /// How the person is called.
    pub name: String,
    /// What will be typed at sign-in.
    pub login: Option<String>,
    /// What the person may do.
    pub role: Role,
    /// Absent for people who only use a phone.
    pub password_hash: Option<String>,
}

/// What became of a person to enter.
#[derive(Debug, PartialEq, Eq)]
pub enum Added {
    /// Entered now.
    New(Member),
    /// Was entered before, with the same content.
    Same(Member),
    /// The id was used for somebody else.
    IdReused,
}

/// Why a person is not entered or changed.
#[derive(Debug, thiserror::Error)]
pub enum MemberRefused {
    /// Somebody signs in by this already.
    #[error("this login is taken")]
    LoginTaken,
    /// Nobody could appoint the next.
    #[error("the last owner stays an owner")]
    LastOwner,
    /// Not of this operation, or not at all.
    #[error("there is no such member")]
    Unknown,
    /// Somebody changed the row since it was read.
    #[error("the member was changed in the meantime")]
    Changed,
    /// The database refused.
    #[error("the database refused")]
    Query(#[from] DieselError),
}

/// The people, in the order they came.
///
/// # Errors
/// When the database refuses.
pub async fn list(conn: &mut AsyncPgConnection) -> Result<Vec<Member>, DieselError> {
    diesel::sql_query("select * from member_list(null)").load(conn).await
}

/// One person.
///
/// # Errors
/// When the database refuses.
pub async fn find(conn: &mut AsyncPgConnection, id: MemberId) -> Result<Option<Member>, DieselError> {
    let one = diesel::sql_query("select * from member_list($1)").bind::<SqlUuid, _>(id.uuid());
    one.get_result(conn).await.optional()
}

#[derive(QueryableByName)]
struct Name {
    #[diesel(sql_type = Text)]
    name: String,
}

/// The name of the business.
///
/// # Errors
/// When the database refuses.
pub async fn operation_name(conn: &mut AsyncPgConnection) -> Result<String, DieselError> {
    Ok(diesel::sql_query("select operation_name() as name")
        .get_result::<Name>(conn)
        .await?
        .name)
}

/// Whether the business is made up, as that of the demo.
///
/// # Errors
/// When the database refuses.
pub async fn operation_invented(conn: &mut AsyncPgConnection) -> Result<bool, DieselError> {
    let answer = diesel::sql_query("select operation_invented() as yes");
    Ok(answer.get_result::<Answer>(conn).await?.yes)
}

#[derive(QueryableByName)]
struct Answer {
    #[diesel(sql_type = diesel::sql_types::Bool)]
    yes: bool,
}

/// Enters a person, once.
///
/// # Errors
/// When the login is taken or the database refuses.
pub async fn add(conn: &mut AsyncPgConnection, who: &Who, new: &NewMember) -> Result<Added, MemberRefused> {
    if let Some(there) = find(conn, new.id).await? {
        let same = there.name == new.name && there.login == new.login && there.role() == new.role;
        return Ok(if same { Added::Same(there) } else { Added::IdReused });
    }
    let insert = diesel::sql_query("select member_add($1, $2, $3, $4, $5)")
        .bind::<SqlUuid, _>(new.id.uuid())
        .bind::<Text, _>(&new.name)
        .bind::<Nullable<Text>, _>(&new.login)
        .bind::<Text, _>(new.role.word())
        .bind::<Nullable<Text>, _>(&new.password_hash);
    match insert.execute(conn).await {
        Err(DieselError::DatabaseError(DatabaseErrorKind::UniqueViolation, about))
            if about.constraint_name() == Some("member_login_key") =>
        {
            return Err(MemberRefused::LoginTaken);
        }
        other => other?,
    };
    audit::note(
        conn,
        who,
        "member-added",
        &json!({ "member.id": new.id, "role": new.role }),
    )
    .await?;
    find(conn, new.id).await?.map(Added::New).ok_or(MemberRefused::Unknown)
}

/// What to change of a person; absent stays.
#[derive(Debug, Clone, Default)]
pub struct MemberChange {
    /// The version that was read.
    pub version: i32,
    /// A new name.
    pub name: Option<String>,
    /// A new role.
    pub role: Option<Role>,
}

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = Integer)]
    count: i32,
}

/// Changes a person.
///
/// # Errors
/// When there is nobody, somebody was faster, or no owner would be left.
pub async fn change(
    conn: &mut AsyncPgConnection,
    who: &Who,
    id: MemberId,
    change: &MemberChange,
) -> Result<Member, MemberRefused> {
    let owners = diesel::sql_query("select member_owners() as count")
        .get_result::<Count>(conn)
        .await?
        .count;
    let before = find(conn, id).await?.ok_or(MemberRefused::Unknown)?;
    if before.version != change.version {
        return Err(MemberRefused::Changed);
    }
    let stops_owning = before.role() == Role::Owner && change.role.is_some_and(|role| role != Role::Owner);
    if stops_owning && before.state == "active" && owners <= 1 {
        return Err(MemberRefused::LastOwner);
    }
    diesel::sql_query("select member_change($1, $2, $3)")
        .bind::<SqlUuid, _>(id.uuid())
        .bind::<Nullable<Text>, _>(&change.name)
        .bind::<Nullable<Text>, _>(change.role.map(Role::word))
        .execute(conn)
        .await?;
    if let Some(role) = change.role.filter(|role| *role != before.role()) {
        let detail = json!({ "member.id": id, "from": before.role(), "to": role });
        audit::note(conn, who, "role-changed", &detail).await?;
    }
    find(conn, id).await?.ok_or(MemberRefused::Unknown)
}

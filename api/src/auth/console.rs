//! What only the keeper of the machine may do: found a business and make its first owner.
//!
//! The console works as the owner of the tables, with a connection of its own; the service's role could not.

use diesel::QueryableByName;
use diesel::sql_types::{Bool, Text, Uuid as SqlUuid};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};
use domain::ids::{MemberId, OperationId};

use super::password::{self, HashRefused, Hasher, PasswordRefused};
use crate::clock::{self, NoRandomness};
use crate::config::Secret;

/// A business and its first owner.
#[derive(Debug, Clone)]
pub struct NewOwner {
    /// What the business is called.
    pub business: String,
    /// How the owner is called.
    pub name: String,
    /// What the owner types at sign-in.
    pub login: String,
    /// The owner's password.
    pub password: Secret,
    /// The business is made up, as that of the demo.
    pub invented: bool,
}

/// Why no owner was made.
#[derive(Debug, thiserror::Error)]
pub enum OwnerRefused {
    /// The password breaks a rule.
    #[error(transparent)]
    Password(#[from] PasswordRefused),
    /// The login has other characters or another length.
    #[error("a login has 3 to 64 characters, none of them blank")]
    Login,
    /// A name is too long or empty.
    #[error("a name has 1 to 120 characters")]
    Name,
    /// Somebody signs in by this already.
    #[error("this login is taken")]
    LoginTaken,
    /// Nothing could be hashed.
    #[error(transparent)]
    Hash(#[from] HashRefused),
    /// The database refused.
    #[error("the database refused")]
    Query(#[from] diesel::result::Error),
}

/// Tidies a login: the form in which it is kept and compared. Nothing for what cannot be one.
#[must_use]
pub fn login_form(login: &str) -> Option<String> {
    let login = login.to_lowercase();
    let fits = (3..=64).contains(&login.chars().count()) && !login.chars().any(|c| c.is_whitespace() || c.is_control());
    fits.then_some(login)
}

/// Founds a business with its first owner.
///
/// # Errors
/// When a rule speaks against it or the login is taken.
pub async fn add_owner(
    conn: &mut AsyncPgConnection,
    hasher: &Hasher,
    owner: &NewOwner,
) -> Result<(OperationId, MemberId), OwnerRefused> {
    let ready = ready(hasher, owner).await?;
    conn.transaction(async |conn| insert(conn, owner, &ready).await).await
}

/// What is checked and hashed before the transaction.
struct Ready {
    login: String,
    hash: String,
}

async fn ready(hasher: &Hasher, owner: &NewOwner) -> Result<Ready, OwnerRefused> {
    let login = login_form(&owner.login).ok_or(OwnerRefused::Login)?;
    let fits = |name: &str| (1..=120).contains(&name.trim().chars().count());
    if !fits(&owner.business) || !fits(&owner.name) {
        return Err(OwnerRefused::Name);
    }
    password::acceptable(&owner.password, &[&owner.business, &owner.name, &login])?;
    Ok(Ready {
        login,
        hash: hasher.hash(&owner.password).await?,
    })
}

async fn insert(
    conn: &mut AsyncPgConnection,
    owner: &NewOwner,
    ready: &Ready,
) -> Result<(OperationId, MemberId), OwnerRefused> {
    use diesel::result::{DatabaseErrorKind, Error};
    let (operation, member) = (clock::new_operation_id(), MemberId::from_uuid(clock::new_id()));
    diesel::sql_query("insert into operation (id, name, invented) values ($1, $2, $3)")
        .bind::<SqlUuid, _>(operation.uuid())
        .bind::<Text, _>(owner.business.trim())
        .bind::<Bool, _>(owner.invented)
        .execute(conn)
        .await?;
    let add = diesel::sql_query(
        "insert into member (operation_id, id, name, login, role, password_hash, state) \
         values ($1, $2, $3, $4, 'owner', $5, 'active')",
    );
    let added = add
        .bind::<SqlUuid, _>(operation.uuid())
        .bind::<SqlUuid, _>(member.uuid())
        .bind::<Text, _>(owner.name.trim())
        .bind::<Text, _>(&ready.login)
        .bind::<Text, _>(&ready.hash)
        .execute(conn)
        .await;
    match added {
        Err(Error::DatabaseError(DatabaseErrorKind::UniqueViolation, _)) => {
            return Err(OwnerRefused::LoginTaken);
        }
        other => other?,
    };
    diesel::sql_query("select set_config('app.operation', $1, true)")
        .bind::<Text, _>(operation.to_string())
        .execute(conn)
        .await?;
    diesel::sql_query("insert into audit (operation_id, member_id, deed) values ($1, $2, 'owner-added')")
        .bind::<SqlUuid, _>(operation.uuid())
        .bind::<SqlUuid, _>(member.uuid())
        .execute(conn)
        .await?;
    Ok((operation, member))
}

#[derive(QueryableByName)]
struct Answer {
    #[diesel(sql_type = Bool)]
    yes: bool,
}

/// Founds a business with its first owner if nobody has founded one here yet; of several nodes, one does.
///
/// # Errors
/// As [`add_owner`].
pub async fn add_first_owner(
    conn: &mut AsyncPgConnection,
    hasher: &Hasher,
    owner: &NewOwner,
) -> Result<Option<(OperationId, MemberId)>, OwnerRefused> {
    if !is_empty(conn).await? {
        return Ok(None);
    }
    let ready = ready(hasher, owner).await?;
    conn.transaction(async |conn| {
        conn.batch_execute("lock table operation in exclusive mode").await?;
        if is_empty(conn).await? {
            insert(conn, owner, &ready).await.map(Some)
        } else {
            Ok(None)
        }
    })
    .await
}

async fn is_empty(conn: &mut AsyncPgConnection) -> Result<bool, diesel::result::Error> {
    let query = diesel::sql_query("select not exists (select from operation) as yes");
    Ok(query.get_result::<Answer>(conn).await?.yes)
}

/// A password that can be read out: six groups of two syllables, 72 bits.
///
/// # Errors
/// When the system has no randomness to give.
pub fn pass_phrase() -> Result<Secret, NoRandomness> {
    const STARTS: &[u8; 16] = b"bdfghjklmnprstvz";
    const VOWELS: &[u8; 4] = b"aeiu";
    let bytes: [u8; 12] = clock::random_bytes()?;
    let syllable = |byte: &u8| {
        [
            char::from(STARTS[usize::from(byte & 15)]),
            char::from(VOWELS[usize::from((byte >> 4) & 3)]),
        ]
    };
    let groups = bytes
        .chunks(2)
        .map(|pair| pair.iter().flat_map(syllable).collect::<String>());
    Ok(Secret::new(groups.collect::<Vec<_>>().join("-")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pass_phrase_is_good_enough_for_our_own_rules() {
        for _ in 0..50 {
            let phrase = pass_phrase().unwrap();
            assert_eq!(
                password::acceptable(&phrase, &["My bees", "owner"]),
                Ok(()),
                "{}",
                phrase.expose()
            );
        }
    }

    #[test]
    fn a_login_is_one_word_in_small_letters() {
        assert_eq!(login_form("Anna.L"), Some("anna.l".to_owned()));
        assert_eq!(login_form("an"), None);
        assert_eq!(login_form("an na"), None);
    }
}

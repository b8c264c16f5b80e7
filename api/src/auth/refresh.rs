//! Refresh tokens: one after the other, each good once, and a lost answer does no harm.
//!
//! Every token of a session follows from its salt and its number, so asking again with the token before gives the
//! same next one, however late. The current token is unused by construction: using it makes the next. Whatever is
//! older than that was copied, and ends the session.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use diesel::OptionalExtension;
use diesel::QueryableByName;
use diesel::sql_types::{Binary, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::ids::{DeviceId, MemberId, OperationId, SessionId};
use subtle::ConstantTimeEq;
use uuid::Uuid;

use super::fingerprint;
use super::keys::{Key, Keys, mac};
use super::role::Role;
use crate::config::Secret;

/// Bytes of a session's salt.
pub const SALT_BYTES: usize = 16;

/// A refresh token as it was sent: which session, which number, and the proof.
#[derive(Clone, PartialEq, Eq)]
pub struct Token {
    session: Uuid,
    generation: i32,
    proof: [u8; 32],
}

impl Token {
    fn make(key: &Key, session: SessionId, salt: &[u8], generation: i32) -> Self {
        let proof = mac(
            &key.refresh,
            &[session.uuid().as_bytes(), salt, &generation.to_be_bytes()],
        );
        Self {
            session: session.uuid(),
            generation,
            proof,
        }
    }

    /// Reads what was sent; nothing for what never was one.
    #[must_use]
    pub fn read(text: &Secret) -> Option<Self> {
        let bytes: [u8; 52] = URL_SAFE_NO_PAD.decode(text.expose()).ok()?.try_into().ok()?;
        let (session, rest) = bytes.split_first_chunk::<16>()?;
        let (generation, proof) = rest.split_first_chunk::<4>()?;
        Some(Self {
            session: Uuid::from_bytes(*session),
            generation: i32::from_be_bytes(*generation),
            proof: proof.try_into().ok()?,
        })
    }

    /// As it is sent.
    #[must_use]
    pub fn written(&self) -> Secret {
        let number = self.generation.to_be_bytes();
        Secret::new(URL_SAFE_NO_PAD.encode([self.session.as_bytes().as_slice(), &number, &self.proof].concat()))
    }

    /// Which session it claims to belong to.
    #[must_use]
    pub fn session(&self) -> SessionId {
        SessionId::from_uuid(self.session)
    }

    /// As it is kept.
    #[must_use]
    pub fn kept(&self) -> Vec<u8> {
        fingerprint(&self.proof)
    }
}

/// A session as the database keeps it.
#[derive(Debug, QueryableByName)]
pub struct Kept {
    #[diesel(sql_type = SqlUuid)]
    operation_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    member_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    device_id: Uuid,
    #[diesel(sql_type = Integer)]
    epoch: i32,
    #[diesel(sql_type = Text)]
    role: String,
    #[diesel(sql_type = Binary)]
    salt: Vec<u8>,
    #[diesel(sql_type = Integer)]
    generation: i32,
    #[diesel(sql_type = Binary)]
    current_hash: Vec<u8>,
    #[diesel(sql_type = Nullable<Binary>)]
    previous_hash: Option<Vec<u8>>,
    #[diesel(sql_type = Binary)]
    device_secret_hash: Vec<u8>,
}

/// What to do with a refresh token.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Verdict {
    /// It is the current one: make the next.
    Rotate,
    /// It is the one before, from its own device: the answer was lost, give the same again.
    Repeat,
    /// It was used up long ago, or comes from elsewhere: somebody has a copy.
    Stolen,
    /// It was never one of this session's, or the device secret is wrong.
    Unknown,
}

fn judge(keys: &Keys, kept: &Kept, token: &Token, device_secret: &Secret) -> Verdict {
    let hash = token.kept();
    let same = |kept: &[u8]| bool::from(kept.ct_eq(&hash));
    let from_its_device = bool::from(
        kept.device_secret_hash
            .ct_eq(&fingerprint(device_secret.expose().as_bytes())),
    );
    if same(&kept.current_hash) {
        return if from_its_device {
            Verdict::Rotate
        } else {
            Verdict::Unknown
        };
    }
    if kept.previous_hash.as_deref().is_some_and(same) {
        return if from_its_device {
            Verdict::Repeat
        } else {
            Verdict::Stolen
        };
    }
    let older = (1..kept.generation).contains(&token.generation)
        && keys.all().any(|key| {
            let was = Token::make(key, token.session(), &kept.salt, token.generation);
            bool::from(was.proof.ct_eq(&token.proof))
        });
    if older { Verdict::Stolen } else { Verdict::Unknown }
}

/// The first token of a new session.
#[must_use]
pub fn first(keys: &Keys, session: SessionId, salt: &[u8; SALT_BYTES]) -> Token {
    Token::make(keys.signing(), session, salt, 1)
}

/// What a good refresh gives.
#[derive(Debug)]
pub struct Refreshed {
    /// The refresh token to keep from now on.
    pub token: Secret,
    /// The session.
    pub session: SessionId,
    /// Its member's epoch.
    pub epoch: i32,
    /// The business.
    pub operation: OperationId,
    /// The person.
    pub member: MemberId,
    /// The device.
    pub device: DeviceId,
    /// The person's role as of now.
    pub role: Role,
}

/// Takes a refresh token and moves its session on. Nothing: it is not good (any more). What must be remembered of
/// a bad one is written in the same transaction, which therefore has to commit.
///
/// # Errors
/// When the database refuses.
pub async fn refresh(
    conn: &mut AsyncPgConnection,
    keys: &Keys,
    token: &Token,
    device_secret: &Secret,
) -> Result<Option<Refreshed>, diesel::result::Error> {
    let sid = token.session().uuid();
    let find = diesel::sql_query("select * from session_find($1)").bind::<SqlUuid, _>(sid);
    let Some(kept) = find.get_result::<Kept>(conn).await.optional()? else {
        return Ok(None);
    };
    let next = match judge(keys, &kept, token, device_secret) {
        Verdict::Rotate => {
            let next = Token::make(keys.signing(), token.session(), &kept.salt, kept.generation + 1);
            replace(conn, "select session_rotate($1, $2)", &next).await?;
            Some(next)
        }
        Verdict::Repeat => Some(again(conn, keys, &kept, token.session()).await?),
        Verdict::Stolen => {
            end(conn, token.session(), "session-stolen").await?;
            None
        }
        Verdict::Unknown => None,
    };
    Ok(next.and_then(|next| refreshed(&kept, &next)))
}

/// The token whose answer was lost. The key may have been replaced since: the one whose token is the one we keep
/// made it; if that key is gone, the token that never arrived is replaced.
async fn again(
    conn: &mut AsyncPgConnection,
    keys: &Keys,
    kept: &Kept,
    session: SessionId,
) -> Result<Token, diesel::result::Error> {
    let mut made = keys
        .all()
        .map(|key| Token::make(key, session, &kept.salt, kept.generation));
    if let Some(same) = made.find(|made| bool::from(made.kept().ct_eq(&kept.current_hash))) {
        return Ok(same);
    }
    let new = Token::make(keys.signing(), session, &kept.salt, kept.generation);
    replace(conn, "select session_reissue($1, $2)", &new).await?;
    Ok(new)
}

async fn replace(conn: &mut AsyncPgConnection, statement: &str, token: &Token) -> Result<(), diesel::result::Error> {
    let replace = diesel::sql_query(statement).bind::<SqlUuid, _>(token.session);
    replace.bind::<Binary, _>(token.kept()).execute(conn).await?;
    Ok(())
}

fn refreshed(kept: &Kept, next: &Token) -> Option<Refreshed> {
    Some(Refreshed {
        token: next.written(),
        session: next.session(),
        epoch: kept.epoch,
        operation: OperationId::from_uuid(kept.operation_id),
        member: MemberId::from_uuid(kept.member_id),
        device: DeviceId::from_uuid(kept.device_id),
        role: Role::from_word(&kept.role)?,
    })
}

/// Ends a session and says why in the books.
///
/// # Errors
/// When the database refuses.
pub async fn end(conn: &mut AsyncPgConnection, session: SessionId, deed: &str) -> Result<(), diesel::result::Error> {
    let end = diesel::sql_query("select session_end($1, $2)");
    end.bind::<SqlUuid, _>(session.uuid())
        .bind::<Text, _>(deed)
        .execute(conn)
        .await?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const SALT: [u8; SALT_BYTES] = [9; SALT_BYTES];

    fn session() -> SessionId {
        SessionId::from_uuid(Uuid::from_u128(5))
    }

    fn token(keys: &Keys, generation: i32) -> Token {
        Token::make(keys.signing(), session(), &SALT, generation)
    }

    fn kept(keys: &Keys, generation: i32) -> Kept {
        let id = Uuid::nil();
        Kept {
            operation_id: id,
            member_id: id,
            device_id: id,
            epoch: 1,
            role: "field".to_owned(),
            salt: SALT.to_vec(),
            generation,
            current_hash: token(keys, generation).kept(),
            previous_hash: (generation > 1).then(|| token(keys, generation - 1).kept()),
            device_secret_hash: fingerprint(b"secret"),
        }
    }

    fn judged(keys: &Keys, kept: &Kept, generation: i32, secret: &str) -> Verdict {
        judge(keys, kept, &token(keys, generation), &Secret::new(secret))
    }

    #[test]
    fn current_rotates_previous_repeats_older_is_theft() {
        let keys = Keys::for_tests(&[1]);
        let kept = kept(&keys, 4);
        assert_eq!(judged(&keys, &kept, 4, "secret"), Verdict::Rotate);
        assert_eq!(judged(&keys, &kept, 3, "secret"), Verdict::Repeat);
        assert_eq!(judged(&keys, &kept, 2, "secret"), Verdict::Stolen);
        assert_eq!(judged(&keys, &kept, 1, "secret"), Verdict::Stolen);
        assert_eq!(judged(&keys, &kept, 5, "secret"), Verdict::Unknown);
    }

    #[test]
    fn without_the_device_secret_nothing_is_given() {
        let keys = Keys::for_tests(&[1]);
        let kept = kept(&keys, 4);
        assert_eq!(judged(&keys, &kept, 4, "other"), Verdict::Unknown);
        assert_eq!(judged(&keys, &kept, 3, "other"), Verdict::Stolen);
    }

    #[test]
    fn knowing_the_session_does_not_let_a_stranger_end_it() {
        let keys = Keys::for_tests(&[1]);
        let forged = Token {
            session: session().uuid(),
            generation: 2,
            proof: [0; 32],
        };
        assert_eq!(
            judge(&keys, &kept(&keys, 4), &forged, &Secret::new("secret")),
            Verdict::Unknown
        );
    }

    #[test]
    fn the_next_token_is_always_the_same_and_differs_by_session() {
        let keys = Keys::for_tests(&[1]);
        assert!(token(&keys, 5) == token(&keys, 5));
        let other = Token::make(keys.signing(), SessionId::from_uuid(Uuid::from_u128(6)), &SALT, 5);
        assert!(token(&keys, 5).proof != other.proof);
    }

    #[test]
    fn theft_is_seen_after_the_key_was_replaced() {
        let old = Keys::for_tests(&[1]);
        let both = Keys::for_tests(&[2, 1]);
        assert_eq!(
            judge(&both, &kept(&old, 4), &token(&old, 1), &Secret::new("secret")),
            Verdict::Stolen
        );
    }

    #[test]
    fn a_token_is_read_as_it_was_written() {
        let keys = Keys::for_tests(&[1]);
        assert!(Token::read(&token(&keys, 3).written()) == Some(token(&keys, 3)));
        assert!(Token::read(&Secret::new("AAAA")).is_none());
        assert!(Token::read(&Secret::new("not base64 !")).is_none());
    }
}

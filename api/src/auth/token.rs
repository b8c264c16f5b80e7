//! Access tokens: JWT, HS256 and nothing else, a quarter of an hour. They say which session, never which role.
//!
//! The JWT library is built without a cryptography backend, since the one in Rust brings an RSA implementation
//! with an open advisory; the one algorithm we accept is provided here.

use std::sync::Once;

use chrono::{DateTime, Utc};
use domain::ids::{MemberId, SessionId};
use jsonwebtoken::crypto::{CryptoProvider, JwtSigner, JwtVerifier, KeyUtils};
use jsonwebtoken::errors::{Error, ErrorKind};
use jsonwebtoken::signature::{self, Signer, Verifier};
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use serde::{Deserialize, Serialize};
use subtle::ConstantTimeEq;

use super::keys::{KEY_BYTES, Keys, mac};

/// How long an access token is good.
pub const LIFETIME_S: i64 = 15 * 60;
/// How far clocks of several nodes may differ.
const LEEWAY_S: i64 = 5;
/// Longer than any token of ours.
const LONGEST: usize = 1024;

const ISSUER: &str = "yardjar";
const AUDIENCE: &str = "yardjar-api";
const TYPE: &str = "at+jwt";

/// What an access token says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Claims {
    iss: String,
    aud: String,
    /// The member.
    pub sub: MemberId,
    /// The session.
    pub sid: SessionId,
    /// The member's epoch.
    pub ep: i32,
    iat: i64,
    exp: i64,
}

/// Why a token is not taken. The holder is told no more than this.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum TokenRefused {
    /// It was good once: refresh.
    #[error("the access token has expired")]
    Expired,
    /// It was never good.
    #[error("the access token is not valid")]
    Invalid,
}

/// Makes a token.
///
/// # Errors
/// When the claims cannot be written, which does not happen.
pub fn issue(
    keys: &Keys,
    member: MemberId,
    session: SessionId,
    epoch: i32,
    now: DateTime<Utc>,
) -> Result<String, Error> {
    install();
    let key = keys.signing();
    let mut header = Header::new(Algorithm::HS256);
    header.typ = Some(TYPE.to_owned());
    header.kid = Some(key.kid.clone());
    let iat = now.timestamp();
    let claims = Claims {
        iss: ISSUER.to_owned(),
        aud: AUDIENCE.to_owned(),
        sub: member,
        sid: session,
        ep: epoch,
        iat,
        exp: iat + LIFETIME_S,
    };
    jsonwebtoken::encode(&header, &claims, &EncodingKey::from_secret(&key.access))
}

/// Checks a token without the database.
///
/// # Errors
/// When it is not ours, or has expired.
pub fn check(keys: &Keys, token: &str, now: DateTime<Utc>) -> Result<Claims, TokenRefused> {
    install();
    if token.len() > LONGEST {
        return Err(TokenRefused::Invalid);
    }
    let header = jsonwebtoken::decode_header(token).map_err(|_| TokenRefused::Invalid)?;
    if header.typ.as_deref() != Some(TYPE) || header.alg != Algorithm::HS256 {
        return Err(TokenRefused::Invalid);
    }
    let key = header
        .kid
        .as_deref()
        .and_then(|kid| keys.named(kid))
        .ok_or(TokenRefused::Invalid)?;
    let decoded = jsonwebtoken::decode::<Claims>(token, &DecodingKey::from_secret(&key.access), &validation());
    let claims = decoded.map_err(|_| TokenRefused::Invalid)?.claims;
    let now = now.timestamp();
    if claims.iat > now + LEEWAY_S || claims.exp - claims.iat != LIFETIME_S {
        return Err(TokenRefused::Invalid);
    }
    if claims.exp + LEEWAY_S < now {
        Err(TokenRefused::Expired)
    } else {
        Ok(claims)
    }
}

/// All claims are required by [`Claims`] itself. The time is checked above, against a clock that tests can set.
fn validation() -> Validation {
    let mut validation = Validation::new(Algorithm::HS256);
    validation.set_issuer(&[ISSUER]);
    validation.set_audience(&[AUDIENCE]);
    validation.set_required_spec_claims(&["iss", "aud", "sub", "exp"]);
    validation.validate_exp = false;
    validation
}

static PROVIDER: CryptoProvider = CryptoProvider {
    signer_factory: |algorithm, key| Ok(Box::new(Hs256::new(*algorithm, key.as_bytes())?) as Box<dyn JwtSigner>),
    verifier_factory: |algorithm, key| {
        Ok(Box::new(Hs256::new(*algorithm, key.try_get_as_bytes()?)?) as Box<dyn JwtVerifier>)
    },
    key_utils: KeyUtils::new_unimplemented(),
};

fn install() {
    static ONCE: Once = Once::new();
    // Fails only if somebody else installed one, in which case theirs is used and every test of ours says so.
    ONCE.call_once(|| {
        let _ = PROVIDER.install_default();
    });
}

struct Hs256([u8; KEY_BYTES]);

impl Hs256 {
    fn new(algorithm: Algorithm, key: &[u8]) -> Result<Self, Error> {
        if algorithm != Algorithm::HS256 {
            return Err(ErrorKind::InvalidAlgorithm.into());
        }
        key.try_into().map(Self).map_err(|_| ErrorKind::InvalidKeyFormat.into())
    }
}

impl Signer<Vec<u8>> for Hs256 {
    fn try_sign(&self, message: &[u8]) -> Result<Vec<u8>, signature::Error> {
        Ok(mac(&self.0, &[message]).to_vec())
    }
}

impl Verifier<Vec<u8>> for Hs256 {
    fn verify(&self, message: &[u8], signature: &Vec<u8>) -> Result<(), signature::Error> {
        let good = mac(&self.0, &[message]).ct_eq(signature.as_slice());
        if bool::from(good) {
            Ok(())
        } else {
            Err(signature::Error::new())
        }
    }
}

impl JwtSigner for Hs256 {
    fn algorithm(&self) -> Algorithm {
        Algorithm::HS256
    }
}

impl JwtVerifier for Hs256 {
    fn algorithm(&self) -> Algorithm {
        Algorithm::HS256
    }
}

#[cfg(test)]
mod tests {
    use base64::Engine;
    use base64::engine::general_purpose::URL_SAFE_NO_PAD;
    use chrono::TimeDelta;
    use serde_json::{Value, json};
    use uuid::Uuid;

    use super::*;

    fn ids() -> (MemberId, SessionId) {
        (
            MemberId::from_uuid(Uuid::from_u128(1)),
            SessionId::from_uuid(Uuid::from_u128(2)),
        )
    }

    fn start() -> DateTime<Utc> {
        DateTime::from_timestamp(1_750_000_000, 0).unwrap()
    }

    fn forged(keys: &Keys, header: &Value, claims: &Value) -> String {
        let part = |value: &Value| URL_SAFE_NO_PAD.encode(value.to_string());
        let message = format!("{}.{}", part(header), part(claims));
        let signature = URL_SAFE_NO_PAD.encode(mac(&keys.signing().access, &[message.as_bytes()]));
        format!("{message}.{signature}")
    }

    fn good_header() -> Value {
        json!({ "alg": "HS256", "typ": "at+jwt", "kid": "k1" })
    }

    fn good_claims() -> Value {
        let (member, session) = ids();
        let iat = start().timestamp();
        json!({ "iss": "yardjar", "aud": "yardjar-api", "sub": member, "sid": session, "ep": 1, "iat": iat,
                "exp": iat + LIFETIME_S })
    }

    #[test]
    fn a_token_is_good_for_a_quarter_of_an_hour_and_five_seconds() {
        let keys = Keys::for_tests(&[1]);
        let (member, session) = ids();
        let token = issue(&keys, member, session, 7, start()).unwrap();
        let claims = check(&keys, &token, start()).unwrap();
        assert_eq!((claims.sub, claims.sid, claims.ep), (member, session, 7));
        assert!(check(&keys, &token, start() + TimeDelta::seconds(LIFETIME_S + 5)).is_ok());
        let late = start() + TimeDelta::seconds(LIFETIME_S + 6);
        assert_eq!(check(&keys, &token, late), Err(TokenRefused::Expired));
        assert_eq!(
            check(&keys, &token, start() - TimeDelta::seconds(6)),
            Err(TokenRefused::Invalid)
        );
    }

    #[test]
    fn the_old_key_still_checks_after_a_rotation() {
        let (member, session) = ids();
        let token = issue(&Keys::for_tests(&[1]), member, session, 1, start()).unwrap();
        assert!(check(&Keys::for_tests(&[2, 1]), &token, start()).is_ok());
        assert_eq!(
            check(&Keys::for_tests(&[2]), &token, start()),
            Err(TokenRefused::Invalid)
        );
    }

    #[test]
    fn the_forger_of_the_tests_makes_good_tokens() {
        let keys = Keys::for_tests(&[1]);
        assert!(check(&keys, &forged(&keys, &good_header(), &good_claims()), start()).is_ok());
    }

    #[test]
    fn every_claim_is_required() {
        let keys = Keys::for_tests(&[1]);
        for claim in ["iss", "aud", "sub", "sid", "ep", "iat", "exp"] {
            let mut claims = good_claims();
            claims.as_object_mut().unwrap().remove(claim);
            let refused = check(&keys, &forged(&keys, &good_header(), &claims), start());
            assert_eq!(refused, Err(TokenRefused::Invalid), "{claim}");
        }
    }

    #[test]
    fn other_headers_and_claims_are_refused() {
        let keys = Keys::for_tests(&[1]);
        for (name, value) in [
            ("typ", "JWT"),
            ("alg", "none"),
            ("alg", "HS512"),
            ("alg", "RS256"),
            ("kid", "k9"),
        ] {
            let mut header = good_header();
            header[name] = json!(value);
            let refused = check(&keys, &forged(&keys, &header, &good_claims()), start());
            assert_eq!(refused, Err(TokenRefused::Invalid), "{name} {value}");
        }
        for (name, value) in [
            ("iss", json!("other")),
            ("aud", json!("other")),
            ("exp", json!(i64::MAX / 2)),
        ] {
            let mut claims = good_claims();
            claims[name] = value;
            let refused = check(&keys, &forged(&keys, &good_header(), &claims), start());
            assert_eq!(refused, Err(TokenRefused::Invalid), "{name}");
        }
    }

    #[test]
    fn a_flipped_bit_is_seen() {
        let keys = Keys::for_tests(&[1]);
        let (member, session) = ids();
        let token = issue(&keys, member, session, 1, start()).unwrap();
        for at in (0..token.len()).step_by(7) {
            let mut bytes = token.clone().into_bytes();
            bytes[at] = if bytes[at] == b'A' { b'B' } else { b'A' };
            let changed = String::from_utf8(bytes).unwrap();
            if changed != token {
                assert!(check(&keys, &changed, start()).is_err(), "{at}");
            }
        }
        assert!(check(&keys, "", start()).is_err());
        assert!(check(&keys, &"a.".repeat(4000), start()).is_err());
    }
}

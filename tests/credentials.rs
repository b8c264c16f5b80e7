//! Access tokens that must not be taken, made with the service's own key where that is what makes them dangerous.

use anyhow::{Context, Result};
use api::auth::keys::Keys;
use api::auth::token;
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chrono::{TimeDelta, Utc};
use hmac::{Hmac, Mac};
use serde_json::{Value, json};
use sha2::Sha256;

use crate::service::Service;

/// What is wrong with a token that is right in everything else.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Forgery {
    /// It was good an hour ago.
    Expired,
    /// It names our key and is signed by another.
    OtherKey,
    /// It says that it is not signed.
    AlgNone,
    /// It is signed by our key and is another kind of token.
    OtherType,
}

/// Spoils a good access token of this service.
///
/// # Errors
/// When the token does not read or the key cannot be had.
pub fn forge(service: &Service, good: &str, forgery: Forgery) -> Result<String> {
    let mut parts = good.split('.');
    let mut part = || parts.next().context("not a token");
    let (header, claims) = (decoded(part()?)?, decoded(part()?)?);
    let file = std::fs::read_to_string(&service.config.token_key_file)?;
    let (_, key) = file.trim().split_once(' ').context("not a key file")?;
    let ours = access_key(&URL_SAFE_NO_PAD.decode(key)?)?;
    match forgery {
        Forgery::Expired => {
            let keys = Keys::load(&service.config.token_key_file)?;
            let long_ago = Utc::now() - TimeDelta::hours(1);
            let id = |name: &str| serde_json::from_value(claims[name].clone());
            let epoch = serde_json::from_value(claims["ep"].clone())?;
            let session = serde_json::from_value(claims["sid"].clone())?;
            Ok(token::issue(&keys, id("sub")?, session, epoch, long_ago)?)
        }
        Forgery::OtherKey => sealed(&header, &claims, &access_key(&[7; 32])?),
        Forgery::AlgNone => {
            let mut header = header;
            header["alg"] = json!("none");
            Ok(format!("{}.{}.", encoded(&header), encoded(&claims)))
        }
        Forgery::OtherType => {
            let mut header = header;
            header["typ"] = json!("JWT");
            sealed(&header, &claims, &ours)
        }
    }
}

/// As the service derives it, so that only the named fault is one.
fn access_key(key: &[u8]) -> Result<Vec<u8>> {
    mac(key, "yardjar access token")
}

fn sealed(header: &Value, claims: &Value, key: &[u8]) -> Result<String> {
    let signed = format!("{}.{}", encoded(header), encoded(claims));
    let seal = URL_SAFE_NO_PAD.encode(mac(key, &signed)?);
    Ok(format!("{signed}.{seal}"))
}

fn mac(key: &[u8], text: &str) -> Result<Vec<u8>> {
    let mut mac = Hmac::<Sha256>::new_from_slice(key)?;
    mac.update(text.as_bytes());
    Ok(mac.finalize().into_bytes().to_vec())
}

fn decoded(part: &str) -> Result<Value> {
    Ok(serde_json::from_slice(&URL_SAFE_NO_PAD.decode(part)?)?)
}

fn encoded(part: &Value) -> String {
    URL_SAFE_NO_PAD.encode(part.to_string())
}

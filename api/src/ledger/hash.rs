//! The hash of an entry and the chain of the ledger.
//!
//! What is hashed is the canonical form (RFC 8785) of the whole entry as sent, its salt included, so that white
//! space and the order of fields do not matter and a blanked entry gives nothing away.

use serde_json::Value;
use sha2::{Digest, Sha256};
use uuid::Uuid;

/// A SHA-256.
pub(crate) type Hash = [u8; 32];

/// The hash of an entry as sent.
///
/// # Errors
/// When it is not JSON with a canonical form, as with half a surrogate pair or a number beyond all bounds.
pub(crate) fn content_hash(body: &str) -> Result<Hash, serde_json::Error> {
    let value: Value = serde_json::from_str(body)?;
    let canonical = serde_json_canonicalizer::to_vec(&value)?;
    Ok(Sha256::digest(canonical).into())
}

/// The chain before the first entry.
pub(crate) fn chain_begin(operation: Uuid) -> Hash {
    Sha256::digest(operation.as_bytes()).into()
}

/// The chain after one more entry.
pub(crate) fn chain_on(before: &Hash, id: Uuid, content_hash: &Hash) -> Hash {
    let mut hash = Sha256::new();
    hash.update(before);
    hash.update(id.as_bytes());
    hash.update(content_hash);
    hash.finalize().into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn white_space_order_and_escapes_do_not_matter() {
        let plain = content_hash(r#"{"a":1,"b":{"c":"ä","d":[1.5,true]}}"#).unwrap();
        let other = content_hash("{ \"b\" : {\"d\":[1.50, true], \"c\":\"\\u00e4\"},\n\"a\":1.0}");
        assert_eq!(plain, other.unwrap());
        assert_ne!(plain, content_hash(r#"{"a":2}"#).unwrap());
    }

    #[test]
    fn the_canonical_form_is_that_of_the_standard() {
        // SHA-256 of the 15 bytes {"a":1,"b":"x"}.
        let expected: Hash = Sha256::digest(br#"{"a":1,"b":"x"}"#).into();
        assert_eq!(content_hash(r#"{ "b": "x", "a": 1e0 }"#).unwrap(), expected);
    }

    #[test]
    fn what_has_no_canonical_form_is_refused() {
        assert!(content_hash(r#"{"a":"\ud800"}"#).is_err());
        assert!(content_hash(r#"{"a":1e999}"#).is_err());
        assert!(content_hash("{").is_err());
    }

    #[test]
    fn the_chain_depends_on_everything_before() {
        let (a, b) = (Uuid::from_u128(1), Uuid::from_u128(2));
        let begin = chain_begin(a);
        let content = content_hash("{}").unwrap();
        let on = chain_on(&begin, b, &content);
        assert_ne!(on, chain_on(&chain_begin(b), b, &content));
        assert_ne!(on, chain_on(&begin, a, &content));
    }
}

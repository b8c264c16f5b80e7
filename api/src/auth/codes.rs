//! Enrolment codes: what the office reads out or shows, and a phone types or scans, once.
//!
//! Four characters find a code, ten prove it. The QR code carries the same four and a longer proof. The alphabet
//! leaves out the characters that look like another one on paper.

use super::fingerprint;
use crate::clock::{self, NoRandomness};
use crate::config::Secret;

/// Thirty-two characters, so that a random byte picks one without favour.
const ALPHABET: &[u8; 32] = b"23456789ABCDEFGHJKLMNPQRSTUVWXYZ";
const LOOKUP: usize = 4;
const TYPED: usize = 10;
const SCANNED: usize = 26;
/// What a QR code begins with, so that a camera knows whose it is.
const QR_PREFIX: &str = "YARDJAR:";

/// How long a code is good, in minutes.
pub const LIFETIME_MIN: i64 = 10;

/// A code just made; shown once and never kept as it is.
pub struct NewCode {
    /// The characters that find it.
    pub lookup: String,
    /// The characters that prove it, when typed.
    pub typed: Secret,
    scanned: String,
}

impl NewCode {
    /// Makes one.
    ///
    /// # Errors
    /// When the system has no randomness to give.
    pub fn make() -> Result<Self, NoRandomness> {
        Ok(Self {
            lookup: characters::<LOOKUP>()?,
            typed: Secret::new(characters::<TYPED>()?),
            scanned: characters::<SCANNED>()?,
        })
    }

    /// As a person reads it: groups that can be read out.
    #[must_use]
    pub fn for_people(&self) -> String {
        let (first, second) = self.typed.expose().split_at(TYPED / 2);
        format!("{}-{first}-{second}", self.lookup)
    }

    /// As a camera reads it.
    #[must_use]
    pub fn for_cameras(&self) -> String {
        format!("{QR_PREFIX}{}{}", self.lookup, self.scanned)
    }

    /// The longer proof as it is kept; it has too many possibilities to need a slow hash.
    #[must_use]
    pub fn scanned_kept(&self) -> Vec<u8> {
        fingerprint(self.scanned.as_bytes())
    }
}

fn characters<const N: usize>() -> Result<String, NoRandomness> {
    let bytes: [u8; N] = clock::random_bytes()?;
    Ok(bytes
        .iter()
        .map(|byte| char::from(ALPHABET[usize::from(byte % 32)]))
        .collect())
}

/// A code as somebody gave it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GivenCode {
    /// Typed by hand.
    Typed {
        /// The characters that find it.
        lookup: String,
        /// The characters that prove it.
        proof: Secret,
    },
    /// Scanned by a camera.
    Scanned {
        /// The characters that find it.
        lookup: String,
        /// The fingerprint of the longer proof.
        proof: Vec<u8>,
    },
}

impl GivenCode {
    /// Reads a code; spaces, dashes and small letters are forgiven. Nothing for what cannot be one.
    #[must_use]
    pub fn read(text: &Secret) -> Option<Self> {
        let text = text.expose().trim();
        let text = text
            .get(..QR_PREFIX.len())
            .filter(|start| start.eq_ignore_ascii_case(QR_PREFIX))
            .map_or(text, |start| &text[start.len()..]);
        let kept: String = text
            .chars()
            .filter(|c| !c.is_whitespace() && *c != '-')
            .map(|c| c.to_ascii_uppercase())
            .collect();
        if !kept.bytes().all(|byte| ALPHABET.contains(&byte)) {
            return None;
        }
        let (lookup, proof) = kept.split_at_checked(LOOKUP)?;
        let lookup = lookup.to_owned();
        match proof.len() {
            TYPED => Some(Self::Typed {
                lookup,
                proof: Secret::new(proof),
            }),
            SCANNED => Some(Self::Scanned {
                lookup,
                proof: fingerprint(proof.as_bytes()),
            }),
            _ => None,
        }
    }

    /// The characters that find it.
    #[must_use]
    pub fn lookup(&self) -> &str {
        match self {
            Self::Typed { lookup, .. } | Self::Scanned { lookup, .. } => lookup,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_read_out_is_what_was_made() {
        let code = NewCode::make().unwrap();
        let expected = GivenCode::Typed {
            lookup: code.lookup.clone(),
            proof: code.typed.clone(),
        };
        for form in [
            code.for_people(),
            code.for_people().to_lowercase(),
            code.for_people().replace('-', "  "),
        ] {
            assert_eq!(GivenCode::read(&Secret::new(form)), Some(expected.clone()));
        }
    }

    #[test]
    fn what_is_scanned_is_what_was_made() {
        let code = NewCode::make().unwrap();
        let expected = GivenCode::Scanned {
            lookup: code.lookup.clone(),
            proof: code.scanned_kept(),
        };
        assert_eq!(GivenCode::read(&Secret::new(code.for_cameras())), Some(expected));
    }

    #[test]
    fn nonsense_is_no_code() {
        for text in [
            "",
            "YARDJAR:",
            "ABCD",
            "ABCD-EFGHJ-KLMN",
            "ABCD-EFGHJ-KLMN0",
            "ABCD-EFGHJ-KLMNO",
            "ÄBCD-EFGHJ-KLMNP",
        ] {
            assert_eq!(GivenCode::read(&Secret::new(text)), None, "{text}");
        }
    }

    #[test]
    fn ten_characters_are_fifty_bits_and_no_two_look_alike() {
        assert!(ALPHABET.iter().collect::<std::collections::HashSet<_>>().len() == 32);
        for alike in b"01OI" {
            assert!(!ALPHABET.contains(alike));
        }
    }
}

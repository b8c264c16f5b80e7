//! Where a reader is: an opaque text with a check, so that a ledger that forgot something is noticed.

use std::fmt::{self, Display, Formatter};
use std::str::FromStr;

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use uuid::Uuid;

use super::hash::Hash;

/// The form of a cursor that holds everything up to its number.
const WHOLE: u8 = 1;
/// The form of a cursor between two pages.
const BETWEEN: u8 = 2;

/// Where a reader is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cursor {
    /// The newest number the reader knows to exist.
    pub seq: i64,
    /// The first bytes of the chain at that number.
    pub check: [u8; 8],
    /// The last row of a page, if more rows follow; without it everything up to `seq` was read.
    pub after: Option<Position>,
}

/// A row among those in the order of their change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Position {
    /// Its changed_seq.
    pub seq: i64,
    /// Its kind.
    pub kind: String,
    /// Its id.
    pub id: Uuid,
}

/// The text is none of our cursors.
#[derive(Debug, thiserror::Error)]
#[error("this is not a cursor")]
pub struct NotACursor;

impl Cursor {
    /// A reader that holds everything up to a number.
    pub(crate) fn whole(seq: i64, chain: &Hash) -> Self {
        Self {
            seq,
            check: check(chain),
            after: None,
        }
    }

    /// The number up to which everything was read for certain; rows at that number may be missing yet.
    pub(crate) fn read_to(&self) -> i64 {
        self.after.as_ref().map_or(self.seq, |position| position.seq)
    }

    /// Whether the ledger with this chain at the cursor's number is the one the cursor came from.
    pub(crate) fn matches(&self, chain: &[u8]) -> bool {
        chain.starts_with(&self.check)
    }
}

fn check(chain: &Hash) -> [u8; 8] {
    let mut check = [0; 8];
    check.copy_from_slice(&chain[..8]);
    check
}

impl Display for Cursor {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let mut bytes = Vec::with_capacity(64);
        bytes.push(if self.after.is_some() { BETWEEN } else { WHOLE });
        bytes.extend(self.seq.to_be_bytes());
        bytes.extend(self.check);
        if let Some(position) = &self.after {
            bytes.extend(position.seq.to_be_bytes());
            bytes.extend(position.id.as_bytes());
            bytes.extend(position.kind.as_bytes());
        }
        f.write_str(&URL_SAFE_NO_PAD.encode(bytes))
    }
}

impl FromStr for Cursor {
    type Err = NotACursor;

    fn from_str(text: &str) -> Result<Self, NotACursor> {
        let bytes = URL_SAFE_NO_PAD.decode(text).map_err(|_| NotACursor)?;
        let (&form, rest) = bytes.split_first().ok_or(NotACursor)?;
        let (seq, rest) = number(rest)?;
        let (check, rest) = rest.split_first_chunk::<8>().ok_or(NotACursor)?;
        let after = match (form, rest.is_empty()) {
            (WHOLE, true) => None,
            (BETWEEN, false) => Some(position(rest)?),
            _ => return Err(NotACursor),
        };
        Ok(Self {
            seq,
            check: *check,
            after,
        })
    }
}

fn number(bytes: &[u8]) -> Result<(i64, &[u8]), NotACursor> {
    let (number, rest) = bytes.split_first_chunk::<8>().ok_or(NotACursor)?;
    let number = i64::from_be_bytes(*number);
    if number < 0 {
        Err(NotACursor)
    } else {
        Ok((number, rest))
    }
}

fn position(bytes: &[u8]) -> Result<Position, NotACursor> {
    let (seq, rest) = number(bytes)?;
    let (id, kind) = rest.split_first_chunk::<16>().ok_or(NotACursor)?;
    let kind = std::str::from_utf8(kind).map_err(|_| NotACursor)?;
    // The kind goes into a query, where a NUL would be an error of ours.
    let plain = |b: u8| b.is_ascii_lowercase() || b == b'_';
    if kind.is_empty() || !kind.bytes().all(plain) {
        return Err(NotACursor);
    }
    Ok(Position {
        seq,
        kind: kind.to_owned(),
        id: Uuid::from_bytes(*id),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cursor_comes_back_as_it_was() {
        let whole = Cursor::whole(17, &[7; 32]);
        assert_eq!(whole.to_string().parse::<Cursor>().unwrap(), whole);
        assert_eq!(whole.read_to(), 17);
        let position = Position {
            seq: 12,
            kind: "super".to_owned(),
            id: Uuid::from_u128(9),
        };
        let between = Cursor {
            after: Some(position),
            ..whole
        };
        assert_eq!(between.to_string().parse::<Cursor>().unwrap(), between);
        assert_eq!(between.read_to(), 12);
    }

    #[test]
    fn nothing_else_is_a_cursor() {
        let mut texts = vec![
            String::new(),
            "AQ".to_owned(),
            "ä".to_owned(),
            "Zm9vYmFyYmF6".to_owned(),
        ];
        let whole = Cursor::whole(17, &[7; 32]).to_string();
        texts.push(format!("{whole}AA"));
        texts.push(whole[..whole.len() - 2].to_owned());
        texts.push(
            Cursor {
                seq: -1,
                check: [0; 8],
                after: None,
            }
            .to_string(),
        );
        let nul = Position {
            seq: 1,
            kind: "a\0".to_owned(),
            id: Uuid::nil(),
        };
        texts.push(
            Cursor {
                seq: 1,
                check: [0; 8],
                after: Some(nul),
            }
            .to_string(),
        );
        for text in texts {
            assert!(text.parse::<Cursor>().is_err(), "{text}");
        }
    }

    #[test]
    fn another_chain_does_not_match() {
        let cursor = Cursor::whole(1, &[7; 32]);
        assert!(cursor.matches(&[7; 32]));
        assert!(!cursor.matches(&[8; 32]));
        assert!(!cursor.matches(&[]));
    }
}

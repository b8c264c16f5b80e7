//! Where a reader is: an opaque text with a check, so that a ledger that forgot something is noticed.

use std::fmt::{self, Display, Formatter};
use std::str::FromStr;

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use uuid::Uuid;

use super::hash::Hash;

/// The form of a cursor that holds everything up to its number and knows nothing of states.
const WHOLE: u8 = 1;
/// The form of a cursor of a reader of states, with points further back.
const STATES: u8 = 3;
/// The same between two pages.
const BETWEEN: u8 = 4;
/// The most points of a cursor.
const POINTS: usize = 8;

/// Where a reader is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cursor {
    /// The newest number the reader knows to exist.
    pub seq: i64,
    /// The first bytes of the chain at that number.
    pub check: [u8; 8],
    /// How often the states were made anew before they were read; absent where none were read.
    pub epoch: Option<u32>,
    /// Earlier numbers with the first bytes of their chains, so that the newest common point can be found in a ledger
    /// that was restored from an older backup.
    pub points: Vec<(i64, [u8; 8])>,
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
            epoch: None,
            points: Vec::new(),
            after: None,
        }
    }

    /// The numbers further back that a cursor at this one remembers: ever further apart.
    pub(crate) fn further_back(seq: i64) -> Vec<i64> {
        let steps = std::iter::successors(Some(8_i64), |step| step.checked_mul(8));
        steps
            .map(|step| seq - step)
            .take_while(|seq| *seq > 0)
            .take(POINTS)
            .collect()
    }

    /// Every number that the cursor can prove, the newest first.
    pub(crate) fn proofs(&self) -> impl Iterator<Item = (i64, [u8; 8])> {
        std::iter::once((self.seq, self.check)).chain(self.points.iter().copied())
    }

    /// The number up to which everything was read for certain; rows at that number may be missing yet.
    pub(crate) fn read_to(&self) -> i64 {
        self.after.as_ref().map_or(self.seq, |position| position.seq)
    }
}

pub(crate) fn check(chain: &Hash) -> [u8; 8] {
    let mut check = [0; 8];
    check.copy_from_slice(&chain[..8]);
    check
}

impl Display for Cursor {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let mut bytes = Vec::with_capacity(64 + 16 * self.points.len());
        bytes.push(match (self.epoch, &self.after) {
            (None, _) => WHOLE,
            (Some(_), None) => STATES,
            (Some(_), Some(_)) => BETWEEN,
        });
        bytes.extend(self.seq.to_be_bytes());
        bytes.extend(self.check);
        if let Some(epoch) = self.epoch {
            bytes.extend(epoch.to_be_bytes());
            bytes.push(u8::try_from(self.points.len()).unwrap_or_default());
            for (seq, check) in &self.points {
                bytes.extend(seq.to_be_bytes());
                bytes.extend(check);
            }
            if let Some(position) = &self.after {
                bytes.extend(position.seq.to_be_bytes());
                bytes.extend(position.id.as_bytes());
                bytes.extend(position.kind.as_bytes());
            }
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
        let mut cursor = Self {
            seq,
            check: *check,
            epoch: None,
            points: Vec::new(),
            after: None,
        };
        if form == WHOLE && rest.is_empty() {
            return Ok(cursor);
        }
        let (epoch, rest) = rest.split_first_chunk::<4>().ok_or(NotACursor)?;
        cursor.epoch = Some(u32::from_be_bytes(*epoch));
        let (&count, mut rest) = rest.split_first().ok_or(NotACursor)?;
        if usize::from(count) > POINTS {
            return Err(NotACursor);
        }
        for _ in 0..count {
            let (seq, after) = number(rest)?;
            let (check, after) = after.split_first_chunk::<8>().ok_or(NotACursor)?;
            cursor.points.push((seq, *check));
            rest = after;
        }
        cursor.after = match (form, rest.is_empty()) {
            (STATES, true) => None,
            (BETWEEN, false) => Some(position(rest)?),
            _ => return Err(NotACursor),
        };
        Ok(cursor)
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

    fn states(after: Option<Position>) -> Cursor {
        Cursor {
            epoch: Some(3),
            points: vec![(9, [1; 8]), (2, [2; 8])],
            after,
            ..Cursor::whole(17, &[7; 32])
        }
    }

    fn between(kind: &str) -> Cursor {
        states(Some(Position {
            seq: 12,
            kind: kind.to_owned(),
            id: Uuid::from_u128(9),
        }))
    }

    #[test]
    fn a_cursor_comes_back_as_it_was() {
        for cursor in [Cursor::whole(17, &[7; 32]), states(None), between("super")] {
            assert_eq!(cursor.to_string().parse::<Cursor>().unwrap(), cursor);
        }
        assert_eq!((states(None).read_to(), between("super").read_to()), (17, 12));
    }

    #[test]
    fn nothing_else_is_a_cursor() {
        let mut texts = vec![
            String::new(),
            "AQ".to_owned(),
            "ä".to_owned(),
            "Zm9vYmFyYmF6".to_owned(),
        ];
        for whole in [Cursor::whole(17, &[7; 32]), states(None)] {
            let whole = whole.to_string();
            texts.push(format!("{whole}AA"));
            texts.push(whole[..whole.len() - 2].to_owned());
        }
        let negative = Cursor {
            seq: -1,
            ..Cursor::whole(1, &[7; 32])
        };
        texts.push(negative.to_string());
        texts.push(between("a\0").to_string());
        let crowded = Cursor {
            points: vec![(1, [0; 8]); POINTS + 1],
            ..states(None)
        };
        texts.push(crowded.to_string());
        for text in texts {
            assert!(text.parse::<Cursor>().is_err(), "{text}");
        }
    }

    #[test]
    fn points_lie_ever_further_apart() {
        assert_eq!(Cursor::further_back(8), Vec::<i64>::new());
        assert_eq!(Cursor::further_back(600), [592, 536, 88]);
        assert_eq!(Cursor::further_back(i64::MAX).len(), POINTS);
    }
}

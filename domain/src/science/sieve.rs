//! The opening of a sieve by its number.
//!
//! ASTM E11, read in the table of a library of fluid mechanics. Canada asks that nothing stays on No. 80 for its first
//! grade and on No. 60 for its second. Not here: which sieve honey went through.

use crate::described::answered;

/// Number, opening in micrometres.
const OPENINGS: [(u32, i64); 12] = [
    (20, 850),
    (30, 600),
    (35, 500),
    (40, 425),
    (50, 300),
    (60, 250),
    (70, 212),
    (80, 180),
    (100, 150),
    (120, 125),
    (140, 106),
    (200, 75),
];

/// A sieve that is not in the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "no sieve No. {number} is known here, only 20, 30, 35, 40, 50, 60, 70, 80, 100, 120, 140 and 200: read its opening off the rim"
)]
pub struct NoSuchSieve {
    /// The number asked for.
    pub number: u32,
}

answered! {
    /// The opening of a sieve.
    Opening {
        /// Its opening.
        opening_um: i64, "micrometres";
    }
}

/// The opening of a sieve by its number.
///
/// # Errors
/// [`NoSuchSieve`].
pub fn opening(number: u32) -> Result<Opening, NoSuchSieve> {
    OPENINGS
        .iter()
        .find(|(known, _)| *known == number)
        .map(|(_, opening_um)| Opening {
            opening_um: *opening_um,
        })
        .ok_or(NoSuchSieve { number })
}

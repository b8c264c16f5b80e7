//! Fair factors: how much more or less a line (or yard) gave than the others in the same places and years (AN-4, AN-7,
//! AN-8). One engine: rows are lines, or yards; blocks are what they shared, a place over one flow, or a year.
//!
//! A hive's kilograms over its yard's mean pull unevenly placed lines towards 1, for the mean holds the line itself.
//! Here the means of the blocks are freed of the lines in turn, until nothing moves: quasi-likelihood of a gamma model
//! with logarithmic link, which has one solution where all rows are connected. Ranges are those of that model; pairs
//! are held jointly, so that among many lines none is told apart by chance alone (AN-7).

use super::figure::WhyNoRange;

mod fitted;
mod table;

use fitted::Fitted;
use table::Table;

/// How strongly a best guess is drawn to 1, in colonies (AN-6).
pub const DRAWN_BY: f64 = 20.0;
/// Fewer colonies than this in a row, or in the comparison of two, are shown as dots.
const COLONIES_LEAST: f64 = 5.0;

/// What the rows are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Of {
    /// Queen lines: their colonies, in places they shared over one flow.
    Lines,
    /// Yards: their years.
    Yards,
}

impl Of {
    /// Fewer degrees of freedom than this give no range.
    const fn df_least(self) -> f64 {
        match self {
            Self::Lines => 7.0,
            Self::Yards => 6.0,
        }
    }

    /// Whether so many in a row, or in the comparison of two, are enough for a range.
    fn are_enough(self, n: f64) -> bool {
        match self {
            Self::Lines => n >= COLONIES_LEAST,
            Self::Yards => true,
        }
    }
}

/// What a colony gave, or a yard in a year.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gave {
    /// Which row.
    pub row: usize,
    /// Which block.
    pub block: usize,
    /// How much.
    pub grams: i64,
}

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ask {
    /// How many rows there are.
    pub rows: usize,
    /// How many blocks there are.
    pub blocks: usize,
    /// How much more the kilograms of one queen over several seasons are alike than those of several queens: 1 if each
    /// counts once.
    pub alike: f64,
    /// What the rows are.
    pub of: Of,
}

/// How much more alike kilograms are where some queens are counted in several seasons: 0.3 of one queen's deviation is
/// carried over to her next season (a design choice).
#[must_use]
pub fn alike(seasons_of_queens: &[u32]) -> f64 {
    let n: u32 = seasons_of_queens.iter().sum();
    if n == 0 {
        return 1.0;
    }
    let squares: u32 = seasons_of_queens.iter().map(|m| m * m).sum();
    1.0 + 0.3 * (f64::from(squares) / f64::from(n) - 1.0)
}

/// What is known of a row.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The colonies, or yard years, it has.
    pub n: usize,
    /// The fair factor; nothing for a row without honey.
    pub factor: Option<f64>,
    /// Its range, at 95 %.
    pub range: Option<(f64, f64)>,
    /// The best guess, drawn to 1 (AN-6).
    pub guess: Option<f64>,
    /// The first and the last place it may have among the rows it can be compared with (AN-7).
    pub places: Option<(usize, usize)>,
    /// Why there is no range.
    pub why: Option<WhyNoRange>,
}

/// What is known of two rows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// The one.
    pub one: usize,
    /// The other.
    pub other: usize,
    /// How much more the one gave.
    pub ratio: f64,
    /// The joint range.
    pub range: Option<(f64, f64)>,
    /// To how many colonies of each the comparison amounts.
    pub n: f64,
}

impl Pair {
    /// Whether the joint range leaves no doubt that they differ.
    #[must_use]
    pub fn told_apart(&self) -> bool {
        self.range.is_some_and(|(low, high)| low > 1.0 || high < 1.0)
    }
}

/// The answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Fair {
    /// In the order of the rows.
    pub rows: Vec<Row>,
    /// Every two rows that can be compared, in order.
    pub pairs: Vec<Pair>,
    /// How far colonies scatter, as a square; nothing if nothing could be fitted.
    pub dispersion: Option<f64>,
    /// Degrees of freedom.
    pub df: Option<f64>,
}

/// Works the factors out.
#[must_use]
pub fn fair(ask: Ask, gave: &[Gave]) -> Fair {
    let table = Table::of(ask, gave);
    let mut answer = Fair {
        rows: (0..ask.rows).map(|row| table.untold(row)).collect(),
        pairs: Vec::new(),
        dispersion: None,
        df: None,
    };
    let parts = table.parts();
    let several = parts.len() > 1;
    for part in &parts {
        if part.len() < 2 {
            for row in part {
                if let Some(row) = answer.rows.get_mut(*row) {
                    row.why = Some(if several {
                        WhyNoRange::NotConnected
                    } else {
                        WhyNoRange::OneYear
                    });
                }
            }
            continue;
        }
        match Fitted::of(&table, part) {
            None => {
                for row in part {
                    if let Some(row) = answer.rows.get_mut(*row) {
                        row.why = Some(WhyNoRange::ZerosLeaveItOpen);
                    }
                }
            }
            Some(fitted) => fitted.tell(ask, &mut answer),
        }
    }
    answer.pairs.sort_by_key(|pair| (pair.one, pair.other));
    answer
}

#[cfg(test)]
mod tests;

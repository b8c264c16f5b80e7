//! Number labels for boxes, pails and hives, as sheets to be printed: a large plain number beside a QR code.
//!
//! What stands here: where each label lies, whether it all fits, and the PDF. What is absent: who may print, and any
//! word of a language, which comes with the wish.

mod draw;
mod letters;
mod sheet;

pub use draw::pdf;
pub use sheet::{Paper, Sheet};

use serde::Deserialize;
use utoipa::ToSchema;

/// How many labels are made at once at most.
pub const LABELS_MOST: usize = 2000;
/// How long a number may be.
pub const NUMBER_MOST: usize = 12;
/// How long the words below it may be.
pub const WORDS_MOST: usize = 40;

/// A number is to be read from two metres: a two-hundredth of that, in tenths of a millimetre (common practice for
/// signs, no source).
pub const FIGURES_LEAST: i32 = 100;
/// One module of a QR code that a phone reads off a box, in hundredths of a millimetre (from experience with print at
/// 300 dpi: five dots a module).
pub const MODULE_LEAST_HUNDREDTHS: i32 = 40;

/// Labels that are wished for.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Wish {
    /// What stands large on each label, in this order.
    #[schema(min_items = 1, max_items = 2000)]
    pub numbers: Vec<String>,
    /// What the codes begin with, such as `https://192.168.1.20:8470`; behind it stands `/n/` and the number.
    #[schema(max_length = 120)]
    pub address: String,
    /// Words below each number, such as the name of the business.
    #[serde(default)]
    #[schema(max_length = 40)]
    pub words: Option<String>,
    /// The sheet.
    pub sheet: Sheet,
}

/// Why labels are not made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LabelsRefused {
    /// None, or too many.
    #[error("there are {0} numbers; 1 to {LABELS_MOST} are made at once")]
    Count(usize),
    /// A number that is too long or empty.
    #[error("the number {0:?} has no character or more than {NUMBER_MOST}")]
    Number(String),
    /// Words that are too long.
    #[error("the words below the number have more than {WORDS_MOST} characters")]
    Words,
    /// An address that cannot begin a code.
    #[error("the address {0:?} begins with neither http:// nor https://, or is too long for a code")]
    Address(String),
    /// The sheet does not work out.
    #[error("{says}")]
    Sheet {
        /// Which field of it.
        field: &'static str,
        /// What is wrong and what to do.
        says: String,
    },
    /// A letter that the font lacks.
    #[error("{0:?} cannot be printed: the font has no such letter")]
    Letter(char),
    /// The PDF could not be written.
    #[error("the PDF could not be written: {0}")]
    Pdf(String),
}

impl LabelsRefused {
    /// Where the fault stands in the wish, as a JSON pointer.
    #[must_use]
    pub fn pointer(&self) -> String {
        match self {
            Self::Count(_) | Self::Number(_) => "/numbers".to_owned(),
            Self::Words => "/words".to_owned(),
            Self::Address(_) => "/address".to_owned(),
            Self::Sheet { field, .. } => format!("/sheet/{field}"),
            Self::Letter(_) | Self::Pdf(_) => String::new(),
        }
    }
}

impl Wish {
    /// Checks what does not depend on drawing.
    pub(crate) fn check(&self) -> Result<(), LabelsRefused> {
        if self.numbers.is_empty() || self.numbers.len() > LABELS_MOST {
            return Err(LabelsRefused::Count(self.numbers.len()));
        }
        let bad = |number: &&String| !(1..=NUMBER_MOST).contains(&number.chars().count()) || number.trim() != **number;
        if let Some(number) = self.numbers.iter().find(bad) {
            return Err(LabelsRefused::Number(number.clone()));
        }
        if self
            .words
            .as_ref()
            .is_some_and(|words| words.chars().count() > WORDS_MOST)
        {
            return Err(LabelsRefused::Words);
        }
        let begins = self.address.starts_with("https://") || self.address.starts_with("http://");
        if !begins || self.address.len() > 120 || self.address.contains(char::is_whitespace) {
            return Err(LabelsRefused::Address(self.address.clone()));
        }
        self.sheet.check()
    }

    /// What the code of a number says.
    #[must_use]
    pub fn code_of(&self, number: &str) -> String {
        let mut text = format!("{}/n/", self.address.trim_end_matches('/'));
        for byte in number.bytes() {
            if byte.is_ascii_alphanumeric() || b"-_.~".contains(&byte) {
                text.push(char::from(byte));
            } else {
                text.push_str(&format!("%{byte:02X}"));
            }
        }
        text
    }
}

//! The code on a jar that leads back to its lot (LO-2).
//!
//! Not here: the "L" that some profiles print before it (LO-3; it is understood when typed), best before, and
//! anything a number of an article is needed for.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::form::{Desk, Form};

/// The characters a code is made of, each worth its place: the digits and the letters up to Y without I and O, which
/// read as 1 and 0, and without B, S and Z, which read as 8, 5 and 2. There are 31, a prime, and the check needs that.
const ALPHABET: &[u8] = b"0123456789ACDEFGHJKLMNPQRTUVWXY";
/// The letters of the alphabet: a phone's block is one of them.
pub(crate) const BLOCKS: &str = "ACDEFGHJKLMNPQRTUVWXY";
/// The size of the alphabet.
const PRIME: u32 = 31;
/// The longest code (LO-2; the field of the usual bar codes holds no more).
const LONGEST: usize = 20;

/// A lot's code: season, a phone's block where it has one, sequence and check character, as in `25-007-K` or
/// `25-A007-Y`.
///
/// The check works on the places of the characters in their alphabet of 31. Counted from the right, the check
/// character being 0, each place is multiplied by 3 to the power of its position, and the sum must be a multiple of
/// 31. Since 31 is a prime and no power of 3 is a multiple of it, one wrong character always spoils the sum; since
/// neighbouring powers differ, so do two swapped neighbours, across a hyphen too; and since the powers of 3 repeat
/// only after 30, so do any two characters swapped with each other.
///
/// The block letter belongs to a phone, so that two phones without signal never make the same code (CF-13). A code
/// is read tolerantly and always written in one way only.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(try_from = "String", into = "String")]
#[schema(value_type = String, example = "25-007-K", max_length = 20)]
pub struct LotCode(Parts);

/// What a code says; the check character follows from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
struct Parts {
    season: u16,
    block: Option<char>,
    sequence: u32,
}

/// Parts that no code can be made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum LotCodeRefused {
    /// The season is written with two digits, so only one century has room.
    #[error("a season must lie between 2000 and 2099, and {season} does not")]
    Season {
        /// The year asked for.
        season: u16,
    },
    /// A phone's block is a capital letter of the code's alphabet.
    #[error("a block must be a capital letter other than B, I, O, S and Z, and {block:?} is not")]
    Block {
        /// The letter asked for.
        block: char,
    },
    /// Sequences are counted from 1.
    #[error("a sequence starts at 1")]
    Sequence,
}

/// Text that is no lot's code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NotALotCode {
    /// It does not have the form of a code.
    #[error("a lot code looks like 25-007-K")]
    Malformed,
    /// It has the form of a code, and at least one of its characters is wrong.
    #[error("the check character does not fit: one of the characters was misread or two were swapped")]
    WrongCheckCharacter,
}

impl Form for LotCode {
    fn blank() -> Self {
        Self(Parts {
            season: 2000,
            block: None,
            sequence: 0,
        })
    }

    fn pass(&mut self, desk: &mut Desk<'_>) {
        desk.as_text(self, Self::parse, ToString::to_string);
    }
}

impl LotCode {
    /// Makes the code of a lot from the year of its season, the phone's block and the next free sequence.
    ///
    /// # Errors
    /// [`LotCodeRefused`] names the part that does not fit.
    pub fn make(season: u16, block: Option<char>, sequence: u32) -> Result<Self, LotCodeRefused> {
        if !(2000..=2099).contains(&season) {
            return Err(LotCodeRefused::Season { season });
        }
        if let Some(block) = block.filter(|block| !is_block(*block)) {
            return Err(LotCodeRefused::Block { block });
        }
        if sequence == 0 {
            return Err(LotCodeRefused::Sequence);
        }
        Ok(Self(Parts {
            season,
            block,
            sequence,
        }))
    }

    /// Reads a code as people type it: small letters, spaces, I for 1, O for 0, other dashes or no hyphens at all.
    /// In front of a code with its hyphens the "L" of LO-3 is understood; without them it could be a misread digit.
    ///
    /// # Errors
    /// [`NotALotCode`] tells text that is no code from a code that was mistyped.
    pub fn parse(text: &str) -> Result<Self, NotALotCode> {
        let tidy = tidy(text).ok_or(NotALotCode::Malformed)?;
        let (season, middle, check) = split(&tidy).ok_or(NotALotCode::Malformed)?;
        let code = read(season, middle).ok_or(NotALotCode::Malformed)?;
        if !ALPHABET.contains(&check) {
            return Err(NotALotCode::Malformed);
        }
        if check != code.check_character() {
            return Err(NotALotCode::WrongCheckCharacter);
        }
        Ok(code)
    }

    /// The year of the season.
    #[must_use]
    pub const fn season(self) -> u16 {
        self.0.season
    }

    /// The block of the phone that made it, if it has one.
    #[must_use]
    pub const fn block(self) -> Option<char> {
        self.0.block
    }

    /// The number within season and block.
    #[must_use]
    pub const fn sequence(self) -> u32 {
        self.0.sequence
    }

    fn season_digits(self) -> String {
        format!("{:02}", self.0.season % 100)
    }

    fn middle(self) -> String {
        let block = self.0.block.map(String::from).unwrap_or_default();
        format!("{block}{:03}", self.0.sequence)
    }

    fn check_character(self) -> u8 {
        let body = self.season_digits() + &self.middle();
        // Horner's way to the sum of places times powers of 3, the check character still missing.
        let sum = body.bytes().fold(0, |sum, byte| (sum + place(byte)) * 3 % PRIME);
        let missing = (PRIME - sum) % PRIME;
        usize::try_from(missing)
            .ok()
            .and_then(|missing| ALPHABET.get(missing))
            .copied()
            .unwrap_or(b'0')
    }
}

impl fmt::Display for LotCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}-{}-{}",
            self.season_digits(),
            self.middle(),
            char::from(self.check_character())
        )
    }
}

impl FromStr for LotCode {
    type Err = NotALotCode;

    fn from_str(text: &str) -> Result<Self, NotALotCode> {
        Self::parse(text)
    }
}

impl TryFrom<String> for LotCode {
    type Error = NotALotCode;

    fn try_from(text: String) -> Result<Self, NotALotCode> {
        Self::parse(&text)
    }
}

impl From<LotCode> for String {
    fn from(code: LotCode) -> Self {
        code.to_string()
    }
}

/// Capitals, digits and hyphens only; `None` if anything else remains.
fn tidy(text: &str) -> Option<String> {
    let mut tidy = String::new();
    for character in text.chars().filter(|character| !character.is_whitespace()) {
        tidy.push(match character.to_ascii_uppercase() {
            'I' => '1',
            'O' => '0',
            '\u{2010}'..='\u{2015}' | '\u{2212}' => '-',
            plain if plain.is_ascii_alphanumeric() || plain == '-' => plain,
            _ => return None,
        });
        if tidy.len() > LONGEST + 1 {
            return None;
        }
    }
    Some(tidy)
}

/// Season, middle and check character. Either both hyphens are there or none is.
fn split(tidy: &str) -> Option<(&str, &str, u8)> {
    let (season, middle, check) = match tidy.split('-').collect::<Vec<_>>()[..] {
        [season, middle, check] => (season.strip_prefix('L').unwrap_or(season), middle, check),
        [all] => {
            let (season, rest) = all.split_at_checked(2)?;
            let (middle, check) = rest.split_at_checked(rest.len().checked_sub(1)?)?;
            (season, middle, check)
        }
        _ => return None,
    };
    match check.as_bytes() {
        [check] => Some((season, middle, *check)),
        _ => None,
    }
}

/// The code that season and middle stand for, if they are written the one right way.
fn read(season: &str, middle: &str) -> Option<LotCode> {
    let season = (season.len() == 2 && all_digits(season)).then(|| season.parse::<u16>().ok())??;
    let first = middle.chars().next()?;
    let (block, digits) = if first.is_ascii_digit() {
        (None, middle)
    } else {
        (Some(first), middle.strip_prefix(first)?)
    };
    let sequence = all_digits(digits).then(|| digits.parse::<u32>().ok())??;
    let code = LotCode::make(2000 + season, block, sequence).ok()?;
    (code.middle() == middle).then_some(code)
}

fn all_digits(text: &str) -> bool {
    text.bytes().all(|byte| byte.is_ascii_digit())
}

fn is_block(letter: char) -> bool {
    BLOCKS.contains(letter)
}

/// A character's place in the alphabet. Only characters of the alphabet are ever asked for.
fn place(byte: u8) -> u32 {
    ALPHABET
        .iter()
        .zip(0..)
        .find(|(letter, _)| **letter == byte)
        .map_or(0, |(_, place)| place)
}

#[cfg(test)]
mod tests {
    use std::error::Error;

    use proptest::prelude::*;

    use super::*;

    /// Everything that LO-2 would let a label carry, and the hyphen.
    const TYPED: &str = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-";

    /// Short, long, with and without a block, near each other and far apart.
    fn codes() -> Result<Vec<LotCode>, LotCodeRefused> {
        let sequences = (1..=120).chain([321, 999, 1_000, 1_007, 1_234, 9_999, 10_000, 987_654, u32::MAX]);
        let mut codes = Vec::new();
        for sequence in sequences {
            for (season, block) in [
                (2025, None),
                (2000, None),
                (2025, Some('A')),
                (2099, Some('Y')),
                (2012, Some('L')),
            ] {
                codes.push(LotCode::make(season, block, sequence)?);
            }
        }
        Ok(codes)
    }

    /// With and without hyphens.
    fn spellings(code: LotCode) -> [(LotCode, String); 2] {
        let right = code.to_string();
        [(code, right.replace('-', "")), (code, right)]
    }

    #[test]
    fn the_example_of_the_rules_is_a_right_code() -> Result<(), Box<dyn Error>> {
        // LO-2.
        let code = LotCode::make(2025, None, 7)?;
        assert_eq!(code.to_string(), "25-007-K");
        assert_eq!(LotCode::parse("25-007-K")?, code);
        let code = LotCode::make(2025, Some('A'), 7)?;
        assert_eq!((code.season(), code.block(), code.sequence()), (2025, Some('A'), 7));
        assert_eq!(code.to_string(), "25-A007-Y");
        Ok(())
    }

    #[test]
    fn every_single_wrong_character_is_caught() -> Result<(), Box<dyn Error>> {
        // Each position against each character of LO-2; I and O may only ever come back as what they stand for.
        for (code, right) in codes()?.into_iter().flat_map(spellings) {
            for (at, was) in right.char_indices() {
                for wrong in TYPED.chars().filter(|wrong| *wrong != was) {
                    let mut typed = right.clone();
                    typed.replace_range(at..=at, wrong.encode_utf8(&mut [0; 4]));
                    if let Ok(read) = LotCode::parse(&typed) {
                        assert!(
                            read == code && matches!((wrong, was), ('I', '1') | ('O', '0')),
                            "{right} as {typed}"
                        );
                    }
                }
            }
        }
        Ok(())
    }

    #[test]
    fn any_two_swapped_characters_are_caught() -> Result<(), Box<dyn Error>> {
        // Neighbours above all, across a hyphen too; the scheme catches every pair.
        for (code, right) in codes()?.into_iter().flat_map(spellings) {
            let right: Vec<char> = right.chars().collect();
            for first in 0..right.len() {
                for second in first + 1..right.len() {
                    let mut typed = right.clone();
                    typed.swap(first, second);
                    if typed != right {
                        let typed: String = typed.into_iter().collect();
                        assert!(LotCode::parse(&typed).is_err(), "{code} as {typed}");
                    }
                }
            }
        }
        Ok(())
    }

    #[test]
    fn a_code_is_read_the_way_people_type_it() -> Result<(), Box<dyn Error>> {
        // LO-2: buyers type it in a recall. LO-3: with the L in front.
        let code = LotCode::make(2021, Some('K'), 10)?;
        let right = code.to_string();
        let typed = [
            right.to_lowercase(),
            format!("  {right} "),
            right.replace('-', " - "),
            right.replace('-', ""),
            right.replace('-', "\u{2013}"),
            right.replace('1', "I").replace('0', "o"),
            format!("L{right}"),
            format!("l {right}"),
        ];
        for typed in typed {
            assert_eq!(typed.parse::<LotCode>(), Ok(code), "{typed}");
        }
        Ok(())
    }

    #[test]
    fn mistyped_and_malformed_are_told_apart() {
        for typed in ["25-008-K", "25-007-J", "52-007-K", "24-007-K"] {
            assert_eq!(LotCode::parse(typed), Err(NotALotCode::WrongCheckCharacter), "{typed}");
        }
        let malformed = [
            "",
            "-",
            "--",
            "K",
            "L",
            "25",
            "25-007",
            "25-07-K",
            "25-0007-K",
            "25-000-K",
            "25-AA07-K",
            "2A-007-K",
            "25-B007-K",
            "25-007-S",
            "25-007-KK",
            "25-007-",
            "25_007_K",
            "25-00-7K",
            "2025-007-K",
            "+5-007-K",
            "25-+07-K",
            "2-5007-K",
            "L5-007-K",
            "L25007K",
            "25-4294967296-K",
            "25-99999999999999999-K",
            "é5-007-K",
            "25\u{fffd}",
        ];
        for typed in malformed {
            assert_eq!(LotCode::parse(typed), Err(NotALotCode::Malformed), "{typed}");
        }
    }

    #[test]
    fn parts_that_do_not_fit_are_refused_by_name() {
        assert_eq!(
            LotCode::make(1999, None, 7),
            Err(LotCodeRefused::Season { season: 1999 })
        );
        assert_eq!(
            LotCode::make(2100, None, 7),
            Err(LotCodeRefused::Season { season: 2100 })
        );
        assert_eq!(LotCode::make(2025, None, 0), Err(LotCodeRefused::Sequence));
        for block in ['I', 'O', 'B', 'S', 'Z', 'a', '7', 'É', '-'] {
            assert_eq!(
                LotCode::make(2025, Some(block), 7),
                Err(LotCodeRefused::Block { block })
            );
        }
    }

    #[test]
    fn a_code_is_stored_as_its_text() -> Result<(), Box<dyn Error>> {
        let code = LotCode::make(2025, Some('A'), 7)?;
        assert_eq!(serde_json::to_string(&code)?, format!("\"{code}\""));
        assert_eq!(serde_json::from_str::<LotCode>(&format!("\"{code}\""))?, code);
        assert!(serde_json::from_str::<LotCode>("\"25-007-J\"").is_err());
        Ok(())
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_and_fits_a_label(
            season in 2000_u16..=2099, block in prop::option::of(prop::sample::select(vec!['A', 'C', 'K', 'L', 'Y'])),
            sequence in 1_u32..,
        ) {
            let code = LotCode::make(season, block, sequence);
            let written = code.map(|code| code.to_string()).unwrap_or_default();
            prop_assert!(written.len() <= LONGEST);
            prop_assert_eq!(LotCode::parse(&written).ok(), code.ok());
            prop_assert_eq!(LotCode::parse(&written.replace('-', "")).ok(), code.ok());
        }

        #[test]
        fn no_text_makes_reading_fail_badly(text in "\\PC*") {
            let _answered = LotCode::parse(&text);
        }
    }
}

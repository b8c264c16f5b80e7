//! Numbers and addresses that other people's scanners and systems read, for those who have a number of an article.
//!
//! Nothing here is needed to work: who has no number prints the lot code alone. After the GS1 General Specifications
//! (element strings, check digit), the GS1 Digital Link URI syntax, and EPCIS 2.0 with its Core Business Vocabulary.
//! Not here: pictures of codes, and where the service lives.

use chrono::{Datelike, NaiveDate};

use crate::units::Grams;

/// A number of an article with its check digit, 14 digits (GS-1).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Gtin([u8; 14]);

/// Why something is no number of an article, or cannot stand in a code.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotForScanners {
    /// Other characters than digits.
    #[error("a number of an article has digits only, and this has {0:?}")]
    NotADigit(char),
    /// Not one of the lengths there are.
    #[error("a number of an article has 8, 12, 13 or 14 digits, and this has {0}")]
    Length(usize),
    /// A digit was mistyped.
    #[error("the last digit of {typed} must be {right} if the others are right; look at the number again")]
    CheckDigit {
        /// As typed.
        typed: String,
        /// What the last digit follows to be.
        right: u8,
    },
    /// Longer than the field.
    #[error("{what} may have {most} characters here, and {text:?} has {got}")]
    TooLong {
        /// Which field.
        what: &'static str,
        /// As given.
        text: String,
        /// The most characters.
        most: usize,
        /// The characters there were.
        got: usize,
    },
    /// A character that the standard's codes do not have.
    #[error("{what} may not contain {character:?} here")]
    Character {
        /// Which field.
        what: &'static str,
        /// The character.
        character: char,
    },
    /// Heavier than the field can say.
    #[error("{} g is more than this field can say", .0.get())]
    TooHeavy(Grams),
}

/// The check digit of the digits before it: weights 3 and 1 from the right, to the next ten.
#[must_use]
fn check_digit(before: &[u8]) -> u8 {
    let weighted = before.iter().rev().zip([3, 1].iter().cycle());
    let sum: u32 = weighted.map(|(digit, weight)| u32::from(*digit) * weight).sum();
    // Less than ten.
    u8::try_from((10 - sum % 10) % 10).unwrap_or_default()
}

impl Gtin {
    /// Reads a number of 8, 12, 13 or 14 digits; spaces and hyphens between them are let pass.
    ///
    /// # Errors
    /// [`NotForScanners`] when it has other characters or another length, or its check digit does not fit.
    pub fn parse(typed: &str) -> Result<Self, NotForScanners> {
        let mut digits = Vec::with_capacity(14);
        for c in typed.trim().chars().filter(|c| !matches!(c, ' ' | '-')) {
            let digit = c.to_digit(10).ok_or(NotForScanners::NotADigit(c))?;
            digits.push(u8::try_from(digit).unwrap_or_default());
        }
        let (8 | 12 | 13 | 14) = digits.len() else {
            return Err(NotForScanners::Length(digits.len()));
        };
        let (last, before) = digits.split_last().ok_or(NotForScanners::Length(0))?;
        let right = check_digit(before);
        if *last != right {
            return Err(NotForScanners::CheckDigit {
                typed: typed.trim().to_owned(),
                right,
            });
        }
        // Shorter numbers are the same number with noughts before.
        let mut all = [0; 14];
        for (place, digit) in all.iter_mut().rev().zip(digits.iter().rev()) {
            *place = *digit;
        }
        Ok(Self(all))
    }
}

impl std::fmt::Display for Gtin {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.iter().try_for_each(|digit| write!(f, "{digit}"))
    }
}

/// The longest lot code or serial number.
const LONGEST: usize = 20;

/// What a code on a jar, pail or drum says; without a number of an article a lot code means nothing to others (GS-1).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Marked {
    gtin: Gtin,
    lot: Option<String>,
    serial: Option<String>,
    best_before: Option<NaiveDate>,
    net_g: Option<Grams>,
}

fn field(what: &'static str, text: &str) -> Result<String, NotForScanners> {
    let got = text.chars().count();
    if got == 0 || got > LONGEST {
        return Err(NotForScanners::TooLong {
            what,
            text: text.to_owned(),
            most: LONGEST,
            got,
        });
    }
    // The 82 characters of the standard's table for these fields.
    let allowed = |c: &char| c.is_ascii_alphanumeric() || "!\"%&'()*+,-./:;<=>?_".contains(*c);
    match text.chars().find(|c| !allowed(c)) {
        Some(character) => Err(NotForScanners::Character { what, character }),
        None => Ok(text.to_owned()),
    }
}

impl Marked {
    /// A code that names an article.
    #[must_use]
    pub const fn new(gtin: Gtin) -> Self {
        Self {
            gtin,
            lot: None,
            serial: None,
            best_before: None,
            net_g: None,
        }
    }

    /// The same, with the code of the lot.
    ///
    /// # Errors
    /// [`NotForScanners`] when it is longer than 20 or has characters that the field does not take.
    pub fn lot(mut self, code: &str) -> Result<Self, NotForScanners> {
        self.lot = Some(field("a lot code", code)?);
        Ok(self)
    }

    /// The same, with the number of one pail or drum.
    ///
    /// # Errors
    /// [`NotForScanners`] when it is longer than 20 or has characters that the field does not take.
    pub fn serial(mut self, number: &str) -> Result<Self, NotForScanners> {
        self.serial = Some(field("a serial number", number)?);
        Ok(self)
    }

    /// The same, with the date to which it is best.
    #[must_use]
    pub const fn best_before(mut self, date: NaiveDate) -> Self {
        self.best_before = Some(date);
        self
    }

    /// The same, with what is in it.
    ///
    /// # Errors
    /// [`NotForScanners::TooHeavy`] from 1,000 kg on.
    pub fn net(mut self, net_g: Grams) -> Result<Self, NotForScanners> {
        if !(0..1_000_000).contains(&net_g.get()) {
            return Err(NotForScanners::TooHeavy(net_g));
        }
        self.net_g = Some(net_g);
        Ok(self)
    }

    fn date(&self) -> Option<String> {
        let date = self.best_before?;
        Some(format!(
            "{:02}{:02}{:02}",
            date.year().rem_euclid(100),
            date.month(),
            date.day()
        ))
    }

    /// The element string with its identifiers in brackets, as printed under a code: those of fixed length first.
    #[must_use]
    pub fn element_string(&self) -> String {
        let mut text = format!("(01){}", self.gtin);
        if let Some(date) = self.date() {
            text.push_str(&format!("(15){date}"));
        }
        if let Some(net) = self.net_g {
            text.push_str(&format!("(3103){:06}", net.get()));
        }
        if let Some(lot) = &self.lot {
            text.push_str(&format!("(10){lot}"));
        }
        if let Some(serial) = &self.serial {
            text.push_str(&format!("(21){serial}"));
        }
        text
    }

    /// The address that a telephone opens (GS-2): the article, then lot and serial in the order of the standard, what
    /// only describes it behind the question mark.
    #[must_use]
    pub fn address(&self, base: &str) -> String {
        let mut address = format!("{}/01/{}", base.trim_end_matches('/'), self.gtin);
        for (key, value) in [("10", &self.lot), ("21", &self.serial)] {
            if let Some(value) = value {
                address.push_str(&format!("/{key}/{}", percent_encoded(value)));
            }
        }
        let attributes = [
            self.net_g.map(|net| format!("3103={:06}", net.get())),
            self.date().map(|date| format!("15={date}")),
        ];
        for (at, attribute) in attributes.into_iter().flatten().enumerate() {
            address.push(if at == 0 { '?' } else { '&' });
            address.push_str(&attribute);
        }
        address
    }
}

/// Text as it may stand in a path (RFC 3986).
fn percent_encoded(text: &str) -> String {
    text.bytes().fold(String::new(), |mut out, byte| {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
        out
    })
}

/// The shape of a happening in EPCIS.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Event {
    /// Things were put on or into others, or taken off.
    Association,
    /// Something was seen, moved or measured.
    Object,
    /// Some things went in and others came out.
    Transformation,
}

/// How an entry is told in EPCIS.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// The shape.
    pub event: Event,
    /// The business step of the standard's vocabulary. It has none for harvesting: a step of our own goes there.
    pub business_step: &'static str,
}

/// The step of a kind of entry (GS-3); none for kinds that are nobody else's business. A correction is the same event
/// again with an error declaration: `did_not_occur` for a withdrawal, `incorrect_data` for an amendment.
#[must_use]
pub fn step(kind: &str) -> Option<Step> {
    let (event, business_step) = match kind {
        "super_placed" | "super_moved" => (Event::Association, "assembling"),
        "super_pulled" => (Event::Association, "disassembling"),
        "super_loaded" => (Event::Object, "loading"),
        "super_received" => (Event::Object, "receiving"),
        "super_weighed" | "moisture_read" | "weights_checked" => (Event::Object, "inspecting"),
        "run_drained" | "container_filled" | "honey_drawn" | "blended" | "drying_stopped" | "bottled" => {
            (Event::Transformation, "commissioning")
        }
        "hold_set" => (Event::Object, "holding"),
        "lot_released" | "hold_lifted" => (Event::Object, "inspecting"),
        "batch_stored" => (Event::Object, "storing"),
        "delivered" => (Event::Object, "shipping"),
        "returned" => (Event::Object, "receiving"),
        "stock_counted" => (Event::Object, "stock_taking"),
        "super_scrapped" | "honey_wasted" => (Event::Object, "destroying"),
        _ => return None,
    };
    Some(Step { event, business_step })
}

/// Why an event is told again, in the standard's word (GS-3).
#[must_use]
pub fn error_reason(kind: &str) -> Option<&'static str> {
    match kind {
        "voided" => Some("did_not_occur"),
        "amended" => Some("incorrect_data"),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn jar() -> Marked {
        Marked::new(Gtin::parse("9506000134352").unwrap())
    }

    /// GS-1. Check digits: the ISBN-13 of two books that carry theirs as an EAN-13 (978-0-306-40615-7 is the example of
    /// the ISBN Users' Manual; 9506000134352 stands in the examples of the GS1 Digital Link standard; from memory).
    #[test]
    fn a_number_of_an_article_is_checked() {
        assert_eq!(Gtin::parse("978-0-306-40615-7").unwrap().to_string(), "09780306406157");
        assert_eq!(Gtin::parse(" 9506000134352").unwrap().to_string(), "09506000134352");
        // 8 digits: 4 0 1 2 3 4 5 with weights 3 1 3 1 3 1 3 make 12 + 0 + 3 + 2 + 9 + 4 + 15 = 45, so 5 (arithmetic).
        assert!(Gtin::parse("40123455").is_ok());
        assert_eq!(
            Gtin::parse("9506000134353"),
            Err(NotForScanners::CheckDigit {
                typed: "9506000134353".to_owned(),
                right: 2
            })
        );
        assert_eq!(
            Gtin::parse("950600013435"),
            Err(NotForScanners::CheckDigit {
                typed: "950600013435".to_owned(),
                right: check_digit(&[9, 5, 0, 6, 0, 0, 0, 1, 3, 4, 3])
            })
        );
        assert_eq!(Gtin::parse("123"), Err(NotForScanners::Length(3)));
        assert_eq!(Gtin::parse("95O6000134352"), Err(NotForScanners::NotADigit('O')));
        assert_eq!(Gtin::parse(""), Err(NotForScanners::Length(0)));
    }

    /// GS-1: every wrong digit and every two exchanged neighbours that do not differ by 5 are found, as the weights 3
    /// and 1 promise (GS1 General Specifications, check digit calculation).
    #[test]
    fn a_mistyped_digit_is_found() {
        let right: Vec<char> = "9506000134352".chars().collect();
        for at in 0..right.len() {
            for wrong in ('0'..='9').filter(|wrong| *wrong != right[at]) {
                let mut typed = right.clone();
                typed[at] = wrong;
                let typed: String = typed.into_iter().collect();
                assert!(Gtin::parse(&typed).is_err(), "{typed}");
            }
        }
    }

    /// GS-1: identifiers 01, 15, 310n, 10 and 21; those of open length stand last (GS1 General Specifications).
    #[test]
    fn the_element_string_has_its_identifiers_in_order() {
        let marked = jar()
            .lot("25-007-K")
            .unwrap()
            .best_before(NaiveDate::from_ymd_opt(2027, 9, 30).unwrap())
            .net(Grams::new(27_600).unwrap())
            .unwrap()
            .serial("P14")
            .unwrap();
        let text = marked.element_string();
        assert_eq!(text, "(01)09506000134352(15)270930(3103)027600(10)25-007-K(21)P14");
        assert!(jar().lot("").is_err());
        assert!(jar().lot("123456789012345678901").is_err());
        assert!(jar().lot("12345678901234567890").is_ok());
        assert!(jar().lot("25 007").is_err());
        assert!(jar().serial("Ü1").is_err());
        assert!(jar().net(Grams::new(1_000_000).unwrap()).is_err());
    }

    /// GS-2: article, lot, serial in the path, the rest in the query (GS1 Digital Link URI syntax).
    #[test]
    fn the_address_has_keys_in_the_order_of_the_standard() {
        let address = jar()
            .serial("12/3")
            .unwrap()
            .lot("25-007-K")
            .unwrap()
            .best_before(NaiveDate::from_ymd_opt(2027, 9, 30).unwrap())
            .address("https://honey.example/");
        assert_eq!(
            address,
            "https://honey.example/01/09506000134352/10/25-007-K/21/12%2F3?15=270930"
        );
        assert_eq!(
            jar().address("https://honey.example"),
            "https://honey.example/01/09506000134352"
        );
    }

    /// GS-3: shapes of EPCIS 2.0; business steps of the Core Business Vocabulary 2.0 (names from memory).
    #[test]
    fn every_step_is_of_a_kind_there_is() {
        let told: Vec<_> = crate::entry::KINDS
            .iter()
            .filter_map(|spec| Some((spec.kind, step(spec.kind)?)))
            .collect();
        assert!(told.len() >= 20, "{told:?}");
        assert_eq!(step("blended").map(|step| step.event), Some(Event::Transformation));
        assert_eq!(step("super_placed").map(|step| step.event), Some(Event::Association));
        assert_eq!(step("note_written"), None);
        assert_eq!(error_reason("voided"), Some("did_not_occur"));
        assert_eq!(error_reason("amended"), Some("incorrect_data"));
        assert_eq!(error_reason("bottled"), None);
    }
}

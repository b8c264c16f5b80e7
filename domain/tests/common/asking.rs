//! Entries by their kind and fields, and what is answered to them. Not here: anything that one test alone asks.

use domain::decide::decide;
use domain::entry::Entry;
use domain::house::House;
use domain::subject::Subject;
use serde_json::Value;

use super::{Book, minute};

/// An entry as it is sent.
pub fn told(kind: &str, data: Value) -> Entry {
    Entry::read(kind, 1, &data.to_string()).unwrap()
}

/// The state of a thing in one word.
pub fn status(book: &Book, subject: impl Into<Subject>) -> &'static str {
    book.state(subject).status()
}

/// The code of what speaks against an entry.
pub fn refusal(house: &House, entry: &Entry) -> &'static str {
    decide(entry, house, minute(2_000)).unwrap_err().code
}

/// The codes of the doubts about an entry that is granted.
pub fn warned(house: &House, entry: &Entry) -> Vec<&'static str> {
    let warnings = decide(entry, house, minute(2_000)).unwrap();
    warnings.into_iter().map(|warning| warning.code).collect()
}

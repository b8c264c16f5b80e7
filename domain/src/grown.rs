//! What grows with the years: lists and marks whose older part lies beside the kept state, so that going on costs in
//! the tenth season what it cost in the first.
//!
//! A ledger keeps the newest of such a list with the state and puts the older away in parts that are written once.
//! A fold appends and looks at the newest. When it wants to see more while parts are away, that is noted, and the
//! ledger folds everything anew: it may be slower then, and never wrong. Whoever answers questions joins the parts
//! first, so nothing is ever away for them, nor on a phone.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::ops::{Deref, DerefMut};
use std::sync::atomic::{AtomicBool, Ordering};

use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;

use crate::form::{Desk, Form};

/// Whether older ones are away, and whether somebody wanted to see them.
#[derive(Debug, Default)]
pub(crate) struct Away {
    away: bool,
    missed: AtomicBool,
}

impl Away {
    pub(crate) const fn begin(&mut self) {
        self.away = true;
    }

    /// Somebody wants to see what may be away.
    pub(crate) fn want(&self) {
        if self.away {
            self.missed.store(true, Ordering::Relaxed);
        }
    }

    pub(crate) fn missed(&self) -> bool {
        self.missed.load(Ordering::Relaxed)
    }
}

impl Clone for Away {
    fn clone(&self) -> Self {
        Self {
            away: self.away,
            missed: AtomicBool::new(self.missed()),
        }
    }
}

/// How a state is kept is no part of what it says.
impl PartialEq for Away {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Eq for Away {}

/// A list that grows with the years. At least `KEEP` of the newest stay with the state; the older leave it `KEEP` at a
/// time, or at once where none has to stay. So it depends on the length alone what stays.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Grown<T, const KEEP: usize = 8> {
    items: Vec<T>,
    #[serde(skip)]
    away: Away,
}

impl<T, const KEEP: usize> Grown<T, KEEP> {
    const PART: usize = if KEEP == 0 { 1 } else { KEEP };

    /// Whether it holds nothing.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.items.is_empty()
    }

    /// Appends one.
    pub fn push(&mut self, item: T) {
        self.items.push(item);
    }

    /// The newest.
    #[must_use]
    pub fn newest(&self) -> Option<&T> {
        if self.items.is_empty() {
            self.away.want();
        }
        self.items.last()
    }

    pub(crate) const fn begin_away(&mut self) {
        self.away.begin();
    }

    pub(crate) fn missed(&self) -> bool {
        self.away.missed()
    }
}

impl<T: Serialize, const KEEP: usize> Grown<T, KEEP> {
    /// Takes out what has to leave, into a part under its name.
    pub(crate) fn put_away(&mut self, name: &'static str, part: &mut Part) {
        let extra = self.items.len().saturating_sub(KEEP) / Self::PART * Self::PART;
        if extra > 0 {
            let gone: Vec<T> = self.items.drain(..extra).collect();
            part.add(name, &gone);
            self.away.begin();
        }
    }
}

/// The whole list. While parts are away nobody sees it, and that it was wanted is noted.
impl<T, const KEEP: usize> Deref for Grown<T, KEEP> {
    type Target = [T];

    fn deref(&self) -> &[T] {
        self.away.want();
        &self.items
    }
}

impl<T, const KEEP: usize> DerefMut for Grown<T, KEEP> {
    fn deref_mut(&mut self) -> &mut [T] {
        self.away.want();
        &mut self.items
    }
}

impl<T, const KEEP: usize> Default for Grown<T, KEEP> {
    fn default() -> Self {
        Self::from(Vec::new())
    }
}

impl<T, const KEEP: usize> From<Vec<T>> for Grown<T, KEEP> {
    fn from(items: Vec<T>) -> Self {
        Self {
            items,
            away: Away::default(),
        }
    }
}

impl<T, const KEEP: usize> Extend<T> for Grown<T, KEEP> {
    fn extend<I: IntoIterator<Item = T>>(&mut self, items: I) {
        self.items.extend(items);
    }
}

impl<'a, T, const KEEP: usize> IntoIterator for &'a Grown<T, KEEP> {
    type Item = &'a T;
    type IntoIter = std::slice::Iter<'a, T>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl<T: Form, const KEEP: usize> Form for Grown<T, KEEP> {
    fn blank() -> Self {
        Self::default()
    }

    fn pass(&mut self, desk: &mut Desk<'_>) {
        self.items.pass(desk);
    }
}

/// What left a state in one go, as JSON.
#[derive(Debug, Default)]
pub struct Part(Vec<String>);

impl Part {
    pub(crate) fn add<T: Serialize>(&mut self, name: &'static str, gone: &T) {
        let gone = serde_json::to_string(gone).unwrap_or_default();
        self.0.push(format!("\"{name}\":{gone}"));
    }

    pub(crate) fn text(&self) -> String {
        format!("{{{}}}", self.0.join(","))
    }

    pub(crate) const fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// Says which lists of an aggregate leave its state, inside its `impl Aggregate`.
macro_rules! grows {
    ($($list:ident),+) => {
        fn begin_away(&mut self) {
            $(self.$list.begin_away();)+
        }

        fn missed(&self) -> bool {
            $(self.$list.missed())||+
        }

        fn put_away(&mut self, part: &mut $crate::grown::Part) {
            $(self.$list.put_away(stringify!($list), part);)+
        }
    };
}
pub(crate) use grows;

/// A kept state or memory with its parts in the order in which they left: what it would be had nothing left.
///
/// # Errors
/// When one of them is no object of lists, or of objects of which one is of its name.
pub fn joined<'a>(kept: &'a str, parts: impl IntoIterator<Item = &'a str>) -> Result<String, serde_json::Error> {
    type Fields<'a> = BTreeMap<Cow<'a, str>, &'a RawValue>;
    let mut away: BTreeMap<Cow<'a, str>, Vec<&str>> = BTreeMap::new();
    for part in parts {
        for (name, list) in serde_json::from_str::<Fields<'a>>(part)? {
            away.entry(name).or_default().push(list.get());
        }
    }
    let mut fields: Vec<String> = Vec::new();
    for (name, value) in serde_json::from_str::<Fields<'a>>(kept)? {
        let quoted = serde_json::to_string(&name)?;
        match away.remove(&name) {
            None => fields.push(format!("{quoted}:{}", value.get())),
            Some(mut lists) => {
                lists.push(value.get());
                fields.push(format!("{quoted}:{}", end_to_end(&lists)));
            }
        }
    }
    for (name, lists) in away {
        fields.push(format!("{}:{}", serde_json::to_string(&name)?, end_to_end(&lists)));
    }
    Ok(format!("{{{}}}", fields.join(",")))
}

/// Lists, or objects, put end to end.
fn end_to_end(lists: &[&str]) -> String {
    let inside = |list: &&str| {
        list.get(1..list.len().saturating_sub(1))
            .unwrap_or_default()
            .trim()
            .to_owned()
    };
    let inside: Vec<String> = lists.iter().map(inside).filter(|inside| !inside.is_empty()).collect();
    let object = lists.iter().any(|list| list.starts_with('{'));
    let (open, close) = if object { ('{', '}') } else { ('[', ']') };
    format!("{open}{}{close}", inside.join(","))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_leaves_depends_on_the_length_alone() {
        let mut at_once: Grown<i32, 2> = Grown::from((0..7).collect::<Vec<_>>());
        let mut part = Part::default();
        at_once.put_away("all", &mut part);
        assert_eq!(part.text(), r#"{"all":[0,1,2,3]}"#);
        let mut one_by_one: Grown<i32, 2> = Grown::default();
        let mut parts = Vec::new();
        for item in 0..7 {
            one_by_one.push(item);
            let mut part = Part::default();
            one_by_one.put_away("all", &mut part);
            parts.extend((!part.is_empty()).then(|| part.text()));
        }
        assert_eq!(one_by_one, at_once);
        assert_eq!(parts, [r#"{"all":[0,1]}"#, r#"{"all":[2,3]}"#]);
        let kept = r#"{"all":[4,5,6],"name":"a \"[b"}"#;
        let whole = joined(kept, parts.iter().map(String::as_str)).unwrap();
        assert_eq!(whole, r#"{"all":[0,1,2,3,4,5,6],"name":"a \"[b"}"#);
    }

    #[test]
    fn nothing_has_to_stay_of_some() {
        let mut list: Grown<i32, 0> = Grown::from(vec![1]);
        let mut part = Part::default();
        list.put_away("all", &mut part);
        assert!(list.is_empty());
        let whole = joined(r#"{"marks":{"a":1}}"#, [part.text().as_str(), r#"{"marks":{"b":2}}"#]).unwrap();
        assert_eq!(whole, r#"{"marks":{"b":2,"a":1},"all":[1]}"#);
    }

    #[test]
    fn looking_for_what_is_away_is_noted() {
        let mut list: Grown<i32, 1> = Grown::from(vec![1, 2]);
        assert_eq!(list.iter().count(), 2);
        list.begin_away();
        list.push(3);
        assert_eq!(list.newest(), Some(&3));
        assert!(!list.missed());
        assert_eq!(list.iter().count(), 3);
        assert!(list.missed());
    }
}

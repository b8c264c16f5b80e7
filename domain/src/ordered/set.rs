//! Sets: maps of keys alone.

use std::cmp::Ordering;
use std::fmt;

use super::Map;

/// Items in order, each once.
#[derive(Clone, PartialEq, Eq)]
pub struct Set<T>(Map<T, ()>);

impl<T> Default for Set<T> {
    fn default() -> Self {
        Self::new()
    }
}

impl<T> Set<T> {
    /// A set of nothing.
    #[must_use]
    pub const fn new() -> Self {
        Self(Map::new())
    }

    /// How many items there are.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there is nothing.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// All items.
    #[must_use]
    pub fn iter(&self) -> Iter<'_, T> {
        Iter(self.0.iter())
    }

    /// The first item.
    #[must_use]
    pub fn first(&self) -> Option<&T> {
        self.iter().next()
    }

    /// Takes the first item away.
    pub fn pop_first(&mut self) -> Option<T> {
        self.0.take((0, 0)).map(|(item, ())| item)
    }
}

impl<T: Ord> Set<T> {
    /// Whether an item is in it.
    #[must_use]
    pub fn contains(&self, item: &T) -> bool {
        self.0.contains_key(item)
    }

    /// Adds an item; false where it is in it already.
    pub fn insert(&mut self, item: T) -> bool {
        self.0.insert(item, ()).is_none()
    }

    /// Takes an item away; false where it is not in it.
    pub fn remove(&mut self, item: &T) -> bool {
        self.0.remove(item).is_some()
    }

    /// Keeps what is to be kept.
    pub fn retain(&mut self, mut kept: impl FnMut(&T) -> bool) {
        self.0.retain(|item, ()| kept(item));
    }

    /// What is in this and not in the other.
    pub fn difference<'a>(&'a self, other: &'a Self) -> impl Iterator<Item = &'a T> {
        self.iter().filter(|item| !other.contains(item))
    }
}

/// Items in order, by reference.
#[derive(Debug)]
pub struct Iter<'a, T>(super::Iter<'a, T, ()>);

impl<'a, T> Iterator for Iter<'a, T> {
    type Item = &'a T;

    fn next(&mut self) -> Option<&'a T> {
        self.0.next().map(|(item, ())| item)
    }
}

impl<'a, T> IntoIterator for &'a Set<T> {
    type Item = &'a T;
    type IntoIter = Iter<'a, T>;

    fn into_iter(self) -> Iter<'a, T> {
        self.iter()
    }
}

/// Items in order.
#[derive(Debug)]
pub struct IntoIter<T>(std::vec::IntoIter<(T, ())>);

impl<T> Iterator for IntoIter<T> {
    type Item = T;

    fn next(&mut self) -> Option<T> {
        self.0.next().map(|(item, ())| item)
    }
}

impl<T> IntoIterator for Set<T> {
    type Item = T;
    type IntoIter = IntoIter<T>;

    fn into_iter(self) -> IntoIter<T> {
        IntoIter(self.0.into_iter())
    }
}

impl<T: Ord> Extend<T> for Set<T> {
    fn extend<I: IntoIterator<Item = T>>(&mut self, items: I) {
        for item in items {
            self.insert(item);
        }
    }
}

impl<T: Ord> FromIterator<T> for Set<T> {
    fn from_iter<I: IntoIterator<Item = T>>(items: I) -> Self {
        let mut set = Self::new();
        set.extend(items);
        set
    }
}

impl<T: Ord> PartialOrd for Set<T> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl<T: Ord> Ord for Set<T> {
    fn cmp(&self, other: &Self) -> Ordering {
        self.iter().cmp(other)
    }
}

impl<T: fmt::Debug> fmt::Debug for Set<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_set().entries(self).finish()
    }
}

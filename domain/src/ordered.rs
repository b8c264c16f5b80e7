//! Maps and sets in the order of their keys.
//!
//! A phone has to fetch the code. The library's ordered maps bring a tree of their own for every kind of key and value,
//! which was a quarter of `rules.wasm`; here one code keeps the order for all of them, and a map adds little more than
//! how its keys compare. Looking up, adding and taking away stay quick in large houses, too.

use std::cmp::Ordering;
use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

mod order;
mod set;

use order::{Order, Place, Walk};
pub use set::Set;

/// Values by key, in the order of the keys.
#[derive(Clone)]
pub struct Map<K, V> {
    /// As they came.
    items: Vec<(K, V)>,
    order: Order,
}

impl<K, V> Default for Map<K, V> {
    fn default() -> Self {
        Self::new()
    }
}

impl<K, V> Map<K, V> {
    /// A map of nothing.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            items: Vec::new(),
            order: Order::new(),
        }
    }

    /// How many items there are.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.items.len()
    }

    /// Whether there is nothing.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.items.is_empty()
    }

    /// All items.
    #[must_use]
    pub fn iter(&self) -> Iter<'_, K, V> {
        Iter {
            items: &self.items,
            walk: self.order.all(),
        }
    }

    /// The keys.
    pub fn keys(&self) -> impl Iterator<Item = &K> {
        self.iter().map(|(key, _)| key)
    }

    /// The values, in the order of the keys.
    pub fn values(&self) -> impl Iterator<Item = &V> {
        self.iter().map(|(_, value)| value)
    }

    /// The values to be changed, in no order.
    pub fn values_mut(&mut self) -> impl Iterator<Item = &mut V> {
        self.items.iter_mut().map(|(_, value)| value)
    }

    /// The keys alone.
    pub fn into_keys(self) -> impl Iterator<Item = K> {
        self.into_iter().map(|(key, _)| key)
    }

    /// The values alone, in the order of the keys.
    pub fn into_values(self) -> impl Iterator<Item = V> {
        self.into_iter().map(|(_, value)| value)
    }

    fn take(&mut self, place: Place) -> Option<(K, V)> {
        let at = self.order.remove(place, self.items.len().checked_sub(1)?)?;
        Some(self.items.swap_remove(at))
    }
}

impl<K: Ord, V> Map<K, V> {
    fn place(&self, key: &K) -> Result<Place, Place> {
        self.order.find(&mut |at| match self.items.get(at) {
            Some((other, _)) => other.cmp(key),
            None => Ordering::Greater,
        })
    }

    fn find(&self, key: &K) -> Option<usize> {
        self.order.at(self.place(key).ok()?)
    }

    /// The value of a key.
    #[must_use]
    pub fn get(&self, key: &K) -> Option<&V> {
        Some(&self.items.get(self.find(key)?)?.1)
    }

    /// The value of a key, to be changed.
    #[must_use]
    pub fn get_mut(&mut self, key: &K) -> Option<&mut V> {
        let at = self.find(key)?;
        Some(&mut self.items.get_mut(at)?.1)
    }

    /// Whether there is such a key.
    #[must_use]
    pub fn contains_key(&self, key: &K) -> bool {
        self.place(key).is_ok()
    }

    /// What lies between two keys, themselves included.
    pub fn between(&self, from: &K, to: &K) -> Iter<'_, K, V> {
        Iter {
            items: &self.items,
            walk: self.order.between(self.place(from), self.place(to)),
        }
    }

    /// Puts a value there, and gives back the one that was there before.
    pub fn insert(&mut self, key: K, value: V) -> Option<V> {
        match self.place(&key) {
            Ok(place) => {
                let at = self.order.at(place)?;
                Some(std::mem::replace(&mut self.items.get_mut(at)?.1, value))
            }
            Err(place) => {
                self.order.insert(place, self.items.len());
                self.items.push((key, value));
                None
            }
        }
    }

    /// Takes a value away.
    pub fn remove(&mut self, key: &K) -> Option<V> {
        let place = self.place(key).ok()?;
        self.take(place).map(|(_, value)| value)
    }

    /// Keeps what is to be kept.
    pub fn retain(&mut self, mut kept: impl FnMut(&K, &mut V) -> bool) {
        let mut items = std::mem::take(self).into_iter();
        *self = items
            .by_ref()
            .filter_map(|(key, mut value)| kept(&key, &mut value).then_some((key, value)))
            .collect();
    }

    /// The place of a key.
    pub const fn entry(&mut self, key: K) -> Entry<'_, K, V> {
        Entry { map: self, key }
    }
}

/// The place of a key, where there may be something.
#[derive(Debug)]
pub struct Entry<'a, K, V> {
    map: &'a mut Map<K, V>,
    key: K,
}

impl<'a, K: Ord, V> Entry<'a, K, V> {
    /// What is there; if there is nothing, what is made now.
    pub fn or_insert_with(self, make: impl FnOnce() -> V) -> &'a mut V {
        let map = self.map;
        let at = match map.place(&self.key) {
            Ok(place) => map.order.at(place).unwrap_or_default(),
            Err(place) => {
                map.order.insert(place, map.items.len());
                map.items.push((self.key, make()));
                map.items.len() - 1
            }
        };
        &mut map.items[at].1
    }

    /// What is there; if there is nothing, this.
    pub fn or_insert(self, value: V) -> &'a mut V {
        self.or_insert_with(|| value)
    }

    /// What is there; if there is nothing, the default.
    pub fn or_default(self) -> &'a mut V
    where
        V: Default,
    {
        self.or_insert_with(V::default)
    }
}

/// Items in order, by reference.
#[derive(Debug)]
pub struct Iter<'a, K, V> {
    items: &'a [(K, V)],
    walk: Walk<'a>,
}

impl<'a, K, V> Iterator for Iter<'a, K, V> {
    type Item = (&'a K, &'a V);

    fn next(&mut self) -> Option<Self::Item> {
        let (key, value) = self.items.get(self.walk.next()?)?;
        Some((key, value))
    }
}

impl<'a, K, V> IntoIterator for &'a Map<K, V> {
    type Item = (&'a K, &'a V);
    type IntoIter = Iter<'a, K, V>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl<K, V> IntoIterator for Map<K, V> {
    type Item = (K, V);
    type IntoIter = std::vec::IntoIter<(K, V)>;

    fn into_iter(mut self) -> Self::IntoIter {
        for (one, other) in self.order.swaps() {
            self.items.swap(one, other);
        }
        self.items.into_iter()
    }
}

impl<K: Ord, V> Extend<(K, V)> for Map<K, V> {
    fn extend<I: IntoIterator<Item = (K, V)>>(&mut self, items: I) {
        for (key, value) in items {
            self.insert(key, value);
        }
    }
}

impl<K: Ord, V> FromIterator<(K, V)> for Map<K, V> {
    fn from_iter<I: IntoIterator<Item = (K, V)>>(items: I) -> Self {
        let mut map = Self::new();
        map.extend(items);
        map
    }
}

impl<K: PartialEq, V: PartialEq> PartialEq for Map<K, V> {
    fn eq(&self, other: &Self) -> bool {
        self.iter().eq(other)
    }
}

impl<K: Eq, V: Eq> Eq for Map<K, V> {}

impl<K: fmt::Debug, V: fmt::Debug> fmt::Debug for Map<K, V> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_map().entries(self).finish()
    }
}

impl<K: Serialize, V: Serialize> Serialize for Map<K, V> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self)
    }
}

impl<'de, K: Ord + Deserialize<'de>, V: Deserialize<'de>> Deserialize<'de> for Map<K, V> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let read = std::collections::BTreeMap::deserialize(deserializer)?;
        Ok(read.into_iter().collect())
    }
}

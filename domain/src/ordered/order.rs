//! The order of items, whatever they are: their numbers, sorted, in pieces that are short enough to be added to.

use std::cmp::Ordering;

/// A piece that grows beyond this is parted.
const MOST: usize = 512;

/// Which piece, and where in it. Behind everything is the end of the last piece.
pub(super) type Place = (usize, usize);

/// Numbers of items in the order of the items.
#[derive(Clone, Debug)]
pub(super) struct Order {
    pieces: Vec<Vec<usize>>,
}

impl Order {
    pub(super) const fn new() -> Self {
        Self { pieces: Vec::new() }
    }

    /// Where an item is, or where it would be; `against` says how a known one compares with it.
    pub(super) fn find(&self, against: &mut dyn FnMut(usize) -> Ordering) -> Result<Place, Place> {
        let before = |piece: &Vec<usize>| piece.last().is_some_and(|last| against(*last) == Ordering::Less);
        let piece = self.pieces.partition_point(before);
        let Some(items) = self.pieces.get(piece) else {
            return Err(self.end());
        };
        match items.binary_search_by(|at| against(*at)) {
            Ok(at) => Ok((piece, at)),
            Err(at) => Err((piece, at)),
        }
    }

    /// The number of the item at a place.
    pub(super) fn at(&self, place: Place) -> Option<usize> {
        self.pieces.get(place.0)?.get(place.1).copied()
    }

    pub(super) fn insert(&mut self, place: Place, item: usize) {
        let Some(piece) = self.pieces.get_mut(place.0) else {
            self.pieces.push(vec![item]);
            return;
        };
        piece.insert(place.1, item);
        if piece.len() > MOST {
            let rest = piece.split_off(MOST / 2);
            self.pieces.insert(place.0 + 1, rest);
        }
    }

    /// Takes away what is at a place and gives back its number, which the item with the last number gets.
    pub(super) fn remove(&mut self, place: Place, last: usize) -> Option<usize> {
        let piece = self.pieces.get_mut(place.0)?;
        if place.1 >= piece.len() {
            return None;
        }
        let removed = piece.remove(place.1);
        if piece.is_empty() {
            self.pieces.remove(place.0);
        }
        if let Some(moved) = self.pieces.iter_mut().flatten().find(|item| **item == last) {
            *moved = removed;
        }
        Some(removed)
    }

    /// Everything.
    pub(super) fn all(&self) -> Walk<'_> {
        self.walk((0, 0), self.end())
    }

    /// What lies between two finds, themselves included.
    pub(super) fn between(&self, from: Result<Place, Place>, to: Result<Place, Place>) -> Walk<'_> {
        let (Ok(from) | Err(from)) = from;
        let to = match to {
            Ok(to) => self.after(to),
            Err(to) => to,
        };
        self.walk(from, to)
    }

    fn walk(&self, at: Place, end: Place) -> Walk<'_> {
        Walk { order: self, at, end }
    }

    fn end(&self) -> Place {
        match self.pieces.last() {
            Some(last) => (self.pieces.len() - 1, last.len()),
            None => (0, 0),
        }
    }

    fn after(&self, (piece, at): Place) -> Place {
        let ends = self.pieces.get(piece).is_some_and(|items| at + 1 == items.len());
        if ends && piece + 1 < self.pieces.len() {
            (piece + 1, 0)
        } else {
            (piece, at + 1)
        }
    }

    /// Which items to exchange, one after the other, so that they lie in order.
    pub(super) fn swaps(&self) -> Vec<(usize, usize)> {
        let order: Vec<usize> = self.all().collect();
        let mut swaps = Vec::new();
        for at in 0..order.len() {
            // What was to come here may have been moved on by an earlier exchange.
            let mut from = order[at];
            while from < at {
                from = order[from];
            }
            if from != at {
                swaps.push((at, from));
            }
        }
        swaps
    }
}

/// Numbers in order, from one place up to another.
#[derive(Clone, Debug)]
pub(super) struct Walk<'a> {
    order: &'a Order,
    at: Place,
    end: Place,
}

impl Iterator for Walk<'_> {
    type Item = usize;

    fn next(&mut self) -> Option<usize> {
        if self.at >= self.end {
            return None;
        }
        let item = self.order.at(self.at);
        self.at = self.order.after(self.at);
        item
    }
}

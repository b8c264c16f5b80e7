//! How holds spread with the honey: every cause at once, along every way, as one bit each.
//!
//! Two bits a cause and point: may have met it, surely has. A point at which a named person ended a cause lets it
//! through no further. Loops in the ancestry come to rest, for a bit is only ever added.

use crate::ordered::Map;
use crate::trace::{Certainty, Graph, Node};

/// Which causes are where.
#[derive(Debug)]
pub(super) struct Spread {
    at: Map<Node, usize>,
    nodes: Vec<Node>,
    ways: Vec<Vec<(usize, Certainty)>>,
    words: usize,
    may: Vec<u64>,
    sure: Vec<u64>,
    ended: Map<usize, Vec<u64>>,
}

const BITS: usize = 64;

impl Spread {
    pub(super) fn over(graph: &Graph, causes: usize) -> Self {
        let mut this = Self {
            at: Map::new(),
            nodes: Vec::new(),
            ways: Vec::new(),
            words: causes.div_ceil(BITS),
            may: Vec::new(),
            sure: Vec::new(),
            ended: Map::new(),
        };
        for (from, to, certainty) in graph.ways() {
            this.way(from, to, certainty);
        }
        this
    }

    pub(super) fn way(&mut self, from: Node, to: Node, certainty: Certainty) {
        let (from, to) = (self.index(from), self.index(to));
        if let Some(ways) = self.ways.get_mut(from) {
            ways.push((to, certainty));
        }
    }

    fn index(&mut self, node: Node) -> usize {
        *self.at.entry(node).or_insert_with(|| {
            self.nodes.push(node);
            self.ways.push(Vec::new());
            self.may.resize(self.may.len() + self.words, 0);
            self.sure.resize(self.sure.len() + self.words, 0);
            self.nodes.len() - 1
        })
    }

    /// A cause is at a point by itself.
    pub(super) fn seed(&mut self, node: Node, cause: usize, certainty: Certainty) {
        let at = self.index(node) * self.words + cause / BITS;
        let bit = 1 << (cause % BITS);
        if let Some(word) = self.may.get_mut(at) {
            *word |= bit;
        }
        if certainty == Certainty::Sure
            && let Some(word) = self.sure.get_mut(at)
        {
            *word |= bit;
        }
    }

    /// A cause that comes to a point from elsewhere ends there.
    pub(super) fn end(&mut self, node: Node, cause: usize) {
        let words = self.words;
        let at = self.index(node);
        let ended = self.ended.entry(at).or_insert_with(|| vec![0; words]);
        if let Some(word) = ended.get_mut(cause / BITS) {
            *word |= 1 << (cause % BITS);
        }
    }

    /// Lets everything go its ways.
    pub(super) fn run(&mut self) {
        let words = self.words;
        let mut waiting: Vec<usize> = (0..self.nodes.len()).collect();
        while let Some(from) = waiting.pop() {
            let begin = from * words;
            let mine: Vec<(u64, u64)> = (begin..begin + words)
                .map(|at| {
                    (
                        self.may.get(at).copied().unwrap_or(0),
                        self.sure.get(at).copied().unwrap_or(0),
                    )
                })
                .collect();
            if mine.iter().all(|(may, _)| *may == 0) {
                continue;
            }
            for (to, certainty) in self.ways.get(from).cloned().unwrap_or_default() {
                let ended = self.ended.get(&to);
                let mut changed = false;
                for (word, (may, sure)) in mine.iter().enumerate() {
                    let through = !ended.and_then(|ended| ended.get(word)).copied().unwrap_or(0);
                    let sure = if certainty == Certainty::Sure {
                        sure & through
                    } else {
                        0
                    };
                    changed |= join(self.may.get_mut(to * words + word), may & through);
                    changed |= join(self.sure.get_mut(to * words + word), sure);
                }
                if changed {
                    waiting.push(to);
                }
            }
        }
    }

    /// The causes at a point.
    pub(super) fn causes_at(&self, node: Node) -> Vec<(usize, Certainty)> {
        let Some(at) = self.at.get(&node) else {
            return Vec::new();
        };
        let mut causes = Vec::new();
        for word in 0..self.words {
            let read = |bits: &[u64]| bits.get(at * self.words + word).copied().unwrap_or(0);
            let (mut may, sure) = (read(&self.may), read(&self.sure));
            while may != 0 {
                let bit = may.trailing_zeros() as usize;
                let certainty = if sure >> bit & 1 == 1 {
                    Certainty::Sure
                } else {
                    Certainty::Possible
                };
                causes.push((word * BITS + bit, certainty));
                may &= may - 1;
            }
        }
        causes
    }

    /// The points at which each cause is, read off once for all.
    pub(super) fn by_cause(&self, causes: usize) -> Vec<Vec<(Node, Certainty)>> {
        let mut points = vec![Vec::new(); causes];
        for node in &self.nodes {
            for (cause, certainty) in self.causes_at(*node) {
                if let Some(of_cause) = points.get_mut(cause) {
                    of_cause.push((*node, certainty));
                }
            }
        }
        points
    }

    /// The points at which one cause is.
    pub(super) fn nodes_of(&self, cause: usize) -> impl Iterator<Item = (Node, Certainty)> {
        let bit = 1_u64 << (cause % BITS);
        self.nodes.iter().enumerate().filter_map(move |(at, node)| {
            let at = at * self.words + cause / BITS;
            let has = |bits: &[u64]| bits.get(at).is_some_and(|word| word & bit != 0);
            let certainty = if has(&self.sure) {
                Certainty::Sure
            } else {
                Certainty::Possible
            };
            has(&self.may).then_some((*node, certainty))
        })
    }
}

fn join(word: Option<&mut u64>, bits: u64) -> bool {
    word.is_some_and(|word| {
        let new = bits & !*word != 0;
        *word |= bits;
        new
    })
}

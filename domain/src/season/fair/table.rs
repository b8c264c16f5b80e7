//! What was given, by row and block, and which rows stood together.

use nalgebra::DMatrix;

use super::{Ask, Gave, Row};
use crate::season::figure::WhyNoRange;
use crate::season::float;

/// Counts and sums by row and block, blocks and rows without honey left out.
pub(super) struct Table {
    pub(super) n: DMatrix<f64>,
    pub(super) kg: DMatrix<f64>,
    pub(super) gave: Vec<Gave>,
    counts: Vec<usize>,
}

impl Table {
    pub(super) fn of(ask: Ask, gave: &[Gave]) -> Self {
        let mut in_block = vec![0_i64; ask.blocks];
        let mut in_row = vec![0_i64; ask.rows];
        let mut counts = vec![0; ask.rows];
        for one in gave {
            if let Some(sum) = in_block.get_mut(one.block) {
                *sum += one.grams;
            }
            if let Some(sum) = in_row.get_mut(one.row) {
                *sum += one.grams;
            }
            if let Some(count) = counts.get_mut(one.row) {
                *count += 1;
            }
        }
        let has = |sums: &[i64], at: usize| sums.get(at).is_some_and(|sum| *sum > 0);
        let gave: Vec<Gave> = gave
            .iter()
            .filter(|one| has(&in_block, one.block) && has(&in_row, one.row))
            .copied()
            .collect();
        let (mut n, mut kg) = (
            DMatrix::zeros(ask.rows, ask.blocks),
            DMatrix::zeros(ask.rows, ask.blocks),
        );
        for one in &gave {
            n[(one.row, one.block)] += 1.0;
            kg[(one.row, one.block)] += float(one.grams) / 1000.0;
        }
        Self { n, kg, gave, counts }
    }

    pub(super) fn untold(&self, row: usize) -> Row {
        let n = self.counts.get(row).copied().unwrap_or_default();
        let has_honey = self.gave.iter().any(|one| one.row == row);
        Row {
            n,
            factor: None,
            range: None,
            guess: None,
            places: None,
            why: (!has_honey).then_some(if n == 0 {
                WhyNoRange::TooFew
            } else {
                WhyNoRange::NoneMadeHoney
            }),
        }
    }

    /// Rows that stood together, directly or by way of others; each part by itself.
    pub(super) fn parts(&self) -> Vec<Vec<usize>> {
        let mut part_of: Vec<Option<usize>> = vec![None; self.n.nrows()];
        let mut parts: Vec<Vec<usize>> = Vec::new();
        for first in 0..self.n.nrows() {
            if part_of.get(first).copied().flatten().is_some() || self.n.row(first).sum() == 0.0 {
                continue;
            }
            let at = parts.len();
            let (mut part, mut waiting) = (Vec::new(), vec![first]);
            if let Some(of) = part_of.get_mut(first) {
                *of = Some(at);
            }
            while let Some(row) = waiting.pop() {
                part.push(row);
                for block in (0..self.n.ncols()).filter(|block| self.n[(row, *block)] > 0.0) {
                    for other in 0..self.n.nrows() {
                        if self.n[(other, block)] > 0.0
                            && let Some(of @ None) = part_of.get_mut(other)
                        {
                            *of = Some(at);
                            waiting.push(other);
                        }
                    }
                }
            }
            part.sort_unstable();
            parts.push(part);
        }
        parts
    }
}

//! The fit of rows that stood together, and what it lets be said.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::table::Table;
use super::{Ask, DRAWN_BY, Fair, Of, Pair};
use crate::season::figure::WhyNoRange;
use crate::season::{float, student_t};

/// Rounds after which nothing will come to rest.
const ROUNDS: usize = 10_000;
/// How little a factor may still move.
const AT_REST: f64 = 1e-12;
/// A factor beyond this, or its inverse, is no factor.
const FURTHEST: f64 = 50.0;

/// One connected part, fitted.
pub(super) struct Fitted<'a> {
    rows: &'a [usize],
    pub(super) factors: Vec<f64>,
    dispersion: f64,
    df: f64,
    laplacian: DMatrix<f64>,
    inverse: DMatrix<f64>,
}

impl<'a> Fitted<'a> {
    pub(super) fn of(table: &Table, rows: &'a [usize]) -> Option<Self> {
        let blocks: Vec<usize> = (0..table.n.ncols())
            .filter(|block| rows.iter().any(|row| table.n[(*row, *block)] > 0.0))
            .collect();
        let n = DMatrix::from_fn(rows.len(), blocks.len(), |i, j| cell(&table.n, rows, &blocks, i, j));
        let kg = DMatrix::from_fn(rows.len(), blocks.len(), |i, j| cell(&table.kg, rows, &blocks, i, j));
        let (factors, means) = rest(&n, &kg)?;
        let mut squares = 0.0;
        let mut count = 0_usize;
        for one in &table.gave {
            let (Some(i), Some(j)) = (
                rows.iter().position(|row| *row == one.row),
                blocks.iter().position(|block| *block == one.block),
            ) else {
                continue;
            };
            let expected = factors.get(i)? * means.get(j)?;
            let off = float(one.grams) / 1000.0 / expected - 1.0;
            squares += off * off;
            count += 1;
        }
        let size = |len: usize| float(i64::try_from(len).unwrap_or(i64::MAX));
        let df = size(count) - size(rows.len()) - size(blocks.len()) + 1.0;
        let laplacian = DMatrix::from_fn(rows.len(), rows.len(), |i, k| {
            let shared: f64 = (0..blocks.len())
                .map(|j| n[(i, j)] * n[(k, j)] / n.column(j).sum())
                .sum();
            if i == k { n.row(i).sum() - shared } else { -shared }
        });
        let even = DMatrix::from_element(rows.len(), rows.len(), 1.0 / size(rows.len()));
        let inverse = Cholesky::<f64, Dyn>::new(&laplacian + &even)?.inverse() - even;
        Some(Self {
            rows,
            factors,
            dispersion: if df > 0.0 { squares / df } else { f64::NAN },
            df,
            laplacian,
            inverse,
        })
    }

    fn variance(&self, i: usize, k: usize) -> f64 {
        if i == k {
            self.inverse[(i, i)]
        } else {
            self.inverse[(i, i)] + self.inverse[(k, k)] - 2.0 * self.inverse[(i, k)]
        }
    }

    /// Best guesses, drawn to 1 by as much as [`DRAWN_BY`] colonies (AN-6).
    pub(super) fn guesses(&self, alike: f64, drawn_by: f64) -> Option<Vec<f64>> {
        let known = &self.laplacian / alike;
        let logs = DVector::from_iterator(self.factors.len(), self.factors.iter().map(|f| libm::log(*f)));
        let drawn = &known + DMatrix::identity(self.factors.len(), self.factors.len()) * drawn_by;
        let solved = Cholesky::<f64, Dyn>::new(drawn)?.solve(&(known * logs));
        Some(solved.iter().map(|u| libm::exp(*u)).collect())
    }

    /// Half the width of a range, on logarithms.
    fn half(&self, t: f64, alike: f64, i: usize, k: usize) -> f64 {
        t * libm::sqrt(self.dispersion * alike * self.variance(i, k))
    }

    /// The quantile for one of so many comparisons made at once; nothing where too little is known.
    fn quantile(&self, of: Of, comparisons: usize) -> Option<f64> {
        let p = 1.0 - 0.025 / size(comparisons);
        student_t(p, self.df).filter(|_| self.df >= of.df_least())
    }

    /// Every two rows of this part.
    fn pairs(&self, ask: Ask) -> Vec<Pair> {
        let known: Vec<(usize, f64)> = self.rows.iter().copied().zip(self.factors.iter().copied()).collect();
        let count = known.len();
        let joint = self.quantile(ask.of, count * (count - 1) / 2);
        let mut pairs = Vec::new();
        for (i, (one, f)) in known.iter().enumerate() {
            for (k, (other, g)) in known.iter().enumerate().skip(i + 1) {
                let n = 2.0 / self.variance(i, k);
                let told = joint.filter(|_| ask.of.are_enough(n));
                pairs.push(Pair {
                    one: *one,
                    other: *other,
                    ratio: f / g,
                    range: told.map(|t| around(f / g, self.half(t, ask.alike, i, k))),
                    n,
                });
            }
        }
        pairs
    }

    pub(super) fn tell(&self, ask: Ask, answer: &mut Fair) {
        let pairs = self.pairs(ask);
        let single = self.quantile(ask.of, 1);
        let guesses = self.guesses(ask.alike, DRAWN_BY);
        for (i, (row, factor)) in self.rows.iter().zip(&self.factors).enumerate() {
            let Some(shown) = answer.rows.get_mut(*row) else {
                continue;
            };
            let told = single.filter(|_| ask.of.are_enough(size(shown.n)));
            shown.factor = Some(*factor);
            shown.range = told.map(|t| around(*factor, self.half(t, ask.alike, i, i)));
            shown.guess = guesses.as_ref().and_then(|guesses| guesses.get(i).copied());
            shown.why = told.is_none().then_some(WhyNoRange::TooFew);
            let surely = |more: bool| {
                pairs
                    .iter()
                    .filter(|pair| surely_more(pair, *row) == Some(more))
                    .count()
            };
            shown.places = told.map(|_| (1 + surely(false), self.rows.len() - surely(true)));
        }
        answer.pairs.extend(pairs);
        answer.dispersion = Some(self.dispersion);
        answer.df = Some(self.df);
    }
}

fn size(len: usize) -> f64 {
    float(i64::try_from(len).unwrap_or(i64::MAX))
}

/// Whether a row surely gave more than the other of a pair, or surely less.
fn surely_more(pair: &Pair, row: usize) -> Option<bool> {
    if !pair.told_apart() || (pair.one != row && pair.other != row) {
        return None;
    }
    Some((pair.ratio > 1.0) == (pair.one == row))
}

fn around(value: f64, half: f64) -> (f64, f64) {
    (value * libm::exp(-half), value * libm::exp(half))
}

fn cell(of: &DMatrix<f64>, rows: &[usize], blocks: &[usize], i: usize, j: usize) -> f64 {
    match (rows.get(i), blocks.get(j)) {
        (Some(row), Some(block)) => of[(*row, *block)],
        _ => 0.0,
    }
}

/// Factors of rows (their geometric mean 1) and means of blocks, once nothing moves any more; nothing if a factor runs
/// away, which colonies without honey can bring about.
fn rest(n: &DMatrix<f64>, kg: &DMatrix<f64>) -> Option<(Vec<f64>, Vec<f64>)> {
    let mut factors = vec![1.0_f64; n.nrows()];
    for _ in 0..ROUNDS {
        let means: Vec<f64> = (0..n.ncols())
            .map(|j| factors.iter().enumerate().map(|(i, f)| kg[(i, j)] / f).sum::<f64>() / n.column(j).sum())
            .collect();
        let mut next: Vec<f64> = (0..n.nrows())
            .map(|i| {
                let freed = means.iter().enumerate().map(|(j, b)| kg[(i, j)] / b);
                freed.sum::<f64>() / n.row(i).sum()
            })
            .collect();
        let mean_log = next.iter().map(|f| libm::log(*f)).sum::<f64>() / size(next.len());
        let middle = libm::exp(mean_log);
        for f in &mut next {
            *f /= middle;
        }
        if next
            .iter()
            .any(|f| !f.is_finite() || *f > FURTHEST || *f < 1.0 / FURTHEST)
        {
            return None;
        }
        let moved = factors
            .iter()
            .zip(&next)
            .map(|(before, after)| (before - after).abs())
            .fold(0.0, f64::max);
        factors = next;
        if moved < AT_REST {
            let means = (0..n.ncols())
                .map(|j| factors.iter().enumerate().map(|(i, f)| kg[(i, j)] / f).sum::<f64>() / n.column(j).sum())
                .collect();
            return Some((factors, means));
        }
    }
    None
}

//! How far kilograms may be off by weighing alone: two standard deviations, from what was weighed in each run.

use std::collections::BTreeMap;

use super::gathered::Gathered;
use super::weighed::{Share, share_off_g, sum_off_g};
use super::{float, whole};
use crate::allocation::{Allocation, BoxClass};
use crate::balance::RunWeights;
use crate::extraction::Run;
use crate::ids::SuperId;
use crate::yields::{Portion, Spun};

/// What a box holds when full: the middle of typical full weights (WT-4) less the usual tare (WT-2), to half a
/// kilogram. A design choice.
const fn full_g(class: BoxClass) -> i64 {
    match class {
        BoxClass::Deep => 28_500,
        BoxClass::Medium => 15_500,
        BoxClass::Shallow => 9_500,
    }
}

/// How far the shares that are asked about may be off, over all runs of a season, in grams; nothing where there is no
/// honey.
pub(super) fn shares_off_g(gathered: &Gathered<'_>, asked: impl Fn(&Portion) -> bool) -> Option<i64> {
    let mut squares = 0.0;
    let mut any = false;
    for run in &gathered.runs {
        if !run.portions.iter().any(|portion| portion.grams > 0 && asked(portion)) {
            continue;
        }
        for of in &run.allocations {
            let shares = shares(gathered, run, of, &asked);
            if shares.iter().any(|share| share.asked) {
                let off = share_off_g(of.method, of.pot_g.get(), pot_off_g(run.run), &shares)?;
                squares += float(off) * float(off);
                any = true;
            }
        }
    }
    if any { whole(2.0 * libm::sqrt(squares)) } else { None }
}

/// The honey of each super of a run. Of a super that is shared, the part asked about is a share of its own.
fn shares(gathered: &Gathered<'_>, run: &Spun<'_>, of: &Allocation, asked: &impl Fn(&Portion) -> bool) -> Vec<Share> {
    let nets: BTreeMap<SuperId, (Option<i64>, i64)> = of
        .shares
        .iter()
        .map(|share| (share.super_id, (share.net_g, share.share_g.get())))
        .collect();
    let of_portion = |portion: &Portion| {
        let id = portion.super_id?;
        let (net_g, share_g) = *nets.get(&id)?;
        let class = gathered
            .house
            .honey_super(id)
            .and_then(|state| state.class)
            .unwrap_or(BoxClass::Medium);
        // Frames and even shares weigh nothing: the share of the pot stands for it.
        let net_g = match net_g {
            Some(net_g) if share_g > 0 => part_of(net_g.max(0), portion.grams, share_g),
            Some(net_g) => net_g.max(0),
            None => portion.grams,
        };
        Some(Share {
            asked: asked(portion),
            net_g,
            class,
            full_g: full_g(class),
        })
    };
    run.portions.iter().filter_map(of_portion).collect()
}

fn part_of(net_g: i64, part_g: i64, whole_g: i64) -> i64 {
    whole(float(net_g) * float(part_g) / float(whole_g)).unwrap_or_default()
}

/// How far what ran out of a run may be off: each container and each weighing of cappings.
fn pot_off_g(run: &Run) -> i64 {
    sum_off_g(run.fills.len() + run.cappings.len(), &[]).unwrap_or_default()
}

/// How far the unexplained rest of a run may be off: every super weighed twice, every container, cappings and wax, and
/// what was left in the machine, which is estimated. Two standard deviations.
pub(super) fn rest_off_g(run: &Run, weights: &RunWeights) -> Option<i64> {
    let weighings = 2 * run.supers.len() + run.fills.len() + 2 * run.cappings.len();
    let estimates: Vec<i64> = weights.left_in_machine_g.into_iter().collect();
    sum_off_g(weighings, &estimates)?.checked_mul(2)
}

/// Several rests, which are off independently of each other.
pub(super) fn together_g(offs: &[i64]) -> Option<i64> {
    let squares: f64 = offs.iter().map(|off| float(*off) * float(*off)).sum();
    whole(libm::sqrt(squares))
}

/// How many grams of some shares are no better known than even shares of a run (letter D), in whole per cent.
pub(super) fn even_shares_percent<'a>(portions: impl Iterator<Item = &'a Portion>) -> i64 {
    let (mut even, mut all) = (0_i64, 0_i64);
    for portion in portions {
        all += portion.grams;
        if portion.yard_method == crate::allocation::Method::D {
            even += portion.grams;
        }
    }
    if all > 0 { even * 100 / all } else { 0 }
}

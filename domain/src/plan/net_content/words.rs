//! The verdicts in sentences, and what to do about them.

use super::judge::{Batch, tell, up};
use super::{ContentPoint, PointChecked, Scheme, Shown};
use crate::plan::Reason;

/// Five jars at the start, in the middle and at the end (NC-3).
pub(super) const FIRST_CHECK: usize = 15;

/// Grams with one decimal, from milligrams, rounded down.
fn grams(milligrams: i64) -> String {
    let tenths = milligrams.div_euclid(100);
    format!("{}.{} g", tenths.div_euclid(10), tenths.rem_euclid(10))
}

/// Why a rule has its verdict.
pub(super) fn point(batch: &Batch<'_>, point: ContentPoint, shown: Shown) -> Reason {
    let weighed = batch.tenths_g.len();
    let of = if batch.whole_batch() {
        format!("of all {weighed} jars")
    } else {
        format!("of {weighed} jars weighed, out of {},", batch.jars)
    };
    let known = match shown {
        Shown::Pass => "which keeps the rule",
        Shown::NotShown => "which shows neither that the batch keeps the rule nor that it breaks it",
        Shown::Fail => "which breaks the rule",
    };
    let limits = &batch.limits;
    let counted = |code: &str, rule: &str, limit_mg: i64, allowed: &str| {
        let below = batch.below(limit_mg);
        let sentence = format!("{below} {of} lie below {}, {known}: {allowed} may", grams(limit_mg));
        Reason::new(code, rule, sentence)
            .with("below_jars", tell(below))
            .with("limit_mg", limit_mg)
    };
    match point {
        ContentPoint::NoneBelowNominal => counted("below_nominal", "NC-3", limits.nominal_mg, "none"),
        ContentPoint::NoneBelowSecond => counted("below_second", "NC-1", limits.second_mg.unwrap_or(0), "none"),
        ContentPoint::FewBelowFirst => {
            let allowed = limits.share_per_mille.map_or_else(
                || "as many as the lot check bears".to_owned(),
                |share| format!("{}.{} %", share / 10, share % 10),
            );
            counted("below_first", "NC-1", limits.first_mg.unwrap_or(0), &allowed)
        }
        ContentPoint::SingleJar => {
            let sentence = "the limit for the single jar (maximum allowable variation) was not verified and is not judged here; \
                look it up in the handbook in force";
            Reason::new("single_jar_not_verified", "NC-1", sentence)
        }
        ContentPoint::Mean => mean(batch, &of, known),
    }
}

fn mean(batch: &Batch<'_>, of: &str, known: &str) -> Reason {
    let sum_mg: i64 = batch.tenths_g.iter().sum::<i64>() * 100;
    let mean_mg = sum_mg.div_euclid(tell(batch.tenths_g.len()));
    let sentence = format!(
        "the mean {of} is {} against {} declared, {known}",
        grams(mean_mg),
        grams(batch.limits.nominal_mg)
    );
    let mut reason = Reason::new("mean", "NC-1", sentence)
        .with("mean_mg", mean_mg)
        .with("nominal_mg", batch.limits.nominal_mg);
    if let (false, Some((mean, spread)), Some(factor)) = (batch.whole_batch(), batch.spread, batch.authority_factor()) {
        // Rounded down: what an authority would compare with the declaration.
        reason = reason.with(
            "tested_mean_hundredths_g",
            libm::floor((mean + factor * spread) * 100.0) as i64,
        );
    }
    reason
}

/// What to do, the most urgent first.
pub(super) fn to_do(batch: &Batch<'_>, points: &[PointChecked]) -> Vec<Reason> {
    let shown = |point: ContentPoint| {
        points
            .iter()
            .find(|checked| checked.point == point)
            .map(|checked| checked.shown)
    };
    let fails = |point| shown(point) == Some(Shown::Fail);
    let mut to_do = Vec::new();
    let far_below = batch.limits.second_mg.map_or(0, |second| batch.below(second));
    if far_below > 0 {
        let sentence = "take out every jar below the second limit and weigh the whole batch: none of it may be sold so";
        to_do.push(Reason::new("take_out", "NC-1", sentence).with("below_second_jars", tell(far_below)));
    }
    if fails(ContentPoint::NoneBelowNominal) {
        let sentence = "weigh every jar and top up those below what is declared";
        to_do.push(Reason::new("top_up_jars", "NC-3", sentence));
    }
    if fails(ContentPoint::FewBelowFirst) {
        let sentence = "weigh every jar, and top up or take out those below the first limit";
        to_do.push(Reason::new("sort", "NC-1", sentence));
    }
    let short_mg = batch.limits.nominal_mg * tell(batch.tenths_g.len()) - batch.tenths_g.iter().sum::<i64>() * 100;
    if short_mg > 0 && batch.scheme != Scheme::Minimum {
        let short_tenths = up(short_mg as f64 / (100.0 * batch.tenths_g.len() as f64));
        let sentence = format!(
            "top up by {} a jar at least and weigh again, or declare less",
            grams(short_tenths * 100)
        );
        to_do.push(Reason::new("top_up", "NC-1", sentence).with("short_tenths_g", short_tenths));
    } else if points
        .iter()
        .any(|point| point.shown == Shown::NotShown && point.point != ContentPoint::SingleJar)
    {
        let jars = batch.jars_to_show();
        let sentence = if jars >= batch.jars {
            format!("weigh all {} jars: no smaller number would show it", batch.jars)
        } else {
            format!("weigh more: {jars} jars would show it if they are like these")
        };
        to_do.push(Reason::new("weigh_more", "NC-3", sentence).with("weigh_jars", tell(jars)));
    }
    if batch.scheme == Scheme::Usa {
        let sentence =
            "look up the maximum allowable variation of this size in NIST Handbook 133 and compare the lightest jar";
        to_do.push(Reason::new("look_up", "NC-1", sentence));
    }
    to_do
}

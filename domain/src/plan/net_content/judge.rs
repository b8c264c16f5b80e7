//! The verdict rule by rule.

use super::limits::{Limits, limits};
use super::tables::{canadian, sampled};
use super::{
    CONFIDENCE, ContentAsked, ContentCheckRefused, ContentChecked, ContentPoint, PointChecked, SCALE_STEP, Scheme,
    Shown, words,
};
use crate::net_content::NetContentRefused;
use crate::plan::student::{chance_of_at_least, first as least_that, mean_and_spread, mean_factor, t, whole};
use crate::units::{Grams, PerMille, TenthsGrams};

/// How sure an authority's test is before it fails a batch: the factors of both plans are those of 99.5 %.
const AUTHORITY: f64 = 0.995;
/// More than this no jar holds, tenths of a gram.
const HEAVIEST_TENTHS_G: i64 = 1_000_000;

/// Judges the weights of full jars.
///
/// # Errors
/// [`ContentCheckRefused`].
pub fn check_net_content(asked: ContentAsked) -> Result<ContentChecked, ContentCheckRefused> {
    let weighed = asked.net_tenths_g.len();
    let jars = asked.jars.get();
    if weighed == 0 {
        return Err(ContentCheckRefused::NothingWeighed);
    }
    if usize::try_from(jars).unwrap_or(0) < weighed {
        return Err(ContentCheckRefused::MoreThanThereAre { weighed, jars });
    }
    let odd = |(_, tenths): &(usize, &i64)| !(1..=HEAVIEST_TENTHS_G).contains(*tenths);
    if let Some((at, tenths_g)) = asked.net_tenths_g.iter().enumerate().find(odd) {
        return Err(ContentCheckRefused::NoWeight {
            place: at + 1,
            tenths_g: *tenths_g,
        });
    }
    let batch = Batch::of(&asked)?;
    let points = batch.points();
    let verdict = points.iter().map(|point| point.shown).max().unwrap_or(Shown::NotShown);
    let sum: i64 = asked.net_tenths_g.iter().sum();
    let below = |limit: Option<i64>| limit.map(|limit| tell(batch.below(limit)));
    Ok(ContentChecked {
        verdict,
        weighed: tell(weighed),
        whole_batch: batch.whole_batch(),
        mean_hundredths_g: (sum * 10).div_euclid(tell(weighed)),
        spread_hundredths_g: batch.spread.map(|(_, spread)| up(spread * 100.0)),
        below_nominal: tell(batch.below(batch.limits.nominal_mg)),
        below_first: below(batch.limits.first_mg),
        below_second: below(batch.limits.second_mg),
        official_sample_jars: sampled(asked.scheme, batch.jars).map(|plan| tell(plan.weigh)),
        relabel_g: relabel(&asked, verdict, sum),
        to_do: words::to_do(&batch, &points),
        points,
    })
}

/// The greatest declaration down to four fifths of the present one that would pass.
fn relabel(asked: &ContentAsked, verdict: Shown, sum: i64) -> Option<i64> {
    if verdict == Shown::Pass || asked.scheme == Scheme::Usa {
        return None;
    }
    let mean_g = sum / (10 * tell(asked.net_tenths_g.len()));
    let most = mean_g.min(asked.nominal_g.get() - 1);
    let passes = |nominal_g: i64| {
        let Ok(nominal_g) = Grams::new(nominal_g) else {
            return false;
        };
        let other = ContentAsked {
            nominal_g,
            ..asked.clone()
        };
        Batch::of(&other).is_ok_and(|batch| batch.points().iter().all(|point| point.shown == Shown::Pass))
    };
    // The less is declared, the more passes: limits rise with the pack.
    let (mut holds, mut fails) = ((asked.nominal_g.get() * 4 + 4) / 5, most + 1);
    if holds > most || !passes(holds) {
        return None;
    }
    while fails - holds > 1 {
        let middle = holds + (fails - holds) / 2;
        if passes(middle) {
            holds = middle;
        } else {
            fails = middle;
        }
    }
    Some(holds)
}

/// A batch as far as it was weighed.
pub(super) struct Batch<'a> {
    pub(super) scheme: Scheme,
    pub(super) limits: Limits,
    pub(super) tenths_g: &'a [i64],
    pub(super) jars: usize,
    /// Mean and standard deviation, grams.
    pub(super) spread: Option<(f64, f64)>,
    /// The least spread that the scale can show, grams.
    least_spread: f64,
    confidence: f64,
}

impl<'a> Batch<'a> {
    fn of(asked: &'a ContentAsked) -> Result<Self, ContentCheckRefused> {
        let per_mille = asked.confidence_per_mille.unwrap_or(CONFIDENCE);
        let limits = limits(asked.scheme, asked.nominal_g).map_err(|refused| match refused {
            NetContentRefused::OutsideAverageSystem { nominal_g } => ContentCheckRefused::OutsideScheme { nominal_g },
            NetContentRefused::NothingWeighed => ContentCheckRefused::NothingWeighed,
        })?;
        if limits.nominal_mg == 0 {
            return Err(ContentCheckRefused::OutsideScheme { nominal_g: 0 });
        }
        let step = asked.scale_step_tenths_g.unwrap_or(SCALE_STEP);
        Ok(Self {
            scheme: asked.scheme,
            limits,
            tenths_g: &asked.net_tenths_g,
            jars: usize::try_from(asked.jars.get()).unwrap_or(0),
            spread: mean_and_spread(&asked.net_tenths_g),
            least_spread: least_spread(step),
            confidence: confidence(per_mille)?,
        })
    }

    pub(super) const fn whole_batch(&self) -> bool {
        self.tenths_g.len() == self.jars
    }

    pub(super) fn below(&self, limit_mg: i64) -> usize {
        self.tenths_g.iter().filter(|tenths| **tenths * 100 < limit_mg).count()
    }

    fn nominal(&self) -> f64 {
        self.limits.nominal_mg as f64 / 1_000.0
    }

    pub(super) fn points(&self) -> Vec<PointChecked> {
        let mut points = Vec::new();
        let mut add = |point, shown| {
            let reason = words::point(self, point, shown);
            points.push(PointChecked { point, shown, reason });
        };
        if self.scheme == Scheme::Minimum {
            add(ContentPoint::NoneBelowNominal, self.none_below_nominal());
            return points;
        }
        if let Some(second) = self.limits.second_mg {
            add(ContentPoint::NoneBelowSecond, self.none_below_second(second));
        }
        if let Some(first) = self.limits.first_mg {
            add(ContentPoint::FewBelowFirst, self.few_below_first(first));
        }
        add(ContentPoint::Mean, self.mean());
        if self.scheme == Scheme::Usa {
            add(ContentPoint::SingleJar, Shown::NotShown);
        }
        points
    }

    /// Whether as many jars were weighed as Canada's lot check asks for.
    fn lot_checked(&self) -> bool {
        self.scheme == Scheme::Canada
            && sampled(self.scheme, self.jars).is_some_and(|plan| self.tenths_g.len() >= plan.weigh)
    }

    fn mean(&self) -> Shown {
        let weighed = self.tenths_g.len();
        let enough = self.tenths_g.iter().sum::<i64>() * 100 >= self.limits.nominal_mg * tell(weighed);
        if self.whole_batch() {
            return if enough { Shown::Pass } else { Shown::Fail };
        }
        let Some((mean, spread)) = self.spread else {
            return Shown::NotShown;
        };
        if self
            .authority_factor()
            .is_some_and(|factor| mean + factor * spread < self.nominal())
        {
            Shown::Fail
        } else if enough && (self.lot_checked() || self.mean_shown(mean, spread, weighed)) {
            Shown::Pass
        } else {
            Shown::NotShown
        }
    }

    /// The factor by which an authority would add the spread to the mean before it compares: printed, else reckoned.
    pub(super) fn authority_factor(&self) -> Option<f64> {
        let weighed = self.tenths_g.len();
        let printed = match self.scheme {
            Scheme::Canada => Some(canadian(weighed).0),
            _ => sampled(self.scheme, self.jars)
                .filter(|plan| plan.weigh == weighed)
                .and_then(|plan| plan.factor),
        };
        printed.or_else(|| mean_factor(AUTHORITY, weighed))
    }

    fn mean_shown(&self, mean: f64, spread: f64, jars: usize) -> bool {
        mean_factor(self.confidence, jars)
            .is_some_and(|factor| mean - factor * spread.max(self.least_spread) >= self.nominal())
    }

    fn few_below_first(&self, first_mg: i64) -> Shown {
        let (weighed, below) = (self.tenths_g.len(), self.below(first_mg));
        let Some(share) = self.limits.share_per_mille else {
            return match (below >= canadian(weighed).1, self.lot_checked()) {
                (true, _) => Shown::Fail,
                (false, true) => Shown::Pass,
                (false, false) => Shown::NotShown,
            };
        };
        if self.whole_batch() {
            let kept = tell(below) * 1_000 <= tell(weighed) * share;
            return if kept { Shown::Pass } else { Shown::Fail };
        }
        let allowed = share as f64 / 1_000.0;
        let plan = sampled(self.scheme, self.jars).filter(|plan| plan.weigh == weighed);
        let fails = plan.and_then(|plan| plan.bad_fails).map_or_else(
            || below > 0 && chance_of_at_least(below, allowed, weighed) <= 1.0 - AUTHORITY,
            |bad| below >= bad,
        );
        if fails {
            Shown::Fail
        } else if below == 0 && self.next_above(first_mg, 1.0 - allowed, weighed) {
            Shown::Pass
        } else {
            Shown::NotShown
        }
    }

    fn none_below_second(&self, second_mg: i64) -> Shown {
        let fails_from = if self.scheme == Scheme::Canada { 2 } else { 1 };
        match self.below(second_mg) {
            below if below >= fails_from => Shown::Fail,
            0 if self.lot_checked() || self.rest_above(second_mg, self.tenths_g.len()) => Shown::Pass,
            _ => Shown::NotShown,
        }
    }

    fn none_below_nominal(&self) -> Shown {
        match self.below(self.limits.nominal_mg) {
            0 if self.rest_above(self.limits.nominal_mg, self.tenths_g.len()) => Shown::Pass,
            0 => Shown::NotShown,
            _ => Shown::Fail,
        }
    }

    /// Whether a jar not weighed lies above a limit with a chance `p`: the prediction for one more of a normal sample.
    fn next_above(&self, limit_mg: i64, p: f64, jars: usize) -> bool {
        let (Some((mean, spread)), Some(t)) = (self.spread, t(p, jars)) else {
            return false;
        };
        let reach = t * spread.max(self.least_spread) * libm::sqrt(1.0 + 1.0 / whole(jars));
        mean - reach >= limit_mg as f64 / 1_000.0
    }

    /// Whether all jars not weighed lie above a limit with the confidence asked: the doubt is shared out among them.
    fn rest_above(&self, limit_mg: i64, jars: usize) -> bool {
        let rest = self.jars.saturating_sub(jars);
        rest == 0 || self.next_above(limit_mg, 1.0 - (1.0 - self.confidence) / whole(rest), jars)
    }

    /// The fewest jars which, weighing on as so far, would show every rule; the whole batch where no sample would.
    pub(super) fn jars_to_show(&self) -> usize {
        let Some((mean, spread)) = self.spread else {
            return self.jars.min(super::words::FIRST_CHECK);
        };
        let shows = |jars: usize| {
            let first = self.limits.first_mg.zip(self.limits.share_per_mille);
            let official = if self.scheme == Scheme::Canada {
                sampled(self.scheme, self.jars).map_or(0, |plan| plan.weigh)
            } else {
                0
            };
            if self.scheme == Scheme::Canada {
                return jars >= official;
            }
            let nominal = self.limits.nominal_mg;
            match self.scheme {
                Scheme::Minimum => self.rest_above(nominal, jars),
                _ => {
                    self.mean_shown(mean, spread, jars)
                        && first.is_none_or(|(limit, share)| self.next_above(limit, 1.0 - share as f64 / 1_000.0, jars))
                        && self.limits.second_mg.is_none_or(|limit| self.rest_above(limit, jars))
                }
            }
        };
        least_that(self.tenths_g.len() + 1, self.jars, shows).min(self.jars)
    }
}

/// A scale that shows whole steps hides a spread of a step over the root of twelve.
pub(crate) fn least_spread(step: TenthsGrams) -> f64 {
    step.get() as f64 / 10.0 / libm::sqrt(12.0)
}

pub(crate) fn confidence(per_mille: PerMille) -> Result<f64, ContentCheckRefused> {
    let per_mille = per_mille.get();
    if (500..=999).contains(&per_mille) {
        Ok(per_mille as f64 / 1_000.0)
    } else {
        Err(ContentCheckRefused::Confidence { per_mille })
    }
}

pub(super) fn tell(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

/// To the next whole number up; a billionth above one is noise of the arithmetic.
pub(crate) fn up(value: f64) -> i64 {
    libm::ceil(value - 1e-9) as i64
}

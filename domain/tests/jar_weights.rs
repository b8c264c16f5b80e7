//! Verdicts on the weights of jars against the same reckoned here a second time, out of the formulas alone.
//!
//! The bounds are those of one more, or of the mean, of a sample from a normal distribution, as textbooks give them;
//! Student's t comes from the same library. Printed factors: Safe Food for Canadians Regulations, schedule 5, and
//! Fertigpackungsverordnung, annex 3, both read. Weights are made up.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

use domain::plan::net_content::{ContentAsked, ContentChecked, ContentPoint, Scheme, Shown, check_net_content};
use domain::units::{Count, Grams};
use proptest::prelude::*;
use statrs::distribution::{ContinuousCDF, StudentsT};

fn checked(scheme: Scheme, nominal_g: i64, jars: usize, net_tenths_g: &[i64]) -> ContentChecked {
    check_net_content(ContentAsked {
        scheme,
        nominal_g: Grams::new(nominal_g).unwrap(),
        jars: Count::new(i64::try_from(jars).unwrap()).unwrap(),
        net_tenths_g: net_tenths_g.to_vec(),
        scale_step_tenths_g: None,
        confidence_per_mille: None,
    })
    .unwrap()
}

fn shown(checked: &ContentChecked, point: ContentPoint) -> Option<Shown> {
    checked
        .points
        .iter()
        .find(|one| one.point == point)
        .map(|one| one.shown)
}

fn figure(checked: &ContentChecked, reason: &str, name: &str) -> Option<i64> {
    let reasons = checked.to_do.iter().chain(checked.points.iter().map(|one| &one.reason));
    let reason = reasons.into_iter().find(|one| one.code == reason)?;
    Some(reason.figures.iter().find(|figure| figure.name == name)?.value)
}

/// A sample as the formulas see it, in grams.
struct Sample {
    mean: f64,
    spread: f64,
    jars: usize,
}

impl Sample {
    fn of(net_tenths_g: &[i64], jars: usize) -> Self {
        let grams: Vec<f64> = net_tenths_g.iter().map(|tenths| *tenths as f64 / 10.0).collect();
        let count = grams.len() as f64;
        let mean = grams.iter().sum::<f64>() / count;
        let squares: f64 = grams.iter().map(|gram| (gram - mean).powi(2)).sum();
        Self {
            mean,
            spread: (squares / (count - 1.0)).sqrt(),
            jars,
        }
    }

    /// A scale of whole grams hides a spread of a gram over the root of twelve.
    fn seen(&self) -> f64 {
        self.spread.max(1.0 / 12_f64.sqrt())
    }

    /// Rounded up at the sixth decimal, never in the packer's favour.
    fn t(p: f64, weighed: usize) -> f64 {
        let t = StudentsT::new(0.0, 1.0, weighed as f64 - 1.0).unwrap().inverse_cdf(p);
        (t * 1e6).ceil() / 1e6
    }

    /// The mean of the batch reaches this with 95 %.
    fn mean_reaches(&self, weighed: usize, nominal: f64) -> bool {
        self.mean - Self::t(0.95, weighed) * self.seen() / (weighed as f64).sqrt() >= nominal
    }

    /// One more jar lies above this with a chance `p`.
    fn next_above(&self, p: f64, weighed: usize, limit: f64) -> bool {
        self.mean - Self::t(p, weighed) * self.seen() * (1.0 + 1.0 / weighed as f64).sqrt() >= limit
    }

    /// All jars that were not weighed lie above this with 95 %: each has its part of the 5 %.
    fn rest_above(&self, weighed: usize, limit: f64) -> bool {
        let rest = self.jars - weighed;
        rest == 0 || self.next_above(1.0 - 0.05 / rest as f64, weighed, limit)
    }

    /// The United Kingdom's rules for 500 g: T1 485 g for all but 2.5 %, T2 470 g.
    fn uk(&self, weighed: usize) -> [bool; 3] {
        [
            self.mean_reaches(weighed, 500.0),
            self.next_above(0.975, weighed, 485.0),
            self.rest_above(weighed, 470.0),
        ]
    }
}

fn pass_if(is: bool) -> Option<Shown> {
    Some(if is { Shown::Pass } else { Shown::NotShown })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_000))]

    #[test]
    fn what_a_sample_shows_is_what_the_formulas_say(
        middle in 5_000_i64..5_200, off in prop::collection::vec(-150_i64..150, 4..30), more in 1_usize..600,
    ) {
        let net: Vec<i64> = off.iter().map(|off| middle + off).collect();
        let (weighed, jars) = (net.len(), net.len() + more);
        prop_assume!(net.iter().sum::<i64>() >= 5_000 * i64::try_from(weighed).unwrap());
        prop_assume!(net.iter().all(|tenths| *tenths >= 4_850));
        let sample = Sample::of(&net, jars);
        let uk = checked(Scheme::Uk, 500, jars, &net);
        let [mean, first, second] = sample.uk(weighed);
        prop_assert_eq!(shown(&uk, ContentPoint::Mean), pass_if(mean));
        prop_assert_eq!(shown(&uk, ContentPoint::FewBelowFirst), pass_if(first));
        prop_assert_eq!(shown(&uk, ContentPoint::NoneBelowSecond), pass_if(second));
        let enough = (weighed + 1..jars).find(|weighed| sample.uk(*weighed).iter().all(|shown| *shown)).unwrap_or(jars);
        let told = (!(mean && first && second)).then(|| i64::try_from(enough).unwrap());
        prop_assert_eq!(figure(&uk, "weigh_more", "weigh_jars"), told);
        // Under the minimum rule every jar has to reach 480 g.
        let minimum = checked(Scheme::Minimum, 480, jars, &net);
        let none_short = sample.rest_above(weighed, 480.0);
        prop_assert_eq!(shown(&minimum, ContentPoint::NoneBelowNominal), pass_if(none_short));
        let enough = (weighed + 1..jars).find(|weighed| sample.rest_above(*weighed, 480.0)).unwrap_or(jars);
        let told = (!none_short).then(|| i64::try_from(enough).unwrap());
        prop_assert_eq!(figure(&minimum, "weigh_more", "weigh_jars"), told);
    }

    /// Every declaration is tried, one by one.
    #[test]
    fn what_is_to_be_declared_instead_is_the_greatest_that_passes(
        nominal_g in 5_i64..300, percent in 60_i64..101, off in prop::collection::vec(-3_i64..4, 1..12), more in 0_usize..40,
    ) {
        let net: Vec<i64> = off.iter().map(|off| (nominal_g * percent / 10 + off).max(1)).collect();
        let jars = net.len() + more;
        for scheme in [Scheme::Eu, Scheme::Uk, Scheme::Canada, Scheme::Minimum] {
            let now = checked(scheme, nominal_g, jars, &net);
            let passes = |less: &i64| {
                let asked = ContentAsked {
                    scheme,
                    nominal_g: Grams::new(*less).unwrap(),
                    jars: Count::new(i64::try_from(jars).unwrap()).unwrap(),
                    net_tenths_g: net.clone(),
                    scale_step_tenths_g: None,
                    confidence_per_mille: None,
                };
                check_net_content(asked).is_ok_and(|checked| checked.verdict == Shown::Pass)
            };
            let expected = if now.verdict == Shown::Pass {
                None
            } else {
                (1..nominal_g).rev().filter(|less| less * 5 >= nominal_g * 4).find(passes)
            };
            prop_assert_eq!(now.relabel_g, expected, "{:?}", scheme);
        }
    }
}

/// The mean that an authority would compare with the declaration, hundredths of a gram.
fn tested_mean(scheme: Scheme, jars: usize, net: &[i64]) -> i64 {
    figure(&checked(scheme, 500, jars, net), "mean", "tested_mean_hundredths_g").unwrap()
}

#[test]
fn an_authoritys_factor_is_the_printed_one_where_there_is_one() {
    let eleven: Vec<i64> = (0..11).map(|at| 4_900 + 25 * at).collect();
    let sample = Sample::of(&eleven, 40);
    let with = |factor: f64| ((sample.mean + factor * sample.spread) * 100.0).floor() as i64;
    // Canada prints none for 11: that of 12 counts, 0.897.
    assert_eq!(tested_mean(Scheme::Canada, 40, &eleven), with(0.897));
    // Germany prints 0.379 for 50 of 200. Whoever weighs another number is held to t(0.995) over its root.
    let t = Sample::t(0.995, 11) / 11_f64.sqrt();
    assert_eq!(tested_mean(Scheme::Eu, 200, &eleven), with(t));
    assert_eq!(with(t) - with(0.379), 478);
}

#[test]
fn three_jars_do_not_show_that_none_lies_below_the_second_limit() {
    let three = checked(Scheme::Eu, 500, 1_000, &[5_100, 4_900, 5_010]);
    assert_eq!(shown(&three, ContentPoint::NoneBelowSecond), Some(Shown::NotShown));
}

#[test]
fn canadas_lot_check_asks_for_its_own_number_of_jars() {
    // Schedule 4: 32 of a lot of 129 to 4,000.
    let five = [5_010, 5_020, 5_000, 5_030, 5_010];
    assert_eq!(
        figure(&checked(Scheme::Canada, 500, 129, &five), "weigh_more", "weigh_jars"),
        Some(32)
    );
}

#[test]
fn five_grams_may_be_declared_as_four() {
    // The least that is looked at, four fifths, is the most that the mean allows.
    let light = checked(Scheme::Minimum, 5, 3, &[48, 48, 49]);
    assert_eq!((light.verdict, light.relabel_g), (Shown::Fail, Some(4)));
}

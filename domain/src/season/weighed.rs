//! What the letter of the method is worth in kilograms: how far a share of a run, or what is left unexplained, may be
//! off by weighing alone. Measured kilograms are never changed to close a balance.

use super::{float, whole};
use crate::allocation::{BoxClass, Method};

/// How far the honey of a super may be off, as a standard deviation (design choices, held against weighings).
const WEIGHED_TWICE_G: f64 = 100.0;
const WEIGHED_ONCE_G: f64 = 400.0;
const FRAMES_OF_A_MEDIUM_G: f64 = 1_600.0;
/// Other boxes: this part of a full box.
const FRAMES_OF_OTHERS: f64 = 0.10;
/// Of the mean of the run's supers, where each is taken to be as full as the others.
const SHARED_EVENLY: f64 = 0.25;
/// One weighing.
const WEIGHING_G: f64 = 60.0;
/// Of something estimated and not weighed.
const ESTIMATE: f64 = 0.20;

/// The honey of one super of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Share {
    /// Whether it belongs to what is asked about: the hive, the yard.
    pub asked: bool,
    /// What it gave, by the method of the run.
    pub net_g: i64,
    /// The box.
    pub class: BoxClass,
    /// What such a box holds when full.
    pub full_g: i64,
}

/// How far what a super gave may be off, in grams.
fn of_super(method: Method, share: &Share, mean_g: f64) -> f64 {
    match (method, share.class) {
        (Method::A, _) => WEIGHED_TWICE_G,
        (Method::B, _) => WEIGHED_ONCE_G,
        (Method::C, BoxClass::Medium) => FRAMES_OF_A_MEDIUM_G,
        (Method::C, _) => FRAMES_OF_OTHERS * float(share.full_g),
        (Method::D, _) => SHARED_EVENLY * mean_g,
    }
}

/// How far what a hive or yard got of a run may be off, as a standard deviation in grams: through the pot, and through
/// every super's own honey. `pot_off_g` is how far the pot itself may be off. Nothing for a run without honey.
#[must_use]
pub fn share_off_g(method: Method, pot_g: i64, pot_off_g: i64, shares: &[Share]) -> Option<i64> {
    let sum: i64 = shares.iter().map(|share| share.net_g).sum();
    if sum <= 0 {
        return None;
    }
    let asked: i64 = shares.iter().filter(|share| share.asked).map(|share| share.net_g).sum();
    let w = float(asked) / float(sum);
    let mean = float(sum) / float(i64::try_from(shares.len()).ok()?);
    let squares = |of_asked: bool| -> f64 {
        let those = shares.iter().filter(|share| share.asked == of_asked);
        those.map(|share| of_super(method, share, mean)).map(|u| u * u).sum()
    };
    let (inside, outside) = (squares(true), squares(false));
    let pot = w * float(pot_off_g);
    let scale = float(pot_g) / float(sum);
    let shared = scale * scale * ((1.0 - w) * (1.0 - w) * inside + w * w * outside);
    whole(libm::sqrt(pot * pot + shared))
}

/// How far a sum of weighings and estimates may be off, as a standard deviation in grams.
#[must_use]
pub fn sum_off_g(weighings: usize, estimates_g: &[i64]) -> Option<i64> {
    let weighed = float(i64::try_from(weighings).ok()?) * WEIGHING_G * WEIGHING_G;
    let estimated: f64 = estimates_g.iter().map(|g| ESTIMATE * float(*g)).map(|u| u * u).sum();
    whole(libm::sqrt(weighed + estimated))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The six supers of the worked run: yard, hive and what each gave by weighing in and out.
    const NETS: [(bool, bool, i64); 6] = [
        (true, true, 13_300),
        (true, true, 11_900),
        (true, false, 14_400),
        (false, false, 12_100),
        (false, false, 8_500),
        (false, false, 10_600),
    ];

    fn shares(nets: [i64; 6], of_yard: bool) -> Vec<Share> {
        let each = NETS.iter().zip(nets).map(|((yard, hive, _), net_g)| Share {
            asked: if of_yard { *yard } else { *hive },
            net_g,
            class: BoxClass::Medium,
            full_g: 16_000,
        });
        each.collect()
    }

    /// V14: Python package `uncertainties`.
    #[test]
    fn a_share_is_off_by_what_the_method_lets_it() {
        let weighed = NETS.map(|(_, _, net)| net);
        let frames = [9, 8, 9, 8, 6, 7].map(|full| full * 70_800 / 47);
        let even = [11_800; 6];
        for (method, nets, hive, yard, within) in [
            (Method::A, weighed, 117, 135, 1),
            (Method::B, weighed, 440, 472, 2),
            (Method::C, frames, 1_750, 1_870, 10),
            (Method::D, even, 3_220, 3_420, 10),
        ] {
            for (of_yard, expected) in [(false, hive), (true, yard)] {
                let off = share_off_g(method, 67_000, 120, &shares(nets, of_yard)).unwrap();
                assert!((off - expected).abs() <= within, "{method:?} {of_yard}: {off}");
            }
        }
    }

    /// A run of one yard shares nothing: only the pot is in doubt. Yard and rest are off by the same.
    #[test]
    fn the_whole_is_off_by_its_pot() {
        let mut all = shares(NETS.map(|(_, _, net)| net), true);
        let yard = share_off_g(Method::A, 67_000, 0, &all);
        for share in &mut all {
            share.asked = !share.asked;
        }
        assert_eq!(share_off_g(Method::A, 67_000, 0, &all), yard);
        for share in &mut all {
            share.asked = true;
        }
        assert_eq!(share_off_g(Method::A, 67_000, 120, &all), Some(120));
        assert_eq!(share_off_g(Method::A, 67_000, 0, &all), Some(0));
        assert_eq!(share_off_g(Method::A, 67_000, 0, &[]), None);
    }

    /// V15: twelve weighings of supers, three fills, cappings and wax, and 1.5 kg estimated in the machine.
    #[test]
    fn what_is_unexplained_may_be_weighing() {
        assert!((sum_off_g(17, &[1_500]).unwrap() - 390).abs() <= 5);
        assert_eq!(sum_off_g(0, &[]), Some(0));
        assert_eq!(sum_off_g(1, &[]), Some(60));
    }
}

//! What can hurt somebody, said at that moment and no longer than it has to be (SF-1).
//!
//! Each can be put aside by the person who reads it. They defer to local codes, to the maker's manual and to licensed
//! practice, and replace none of them. Not here: when each is shown, which the decisions and the pages know.

use serde::Serialize;

/// A moment at which somebody can be hurt.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Moment {
    /// A box is lifted (WT-5).
    Lift,
    /// A hive is opened.
    Bees,
    /// A repellent is used to clear supers.
    Repellent,
    /// A smoker burns.
    Smoker,
    /// Cells are opened by knife, plane or heat.
    Knife,
    /// An extractor turns.
    Extractor,
    /// Wax is melted.
    Wax,
    /// A warm room, dryer or dehumidifier runs.
    Heat,
    /// Glass broke.
    Glass,
    /// A jar is labelled or sold.
    Infants,
    /// Medicine is handled.
    Medicine,
}

impl Moment {
    /// Every moment.
    pub const ALL: &'static [Self] = &[
        Self::Lift,
        Self::Bees,
        Self::Repellent,
        Self::Smoker,
        Self::Knife,
        Self::Extractor,
        Self::Wax,
        Self::Heat,
        Self::Glass,
        Self::Infants,
        Self::Medicine,
    ];

    /// What to heed.
    #[must_use]
    pub const fn heed(self) -> &'static str {
        match self {
            Self::Lift => "Heavy: lift with two people or a lifter, load near the body, back straight.",
            Self::Bees => "Stings can kill: veil and gloves on, not alone, know where help is and how long it takes.",
            Self::Repellent => {
                "Keep the repellent's own range of warmth, out of reach of flame, eyes and skin; its label rules."
            }
            Self::Smoker => {
                "Look for a fire ban first. Never set a lit smoker down in dry grass; put it out in the end."
            }
            Self::Knife => "Sharp and hot: cut away from the hand, switch off before cleaning, dry hands at the plug.",
            Self::Extractor => {
                "Lid closed while it turns, no hand in before it stands still, sleeves and hair tied back; balance the \
                 frames. The maker's manual rules."
            }
            Self::Wax => "Wax burns: melt it over water, never on an open flame, never alone; no water on burning wax.",
            Self::Heat => "Heaters and dryers as their makers say: free air around them, no cable under combs.",
            Self::Glass => {
                "Hold the whole filling, throw the neighbours away, clean with gloves, write down who did what."
            }
            Self::Infants => "Not for infants under 12 months.",
            Self::Medicine => {
                "The label and the veterinarian rule: gloves, mask where it says so, dose and season as printed."
            }
        }
    }

    /// The same with whom it defers to.
    #[must_use]
    pub fn told(self) -> String {
        format!("{} {DEFERS}", self.heed())
    }
}

/// Who has the last word.
pub const DEFERS: &str = "Local codes, the maker's manual and licensed practice come first.";

#[cfg(test)]
mod tests {
    use super::*;

    /// SF-1: a caution for each place where the trade has one, short, and never the last word. That honey is not for
    /// infants under 12 months: public health advice of many countries; the rest common practice, no source.
    #[test]
    fn every_moment_has_a_short_caution_that_defers() {
        for moment in Moment::ALL {
            assert!(
                (20..=170).contains(&moment.heed().len()),
                "{moment:?}: {}",
                moment.heed().len()
            );
            assert!(moment.told().ends_with(DEFERS));
        }
        assert!(Moment::Infants.heed().contains("12 months"));
        assert!(Moment::Extractor.heed().contains("stands still"));
    }
}

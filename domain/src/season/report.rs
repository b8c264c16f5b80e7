//! The questions about a season by name, what each is answered from, and the answer.

use super::answer::Answer;
use crate::house::House;
use crate::subject::SubjectKind;

macro_rules! reports {
    ($($(#[$doc:meta])* $report:ident $name:literal;)*) => {
        /// What is asked.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Report {
            $($(#[$doc])* $report,)*
        }

        impl Report {
            /// All of them.
            pub const ALL: &'static [Self] = &[$(Self::$report),*];

            /// The name, as in a path.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$report => $name,)* }
            }
        }
    };
}

reports! {
    /// What the yards yielded.
    Yards "yards";
    /// Which colony gave what.
    Colonies "colonies";
    /// Where the honey went.
    Balance "balance";
    /// What a kilogram cost.
    Costs "costs";
    /// What water cost.
    Moisture "moisture";
    /// When the honey came in.
    Harvest "harvest";
    /// Boxes and jars next year.
    Forecast "forecast";
    /// Beside the state's years.
    Context "context";
    /// Yards freed of good and bad years.
    YardFactors "yard-factors";
    /// Queen lines side by side.
    QueenLines "queen-lines";
}

impl Report {
    /// The report of that name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|report| report.name() == name)
    }

    /// Whether it is about several seasons, from the first to the last.
    #[must_use]
    pub const fn is_of_seasons(self) -> bool {
        matches!(self, Self::YardFactors | Self::QueenLines)
    }

    /// Whether only those who may read prices may ask.
    #[must_use]
    pub const fn tells_prices(self) -> bool {
        matches!(self, Self::Costs)
    }

    /// The kinds of thing that have to be at hand. What is not among them is not looked at.
    #[must_use]
    pub const fn needs(self) -> &'static [SubjectKind] {
        use SubjectKind::{Batch, Books, Colony, Fill, Hive, Lot, Run, Scale, Settings, Super, Yard};
        match self {
            Self::Costs | Self::Moisture => &[Books, Colony, Fill, Hive, Run, Scale, Settings, Super, Yard],
            Self::Balance => &[Batch, Colony, Fill, Hive, Lot, Run, Scale, Settings, Super, Yard],
            _ => &[Colony, Fill, Hive, Run, Scale, Settings, Super, Yard],
        }
    }

    /// The answer, for one season or from the first to the last. Of a report on one season only the last counts.
    #[must_use]
    pub fn answer(self, house: &House, from: i32, to: i32) -> Answer {
        match self {
            Self::Yards => super::yards(house, to),
            Self::Colonies => super::colonies(house, to),
            Self::Balance => super::fates(house, to),
            Self::Costs => super::costs(house, to),
            Self::Moisture => super::moisture(house, to),
            Self::Harvest => super::harvest(house, to),
            Self::Forecast => super::next_year(house, to),
            Self::Context => super::context(house, to),
            Self::YardFactors => super::yard_factors(house, from, to),
            Self::QueenLines => super::queen_lines(house, from, to),
        }
    }
}

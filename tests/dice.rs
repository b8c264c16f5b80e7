//! Chance that can be repeated: a seed, printed when something fails, and numbers that follow from it.

/// A source of numbers.
#[derive(Debug, Clone)]
pub struct Dice {
    seed: u64,
    state: u64,
}

impl Dice {
    /// The dice of a seed.
    #[must_use]
    pub const fn new(seed: u64) -> Self {
        Self { seed, state: seed }
    }

    /// Seeded by this variable, else by chance.
    #[must_use]
    pub fn from_env(variable: &str) -> Self {
        let told = std::env::var(variable).ok().and_then(|seed| seed.parse().ok());
        Self::new(told.unwrap_or_else(|| uuid::Uuid::new_v4().as_u64_pair().0))
    }

    /// What to run again with.
    #[must_use]
    pub const fn seed(&self) -> u64 {
        self.seed
    }

    /// A number below a bound, which is not 0 (SplitMix64: G. L. Steele, D. Lea, C. H. Flood, 2014).
    pub fn below(&mut self, bound: usize) -> usize {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.state;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^= mixed >> 31;
        usize::try_from(mixed % u64::try_from(bound.max(1)).unwrap_or(1)).unwrap_or_default()
    }
}

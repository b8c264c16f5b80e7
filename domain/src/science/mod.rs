//! What physics knows about honey, as formulas with their sources.
//!
//! This is the only room of the trade where fractions are reckoned with. Whole numbers come in, whole numbers go
//! out, and in between nothing is rounded. Logarithms and powers come from `libm`, so that the service and the
//! phone agree to the last bit. Which value decides about a lot is not here but beside the lot.

pub mod air;
pub mod balance;
pub mod colour;
pub mod customary;
pub mod density;
pub mod drying;
pub mod fermentation;
pub mod frost;
pub mod heat;
pub mod moisture;
mod number;
pub mod rise;
pub mod sampling;
pub mod sieve;
pub mod sources;
pub mod span;
pub mod spin;
pub mod viscosity;

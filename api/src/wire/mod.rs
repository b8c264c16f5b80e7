//! How entries and states travel: reading what devices send, writing what they are sent.
//!
//! No SQL and no rule of the trade belongs here.

pub(crate) mod downloads;
pub mod envelope;
pub mod office;
pub mod seasons;
pub mod sync;

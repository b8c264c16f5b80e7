//! The states that follow from entries: folding them when entries arrive, and reading them.
//!
//! A state's `changed_seq` is the number of the newest entry linked to it. That follows from the ledger alone, so a
//! rebuild finds the same; a row whose state came out as before is stamped all the same.

mod fold;
pub mod read;
pub(crate) mod snapshots;

pub(crate) use fold::{Changes, KeptStates, StateRow, drop_parts, fold_anew, new_parts};

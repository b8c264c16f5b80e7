//! The ledger: taking the turn, adding entries, and what else may be asked of what was added.
//!
//! Entries come from phones ([`push`](fn@push)) or from the office ([`Turn::append`]); both ways end in the same code.
//! What follows from entries is in `projections`; how they travel is in `wire`.

mod add;
mod clocks;
mod corrections;
mod cursor;
pub(crate) mod dead_letters;
pub(crate) mod doubts;
mod erase;
mod hand_in;
pub(crate) mod hash;
mod keep_states;
pub(crate) mod lanes;
mod new_entry;
mod push;
pub(crate) mod read;
mod seen;
pub(crate) mod sql;
pub(crate) mod steps;
pub(crate) mod stored;
mod tally;
mod together;
mod turn;
pub(crate) mod waiters;
mod written;

pub use add::{AppendRefused, Appended};
pub use clocks::HappenedSrc;
pub use cursor::{Cursor, NotACursor, Position};
pub use erase::{EraseRefused, erase};
pub use hand_in::{HandInRefused, HandedIn, hand_in};
pub use new_entry::{NewEntry, Quarantine};
pub use push::{Outcome, PushRefused, Pushed, Received, RefusedEntry, push};
pub use turn::Turn;

pub(crate) use clocks::to_micros;
pub(crate) use corrections::{Member, relate};
pub(crate) use erase::blanked;
pub(crate) use keep_states::keep_states;

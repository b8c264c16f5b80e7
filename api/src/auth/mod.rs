//! Who is it, and what may they do: passwords, tokens, sessions, devices, people.
//!
//! Credentials come in, a [`Who`] goes out. Nothing here knows of paths or statuses, and nothing here writes
//! entries. The access token is only the outer gate: role and operation are read anew in every transaction.

pub mod audit;
pub mod codes;
pub mod console;
pub mod devices;
mod enter;
pub mod keys;
pub mod members;
mod opening;
pub mod password;
pub mod refresh;
mod role;
pub mod sign_in;
pub mod token;

use sha2::{Digest, Sha256};

pub(crate) use enter::EnterRow;
pub use enter::{Bearer, DeviceState, EnterRefused, Who, enter};
pub use opening::{Door, SignedIn};
pub use role::{Right, Role};

/// A secret's or a login's fingerprint, as the database keeps it.
#[must_use]
pub fn fingerprint(bytes: &[u8]) -> Vec<u8> {
    Sha256::digest(bytes).to_vec()
}

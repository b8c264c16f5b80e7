//! The only place that asks for the time, for new identities and for randomness.
//!
//! Everything else is told. What is read here is the server's clock; the time a device saw something travels in
//! the entry itself.

use chrono::{DateTime, SubsecRound, Utc};
use domain::ids::OperationId;
use uuid::Uuid;

/// The machine could not provide randomness, so nothing secret may be made.
#[derive(Debug, thiserror::Error)]
#[error("the system has no randomness to give")]
pub struct NoRandomness(#[source] getrandom::Error);

/// The time now, cut to the microseconds that the database keeps.
#[must_use]
pub fn now() -> DateTime<Utc> {
    Utc::now().trunc_subsecs(6)
}

/// A new identity that sorts by the time it was made.
#[must_use]
pub fn new_id() -> Uuid {
    Uuid::now_v7()
}

/// A new operation's identity.
#[must_use]
pub fn new_operation_id() -> OperationId {
    OperationId::from_uuid(new_id())
}

/// Bytes that nobody can guess.
///
/// # Errors
/// When the system has no randomness to give.
pub fn random_bytes<const N: usize>() -> Result<[u8; N], NoRandomness> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(NoRandomness)?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_time_has_no_more_than_microseconds() {
        assert_eq!(now().timestamp_subsec_nanos() % 1000, 0);
    }

    #[test]
    fn randomness_differs() {
        let (a, b): ([u8; 32], [u8; 32]) = (random_bytes().unwrap(), random_bytes().unwrap());
        assert_ne!(a, b);
    }
}

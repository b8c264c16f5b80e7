//! Roles, and the one table that says what each may do.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What a member may do, from least to most in rank; the rights themselves are in [`Role::may`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Looks at everything, writes nothing.
    Viewer,
    /// Works in the yards and the honey house; sees no customers and no prices.
    Field,
    /// Keeps the books.
    Office,
    /// The same, and decides about people, keys and erasure.
    Owner,
}

/// Something that is not open to everybody who is signed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Right {
    /// Read yards, hives, supers, lots.
    Read,
    /// Read customers and prices.
    ReadCustomers,
    /// Push entries.
    Push,
    /// Office calls, ending a hold, enrolling and revoking devices.
    Office,
    /// Members, roles, erasure, export, keys.
    Owner,
}

impl Role {
    /// The table of rights.
    #[must_use]
    pub const fn may(self, right: Right) -> bool {
        match right {
            Right::Read => true,
            Right::ReadCustomers => matches!(self, Self::Viewer | Self::Office | Self::Owner),
            Right::Push => matches!(self, Self::Field | Self::Office | Self::Owner),
            Right::Office => matches!(self, Self::Office | Self::Owner),
            Right::Owner => matches!(self, Self::Owner),
        }
    }

    /// The word for it, as stored and as sent.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Viewer => "viewer",
            Self::Field => "field",
            Self::Office => "office",
            Self::Owner => "owner",
        }
    }

    /// Reads the word; anything else is none of the roles.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Viewer, Self::Field, Self::Office, Self::Owner]
            .into_iter()
            .find(|role| role.word() == word)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_the_one_in_the_security_paper() {
        use Right::{Office, Owner, Push, Read, ReadCustomers};
        let rows = [
            (Role::Viewer, vec![Read, ReadCustomers]),
            (Role::Field, vec![Read, Push]),
            (Role::Office, vec![Read, ReadCustomers, Push, Office]),
            (Role::Owner, vec![Read, ReadCustomers, Push, Office, Owner]),
        ];
        for (role, rights) in rows {
            for right in [Read, ReadCustomers, Push, Office, Owner] {
                assert_eq!(role.may(right), rights.contains(&right), "{role:?} {right:?}");
            }
        }
    }

    #[test]
    fn a_word_and_back_is_the_same_role() {
        for role in [Role::Viewer, Role::Field, Role::Office, Role::Owner] {
            assert_eq!(Role::from_word(role.word()), Some(role));
        }
        assert_eq!(Role::from_word("keeper"), None);
    }
}

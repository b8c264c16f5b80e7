//! From what the other rooms refuse to what the caller sees: a conversion each, none of them clever.

use super::problem::Problem;
use crate::auth::EnterRefused;
use crate::auth::members::MemberRefused;
use crate::auth::password::{HashRefused, PasswordRefused};
use crate::auth::sign_in::SignInRefused;
use crate::auth::token::TokenRefused;
use crate::clock::NoRandomness;
use crate::database::{DatabaseRefused, Interrupted};
use crate::photos::PhotoRefused;
use crate::wire::envelope::EnvelopeRefused;

impl From<EnvelopeRefused> for Problem {
    fn from(refused: EnvelopeRefused) -> Self {
        match refused {
            EnvelopeRefused::Malformed { detail } => Self::MalformedEnvelope { detail },
            EnvelopeRefused::BadField { pointer, detail } => Self::BadField { pointer, detail },
        }
    }
}

impl From<TokenRefused> for Problem {
    fn from(refused: TokenRefused) -> Self {
        match refused {
            TokenRefused::Expired => Self::TokenExpired,
            TokenRefused::Invalid => Self::Unauthorized,
        }
    }
}

impl From<EnterRefused> for Problem {
    fn from(refused: EnterRefused) -> Self {
        match refused {
            EnterRefused::SessionOver => Self::Unauthorized,
            EnterRefused::DeviceRevoked => Self::DeviceRevoked,
            EnterRefused::Role(_) => Self::Forbidden {
                detail: refused.to_string(),
            },
            EnterRefused::NotConfirmed => Self::ConfirmationNeeded,
            EnterRefused::Database(error) => error.into(),
        }
    }
}

impl From<SignInRefused> for Problem {
    fn from(refused: SignInRefused) -> Self {
        match refused {
            SignInRefused::Wrong => Self::WrongCredentials,
            SignInRefused::TooMany { retry_after_s } => Self::TooMany { retry_after_s },
            SignInRefused::Hash(error) => error.into(),
            SignInRefused::Enter(error) => error.into(),
            SignInRefused::Database(error) => error.into(),
            SignInRefused::Query(error) => error.into(),
            SignInRefused::NoRandomness(error) => error.into(),
            SignInRefused::Interrupted(error) => error.into(),
        }
    }
}

impl From<MemberRefused> for Problem {
    fn from(refused: MemberRefused) -> Self {
        let detail = refused.to_string();
        match refused {
            MemberRefused::LoginTaken => Self::Contradiction {
                code: "login-taken",
                detail,
            },
            MemberRefused::LastOwner => Self::Contradiction {
                code: "last-owner",
                detail,
            },
            MemberRefused::Unknown => Self::NotFound,
            MemberRefused::Changed => Self::PreconditionFailed,
            MemberRefused::Query(error) => error.into(),
        }
    }
}

impl From<PasswordRefused> for Problem {
    fn from(refused: PasswordRefused) -> Self {
        Self::BadField {
            pointer: "/password".to_owned(),
            detail: refused.to_string(),
        }
    }
}

impl From<HashRefused> for Problem {
    fn from(refused: HashRefused) -> Self {
        match refused {
            HashRefused::Busy => Self::busy(refused),
            HashRefused::Broken(_) => Self::internal(refused),
        }
    }
}

impl From<DatabaseRefused> for Problem {
    fn from(refused: DatabaseRefused) -> Self {
        Self::busy(refused)
    }
}

impl From<Interrupted> for Problem {
    fn from(interrupted: Interrupted) -> Self {
        Self::internal(interrupted)
    }
}

/// When to try a bucket again that is away, in seconds: its server may be starting.
const BUCKET_S: u32 = 30;

impl From<PhotoRefused> for Problem {
    fn from(refused: PhotoRefused) -> Self {
        let code = match refused {
            PhotoRefused::Elsewhere => return Self::PreconditionFailed,
            PhotoRefused::WrongChecksum => "wrong_checksum",
            PhotoRefused::NotAPhoto => "not_a_photo",
            PhotoRefused::TooManyPieces => "too_many_pieces",
            PhotoRefused::Disk(error) => return Self::busy(error),
            PhotoRefused::Interrupted(error) => return Self::internal(error),
            PhotoRefused::Bucket(trouble) => {
                return Self::Busy {
                    retry_after_s: BUCKET_S,
                    cause: Some(trouble.into()),
                };
            }
        };
        Self::Contradiction {
            code,
            detail: refused.to_string(),
        }
    }
}

impl From<NoRandomness> for Problem {
    fn from(error: NoRandomness) -> Self {
        Self::internal(error)
    }
}

impl From<diesel::result::Error> for Problem {
    fn from(error: diesel::result::Error) -> Self {
        if passes_by_itself(&error) {
            Self::busy(error)
        } else {
            Self::internal(error)
        }
    }
}

/// Whether trying again later may do: the database is away, full, a standby, or somebody held a lock too long.
fn passes_by_itself(error: &diesel::result::Error) -> bool {
    use diesel::result::{DatabaseErrorKind as Kind, Error};
    // diesel has no kind for these; the private server and our images speak English.
    const SIGNS: [&str; 8] = [
        "lock timeout",
        "statement timeout",
        "No space left",
        "starting up",
        "shutting down",
        "terminating connection",
        "too many connections",
        "remaining connection slots",
    ];
    match error {
        Error::BrokenTransactionManager => true,
        Error::DatabaseError(
            Kind::ClosedConnection | Kind::UnableToSendCommand | Kind::SerializationFailure | Kind::ReadOnlyTransaction,
            _,
        ) => true,
        Error::DatabaseError(_, about) => SIGNS.iter().any(|sign| about.message().contains(sign)),
        Error::RollbackErrorOnCommit {
            rollback_error,
            commit_error,
        } => passes_by_itself(rollback_error) || passes_by_itself(commit_error),
        _ => false,
    }
}

//! Everything that can go wrong, as the caller sees it: one enum, one table, one form (RFC 9457).
//!
//! A 5xx never carries our text; what lies behind it is for the log, which the request's own line writes once.

use std::error::Error as StdError;

use actix_web::http::StatusCode;
use actix_web::http::header::{ALLOW, CONTENT_TYPE, RETRY_AFTER, WWW_AUTHENTICATE};
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use serde_json::{Map, Value, json};
use utoipa::{IntoResponses, ToSchema};

/// The media type of every problem.
pub const MEDIA_TYPE: &str = "application/problem+json";
/// What 503 asks for when nothing better is known, in seconds.
const SOON_S: u32 = 2;

type Cause = Box<dyn StdError + Send + Sync>;

/// Why a request was not done.
#[derive(Debug, thiserror::Error)]
pub enum Problem {
    /// The body is not JSON, or nested too deeply.
    #[error("{detail}")]
    MalformedEnvelope {
        /// Where and why.
        detail: String,
    },
    /// A field does not read.
    #[error("{detail}")]
    BadField {
        /// Which one, as a JSON pointer.
        pointer: String,
        /// Why.
        detail: String,
    },
    /// A field that does not exist.
    #[error("this field does not exist")]
    UnknownField {
        /// Which one, as a JSON pointer.
        pointer: String,
    },
    /// No access token, or none of ours, or its session is over.
    #[error("a valid access token is needed")]
    Unauthorized,
    /// The access token was good once.
    #[error("the access token has expired")]
    TokenExpired,
    /// A login, password, code or refresh token is wrong; which is not told.
    #[error("the credentials are not good")]
    WrongCredentials,
    /// The device was revoked.
    #[error("this device was revoked")]
    DeviceRevoked,
    /// The envelope names another operation than the session's.
    #[error("the session belongs to another operation")]
    WrongOperation,
    /// The role does not include this.
    #[error("{detail}")]
    Forbidden {
        /// What is missing.
        detail: String,
    },
    /// The password was not given within the last five minutes.
    #[error("give the password again, then repeat the call")]
    ConfirmationNeeded,
    /// Absent, or somebody else's: the same answer.
    #[error("there is nothing here")]
    NotFound,
    /// The path exists, for other methods.
    #[error("this method is not offered here")]
    MethodNotAllowed {
        /// The methods that are.
        allow: String,
    },
    /// An edit without If-Match.
    #[error("an edit names the version it is based on in If-Match")]
    PreconditionRequired,
    /// Somebody was faster.
    #[error("it was changed in the meantime")]
    PreconditionFailed,
    /// What is asked contradicts what is recorded.
    #[error("{detail}")]
    Contradiction {
        /// Which contradiction, a fixed word.
        code: &'static str,
        /// In a sentence.
        detail: String,
    },
    /// The id belongs to something else.
    #[error("this id was used for something else")]
    IdReused,
    /// The ledger was restored from an older backup.
    #[error("the ledger does not know this cursor")]
    LedgerDiverged {
        /// Where to go on.
        extra: Map<String, Value>,
    },
    /// The body is too large.
    #[error("the body is larger than {limit} bytes")]
    TooLarge {
        /// How large it may be.
        limit: usize,
    },
    /// The body came too slowly.
    #[error("the body came too slowly")]
    TooSlow,
    /// The body is not JSON by its own word, or packed in an unknown way.
    #[error("{detail}")]
    UnsupportedMediaType {
        /// What is expected.
        detail: &'static str,
    },
    /// Asked too often.
    #[error("too many attempts")]
    TooMany {
        /// When to come again.
        retry_after_s: u32,
    },
    /// Not now.
    #[error("the service is busy")]
    Busy {
        /// When to come again.
        retry_after_s: u32,
        /// What lies behind it, for the log.
        #[source]
        cause: Option<Cause>,
    },
    /// A fault of ours.
    #[error("the service failed")]
    Internal(#[source] Cause),
}

impl Problem {
    /// A fault of ours, with what lies behind it.
    #[must_use]
    pub fn internal(cause: impl Into<Cause>) -> Self {
        Self::Internal(cause.into())
    }

    /// Too busy, with what lies behind it.
    #[must_use]
    pub fn busy(cause: impl Into<Cause>) -> Self {
        Self::Busy {
            retry_after_s: SOON_S,
            cause: Some(cause.into()),
        }
    }

    /// The table: which status, which word.
    #[must_use]
    pub const fn kind(&self) -> (StatusCode, &'static str) {
        match self {
            Self::MalformedEnvelope { .. } => (StatusCode::BAD_REQUEST, "malformed-envelope"),
            Self::BadField { .. } => (StatusCode::BAD_REQUEST, "bad-field"),
            Self::UnknownField { .. } => (StatusCode::BAD_REQUEST, "unknown-field"),
            Self::Unauthorized => (StatusCode::UNAUTHORIZED, "unauthorized"),
            Self::TokenExpired => (StatusCode::UNAUTHORIZED, "token-expired"),
            Self::WrongCredentials => (StatusCode::UNAUTHORIZED, "wrong-credentials"),
            Self::DeviceRevoked => (StatusCode::FORBIDDEN, "device-revoked"),
            Self::WrongOperation => (StatusCode::FORBIDDEN, "wrong-operation"),
            Self::Forbidden { .. } => (StatusCode::FORBIDDEN, "forbidden"),
            Self::ConfirmationNeeded => (StatusCode::FORBIDDEN, "confirmation-needed"),
            Self::NotFound => (StatusCode::NOT_FOUND, "not-found"),
            Self::MethodNotAllowed { .. } => (StatusCode::METHOD_NOT_ALLOWED, "method-not-allowed"),
            Self::PreconditionRequired => (StatusCode::PRECONDITION_REQUIRED, "precondition-required"),
            Self::PreconditionFailed => (StatusCode::PRECONDITION_FAILED, "precondition-failed"),
            Self::Contradiction { .. } => (StatusCode::UNPROCESSABLE_ENTITY, "contradiction"),
            Self::IdReused => (StatusCode::CONFLICT, "id-reused"),
            Self::LedgerDiverged { .. } => (StatusCode::CONFLICT, "ledger-diverged"),
            Self::TooLarge { .. } => (StatusCode::PAYLOAD_TOO_LARGE, "too-large"),
            Self::TooSlow => (StatusCode::REQUEST_TIMEOUT, "too-slow"),
            Self::UnsupportedMediaType { .. } => (StatusCode::UNSUPPORTED_MEDIA_TYPE, "unsupported-media-type"),
            Self::TooMany { .. } => (StatusCode::TOO_MANY_REQUESTS, "too-many"),
            Self::Busy { .. } => (StatusCode::SERVICE_UNAVAILABLE, "busy"),
            Self::Internal(_) => (StatusCode::INTERNAL_SERVER_ERROR, "internal"),
        }
    }

    /// The error and everything behind it, for the log.
    #[must_use]
    pub fn chain(&self) -> String {
        let mut text = self.to_string();
        let mut cause = self.source();
        while let Some(error) = cause {
            text.push_str(": ");
            text.push_str(&error.to_string());
            cause = error.source();
        }
        text
    }

    fn body(&self) -> Map<String, Value> {
        let (status, code) = self.kind();
        let mut body = Map::new();
        body.insert("type".to_owned(), json!(code));
        body.insert(
            "title".to_owned(),
            json!(status.canonical_reason().unwrap_or("Problem")),
        );
        body.insert("status".to_owned(), json!(status.as_u16()));
        if !status.is_server_error() {
            body.insert("detail".to_owned(), json!(self.to_string()));
        }
        match self {
            Self::BadField { pointer, .. } | Self::UnknownField { pointer } => {
                body.insert("pointer".to_owned(), json!(pointer));
            }
            Self::Contradiction { code, .. } => {
                body.insert("code".to_owned(), json!(code));
            }
            Self::LedgerDiverged { extra } => body.extend(extra.clone()),
            _ => {}
        }
        body
    }
}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        self.kind().0
    }

    fn error_response(&self) -> HttpResponse {
        let mut response = HttpResponse::build(self.status_code());
        response.insert_header((CONTENT_TYPE, MEDIA_TYPE));
        match self {
            Self::TooMany { retry_after_s } | Self::Busy { retry_after_s, .. } => {
                response.insert_header((RETRY_AFTER, retry_after_s.to_string()));
            }
            Self::MethodNotAllowed { allow } => {
                response.insert_header((ALLOW, allow.as_str()));
            }
            Self::Unauthorized | Self::TokenExpired => {
                response.insert_header((WWW_AUTHENTICATE, "Bearer"));
            }
            _ => {}
        }
        response.body(Value::Object(self.body()).to_string())
    }
}

/// The form of every problem, for the contract.
#[derive(Debug, Serialize, ToSchema)]
pub struct ProblemBody {
    /// Which problem, a fixed word.
    #[serde(rename = "type")]
    #[schema(example = "bad-field")]
    kind: String,
    /// The status in words.
    title: String,
    /// The status as a number.
    status: u16,
    /// What happened, in a sentence; never in a 5xx.
    #[serde(skip_serializing_if = "Option::is_none")]
    detail: Option<String>,
    /// Which field, as a JSON pointer (RFC 6901).
    #[serde(skip_serializing_if = "Option::is_none")]
    pointer: Option<String>,
    /// Which contradiction, a fixed word.
    #[serde(skip_serializing_if = "Option::is_none")]
    code: Option<String>,
}

/// The problems that any call of a signed-in caller can meet, for the contract.
#[derive(IntoResponses)]
pub enum CommonProblems {
    /// The request does not read.
    #[response(status = 400, content_type = "application/problem+json")]
    BadRequest(#[to_schema] ProblemBody),
    /// No valid access token.
    #[response(status = 401, content_type = "application/problem+json")]
    Unauthorized(#[to_schema] ProblemBody),
    /// Not with this role, device or operation, or not without the password again.
    #[response(status = 403, content_type = "application/problem+json")]
    Forbidden(#[to_schema] ProblemBody),
    /// Absent, or somebody else's.
    #[response(status = 404, content_type = "application/problem+json")]
    NotFound(#[to_schema] ProblemBody),
    /// Asked too often; see Retry-After.
    #[response(status = 429, content_type = "application/problem+json")]
    TooMany(#[to_schema] ProblemBody),
    /// A fault of the service.
    #[response(status = 500, content_type = "application/problem+json")]
    Internal(#[to_schema] ProblemBody),
    /// Busy; see Retry-After.
    #[response(status = 503, content_type = "application/problem+json")]
    Busy(#[to_schema] ProblemBody),
}

/// The problems that a call with a body can meet besides, for the contract.
#[derive(IntoResponses)]
pub enum BodyProblems {
    /// The body came too slowly: send the same again.
    #[response(status = 408, content_type = "application/problem+json")]
    TooSlow(#[to_schema] ProblemBody),
    /// The body is too large.
    #[response(status = 413, content_type = "application/problem+json")]
    TooLarge(#[to_schema] ProblemBody),
    /// The body is not JSON by its own word.
    #[response(status = 415, content_type = "application/problem+json")]
    UnsupportedMediaType(#[to_schema] ProblemBody),
    /// It contradicts what is recorded.
    #[response(status = 422, content_type = "application/problem+json")]
    Contradiction(#[to_schema] ProblemBody),
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_of_ours_says_nothing_and_logs_everything() {
        let problem = Problem::internal(std::io::Error::other("the secret name of the table"));
        let body = Value::Object(problem.body()).to_string();
        assert!(!body.contains("secret") && !body.contains("detail"), "{body}");
        assert!(problem.chain().contains("the secret name"));
    }

    #[test]
    fn a_field_is_pointed_at() {
        let problem = Problem::BadField {
            pointer: "/lots/0".to_owned(),
            detail: "too heavy".to_owned(),
        };
        assert_eq!(problem.body()["pointer"], "/lots/0");
        assert_eq!(problem.body()["type"], "bad-field");
    }

    #[test]
    fn who_is_sent_away_is_told_for_how_long() {
        let response = Problem::TooMany { retry_after_s: 7 }.error_response();
        assert_eq!(response.headers().get(RETRY_AFTER).unwrap(), "7");
        assert_eq!(response.headers().get(CONTENT_TYPE).unwrap(), MEDIA_TYPE);
    }
}

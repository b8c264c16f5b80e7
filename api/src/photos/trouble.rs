//! What a bucket said instead of doing it, in a sentence: where, what, and what to do about it.
//!
//! Answers of servers quote the request, so only their code is repeated.

use std::error::Error as StdError;
use std::time::Duration;

use object_store::Error;

/// A bucket that did not do what was asked of it.
#[derive(Debug, thiserror::Error)]
#[error("YARDJAR_PHOTOS: the bucket {bucket} cannot be {doing}: {why}{advice}")]
pub struct Trouble {
    bucket: String,
    doing: &'static str,
    why: String,
    advice: &'static str,
    pub(super) kind: Kind,
}

/// What kind of answer it was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// There is no such thing.
    NotThere,
    /// There is one already.
    AlreadyThere,
    /// The same would be refused again.
    Refused,
    /// No answer, or one that may be another later.
    Away,
}

/// Codes of answers that a person can do something about.
const ADVICE: &[(&str, &str)] = &[
    ("InvalidAccessKeyId", "look at YARDJAR_PHOTOS_KEY_ID"),
    ("NotSignedUp", "look at YARDJAR_PHOTOS_KEY_ID"),
    ("SignatureDoesNotMatch", "look at YARDJAR_PHOTOS_SECRET"),
    ("NoSuchBucket", "make the bucket, or correct its name in YARDJAR_PHOTOS"),
    ("AuthorizationHeaderMalformed", "look at region= in YARDJAR_PHOTOS"),
    ("PermanentRedirect", "look at region= in YARDJAR_PHOTOS"),
    ("RequestTimeTooSkewed", "set the clock of this machine"),
    ("AccessDenied", RIGHTS),
    ("NotImplemented", CONDITIONS),
];
const RIGHTS: &str = "the key needs the rights to put, get and delete objects and to list the bucket";
const CONDITIONS: &str = "it has to heed If-None-Match: * when an object is put";

impl Trouble {
    /// Something that is wrong without an answer saying so.
    pub(super) fn told(bucket: &str, doing: &'static str, why: impl Into<String>) -> Self {
        Self {
            bucket: bucket.to_owned(),
            doing,
            why: why.into(),
            advice: "",
            kind: Kind::Refused,
        }
    }

    /// A bucket that does not keep to what the pieces rely on.
    pub(super) fn no_conditions(bucket: &str) -> Self {
        Self::told(bucket, "used", format!("it put an object over another; {CONDITIONS}"))
    }

    pub(super) fn late(bucket: &str, doing: &'static str, patience: Duration) -> Self {
        Self {
            kind: Kind::Away,
            ..Self::told(bucket, doing, format!("no answer within {patience:?}"))
        }
    }

    pub(super) fn of(bucket: &str, doing: &'static str, error: &Error) -> Self {
        let text = error.to_string();
        let status: Option<u16> = between(&text, "status code: ", " ").and_then(|status| status.parse().ok());
        let code = between(&text, "<Code>", "</Code>");
        let advice = ADVICE
            .iter()
            .find(|(of, _)| code == Some(*of))
            .map(|(_, advice)| *advice);
        let kind = match (error, status) {
            (Error::NotFound { .. }, _) if code != Some("NoSuchBucket") => Kind::NotThere,
            (Error::AlreadyExists { .. }, _) => Kind::AlreadyThere,
            // 408 and 429 ask to come again; 501 is as final as anything below 500.
            (_, Some(408 | 429)) => Kind::Away,
            (_, Some(300..=499 | 501)) => Kind::Refused,
            _ => Kind::Away,
        };
        let advice = advice.or((status == Some(403) && code.is_none()).then_some(RIGHTS));
        Self {
            bucket: bucket.to_owned(),
            doing,
            why: match (status, code) {
                (Some(status), Some(code)) => format!("it answered {status} {code}"),
                (Some(status), None) => format!("it answered {status}"),
                (None, _) => innermost(error),
            } + if advice.is_some() { "; " } else { "" },
            advice: advice.unwrap_or_default(),
            kind,
        }
    }

    /// Whether it will be so until somebody changes something.
    #[must_use]
    pub fn is_refusal(&self) -> bool {
        self.kind != Kind::Away
    }
}

fn between<'a>(text: &'a str, start: &str, end: &str) -> Option<&'a str> {
    let (_, rest) = text.split_once(start)?;
    rest.split_once(end).map(|(found, _)| found)
}

/// What lies at the bottom of it: a name that is not known, a connection that was refused.
fn innermost(error: &Error) -> String {
    let mut inner: &dyn StdError = error;
    while let Some(source) = inner.source() {
        inner = source;
    }
    inner.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answered(text: &str) -> Trouble {
        let error = Error::Generic {
            store: "S3",
            source: text.into(),
        };
        Trouble::of("honey at http://[::1]", "written", &error)
    }

    #[test]
    fn an_answer_is_told_by_its_code_and_what_to_do() {
        let text = "Server returned non-2xx status code: 403 Forbidden: <Error><Code>SignatureDoesNotMatch</Code>\
                    <StringToSign>sting</StringToSign></Error>";
        let trouble = answered(text);
        assert_eq!(
            trouble.to_string(),
            "YARDJAR_PHOTOS: the bucket honey at http://[::1] cannot be written: it answered 403 \
             SignatureDoesNotMatch; look at YARDJAR_PHOTOS_SECRET"
        );
        assert!(trouble.is_refusal());
    }

    #[test]
    fn a_bucket_that_is_not_there_is_no_object_that_is_not_there() {
        let missing = |code: &str| Error::NotFound {
            path: "jars/1".to_owned(),
            source: format!("status code: 404 Not Found: <Error><Code>{code}</Code></Error>").into(),
        };
        let kind = |code: &str| Trouble::of("honey", "listed", &missing(code)).kind;
        assert_eq!(
            (kind("NoSuchKey"), kind("NoSuchBucket")),
            (Kind::NotThere, Kind::Refused)
        );
        let trouble = Trouble::of("honey", "listed", &missing("NoSuchBucket"));
        assert!(
            trouble
                .to_string()
                .ends_with("; make the bucket, or correct its name in YARDJAR_PHOTOS")
        );
    }

    #[test]
    fn what_may_be_well_later_is_no_refusal() {
        for (text, refusal) in [
            ("status code: 503 Slow Down", false),
            ("status code: 429 Too Many Requests", false),
            ("status code: 501 Not Implemented", true),
            ("status code: 400 Bad Request", true),
            ("Connection refused", false),
        ] {
            assert_eq!(answered(text).is_refusal(), refusal, "{text}");
        }
    }
}

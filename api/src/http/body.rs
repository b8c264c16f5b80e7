//! JSON bodies as they are read: exactly the fields that exist, and a pointer to whatever is wrong.

use std::io::Read;
use std::time::{Duration, Instant};

use actix_web::dev::Payload;
use actix_web::http::header::{CONTENT_ENCODING, CONTENT_TYPE};
use actix_web::web::{Bytes, BytesMut};
use actix_web::{FromRequest, HttpMessage, HttpRequest, web};
use futures_util::StreamExt;
use futures_util::future::LocalBoxFuture;
use serde::de::DeserializeOwned;
use serde_json::error::Category;
use uuid::Uuid;

use super::App;
use super::large::{LARGE, LargeBodies, Place};
use super::problem::Problem;
use super::session::Holder;

/// What a body may have unless its call says otherwise.
pub const SENT_MAX: usize = 256 * 1024;
/// What a body may have of somebody who is not signed in.
pub const STRANGERS_MAX: usize = 8 * 1024;
/// How deep objects and lists may be nested.
const DEPTH_MAX: usize = 32;

/// A JSON body, read strictly. `SENT` and `UNPACKED` limit its bytes before and after unpacking.
#[derive(Debug)]
pub struct Body<T, const SENT: usize = SENT_MAX, const UNPACKED: usize = SENT_MAX>(pub T);

impl<T, const SENT: usize, const UNPACKED: usize> FromRequest for Body<T, SENT, UNPACKED>
where
    T: DeserializeOwned + 'static,
{
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let (request, payload) = (request.clone(), payload.take());
        Box::pin(async move {
            let bytes = receive(&request, payload, SENT, UNPACKED).await?;
            parse(&bytes).map(Body)
        })
    }
}

/// Receives and unpacks a JSON body within limits, for calls that look at the bytes themselves.
///
/// # Errors
/// When it is not JSON by its own word, packed in an unknown way, or too large.
pub async fn receive(
    request: &HttpRequest,
    payload: Payload,
    sent_max: usize,
    unpacked_max: usize,
) -> Result<Bytes, Problem> {
    receive_as("application/json", request, payload, (sent_max, unpacked_max)).await
}

/// The same for a body of another kind.
///
/// # Errors
/// When it is of another kind by its own word, packed in an unknown way, or too large.
pub async fn receive_as(
    expected: &'static str,
    request: &HttpRequest,
    mut payload: Payload,
    (sent_max, unpacked_max): (usize, usize),
) -> Result<Bytes, Problem> {
    let told = request
        .headers()
        .get(CONTENT_TYPE)
        .map_or("", |value| value.to_str().unwrap_or(""));
    let media_type = told.split(';').next().unwrap_or("").trim();
    if !media_type.eq_ignore_ascii_case(expected) {
        return Err(Problem::UnsupportedMediaType {
            detail: if expected == "application/json" {
                "the body must be application/json"
            } else {
                "the body must be application/x-ndjson"
            },
        });
    }
    let packed = match request.headers().get(CONTENT_ENCODING).map(|value| value.as_bytes()) {
        None | Some(b"identity") => false,
        Some(b"gzip") => true,
        Some(_) => {
            return Err(Problem::UnsupportedMediaType {
                detail: "the body may be packed with gzip only",
            });
        }
    };
    let (mut sent, mut pace) = (BytesMut::new(), Pace::of(request));
    while let Some(piece) = pace.next(&mut payload).await? {
        let piece = piece.map_err(|_| Problem::MalformedEnvelope {
            detail: "the body broke off".to_owned(),
        })?;
        if sent.len() + piece.len() > sent_max {
            return Err(Problem::TooLarge { limit: sent_max });
        }
        sent.extend_from_slice(&piece);
    }
    if packed {
        unpack(&sent, unpacked_max)
    } else {
        Ok(sent.freeze())
    }
}

/// How slowly a body may come: yards are slow, and somebody who sends a byte a minute is no yard.
pub(super) struct Pace {
    began: Instant,
    bytes: usize,
    /// Whose it is, where somebody is signed in.
    whose: Option<(LargeBodies, Uuid)>,
    place: Option<Place>,
}

impl Pace {
    /// A slow beginning is forgiven.
    const GRACE: Duration = Duration::from_secs(10);
    /// From then on at least so many bytes a second.
    const BYTES_A_SECOND: u64 = 1_000;
    /// And no longer than this.
    const LONGEST: Duration = Duration::from_secs(300);

    /// A body that begins now.
    pub(super) fn of(request: &HttpRequest) -> Self {
        let app = request.app_data::<web::Data<App>>();
        let holder = request.extensions().get::<Holder>().copied();
        Self {
            began: Instant::now(),
            bytes: 0,
            whose: app.zip(holder).map(|(app, holder)| (app.large.clone(), holder.0)),
            place: None,
        }
    }

    /// When the next piece must be here.
    fn until(&self) -> Duration {
        let earned = u64::try_from(self.bytes).unwrap_or(u64::MAX) / Self::BYTES_A_SECOND;
        (Self::GRACE + Duration::from_secs(earned.min(Self::LONGEST.as_secs()))).min(Self::LONGEST)
    }

    /// The next piece, if it comes in time, and unless newer large bodies of the same device need the place.
    pub(super) async fn next<S, B, E>(&mut self, payload: &mut S) -> Result<Option<Result<B, E>>, Problem>
    where
        S: futures_util::Stream<Item = Result<B, E>> + Unpin,
        B: AsRef<[u8]>,
    {
        let left = self.until().saturating_sub(self.began.elapsed());
        let given_up = async {
            match &self.place {
                Some(place) => place.given_up().await,
                None => std::future::pending().await,
            }
        };
        let piece = tokio::select! {
            piece = payload.next() => piece,
            () = given_up => return Err(Problem::TooSlow),
            () = tokio::time::sleep(left) => return Err(Problem::TooSlow),
        };
        if let Some(Ok(piece)) = &piece {
            self.bytes += piece.as_ref().len();
        }
        if self.bytes > LARGE
            && self.place.is_none()
            && let Some((large, session)) = &self.whose
        {
            self.place = Some(large.begin(*session));
        }
        Ok(piece)
    }
}

fn unpack(sent: &[u8], limit: usize) -> Result<Bytes, Problem> {
    let mut unpacked = Vec::with_capacity(limit.min(sent.len() * 4));
    let take = u64::try_from(limit).unwrap_or(u64::MAX).saturating_add(1);
    flate2::read::GzDecoder::new(sent)
        .take(take)
        .read_to_end(&mut unpacked)
        .map_err(|_| Problem::MalformedEnvelope {
            detail: "the body does not unpack".to_owned(),
        })?;
    if unpacked.len() > limit {
        Err(Problem::TooLarge { limit })
    } else {
        Ok(Bytes::from(unpacked))
    }
}

/// Reads JSON strictly.
///
/// # Errors
/// When it is not JSON, nested too deeply, or has wrong or unknown fields.
pub fn parse<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Problem> {
    refuse_depth(bytes)?;
    let mut json = serde_json::Deserializer::from_slice(bytes);
    let mut track = serde_path_to_error::Track::new();
    let mut unknown = None;
    let read = serde_ignored::deserialize(
        serde_path_to_error::Deserializer::new(&mut json, &mut track),
        |path: serde_ignored::Path<'_>| {
            unknown.get_or_insert_with(|| ignored_pointer(&path));
        },
    );
    let value: T = read.map_err(|error| bad_field(&track.path(), &error))?;
    json.end().map_err(|error| malformed(&error))?;
    unknown.map_or(Ok(value), |pointer| Err(Problem::UnknownField { pointer }))
}

fn malformed(error: &serde_json::Error) -> Problem {
    Problem::MalformedEnvelope {
        detail: format!("the body is not JSON: line {}, column {}", error.line(), error.column()),
    }
}

fn bad_field(path: &serde_path_to_error::Path, error: &serde_json::Error) -> Problem {
    if error.classify() != Category::Data {
        return malformed(error);
    }
    let text = error.to_string();
    let detail = text.rfind(" at line ").map_or(text.as_str(), |end| &text[..end]);
    let quoted = || detail.split('`').nth(1);
    let mut pointer = path_pointer(path);
    if detail.starts_with("unknown field ") {
        // The path may or may not already end in the field's own name.
        if let Some(name) = quoted()
            .map(escaped)
            .filter(|name| !pointer.ends_with(&format!("/{name}")))
        {
            pointer = format!("{pointer}/{name}");
        }
        return Problem::UnknownField { pointer };
    }
    if let Some(name) = quoted().filter(|_| detail.starts_with("missing field ")) {
        pointer = format!("{pointer}/{}", escaped(name));
    }
    Problem::BadField {
        pointer,
        detail: detail.chars().take(200).collect(),
    }
}

fn path_pointer(path: &serde_path_to_error::Path) -> String {
    use serde_path_to_error::Segment;
    let mut pointer = String::new();
    for segment in path {
        match segment {
            Segment::Seq { index } => pointer.push_str(&format!("/{index}")),
            Segment::Map { key } => pointer.push_str(&format!("/{}", escaped(key))),
            Segment::Enum { .. } | Segment::Unknown => {}
        }
    }
    pointer
}

fn ignored_pointer(path: &serde_ignored::Path<'_>) -> String {
    use serde_ignored::Path;
    match path {
        Path::Root => String::new(),
        Path::Seq { parent, index } => format!("{}/{index}", ignored_pointer(parent)),
        Path::Map { parent, key } => format!("{}/{}", ignored_pointer(parent), escaped(key)),
        Path::Some { parent } | Path::NewtypeStruct { parent } | Path::NewtypeVariant { parent } => {
            ignored_pointer(parent)
        }
    }
}

fn escaped(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}

/// Counts nesting before anything is built from it.
fn refuse_depth(bytes: &[u8]) -> Result<(), Problem> {
    let (mut depth, mut in_text, mut escape) = (0_usize, false, false);
    for byte in bytes {
        match (in_text, byte) {
            (true, _) if escape => escape = false,
            (true, b'\\') => escape = true,
            (_, b'"') => in_text = !in_text,
            (false, b'{' | b'[') => depth += 1,
            (false, b'}' | b']') => depth = depth.saturating_sub(1),
            _ => {}
        }
        if depth > DEPTH_MAX {
            let detail = format!("the body is nested more than {DEPTH_MAX} deep");
            return Err(Problem::MalformedEnvelope { detail });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;

    use super::*;

    #[derive(Debug, Deserialize)]
    #[expect(dead_code, reason = "only read")]
    struct Wish {
        grams: i64,
        jars: Vec<Jar>,
    }

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[expect(dead_code, reason = "only read")]
    struct Jar {
        size: u32,
        label: Option<String>,
    }

    fn pointer(text: &str) -> (&'static str, String) {
        let problem = parse::<Wish>(text.as_bytes()).unwrap_err();
        let kind = problem.kind().1;
        match problem {
            Problem::BadField { pointer, .. } | Problem::UnknownField { pointer } => (kind, pointer),
            other => (kind, other.to_string()),
        }
    }

    #[test]
    fn wrong_types_and_missing_fields_are_pointed_at() {
        assert_eq!(
            pointer(r#"{"grams":"1","jars":[]}"#),
            ("bad-field", "/grams".to_owned())
        );
        assert_eq!(
            pointer(r#"{"grams":1,"jars":[{"size":1},{"size":-1}]}"#),
            ("bad-field", "/jars/1/size".to_owned())
        );
        assert_eq!(
            pointer(r#"{"grams":1,"jars":[{}]}"#),
            ("bad-field", "/jars/0/size".to_owned())
        );
        assert_eq!(pointer("[]"), ("bad-field", String::new()));
    }

    #[test]
    fn unknown_fields_are_pointed_at_whether_the_type_denies_them_or_not() {
        assert_eq!(
            pointer(r#"{"grams":1,"jars":[],"a/b":1}"#),
            ("unknown-field", "/a~1b".to_owned())
        );
        assert_eq!(
            pointer(r#"{"grams":1,"jars":[{"size":1,"lid":2}]}"#),
            ("unknown-field", "/jars/0/lid".to_owned())
        );
    }

    #[test]
    fn broken_json_is_told_by_line_and_column() {
        let (kind, detail) = pointer("{\n \"grams\": }");
        assert_eq!(
            (kind, detail.as_str()),
            ("malformed-envelope", "the body is not JSON: line 2, column 11")
        );
        assert_eq!(pointer(r#"{"grams":1,"jars":[]} x"#).0, "malformed-envelope");
        assert_eq!(pointer("").0, "malformed-envelope");
    }

    #[test]
    fn depth_is_counted_outside_of_text_only() {
        assert!(refuse_depth("[".repeat(33).as_bytes()).is_err());
        assert!(refuse_depth(format!("\"\\\"{}\"", "[".repeat(99)).as_bytes()).is_ok());
    }

    #[test]
    fn what_unpacks_to_more_than_allowed_is_too_large() {
        use std::io::Write;
        let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
        packer.write_all(&vec![b' '; 1_000_000]).unwrap();
        let packed = packer.finish().unwrap();
        assert!(matches!(unpack(&packed, 999_999), Err(Problem::TooLarge { .. })));
        assert_eq!(unpack(&packed, 1_000_000).unwrap().len(), 1_000_000);
        assert!(matches!(unpack(b"no gzip", 10), Err(Problem::MalformedEnvelope { .. })));
    }
}

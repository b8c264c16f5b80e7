//! Around every request: its id, its headers, its log line, its figures.

use std::time::Instant;

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, HeaderMap, HeaderName, HeaderValue, REFERRER_POLICY,
    STRICT_TRANSPORT_SECURITY, X_CONTENT_TYPE_OPTIONS,
};
use actix_web::middleware::Next;
use actix_web::{Error, HttpMessage, web};
use tracing::Instrument;

use super::App;
use super::problem::Problem;
use super::session::Seen;
use crate::clock;
use crate::config::Transport;

/// Says of an application that it stands before the door: whoever comes there came over plain HTTP.
pub(super) struct Doorstep;

const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");

const CSP: &str = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' blob:; \
     connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; \
     object-src 'none'; frame-ancestors 'none'; require-trusted-types-for 'script'; trusted-types sw";

/// The documentation page brings inline styles and sets its own HTML; nothing else may.
const CSP_DOCS: &str = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; \
     img-src 'self' data:; connect-src 'self'; form-action 'none'; base-uri 'none'; object-src 'none'; \
     frame-ancestors 'none'";

/// Wraps every request.
pub(super) async fn around<B: MessageBody>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<B>, Error> {
    let started = Instant::now();
    let id = request_id(request.headers());
    let seen = Seen::default();
    request.extensions_mut().insert(seen.clone());
    let span = tracing::info_span!("request", request.id = %id);
    let mut response = next.call(request).instrument(span.clone()).await?;
    let https = response
        .request()
        .app_data::<web::Data<App>>()
        .is_some_and(|app| app.config.behind_proxy || matches!(app.config.transport, Transport::Given { .. }));
    let path = response.request().path().to_owned();
    let trustworthy = response.request().app_data::<Doorstep>().is_none();
    secure(response.headers_mut(), &path, https, trustworthy);
    if let Ok(value) = HeaderValue::from_str(&id) {
        response.headers_mut().insert(REQUEST_ID, value);
    }
    span.in_scope(|| log(&response, started, &seen));
    Ok(response)
}

/// What the caller sent if it is short and plain, else a new one.
fn request_id(headers: &HeaderMap) -> String {
    let sent = headers.get(REQUEST_ID).and_then(|value| value.to_str().ok());
    let sane = |id: &&str| {
        (8..=64).contains(&id.len())
            && id
                .bytes()
                .all(|byte| byte.is_ascii_alphanumeric() || b"-_.".contains(&byte))
    };
    sent.filter(sane)
        .map_or_else(|| clock::new_id().to_string(), str::to_owned)
}

fn secure(headers: &mut HeaderMap, path: &str, https: bool, trustworthy: bool) {
    let mut set = |name: HeaderName, value: &'static str| {
        if !headers.contains_key(&name) {
            headers.insert(name, HeaderValue::from_static(value));
        }
    };
    let docs = path == "/docs" || path.starts_with("/docs/");
    set(CONTENT_SECURITY_POLICY, if docs { CSP_DOCS } else { CSP });
    set(X_CONTENT_TYPE_OPTIONS, "nosniff");
    set(REFERRER_POLICY, "no-referrer");
    // A browser complains where it cannot rely on it.
    if trustworthy {
        set(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    }
    set(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    set(
        HeaderName::from_static("permissions-policy"),
        "camera=(self), geolocation=(), microphone=(), payment=(), usb=()",
    );
    if https {
        set(STRICT_TRANSPORT_SECURITY, "max-age=63072000; includeSubDomains");
    }
    if ["/v1/", "/health/", "/metrics"]
        .iter()
        .any(|start| path.starts_with(start))
    {
        set(CACHE_CONTROL, "no-store");
    }
}

/// One line a request, with the template of the path, so that no id and no secret in an address is logged.
fn log<B>(response: &ServiceResponse<B>, started: Instant, seen: &Seen) {
    let request = response.request();
    let (method, status) = (request.method().as_str(), response.status().as_u16());
    let path = request.match_pattern().unwrap_or_else(|| "(none)".to_owned());
    let duration_ms = u64::try_from(started.elapsed().as_millis()).unwrap_or(u64::MAX);
    let operation = seen.get().map(tracing::field::display);
    let problem = response
        .response()
        .error()
        .and_then(|error| error.as_error::<Problem>());
    let labels = [
        ("method", method.to_owned()),
        ("path", path.clone()),
        ("status", status.to_string()),
    ];
    metrics::counter!("http_requests_total", &labels).increment(1);
    metrics::histogram!("http_request_duration_seconds", "path" => path.clone())
        .record(started.elapsed().as_secs_f64());
    match problem {
        Some(problem) if status == 500 => tracing::error!(
            http.method = method,
            http.path = path,
            http.status = status,
            duration_ms,
            operation.id = operation,
            error = problem.chain(),
            "{method} {path} failed"
        ),
        Some(problem) if status == 503 => tracing::warn!(
            http.method = method,
            http.path = path,
            http.status = status,
            duration_ms,
            operation.id = operation,
            error = problem.chain(),
            "{method} {path} was too much"
        ),
        Some(problem) => tracing::info!(
            http.method = method,
            http.path = path,
            http.status = status,
            duration_ms,
            operation.id = operation,
            problem = problem.kind().1,
            "{method} {path} was refused with {status}"
        ),
        None => tracing::info!(
            http.method = method,
            http.path = path,
            http.status = status,
            duration_ms,
            operation.id = operation,
            "{method} {path} answered {status}"
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sane_request_id_is_kept_and_others_are_replaced() {
        let with = |text: &'static str| {
            let mut headers = HeaderMap::new();
            headers.insert(REQUEST_ID, HeaderValue::from_static(text));
            request_id(&headers)
        };
        assert_eq!(with("phone-7.push_12"), "phone-7.push_12");
        for odd in ["short", "with blank 12", "<script>alert(1)</script>"] {
            assert_ne!(with(odd), odd);
        }
    }

    #[test]
    fn only_the_documentation_has_looser_rules() {
        let headers_of = |path: &str| {
            let mut headers = HeaderMap::new();
            secure(&mut headers, path, true, true);
            headers
        };
        assert!(
            !headers_of("/docsx")
                .get(CONTENT_SECURITY_POLICY)
                .unwrap()
                .to_str()
                .unwrap()
                .contains("unsafe-inline")
        );
        assert_eq!(headers_of("/v1/me").get(CACHE_CONTROL).unwrap(), "no-store");
        assert!(headers_of("/docs/").get(CACHE_CONTROL).is_none());
    }
}

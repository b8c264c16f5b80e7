//! How a bucket is spoken to: HTTP/1.1, over TLS by rustls with the authorities that this machine trusts.
//!
//! The environment's proxies are not asked, and no redirect is followed: a request is signed for one place.

use std::error::Error as StdError;
use std::fmt;
use std::sync::Arc;
use std::time::Duration;

use async_trait::async_trait;
use http_body_util::BodyExt;
use hyper_rustls::HttpsConnectorBuilder;
use hyper_util::client::legacy::connect::{Connect, HttpConnector as Plain};
use hyper_util::client::legacy::{Client, Error};
use hyper_util::rt::{TokioExecutor, TokioTimer};
use object_store::ClientOptions;
use object_store::client::{
    HttpClient, HttpConnector, HttpError, HttpErrorKind, HttpRequest, HttpRequestBody, HttpResponse, HttpResponseBody,
    HttpService,
};
use rustls::crypto::ring;

/// How long a connection is kept that nobody uses.
const IDLE: Duration = Duration::from_secs(30);

/// Makes clients for one server.
#[derive(Debug)]
pub(super) struct Web {
    pub tls: bool,
    pub connecting: Duration,
}

impl HttpConnector for Web {
    fn connect(&self, _: &ClientOptions) -> object_store::Result<HttpClient> {
        let mut plain = Plain::new();
        plain.set_connect_timeout(Some(self.connecting));
        plain.set_nodelay(true);
        if !self.tls {
            return Ok(client(plain));
        }
        plain.enforce_http(false);
        let tls = HttpsConnectorBuilder::new()
            .with_provider_and_native_roots(Arc::new(ring::default_provider()))
            .map_err(|source| object_store::Error::Generic {
                store: "S3",
                source: format!("no authority is trusted by this machine ({source}); install ca-certificates").into(),
            })?;
        Ok(client(tls.https_only().enable_http1().wrap_connector(plain)))
    }
}

fn client<C: Connect + Clone + Send + Sync + 'static>(connector: C) -> HttpClient {
    let client = Client::builder(TokioExecutor::new())
        .pool_idle_timeout(IDLE)
        .pool_timer(TokioTimer::new())
        .build(connector);
    HttpClient::new(Speaker(client))
}

struct Speaker<C>(Client<C, HttpRequestBody>);

impl<C> fmt::Debug for Speaker<C> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Speaker")
    }
}

#[async_trait]
impl<C: Connect + Clone + Send + Sync + 'static> HttpService for Speaker<C> {
    async fn call(&self, request: HttpRequest) -> Result<HttpResponse, HttpError> {
        let answer = self.0.request(request).await.map_err(broken)?;
        Ok(answer.map(|body| HttpResponseBody::new(body.map_err(cut))))
    }
}

/// Servers close connections that are about to be used again. Whatever is asked of a bucket may be asked twice: at worst
/// an object is there already.
fn broken(error: Error) -> HttpError {
    let kind = if error.is_connect() {
        HttpErrorKind::Connect
    } else {
        HttpErrorKind::Request
    };
    HttpError::new(kind, error)
}

fn cut(error: impl StdError + Send + Sync + 'static) -> HttpError {
    HttpError::new(HttpErrorKind::Interrupted, error)
}

//! Somebody who calls the service: the requests and how their answers are read.

use anyhow::{Context, Result, ensure};
use reqwest::header::{AUTHORIZATION, CONTENT_TYPE, IF_MATCH};
use reqwest::{Method, RequestBuilder};
use serde_json::{Value, json};
use uuid::Uuid;

/// What the service answered.
#[derive(Debug, Clone)]
pub struct Answer {
    /// The status.
    pub status: u16,
    /// The headers.
    pub headers: reqwest::header::HeaderMap,
    /// The body as JSON; null when it is not JSON.
    pub json: Value,
    /// The body as it came, unpacked.
    pub text: String,
}

impl Answer {
    /// What a captive portal answers, whatever was asked.
    #[must_use]
    pub fn page_of_somebody_else() -> Self {
        let mut headers = reqwest::header::HeaderMap::new();
        let html = reqwest::header::HeaderValue::from_static("text/html");
        headers.insert(reqwest::header::CONTENT_TYPE, html);
        Self {
            status: 200,
            headers,
            json: Value::Null,
            text: "<html><body>Accept the terms of this network</body></html>".to_owned(),
        }
    }

    /// The body, if the status is the expected one.
    ///
    /// # Errors
    /// When it is another; the body is told.
    pub fn expect_status(self, status: u16) -> Result<Value> {
        ensure!(
            self.status == status,
            "{status} was expected: {} {}",
            self.status,
            self.text
        );
        Ok(self.json)
    }

    /// A header as text.
    #[must_use]
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.get(name)?.to_str().ok()
    }

    /// Whether this is a problem document with this status and type.
    #[must_use]
    pub fn is_problem(&self, status: u16, kind: &str) -> bool {
        self.status == status
            && self.header("content-type") == Some("application/problem+json")
            && self.json["type"] == kind
            && self.json["status"] == status
    }
}

/// What a device was given when it joined or refreshed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tokens {
    /// For the `Authorization` header.
    pub access: String,
    /// Good once.
    pub refresh: String,
    /// Shown at every refresh.
    pub device_secret: String,
    /// The business.
    pub operation: Uuid,
    /// The person.
    pub member: Uuid,
    /// The device.
    pub device: Uuid,
}

impl Tokens {
    /// Reads the answer to a sign-in, an enrolment or a refresh. A refresh does not repeat the device secret.
    ///
    /// # Errors
    /// When something is missing.
    pub fn read(json: &Value, device_secret: Option<&str>) -> Result<Self> {
        let text = |name: &str| json[name].as_str().with_context(|| format!("no {name} in {json}"));
        let id = |name: &str| -> Result<Uuid> { Ok(text(name)?.parse()?) };
        Ok(Self {
            access: text("access_token")?.to_owned(),
            refresh: text("refresh_token")?.to_owned(),
            device_secret: match device_secret {
                Some(kept) => kept.to_owned(),
                None => text("device_secret")?.to_owned(),
            },
            operation: id("operation_id")?,
            member: id("member_id")?,
            device: id("device_id")?,
        })
    }
}

/// A device that is signed in, or nobody.
#[derive(Debug, Clone)]
pub struct Client {
    http: reqwest::Client,
    url: String,
    /// What it holds; nothing for a stranger.
    pub tokens: Option<Tokens>,
}

impl Client {
    /// Somebody who is not signed in, at this service.
    ///
    /// # Errors
    /// When no client can be made.
    pub fn stranger(url: String) -> Result<Self> {
        Ok(Self {
            http: reqwest::Client::builder().no_proxy().build()?,
            url,
            tokens: None,
        })
    }

    /// The same caller with other tokens.
    #[must_use]
    pub fn with(&self, tokens: Option<Tokens>) -> Self {
        Self { tokens, ..self.clone() }
    }

    /// The same caller with another access token.
    #[must_use]
    pub fn with_access(&self, access: &str) -> Self {
        let mut other = self.clone();
        if let Some(tokens) = &mut other.tokens {
            access.clone_into(&mut tokens.access);
        }
        other
    }

    /// The same caller of another service.
    #[must_use]
    pub fn elsewhere(&self, url: &str) -> Self {
        Self {
            url: url.to_owned(),
            ..self.clone()
        }
    }

    pub(crate) fn url(&self) -> &str {
        &self.url
    }

    /// What it holds.
    ///
    /// # Errors
    /// When this is a stranger.
    pub fn held(&self) -> Result<&Tokens> {
        self.tokens.as_ref().context("nobody is signed in here")
    }

    /// Reads.
    ///
    /// # Errors
    /// When no answer comes.
    pub async fn get(&self, path: &str) -> Result<Answer> {
        self.raw(Method::GET, path, |request| request).await
    }

    /// Says that something happened.
    ///
    /// # Errors
    /// When no answer comes.
    pub async fn post(&self, path: &str, body: &Value) -> Result<Answer> {
        self.raw(Method::POST, path, |request| request.json(body)).await
    }

    /// Changes what is at this version.
    ///
    /// # Errors
    /// When no answer comes.
    pub async fn patch(&self, path: &str, version: i64, body: &Value) -> Result<Answer> {
        let based_on = format!("\"{version}\"");
        self.raw(Method::PATCH, path, |request| {
            request.header(IF_MATCH, based_on).json(body)
        })
        .await
    }

    /// Sends whatever `shape` makes of a request with the bearer's token in it.
    ///
    /// # Errors
    /// When no answer comes.
    pub async fn raw(
        &self,
        method: Method,
        path: &str,
        shape: impl FnOnce(RequestBuilder) -> RequestBuilder,
    ) -> Result<Answer> {
        let mut request = self.http.request(method, format!("{}{path}", self.url));
        if let Some(tokens) = &self.tokens {
            request = request.header(AUTHORIZATION, format!("Bearer {}", tokens.access));
        }
        let response = shape(request).send().await?;
        let (status, headers) = (response.status().as_u16(), response.headers().clone());
        let text = response.text().await?;
        Ok(Answer {
            status,
            headers,
            json: serde_json::from_str(&text).unwrap_or(Value::Null),
            text,
        })
    }

    /// Reads something that is no text: its media type and its bytes.
    ///
    /// # Errors
    /// When it is not given.
    pub async fn bytes(&self, path: &str) -> Result<(String, Vec<u8>)> {
        let mut request = self.http.get(format!("{}{path}", self.url));
        if let Some(tokens) = &self.tokens {
            request = request.header(AUTHORIZATION, format!("Bearer {}", tokens.access));
        }
        let response = request.send().await?.error_for_status()?;
        let media_type = response.headers().get(CONTENT_TYPE).context("no media type")?;
        Ok((media_type.to_str()?.to_owned(), response.bytes().await?.to_vec()))
    }

    /// Pushes entries as they are.
    ///
    /// # Errors
    /// When no answer comes, or nobody is signed in.
    pub async fn push(&self, entries: &[Value]) -> Result<Answer> {
        let envelope = json!({
            "operation_id": self.held()?.operation,
            "sent_at": chrono::Utc::now(),
            "entries": entries,
        });
        self.post("/v1/sync/push", &envelope).await
    }

    /// Asks for new tokens with the given ones, and keeps nothing.
    ///
    /// # Errors
    /// When no answer comes.
    pub async fn refresh_with(&self, tokens: &Tokens) -> Result<Answer> {
        let body = json!({ "refresh_token": tokens.refresh, "device_secret": tokens.device_secret });
        self.with(None).post("/v1/auth/refresh", &body).await
    }
}

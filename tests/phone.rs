//! A phone: it numbers what it saw, keeps it until the service has acknowledged it, and may be without signal.
//!
//! It asks no rule of the trade: tests record what they like.

use anyhow::{Context, Result};
use chrono::{DateTime, Utc};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::client::{Answer, Client};

/// A phone that has joined an operation.
#[derive(Debug)]
pub struct Phone {
    /// By whom it calls.
    pub client: Client,
    /// What no answer has acknowledged, in the order it was recorded.
    pub outbox: Vec<Value>,
    /// The ledger number it has pulled up to; what it records from now on says that it saw this.
    pub saw: u64,
    counter: u64,
}

impl Phone {
    /// A phone in the hands of this caller, that has recorded nothing.
    #[must_use]
    pub fn new(client: Client) -> Self {
        Self {
            client,
            outbox: Vec::new(),
            saw: 0,
            counter: 0,
        }
    }

    /// Records something that its clock saw happen, and says under which id.
    pub fn record(&mut self, kind: &str, data: Value, at: DateTime<Utc>) -> Uuid {
        self.record_as("clock", kind, data, at)
    }

    /// Records something whose time was entered by hand, and says under which id.
    pub fn record_entered(&mut self, kind: &str, data: Value, at: DateTime<Utc>) -> Uuid {
        self.record_as("entered", kind, data, at)
    }

    fn record_as(&mut self, source: &str, kind: &str, data: Value, at: DateTime<Utc>) -> Uuid {
        self.counter += 1;
        let id = Uuid::now_v7();
        // A random UUID has 122 random bits, which is all that the salt of a test needs.
        let salt = Uuid::new_v4().simple().to_string();
        self.outbox.push(json!({
            "id": id, "kind": kind, "v": 1, "data": data, "happened_at": at, "utc_offset_min": 120,
            "happened_src": source, "device_counter": self.counter, "saw": self.saw, "salt": salt,
        }));
        id
    }

    /// Pushes the whole outbox and forgets what the answer names in its results, whatever became of it.
    ///
    /// # Errors
    /// When no answer comes, or one with status 200 that is none.
    pub async fn send(&mut self) -> Result<Answer> {
        let answer = self.client.push(&self.outbox).await?;
        if answer.status == 200 {
            let results = answer.json["results"].as_array();
            let results = results.with_context(|| format!("no results: {}", answer.text))?;
            let named = |entry: &Value| results.iter().any(|result| result["id"] == entry["id"]);
            self.outbox.retain(|entry| !named(entry));
        }
        Ok(answer)
    }
}

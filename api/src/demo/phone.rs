//! The demo's phones: a small HTTP client that signs in, enrols and pushes as any phone does.
//!
//! It blocks, so it runs on a thread of its own.

use std::time::Duration;

use chrono::TimeDelta;
use domain::entry;
use domain::ids::{MemberId, OperationId};
use serde_json::{Value, json};

use super::DemoRefused;
use super::diary::{Told, offset_min};
use super::incidents::clock_is_behind;
use crate::clock;
use crate::config::Secret;

/// Entries in one push; the service takes up to 500.
const AT_ONCE: usize = 100;
/// How far behind the phone is whose year is wrong.
const A_YEAR: TimeDelta = TimeDelta::days(365);

/// Somebody who calls the service.
#[derive(Debug)]
pub(super) struct Caller {
    agent: ureq::Agent,
    url: String,
    token: Option<Secret>,
}

impl Caller {
    /// A stranger.
    pub(super) fn new(url: &str) -> Self {
        let config = ureq::Agent::config_builder()
            .http_status_as_error(false)
            .proxy(None)
            .timeout_global(Some(Duration::from_secs(60)));
        Self {
            agent: config.build().into(),
            url: url.to_owned(),
            token: None,
        }
    }

    /// The same way to the service, with another token or none.
    fn with(&self, token: Option<Secret>) -> Self {
        Self {
            agent: self.agent.clone(),
            url: self.url.clone(),
            token,
        }
    }

    pub(super) fn post(&self, call: &'static str, body: &Value) -> Result<Value, DemoRefused> {
        let mut request = self.agent.post(format!("{}{call}", self.url));
        if let Some(token) = &self.token {
            request = request.header("Authorization", format!("Bearer {}", token.expose()));
        }
        let mut response = request.send_json(body).map_err(Box::new)?;
        let status = response.status().as_u16();
        if !(200..300).contains(&status) {
            let said = response.body_mut().read_to_string().map_err(Box::new)?;
            return Err(DemoRefused::Answered { call, status, said });
        }
        Ok(response.body_mut().read_json().map_err(Box::new)?)
    }

    /// Signs in with a password.
    pub(super) fn sign_in(&self, login: &str, password: &Secret) -> Result<Self, DemoRefused> {
        let wish = json!({ "login": login, "password": password.expose(), "device_name": "Office computer" });
        let tokens = self.post("/v1/auth/sign-in", &wish)?;
        Ok(self.with(Some(token(&tokens)?)))
    }

    /// Makes a one-use code for somebody's phone, and lets the phone join by it.
    pub(super) fn enrol(&self, bearer: MemberId, phone: &str) -> Result<Phone, DemoRefused> {
        let code = self.post(
            "/v1/devices/codes",
            &json!({ "member_id": bearer, "device_name": phone }),
        )?;
        let tokens = self
            .with(None)
            .post("/v1/auth/enrolments", &json!({ "code": code["code"] }))?;
        Ok(Phone {
            operation: operation(&tokens)?,
            caller: self.with(Some(token(&tokens)?)),
            counter: 0,
            saw: 0,
        })
    }

    /// Who is signed in, and in which business.
    pub(super) fn me(&self) -> Result<(OperationId, MemberId), DemoRefused> {
        let mut request = self.agent.get(format!("{}/v1/me", self.url));
        if let Some(token) = &self.token {
            request = request.header("Authorization", format!("Bearer {}", token.expose()));
        }
        let me: Value = request
            .call()
            .map_err(Box::new)?
            .body_mut()
            .read_json()
            .map_err(Box::new)?;
        let member = read(&me, "member_id")?.parse().map_err(|_| unreadable("member_id"))?;
        Ok((operation(&me)?, MemberId::from_uuid(member)))
    }
}

fn read<'a>(answer: &'a Value, field: &'static str) -> Result<&'a str, DemoRefused> {
    answer
        .get(field)
        .and_then(Value::as_str)
        .ok_or_else(|| unreadable(field))
}

const fn unreadable(field: &'static str) -> DemoRefused {
    DemoRefused::Unreadable { field }
}

fn token(answer: &Value) -> Result<Secret, DemoRefused> {
    Ok(Secret::new(read(answer, "access_token")?))
}

fn operation(answer: &Value) -> Result<OperationId, DemoRefused> {
    let id = read(answer, "operation_id")?
        .parse()
        .map_err(|_| unreadable("operation_id"))?;
    Ok(OperationId::from_uuid(id))
}

/// A phone that has joined.
#[derive(Debug)]
pub(super) struct Phone {
    caller: Caller,
    operation: OperationId,
    counter: i64,
    /// The ledger number it has seen; what it records from then on says so.
    pub(super) saw: i64,
}

/// An entry as it is sent, and by how much the phone was behind when it was made.
pub(super) type Waiting = (Value, TimeDelta);

impl Phone {
    /// Numbers what its bearer told, ready to be sent now or later.
    pub(super) fn record(&mut self, told: &[&Told]) -> Result<Vec<Waiting>, DemoRefused> {
        let mut outbox = Vec::with_capacity(told.len());
        for told in told {
            self.counter += 1;
            let kind = told.what.kind();
            let salt: [u8; 16] = clock::random_bytes()?;
            let behind = if clock_is_behind(told.by, told.at) {
                A_YEAR
            } else {
                TimeDelta::zero()
            };
            let entry = json!({
                "id": told.id,
                "kind": kind,
                "v": entry::spec(kind).map_or(1, |spec| spec.newest),
                "data": serde_json::to_value(&told.what)?,
                "happened_at": told.at - behind,
                "utc_offset_min": offset_min(told.at.date_naive()),
                "happened_src": if behind.is_zero() { "entered" } else { "clock" },
                "device_counter": self.counter,
                "saw": self.saw,
                "salt": salt.iter().map(|byte| format!("{byte:02x}")).collect::<String>(),
            });
            outbox.push((entry, behind));
        }
        Ok(outbox)
    }

    /// Sends an outbox in pushes of a hundred; `newest_first` as when a long queue is sent from its end.
    /// Answers the highest ledger number that was given.
    pub(super) fn send(&self, outbox: &[Waiting], newest_first: bool) -> Result<i64, DemoRefused> {
        // A push has one clock.
        let mut batches: Vec<&[Waiting]> = outbox
            .chunk_by(|(_, one), (_, other)| one == other)
            .flat_map(|alike| alike.chunks(AT_ONCE))
            .collect();
        if newest_first {
            batches.reverse();
        }
        let mut head = 0;
        for batch in batches {
            head = head.max(self.push(batch)?);
        }
        Ok(head)
    }

    fn push(&self, waiting: &[Waiting]) -> Result<i64, DemoRefused> {
        let behind = waiting.first().map_or_else(TimeDelta::zero, |(_, behind)| *behind);
        let entries: Vec<&Value> = waiting.iter().map(|(entry, _)| entry).collect();
        let envelope = json!({
            "operation_id": self.operation,
            "sent_at": clock::now() - behind,
            "entries": entries,
        });
        let answer = self.caller.post("/v1/sync/push", &envelope)?;
        let results = answer.get("results").and_then(Value::as_array);
        let results = results.ok_or_else(|| unreadable("results"))?;
        if results.len() != entries.len() {
            return Err(unreadable("results"));
        }
        let mut head = 0;
        for result in results {
            let seq = result.get("seq").and_then(Value::as_i64);
            match (result.get("result").and_then(Value::as_str), seq) {
                (Some("stored"), Some(seq)) => head = head.max(seq),
                _ => {
                    return Err(DemoRefused::NotStored {
                        result: result.to_string(),
                    });
                }
            }
        }
        Ok(head)
    }
}

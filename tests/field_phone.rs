//! A phone in the field, speaking only the public contract: the worked example for whoever writes a field app.
//!
//! What a phone owes its bearer: what was touched is on the disk before the screen says so; what is sent stays in the
//! outbox until the service itself names it in `results`; and nothing that was recorded is ever thrown away. Time,
//! network and chance are told from outside, so that a test can be in a cellar, in 1970, or in a power cut.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::time::Duration;

use anyhow::{Result, ensure};
use chrono::{DateTime, TimeDelta, Utc};
use reqwest::Method;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::client::{Answer, Client, Tokens};
use crate::journal::Journal;

/// The most entries of one push; `GET /v1/sync/limits` says so too.
const BATCH: usize = 500;
/// Rows asked for at once.
const PAGE: usize = 1_000;
/// The first wait after a failure, and the longest.
const WAIT: (Duration, Duration) = (Duration::from_secs(1), Duration::from_secs(15 * 60));

/// What the air does to one request.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Air {
    /// It goes and comes back.
    Clear,
    /// It never arrives.
    RequestLost,
    /// It arrives and is done; the answer is lost.
    ReplyLost,
    /// It arrives twice; the second answer comes back.
    Doubled,
    /// Somebody else answers with a page of their own, and with 200.
    Portal,
}

/// What became of one try.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Tried {
    /// There is nothing more to do.
    Done,
    /// It went on; there is more.
    More,
    /// Try the same again after this time; why.
    Again(Duration, String),
    /// This device may not do that (any more). What it holds, it keeps.
    Closed(String),
}

/// A phone that has joined a business.
pub struct FieldPhone {
    /// By whom it calls.
    pub client: Client,
    /// What survives a power cut.
    pub book: Book,
    /// How far its clock is ahead of the true time.
    pub clock_ahead: TimeDelta,
    /// How long it waits for an answer.
    pub patience: Duration,
    /// What the air does to the next request.
    pub air: Box<dyn FnMut() -> Air + Send>,
    /// How many failures in a row.
    failures: u32,
    chance: u64,
    batch: usize,
    journal: Journal,
}

/// What the phone has written down: all of it follows from the lines of its journal.
#[derive(Debug, Default, Clone)]
pub struct Book {
    /// Recorded and not acknowledged, in the order recorded, each exactly as it is sent.
    pub outbox: Vec<Value>,
    /// Its own entries that were acknowledged, with their numbers: kept for 60 days, for a service that forgets.
    pub acknowledged: BTreeMap<Uuid, (i64, Value)>,
    /// Not taken, with the reason; shown to the bearer, never thrown away.
    pub not_taken: BTreeMap<Uuid, (String, Value)>,
    /// What is known of everything, by kind and id.
    pub rows: BTreeMap<(String, String), Value>,
    /// Entries of anybody that are kept and do not count yet.
    pub quarantined: BTreeMap<String, Value>,
    /// Where to pull from.
    pub cursor: Option<String>,
    /// The ledger number of that.
    pub saw: i64,
    /// How many entries were ever recorded here.
    pub counter: i64,
    /// A first download under way: its number, and the parts that are here.
    pub snapshot: Option<(Value, BTreeSet<i64>)>,
}

impl FieldPhone {
    /// A phone without a disk.
    #[must_use]
    pub fn new(client: Client) -> Self {
        Self::with(client, Journal::in_memory(), Book::default())
    }

    /// A phone whose book lies in this file, as it was when the power went.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn open(client: Client, path: &Path) -> Result<Self> {
        let (journal, lines) = Journal::open(path)?;
        let mut book = Book::default();
        for line in &lines {
            book.take_in(line);
        }
        Ok(Self::with(client, journal, book))
    }

    fn with(client: Client, journal: Journal, book: Book) -> Self {
        let (chance, _) = Uuid::new_v4().as_u64_pair();
        Self {
            client,
            book,
            clock_ahead: TimeDelta::zero(),
            patience: Duration::from_secs(60),
            air: Box::new(|| Air::Clear),
            failures: 0,
            chance,
            batch: BATCH,
            journal,
        }
    }

    /// The same phone with its own dice, so that a run can be repeated.
    #[must_use]
    pub fn seeded(mut self, seed: u64) -> Self {
        self.chance = seed;
        self
    }

    /// What its clock shows.
    #[must_use]
    pub fn now(&self) -> DateTime<Utc> {
        Utc::now() + self.clock_ahead
    }

    /// Writes down what was touched just now. It is on the disk when this returns.
    ///
    /// # Errors
    /// When the disk refuses: then it was not recorded, and the screen must say so.
    pub fn record(&mut self, kind: &str, data: Value) -> Result<Uuid> {
        self.record_at(kind, data, self.now(), "clock")
    }

    /// The same with a time: read off the clock, or `entered` by hand.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn record_at(&mut self, kind: &str, data: Value, at: DateTime<Utc>, source: &str) -> Result<Uuid> {
        let id = Uuid::now_v7();
        let entry = json!({
            "id": id, "kind": kind, "v": 1, "data": data, "happened_at": at, "utc_offset_min": 120,
            "happened_src": source, "device_counter": self.book.counter + 1, "saw": self.book.saw,
            "salt": Uuid::new_v4().simple().to_string(),
        });
        self.write_down(json!({ "recorded": entry }))?;
        Ok(id)
    }

    /// One line of the journal: first onto the disk, then into the book.
    fn write_down(&mut self, line: Value) -> Result<()> {
        self.journal.append(&line)?;
        self.book.take_in(&line);
        Ok(())
    }

    /// Pushes one batch of the outbox.
    ///
    /// # Errors
    /// When the disk refuses.
    pub async fn send(&mut self) -> Result<Tried> {
        let batch: Vec<Value> = self.book.outbox.iter().take(self.batch).cloned().collect();
        if batch.is_empty() {
            return Ok(Tried::Done);
        }
        let envelope = json!({
            "operation_id": self.client.held()?.operation, "sent_at": self.now(), "entries": batch,
        });
        let answer = self.call(Method::POST, "/v1/sync/push", Some(&envelope)).await;
        match answer {
            Ok(answer) if answer.status == 200 && answer.json["results"].is_array() => {
                self.batch = BATCH;
                let results = answer.json["results"].clone();
                self.write_down(json!({ "results": results }))?;
                Ok(if self.book.outbox.is_empty() {
                    Tried::Done
                } else {
                    Tried::More
                })
            }
            // Something in it cannot be read: halve until the culprit stands alone, set it aside, and go on.
            Ok(answer) if [400, 413].contains(&answer.status) && is_a_problem(&answer) => {
                if batch.len() == 1 {
                    let reason = answer.json["type"].clone();
                    self.write_down(json!({ "set_aside": batch[0]["id"], "reason": reason }))?;
                    self.batch = BATCH;
                } else {
                    self.batch = batch.len() / 2;
                }
                Ok(Tried::More)
            }
            other => self.failed(other).await,
        }
    }

    /// Pulls one page of what changed. A phone that has nothing yet begins with [`FieldPhone::download`].
    ///
    /// # Errors
    /// When the disk refuses.
    pub async fn pull(&mut self) -> Result<Tried> {
        let mut path = format!("/v1/sync/pull?limit={PAGE}");
        if let Some(cursor) = &self.book.cursor {
            path.push_str(&format!("&cursor={cursor}"));
        }
        let answer = self.call(Method::GET, &path, None).await;
        match answer {
            Ok(answer) if answer.status == 200 && answer.json["rows"].is_array() => {
                let more = answer.json["more"] == json!(true);
                self.write_down(json!({ "page": answer.json }))?;
                Ok(if more { Tried::More } else { Tried::Done })
            }
            // The ledger was restored from an older backup: send again what it may have forgotten, and begin anew.
            Ok(answer) if answer.is_problem(409, "ledger-diverged") => {
                self.write_down(json!({ "diverged_at": answer.json["at"] }))?;
                Ok(Tried::More)
            }
            other => self.failed(other).await,
        }
    }

    /// Fetches one part of a first download. A cut costs the part that was on its way, and no other.
    ///
    /// # Errors
    /// When the disk refuses.
    pub async fn download(&mut self) -> Result<Tried> {
        let Some((list, here)) = &self.book.snapshot else {
            let answer = self.call(Method::GET, "/v1/sync/snapshot", None).await;
            return match answer {
                Ok(answer) if answer.status == 200 && answer.json["parts"].is_array() => {
                    self.write_down(json!({ "snapshot": answer.json }))?;
                    Ok(Tried::More)
                }
                other => self.failed(other).await,
            };
        };
        let parts = list["parts"].as_array().cloned().unwrap_or_default();
        let Some(next) = parts
            .iter()
            .find(|part| part["part"].as_i64().is_some_and(|part| !here.contains(&part)))
        else {
            return Ok(Tried::Done);
        };
        let path = format!("/v1/sync/snapshot/{}/{}", list["seq"], next["part"]);
        let sum = next["sha256"].clone();
        let number = next["part"].clone();
        match self.call(Method::GET, &path, None).await {
            Ok(answer) if answer.status == 200 && json!(sha256(answer.text.as_bytes())) == sum => {
                self.write_down(json!({ "part": number, "states": answer.json }))?;
                Ok(Tried::More)
            }
            // It is too old: begin anew.
            Ok(answer) if answer.is_problem(404, "not-found") => {
                self.write_down(json!({ "snapshot": null }))?;
                Ok(Tried::More)
            }
            other => self.failed(other).await,
        }
    }

    /// Waits for news, at most so many seconds: `More` if there are any.
    ///
    /// # Errors
    /// When the disk refuses.
    pub async fn wait(&mut self, seconds: u64) -> Result<Tried> {
        let mut path = format!("/v1/sync/wait?seconds={seconds}");
        if let Some(cursor) = &self.book.cursor {
            path.push_str(&format!("&cursor={cursor}"));
        }
        match self.call(Method::GET, &path, None).await {
            Ok(answer) if answer.status == 200 && answer.json["closing"] == json!(true) => {
                // Everybody is told this at once; they come back one after the other.
                self.failures = self.failures.max(3);
                Ok(self.later("the service ends".to_owned(), None))
            }
            Ok(answer) if answer.status == 200 && answer.json["moved"].is_boolean() => {
                Ok(if answer.json["moved"] == json!(true) {
                    Tried::More
                } else {
                    Tried::Done
                })
            }
            Ok(answer) if answer.is_problem(409, "ledger-diverged") => Ok(Tried::More),
            other => self.failed(other).await,
        }
    }

    /// Sends and pulls until there is nothing more to do, or one try says that waiting or asking helps better.
    ///
    /// # Errors
    /// When the disk refuses.
    pub async fn sync(&mut self) -> Result<Tried> {
        loop {
            // What was recorded goes first: it exists nowhere else.
            match self.send().await? {
                Tried::Done => {}
                Tried::More => continue,
                stopped => return Ok(stopped),
            }
            match self.pull().await? {
                Tried::Done if self.book.outbox.is_empty() => return Ok(Tried::Done),
                Tried::Done | Tried::More => {}
                stopped => return Ok(stopped),
            }
        }
    }

    /// The same, whatever the air does, for as many tries as a patient phone makes. Nobody sleeps: the waits are only
    /// checked.
    ///
    /// # Errors
    /// When it does not come through, or the disk refuses.
    pub async fn sync_patiently(&mut self, tries: u32) -> Result<()> {
        for _ in 0..tries {
            match self.sync().await? {
                Tried::Done => return Ok(()),
                Tried::More => {}
                Tried::Again(wait, _) => ensure!(wait <= WAIT.1, "{wait:?} is too long"),
                Tried::Closed(why) => anyhow::bail!("closed: {why}"),
            }
        }
        anyhow::bail!("not through after {tries} tries: {} wait", self.book.outbox.len())
    }

    /// Whether it is the service of its own business that answers: a captive portal also says 200.
    pub async fn is_really_there(&mut self) -> bool {
        let own = self.client.held().map(|held| json!(held.operation)).ok();
        let answer = self.call(Method::GET, "/v1/sync/limits", None).await;
        answer.is_ok_and(|answer| answer.status == 200 && Some(&answer.json["operation_id"]) == own.as_ref())
    }

    /// The outbox as text that another machine can hand in: a first line that says whose it is, then one entry a line.
    ///
    /// # Errors
    /// When nobody is signed in.
    pub fn saved_outbox(&self) -> Result<String> {
        let held = self.client.held()?;
        let first =
            json!({ "outbox": 1, "operation_id": held.operation, "device_id": held.device, "saved_at": self.now() });
        let not_taken = self.book.not_taken.values().map(|(_, entry)| entry);
        let entries = self.book.outbox.iter().chain(not_taken);
        Ok(std::iter::once(&first)
            .chain(entries)
            .map(|line| format!("{line}\n"))
            .collect())
    }

    async fn failed(&mut self, answer: Result<Answer>) -> Result<Tried> {
        let why = match &answer {
            Ok(answer) if is_a_problem(answer) => {
                let kind = answer.json["type"].as_str().unwrap_or_default().to_owned();
                match (answer.status, kind.as_str()) {
                    (401, _) => return self.refresh().await,
                    (403, _) => return Ok(Tried::Closed(kind)),
                    _ => kind,
                }
            }
            Ok(answer) => format!("{} from somebody else", answer.status),
            Err(error) => error.to_string(),
        };
        let asked = answer
            .ok()
            .and_then(|answer| answer.header("retry-after")?.parse().ok());
        Ok(self.later(why, asked.map(Duration::from_secs)))
    }

    /// Full jitter: any time between nothing and a bound that doubles with each failure; never before the service asks
    /// to come again.
    fn later(&mut self, why: String, asked: Option<Duration>) -> Tried {
        let bound = WAIT.0.saturating_mul(1 << self.failures.min(20)).min(WAIT.1);
        self.failures += 1;
        let share = self.dice() % 1_001;
        let wait = bound * u32::try_from(share).unwrap_or_default() / 1_000;
        Tried::Again(asked.map_or(wait, |asked| (asked + wait).min(WAIT.1)), why)
    }

    /// A small generator (xorshift, G. Marsaglia, 2003): good enough to spread waits.
    fn dice(&mut self) -> u64 {
        self.chance = self.chance.max(1);
        self.chance ^= self.chance << 13;
        self.chance ^= self.chance >> 7;
        self.chance ^= self.chance << 17;
        self.chance
    }

    /// New tokens for old ones. The old ones are kept until the new ones have arrived, so a lost answer does no harm.
    async fn refresh(&mut self) -> Result<Tried> {
        let held = self.client.held()?.clone();
        let body = json!({ "refresh_token": held.refresh, "device_secret": held.device_secret });
        match self.call(Method::POST, "/v1/auth/refresh", Some(&body)).await {
            Ok(answer) if answer.status == 200 => {
                self.client.tokens = Some(Tokens::read(&answer.json, Some(&held.device_secret))?);
                Ok(Tried::More)
            }
            Ok(answer) if answer.status == 401 => Ok(Tried::Closed("enrol again".to_owned())),
            Ok(answer) => Ok(self.later(format!("{} to a refresh", answer.status), None)),
            Err(error) => Ok(self.later(error.to_string(), None)),
        }
    }

    /// One request through the air.
    async fn call(&mut self, method: Method, path: &str, body: Option<&Value>) -> Result<Answer> {
        let send = async || {
            let shape = |request: reqwest::RequestBuilder| match body {
                Some(body) => request.json(body),
                None => request,
            };
            let answer = self.client.raw(method.clone(), path, shape);
            tokio::time::timeout(self.patience, answer)
                .await
                .unwrap_or_else(|_| Err(anyhow::anyhow!("no answer")))
        };
        let answer = match (self.air)() {
            Air::RequestLost => Err(anyhow::anyhow!("no signal")),
            Air::Clear => send().await,
            Air::ReplyLost => {
                send().await?;
                Err(anyhow::anyhow!("the signal broke off"))
            }
            Air::Doubled => {
                send().await?;
                send().await
            }
            Air::Portal => Ok(Answer::page_of_somebody_else()),
        };
        if answer
            .as_ref()
            .is_ok_and(|answer| answer.status < 500 && !answer.json.is_null())
        {
            self.failures = 0;
        }
        answer
    }
}

/// A hash as it is written.
fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Whether it is one of the service's own refusals.
fn is_a_problem(answer: &Answer) -> bool {
    answer.header("content-type") == Some("application/problem+json") && answer.json["type"].is_string()
}

impl Book {
    /// What one line of the journal changes; all of it, or, where the line is torn, nothing.
    fn take_in(&mut self, line: &Value) {
        if let Some(entry) = line.get("recorded") {
            self.counter = entry["device_counter"].as_i64().unwrap_or(self.counter);
            self.outbox.push(entry.clone());
        } else if let Some(results) = line["results"].as_array() {
            results.iter().for_each(|result| self.settle(result));
        } else if let Some(id) = line.get("set_aside") {
            self.settle(&json!({ "id": id, "result": "refused", "reason": line["reason"] }));
        } else if let Some(page) = line.get("page") {
            self.take_page(page);
        } else if let Some(list) = line.get("snapshot") {
            self.snapshot = list.is_object().then(|| (list.clone(), BTreeSet::new()));
        } else if let Some(states) = line.get("states") {
            self.take_part(line["part"].as_i64().unwrap_or_default(), states);
        } else if let Some(at) = line["diverged_at"].as_i64() {
            self.begin_anew(at);
        }
    }

    /// Only what is named by id leaves the outbox.
    fn settle(&mut self, result: &Value) {
        let Some(at) = self.outbox.iter().position(|entry| entry["id"] == result["id"]) else {
            return;
        };
        let Ok(id) = serde_json::from_value::<Uuid>(result["id"].clone()) else {
            return;
        };
        let entry = self.outbox.remove(at);
        match (result["result"].as_str(), result["seq"].as_i64()) {
            (Some("stored" | "duplicate" | "quarantined"), Some(seq)) => {
                self.acknowledged.insert(id, (seq, entry));
            }
            _ => {
                let reason = result["reason"].as_str().unwrap_or("unknown");
                self.not_taken.insert(id, (reason.to_owned(), entry));
            }
        }
    }

    /// The cursor of a download counts once every part is here.
    fn take_part(&mut self, part: i64, states: &Value) {
        self.take_rows(states);
        let Some((list, here)) = &mut self.snapshot else { return };
        here.insert(part);
        if here.len() == list["parts"].as_array().map_or(0, Vec::len) {
            self.cursor = list["cursor"].as_str().map(str::to_owned);
            self.saw = list["seq"].as_i64().unwrap_or_default();
        }
    }

    fn take_page(&mut self, page: &Value) {
        // Everything comes again after the service has folded anew; what was known goes with the first page of that.
        if page["whole"] == json!(true) {
            self.rows.clear();
            self.quarantined.clear();
        }
        for id in page["erased"].as_array().into_iter().flatten() {
            if let Some(id) = id.as_str().and_then(|id| Uuid::parse_str(id).ok())
                && let Some((_, entry)) = self.acknowledged.get_mut(&id)
            {
                // The number stays acknowledged; what it said is gone here, too.
                *entry = Value::Null;
            }
        }
        self.take_rows(page);
        if let Some(cursor) = page["cursor"].as_str() {
            self.cursor = Some(cursor.to_owned());
        }
        // Between two pages not everything up to the head is here yet.
        if page["more"] == json!(false) {
            self.saw = page["head"].as_i64().unwrap_or(self.saw);
        }
    }

    fn take_rows(&mut self, page: &Value) {
        for row in page["rows"].as_array().into_iter().flatten() {
            let name = |field: &str| row[field].as_str().unwrap_or_default().to_owned();
            self.rows.insert((name("kind"), name("id")), row.clone());
        }
        for entry in page["quarantined"].as_array().into_iter().flatten() {
            let id = entry["id"].as_str().unwrap_or_default().to_owned();
            self.quarantined.insert(id, entry.clone());
        }
    }

    /// The service knows this ledger up to `at` only: what it acknowledged after that waits again, in the old order.
    fn begin_anew(&mut self, at: i64) {
        let forgotten: Vec<Uuid> = self
            .acknowledged
            .iter()
            .filter(|(_, (seq, _))| *seq > at)
            .map(|(id, _)| *id)
            .collect();
        let mut again: Vec<(i64, Value)> = forgotten.iter().filter_map(|id| self.acknowledged.remove(id)).collect();
        again.sort_by_key(|(seq, _)| *seq);
        let unsent = std::mem::take(&mut self.outbox);
        let again = again
            .into_iter()
            .map(|(_, entry)| entry)
            .filter(|entry| !entry.is_null());
        self.outbox = again.chain(unsent).collect();
        (self.cursor, self.saw, self.snapshot) = (None, 0, None);
        self.rows.clear();
        self.quarantined.clear();
    }
}

//! The service under measurement: a business in it and in the replay's database, pushes into both in turn, what it holds.

use std::path::Path;
use std::time::Instant;

use anyhow::{Context, Result, ensure};
use api::auth::console::{self, NewOwner};
use api::auth::password::Hasher;
use api::config::{PasswordCost, Secret};
use api::private_postgres::PrivatePostgres;
use diesel_async::{AsyncConnection, AsyncPgConnection, SimpleAsyncConnection};
use serde_json::{Value, json};
use tokio::process::Child;
use uuid::Uuid;

use crate::aims::{Aim, judge};
use crate::ground::{PASSWORD, prepared, say, serve};
use crate::harvest::Harvest;
use crate::replay::{Took, Written};
use crate::steps::Steps;

/// What the service may hold at most, MB.
const MEMORY_MB: f64 = 80.0;

/// The service, two databases, and a connection to each as a superuser.
pub(crate) struct Bench {
    pub(crate) url: String,
    pub(crate) http: reqwest::Client,
    pub(crate) written: (Secret, AsyncPgConnection),
    pub(crate) replayed: (Secret, AsyncPgConnection),
    pub(crate) service: Child,
    hasher: Hasher,
    businesses: u32,
}

/// A business in both databases and a device in it.
#[derive(Clone)]
pub(crate) struct Business {
    pub(crate) operation: Uuid,
    pub(crate) in_replay: Uuid,
    pub(crate) login: String,
    pub(crate) access: String,
    pub(crate) last_seq: i64,
}

/// Seconds of the same work by both.
#[derive(Clone, Default)]
pub(crate) struct Times {
    pub(crate) entries: usize,
    pub(crate) pushes: usize,
    pub(crate) service: f64,
    pub(crate) replay: Took,
    pub(crate) steps: (Steps, Steps),
}

impl Times {
    pub(crate) fn rates(&self) -> (f64, f64) {
        (rate(self.entries, self.service), rate(self.entries, self.replay.all()))
    }

    pub(crate) fn ratio(&self) -> f64 {
        self.replay.all() / self.service
    }

    pub(crate) fn line(&self, what: &str) -> String {
        let (service, replay) = self.rates();
        format!("{what:<34} {service:>12.0} {replay:>12.0} {:>7.2}", self.ratio())
    }
}

pub(crate) fn rate(entries: usize, seconds: f64) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "small numbers, for people")]
    let entries = entries as f64;
    entries / seconds
}

pub(crate) fn kilo(bytes: usize) -> f64 {
    rate(bytes, 1_000.0)
}

/// One of several in order.
pub(crate) fn middle(mut of: Vec<f64>) -> f64 {
    of.sort_by(f64::total_cmp);
    of.get(of.len() / 2).copied().unwrap_or(f64::NAN)
}

impl Bench {
    pub(crate) async fn start(server: &PrivatePostgres, folder: &Path) -> Result<Self> {
        let mut admin = AsyncPgConnection::establish(&server.url("postgres", "postgres")).await?;
        admin.batch_execute("create database written").await?;
        admin.batch_execute("create database replayed").await?;
        let (written, replayed) = (prepared(server, "written").await?, prepared(server, "replayed").await?);
        let (service, url) = serve(&written.0, folder).await?;
        Ok(Self {
            url,
            http: reqwest::Client::builder().no_proxy().no_gzip().build()?,
            written,
            replayed,
            service,
            hasher: Hasher::new(PasswordCost::Cheap)?,
            businesses: 0,
        })
    }

    /// A business of which nothing is known, in both databases, and its owner signed in.
    pub(crate) async fn business(&mut self) -> Result<Business> {
        self.businesses += 1;
        let owner = NewOwner {
            business: format!("Linden Honey {}", self.businesses),
            name: "Ada".to_owned(),
            login: format!("ada-{}", self.businesses),
            password: Secret::new(PASSWORD),
            invented: false,
        };
        let mut as_owner = api::database::as_owner(&self.written.0).await?;
        let (operation, _) = console::add_owner(&mut as_owner, &self.hasher, &owner).await?;
        let mut as_owner = api::database::as_owner(&self.replayed.0).await?;
        let (in_replay, _) = console::add_owner(&mut as_owner, &self.hasher, &owner).await?;
        Ok(Business {
            operation: operation.uuid(),
            in_replay: in_replay.uuid(),
            access: self.sign_in(&owner.login).await?,
            login: owner.login,
            last_seq: 0,
        })
    }

    /// A device of its own.
    pub(crate) async fn sign_in(&self, login: &str) -> Result<String> {
        let sign_in = json!({ "login": login, "password": PASSWORD, "device_name": "bench" });
        let path = format!("{}/v1/auth/sign-in", self.url);
        let answer = self.http.post(path).json(&sign_in).send().await?.error_for_status()?;
        let answer: Value = answer.json().await?;
        Ok(answer["access_token"].as_str().context("no token")?.to_owned())
    }

    /// A business whose things are registered, in both databases.
    pub(crate) async fn found(&mut self, supers: usize) -> Result<(Business, Harvest)> {
        let mut business = self.business().await?;
        let mut harvest = Harvest::new(supers);
        let told = harvest.register();
        self.push(&mut business, &told, 500).await?;
        self.settle().await?;
        Ok((business, harvest))
    }

    /// What a server that has been running for a while has behind it; fresh tables are slow for a first minute.
    pub(crate) async fn settle(&mut self) -> Result<()> {
        for (_, conn) in [&mut self.written, &mut self.replayed] {
            conn.batch_execute("vacuum analyze").await?;
        }
        Ok(())
    }

    /// Pushes entries by the service alone; the seconds that it took.
    pub(crate) async fn fill(&self, business: &mut Business, entries: &[String], size: usize) -> Result<f64> {
        let began = Instant::now();
        for part in entries.chunks(size) {
            self.push_one(business, part).await?;
            business.last_seq += i64::try_from(part.len())?;
        }
        Ok(began.elapsed().as_secs_f64())
    }

    async fn push_one(&self, business: &Business, part: &[String]) -> Result<f64> {
        let body = envelope(business.operation, part);
        let began = Instant::now();
        let request = self
            .http
            .post(format!("{}/v1/sync/push", self.url))
            .bearer_auth(&business.access);
        let response = request
            .header("content-type", "application/json")
            .body(body)
            .send()
            .await?;
        let status = response.status();
        let answer = response.bytes().await?;
        let took = began.elapsed().as_secs_f64();
        ensure!(status.is_success(), "{status}: {}", String::from_utf8_lossy(&answer));
        all_stored(&answer, part.len())?;
        Ok(took)
    }

    /// Pushes entries, each push first by the service and then by the replay.
    pub(crate) async fn push(&mut self, business: &mut Business, entries: &[String], size: usize) -> Result<Times> {
        let mut times = Times {
            entries: entries.len(),
            ..Times::default()
        };
        times.steps.0 = Steps::read(&self.http, &self.url).await?;
        for part in entries.chunks(size) {
            times.pushes += 1;
            times.service += self.push_one(business, part).await?;
            times.replay.add(self.replay(business, part.len()).await?);
        }
        times.steps.1 = Steps::read(&self.http, &self.url).await?;
        Ok(times)
    }

    /// Replays the next so many entries that the service wrote.
    async fn replay(&mut self, business: &mut Business, entries: usize) -> Result<Took> {
        let until = business.last_seq + i64::try_from(entries)?;
        let written = Written::read(
            (&mut self.written.1, business.operation),
            (&mut self.replayed.1, business.in_replay),
            (business.last_seq, until),
        )
        .await?;
        business.last_seq = until;
        written.replay(&mut self.replayed.1, business.in_replay).await
    }

    pub(crate) async fn get(&self, access: &str, path: &str, coding: &str) -> Result<(reqwest::StatusCode, Vec<u8>)> {
        let request = self.http.get(format!("{}{path}", self.url)).bearer_auth(access);
        let response = request.header("accept-encoding", coding).send().await?;
        Ok((response.status(), response.bytes().await?.to_vec()))
    }

    /// What the service holds now, and what it held at most.
    pub(crate) fn memory(&self, when: &str) -> Result<()> {
        let (now, most) = self.resident()?;
        say(&format!(
            "memory of the service {when}: {now:.1} MB now, {most:.1} MB at most"
        ))
    }

    /// The same in the end, beside the aim.
    pub(crate) fn memory_in_the_end(&self) -> Result<()> {
        let (now, most) = self.resident()?;
        judge("memory after all of it", now, " MB", Aim::AtMost(MEMORY_MB))?;
        judge("memory at its most", most, " MB", Aim::AtMost(MEMORY_MB))
    }

    fn resident(&self) -> Result<(f64, f64)> {
        let pid = self.service.id().context("the service has ended")?;
        let status = std::fs::read_to_string(format!("/proc/{pid}/status"))?;
        let read = |name: &str| -> Result<f64> {
            let line = status.lines().find_map(|line| line.strip_prefix(name));
            let kib: usize = line
                .and_then(|rest| rest.trim().strip_suffix(" kB"))
                .context("the memory is not told")?
                .parse()?;
            Ok(kilo(kib * 1_024) / 1_000.0)
        };
        Ok((read("VmRSS:")?, read("VmHWM:")?))
    }
}

pub(crate) fn envelope(operation: Uuid, entries: &[String]) -> String {
    let sent_at = chrono::Utc::now().to_rfc3339();
    format!(
        "{{\"operation_id\":\"{operation}\",\"sent_at\":\"{sent_at}\",\"entries\":[{}]}}",
        entries.join(",")
    )
}

fn all_stored(answer: &[u8], sent: usize) -> Result<()> {
    let answer: Value = serde_json::from_slice(answer)?;
    let results = answer["results"].as_array().context("no results")?;
    let stored = results.iter().filter(|result| result["result"] == "stored").count();
    ensure!(
        stored == sent,
        "{stored} of {sent} were stored; the first result is {}",
        results.first().unwrap_or(&Value::Null)
    );
    Ok(())
}

//! How fast the service takes in entries, beside a replay of its own statements.
//!
//! Not a test: nothing is judged, one table is printed. `deploy/bench` builds everything with optimisation and runs
//! this. It starts a private PostgreSQL with fsync on and a `yardjar serve` on the loopback, both with data in a
//! folder of their own that is removed in the end. Pushes of the service and of the replay take turns, so that a
//! busy machine slows both; what is compared is their ratio.

mod ground;
mod harvest;
mod replay;

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use anyhow::{Context, Result, ensure};
use api::auth::console::{self, NewOwner};
use api::auth::password::Hasher;
use api::config::{PasswordCost, Secret};
use api::private_postgres::PrivatePostgres;
use diesel_async::{AsyncConnection, AsyncPgConnection, SimpleAsyncConnection};
use serde_json::{Value, json};
use tokio::process::Child;
use uuid::Uuid;

use ground::{PASSWORD, make, prepared, say, serve};
use harvest::{Harvest, SEASON, SUPERS};
use replay::Written;

/// The whole run may take this long.
const TIME: Duration = Duration::from_secs(1_200);
/// Seasons into one operation.
const SEASONS: usize = 10;
/// Sizes of a push, and how many entries are measured with it.
const SIZES: [(usize, usize); 4] = [(500, SEASON), (100, SEASON), (25, 5_000), (1, 500)];
/// Runs of each size, of which the median counts.
const RUNS: usize = 3;
/// How many rows are pulled.
const PULLED: usize = 10_000;

#[tokio::main]
async fn main() -> ExitCode {
    match Box::pin(run()).await {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            // Standard error may be closed; there is nobody else to tell.
            let _ = writeln!(std::io::stderr(), "push-bench: {error:#}");
            ExitCode::FAILURE
        }
    }
}

async fn run() -> Result<()> {
    let folder = std::env::temp_dir().join(format!("yardjar-bench-{}", std::process::id()));
    let made = make(&folder);
    let server = match made {
        Ok(server) => server,
        Err(error) => {
            std::fs::remove_dir_all(&folder)?;
            return Err(error);
        }
    };
    let measured = tokio::select! {
        measured = tokio::time::timeout(TIME, Box::pin(measure(&server, &folder))) =>
            measured.unwrap_or_else(|_| Err(anyhow::anyhow!("not ready after {} s", TIME.as_secs()))),
        _ = tokio::signal::ctrl_c() => Err(anyhow::anyhow!("interrupted")),
    };
    let stopped = tokio::task::spawn_blocking(move || server.stop()).await?;
    std::fs::remove_dir_all(&folder)?;
    stopped?;
    measured
}

/// The service, two databases, and a connection to each as a superuser.
struct Bench {
    url: String,
    http: reqwest::Client,
    written: (Secret, AsyncPgConnection),
    replayed: (Secret, AsyncPgConnection),
    hasher: Hasher,
    service: Child,
    businesses: u32,
}

/// A business in both databases and a device in it.
struct Business {
    operation: Uuid,
    in_replay: Uuid,
    access: String,
    last_seq: i64,
}

/// Seconds of the same work by both.
#[derive(Clone, Copy, Default)]
struct Times {
    entries: usize,
    service: f64,
    replay: f64,
}

impl Times {
    fn rate(entries: usize, seconds: f64) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "small numbers, for people")]
        let entries = entries as f64;
        entries / seconds
    }

    fn line(&self, what: &str) -> String {
        let (service, replay) = (
            Self::rate(self.entries, self.service),
            Self::rate(self.entries, self.replay),
        );
        format!("{what:<34} {service:>12.0} {replay:>12.0} {:>7.2}", service / replay)
    }
}

/// The run whose ratio is in the middle.
fn median(mut runs: Vec<Times>) -> Times {
    runs.sort_by(|a, b| (a.replay / a.service).total_cmp(&(b.replay / b.service)));
    runs.get(runs.len() / 2).copied().unwrap_or_default()
}

async fn measure(server: &PrivatePostgres, folder: &Path) -> Result<()> {
    let mut bench = Bench::start(server, folder).await?;
    say(&format!(
        "{:<34} {:>12} {:>12} {:>7}",
        "push", "service/s", "replay/s", "ratio"
    ))?;
    let mut long = None;
    for (size, entries) in SIZES {
        let mut runs = Vec::new();
        for _ in 0..RUNS {
            let (mut business, mut harvest) = bench.found(SUPERS).await?;
            let season = harvest.season();
            runs.push(bench.push(&mut business, &season[..entries], size).await?);
            if size == 500 {
                long = Some((business, harvest));
            }
        }
        say(&median(runs).line(&format!("{entries} entries by {size}")))?;
    }
    let (mut business, mut harvest) = long.context("no push by 500")?;
    say("")?;
    let mut seasons = Vec::new();
    for n in 2..=SEASONS {
        let season = harvest.season();
        let times = bench.push(&mut business, &season, 500).await?;
        if n == 2 || n == SEASONS {
            say(&times.line(&format!("season {n} of the same, by 500")))?;
            seasons.push(times);
        }
    }
    if let [second, last] = seasons[..] {
        say(&format!(
            "season {SEASONS} takes {:.2} times as long as season 2 (replay: {:.2})",
            last.service / second.service,
            last.replay / second.replay
        ))?;
    }
    for line in replay::sizes(&mut bench.written.1, business.operation).await? {
        say(&line)?;
    }
    say("")?;
    say(&bench.memory("after the pushes")?)?;
    bench.read().await?;
    say(&bench.memory("after the pulls")?)?;
    bench.service.kill().await?;
    Ok(())
}

impl Bench {
    async fn start(server: &PrivatePostgres, folder: &Path) -> Result<Self> {
        let mut admin = AsyncPgConnection::establish(&server.url("postgres", "postgres")).await?;
        admin.batch_execute("create database written").await?;
        admin.batch_execute("create database replayed").await?;
        let (written, replayed) = (prepared(server, "written").await?, prepared(server, "replayed").await?);
        let (service, url) = serve(&written.0, folder).await?;
        Ok(Self {
            url,
            http: reqwest::Client::builder()
                .no_proxy()
                .no_gzip()
                .pool_max_idle_per_host(1)
                .build()?,
            written,
            replayed,
            hasher: Hasher::new(PasswordCost::Cheap)?,
            service,
            businesses: 0,
        })
    }

    /// A business whose things are registered, in both databases.
    async fn found(&mut self, supers: usize) -> Result<(Business, Harvest)> {
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
        let sign_in = json!({ "login": owner.login, "password": PASSWORD, "device_name": "bench" });
        let path = format!("{}/v1/auth/sign-in", self.url);
        let answer = self.http.post(path).json(&sign_in).send().await?.error_for_status()?;
        let answer: Value = answer.json().await?;
        let mut business = Business {
            operation: operation.uuid(),
            in_replay: in_replay.uuid(),
            access: answer["access_token"].as_str().context("no token")?.to_owned(),
            last_seq: 0,
        };
        let mut harvest = Harvest::new(supers);
        let told = harvest.register();
        self.push(&mut business, &told, 500).await?;
        self.settle().await?;
        Ok((business, harvest))
    }

    /// What a server that has been running for a while has behind it; fresh tables are slow for a first minute.
    async fn settle(&mut self) -> Result<()> {
        for (_, conn) in [&mut self.written, &mut self.replayed] {
            conn.batch_execute("vacuum analyze").await?;
        }
        Ok(())
    }

    /// Pushes entries, each push first by the service and then by the replay.
    async fn push(&mut self, business: &mut Business, entries: &[String], size: usize) -> Result<Times> {
        let mut times = Times {
            entries: entries.len(),
            ..Times::default()
        };
        let path = format!("{}/v1/sync/push", self.url);
        for part in entries.chunks(size) {
            let body = envelope(business.operation, part);
            let began = Instant::now();
            let request = self.http.post(&path).bearer_auth(&business.access);
            let request = request.header("content-type", "application/json").body(body);
            let response = request.send().await?;
            let status = response.status();
            let answer = response.bytes().await?;
            times.service += began.elapsed().as_secs_f64();
            ensure!(status.is_success(), "{status}: {}", String::from_utf8_lossy(&answer));
            all_stored(&answer, part.len())?;

            let written = Written::read(&mut self.written.1, business.operation, business.last_seq).await?;
            business.last_seq = written.last_seq();
            let began = Instant::now();
            written.replay(&mut self.replayed.1, business.in_replay).await?;
            times.replay += began.elapsed().as_secs_f64();
        }
        Ok(times)
    }

    /// Reads what phones read.
    async fn read(&mut self) -> Result<()> {
        let (mut business, mut harvest) = self.found(PULLED).await?;
        let placed = harvest.place_all();
        self.push(&mut business, &placed, 500).await?;
        self.settle().await?;
        for coding in ["gzip", "br"] {
            let mut pulls = Vec::new();
            for _ in 0..RUNS {
                pulls.push(self.pull(&business, coding).await?);
            }
            pulls.sort_by(|a, b| a.1.total_cmp(&b.1));
            if let Some((rows, seconds, bytes)) = pulls.get(RUNS / 2) {
                say(&format!(
                    "pull of {rows} rows, {coding}: {seconds:.3} s, {} kB",
                    bytes / 1_000
                ))?;
            }
            let (status, list) = self.get(&business, "/v1/supers?limit=500", coding).await?;
            if status.is_success() {
                say(&format!("list of 500 supers, {coding}: {:.1} kB", kilo(list.len())))?;
            } else {
                say(&format!("list of 500 supers, {coding}: not offered ({status})"))?;
            }
        }
        Ok(())
    }

    /// Two pages of 5,000; the rows, the seconds and the bytes. Unpacking is not in the time.
    async fn pull(&self, business: &Business, coding: &str) -> Result<(usize, f64, usize)> {
        let (mut rows, mut seconds, mut bytes) = (0, 0.0, 0);
        let mut cursor = String::new();
        for _ in 0..PULLED / 5_000 {
            let path = format!("/v1/sync/pull?limit=5000{cursor}");
            let began = Instant::now();
            let (status, packed) = self.get(business, &path, coding).await?;
            seconds += began.elapsed().as_secs_f64();
            ensure!(status.is_success(), "{path}: {status}");
            bytes += packed.len();
            let (_, plain) = self.get(business, &path, "identity").await?;
            let page: Value = serde_json::from_slice(&plain)?;
            rows += page["rows"].as_array().map_or(0, Vec::len);
            cursor = format!("&cursor={}", page["cursor"].as_str().context("no cursor")?);
        }
        Ok((rows, seconds, bytes))
    }

    async fn get(&self, business: &Business, path: &str, coding: &str) -> Result<(reqwest::StatusCode, Vec<u8>)> {
        let request = self
            .http
            .get(format!("{}{path}", self.url))
            .bearer_auth(&business.access);
        let response = request.header("accept-encoding", coding).send().await?;
        Ok((response.status(), response.bytes().await?.to_vec()))
    }

    fn memory(&self, when: &str) -> Result<String> {
        let pid = self.service.id().context("the service has ended")?;
        let status = std::fs::read_to_string(format!("/proc/{pid}/status"))?;
        let mut said = format!("memory of the service {when}:");
        for (name, what) in [("VmRSS:", "now"), ("VmHWM:", "at most")] {
            let line = status.lines().find_map(|line| line.strip_prefix(name));
            let kib: usize = line
                .and_then(|rest| rest.trim().strip_suffix(" kB"))
                .context("the memory is not told")?
                .parse()?;
            write!(said, " {:.1} MB {what}", kilo(kib * 1_024) / 1_000.0)?;
        }
        Ok(said)
    }
}

fn kilo(bytes: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "small numbers, for people")]
    let bytes = bytes as f64;
    bytes / 1_000.0
}

fn envelope(operation: Uuid, entries: &[String]) -> String {
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

//! Kill -9 of the service and of its private PostgreSQL while a phone pushes: what was acknowledged is there once.
//!
//! The real binary in a process of its own, on a private database with fsync on.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail, ensure};
use chrono::Utc;
use reqwest::Client;
use serde_json::{Value, json};
use uuid::Uuid;

/// How often each of the two is killed.
const KILLS: usize = 10;
/// Pushes under way while something is killed once.
const PUSHES: usize = 200;
const PASS_PHRASE: &str = "ladle-bramble-sieve-orchard-9";

/// The binary beside this test program.
fn binary() -> Result<PathBuf> {
    let here = std::env::current_exe()?;
    let folder = here.parent().and_then(Path::parent).context("a folder for programs")?;
    let binary = folder.join("yardjar");
    ensure!(
        binary.exists(),
        "{} is missing: run `cargo build -p api --bin yardjar` first",
        binary.display()
    );
    Ok(binary)
}

/// A data folder that the database's own user can reach, removed at the end with whatever runs in it.
struct Place {
    data: PathBuf,
    port: u16,
    service: Option<Child>,
}

impl Drop for Place {
    fn drop(&mut self) {
        if let Some(mut service) = self.service.take() {
            let _ = Command::new("kill").args(["-TERM", &service.id().to_string()]).status();
            let _ = service.wait();
        }
        let _ = std::fs::remove_dir_all(&self.data);
    }
}

impl Place {
    fn new() -> Result<Self> {
        let port = std::net::TcpListener::bind("127.0.0.1:0")?.local_addr()?.port();
        let data = std::env::temp_dir().join(format!("yardjar-kill9-{}", Uuid::new_v4().simple()));
        std::fs::create_dir_all(&data)?;
        Ok(Self {
            data,
            port,
            service: None,
        })
    }

    fn command(&self, args: &[&str]) -> Result<Command> {
        let mut command = Command::new(binary()?);
        command
            .args(args)
            .env("YARDJAR_DATA", &self.data)
            .env_remove("DATABASE_URL");
        command
            .env("YARDJAR_LISTEN", format!("127.0.0.1:{}", self.port))
            .env("YARDJAR_LOG", "warn");
        command.stdout(Stdio::null()).stderr(Stdio::null());
        Ok(command)
    }

    async fn start(&mut self, client: &Client) -> Result<()> {
        self.service = Some(self.command(&["serve"])?.spawn()?);
        self.ready(client).await
    }

    /// Waits until the service answers that it can write.
    async fn ready(&mut self, client: &Client) -> Result<()> {
        let began = Instant::now();
        while began.elapsed() < Duration::from_secs(90) {
            let asked = client.get(self.url("/health/ready")).send().await;
            if asked.is_ok_and(|answer| answer.status() == 200) {
                return Ok(());
            }
            if let Some(status) = self.service.as_mut().and_then(|child| child.try_wait().transpose()) {
                bail!("the service ended: {:?}", status?);
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        bail!("the service is not ready after 90 s")
    }

    fn url(&self, path: &str) -> String {
        format!("http://127.0.0.1:{}{path}", self.port)
    }

    fn kill_service(&mut self) -> Result<()> {
        let service = self.service.as_mut().context("a running service")?;
        service.kill()?;
        service.wait()?;
        Ok(())
    }

    /// The postmaster writes its number into the first line of its file.
    fn kill_postgres(&self) -> Result<()> {
        let file = walk(&self.data)
            .into_iter()
            .find(|path| path.ends_with("postmaster.pid"))
            .context("a postmaster")?;
        let text = std::fs::read_to_string(file)?;
        let pid = text.lines().next().context("a process number")?.trim().to_owned();
        ensure!(
            Command::new("kill").args(["-KILL", &pid]).status()?.success(),
            "no process {pid}"
        );
        Ok(())
    }

    fn verify(&self) -> Result<()> {
        let output = self
            .command(&["verify"])?
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .output()?;
        let said = String::from_utf8_lossy(&output.stdout) + String::from_utf8_lossy(&output.stderr);
        ensure!(output.status.success(), "verify is not content: {said}");
        Ok(())
    }
}

fn walk(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .map(|entry| entry.path());
    entries
        .flat_map(|path| {
            if path.is_dir() && !path.is_symlink() {
                walk(&path)
            } else {
                vec![path]
            }
        })
        .collect()
}

/// A phone's ends of the wire: its token, its operation, and what it has recorded.
struct Pusher {
    client: Client,
    token: String,
    operation: String,
    /// Acknowledged ids with the numbers they got.
    acknowledged: BTreeMap<Uuid, i64>,
    counter: u64,
}

impl Pusher {
    async fn sign_in(place: &Place, client: Client) -> Result<Self> {
        let body = json!({ "login": "maren", "password": PASS_PHRASE, "device_name": "kill test" });
        let answer: Value = client
            .post(place.url("/v1/auth/sign-in"))
            .json(&body)
            .send()
            .await?
            .json()
            .await?;
        let text = |key: &str| Ok::<_, anyhow::Error>(answer[key].as_str().context(answer.to_string())?.to_owned());
        let (token, operation) = (text("access_token")?, text("operation_id")?);
        Ok(Self {
            client,
            token,
            operation,
            acknowledged: BTreeMap::new(),
            counter: 0,
        })
    }

    fn entry(&mut self) -> Value {
        self.counter += 1;
        let (id, super_id) = (Uuid::now_v7(), Uuid::from_u128(u128::from(self.counter % 40)));
        json!({ "id": id, "kind": "super_placed", "v": 1, "data": { "super_id": super_id, "hive_id": id },
            "happened_at": Utc::now(), "utc_offset_min": 0, "happened_src": "clock", "device_counter": self.counter,
            "saw": 0, "salt": Uuid::new_v4().simple().to_string() })
    }

    /// Pushes until the service acknowledges, as a phone does: the same bytes again after every failure.
    async fn push(&mut self, place: &Place) -> Result<()> {
        let entries = [self.entry(), self.entry()];
        let body = json!({ "operation_id": self.operation, "sent_at": Utc::now(), "entries": entries });
        let began = Instant::now();
        while began.elapsed() < Duration::from_secs(120) {
            let request = self
                .client
                .post(place.url("/v1/sync/push"))
                .bearer_auth(&self.token)
                .json(&body);
            if let Ok(answer) = request.send().await
                && answer.status() == 200
                && let Ok(read) = answer.json::<Value>().await
            {
                return self.note(&read);
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        bail!("no acknowledgement in two minutes")
    }

    fn note(&mut self, answer: &Value) -> Result<()> {
        for result in answer["results"].as_array().context("results")? {
            let word = result["result"].as_str().unwrap_or_default();
            ensure!(word == "stored" || word == "duplicate", "{result}");
            let id: Uuid = serde_json::from_value(result["id"].clone())?;
            self.acknowledged
                .insert(id, result["seq"].as_i64().context("a number")?);
        }
        Ok(())
    }

    /// The whole ledger, id by number.
    async fn ledger(&self, place: &Place) -> Result<Vec<(Uuid, i64)>> {
        let (mut found, mut cursor) = (Vec::new(), String::new());
        loop {
            let path = if cursor.is_empty() {
                "/v1/ledger?limit=500".to_owned()
            } else {
                format!("/v1/ledger?limit=500&cursor={cursor}")
            };
            let answer = self
                .client
                .get(place.url(&path))
                .bearer_auth(&self.token)
                .send()
                .await?;
            let page: Value = answer.json().await?;
            let entries = page["entries"].as_array().context(page.to_string())?;
            for entry in entries {
                found.push((
                    serde_json::from_value(entry["entry"]["id"].clone())?,
                    entry["seq"].as_i64().context("seq")?,
                ));
            }
            if entries.is_empty() || page["more"] == json!(false) {
                return Ok(found);
            }
            page["cursor"].as_str().context("a cursor")?.clone_into(&mut cursor);
        }
    }
}

async fn each_acknowledged_entry_is_there_once(pusher: &Pusher, place: &Place) -> Result<()> {
    let ledger = pusher.ledger(place).await?;
    let by_id: BTreeMap<Uuid, i64> = ledger.iter().copied().collect();
    ensure!(by_id.len() == ledger.len(), "an entry is there twice");
    for (id, seq) in &pusher.acknowledged {
        ensure!(
            by_id.get(id) == Some(seq),
            "acknowledged entry {id} with number {seq} is {:?}",
            by_id.get(id)
        );
    }
    Ok(())
}

#[derive(Clone, Copy)]
enum Victim {
    Service,
    Postgres,
}

async fn killed_while_pushing(victim: Victim) -> Result<()> {
    let mut place = Place::new()?;
    let client = Client::builder().timeout(Duration::from_secs(20)).build()?;
    let secret = place.data.join("pass-phrase");
    std::fs::write(&secret, PASS_PHRASE)?;
    let file = secret.to_string_lossy().into_owned();
    let owner = [
        "owner",
        "add",
        "--business",
        "Kill test",
        "--name",
        "Maren",
        "--login",
        "maren",
        "--password-file",
        &file,
    ];
    ensure!(place.command(&owner)?.status()?.success(), "no owner could be added");
    place.start(&client).await?;
    let mut pusher = Pusher::sign_in(&place, client.clone()).await?;
    for round in 0..KILLS {
        for push in 0..PUSHES / KILLS {
            // Each round dies at another push, while that push is on its way.
            if push == round {
                let entries = [pusher.entry()];
                let body = json!({ "operation_id": pusher.operation, "sent_at": Utc::now(), "entries": entries });
                let request = client
                    .post(place.url("/v1/sync/push"))
                    .bearer_auth(&pusher.token)
                    .json(&body);
                let under_way = tokio::spawn(request.send());
                tokio::time::sleep(Duration::from_millis(round as u64)).await;
                match victim {
                    Victim::Service => {
                        place.kill_service()?;
                        place.start(&client).await?;
                    }
                    Victim::Postgres => place.kill_postgres()?,
                }
                let _ = under_way.await;
            }
            pusher.push(&place).await?;
        }
        place.ready(&client).await?;
        place.verify()?;
    }
    each_acknowledged_entry_is_there_once(&pusher, &place).await?;
    ensure!(
        pusher.acknowledged.len() == 2 * PUSHES,
        "{} acknowledged",
        pusher.acknowledged.len()
    );
    Ok(())
}

#[tokio::test]
async fn what_was_acknowledged_survives_ten_kills_of_the_service() -> Result<()> {
    killed_while_pushing(Victim::Service).await
}

#[tokio::test]
async fn what_was_acknowledged_survives_ten_kills_of_the_private_postgresql() -> Result<()> {
    killed_while_pushing(Victim::Postgres).await
}

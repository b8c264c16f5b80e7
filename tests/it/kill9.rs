//! Kill -9 of the service and of its private PostgreSQL while six phones push and pull: what was acknowledged is there
//! once, under the number that was told, and all phones show the same in the end.
//!
//! The real binary in a process of its own, on a private database with fsync on. 50 kills, or as many as
//! `YARDJAR_KILLS` says; `--nocapture` shows how many entries were acknowledged, lost, and there twice.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use anyhow::{Context, Result, bail, ensure};
use reqwest::Client;
use serde_json::json;
use tests::{Dice, FieldPhone, Tokens, Tried};
use uuid::Uuid;

use crate::scenarios::{new_super, placed, process::binary};

/// Phones at work.
const PHONES: usize = 6;
const PASS_PHRASE: &str = "ladle-bramble-sieve-orchard-9";

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

    /// Verifies what came after a number; answers how many entries that were.
    fn verify(&self, after: i64) -> Result<i64> {
        let began = Instant::now();
        loop {
            let output = self
                .command(&["verify", "--json", "--after", &after.to_string()])?
                .stdout(Stdio::piped())
                .stderr(Stdio::piped())
                .output()?;
            let said = String::from_utf8_lossy(&output.stdout) + String::from_utf8_lossy(&output.stderr);
            // A database killed a moment ago is being brought back by the service, which may have answered before it knew.
            let coming_back =
                said.contains("is in use by another instance") && began.elapsed() < Duration::from_secs(60);
            if !coming_back {
                ensure!(output.status.success(), "verify is not content: {said}");
                let report: serde_json::Value = serde_json::from_slice(&output.stdout)?;
                return report["operations"][0]["entries"].as_i64().context("a count");
            }
            std::thread::sleep(Duration::from_millis(200));
        }
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

/// The owner, and phones that joined by codes.
async fn people(place: &Place) -> Result<(tests::Client, Vec<FieldPhone>)> {
    let stranger = tests::Client::stranger(place.url(""))?;
    let body = json!({ "login": "maren", "password": PASS_PHRASE, "device_name": "kill test" });
    let answer = stranger.post("/v1/auth/sign-in", &body).await?.expect_status(200)?;
    let owner = stranger.with(Some(Tokens::read(&answer, None)?));
    let member = owner.held()?.member;
    let mut phones = Vec::new();
    for _ in 0..PHONES {
        let body = json!({ "member_id": member, "device_name": "Phone" });
        let code = owner.post("/v1/devices/codes", &body).await?.expect_status(201)?;
        let answer = stranger
            .post("/v1/auth/enrolments", &json!({ "code": code["code"] }))
            .await?;
        let tokens = Tokens::read(&answer.expect_status(200)?, None)?;
        let mut phone = FieldPhone::new(stranger.with(Some(tokens)));
        phone.patience = Duration::from_secs(20);
        phones.push(phone);
    }
    Ok((owner, phones))
}

/// Works until told to end: records, sends, pulls, and tries again after every failure.
async fn work(mut phone: FieldPhone, ended: Arc<AtomicBool>) -> Result<FieldPhone> {
    // Four supers at a time are shared by all phones; later others, as nobody carries one box for ever.
    let shared = |n: usize| Uuid::from_u128(1 + (n / 100 * 4 + n % 4) as u128);
    let mut n = 0;
    while !ended.load(Ordering::Relaxed) {
        n += 1;
        phone.record("super_registered", new_super(n).1)?;
        phone.record("super_placed", placed(shared(n), Uuid::now_v7()))?;
        if let Tried::Again(..) = phone.sync().await? {
            // The waits of a real phone are longer than this whole test.
            tokio::time::sleep(Duration::from_millis(25)).await;
        }
    }
    Ok(phone)
}

/// The whole ledger, number by id, and how many ids are there twice.
async fn ledger(owner: &tests::Client) -> Result<(BTreeMap<Uuid, i64>, usize)> {
    let (mut found, mut twice, mut path) = (BTreeMap::new(), 0, "/v1/ledger?limit=5000".to_owned());
    loop {
        let page = owner.get(&path).await?.expect_status(200)?;
        for entry in page["entries"].as_array().context("entries")? {
            let id: Uuid = serde_json::from_value(entry["entry"]["id"].clone())?;
            twice += usize::from(found.insert(id, entry["seq"].as_i64().context("seq")?).is_some());
        }
        if page["more"] == json!(false) {
            return Ok((found, twice));
        }
        path = format!(
            "/v1/ledger?limit=5000&cursor={}",
            page["cursor"].as_str().context("a cursor")?
        );
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_was_acknowledged_survives_kills_of_the_service_and_of_its_database() -> Result<()> {
    let told = std::env::var("YARDJAR_KILLS").ok().and_then(|count| count.parse().ok());
    let kills: usize = told.unwrap_or(50);
    let mut dice = Dice::from_env("YARDJAR_SEED");
    let mut place = Place::new()?;
    let client = Client::builder().timeout(Duration::from_secs(20)).no_proxy().build()?;
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
    let (mut owner, phones) = people(&place).await?;
    let ended = Arc::new(AtomicBool::new(false));
    let working: Vec<_> = phones
        .into_iter()
        .map(|phone| tokio::spawn(work(phone, ended.clone())))
        .collect();
    let (mut verified, mut verifications) = (0, 0);
    for round in 0..kills {
        // Any moment is as good as any other.
        tokio::time::sleep(Duration::from_millis(u64::try_from(dice.below(400))?)).await;
        if dice.below(4) == 0 {
            place.kill_postgres()?;
            place.ready(&client).await?;
        } else {
            place.kill_service()?;
            place.start(&client).await?;
        }
        // What is new each time; everything in the end.
        verified += place
            .verify(verified)
            .with_context(|| format!("after kill {round} of seed {}", dice.seed()))?;
        verifications += 1;
    }
    ended.store(true, Ordering::Relaxed);
    let mut phones = Vec::new();
    for working in working {
        phones.push(working.await??);
    }
    let mut acknowledged = BTreeMap::new();
    for phone in &mut phones {
        phone.sync_patiently(40).await?;
        let all = phone.book.acknowledged.iter().map(|(id, (seq, _))| (*id, *seq));
        acknowledged.extend(all);
        ensure!(phone.book.outbox.is_empty() && phone.book.not_taken.is_empty());
    }
    // A long run outlives an access token.
    let refreshed = owner.refresh_with(owner.held()?).await?.expect_status(200)?;
    owner.tokens = Some(Tokens::read(&refreshed, Some(&owner.held()?.device_secret))?);
    let (ledger, twice) = ledger(&owner).await?;
    let lost = acknowledged
        .iter()
        .filter(|(id, seq)| ledger.get(id) != Some(seq))
        .count();
    println!(
        "{kills} kills: {} acknowledged, {lost} lost, {twice} twice, {verifications} times verified, seed {}",
        acknowledged.len(),
        dice.seed()
    );
    ensure!(
        lost == 0 && twice == 0,
        "{lost} lost, {twice} twice, seed {}",
        dice.seed()
    );
    ensure!(ledger.len() == acknowledged.len(), "{} entries", ledger.len());
    for phone in phones.iter_mut().skip(1) {
        phone.sync_patiently(5).await?;
    }
    phones[0].sync_patiently(5).await?;
    let same = phones.iter().all(|phone| phone.book.rows == phones[0].book.rows);
    ensure!(same, "two phones at the head show different rows, seed {}", dice.seed());
    let all = place.verify(0)?;
    ensure!(usize::try_from(all)? == ledger.len(), "{all} entries were verified");
    Ok(())
}

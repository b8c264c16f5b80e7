//! The service as a program with a private PostgreSQL of its own, fsync on: either can be killed, and their disk filled.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail, ensure};
use serde_json::json;
use tests::{Client, Database, FieldPhone, Tokens};
use uuid::Uuid;

use crate::files::below;
use crate::scenarios::process::{binary, memory_of};

const PASS_PHRASE: &str = "ladle-bramble-sieve-orchard-9";
/// How long the service may take until it can write, a database that was killed included.
const READY_WITHIN: Duration = Duration::from_secs(90);

/// A data folder that the database's own user can reach, removed at the end with whatever runs in it.
pub(crate) struct Alone {
    data: PathBuf,
    port: u16,
    service: Option<Child>,
    client: reqwest::Client,
}

impl Drop for Alone {
    fn drop(&mut self) {
        if let Some(mut service) = self.service.take() {
            let _ = Command::new("kill").args(["-TERM", &service.id().to_string()]).status();
            let _ = service.wait();
        }
        let _ = std::fs::remove_dir_all(&self.data);
    }
}

impl Alone {
    /// In the temporary folder.
    pub(crate) fn new() -> Result<Self> {
        Self::in_folder(&std::env::temp_dir())
    }

    /// A new folder in this one, and a business with its owner in it.
    pub(crate) fn in_folder(folder: &Path) -> Result<Self> {
        let port = std::net::TcpListener::bind("127.0.0.1:0")?.local_addr()?.port();
        let alone = Self {
            data: folder.join(format!("yardjar-alone-{}", Uuid::new_v4().simple())),
            port,
            service: None,
            client: reqwest::Client::builder()
                .timeout(Duration::from_secs(20))
                .no_proxy()
                .build()?,
        };
        std::fs::create_dir_all(&alone.data)?;
        let secret = alone.data.join("pass-phrase");
        std::fs::write(&secret, PASS_PHRASE)?;
        let file = secret.to_string_lossy();
        let owner = [
            "owner",
            "add",
            "--business",
            "Moor Honey",
            "--name",
            "Maren",
            "--login",
            "maren",
            "--password-file",
            &file,
        ];
        ensure!(alone.command(&owner)?.status()?.success(), "no owner could be added");
        Ok(alone)
    }

    fn command(&self, args: &[&str]) -> Result<Command> {
        let mut command = Command::new(binary()?);
        command
            .args(args)
            .env("YARDJAR_DATA", &self.data)
            .env_remove("DATABASE_URL")
            // As deploy/run sets it.
            .env("MALLOC_MMAP_THRESHOLD_", "131072");
        command
            .env("YARDJAR_LISTEN", format!("127.0.0.1:{}", self.port))
            .env("YARDJAR_LOG", "warn");
        let said = std::fs::File::options().create(true).append(true).open(self.said())?;
        command.stdout(Stdio::null()).stderr(said);
        Ok(command)
    }

    /// What its programs complained of: a log on their own disk, which may be full.
    fn said(&self) -> PathBuf {
        self.data.join("said.log")
    }

    /// Starts the service, and waits until it can write.
    pub(crate) async fn start(&mut self) -> Result<()> {
        self.service = Some(self.command(&["serve"])?.spawn()?);
        self.ready().await
    }

    /// Waits until the service answers that it can write.
    pub(crate) async fn ready(&mut self) -> Result<()> {
        let began = Instant::now();
        while began.elapsed() < READY_WITHIN {
            let asked = self.client.get(self.url("/health/ready")).send().await;
            if asked.is_ok_and(|answer| answer.status() == 200) {
                return Ok(());
            }
            if let Some(status) = self.service.as_mut().and_then(|child| child.try_wait().transpose()) {
                let said = std::fs::read_to_string(self.said()).unwrap_or_default();
                let (status, from) = (status?, said.lines().count().saturating_sub(20));
                let last: Vec<&str> = said.lines().skip(from).collect();
                bail!("the service ended: {status:?}; it said last:\n{}", last.join("\n"));
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        bail!("the service is not ready after {READY_WITHIN:?}")
    }

    /// Where it listens.
    pub(crate) fn url(&self, path: &str) -> String {
        format!("http://127.0.0.1:{}{path}", self.port)
    }

    /// Kill -9 of the service. Its database goes on, and the next start takes it over.
    pub(crate) fn kill_service(&mut self) -> Result<()> {
        let service = self.service.as_mut().context("a running service")?;
        service.kill()?;
        service.wait()?;
        Ok(())
    }

    /// Kill -9 of the postmaster, which writes its number into the first line of its file.
    pub(crate) fn kill_postgres(&self) -> Result<()> {
        let file = below(&self.data)
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

    /// The memory of the service, in bytes: now, and the most since its last start.
    pub(crate) fn memory(&self) -> Result<(u64, u64)> {
        memory_of(self.service.as_ref().context("a running service")?.id())
    }

    /// Its database, as a superuser sees it.
    pub(crate) fn database(&self) -> Result<Database> {
        let address = api::local::known_address(&self.data).context("an address")?;
        Ok(Database::elsewhere(
            &address.expose().replace("user=yardjar", "user=postgres"),
        ))
    }

    /// Verifies what came after a number; answers how many entries that were.
    pub(crate) fn verify(&self, after: i64) -> Result<i64> {
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

    /// The owner, and phones that joined by codes.
    pub(crate) async fn people(&self, phones: usize) -> Result<(Client, Vec<FieldPhone>)> {
        let stranger = Client::stranger(self.url(""))?;
        let body = json!({ "login": "maren", "password": PASS_PHRASE, "device_name": "Office computer" });
        let answer = stranger.post("/v1/auth/sign-in", &body).await?.expect_status(200)?;
        let owner = stranger.with(Some(Tokens::read(&answer, None)?));
        let member = owner.held()?.member;
        let mut joined = Vec::new();
        for _ in 0..phones {
            let body = json!({ "member_id": member, "device_name": "Phone" });
            let code = owner.post("/v1/devices/codes", &body).await?.expect_status(201)?;
            let code = json!({ "code": code["code"] });
            let answer = stranger.post("/v1/auth/enrolments", &code).await?.expect_status(200)?;
            let mut phone = FieldPhone::new(stranger.with(Some(Tokens::read(&answer, None)?)));
            phone.patience = Duration::from_secs(20);
            joined.push(phone);
        }
        Ok((owner, joined))
    }
}

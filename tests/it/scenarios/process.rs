//! The service as a program of its own on the database of a test, so that it can be killed without warning.

use std::path::PathBuf;
use std::process::{Child, Command, Stdio};

use anyhow::{Context, Result, ensure};
use tests::Service;

use super::downloads::until;

/// The program beside this test.
pub(crate) fn binary() -> Result<PathBuf> {
    let here = std::env::current_exe()?;
    let folder = here
        .parent()
        .and_then(std::path::Path::parent)
        .context("a folder for programs")?;
    let binary = folder.join("yardjar");
    ensure!(
        binary.exists(),
        "{} is missing: run `cargo build -p api -p tests --bins` first",
        binary.display()
    );
    Ok(binary)
}

/// A running program; killed when dropped.
pub(crate) struct Process {
    pub(crate) url: String,
    port: u16,
    database: String,
    data: PathBuf,
    child: Option<Child>,
}

impl Process {
    /// Beside a service of the test, on its database and with its keys.
    pub(crate) async fn beside(service: &Service) -> Result<Self> {
        let port = std::net::TcpListener::bind("127.0.0.1:0")?.local_addr()?.port();
        let mut process = Self {
            url: format!("http://127.0.0.1:{port}"),
            port,
            database: service.database.url().to_owned(),
            data: service.data().to_owned(),
            child: None,
        };
        std::fs::create_dir_all(process.failpoints())?;
        process.start().await?;
        Ok(process)
    }

    /// Starts, and waits until it can write.
    pub(crate) async fn start(&mut self) -> Result<()> {
        let mut command = Command::new(binary()?);
        command
            .arg("serve")
            .env("DATABASE_URL", &self.database)
            .env("YARDJAR_DATA", &self.data)
            // As deploy/run sets it.
            .env("MALLOC_MMAP_THRESHOLD_", "131072");
        command.env("YARDJAR_LISTEN", format!("127.0.0.1:{}", self.port));
        command
            .env("YARDJAR_ALLOW_FSYNC_OFF", "yes")
            .env("YARDJAR_LOG", "error")
            .env("YARDJAR_POOL", "6");
        self.child = Some(command.stdout(Stdio::null()).spawn()?);
        let client = reqwest::Client::builder().no_proxy().build()?;
        let ready = format!("{}/health/ready", self.url);
        until(async || {
            client
                .get(&ready)
                .send()
                .await
                .is_ok_and(|answer| answer.status() == 200)
        })
        .await
    }

    /// Kill -9.
    pub(crate) fn kill(&mut self) -> Result<()> {
        let mut child = self.child.take().context("it runs")?;
        child.kill()?;
        child.wait()?;
        Ok(())
    }

    /// Told to end, as an operator does it; waits until it has.
    pub(crate) async fn end(&mut self) -> Result<()> {
        let mut child = self.child.take().context("it runs")?;
        let told = Command::new("kill").args(["-TERM", &child.id().to_string()]).status()?;
        ensure!(told.success(), "it could not be told to end");
        tokio::task::spawn_blocking(move || child.wait()).await??;
        Ok(())
    }

    /// How many wait for news at it.
    pub(crate) async fn waiting(&self) -> Result<usize> {
        let client = reqwest::Client::builder().no_proxy().build()?;
        let metrics = client.get(format!("{}/metrics", self.url)).send().await?.text().await?;
        let line = metrics.lines().find_map(|line| line.strip_prefix("waiting_for_news "));
        Ok(line.context("nobody counts who waits")?.trim().parse()?)
    }

    fn failpoints(&self) -> PathBuf {
        self.data.join("failpoints")
    }

    /// The next time it comes to this place, it stays there.
    pub(crate) fn stop_at(&self, place: &str) -> Result<()> {
        Ok(std::fs::write(self.failpoints().join(place), "")?)
    }

    /// Waits until it is there.
    pub(crate) async fn reached(&self, place: &str) -> Result<()> {
        let reached = self.failpoints().join(format!("{place}.reached"));
        until(async || reached.exists()).await?;
        Ok(std::fs::remove_file(reached)?)
    }

    /// Its memory, in bytes: now, and the most it ever had.
    pub(crate) fn memory(&self) -> Result<(u64, u64)> {
        memory_of(self.child.as_ref().context("it runs")?.id())
    }
}

/// The memory of a program, in bytes: now, and the most it ever had.
pub(crate) fn memory_of(pid: u32) -> Result<(u64, u64)> {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status"))?;
    let of = |name: &str| {
        let line = status.lines().find(|line| line.starts_with(name)).unwrap_or_default();
        let kb: u64 = line
            .split_whitespace()
            .nth(1)
            .with_context(|| format!("no {name}"))?
            .parse()?;
        anyhow::Ok(kb * 1024)
    };
    Ok((of("VmRSS:")?, of("VmHWM:")?))
}

impl Drop for Process {
    fn drop(&mut self) {
        if self.child.is_some() {
            // Whether it had ended already is nobody's concern.
            let _ = self.kill();
        }
    }
}

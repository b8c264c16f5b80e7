//! A PostgreSQL server of the service's own, for whoever has none and wants none.
//!
//! Here belong its start, its supervision and its stop, as blocking code for Linux: the server
//! listens on a socket in a folder nobody else can enter, keeps its data beside it, and writes
//! every commit through to the disk. Not here: the schema, connections and pools, backups, and
//! reading the environment.

mod account;
mod cluster;
mod error;
mod folders;
mod postmaster;
mod processes;
mod server_files;
#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
mod tests;

use std::fmt::Write;
use std::fs::File;
use std::path::Path;

use tracing::{info, warn};

use account::ServerAccount;
use folders::Folders;
use postmaster::Postmaster;

pub use error::{Looked, PrivatePostgresError, WantedVersion};
pub use server_files::{ServerFiles, find_server_files};

/// A running private server.
///
/// Dropping this does **not** end the server, exactly as the service's sudden death would not:
/// committed work is safe either way, and the next [`PrivatePostgres::start`] on the same data
/// adopts it. For an orderly end call [`PrivatePostgres::stop`].
#[derive(Debug)]
pub struct PrivatePostgres {
    setup: Setup,
    postmaster: Postmaster,
    /// Held open for the lock on it.
    _lock: File,
}

/// What [`PrivatePostgres::ensure_running`] found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Watched {
    /// The server was running all along.
    Running,
    /// The server had died and runs again; connections from before are dead.
    Restarted,
}

/// Everything that stays the same while the server comes and goes.
#[derive(Debug)]
struct Setup {
    files: ServerFiles,
    account: ServerAccount,
    folders: Folders,
}

impl Setup {
    /// Every process of the server, its helpers included.
    fn at_work(&self) -> Vec<u32> {
        processes::working_with(&self.folders.cluster, Some(&self.folders.cluster_name))
    }

    fn is_at_work(&self, pid: u32) -> bool {
        processes::works_with(pid, &self.folders.cluster, Some(&self.folders.cluster_name))
    }
}

impl PrivatePostgres {
    /// Brings up the server on the data in `data_dir`: adopts one that is running, starts one on
    /// data that is there, or makes new data first.
    ///
    /// Blocks until the server takes connections: seconds the first time, longer after a crash.
    ///
    /// # Errors
    /// When another instance holds the data, when the programs do not fit it, when the server's
    /// user cannot reach something, or when the server does not come up. Every error names the
    /// cure.
    pub fn start(data_dir: &Path, server_files: &ServerFiles) -> Result<Self, PrivatePostgresError> {
        let account = ServerAccount::choose()?;
        let files = server_files.clone();
        let folders = Folders::prepare(data_dir, account)?;
        account.check_reach(&folders.data_dir, &files.program("postgres"))?;
        let lock = folders.lock()?;
        let setup = Setup {
            files,
            account,
            folders,
        };
        cluster::ensure_cluster(&setup)?;
        let postmaster = Postmaster::bring_up(&setup)?;
        Ok(Self {
            setup,
            postmaster,
            _lock: lock,
        })
    }

    /// The folder with the server's socket.
    #[must_use]
    pub fn socket_dir(&self) -> &Path {
        &self.setup.folders.socket_dir
    }

    /// The number of the server's first process.
    #[must_use]
    pub fn pid(&self) -> u32 {
        self.postmaster.pid()
    }

    /// The address for a client, as `postgresql:///database?host=…&port=…&user=…`.
    #[must_use]
    pub fn url(&self, user: &str, database: &str) -> String {
        url(self.socket_dir(), user, database)
    }

    /// Whether the server's first process is alive.
    #[must_use]
    pub fn is_alive(&self) -> bool {
        self.postmaster.is_alive(&self.setup)
    }

    /// Starts the server again if it has died or its socket was cleared away.
    ///
    /// Cheap while all is well, so it may be called every second. Otherwise it blocks until the
    /// server is back, which after a kill can take a minute and a half, and longer while much is
    /// being recovered.
    ///
    /// # Errors
    /// When the server does not come up; the next call tries again.
    pub fn ensure_running(&mut self) -> Result<Watched, PrivatePostgresError> {
        if self.is_alive() && self.setup.folders.socket().exists() {
            return Ok(Watched::Running);
        }
        let pid = self.pid();
        warn!(
            postgres.pid = pid,
            "the private database server (process {pid}) died or lost its socket"
        );
        self.postmaster.collect();
        self.postmaster = Postmaster::bring_up(&self.setup)?;
        Ok(Watched::Restarted)
    }

    /// Turns clients away, has the server write everything down, and waits until it is gone.
    ///
    /// # Errors
    /// When the server outlives both a fast and an immediate shutdown.
    pub fn stop(mut self) -> Result<(), PrivatePostgresError> {
        self.postmaster.stop(&self.setup)?;
        let pid = self.pid();
        info!(
            postgres.pid = pid,
            "stopped the private database server (process {pid})"
        );
        Ok(())
    }
}

fn url(socket_dir: &Path, user: &str, database: &str) -> String {
    // The choice of the folder made sure that its name is text.
    let host = socket_dir.to_string_lossy();
    let (database, host, user) = (escaped(database), escaped(&host), escaped(user));
    format!(
        "postgresql:///{database}?host={host}&port={}&user={user}",
        folders::PORT
    )
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            out.push(char::from(byte));
        } else {
            // Writing into a string cannot fail.
            let _ = write!(out, "%{byte:02X}");
        }
    }
    out
}

/// The end of what a program said, on one line, for an error message.
fn last_lines(said: &str) -> String {
    let lines: Vec<&str> = said.lines().map(str::trim).filter(|line| !line.is_empty()).collect();
    match lines.as_slice() {
        [] => "it said nothing".to_owned(),
        all => all[all.len().saturating_sub(4)..].join(" / "),
    }
}

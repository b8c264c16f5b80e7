//! The private PostgreSQL as this service uses it: its roles, its database, its watchman.
//!
//! How a server is found, started and stopped is the business of [`crate::private_postgres`], which blocks; here it
//! is moved out of the way of the requests.

use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use diesel::QueryableByName;
use diesel::sql_types::{Bool, Text};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};
use tokio::task::{AbortHandle, spawn_blocking};

use crate::config::{Config, Secret};
use crate::private_postgres::{PrivatePostgres, PrivatePostgresError, Watched, find_server_files};

/// The service's own database and the role that owns it, which is no superuser.
const NAME: &str = "yardjar";
/// Whom the private server was initialised for.
const SUPERUSER: &str = "postgres";
/// How often the watchman looks.
const ROUND: Duration = Duration::from_secs(1);

/// Why there is no private database.
#[derive(Debug, thiserror::Error)]
pub enum LocalRefused {
    /// The server does not come up.
    #[error(transparent)]
    Server(#[from] PrivatePostgresError),
    /// It does not take connections.
    #[error("the private database server cannot be reached")]
    Unreachable(#[from] diesel::ConnectionError),
    /// It refused to make the role or the database.
    #[error("the private database could not be made")]
    Query(#[from] diesel::result::Error),
    /// Its address could not be written down.
    #[error("cannot write {path}")]
    Address {
        /// Where to.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// The work was torn down.
    #[error("the start of the private database was interrupted")]
    Interrupted(#[from] tokio::task::JoinError),
}

/// The private server, running.
pub struct LocalDatabase {
    server: Arc<Mutex<Option<PrivatePostgres>>>,
    url: Secret,
    watchman: AbortHandle,
}

impl LocalDatabase {
    /// Brings the server up, makes the database if need be, and has it watched from then on.
    ///
    /// # Errors
    /// When the server or the database cannot be had.
    pub async fn start(config: &Config) -> Result<Self, LocalRefused> {
        let (data, bin) = (config.data.clone(), config.pg_bin.clone());
        let server = spawn_blocking(move || {
            let files = find_server_files(&data, bin.as_deref())?;
            PrivatePostgres::start(&data, &files)
        });
        let server = server.await??;
        make_database(&server.url(SUPERUSER, SUPERUSER)).await?;
        let url = Secret::new(server.url(NAME, NAME));
        write_address(&config.data, &url)?;
        let server = Arc::new(Mutex::new(Some(server)));
        let watchman = tokio::spawn(watch(Arc::clone(&server))).abort_handle();
        Ok(Self { server, url, watchman })
    }

    /// Where the service connects to.
    #[must_use]
    pub fn url(&self) -> Secret {
        self.url.clone()
    }

    /// Has the server write everything down and end.
    ///
    /// # Errors
    /// When it does not end.
    pub async fn stop(self) -> Result<(), LocalRefused> {
        self.watchman.abort();
        let server = self.server;
        let stopped = spawn_blocking(move || {
            let taken = server.lock().unwrap_or_else(PoisonError::into_inner).take();
            taken.map_or(Ok(()), PrivatePostgres::stop)
        });
        Ok(stopped.await??)
    }
}

/// The address of a private server that another process of ours is running, if it wrote one down.
#[must_use]
pub fn known_address(data: &Path) -> Option<Secret> {
    std::fs::read_to_string(address_file(data))
        .ok()
        .map(|text| Secret::new(text.trim()))
}

fn address_file(data: &Path) -> PathBuf {
    data.join("database.url")
}

/// The socket's folder is the lock on the door; the address alone opens nothing.
fn write_address(data: &Path, url: &Secret) -> Result<(), LocalRefused> {
    let path = address_file(data);
    let mut options = std::fs::OpenOptions::new();
    let file = options.write(true).create(true).truncate(true).mode(0o600).open(&path);
    let written = file.and_then(|mut file| writeln!(file, "{}", url.expose()));
    written.map_err(|source| LocalRefused::Address { path, source })
}

#[derive(QueryableByName)]
struct Answer {
    #[diesel(sql_type = Bool)]
    yes: bool,
}

/// Only here does anything work as the superuser: the backup's role needs one to be made.
async fn make_database(url: &str) -> Result<(), LocalRefused> {
    const ROLES: &str = "do $$ begin
        if not exists (select from pg_roles where rolname = 'yardjar') then
            create role yardjar login createrole;
        end if;
        if not exists (select from pg_roles where rolname = 'yj_backup') then
            create role yj_backup nologin bypassrls;
        end if;
    end $$";
    let mut conn = AsyncPgConnection::establish(url).await?;
    conn.batch_execute(ROLES).await?;
    let there = diesel::sql_query("select exists (select from pg_database where datname = $1) as yes");
    if !there.bind::<Text, _>(NAME).get_result::<Answer>(&mut conn).await?.yes {
        conn.batch_execute("create database yardjar owner yardjar").await?;
    }
    Ok(())
}

/// Starts the server again whenever it died; says so once each time.
async fn watch(server: Arc<Mutex<Option<PrivatePostgres>>>) {
    loop {
        tokio::time::sleep(ROUND).await;
        let server = Arc::clone(&server);
        let round = spawn_blocking(move || {
            let mut server = server.lock().unwrap_or_else(PoisonError::into_inner);
            server.as_mut().map(PrivatePostgres::ensure_running)
        });
        match round.await {
            Ok(None) => return,
            Ok(Some(Ok(Watched::Running))) | Err(_) => {}
            Ok(Some(Ok(Watched::Restarted))) => {
                tracing::warn!("the private database server runs again")
            }
            Ok(Some(Err(error))) => {
                tracing::error!(%error, "the private database server does not come up: {error}")
            }
        }
    }
}

//! Connections to PostgreSQL: the pool, what every connection is told first, and bringing a database up to date.
//!
//! The pool works as `yj_app`, which owns nothing and is held by row-level security. Migrations and the console
//! work as `yj_owner`. No query about bees, people or entries belongs here.

use std::future::Future;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use deadpool::managed::QueueMode;
use diesel::sql_types::Text;
use diesel::{ConnectionError, QueryableByName};
use diesel_async::async_connection_wrapper::AsyncConnectionWrapper;
use diesel_async::pooled_connection::deadpool::{Object, Pool, PoolError};
use diesel_async::pooled_connection::{AsyncDieselConnectionManager, ManagerConfig, RecyclingMethod};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};
use futures_util::FutureExt;
use tokio::sync::{Mutex, OwnedMutexGuard};
use tracing::Instrument;
use uuid::Uuid;

use crate::config::Secret;

mod shares;

pub use shares::Share;
use shares::Shares;

/// Every migration, compiled in.
pub const MIGRATIONS: EmbeddedMigrations = embed_migrations!("../migrations");

/// How many may wait for a connection before the next is sent away.
const QUEUE: usize = 256;
/// How much those may hold who wait: few large pushes, or many small ones.
const QUEUE_BYTES: usize = 64 * 1024 * 1024;
/// How long one waits for a connection.
const WAIT: Duration = Duration::from_secs(5);
/// Serialises migrations of one database.
const MIGRATION_LOCK: i64 = 0x7961_7264_6a61_7200;

const APP_SETTINGS: &str = "set role yj_app; set statement_timeout = '15s'; set lock_timeout = '5s'; \
     set idle_in_transaction_session_timeout = '30s'; set timezone = 'UTC'";
const OWNER_SETTINGS: &str = "set role yj_owner; set lock_timeout = '60s'; set timezone = 'UTC'";

/// A connection out of the pool.
pub type Conn = Object<AsyncPgConnection>;
/// A connection, and the head of the queue in which one stood for it.
pub type Queued = (Conn, Option<OwnedMutexGuard<()>>);

/// Why there is no connection.
#[derive(Debug, thiserror::Error)]
pub enum DatabaseRefused {
    /// All connections are taken and enough others wait already.
    #[error("too many requests wait for the database")]
    Busy,
    /// The database cannot be reached.
    #[error("the database cannot be reached")]
    Unreachable(#[source] PoolError),
}

/// Why a database cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum PrepareRefused {
    /// It cannot be reached.
    #[error("the database cannot be reached")]
    Unreachable(#[from] ConnectionError),
    /// It would lose what it acknowledged.
    #[error("the database has {setting} = {value} and would lose acknowledged entries in a power cut; set it to on")]
    Careless {
        /// Which setting.
        setting: &'static str,
        /// What it is.
        value: String,
    },
    /// The roles could not be made.
    #[error("the database's roles yj_owner and yj_app could not be made; the user of DATABASE_URL needs CREATEROLE")]
    Roles(#[source] diesel::result::Error),
    /// A statement failed.
    #[error("the database refused a statement of its preparation")]
    Statement(#[from] diesel::result::Error),
    /// A migration failed.
    #[error("a migration failed: {0}")]
    Migration(String),
    /// The pool could not be made.
    #[error("the pool of connections could not be made: {0}")]
    Pool(String),
}

/// The database as the service uses it.
#[derive(Clone)]
pub struct Database {
    pool: Pool<AsyncPgConnection>,
    waiting: Arc<Waiting>,
    shares: Arc<Shares>,
    runtime: tokio::runtime::Handle,
}

impl Database {
    /// Opens a pool of `size` connections that work as `yj_app`. Connects to nothing yet.
    ///
    /// # Errors
    /// When the pool cannot be made.
    pub fn open(url: &Secret, size: usize) -> Result<Self, PrepareRefused> {
        let runtime = tokio::runtime::Handle::current();
        let mut config = ManagerConfig::default();
        config.recycling_method = RecyclingMethod::Fast;
        let home = runtime.clone();
        // Connections live on the main runtime, not on the web worker that happens to ask first.
        config.custom_setup = Box::new(move |url| {
            let (url, home) = (url.to_owned(), home.clone());
            async move {
                home.spawn(establish(url))
                    .await
                    .unwrap_or_else(|error| Err(bad(&error)))
            }
            .boxed()
        });
        let manager = AsyncDieselConnectionManager::new_with_config(url.expose(), config);
        let pool = Pool::builder(manager)
            .max_size(size)
            // The one used last has its plans and pages at hand.
            .queue_mode(QueueMode::Lifo)
            .wait_timeout(Some(WAIT))
            .create_timeout(Some(WAIT))
            .runtime(deadpool::Runtime::Tokio1)
            .build()
            .map_err(|error| PrepareRefused::Pool(error.to_string()))?;
        Ok(Self {
            pool,
            waiting: Arc::default(),
            shares: Arc::new(Shares::of(size, WAIT)),
            runtime,
        })
    }

    /// A connection, as soon as one is free.
    ///
    /// # Errors
    /// When too many wait already, the wait was too long, or the database cannot be reached.
    pub async fn connection(&self) -> Result<Conn, DatabaseRefused> {
        Ok(self.connection_after(None, 0).await?.0)
    }

    /// The same after those who stand in the same queue, whose head one is until the guard is dropped. Who waits holds
    /// so many bytes.
    ///
    /// # Errors
    /// As [`Database::connection`].
    pub async fn connection_after(
        &self,
        queue: Option<Arc<Mutex<()>>>,
        holds: usize,
    ) -> Result<Queued, DatabaseRefused> {
        let place = Place::take(&self.waiting, holds)?;
        let head = match queue {
            Some(queue) => {
                let turn = tokio::time::timeout(WAIT, queue.lock_owned()).await;
                Some(turn.map_err(|_| DatabaseRefused::Busy)?)
            }
            None => None,
        };
        let conn = self.pool.get().await.map_err(|error| match error {
            PoolError::Timeout(deadpool::managed::TimeoutType::Wait) => DatabaseRefused::Busy,
            other => DatabaseRefused::Unreachable(other),
        });
        drop(place);
        Ok((conn?, head))
    }

    /// A place among those who will wait for the turn of one business: at most half of all connections do so for one.
    /// It is kept as long as the connection.
    ///
    /// # Errors
    /// [`DatabaseRefused::Busy`] when too many wait for a place, or the wait was too long.
    pub async fn share(&self, business: Uuid) -> Result<Share, DatabaseRefused> {
        self.shares.take(business).await
    }

    /// Runs work to its end on the main runtime, even when whoever asked has gone away: a transaction is never
    /// dropped half-way because a phone lost its signal.
    ///
    /// # Errors
    /// What the work answers, or [`Interrupted`] when it panicked.
    pub async fn detached<T, E, F>(&self, work: F) -> Result<T, E>
    where
        F: Future<Output = Result<T, E>> + Send + 'static,
        T: Send + 'static,
        E: From<Interrupted> + Send + 'static,
    {
        match self.runtime.spawn(work.in_current_span()).await {
            Ok(answer) => answer,
            Err(error) => Err(Interrupted(error).into()),
        }
    }

    /// Connections in use, idle and waited for, for the metrics.
    #[must_use]
    pub fn status(&self) -> deadpool::Status {
        self.pool.status()
    }

    /// Closes every connection.
    pub fn close(&self) {
        self.pool.close();
    }
}

/// A detached piece of work panicked or was torn down with the runtime.
#[derive(Debug, thiserror::Error)]
#[error("the work was interrupted")]
pub struct Interrupted(#[source] tokio::task::JoinError);

/// How many wait for a connection, and what they hold meanwhile.
#[derive(Default)]
struct Waiting {
    count: AtomicUsize,
    bytes: AtomicUsize,
}

/// One place in the queue for a connection.
struct Place<'a> {
    among: &'a Waiting,
    holds: usize,
}

impl<'a> Place<'a> {
    fn take(among: &'a Waiting, holds: usize) -> Result<Self, DatabaseRefused> {
        let before = among.count.fetch_add(1, Ordering::Relaxed);
        let held = among.bytes.fetch_add(holds, Ordering::Relaxed);
        let place = Self { among, holds };
        if before >= QUEUE || held + holds > QUEUE_BYTES {
            return Err(DatabaseRefused::Busy);
        }
        Ok(place)
    }
}

impl Drop for Place<'_> {
    fn drop(&mut self) {
        self.among.count.fetch_sub(1, Ordering::Relaxed);
        self.among.bytes.fetch_sub(self.holds, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neither_too_many_nor_too_much_waits() {
        let waiting = Waiting::default();
        let many: Vec<_> = (0..QUEUE)
            .map(|_| Place::take(&waiting, 1).unwrap_or_else(|_| panic!()))
            .collect();
        assert!(matches!(Place::take(&waiting, 1), Err(DatabaseRefused::Busy)));
        drop(many);
        let large = Place::take(&waiting, QUEUE_BYTES - 1);
        assert!(large.is_ok());
        assert!(Place::take(&waiting, 2).is_err());
        assert!(Place::take(&waiting, 1).is_ok());
        drop(large);
        assert!(Place::take(&waiting, QUEUE_BYTES).is_ok(), "all was given back");
    }
}

async fn establish(url: String) -> Result<AsyncPgConnection, ConnectionError> {
    connect(&url, APP_SETTINGS).await
}

async fn connect(url: &str, settings: &str) -> Result<AsyncPgConnection, ConnectionError> {
    let mut conn = AsyncPgConnection::establish(url).await?;
    conn.batch_execute(settings)
        .await
        .map_err(ConnectionError::CouldntSetupConfiguration)?;
    Ok(conn)
}

fn bad(error: &tokio::task::JoinError) -> ConnectionError {
    ConnectionError::BadConnection(error.to_string())
}

/// A connection that works as `yj_owner`: for the console only. Row-level security binds it too.
///
/// # Errors
/// When the database cannot be reached or was never prepared.
pub async fn as_owner(url: &Secret) -> Result<AsyncPgConnection, ConnectionError> {
    connect(url.expose(), OWNER_SETTINGS).await
}

/// Makes sure the database is safe to use, has its roles, and is migrated. Any number of nodes may do this at once.
///
/// # Errors
/// When it cannot be reached, is careless with data, or refuses a statement.
pub async fn prepare(url: &Secret, allow_fsync_off: bool) -> Result<(), PrepareRefused> {
    let mut conn = AsyncPgConnection::establish(url.expose()).await?;
    if !allow_fsync_off {
        refuse_careless(&mut conn).await?;
    }
    make_roles(&mut conn).await?;
    conn.batch_execute(&format!(
        "set lock_timeout = '120s'; select pg_advisory_lock({MIGRATION_LOCK})"
    ))
    .await?;
    conn.batch_execute(RIGHTS).await?;
    let mut conn = migrate(conn).await?;
    conn.batch_execute(&format!("reset role; select pg_advisory_unlock({MIGRATION_LOCK})"))
        .await?;
    Ok(())
}

#[derive(QueryableByName)]
struct Setting {
    #[diesel(sql_type = Text)]
    value: String,
}

async fn refuse_careless(conn: &mut AsyncPgConnection) -> Result<(), PrepareRefused> {
    for setting in ["fsync", "full_page_writes", "synchronous_commit"] {
        let query = diesel::sql_query("select current_setting($1) as value").bind::<Text, _>(setting);
        let Setting { value } = query.get_result(conn).await?;
        if value == "off" {
            return Err(PrepareRefused::Careless { setting, value });
        }
    }
    Ok(())
}

/// Roles belong to the whole cluster, and another database may be making the same ones this moment: what fails is
/// tried again.
async fn make_roles(conn: &mut AsyncPgConnection) -> Result<(), PrepareRefused> {
    let mut tries = 0;
    loop {
        match conn.batch_execute(ROLES).await {
            Ok(()) => return Ok(()),
            Err(error) if tries >= 10 => return Err(PrepareRefused::Roles(error)),
            Err(_) => {
                tries += 1;
                tokio::time::sleep(Duration::from_millis(20 * tries)).await;
            }
        }
    }
}

/// `BYPASSRLS` can only be given by a superuser; without it a backup needs another role.
const ROLES: &str = "do $$
declare
    r text;
begin
    foreach r in array array['yj_owner', 'yj_app', 'yj_backup'] loop
        if not exists (select from pg_roles where rolname = r) then
            begin
                execute format('create role %I nologin', r);
            exception when duplicate_object or unique_violation then null;
            end;
        end if;
    end loop;
    foreach r in array array['yj_owner', 'yj_app'] loop
        if not pg_has_role(current_user, r,
                           case when current_setting('server_version_num')::int >= 160000 then 'set' else 'member' end) then
            execute format('grant %I to %I', r, current_user);
        end if;
    end loop;
    if not (select rolbypassrls from pg_roles where rolname = 'yj_backup') then
        begin
            alter role yj_backup bypassrls;
        exception when insufficient_privilege then null;
        end;
    end if;
end $$";

/// What must hold before the first migration; said again each time, since it may have been changed by hand.
const RIGHTS: &str = "grant usage, create on schema public to yj_owner;
    revoke create on schema public from public;
    grant usage on schema public to yj_app, yj_backup;
    set role yj_owner;
    alter default privileges revoke execute on functions from public;
    alter default privileges in schema public grant select on tables to yj_backup;
    alter default privileges in schema public grant select on sequences to yj_backup";

/// diesel's harness blocks, so it runs where blocking is allowed, whichever runtime called.
async fn migrate(conn: AsyncPgConnection) -> Result<AsyncPgConnection, PrepareRefused> {
    let work = tokio::task::spawn_blocking(move || {
        let mut wrapper = AsyncConnectionWrapper::<AsyncPgConnection>::from(conn);
        let ran = wrapper.run_pending_migrations(MIGRATIONS).map(|_| ());
        ran.map(|()| wrapper.into_inner())
            .map_err(|error| PrepareRefused::Migration(error.to_string()))
    });
    work.await
        .map_err(|error| PrepareRefused::Migration(error.to_string()))?
}

/// Whether every migration this program knows has run. One that knows more may be a newer node's work.
///
/// # Errors
/// When the database refuses the question.
pub async fn is_current(conn: &mut AsyncPgConnection) -> Result<bool, diesel::result::Error> {
    use diesel::migration::MigrationSource;
    let known: Vec<Box<dyn diesel::migration::Migration<diesel::pg::Pg>>> = MIGRATIONS
        .migrations()
        .map_err(diesel::result::Error::QueryBuilderError)?;
    let known: Vec<String> = known
        .iter()
        .map(|migration| migration.name().version().to_string())
        .collect();
    let query = diesel::sql_query("select version::text as value from __diesel_schema_migrations");
    let ran: Vec<Setting> = query.load(conn).await?;
    Ok(known.iter().all(|version| ran.iter().any(|row| row.value == *version)))
}

/// Whether a change could be written now: a standby or a full disk answers no.
///
/// # Errors
/// When the database refuses the question.
pub async fn is_writable(conn: &mut AsyncPgConnection) -> Result<bool, diesel::result::Error> {
    let query = diesel::sql_query("select (not pg_is_in_recovery())::text as value");
    Ok(query.get_result::<Setting>(conn).await?.value == "true")
}

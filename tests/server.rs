//! One PostgreSQL for all tests of this process, and a database of its own for each of them.
//!
//! The server and everything that must outlive a single test run on one thread with a runtime of its own. When the
//! process exits, whether tests failed, succeeded or were interrupted, that thread takes the server away.

use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Mutex, OnceLock, PoisonError};
use std::thread::JoinHandle;

use anyhow::{Context, Result, anyhow};
use api::config::Secret;
use diesel::QueryableByName;
use diesel::sql_types::{Nullable, Text};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};
use tokio::runtime::Handle;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::oneshot;

use crate::engine::Engine;

/// What the tests know of the server.
struct Server {
    url: String,
    home: Handle,
}

/// The thread that owns the server, as long as the process has not begun to exit.
struct Keeper {
    stop: oneshot::Sender<()>,
    thread: JoinHandle<()>,
}

static SERVER: OnceLock<Result<Server, String>> = OnceLock::new();
static KEEPER: Mutex<Option<Keeper>> = Mutex::new(None);
static COUNT: AtomicU32 = AtomicU32::new(0);

fn server() -> Result<&'static Server> {
    let server = SERVER.get_or_init(|| start().map_err(|error| format!("{error:#}")));
    server.as_ref().map_err(|error| anyhow!("{error}"))
}

fn start() -> Result<Server> {
    let (stop, stopped) = oneshot::channel();
    let (tell, told) = std::sync::mpsc::channel();
    let thread = std::thread::Builder::new().name("database".to_owned()).spawn(move || {
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            .enable_all()
            .build();
        match runtime {
            Ok(runtime) => runtime.block_on(keep(&tell, stopped)),
            // Nobody waiting means that the process is already on its way out.
            Err(error) => drop(tell.send(Err(error.into()))),
        }
    })?;
    let server = told.recv().context("the database's thread ended")?;
    *KEEPER.lock().unwrap_or_else(PoisonError::into_inner) = Some(Keeper { stop, thread });
    at_exit();
    server
}

#[expect(
    unsafe_code,
    reason = "a static is never dropped, so the end of the process is the one moment to take the server away"
)]
fn at_exit() {
    extern "C" fn leave() {
        if let Some(Keeper { stop, thread }) = keeper() {
            // Either may already be gone, which is what is wanted.
            let _ = stop.send(());
            let _ = thread.join();
        }
    }
    // SAFETY: `leave` is a plain function that lives as long as the program and unwinds never.
    let refused = unsafe { libc::atexit(leave) };
    assert_eq!(refused, 0, "the database could not be taken away at the end");
}

type Tell = std::sync::mpsc::Sender<Result<Server>>;

async fn keep(tell: &Tell, stopped: oneshot::Receiver<()>) {
    let started = tokio::select! {
        started = Engine::start() => started,
        // What had begun to start is dropped, and a container removed with it.
        () = told_to_end() => Err(anyhow!("the tests were interrupted")),
    };
    let engine = match started {
        Ok(engine) => engine,
        Err(error) => return drop(tell.send(Err(error))),
    };
    let url = engine.url();
    let made = make_template(&url).await;
    let ready = made.map(|()| Server {
        url: url.clone(),
        home: Handle::current(),
    });
    let mut interrupted = false;
    if tell.send(ready).is_ok() {
        tokio::select! {
            // A sender that is gone asks for the same.
            _ = stopped => {}
            () = told_to_end() => interrupted = true,
        }
    }
    if interrupted {
        // From here on, the exit waits for nobody.
        drop(keeper());
    }
    let swept = sweep(&url).await;
    let ended = engine.stop().await;
    for problem in [swept, ended].into_iter().filter_map(Result::err) {
        eprintln!("the database of the tests was not taken away cleanly: {problem:#}");
    }
    if interrupted {
        std::process::exit(130);
    }
}

/// Somebody pressed Ctrl-C, or something ends the tests from outside.
async fn told_to_end() {
    let Ok(mut terminate) = signal(SignalKind::terminate()) else {
        return std::future::pending().await;
    };
    tokio::select! {
        _ = tokio::signal::ctrl_c() => {}
        _ = terminate.recv() => {}
    }
}

fn keeper() -> Option<Keeper> {
    KEEPER.lock().unwrap_or_else(PoisonError::into_inner).take()
}

/// Other processes may be using the same server.
fn name(of: &str) -> String {
    format!("yardjar_{}_{of}", std::process::id())
}

async fn make_template(url: &str) -> Result<()> {
    let template = name("template");
    admin(url, &format!("create database {template}")).await?;
    api::database::prepare(&Secret::new(with_database(url, &template)), true).await?;
    Ok(())
}

async fn sweep(url: &str) -> Result<()> {
    let mut conn = AsyncPgConnection::establish(url).await?;
    let ours = diesel::sql_query("select datname::text as text from pg_database where starts_with(datname, $1)")
        .bind::<Text, _>(name(""))
        .load::<Row>(&mut conn)
        .await?;
    for Row { text } in ours {
        let drop = format!("drop database {} with (force)", text.unwrap_or_default());
        conn.batch_execute(&drop).await?;
    }
    Ok(())
}

async fn admin(url: &str, statement: &str) -> Result<()> {
    let mut conn = AsyncPgConnection::establish(url).await?;
    conn.batch_execute(statement).await?;
    Ok(())
}

/// The same server, another database.
fn with_database(url: &str, database: &str) -> String {
    let start = url.find("://").map_or(0, |at| at + 3);
    let (server, rest) = url.split_at(start);
    let slash = rest.find('/').unwrap_or(rest.len());
    let query = rest.find('?').unwrap_or(rest.len());
    format!("{server}{}/{database}{}", &rest[..slash.min(query)], &rest[query..])
}

/// A row of one text, which is enough for most questions to the catalogue.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct Row {
    /// The column, which must be called `text`.
    #[diesel(sql_type = Nullable<Text>)]
    pub text: Option<String>,
}

/// A database that nobody else uses; it is dropped with this.
#[derive(Debug)]
pub struct Database {
    /// Its name on the server of the tests; none on somebody else's, who takes it away.
    name: Option<String>,
    url: String,
}

impl Database {
    /// A database with every migration.
    ///
    /// # Errors
    /// When there is no server, or it refuses.
    pub async fn migrated() -> Result<Self> {
        Self::make(&format!("template {}", name("template"))).await
    }

    /// A database with nothing in it.
    ///
    /// # Errors
    /// When there is no server, or it refuses.
    pub async fn empty() -> Result<Self> {
        Self::make("template template0").await
    }

    async fn make(how: &str) -> Result<Self> {
        // Starting the server blocks for seconds; other tests of this process wait for the same one.
        let server = tokio::task::spawn_blocking(server).await??;
        let name = name(&COUNT.fetch_add(1, Ordering::Relaxed).to_string());
        let statement = format!("create database {name} {how}");
        on_the_servers_thread(async move { admin(&server.url, &statement).await }).await?;
        Ok(Self {
            url: with_database(&server.url, &name),
            name: Some(name),
        })
    }

    /// A database of another server, which is left as it is.
    #[must_use]
    pub fn elsewhere(url: &str) -> Self {
        Self {
            url: url.to_owned(),
            name: None,
        }
    }

    /// A superuser's address, as a service takes it.
    #[must_use]
    pub fn url(&self) -> &str {
        &self.url
    }

    /// A superuser's connection: no row-level security binds it.
    ///
    /// # Errors
    /// When the server refuses.
    pub async fn superuser(&self) -> Result<AsyncPgConnection> {
        Ok(AsyncPgConnection::establish(&self.url).await?)
    }

    /// A connection with the role of the service, outside any operation.
    ///
    /// # Errors
    /// When the server refuses.
    pub async fn app(&self) -> Result<AsyncPgConnection> {
        let mut conn = self.superuser().await?;
        conn.batch_execute("set role yj_app").await?;
        Ok(conn)
    }

    /// Asks the catalogue something as a superuser; the one column is called `text`.
    ///
    /// # Errors
    /// When the server refuses.
    pub async fn texts(&self, question: &str) -> Result<Vec<String>> {
        let mut conn = self.superuser().await?;
        let rows = diesel::sql_query(question).load::<Row>(&mut conn).await?;
        Ok(rows.into_iter().map(|row| row.text.unwrap_or_default()).collect())
    }

    /// Runs statements as a superuser.
    ///
    /// # Errors
    /// When the server refuses one of them.
    pub async fn run(&self, statements: &str) -> Result<()> {
        admin(&self.url, statements).await
    }
}

impl Drop for Database {
    /// Not waited for: what is left when the process exits is swept away with the rest.
    fn drop(&mut self) {
        let Some(name) = &self.name else { return };
        let Ok(server) = server() else { return };
        let statement = format!("drop database if exists {name} with (force)");
        server.home.spawn(async move { admin(&server.url, &statement).await });
    }
}

/// Runs something that must not end with the runtime of a single test.
pub(crate) async fn on_the_servers_thread<T, F>(work: F) -> Result<T>
where
    T: Send + 'static,
    F: Future<Output = Result<T>> + Send + 'static,
{
    server()?.home.spawn(work).await?
}

/// The same, without waiting for the end.
pub(crate) fn leave_to_the_servers_thread<F>(work: F)
where
    F: Future<Output = ()> + Send + 'static,
{
    if let Ok(server) = server() {
        server.home.spawn(work);
    }
}

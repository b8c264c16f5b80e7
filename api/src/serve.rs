//! Starting and stopping: the database, the keys, the web server, and in the end all of it in reverse.

use std::net::{SocketAddr, TcpListener};
use std::time::Duration;

use actix_server::Server;
use actix_web::dev::ServerHandle;
use actix_web::{HttpServer, web};
use tokio::task::JoinHandle;

use crate::auth::keys::{Keys, KeysRefused};
use crate::auth::password::{HashRefused, Hasher};
use crate::config::{Config, Secret};
use crate::database::{self, Database, PrepareRefused};
use crate::erasures;
use crate::failpoint;
use crate::http::{self, App};
use crate::ledger::lanes::Lanes;
use crate::ledger::waiters::Waiters;
use crate::ledger_commands::{self, CommandRefused};
use crate::photos::{Photos, Trouble};
use crate::tls::{self, Access, TlsRefused};

/// How long requests that have begun may take after the end was asked for.
const GOODBYE_S: u64 = 30;
/// How long a request's head may take to arrive.
const HEAD: Duration = Duration::from_secs(5);
/// How many connections a worker takes at once.
const CONNECTIONS: usize = 1024;

/// Why the service does not start.
#[derive(Debug, thiserror::Error)]
pub enum SpawnRefused {
    /// No DATABASE_URL, and nobody started a private database before.
    #[error("there is no database: set DATABASE_URL")]
    NoDatabase,
    /// The database cannot be used.
    #[error(transparent)]
    Prepare(#[from] PrepareRefused),
    /// What an upgrade asks for could not be done.
    #[error("the ledger could not be brought up to date")]
    CatchUp(#[from] CommandRefused),
    /// The list of erasures cannot be read.
    #[error("the list of erasures does not read")]
    Erasures(#[from] std::io::Error),
    /// There are no keys.
    #[error(transparent)]
    Keys(#[from] KeysRefused),
    /// Passwords cannot be hashed.
    #[error(transparent)]
    Hasher(#[from] HashRefused),
    /// The address is taken or not ours.
    #[error("cannot listen on {address}")]
    Listen {
        /// Which address.
        address: SocketAddr,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// There is no certificate.
    #[error(transparent)]
    Tls(#[from] TlsRefused),
    /// The bucket of the photos refuses.
    #[error(transparent)]
    Photos(#[from] Trouble),
    /// The recorder of figures is somebody else's.
    #[error("the figures cannot be recorded: {0}")]
    Metrics(String),
}

/// A running service.
pub struct Running {
    /// Where it listens; the port is a real one even when 0 was asked for.
    pub addr: SocketAddr,
    /// Its database, for tests and commands.
    pub db: Database,
    /// How other machines reach it.
    pub access: Access,
    handle: ServerHandle,
    server: JoinHandle<std::io::Result<()>>,
    waiters: Waiters,
}

impl Running {
    /// Where it listens, as the beginning of an address.
    #[must_use]
    pub fn url(&self) -> String {
        // On the machine itself plain HTTP is always answered.
        let host = if self.addr.ip().is_unspecified() {
            "127.0.0.1".to_owned()
        } else {
            self.addr.ip().to_string()
        };
        let host = if host.contains(':') { format!("[{host}]") } else { host };
        let scheme = if self.access.certificates.is_some() && !self.addr.ip().is_unspecified() {
            "https"
        } else {
            "http"
        };
        format!("{scheme}://{host}:{}", self.addr.port())
    }

    /// Lets what has begun end, then closes everything.
    pub async fn stop(self) {
        // Who waits for news is told to come again; the rest may end what it has begun.
        self.waiters.close();
        self.handle.stop(true).await;
        // The server's own result only repeats that it stopped.
        let _ = self.server.await;
        self.db.close();
    }

    /// Waits until the server ends by itself, which it does only by a fault.
    ///
    /// # Errors
    /// What the server ended with.
    pub async fn ended(&mut self) -> std::io::Result<()> {
        (&mut self.server)
            .await
            .unwrap_or_else(|error| Err(std::io::Error::other(error)))
    }
}

/// Prepares the database, reads the keys and starts serving.
///
/// # Errors
/// When any of that cannot be had; nothing keeps running then.
pub async fn spawn(config: Config) -> Result<Running, SpawnRefused> {
    let url: Secret = config.database_url.clone().ok_or(SpawnRefused::NoDatabase)?;
    let metrics = http::recorder().map_err(SpawnRefused::Metrics)?;
    let keys = Keys::load(&config.token_key_file)?;
    let hasher = Hasher::new(config.password_cost)?;
    let photos = Photos::open(&config.data, config.photos.as_ref()).await?;
    let cannot_listen = |source| SpawnRefused::Listen {
        address: config.listen,
        source,
    };
    let listener = TcpListener::bind(config.listen).map_err(cannot_listen)?;
    let addr = listener.local_addr().map_err(cannot_listen)?;
    let access = Access::prepare(&config, addr)?;
    database::prepare(&url, config.allow_fsync_off).await?;
    let db = Database::open(&url, config.pool)?;
    failpoint::arm(&config.data);
    ledger_commands::catch_up(&url, &erasures::told(&config.data)?).await?;
    let waiters = Waiters::default();
    tokio::spawn(waiters.clone().follow(db.clone()));
    let app = web::Data::new(App {
        config: config.clone(),
        db: db.clone(),
        keys,
        hasher,
        metrics,
        waiters: waiters.clone(),
        large: http::LargeBodies::default(),
        lanes: Lanes::default(),
        access: access.clone(),
        photos,
    });
    let server = match &access.certificates {
        None => HttpServer::new(move || http::application(app.clone()))
            .listen(listener)
            .map_err(cannot_listen)?
            .disable_signals()
            .client_request_timeout(HEAD)
            .max_connections(CONNECTIONS)
            .shutdown_timeout(GOODBYE_S)
            .run(),
        Some(certificates) => {
            tokio::spawn(certificates.clone().keep_fresh());
            let builder = Server::build()
                .disable_signals()
                .max_concurrent_connections(CONNECTIONS)
                .shutdown_timeout(GOODBYE_S);
            let step = app.clone();
            let door = (listener, certificates.server_config()?, HEAD);
            let application = move || http::application(app.clone());
            tls::door::listen(builder, door, application, move || http::doorstep(step.clone()))
                .map_err(cannot_listen)?
        }
    };
    let handle = server.handle();
    Ok(Running {
        addr,
        db,
        access,
        handle,
        server: tokio::spawn(server),
        waiters,
    })
}

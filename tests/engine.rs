//! Where the PostgreSQL of the tests comes from, and how it is taken away again.
//!
//! A container when `YARDJAR_TEST_IMAGE` names an image, a private server when `YARDJAR_TEST_DATABASE` says
//! `private`, or whatever `YARDJAR_TEST_DATABASE_URL` leads to. Which one it is, no test can tell.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};
use api::private_postgres::{PrivatePostgres, find_server_files};
use diesel_async::{AsyncConnection, AsyncPgConnection};
use testcontainers::core::IntoContainerPort;
use testcontainers::runners::AsyncRunner;
use testcontainers::{ContainerAsync, GenericImage, ImageExt};

const PASSWORD: &str = "only-for-tests";
/// How long a server may take to its first connection: two cores may be busy compiling.
const START: Duration = Duration::from_secs(120);

/// Said when nobody told which database to use.
const NONE: &str = "there is no database for the tests: run them by tests/run, which starts one, or set \
     YARDJAR_TEST_IMAGE to an image of PostgreSQL that the container engine has, YARDJAR_TEST_DATABASE=private for a \
     private server, or YARDJAR_TEST_DATABASE_URL to a superuser's address";

/// A server that this process started, or one that was there.
pub(crate) enum Engine {
    Container(Box<ContainerAsync<GenericImage>>, String),
    Private(Box<PrivatePostgres>, PathBuf),
    Elsewhere(String),
}

impl Engine {
    /// Starts what the environment asks for and waits for its first connection.
    pub(crate) async fn start() -> Result<Self> {
        let told = |name: &str| std::env::var(name).ok().filter(|value| !value.is_empty());
        let engine = if let Some(url) = told("YARDJAR_TEST_DATABASE_URL") {
            Self::Elsewhere(url)
        } else if let Some(image) = told("YARDJAR_TEST_IMAGE") {
            container(&image).await?
        } else {
            match told("YARDJAR_TEST_DATABASE").as_deref() {
                Some("private") => tokio::task::spawn_blocking(private).await??,
                Some(other) => {
                    bail!("YARDJAR_TEST_DATABASE={other}: only `private` can be asked for")
                }
                None => bail!(NONE),
            }
        };
        let answered = wait_for(&engine.url()).await;
        if let Err(error) = answered {
            engine.stop().await?;
            return Err(error);
        }
        Ok(engine)
    }

    /// The address of a superuser, in a database that is not one of the tests'.
    pub(crate) fn url(&self) -> String {
        match self {
            Self::Container(_, url) | Self::Elsewhere(url) => url.clone(),
            Self::Private(server, _) => server.url("postgres", "postgres"),
        }
    }

    /// Leaves nothing behind.
    pub(crate) async fn stop(self) -> Result<()> {
        match self {
            Self::Container(container, _) => container.rm().await.context("removing the container")?,
            Self::Private(server, folder) => {
                let stopped = tokio::task::spawn_blocking(move || server.stop()).await?;
                std::fs::remove_dir_all(&folder)?;
                stopped?;
            }
            Self::Elsewhere(_) => {}
        }
        Ok(())
    }
}

async fn container(image: &str) -> Result<Engine> {
    let (name, tag) = image.rsplit_once(':').unwrap_or((image, "latest"));
    let settings = [
        "fsync=off",
        "full_page_writes=off",
        "synchronous_commit=off",
        "max_connections=300",
        "shared_buffers=64MB",
    ];
    let arguments: Vec<&str> = ["postgres"]
        .into_iter()
        .chain(settings.iter().flat_map(|setting| ["-c", setting]))
        .collect();
    let container = GenericImage::new(name, tag)
        .with_exposed_port(5432.tcp())
        .with_env_var("POSTGRES_PASSWORD", PASSWORD)
        .with_cmd(arguments)
        .with_startup_timeout(START)
        .start()
        .await
        .with_context(|| format!("no container of {image} could be started; {NONE}"))?;
    let host = container.get_host().await?;
    let port = container.get_host_port_ipv4(5432.tcp()).await?;
    let url = format!("postgres://postgres:{PASSWORD}@{host}:{port}/postgres");
    Ok(Engine::Container(Box::new(container), url))
}

/// Its folder lies where the server's own user can reach it.
fn private() -> Result<Engine> {
    use std::os::unix::fs::PermissionsExt;
    let folder = std::env::temp_dir().join(format!("yardjar-tests-{}", std::process::id()));
    std::fs::create_dir(&folder)?;
    std::fs::set_permissions(&folder, std::fs::Permissions::from_mode(0o755))?;
    let data = folder.join("data");
    let programs = std::env::var_os("YARDJAR_PG_BIN").map(PathBuf::from);
    let started = find_server_files(&data, programs.as_deref()).and_then(|files| PrivatePostgres::start(&data, &files));
    match started {
        Ok(server) => Ok(Engine::Private(Box::new(server), folder)),
        Err(error) => {
            std::fs::remove_dir_all(&folder)?;
            Err(error.into())
        }
    }
}

/// What the server prints is not waited for: the official image says that it is ready once too early.
async fn wait_for(url: &str) -> Result<()> {
    let began = Instant::now();
    loop {
        match AsyncPgConnection::establish(url).await {
            Ok(_) => return Ok(()),
            Err(error) if began.elapsed() > START => {
                return Err(error).context("the database of the tests does not take connections");
            }
            Err(_) => tokio::time::sleep(Duration::from_millis(50)).await,
        }
    }
}

//! What every benchmark stands on: a private PostgreSQL with fsync on, and a `yardjar serve` on the loopback, both with
//! data in a folder of their own that is removed in the end.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::Stdio;

use anyhow::{Context, Result};
use api::config::Secret;
use api::private_postgres::{PrivatePostgres, find_server_files};
use diesel_async::{AsyncConnection, AsyncPgConnection};
use tokio::io::{AsyncBufReadExt, BufReader};
use tokio::process::{Child, Command};

pub(crate) const PASSWORD: &str = "linden over the river 9";

/// A server of its own; its user must be able to reach the folder.
pub(crate) fn make(folder: &Path) -> Result<PrivatePostgres> {
    use std::os::unix::fs::PermissionsExt;
    std::fs::create_dir(folder)?;
    std::fs::set_permissions(folder, std::fs::Permissions::from_mode(0o755))?;
    let data = folder.join("database");
    let programs = std::env::var_os("YARDJAR_PG_BIN").map(PathBuf::from);
    let files = find_server_files(&data, programs.as_deref())?;
    Ok(PrivatePostgres::start(&data, &files)?)
}

pub(crate) fn say(line: &str) -> Result<()> {
    let mut out = std::io::stdout().lock();
    writeln!(out, "{line}")?;
    Ok(out.flush()?)
}

/// A database with the tables in it, and a connection as a superuser.
pub(crate) async fn prepared(server: &PrivatePostgres, name: &str) -> Result<(Secret, AsyncPgConnection)> {
    let url = server.url("postgres", name);
    let secret = Secret::new(&url);
    api::database::prepare(&secret, false).await?;
    Ok((secret, AsyncPgConnection::establish(&url).await?))
}

/// A service on a database, and its address.
pub(crate) async fn serve(database: &Secret, folder: &Path) -> Result<(Child, String)> {
    let program = std::env::current_exe()?.with_file_name("yardjar");
    let mut service = Command::new(&program)
        .arg("serve")
        .env("DATABASE_URL", database.expose())
        .env("YARDJAR_DATA", folder.join("service"))
        .env("YARDJAR_LISTEN", "127.0.0.1:0")
        .env_remove("DATABASE_URL_FILE")
        .stdout(Stdio::piped())
        .stderr(std::fs::File::create(folder.join("service.log"))?)
        .kill_on_drop(true)
        .spawn()
        .with_context(|| format!("cannot start {}; deploy/bench builds it", program.display()))?;
    let out = service.stdout.take().context("no output of the service")?;
    let url = listens_on(BufReader::new(out)).await?;
    Ok((service, url))
}

/// Reads the service's output up to its address; the rest is let pass so that it never waits for a reader.
async fn listens_on(out: BufReader<tokio::process::ChildStdout>) -> Result<String> {
    let mut lines = out.lines();
    while let Some(line) = lines.next_line().await? {
        if let Some(rest) = line.strip_prefix("yardjar listens on ") {
            let url = rest.split(',').next().context("no address")?.to_owned();
            tokio::spawn(async move { while let Ok(Some(_)) = lines.next_line().await {} });
            return Ok(url);
        }
    }
    anyhow::bail!("the service ended before it listened")
}

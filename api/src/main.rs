//! The program `yardjar`: reads the command line, runs one command, says what went wrong in one line.

mod cli;

use std::io::Write;
use std::process::ExitCode;
use std::time::Duration;

use anyhow::Context;
use api::config::{Config, Secret};
use api::demo;
use api::desk::Question;
use api::local::LocalDatabase;
use clap::Parser;
use tokio::signal::unix::{SignalKind, signal};

use cli::{Cli, Command, Owner, Serve};

/// How long until a database that could not be asked is asked again.
const ASKED_AGAIN: Duration = Duration::from_secs(1);

#[tokio::main]
async fn main() -> ExitCode {
    match run(Cli::parse()).await {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            // Standard error may be closed; there is nobody else to tell.
            let _ = writeln!(std::io::stderr(), "yardjar: {error:#}");
            ExitCode::FAILURE
        }
    }
}

async fn run(cli: Cli) -> anyhow::Result<()> {
    // Needs no settings, so that wrong ones do not stand in its way.
    if let Command::Reckon(asked) = &cli.command {
        return say(&cli::reckon(asked)?);
    }
    let config = Config::from_env()?;
    cli::start_log(&config)?;
    match cli.command {
        Command::Serve(how) => Box::pin(serve(config, how)).await,
        Command::Owner(Owner::Add(wish)) => say(&Box::pin(cli::add_owner(&config, wish)).await?),
        Command::Rebuild(wish) => say(&Box::pin(cli::rebuild(&config, wish)).await?),
        Command::Season(asked) => say(&Box::pin(cli::answer(&config, asked)).await?),
        Command::Yields(asked) => say(&Box::pin(cli::answer(&config, asked)).await?),
        Command::Trace(asked) => say(&Box::pin(cli::answer(&config, asked)).await?),
        Command::Next(how) => say(&Box::pin(cli::answer(&config, (Question::Next, how))).await?),
        Command::Reckon(asked) => say(&cli::reckon(&asked)?),
        Command::Verify(wish) => {
            let (said, sound) = Box::pin(cli::verify(&config, wish)).await?;
            say(&said)?;
            anyhow::ensure!(sound, "not everything follows from the ledger");
            Ok(())
        }
    }
}

/// Answers the person at the console. A pass phrase goes this way and never into the log.
fn say(text: &str) -> anyhow::Result<()> {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes())
        .and_then(|()| out.flush())
        .context("cannot write to standard output")
}

async fn serve(mut config: Config, how: Serve) -> anyhow::Result<()> {
    let mut local = None;
    if config.database_url.is_none() {
        let started = LocalDatabase::start(&config).await?;
        config.database_url = Some(started.url());
        local = Some(started);
    }
    config.invented = how.demo;
    let served = serve_on(config, how.wanted()).await;
    // Whatever became of the service, its private database ends in order.
    if let Some(local) = local {
        local.stop().await?;
    }
    served
}

async fn serve_on(config: Config, with_demo: Option<demo::Size>) -> anyhow::Result<()> {
    let (mut terminate, mut interrupt) = (signal(SignalKind::terminate())?, signal(SignalKind::interrupt())?);
    let mut running = api::spawn(config.clone()).await?;
    if let (Some(url), Some(size)) = (&config.database_url, with_demo) {
        Box::pin(load_demo(&config, url, &running.url(), size)).await?;
    }
    let where_it_is = format!(
        "yardjar listens on {}, data in {}\n{}",
        running.url(),
        config.data.display(),
        cli::for_phones(&running.access)
    );
    let welcomed = async {
        if with_demo.is_none() {
            welcome_first_owner(&config).await?;
        }
        say(&where_it_is)?;
        std::future::pending().await
    };
    tokio::select! {
        _ = terminate.recv() => {}
        _ = interrupt.recv() => {}
        unsaid = welcomed => return unsaid,
        ended = running.ended() => return ended.context("the web server ended by itself"),
    }
    tracing::info!("the service ends");
    running.stop().await;
    Ok(())
}

/// Says the first sign-in of an empty database. Phones are served by then, and a database that is away for a moment
/// must not end that: it is asked until it answers.
async fn welcome_first_owner(config: &Config) -> anyhow::Result<()> {
    let Some(url) = &config.database_url else { return Ok(()) };
    loop {
        match cli::first_owner(config, url).await {
            Ok(said) => return said.map_or(Ok(()), |said| say(&said)),
            Err(error) => {
                tracing::warn!("whether anybody can sign in yet could not be asked, again in a second: {error:#}")
            }
        }
        tokio::time::sleep(ASKED_AGAIN).await;
    }
}

async fn load_demo(config: &Config, database: &Secret, address: &str, size: demo::Size) -> anyhow::Result<()> {
    say(demo::INVENTED)?;
    let loaded = demo::load(config, database, address, size).await;
    match loaded.context("the demo was not loaded whole; remove its data folder, then start again")? {
        Some(said) => say(&said),
        None => say("The database is not empty, so nothing was loaded.\n"),
    }
}

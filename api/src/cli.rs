//! The command line: what can be asked of the program, and how each command gets its database.

use std::io::IsTerminal;
use std::path::PathBuf;

use anyhow::Context;
use clap::{Args, Parser, Subcommand};
use diesel_async::{AsyncConnection, AsyncPgConnection};

use api::auth::console::{self, NewOwner};
use api::auth::password::Hasher;
use api::config::{Config, LogFormat, Secret};
use api::desk::{self, Question};
use api::local::{self, LocalDatabase};
use api::tls::Access;
use api::{clock, database, demo, ledger_commands, qr};
use domain::season::report::Report;

/// Follows honey from hive to jar, over many yards.
#[derive(Parser)]
#[command(name = "yardjar", version)]
pub(crate) struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// What to do.
#[derive(Subcommand)]
pub(crate) enum Command {
    /// Run the service until it is told to end.
    Serve(Serve),
    /// Found businesses and appoint their owners.
    #[command(subcommand)]
    Owner(Owner),
    /// Make everything that follows from the ledger anew.
    Rebuild(OneOperation),
    /// Prove that everything follows from the ledger; exit code 1 if something does not.
    Verify(Verify),
    /// What each yard and hive yielded in a season.
    Yields(Yields),
    /// The figures of a season: yards, colonies, balance, costs, moisture, harvest, forecast, context, yard-factors,
    /// queen-lines.
    Season(Season),
    /// Where something came from and where it went.
    Trace(Trace),
    /// What waits in the house and what to do with it next.
    Next(Answer),
    /// Work something out from given figures, without a database: moisture, density, drying, plans.
    Reckon(Reckon),
}

/// What to work out.
#[derive(Args)]
pub(crate) struct Reckon {
    /// Say what can be worked out; with a name, what that asks and answers.
    #[arg(long)]
    list: bool,
    /// The computation.
    #[arg(required_unless_present = "list")]
    name: Option<String>,
    /// What it asks, `name=value` each; lists and objects as JSON.
    inputs: Vec<String>,
    /// Answer for programs.
    #[arg(long)]
    json: bool,
    /// Say where the figures come from and how far they hold.
    #[arg(long)]
    sources: bool,
}

/// How to answer, and for which business.
#[derive(Args)]
pub(crate) struct Answer {
    #[command(flatten)]
    only: OneOperation,
    /// Answer for programs.
    #[arg(long)]
    json: bool,
}

/// Which season.
#[derive(Args)]
pub(crate) struct Yields {
    /// The year of the runs.
    #[arg(long)]
    season: i32,
    #[command(flatten)]
    answer: Answer,
}

/// Which figures of which season.
#[derive(Args)]
pub(crate) struct Season {
    /// The year of the runs; of yard-factors and queen-lines the last one.
    year: i32,
    /// Which figures; without any, what the yards yielded.
    #[arg(long = "about", value_parser = report)]
    reports: Vec<Report>,
    /// The first year of yard-factors and queen-lines; without it, ten seasons.
    #[arg(long)]
    from: Option<i32>,
    /// Answer as CSV, a line a figure.
    #[arg(long, conflicts_with = "json")]
    csv: bool,
    #[command(flatten)]
    answer: Answer,
}

fn report(name: &str) -> Result<Report, String> {
    Report::named(name).ok_or_else(|| {
        let names: Vec<&str> = Report::ALL.iter().map(|report| report.name()).collect();
        format!("there is no such report; there are {}", names.join(", "))
    })
}

/// Which thing.
#[derive(Args)]
pub(crate) struct Trace {
    /// The code on a jar or of a lot, or the number of a super, hive or container.
    code: String,
    #[command(flatten)]
    answer: Answer,
}

impl From<Yields> for (Question, Answer) {
    fn from(asked: Yields) -> Self {
        (Question::Yields { season: asked.season }, asked.answer)
    }
}

impl From<Season> for (Question, Answer) {
    fn from(asked: Season) -> Self {
        let reports = if asked.reports.is_empty() {
            vec![Report::Yards]
        } else {
            asked.reports
        };
        let question = Question::Season {
            reports,
            from: asked.from.unwrap_or(asked.year - 9).min(asked.year),
            to: asked.year,
            csv: asked.csv,
        };
        (question, asked.answer)
    }
}

impl From<Trace> for (Question, Answer) {
    fn from(asked: Trace) -> Self {
        (Question::Trace { code: asked.code }, asked.answer)
    }
}

/// Which business.
#[derive(Args)]
pub(crate) struct OneOperation {
    /// Its name or id; without it, all.
    #[arg(long)]
    operation: Option<String>,
}

/// How to verify.
#[derive(Args)]
pub(crate) struct Verify {
    #[command(flatten)]
    only: OneOperation,
    /// Only what came after this number of the ledger; what was there before was verified then.
    #[arg(long, default_value_t = 0)]
    after: i64,
    /// Answer for programs.
    #[arg(long)]
    json: bool,
}

/// How to serve.
#[derive(Args)]
pub(crate) struct Serve {
    /// Fill an empty database with a made-up business and two seasons.
    #[arg(long)]
    pub(crate) demo: bool,
    /// How chance falls in the demo: one seed is one business.
    #[arg(long, requires = "demo", default_value_t = demo::SEED)]
    seed: u64,
    /// How many times sixty colonies the demo has, 1 to 20.
    #[arg(long, requires = "demo", default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=20))]
    scale: u8,
    /// How many seasons the demo has, 1 to 20; the last is 2025.
    #[arg(long, requires = "demo", default_value_t = 2, value_parser = clap::value_parser!(u8).range(1..=20))]
    seasons: u8,
}

impl Serve {
    /// The demo that is wanted, if one is.
    pub(crate) fn wanted(&self) -> Option<demo::Size> {
        self.demo.then_some(demo::Size {
            seed: self.seed,
            scale: self.scale,
            seasons: self.seasons,
        })
    }
}

/// What to do about owners.
#[derive(Subcommand)]
pub(crate) enum Owner {
    /// Found a business and make its first owner.
    Add(AddOwner),
}

/// Who the owner is.
#[derive(Args)]
pub(crate) struct AddOwner {
    /// What the business is called.
    #[arg(long)]
    business: String,
    /// How the owner is called.
    #[arg(long)]
    name: String,
    /// What the owner types to sign in.
    #[arg(long)]
    login: String,
    /// A file with the password on its first line; without one a pass phrase is made and printed once.
    #[arg(long)]
    password_file: Option<PathBuf>,
}

/// A database for one command.
pub(crate) struct Borrowed {
    /// Where it is.
    pub(crate) url: Secret,
    local: Option<LocalDatabase>,
}

impl Borrowed {
    /// The database named in the environment, else the running service's, else the private one, started for this.
    pub(crate) async fn find(config: &Config) -> anyhow::Result<Self> {
        if let Some(url) = config.database_url.clone() {
            return Ok(Self { url, local: None });
        }
        if let Some(url) = local::known_address(&config.data)
            && AsyncPgConnection::establish(url.expose()).await.is_ok()
        {
            return Ok(Self { url, local: None });
        }
        let local = LocalDatabase::start(config).await?;
        Ok(Self {
            url: local.url(),
            local: Some(local),
        })
    }

    /// Gives it back: a server that was started for this ends again.
    pub(crate) async fn give_back(self) -> anyhow::Result<()> {
        match self.local {
            Some(local) => Ok(local.stop().await?),
            None => Ok(()),
        }
    }
}

/// Founds a business; answers what to tell the person at the console.
pub(crate) async fn add_owner(config: &Config, wish: AddOwner) -> anyhow::Result<String> {
    let (password, shown) = match &wish.password_file {
        Some(path) => {
            let text = std::fs::read_to_string(path).with_context(|| format!("cannot read {}", path.display()))?;
            (Secret::new(text.lines().next().unwrap_or("")), false)
        }
        None => (console::pass_phrase()?, true),
    };
    let hasher = Hasher::new(config.password_cost)?;
    let borrowed = Borrowed::find(config).await?;
    let owner = NewOwner {
        business: wish.business,
        name: wish.name,
        login: wish.login,
        password,
        invented: false,
    };
    let added = async {
        database::prepare(&borrowed.url, config.allow_fsync_off).await?;
        let mut conn = database::as_owner(&borrowed.url).await?;
        anyhow::Ok(console::add_owner(&mut conn, &hasher, &owner).await?)
    };
    let added = added.await;
    borrowed.give_back().await?;
    let (operation, _) = added?;
    let mut said = format!(
        "operation {operation} founded; its owner signs in as {}\n",
        owner.login.to_lowercase()
    );
    if shown {
        said.push_str(&format!("pass phrase, shown this once: {}\n", owner.password.expose()));
    }
    Ok(said)
}

/// Makes links and states anew; answers what to tell the person at the console.
pub(crate) async fn rebuild(config: &Config, wish: OneOperation) -> anyhow::Result<String> {
    let borrowed = Borrowed::find(config).await?;
    let said = ledger_commands::rebuild(&borrowed.url, wish.operation.as_deref()).await;
    borrowed.give_back().await?;
    Ok(said?)
}

/// Answers a question of the office.
pub(crate) async fn answer(config: &Config, asked: impl Into<(Question, Answer)>) -> anyhow::Result<String> {
    let (question, how) = asked.into();
    let borrowed = Borrowed::find(config).await?;
    let said = desk::ask(&borrowed.url, how.only.operation.as_deref(), &question, how.json).await;
    borrowed.give_back().await?;
    Ok(said?)
}

/// Works something out, or says what can be.
pub(crate) fn reckon(asked: &Reckon) -> anyhow::Result<String> {
    Ok(match &asked.name {
        Some(name) if asked.list => desk::reckon::describe(name)?,
        Some(name) => desk::reckon::answer(name, &asked.inputs, asked.json, asked.sources)?,
        None => desk::reckon::list(),
    })
}

/// Checks the ledger; answers what was found, and whether it is sound.
pub(crate) async fn verify(config: &Config, wish: Verify) -> anyhow::Result<(String, bool)> {
    let borrowed = Borrowed::find(config).await?;
    let report = ledger_commands::verify_after(&borrowed.url, wish.only.operation.as_deref(), wish.after).await;
    borrowed.give_back().await?;
    let report = report?;
    Ok((report.said(wish.json)?, report.is_sound()))
}

/// On an empty database: a business and an owner to begin with, so that somebody can sign in at all.
pub(crate) async fn first_owner(config: &Config, url: &Secret) -> anyhow::Result<Option<String>> {
    let mut conn = database::as_owner(url).await?;
    let password = console::pass_phrase()?;
    let hasher = Hasher::new(config.password_cost)?;
    let owner = NewOwner {
        business: "My bees".to_owned(),
        name: "Owner".to_owned(),
        login: "owner".to_owned(),
        password,
        invented: false,
    };
    if console::add_first_owner(&mut conn, &hasher, &owner).await?.is_none() {
        return Ok(None);
    }
    Ok(Some(format!(
        "first sign-in, shown this once: login owner, pass phrase {}\n",
        owner.password.expose()
    )))
}

/// How phones come in: the address to open, as a QR code too where somebody looks at a terminal.
pub(crate) fn for_phones(access: &Access) -> String {
    let hosts = access.hosts();
    let (Some(host), authority) = (hosts.first(), access.authority()) else {
        return match access.certificates {
            Some(_) => "phones open it under the name that the certificate is made out to\n".to_owned(),
            None => format!(
                "on this machine only; for phones in your network start it with YARDJAR_LISTEN=0.0.0.0:{}\n",
                access.listen.port()
            ),
        };
    };
    let address = format!("http://{host}/");
    let mut said = format!("phones in your network open {address} first: it leads to https://{host}/\n");
    if let Some(authority) = authority {
        said.push_str(&format!(
            "fingerprint of the certificate to trust there: {}\n",
            authority.fingerprint()
        ));
    }
    if let Some(code) = std::io::stdout()
        .is_terminal()
        .then(|| qr::for_terminal(&address))
        .flatten()
    {
        said.push_str(&code);
    }
    said
}

/// Starts the log. It goes to standard error; standard output is for answers.
pub(crate) fn start_log(config: &Config) -> anyhow::Result<()> {
    let filter = tracing_subscriber::EnvFilter::try_new(&config.log)
        .with_context(|| format!("YARDJAR_LOG: {:?} is not a filter", config.log))?;
    let builder = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        // A log whose disk is full would be complained of on the same full disk, by a panic amid a request.
        .log_internal_errors(false)
        .with_ansi(std::io::stderr().is_terminal());
    match config.log_format {
        LogFormat::Json => builder.json().flatten_event(true).init(),
        LogFormat::Text => builder.init(),
    }
    tracing::debug!(started_at = %clock::now(), "the log begins");
    Ok(())
}

//! How fast the service takes in entries, beside a replay of its own statements.
//!
//! Not a test: nothing is judged, one table is printed. `deploy/bench` builds everything with optimisation and runs
//! this. It starts a private PostgreSQL with fsync on and a `yardjar serve` on the loopback, both with data in a
//! folder of their own that is removed in the end. Pushes of the service and of the replay take turns, so that a
//! busy machine slows both; what is compared is their ratio.

mod aims;
mod bench;
mod crowd;
mod ground;
mod growth;
mod harvest;
mod reading;
mod replay;
mod steps;

use std::io::Write as _;
use std::path::Path;
use std::process::ExitCode;
use std::time::Duration;

use anyhow::{Context, Result};
use api::private_postgres::PrivatePostgres;

use aims::{Aim, judge};
use bench::{Bench, Times};
use ground::{make, say};
use harvest::{SEASON, SUPERS};

/// The whole run may take this long.
const TIME: Duration = Duration::from_secs(3_600);
/// Seasons into one operation.
const SEASONS: usize = 10;
/// Sizes of a push, how many entries are measured with it, and how many a second it should be.
const SIZES: [(usize, usize, f64); 4] = [
    (500, SEASON, 10_000.0),
    (100, SEASON, 0.0),
    (25, 5_000, 4_000.0),
    (1, 500, 0.0),
];
/// Runs of each size, of which the median counts.
const RUNS: usize = 3;

#[tokio::main]
async fn main() -> ExitCode {
    match Box::pin(run()).await {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            // Standard error may be closed; there is nobody else to tell.
            let _ = writeln!(std::io::stderr(), "push-bench: {error:#}");
            ExitCode::FAILURE
        }
    }
}

async fn run() -> Result<()> {
    let folder = std::env::temp_dir().join(format!("yardjar-bench-{}", std::process::id()));
    let made = make(&folder);
    let server = match made {
        Ok(server) => server,
        Err(error) => {
            std::fs::remove_dir_all(&folder)?;
            return Err(error);
        }
    };
    let measured = tokio::select! {
        measured = tokio::time::timeout(TIME, Box::pin(measure(&server, &folder))) =>
            measured.unwrap_or_else(|_| Err(anyhow::anyhow!("not ready after {} s", TIME.as_secs()))),
        _ = tokio::signal::ctrl_c() => Err(anyhow::anyhow!("interrupted")),
    };
    let stopped = tokio::task::spawn_blocking(move || server.stop()).await?;
    std::fs::remove_dir_all(&folder)?;
    stopped?;
    measured
}

/// The run whose ratio is in the middle.
fn median(mut runs: Vec<Times>) -> Times {
    runs.sort_by(|a, b| a.ratio().total_cmp(&b.ratio()));
    let middle = runs.len() / 2;
    runs.into_iter().nth(middle).unwrap_or_default()
}

async fn measure(server: &PrivatePostgres, folder: &Path) -> Result<()> {
    let mut bench = Bench::start(server, folder).await?;
    let only: Vec<String> = std::env::args().skip(1).collect();
    let wanted = |part: &str| only.is_empty() || only.iter().any(|only| only == part);
    if wanted("pushes") {
        pushes(&mut bench).await?;
    }
    if wanted("singles") {
        crowd::singles(&mut bench).await?;
        bench.memory("after the single entries")?;
    }
    if wanted("reading") {
        reading::pulls(&mut bench).await?;
        bench.memory("after the pulls")?;
        reading::first_sync(&mut bench).await?;
        bench.memory("after the first sync")?;
    }
    if wanted("growth") {
        growth::growth(&mut bench).await?;
        bench.memory("after the growth")?;
    }
    if wanted("phones") {
        crowd::phones(&mut bench).await?;
        bench.memory("after the phones")?;
    }
    bench.memory_in_the_end()?;
    bench.service.kill().await?;
    Ok(())
}

/// Pushes of every size, and season after season, beside their replay.
async fn pushes(bench: &mut Bench) -> Result<()> {
    say(&format!(
        "{:<34} {:>12} {:>12} {:>7}",
        "push", "service/s", "replay/s", "ratio"
    ))?;
    let (mut long, mut medians) = (None, Vec::new());
    for (size, entries, aim) in SIZES {
        let mut runs = Vec::new();
        for _ in 0..RUNS {
            let (mut business, mut harvest) = bench.found(SUPERS).await?;
            let season = harvest.season();
            runs.push(bench.push(&mut business, &season[..entries], size).await?);
            if size == 500 {
                long = Some((business, harvest));
            }
        }
        let median = median(runs);
        say(&median.line(&format!("{entries} entries by {size}")))?;
        medians.push((size, aim, median));
    }
    for (size, aim, median) in &medians {
        judge(&format!("by {size}, ratio"), median.ratio(), "", Aim::AtLeast(0.5))?;
        if *aim > 0.0 {
            judge(
                &format!("by {size}, a second"),
                median.rates().0,
                "",
                Aim::AtLeast(*aim),
            )?;
        }
    }
    for (size, _, median) in &medians {
        say("")?;
        let steps = (&median.steps.0, &median.steps.1);
        steps::table(*size, median.pushes, median.service, steps, median.replay)?;
    }
    let (mut business, mut harvest) = long.context("no push by 500")?;
    say("")?;
    let mut seasons = Vec::new();
    for n in 2..=SEASONS {
        let season = harvest.season();
        business.access = bench.sign_in(&business.login).await?;
        let times = bench.push(&mut business, &season, 500).await?;
        if n == 2 || n == SEASONS {
            say(&times.line(&format!("season {n} of the same, by 500")))?;
            seasons.push(times);
        }
    }
    if let [second, last] = &seasons[..] {
        let (service, replay) = (last.service / second.service, last.replay.all() / second.replay.all());
        say(&format!(
            "           the replay of season {SEASONS} takes {replay:.2} times that of season 2"
        ))?;
        judge(
            &format!("season {SEASONS}, of season 2"),
            service,
            " times",
            Aim::AtMost(1.3),
        )?;
    }
    for line in replay::sizes(&mut bench.written.1, business.operation).await? {
        say(&format!("           {line}"))?;
    }
    bench.memory("after the pushes")
}

//! What phones read: a pull of everything, and the first download of a large operation.

use std::time::Instant;

use anyhow::{Context, Result, ensure};
use serde_json::Value;

use crate::aims::{Aim, judge};
use crate::bench::{Bench, Business, kilo, middle};
use crate::ground::say;
use crate::harvest::Harvest;

/// How many rows are pulled.
const PULLED: usize = 10_000;
/// Runs, of which the median counts.
const RUNS: usize = 3;
/// Supers whose registration and season are about 50,000 entries.
const MANY: usize = 8_250;

/// Pulls everything twice over, packed each way.
pub(crate) async fn pulls(bench: &mut Bench) -> Result<()> {
    let (mut business, mut harvest) = bench.found(PULLED).await?;
    let placed = harvest.place_all();
    bench.push(&mut business, &placed, 500).await?;
    bench.settle().await?;
    for coding in ["gzip", "br"] {
        let (mut seconds, mut figures) = (Vec::new(), (0, 0));
        for _ in 0..RUNS {
            let (rows, took, bytes) = pull(bench, &business, coding).await?;
            seconds.push(took);
            figures = (rows, bytes);
        }
        let what = format!("pull of {} rows, {coding}", figures.0);
        judge(&what, middle(seconds), " s", Aim::AtMost(0.25))?;
        judge(&what, kilo(figures.1) / 1_000.0, " MB", Aim::AtMost(1.2))?;
        let (status, list) = bench.get(&business.access, "/v1/supers?limit=500", coding).await?;
        ensure!(status.is_success(), "the list of supers: {status}");
        say(&format!(
            "           list of 500 supers, {coding}: {:.1} kB",
            kilo(list.len())
        ))?;
    }
    Ok(())
}

/// Two pages of 5,000; the rows, the seconds and the bytes. Unpacking is not in the time.
async fn pull(bench: &Bench, business: &Business, coding: &str) -> Result<(usize, f64, usize)> {
    let (mut rows, mut seconds, mut bytes) = (0, 0.0, 0);
    let mut cursor = String::new();
    for _ in 0..PULLED / 5_000 {
        let path = format!("/v1/sync/pull?limit=5000{cursor}");
        let began = Instant::now();
        let (status, packed) = bench.get(&business.access, &path, coding).await?;
        seconds += began.elapsed().as_secs_f64();
        ensure!(status.is_success(), "{path}: {status}");
        bytes += packed.len();
        let (_, plain) = bench.get(&business.access, &path, "identity").await?;
        let page: Value = serde_json::from_slice(&plain)?;
        rows += page["rows"].as_array().map_or(0, Vec::len);
        cursor = format!("&cursor={}", page["cursor"].as_str().context("no cursor")?);
    }
    Ok((rows, seconds, bytes))
}

/// A new phone of an operation with about 50,000 entries, whose download nobody asked for before.
pub(crate) async fn first_sync(bench: &mut Bench) -> Result<()> {
    let mut business = bench.business().await?;
    let mut harvest = Harvest::new(MANY);
    for told in [harvest.register(), harvest.short_season()] {
        bench.fill(&mut business, &told, 500).await?;
    }
    bench.settle().await?;
    let began = Instant::now();
    let (status, list) = bench.get(&business.access, "/v1/sync/snapshot", "gzip").await?;
    let made = began.elapsed().as_secs_f64();
    ensure!(status.is_success(), "the download: {status}");
    let list: Value = serde_json::from_slice(&plain(list)?)?;
    let (mut seconds, mut bytes, mut rows) = (made, 0, 0);
    let parts = list["parts"].as_array().context("no parts")?;
    for part in parts {
        rows += part["states"].as_u64().unwrap_or(0);
        let path = format!("/v1/sync/snapshot/{}/{}", list["seq"], part["part"]);
        let began = Instant::now();
        let (status, packed) = bench.get(&business.access, &path, "gzip").await?;
        seconds += began.elapsed().as_secs_f64();
        ensure!(status.is_success(), "{path}: {status}");
        bytes += packed.len();
    }
    let entries = business.last_seq;
    say(&format!(
        "           first sync of {entries} entries: {rows} rows in {} parts; {made:.3} s until the first can be fetched",
        parts.len()
    ))?;
    let what = format!("first sync of {entries} entries");
    judge(&what, seconds, " s", Aim::AtMost(1.0))?;
    judge(&what, kilo(bytes) / 1_000.0, " MB", Aim::AtMost(5.0))
}

/// The list comes packed where that is shorter.
fn plain(bytes: Vec<u8>) -> Result<Vec<u8>> {
    const GZIP: [u8; 2] = [0x1f, 0x8b];
    if !bytes.starts_with(&GZIP) {
        return Ok(bytes);
    }
    let mut plain = Vec::new();
    std::io::Read::read_to_end(&mut flate2::read::GzDecoder::new(&bytes[..]), &mut plain)?;
    Ok(plain)
}

//! Histories that nobody thought of: some phones, an air that loses and doubles, clocks that are off, corrections of
//! whatever was recorded before; and in the end everything must hold.
//!
//! 500 histories, or as many as `YARDJAR_HISTORIES` says. A failing one prints its seed and adds it to
//! `tests/regressions/histories.txt`; `YARDJAR_SEED` runs one alone.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use anyhow::{Context, Result};
use chrono::TimeDelta;
use serde_json::{Value, json};
use tests::{Air, Dice, FieldPhone, Operation, Service, Tried, invariants_of};
use uuid::Uuid;

use crate::scenarios::{phone_of, placed};

/// Histories that share a business, one after the other: founding one and enrolling its phones costs more than the rest.
const TOGETHER: usize = 20;
/// Businesses at work at once.
const LANES: usize = 3;
/// Steps of a history.
const STEPS: usize = 16;

fn number(variable: &str) -> Option<u64> {
    std::env::var(variable).ok().and_then(|text| text.parse().ok())
}

fn regressions() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("regressions/histories.txt")
}

/// The seeds that once failed.
fn known(file: &Path) -> Result<Vec<u64>> {
    let text = std::fs::read_to_string(file)?;
    let lines = text.lines().map(str::trim);
    let seeds = lines.filter(|line| !line.is_empty() && !line.starts_with('#'));
    seeds
        .map(|line| line.parse().with_context(|| line.to_owned()))
        .collect()
}

/// Keeps a seed that failed just now.
fn keep(file: &Path, seed: u64) -> Result<()> {
    if known(file)?.contains(&seed) {
        return Ok(());
    }
    let mut file = std::fs::OpenOptions::new().append(true).open(file)?;
    Ok(writeln!(file, "{seed}")?)
}

/// The seeds that once failed, and then as many new ones as so many histories need.
fn seeds(file: &Path, histories: usize) -> Result<Vec<u64>> {
    let new = (0..histories.div_ceil(TOGETHER)).map(|_| Uuid::new_v4().as_u64_pair().0);
    Ok(known(file)?.into_iter().chain(new).collect())
}

#[test]
fn a_seed_that_failed_is_kept_once_and_comes_first_the_next_time() -> Result<()> {
    let file = std::env::temp_dir().join(format!("yardjar-seeds-{}", Uuid::new_v4().simple()));
    std::fs::write(&file, "# each run before any new one\n\n7\n")?;
    for seed in [u64::MAX, 7, u64::MAX] {
        keep(&file, seed)?;
    }
    let next = seeds(&file, TOGETHER + 1)?;
    std::fs::remove_file(&file)?;
    assert_eq!((&next[..2], next.len()), (&[7, u64::MAX][..], 4));
    Ok(())
}

/// An air that follows from a seed.
fn weather(seed: u64) -> Box<dyn FnMut() -> Air + Send> {
    let mut dice = Dice::new(seed);
    Box::new(move || match dice.below(10) {
        0 => Air::RequestLost,
        1 | 2 => Air::ReplyLost,
        3 => Air::Doubled,
        4 => Air::Portal,
        _ => Air::Clear,
    })
}

/// Something that may happen.
fn happening(dice: &mut Dice, supers: &[Uuid], hives: &[Uuid], before: &[Uuid]) -> (&'static str, Value) {
    let (super_id, hive) = (supers[dice.below(supers.len())], hives[dice.below(hives.len())]);
    let weighed = json!({ "super_id": super_id, "gross_g": 12_000 + dice.below(12_000) });
    match dice.below(10) {
        0..=2 => ("super_placed", placed(super_id, hive)),
        3 => ("super_pulled", placed(super_id, hive)),
        4 => ("super_received", weighed),
        5 => ("super_weighed", weighed),
        6 => (
            "super_described",
            json!({ "super_id": super_id, "number": format!("{:03}", dice.below(60)) }),
        ),
        7 => ("moon_walked", json!({ "step": dice.below(9) })),
        n if before.is_empty() || n == 8 => {
            let about = json!([{ "kind": "super", "id": super_id }]);
            ("note_written", json!({ "about": about, "text": "looked" }))
        }
        _ => {
            let target = before[dice.below(before.len())];
            if dice.below(2) == 0 {
                ("voided", json!({ "entry_id": target, "reason": "did not happen" }))
            } else {
                let data = placed(super_id, hive);
                (
                    "amended",
                    json!({ "entry_id": target, "kind": "super_placed", "v": 1, "data": data }),
                )
            }
        }
    }
}

async fn history(phones: &mut [FieldPhone], dice: &mut Dice) -> Result<()> {
    let supers: Vec<Uuid> = (0..3).map(|_| Uuid::now_v7()).collect();
    let hives: Vec<Uuid> = (0..3).map(|_| Uuid::now_v7()).collect();
    let mut recorded = Vec::new();
    for phone in phones.iter_mut() {
        phone.air = weather(u64::try_from(dice.below(usize::MAX))?);
        phone.clock_ahead = TimeDelta::seconds(i64::try_from(dice.below(8))? * 45 - 150);
    }
    for _ in 0..STEPS {
        let phone = &mut phones[dice.below(phones.len())];
        match dice.below(8) {
            0..=3 => {
                for _ in 0..=dice.below(3) {
                    let (kind, data) = happening(dice, &supers, &hives, &recorded);
                    let ago = TimeDelta::minutes(i64::try_from(dice.below(300))?);
                    let source = if dice.below(4) == 0 { "entered" } else { "clock" };
                    let at = if source == "clock" {
                        phone.now()
                    } else {
                        phone.now() - ago
                    };
                    recorded.push(phone.record_at(kind, data, at, source)?);
                }
            }
            4 | 5 => drop(phone.send().await?),
            6 => drop(phone.pull().await?),
            _ => drop(phone.sync().await?),
        }
    }
    for phone in phones.iter_mut() {
        phone.air = Box::new(|| Air::Clear);
        phone.sync_patiently(20).await?;
    }
    let (first, rest) = phones.split_first_mut().context("phones")?;
    first.sync_patiently(3).await?;
    for phone in rest {
        anyhow::ensure!(
            phone.sync().await? == Tried::Done && phone.book.rows == first.book.rows,
            "rows differ"
        );
        anyhow::ensure!(
            phone.book.quarantined == first.book.quarantined,
            "what is set apart differs"
        );
    }
    anyhow::ensure!(first.book.outbox.is_empty());
    Ok(())
}

async fn histories(service: &Service, operation: &Operation, seed: u64, count: usize) -> Result<()> {
    let mut dice = Dice::new(seed);
    let mut phones = Vec::new();
    for n in 0..3 {
        phones.push(phone_of(operation).await?.seeded(seed ^ n));
    }
    for n in 0..count {
        history(&mut phones, &mut dice)
            .await
            .with_context(|| format!("history {n} of seed {seed}"))?;
    }
    let mut all: Vec<&mut FieldPhone> = phones.iter_mut().collect();
    let held = invariants_of(&service.database, Some(operation.id), &mut all).await;
    held.with_context(|| format!("after {count} histories of seed {seed}"))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whatever_happens_every_phone_shows_the_same_in_the_end() -> Result<()> {
    let service = Arc::new(Service::start_with(|config| config.pool = 8).await?);
    let count = usize::try_from(number("YARDJAR_HISTORIES").unwrap_or(500))?;
    let seeds = match number("YARDJAR_SEED") {
        Some(seed) => vec![seed],
        None => seeds(&regressions(), count)?,
    };
    let (seeds, next) = (Arc::new(seeds), Arc::new(AtomicUsize::new(0)));
    let mut lanes = tokio::task::JoinSet::new();
    for _ in 0..LANES {
        let (service, seeds, next) = (service.clone(), seeds.clone(), next.clone());
        lanes.spawn(async move {
            while let Some(seed) = seeds.get(next.fetch_add(1, Ordering::Relaxed)).copied() {
                let operation = service.other_operation().await?;
                if let Err(error) = histories(&service, &operation, seed, TOGETHER).await {
                    keep(&regressions(), seed)?;
                    return Err(error);
                }
            }
            anyhow::Ok(())
        });
    }
    while let Some(lane) = lanes.join_next().await {
        lane??;
    }
    println!("{} histories held", seeds.len() * TOGETHER);
    Ok(())
}

//! A year of one business in little: many phones at work at once, many entries, and at moments that nobody chose the
//! service or its database is killed.
//!
//! `YARDJAR_SOAK=200000 YARDJAR_SOAK_PHONES=50 tests/run soak -- --nocapture` is a whole year; `YARDJAR_SEED` repeats
//! what is recorded and where it is killed.

use std::sync::Arc;

use anyhow::{Context, Result, ensure};
use serde_json::{Value, json};
use tests::{Dice, FieldPhone, Tried, invariants};
use tokio::sync::watch;
use uuid::Uuid;

use super::placed;
use crate::alone::Alone;

/// The most memory of the service, whatever happens. What users run is optimised and aims at 80 MB (`deploy/bench`
/// measures it); this program is built for debugging, with the addresses of its code in memory.
const MEMORY_MAX: u64 = 128 * 1024 * 1024;
/// Phones work in so many groups at once.
const GROUPS: usize = 4;

fn number(variable: &str, otherwise: usize) -> usize {
    std::env::var(variable)
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(otherwise)
}

/// What all phones share.
struct Year {
    entries: usize,
    supers: Vec<Uuid>,
    hives: Vec<Uuid>,
    recorded: watch::Sender<usize>,
    /// Whether the service is there.
    up: watch::Sender<bool>,
}

impl Year {
    /// Something that happens.
    fn happening(&self, dice: &mut Dice) -> (&'static str, Value) {
        let at = dice.below(self.supers.len());
        let super_id = self.supers[at];
        let hive = self.hives[dice.below(self.hives.len())];
        let weighed = json!({ "super_id": super_id, "gross_g": 12_000 + dice.below(12_000) });
        match dice.below(6) {
            0 | 1 => ("super_placed", placed(super_id, hive)),
            2 => ("super_pulled", json!({ "super_id": super_id })),
            3 => ("super_received", weighed),
            4 => ("super_weighed", weighed),
            _ => (
                "super_registered",
                json!({ "super_id": super_id, "number": format!("{at}"), "class": "medium", "frames": 10 }),
            ),
        }
    }

    /// Phones of a group, until all that is to happen was recorded.
    async fn work(self: Arc<Self>, mut phones: Vec<FieldPhone>, mut dice: Dice) -> Result<Vec<FieldPhone>> {
        let (count, mut up) = (phones.len(), self.up.subscribe());
        while *self.recorded.borrow() < self.entries {
            let phone = &mut phones[dice.below(count)];
            let visit = 1 + dice.below(40);
            for _ in 0..visit {
                let (kind, data) = self.happening(&mut dice);
                phone.record(kind, data)?;
            }
            self.recorded.send_modify(|recorded| *recorded += visit);
            let tried = match dice.below(6) {
                0 | 1 => continue,
                2 => phone.sync().await?,
                _ => phone.send().await?,
            };
            // A phone that failed comes again; these wait for the service, so that the year does not pass without it.
            if let Tried::Again(..) = tried {
                up.wait_for(|up| *up).await?;
            }
        }
        Ok(phones)
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn year_of_one_operation() -> Result<()> {
    let (entries, count) = (number("YARDJAR_SOAK", 3_000), number("YARDJAR_SOAK_PHONES", 8));
    let mut dice = Dice::from_env("YARDJAR_SEED");
    let mut alone = Alone::new()?;
    alone.start().await?;
    let (_, mut phones) = alone.people(count).await?;
    let year = Arc::new(Year {
        entries,
        supers: (0..(entries / 20).max(10)).map(|_| Uuid::now_v7()).collect(),
        hives: (0..100).map(|_| Uuid::now_v7()).collect(),
        recorded: watch::Sender::new(0),
        up: watch::Sender::new(true),
    });
    let mut groups = Vec::new();
    let mut left = phones.len();
    for group in 0..GROUPS {
        let some = phones.split_off(left - left / (GROUPS - group));
        left -= some.len();
        let dice = Dice::new(dice.seed() ^ u64::try_from(group + 1)?);
        groups.push(tokio::spawn(year.clone().work(some, dice)));
    }
    // After how many entries it is killed, and what: both, whatever the dice say.
    let mut moments: Vec<usize> = (0..6 + entries / 5_000).map(|_| dice.below(entries)).collect();
    moments.sort_unstable();
    let (mut recorded, mut kills, mut most) = (year.recorded.subscribe(), [0, 0], 0);
    for (at, moment) in moments.iter().enumerate() {
        recorded.wait_for(|recorded| recorded >= moment).await?;
        most = most.max(alone.memory()?.1);
        let of_database = if at < 2 { at == 0 } else { dice.below(3) == 0 };
        year.up.send_replace(false);
        kills[usize::from(of_database)] += 1;
        if of_database {
            alone.kill_postgres()?;
            alone.ready().await?;
        } else {
            alone.kill_service()?;
            alone.start().await?;
        }
        year.up.send_replace(true);
    }
    for group in groups {
        phones.extend(group.await??);
    }
    for phone in &mut phones {
        phone.sync_patiently(60).await?;
    }
    let [of_service, of_database] = kills;
    let all_acknowledged: usize = phones.iter().map(|phone| phone.book.acknowledged.len()).sum();
    let mut all: Vec<&mut FieldPhone> = phones.iter_mut().collect();
    let held = invariants(&alone.database()?, &mut all).await;
    held.with_context(|| format!("seed {}", dice.seed()))?;
    most = most.max(alone.memory()?.1);
    println!(
        "{all_acknowledged} entries, {count} phones, {of_service} kills of the service and {of_database} of the database: \
         {} kB at most, seed {}",
        most / 1024,
        dice.seed()
    );
    ensure!(all_acknowledged >= entries, "everything was acknowledged in the end");
    ensure!(most < MEMORY_MAX, "{most} bytes");
    Ok(())
}

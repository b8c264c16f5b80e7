//! Kill -9 of the service and of its private PostgreSQL while six phones push and pull: what was acknowledged is there
//! once, under the number that was told, and all phones show the same in the end.
//!
//! The real binary in a process of its own, on a private database with fsync on. 50 kills, or as many as
//! `YARDJAR_KILLS` says; `--nocapture` shows how many entries were acknowledged, lost, and there twice.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use anyhow::{Context, Result, ensure};
use serde_json::json;
use tests::{Dice, FieldPhone, Tokens, Tried, invariants};
use uuid::Uuid;

use crate::alone::Alone;
use crate::scenarios::{new_super, placed};

/// Phones at work.
const PHONES: usize = 6;

/// Works until told to end: records, sends, pulls, and tries again after every failure.
async fn work(mut phone: FieldPhone, ended: Arc<AtomicBool>) -> Result<FieldPhone> {
    // Four supers at a time are shared by all phones; later others, as nobody carries one box for ever.
    let shared = |n: usize| Uuid::from_u128(1 + (n / 100 * 4 + n % 4) as u128);
    let mut n = 0;
    while !ended.load(Ordering::Relaxed) {
        n += 1;
        phone.record("super_registered", new_super(n).1)?;
        phone.record("super_placed", placed(shared(n), Uuid::now_v7()))?;
        if let Tried::Again(..) = phone.sync().await? {
            // The waits of a real phone are longer than this whole test.
            tokio::time::sleep(Duration::from_millis(25)).await;
        }
    }
    Ok(phone)
}

/// The whole ledger, number by id, and how many ids are there twice.
async fn ledger(owner: &tests::Client) -> Result<(BTreeMap<Uuid, i64>, usize)> {
    let (mut found, mut twice, mut path) = (BTreeMap::new(), 0, "/v1/ledger?limit=5000".to_owned());
    loop {
        let page = owner.get(&path).await?.expect_status(200)?;
        for entry in page["entries"].as_array().context("entries")? {
            let id: Uuid = serde_json::from_value(entry["entry"]["id"].clone())?;
            twice += usize::from(found.insert(id, entry["seq"].as_i64().context("seq")?).is_some());
        }
        if page["more"] == json!(false) {
            return Ok((found, twice));
        }
        path = format!(
            "/v1/ledger?limit=5000&cursor={}",
            page["cursor"].as_str().context("a cursor")?
        );
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_was_acknowledged_survives_kills_of_the_service_and_of_its_database() -> Result<()> {
    let told = std::env::var("YARDJAR_KILLS").ok().and_then(|count| count.parse().ok());
    let kills: usize = told.unwrap_or(50);
    let mut dice = Dice::from_env("YARDJAR_SEED");
    let mut alone = Alone::new()?;
    alone.start().await?;
    let (mut owner, phones) = alone.people(PHONES).await?;
    let ended = Arc::new(AtomicBool::new(false));
    let working: Vec<_> = phones
        .into_iter()
        .map(|phone| tokio::spawn(work(phone, ended.clone())))
        .collect();
    let (mut verified, mut verifications) = (0, 0);
    for round in 0..kills {
        // Any moment is as good as any other.
        tokio::time::sleep(Duration::from_millis(u64::try_from(dice.below(400))?)).await;
        if dice.below(4) == 0 {
            alone.kill_postgres()?;
            alone.ready().await?;
        } else {
            alone.kill_service()?;
            alone.start().await?;
        }
        // What is new each time; everything in the end.
        verified += alone
            .verify(verified)
            .with_context(|| format!("after kill {round} of seed {}", dice.seed()))?;
        verifications += 1;
    }
    ended.store(true, Ordering::Relaxed);
    let mut phones = Vec::new();
    for working in working {
        phones.push(working.await??);
    }
    let mut acknowledged = BTreeMap::new();
    for phone in &mut phones {
        phone.sync_patiently(40).await?;
        let all = phone.book.acknowledged.iter().map(|(id, (seq, _))| (*id, *seq));
        acknowledged.extend(all);
        ensure!(phone.book.outbox.is_empty() && phone.book.not_taken.is_empty());
    }
    // A long run outlives an access token.
    let refreshed = owner.refresh_with(owner.held()?).await?.expect_status(200)?;
    owner.tokens = Some(Tokens::read(&refreshed, Some(&owner.held()?.device_secret))?);
    let (ledger, twice) = ledger(&owner).await?;
    let lost = acknowledged
        .iter()
        .filter(|(id, seq)| ledger.get(id) != Some(seq))
        .count();
    println!(
        "{kills} kills: {} acknowledged, {lost} lost, {twice} twice, {verifications} times verified, seed {}",
        acknowledged.len(),
        dice.seed()
    );
    ensure!(
        lost == 0 && twice == 0,
        "{lost} lost, {twice} twice, seed {}",
        dice.seed()
    );
    ensure!(ledger.len() == acknowledged.len(), "{} entries", ledger.len());
    let mut all: Vec<&mut FieldPhone> = phones.iter_mut().collect();
    let held = invariants(&alone.database()?, &mut all).await;
    held.with_context(|| format!("seed {}", dice.seed()))?;
    let all = alone.verify(0)?;
    ensure!(usize::try_from(all)? == ledger.len(), "{all} entries were verified");
    Ok(())
}

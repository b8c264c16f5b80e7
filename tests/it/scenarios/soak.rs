//! A year of one business in little: many phones, many entries, the service killed now and then.
//!
//! `YARDJAR_SOAK=200000 YARDJAR_SOAK_PHONES=50 cargo test -p tests --test it soak -- --nocapture` is a whole year.

use anyhow::Result;
use serde_json::json;
use tests::{Dice, FieldPhone, Service, Tried, invariants};
use uuid::Uuid;

use super::process::Process;
use super::{new_super, phone, placed};

/// The most memory of the service, whatever happens.
const MEMORY_MAX: u64 = 256 * 1024 * 1024;

fn number(variable: &str, otherwise: usize) -> usize {
    std::env::var(variable)
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(otherwise)
}

#[tokio::test]
async fn year_of_one_operation() -> Result<()> {
    let (entries, count) = (number("YARDJAR_SOAK", 3_000), number("YARDJAR_SOAK_PHONES", 8));
    let service = Service::start().await?;
    let mut process = Process::beside(&service).await?;
    let mut phones = Vec::new();
    for _ in 0..count {
        let mut phone = phone(&service).await?;
        phone.client = phone.client.elsewhere(&process.url);
        phones.push(phone);
    }
    let mut dice = Dice::from_env("YARDJAR_SEED");
    let supers: Vec<Uuid> = (0..(entries / 20).max(10)).map(|_| Uuid::now_v7()).collect();
    let hives: Vec<Uuid> = (0..100).map(|_| Uuid::now_v7()).collect();
    let (mut recorded, mut kills, mut next_kill, mut most) = (0, 0, entries / 10, 0);
    while recorded < entries {
        let phone = &mut phones[dice.below(count)];
        for _ in 0..=dice.below(40) {
            let super_id = supers[dice.below(supers.len())];
            let (kind, data) = match dice.below(5) {
                0 | 1 => ("super_placed", placed(super_id, hives[dice.below(hives.len())])),
                2 => ("super_pulled", json!({ "super_id": super_id })),
                3 => (
                    "super_weighed",
                    json!({ "super_id": super_id, "gross_g": 12_000 + dice.below(12_000) }),
                ),
                _ => ("super_registered", new_super(dice.below(900)).1),
            };
            phone.record(kind, data)?;
            recorded += 1;
        }
        if dice.below(3) > 0 {
            // Whether the service is there this moment or not, a phone goes on.
            let _: Tried = phone.sync().await?;
        }
        if recorded >= next_kill {
            next_kill += entries / 5;
            most = most.max(process.memory()?.1);
            process.kill()?;
            process.start().await?;
            kills += 1;
        }
    }
    for phone in &mut phones {
        phone.sync_patiently(60).await?;
    }
    most = most.max(process.memory()?.1);
    println!(
        "{recorded} entries, {count} phones, {kills} kills: {} kB at most, seed {}",
        most / 1024,
        dice.seed()
    );
    assert!(most < MEMORY_MAX, "{most} bytes");
    let mut all: Vec<&mut FieldPhone> = phones.iter_mut().collect();
    invariants(&service.database, &mut all).await
}

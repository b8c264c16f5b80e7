//! The power goes: of a phone at any byte it writes, of the service at the worst moment.

use std::path::PathBuf;

use anyhow::{Context, Result};
use serde_json::Value;
use tests::{Air, FieldPhone, Service, Tried, invariants};
use uuid::Uuid;

use super::{phone, record_supers};

/// The file of a phone, gone with the test.
struct Disk(PathBuf);

impl Disk {
    fn new() -> Self {
        Self(std::env::temp_dir().join(format!("yardjar-phone-{}", Uuid::new_v4().simple())))
    }

    fn bytes(&self) -> Result<Vec<u8>> {
        Ok(std::fs::read(&self.0)?)
    }

    /// What is left when the power goes after so many bytes.
    fn cut(&self, bytes: &[u8]) -> Result<()> {
        Ok(std::fs::write(&self.0, bytes)?)
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        // What cannot be removed from the temporary folder is nobody's concern.
        let _ = std::fs::remove_file(&self.0);
    }
}

fn counters(entries: &[Value]) -> Vec<i64> {
    entries
        .iter()
        .filter_map(|entry| entry["device_counter"].as_i64())
        .collect()
}

#[tokio::test]
async fn power_cut_phone_mid_capture() -> Result<()> {
    let service = Service::start().await?;
    let (client, disk) = (phone(&service).await?.client, Disk::new());
    let mut phone = FieldPhone::open(client.clone(), &disk.0)?;
    record_supers(&mut phone, 3)?;
    drop(phone);
    let whole = disk.bytes()?;
    let last = whole[..whole.len() - 1]
        .iter()
        .rposition(|byte| *byte == b'\n')
        .context("three lines")?
        + 1;
    // Wherever the power goes while the third is written, two are there, or three; never a part of one.
    for kept in last..=whole.len() {
        disk.cut(&whole[..kept])?;
        let mut phone = FieldPhone::open(client.clone(), &disk.0)?;
        let there = if kept == whole.len() { 3 } else { 2 };
        assert_eq!(
            counters(&phone.book.outbox),
            (1..=there).collect::<Vec<_>>(),
            "cut at {kept}"
        );
        record_supers(&mut phone, 1)?;
        assert_eq!(
            counters(&phone.book.outbox),
            (1..=there + 1).collect::<Vec<_>>(),
            "no hole"
        );
    }
    let mut phone = FieldPhone::open(client, &disk.0)?;
    phone.sync_patiently(3).await?;
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn power_cut_phone_mid_batch() -> Result<()> {
    // One push takes 500: the power goes before anything is acknowledged, or after a prefix was.
    for (recorded, prefix) in [(40, 0), (620, 500)] {
        let service = Service::start().await?;
        let (client, disk) = (phone(&service).await?.client, Disk::new());
        let mut phone = FieldPhone::open(client.clone(), &disk.0)?;
        let all = record_supers(&mut phone, recorded)?;
        if prefix > 0 {
            assert_eq!(phone.send().await?, Tried::More);
        }
        assert_eq!(phone.book.acknowledged.len(), prefix);
        let before = disk.bytes()?;
        // The request went out; whether it was answered, the phone never learns. Or it never went out at all.
        for air in [Air::ReplyLost, Air::RequestLost] {
            phone.air = Box::new(move || air);
            assert!(matches!(phone.send().await?, Tried::Again(..)));
            disk.cut(&before)?;
            phone = FieldPhone::open(client.clone(), &disk.0)?;
            assert_eq!(phone.book.outbox.len(), recorded - prefix);
            assert_eq!(phone.book.acknowledged.len(), prefix, "what was acknowledged stays so");
        }
        phone.sync_patiently(3).await?;
        assert!(all.iter().all(|id| phone.book.acknowledged.contains_key(id)));
        let count = "select count(*)::text as text from entry";
        assert_eq!(
            service.database.texts(count).await?,
            [recorded.to_string()],
            "every entry once"
        );
        invariants(&service.database, &mut [&mut phone]).await?;
    }
    Ok(())
}

#[tokio::test]
async fn power_cut_phone_between_ack_and_mark() -> Result<()> {
    let service = Service::start().await?;
    let (client, disk) = (phone(&service).await?.client, Disk::new());
    let mut phone = FieldPhone::open(client.clone(), &disk.0)?;
    record_supers(&mut phone, 10)?;
    let before = disk.bytes()?;
    assert_eq!(phone.send().await?, Tried::Done);
    let after = disk.bytes()?;
    drop(phone);
    // The answer was here; the line that notes it was torn at any byte.
    for kept in [
        before.len(),
        before.len() + 1,
        usize::midpoint(before.len(), after.len()),
        after.len() - 1,
    ] {
        disk.cut(&after[..kept])?;
        let mut phone = FieldPhone::open(client.clone(), &disk.0)?;
        assert_eq!(phone.book.outbox.len(), 10, "cut at {kept}");
        let again = phone.client.push(&phone.book.outbox).await?.expect_status(200)?;
        assert_eq!(super::words(&again), vec!["duplicate"; 10]);
        phone.sync_patiently(3).await?;
        assert!(phone.book.outbox.is_empty());
        invariants(&service.database, &mut [&mut phone]).await?;
    }
    Ok(())
}

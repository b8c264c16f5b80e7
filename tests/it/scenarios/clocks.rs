//! Clocks of phones: years ahead, back in 1970, jumping, in another zone; and what was seen before it was recorded.

use anyhow::Result;
use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};
use tests::{FieldPhone, Service, invariants};
use uuid::Uuid;

use super::{phone, placed, row};

/// When the ledger says that an entry happened.
async fn effective(service: &Service, id: Uuid) -> Result<DateTime<Utc>> {
    let question = format!(
        "select to_char(effective_at at time zone 'UTC', 'YYYY-MM-DD\"T\"HH24:MI:SS.US\"Z\"') as text
                              from entry where id = '{id}'"
    );
    Ok(service.database.texts(&question).await?[0].parse()?)
}

/// The doubts about devices: code, device, and the entries named.
async fn doubts(service: &Service, code: &str) -> Result<Vec<Value>> {
    let flags = service.owner().get("/v1/flags").await?.expect_status(200)?;
    let items = flags["items"].as_array().cloned().unwrap_or_default();
    Ok(items.into_iter().filter(|item| item["code"] == code).collect())
}

fn near(at: DateTime<Utc>, expected: DateTime<Utc>) {
    assert!((at - expected).abs() < TimeDelta::seconds(30), "{at} is not {expected}");
}

/// No entry sorts before the business began without a flag.
async fn none_before_the_beginning(service: &Service) -> Result<()> {
    let early = "select count(*)::text as text from entry e join operation o on o.id = e.operation_id
                  where e.effective_at < o.created_at
                    and not exists (select from entry_doubt d where d.operation_id = e.operation_id and d.seq = e.seq)";
    assert_eq!(service.database.texts(early).await?, ["0"]);
    Ok(())
}

async fn clock_off_by(ahead: TimeDelta) -> Result<()> {
    let service = Service::start().await?;
    let (mut wrong, mut right) = (phone(&service).await?, phone(&service).await?);
    let (super_id, hive) = (Uuid::now_v7(), Uuid::now_v7());
    let theirs = right.record("super_placed", placed(super_id, hive))?;
    right.sync_patiently(3).await?;
    let before = effective(&service, theirs).await?;
    wrong.clock_ahead = ahead;
    let entry = wrong.record_at("super_pulled", placed(super_id, hive), wrong.now(), "clock")?;
    wrong.sync_patiently(3).await?;
    near(effective(&service, entry).await?, Utc::now());
    assert_eq!(effective(&service, theirs).await?, before, "other phones are unmoved");
    let found = doubts(&service, "clock_suspect").await?;
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0]["id"], json!(wrong.client.held()?.device));
    assert_eq!(found[0]["sides"][0]["entry_id"], json!(entry));
    right.sync_patiently(3).await?;
    assert_eq!(row(&right, "super", super_id)["status"], "pulled");
    none_before_the_beginning(&service).await?;
    // Somebody looked, withdrew it and entered it by hand: settled.
    right.record("voided", json!({ "entry_id": entry, "reason": "entered by hand" }))?;
    right.sync_patiently(3).await?;
    assert!(doubts(&service, "clock_suspect").await?.is_empty());
    invariants(&service.database, &mut [&mut wrong, &mut right]).await
}

#[tokio::test]
async fn clock_3_years_ahead() -> Result<()> {
    clock_off_by(TimeDelta::days(3 * 365)).await
}

#[tokio::test]
async fn clock_3_years_behind_1970() -> Result<()> {
    clock_off_by(TimeDelta::days(-3 * 365)).await?;
    clock_off_by("1970-01-02T03:04:05Z".parse::<DateTime<Utc>>()? - Utc::now()).await?;
    // Recorded in 1970, and the clock was set right before sending: only the count says when that was.
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    let first = phone.record("super_placed", placed(Uuid::now_v7(), Uuid::now_v7()))?;
    let lost = phone.record_at(
        "super_placed",
        placed(Uuid::now_v7(), Uuid::now_v7()),
        "1970-01-01T00:10:00Z".parse()?,
        "clock",
    )?;
    let alone = Uuid::now_v7();
    phone.sync_patiently(3).await?;
    assert_eq!(effective(&service, lost).await?, effective(&service, first).await?);
    let mut other = super::phone(&service).await?;
    let only = other.record_at(
        "super_placed",
        placed(alone, Uuid::now_v7()),
        "1970-01-01T00:10:00Z".parse()?,
        "clock",
    )?;
    other.sync_patiently(3).await?;
    near(effective(&service, only).await?, Utc::now());
    none_before_the_beginning(&service).await?;
    assert_eq!(doubts(&service, "clock_suspect").await?.len(), 2, "one a device");
    invariants(&service.database, &mut [&mut phone, &mut other]).await
}

#[tokio::test]
async fn clock_jumps_during_the_day() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    let super_id = Uuid::now_v7();
    let hives = [(); 4].map(|()| Uuid::now_v7());
    // The clock is set back by five hours, forward, and back again, while boxes are put on.
    let now = Utc::now();
    let shown = [-60, -350, -40, -300].map(|minutes| now + TimeDelta::minutes(minutes));
    let mut ids = Vec::new();
    for (hive, at) in hives.iter().zip(shown) {
        ids.push(phone.record_at("super_placed", placed(super_id, *hive), at, "clock")?);
    }
    phone.sync_patiently(3).await?;
    let mut times = Vec::new();
    for id in &ids {
        times.push(effective(&service, *id).await?);
    }
    assert!(times.is_sorted(), "the count of the device decides: {times:?}");
    assert_eq!(
        row(&phone, "super", super_id)["state"]["filling"]["stands"]
            .as_array()
            .map(Vec::len),
        Some(4)
    );
    let found = doubts(&service, "clock_suspect").await?;
    assert_eq!(
        found[0]["sides"].as_array().map(Vec::len),
        Some(2),
        "the two that ran backwards: {found:?}"
    );
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn slow_phone_causality() -> Result<()> {
    let service = Service::start().await?;
    let (mut exact, mut slow) = (phone(&service).await?, phone(&service).await?);
    let (super_id, hives) = (Uuid::now_v7(), [Uuid::now_v7(), Uuid::now_v7()]);
    let first = exact.record("super_placed", placed(super_id, hives[0]))?;
    exact.sync_patiently(3).await?;
    slow.sync_patiently(3).await?;
    // A minute slow is too little to be set right, and enough to turn the order round.
    slow.clock_ahead = TimeDelta::seconds(-100);
    let moved = json!({ "super_id": super_id, "from_hive_id": hives[0], "to_hive_id": hives[1] });
    let second = slow.record("super_moved", moved)?;
    slow.sync_patiently(3).await?;
    assert!(effective(&service, first).await? < effective(&service, second).await?);
    let shown = row(&slow, "super", super_id);
    let stands = shown["state"]["filling"]["stands"]
        .as_array()
        .cloned()
        .unwrap_or_default();
    assert_eq!(
        stands.last().map(|stand| stand["hive_id"].clone()),
        Some(json!(hives[1])),
        "{shown}"
    );
    assert_eq!(shown["state"]["flags"], Value::Null);
    // Somebody who had not seen it is taken by the clock.
    let mut third = phone(&service).await?;
    third.clock_ahead = TimeDelta::seconds(-100);
    let unseen = third.record("super_weighed", json!({ "super_id": super_id, "gross_g": 9_000 }))?;
    third.sync_patiently(3).await?;
    near(effective(&service, unseen).await?, Utc::now() - TimeDelta::seconds(100));
    invariants(&service.database, &mut [&mut exact, &mut slow, &mut third]).await
}

#[tokio::test]
async fn backdated_by_hand() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    phone.clock_ahead = TimeDelta::hours(5);
    let (super_id, hive) = (Uuid::now_v7(), Uuid::now_v7());
    let told: DateTime<Utc> = "2024-05-03T14:00:00Z".parse()?;
    let pulled = phone.record_at(
        "super_pulled",
        placed(super_id, hive),
        told + TimeDelta::days(60),
        "entered",
    )?;
    let on = phone.record_at("super_placed", placed(super_id, hive), told, "entered")?;
    phone.sync_patiently(3).await?;
    assert_eq!(
        effective(&service, on).await?,
        told,
        "a time entered by hand is taken as told"
    );
    assert_eq!(effective(&service, pulled).await?, told + TimeDelta::days(60));
    let shown = row(&phone, "super", super_id);
    assert_eq!(
        (&shown["status"], &shown["state"]["flags"]),
        (&json!("pulled"), &Value::Null),
        "{shown}"
    );
    assert!(doubts(&service, "clock_suspect").await?.is_empty());
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn dst_and_zone() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    let (super_id, hives) = (Uuid::now_v7(), [Uuid::now_v7(), Uuid::now_v7()]);
    // The night of 25 October 2026: at 01:00 UTC the clocks of central Europe go back from 3 to 2 o'clock.
    let before: DateTime<Utc> = "2026-10-24T22:30:00Z".parse()?;
    let record = |phone: &mut FieldPhone, hive: Uuid, at: DateTime<Utc>, offset: i64| -> Result<Uuid> {
        let id = phone.record_at("super_placed", placed(super_id, hive), at, "entered")?;
        if let Some(entry) = phone.book.outbox.last_mut() {
            entry["utc_offset_min"] = json!(offset);
        }
        Ok(id)
    };
    record(&mut phone, hives[0], before, 120)?;
    // An hour and a half later, over the border where it is two hours earlier on the wall.
    record(&mut phone, hives[1], before + TimeDelta::minutes(90), 0)?;
    phone.sync_patiently(3).await?;
    let shown = row(&phone, "super", super_id);
    let stands = &shown["state"]["filling"]["stands"];
    assert_eq!(
        (&stands[0]["hive_id"], &stands[1]["hive_id"]),
        (&json!(hives[0]), &json!(hives[1])),
        "order unchanged"
    );
    assert_eq!(stands[0]["from_day"], "2026-10-25", "half past midnight there");
    assert_eq!(stands[1]["from_day"], "2026-10-25", "midnight here");
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn out_of_order_batches_one_device() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    super::record_supers(&mut phone, 100)?;
    let later = phone.book.outbox.split_off(50);
    let earlier = std::mem::replace(&mut phone.book.outbox, later);
    phone.sync_patiently(3).await?;
    let gap = doubts(&service, "gap").await?;
    assert_eq!(gap[0]["missing"], json!([[1, 50]]), "{gap:?}");
    phone.book.outbox = earlier;
    phone.sync_patiently(3).await?;
    assert!(doubts(&service, "gap").await?.is_empty(), "it clears itself");
    assert!(doubts(&service, "clock_suspect").await?.is_empty(), "late is not wrong");
    let order = "select (array_agg(device_counter order by effective_at, device_counter)
                        = array_agg(device_counter order by device_counter))::text as text from entry";
    assert_eq!(service.database.texts(order).await?, ["true"]);
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn cloned_phone() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    super::record_supers(&mut phone, 3)?;
    phone.sync_patiently(3).await?;
    // A backup of the phone is put onto another one, and both go on counting.
    let mut clone = FieldPhone::new(phone.client.clone());
    clone.book = phone.book.clone();
    let one = super::record_supers(&mut phone, 1)?[0];
    let other = super::record_supers(&mut clone, 1)?[0];
    phone.sync_patiently(3).await?;
    clone.sync_patiently(3).await?;
    assert!(
        phone.book.acknowledged.contains_key(&one) && clone.book.acknowledged.contains_key(&other),
        "both stored"
    );
    let found = doubts(&service, "device_cloned").await?;
    let sides: Vec<_> = found[0]["sides"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|side| side["entry_id"].clone())
        .collect();
    assert_eq!(sides, [json!(other), json!(one)], "{found:?}");
    invariants(&service.database, &mut [&mut phone, &mut clone]).await
}

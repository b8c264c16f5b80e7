//! A week without signal, and then everybody at once: each contradiction of the trade's rules CF is told by two phones
//! that did not know of each other, and each is flagged with both sides.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use anyhow::{Context, Result, ensure};
use api::auth::Role;
use chrono::{DateTime, SecondsFormat, TimeDelta, Utc};
use serde_json::{Value, json};
use tests::{Client, FieldPhone, Service, Tried, invariants};
use uuid::Uuid;

use super::doubts::{code, lot, made};
use super::{placed, row};

/// Entries of a phone in that week.
const EACH: usize = 500;

/// What the contradictions are about.
struct Things {
    /// Two in one yard, one in another.
    hives: [Uuid; 3],
    colony: Uuid,
    order: Uuid,
    customer: Uuid,
    /// Bought honey: 10 kg each, 6 kg of the first drawn already.
    fills: [Uuid; 3],
    /// Two that will bear one code.
    shared: [Uuid; 2],
    /// Drawn from the second, and to be released.
    lot: Uuid,
    /// On two hives of one yard; in two yards; pulled twice; weighed twice; corrected and withdrawn.
    supers: [Uuid; 5],
}

async fn set_up(office: &Client, long_ago: DateTime<Utc>) -> Result<Things> {
    let id = |()| Uuid::now_v7();
    let (yards, hives, colony) = ([(); 2].map(id), [(); 3].map(id), id(()));
    let back = long_ago.to_rfc3339_opts(SecondsFormat::Secs, true);
    let then = |path: &str| format!("{path}?happened_at={back}");
    for (yard, name) in yards.iter().zip(["Wold", "Moor"]) {
        made(office, &then("/v1/yards"), &json!({ "yard_id": yard, "name": name })).await?;
    }
    for (at, hive) in hives.iter().enumerate() {
        let new = json!({ "hive_id": hive, "yard_id": yards[at / 2], "code": format!("W{at}") });
        made(office, &then("/v1/hives"), &new).await?;
    }
    let new = json!({ "colony_id": colony, "hive_id": hives[0], "founding": "swarm" });
    made(office, &then("/v1/colonies"), &new).await?;
    let (order, customer) = (id(()), id(()));
    made(
        office,
        "/v1/customers",
        &json!({ "customer_id": customer, "name": "corner shop" }),
    )
    .await?;
    let wanted = json!([{ "nominal_g": 500, "count": 4 }]);
    made(
        office,
        "/v1/orders",
        &json!({ "delivery_id": order, "customer_id": customer, "wanted": wanted }),
    )
    .await?;
    let (first, _) = lot(office).await?;
    let mut fills = [first, id(()), id(())];
    for fill in &mut fills[1..] {
        let source = json!({ "bought_from": "a neighbour" });
        let filled = json!({ "fill_id": fill, "source": source, "gross_g": 11_250, "tare_g": 1_250 });
        made(office, &then("/v1/fills"), &filled).await?;
    }
    // Measured, and not released yet.
    let lot = id(());
    let drawn = json!({ "lot_id": lot, "code": code(80)?, "fill_id": fills[1], "weight_g": 500 });
    made(office, "/v1/draws", &drawn).await?;
    let read = json!({ "targets": [{ "kind": "lot", "id": lot }], "shown": { "moisture_hundredths": 1_702 } });
    made(office, "/v1/readings", &read).await?;
    Ok(Things {
        hives,
        colony,
        order,
        customer,
        fills,
        shared: [(); 2].map(id),
        lot,
        supers: [(); 5].map(id),
    })
}

/// Who tells what, and how many hours after the week began. Phones 4 and 5 are the office's.
type Told = (usize, &'static str, i64, Value);

/// By rule: what two phones tell, and as what it is to be flagged.
fn contradictions(things: &Things, corrected: Uuid) -> Result<Vec<(&'static str, &'static str, Vec<Told>)>> {
    let Things {
        hives,
        supers,
        fills,
        shared,
        ..
    } = things;
    let draw = |lot: Uuid, (weight, number): (i64, u32), fill: Uuid| -> Result<Value> {
        Ok(json!({ "lot_id": lot, "code": code(number)?, "fill_id": fill, "weight_g": weight }))
    };
    let read = |hundredths: i64| {
        let targets = json!([{ "kind": "fill", "id": fills[2] }]);
        json!({ "targets": targets, "shown": { "moisture_hundredths": hundredths } })
    };
    let instead = placed(supers[4], hives[1]);
    let amended = json!({ "entry_id": corrected, "kind": "super_placed", "v": 1, "data": instead });
    let hold = json!({ "target": { "kind": "lot", "id": things.lot }, "reason": "complaint" });
    let goods = json!({ "bulk": { "fill_id": fills[1], "weight_g": 2_000 } });
    let delivered =
        json!({ "delivery_id": things.order, "customer_id": things.customer, "lines": [{ "goods": goods }] });
    Ok(vec![
        (
            "CF-2",
            "already_pulled",
            vec![
                (2, "super_pulled", 30, placed(supers[2], hives[0])),
                (3, "super_pulled", 60, placed(supers[2], hives[0])),
            ],
        ),
        (
            "CF-2",
            "told_twice",
            vec![
                (0, "honey_drawn", 20, draw(shared[0], (1_000, 91), fills[1])?),
                (1, "honey_drawn", 23, draw(shared[1], (1_000, 91), fills[1])?),
            ],
        ),
        (
            "CF-7",
            "on_two_hives",
            vec![
                (0, "super_placed", 2, placed(supers[0], hives[0])),
                (1, "super_placed", 3, placed(supers[0], hives[1])),
            ],
        ),
        (
            "CF-8",
            "two_boxes_one_number",
            vec![
                (2, "super_placed", 5, placed(supers[1], hives[0])),
                (3, "super_placed", 6, placed(supers[1], hives[2])),
            ],
        ),
        (
            "CF-9",
            "overdrawn",
            vec![(4, "honey_drawn", 160, draw(Uuid::now_v7(), (6_000, 92), fills[0])?)],
        ),
        (
            "CF-10",
            "weights_differ",
            vec![
                (
                    0,
                    "super_received",
                    70,
                    json!({ "super_id": supers[3], "gross_g": 20_000 }),
                ),
                (
                    2,
                    "super_weighed",
                    71,
                    json!({ "super_id": supers[3], "gross_g": 22_000 }),
                ),
            ],
        ),
        (
            "CF-11",
            "re_measure",
            vec![
                (1, "moisture_read", 80, read(1_700)),
                (3, "moisture_read", 81, read(1_850)),
            ],
        ),
        (
            "CF-12",
            "released_without_sight_of_hold",
            vec![
                (0, "hold_set", 168, hold),
                (
                    4,
                    "lot_released",
                    168,
                    json!({ "lot_id": things.lot, "samples_kept": 2 }),
                ),
            ],
        ),
        ("CF-13", "shared_code", Vec::new()),
        (
            "CF-14",
            "voided_without_sight",
            vec![
                (2, "amended", 90, amended),
                (
                    3,
                    "voided",
                    91,
                    json!({ "entry_id": corrected, "reason": "another box" }),
                ),
            ],
        ),
        (
            "CF-15",
            "delivered_though_cancelled",
            vec![
                (
                    4,
                    "order_marked",
                    100,
                    json!({ "delivery_id": things.order, "mark": "cancelled", "reason": "shut" }),
                ),
                (5, "delivered", 101, delivered),
            ],
        ),
        (
            "CF-16",
            "alive_after_dead",
            vec![
                (
                    0,
                    "colony_ended",
                    24,
                    json!({ "colony_id": things.colony, "how": "dead" }),
                ),
                (
                    3,
                    "hive_inspected",
                    48,
                    json!({ "hive_id": hives[0], "eggs_seen": true }),
                ),
            ],
        ),
    ])
}

/// The rest of a phone's week: boxes of its own, one job after another.
fn work(phone: &mut FieldPhone, at: usize, week_ago: DateTime<Utc>, count: usize) -> Result<()> {
    let hive = Uuid::now_v7();
    for n in 0..count {
        let super_id = Uuid::from_u128(u128::try_from(at * 100 + n % 100)? + (1 << 100));
        let weighed = |gross_g: i64| json!({ "super_id": super_id, "gross_g": gross_g });
        let (kind, data) = match n / 100 {
            0 => ("super_placed", placed(super_id, hive)),
            1 => ("super_pulled", placed(super_id, hive)),
            2 => ("super_received", weighed(20_000)),
            3 => ("super_weighed", weighed(20_050)),
            _ => (
                "super_stored",
                json!({ "super_id": super_id, "place": "barn", "wet": true }),
            ),
        };
        let when = week_ago + TimeDelta::minutes(i64::try_from(n * 20 + at)?);
        phone.record_at(kind, data, when, "clock")?;
    }
    Ok(())
}

#[tokio::test]
async fn week_offline_then_all_at_once() -> Result<()> {
    let service = Service::start().await?;
    let office = service.member(Role::Office).await?;
    let week_ago = Utc::now() - TimeDelta::days(7);
    let things = set_up(&office, week_ago - TimeDelta::days(60)).await?;
    let mut phones = Vec::new();
    for role in [
        Role::Field,
        Role::Field,
        Role::Field,
        Role::Field,
        Role::Office,
        Role::Office,
    ] {
        phones.push(FieldPhone::new(service.operation.phone(role).await?.client));
    }
    // The last evening with signal: one placing that will be corrected and withdrawn, and one box that all saw put on.
    let before = week_ago - TimeDelta::hours(10);
    let corrected = phones[2].record_at(
        "super_placed",
        placed(things.supers[4], things.hives[0]),
        before,
        "entered",
    )?;
    phones[2].record_at(
        "super_placed",
        placed(things.supers[2], things.hives[0]),
        before,
        "entered",
    )?;
    phones[2].sync_patiently(3).await?;
    for phone in &mut phones {
        phone.sync_patiently(3).await?;
    }
    let known: Vec<usize> = phones.iter().map(|phone| phone.book.acknowledged.len()).collect();
    // The week. Each tells its part of the contradictions, and works.
    let (list, shared) = (contradictions(&things, corrected)?, things.shared);
    let mut sides: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for (_, flag, told) in &list {
        for (who, kind, hours, data) in told {
            // At the end of the week, the lot is there.
            let at = if *hours < 168 {
                week_ago + TimeDelta::hours(*hours)
            } else {
                Utc::now()
            };
            let id = phones[*who].record_at(kind, data.clone(), at, "entered")?;
            sides.entry(flag).or_default().push(id.to_string());
        }
    }
    for (at, phone) in phones.iter_mut().enumerate() {
        let left = EACH - phone.book.outbox.len();
        work(phone, at, week_ago, left)?;
        assert_eq!(phone.book.outbox.len(), EACH);
    }
    let began = Instant::now();
    let syncing: Vec<_> = phones
        .into_iter()
        .map(|mut phone| {
            tokio::spawn(async move {
                phone.sync_patiently(60).await?;
                anyhow::Ok(phone)
            })
        })
        .collect();
    let mut phones = Vec::new();
    for syncing in syncing {
        phones.push(syncing.await??);
    }
    assert!(began.elapsed() < Duration::from_secs(60), "{:?}", began.elapsed());
    for (phone, known) in phones.iter_mut().zip(known) {
        assert_eq!(phone.sync().await?, Tried::Done);
        assert!(
            phone.book.not_taken.is_empty() && phone.book.quarantined.is_empty(),
            "nothing refused"
        );
        assert_eq!(phone.book.acknowledged.len(), known + EACH);
    }
    let flags = office.get("/v1/flags").await?.expect_status(200)?;
    let next = office.get("/v1/house/next").await?.expect_status(200)?;
    let list_of = |of: &Value, field: &str| of[field].as_array().cloned().unwrap_or_default();
    let (items, doubts, tasks) = (
        list_of(&flags, "items"),
        list_of(&flags, "doubts"),
        list_of(&next, "tasks"),
    );
    for (rule, flag, _) in &list {
        let item = items.iter().find(|item| item["code"] == *flag);
        let doubt = doubts
            .iter()
            .find(|doubt| doubt["doubt"] == *flag && doubt["rule"] == *rule);
        let task = tasks.iter().find(|task| task["rule"] == *rule);
        let found = item.or(doubt).or(task);
        let found = found.with_context(|| format!("{rule} {flag} is not flagged: {flags} {next}"))?;
        let text = found.to_string();
        // A reading that competes is asked for again under the thing it was read of, and what was withdrawn without
        // sight of its correction is named itself; all others name both entries.
        let named = match *flag {
            "re_measure" => vec![things.fills[2].to_string()],
            "voided_without_sight" => vec![corrected.to_string()],
            // Told by the draws that were told twice: it names the lots.
            "shared_code" => shared.map(|lot| lot.to_string()).to_vec(),
            flag => sides
                .get(flag)
                .cloned()
                .with_context(|| format!("nobody told of {flag}"))?,
        };
        for side in named {
            ensure!(text.contains(&side), "{rule} {flag} does not name {side}: {text}");
        }
    }
    assert_eq!(
        row(&phones[0], "lot", things.lot)["status"],
        "on_hold",
        "the cautious answer"
    );
    // Buyers and deliveries are not for field phones: those of a role hold the same.
    let (field, of_office) = phones.split_at_mut(4);
    for group in [field, of_office] {
        let mut group: Vec<&mut FieldPhone> = group.iter_mut().collect();
        invariants(&service.database, &mut group).await?;
    }
    Ok(())
}

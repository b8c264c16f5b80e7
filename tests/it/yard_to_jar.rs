//! One harvest by four devices, from placed supers to jars at a buyer's, with two phones out of signal for half of it.
//!
//! The weights are the worked run of the trade's handbook rule WT-1 (fixture A): what each hive gave is known to the
//! hectogram, so the answers are compared as numbers.

use anyhow::{Context, Result};
use api::auth::Role;
use chrono::{DateTime, Datelike, TimeDelta, Utc};
use domain::lot_code::LotCode;
use serde_json::{Value, json};
use tests::{Client, Phone, Service};
use uuid::Uuid;

/// Number, hive, gross full, gross spun, grams.
const SUPERS: [(&str, &str, i64, i64); 6] = [
    ("041", "W03", 21_400, 8_100),
    ("042", "W03", 19_800, 7_900),
    ("057", "W07", 22_600, 8_200),
    ("088", "O02", 20_100, 8_000),
    ("090", "O02", 16_300, 7_800),
    ("103", "O11", 18_900, 8_300),
];

struct Ids {
    yards: [Uuid; 2],
    hives: [Uuid; 4],
    supers: [Uuid; 6],
    meter: Uuid,
    run: Uuid,
    buckets: [Uuid; 4],
    fills: [Uuid; 4],
    lot: Uuid,
    batch: Uuid,
    shop: Uuid,
}

impl Ids {
    fn new() -> Self {
        let id = |_| Uuid::now_v7();
        Self {
            yards: [(); 2].map(id),
            hives: [(); 4].map(id),
            supers: [(); 6].map(id),
            meter: id(()),
            run: id(()),
            buckets: [(); 4].map(id),
            fills: [(); 4].map(id),
            lot: id(()),
            batch: id(()),
            shop: id(()),
        }
    }

    fn hive(&self, code: &str) -> Uuid {
        let at = ["W03", "W07", "O02", "O11"].iter().position(|hive| *hive == code);
        self.hives[at.unwrap_or_default()]
    }
}

async fn made(client: &Client, path: &str, body: &Value) -> Result<Value> {
    client.post(path, body).await?.expect_status(201)
}

/// What the office writes before the season: yards, hives, boxes, meter, buckets, a buyer.
async fn set_up(office: &Client, ids: &Ids, counted_on: DateTime<Utc>) -> Result<()> {
    for (yard, name, fit) in [(ids.yards[0], "Wold", 3), (ids.yards[1], "Orchard", 2)] {
        made(office, "/v1/yards", &json!({ "yard_id": yard, "name": name })).await?;
        let count = json!({ "on": counted_on.date_naive(), "fit": fit });
        made(office, &format!("/v1/yards/{yard}/colony-counts"), &count).await?;
    }
    for (at, code) in ["W03", "W07", "O02", "O11"].iter().enumerate() {
        let hive = json!({ "hive_id": ids.hives[at], "yard_id": ids.yards[at / 2], "code": code });
        let long_ago = (counted_on - TimeDelta::days(100)).to_rfc3339_opts(chrono::SecondsFormat::Secs, true);
        made(office, &format!("/v1/hives?happened_at={long_ago}"), &hive).await?;
    }
    for (at, (number, ..)) in SUPERS.iter().enumerate() {
        let new =
            json!({ "super_id": ids.supers[at], "number": number, "class": "medium", "frames": 10, "tare_g": 7_400 });
        made(office, "/v1/supers", &new).await?;
    }
    made(
        office,
        "/v1/meters",
        &json!({ "meter_id": ids.meter, "name": "hand meter", "compensated": true }),
    )
    .await?;
    for (at, bucket) in ids.buckets.iter().enumerate() {
        let number = format!("B{at}");
        let new = json!({ "container_id": bucket, "number": number, "container": "bucket", "tare_g": 1_250, "holds_ml": 21_200 });
        made(office, "/v1/containers", &new).await?;
    }
    let shop = json!({ "customer_id": ids.shop, "name": "corner shop", "phone": "555 0100" });
    made(office, "/v1/customers", &shop).await?;
    Ok(())
}

/// A phone in a yard without signal: places and pulls, and sends nothing yet.
fn in_the_yard(phone: &mut Phone, ids: &Ids, letter: char, now: DateTime<Utc>) {
    let of_yard = || {
        SUPERS
            .iter()
            .enumerate()
            .filter(move |(_, (_, hive, ..))| hive.starts_with(letter))
    };
    for (at, (_, hive, ..)) in of_yard() {
        let data = json!({ "super_id": ids.supers[at], "hive_id": ids.hive(hive), "comb": "drawn" });
        phone.record(
            "super_placed",
            data,
            now - TimeDelta::days(20) + TimeDelta::minutes(at as i64),
        );
    }
    for (at, _) in of_yard() {
        let data = json!({ "super_id": ids.supers[at], "capped_percent": 90, "fullness_quarters": 4 });
        phone.record(
            "super_pulled",
            data,
            now - TimeDelta::days(8) + TimeDelta::minutes(at as i64),
        );
        let data = json!({ "super_id": ids.supers[at] });
        phone.record(
            "super_loaded",
            data,
            now - TimeDelta::days(8) + TimeDelta::minutes(60 + at as i64),
        );
    }
}

fn read(targets: &[(&str, Uuid)], ids: &Ids, index_e4: i64) -> Value {
    let targets: Vec<Value> = targets
        .iter()
        .map(|(kind, id)| json!({ "kind": kind, "id": id }))
        .collect();
    json!({ "targets": targets, "shown": { "refractive_index_e4": index_e4 }, "honey_tenths_c": 240, "meter_id": ids.meter,
            "compensated": true, "places": 3 })
}

/// The honey house: receive, measure, dry the wet box, spin, weigh, fill.
fn in_the_house(phone: &mut Phone, ids: &Ids, now: DateTime<Utc>) {
    let day = |days: i64, minutes: i64| now - TimeDelta::days(days) + TimeDelta::minutes(minutes);
    for (at, (_, _, gross, _)) in SUPERS.iter().enumerate() {
        // The wet box comes in 100 g heavier than it is weighed dry.
        let gross = if at == 5 { gross + 100 } else { *gross };
        let data = json!({ "super_id": ids.supers[at], "gross_g": gross });
        phone.record("super_received", data, day(7, at as i64));
    }
    let stack: Vec<(&str, Uuid)> = ids.supers[..5].iter().map(|id| ("super", *id)).collect();
    phone.record("moisture_read", read(&stack, ids, 14_930), day(7, 30));
    phone.record(
        "moisture_read",
        read(&[("super", ids.supers[5])], ids, 14_885),
        day(7, 31),
    );
    phone.record("drying_started", json!({ "super_ids": [ids.supers[5]] }), day(7, 40));
    phone.record("drying_stopped", json!({ "super_ids": [ids.supers[5]] }), day(6, 0));
    phone.record(
        "super_weighed",
        json!({ "super_id": ids.supers[5], "gross_g": SUPERS[5].2 }),
        day(6, 1),
    );
    phone.record(
        "moisture_read",
        read(&[("super", ids.supers[5])], ids, 14_925),
        day(6, 2),
    );
    phone.record(
        "run_opened",
        json!({ "run_id": ids.run, "name": "R1", "spin": "radial" }),
        day(6, 10),
    );
    for (at, super_id) in ids.supers.iter().enumerate() {
        phone.record(
            "super_uncapped",
            json!({ "run_id": ids.run, "super_id": super_id }),
            day(6, 20 + at as i64),
        );
    }
    for (at, (.., wet)) in SUPERS.iter().enumerate() {
        let data = json!({ "run_id": ids.run, "super_id": ids.supers[at], "gross_g": wet });
        phone.record("wet_weighed", data, day(6, 60 + at as i64));
    }
    let strained = json!({ "run_id": ids.run, "mesh_um": 400, "whole_before": true, "whole_after": true });
    phone.record("honey_strained", strained, day(6, 100));
    for (at, net) in [27_600, 27_900, 6_400].into_iter().enumerate() {
        let data = json!({ "fill_id": ids.fills[at], "container_id": ids.buckets[at], "source": { "run_id": ids.run },
            "gross_g": net + 1_250, "tare_g": 1_250, "code": format!("F{at}"), "label_stuck": true });
        phone.record("container_filled", data, day(6, 110 + at as i64));
    }
    phone.record(
        "run_drained",
        json!({ "run_id": ids.run, "left_in_machine_g": 1_400 }),
        day(6, 150),
    );
    phone.record(
        "sample_taken",
        json!({ "run_id": ids.run, "weight_g": 500 }),
        day(6, 151),
    );
    phone.record(
        "cappings_weighed",
        json!({ "run_id": ids.run, "honey_g": 5_100, "wax_g": 900 }),
        day(5, 0),
    );
}

fn hive_row<'a>(season: &'a Value, code: &str) -> &'a Value {
    let rows = season["hives"].as_array().expect("hives");
    rows.iter().find(|row| row["code"] == code).expect("the hive is there")
}

async fn yields_are_those_of_the_worked_run(office: &Client, year: i32) -> Result<()> {
    let season = office
        .get(&format!("/v1/yields?season={year}"))
        .await?
        .expect_status(200)?;
    for (code, grams) in [("W03", 23_900), ("W07", 13_600), ("O02", 19_500), ("O11", 10_000)] {
        let row = hive_row(&season, code);
        assert_eq!(
            (&row["yield_g"], &row["method"]),
            (&json!(grams), &json!("A")),
            "{code}"
        );
    }
    let yards: Vec<(&str, i64, i64)> = season["yards"]
        .as_array()
        .expect("yards")
        .iter()
        .map(|yard| {
            (
                yard["name"].as_str().expect("name"),
                yard["yield_g"].as_i64().expect("g"),
                yard["y1_g"].as_i64().expect("y1"),
            )
        })
        .collect();
    assert_eq!(yards, [("Orchard", 29_500, 14_750), ("Wold", 37_500, 12_500)]);
    assert_eq!(
        (&season["total_g"], &season["unassigned_g"]),
        (&json!(67_000), &json!(0))
    );
    let balance = &season["runs"][0]["balance"];
    let found = (
        &balance["net_g"],
        &balance["unexplained_g"],
        &balance["unexplained_share_bp"],
        &balance["band"],
    );
    assert_eq!(found, (&json!(70_800), &json!(1_000), &json!(141), &json!("green")));
    Ok(())
}

fn labels(steps: &Value, kind: &str) -> Vec<String> {
    let of_kind = steps
        .as_array()
        .expect("steps")
        .iter()
        .filter(|step| step["kind"] == kind);
    let mut labels: Vec<String> = of_kind
        .map(|step| step["label"].as_str().unwrap_or_default().to_owned())
        .collect();
    labels.sort();
    labels.dedup();
    labels
}

#[tokio::test]
async fn a_harvest_by_four_devices_ends_in_jars_that_can_be_traced_both_ways() -> Result<()> {
    let service = Service::start().await?;
    let (owner, office) = (service.owner(), service.member(Role::Office).await?);
    let (mut wold, mut orchard, mut house) = (
        service.phone(Role::Field).await?,
        service.phone(Role::Field).await?,
        service.phone(Role::Field).await?,
    );
    let (ids, now) = (Ids::new(), Utc::now());
    let run_day = now - TimeDelta::days(6);
    set_up(&office, &ids, run_day).await?;

    in_the_yard(&mut wold, &ids, 'W', now);
    in_the_yard(&mut orchard, &ids, 'O', now);
    in_the_house(&mut house, &ids, now);

    // The house has signal all the time; what happened in the yards is not known there yet.
    house.send().await?.expect_status(200)?;
    let early = office
        .get(&format!("/v1/supers/{}", ids.supers[0]))
        .await?
        .expect_status(200)?;
    assert_eq!(early["flags"][0]["code"], "never_placed");
    // The second yard's phone sends its batch in the wrong order, then the first.
    orchard.outbox.reverse();
    orchard.send().await?.expect_status(200)?;
    wold.send().await?.expect_status(200)?;
    let late = office
        .get(&format!("/v1/supers/{}", ids.supers[0]))
        .await?
        .expect_status(200)?;
    assert_eq!(late.get("flags"), None, "the placement arrived, so the doubt is gone");

    yields_are_those_of_the_worked_run(&office, (run_day + TimeDelta::minutes(130)).year()).await?;
    blend_release_and_bottle(&owner, &office, &mut house, &ids).await?;
    sell_and_trace(&office, &ids).await
}

async fn blend_release_and_bottle(owner: &Client, office: &Client, house: &mut Phone, ids: &Ids) -> Result<()> {
    let year = u16::try_from(Utc::now().year())?;
    let (lot_code, batch_code) = (LotCode::make(year, None, 1)?, LotCode::make(year, None, 2)?);
    // A second check of the moisture, in the buckets: the index 1.4940 is 17.02 %, 1.4920 is 17.80 %.
    for (fill, index) in [(0, 14_940), (1, 14_920)] {
        house.record(
            "moisture_read",
            read(&[("fill", ids.fills[fill])], ids, index),
            Utc::now(),
        );
        house.record(
            "fill_settled",
            json!({ "fill_id": ids.fills[fill], "days": 3 }),
            Utc::now(),
        );
    }
    house.send().await?.expect_status(200)?;
    let part =
        |fill: usize, weight: i64| json!({ "from": { "kind": "fill", "id": ids.fills[fill] }, "weight_g": weight });
    let blend = json!({ "lot_id": ids.lot, "code": lot_code, "parts": [part(0, 27_600), part(1, 27_900)] });
    let blended = made(office, "/v1/blends", &blend).await?;
    // (27.6 x 17.02 + 27.9 x 17.80) / 55.5 = 17.41 (BL-1, arithmetic).
    assert!(
        blended["warnings"][0]["detail"]
            .as_str()
            .unwrap_or_default()
            .contains("17.41 %"),
        "{blended}"
    );

    let releases = format!("/v1/lots/{}/releases", ids.lot);
    let bottlings = format!("/v1/lots/{}/bottlings", ids.lot);
    let jars = |good: i64, used: i64| {
        json!({ "batch_id": ids.batch, "code": batch_code, "nominal_g": 500,
        "jars_good": good, "used_g": used, "product": "blossom honey" })
    };
    let refused = |answer: tests::Answer, code: &str| {
        assert!(answer.is_problem(422, "contradiction"), "{}", answer.text);
        assert_eq!(answer.json["code"], code, "{}", answer.text);
    };
    refused(office.post(&releases, &json!({})).await?, "not_measured");
    refused(office.post(&bottlings, &jars(100, 50_200)).await?, "not_measured");
    made(office, "/v1/readings", &read(&[("lot", ids.lot)], ids, 14_930)).await?;
    refused(office.post(&bottlings, &jars(100, 50_200)).await?, "not_released");
    made(owner, &releases, &json!({ "samples_kept": 2, "tastes_right": true })).await?;
    refused(office.post(&bottlings, &jars(120, 60_200)).await?, "more_than_it_holds");
    made(office, &bottlings, &jars(100, 50_200)).await?;
    let lot = office.get(&format!("/v1/lots/{}", ids.lot)).await?.expect_status(200)?;
    assert_eq!(
        (&lot["content_g"], &lot["status"]),
        (&json!(5_300), &json!("part_used"))
    );
    assert_eq!(lot["code"], lot_code.to_string());

    let batch = format!("/v1/batches/{}", ids.batch);
    let weights: Vec<i64> = (0..15).map(|jar| 5_010 + jar % 5).collect();
    let checked = made(
        office,
        &format!("{batch}/check-weights"),
        &json!({ "net_tenths_g": weights }),
    )
    .await?;
    assert_eq!(checked["warnings"], json!([]), "every jar is above 500 g");
    made(
        office,
        &format!("{batch}/labels"),
        &json!({ "printed": 102, "used": 100, "spoilt": 2 }),
    )
    .await?;
    made(office, &format!("{batch}/stores"), &json!({ "place": "shelf 3" })).await?;
    Ok(())
}

async fn sell_and_trace(office: &Client, ids: &Ids) -> Result<()> {
    let sold = |delivery: Uuid, jars: i64| {
        json!({ "delivery_id": delivery,
        "lines": [{ "goods": { "jars": { "batch_id": ids.batch, "count": jars } } }] })
    };
    let (to_shop, to_public) = (Uuid::now_v7(), Uuid::now_v7());
    let mut shop = sold(to_shop, 40);
    shop["customer_id"] = json!(ids.shop);
    made(office, "/v1/deliveries", &shop).await?;
    made(office, "/v1/deliveries", &sold(to_public, 10)).await?;
    let too_many = office.post("/v1/deliveries", &sold(Uuid::now_v7(), 51)).await?;
    assert_eq!(too_many.json["code"], "more_than_in_stock");
    made(
        office,
        &format!("/v1/deliveries/{to_shop}/returns"),
        &json!({ "batch_id": ids.batch, "jars": 2 }),
    )
    .await?;
    let counted = json!({ "jars": 51, "reason": "one fell from the shelf" });
    made(office, &format!("/v1/batches/{}/stock-counts", ids.batch), &counted).await?;

    let batch = office
        .get(&format!("/v1/batches/{}", ids.batch))
        .await?
        .expect_status(200)?;
    assert_eq!(
        (&batch["jars_in_stock"], &batch["corrections"][0]["difference"]),
        (&json!(51), &json!(-1))
    );

    let back = office
        .get(&format!("/v1/batches/{}/trace", ids.batch))
        .await?
        .expect_status(200)?;
    assert_eq!(labels(&back["back"], "hive"), ["O02", "O11", "W03", "W07"]);
    assert_eq!(
        labels(&back["back"], "super"),
        ["041", "042", "057", "088", "090", "103"]
    );
    assert_eq!(labels(&back["back"], "yard"), ["Orchard", "Wold"]);
    assert_eq!(labels(&back["forward"], "customer"), ["corner shop"]);

    let forward = office
        .get(&format!("/v1/hives/{}/trace", ids.hives[3]))
        .await?
        .expect_status(200)?;
    assert_eq!(labels(&forward["forward"], "customer"), ["corner shop"]);
    let affected = &forward["affected"]["batches"][0];
    let told = [
        "jars_filled",
        "in_stock",
        "sold_to_customers",
        "sold_to_public",
        "unexplained",
    ]
    .map(|key| affected[key].as_i64());
    assert_eq!(
        told,
        [Some(100), Some(51), Some(38), Some(10), Some(1)],
        "every jar is accounted for (RC-2)"
    );

    let by_code = office
        .get(&format!(
            "/v1/trace?code={}",
            batch["code"].as_str().unwrap_or_default()
        ))
        .await?;
    assert_eq!(by_code.expect_status(200)?["back"], back["back"]);
    recalled(office, batch["code"].as_str().unwrap_or_default()).await
}

/// RC-1, RC-5: whom to ring, and the same as one plain text.
async fn recalled(office: &Client, code: &str) -> Result<()> {
    let recall = office
        .get(&format!("/v1/recall?code={code}"))
        .await?
        .expect_status(200)?;
    assert_eq!(recall["affected"]["jars"], json!(100));
    let buyers = recall["buyers"].as_array().context("buyers")?;
    assert!(buyers.iter().any(|buyer| buyer["customer_id"].is_string()), "{recall}");
    assert!(
        buyers.iter().any(|buyer| buyer["customer_id"].is_null()),
        "a public sale names nobody"
    );
    let text = office.get(&format!("/v1/recall?code={code}&text=true")).await?;
    assert_eq!(text.status, 200);
    for needed in ["ONE STEP BACK", "ONE STEP FORWARD", "100 filled"] {
        assert!(text.text.contains(needed), "{}", text.text);
    }
    assert_eq!(office.get("/v1/recall").await?.status, 400);
    assert_eq!(office.get("/v1/recall?code=nothing-of-the-kind").await?.status, 404);
    Ok(())
}

//! Many at once: single entries over eight connections, and two hundred phones that push and wait.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, ensure};
use diesel_async::{AsyncConnection, AsyncPgConnection};
use serde_json::Value;

use crate::aims::{Aim, judge};
use crate::bench::{Bench, Business, envelope, rate};
use crate::ground::say;
use crate::harvest::Harvest;
use crate::replay::Written;

/// Connections of the single entries, entries of each, and operations they are spread over.
const CONNECTIONS: usize = 8;
const SINGLES: usize = 500;
const SPREAD: usize = 20;
/// Things of an operation.
const SUPERS: usize = 200;
/// Phones, of as many operations, pushes of each and entries of a push.
const PHONES: usize = 200;
const OPERATIONS: usize = 20;
const PUSHES: usize = 10;
const ENTRIES: usize = 5;
/// What a phone that was refused waits here; a real one waits longer.
const AGAIN: Duration = Duration::from_millis(200);

/// A phone's token and what it records.
struct Phone {
    business: Business,
    harvest: Harvest,
}

async fn phone(bench: &Bench, business: &Business, harvest: &Harvest) -> Result<Phone> {
    let access = bench.sign_in(&business.login).await?;
    Ok(Phone {
        harvest: harvest.in_other_hands(business.last_seq),
        business: Business {
            access,
            ..business.clone()
        },
    })
}

async fn push(http: &reqwest::Client, url: &str, business: &Business, entries: &[String]) -> Result<(u16, Value)> {
    let body = envelope(business.operation, entries);
    let request = http.post(format!("{url}/v1/sync/push")).bearer_auth(&business.access);
    let answer = request
        .header("content-type", "application/json")
        .body(body)
        .send()
        .await?;
    let status = answer.status().as_u16();
    Ok((
        status,
        serde_json::from_slice(&answer.bytes().await?).unwrap_or_default(),
    ))
}

/// Single entries over eight connections: into one operation, then spread over twenty, each beside its replay.
pub(crate) async fn singles(bench: &mut Bench) -> Result<()> {
    let mut rates = Vec::new();
    for operations in [1, SPREAD] {
        let mut businesses = Vec::new();
        for _ in 0..operations {
            businesses.push(bench.found(SUPERS).await?);
        }
        let mut hands = Vec::new();
        for connection in 0..CONNECTIONS {
            let mut phones = Vec::new();
            for (business, harvest) in businesses.iter().skip(connection).step_by(CONNECTIONS) {
                phones.push(phone(bench, business, harvest).await?);
            }
            if phones.is_empty() {
                let (business, harvest) = businesses.first().context("a business")?;
                phones.push(phone(bench, business, harvest).await?);
            }
            hands.push(phones);
        }
        let (refused, began) = (Arc::new(AtomicUsize::new(0)), Instant::now());
        let mut working = Vec::new();
        for (at, mut phones) in hands.into_iter().enumerate() {
            let (http, url, refused) = (bench.http.clone(), bench.url.clone(), refused.clone());
            working.push(tokio::spawn(async move {
                let many = phones.len();
                for n in 0..SINGLES {
                    let phone = &mut phones[n % many];
                    let entry = phone.harvest.one(at * SINGLES + n);
                    let (status, _) = push(&http, &url, &phone.business, &[entry]).await?;
                    refused.fetch_add(usize::from(status != 200), Ordering::Relaxed);
                }
                Ok::<_, anyhow::Error>(())
            }));
        }
        for working in working {
            working.await??;
        }
        let service = rate(CONNECTIONS * SINGLES, began.elapsed().as_secs_f64());
        let replay = bench.replay_singles(&mut businesses).await?;
        let refused = refused.load(Ordering::Relaxed);
        let what = format!("single, 8 connections, {operations} operations");
        say(&format!(
            "{what:<40} {service:>6.0} {replay:>12.0} {:>7.2}, {refused} refused",
            service / replay
        ))?;
        rates.push((service, replay, refused));
    }
    if let [(one, replay, refused), (spread, _, refused_too)] = rates[..] {
        judge(
            "single entries in one operation, ratio",
            one / replay,
            "",
            Aim::AtLeast(0.5),
        )?;
        judge("over 20 operations, of one", spread / one, " times", Aim::AtLeast(3.0))?;
        judge("refused", rate(refused + refused_too, 1.0), "", Aim::AtMost(0.0))?;
    }
    Ok(())
}

impl Bench {
    /// Replays what the service wrote, entry by entry, over as many connections; entries a second.
    async fn replay_singles(&mut self, businesses: &mut [(Business, Harvest)]) -> Result<f64> {
        let mut all: Vec<Vec<_>> = (0..CONNECTIONS).map(|_| Vec::new()).collect();
        let mut count = 0;
        for (business, _) in businesses.iter_mut() {
            let newest = last_seq(&mut self.written.1, business).await?;
            for seq in business.last_seq..newest {
                let read = Written::read(
                    (&mut self.written.1, business.operation),
                    (&mut self.replayed.1, business.in_replay),
                    (seq, seq + 1),
                );
                all[count % CONNECTIONS].push((read.await?.without_parts(), business.in_replay));
                count += 1;
            }
        }
        ensure!(count == CONNECTIONS * SINGLES, "{count} single entries were written");
        let mut connections = Vec::new();
        for _ in 0..CONNECTIONS {
            connections.push(AsyncPgConnection::establish(self.replayed.0.expose()).await?);
        }
        let began = Instant::now();
        let working = all.into_iter().zip(connections).map(|(written, mut conn)| {
            tokio::spawn(async move {
                for (written, operation) in written {
                    written.replay(&mut conn, operation).await?;
                }
                Ok::<_, anyhow::Error>(())
            })
        });
        for working in working.collect::<Vec<_>>() {
            working.await??;
        }
        Ok(rate(count, began.elapsed().as_secs_f64()))
    }
}

async fn last_seq(conn: &mut AsyncPgConnection, business: &Business) -> Result<i64> {
    use diesel::sql_types::{BigInt, Uuid as SqlUuid};
    use diesel_async::RunQueryDsl;
    #[derive(diesel::QueryableByName)]
    struct Newest {
        #[diesel(sql_type = BigInt)]
        last_seq: i64,
    }
    let question = diesel::sql_query("select last_seq from operation_ledger where operation_id = $1");
    let newest: Newest = question.bind::<SqlUuid, _>(business.operation).get_result(conn).await?;
    Ok(newest.last_seq)
}

/// What two hundred phones saw.
#[derive(Default)]
struct Seen {
    pushes: Vec<f64>,
    refused: usize,
    heard: usize,
}

/// Two hundred phones of twenty operations, each waiting for news over one connection and pushing over another.
pub(crate) async fn phones(bench: &mut Bench) -> Result<()> {
    let mut all = Vec::new();
    for _ in 0..OPERATIONS {
        let (business, harvest) = bench.found(SUPERS).await?;
        for _ in 0..PHONES / OPERATIONS {
            all.push(phone(bench, &business, &harvest).await?);
        }
    }
    let ended = Arc::new(AtomicBool::new(false));
    let pushing = Arc::new(AtomicUsize::new(all.len()));
    let began = Instant::now();
    let working: Vec<_> = all
        .into_iter()
        .enumerate()
        .map(|(n, phone)| {
            let service = (bench.http.clone(), bench.url.clone(), ended.clone());
            let pushing = pushing.clone();
            tokio::spawn(async move {
                let ended = service.2.clone();
                let seen = push_and_wait(service, (n, pushing), phone).await;
                // Whoever fails ends the run for all; nobody is left waiting for it.
                ended.fetch_or(seen.is_err(), Ordering::Relaxed);
                seen
            })
        })
        .collect();
    let mut seen = Seen::default();
    for working in working {
        let one = working.await??;
        seen.pushes.extend(one.pushes);
        seen.refused += one.refused;
        seen.heard += one.heard;
    }
    let took = began.elapsed().as_secs_f64();
    seen.pushes.sort_by(f64::total_cmp);
    let at = |share: usize| seen.pushes[(seen.pushes.len() * share / 100).min(seen.pushes.len() - 1)] * 1e3;
    ensure!(seen.pushes.len() == PHONES * PUSHES, "{} pushes", seen.pushes.len());
    say(&format!(
        "{PHONES} phones of {OPERATIONS} operations: {} pushes of {ENTRIES} in {took:.1} s, p50 {:.0} ms, p99 {:.0} ms, \
         {} refused and sent again, {} times news were heard",
        seen.pushes.len(),
        at(50),
        at(99),
        seen.refused,
        seen.heard
    ))
}

async fn push_and_wait(
    (http, url, ended): (reqwest::Client, String, Arc<AtomicBool>),
    (n, pushing): (usize, Arc<AtomicUsize>),
    mut phone: Phone,
) -> Result<Seen> {
    let mut seen = Seen::default();
    let access = phone.business.access.clone();
    let waiting = tokio::spawn(wait_and_pull((http.clone(), url.clone(), ended.clone()), access));
    for push_number in 0..PUSHES {
        let entries: Vec<String> = (0..ENTRIES)
            .map(|entry| phone.harvest.one((n * PUSHES + push_number) * ENTRIES + entry))
            .collect();
        let began = Instant::now();
        loop {
            let (status, answer) = push(&http, &url, &phone.business, &entries).await?;
            if status == 200 {
                let newest = answer["results"].as_array().and_then(|results| results.last());
                let newest = newest.and_then(|result| result["seq"].as_i64());
                phone.harvest.saw(newest.context("a number")?);
                break;
            }
            ensure!(status == 503 || status == 429, "a push was answered {status}: {answer}");
            seen.refused += 1;
            tokio::time::sleep(AGAIN).await;
        }
        seen.pushes.push(began.elapsed().as_secs_f64());
    }
    // The last to end tells all who wait.
    if pushing.fetch_sub(1, Ordering::Relaxed) == 1 {
        ended.store(true, Ordering::Relaxed);
    }
    seen.heard = waiting.await??;
    Ok(seen)
}

/// Pulls what is new, waits until there is more, and so on until nobody pushes any more; how often it was news.
async fn wait_and_pull(
    (http, url, ended): (reqwest::Client, String, Arc<AtomicBool>),
    access: String,
) -> Result<usize> {
    let (mut heard, mut cursor) = (0, String::new());
    while !ended.load(Ordering::Relaxed) {
        let pull = format!("{url}/v1/sync/pull?limit=5000{cursor}");
        let answer = http.get(pull).bearer_auth(&access).send().await?;
        if !answer.status().is_success() {
            tokio::time::sleep(AGAIN).await;
            continue;
        }
        let answer: Value = answer.json().await?;
        let at = answer["cursor"].as_str().context("no cursor")?.to_owned();
        cursor = format!("&cursor={at}");
        let wait = format!("{url}/v1/sync/wait?seconds=2{cursor}");
        let answer = http.get(wait).bearer_auth(&access).send().await?;
        if answer.status().is_success() {
            let news: Value = answer.json().await?;
            heard += usize::from(news["moved"] == true);
        }
    }
    Ok(heard)
}

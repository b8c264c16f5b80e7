//! Callers that mean no good: bombs, towers of brackets, bodies and connections that never end. Memory stays bounded
//! and the phones of others are served.
//!
//! `YARDJAR_SILENT=10000 cargo test -p tests --test it hostile -- --nocapture` prints the figures.

use std::io::Write;
use std::time::{Duration, Instant};

use anyhow::Result;
use reqwest::Method;
use serde_json::json;
use tests::{Client, FieldPhone, Service, Tried, invariants};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

use super::process::Process;
use super::{phone, record_supers};

/// How much memory all of it together may take beyond what the service has when it is idle.
const GROWTH_MAX: u64 = 96 * 1024 * 1024;

fn gzip(length: usize, byte: u8) -> Result<Vec<u8>> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    let piece = vec![byte; 1 << 20];
    for _ in 0..length >> 20 {
        packer.write_all(&piece)?;
    }
    Ok(packer.finish()?)
}

async fn send(client: &Client, body: Vec<u8>, packed: bool) -> Result<u16> {
    let shape = |request: reqwest::RequestBuilder| {
        let request = request.header("content-type", "application/json").body(body);
        if packed {
            request.header("content-encoding", "gzip")
        } else {
            request
        }
    };
    Ok(client.raw(Method::POST, "/v1/sync/push", shape).await?.status)
}

#[tokio::test]
async fn gzip_bomb_huge_array_deep_json() -> Result<()> {
    let service = Service::start().await?;
    let process = Process::beside(&service).await?;
    let (mut honest, mut hostile) = (phone(&service).await?, phone(&service).await?);
    honest.client = honest.client.elsewhere(&process.url);
    hostile.client = hostile.client.elsewhere(&process.url);
    honest.sync_patiently(3).await?;
    let (idle, _) = process.memory()?;
    // 1 GiB in about 1 MB; a tower of 100,000 brackets; half a million numbers; the same inside an entry.
    let bomb = gzip(1 << 30, b' ')?;
    assert!(bomb.len() < 1_100_000);
    let operation = service.operation.id;
    let envelope = |entries: &str| {
        format!("{{\"operation_id\":\"{operation}\",\"sent_at\":\"2026-05-01T10:00:00Z\",\"entries\":{entries}}}")
    };
    let deep = "[".repeat(100_000).into_bytes();
    let deep_inside = envelope(&format!("[{}]", "{\"a\":".repeat(100_000))).into_bytes();
    let array = envelope(&format!("[{}1]", "1,".repeat(500_000))).into_bytes();
    let quarter = envelope(&format!("[{}1]", "1,".repeat(2_000))).into_bytes();
    let bodies: [(Vec<u8>, bool, &[u16]); 5] = [
        (bomb, true, &[413]),
        (deep, false, &[400]),
        (deep_inside, false, &[400]),
        (array, false, &[400, 413]),
        (quarter, false, &[400]),
    ];
    let mut attacks = tokio::task::JoinSet::new();
    for _ in 0..8 {
        for (body, packed, expected) in bodies.clone() {
            let client = hostile.client.clone();
            attacks.spawn(async move { anyhow::Ok((send(&client, body, packed).await, expected)) });
        }
    }
    let mut slowest = Duration::ZERO;
    while !attacks.is_empty() {
        let began = Instant::now();
        record_supers(&mut honest, 1)?;
        honest.sync_patiently(20).await?;
        slowest = slowest.max(began.elapsed());
        if let Some(done) = attacks.join_next().await {
            let (status, expected) = done??;
            // A connection may be closed while a body that is too large is still being sent.
            if let Ok(status) = status {
                assert!(expected.contains(&status), "{status}");
            }
        }
    }
    let (_, most) = process.memory()?;
    println!(
        "hostile bodies: idle {} kB, most {} kB, slowest honest sync {slowest:?}",
        idle / 1024,
        most / 1024
    );
    assert!(most < idle + GROWTH_MAX, "{most} bytes, idle {idle}");
    assert!(slowest < Duration::from_secs(15), "{slowest:?}");
    invariants(&service.database, &mut [&mut honest]).await
}

#[tokio::test]
async fn slow_loris_upload_reply_never_ends() -> Result<()> {
    let service = Service::start().await?;
    let mut honest = phone(&service).await?;
    let address = service.url().trim_start_matches("http://").to_owned();
    let token = honest.client.held()?.access.clone();
    // A byte now and then, for ever.
    let mut slow = TcpStream::connect(&address).await?;
    let head = format!(
        "POST /v1/sync/push HTTP/1.1\r\nhost: x\r\nauthorization: Bearer {token}\r\ncontent-type: application/json\r\ncontent-length: 90000\r\n\r\n"
    );
    slow.write_all(head.as_bytes()).await?;
    let began = Instant::now();
    let (mut reading, mut writing) = slow.into_split();
    let dripping = tokio::spawn(async move {
        while writing.write_all(b" ").await.is_ok() {
            tokio::time::sleep(Duration::from_millis(300)).await;
        }
    });
    record_supers(&mut honest, 5)?;
    honest.sync_patiently(3).await?;
    let mut answer = vec![0; 4096];
    let length = tokio::time::timeout(Duration::from_secs(40), reading.read(&mut answer)).await??;
    let answer = String::from_utf8_lossy(&answer[..length]).into_owned();
    assert!(
        answer.starts_with("HTTP/1.1 408") && answer.contains("too-slow"),
        "{answer}"
    );
    assert!(
        began.elapsed() >= Duration::from_secs(9),
        "an honest slow yard is given time: {:?}",
        began.elapsed()
    );
    dripping.abort();
    // The other way round: a reply that never ends. The phone gives up and tries again.
    let silent = TcpListener::bind("127.0.0.1:0").await?;
    let nowhere = format!("http://{}", silent.local_addr()?);
    let holding = tokio::spawn(async move {
        let mut held = Vec::new();
        while let Ok((mut caller, _)) = silent.accept().await {
            // A status line, and then nothing more.
            let _ = caller
                .write_all(b"HTTP/1.1 200 OK\r\ncontent-length: 500\r\n\r\n{")
                .await;
            held.push(caller);
        }
    });
    record_supers(&mut honest, 1)?;
    let home = honest.client.clone();
    honest.client = honest.client.elsewhere(&nowhere);
    honest.patience = Duration::from_millis(400);
    assert!(matches!(honest.send().await?, Tried::Again(..)));
    assert_eq!(honest.book.outbox.len(), 1, "nothing is marked as sent");
    holding.abort();
    honest.client = home;
    honest.patience = Duration::from_secs(60);
    honest.sync_patiently(5).await?;
    invariants(&service.database, &mut [&mut honest]).await
}

#[tokio::test]
async fn silent_connections() -> Result<()> {
    let told = std::env::var("YARDJAR_SILENT")
        .ok()
        .and_then(|count| count.parse().ok());
    let count: usize = told.unwrap_or(400);
    let service = Service::start().await?;
    let process = Process::beside(&service).await?;
    let mut honest = FieldPhone::new(phone(&service).await?.client.elsewhere(&process.url));
    honest.sync_patiently(3).await?;
    let (idle, _) = process.memory()?;
    let address = process.url.trim_start_matches("http://").to_owned();
    let (mut held, mut refused, mut slowest) = (Vec::new(), 0, Duration::ZERO);
    for n in 0..count {
        match tokio::time::timeout(Duration::from_secs(2), TcpStream::connect(&address)).await {
            Ok(Ok(mut caller)) => {
                // Half of them begin a request and never go on.
                if n % 2 == 0 {
                    let _ = caller.write_all(b"GET /v1/me HTTP/1.1\r\nhost:").await;
                }
                held.push(caller);
            }
            _ => refused += 1,
        }
        if n % 100 == 99 {
            let began = Instant::now();
            record_supers(&mut honest, 1)?;
            honest.sync_patiently(20).await?;
            slowest = slowest.max(began.elapsed());
        }
    }
    let (_, most) = process.memory()?;
    println!(
        "{count} silent connections ({refused} not taken): idle {} kB, most {} kB, slowest honest sync {slowest:?}",
        idle / 1024,
        most / 1024
    );
    assert!(most < idle + GROWTH_MAX, "{most} bytes, idle {idle}");
    assert!(slowest < Duration::from_secs(15), "{slowest:?}");
    drop(held);
    let report = json!(honest.book.outbox.len());
    assert_eq!(report, json!(0));
    invariants(&service.database, &mut [&mut honest]).await
}

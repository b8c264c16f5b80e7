//! Callers that mean no good: bombs, towers of brackets, bodies and connections that never end. Memory stays bounded
//! and the phones of others are served.
//!
//! `YARDJAR_SILENT=10000 cargo test -p tests --test it hostile -- --nocapture` prints the figures.

use std::io::Write;
use std::time::{Duration, Instant};

use anyhow::Result;
use reqwest::Method;
use tests::{Client, FieldPhone, Service, Tried, invariants};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

use super::process::Process;
use super::{phone, record_supers};

/// How much memory all of it together may take beyond what the service has when it is idle.
const GROWTH_MAX: u64 = 96 * 1024 * 1024;
/// The same for uploads, of which each connection may hold 16 kB; the bodies of ten thousand together would be 9 GB.
const UPLOADS_MAX: u64 = 2 * GROWTH_MAX;
/// What a connection may hold of a body that nobody takes any more: the web server reads so far ahead.
const READ_AHEAD: u64 = 256 * 1024;
/// How long the sync of an honest phone may take meanwhile.
const SLOWEST: Duration = Duration::from_secs(15);

/// How many connections: 10,000 by `YARDJAR_SILENT=10000`.
fn connections() -> usize {
    let told = std::env::var("YARDJAR_SILENT").ok();
    told.and_then(|count| count.parse().ok()).unwrap_or(400)
}

fn gzip(length: usize, byte: u8) -> Result<Vec<u8>> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    let piece = vec![byte; 1 << 20];
    for _ in 0..length >> 20 {
        packer.write_all(&piece)?;
    }
    Ok(packer.finish()?)
}

/// Zstandard (RFC 8878): a frame of blocks that say "this byte, 128 KiB of it", four bytes each.
fn zstd(length: usize, byte: u8) -> Vec<u8> {
    const BLOCK: usize = 128 * 1024;
    let blocks = length / BLOCK;
    // The magic number, and a window of 1 MiB without a size of the whole.
    let mut frame = vec![0x28, 0xb5, 0x2f, 0xfd, 0x00, 0x50];
    for at in 1..=blocks {
        let head = (BLOCK << 3) | (1 << 1) | usize::from(at == blocks);
        frame.extend(head.to_le_bytes().into_iter().take(3));
        frame.push(byte);
    }
    frame
}

/// A push of this body, packed as it says.
async fn send(client: &Client, body: Vec<u8>, packed: Option<&'static str>) -> Result<u16> {
    let shape = |request: reqwest::RequestBuilder| {
        let request = request.header("content-type", "application/json").body(body);
        match packed {
            Some(packed) => request.header("content-encoding", packed),
            None => request,
        }
    };
    Ok(client.raw(Method::POST, "/v1/sync/push", shape).await?.status)
}

/// What is sent, how it is packed, and what it is answered.
type Attack = (&'static str, Vec<u8>, Option<&'static str>, &'static [u16]);

fn attacks(operation: uuid::Uuid) -> Result<Vec<Attack>> {
    let envelope = |entries: &str| {
        format!("{{\"operation_id\":\"{operation}\",\"sent_at\":\"2026-05-01T10:00:00Z\",\"entries\":{entries}}}")
    };
    // 1 GiB in about 1 MB, and in 32 kB; both are within what may be sent.
    let bomb = gzip(1 << 30, b' ')?;
    anyhow::ensure!(bomb.len() < 1 << 20, "{} bytes", bomb.len());
    let mut twice = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    twice.write_all(&bomb)?;
    let tower = "[".repeat(100_000);
    let mut packed_tower = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    packed_tower.write_all(tower.as_bytes())?;
    Ok(vec![
        ("gzip bomb", bomb, Some("gzip"), &[413]),
        ("gzip in gzip", twice.finish()?, Some("gzip, gzip"), &[415]),
        ("zstd bomb", zstd(1 << 30, b' '), Some("zstd"), &[415]),
        ("tower", tower.into_bytes(), None, &[400]),
        ("packed tower", packed_tower.finish()?, Some("gzip"), &[400]),
        (
            "tower of objects",
            envelope(&format!("[{}]", "{\"a\":".repeat(100_000))).into_bytes(),
            None,
            &[400],
        ),
        (
            "half a million numbers",
            envelope(&format!("[{}1]", "1,".repeat(500_000))).into_bytes(),
            None,
            &[400, 413],
        ),
        (
            "two thousand numbers",
            envelope(&format!("[{}1]", "1,".repeat(2_000))).into_bytes(),
            None,
            &[400],
        ),
    ])
}

#[tokio::test]
async fn gzip_bomb_huge_array_deep_json() -> Result<()> {
    let service = Service::start().await?;
    let process = Process::beside(&service).await?;
    let (mut honest, hostile) = (phone(&service).await?, phone(&service).await?);
    honest.client = honest.client.elsewhere(&process.url);
    let hostile = hostile.client.elsewhere(&process.url);
    honest.sync_patiently(3).await?;
    let (idle, _) = process.memory()?;
    let bodies = attacks(service.operation.id)?;
    let before = entries(&service).await?;
    // One after the other, each is answered as it should be.
    for (what, body, packed, expected) in &bodies {
        let status = send(&hostile, body.clone(), *packed).await?;
        assert!(expected.contains(&status), "{what}: {status}");
    }
    let mut attacking = tokio::task::JoinSet::new();
    for _ in 0..8 {
        for (_, body, packed, expected) in bodies.clone() {
            let client = hostile.clone();
            attacking.spawn(async move { (send(&client, body, packed).await, expected) });
        }
    }
    let (mut slowest, mut answered, mut given_up) = (Duration::ZERO, 0, 0);
    while !attacking.is_empty() {
        let began = Instant::now();
        record_supers(&mut honest, 1)?;
        honest.sync_patiently(20).await?;
        slowest = slowest.max(began.elapsed());
        if let Some(done) = attacking.join_next().await {
            let (status, expected) = done?;
            // Of many large bodies of one device at once the oldest give way, and their connection may be closed.
            match status {
                Ok(408) | Err(_) => given_up += 1,
                Ok(status) => {
                    assert!(expected.contains(&status), "{status}");
                    answered += 1;
                }
            }
        }
    }
    assert!(answered >= bodies.len() * 4, "{answered} answered, {given_up} given up");
    let (_, most) = process.memory()?;
    println!(
        "hostile bodies: {answered} answered, {given_up} given up, idle {} kB, most {} kB, slowest honest sync {slowest:?}",
        idle / 1024,
        most / 1024
    );
    assert!(most < idle + GROWTH_MAX, "{most} bytes, idle {idle}");
    assert!(slowest < SLOWEST, "{slowest:?}");
    assert_eq!(
        entries(&service).await?,
        before + honest.book.acknowledged.len(),
        "nothing else was stored"
    );
    invariants(&service.database, &mut [&mut honest]).await
}

async fn entries(service: &Service) -> Result<usize> {
    let count = service
        .database
        .texts("select count(*)::text as text from entry")
        .await?;
    Ok(count[0].parse()?)
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

/// Opens connections that say the same and then nothing more, while an honest phone works; says how much memory that
/// took, and how long the slowest sync of the honest phone.
async fn opened(
    process: &Process,
    honest: &mut FieldPhone,
    growth_max: u64,
    says: impl Fn(usize) -> Vec<u8>,
) -> Result<()> {
    let count = connections();
    honest.sync_patiently(3).await?;
    let (idle, _) = process.memory()?;
    let address = process.url.trim_start_matches("http://").to_owned();
    let (mut held, mut refused, mut slowest) = (Vec::new(), 0, Duration::ZERO);
    for n in 0..count {
        match tokio::time::timeout(Duration::from_secs(2), TcpStream::connect(&address)).await {
            Ok(Ok(mut caller)) => {
                // Whether all of it is taken is the service's to decide.
                let _ = tokio::time::timeout(Duration::from_millis(500), caller.write_all(&says(n))).await;
                held.push(caller);
            }
            _ => refused += 1,
        }
        if n % 100 == 99 {
            let began = Instant::now();
            record_supers(honest, 1)?;
            honest.sync_patiently(20).await?;
            slowest = slowest.max(began.elapsed());
        }
    }
    let (_, most) = process.memory()?;
    println!(
        "{count} connections ({refused} not taken): idle {} kB, most {} kB, slowest honest sync {slowest:?}",
        idle / 1024,
        most / 1024
    );
    assert!(held.len() > count / 2, "{refused} of {count} were not taken");
    assert!(most < idle + growth_max, "{most} bytes, idle {idle}");
    assert!(slowest < SLOWEST, "{slowest:?}");
    assert_eq!(honest.book.outbox.len(), 0, "the honest phone was served");
    Ok(())
}

#[tokio::test]
async fn silent_connections() -> Result<()> {
    let service = Service::start().await?;
    let process = Process::beside(&service).await?;
    let mut honest = FieldPhone::new(phone(&service).await?.client.elsewhere(&process.url));
    // Half of them begin a request and never go on.
    let says = |n: usize| match n % 2 {
        0 => b"GET /v1/me HTTP/1.1\r\nhost:".to_vec(),
        _ => Vec::new(),
    };
    opened(&process, &mut honest, GROWTH_MAX, says).await?;
    invariants(&service.database, &mut [&mut honest]).await
}

#[tokio::test]
async fn uploads_that_stop_in_the_middle() -> Result<()> {
    const SENT: usize = 900_000;
    let service = Service::start().await?;
    let process = Process::beside(&service).await?;
    let mut honest = FieldPhone::new(phone(&service).await?.client.elsewhere(&process.url));
    let hostile = phone(&service).await?.client.held()?.access.clone();
    let post = |path: &str, more: &str| {
        let head = "host: x\r\ncontent-type: application/json\r\ncontent-length: 1000000\r\n";
        let mut begun = format!("POST {path} HTTP/1.1\r\n{head}{more}\r\n").into_bytes();
        begun.resize(begun.len() + SENT, b' ');
        begun
    };
    // Most of a push by somebody who has joined; most of a body by a stranger.
    let push = post("/v1/sync/push", &format!("authorization: Bearer {hostile}\r\n"));
    let sign_in = post("/v1/auth/sign-in", "");
    // Of very many, as many are taken at once as there may be connections, and each may have sent what is read ahead.
    let cores = std::thread::available_parallelism()?.get();
    let taken = u64::try_from(connections().min(1_024 * cores))?;
    let growth_max = UPLOADS_MAX.max(taken * READ_AHEAD);
    opened(&process, &mut honest, growth_max, |n| {
        if n % 2 == 0 { push.clone() } else { sign_in.clone() }
    })
    .await?;
    // A large push of the honest phone itself comes through, too.
    record_supers(&mut honest, 500)?;
    honest.sync_patiently(20).await?;
    invariants(&service.database, &mut [&mut honest]).await
}

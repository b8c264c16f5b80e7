//! A link between a phone and the service: it counts what comes down, may be slow, and may break once.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use anyhow::Result;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Mutex;
use tokio::task::JoinHandle;
use tokio::time::Instant;

/// A link to one service.
pub(super) struct Link {
    pub(super) url: String,
    line: Arc<Line>,
    running: JoinHandle<()>,
}

/// What all connections over it share.
struct Line {
    target: String,
    down: AtomicU64,
    break_at: AtomicU64,
    /// Bits a second, and when what was sent so far has come down.
    slow: Option<(u64, Mutex<Instant>)>,
}

impl Link {
    pub(super) async fn to(url: &str) -> Result<Self> {
        Self::with(url, None).await
    }

    /// The same at so many bits a second.
    pub(super) async fn slow(url: &str, bits_a_second: u64) -> Result<Self> {
        Self::with(url, Some((bits_a_second, Mutex::new(Instant::now())))).await
    }

    async fn with(url: &str, slow: Option<(u64, Mutex<Instant>)>) -> Result<Self> {
        let listener = TcpListener::bind("127.0.0.1:0").await?;
        let line = Arc::new(Line {
            target: url.trim_start_matches("http://").to_owned(),
            down: AtomicU64::new(0),
            break_at: AtomicU64::new(u64::MAX),
            slow,
        });
        Ok(Self {
            url: format!("http://{}", listener.local_addr()?),
            line: line.clone(),
            running: tokio::spawn(async move {
                while let Ok((near, _)) = listener.accept().await {
                    // A connection that breaks is what this is for.
                    tokio::spawn(line.clone().carry(near));
                }
            }),
        })
    }

    /// How many bytes came down.
    pub(super) fn bytes(&self) -> u64 {
        self.line.down.load(Ordering::Relaxed)
    }

    /// Breaks once, when so many bytes have come down.
    pub(super) fn break_at(&self, bytes: u64) {
        self.line.break_at.store(bytes, Ordering::Relaxed);
    }
}

impl Drop for Link {
    fn drop(&mut self) {
        self.running.abort();
    }
}

impl Line {
    async fn carry(self: Arc<Self>, near: TcpStream) -> Result<()> {
        let far = TcpStream::connect(&self.target).await?;
        let ((mut near_read, mut near_write), (mut far_read, mut far_write)) = (near.into_split(), far.into_split());
        let up = tokio::spawn(async move { tokio::io::copy(&mut near_read, &mut far_write).await });
        let mut piece = vec![0; 4096];
        loop {
            let length = far_read.read(&mut piece).await?;
            if length == 0 {
                break;
            }
            let bytes = u64::try_from(length)?;
            let there = self.down.fetch_add(bytes, Ordering::Relaxed);
            if there >= self.break_at.load(Ordering::Relaxed) {
                self.break_at.store(u64::MAX, Ordering::Relaxed);
                break;
            }
            self.pass(bytes).await;
            near_write.write_all(&piece[..length]).await?;
        }
        up.abort();
        Ok(())
    }

    /// Takes as long as so many bytes take.
    async fn pass(&self, bytes: u64) {
        let Some((bits_a_second, free)) = &self.slow else {
            return;
        };
        let mut free = free.lock().await;
        *free = (*free).max(Instant::now()) + Duration::from_micros(bytes * 8_000_000 / bits_a_second);
        let until = *free;
        drop(free);
        tokio::time::sleep_until(until).await;
    }
}

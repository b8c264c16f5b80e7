//! A link between a phone and the service: it counts what comes down, and may break once.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use anyhow::Result;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::task::JoinHandle;

/// A link to one service.
pub(super) struct Link {
    pub(super) url: String,
    down: Arc<AtomicU64>,
    break_at: Arc<AtomicU64>,
    running: JoinHandle<()>,
}

impl Link {
    pub(super) async fn to(url: &str) -> Result<Self> {
        let listener = TcpListener::bind("127.0.0.1:0").await?;
        let target = url.trim_start_matches("http://").to_owned();
        let (down, break_at) = (Arc::new(AtomicU64::new(0)), Arc::new(AtomicU64::new(u64::MAX)));
        let link = Self {
            url: format!("http://{}", listener.local_addr()?),
            down: down.clone(),
            break_at: break_at.clone(),
            running: tokio::spawn(async move {
                while let Ok((near, _)) = listener.accept().await {
                    // A connection that breaks is what this is for.
                    tokio::spawn(carry(near, target.clone(), down.clone(), break_at.clone()));
                }
            }),
        };
        Ok(link)
    }

    /// How many bytes came down.
    pub(super) fn bytes(&self) -> u64 {
        self.down.load(Ordering::Relaxed)
    }

    /// Breaks once, when so many bytes have come down.
    pub(super) fn break_at(&self, bytes: u64) {
        self.break_at.store(bytes, Ordering::Relaxed);
    }
}

impl Drop for Link {
    fn drop(&mut self) {
        self.running.abort();
    }
}

async fn carry(near: TcpStream, target: String, down: Arc<AtomicU64>, break_at: Arc<AtomicU64>) -> Result<()> {
    let far = TcpStream::connect(target).await?;
    let ((mut near_read, mut near_write), (mut far_read, mut far_write)) = (near.into_split(), far.into_split());
    let up = tokio::spawn(async move { tokio::io::copy(&mut near_read, &mut far_write).await });
    let mut piece = vec![0; 4096];
    loop {
        let length = far_read.read(&mut piece).await?;
        if length == 0 {
            break;
        }
        let there = down.fetch_add(u64::try_from(length)?, Ordering::Relaxed);
        if there >= break_at.load(Ordering::Relaxed) {
            break_at.store(u64::MAX, Ordering::Relaxed);
            break;
        }
        near_write.write_all(&piece[..length]).await?;
    }
    up.abort();
    Ok(())
}

//! Photos: where they are kept, in the data folder or in a bucket, and when one is whole. What is absent: paths, statuses,
//! and who may ask.
//!
//! Both ways lay them out alike, `<operation>/<sha256>`, so that moving is copying.

mod address;
mod bucket;
mod chain;
mod folder;
mod trouble;
mod web;

use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::config::Secret;

pub use address::{Address, AddressRefused};
pub use trouble::Trouble;

use bucket::Bucket;
use folder::Folder;

/// The most bytes of a photo.
pub const PHOTO_MAX: u64 = 12 * 1024 * 1024;
/// The most bytes of a piece.
pub const PIECE_MAX: usize = 1024 * 1024;

/// Which bucket, and by which key.
#[derive(Debug, Clone)]
pub struct BucketSettings {
    /// Where it is.
    pub address: Address,
    /// By which name the key is known there.
    pub key_id: Secret,
    /// The key.
    pub secret: Secret,
    /// How long the bucket may be silent.
    pub patience: Duration,
}

/// Which photo of which business. Only names of our own making become paths.
#[derive(Debug, Clone)]
pub struct Name {
    operation: Uuid,
    sha256: String,
}

impl Name {
    /// A photo is called by the SHA-256 of its bytes, 64 small hexadecimal digits; nothing else is a name.
    #[must_use]
    pub fn of(operation: Uuid, sha256: &str) -> Option<Self> {
        let plain = sha256.len() == 64 && sha256.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'a'..=b'f'));
        plain.then(|| Self {
            operation,
            sha256: sha256.to_owned(),
        })
    }
}

/// What came, and where it belongs.
#[derive(Debug)]
pub struct Piece {
    /// How many bytes are there already.
    pub offset: u64,
    /// How many bytes the whole photo has.
    pub of: u64,
    /// The bytes.
    pub bytes: Vec<u8>,
}

impl Piece {
    /// How many bytes are there with it, if it begins where `there` ends and does not go beyond the photo.
    fn behind(&self, there: u64) -> Result<u64, PhotoRefused> {
        let after = there.saturating_add(u64::try_from(self.bytes.len()).unwrap_or(u64::MAX));
        if there == self.offset && after <= self.of && self.of <= PHOTO_MAX {
            Ok(after)
        } else {
            Err(PhotoRefused::Elsewhere)
        }
    }
}

/// How much of a photo is here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// How many bytes.
    pub offset: u64,
    /// Whether it is whole and its bytes are those it is called by.
    pub complete: bool,
}

/// Why a photo is not taken or given.
#[derive(Debug, thiserror::Error)]
pub enum PhotoRefused {
    /// The piece belongs elsewhere.
    #[error("another number of bytes is here: ask where to go on")]
    Elsewhere,
    /// It is another photo, or a damaged one.
    #[error("the bytes are not those the photo is called by: send it again")]
    WrongChecksum,
    /// Something else.
    #[error("a photo is a JPEG, PNG or WebP file")]
    NotAPhoto,
    /// So many that a bucket would be asked for ever.
    #[error(
        "the photo came in more than {} pieces: send it again in larger ones",
        chain::PIECES_MAX
    )]
    TooManyPieces,
    /// The data folder does not do as it should.
    #[error("the folder of the photos")]
    Disk(#[from] std::io::Error),
    /// The bucket does not.
    #[error(transparent)]
    Bucket(#[from] Trouble),
    /// The work panicked.
    #[error("the work was interrupted")]
    Interrupted(#[from] tokio::task::JoinError),
}

/// Where photos are kept.
#[derive(Clone)]
pub enum Photos {
    /// In the data folder.
    Folder(Arc<Folder>),
    /// In a bucket.
    Bucket(Arc<Bucket>),
}

impl Photos {
    /// Tries a bucket once: writing, reading, listing, removing. One that does not answer may come back, and entries do
    /// not need it, so it keeps nothing from starting.
    ///
    /// # Errors
    /// When the bucket answers and refuses.
    pub async fn open(data: &Path, bucket: Option<&BucketSettings>) -> Result<Self, Trouble> {
        let folder = data.join("photos");
        let Some(settings) = bucket else {
            return Ok(Self::Folder(Arc::new(Folder::new(folder))));
        };
        let bucket = Bucket::open(settings)?;
        match bucket.check().await {
            Err(trouble) if trouble.is_refusal() => return Err(trouble),
            Err(trouble) => tracing::warn!(error = %trouble, "photos wait until the bucket answers"),
            Ok(()) => tracing::info!(bucket = %settings.address, "photos are kept in a bucket"),
        }
        if std::fs::read_dir(&folder).is_ok_and(|mut inside| inside.next().is_some()) {
            let folder = folder.display();
            tracing::warn!(%folder, "photos in this folder are not looked at; copy them into the bucket");
        }
        Ok(Self::Bucket(Arc::new(bucket)))
    }

    /// How much of a photo is here.
    ///
    /// # Errors
    /// When disk or bucket does not answer.
    pub async fn progress(&self, name: &Name) -> Result<Progress, PhotoRefused> {
        match self {
            Self::Folder(folder) => on_disk(folder, name, |folder, name| Ok(folder.progress(name)?)).await,
            Self::Bucket(bucket) => bucket.progress(name).await,
        }
    }

    /// Adds a piece behind what is here. With the last one the photo becomes whole, or all of it is refused and removed.
    ///
    /// # Errors
    /// When the piece belongs elsewhere, the whole is not what it is called by, or disk or bucket does not answer.
    pub async fn go_on(&self, name: &Name, piece: Piece) -> Result<Progress, PhotoRefused> {
        match self {
            Self::Folder(folder) => on_disk(folder, name, move |folder, name| folder.go_on(name, &piece)).await,
            Self::Bucket(bucket) => bucket.go_on(name, piece).await,
        }
    }

    /// A photo that is whole, and of what kind it is.
    ///
    /// # Errors
    /// When disk or bucket does not answer.
    pub async fn read(&self, name: &Name) -> Result<Option<(Vec<u8>, &'static str)>, PhotoRefused> {
        let bytes = match self {
            Self::Folder(folder) => on_disk(folder, name, |folder, name| Ok(folder.read(name)?)).await?,
            Self::Bucket(bucket) => bucket.read(name).await?,
        };
        Ok(bytes.map(|bytes| {
            let media_type = media_type(&bytes).unwrap_or("application/octet-stream");
            (bytes, media_type)
        }))
    }
}

async fn on_disk<T: Send + 'static>(
    folder: &Arc<Folder>,
    name: &Name,
    work: impl FnOnce(&Folder, &Name) -> Result<T, PhotoRefused> + Send + 'static,
) -> Result<T, PhotoRefused> {
    let (folder, name) = (Arc::clone(folder), name.clone());
    tokio::task::spawn_blocking(move || work(&folder, &name)).await?
}

/// Whether these are the bytes of this photo; answers what kind of photo it is.
fn judge(name: &Name, bytes: &[u8]) -> Result<&'static str, PhotoRefused> {
    let hash: String = Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    if hash != name.sha256 {
        return Err(PhotoRefused::WrongChecksum);
    }
    media_type(bytes).ok_or(PhotoRefused::NotAPhoto)
}

/// What the first bytes say; the word of the sender is not asked.
fn media_type(bytes: &[u8]) -> Option<&'static str> {
    match bytes {
        [0xff, 0xd8, 0xff, ..] => Some("image/jpeg"),
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => Some("image/png"),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Some("image/webp"),
        _ => None,
    }
}

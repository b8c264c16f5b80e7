//! Photos as objects of a bucket that speaks S3: `<prefix>/<operation>/<sha256>`, and its pieces while it is not whole
//! as `<sha256>.part/<offset>`.
//!
//! Nothing about a photo is kept anywhere else, so any process can go on with what another began.

use std::time::Duration;

use futures_util::{StreamExt, TryStreamExt, stream};
use object_store::aws::{AmazonS3, AmazonS3Builder};
use object_store::path::Path;
use object_store::{
    Attribute, Attributes, BackoffConfig, ObjectStore, ObjectStoreExt, PutMode, PutOptions, PutPayload, RetryConfig,
};
use tokio::sync::Semaphore;

use super::chain::{Chain, Link, PIECES_MAX};
use super::trouble::Kind;
use super::web::Web;
use super::{BucketSettings, Name, PHOTO_MAX, PhotoRefused, Piece, Progress, Trouble, judge};
use crate::clock;

/// How many photos are put together at once: each takes its size of memory.
const JOINS: usize = 2;
/// How many pieces are fetched at once.
const AHEAD: usize = 4;
/// How slowly bytes may pass before a bucket counts as away.
const BYTES_A_SECOND: u64 = 128 * 1024;
/// What removing an object counts as, in bytes.
const REMOVAL: usize = 16 * 1024;
/// How often a request that may be sent again is sent again.
const RETRIES: usize = 2;

/// A bucket of which all or a part is ours.
pub struct Bucket {
    store: AmazonS3,
    prefix: String,
    /// As it is named in messages.
    called: String,
    patience: Duration,
    joins: Semaphore,
}

type Stored<T> = Result<T, object_store::Error>;

impl Bucket {
    /// Only makes ready; nothing is sent.
    pub(super) fn open(settings: &BucketSettings) -> Result<Self, Trouble> {
        let (address, patience) = (&settings.address, settings.patience);
        let called = address.to_string();
        let retry = RetryConfig {
            backoff: BackoffConfig {
                init_backoff: Duration::from_millis(100),
                max_backoff: Duration::from_secs(1),
                base: 2.,
            },
            max_retries: RETRIES,
            retry_timeout: patience,
        };
        let store = AmazonS3Builder::new()
            .with_bucket_name(&address.bucket)
            .with_endpoint(&address.endpoint)
            .with_region(&address.region)
            .with_access_key_id(settings.key_id.expose())
            .with_secret_access_key(settings.secret.expose())
            // Not every server has the call that removes many at once.
            .with_disable_bulk_delete(true)
            .with_retry(retry)
            .with_http_connector(Web {
                tls: address.endpoint.starts_with("https:"),
                connecting: patience / 2,
            })
            .build()
            .map_err(|error| Trouble::told(&called, "used", error.to_string()))?;
        Ok(Self {
            store,
            prefix: address.prefix.clone(),
            called,
            patience,
            joins: Semaphore::new(JOINS),
        })
    }

    /// Writes, reads, lists and removes an object that means nothing.
    pub(super) async fn check(&self) -> Result<(), Trouble> {
        let folder = self.path("yardjar-check");
        let path = folder.clone().join(clock::new_id().to_string());
        let tried = self.try_with(&folder, &path).await;
        if tried.as_ref().is_err_and(|trouble| !trouble.is_refusal()) {
            return tried;
        }
        let removed = self.ask("cleared", 0, self.store.delete(&path)).await;
        tried.and(removed)
    }

    async fn try_with(&self, folder: &Path, path: &Path) -> Result<(), Trouble> {
        let bytes = b"yardjar looks whether it may write here".as_slice();
        self.create("written", path, bytes.into(), Attributes::new()).await?;
        match self.create("used", path, bytes.into(), Attributes::new()).await {
            Err(trouble) if trouble.kind == Kind::AlreadyThere => {}
            Err(trouble) => return Err(trouble),
            Ok(()) => return Err(Trouble::no_conditions(&self.called)),
        }
        let read = async { self.store.get(path).await?.bytes().await };
        if self.ask("read", bytes.len(), read).await? != bytes {
            return Err(Trouble::told(
                &self.called,
                "used",
                "it gave other bytes than it was given",
            ));
        }
        let listed = self.store.list(Some(folder)).try_collect::<Vec<_>>();
        if self
            .ask("listed", 0, listed)
            .await?
            .iter()
            .all(|object| object.location != *path)
        {
            let why = "its list lacks what was written just before";
            return Err(Trouble::told(&self.called, "used", why));
        }
        Ok(())
    }

    pub(super) async fn progress(&self, name: &Name) -> Result<Progress, PhotoRefused> {
        if let Some(whole) = self.whole(name).await? {
            // Whoever made it whole may have ended before the pieces were gone.
            let left = self.links(name).await?;
            self.remove(name, &left).await?;
            return Ok(whole);
        }
        Ok(Progress {
            offset: Chain::of(self.links(name).await?).end,
            complete: false,
        })
    }

    pub(super) async fn go_on(&self, name: &Name, piece: Piece) -> Result<Progress, PhotoRefused> {
        if let Some(whole) = self.whole(name).await? {
            return Ok(whole);
        }
        let mut chain = Chain::of(self.links(name).await?);
        self.remove(name, &chain.astray).await?;
        let after = piece.behind(chain.end)?;
        if !piece.bytes.is_empty() {
            if chain.links.len() >= PIECES_MAX {
                self.remove(name, &chain.links).await?;
                return Err(PhotoRefused::TooManyPieces);
            }
            let link = Link {
                offset: piece.offset,
                size: after - piece.offset,
            };
            let path = self.piece(name, link);
            let put = self.create("written", &path, piece.bytes.into(), Attributes::new());
            put.await.map_err(|trouble| match trouble.kind {
                // Another process was faster.
                Kind::AlreadyThere => PhotoRefused::Elsewhere,
                _ => trouble.into(),
            })?;
            chain.links.push(link);
        }
        if after == piece.of {
            return self.join(name, &chain.links, after).await;
        }
        Ok(Progress {
            offset: after,
            complete: false,
        })
    }

    pub(super) async fn read(&self, name: &Name) -> Result<Option<Vec<u8>>, PhotoRefused> {
        let path = self.path(&name.object());
        match self.fetch(&path).await {
            Ok(bytes) => Ok(Some(bytes)),
            Err(trouble) if trouble.kind == Kind::NotThere => Ok(None),
            Err(trouble) => Err(trouble.into()),
        }
    }

    /// Puts the pieces together. If this is cut anywhere, the next who asks finds either all pieces or the whole.
    async fn join(&self, name: &Name, links: &[Link], of: u64) -> Result<Progress, PhotoRefused> {
        // It is never closed, so there is always a turn.
        let _turn = self.joins.acquire().await;
        let mut bytes = Vec::with_capacity(usize::try_from(of).unwrap_or_default());
        let mut pieces = stream::iter(links.to_vec())
            .map(|link| async move { (link, self.fetch(&self.piece(name, link)).await) })
            .buffered(AHEAD);
        while let Some((link, piece)) = pieces.next().await {
            match piece {
                Ok(piece) if u64::try_from(piece.len()).is_ok_and(|size| size == link.size) => {
                    bytes.extend_from_slice(&piece);
                }
                // Another process has put it together or refused it meanwhile, and may have begun anew.
                Ok(_) => return Err(PhotoRefused::Elsewhere),
                Err(trouble) if trouble.kind == Kind::NotThere => return Err(PhotoRefused::Elsewhere),
                Err(trouble) => return Err(trouble.into()),
            }
        }
        drop(pieces);
        let media_type = match judge(name, &bytes) {
            Ok(media_type) => media_type,
            Err(refused) => {
                self.remove(name, links).await?;
                return Err(refused);
            }
        };
        let kind = Attributes::from_iter([(Attribute::ContentType, media_type)]);
        let path = self.path(&name.object());
        match self.create("written", &path, bytes.into(), kind).await {
            // Another process put the same bytes.
            Err(trouble) if trouble.kind == Kind::AlreadyThere => {}
            put => put?,
        }
        self.remove(name, links).await?;
        Ok(Progress {
            offset: of,
            complete: true,
        })
    }

    async fn whole(&self, name: &Name) -> Result<Option<Progress>, Trouble> {
        let path = self.path(&name.object());
        match self.ask("read", 0, self.store.head(&path)).await {
            Ok(object) => Ok(Some(Progress {
                offset: object.size,
                complete: true,
            })),
            Err(trouble) if trouble.kind == Kind::NotThere => Ok(None),
            Err(trouble) => Err(trouble),
        }
    }

    /// Every piece there is, with those astray.
    async fn links(&self, name: &Name) -> Result<Vec<Link>, Trouble> {
        let folder = self.path(&name.pieces());
        // Each of them was put by us, so there are only a few more than may be.
        let listed = self
            .store
            .list(Some(&folder))
            .take(2 * PIECES_MAX)
            .try_collect::<Vec<_>>();
        let objects = self.ask("listed", 0, listed).await?;
        let links = objects.iter().filter_map(|object| {
            let offset = object.location.filename()?.parse().ok()?;
            let link = Link {
                offset,
                size: object.size,
            };
            (self.piece(name, link) == object.location).then_some(link)
        });
        Ok(links.collect())
    }

    async fn remove(&self, name: &Name, links: &[Link]) -> Result<(), Trouble> {
        if links.is_empty() {
            return Ok(());
        }
        let paths: Vec<_> = links.iter().map(|link| Ok(self.piece(name, *link))).collect();
        let removed = self.store.delete_stream(stream::iter(paths).boxed());
        match self
            .ask("cleared", links.len() * REMOVAL, removed.try_collect::<Vec<_>>())
            .await
        {
            // Another process was faster.
            Err(trouble) if trouble.kind == Kind::NotThere => Ok(()),
            removed => removed.map(drop),
        }
    }

    async fn create(
        &self,
        doing: &'static str,
        path: &Path,
        bytes: PutPayload,
        attributes: Attributes,
    ) -> Result<(), Trouble> {
        let options = PutOptions {
            mode: PutMode::Create,
            attributes,
            ..PutOptions::default()
        };
        let size = bytes.content_length();
        self.ask(doing, size, self.store.put_opts(path, bytes, options))
            .await
            .map(drop)
    }

    async fn fetch(&self, path: &Path) -> Result<Vec<u8>, Trouble> {
        let found = self.ask("read", 0, self.store.get(path)).await?;
        if found.meta.size > PHOTO_MAX {
            let why = format!("{path} is larger than a photo may be");
            return Err(Trouble::told(&self.called, "read", why));
        }
        let size = usize::try_from(found.meta.size).unwrap_or_default();
        Ok(self.ask("read", size, found.bytes()).await?.into())
    }

    /// Waits for an answer, but not for ever: the longer the more there is to carry.
    async fn ask<T>(
        &self,
        doing: &'static str,
        bytes: usize,
        work: impl Future<Output = Stored<T>>,
    ) -> Result<T, Trouble> {
        let carrying = Duration::from_secs(u64::try_from(bytes).unwrap_or_default() / BYTES_A_SECOND);
        match tokio::time::timeout(self.patience + carrying, work).await {
            Ok(answer) => answer.map_err(|error| Trouble::of(&self.called, doing, &error)),
            Err(_) => Err(Trouble::late(&self.called, doing, self.patience + carrying)),
        }
    }

    fn path(&self, name: &str) -> Path {
        Path::from(format!("{}/{name}", self.prefix))
    }

    fn piece(&self, name: &Name, link: Link) -> Path {
        self.path(&format!("{}/{:08}", name.pieces(), link.offset))
    }
}

impl Name {
    fn object(&self) -> String {
        format!("{}/{}", self.operation, self.sha256)
    }

    fn pieces(&self) -> String {
        format!("{}/{}.part", self.operation, self.sha256)
    }
}

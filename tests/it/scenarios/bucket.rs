//! A bucket on this machine: a server of the S3 protocol that checks signatures, with a folder behind it. It can be away,
//! silent, and back at the same address.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

use anyhow::{Context, Result};
use api::config::Secret;
use api::photos::BucketSettings;
use hyper_util::rt::{TokioExecutor, TokioIo};
use hyper_util::server::conn::auto::Builder;
use s3s::auth::SimpleAuth;
use s3s::dto::{DeleteObjectInput, DeleteObjectOutput, PutObjectInput, PutObjectOutput};
use s3s::service::{S3Service, S3ServiceBuilder};
use s3s::{S3, S3Request, S3Response, S3Result};
use s3s_fs::FileSystem;
use tokio::net::TcpListener;
use tokio::task::{JoinHandle, JoinSet};

const NAME: &str = "honey";
const KEY_ID: &str = "linden";
const SECRET: &str = "a spoonful of it";
static COUNT: AtomicU32 = AtomicU32::new(0);

/// Ends, and its folder goes, when dropped.
pub(crate) struct Bucket {
    pub(crate) folder: PathBuf,
    pub(crate) address: SocketAddr,
    serving: Option<JoinHandle<()>>,
}

impl Bucket {
    /// An empty one that answers.
    pub(crate) async fn start() -> Result<Self> {
        let mut bucket = Self::empty()?;
        bucket.back().await?;
        Ok(bucket)
    }

    /// One that puts objects over others although it is asked not to.
    pub(crate) async fn careless() -> Result<Self> {
        let mut bucket = Self::empty()?;
        let careless = Careless(bucket.files()?);
        bucket.serve(careless).await?;
        Ok(bucket)
    }

    fn empty() -> Result<Self> {
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let folder = std::env::temp_dir().join(format!("yardjar-bucket-{}-{number}", std::process::id()));
        std::fs::create_dir_all(folder.join(NAME))?;
        Ok(Self {
            folder,
            address: SocketAddr::from(([127, 0, 0, 1], 0)),
            serving: None,
        })
    }

    /// As a service takes it.
    pub(crate) fn settings(&self) -> Result<BucketSettings> {
        let address = format!("s3://{NAME}/jars?endpoint=http://{}", self.address);
        Ok(BucketSettings {
            address: address.parse()?,
            key_id: Secret::new(KEY_ID),
            secret: Secret::new(SECRET),
            patience: Duration::from_secs(20),
        })
    }

    /// Ends the server and cuts whoever speaks with it.
    pub(crate) async fn away(&mut self) {
        if let Some(serving) = self.serving.take() {
            serving.abort();
            // Its address is free once it has ended; that it was told to is what this would say.
            let _ = serving.await;
        }
    }

    /// Answers again, at the same address.
    pub(crate) async fn back(&mut self) -> Result<()> {
        self.serve(self.files()?).await
    }

    /// Takes connections and says nothing.
    pub(crate) async fn silent(&mut self) -> Result<()> {
        let listener = self.listen().await?;
        self.serving = Some(tokio::spawn(async move {
            let mut held = Vec::new();
            while let Ok((connection, _)) = listener.accept().await {
                held.push(connection);
            }
        }));
        Ok(())
    }

    /// The objects that there are, with their sizes.
    pub(crate) fn objects(&self) -> Result<Vec<(String, u64)>> {
        let (mut found, mut folders) = (Vec::new(), vec![self.folder.join(NAME)]);
        while let Some(folder) = folders.pop() {
            for entry in std::fs::read_dir(folder)? {
                let entry = entry?;
                if entry.file_type()?.is_dir() {
                    folders.push(entry.path());
                    continue;
                }
                let name = entry.path().strip_prefix(self.folder.join(NAME))?.display().to_string();
                found.push((name, entry.metadata()?.len()));
            }
        }
        found.sort();
        Ok(found)
    }

    /// Puts an object as another process would.
    pub(crate) fn put(&self, object: &str, bytes: &[u8]) -> Result<()> {
        let path = self.folder.join(NAME).join("jars").join(object);
        std::fs::create_dir_all(path.parent().unwrap_or(Path::new("")))?;
        std::fs::write(&path, bytes).with_context(|| path.display().to_string())
    }

    fn files(&self) -> Result<FileSystem> {
        FileSystem::new(&self.folder).map_err(|error| anyhow::anyhow!("{error:?}"))
    }

    async fn listen(&mut self) -> Result<TcpListener> {
        self.away().await;
        let listener = TcpListener::bind(self.address).await.context("the bucket's address")?;
        self.address = listener.local_addr()?;
        Ok(listener)
    }

    async fn serve(&mut self, files: impl S3) -> Result<()> {
        let mut service = S3ServiceBuilder::new(files);
        service.set_auth(SimpleAuth::from_single(KEY_ID, SECRET));
        let listener = self.listen().await?;
        self.serving = Some(tokio::spawn(answer(listener, service.build())));
        Ok(())
    }
}

/// Connections end with the one who answers them.
async fn answer(listener: TcpListener, service: S3Service) {
    let mut connections = JoinSet::new();
    while let Ok((connection, _)) = listener.accept().await {
        let service = service.clone();
        connections.spawn(async move {
            let http = Builder::new(TokioExecutor::new());
            // A connection that was cut is what some tests are about.
            let _ = http.serve_connection(TokioIo::new(connection), service).await;
        });
    }
}

impl Drop for Bucket {
    fn drop(&mut self) {
        if let Some(serving) = &self.serving {
            serving.abort();
        }
        // What cannot be removed from the temporary folder is nobody's concern.
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

struct Careless(FileSystem);

#[async_trait::async_trait]
impl S3 for Careless {
    async fn put_object(&self, mut request: S3Request<PutObjectInput>) -> S3Result<S3Response<PutObjectOutput>> {
        request.input.if_none_match = None;
        self.0.put_object(request).await
    }

    async fn delete_object(&self, request: S3Request<DeleteObjectInput>) -> S3Result<S3Response<DeleteObjectOutput>> {
        self.0.delete_object(request).await
    }
}

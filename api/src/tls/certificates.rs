//! The certificate that is shown: given as files and read anew when they change, or signed by our own authority and
//! signed anew long before it ends or when the machine has other addresses.

use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};
use std::time::{Duration, SystemTime};

use chrono::{DateTime, TimeDelta, Utc};
use rustls::ServerConfig;
use rustls::crypto::ring;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use rustls::server::{ClientHello, ResolvesServerCert};
use rustls::sign::CertifiedKey;

use super::TlsRefused;
use super::authority::{Authority, DAYS, read, read_private};
use super::names;
use crate::clock;

/// How often it is looked whether a certificate must be replaced.
const ROUND: Duration = Duration::from_secs(60);
/// After so many days a certificate of our own is replaced: a phone that was asleep meets no expired one.
const RENEW_AFTER: TimeDelta = TimeDelta::days(DAYS / 3);

enum Source {
    Given {
        certificate: PathBuf,
        key: PathBuf,
    },
    Own {
        authority: Box<Authority>,
        listen: IpAddr,
        wished: Vec<String>,
    },
}

struct Shown {
    key: Arc<CertifiedKey>,
    names: Vec<String>,
    since: DateTime<Utc>,
    /// When the files given were last changed.
    changed: Option<SystemTime>,
}

/// The certificate that is shown now, and where the next comes from.
pub struct Certificates {
    source: Source,
    shown: RwLock<Shown>,
}

impl std::fmt::Debug for Certificates {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Certificates(…)")
    }
}

impl Certificates {
    pub(super) fn given(certificate: &Path, key: &Path) -> Result<Self, TlsRefused> {
        Self::of(Source::Given {
            certificate: certificate.to_owned(),
            key: key.to_owned(),
        })
    }

    pub(super) fn own(data: &Path, listen: IpAddr, wished: &[String]) -> Result<Self, TlsRefused> {
        Self::of(Source::Own {
            authority: Box::new(Authority::load(&data.join("tls"))?),
            listen,
            wished: wished.to_vec(),
        })
    }

    fn of(source: Source) -> Result<Self, TlsRefused> {
        let shown = RwLock::new(source.next()?);
        Ok(Self { source, shown })
    }

    /// The authority of our own, if it signs.
    #[must_use]
    pub fn authority(&self) -> Option<&Authority> {
        match &self.source {
            Source::Own { authority, .. } => Some(authority),
            Source::Given { .. } => None,
        }
    }

    /// For which names the certificate is good; those of files given are not looked at.
    #[must_use]
    pub fn names(&self) -> Vec<String> {
        self.shown.read().unwrap_or_else(PoisonError::into_inner).names.clone()
    }

    /// The settings for whoever speaks TLS.
    ///
    /// # Errors
    /// When the cipher suites do not fit the protocol versions, which would be a fault of ours.
    pub fn server_config(self: &Arc<Self>) -> Result<ServerConfig, TlsRefused> {
        let config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()?
            .with_no_client_auth()
            .with_cert_resolver(Arc::<Self>::clone(self));
        Ok(config)
    }

    /// Replaces the certificate whenever it is time, for as long as the service runs.
    pub async fn keep_fresh(self: Arc<Self>) {
        loop {
            tokio::time::sleep(ROUND).await;
            let here = Arc::clone(&self);
            let looked = tokio::task::spawn_blocking(move || here.renew(clock::now())).await;
            match looked {
                Ok(Ok(true)) => tracing::info!("another certificate is shown from now on"),
                Ok(Ok(false)) | Err(_) => {}
                Ok(Err(error)) => tracing::error!(%error, "the certificate could not be replaced: {error}"),
            }
        }
    }

    /// Replaces it if it is time; answers whether it did.
    fn renew(&self, now: DateTime<Utc>) -> Result<bool, TlsRefused> {
        let due = {
            let shown = self.shown.read().unwrap_or_else(PoisonError::into_inner);
            match &self.source {
                Source::Given { certificate, key } => shown.changed != changed(certificate, key),
                Source::Own { listen, wished, .. } => {
                    now - shown.since > RENEW_AFTER || names::all(*listen, wished)? != shown.names
                }
            }
        };
        if due {
            let next = self.source.next()?;
            *self.shown.write().unwrap_or_else(PoisonError::into_inner) = next;
        }
        Ok(due)
    }
}

impl Source {
    fn next(&self) -> Result<Shown, TlsRefused> {
        let (chain, private, names, changed) = match self {
            Self::Given { certificate, key } => {
                let changed = changed(certificate, key);
                let read_chain: Result<Vec<_>, _> =
                    CertificateDer::pem_slice_iter(read(certificate)?.as_bytes()).collect();
                let chain = read_chain.ok().filter(|chain| !chain.is_empty());
                let chain = chain.ok_or_else(|| TlsRefused::Content {
                    path: certificate.clone(),
                    what: "certificate",
                })?;
                let private = PrivateKeyDer::from_pem_slice(read_private(key)?.as_bytes());
                let private = private.map_err(|_| TlsRefused::Content {
                    path: key.clone(),
                    what: "private key",
                })?;
                (chain, private, Vec::new(), changed)
            }
            Self::Own {
                authority,
                listen,
                wished,
            } => {
                let names = names::all(*listen, wished)?;
                let signed = authority.sign(&names)?;
                (signed.chain, signed.key, names, None)
            }
        };
        let key = CertifiedKey::from_der(chain, private, &ring::default_provider())?;
        Ok(Shown {
            key: Arc::new(key),
            names,
            since: clock::now(),
            changed,
        })
    }
}

/// When either of two files was last changed.
fn changed(one: &Path, other: &Path) -> Option<SystemTime> {
    let at = |path: &Path| std::fs::metadata(path).and_then(|about| about.modified()).ok();
    at(one).max(at(other))
}

impl ResolvesServerCert for Certificates {
    fn resolve(&self, _: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        Some(self.shown.read().unwrap_or_else(PoisonError::into_inner).key.clone())
    }
}

#[cfg(test)]
mod tests {
    use std::io::{Read, Write};

    use rustls::pki_types::ServerName;
    use rustls::{ClientConfig, ClientConnection, RootCertStore, ServerConnection};

    use super::*;

    /// A folder that goes with the test.
    struct Folder(PathBuf);

    impl Folder {
        fn make(name: &str) -> Self {
            let path = std::env::temp_dir().join(format!("yardjar-tls-{name}-{}", std::process::id()));
            std::fs::create_dir_all(&path).unwrap();
            Self(path)
        }
    }

    impl Drop for Folder {
        fn drop(&mut self) {
            let _ = std::fs::remove_dir_all(&self.0);
        }
    }

    /// Whether a client that trusts the authority, and nobody else, gets through to whoever is called so. The client
    /// checks by rustls-webpki, which shares no code with what made the certificates.
    fn trusts(authority: &Authority, shown: &Arc<Certificates>, name: &str) -> bool {
        let mut roots = RootCertStore::empty();
        roots.add(CertificateDer::from(authority.der().to_vec())).unwrap();
        let config = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()
            .unwrap()
            .with_root_certificates(roots)
            .with_no_client_auth();
        let name = ServerName::try_from(name.to_owned()).unwrap();
        let mut client = ClientConnection::new(Arc::new(config), name).unwrap();
        let mut server = ServerConnection::new(Arc::new(shown.server_config().unwrap())).unwrap();
        for _ in 0..8 {
            let mut wire = Vec::new();
            while client.wants_write() {
                client.write_tls(&mut wire).unwrap();
            }
            server.read_tls(&mut wire.as_slice()).unwrap();
            if server.process_new_packets().is_err() {
                return false;
            }
            let mut wire = Vec::new();
            while server.wants_write() {
                server.write_tls(&mut wire).unwrap();
            }
            client.read_tls(&mut wire.as_slice()).unwrap();
            if client.process_new_packets().is_err() {
                return false;
            }
        }
        client.writer().write_all(b"bees").unwrap();
        let mut wire = Vec::new();
        client.write_tls(&mut wire).unwrap();
        server.read_tls(&mut wire.as_slice()).unwrap();
        server.process_new_packets().unwrap();
        let mut said = [0; 4];
        server.reader().read_exact(&mut said).unwrap();
        &said == b"bees"
    }

    #[test]
    fn a_phone_that_trusts_the_authority_gets_through_under_every_name_and_under_no_other() {
        let folder = Folder::make("names");
        let wished = ["honey.local".to_owned()];
        let shown = Certificates::own(&folder.0, "192.168.1.20".parse().unwrap(), &wished).unwrap();
        let shown = Arc::new(shown);
        let authority = Authority::load(&folder.0.join("tls")).unwrap();
        for name in ["honey.local", "192.168.1.20", "localhost", "127.0.0.1", "::1"] {
            assert!(trusts(&authority, &shown, name), "{name}");
        }
        for name in ["192.168.1.21", "example.org"] {
            assert!(!trusts(&authority, &shown, name), "{name}");
        }
        let stranger = Folder::make("stranger");
        let stranger = Authority::load(&stranger.0.join("tls")).unwrap();
        assert!(!trusts(&stranger, &shown, "honey.local"));
    }

    #[test]
    fn a_stolen_authority_cannot_pose_as_anybody_outside() {
        let folder = Folder::make("stolen");
        let authority = Authority::load(&folder.0.join("tls")).unwrap();
        for (name, through) in [
            ("example.org", false),
            ("8.8.8.8", false),
            ("10.1.2.3", true),
            ("any.lan", true),
        ] {
            let signed = authority.sign(&[name.to_owned()]).unwrap();
            let key = CertifiedKey::from_der(signed.chain, signed.key, &ring::default_provider()).unwrap();
            let shown = Shown {
                key: Arc::new(key),
                names: Vec::new(),
                since: clock::now(),
                changed: None,
            };
            let source = Source::Given {
                certificate: PathBuf::new(),
                key: PathBuf::new(),
            };
            let shown = Arc::new(Certificates {
                source,
                shown: RwLock::new(shown),
            });
            assert_eq!(trusts(&authority, &shown, name), through, "{name}");
        }
    }

    #[test]
    fn the_authority_is_kept_and_its_key_is_for_nobody_else() {
        use std::os::unix::fs::PermissionsExt;
        let folder = Folder::make("kept");
        let tls = folder.0.join("tls");
        let first = Authority::load(&tls).unwrap().fingerprint();
        assert_eq!(Authority::load(&tls).unwrap().fingerprint(), first);
        let key = tls.join("authority.key");
        assert_eq!(std::fs::metadata(&key).unwrap().permissions().mode() & 0o777, 0o600);
        std::fs::set_permissions(&key, std::fs::Permissions::from_mode(0o644)).unwrap();
        assert!(matches!(Authority::load(&tls), Err(TlsRefused::Open(_))));
    }

    #[test]
    fn a_certificate_is_replaced_long_before_it_ends_and_given_ones_when_the_files_change() {
        let folder = Folder::make("renewed");
        let own = Certificates::own(&folder.0, "10.0.0.5".parse().unwrap(), &[]).unwrap();
        assert!(!own.renew(clock::now()).unwrap());
        assert!(own.renew(clock::now() + RENEW_AFTER + TimeDelta::days(1)).unwrap());
        let authority = Authority::load(&folder.0.join("tls")).unwrap();
        let write = || {
            let (pem, key) = authority.sign_as_pem(&["10.0.0.5".to_owned()]).unwrap();
            std::fs::write(folder.0.join("given.crt"), pem).unwrap();
            std::fs::write(folder.0.join("given.key"), key).unwrap();
            let only_us = std::os::unix::fs::PermissionsExt::from_mode(0o600);
            std::fs::set_permissions(folder.0.join("given.key"), only_us).unwrap();
        };
        write();
        let given = Certificates::given(&folder.0.join("given.crt"), &folder.0.join("given.key")).unwrap();
        assert!(!given.renew(clock::now()).unwrap());
        let before = given.shown.read().unwrap().key.cert.clone();
        write();
        let later = SystemTime::now() + Duration::from_secs(5);
        std::fs::File::open(folder.0.join("given.crt"))
            .unwrap()
            .set_modified(later)
            .unwrap();
        assert!(given.renew(clock::now()).unwrap());
        assert_ne!(given.shown.read().unwrap().key.cert, before);
    }
}

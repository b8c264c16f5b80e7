//! TLS: the certificate that is shown, the small authority that signs it on a local network, and the door that takes
//! TLS and plain HTTP on one port. What is absent: paths, pages, and whatever is said once somebody is in.

mod authority;
mod certificates;
pub mod door;
mod names;

use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;

use crate::clock::NoRandomness;
use crate::config::{Config, Transport};

pub use authority::Authority;
pub use certificates::Certificates;

/// Why there is no TLS.
#[derive(Debug, thiserror::Error)]
pub enum TlsRefused {
    /// A file of certificates or keys cannot be read or written.
    #[error("the file {path} cannot be used")]
    File {
        /// Which file.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// Others may read a key.
    #[error("the key file {0} can be read by others; run chmod 600 on it")]
    Open(PathBuf),
    /// A file does not hold what it should.
    #[error("the file {path} holds no {what} in PEM form")]
    Content {
        /// Which file.
        path: PathBuf,
        /// What is looked for.
        what: &'static str,
    },
    /// A name that our own authority may not vouch for.
    #[error(
        "YARDJAR_NAMES: {0} is no name of a local network (an address such as 192.168.1.20, or a name that ends in \
         .local, .lan, .internal or .home.arpa); for others give a certificate by YARDJAR_TLS_CERT_FILE"
    )]
    NotLocal(String),
    /// A certificate could not be made.
    #[error("a certificate could not be made")]
    Make(#[from] rcgen::Error),
    /// Certificate and key do not go together, or cannot be used.
    #[error("certificate and key cannot be used")]
    Rustls(#[from] rustls::Error),
    /// There is no randomness.
    #[error(transparent)]
    NoRandomness(#[from] NoRandomness),
    /// The machine does not tell its addresses.
    #[error("the machine's own addresses cannot be read")]
    Interfaces(#[source] std::io::Error),
}

/// How the service is reached from other machines.
#[derive(Clone)]
pub struct Access {
    /// Where it listens.
    pub listen: SocketAddr,
    /// What is shown to whoever speaks TLS; nothing where only plain HTTP is spoken.
    pub certificates: Option<Arc<Certificates>>,
}

impl Access {
    /// Reads or makes what the settings ask for.
    ///
    /// # Errors
    /// When certificates or keys cannot be had.
    pub fn prepare(config: &Config, listen: SocketAddr) -> Result<Self, TlsRefused> {
        let certificates = match &config.transport {
            Transport::Plain => None,
            Transport::Given { certificate, key } => Some(Certificates::given(certificate, key)?),
            Transport::Own { names } => Some(Certificates::own(&config.data, listen.ip(), names)?),
        };
        Ok(Self {
            listen,
            certificates: certificates.map(Arc::new),
        })
    }

    /// The authority of our own, where one signs.
    #[must_use]
    pub fn authority(&self) -> Option<&Authority> {
        self.certificates.as_ref().and_then(|shown| shown.authority())
    }

    /// Where phones of the local network find the service: names without a scheme, the likeliest first.
    #[must_use]
    pub fn hosts(&self) -> Vec<String> {
        let Some(certificates) = &self.certificates else {
            return Vec::new();
        };
        let reachable = certificates.names().into_iter().filter(|name| !is_here(name));
        reachable
            .map(|name| format!("{}:{}", names::in_address(&name), self.listen.port()))
            .collect()
    }
}

/// Names by which a machine means itself.
fn is_here(name: &str) -> bool {
    name == "localhost" || name.parse::<IpAddr>().is_ok_and(|address| address.is_loopback())
}

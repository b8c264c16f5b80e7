//! A small authority of one's own: it signs the certificate for a local network, and phones are told once to trust it.
//!
//! It may vouch for local names and addresses only; that stands in its certificate, so that a stolen key cannot pose as
//! anybody in the wide net to a phone that trusts it.

use std::io::Write;
use std::net::IpAddr;
use std::os::unix::fs::{OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};

use chrono::{DateTime, Datelike, TimeDelta, Utc};
use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DnType, ExtendedKeyUsagePurpose, GeneralSubtree, IsCa, Issuer,
    KeyPair, KeyUsagePurpose, NameConstraints, date_time_ymd,
};
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer, PrivatePkcs8KeyDer};
use sha2::{Digest, Sha256};

use super::TlsRefused;
use super::names::{LOCAL_ENDINGS, LOCAL_RANGES_4, LOCAL_RANGES_6};
use crate::clock;

/// How long phones trust it, and from when on the next one is made instead.
const YEARS: i32 = 10;
const LEAST_LEFT: TimeDelta = TimeDelta::days(365);
/// How long a certificate that it signs is good. Phones refuse more than 825 days of an authority added by hand, and
/// 398 days of any other (makers' published limits for certificates).
pub(super) const DAYS: i64 = 90;

/// The authority: its certificate, and the key that signs.
pub struct Authority {
    pem: String,
    der: CertificateDer<'static>,
    key: String,
}

impl Authority {
    /// Reads it, or makes it where there is none or its time is nearly over.
    pub(super) fn load(folder: &Path) -> Result<Self, TlsRefused> {
        let (certificate, key) = (folder.join("authority.crt"), folder.join("authority.key"));
        if !key.exists() || !certificate.exists() {
            return Self::make(folder);
        }
        let private = read_private(&key)?;
        let pem = read(&certificate)?;
        let der = CertificateDer::from_pem_slice(pem.as_bytes()).map_err(|_| TlsRefused::Content {
            path: certificate,
            what: "certificate",
        })?;
        let found = Self { pem, der, key: private };
        if found.good_until().is_none_or(|until| until < clock::now() + LEAST_LEFT) {
            return Self::make(folder);
        }
        Ok(found)
    }

    fn make(folder: &Path) -> Result<Self, TlsRefused> {
        let now = clock::now();
        let pair = KeyPair::generate()?;
        let mut params = CertificateParams::default();
        let name = format!("yardjar, this network only, made {}", now.date_naive());
        params.distinguished_name.push(DnType::CommonName, name);
        params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
        params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
        let before = now - TimeDelta::days(1);
        params.not_before = date_time_ymd(before.year(), month(before), day(before));
        params.not_after = date_time_ymd(now.year() + YEARS, 1, 1);
        params.name_constraints = Some(NameConstraints {
            permitted_subtrees: local_only(),
            excluded_subtrees: Vec::new(),
        });
        let certificate = params.self_signed(&pair)?;
        let key = pair.serialize_pem();
        std::fs::create_dir_all(folder).map_err(|source| TlsRefused::File {
            path: folder.to_owned(),
            source,
        })?;
        write(&folder.join("authority.key"), &key, 0o600)?;
        write(&folder.join("authority.crt"), &certificate.pem(), 0o644)?;
        Ok(Self {
            pem: certificate.pem(),
            der: certificate.der().clone(),
            key,
        })
    }

    /// Until when phones trust it.
    fn good_until(&self) -> Option<DateTime<Utc>> {
        use x509_parser::prelude::{FromDer, X509Certificate};
        let (_, read) = X509Certificate::from_der(&self.der).ok()?;
        DateTime::from_timestamp(read.validity().not_after.timestamp(), 0)
    }

    /// A certificate for these names with a new key.
    pub(super) fn sign(&self, names: &[String]) -> Result<Signed, TlsRefused> {
        let (certificate, pair) = self.signed(names)?;
        Ok(Signed {
            chain: vec![certificate.der().clone(), self.der.clone()],
            key: PrivateKeyDer::Pkcs8(PrivatePkcs8KeyDer::from(pair.serialize_der())),
        })
    }

    /// The same as texts, as a given certificate comes in files.
    #[cfg(test)]
    pub(super) fn sign_as_pem(&self, names: &[String]) -> Result<(String, String), TlsRefused> {
        let (certificate, pair) = self.signed(names)?;
        Ok((certificate.pem(), pair.serialize_pem()))
    }

    fn signed(&self, names: &[String]) -> Result<(rcgen::Certificate, KeyPair), TlsRefused> {
        let now = clock::now();
        let issuer = Issuer::from_ca_cert_pem(&self.pem, KeyPair::from_pem(&self.key)?)?;
        let mut params = CertificateParams::new(names.to_vec())?;
        params.distinguished_name.push(DnType::CommonName, "yardjar");
        params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
        params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        params.use_authority_key_identifier_extension = true;
        let before = now - TimeDelta::days(1);
        params.not_before = date_time_ymd(before.year(), month(before), day(before));
        let until = now + TimeDelta::days(DAYS);
        params.not_after = date_time_ymd(until.year(), month(until), day(until));
        let pair = KeyPair::generate()?;
        let certificate = params.signed_by(&pair, &issuer)?;
        Ok((certificate, pair))
    }

    /// The certificate as phones fetch it.
    #[must_use]
    pub fn der(&self) -> &[u8] {
        &self.der
    }

    /// What both sides can compare by eye: SHA-256 of the certificate, in pairs.
    #[must_use]
    pub fn fingerprint(&self) -> String {
        let pairs: Vec<String> = Sha256::digest(&self.der)
            .iter()
            .map(|byte| format!("{byte:02X}"))
            .collect();
        pairs.join(":")
    }
}

/// A certificate that was just signed.
pub(super) struct Signed {
    pub(super) chain: Vec<CertificateDer<'static>>,
    pub(super) key: PrivateKeyDer<'static>,
}

// A month and a day of it always fit.
fn month(at: DateTime<Utc>) -> u8 {
    u8::try_from(at.month()).unwrap_or(1)
}

fn day(at: DateTime<Utc>) -> u8 {
    u8::try_from(at.day()).unwrap_or(1)
}

fn local_only() -> Vec<GeneralSubtree> {
    let endings = LOCAL_ENDINGS
        .iter()
        .map(|ending| GeneralSubtree::DnsName((*ending).to_owned()));
    let four = LOCAL_RANGES_4.iter().map(|(start, bits)| (IpAddr::V4(*start), *bits));
    let six = LOCAL_RANGES_6.iter().map(|(start, bits)| (IpAddr::V6(*start), *bits));
    let ranges = four
        .chain(six)
        .map(|(start, bits)| GeneralSubtree::IpAddress(CidrSubnet::from_addr_prefix(start, bits)));
    endings.chain(ranges).collect()
}

pub(super) fn read(path: &Path) -> Result<String, TlsRefused> {
    std::fs::read_to_string(path).map_err(|source| TlsRefused::File {
        path: path.to_owned(),
        source,
    })
}

/// Reads a key, unless others may read it too.
pub(super) fn read_private(path: &Path) -> Result<String, TlsRefused> {
    let about = std::fs::metadata(path).map_err(|source| TlsRefused::File {
        path: path.to_owned(),
        source,
    })?;
    if about.permissions().mode() & 0o077 != 0 {
        return Err(TlsRefused::Open(path.to_owned()));
    }
    read(path)
}

/// Written beside and renamed, so that a power cut leaves the old or the new one.
fn write(path: &Path, text: &str, mode: u32) -> Result<(), TlsRefused> {
    let beside: PathBuf = path.with_extension("new");
    let mut options = std::fs::OpenOptions::new();
    let file = options.write(true).create(true).truncate(true).mode(mode).open(&beside);
    let written = file.and_then(|mut file| {
        file.write_all(text.as_bytes())?;
        file.sync_all()?;
        std::fs::rename(&beside, path)
    });
    written.map_err(|source| TlsRefused::File {
        path: path.to_owned(),
        source,
    })
}

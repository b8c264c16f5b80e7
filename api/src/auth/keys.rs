//! The keys that sign access tokens and derive refresh tokens, in one file that only the service can read.
//!
//! A line is a key: its name, a space, 32 bytes in base64url. The first line signs, every line checks, so a key
//! is replaced by putting a new line on top and taking the old one away a quarter of an hour later.

use std::io::Write;
use std::os::unix::fs::{OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use hmac::{Hmac, Mac};
use sha2::Sha256;

use crate::clock::{self, NoRandomness};

/// Keys of this many bytes, no fewer and no more.
pub const KEY_BYTES: usize = 32;

/// One key, as two that serve one purpose each.
pub struct Key {
    /// Its name, which every token carries.
    pub kid: String,
    pub(super) access: [u8; KEY_BYTES],
    pub(super) refresh: [u8; KEY_BYTES],
}

impl std::fmt::Debug for Key {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Key({}, …)", self.kid)
    }
}

/// All keys, the signing one first.
#[derive(Debug)]
pub struct Keys(Vec<Key>);

/// Why there are no keys.
#[derive(Debug, thiserror::Error)]
pub enum KeysRefused {
    /// The file cannot be read or written.
    #[error("the token key file {path} cannot be used")]
    File {
        /// Which file.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// Others may read it.
    #[error("the token key file {0} can be read by others; run chmod 600 on it")]
    Open(PathBuf),
    /// A line is not a key.
    #[error("line {line} of the token key file {path} is not a name and 32 bytes in base64url")]
    Line {
        /// Which file.
        path: PathBuf,
        /// Which line, from 1.
        line: usize,
    },
    /// The file has no line.
    #[error("the token key file {0} is empty")]
    Empty(PathBuf),
    /// A key could not be made.
    #[error(transparent)]
    NoRandomness(#[from] NoRandomness),
}

impl Keys {
    /// Reads the keys, making the file with one key if there is none yet.
    ///
    /// # Errors
    /// When the file cannot be used, is open to others, or does not hold keys.
    pub fn load(path: &Path) -> Result<Self, KeysRefused> {
        let unusable = |source| KeysRefused::File {
            path: path.to_owned(),
            source,
        };
        match std::fs::metadata(path) {
            Ok(about) if about.permissions().mode() & 0o077 != 0 => {
                return Err(KeysRefused::Open(path.to_owned()));
            }
            Ok(_) => {}
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => make(path)?,
            Err(error) => return Err(unusable(error)),
        }
        Self::parse(path, &std::fs::read_to_string(path).map_err(unusable)?)
    }

    fn parse(path: &Path, text: &str) -> Result<Self, KeysRefused> {
        let mut keys = Vec::new();
        for (index, line) in text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
            let key = line.trim().split_once(' ').and_then(|(kid, key)| {
                let bytes: [u8; KEY_BYTES] = URL_SAFE_NO_PAD.decode(key.trim()).ok()?.try_into().ok()?;
                (!kid.is_empty() && kid.len() <= 32).then(|| Key::new(kid, &bytes))
            });
            keys.push(key.ok_or_else(|| KeysRefused::Line {
                path: path.to_owned(),
                line: index + 1,
            })?);
        }
        if keys.is_empty() {
            Err(KeysRefused::Empty(path.to_owned()))
        } else {
            Ok(Self(keys))
        }
    }

    /// The key that signs.
    #[must_use]
    pub fn signing(&self) -> &Key {
        // Never empty: `parse` refuses that, and nothing else makes one.
        &self.0[0]
    }

    /// The key of this name.
    #[must_use]
    pub fn named(&self, kid: &str) -> Option<&Key> {
        self.0.iter().find(|key| key.kid == kid)
    }

    /// All of them, the signing one first.
    pub fn all(&self) -> impl Iterator<Item = &Key> {
        self.0.iter()
    }

    #[cfg(test)]
    pub(super) fn for_tests(seeds: &[u8]) -> Self {
        Self(
            seeds
                .iter()
                .map(|seed| Key::new(&format!("k{seed}"), &[*seed; KEY_BYTES]))
                .collect(),
        )
    }
}

impl Key {
    fn new(kid: &str, bytes: &[u8; KEY_BYTES]) -> Self {
        Self {
            kid: kid.to_owned(),
            access: mac(bytes, &[b"yardjar access token"]),
            refresh: mac(bytes, &[b"yardjar refresh token"]),
        }
    }
}

/// HMAC-SHA-256 over several pieces.
pub(super) fn mac(key: &[u8; KEY_BYTES], pieces: &[&[u8]]) -> [u8; KEY_BYTES] {
    // A key of any length is taken; the block-sized constructor cannot fail.
    let mut padded = [0; 64];
    padded[..KEY_BYTES].copy_from_slice(key);
    let mut mac = <Hmac<Sha256> as hmac::digest::KeyInit>::new(&padded.into());
    for piece in pieces {
        mac.update(piece);
    }
    mac.finalize().into_bytes().into()
}

/// Writes one new key to a file of its own and moves it into place, so that nobody ever reads half of one.
fn make(path: &Path) -> Result<(), KeysRefused> {
    let unusable = |source| KeysRefused::File {
        path: path.to_owned(),
        source,
    };
    let bytes: [u8; KEY_BYTES] = clock::random_bytes()?;
    let name: [u8; 6] = clock::random_bytes()?;
    let draft = path.with_extension(format!("new.{}", std::process::id()));
    let _ = std::fs::remove_file(&draft);
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(unusable)?;
    }
    let mut file = std::fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(&draft)
        .map_err(unusable)?;
    let line = format!("{} {}\n", URL_SAFE_NO_PAD.encode(name), URL_SAFE_NO_PAD.encode(bytes));
    file.write_all(line.as_bytes())
        .and_then(|()| file.sync_all())
        .map_err(unusable)?;
    // A link fails where a rename would replace: whoever was first keeps its key.
    match std::fs::hard_link(&draft, path) {
        Err(error) if error.kind() != std::io::ErrorKind::AlreadyExists => Err(unusable(error)),
        _ => std::fs::remove_file(&draft).map_err(unusable),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_made_once_closed_to_others_and_read_back() {
        let path = std::env::temp_dir().join(format!("yardjar-keys-{}", clock::new_id()));
        let first = Keys::load(&path).unwrap();
        assert_eq!(std::fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
        let second = Keys::load(&path).unwrap();
        assert_eq!(
            (&first.signing().kid, first.signing().access),
            (&second.signing().kid, second.signing().access)
        );
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o644)).unwrap();
        assert!(matches!(Keys::load(&path), Err(KeysRefused::Open(_))));
        std::fs::remove_file(&path).unwrap();
    }

    #[test]
    fn a_bad_line_is_named() {
        let refused = Keys::parse(Path::new("f"), "a AAAA\n").unwrap_err();
        assert!(matches!(refused, KeysRefused::Line { line: 1, .. }));
        assert!(matches!(Keys::parse(Path::new("f"), "\n"), Err(KeysRefused::Empty(_))));
    }

    #[test]
    fn the_two_purposes_never_share_a_key() {
        let keys = Keys::for_tests(&[1]);
        assert_ne!(keys.signing().access, keys.signing().refresh);
        assert!(!format!("{keys:?}").contains("access"));
    }

    #[test]
    fn the_mac_is_the_published_one() {
        // RFC 4231 has no 32-byte key; RFC 2104's padding makes a zero-extended key the same key.
        let mut key = [0; KEY_BYTES];
        key[..4].copy_from_slice(b"Jefe");
        let expected = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843";
        let made: String = mac(&key, &[b"what do ya want ", b"for nothing?"])
            .iter()
            .map(|b| format!("{b:02x}"))
            .collect();
        assert_eq!(made, expected);
    }
}

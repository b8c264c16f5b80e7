//! Passwords: which are taken, how they are hashed, and how many may be hashed at once.
//!
//! A password is used as typed: nothing is trimmed, folded or required of it but its length, that it is not on
//! the shipped list, and that it does not consist of the person's own names.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use argon2::password_hash::phc::{Output, ParamsString, PasswordHash, Salt};
use argon2::{Algorithm, Argon2, Block, Params, Version};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use zeroize::Zeroizing;

use crate::clock;
use crate::config::{PasswordCost, Secret};

/// In characters.
pub const SHORTEST: usize = 15;
/// In characters.
pub const LONGEST: usize = 256;
/// How many may wait for their turn to hash.
const QUEUE: usize = 16;
/// How many are hashed at once, however many cores there are: each needs 19 MiB.
const AT_ONCE_MAX: usize = 2;

/// Lower case, one a line.
const COMMON: &str = include_str!("common_passwords.txt");

/// Why a password is not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum PasswordRefused {
    /// Fewer characters than [`SHORTEST`].
    #[error("a password has at least {SHORTEST} characters")]
    TooShort,
    /// More characters than [`LONGEST`].
    #[error("a password has at most {LONGEST} characters")]
    TooLong,
    /// On the shipped list, or one piece over and over.
    #[error("this password is one of the first that a guesser tries")]
    Common,
    /// Hardly more than the names of the person, the login or the business.
    #[error("this password is made of names that everybody knows")]
    OwnName,
}

/// Why nothing was hashed.
#[derive(Debug, thiserror::Error)]
pub enum HashRefused {
    /// Enough wait already.
    #[error("too many passwords wait to be checked")]
    Busy,
    /// The hash could not be made.
    #[error("the password could not be hashed: {0}")]
    Broken(String),
}

/// Checks a new password against the rules.
///
/// # Errors
/// When a rule speaks against it.
pub fn acceptable(password: &Secret, own_names: &[&str]) -> Result<(), PasswordRefused> {
    let length = password.expose().chars().count();
    if length < SHORTEST {
        return Err(PasswordRefused::TooShort);
    }
    if length > LONGEST {
        return Err(PasswordRefused::TooLong);
    }
    let lower = password.expose().to_lowercase();
    if COMMON.lines().any(|line| line == lower) || repeats(&lower) {
        return Err(PasswordRefused::Common);
    }
    let names = own_names
        .iter()
        .map(|name| name.to_lowercase())
        .chain(["yardjar".to_owned()]);
    let words = names.flat_map(|name| name.split_whitespace().map(str::to_owned).collect::<Vec<_>>());
    let rest = words
        .filter(|word| word.chars().count() >= 3)
        .fold(lower, |rest, word| rest.replace(&word, ""));
    if rest.chars().filter(|c| c.is_alphanumeric()).count() < 8 {
        Err(PasswordRefused::OwnName)
    } else {
        Ok(())
    }
}

/// Whether the text is a piece of at most five characters over and over.
fn repeats(text: &str) -> bool {
    let characters: Vec<char> = text.chars().collect();
    (1..=5).any(|piece| {
        characters
            .iter()
            .skip(piece)
            .zip(&characters)
            .all(|(later, earlier)| later == earlier)
    })
}

/// Hashes passwords, a few at once: half the cores, so that the rest of the service keeps going.
#[derive(Clone)]
pub struct Hasher {
    params: Params,
    at_once: Arc<Semaphore>,
    waiting: Arc<AtomicUsize>,
    nobodys: Arc<str>,
}

impl Hasher {
    /// A hasher of this cost.
    ///
    /// # Errors
    /// When the system has no randomness to give, or the parameters are impossible.
    pub fn new(cost: PasswordCost) -> Result<Self, HashRefused> {
        let (memory_kib, passes) = match cost {
            PasswordCost::Full => (19_456, 2),
            PasswordCost::Cheap => (64, 1),
        };
        let params =
            Params::new(memory_kib, passes, 1, None).map_err(|error| HashRefused::Broken(error.to_string()))?;
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        let nobodys = made_hash(&params, "nobody has this password").map_err(HashRefused::Broken)?;
        Ok(Self {
            params,
            at_once: Arc::new(Semaphore::new((cores / 2).clamp(1, AT_ONCE_MAX))),
            waiting: Arc::default(),
            nobodys: nobodys.into(),
        })
    }

    /// Hashes a password for keeping.
    ///
    /// # Errors
    /// When too many wait, or the hash cannot be made.
    pub async fn hash(&self, password: &Secret) -> Result<String, HashRefused> {
        let (params, password) = (self.params.clone(), password.clone());
        self.work(move || made_hash(&params, password.expose()))
            .await?
            .map_err(HashRefused::Broken)
    }

    /// Whether a password fits a kept hash. Without one, it takes as long and answers no.
    ///
    /// # Errors
    /// When too many wait.
    pub async fn fits(&self, password: &Secret, kept: Option<&str>) -> Result<bool, HashRefused> {
        let known = kept.is_some();
        let kept = kept.unwrap_or(&self.nobodys).to_owned();
        let password = password.clone();
        let fits = self.work(move || is_hash_of(&kept, password.expose()));
        Ok(fits.await?.unwrap_or(false) && known)
    }

    async fn work<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> Result<T, HashRefused> {
        let turn = self.turn().await?;
        let done = tokio::task::spawn_blocking(move || {
            let answer = work();
            drop(turn);
            answer
        });
        done.await.map_err(|error| HashRefused::Broken(error.to_string()))
    }

    async fn turn(&self) -> Result<OwnedSemaphorePermit, HashRefused> {
        if let Ok(turn) = Arc::clone(&self.at_once).try_acquire_owned() {
            return Ok(turn);
        }
        let _place = Place::take(&self.waiting).ok_or(HashRefused::Busy)?;
        Arc::clone(&self.at_once)
            .acquire_owned()
            .await
            .map_err(|_| HashRefused::Busy)
    }
}

/// A place in the queue, given back however the wait ends.
struct Place<'a>(&'a AtomicUsize);

impl<'a> Place<'a> {
    fn take(waiting: &'a AtomicUsize) -> Option<Self> {
        let place = Self(waiting);
        (waiting.fetch_add(1, Ordering::Relaxed) < QUEUE).then_some(place)
    }
}

impl Drop for Place<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::Relaxed);
    }
}

/// Hashes a password for keeping, with a salt of its own.
fn made_hash(params: &Params, password: &str) -> Result<String, String> {
    let salt: [u8; 16] = clock::random_bytes().map_err(|error| error.to_string())?;
    let salt = Salt::new(&salt).map_err(|error| error.to_string())?;
    let (algorithm, version) = (Algorithm::Argon2id, Version::V0x13);
    let argon = Argon2::new(algorithm, version, params.clone());
    let output = output_of(&argon, password, &salt).map_err(|error| error.to_string())?;
    let hash = PasswordHash {
        algorithm: algorithm.ident(),
        version: Some(version.into()),
        params: ParamsString::try_from(params).map_err(|error| error.to_string())?,
        salt: Some(salt),
        hash: Some(output),
    };
    Ok(hash.to_string())
}

/// Whether a password fits a kept hash, by the cost that was kept with it.
fn is_hash_of(kept: &str, password: &str) -> Result<bool, argon2::password_hash::Error> {
    let kept = PasswordHash::new(kept)?;
    let (Some(salt), Some(expected)) = (&kept.salt, &kept.hash) else {
        return Ok(false);
    };
    let algorithm = Algorithm::try_from(kept.algorithm.as_str())?;
    let version = kept.version.map_or(Ok(Version::default()), Version::try_from)?;
    let argon = Argon2::new(algorithm, version, Params::try_from(&kept)?);
    // Comparing takes as long whether they differ early or late.
    Ok(*expected == output_of(&argon, password, salt)?)
}

/// The memory that this takes goes back to the system, as `MALLOC_MMAP_THRESHOLD_` in `deploy` says: nobody signs in
/// for most of the day.
fn output_of(argon: &Argon2<'_>, password: &str, salt: &[u8]) -> Result<Output, argon2::password_hash::Error> {
    let length = argon.params().output_len().unwrap_or(Params::DEFAULT_OUTPUT_LEN);
    let mut output = vec![0; length];
    // Nothing of a password stays behind.
    let mut memory = Zeroizing::new(vec![Block::new(); argon.params().block_count()]);
    argon.hash_password_into_with_memory(password.as_bytes(), salt, &mut output, memory.as_mut_slice())?;
    Ok(Output::new(&output)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn judged(password: &str) -> Result<(), PasswordRefused> {
        acceptable(&Secret::new(password), &["anna", "Anna Lindqvist", "Hill Road Bees"])
    }

    #[test]
    fn length_is_counted_in_characters() {
        assert_eq!(judged("fourteen chars"), Err(PasswordRefused::TooShort));
        assert_eq!(judged("fifteen  chars!"), Ok(()));
        assert_eq!(judged("żółćęśąźńżółćęś"), Ok(()));
        assert_eq!(judged(&"ab c".repeat(65)), Err(PasswordRefused::TooLong));
    }

    #[test]
    fn the_first_guesses_are_refused() {
        for guess in [
            "PasswordPassword",
            "aaaaaaaaaaaaaaaaaaaa",
            "honeyhoneyhoneyhoney",
            "1q2w3e4r5t6y7u8i",
        ] {
            assert_eq!(judged(guess), Err(PasswordRefused::Common), "{guess}");
        }
    }

    #[test]
    fn own_names_do_not_count() {
        assert_eq!(judged("AnnaLindqvist2025"), Err(PasswordRefused::OwnName));
        assert_eq!(judged("hill road bees 1"), Err(PasswordRefused::OwnName));
        assert_eq!(judged("anna keeps a blue kettle"), Ok(()));
    }

    #[test]
    fn the_list_holds_only_what_is_long_enough_to_matter() {
        for line in COMMON.lines() {
            assert!(line.chars().count() >= SHORTEST, "{line}");
            assert_eq!(line, line.to_lowercase());
        }
    }

    #[tokio::test]
    async fn a_hash_fits_its_password_only() {
        let hasher = Hasher::new(PasswordCost::Cheap).unwrap();
        let kept = hasher.hash(&Secret::new("a blue kettle on the stove")).await.unwrap();
        assert!(
            hasher
                .fits(&Secret::new("a blue kettle on the stove"), Some(&kept))
                .await
                .unwrap()
        );
        assert!(
            !hasher
                .fits(&Secret::new("A blue kettle on the stove"), Some(&kept))
                .await
                .unwrap()
        );
        assert!(
            !hasher
                .fits(&Secret::new("nobody has this password"), None)
                .await
                .unwrap()
        );
    }

    #[test]
    fn a_hash_is_that_of_the_library() {
        use argon2::{PasswordHasher as _, PasswordVerifier as _};
        let params = Params::new(256, 2, 1, None).unwrap();
        let argon = Argon2::new(Algorithm::Argon2id, Version::V0x13, params.clone());
        let ours = made_hash(&params, "a blue kettle").unwrap();
        let parsed = PasswordHash::new(&ours).unwrap();
        assert!(argon.verify_password(b"a blue kettle", &parsed).is_ok());
        let theirs = argon
            .hash_password_with_salt(b"a red kettle", b"sixteen bytes ok")
            .unwrap()
            .to_string();
        assert!(is_hash_of(&theirs, "a red kettle").unwrap());
        assert!(!is_hash_of(&theirs, "a blue kettle").unwrap());
        assert!(is_hash_of(&ours, "a blue kettle").unwrap());
    }

    #[test]
    fn the_full_cost_is_the_published_one() {
        let hasher = Hasher::new(PasswordCost::Full).unwrap();
        assert!(
            hasher.nobodys.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"),
            "{}",
            hasher.nobodys
        );
    }

    #[tokio::test]
    async fn a_long_queue_is_busy_and_empties_again() {
        let hasher = Hasher::new(PasswordCost::Cheap).unwrap();
        let all = u32::try_from(hasher.at_once.available_permits()).unwrap();
        let held = hasher.at_once.acquire_many(all).await.unwrap();
        let places: Vec<_> = (0..QUEUE).map_while(|_| Place::take(&hasher.waiting)).collect();
        assert_eq!(places.len(), QUEUE);
        let refused = hasher.hash(&Secret::new("x")).await;
        assert!(matches!(refused, Err(HashRefused::Busy)));
        drop((held, places));
        assert!(hasher.hash(&Secret::new("x")).await.is_ok());
    }
}

//! What the environment says, read once at the start; every mistake is told in one message.
//!
//! Nothing else reads the environment. A secret may be given as itself or, better, as the name of a file that
//! holds it (`…_FILE`). There is no configuration file.

use std::fmt;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::time::Duration;

use crate::photos::{Address, BucketSettings};

/// How long the bucket of the photos may be silent.
const BUCKET_PATIENCE: Duration = Duration::from_secs(10);

/// A text that must not reach a log or a message; it prints as a row of dots.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(String);

impl Secret {
    /// Takes a text into custody.
    #[must_use]
    pub fn new(text: impl Into<String>) -> Self {
        Self(text.into())
    }

    /// The text itself, for the one call that needs it.
    #[must_use]
    pub fn expose(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("…")
    }
}

impl<'de> serde::Deserialize<'de> for Secret {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer).map(Self)
    }
}

/// How log lines look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LogFormat {
    /// For people.
    Text,
    /// For programs, one object a line.
    Json,
}

/// How much work a password costs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PasswordCost {
    /// 19 MiB and two passes.
    Full,
    /// Next to nothing: for tests only, and not to be had through the environment.
    Cheap,
}

/// How the service speaks to phones.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Transport {
    /// Plain HTTP: on the loopback, or behind a proxy that does TLS.
    Plain,
    /// TLS with a certificate from these files, read anew when they change.
    Given {
        /// The certificate and those between it and its authority, as PEM.
        certificate: PathBuf,
        /// Its key, as PEM.
        key: PathBuf,
    },
    /// TLS with a certificate of the service's own small authority, good for a local network.
    Own {
        /// Names and addresses besides those the machine has.
        names: Vec<String>,
    },
}

/// Everything that can be set.
#[derive(Debug, Clone)]
pub struct Config {
    /// Where the token key and the private database lie.
    pub data: PathBuf,
    /// Where the service listens.
    pub listen: SocketAddr,
    /// A proxy in front does TLS; without one, plain HTTP stays on the loopback.
    pub behind_proxy: bool,
    /// How the service speaks to phones.
    pub transport: Transport,
    /// Which PostgreSQL; none means a private one.
    pub database_url: Option<Secret>,
    /// Where the programs of the private PostgreSQL are, if not in a usual place.
    pub pg_bin: Option<PathBuf>,
    /// Where the token keys are; made when absent.
    pub token_key_file: PathBuf,
    /// The bucket that photos are kept in; none means the data folder.
    pub photos: Option<BucketSettings>,
    /// Which log lines are written.
    pub log: String,
    /// How they look.
    pub log_format: LogFormat,
    /// Whether `/docs` and `/openapi.json` are served.
    pub docs: bool,
    /// How many database connections.
    pub pool: usize,
    /// A throw-away test database may run without fsync.
    pub allow_fsync_off: bool,
    /// What hashing a password costs.
    pub password_cost: PasswordCost,
    /// A demo: the page says that all of it is made up, before anybody has signed in.
    pub invented: bool,
}

/// All mistakes of the environment.
#[derive(Debug, thiserror::Error)]
#[error("the settings are wrong:\n{}", .0.iter().map(|m| format!("  {m}")).collect::<Vec<_>>().join("\n"))]
pub struct ConfigMistakes(Vec<String>);

impl Config {
    /// Reads the environment of this process.
    ///
    /// # Errors
    /// When anything set is wrong; the message lists all of it.
    pub fn from_env() -> Result<Self, ConfigMistakes> {
        let variables = |name: &str| std::env::var(name).ok();
        Self::read(&variables)
    }

    /// Settings for a test: a free port, the given database, cheap passwords, docs on.
    #[must_use]
    pub fn for_tests(database_url: &str, data: impl Into<PathBuf>) -> Self {
        let data = data.into();
        Self {
            listen: SocketAddr::from((Ipv4Addr::LOCALHOST, 0)),
            behind_proxy: false,
            transport: Transport::Plain,
            database_url: Some(Secret::new(database_url)),
            pg_bin: None,
            token_key_file: data.join("token.keys"),
            photos: None,
            data,
            log: "warn".to_owned(),
            log_format: LogFormat::Text,
            docs: true,
            pool: 8,
            allow_fsync_off: true,
            password_cost: PasswordCost::Cheap,
            invented: false,
        }
    }

    fn read(variables: &dyn Fn(&str) -> Option<String>) -> Result<Self, ConfigMistakes> {
        let mut reader = Reader {
            variables,
            mistakes: Vec::new(),
        };
        let data = reader.data();
        let listen = reader.parsed(
            "YARDJAR_LISTEN",
            SocketAddr::from((Ipv4Addr::LOCALHOST, 8470)),
            "address:port",
        );
        let behind_proxy = reader.choice("YARDJAR_BEHIND_PROXY", false, &[("yes", true), ("no", false)]);
        let transport = reader.transport(listen, behind_proxy);
        let on_loopback = listen.ip().is_loopback() && !behind_proxy;
        let config = Self {
            database_url: reader.secret("DATABASE_URL"),
            pg_bin: reader.text("YARDJAR_PG_BIN").map(PathBuf::from),
            token_key_file: reader
                .text("YARDJAR_TOKEN_KEY_FILE")
                .map_or_else(|| data.join("token.keys"), PathBuf::from),
            photos: reader.photos(),
            log: reader
                .text("YARDJAR_LOG")
                .unwrap_or_else(|| "info,actix_server=warn".to_owned()),
            log_format: reader.choice(
                "YARDJAR_LOG_FORMAT",
                LogFormat::Text,
                &[("text", LogFormat::Text), ("json", LogFormat::Json)],
            ),
            docs: reader.choice("YARDJAR_DOCS", on_loopback, &[("on", true), ("off", false)]),
            pool: reader.pool(),
            allow_fsync_off: reader.choice("YARDJAR_ALLOW_FSYNC_OFF", false, &[("yes", true), ("no", false)]),
            password_cost: PasswordCost::Full,
            invented: false,
            data,
            listen,
            behind_proxy,
            transport,
        };
        if reader.mistakes.is_empty() {
            Ok(config)
        } else {
            Err(ConfigMistakes(reader.mistakes))
        }
    }
}

struct Reader<'a> {
    variables: &'a dyn Fn(&str) -> Option<String>,
    mistakes: Vec<String>,
}

impl Reader<'_> {
    fn text(&self, name: &str) -> Option<String> {
        (self.variables)(name).filter(|value| !value.is_empty())
    }

    /// The data folder: as told, or where programs of one user keep theirs.
    fn data(&mut self) -> PathBuf {
        if let Some(data) = self.text("YARDJAR_DATA") {
            return PathBuf::from(data);
        }
        let home = self.text("XDG_DATA_HOME").map(PathBuf::from);
        let home = home.or_else(|| self.text("HOME").map(|home| PathBuf::from(home).join(".local/share")));
        home.map_or_else(
            || {
                self.mistakes
                    .push("YARDJAR_DATA: not set, and there is no HOME to fall back on".to_owned());
                PathBuf::new()
            },
            |home| home.join("yardjar"),
        )
    }

    fn secret(&mut self, name: &str) -> Option<Secret> {
        let file_name = format!("{name}_FILE");
        match (self.text(name), self.text(&file_name)) {
            (Some(_), Some(_)) => {
                self.mistakes.push(format!("{name} and {file_name}: set one of them"));
                None
            }
            (Some(value), None) => Some(Secret::new(value)),
            (None, Some(path)) => match std::fs::read_to_string(&path) {
                Ok(value) => Some(Secret::new(value.trim_end_matches(['\r', '\n']))),
                Err(error) => {
                    self.mistakes.push(format!("{file_name}: cannot read {path}: {error}"));
                    None
                }
            },
            (None, None) => None,
        }
    }

    fn parsed<T: std::str::FromStr>(&mut self, name: &str, default: T, form: &str) -> T {
        let Some(value) = self.text(name) else {
            return default;
        };
        value.parse().unwrap_or_else(|_| {
            self.mistakes
                .push(format!("{name}: {value:?} is not of the form {form}"));
            default
        })
    }

    fn choice<T: Copy>(&mut self, name: &str, default: T, choices: &[(&str, T)]) -> T {
        let Some(value) = self.text(name) else {
            return default;
        };
        if let Some((_, chosen)) = choices.iter().find(|(word, _)| *word == value) {
            return *chosen;
        }
        let words: Vec<_> = choices.iter().map(|(word, _)| *word).collect();
        self.mistakes
            .push(format!("{name}: {value:?} is none of {}", words.join(", ")));
        default
    }

    /// A certificate given is used everywhere; without one, what others can reach gets one of our own.
    fn transport(&mut self, listen: SocketAddr, behind_proxy: bool) -> Transport {
        let files = (self.text("YARDJAR_TLS_CERT_FILE"), self.text("YARDJAR_TLS_KEY_FILE"));
        let names = self.text("YARDJAR_NAMES").unwrap_or_default();
        let names: Vec<String> = names
            .split([',', ' '])
            .filter(|name| !name.is_empty())
            .map(str::to_lowercase)
            .collect();
        match files {
            (Some(_), _) | (_, Some(_)) if behind_proxy => {
                let says = "YARDJAR_TLS_CERT_FILE: the proxy in front does TLS; set this or YARDJAR_BEHIND_PROXY";
                self.mistakes.push(says.to_owned());
            }
            (Some(certificate), Some(key)) => {
                return Transport::Given {
                    certificate: certificate.into(),
                    key: key.into(),
                };
            }
            (None, None) if listen.ip().is_loopback() || behind_proxy => {}
            (None, None) => return Transport::Own { names },
            _ => {
                let says = "YARDJAR_TLS_CERT_FILE and YARDJAR_TLS_KEY_FILE: set both of them";
                self.mistakes.push(says.to_owned());
            }
        }
        Transport::Plain
    }

    /// A bucket comes with its key.
    fn photos(&mut self) -> Option<BucketSettings> {
        let (key_id, secret) = (
            self.secret("YARDJAR_PHOTOS_KEY_ID"),
            self.secret("YARDJAR_PHOTOS_SECRET"),
        );
        let Some(address) = self.text("YARDJAR_PHOTOS") else {
            if key_id.is_some() || secret.is_some() {
                let says = "YARDJAR_PHOTOS: not set, but there is a key for it; set the address, or take the key away";
                self.mistakes.push(says.to_owned());
            }
            return None;
        };
        let address: Result<Address, _> = address.parse();
        let (Ok(address), Some(key_id), Some(secret)) = (&address, &key_id, &secret) else {
            self.mistakes
                .extend(address.err().map(|error| format!("YARDJAR_PHOTOS: {error}")));
            for (name, given) in [("YARDJAR_PHOTOS_KEY_ID", &key_id), ("YARDJAR_PHOTOS_SECRET", &secret)] {
                if given.is_none() {
                    self.mistakes
                        .push(format!("{name}: not set; a bucket needs it, or {name}_FILE"));
                }
            }
            return None;
        };
        Some(BucketSettings {
            address: address.clone(),
            key_id: key_id.clone(),
            secret: secret.clone(),
            patience: BUCKET_PATIENCE,
        })
    }

    fn pool(&mut self) -> usize {
        let pool = self.parsed("YARDJAR_POOL", 12, "a number from 1 to 200");
        if !(1..=200).contains(&pool) {
            self.mistakes.push(format!("YARDJAR_POOL: {pool} is not from 1 to 200"));
        }
        pool
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(pairs: &[(&str, &str)]) -> Result<Config, ConfigMistakes> {
        let variables = |name: &str| {
            let found = pairs.iter().find(|(key, _)| *key == name);
            found
                .map(|(_, value)| (*value).to_owned())
                .or_else(|| (name == "HOME").then(|| "/home/bee".to_owned()))
        };
        Config::read(&variables)
    }

    #[test]
    fn nothing_set_is_one_machine_on_the_loopback() {
        let config = read(&[]).unwrap();
        assert_eq!(config.listen.to_string(), "127.0.0.1:8470");
        assert_eq!(config.data, PathBuf::from("/home/bee/.local/share/yardjar"));
        assert!(config.docs && config.database_url.is_none() && !config.allow_fsync_off);
    }

    #[test]
    fn what_others_can_reach_is_not_plain_http() {
        let transport = |pairs: &[(&str, &str)]| read(pairs).unwrap().transport;
        assert_eq!(transport(&[]), Transport::Plain);
        let names = vec!["honey.local".to_owned(), "10.0.0.7".to_owned()];
        let open = [
            ("YARDJAR_LISTEN", "0.0.0.0:8470"),
            ("YARDJAR_NAMES", "Honey.local, 10.0.0.7"),
        ];
        assert_eq!(transport(&open), Transport::Own { names });
        let proxied = read(&[("YARDJAR_LISTEN", "0.0.0.0:80"), ("YARDJAR_BEHIND_PROXY", "yes")]).unwrap();
        assert_eq!(proxied.transport, Transport::Plain);
        assert!(!proxied.docs, "no documentation pages in the open unless asked for");
    }

    #[test]
    fn a_certificate_comes_with_its_key_and_not_with_a_proxy() {
        let (certificate, key) = (("YARDJAR_TLS_CERT_FILE", "/c"), ("YARDJAR_TLS_KEY_FILE", "/k"));
        let given = Transport::Given {
            certificate: "/c".into(),
            key: "/k".into(),
        };
        assert_eq!(read(&[certificate, key]).unwrap().transport, given);
        assert!(read(&[certificate]).is_err() && read(&[key]).is_err());
        assert!(read(&[certificate, key, ("YARDJAR_BEHIND_PROXY", "yes")]).is_err());
    }

    #[test]
    fn all_mistakes_are_told_at_once() {
        let wrong = [
            ("YARDJAR_LISTEN", "here"),
            ("YARDJAR_POOL", "0"),
            ("YARDJAR_DOCS", "maybe"),
        ];
        let message = read(&wrong).unwrap_err().to_string();
        for (name, _) in wrong {
            assert!(message.contains(name), "{message}");
        }
    }

    #[test]
    fn a_secret_comes_from_a_file_and_does_not_print() {
        let path = std::env::temp_dir().join(format!("yardjar-config-{}", std::process::id()));
        std::fs::write(&path, "postgres://bee:sting@h/db\n").unwrap();
        let config = read(&[("DATABASE_URL_FILE", path.to_str().unwrap())]).unwrap();
        std::fs::remove_file(&path).unwrap();
        assert_eq!(
            config.database_url.as_ref().unwrap().expose(),
            "postgres://bee:sting@h/db"
        );
        assert!(!format!("{config:?}").contains("sting"));
    }

    #[test]
    fn a_bucket_comes_with_its_key_and_shows_none_of_it() {
        let address = ("YARDJAR_PHOTOS", "s3://honey/jars?endpoint=https://store.example");
        let key = [("YARDJAR_PHOTOS_KEY_ID", "drone"), ("YARDJAR_PHOTOS_SECRET", "sting")];
        assert!(read(&[]).unwrap().photos.is_none());
        let config = read(&[address, key[0], key[1]]).unwrap();
        assert_eq!(config.photos.as_ref().unwrap().address.bucket, "honey");
        assert!(!format!("{config:?}").contains("sting") && !format!("{config:?}").contains("drone"));
        for (given, says) in [
            (&[address, key[0]][..], "YARDJAR_PHOTOS_SECRET: not set"),
            (&[address, key[1]], "YARDJAR_PHOTOS_KEY_ID: not set"),
            (&[key[0], key[1]], "YARDJAR_PHOTOS: not set"),
            (
                &[("YARDJAR_PHOTOS", "s3://honey"), key[0], key[1]],
                "YARDJAR_PHOTOS: needs endpoint=",
            ),
        ] {
            let message = read(given).unwrap_err().to_string();
            assert!(message.contains(says) && !message.contains("sting"), "{message}");
        }
    }

    #[test]
    fn a_secret_given_twice_is_a_mistake() {
        assert!(read(&[("DATABASE_URL", "a"), ("DATABASE_URL_FILE", "b")]).is_err());
    }
}

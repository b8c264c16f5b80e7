//! Where the private server keeps its things: the data folder, its parts, the lock, the socket.
//!
//! Only paths, owners and permission bits belong here; what is inside the cluster is in
//! `cluster`.

use std::fs::{self, DirBuilder, File, OpenOptions, Permissions, TryLockError};
use std::io::{ErrorKind, Write};
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::{DirBuilderExt, MetadataExt, OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::{Duration, Instant};

use super::account::ServerAccount;
use super::error::PrivatePostgresError;

/// The server listens on no port; this only names its socket file.
pub(super) const PORT: &str = "5432";

/// The address of a Unix socket has 108 bytes, the last of them zero.
const LONGEST_SOCKET_PATH: usize = 107;

/// A killed predecessor may take this long to vanish.
const LOCK_WITHIN: Duration = Duration::from_millis(1_500);

/// A log longer than this is put aside at the next start.
const LOG_LIMIT_BYTES: u64 = 8 * 1024 * 1024;

/// The paths of one private server.
#[derive(Debug)]
pub(super) struct Folders {
    pub(super) data_dir: PathBuf,
    pub(super) cluster: PathBuf,
    pub(super) socket_dir: PathBuf,
    pub(super) log: PathBuf,
    /// Stands in the title of every process of the server, so that `ps` tells whose it is.
    pub(super) cluster_name: String,
}

impl Folders {
    /// Makes the data folder if need be and settles where everything goes.
    pub(super) fn prepare(data_dir: &Path, account: ServerAccount) -> Result<Self, PrivatePostgresError> {
        let absolute = std::path::absolute(data_dir).map_err(PrivatePostgresError::unusable(data_dir))?;
        make_all(&absolute, account)?;
        // Compared with what the system reports about running processes, hence without links.
        let data_dir = fs::canonicalize(&absolute).map_err(PrivatePostgresError::unusable(&absolute))?;
        let cluster_name = format!("yardjar-{:016x}", fingerprint(&data_dir));
        Ok(Self {
            cluster: data_dir.join("cluster"),
            socket_dir: socket_dir(&data_dir, &cluster_name, account),
            log: data_dir.join("postgres.log"),
            cluster_name,
            data_dir,
        })
    }

    /// Makes sure nobody else works with this data, for as long as the returned file is open.
    ///
    /// The system gives the lock up when the process ends, however it ends.
    pub(super) fn lock(&self) -> Result<File, PrivatePostgresError> {
        let path = self.data_dir.join("lock");
        let unusable = || PrivatePostgresError::unusable(&path);
        let mut file = OpenOptions::new()
            .create(true)
            .truncate(false)
            .read(true)
            .write(true)
            .mode(0o600)
            .open(&path)
            .map_err(unusable())?;
        let began = Instant::now();
        loop {
            match file.try_lock() {
                Ok(()) => break,
                Err(TryLockError::Error(source)) => return Err(unusable()(source)),
                Err(TryLockError::WouldBlock) if began.elapsed() < LOCK_WITHIN => {
                    sleep(Duration::from_millis(50));
                }
                Err(TryLockError::WouldBlock) => {
                    let signed = fs::read_to_string(&path).unwrap_or_default();
                    let pid = match signed.trim() {
                        "" => "unknown".to_owned(),
                        pid => pid.to_owned(),
                    };
                    return Err(PrivatePostgresError::InUse {
                        data_dir: self.data_dir.clone(),
                        pid,
                    });
                }
            }
        }
        file.set_len(0).map_err(unusable())?;
        writeln!(file, "{}", std::process::id()).map_err(unusable())?;
        Ok(file)
    }

    /// Makes the socket's folder, or checks that the one that is there is safe.
    ///
    /// The server trusts whoever reaches its socket, so this folder is the whole of the access
    /// control: nobody but the server's user may enter.
    pub(super) fn prepare_socket_dir(&self, account: ServerAccount) -> Result<(), PrivatePostgresError> {
        let dir = &self.socket_dir;
        match DirBuilder::new().mode(0o700).create(dir) {
            Ok(()) => return account.give(dir),
            Err(error) if error.kind() == ErrorKind::AlreadyExists => {}
            Err(error) => return Err(PrivatePostgresError::unusable(dir)(error)),
        }
        // Not following links: in /tmp, anybody may have put one there.
        let found = fs::symlink_metadata(dir).map_err(PrivatePostgresError::unusable(dir))?;
        let mode = found.mode() & 0o7777;
        if found.is_dir() && found.uid() == account.uid() && mode & 0o077 == 0 {
            return Ok(());
        }
        Err(PrivatePostgresError::FolderNotOurs {
            dir: dir.clone(),
            owner: found.uid(),
            mode,
            wanted_owner: account.uid(),
        })
    }

    pub(super) fn socket(&self) -> PathBuf {
        self.socket_dir.join(format!(".s.PGSQL.{PORT}"))
    }

    /// Opens the server's log for writing at its end.
    pub(super) fn open_log(&self) -> Result<File, PrivatePostgresError> {
        if fs::metadata(&self.log).is_ok_and(|found| found.len() > LOG_LIMIT_BYTES) {
            let aside = self.data_dir.join("postgres.log.1");
            fs::rename(&self.log, &aside).map_err(PrivatePostgresError::unusable(&aside))?;
        }
        OpenOptions::new()
            .create(true)
            .append(true)
            .mode(0o600)
            .open(&self.log)
            .map_err(PrivatePostgresError::unusable(&self.log))
    }
}

/// Makes `dir` and what is missing above it. Folders that exist are left as they are.
fn make_all(dir: &Path, account: ServerAccount) -> Result<(), PrivatePostgresError> {
    // The server's user has to pass through, but need not see what else is there.
    let mode = match account {
        ServerAccount::Same { .. } => 0o700,
        ServerAccount::Postgres { .. } => 0o711,
    };
    let mut missing: Vec<&Path> = dir
        .ancestors()
        .take_while(|step| fs::symlink_metadata(step).is_err())
        .collect();
    while let Some(step) = missing.pop() {
        match fs::create_dir(step) {
            // Set afterwards, because the umask would have its say otherwise.
            Ok(()) => {
                fs::set_permissions(step, Permissions::from_mode(mode)).map_err(PrivatePostgresError::unusable(step))?
            }
            Err(error) if error.kind() == ErrorKind::AlreadyExists => {}
            Err(error) => return Err(PrivatePostgresError::unusable(step)(error)),
        }
    }
    Ok(())
}

/// `<data_dir>/socket`, unless no socket could live there or no client could be told of it.
fn socket_dir(data_dir: &Path, cluster_name: &str, account: ServerAccount) -> PathBuf {
    let beside = data_dir.join("socket");
    if can_hold_socket(&beside) {
        return beside;
    }
    // The folder for running programs is closed to everyone but its user, so it does not serve
    // when the server runs as somebody else.
    let running = match account {
        ServerAccount::Same { .. } => std::env::var_os("XDG_RUNTIME_DIR").map(PathBuf::from),
        ServerAccount::Postgres { .. } => None,
    };
    running
        .filter(|dir| dir.is_absolute() && dir.is_dir())
        .map(|dir| dir.join(cluster_name))
        .filter(|dir| can_hold_socket(dir))
        .unwrap_or_else(|| Path::new("/tmp").join(cluster_name))
}

/// Short enough, and free of what separates several folders in the setting and in an address.
fn can_hold_socket(dir: &Path) -> bool {
    let name_bytes = "/.s.PGSQL.".len() + PORT.len();
    dir.to_str().is_some_and(|text| {
        text.len() + name_bytes <= LONGEST_SOCKET_PATH
            && !text.contains(|c: char| c == ',' || c == '"' || c.is_control())
    })
}

/// FNV-1a, 64 bits. It must come out the same in every build, which the standard hashers do not
/// promise; it guards nothing.
fn fingerprint(path: &Path) -> u64 {
    path.as_os_str()
        .as_bytes()
        .iter()
        .fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
            (hash ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3)
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    const POSTGRES: ServerAccount = ServerAccount::Postgres { uid: 101, gid: 104 };

    #[test]
    fn a_short_path_keeps_its_socket_beside_the_data() {
        let dir = socket_dir(Path::new("/srv/yardjar"), "yardjar-1", POSTGRES);
        assert_eq!(dir, Path::new("/srv/yardjar/socket"));
    }

    #[test]
    fn the_limit_is_met_to_the_byte() {
        let fits = format!(
            "/{}",
            "a".repeat(LONGEST_SOCKET_PATH - "/socket/.s.PGSQL.5432".len() - 1)
        );
        assert_eq!(
            socket_dir(Path::new(&fits), "yardjar-1", POSTGRES),
            Path::new(&fits).join("socket")
        );
        let long = format!("{fits}a");
        assert_eq!(
            socket_dir(Path::new(&long), "yardjar-1", POSTGRES),
            Path::new("/tmp/yardjar-1")
        );
    }

    #[test]
    fn a_comma_sends_the_socket_elsewhere() {
        let dir = socket_dir(Path::new("/srv/a,b"), "yardjar-1", POSTGRES);
        assert_eq!(dir, Path::new("/tmp/yardjar-1"));
    }

    #[test]
    fn the_fingerprint_is_the_published_one() {
        assert_eq!(fingerprint(Path::new("a")), 0xaf63_dc4c_8601_ec8c);
    }
}

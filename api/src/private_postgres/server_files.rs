//! Finding the programs of a PostgreSQL server that fit the data.
//!
//! Nothing is installed or fetched here, and nothing is started but `postgres --version`.

use std::ffi::OsStr;
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

use super::account::ServerAccount;
use super::cluster::cluster_major;
use super::error::{Looked, PrivatePostgresError, WantedVersion};

/// The oldest major version whose `initdb` and `pg_ctl` take the arguments used here.
const OLDEST_MAJOR: u32 = 14;

/// What a bin folder must hold to be of use.
const PROGRAMS: [&str; 3] = ["postgres", "initdb", "pg_ctl"];

/// Deeper than any unpacked server keeps its bin folder.
const UNPACKED_DEPTH: u32 = 6;

/// A bin folder with the programs of a server, and their major version.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ServerFiles {
    bin: PathBuf,
    major: u32,
}

impl ServerFiles {
    /// The folder with the programs.
    #[must_use]
    pub fn bin_dir(&self) -> &Path {
        &self.bin
    }

    /// The major version of the programs.
    #[must_use]
    pub fn major(&self) -> u32 {
        self.major
    }

    pub(super) fn program(&self, name: &str) -> PathBuf {
        self.bin.join(name)
    }
}

/// Finds server programs that can read the data in `data_dir`, or, if there is none yet, the
/// newest that will do for new data.
///
/// A folder named in `explicit` is the only one tried. Otherwise the order is: the folders of the
/// Debian packages, a server unpacked into `pg-server` beside `data_dir`, the folders in `PATH`.
///
/// # Errors
/// When nothing fits, with every place that was tried; when root has nobody to run a server as.
pub fn find_server_files(data_dir: &Path, explicit: Option<&Path>) -> Result<ServerFiles, PrivatePostgresError> {
    let data_dir = std::path::absolute(data_dir).map_err(PrivatePostgresError::unusable(data_dir))?;
    let wanted = match cluster_major(&data_dir.join("cluster"))? {
        Some(major) => WantedVersion::Exactly(major),
        None => WantedVersion::AtLeast(OLDEST_MAJOR),
    };
    if let Some(dir) = explicit {
        return inspect(dir, wanted)?.map_err(|reason| PrivatePostgresError::ServerFilesUnfit {
            dir: dir.to_path_buf(),
            reason,
            wanted,
        });
    }
    let mut looked = Vec::new();
    for (place, folders) in places(&data_dir) {
        if folders.is_empty() {
            looked.push(Looked {
                place,
                found: "nothing there".to_owned(),
            });
            continue;
        }
        let mut fitting = Vec::new();
        for bin in folders {
            match inspect(&bin, wanted)? {
                Ok(files) => fitting.push(files),
                Err(found) => looked.push(Looked {
                    place: bin.display().to_string(),
                    found,
                }),
            }
        }
        if let Some(files) = fitting.into_iter().max_by_key(|files| files.major) {
            return Ok(files);
        }
    }
    Err(PrivatePostgresError::ServerFilesNotFound { wanted, looked })
}

/// Where to look, in this order, each with a name for when it is empty.
fn places(data_dir: &Path) -> Vec<(String, Vec<PathBuf>)> {
    let debian = Path::new("/usr/lib/postgresql");
    let packaged = subfolders(debian)
        .into_iter()
        .map(|version| version.join("bin"))
        .collect();
    let unpacked = data_dir.parent().unwrap_or(data_dir).join("pg-server");
    let mut unpacked_bins = Vec::new();
    collect_bins(&unpacked, UNPACKED_DEPTH, &mut unpacked_bins);
    // Most folders in PATH hold no server at all; naming each would bury what matters.
    let in_path = std::env::var_os("PATH").unwrap_or_default();
    let path_bins = std::env::split_paths(&in_path)
        .filter(|dir| dir.is_absolute() && dir.join("postgres").is_file())
        .collect();
    vec![
        ("/usr/lib/postgresql/*/bin".to_owned(), packaged),
        (unpacked.display().to_string(), unpacked_bins),
        ("the folders in PATH".to_owned(), path_bins),
    ]
}

/// The files in `bin`, or the reason why they do not serve.
fn inspect(bin: &Path, wanted: WantedVersion) -> Result<Result<ServerFiles, String>, PrivatePostgresError> {
    for name in PROGRAMS {
        let Ok(found) = fs::metadata(bin.join(name)) else {
            return Ok(Err(format!("has no {name}")));
        };
        if found.permissions().mode() & 0o111 == 0 {
            return Ok(Err(format!("{name} is not executable, run `chmod +x` on the programs")));
        }
    }
    // Asked as the server's own user: root should not run what it found lying about, and a
    // program that user cannot reach is of no use.
    let account = ServerAccount::choose()?;
    let program = bin.join("postgres");
    let answer = match account.command(&program).arg("--version").output() {
        Ok(answer) => answer,
        Err(error) => {
            return Ok(Err(format!("the user {} cannot run postgres: {error}", account.uid())));
        }
    };
    let Some(major) = major_of(&String::from_utf8_lossy(&answer.stdout)) else {
        let said = String::from_utf8_lossy(&answer.stderr);
        let first = said.lines().next().unwrap_or("nothing");
        return Ok(Err(format!("postgres does not tell its version, but says: {first}")));
    };
    if wanted.fits(major) {
        // The server resolves its own path too; ours must not change with the current folder.
        let bin = fs::canonicalize(bin).map_err(PrivatePostgresError::unusable(bin))?;
        Ok(Ok(ServerFiles { bin, major }))
    } else {
        Ok(Err(format!("is PostgreSQL {major}")))
    }
}

/// Every folder named `bin` below `dir`. Links are not followed, so that this ends.
fn collect_bins(dir: &Path, depth: u32, bins: &mut Vec<PathBuf>) {
    for folder in subfolders(dir) {
        if folder.file_name() == Some(OsStr::new("bin")) {
            bins.push(folder);
        } else if depth > 0 {
            collect_bins(&folder, depth - 1, bins);
        }
    }
}

/// The folders in `dir`, sorted by name; none if it cannot be read.
fn subfolders(dir: &Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(dir) else {
        return Vec::new();
    };
    let mut folders: Vec<PathBuf> = entries
        .flatten()
        .filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_dir()))
        .map(|entry| entry.path())
        .collect();
    folders.sort();
    folders
}

/// `postgres (PostgreSQL) 15.14 (Debian …)` is 15, and so is `15beta1`.
fn major_of(version: &str) -> Option<u32> {
    let number = version.split_whitespace().nth(2)?;
    let digits = number.find(|c: char| !c.is_ascii_digit()).unwrap_or(number.len());
    number[..digits].parse().ok()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn the_major_version_is_read() {
        assert_eq!(major_of("postgres (PostgreSQL) 15.14 (Debian 15.14-0)\n"), Some(15));
        assert_eq!(major_of("postgres (PostgreSQL) 18beta1\n"), Some(18));
        assert_eq!(major_of("postgres (PostgreSQL) devel\n"), None);
        assert_eq!(major_of(""), None);
    }

    #[test]
    fn an_unpacked_server_beside_the_data_is_found() {
        let root = std::env::temp_dir().join(format!("yj-pp-{}-unpacked", std::process::id()));
        let bin = root.join("pg-server/postgres_server/pginstall/bin");
        fs::create_dir_all(&bin).unwrap();
        let all = places(&root.join("data"));
        fs::remove_dir_all(&root).unwrap();
        assert_eq!(all[1].1, [bin]);
    }

    #[test]
    fn programs_that_lost_their_permission_are_reported_with_the_cure() {
        let bin = std::env::temp_dir().join(format!("yj-pp-{}-unzipped", std::process::id()));
        fs::create_dir_all(&bin).unwrap();
        for name in PROGRAMS {
            fs::write(bin.join(name), "").unwrap();
        }
        let reason = inspect(&bin, WantedVersion::AtLeast(OLDEST_MAJOR))
            .unwrap()
            .unwrap_err();
        fs::remove_dir_all(&bin).unwrap();
        assert!(reason.contains("run `chmod +x`"), "{reason}");
    }
}

//! Who runs the database server, and what that user can reach.
//!
//! PostgreSQL refuses root, so a service that is root hands its server to the user `postgres`.
//! Every program of the server is started through [`ServerAccount::command`]; starting one any
//! other way would start it as the wrong user. Which program and with what arguments is not
//! decided here.

use std::fs;
use std::io::ErrorKind;
use std::os::unix::fs::{MetadataExt, chown};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use super::error::PrivatePostgresError;

/// The user who runs the database server.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum ServerAccount {
    /// The same user who runs the service.
    Same { uid: u32 },
    /// The service is root; the server runs as the user `postgres`.
    Postgres { uid: u32, gid: u32 },
}

impl ServerAccount {
    pub(super) fn choose() -> Result<Self, PrivatePostgresError> {
        let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
        let uid = effective_uid(&status).ok_or(PrivatePostgresError::NoProc)?;
        if uid != 0 {
            return Ok(Self::Same { uid });
        }
        let passwd = fs::read_to_string("/etc/passwd").unwrap_or_default();
        postgres_in(&passwd).ok_or(PrivatePostgresError::NoServerAccount)
    }

    pub(super) fn uid(self) -> u32 {
        match self {
            Self::Same { uid } | Self::Postgres { uid, .. } => uid,
        }
    }

    /// A command that will run as this user.
    ///
    /// The service's environment holds its secrets and perhaps stray `PG…` settings; neither is
    /// any business of the server's. `LC_ALL=C` keeps the messages in the language the retry
    /// looks for. When the standard library changes the user as root, it drops the supplementary
    /// groups as well.
    pub(super) fn command(self, program: &Path) -> Command {
        let mut command = Command::new(program);
        command
            .env_clear()
            .env("PATH", "/usr/bin:/bin")
            .env("LC_ALL", "C")
            .stdin(Stdio::null());
        if let Some(libraries) = std::env::var_os("LD_LIBRARY_PATH") {
            command.env("LD_LIBRARY_PATH", libraries);
        }
        if let Self::Postgres { uid, gid } = self {
            command.uid(uid).gid(gid);
        }
        command
    }

    /// Gives a folder of our own making to this user.
    pub(super) fn give(self, dir: &Path) -> Result<(), PrivatePostgresError> {
        match self {
            Self::Same { .. } => Ok(()),
            Self::Postgres { uid, gid } => {
                chown(dir, Some(uid), Some(gid)).map_err(PrivatePostgresError::unusable(dir))
            }
        }
    }

    /// Checks that this user can run `program` and enter `dir`, by doing both.
    ///
    /// Permission bits alone would be wrong where access lists are in use, so they only serve to
    /// name the folder that is in the way.
    pub(super) fn check_reach(self, dir: &Path, program: &Path) -> Result<(), PrivatePostgresError> {
        let tried = self.command(program).arg("--version").current_dir(dir).output();
        match tried {
            Ok(_) => Ok(()),
            Err(error) if error.kind() == ErrorKind::PermissionDenied => {
                let closed = self.first_closed(dir).or_else(|| self.first_closed(program.parent()?));
                let dir = closed.unwrap_or_else(|| dir.to_path_buf());
                Err(PrivatePostgresError::FolderClosed { dir, uid: self.uid() })
            }
            Err(source) => Err(PrivatePostgresError::ProgramNotStarted {
                program: program.to_path_buf(),
                source,
            }),
        }
    }

    /// The first folder, from the root down, whose permission bits shut this user out.
    fn first_closed(self, dir: &Path) -> Option<PathBuf> {
        let mut way: Vec<&Path> = dir.ancestors().collect();
        way.reverse();
        way.into_iter()
            .find(|step| !self.may_enter(step))
            .map(Path::to_path_buf)
    }

    fn may_enter(self, dir: &Path) -> bool {
        let Ok(found) = fs::metadata(dir) else {
            return false;
        };
        let enter = match self {
            Self::Same { uid } | Self::Postgres { uid, .. } if uid == found.uid() => 0o100,
            Self::Postgres { gid, .. } if gid == found.gid() => 0o010,
            _ => 0o001,
        };
        found.mode() & enter != 0
    }
}

/// The second number of the line `Uid:` is the effective user.
fn effective_uid(status: &str) -> Option<u32> {
    let line = status.lines().find_map(|line| line.strip_prefix("Uid:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

fn postgres_in(passwd: &str) -> Option<ServerAccount> {
    let line = passwd.lines().find(|line| line.starts_with("postgres:"))?;
    let mut numbers = line.split(':').skip(2).map(str::parse);
    match (numbers.next()?, numbers.next()?) {
        (Ok(0), _) => None,
        (Ok(uid), Ok(gid)) => Some(ServerAccount::Postgres { uid, gid }),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_effective_user_is_read_from_the_status() {
        assert_eq!(
            effective_uid("Name:\tx\nUid:\t0\t1000\t0\t0\nGid:\t0\t0\t0\t0\n"),
            Some(1000)
        );
        assert_eq!(effective_uid("Name:\tx\n"), None);
    }

    #[test]
    fn the_server_user_is_read_from_the_list_and_never_root() {
        let listed = "root:x:0:0::/root:/bin/sh\npostgres:x:101:104:,,,:/var/lib:/bin/bash\n";
        assert_eq!(
            postgres_in(listed),
            Some(ServerAccount::Postgres { uid: 101, gid: 104 })
        );
        assert_eq!(postgres_in("root:x:0:0::/root:/bin/sh\n"), None);
        assert_eq!(postgres_in("postgres:x:0:0::/root:/bin/sh\n"), None);
        assert_eq!(postgres_in("postgresql:x:7:7::/:/bin/sh\n"), None);
    }
}

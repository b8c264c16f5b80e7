//! What can go wrong with the private database server, each case with its cure.
//!
//! Only sentences and their values belong here; whoever finds the trouble builds the value.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

/// Why the private database server could not be found, started, watched or stopped.
#[derive(Debug, thiserror::Error)]
pub enum PrivatePostgresError {
    /// No folder held the programs of a fitting server.
    #[error(
        "no programs of a PostgreSQL server {wanted} were found; install the Debian package \
         `{}`, or start with the run script in deploy/, which fetches them, or name their \
         folder in YARDJAR_PG_BIN; looked in {}", wanted.package(), Looked::list(.looked)
    )]
    ServerFilesNotFound {
        /// Which versions would have done.
        wanted: WantedVersion,
        /// Every place that was tried, in the order of trying.
        looked: Vec<Looked>,
    },
    /// The folder that was named on purpose does not fit; nothing else is tried behind its back.
    #[error(
        "the server programs in {} cannot be used: {reason}; put the bin folder of PostgreSQL \
         {wanted} into YARDJAR_PG_BIN, or leave it unset", dir.display()
    )]
    ServerFilesUnfit {
        /// The folder that was named.
        dir: PathBuf,
        /// What is wrong with it.
        reason: String,
        /// Which versions would have done.
        wanted: WantedVersion,
    },
    /// The data was written by another major version than the programs at hand.
    #[error(
        "the data in {} was written by PostgreSQL {data}, but the programs are PostgreSQL \
         {programs}; install the Debian package `postgresql-{data}`", cluster.display()
    )]
    VersionMismatch {
        /// The folder with the data.
        cluster: PathBuf,
        /// The major version in its `PG_VERSION`.
        data: u32,
        /// The major version of the programs.
        programs: u32,
    },
    /// The service is root, and there is nobody to hand the server to.
    #[error(
        "a database server must not run as root, and /etc/passwd has no user `postgres` to run \
         it as; add one with `useradd --system postgres`, or start the service as an ordinary user"
    )]
    NoServerAccount,
    /// The service's own user is not in the list of users, which `initdb` insists on.
    #[error(
        "the user with the number {uid} has no line in /etc/passwd, and a database cannot be \
         made without one; add the line, or start the service as a listed user"
    )]
    NoPasswdEntry {
        /// The number of the user.
        uid: u32,
    },
    /// `/proc` did not say who we are.
    #[error("the service's own user number could not be read from /proc/self/status; mount /proc")]
    NoProc,
    /// The server's user cannot pass through a folder on the way.
    #[error(
        "the user with the number {uid}, who runs the database server, cannot enter {}; run \
         `chmod o+x {}`, or choose a data folder elsewhere", dir.display(), dir.display()
    )]
    FolderClosed {
        /// The first closed folder, counted from the root.
        dir: PathBuf,
        /// The user who is shut out.
        uid: u32,
    },
    /// A folder exists, but somebody else owns it or may look into it.
    #[error(
        "{} belongs to the user with the number {owner} and has the mode {mode:o}, but must \
         belong to {wanted_owner} alone; run the service as before, or run \
         `chown -R {wanted_owner} {}; chmod 0700 {}`", dir.display(), dir.display(), dir.display()
    )]
    FolderNotOurs {
        /// The folder in question.
        dir: PathBuf,
        /// Who owns it.
        owner: u32,
        /// Its permission bits.
        mode: u32,
        /// Who should own it.
        wanted_owner: u32,
    },
    /// A file or folder could not be made, read, written or removed.
    #[error("{} cannot be used; check its permissions and the free space", path.display())]
    FolderUnusable {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: io::Error,
    },
    /// The place for the data is taken by something that is no database.
    #[error("{} holds files but no database; move them away or choose another data folder", dir.display())]
    NotACluster {
        /// The folder in question.
        dir: PathBuf,
    },
    /// `PG_VERSION` does not hold a number.
    #[error(
        "{} reads `{found}`, which is no PostgreSQL version; restore the data from a backup",
        path.display()
    )]
    BadVersionFile {
        /// The file.
        path: PathBuf,
        /// What it held.
        found: String,
    },
    /// Another instance of the service works with the same data.
    #[error(
        "the data in {} is in use by another instance of the service (process {pid}); stop that \
         one, or choose another data folder", data_dir.display()
    )]
    InUse {
        /// The data folder.
        data_dir: PathBuf,
        /// The other instance, as it signed the lock file.
        pid: String,
    },
    /// A program of the server could not be run at all.
    #[error(
        "{} could not be started; reinstall the server programs, or name another folder in \
         YARDJAR_PG_BIN", program.display()
    )]
    ProgramNotStarted {
        /// The program.
        program: PathBuf,
        /// What the system said.
        #[source]
        source: io::Error,
    },
    /// The database could not be made.
    #[error("the database could not be made in {}; free space or mend what initdb named: {said}", dir.display())]
    InitdbFailed {
        /// Where it should have gone.
        dir: PathBuf,
        /// The last lines `initdb` wrote.
        said: String,
    },
    /// The server ended while it was starting.
    #[error("the database server ended while starting; mend what it named in {}: {said}", log.display())]
    ServerEnded {
        /// The server's log.
        log: PathBuf,
        /// The last lines of this start.
        said: String,
    },
    /// The server runs, but did not become ready, or does not answer on its socket.
    #[error(
        "the database server (process {pid}) was not ready after {waited_s} s; see {}, and if it \
         is still recovering, start again later", log.display()
    )]
    NotReady {
        /// The server's first process.
        pid: u32,
        /// How long we waited.
        waited_s: u64,
        /// The server's log.
        log: PathBuf,
    },
    /// Processes of an earlier server do not let go of the data.
    #[error(
        "an earlier database server still held {} after {waited_s} s (processes {pids:?}); end \
         them, or restart the machine", cluster.display()
    )]
    StillHeld {
        /// The folder with the data.
        cluster: PathBuf,
        /// How long we waited.
        waited_s: u64,
        /// Who is still working there, as far as can be seen.
        pids: Vec<u32>,
    },
    /// The server does not end.
    #[error(
        "the database server (process {pid}) did not end within {waited_s} s; the data is safe, \
         end the process by hand"
    )]
    NotStopped {
        /// The server's first process.
        pid: u32,
        /// How long we waited.
        waited_s: u64,
    },
}

impl PrivatePostgresError {
    /// Turns what the system said about `path` into an error that names it.
    pub(super) fn unusable(path: &Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_path_buf();
        move |source| Self::FolderUnusable { path, source }
    }
}

/// Which server versions fit the data.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WantedVersion {
    /// There is no data yet: any version from this one on.
    AtLeast(u32),
    /// There is data, which only its own major version can read.
    Exactly(u32),
}

impl WantedVersion {
    /// Whether this major version will do.
    pub(super) fn fits(self, major: u32) -> bool {
        match self {
            Self::AtLeast(least) => major >= least,
            Self::Exactly(exact) => major == exact,
        }
    }

    fn package(self) -> String {
        match self {
            Self::AtLeast(_) => "postgresql".to_owned(),
            Self::Exactly(exact) => format!("postgresql-{exact}"),
        }
    }
}

impl fmt::Display for WantedVersion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::AtLeast(least) => write!(f, "{least} or newer"),
            Self::Exactly(exact) => write!(f, "{exact}, which wrote the data,"),
        }
    }
}

/// One place that was searched for server programs, and why it did not serve.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Looked {
    /// The folder, or a phrase for several.
    pub place: String,
    /// What was found there.
    pub found: String,
}

impl Looked {
    fn list(all: &[Self]) -> String {
        let each: Vec<String> = all
            .iter()
            .map(|looked| format!("{} ({})", looked.place, looked.found))
            .collect();
        each.join(", ")
    }
}

//! Which processes of a server work with a folder, and how to signal them.
//!
//! A number in a file proves nothing: after a crash it may belong to anybody. A process counts
//! only if it is a server program and has the folder as its own, as the system reports in
//! `/proc`. Signals go out through `pg_ctl` as the server's user, who can hurt nobody else.

use std::fs;
use std::io::ErrorKind;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::MetadataExt;
use std::path::Path;

use super::Setup;
use super::error::PrivatePostgresError;

/// The signals used, named as `pg_ctl` names them.
#[derive(Debug, Clone, Copy)]
pub(super) enum Signal {
    /// Turn clients away, write everything down, end.
    Fast,
    /// End at once; the next start recovers from the log of changes.
    Immediate,
    /// For processes that no longer listen.
    Kill,
}

impl Signal {
    fn name(self) -> &'static str {
        match self {
            Self::Fast => "INT",
            Self::Immediate => "QUIT",
            Self::Kill => "KILL",
        }
    }
}

/// Sends a signal. That the process is already gone is not an error: whoever sends waits for the
/// end and sees it.
pub(super) fn send(setup: &Setup, signal: Signal, pid: u32) -> Result<(), PrivatePostgresError> {
    let program = setup.files.program("pg_ctl");
    let mut command = setup.account.command(&program);
    command.arg("kill").arg(signal.name()).arg(pid.to_string());
    match command.output() {
        Ok(_) => Ok(()),
        Err(source) => Err(PrivatePostgresError::ProgramNotStarted { program, source }),
    }
}

/// Every server process that works with `dir`.
pub(super) fn working_with(dir: &Path, cluster_name: Option<&str>) -> Vec<u32> {
    let Ok(entries) = fs::read_dir("/proc") else {
        return Vec::new();
    };
    entries
        .flatten()
        .filter_map(|entry| entry.file_name().to_str()?.parse().ok())
        .filter(|pid| works_with(*pid, dir, cluster_name))
        .collect()
}

/// Whether this process is a living server program at work in `dir`.
///
/// The dead that nobody has collected yet have no folder and no arguments, so they do not count.
pub(super) fn works_with(pid: u32, dir: &Path, cluster_name: Option<&str>) -> bool {
    match fs::read_to_string(format!("/proc/{pid}/comm"))
        .unwrap_or_default()
        .trim_end()
    {
        // initdb never enters the folder it fills.
        "initdb" => is_named_by(pid, dir, cluster_name),
        "postgres" => match fs::metadata(format!("/proc/{pid}/cwd")) {
            Ok(own) => fs::metadata(dir).is_ok_and(|wanted| own.dev() == wanted.dev() && own.ino() == wanted.ino()),
            // Root in a container often may not ask where other users' processes are.
            Err(error) if error.kind() == ErrorKind::PermissionDenied => is_named_by(pid, dir, cluster_name),
            Err(_) => false,
        },
        _ => false,
    }
}

/// Whether the arguments name the folder, or the title names the cluster.
///
/// The first process of a server keeps its arguments; its helpers replace theirs by a title.
/// A folder still being filled has no cluster name yet.
fn is_named_by(pid: u32, dir: &Path, cluster_name: Option<&str>) -> bool {
    let line = fs::read(format!("/proc/{pid}/cmdline")).unwrap_or_default();
    let titled = cluster_name.is_some_and(|name| line.starts_with(format!("postgres: {name}: ").as_bytes()));
    titled
        || line
            .split(|byte| *byte == 0)
            .any(|argument| argument == dir.as_os_str().as_bytes())
}

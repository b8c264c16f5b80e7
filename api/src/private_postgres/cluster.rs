//! Making the data of a new server, and recognising data that is already there.
//!
//! Running the server is in `postmaster`.

use std::fs::{self, DirBuilder, File};
use std::io::ErrorKind;
use std::os::unix::fs::{DirBuilderExt, MetadataExt};
use std::path::Path;
use std::process::Output;
use std::thread::sleep;
use std::time::{Duration, Instant};

use tracing::{info, warn};

use super::error::PrivatePostgresError;
use super::processes::{Signal, send, working_with};
use super::{Setup, last_lines};

/// Data is made under this name plus a process number, and gets its own name only when whole.
const UNFINISHED: &str = "data.new.";

/// How long the last helpers of an abandoned attempt may take to end.
const ABANDONED_WITHIN: Duration = Duration::from_secs(5);

/// The major version that wrote the data in `cluster`; none if there is no data yet.
pub(super) fn cluster_major(cluster: &Path) -> Result<Option<u32>, PrivatePostgresError> {
    let path = cluster.join("PG_VERSION");
    let text = match fs::read_to_string(&path) {
        Ok(text) => text,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(PrivatePostgresError::unusable(&path)(error)),
    };
    match text.trim().parse() {
        Ok(major) => Ok(Some(major)),
        Err(_) => Err(PrivatePostgresError::BadVersionFile {
            path,
            found: text.trim().to_owned(),
        }),
    }
}

/// Makes the data unless it is there. Call it with the lock in hand.
pub(super) fn ensure_cluster(setup: &Setup) -> Result<(), PrivatePostgresError> {
    sweep_unfinished(setup)?;
    let cluster = &setup.folders.cluster;
    if let Some(data) = cluster_major(cluster)? {
        return check_existing(setup, data);
    }
    // An empty folder may be a mount point or somebody's preparation; renaming replaces it.
    let taken = fs::read_dir(cluster).is_ok_and(|mut entries| entries.next().is_some());
    if taken || (cluster.exists() && !cluster.is_dir()) {
        return Err(PrivatePostgresError::NotACluster { dir: cluster.clone() });
    }
    let began = Instant::now();
    make_cluster(setup)?;
    let duration_ms = began.elapsed().as_millis();
    info!(cluster = %cluster.display(), duration_ms, "made a new private database in {duration_ms} ms");
    Ok(())
}

fn check_existing(setup: &Setup, data: u32) -> Result<(), PrivatePostgresError> {
    let cluster = &setup.folders.cluster;
    let programs = setup.files.major();
    if data != programs {
        let cluster = cluster.clone();
        return Err(PrivatePostgresError::VersionMismatch {
            cluster,
            data,
            programs,
        });
    }
    let found = fs::metadata(cluster).map_err(PrivatePostgresError::unusable(cluster))?;
    if found.uid() == setup.account.uid() {
        return Ok(());
    }
    Err(PrivatePostgresError::FolderNotOurs {
        dir: cluster.clone(),
        owner: found.uid(),
        mode: found.mode() & 0o7777,
        wanted_owner: setup.account.uid(),
    })
}

/// Fills a folder under another name, then renames it.
///
/// Cut short at any moment, this leaves either no data or whole data. An `initdb` whose service
/// was killed goes on by itself, so the name carries our number and cannot meet another's.
fn make_cluster(setup: &Setup) -> Result<(), PrivatePostgresError> {
    let data_dir = &setup.folders.data_dir;
    let unfinished = data_dir.join(format!("{UNFINISHED}{}", std::process::id()));
    DirBuilder::new()
        .mode(0o700)
        .create(&unfinished)
        .map_err(PrivatePostgresError::unusable(&unfinished))?;
    setup.account.give(&unfinished)?;
    if let Err(error) = fill(setup, &unfinished) {
        // The error matters more than the rubbish, which the next start sweeps anyway.
        let _ = fs::remove_dir_all(&unfinished);
        return Err(error);
    }
    let cluster = &setup.folders.cluster;
    fs::rename(&unfinished, cluster).map_err(PrivatePostgresError::unusable(cluster))?;
    // initdb has written its own files through to the disk; the new name must follow.
    File::open(data_dir)
        .and_then(|dir| dir.sync_all())
        .map_err(PrivatePostgresError::unusable(data_dir))
}

fn fill(setup: &Setup, dir: &Path) -> Result<(), PrivatePostgresError> {
    let mut answer = initdb(setup, dir, "C.UTF-8")?;
    let mut said = String::from_utf8_lossy(&answer.stderr).into_owned();
    if !answer.status.success() && said.contains("locale") {
        // Systems without C.UTF-8 still have C, which sorts the same way, byte by byte.
        answer = initdb(setup, dir, "C")?;
        said = String::from_utf8_lossy(&answer.stderr).into_owned();
    }
    if answer.status.success() {
        return Ok(());
    }
    if said.contains("could not look up effective user ID") {
        return Err(PrivatePostgresError::NoPasswdEntry {
            uid: setup.account.uid(),
        });
    }
    Err(PrivatePostgresError::InitdbFailed {
        dir: setup.folders.cluster.clone(),
        said: last_lines(&said),
    })
}

/// No time limit: on a slow disk the right length is whatever it takes.
fn initdb(setup: &Setup, dir: &Path, locale: &str) -> Result<Output, PrivatePostgresError> {
    let program = setup.files.program("initdb");
    setup
        .account
        .command(&program)
        .current_dir(&setup.folders.data_dir)
        .arg("-D")
        .arg(dir)
        .args(["--username=postgres", "--encoding=UTF8", "--data-checksums"])
        .arg(format!("--locale={locale}"))
        // Whoever gets past the socket's folder is let in; over the network, nobody ever is.
        .args(["--auth-local=trust", "--auth-host=reject", "--no-instructions"])
        .output()
        .map_err(|source| PrivatePostgresError::ProgramNotStarted { program, source })
}

/// Removes what attempts before ours left behind.
///
/// The lock is ours, so whoever made these is dead, even if a number is alive again or is our
/// own, as it usually is in a container. Only an orphaned `initdb` may still be writing.
fn sweep_unfinished(setup: &Setup) -> Result<(), PrivatePostgresError> {
    let data_dir = &setup.folders.data_dir;
    let entries = fs::read_dir(data_dir).map_err(PrivatePostgresError::unusable(data_dir))?;
    for entry in entries.flatten() {
        if !entry.file_name().to_string_lossy().starts_with(UNFINISHED) {
            continue;
        }
        let leftover = entry.path();
        end_abandoned(setup, &leftover)?;
        match fs::remove_dir_all(&leftover) {
            Ok(()) => {
                info!(leftover = %leftover.display(), "swept a database that was never finished");
            }
            Err(error) => {
                warn!(leftover = %leftover.display(), %error, "an unfinished database could not be swept");
            }
        }
    }
    Ok(())
}

fn end_abandoned(setup: &Setup, leftover: &Path) -> Result<(), PrivatePostgresError> {
    let began = Instant::now();
    while began.elapsed() < ABANDONED_WITHIN {
        let pids = working_with(leftover, None);
        if pids.is_empty() {
            return Ok(());
        }
        for pid in pids {
            send(setup, Signal::Kill, pid)?;
        }
        sleep(Duration::from_millis(50));
    }
    Ok(())
}

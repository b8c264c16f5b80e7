//! The running server: adopting one, starting one, telling whether it lives, ending it.
//!
//! Everything is judged from its first process, whose number the server writes into
//! `postmaster.pid`. Making data is in `cluster`; telling processes apart is in `processes`.

use std::fs::{self, File};
use std::io::{ErrorKind, Read, Seek, SeekFrom};
use std::os::unix::ffi::OsStrExt;
use std::os::unix::net::UnixStream;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::Child;
use std::thread::sleep;
use std::time::{Duration, Instant};

use tracing::{info, warn};

use super::error::PrivatePostgresError;
use super::folders::PORT;
use super::processes::{Signal, send};
use super::{Setup, last_lines};

/// What is left of a killed server was seen to hold the data for over 20 s.
const RELEASE_WITHIN: Duration = Duration::from_secs(90);
/// Helpers of a dead server usually notice by themselves; after this they are told.
const TELL_AFTER: Duration = Duration::from_secs(3);
/// Helpers that do not listen either are ended; the log of changes already has all that counts.
const END_AFTER: Duration = Duration::from_secs(30);
/// Recovery after a crash reads back what was written since the last checkpoint.
const READY_WITHIN: Duration = Duration::from_secs(600);
/// A server that says it is ready answers at once, if its socket is still there.
const ANSWER_WITHIN: Duration = Duration::from_secs(10);
/// A fast shutdown writes everything down first.
const STOP_WITHIN: Duration = Duration::from_secs(60);
/// An immediate one writes nothing.
const QUIT_WITHIN: Duration = Duration::from_secs(10);

const POLL: Duration = Duration::from_millis(20);
const RETRY: Duration = Duration::from_millis(250);

/// The settings every private server runs with. On the command line they outrank whatever
/// somebody put into the configuration files.
///
/// The first three lines of values keep committed work through a power cut; they are the
/// defaults and stand here so that nobody can lower them unnoticed. Compiling queries costs more
/// than it saves at this size.
const SETTINGS: [&str; 10] = [
    "fsync=on",
    "full_page_writes=on",
    "synchronous_commit=on",
    "listen_addresses=",
    "unix_socket_permissions=0700",
    "max_connections=40",
    "shared_buffers=64MB",
    "jit=off",
    "timezone=UTC",
    "log_timezone=UTC",
];

/// A running server.
#[derive(Debug)]
pub(super) struct Postmaster {
    pid: u32,
    /// None if it was adopted. Dropping this leaves the server running.
    child: Option<Child>,
}

enum Launched {
    Ready(Postmaster),
    /// Something of an earlier server still has its hand on the data.
    Held,
}

impl Postmaster {
    /// Adopts the server that is running on this data, or starts one.
    pub(super) fn bring_up(setup: &Setup) -> Result<Self, PrivatePostgresError> {
        setup.folders.prepare_socket_dir(setup.account)?;
        let began = Instant::now();
        loop {
            if let Some(pid) = running(setup)
                && let Some(adopted) = adopt(setup, pid)?
            {
                return Ok(adopted);
            }
            let strays = setup.at_work();
            if strays.is_empty() {
                remove_stale(setup)?;
                if let Launched::Ready(started) = launch(setup)? {
                    return Ok(started);
                }
            }
            let waited = began.elapsed();
            if waited > RELEASE_WITHIN {
                return Err(PrivatePostgresError::StillHeld {
                    cluster: setup.folders.cluster.clone(),
                    waited_s: waited.as_secs(),
                    pids: strays,
                });
            }
            // Looked up anew: the attempt in between may have taken a while.
            if waited > TELL_AFTER {
                end_strays(setup, waited)?;
            }
            sleep(RETRY);
        }
    }

    pub(super) fn pid(&self) -> u32 {
        self.pid
    }

    pub(super) fn is_alive(&self, setup: &Setup) -> bool {
        setup.is_at_work(self.pid)
    }

    /// Lets the system forget a child that has ended.
    pub(super) fn collect(&mut self) {
        if let Some(child) = &mut self.child {
            // Nothing to do about an error: at worst one dead entry stays until the service ends.
            let _ = child.try_wait();
        }
    }

    /// Ends the server and waits until it is gone.
    pub(super) fn stop(&mut self, setup: &Setup) -> Result<(), PrivatePostgresError> {
        for (signal, within) in [(Signal::Fast, STOP_WITHIN), (Signal::Immediate, QUIT_WITHIN)] {
            if self.is_alive(setup) {
                send(setup, signal, self.pid)?;
            }
            let began = Instant::now();
            while began.elapsed() < within {
                self.collect();
                if !self.is_alive(setup) {
                    return Ok(());
                }
                sleep(POLL);
            }
            warn!(
                postgres.pid = self.pid,
                "the private database server (process {}) did not end in {} s",
                self.pid,
                within.as_secs()
            );
        }
        let waited_s = (STOP_WITHIN + QUIT_WITHIN).as_secs();
        Err(PrivatePostgresError::NotStopped {
            pid: self.pid,
            waited_s,
        })
    }
}

/// Takes over a running server; none if it ended or had to be ended.
///
/// A server without an owner is left by a service that was killed. One that runs with other
/// settings than ours, or whose socket was cleared away, is ended properly and started anew.
fn adopt(setup: &Setup, pid: u32) -> Result<Option<Postmaster>, PrivatePostgresError> {
    let mut found = Postmaster { pid, child: None };
    if !runs_as_wanted(setup) {
        info!(
            postgres.pid = pid,
            "ending the database server (process {pid}): its settings differ"
        );
        found.stop(setup)?;
        return Ok(None);
    }
    match wait_until_ready(setup, &mut found) {
        Ok(true) => {
            info!(
                postgres.pid = pid,
                "adopted the running database server (process {pid})"
            );
            Ok(Some(found))
        }
        Ok(false) => Ok(None),
        Err(PrivatePostgresError::NotReady { waited_s, .. }) if waited_s < READY_WITHIN.as_secs() => {
            warn!(
                postgres.pid = pid,
                "ending the database server (process {pid}): its socket is dead"
            );
            found.stop(setup)?;
            Ok(None)
        }
        Err(error) => Err(error),
    }
}

fn launch(setup: &Setup) -> Result<Launched, PrivatePostgresError> {
    let began = Instant::now();
    let folders = &setup.folders;
    let log = folders.open_log()?;
    let unusable = || PrivatePostgresError::unusable(&folders.log);
    let log_from = log.metadata().map_err(unusable())?.len();
    let also_log = log.try_clone().map_err(unusable())?;
    let program = setup.files.program("postgres");
    let child = setup
        .account
        .command(&program)
        .args(arguments(setup))
        .stdout(log)
        .stderr(also_log)
        // Ctrl-C in the service's terminal must not reach the server: the service stops it last.
        .process_group(0)
        .spawn()
        .map_err(|source| PrivatePostgresError::ProgramNotStarted { program, source })?;
    let mut started = Postmaster {
        pid: child.id(),
        child: Some(child),
    };
    if wait_until_ready(setup, &mut started)? {
        let (pid, duration_ms) = (started.pid, began.elapsed().as_millis());
        info!(
            postgres.pid = pid,
            duration_ms, "started the private database server (process {pid}) in {duration_ms} ms"
        );
        return Ok(Launched::Ready(started));
    }
    let said = log_since(&folders.log, log_from);
    if said.contains("lock file") || said.contains("pre-existing shared memory block") {
        return Ok(Launched::Held);
    }
    Err(PrivatePostgresError::ServerEnded {
        log: folders.log.clone(),
        said: last_lines(&said),
    })
}

/// Waits until the server takes connections; false if it ended instead.
///
/// While it lives and recovers it is given time. Only a server that calls itself ready and does
/// not answer is given up early.
fn wait_until_ready(setup: &Setup, server: &mut Postmaster) -> Result<bool, PrivatePostgresError> {
    let began = Instant::now();
    let mut said_ready: Option<Instant> = None;
    loop {
        if says_ready(setup, server.pid) {
            if UnixStream::connect(setup.folders.socket()).is_ok() {
                return Ok(true);
            }
            let silent = said_ready.get_or_insert_with(Instant::now).elapsed();
            if silent > ANSWER_WITHIN {
                return Err(not_ready(setup, server.pid, silent));
            }
        }
        if has_ended(setup, server) {
            return Ok(false);
        }
        if began.elapsed() > READY_WITHIN {
            return Err(not_ready(setup, server.pid, began.elapsed()));
        }
        sleep(POLL);
    }
}

fn not_ready(setup: &Setup, pid: u32, waited: Duration) -> PrivatePostgresError {
    let log = setup.folders.log.clone();
    PrivatePostgresError::NotReady {
        pid,
        waited_s: waited.as_secs(),
        log,
    }
}

/// A child just started has not entered its folder yet, so for a child only its end counts.
fn has_ended(setup: &Setup, server: &mut Postmaster) -> bool {
    match &mut server.child {
        Some(child) => !matches!(child.try_wait(), Ok(None)),
        None => !server.is_alive(setup),
    }
}

/// The live server that `postmaster.pid` names.
fn running(setup: &Setup) -> Option<u32> {
    let pid = pid_file(setup).lines().next()?.trim().parse().ok()?;
    setup.is_at_work(pid).then_some(pid)
}

/// The first line is the process, the eighth its state.
fn says_ready(setup: &Setup, pid: u32) -> bool {
    let text = pid_file(setup);
    let mut lines = text.lines().map(str::trim);
    lines.next() == Some(pid.to_string().as_str()) && lines.nth(6) == Some("ready")
}

fn pid_file(setup: &Setup) -> String {
    fs::read_to_string(setup.folders.cluster.join("postmaster.pid")).unwrap_or_default()
}

/// Whether the running server was started with exactly the arguments we would give.
///
/// The server notes its own command line; the program's path in front may be a link resolved.
fn runs_as_wanted(setup: &Setup) -> bool {
    let noted = fs::read(setup.folders.cluster.join("postmaster.opts")).unwrap_or_default();
    let mut wanted = Vec::new();
    for argument in arguments(setup) {
        wanted.extend_from_slice(b" \"");
        wanted.extend_from_slice(argument.as_bytes());
        wanted.push(b'"');
    }
    noted.trim_ascii_end().ends_with(&wanted)
}

fn arguments(setup: &Setup) -> Vec<std::ffi::OsString> {
    let folders = &setup.folders;
    let mut all = vec![
        "-D".into(),
        folders.cluster.clone().into_os_string(),
        "-k".into(),
        folders.socket_dir.clone().into_os_string(),
        "-p".into(),
        PORT.into(),
        "-c".into(),
        format!("cluster_name={}", folders.cluster_name).into(),
    ];
    for setting in SETTINGS {
        all.push("-c".into());
        all.push(setting.into());
    }
    all
}

/// Removes what a dead server left, after nothing at work on the data was found.
///
/// The server would trust the number in these files and refuse to start while anybody has it,
/// for instance a thread of the service itself in a restarted container. Against helpers we
/// cannot see, it still has its own guard, the shared memory.
fn remove_stale(setup: &Setup) -> Result<(), PrivatePostgresError> {
    let socket = setup.folders.socket();
    let socket_lock = socket.with_file_name(format!(".s.PGSQL.{PORT}.lock"));
    for path in [setup.folders.cluster.join("postmaster.pid"), socket, socket_lock] {
        match fs::remove_file(&path) {
            Err(error) if error.kind() != ErrorKind::NotFound => {
                return Err(PrivatePostgresError::unusable(&path)(error));
            }
            _ => {}
        }
    }
    Ok(())
}

fn end_strays(setup: &Setup, waited: Duration) -> Result<(), PrivatePostgresError> {
    let signal = if waited > END_AFTER {
        Signal::Kill
    } else {
        Signal::Immediate
    };
    for pid in setup.at_work() {
        warn!(
            postgres.pid = pid,
            "telling process {pid} of an earlier database server to end"
        );
        send(setup, signal, pid)?;
    }
    Ok(())
}

/// What was written to the log since our start. Best effort: it only feeds a message.
fn log_since(log: &Path, from: u64) -> String {
    let mut bytes = Vec::new();
    if let Ok(mut file) = File::open(log)
        && file.seek(SeekFrom::Start(from)).is_ok()
    {
        let _ = file.take(64 * 1024).read_to_end(&mut bytes);
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

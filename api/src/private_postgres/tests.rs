//! The module against a real server: starts, crashes, adoption, refusals.
//!
//! Each test has its own folder under /tmp and ends its own server, by number. What can be
//! checked without a server is tested beside the code.

use std::fs::{self, Permissions};
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use super::*;

/// Names the folder for [`hold`], in the child process only.
const HOLD: &str = "YARDJAR_TEST_HOLD";

struct TestFolder(PathBuf);

impl TestFolder {
    fn new(name: &str) -> Self {
        let path = PathBuf::from(format!("/tmp/yj-pp-{}-{name}", std::process::id()));
        fs::create_dir(&path).unwrap();
        fs::set_permissions(&path, Permissions::from_mode(0o755)).unwrap();
        Self(path)
    }

    fn data(&self) -> PathBuf {
        self.0.join("data")
    }

    fn cluster(&self) -> PathBuf {
        self.data().join("cluster")
    }
}

impl Drop for TestFolder {
    fn drop(&mut self) {
        let text = fs::read_to_string(self.cluster().join("postmaster.pid")).unwrap_or_default();
        if let Some(pid) = text.lines().next().and_then(|line| line.parse().ok()) {
            let at_work = || processes::works_with(pid, &self.cluster(), None);
            let began = Instant::now();
            while at_work() && began.elapsed() < Duration::from_secs(20) {
                kill("-INT", pid);
                sleep(Duration::from_millis(200));
            }
        }
        fs::remove_dir_all(&self.0).unwrap();
    }
}

fn files(data: &Path) -> ServerFiles {
    find_server_files(data, None).unwrap()
}

fn start(data: &Path) -> PrivatePostgres {
    PrivatePostgres::start(data, &files(data)).unwrap()
}

fn kill(signal: &str, pid: u32) {
    let line = format!("kill {signal} {pid} 2>/dev/null");
    Command::new("sh").args(["-c", &line]).status().unwrap();
}

fn ask(server: &PrivatePostgres, question: &str) -> String {
    let answer = Command::new(server.setup.files.program("psql"))
        .args([&server.url("postgres", "postgres"), "-XAtc", question])
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&answer.stderr).into_owned();
    assert!(answer.status.success(), "{question}: {said}");
    String::from_utf8(answer.stdout).unwrap().trim().to_owned()
}

/// Not a test of its own: the service that the others kill. It starts the server and waits.
#[test]
fn hold() {
    if let Some(data) = std::env::var_os(HOLD) {
        let _server = start(Path::new(&data));
        sleep(Duration::from_secs(120));
    }
}

/// A service in a process of its own, killed without warning when dropped.
struct Service(Child);

impl Drop for Service {
    fn drop(&mut self) {
        self.0.kill().unwrap();
        self.0.wait().unwrap();
    }
}

/// Runs [`hold`] in a process of its own.
fn service(data: &Path) -> Service {
    let (_, module) = module_path!().split_once("::").unwrap();
    let child = Command::new(std::env::current_exe().unwrap())
        .args([&format!("{module}::hold"), "--exact"])
        .env(HOLD, data)
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    Service(child)
}

fn wait_for(what: &str, mut done: impl FnMut() -> bool) {
    let began = Instant::now();
    while !done() {
        assert!(began.elapsed() < Duration::from_secs(60), "waited in vain for {what}");
        sleep(Duration::from_millis(10));
    }
}

/// The server of a held service, once it is ready.
fn ready_pid(folder: &TestFolder) -> u32 {
    let file = folder.cluster().join("postmaster.pid");
    let text = || fs::read_to_string(&file).unwrap_or_default();
    wait_for("the held server", || {
        text().lines().nth(7).is_some_and(|line| line.trim() == "ready")
    });
    text().lines().next().unwrap().parse().unwrap()
}

#[test]
fn the_first_start_makes_data_and_the_second_is_faster() {
    let folder = TestFolder::new("twice");
    let began = Instant::now();
    let server = start(&folder.data());
    let first = began.elapsed();
    assert!(server.is_alive());
    assert_eq!(
        ask(&server, "create table jar (id int); select 1").lines().last(),
        Some("1")
    );
    let pid_file = folder.cluster().join("postmaster.pid");
    assert!(pid_file.exists());
    let began = Instant::now();
    server.stop().unwrap();
    let stop = began.elapsed();
    assert!(!pid_file.exists(), "stop leaves no pid file");

    let began = Instant::now();
    let server = start(&folder.data());
    let second = began.elapsed();
    assert_eq!(ask(&server, "select count(*) from jar"), "0");
    server.stop().unwrap();
    eprintln!("first start {first:?}, stop {stop:?}, second start {second:?}");
    assert!(second < first);
}

#[test]
fn the_server_keeps_what_it_commits_and_listens_to_nobody_else() {
    let folder = TestFolder::new("settings");
    let server = start(&folder.data());
    for (setting, value) in [
        ("fsync", "on"),
        ("full_page_writes", "on"),
        ("synchronous_commit", "on"),
        ("data_checksums", "on"),
        ("listen_addresses", ""),
        ("unix_socket_permissions", "0700"),
        ("jit", "off"),
        ("max_connections", "40"),
        ("server_encoding", "UTF8"),
        ("lc_collate", "C.UTF-8"),
    ] {
        let query = format!("select coalesce(current_setting('{setting}', true), '')");
        let found = match setting {
            "lc_collate" => ask(&server, "select datcollate from pg_database where datname = 'postgres'"),
            _ => ask(&server, &query),
        };
        assert_eq!(found, value, "{setting}");
    }
    let socket_dir = fs::metadata(server.socket_dir()).unwrap();
    assert_eq!(socket_dir.mode() & 0o777, 0o700);
    assert_eq!(socket_dir.uid(), server.setup.account.uid());
    let status = fs::read_to_string(format!("/proc/{}/status", server.pid())).unwrap();
    let groups = status.lines().find_map(|line| line.strip_prefix("Groups:")).unwrap();
    if server.setup.account
        != (ServerAccount::Same {
            uid: server.setup.account.uid(),
        })
    {
        assert_eq!(groups.trim(), "", "root's groups are dropped");
    }
    server.stop().unwrap();
}

#[test]
fn a_killed_service_leaves_a_server_that_is_adopted() {
    let folder = TestFolder::new("adopt");
    let service = service(&folder.data());
    let pid = ready_pid(&folder);
    drop(service);
    let began = Instant::now();
    let server = start(&folder.data());
    eprintln!("adopted in {:?}", began.elapsed());
    assert_eq!(server.pid(), pid);
    assert_eq!(ask(&server, "select 1"), "1");
    let pid_file = folder.cluster().join("postmaster.pid");
    server.stop().unwrap();
    assert!(!pid_file.exists());
}

#[test]
fn dropping_leaves_the_server_for_the_next_start() {
    let folder = TestFolder::new("drop");
    let server = start(&folder.data());
    let pid = server.pid();
    drop(server);
    let server = start(&folder.data());
    assert_eq!(server.pid(), pid);
    server.stop().unwrap();
}

#[test]
fn a_server_with_other_settings_is_started_anew() {
    let folder = TestFolder::new("other");
    let server = start(&folder.data());
    let pid = server.pid();
    drop(server);
    let opts = folder.cluster().join("postmaster.opts");
    let noted = fs::read_to_string(&opts).unwrap();
    fs::write(&opts, noted.replace("fsync=on", "fsync=off")).unwrap();
    let server = start(&folder.data());
    assert_ne!(server.pid(), pid);
    assert_eq!(ask(&server, "show fsync"), "on");
    server.stop().unwrap();
}

#[test]
fn service_and_server_killed_together_come_back() {
    let folder = TestFolder::new("both");
    let service = service(&folder.data());
    let pid = ready_pid(&folder);
    drop(service);
    kill("-9", pid);
    let began = Instant::now();
    let server = start(&folder.data());
    eprintln!("back after both were killed in {:?}", began.elapsed());
    assert_ne!(server.pid(), pid);
    assert_eq!(ask(&server, "select 1"), "1");
    server.stop().unwrap();
}

#[test]
fn busy_helpers_of_a_killed_server_are_told_to_end() {
    let folder = TestFolder::new("busy");
    let server = start(&folder.data());
    let (pid, url) = (server.pid(), server.url("postgres", "postgres"));
    let mut client = Command::new(server.setup.files.program("psql"))
        // A loop that never waits and so never notices that its server is gone.
        .args([&url, "-Xqc", "select count(*) from generate_series(1, 20000000000)"])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    wait_for("the busy query", || {
        ask(
            &server,
            "select count(*) from pg_stat_activity where query like '%20000000000%' and pid <> pg_backend_pid()",
        ) == "1"
    });
    drop(server);
    kill("-9", pid);
    let began = Instant::now();
    let server = start(&folder.data());
    eprintln!("back in spite of a busy helper in {:?}", began.elapsed());
    assert_ne!(server.pid(), pid);
    client.wait().unwrap();
    server.stop().unwrap();
}

#[test]
fn a_service_killed_while_making_data_leaves_nothing_in_the_way() {
    let folder = TestFolder::new("initdb");
    let service = service(&folder.data());
    let unfinished = folder.data().join(format!("data.new.{}", service.0.id()));
    wait_for("initdb", || unfinished.join("PG_VERSION").exists());
    drop(service);
    assert!(!folder.cluster().exists());
    let server = start(&folder.data());
    assert_eq!(ask(&server, "select 1"), "1");
    assert!(!unfinished.exists(), "the leftover is swept");
    server.stop().unwrap();
}

#[test]
fn a_server_killed_under_a_living_service_is_restarted() {
    let folder = TestFolder::new("revive");
    let mut server = start(&folder.data());
    assert_eq!(server.ensure_running().unwrap(), Watched::Running);
    let pid = server.pid();
    kill("-9", pid);
    wait_for("the death", || !server.is_alive());
    let began = Instant::now();
    assert_eq!(server.ensure_running().unwrap(), Watched::Restarted);
    eprintln!("restarted in {:?}", began.elapsed());
    assert_ne!(server.pid(), pid);
    assert_eq!(ask(&server, "select 1"), "1");
    assert!(server.is_alive());

    fs::remove_dir_all(server.socket_dir()).unwrap();
    let pid = server.pid();
    assert_eq!(server.ensure_running().unwrap(), Watched::Restarted);
    assert_ne!(server.pid(), pid);
    assert_eq!(ask(&server, "select 1"), "1");
    server.stop().unwrap();
}

#[test]
fn two_services_cannot_share_the_data() {
    let folder = TestFolder::new("shared");
    let service = service(&folder.data());
    let pid = ready_pid(&folder);
    let refused = PrivatePostgres::start(&folder.data(), &files(&folder.data())).unwrap_err();
    let told = refused.to_string();
    let PrivatePostgresError::InUse { pid: holder, .. } = refused else {
        panic!("{told}")
    };
    assert_eq!(holder, service.0.id().to_string());
    assert!(told.contains("stop that one"), "{told}");
    drop(service);
    let server = start(&folder.data());
    assert_eq!(server.pid(), pid);
    server.stop().unwrap();
}

#[test]
fn a_number_in_a_stale_pid_file_blocks_nothing() {
    let folder = TestFolder::new("stale");
    start(&folder.data()).stop().unwrap();
    // A process of the server's own user that is no server: what a restarted machine may hold.
    let account = ServerAccount::choose().unwrap();
    let mut other = account.command(Path::new("/bin/sleep")).arg("60").spawn().unwrap();
    let pid_file = folder.cluster().join("postmaster.pid");
    fs::write(&pid_file, format!("{}\n{}\n", other.id(), folder.cluster().display())).unwrap();
    let began = Instant::now();
    let server = start(&folder.data());
    assert!(began.elapsed() < Duration::from_secs(10));
    server.stop().unwrap();
    assert!(other.try_wait().unwrap().is_none(), "the stranger was left alone");
    other.kill().unwrap();
    other.wait().unwrap();
}

#[test]
fn a_long_path_puts_the_socket_elsewhere() {
    let folder = TestFolder::new("long");
    let data = folder.0.join("a".repeat(90));
    let server = start(&data);
    let socket_dir = server.socket_dir().to_path_buf();
    assert!(!socket_dir.starts_with(&folder.0));
    assert_eq!(fs::metadata(&socket_dir).unwrap().mode() & 0o777, 0o700);
    assert_eq!(ask(&server, "select 1"), "1");
    server.stop().unwrap();
    fs::set_permissions(&socket_dir, Permissions::from_mode(0o755)).unwrap();
    let refused = PrivatePostgres::start(&data, &files(&data)).unwrap_err();
    assert!(
        matches!(refused, PrivatePostgresError::FolderNotOurs { .. }),
        "{refused}"
    );
    fs::remove_dir_all(&socket_dir).unwrap();
}

#[test]
fn odd_characters_in_the_path_do_no_harm() {
    let folder = TestFolder::new("odd");
    let data = folder.0.join("honey & wax, 'Jär' 100% $HOME");
    let server = start(&data);
    assert_eq!(ask(&server, "select 1"), "1");
    let socket_dir = server.socket_dir().to_path_buf();
    let pid = server.pid();
    drop(server);
    let server = start(&data);
    assert_eq!(server.pid(), pid);
    server.stop().unwrap();
    fs::remove_dir_all(&socket_dir).unwrap();
}

#[test]
fn a_closed_folder_on_the_way_is_named() {
    let folder = TestFolder::new("closed");
    let closed = folder.0.join("closed");
    fs::create_dir(&closed).unwrap();
    let account = ServerAccount::choose().unwrap();
    let mode = if account.uid() == fs::metadata(&closed).unwrap().uid() {
        0o000
    } else {
        0o700
    };
    let files = files(&folder.data());
    fs::set_permissions(&closed, Permissions::from_mode(mode)).unwrap();
    let refused = PrivatePostgres::start(&closed.join("data"), &files).unwrap_err();
    fs::set_permissions(&closed, Permissions::from_mode(0o700)).unwrap();
    let told = refused.to_string();
    assert!(told.contains("/closed"), "{told}");
    if mode == 0o700 {
        assert!(told.contains(&format!("chmod o+x {}", closed.display())), "{told}");
    }
}

#[test]
fn foreign_files_and_other_versions_are_refused() {
    let folder = TestFolder::new("foreign");
    let files = files(&folder.data());
    fs::create_dir_all(folder.cluster()).unwrap();
    fs::set_permissions(folder.data(), Permissions::from_mode(0o755)).unwrap();
    fs::write(folder.cluster().join("notes.txt"), "x").unwrap();
    let refused = PrivatePostgres::start(&folder.data(), &files).unwrap_err();
    assert!(matches!(refused, PrivatePostgresError::NotACluster { .. }), "{refused}");

    fs::write(folder.cluster().join("PG_VERSION"), "99\n").unwrap();
    let refused = PrivatePostgres::start(&folder.data(), &files).unwrap_err();
    assert!(
        matches!(refused, PrivatePostgresError::VersionMismatch { data: 99, .. }),
        "{refused}"
    );
    let told = find_server_files(&folder.data(), None).unwrap_err().to_string();
    assert!(told.contains("install the Debian package `postgresql-99`"), "{told}");
    assert!(told.contains("(is PostgreSQL "), "{told}");
    assert!(told.contains("pg-server (nothing there)"), "{told}");
    let told = find_server_files(&folder.data(), Some(files.bin_dir()))
        .unwrap_err()
        .to_string();
    assert!(told.contains("is PostgreSQL"), "{told}");
}

#[test]
fn a_wrong_explicit_folder_is_not_passed_over() {
    let told = find_server_files(Path::new("/tmp/yj-pp-none"), Some(Path::new("/usr/lib")))
        .unwrap_err()
        .to_string();
    assert!(told.contains("/usr/lib cannot be used: has no postgres"), "{told}");
}

#[test]
fn the_address_is_escaped() {
    let address = url(Path::new("/srv/honey & wax/socket"), "bee@yard", "jär/1");
    assert_eq!(
        address,
        "postgresql:///j%C3%A4r%2F1?host=%2Fsrv%2Fhoney%20%26%20wax%2Fsocket&port=5432&user=bee%40yard"
    );
}

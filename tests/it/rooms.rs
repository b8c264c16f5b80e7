//! Each room mentions only what it may, and every file keeps the rules that a reader relies on.
//!
//! The table is the one in DEVELOPERS.md. Files are read as text: comments, string literals and unit tests are
//! not looked at.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use crate::files::ending;

/// A folder, the foreign crates it may name, and the rooms of its own crate that it may look into (`None`: all).
struct Room {
    folder: &'static str,
    crates: &'static [&'static str],
    rooms: Option<&'static [&'static str]>,
}

const DOMAIN: &[&str] = &[
    "chrono",
    "domain_derive",
    "libm",
    "serde",
    "serde_json",
    "thiserror",
    "utoipa",
    "uuid",
];

const ROOMS: &[Room] = &[
    Room {
        folder: "domain/src",
        crates: DOMAIN,
        rooms: None,
    },
    Room {
        folder: "domain/src/plan",
        crates: &[
            "chrono",
            "libm",
            "serde",
            "serde_json",
            "serde_path_to_error",
            "statrs",
            "thiserror",
            "utoipa",
            "uuid",
        ],
        rooms: None,
    },
    Room {
        folder: "domain/src/season",
        crates: &[
            "chrono",
            "libm",
            "nalgebra",
            "serde",
            "serde_json",
            "serde_path_to_error",
            "statrs",
            "thiserror",
            "utoipa",
            "uuid",
        ],
        rooms: None,
    },
    Room {
        folder: "api/src/wire",
        crates: &[
            "base64",
            "chrono",
            "csv",
            "domain",
            "serde",
            "serde_ignored",
            "serde_json",
            "serde_path_to_error",
            "thiserror",
            "utoipa",
            "uuid",
        ],
        // Answers are rendered from the plain rows of the two rooms that read the database.
        rooms: Some(&["ledger", "projections", "side_by_side", "wire"]),
    },
    Room {
        folder: "api/src/ledger",
        crates: &[
            "base64",
            "chrono",
            "diesel",
            "diesel_async",
            "domain",
            "metrics",
            "serde",
            "serde_json",
            "serde_json_canonicalizer",
            "sha2",
            "thiserror",
            "tokio",
            "tracing",
            "utoipa",
            "uuid",
        ],
        rooms: Some(&[
            "auth",
            "clock",
            "database",
            "failpoint",
            "ledger",
            "projections",
            "schema",
            "wire",
        ]),
    },
    Room {
        folder: "api/src/projections",
        crates: &[
            "chrono",
            "diesel",
            "diesel_async",
            "domain",
            "serde",
            "serde_json",
            "thiserror",
            "tracing",
            "utoipa",
            "uuid",
        ],
        rooms: Some(&["auth", "ledger", "projections", "schema", "side_by_side"]),
    },
    Room {
        folder: "api/src/auth",
        crates: &[
            "argon2",
            "base64",
            "chrono",
            "diesel",
            "diesel_async",
            "domain",
            "hmac",
            "jsonwebtoken",
            "serde",
            "serde_json",
            "sha2",
            "subtle",
            "thiserror",
            "tokio",
            "tracing",
            "utoipa",
            "uuid",
            "zeroize",
        ],
        rooms: Some(&["auth", "clock", "config", "database", "schema"]),
    },
    Room {
        folder: "api/src/http",
        crates: &[
            "actix_web",
            "base64",
            "brotli",
            "chrono",
            "diesel",
            "diesel_async",
            "domain",
            "flate2",
            "futures_util",
            "metrics",
            "metrics_exporter_prometheus",
            "rust_embed",
            "serde",
            "serde_ignored",
            "serde_json",
            "serde_path_to_error",
            "sha2",
            "thiserror",
            "tokio",
            "tracing",
            "utoipa",
            "utoipa_actix_web",
            "utoipa_swagger_ui",
            "uuid",
        ],
        rooms: Some(&[
            "auth",
            "clock",
            "config",
            "database",
            "erasures",
            "http",
            "ledger",
            "photos",
            "projections",
            "labels",
            "qr",
            "tls",
            "wire",
        ]),
    },
    Room {
        folder: "api/src/labels",
        crates: &["krilla", "serde", "skrifa", "thiserror", "utoipa"],
        rooms: Some(&["labels", "qr"]),
    },
    Room {
        folder: "api/src/tls",
        crates: &[
            "actix_http",
            "actix_server",
            "actix_service",
            "actix_web",
            "chrono",
            "if_addrs",
            "rcgen",
            "rustls",
            "sha2",
            "thiserror",
            "tokio",
            "tracing",
            "x509_parser",
        ],
        rooms: Some(&["clock", "config", "tls"]),
    },
    Room {
        folder: "api/src/photos",
        crates: &[
            "async_trait",
            "futures_util",
            "http_body_util",
            "hyper_rustls",
            "hyper_util",
            "object_store",
            "rustls",
            "sha2",
            "thiserror",
            "tokio",
            "tracing",
            "url",
            "uuid",
        ],
        rooms: Some(&["clock", "config", "photos"]),
    },
    Room {
        folder: "api/src/private_postgres",
        crates: &["libc", "thiserror", "tracing"],
        rooms: Some(&["private_postgres"]),
    },
    Room {
        folder: "scan/src",
        crates: &["rqrr"],
        rooms: None,
    },
];

/// What the pure room never asks for.
const IMPURE: &[&str] = &[
    "std::env",
    "std::fs",
    "std::net",
    "std::process",
    "std::thread",
    "std::time::SystemTime",
    "std::time::Instant",
    "Utc::now",
    "Local::now",
    "Uuid::now_v7",
    "Uuid::new_v4",
];

/// Files that may be longer, with the reason. There is none.
const LONG: &[&str] = &[];

/// Panics that happen while the program is built, never while it runs.
const AT_BUILD_TIME: &[(&str, &str)] = &[("domain/src/units.rs", "a constant is out of its range")];

const LINES_MAX: usize = 400;

struct File {
    name: String,
    whole: String,
    /// Before the unit tests.
    lines: usize,
    /// The same without comments and string literals.
    code: String,
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn files(folder: &str) -> Vec<File> {
    let paths = ending(&root().join(folder), "rs");
    let mut found: Vec<File> = paths.iter().map(|path| read(path)).collect();
    found.sort_by(|a, b| a.name.cmp(&b.name));
    found
}

/// A file of unit tests as a whole has no code before its tests.
fn read(path: &Path) -> File {
    let whole = std::fs::read_to_string(path).unwrap_or_default();
    let name = path.strip_prefix(root()).unwrap_or(path).display().to_string();
    let is_tests = path.file_name().is_some_and(|name| name == "tests.rs");
    let before: Vec<&str> = whole
        .lines()
        .take_while(|line| !is_tests && *line != "#[cfg(test)]")
        .collect();
    // A declaration `mod tests;` may stand anywhere; what follows it is code again.
    let declared = whole
        .lines()
        .skip(before.len())
        .take(4)
        .any(|line| line == "mod tests;");
    let kept: Vec<&str> = if declared { whole.lines().collect() } else { before };
    File {
        name,
        lines: kept.len(),
        code: bare(&kept.join("\n")),
        whole,
    }
}

/// Without comments, string literals and characters, so that words in them do not count.
fn bare(text: &str) -> String {
    let (mut code, mut rest) = (String::new(), text);
    while let Some(first) = rest.chars().next() {
        let skipped = if rest.starts_with("//") {
            rest.find('\n').unwrap_or(rest.len())
        } else if rest.starts_with("/*") {
            rest.find("*/").map_or(rest.len(), |end| end + 2)
        } else if let Some(raw) = raw_string(rest) {
            raw
        } else if first == '"' {
            quoted(rest)
        } else if first == '\'' {
            character(rest)
        } else {
            0
        };
        if skipped == 0 {
            code.push(first);
            rest = &rest[first.len_utf8()..];
        } else {
            code.push(' ');
            rest = &rest[skipped..];
        }
    }
    code
}

fn raw_string(rest: &str) -> Option<usize> {
    let hashes = rest.strip_prefix('r')?.bytes().take_while(|byte| *byte == b'#').count();
    let inside = rest.get(1 + hashes..)?.strip_prefix('"')?;
    let end = format!("\"{}", "#".repeat(hashes));
    Some(inside.find(&end).map_or(rest.len(), |at| 2 + hashes + at + end.len()))
}

fn quoted(rest: &str) -> usize {
    let mut escaped = false;
    for (at, byte) in rest.bytes().enumerate().skip(1) {
        match byte {
            _ if escaped => escaped = false,
            b'\\' => escaped = true,
            b'"' => return at + 1,
            _ => {}
        }
    }
    rest.len()
}

/// A lifetime is none.
fn character(rest: &str) -> usize {
    let mut characters = rest.char_indices().skip(1);
    match characters.next() {
        Some((_, '\\')) => rest[2..]
            .char_indices()
            .skip(1)
            .find(|(_, c)| *c == '\'')
            .map_or(0, |(at, _)| at + 3),
        Some(_) => characters
            .next()
            .filter(|(_, c)| *c == '\'')
            .map_or(0, |(at, _)| at + 1),
        None => 0,
    }
}

/// The first words of all paths: `chrono` of `chrono::Utc`, but not `Utc`.
fn path_roots(code: &str) -> BTreeSet<String> {
    let is_word = |c: char| c.is_alphanumeric() || c == '_';
    let mut roots = BTreeSet::new();
    for (at, _) in code.match_indices("::") {
        let before = &code[..at];
        let start = before.rfind(|c: char| !is_word(c)).map_or(0, |end| end + 1);
        let leads = before[..start].ends_with("::") && !before[..start].ends_with(" ::");
        if start < at && !leads {
            roots.insert(before[start..].to_owned());
        }
    }
    // `use chrono;` and `extern crate` name a crate without a path.
    for line in code.lines().map(str::trim) {
        let named = line.strip_prefix("use ").and_then(|rest| rest.strip_suffix(';'));
        roots.extend(named.filter(|name| name.chars().all(is_word)).map(str::to_owned));
    }
    roots
}

/// What follows `crate::`, in braces as well.
fn rooms_named(code: &str) -> BTreeSet<String> {
    let mut rooms = BTreeSet::new();
    let word = |text: &str| -> String { text.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect() };
    for (at, found) in code.match_indices("crate::") {
        let rest = &code[at + found.len()..];
        if let Some(group) = rest.strip_prefix('{') {
            let mut depth = 0_i32;
            let mut starts = true;
            for (at, c) in group.char_indices() {
                match c {
                    '{' => depth += 1,
                    '}' if depth == 0 => break,
                    '}' => depth -= 1,
                    ',' if depth == 0 => starts = true,
                    _ if c.is_whitespace() => {}
                    _ if starts => {
                        rooms.insert(word(&group[at..]));
                        starts = false;
                    }
                    _ => {}
                }
            }
        } else {
            rooms.insert(word(rest));
        }
    }
    rooms
}

/// Every crate that the manifests name, as a path names it.
fn crates() -> BTreeSet<String> {
    let mut names: BTreeSet<String> = ["api", "domain", "scan", "tests"].map(str::to_owned).into();
    for manifest in [
        "Cargo.toml",
        "domain/Cargo.toml",
        "scan/Cargo.toml",
        "api/Cargo.toml",
        "tests/Cargo.toml",
    ] {
        names.extend(dependencies(manifest, "dependencies]"));
    }
    names
}

fn dependencies(manifest: &str, section: &str) -> Vec<String> {
    let text = std::fs::read_to_string(root().join(manifest)).unwrap_or_default();
    let (mut inside, mut names) = (false, Vec::new());
    for line in text.lines() {
        if line.starts_with('[') {
            inside = line.ends_with(section);
        } else if let Some((name, _)) = line.split_once(['=', '.']).filter(|_| inside) {
            names.push(name.trim().replace('-', "_"));
        }
    }
    names
}

#[test]
fn every_room_mentions_only_what_it_may() {
    let crates = crates();
    assert!(crates.len() > 20, "the manifests were not read");
    let mut faults = Vec::new();
    for room in ROOMS {
        let files: Vec<File> = files(room.folder)
            .into_iter()
            .filter(|file| {
                let apart = file.name.contains("/season/") || file.name.contains("/plan/");
                room.folder != "domain/src" || !apart
            })
            .collect();
        // The season is worked out behind a feature of its own and may come later than the rest.
        if files.is_empty() && room.folder != "domain/src/season" {
            faults.push(format!("{}: no file, so nothing was checked", room.folder));
        }
        for file in files {
            for named in path_roots(&file.code).intersection(&crates) {
                if !room.crates.contains(&named.as_str()) {
                    faults.push(format!("{} names the crate {named}", file.name));
                }
            }
            let Some(rooms) = room.rooms else { continue };
            for named in rooms_named(&file.code) {
                let is_room = named.chars().next().is_some_and(char::is_lowercase);
                if is_room && !rooms.contains(&named.as_str()) {
                    faults.push(format!("{} looks into {named}", file.name));
                }
            }
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}

#[test]
fn the_rules_ask_no_clock_no_chance_and_no_machine() {
    let mut faults = Vec::new();
    for file in files("domain/src") {
        for word in IMPURE.iter().filter(|word| file.code.contains(*word)) {
            faults.push(format!("{} asks {word}", file.name));
        }
    }
    for name in dependencies("domain/Cargo.toml", "[dependencies]") {
        if !DOMAIN.contains(&name.as_str()) && !["nalgebra", "statrs"].contains(&name.as_str()) {
            faults.push(format!("domain/Cargo.toml depends on {name}"));
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}

/// All code of the project that is not a test.
fn ours() -> Vec<File> {
    let all: Vec<File> = ["domain/src", "scan/src", "api/src"]
        .into_iter()
        .flat_map(files)
        .collect();
    assert!(all.len() > 40, "only {} files were found", all.len());
    all
}

#[test]
fn every_file_says_in_its_first_line_what_belongs_there() {
    let mut all = ours();
    all.extend(
        files("tests")
            .into_iter()
            .filter(|file| !file.name.contains("/target/")),
    );
    let silent: Vec<String> = all
        .into_iter()
        .filter(|file| !file.whole.starts_with("//!"))
        .map(|file| file.name)
        .collect();
    assert!(silent.is_empty(), "{silent:#?}");
}

#[test]
fn no_file_is_longer_than_four_hundred_lines_before_its_tests() {
    let long: Vec<String> = ours()
        .into_iter()
        .filter(|file| file.lines > LINES_MAX && !LONG.contains(&file.name.as_str()))
        .map(|file| format!("{}: {}", file.name, file.lines))
        .collect();
    assert!(long.is_empty(), "{long:#?}");
}

#[test]
fn nothing_gives_up_by_a_panic() {
    let words = [
        ".unwrap()",
        ".unwrap_err()",
        ".expect(",
        "panic!",
        "todo!",
        "unimplemented!",
        "unreachable!",
    ];
    let mut faults = Vec::new();
    for file in ours() {
        for (number, line) in file.code.lines().enumerate() {
            for word in words.iter().filter(|word| line.contains(*word)) {
                let fails_the_build = AT_BUILD_TIME.iter().any(|(name, text)| {
                    file.name.ends_with(name)
                        && file.whole.contains(&format!("panic!(\"{text}\")"))
                        && *word == "panic!"
                });
                if fails_the_build && file.code.matches("panic!").count() == 1 {
                    continue;
                }
                faults.push(format!("{} (line {} of its code): {word}", file.name, number + 1));
            }
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}

#[test]
fn the_reader_of_these_files_is_not_fooled_by_texts_and_comments() {
    let code =
        bare("let a: &'static str = \"diesel::x\"; // chrono::y\nlet b = '\"'; r#\"uuid::z\"#; '\\''; libm::exp(1.0)");
    assert_eq!(path_roots(&code), ["libm".to_owned()].into());
    let named = rooms_named("use crate::{auth::{self, x}, clock}; crate::config::Config");
    assert_eq!(named, ["auth", "clock", "config"].map(str::to_owned).into());
}

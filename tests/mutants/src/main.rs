//! Whether the tests of the rules notice when a rule is changed.
//!
//! To build once for each change would take days. So all changes that `cargo mutants --list --json` names are written
//! into a copy of the project, each behind a switch, and what does not compile is taken out again. Each test is run once
//! to see which changes it comes by; then, with one change switched on at a time, those tests that come by it, until
//! one fails. `deploy/mutants` calls this.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail, ensure};
use serde_json::Value;

mod write;

use write::Mutant;

type Mutants = BTreeMap<usize, Mutant>;

fn main() -> Result<()> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [list, copy, report] = args.as_slice() else {
        bail!("usage: mutants LIST.json COPY REPORT.tsv");
    };
    let mutants: Vec<Mutant> = serde_json::from_str(&std::fs::read_to_string(list)?)?;
    let mutants: Mutants = (1..).zip(mutants).collect();
    let copy = Path::new(copy).canonicalize()?;
    let (viable, binaries) = built(&copy, &mutants)?;
    let tests = recorded(&copy, &binaries)?;
    eprintln!(
        "{} of {} changes compile, {} tests come by them",
        viable.len(),
        mutants.len(),
        tests.len()
    );
    let mut lines = String::new();
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for (number, mutant) in &mutants {
        let outcome = match viable.contains(number) {
            true => tried(&copy, *number, &tests)?,
            false if mutant.has_a_switch() => "unviable",
            false => "unswitched",
        };
        *counts.entry(outcome).or_default() += 1;
        lines.push_str(&format!("{outcome}\t{}\n", mutant.name));
        std::fs::write(report, &lines)?;
    }
    eprintln!("{counts:?}");
    Ok(())
}

/// Writes the changes into the copy until it compiles: those that are left, and the programs with the tests.
fn built(copy: &Path, mutants: &Mutants) -> Result<(BTreeSet<usize>, Vec<PathBuf>)> {
    let mut files: BTreeMap<&str, (String, String)> = BTreeMap::new();
    for mutant in mutants.values() {
        let source = std::fs::read_to_string(copy.join(&mutant.file)).with_context(|| mutant.file.clone())?;
        files.entry(&mutant.file).or_insert((source, String::new()));
    }
    let lib = copy.join("domain/src/lib.rs");
    std::fs::write(&lib, std::fs::read_to_string(&lib)? + "\npub mod switch;\n")?;
    std::fs::write(copy.join("domain/src/switch.rs"), include_str!("switch.rs"))?;
    let with_switch = mutants.iter().filter(|(_, mutant)| mutant.has_a_switch());
    let mut viable: BTreeSet<usize> = with_switch.map(|(number, _)| *number).collect();
    loop {
        for (file, (source, written)) in &mut files {
            let ours = mutants
                .iter()
                .filter(|(number, mutant)| mutant.file == *file && viable.contains(number));
            let ours: Vec<_> = ours.map(|(number, mutant)| (*number, mutant)).collect();
            let (new, unplaced) = write::with_switches(source, &ours)?;
            viable.retain(|number| !unplaced.contains(number));
            if new != *written {
                std::fs::write(copy.join(file), &new)?;
                *written = new;
            }
        }
        let out = Command::new("cargo")
            .args([
                "test",
                "-p",
                "domain",
                "--tests",
                "--no-run",
                "--message-format",
                "json",
            ])
            .env("RUSTFLAGS", "--cap-lints warn")
            .current_dir(copy)
            .stderr(Stdio::null())
            .output()?;
        let messages = String::from_utf8(out.stdout)?;
        let messages: Vec<Value> = messages.lines().map(serde_json::from_str).collect::<Result<_, _>>()?;
        if out.status.success() {
            let tests = messages.iter().filter(|message| message["profile"]["test"] == true);
            let programs = tests.filter_map(|message| message["executable"].as_str());
            return Ok((viable, programs.map(PathBuf::from).collect()));
        }
        let before = viable.len();
        let errors = messages
            .iter()
            .map(|message| &message["message"])
            .filter(|message| message["level"] == "error");
        for span in errors.flat_map(|error| error["spans"].as_array().into_iter().flatten()) {
            let named = span["file_name"].as_str().unwrap_or_default();
            let at = usize::try_from(span["byte_start"].as_u64().unwrap_or_default())?;
            for (_, (_, written)) in files.iter().filter(|(file, _)| **file == named) {
                for number in write::around(written, at) {
                    viable.remove(&number);
                }
            }
        }
        eprintln!("{} of {before} changes are left", viable.len());
        ensure!(
            viable.len() < before,
            "the copy does not compile, and no change is the cause"
        );
    }
}

/// One test with what it takes and the changes it comes by.
struct Test {
    program: PathBuf,
    name: String,
    takes: Duration,
    reached: BTreeSet<usize>,
}

/// All tests that come by any change, the quick ones first.
fn recorded(copy: &Path, programs: &[PathBuf]) -> Result<Vec<Test>> {
    let mut tests = Vec::new();
    let note = copy.join("reached");
    for program in programs {
        let listed = Command::new(program).args(["--list", "--format", "terse"]).output()?;
        for name in String::from_utf8(listed.stdout)?
            .lines()
            .filter_map(|line| line.strip_suffix(": test"))
        {
            std::fs::write(&note, "")?;
            let begun = Instant::now();
            let ended = test(copy, program, &[name]).env("MUTANTS_REACHED", &note).status()?;
            if !ended.success() {
                eprintln!("left out, since it fails without any change: {name}");
                continue;
            }
            let reached = std::fs::read_to_string(&note)?;
            let reached: BTreeSet<usize> = reached.lines().filter_map(|line| line.parse().ok()).collect();
            if !reached.is_empty() {
                tests.push(Test {
                    program: program.clone(),
                    name: name.to_owned(),
                    takes: begun.elapsed(),
                    reached,
                });
            }
        }
    }
    tests.sort_by_key(|test| test.takes);
    Ok(tests)
}

fn test(copy: &Path, program: &Path, names: &[&str]) -> Command {
    let mut command = Command::new(program);
    command
        .args(["--exact", "--test-threads", "1"])
        .args(names)
        .env("PROPTEST_MAX_SHRINK_ITERS", "0")
        // With and without a change the same is drawn, and nothing is remembered.
        .env("PROPTEST_RNG_SEED", "1")
        .env("PROPTEST_DISABLE_FAILURE_PERSISTENCE", "true")
        .current_dir(copy.join("domain"))
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    command
}

/// How many tests run in one process.
const TOGETHER: usize = 12;

/// Runs the tests that come by a change until one fails.
fn tried(copy: &Path, number: usize, tests: &[Test]) -> Result<&'static str> {
    let mut left: Vec<&Test> = tests.iter().filter(|test| test.reached.contains(&number)).collect();
    if left.is_empty() {
        return Ok("unreached");
    }
    while let Some(first) = left.first() {
        let program = &first.program;
        let group: Vec<&Test> = left
            .iter()
            .copied()
            .filter(|test| test.program == *program)
            .take(TOGETHER)
            .collect();
        left.retain(|test| !group.iter().any(|run| std::ptr::eq(*run, *test)));
        let names: Vec<&str> = group.iter().map(|test| test.name.as_str()).collect();
        let takes: Duration = group.iter().map(|test| test.takes).sum();
        let mut child = test(copy, program, &names).env("MUTANT", number.to_string()).spawn()?;
        match ended_within(&mut child, takes * 10 + Duration::from_secs(5))? {
            None => return Ok("timeout"),
            Some(false) => return Ok("caught"),
            Some(true) => {}
        }
    }
    Ok("missed")
}

/// Whether it ended well; nothing if it did not end in time and was stopped.
fn ended_within(child: &mut Child, limit: Duration) -> Result<Option<bool>> {
    let begun = Instant::now();
    while begun.elapsed() < limit {
        if let Some(status) = child.try_wait()? {
            return Ok(Some(status.success()));
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    child.kill()?;
    child.wait()?;
    Ok(None)
}

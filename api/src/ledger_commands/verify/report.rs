//! What was found, for people and for programs.

use std::fmt::Write as _;

use serde::Serialize;
use uuid::Uuid;

/// Faults that are named; a broken ledger would fill the screen.
const NAMED_MAX: usize = 100;

/// Something that does not follow from the ledger, or is wrong in it.
#[derive(Debug, Serialize)]
pub struct Fault {
    /// What, a fixed word.
    pub what: &'static str,
    /// Where: an entry's number or a thing.
    pub at: String,
    /// In a sentence.
    pub detail: String,
}

/// What was found in one operation.
#[derive(Debug, Serialize)]
pub struct OperationReport {
    /// Which.
    pub operation_id: Uuid,
    /// What it is called.
    pub name: String,
    /// How many entries it has.
    pub entries: i64,
    /// How many states.
    pub states: i64,
    /// How many faults in all.
    pub faults_total: usize,
    /// The first of them.
    pub faults: Vec<Fault>,
}

impl OperationReport {
    pub(super) fn fault(&mut self, what: &'static str, at: impl ToString, detail: impl Into<String>) {
        self.faults_total += 1;
        if self.faults.len() < NAMED_MAX {
            self.faults.push(Fault {
                what,
                at: at.to_string(),
                detail: detail.into(),
            });
        }
    }
}

/// What was found.
#[derive(Debug, Serialize)]
pub struct Report {
    /// One an operation.
    pub operations: Vec<OperationReport>,
}

impl Report {
    /// Whether nothing is wrong.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.operations.iter().all(|report| report.faults_total == 0)
    }

    /// What is said, to a program or to people.
    ///
    /// # Errors
    /// When it cannot be written, which would be a fault of ours.
    pub fn said(&self, as_json: bool) -> Result<String, serde_json::Error> {
        Ok(if as_json { self.json()? + "\n" } else { self.text() })
    }

    /// For people.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = String::new();
        for report in &self.operations {
            let found = match report.faults_total {
                0 => "sound".to_owned(),
                n => format!("{n} faults"),
            };
            let _ = writeln!(
                out,
                "{} ({}): {} entries, {} states: {found}",
                report.name, report.operation_id, report.entries, report.states
            );
            for fault in &report.faults {
                let _ = writeln!(out, "  {} at {}: {}", fault.what, fault.at, fault.detail);
            }
        }
        out
    }

    /// For programs.
    ///
    /// # Errors
    /// When it cannot be written, which would be a fault of ours.
    pub fn json(&self) -> Result<String, serde_json::Error> {
        serde_json::to_string(self)
    }
}

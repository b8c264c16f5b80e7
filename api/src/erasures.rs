//! The list of erasures beside the backups: a restored backup brings back what was erased, and this list does not.
//!
//! It lies in the data folder, not in the database, and is applied at every start.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};

use serde_json::{Value, json};
use uuid::Uuid;

/// An erasure that must hold whatever backup was restored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Erasure {
    /// Whose entry it is.
    pub operation: Uuid,
    /// Which entry.
    pub entry: Uuid,
    /// Who decided it.
    pub member: Uuid,
}

fn file(data: &Path) -> PathBuf {
    data.join("erased.ndjson")
}

/// Adds an erasure to the list; it is on the disk when this returns.
///
/// # Errors
/// When the disk refuses.
pub fn tell(data: &Path, erasure: &Erasure) -> std::io::Result<()> {
    let mut file = std::fs::OpenOptions::new().create(true).append(true).open(file(data))?;
    let line = json!({ "operation_id": erasure.operation, "entry_id": erasure.entry, "member_id": erasure.member });
    writeln!(file, "{line}")?;
    file.sync_all()
}

/// Everything that was ever erased here. A line that a power cut tore is left out: its call was not answered.
///
/// # Errors
/// When the list cannot be read.
pub fn told(data: &Path) -> std::io::Result<Vec<Erasure>> {
    let file = match std::fs::File::open(file(data)) {
        Ok(file) => file,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => return Err(error),
    };
    let mut found = Vec::new();
    for line in BufReader::new(file).lines() {
        let line: Value = serde_json::from_str(&line?).unwrap_or_default();
        let id = |name: &str| line[name].as_str().and_then(|id| Uuid::parse_str(id).ok());
        if let (Some(operation), Some(entry), Some(member)) = (id("operation_id"), id("entry_id"), id("member_id")) {
            found.push(Erasure {
                operation,
                entry,
                member,
            });
        }
    }
    Ok(found)
}

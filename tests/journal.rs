//! The disk of a field phone: one line a step, written through before the step counts.
//!
//! A power cut leaves whole lines and at most one torn one at the end; that one never happened.

use std::fs::{File, OpenOptions};
use std::io::{Seek, SeekFrom, Write};
use std::path::Path;

use anyhow::Result;
use serde_json::Value;

/// Where lines go.
pub(crate) struct Journal {
    file: Option<File>,
}

impl Journal {
    /// For a phone that never loses power.
    pub(crate) const fn in_memory() -> Self {
        Self { file: None }
    }

    /// Reads what is whole and drops what is torn.
    pub(crate) fn open(path: &Path) -> Result<(Self, Vec<Value>)> {
        let bytes = if path.exists() {
            std::fs::read(path)?
        } else {
            Vec::new()
        };
        let mut whole = 0;
        let mut lines = Vec::new();
        while let Some(length) = bytes[whole..].iter().position(|byte| *byte == b'\n') {
            let Ok(line) = serde_json::from_slice(&bytes[whole..whole + length]) else {
                break;
            };
            lines.push(line);
            whole += length + 1;
        }
        let mut file = OpenOptions::new().create(true).truncate(false).write(true).open(path)?;
        file.set_len(u64::try_from(whole)?)?;
        file.seek(SeekFrom::End(0))?;
        Ok((Self { file: Some(file) }, lines))
    }

    /// Puts a line onto the disk.
    pub(crate) fn append(&mut self, line: &Value) -> Result<()> {
        if let Some(file) = &mut self.file {
            file.write_all(format!("{line}\n").as_bytes())?;
            file.sync_data()?;
        }
        Ok(())
    }
}

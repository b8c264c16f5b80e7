//! Which files there are, for tests that read the project's own.

use std::path::{Path, PathBuf};

/// All files in a folder and in those in it, in the order of their paths.
pub(crate) fn below(folder: &Path) -> Vec<PathBuf> {
    let (mut folders, mut found) = (vec![folder.to_owned()], Vec::new());
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() && !path.is_symlink() {
                folders.push(path);
            } else {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

/// Those whose name ends so.
pub(crate) fn ending(folder: &Path, end: &str) -> Vec<PathBuf> {
    let mut found = below(folder);
    found.retain(|path| path.extension().is_some_and(|extension| extension == end));
    found
}

//! Photos as files: `<operation>/<sha256>`, and `.part` behind it while pieces are still to come.

use std::fs::{File, OpenOptions};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::{Name, PhotoRefused, Piece, Progress, judge};

/// The folder of all photos.
pub struct Folder(PathBuf);

/// One photo in it.
struct Place {
    whole: PathBuf,
    part: PathBuf,
}

impl Folder {
    pub(super) fn new(folder: PathBuf) -> Self {
        Self(folder)
    }

    fn place(&self, name: &Name) -> std::io::Result<Place> {
        let folder = self.0.join(name.operation.to_string());
        std::fs::create_dir_all(&folder)?;
        Ok(Place {
            whole: folder.join(&name.sha256),
            part: folder.join(format!("{}.part", name.sha256)),
        })
    }

    pub(super) fn progress(&self, name: &Name) -> std::io::Result<Progress> {
        Ok(self.place(name)?.progress())
    }

    /// Adds a piece behind what is there. Two who do so at once take turns.
    pub(super) fn go_on(&self, name: &Name, piece: &Piece) -> Result<Progress, PhotoRefused> {
        let place = self.place(name)?;
        if place.whole.exists() {
            return Ok(place.progress());
        }
        let mut file = OpenOptions::new()
            .create(true)
            .truncate(false)
            .read(true)
            .write(true)
            .open(&place.part)?;
        file.lock()?;
        // Whoever had the turn before may have sent the last piece.
        if place.whole.exists() {
            return Ok(place.progress());
        }
        let after = piece.behind(file.seek(SeekFrom::End(0))?)?;
        file.write_all(&piece.bytes).and_then(|()| file.sync_data())?;
        if after == piece.of {
            place.finish(&mut file, name)?;
        }
        Ok(place.progress())
    }

    pub(super) fn read(&self, name: &Name) -> std::io::Result<Option<Vec<u8>>> {
        match std::fs::read(self.place(name)?.whole) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(error),
        }
    }
}

impl Place {
    fn progress(&self) -> Progress {
        let length = |path: &Path| std::fs::metadata(path).map(|file| file.len()).ok();
        match length(&self.whole) {
            Some(offset) => Progress { offset, complete: true },
            None => Progress {
                offset: length(&self.part).unwrap_or_default(),
                complete: false,
            },
        }
    }

    fn finish(&self, file: &mut File, name: &Name) -> Result<(), PhotoRefused> {
        let mut bytes = Vec::new();
        file.seek(SeekFrom::Start(0))?;
        file.read_to_end(&mut bytes)?;
        if let Err(refused) = judge(name, &bytes) {
            std::fs::remove_file(&self.part)?;
            return Err(refused);
        }
        Ok(std::fs::rename(&self.part, &self.whole)?)
    }
}

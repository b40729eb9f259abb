//! Films that wait on disk until the set can be written.

use std::io::{Read, Seek, SeekFrom, Write};
use std::path::Path;

/// Film files one after the other, in a file without a name.
pub(super) struct Spool {
    file: std::fs::File,
    /// Bytes of each film.
    sizes: Vec<usize>,
}

impl Spool {
    /// An empty one on the disk of `folder`, which need not exist yet.
    pub(super) fn beside(folder: &Path) -> std::io::Result<Self> {
        let folder = std::path::absolute(folder)?;
        let there = folder.ancestors().find(|ancestor| ancestor.is_dir());
        Ok(Self {
            file: tempfile::tempfile_in(there.unwrap_or(Path::new("/")))?,
            sizes: Vec::new(),
        })
    }

    /// Adds a film.
    pub(super) fn push(&mut self, film: &[u8]) -> std::io::Result<()> {
        self.sizes.push(film.len());
        self.file.write_all(film)
    }

    /// The films in the order they were pushed.
    pub(super) fn films(
        mut self,
    ) -> std::io::Result<impl Iterator<Item = std::io::Result<Vec<u8>>>> {
        self.file.seek(SeekFrom::Start(0))?;
        let Self { mut file, sizes } = self;
        Ok(sizes.into_iter().map(move |size| {
            let mut film = vec![0; size];
            file.read_exact(&mut film).map(|()| film)
        }))
    }
}

/// The last part of a path.
pub(super) fn file_name(path: &Path) -> String {
    let name = path.file_name().unwrap_or_default();
    name.to_string_lossy().into_owned()
}

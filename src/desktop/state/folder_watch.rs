//! Notices films that another program writes into a folder, as a sensor's
//! software does.

use std::collections::HashMap;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use super::open_film::FileStamp;

/// How often the folder is looked at.
const LOOK_EVERY: Duration = Duration::from_secs(1);
/// Endings of films; DICOM files often have none.
const ENDINGS: [&str; 8] = ["dcm", "dic", "png", "tif", "tiff", "jpg", "jpeg", "bmp"];

/// A thread that looks at one folder; ends when dropped.
pub struct FolderWatch {
    folder: PathBuf,
    stop: Arc<AtomicBool>,
    found: Arc<Mutex<Option<PathBuf>>>,
    thread: Option<std::thread::Thread>,
}

impl FolderWatch {
    /// Watches a folder for films that come from now on. The window is
    /// repainted when there is one, whole.
    pub fn start(ctx: &egui::Context, folder: PathBuf) -> Self {
        let stop = Arc::new(AtomicBool::new(false));
        let found = Arc::new(Mutex::new(None));
        let spawned = std::thread::Builder::new()
            .name("FolderWatch".to_owned())
            .spawn({
                let (ctx, stop, found) = (ctx.clone(), stop.clone(), found.clone());
                let folder = folder.clone();
                move || {
                    let mut look = Look::new(&folder);
                    while !stop.load(Ordering::Relaxed) {
                        std::thread::park_timeout(LOOK_EVERY);
                        if let Some(film) = look.again(&folder) {
                            let mut found = found.lock().unwrap_or_else(PoisonError::into_inner);
                            *found = Some(film);
                            ctx.request_repaint();
                        }
                    }
                }
            });
        Self {
            folder,
            stop,
            found,
            thread: spawned.ok().map(|handle| handle.thread().clone()),
        }
    }

    /// The folder watched.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The newest film that has come since the last call.
    pub fn take_new(&self) -> Option<PathBuf> {
        let mut found = self.found.lock().unwrap_or_else(PoisonError::into_inner);
        found.take()
    }
}

impl Drop for FolderWatch {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = &self.thread {
            thread.unpark();
        }
    }
}

/// What was seen of a folder.
struct Look {
    known: HashMap<PathBuf, FileStamp>,
    /// Seen to have changed, perhaps still being written.
    growing: HashMap<PathBuf, FileStamp>,
}

impl Look {
    /// What lies in the folder already is not new.
    fn new(folder: &Path) -> Self {
        Self {
            known: films_in(folder),
            growing: HashMap::new(),
        }
    }

    /// Looks again: the newest film that is new and no longer grows.
    fn again(&mut self, folder: &Path) -> Option<PathBuf> {
        let mut whole = Vec::new();
        for (path, stamp) in films_in(folder) {
            if self.known.get(&path) == Some(&stamp) {
                continue;
            }
            if self.growing.get(&path) == Some(&stamp) && stamp.bytes > 0 {
                self.growing.remove(&path);
                self.known.insert(path.clone(), stamp);
                whole.push((stamp.modified, path));
            } else {
                self.growing.insert(path, stamp);
            }
        }
        whole.into_iter().max().map(|(_, path)| path)
    }
}

/// The newest film in a folder.
pub fn newest_in(folder: &Path) -> Option<PathBuf> {
    let films = films_in(folder).into_iter();
    let newest = films.max_by_key(|(path, stamp)| (stamp.modified, path.clone()));
    newest.map(|(path, _)| path)
}

fn films_in(folder: &Path) -> HashMap<PathBuf, FileStamp> {
    let Ok(listed) = fs::read_dir(folder) else {
        return HashMap::new();
    };
    let paths = listed.flatten().map(|entry| entry.path());
    let films = paths.filter(|path| path.is_file() && is_film(path));
    films
        .filter_map(|path| FileStamp::of(&path).map(|stamp| (path, stamp)))
        .collect()
}

/// By its ending; without one by the mark of a DICOM file (PS3.10 7.1).
fn is_film(path: &Path) -> bool {
    match path.extension() {
        Some(ending) => ENDINGS.iter().any(|film| ending.eq_ignore_ascii_case(film)),
        None => {
            let mut head = [0; 132];
            let read = fs::File::open(path).and_then(|mut file| file.read_exact(&mut head));
            read.is_ok() && head[128..] == *b"DICM"
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_film_is_new_once_it_has_come_and_no_longer_grows() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = |name: &str| folder.path().join(name);
        fs::write(file("old.png"), b"old").expect("writes");
        let mut look = Look::new(folder.path());
        assert_eq!(look.again(folder.path()), None, "it lay there before");
        fs::write(file("note.txt"), b"no film").expect("writes");
        fs::write(file("new.DCM"), b"half").expect("writes");
        assert_eq!(look.again(folder.path()), None, "it may still grow");
        fs::write(file("new.DCM"), b"all of it").expect("writes");
        assert_eq!(look.again(folder.path()), None, "it has grown");
        assert_eq!(look.again(folder.path()), Some(file("new.DCM")));
        assert_eq!(look.again(folder.path()), None, "told once");
    }

    #[test]
    fn a_dicom_file_needs_no_ending() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("IM000001");
        let mut bytes = vec![0; 128];
        bytes.extend(b"DICM rest");
        fs::write(&path, bytes).expect("writes");
        fs::write(folder.path().join("README"), vec![0; 400]).expect("writes");
        assert_eq!(newest_in(folder.path()), Some(path));
    }
}

//! Asking for a file or folder, in the window itself: no service of the
//! desktop is needed, and every system behaves alike.
//!
//! Folders are read on a thread of their own: a slow disk or network never
//! holds up the window.

mod folder;

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};

use egui::Context;

pub use folder::{ALL_FILES, Entry, FileKind, places, with_ending};
use folder::{home, read_folder, without_dots};

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wanted {
    File,
    Files,
    Folder,
    /// A file to write, with this ending where none is typed.
    NewFile {
        ending: &'static str,
    },
}

/// A question for a file.
#[derive(Clone, Debug)]
pub struct Question {
    pub title: &'static str,
    pub wanted: Wanted,
    /// The first is chosen to begin with.
    pub kinds: &'static [FileKind],
    /// Where to begin; `None`: where the last file was chosen.
    pub folder: Option<PathBuf>,
    /// Name offered for a new file.
    pub name: String,
}

impl Question {
    /// A question for what is there already.
    pub fn new(title: &'static str, wanted: Wanted, kinds: &'static [FileKind]) -> Self {
        Self {
            title,
            wanted,
            kinds,
            folder: None,
            name: String::new(),
        }
    }

    /// A question for a file to write, which is offered the name `name`.
    pub fn of_new_file(
        title: &'static str,
        name: &str,
        ending: &'static str,
        kinds: &'static [FileKind],
    ) -> Self {
        Self {
            name: name.to_owned(),
            ..Self::new(title, Wanted::NewFile { ending }, kinds)
        }
    }
}

/// The answer to come.
pub struct Answer(Receiver<Vec<PathBuf>>);

impl Answer {
    /// Waits for it, on a job's thread: nothing where the question was put
    /// aside.
    pub fn wait(self) -> Vec<PathBuf> {
        self.0.recv().unwrap_or_default()
    }
}

/// What the list is sorted by; folders always come first.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SortBy {
    #[default]
    Name,
    Size,
    Time,
}

/// How folders are shown; kept from question to question.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FolderView {
    pub sort_by: SortBy,
    pub descending: bool,
    pub show_hidden: bool,
    /// Where the last file was chosen.
    pub last_folder: Option<PathBuf>,
}

/// A question about what was chosen, before it is the answer.
#[derive(Clone, Debug, PartialEq)]
pub enum Asking {
    /// This file is there already.
    Replace(PathBuf),
    /// Name of a folder to make.
    NewFolder(String),
}

/// A file being asked for.
pub struct FileChooser {
    pub question: Question,
    folder: PathBuf,
    reading: Option<Receiver<Result<Vec<Entry>, String>>>,
    all: Vec<Entry>,
    /// What is shown of them, in order.
    shown: Vec<Entry>,
    /// Kind of file chosen among the question's.
    pub kind: usize,
    /// Typed name.
    pub name: String,
    /// Entry that the keyboard is on.
    pub cursor: Option<usize>,
    pub marked: BTreeSet<usize>,
    pub asking: Option<Asking>,
    /// What went wrong last, in plain words.
    pub fault: Option<String>,
    view: FolderView,
    /// Entry to move to once a folder has been read.
    come_from: Option<String>,
    answer: Option<Sender<Vec<PathBuf>>>,
}

impl FileChooser {
    /// Asks `question`, beginning in its folder if that is there.
    pub fn ask(ctx: &Context, question: Question, view: FolderView) -> (Self, Answer) {
        let (sender, receiver) = channel();
        let begin = [question.folder.clone(), view.last_folder.clone(), home()];
        let folder = begin.into_iter().flatten().find(|folder| folder.is_dir());
        let folder = folder.unwrap_or_else(|| PathBuf::from("."));
        let mut chooser = Self {
            name: question.name.clone(),
            question,
            folder: PathBuf::new(),
            reading: None,
            all: Vec::new(),
            shown: Vec::new(),
            kind: 0,
            cursor: None,
            marked: BTreeSet::new(),
            asking: None,
            fault: None,
            view,
            come_from: None,
            answer: Some(sender),
        };
        chooser.go_to(ctx, &folder);
        (chooser, Answer(receiver))
    }

    /// The folder shown.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// What is shown of it, in order.
    pub fn entries(&self) -> &[Entry] {
        &self.shown
    }

    /// How many files of the folder are not shown, whatever the reason.
    pub fn hidden_files(&self) -> usize {
        let files = |entries: &[Entry]| entries.iter().filter(|entry| !entry.is_folder).count();
        files(&self.all) - files(&self.shown)
    }

    /// How it is shown, to be kept.
    pub fn view(&self) -> FolderView {
        FolderView {
            last_folder: Some(self.folder.clone()),
            ..self.view.clone()
        }
    }

    /// The folder is being read.
    pub fn is_reading(&self) -> bool {
        self.reading.is_some()
    }

    /// Only folders can be chosen.
    pub fn wants_folder(&self) -> bool {
        self.question.wanted == Wanted::Folder
    }

    /// A file is to be written.
    pub fn wants_new_file(&self) -> bool {
        matches!(self.question.wanted, Wanted::NewFile { .. })
    }

    /// Shows another folder.
    pub fn go_to(&mut self, ctx: &Context, folder: &Path) {
        let folder = std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned());
        self.folder = without_dots(&folder);
        self.all.clear();
        self.fault = None;
        self.read(ctx);
        self.arrange();
    }

    /// Shows the folder above.
    pub fn go_up(&mut self, ctx: &Context) {
        if let Some(parent) = self.folder.parent().map(Path::to_owned) {
            let left = self.folder.file_name();
            let left = left.map(|name| name.to_string_lossy().into_owned());
            self.go_to(ctx, &parent);
            self.come_from = left;
        }
    }

    /// Reads the folder shown anew.
    fn read(&mut self, ctx: &Context) {
        let (sender, receiver) = channel();
        let (folder, ctx) = (self.folder.clone(), ctx.clone());
        let spawned = std::thread::Builder::new()
            .name("Folder".to_owned())
            .spawn(move || {
                // Another folder may be shown by now.
                let _ = sender.send(read_folder(&folder));
                ctx.request_repaint();
            });
        self.reading = spawned.is_ok().then_some(receiver);
    }

    /// Takes what the folder's thread has read.
    pub fn poll(&mut self) {
        let Some(reading) = &self.reading else {
            return;
        };
        match reading.try_recv() {
            Ok(Ok(entries)) => self.all = entries,
            Ok(Err(fault)) => self.fault = Some(fault),
            Err(TryRecvError::Empty) => return,
            Err(TryRecvError::Disconnected) => {
                self.fault = Some(format!("{} cannot be read", self.folder.display()));
            }
        }
        self.reading = None;
        self.arrange();
        if let Some(name) = self.come_from.take() {
            self.cursor = self.shown.iter().position(|entry| entry.name == name);
        }
    }

    /// Chooses what the list is sorted by; the same again turns it round.
    pub fn sort_by(&mut self, by: SortBy) {
        self.view.descending = self.view.sort_by == by && !self.view.descending;
        self.view.sort_by = by;
        self.arrange();
    }

    /// What the list is sorted by, and whether from the end.
    pub fn order(&self) -> (SortBy, bool) {
        (self.view.sort_by, self.view.descending)
    }

    /// Hidden files are shown.
    pub fn shows_hidden(&self) -> bool {
        self.view.show_hidden
    }

    /// Shows hidden files, or leaves them out.
    pub fn show_hidden(&mut self, shown: bool) {
        self.view.show_hidden = shown;
        self.arrange();
    }

    /// Shows another of the question's kinds of file.
    pub fn choose_kind(&mut self, kind: usize) {
        self.kind = kind;
        self.arrange();
    }

    fn arrange(&mut self) {
        let kind = self.question.kinds.get(self.kind).copied();
        let kind = kind.unwrap_or(ALL_FILES);
        let is_shown = |entry: &&Entry| {
            let fits = entry.is_folder || !self.wants_folder() && kind.includes(&entry.name);
            fits && (self.view.show_hidden || !entry.is_hidden())
        };
        let mut shown: Vec<Entry> = self.all.iter().filter(is_shown).cloned().collect();
        let FolderView {
            sort_by,
            descending,
            ..
        } = self.view;
        shown.sort_by(|a, b| {
            let by_name = || {
                let lower = |entry: &Entry| entry.name.to_lowercase();
                lower(a).cmp(&lower(b)).then_with(|| a.name.cmp(&b.name))
            };
            let order = match sort_by {
                SortBy::Name => by_name(),
                SortBy::Size => a.bytes.cmp(&b.bytes).then_with(by_name),
                SortBy::Time => a.modified.cmp(&b.modified).then_with(by_name),
            };
            let order = if descending { order.reverse() } else { order };
            b.is_folder.cmp(&a.is_folder).then(order)
        });
        self.shown = shown;
        self.cursor = None;
        self.marked.clear();
    }

    /// Moves the keyboard's entry; a file's name goes to the field.
    pub fn move_cursor(&mut self, by: isize) {
        let Some(last) = self.shown.len().checked_sub(1) else {
            return;
        };
        let at = match self.cursor {
            None if by > 0 => 0,
            None => last,
            Some(at) => at.saturating_add_signed(by).min(last),
        };
        self.point_at(at);
    }

    /// Puts the cursor on an entry, as a click does.
    pub fn point_at(&mut self, at: usize) {
        let Some(entry) = self.shown.get(at) else {
            return;
        };
        self.cursor = Some(at);
        self.marked = BTreeSet::from([at]);
        if !entry.is_folder {
            self.name.clone_from(&entry.name);
        } else if !self.wants_new_file() {
            self.name.clear();
        }
        self.fault = None;
    }

    /// Marks one entry more, or no longer, where several may be chosen.
    pub fn toggle(&mut self, at: usize) {
        if self.question.wanted != Wanted::Files || self.shown.get(at).is_none() {
            return self.point_at(at);
        }
        self.cursor = Some(at);
        if !self.marked.remove(&at) {
            self.marked.insert(at);
        }
        self.name.clear();
    }

    /// Marks all from the cursor to an entry, where several may be chosen.
    pub fn extend_to(&mut self, at: usize) {
        let (Some(from), Wanted::Files) = (self.cursor, self.question.wanted) else {
            return self.point_at(at);
        };
        let last = self.shown.len().saturating_sub(1);
        self.marked = (from.min(at)..=from.max(at).min(last)).collect();
        self.name.clear();
    }

    /// A name was typed: the first entry that begins so is pointed at.
    pub fn typed(&mut self) {
        self.fault = None;
        let typed = self.name.to_lowercase();
        let begins = |entry: &Entry| entry.name.to_lowercase().starts_with(&typed);
        self.cursor = self
            .shown
            .iter()
            .position(begins)
            .filter(|_| !typed.is_empty() && !self.wants_new_file());
        self.marked = self.cursor.into_iter().collect();
    }

    /// Opens the folder that the cursor is on, or takes what is chosen or
    /// typed as the answer; `true` when the question is answered.
    pub fn accept(&mut self, ctx: &Context) -> bool {
        let marked: Vec<&Entry> = self.marked.iter().map(|&at| &self.shown[at]).collect();
        let typed = self.name.trim();
        if let [one] = marked[..]
            && one.is_folder
            && (typed.is_empty() || one.name.to_lowercase().starts_with(&typed.to_lowercase()))
        {
            let folder = self.folder.join(&one.file_name);
            self.name.clear();
            self.go_to(ctx, &folder);
            return false;
        }
        if self.question.wanted == Wanted::Files && typed.is_empty() && !marked.is_empty() {
            let files = marked.iter().filter(|entry| !entry.is_folder);
            let files: Vec<_> = files
                .map(|entry| self.folder.join(&entry.file_name))
                .collect();
            return self.answer(files);
        }
        if typed.is_empty() {
            if self.wants_folder() {
                return self.choose_folder();
            }
            self.fault = Some("Choose a file, or type its name".to_owned());
            return false;
        }
        let path = self.path_of(typed);
        if path.is_dir() {
            self.name.clear();
            self.go_to(ctx, &path);
            return false;
        }
        match self.question.wanted {
            Wanted::NewFile { ending } => {
                let path = with_ending(path, ending);
                let folder_exists = path.parent().is_none_or(Path::is_dir);
                if !folder_exists {
                    self.fault = Some(format!("{}: there is no such folder", path.display()));
                } else if path.exists() {
                    self.asking = Some(Asking::Replace(path));
                } else {
                    return self.answer(vec![path]);
                }
                false
            }
            Wanted::File | Wanted::Files => {
                // A name begun and found in the list is that entry.
                let begun = self
                    .cursor
                    .map(|at| self.folder.join(&self.shown[at].file_name));
                match [Some(path.clone()), begun]
                    .into_iter()
                    .flatten()
                    .find(|p| p.is_file())
                {
                    Some(found) => self.answer(vec![found]),
                    None => {
                        self.fault = Some(format!("{}: there is no such file", path.display()));
                        false
                    }
                }
            }
            Wanted::Folder => {
                self.fault = Some(format!("{}: there is no such folder", path.display()));
                false
            }
        }
    }

    /// The folder shown is the answer, or the one marked in it.
    pub fn choose_folder(&mut self) -> bool {
        let marked = self.marked.iter().next().and_then(|&at| self.shown.get(at));
        let folder = match marked {
            Some(entry) => self.folder.join(&entry.file_name),
            None => self.folder.clone(),
        };
        self.answer(vec![folder])
    }

    /// Agrees to replace the file that is there already.
    pub fn replace(&mut self) -> bool {
        match self.asking.take() {
            Some(Asking::Replace(path)) => self.answer(vec![path]),
            _ => false,
        }
    }

    /// Makes the folder asked for and shows it.
    pub fn make_folder(&mut self, ctx: &Context) {
        let Some(Asking::NewFolder(name)) = self.asking.take() else {
            return;
        };
        let name = name.trim();
        if name.is_empty() || Path::new(name).components().count() != 1 || name == ".." {
            self.fault = Some("Type a name for the folder, without a slash".to_owned());
            return;
        }
        let folder = self.folder.join(name);
        match fs::create_dir(&folder) {
            Ok(()) => self.go_to(ctx, &folder),
            Err(error) => {
                let reason = crate::atomic_file::reason(&error);
                self.fault = Some(format!("{}: not made: {reason}", folder.display()));
            }
        }
    }

    fn answer(&mut self, paths: Vec<PathBuf>) -> bool {
        if let Some(answer) = self.answer.take() {
            // Whoever asked may be gone.
            let _ = answer.send(paths);
        }
        true
    }

    /// A typed name as a path: from the home folder, from the root or from
    /// the folder shown.
    fn path_of(&self, typed: &str) -> PathBuf {
        match (typed.strip_prefix("~/"), home()) {
            (Some(rest), Some(home)) => home.join(rest),
            _ => without_dots(&self.folder.join(typed)),
        }
    }
}

#[cfg(test)]
mod tests;

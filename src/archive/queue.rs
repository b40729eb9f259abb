//! What could not be sent yet. It outlives the program, and nothing in it is
//! sent twice.
//!
//! Each object waits as two files, `UID.dcm` and then `UID.json`: without the
//! second the first is not in the queue. What the archive has confirmed is
//! written to `sent.jsonl` before its files are removed, so that a program
//! killed in between finds it there. Killed between sending and confirmation,
//! it asks the archive (C-FIND by UID) before it sends again.
//!
//! The files name no patient: that is asked of the archive when they are sent.

use std::collections::HashSet;
use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::dimse;
use super::fault::{ArchiveError, Fault, at_file};
use super::find::is_there;
use super::identity;
use super::object::PartTen;
use super::put::put;
use super::settings::{Address, Settings};
use super::watch::Watch;
use crate::{atomic_file, input_file};

/// Most bytes of an entry.
const MOST_BYTES: u64 = 1 << 16;

/// One object that waits.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct QueueEntry {
    pub sop_instance_uid: String,
    pub sop_class_uid: String,
    pub study_instance_uid: Option<String>,
    pub series_instance_uid: Option<String>,
    /// The archive it goes to.
    pub to: Address,
    /// Patient and study are asked of the archive before it is sent.
    pub file_under_study: bool,
    /// Sending has begun at least once: it may be there already.
    pub begun: bool,
    /// Why it was not sent the last time.
    pub last_error: Option<String>,
}

/// A folder of objects that wait.
pub struct Queue {
    folder: PathBuf,
}

/// What a round of sending did.
#[derive(Debug, Default)]
pub struct SendOutcome {
    /// UIDs that the archive has now.
    pub sent: Vec<String>,
    /// UIDs that it had already.
    pub already_there: Vec<String>,
    /// What waits on, and why.
    pub waiting: Vec<(String, ArchiveError)>,
}

impl Queue {
    /// The queue in a folder, made where there is none.
    ///
    /// # Errors
    /// A folder that cannot be made.
    pub fn open(folder: &Path) -> Result<Self, ArchiveError> {
        fs::create_dir_all(folder).map_err(|error| at_file(folder, Fault::Write(error)))?;
        Ok(Self {
            folder: folder.to_owned(),
        })
    }

    fn path(&self, uid: &str, ending: &str) -> PathBuf {
        self.folder.join(format!("{uid}.{ending}"))
    }

    /// Puts an object into the queue, without whose it is where that is asked
    /// of the archive later. What was confirmed before, or waits already, is
    /// not put in again.
    ///
    /// # Errors
    /// A folder that cannot be written to.
    pub fn add(
        &self,
        part: &PartTen,
        to: &Address,
        file_under_study: bool,
    ) -> Result<(), ArchiveError> {
        let uid = &part.sop_instance_uid;
        if self.confirmed()?.contains(&confirmation(uid, to)) || self.path(uid, "json").exists() {
            return Ok(());
        }
        let path = self.path(uid, "dcm");
        let bytes = match file_under_study {
            true => identity::record_without(part).and_then(|part| part.as_file()),
            false => part.as_file(),
        }
        .map_err(|fault| at_file(&path, fault))?;
        atomic_file::write(&path, &bytes).map_err(|e| at_file(&path, Fault::Write(e)))?;
        self.write_entry(&QueueEntry {
            sop_instance_uid: uid.clone(),
            sop_class_uid: part.sop_class_uid.clone(),
            study_instance_uid: part.study_instance_uid.clone(),
            series_instance_uid: part.series_instance_uid.clone(),
            to: to.clone(),
            file_under_study,
            begun: false,
            last_error: None,
        })
    }

    fn write_entry(&self, entry: &QueueEntry) -> Result<(), ArchiveError> {
        let path = self.path(&entry.sop_instance_uid, "json");
        let text = serde_json::to_string_pretty(entry).unwrap_or_default() + "\n";
        atomic_file::write(&path, text.as_bytes()).map_err(|e| at_file(&path, Fault::Write(e)))
    }

    /// What waits, by UID. An entry that cannot be read is an error that names
    /// it: nothing that was to be sent is passed over in silence.
    ///
    /// # Errors
    /// A folder or an entry that cannot be read.
    pub fn entries(&self) -> Result<Vec<QueueEntry>, ArchiveError> {
        let unread = |path: &Path, error| at_file(path, Fault::Read(error));
        let listing = fs::read_dir(&self.folder).map_err(|e| unread(&self.folder, e))?;
        let mut paths: Vec<PathBuf> = listing.flatten().map(|entry| entry.path()).collect();
        paths.retain(|path| path.extension().is_some_and(|ending| ending == "json"));
        paths.sort();
        let mut entries = Vec::new();
        for path in paths {
            let text = input_file::read_text(&path, MOST_BYTES).map_err(|e| unread(&path, e))?;
            let entry: QueueEntry = serde_json::from_str(&text).map_err(|_| {
                let what = "no entry of the queue; remove it if it is not needed";
                at_file(&path, Fault::Settings(what.to_owned()))
            })?;
            let is_named_so = path.file_stem().and_then(|stem| stem.to_str())
                == Some(entry.sop_instance_uid.as_str());
            if !dimse::is_uid(&entry.sop_instance_uid) || !is_named_so {
                let what = "an entry under another's name; remove it if it is not needed";
                return Err(at_file(&path, Fault::Settings(what.to_owned())));
            }
            entries.push(entry);
        }
        Ok(entries)
    }

    fn journal(&self) -> PathBuf {
        self.folder.join("sent.jsonl")
    }

    /// What was confirmed, as lines of the journal. A line that was cut off
    /// when the program was killed is none.
    fn confirmed(&self) -> Result<HashSet<String>, ArchiveError> {
        let path = self.journal();
        match fs::read_to_string(&path) {
            Ok(text) => Ok(text.lines().map(str::to_owned).collect()),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(HashSet::new()),
            Err(error) => Err(at_file(&path, Fault::Read(error))),
        }
    }

    /// Notes that the archive has the object, then forgets it.
    fn confirm(&self, entry: &QueueEntry) -> Result<(), ArchiveError> {
        let path = self.journal();
        let failed = |error| at_file(&path, Fault::Write(error));
        let mut journal = OpenOptions::new()
            .create(true)
            .append(true)
            .open(&path)
            .map_err(failed)?;
        // A new line first: what a kill cut off must not join this one.
        let line = confirmation(&entry.sop_instance_uid, &entry.to);
        journal
            .write_all(format!("\n{line}\n").as_bytes())
            .and_then(|()| journal.sync_all())
            .map_err(failed)?;
        self.forget(&entry.sop_instance_uid);
        Ok(())
    }

    /// Removes an object's files, the entry first. Should that fail, the
    /// journal still knows.
    fn forget(&self, uid: &str) {
        let _ = fs::remove_file(self.path(uid, "json"));
        let _ = fs::remove_file(self.path(uid, "dcm"));
    }

    /// Sends what waits for the archive of `settings`.
    ///
    /// # Errors
    /// A queue that cannot be read or written, or that another program sends
    /// from at this moment. What an archive says is in the outcome.
    pub fn send(&self, settings: &Settings, watch: &Watch) -> Result<SendOutcome, ArchiveError> {
        let lock_path = self.folder.join("lock");
        let lock = File::create(&lock_path).map_err(|e| at_file(&lock_path, Fault::Write(e)))?;
        if lock.try_lock().is_err() {
            let what = "another window or command is sending from this queue; wait for it";
            return Err(at_file(&self.folder, Fault::Settings(what.to_owned())));
        }
        let confirmed = self.confirmed()?;
        let entries = self.entries()?;
        let mine: Vec<_> = entries
            .into_iter()
            .filter(|e| e.to == settings.at)
            .collect();
        let total = mine.len();
        let mut outcome = SendOutcome::default();
        for (done, mut entry) in mine.into_iter().enumerate() {
            watch.tell(done, Some(total));
            let uid = entry.sop_instance_uid.clone();
            if confirmed.contains(&confirmation(&uid, &entry.to)) {
                self.forget(&uid);
                outcome.already_there.push(uid);
                continue;
            }
            match self.send_one(settings, &mut entry, watch) {
                Ok(true) => outcome.sent.push(uid),
                Ok(false) => outcome.already_there.push(uid),
                Err(error) => {
                    entry.last_error = Some(error.to_string());
                    self.write_entry(&entry)?;
                    let stop = error.is_temporary() || matches!(error.fault, Fault::Cancelled);
                    outcome.waiting.push((uid, error));
                    if stop {
                        break;
                    }
                }
            }
        }
        Ok(outcome)
    }

    /// Sends one object; `false`: it was there already.
    fn send_one(
        &self,
        settings: &Settings,
        entry: &mut QueueEntry,
        watch: &Watch,
    ) -> Result<bool, ArchiveError> {
        if entry.begun
            && let (Some(study), Some(series)) =
                (&entry.study_instance_uid, &entry.series_instance_uid)
        {
            match is_there(settings, study, series, &entry.sop_instance_uid, watch) {
                Ok(true) => {
                    self.confirm(entry)?;
                    return Ok(false);
                }
                // Where no query is offered the UID itself keeps it single: an
                // archive holds one object of a SOP Instance UID.
                Err(error) if !matches!(error.fault, Fault::NotOffered(_)) => return Err(error),
                _ => {}
            }
        }
        let part = PartTen::read(&self.path(&entry.sop_instance_uid, "dcm"))?;
        entry.begun = true;
        self.write_entry(entry)?;
        let outcomes = put(settings, vec![part], entry.file_under_study, watch);
        for outcome in outcomes {
            outcome.result?;
        }
        self.confirm(entry)?;
        Ok(true)
    }
}

/// A line of the journal.
fn confirmation(uid: &str, to: &Address) -> String {
    serde_json::json!({ "sop_instance_uid": uid, "to": to }).to_string()
}

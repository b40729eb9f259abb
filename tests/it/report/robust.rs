//! Disks that are full, folders that may not be written, and a program killed
//! while it saves.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use lengthfilm::case;
use lengthfilm::report::{Existing, ExportOptions, ReportError};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::files::write;
use super::fixture::record;

/// Environment of a child: what to do, and on which file.
const CHILD_PATH: &str = "LENGTHFILM_TEST_PATH";

/// This test program again, running one ignored test.
fn child(test: &str, path: &Path) -> Command {
    let mut command = Command::new(std::env::current_exe().unwrap());
    command
        .args(["--ignored", "--exact", "--nocapture", test])
        .env(CHILD_PATH, path);
    command
}

fn replacing() -> ExportOptions {
    ExportOptions {
        existing: Existing::ReplaceNamed,
        ..ExportOptions::default()
    }
}

/// The message of a write that must fail, and the old file, which must not
/// have changed.
fn fails_and_keeps(path: &Path, old: &[u8], message: &str) {
    assert_eq!(std::fs::read(path).unwrap(), old, "the old file is whole");
    let name = path.file_name().unwrap().to_string_lossy();
    assert!(message.contains(&*name), "names the file: {message}");
    assert!(message.contains("nothing there has changed"), "{message}");
    let beside = std::fs::read_dir(path.parent().unwrap()).unwrap();
    let remains = beside
        .filter(|entry| {
            let name = entry.as_ref().unwrap().file_name();
            name.to_string_lossy().ends_with(".part")
        })
        .count();
    assert_eq!(remains, 0, "no remains of the attempt");
}

/// A limit on the size of a file, below that of the picture, stands for a full
/// disk: the system refuses the write halfway.
#[cfg(unix)]
#[test]
fn a_write_refused_halfway_leaves_the_old_file() {
    let record = record();
    let path = record.out("a.png");
    std::fs::write(&path, b"old").unwrap();
    let program = child("report::robust::child_writes_a_picture", &path);
    let limited = format!(
        "trap '' XFSZ; ulimit -f 64; exec '{}' \"$@\"",
        program.get_program().to_string_lossy()
    );
    let output = Command::new("sh")
        .args(["-c", &limited, "sh"])
        .args(program.get_args())
        .env(CHILD_PATH, &path)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let message = said
        .lines()
        .find_map(|line| line.split_once("refused: "))
        .map(|(_, message)| message.to_owned())
        .unwrap_or_else(|| panic!("the child was not refused: {said}"));
    assert!(message.contains("no room left"), "{message}");
    fails_and_keeps(&path, b"old", &message);
}

/// The child of the test above: replaces the picture beside a finished case.
#[test]
#[ignore = "run by another test"]
fn child_writes_a_picture() {
    let path = std::env::var_os(CHILD_PATH).expect("run by another test");
    let path = Path::new(&path);
    let record = super::fixture::open(path.parent().unwrap());
    let outcome = lengthfilm::report::write(
        &record.case,
        &record.case_path,
        &record.film,
        &record.findings,
        path,
        &replacing(),
    );
    match outcome {
        Ok(_) => println!("written"),
        Err(error) => println!("refused: {error}"),
    }
}

/// A real full disk: a file system of 64 kB in memory, where one may be
/// mounted.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_leaves_the_old_file() {
    let record = record();
    let Some(disk) = Disk::mounted() else {
        return;
    };
    let path = disk.path().join("a.png");
    std::fs::write(&path, b"old").unwrap();
    let message = refusal(&record, &path);
    assert!(message.contains("no room left"), "{message}");
    fails_and_keeps(&path, b"old", &message);
}

/// A disk that only lets itself be read, which binds every user.
#[cfg(target_os = "linux")]
#[test]
fn a_read_only_disk_says_so() {
    let record = record();
    let Some(disk) = Disk::mounted() else {
        return;
    };
    let path = disk.path().join("a.csv");
    std::fs::write(&path, b"old").unwrap();
    assert!(disk.mount(&["-o", "remount,ro"]), "remounted");
    let message = refusal(&record, &path);
    assert!(message.contains("may not be written"), "{message}");
    fails_and_keeps(&path, b"old", &message);
    let case = case::save(&record.case, &disk.path().join("a.case.json")).unwrap_err();
    let case = case.to_string();
    assert!(
        case.contains("a.case.json") && case.contains("may not be written"),
        "{case}"
    );
}

/// Why a record that may replace the file there is not written.
#[cfg(target_os = "linux")]
fn refusal(record: &super::fixture::Record, path: &Path) -> String {
    let written = lengthfilm::report::write(
        &record.case,
        &record.case_path,
        &record.film,
        &record.findings,
        path,
        &replacing(),
    );
    written.unwrap_err().to_string()
}

/// A small file system of its own, which goes with the test, passed or failed.
#[cfg(target_os = "linux")]
struct Disk(tempfile::TempDir);

#[cfg(target_os = "linux")]
impl Disk {
    /// 64 kB in memory; `None`, said plainly, where none may be mounted.
    fn mounted() -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let arguments = ["-t", "tmpfs", "-o", "size=64k", "tmpfs"];
        if !mount(&arguments, folder.path()) {
            println!("skipped: no file system may be mounted here");
            return None;
        }
        Some(Self(folder))
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn mount(&self, arguments: &[&str]) -> bool {
        mount(arguments, self.path())
    }
}

#[cfg(target_os = "linux")]
fn mount(arguments: &[&str], at: &Path) -> bool {
    Command::new("mount")
        .args(arguments)
        .arg(at)
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

#[cfg(target_os = "linux")]
impl Drop for Disk {
    fn drop(&mut self) {
        let unmounted = Command::new("umount").arg(self.path()).status();
        if !unmounted.is_ok_and(|status| status.success()) {
            println!("{} stays mounted", self.path().display());
        }
    }
}

#[cfg(unix)]
#[test]
fn a_read_only_folder_says_so() {
    use std::os::unix::fs::PermissionsExt;
    let record = record();
    let folder = record.out("locked");
    std::fs::create_dir(&folder).unwrap();
    std::fs::write(folder.join("a.csv"), b"old").unwrap();
    std::fs::set_permissions(&folder, std::fs::Permissions::from_mode(0o555)).unwrap();
    let allowed = std::fs::write(folder.join("probe"), b"").is_ok();
    if allowed {
        println!("skipped: this user may write to any folder");
        return;
    }
    let error = write(&record, "locked/a.csv", &replacing()).unwrap_err();
    assert!(error.to_string().contains("may not be written"), "{error}");
    fails_and_keeps(&folder.join("a.csv"), b"old", &error.to_string());
    std::fs::set_permissions(&folder, std::fs::Permissions::from_mode(0o755)).unwrap();
}

#[test]
fn a_missing_folder_says_so() {
    let record = record();
    let error = write(&record, "absent/a.csv", &replacing()).unwrap_err();
    assert!(matches!(error, ReportError::Write { .. }));
    assert!(error.to_string().contains("does not exist"), "{error}");
    assert!(!record.out("absent").exists());
}

/// 200 times, a program that saves a case over and over is killed at a random
/// moment: what it had reported as saved, or the save after it, is there.
#[test]
fn nothing_saved_is_lost_to_200_kills() {
    let record = record();
    let path = record.case_path.clone();
    let mut random = ChaCha8Rng::seed_from_u64(200);
    let (mut saves, mut in_the_middle) = (0, 0);
    for round in 0..200 {
        let mut program = child("report::robust::child_saves_for_ever", &path)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(program.stdout.take().unwrap()).lines();
        // Killed only once it is saving.
        let first = lines.by_ref().map_while(Result::ok).find_map(saved_number);
        let mut last = first.expect("the child saves");
        std::thread::sleep(Duration::from_micros(random.random_range(0..40_000)));
        program.kill().unwrap();
        program.wait().unwrap();
        for number in lines.map_while(Result::ok).filter_map(saved_number) {
            last = number;
            saves += 1;
        }
        let found = case::load(&path).unwrap_or_else(|error| panic!("kill {round}: {error}"));
        assert!(
            found.seed == last || found.seed == last + 1,
            "kill {round}: {last} was saved, {} is there",
            found.seed
        );
        assert_eq!(found.canals, record.case.canals);
        in_the_middle += usize::from(found.seed == last + 1);
    }
    // What the kills left behind goes with a later save, once it is old.
    let remains = || {
        let entries = std::fs::read_dir(path.parent().unwrap()).unwrap();
        let paths = entries.map(|entry| entry.unwrap().path());
        paths.filter(|path| path.extension().is_some_and(|e| e == "part"))
    };
    let left_behind = remains().count();
    let hours_ago = std::time::SystemTime::now() - Duration::from_secs(7200);
    for file in remains() {
        let file = std::fs::File::options().write(true).open(file).unwrap();
        file.set_modified(hours_ago).unwrap();
    }
    case::save(&record.case, &path).unwrap();
    assert_eq!(remains().count(), 0);
    println!("{left_behind} temporary files left behind, none after the next save");
    println!("{saves} saves, {in_the_middle} kills between renaming and reporting");
    assert!(saves > 100, "the children were busy: {saves}");
    assert!((1..200).contains(&in_the_middle), "kills fell everywhere");
}

fn saved_number(line: String) -> Option<u64> {
    line.rsplit_once("saved ")?.1.trim().parse().ok()
}

/// The child of the test above: saves until it is killed, at most a minute.
#[test]
#[ignore = "run by another test"]
fn child_saves_for_ever() {
    use std::io::Write;
    let path = std::env::var_os(CHILD_PATH).expect("run by another test");
    let path = Path::new(&path);
    let mut case = case::load(path).unwrap();
    let start = std::time::Instant::now();
    let mut stdout = std::io::stdout();
    while start.elapsed() < Duration::from_secs(60) {
        case.seed += 1;
        case::save(&case, path).unwrap();
        writeln!(stdout, "saved {}", case.seed).unwrap();
        stdout.flush().unwrap();
    }
}

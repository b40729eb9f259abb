//! An archive behind a slow line, and how much memory a long list takes.

use std::io::{Read, Write};
use std::net::{Shutdown, TcpStream};
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use lengthfilm::archive::{self, Fault, FilmsFolder, Keep, PartTen, Settings, Watch, Way};

use super::misbehaving::{Fake, archive_of_studies};
use super::servers::{Server, dcmqrscp};
use super::{get, put_one, samples, write_film_of};

/// Bytes that come at a time from the archive, and how long each takes.
const PIECE_BYTES: usize = 16 << 10;
const A_PIECE: Duration = Duration::from_millis(100);
/// A film of 840 kB: some five seconds at that speed.
const SIZE: (u32, u32) = (700, 600);
/// Longest wait for an answer, s: several times what one protocol data unit of
/// 128 kB takes, and less than the film takes.
const PATIENCE_S: u64 = 3;

/// Hands everything through to the archive, what it says slowly.
fn slow_line(server: &Server) -> Fake {
    let port = server.settings.at.port;
    Fake::raw(0, move |client| {
        let archive = TcpStream::connect(("127.0.0.1", port)).unwrap();
        let (mut from_client, mut to_archive) =
            (client.try_clone().unwrap(), archive.try_clone().unwrap());
        let asking = std::thread::spawn(move || {
            let _ = std::io::copy(&mut from_client, &mut to_archive);
            let _ = to_archive.shutdown(Shutdown::Write);
        });
        let (mut from_archive, mut to_client) = (archive, client);
        let mut piece = [0; PIECE_BYTES];
        while let Ok(count @ 1..) = from_archive.read(&mut piece) {
            std::thread::sleep(A_PIECE);
            if to_client.write_all(&piece[..count]).is_err() {
                break;
            }
        }
        let _ = to_client.shutdown(Shutdown::Both);
        let _ = from_archive.shutdown(Shutdown::Both);
        let _ = asking.join();
    })
}

fn through(line: &Fake, server: &Server) -> Settings {
    let mut settings = server.settings.clone();
    settings.at.port = line.settings.at.port;
    settings.answer_timeout_s = PATIENCE_S;
    settings
}

/// A film that takes longer than the longest wait for an answer comes whole,
/// since something comes all the while.
#[test]
fn a_slow_archive_is_waited_for_while_something_comes() {
    let Some(server) = dcmqrscp(&[]) else { return };
    let folder = tempfile::tempdir().unwrap();
    let film = write_film_of(folder.path(), 21, SIZE);
    put_one(&server.settings, &film).unwrap();
    let study = PartTen::read(&film).unwrap().study_instance_uid.unwrap();
    let line = slow_line(&server);
    let settings = through(&line, &server);
    let mut films = FilmsFolder::new(&folder.path().join("out"), Keep::default()).unwrap();
    let begun = Instant::now();
    let outcome = get(&settings, &study, &mut films, Way::Either).unwrap();
    assert_eq!(outcome.fetched, 1);
    assert!(
        begun.elapsed() > Duration::from_secs(PATIENCE_S),
        "{:?}",
        begun.elapsed()
    );
    assert_eq!(samples(&films.written[0]), samples(&film));
}

/// Stopped in the middle of such a film: at once, with nothing half-written.
#[test]
fn a_slow_film_is_stopped_and_leaves_nothing() {
    let Some(server) = dcmqrscp(&[]) else { return };
    let folder = tempfile::tempdir().unwrap();
    let film = write_film_of(folder.path(), 22, SIZE);
    put_one(&server.settings, &film).unwrap();
    let study = PartTen::read(&film).unwrap().study_instance_uid.unwrap();
    let line = slow_line(&server);
    let settings = through(&line, &server);
    let out = folder.path().join("out");
    let mut films = FilmsFolder::new(&out, Keep::default()).unwrap();
    let cancel = AtomicBool::new(false);
    let ended = std::thread::scope(|scope| {
        scope.spawn(|| {
            std::thread::sleep(Duration::from_millis(1500));
            cancel.store(true, Ordering::Relaxed);
        });
        let watch = Watch {
            progress: &|_, _| {},
            cancel: &cancel,
        };
        let mut sink = |received| films.write(&received);
        let none = std::collections::HashSet::new();
        let begun = Instant::now();
        let error = archive::get_films(
            &settings,
            &study,
            &[],
            &none,
            Way::Either,
            &mut sink,
            &watch,
        )
        .unwrap_err();
        assert!(matches!(error.fault, Fault::Cancelled), "{error}");
        begun.elapsed()
    });
    assert!(ended < Duration::from_millis(2500), "{ended:?}");
    assert_eq!(std::fs::read_dir(&out).unwrap().count(), 0);
}

/// Greatest memory a process has had so far, MB; 0 once it has ended.
#[cfg(target_os = "linux")]
fn peak_mb(process: u32) -> f64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status"));
    let status = status.unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM:"));
    let kb = line.and_then(|line| line.split_whitespace().nth(1)?.parse::<f64>().ok());
    kb.unwrap_or(0.0) / 1024.0
}

/// 10,000 studies are printed as they come and not kept.
#[cfg(target_os = "linux")]
#[test]
fn a_long_list_takes_little_memory() {
    const MANY: usize = 10_000;
    let fake = archive_of_studies(MANY);
    let home = tempfile::tempdir().unwrap();
    let listed = |limit: &str| {
        let mut child = Command::new(env!("CARGO_BIN_EXE_lengthfilm"))
            .args(["archive", "find", "--limit", limit, "--at"])
            .arg(fake.settings.at.to_string())
            .env("LENGTHFILM_HOME", home.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut printed = child.stdout.take().unwrap();
        let (mut text, mut piece) = (Vec::new(), [0; 1 << 14]);
        let mut peak: f64 = 0.0;
        while let Ok(count @ 1..) = printed.read(&mut piece) {
            text.extend_from_slice(&piece[..count]);
            peak = peak.max(peak_mb(child.id()));
        }
        child.wait().unwrap();
        (lines_of(&text), peak)
    };
    let (few, few_mb) = listed("10");
    let (many, many_mb) = listed("20000");
    println!("{few} studies: {few_mb:.0} MB, {many} studies: {many_mb:.0} MB");
    assert_eq!((few, many), (10, MANY));
    assert!(
        few_mb > 1.0 && many_mb < few_mb + 20.0,
        "{few_mb} {many_mb}"
    );
}

#[cfg(target_os = "linux")]
fn lines_of(text: &[u8]) -> usize {
    text.iter().filter(|&&byte| byte == b'\n').count()
}

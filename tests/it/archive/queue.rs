//! What waits to be sent: it survives, and nothing is sent twice.

use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::mpsc::channel;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use dicom_core::{DataElement, PrimitiveValue, VR};
use dicom_dictionary_std::tags;
use dicom_object::InMemDicomObject;
use lengthfilm::archive::{Fault, PartTen, Queue, Settings};

use super::misbehaving::{Asked, Fake, Peer, answer, asked};
use super::servers::{free_port, settings};
use super::{quietly, write_film};

const STORE: u16 = 0x0001;
const FIND: u16 = 0x0020;

/// An archive that keeps the UIDs of what it was sent, once for each time.
fn archive_on(port: u16, held: Arc<Mutex<Vec<String>>>) -> Fake {
    Fake::on(port, move |mut peer| {
        while let Some(request) = asked(&mut peer) {
            serve(&mut peer, &request, &held);
        }
    })
}

fn serve(peer: &mut Peer, request: &Asked, held: &Mutex<Vec<String>>) {
    match request.word(tags::COMMAND_FIELD) {
        STORE => {
            let uid = request.text(tags::AFFECTED_SOP_INSTANCE_UID);
            held.lock().unwrap().push(uid);
        }
        FIND => {
            for uid in held.lock().unwrap().iter() {
                let element = DataElement::new(
                    tags::SOP_INSTANCE_UID,
                    VR::UI,
                    PrimitiveValue::from(uid.as_str()),
                );
                let object = InMemDicomObject::from_element_iter([element]);
                answer(peer, request, 0xFF00, Some(&object));
            }
        }
        _ => {}
    }
    answer(peer, request, 0x0000, None);
}

fn send(folder: &Path, settings: &Settings) -> lengthfilm::archive::SendOutcome {
    let queue = Queue::open(folder).unwrap();
    quietly(|watch| queue.send(settings, watch)).unwrap()
}

#[test]
fn what_cannot_be_sent_waits_and_goes_once() {
    let folder = tempfile::tempdir().unwrap();
    let waiting = folder.path().join("queue");
    let port = free_port();
    let away = settings(port);
    let queue = Queue::open(&waiting).unwrap();
    let mut uids = Vec::new();
    for seed in 0..3 {
        let part = PartTen::read(&write_film(folder.path(), seed)).unwrap();
        queue.add(&part, &away.at, false).unwrap();
        queue.add(&part, &away.at, false).unwrap();
        uids.push(part.sop_instance_uid);
    }
    let outcome = send(&waiting, &away);
    assert!(outcome.sent.is_empty());
    assert!(matches!(outcome.waiting[0].1.fault, Fault::Unreachable(_)));
    assert_eq!(queue.entries().unwrap().len(), 3, "all wait on");

    let held = Arc::new(Mutex::new(Vec::new()));
    let fake = archive_on(port, held.clone());
    let outcome = send(&waiting, &away);
    assert_eq!(outcome.sent.len(), 3, "{:?}", outcome.waiting);
    assert!(queue.entries().unwrap().is_empty());
    assert!(send(&waiting, &away).sent.is_empty());
    // Added again by mistake: the journal knows.
    let part = PartTen::read(&folder.path().join("film-0.dcm")).unwrap();
    queue.add(&part, &away.at, false).unwrap();
    assert!(send(&waiting, &away).sent.is_empty());
    drop(fake);
    let mut held = held.lock().unwrap().clone();
    held.sort();
    uids.sort();
    assert_eq!(held, uids, "each once");
}

/// Killed after the archive took the object and before it could say so.
#[test]
fn killed_in_the_middle_it_asks_before_it_sends_again() {
    for taken in [true, false] {
        let home = tempfile::tempdir().unwrap();
        let film = write_film(home.path(), 9);
        let uid = PartTen::read(&film).unwrap().sop_instance_uid;
        let port = free_port();
        let held = Arc::new(Mutex::new(Vec::new()));
        let (arrived, arrival) = channel();
        let keeps = held.clone();
        let stalls = Fake::on(port, move |mut peer| {
            if let Some(request) = asked(&mut peer) {
                if taken {
                    let uid = request.text(tags::AFFECTED_SOP_INSTANCE_UID);
                    keeps.lock().unwrap().push(uid);
                }
                arrived.send(()).unwrap();
                // No answer until the other side is gone.
                let _ = asked(&mut peer);
            }
        });
        let at = stalls.settings.at.to_string();
        let mut child = Command::new(env!("CARGO_BIN_EXE_lengthfilm"))
            .env("LENGTHFILM_HOME", home.path())
            .args(["archive", "put", "--queue", "--at", &at])
            .arg(&film)
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        arrival.recv_timeout(Duration::from_secs(60)).unwrap();
        // SIGKILL: nothing is tidied up.
        child.kill().unwrap();
        child.wait().unwrap();
        drop(stalls);

        let folder = home.path().join("archive-queue");
        let queue = Queue::open(&folder).unwrap();
        let entries = queue.entries().unwrap();
        assert_eq!(entries.len(), 1);
        assert!(entries[0].begun);
        let fake = archive_on(port, held.clone());
        let outcome = send(&folder, &fake.settings);
        match taken {
            true => assert_eq!(outcome.already_there, std::slice::from_ref(&uid)),
            false => assert_eq!(
                outcome.sent,
                std::slice::from_ref(&uid),
                "{:?}",
                outcome.waiting
            ),
        }
        drop(fake);
        assert_eq!(*held.lock().unwrap(), [uid], "once, taken = {taken}");
        assert!(queue.entries().unwrap().is_empty());
    }
}

#[test]
fn a_damaged_entry_is_named_and_a_torn_journal_forgets_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let waiting = folder.path().join("queue");
    let held = Arc::new(Mutex::new(Vec::new()));
    let fake = archive_on(0, held.clone());
    let queue = Queue::open(&waiting).unwrap();
    let part = PartTen::read(&write_film(folder.path(), 1)).unwrap();
    queue.add(&part, &fake.settings.at, false).unwrap();
    // What a kill in the middle of a line leaves.
    std::fs::write(waiting.join("sent.jsonl"), "{\"sop_instance_uid\":\"1.2").unwrap();
    assert_eq!(send(&waiting, &fake.settings).sent.len(), 1);
    queue.add(&part, &fake.settings.at, false).unwrap();
    assert!(queue.entries().unwrap().is_empty(), "the journal knows it");

    std::fs::write(waiting.join("1.2.3.json"), "{").unwrap();
    let error = queue.entries().unwrap_err().to_string();
    assert!(
        error.contains("1.2.3.json") && !error.contains('\n'),
        "{error}"
    );
}

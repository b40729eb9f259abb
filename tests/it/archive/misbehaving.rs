//! An archive of our own on dicom-ul that does what it is told, wrong things
//! among them.

use std::net::{TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;

use dicom_core::{DataElement, PrimitiveValue, Tag, VR, dicom_value};
use dicom_dictionary_std::{tags, uids};
use dicom_encoding::transfer_syntax::TransferSyntaxIndex;
use dicom_object::InMemDicomObject;
use dicom_transfer_syntax_registry::TransferSyntaxRegistry;
use dicom_ul::Pdu;
use dicom_ul::association::{ServerAssociation, ServerAssociationOptions};
use dicom_ul::pdu::{PDataValue, PDataValueType};

use lengthfilm::archive::Settings;

pub type Peer = ServerAssociation<TcpStream>;

/// Listens until it is dropped; every connection is given to `behave`.
pub struct Fake {
    pub settings: Settings,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Drop for Fake {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        let _ = TcpStream::connect(("127.0.0.1", self.settings.at.port));
        let _ = self.thread.take().unwrap().join();
    }
}

impl Fake {
    /// Gives raw connections.
    pub fn raw(port: u16, mut behave: impl FnMut(TcpStream) + Send + 'static) -> Self {
        let listener = TcpListener::bind(("127.0.0.1", port)).unwrap();
        let settings = super::servers::settings(listener.local_addr().unwrap().port());
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = stop.clone();
        let thread = std::thread::spawn(move || {
            while let Ok((socket, _)) = listener.accept() {
                if stopped.load(Ordering::Relaxed) {
                    break;
                }
                behave(socket);
            }
        });
        Self {
            settings,
            stop,
            thread: Some(thread),
        }
    }

    /// Gives associations in which everything asked for is accepted.
    pub fn start(behave: impl FnMut(Peer) + Send + 'static) -> Self {
        Self::on(0, behave)
    }

    pub fn on(port: u16, mut behave: impl FnMut(Peer) + Send + 'static) -> Self {
        Self::raw(port, move |socket| {
            let options = ServerAssociationOptions::new()
                .accept_called_ae_title()
                .ae_title("CLINIC")
                .promiscuous(true);
            if let Ok(peer) = options.establish(socket) {
                behave(peer);
            }
        })
    }
}

/// A message as it came.
pub struct Asked {
    pub context: u8,
    pub command: InMemDicomObject,
}

impl Asked {
    pub fn word(&self, tag: Tag) -> u16 {
        self.command.get(tag).unwrap().to_int().unwrap()
    }

    pub fn text(&self, tag: Tag) -> String {
        let value = self.command.get(tag).unwrap().to_str().unwrap();
        value.trim_end_matches('\0').trim().to_owned()
    }
}

/// The next message; `None` when the other side is done.
pub fn asked(peer: &mut Peer) -> Option<Asked> {
    let mut command = Vec::new();
    let mut parsed: Option<InMemDicomObject> = None;
    loop {
        match peer.receive() {
            Ok(Pdu::PData { data: values }) => {
                for value in values {
                    let context = value.presentation_context_id;
                    let is_command = value.value_type == PDataValueType::Command;
                    if is_command {
                        command.extend_from_slice(&value.data);
                    }
                    if !value.is_last {
                        continue;
                    }
                    if is_command {
                        parsed = Some(parse(&command));
                    }
                    let object = parsed.as_ref().unwrap();
                    let kind: u16 = object
                        .get(tags::COMMAND_DATA_SET_TYPE)
                        .unwrap()
                        .to_int()
                        .unwrap();
                    if !is_command || kind == 0x0101 {
                        return Some(Asked {
                            context,
                            command: parsed.unwrap(),
                        });
                    }
                }
            }
            Ok(Pdu::ReleaseRQ) => {
                let _ = peer.send(&Pdu::ReleaseRP);
                return None;
            }
            _ => return None,
        }
    }
}

fn parse(bytes: &[u8]) -> InMemDicomObject {
    let syntax = TransferSyntaxRegistry
        .get(uids::IMPLICIT_VR_LITTLE_ENDIAN)
        .unwrap();
    InMemDicomObject::read_dataset_with_ts(bytes, syntax).unwrap()
}

pub fn encode(object: &InMemDicomObject, syntax: &str) -> Vec<u8> {
    let syntax = TransferSyntaxRegistry.get(syntax).unwrap();
    let mut bytes = Vec::new();
    object.write_dataset_with_ts(&mut bytes, syntax).unwrap();
    bytes
}

fn value(context: u8, value_type: PDataValueType, data: Vec<u8>) -> PDataValue {
    PDataValue {
        presentation_context_id: context,
        value_type,
        is_last: true,
        data,
    }
}

/// Answers with a status and perhaps a data set; `false`: nobody listens.
pub fn answer(
    peer: &mut Peer,
    asked: &Asked,
    status: u16,
    data: Option<&InMemDicomObject>,
) -> bool {
    let unsigned = |tag, v: u16| DataElement::new(tag, VR::US, dicom_value!(U16, [v]));
    let field = asked.word(tags::COMMAND_FIELD) | 0x8000;
    let kind = if data.is_some() { 1 } else { 0x0101 };
    let command = InMemDicomObject::command_from_element_iter([
        unsigned(tags::COMMAND_FIELD, field),
        unsigned(
            tags::MESSAGE_ID_BEING_RESPONDED_TO,
            asked.word(tags::MESSAGE_ID),
        ),
        unsigned(tags::COMMAND_DATA_SET_TYPE, kind),
        unsigned(tags::STATUS, status),
    ]);
    let mut values = vec![value(
        asked.context,
        PDataValueType::Command,
        encode(&command, uids::IMPLICIT_VR_LITTLE_ENDIAN),
    )];
    if let Some(object) = data {
        let contexts = peer.presentation_contexts();
        let syntax = contexts.iter().find(|one| one.id == asked.context).unwrap();
        let bytes = encode(object, &syntax.transfer_syntax);
        values.push(value(asked.context, PDataValueType::Data, bytes));
    }
    peer.send(&Pdu::PData { data: values }).is_ok()
}

/// An archive of `many` studies, all of them given to every query.
pub fn archive_of_studies(many: usize) -> Fake {
    Fake::start(move |mut peer| {
        while let Some(request) = asked(&mut peer) {
            // The end of a list that is not wanted any more.
            if request.word(tags::COMMAND_FIELD) == 0x0FFF {
                continue;
            }
            for number in 0..many {
                if !answer(&mut peer, &request, 0xFF00, Some(&study(number))) {
                    return;
                }
            }
            answer(&mut peer, &request, 0x0000, None);
        }
    })
}

/// A study as an answer to a query.
pub fn study(number: usize) -> InMemDicomObject {
    let text = |tag, vr, value: String| DataElement::new(tag, vr, PrimitiveValue::from(value));
    InMemDicomObject::from_element_iter([
        text(tags::QUERY_RETRIEVE_LEVEL, VR::CS, "STUDY".to_owned()),
        text(tags::STUDY_DATE, VR::DA, "20260314".to_owned()),
        text(tags::PATIENT_NAME, VR::PN, super::PLANTED.to_owned()),
        text(tags::PATIENT_ID, VR::LO, format!("P{number}")),
        text(
            tags::STUDY_INSTANCE_UID,
            VR::UI,
            format!("1.2.3.{}", number + 1),
        ),
    ])
}

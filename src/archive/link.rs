//! One association: messages out and in, on dicom-ul.

use std::collections::VecDeque;
use std::net::TcpStream;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

use dicom_dictionary_std::{tags, uids};
use dicom_object::InMemDicomObject;
use dicom_ul::association::client::TlsStream as ClientTls;
use dicom_ul::association::server::TlsStream as ServerTls;
use dicom_ul::association::{
    Association, ClientAssociation, ClientAssociationOptions, Error as UlError, ServerAssociation,
    SyncAssociation,
};
use dicom_ul::pdu::{
    PDataValue, PDataValueType, PresentationContextNegotiated, PresentationContextResultReason,
    ReadError,
};
use dicom_ul::{Pdu, association};

use super::dimse::{self, NO_DATA_SET};
use super::fault::{ArchiveError, Fault};
use super::settings::Settings;
use super::tls;
use super::watch::Watch;

/// How often a wait looks whether it was stopped.
const HEARTBEAT: Duration = Duration::from_millis(100);
/// Most bytes of a command (PS3.7 has none longer than some hundred).
const MOST_COMMAND_BYTES: u64 = 64 << 10;
/// Bytes of a PDU that are no content: its header and that of one value.
const HEADERS: usize = 12;
/// Largest piece in which a data set is sent.
const LARGEST_PIECE: usize = 128 << 10;
/// Largest PDU that is taken.
const MAX_PDU: u32 = 128 << 10;

/// The four kinds of association behind one face.
enum Stream {
    Plain(Box<ClientAssociation<TcpStream>>),
    Tls(Box<ClientAssociation<ClientTls>>),
    Accepted(Box<ServerAssociation<TcpStream>>),
    AcceptedTls(Box<ServerAssociation<ServerTls>>),
}

macro_rules! each {
    ($stream:expr, $association:ident => $body:expr) => {
        match $stream {
            Stream::Plain($association) => $body,
            Stream::Tls($association) => $body,
            Stream::Accepted($association) => $body,
            Stream::AcceptedTls($association) => $body,
        }
    };
}

/// An association that is up.
pub(super) struct Link<'a> {
    stream: Option<Stream>,
    place: String,
    patience: Duration,
    watch: &'a Watch<'a>,
    arrived: VecDeque<PDataValue>,
    next_message: u16,
}

/// A message as it came.
pub(super) struct Message {
    /// Presentation context.
    pub context: u8,
    pub command: InMemDicomObject,
    /// Encoded in the transfer syntax of the context.
    pub data: Option<Vec<u8>>,
}

/// What is asked for when an association is opened.
#[derive(Default)]
pub(super) struct Wanted {
    /// Abstract syntax and the transfer syntaxes of each context.
    pub contexts: Vec<(&'static str, Vec<String>)>,
    /// The same for classes that are known at run time.
    pub stored: Vec<(String, Vec<String>)>,
    /// Classes that the archive may send to us (C-GET).
    pub receives: Vec<&'static str>,
}

impl<'a> Link<'a> {
    /// Connects and negotiates.
    pub(super) fn open(
        settings: &Settings,
        wanted: &Wanted,
        watch: &'a Watch<'a>,
    ) -> Result<Self, ArchiveError> {
        let place = settings.at.to_string();
        if watch.is_cancelled() {
            return Err(ArchiveError::new(&place, Fault::Cancelled));
        }
        let mut options = ClientAssociationOptions::new()
            .calling_ae_title(settings.own_title.as_str().to_owned())
            .called_ae_title(settings.at.title.as_str().to_owned())
            .connection_timeout(settings.connect_timeout())
            .read_timeout(settings.answer_timeout())
            .write_timeout(settings.answer_timeout())
            .max_pdu_length(MAX_PDU);
        for (class, syntaxes) in &wanted.contexts {
            options = options.with_presentation_context((*class).to_owned(), syntaxes.clone());
        }
        for (class, syntaxes) in &wanted.stored {
            options = options.with_presentation_context(class.clone(), syntaxes.clone());
        }
        for class in &wanted.receives {
            options = options.with_role_selection(*class, false, true);
        }
        let target = (settings.at.host.as_str(), settings.at.port);
        let failed = |error: &UlError| {
            ArchiveError::new(&place, Fault::of(error, settings.answer_timeout_s))
        };
        let gave_up =
            || ArchiveError::new(&place, Fault::Malformed("no DICOM upper layer message"));
        let stream = match &settings.tls {
            None => {
                let opened = contained(|| options.establish(target)).ok_or_else(gave_up)?;
                Stream::Plain(Box::new(opened.map_err(|error| failed(&error))?))
            }
            Some(with) => {
                let name = with.server_name.as_deref().unwrap_or(&settings.at.host);
                let options = options.tls_config(tls::client(with)?).server_name(name);
                let opened = contained(|| options.establish_tls(target)).ok_or_else(gave_up)?;
                Stream::Tls(Box::new(opened.map_err(|error| failed(&error))?))
            }
        };
        Ok(Self::over(stream, place, settings.answer_timeout(), watch))
    }

    /// Takes an association that the archive opened, over TLS or not.
    pub(super) fn accepted(
        association: Accepted,
        settings: &Settings,
        watch: &'a Watch<'a>,
    ) -> Self {
        let stream = match association {
            Accepted::Plain(association) => Stream::Accepted(association),
            Accepted::Tls(association) => Stream::AcceptedTls(association),
        };
        let place = settings.at.to_string();
        Self::over(stream, place, settings.answer_timeout(), watch)
    }

    fn over(mut stream: Stream, place: String, patience: Duration, watch: &'a Watch<'a>) -> Self {
        // Short reads let a wait be stopped; should the system refuse, a wait
        // lasts as long as its patience.
        let _ = match &mut stream {
            Stream::Plain(one) => one.inner_stream().set_read_timeout(Some(HEARTBEAT)),
            Stream::Tls(one) => one.inner_stream().sock.set_read_timeout(Some(HEARTBEAT)),
            Stream::Accepted(one) => one.inner_stream().set_read_timeout(Some(HEARTBEAT)),
            Stream::AcceptedTls(one) => one.inner_stream().sock.set_read_timeout(Some(HEARTBEAT)),
        };
        Self {
            stream: Some(stream),
            place,
            patience,
            watch,
            arrived: VecDeque::new(),
            next_message: 0,
        }
    }

    pub(super) fn error(&self, fault: Fault) -> ArchiveError {
        ArchiveError::new(&self.place, fault)
    }

    fn fault_of(&self, error: &UlError) -> Fault {
        Fault::of(error, self.patience.as_secs())
    }

    /// A number for the next request.
    pub(super) fn message_id(&mut self) -> u16 {
        self.next_message = self.next_message.checked_add(1).unwrap_or(1);
        self.next_message
    }

    /// The accepted contexts.
    pub(super) fn contexts(&self) -> Vec<PresentationContextNegotiated> {
        let Some(stream) = &self.stream else {
            return Vec::new();
        };
        let all = each!(stream, association => Association::presentation_contexts(association.as_ref()).to_vec());
        all.into_iter()
            .filter(|context| context.reason == PresentationContextResultReason::Acceptance)
            .collect()
    }

    /// The context of a class, or that the archive does not offer `service`.
    pub(super) fn context_of(
        &self,
        class: &str,
        service: &str,
    ) -> Result<PresentationContextNegotiated, ArchiveError> {
        self.contexts()
            .into_iter()
            .find(|context| context.abstract_syntax == class)
            .ok_or_else(|| self.error(Fault::NotOffered(service.to_owned())))
    }

    /// The transfer syntax of a context.
    pub(super) fn transfer_syntax(&self, context: u8) -> Option<String> {
        let mut contexts = self.contexts().into_iter();
        Some(contexts.find(|one| one.id == context)?.transfer_syntax)
    }

    /// Sends a command and the data set that belongs to it.
    pub(super) fn send(
        &mut self,
        context: u8,
        command: &InMemDicomObject,
        data: Option<&[u8]>,
    ) -> Result<(), ArchiveError> {
        let bytes = dimse::encode(command, uids::IMPLICIT_VR_LITTLE_ENDIAN)
            .map_err(|fault| self.error(fault))?;
        self.send_value(context, PDataValueType::Command, &bytes)?;
        match data {
            Some(data) => self.send_value(context, PDataValueType::Data, data),
            None => Ok(()),
        }
    }

    /// Sends bytes in pieces; the last piece is marked only when all were
    /// sent, so that nothing cut short is ever taken as whole.
    fn send_value(
        &mut self,
        context: u8,
        value_type: PDataValueType,
        bytes: &[u8],
    ) -> Result<(), ArchiveError> {
        let Some(stream) = &mut self.stream else {
            return Err(self.error(Fault::Broken));
        };
        let most = each!(stream, one => Association::peer_max_pdu_length(one.as_ref())) as usize;
        let piece = most.saturating_sub(HEADERS).clamp(1, LARGEST_PIECE) & !1;
        let pieces = bytes.len().div_ceil(piece.max(2)).max(1);
        for index in 0..pieces {
            if self.watch.is_cancelled() {
                self.abort();
                return Err(self.error(Fault::Cancelled));
            }
            let start = index * piece.max(2);
            let end = (start + piece.max(2)).min(bytes.len());
            let pdu = Pdu::PData {
                data: vec![PDataValue {
                    presentation_context_id: context,
                    value_type: value_type.clone(),
                    is_last: index + 1 == pieces,
                    data: bytes[start..end].to_vec(),
                }],
            };
            let Some(stream) = &mut self.stream else {
                return Err(self.error(Fault::Broken));
            };
            let sent = each!(stream, one => SyncAssociation::send(one.as_mut(), &pdu));
            if let Err(error) = sent {
                let fault = self.fault_of(&error);
                self.stream = None;
                return Err(self.error(fault));
            }
        }
        Ok(())
    }

    /// The next message, its data set of at most `most_bytes`.
    pub(super) fn receive(&mut self, most_bytes: u64) -> Result<Message, ArchiveError> {
        self.try_receive(most_bytes)?
            .ok_or_else(|| self.error(Fault::Broken))
    }

    /// The next message; `None` when the other side has ended the association
    /// in good order.
    pub(super) fn try_receive(&mut self, most_bytes: u64) -> Result<Option<Message>, ArchiveError> {
        let Some((context, command)) =
            self.collect(PDataValueType::Command, None, MOST_COMMAND_BYTES)?
        else {
            return Ok(None);
        };
        let command = dimse::decode(&command, uids::IMPLICIT_VR_LITTLE_ENDIAN)
            .map_err(|fault| self.spoilt(fault))?;
        let has_data = dimse::word(&command, tags::COMMAND_DATA_SET_TYPE)
            .ok_or_else(|| self.spoilt(Fault::Malformed("a command without its parts")))?
            != NO_DATA_SET;
        let data = match has_data {
            true => {
                let found = self.collect(PDataValueType::Data, Some(context), most_bytes)?;
                Some(found.ok_or_else(|| self.error(Fault::Broken))?.1)
            }
            false => None,
        };
        Ok(Some(Message {
            context,
            command,
            data,
        }))
    }

    /// Collects the fragments of one value.
    fn collect(
        &mut self,
        wanted: PDataValueType,
        context: Option<u8>,
        most_bytes: u64,
    ) -> Result<Option<(u8, Vec<u8>)>, ArchiveError> {
        let mut bytes = Vec::new();
        let mut context = context;
        loop {
            let Some(value) = self.next_value()? else {
                return match bytes.is_empty() {
                    true => Ok(None),
                    false => Err(self.error(Fault::Broken)),
                };
            };
            let of_context = *context.get_or_insert(value.presentation_context_id);
            if value.value_type != wanted || value.presentation_context_id != of_context {
                return Err(self.spoilt(Fault::Malformed("parts of a message out of turn")));
            }
            if (bytes.len() + value.data.len()) as u64 > most_bytes {
                return Err(self.spoilt(Fault::TooMuch(most_bytes)));
            }
            bytes.extend_from_slice(&value.data);
            if value.is_last {
                return Ok(Some((of_context, bytes)));
            }
        }
    }

    /// The next fragment; `None` after a release.
    fn next_value(&mut self) -> Result<Option<PDataValue>, ArchiveError> {
        let begun = Instant::now();
        loop {
            if let Some(value) = self.arrived.pop_front() {
                return Ok(Some(value));
            }
            if self.watch.is_cancelled() {
                self.abort();
                return Err(self.error(Fault::Cancelled));
            }
            let Some(stream) = &mut self.stream else {
                return Err(self.error(Fault::Broken));
            };
            let received =
                contained(|| each!(stream, one => SyncAssociation::receive(one.as_mut())));
            match received {
                None => return Err(self.spoilt(Fault::Malformed("no DICOM upper layer message"))),
                Some(Ok(Pdu::PData { data })) => self.arrived.extend(data),
                Some(Ok(Pdu::ReleaseRQ)) => {
                    each!(stream, one => {
                        let _ = SyncAssociation::send(one.as_mut(), &Pdu::ReleaseRP);
                    });
                    self.stream = None;
                    return Ok(None);
                }
                Some(Ok(Pdu::AbortRQ { .. })) => {
                    self.stream = None;
                    return Err(self.error(Fault::Broken));
                }
                Some(Ok(_)) => return Err(self.spoilt(Fault::Malformed("a message out of turn"))),
                Some(Err(error)) if is_pause(&error) && begun.elapsed() < self.patience => {}
                Some(Err(error)) => {
                    let fault = self.fault_of(&error);
                    self.abort();
                    return Err(self.error(fault));
                }
            }
        }
    }

    /// Ends the association after something that cannot be understood.
    fn spoilt(&mut self, fault: Fault) -> ArchiveError {
        self.abort();
        self.error(fault)
    }

    /// Ends the association at once.
    pub(super) fn abort(&mut self) {
        if let Some(stream) = self.stream.take() {
            let _ = each!(stream, one => SyncAssociation::abort(*one));
        }
    }

    /// Ends the association in good order. What was asked for is done, so that
    /// an archive that cannot say goodbye is no error.
    pub(super) fn release(mut self) {
        // The farewell is a single read: give it a whole breath.
        if let Some(stream) = self.stream.take() {
            let patience = Some(self.patience.min(Duration::from_secs(3)));
            match stream {
                Stream::Plain(mut one) => {
                    let _ = one.inner_stream().set_read_timeout(patience);
                    let _ = contained(|| SyncAssociation::release(*one));
                }
                Stream::Tls(mut one) => {
                    let _ = one.inner_stream().sock.set_read_timeout(patience);
                    let _ = contained(|| SyncAssociation::release(*one));
                }
                Stream::Accepted(one) => {
                    let _ = contained(|| SyncAssociation::release(*one));
                }
                Stream::AcceptedTls(one) => {
                    let _ = contained(|| SyncAssociation::release(*one));
                }
            }
        }
    }
}

impl Drop for Link<'_> {
    fn drop(&mut self) {
        self.abort();
    }
}

/// An association that the archive opened.
pub(super) enum Accepted {
    Plain(Box<ServerAssociation<TcpStream>>),
    Tls(Box<ServerAssociation<association::server::TlsStream>>),
}

/// Nothing came within one heartbeat.
fn is_pause(error: &UlError) -> bool {
    use std::io::ErrorKind::{Interrupted, TimedOut, WouldBlock};
    let UlError::ReceivePdu {
        source: ReadError::ReadPdu { source, .. },
    } = error
    else {
        return false;
    };
    matches!(source.kind(), WouldBlock | TimedOut | Interrupted)
}

/// Runs a reader of foreign bytes so that, should it panic on them, that is an
/// error like any other.
pub(super) fn contained<T>(read: impl FnOnce() -> T) -> Option<T> {
    catch_unwind(AssertUnwindSafe(read)).ok()
}

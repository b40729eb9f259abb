//! What can go wrong between here and an archive, one line each.
//!
//! No message repeats what an archive sent but its titles, numbers and UIDs:
//! an answer may hold a patient's name.

use std::io;
use std::path::PathBuf;

use dicom_ul::association::Error as UlError;
use dicom_ul::pdu::{
    AssociationRJServiceProviderPresentationReason as Presentation, AssociationRJServiceUserReason,
    AssociationRJSource, ReadError,
};
use thiserror::Error;

use crate::atomic_file;

/// An error about one archive.
#[derive(Debug, Error)]
#[error("{place}: {fault}")]
pub struct ArchiveError {
    /// `AET@HOST:PORT`, a file or the settings.
    pub place: String,
    /// What is wrong.
    #[source]
    pub fault: Fault,
}

impl ArchiveError {
    pub(crate) fn new(place: impl ToString, fault: Fault) -> Self {
        Self {
            place: place.to_string(),
            fault,
        }
    }

    /// Trying again later may help: the archive was away, busy or slow.
    pub fn is_temporary(&self) -> bool {
        self.fault.is_temporary()
    }
}

/// What is wrong.
#[derive(Debug, Error)]
pub enum Fault {
    /// No connection.
    #[error("cannot be reached ({0}); check host, port and network, then try again")]
    Unreachable(String),
    /// TLS was not agreed on.
    #[error(
        "no TLS connection ({0}); check the certificate in the settings, or whether the archive has TLS on this port"
    )]
    Tls(String),
    /// The association was turned down.
    #[error("refused: {0}")]
    Refused(&'static str),
    /// It may be free later.
    #[error("is busy and asks to try again later")]
    Busy,
    /// Nothing came in time.
    #[error("no answer within {seconds} s; try again, or allow more time (--timeout)")]
    Timeout { seconds: u64 },
    /// The connection was taken and closed without a word.
    #[error(
        "closed the connection without an answer: it may be stopping, or expect TLS, for which the settings need its certificate"
    )]
    Silent,
    /// The connection ended in the middle.
    #[error("the connection broke off; what has arrived is kept, try again for the rest")]
    Broken,
    /// What came is not DICOM as the standard has it.
    #[error("its answer cannot be understood ({0}); is this a DICOM archive?")]
    Malformed(&'static str),
    /// More than is ever taken into memory.
    #[error("it sent more than {0} bytes for one object, which is refused")]
    TooMuch(u64),
    /// A service is not offered.
    #[error("does not offer {0}")]
    NotOffered(String),
    /// A failure status of PS3.7 annex C or PS3.4.
    #[error("{doing} failed with status {status:04X}H{}", status_words(*.status))]
    Status { doing: &'static str, status: u16 },
    /// Asked to stop.
    #[error("stopped; what is done is kept")]
    Cancelled,
    /// Settings that cannot be used.
    #[error("{0}")]
    Settings(String),
    /// A file here that cannot be read.
    #[error("{}", atomic_file::reading_reason(.0))]
    Read(io::Error),
    /// A file here that cannot be written.
    #[error("cannot be written: {}", atomic_file::reason(.0))]
    Write(io::Error),
    /// A file that is no object an archive takes.
    #[error("{0}")]
    NotSendable(String),
    /// A port to receive on that cannot be had.
    #[error("port {port} cannot be listened on ({reason}); choose another (--listen)")]
    Listen { port: u16, reason: String },
}

impl Fault {
    pub fn is_temporary(&self) -> bool {
        match self {
            Self::Unreachable(_)
            | Self::Busy
            | Self::Timeout { .. }
            | Self::Silent
            | Self::Broken => true,
            // Out of resources (PS3.4 B.2.3).
            Self::Status { status, .. } => status & 0xFF00 == 0xA700,
            _ => false,
        }
    }

    /// The network's part of an error; never the content of a message.
    pub(crate) fn of(error: &UlError, seconds: u64) -> Self {
        match error {
            UlError::ToAddress { source, .. } | UlError::Connect { source, .. } => {
                Self::Unreachable(plain_reason(source))
            }
            UlError::Rejected { association_rj, .. } => rejection(&association_rj.source),
            UlError::NoAcceptedPresentationContexts { .. } => {
                Self::NotOffered("what was asked for".to_owned())
            }
            UlError::WireSend { source, .. }
            | UlError::WireRead { source, .. }
            | UlError::Timeout { source, .. } => Self::of_wire(source, seconds),
            UlError::ReceivePdu {
                source: ReadError::ReadPdu { source, .. },
            } => Self::of_wire(source, seconds),
            UlError::ReceivePdu { .. } | UlError::ProtocolVersionMismatch { .. } => {
                Self::Malformed("no DICOM upper layer message")
            }
            UlError::UnexpectedPdu { .. } => Self::Malformed("a message out of turn"),
            UlError::UnknownPdu { .. } => Self::Malformed("a message of unknown kind"),
            UlError::Aborted { .. } | UlError::ConnectionClosed { .. } => Self::Broken,
            UlError::TlsConfigMissing { .. } | UlError::InvalidServerName { .. } => {
                Self::Tls("the server name in the settings is none".to_owned())
            }
            UlError::TlsConnection { source, .. } => Self::Tls(source.to_string()),
            UlError::TlsHandshake { source, .. } => match source.kind() {
                io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut => {
                    Self::Tls("no answer in time".to_owned())
                }
                _ => Self::Tls(source.to_string()),
            },
            // The library's guess, which it also makes where nothing came at all.
            UlError::TlsNotSupported => Self::Silent,
            _ => Self::Broken,
        }
    }

    fn of_wire(error: &io::Error, seconds: u64) -> Self {
        match error.kind() {
            io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut => Self::Timeout { seconds },
            _ => Self::Broken,
        }
    }
}

/// The system's reason without its number.
fn plain_reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::ConnectionRefused => "nothing listens there".to_owned(),
        io::ErrorKind::TimedOut | io::ErrorKind::WouldBlock => "no answer in time".to_owned(),
        _ => error.to_string(),
    }
}

fn rejection(source: &AssociationRJSource) -> Fault {
    use AssociationRJServiceUserReason as User;
    match source {
        AssociationRJSource::ServiceUser(User::CalledAETitleNotRecognized) => Fault::Refused(
            "the archive has another title; write it before the @ as the archive spells it",
        ),
        AssociationRJSource::ServiceUser(User::CallingAETitleNotRecognized) => Fault::Refused(
            "the archive does not know our title (--aet); have it added to the archive's list of stations",
        ),
        AssociationRJSource::ServiceProviderPresentation(
            Presentation::TemporaryCongestion | Presentation::LocalLimitExceeded,
        ) => Fault::Busy,
        _ => Fault::Refused(
            "the archive gives no reason; have our title (--aet) and address added to its list of stations",
        ),
    }
}

/// What a status means, where PS3.4 or PS3.7 says.
fn status_words(status: u16) -> &'static str {
    match status {
        0x0110 => " (processing failure there)",
        0x0111 => " (an object of that number is there already)",
        0x0112 => " (no such object there)",
        0x0117 => " (invalid object)",
        0x0122 => " (SOP class not supported there)",
        0x0124 => " (not authorised there)",
        0xA701 => " (out of resources: it cannot count the matches)",
        0xA702 => " (out of resources: it cannot send the objects)",
        0xA801 => {
            " (it does not know our title as a place to send to; have it and our port added to its list)"
        }
        s if s & 0xFF00 == 0xA700 => " (out of resources: no room there)",
        s if s & 0xFF00 == 0xA900 => " (the object does not match its class)",
        s if s & 0xF000 == 0xC000 => " (it cannot understand the object)",
        0xFE00 => " (stopped)",
        _ => "",
    }
}

/// A file that could not be read or written.
pub(crate) fn at_file(path: &std::path::Path, fault: Fault) -> ArchiveError {
    ArchiveError::new(PathBuf::from(path).display(), fault)
}

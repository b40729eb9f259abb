//! C-MOVE with ourselves as destination (PS3.4 C.4.2): the archive opens a
//! second association to our port and sends the films there.

use std::net::{Ipv6Addr, SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use dicom_core::VR;
use dicom_dictionary_std::{tags, uids};
use dicom_ul::association::ServerAssociationOptions;

use super::dimse::{self, plain_syntaxes, text};
use super::fault::{ArchiveError, Fault};
use super::link::{Accepted, Link, Wanted, contained};
use super::object::Received;
use super::retrieval::{GetOutcome, Request, retrieval_end};
use super::settings::Settings;
use super::store::{FILM_CLASSES, film_syntaxes, most_bytes, take};
use super::tls;
use super::watch::Watch;

const CLASS: &str = uids::STUDY_ROOT_QUERY_RETRIEVE_INFORMATION_MODEL_MOVE;
/// How often the port is looked at.
const GLANCE: Duration = Duration::from_millis(20);

/// Retrieves `request` through a port of our own.
pub(super) fn retrieve(
    settings: &Settings,
    request: &Request,
    sink: &mut dyn FnMut(Received) -> Result<(), ArchiveError>,
    watch: &Watch,
) -> Result<GetOutcome, ArchiveError> {
    let wanted = Wanted {
        contexts: vec![(CLASS, plain_syntaxes())],
        ..Wanted::default()
    };
    let mut link = Link::open(settings, &wanted, watch)?;
    let context = link.context_of(CLASS, "retrieval (neither C-GET nor C-MOVE)")?;
    let listener = listen(settings)?;
    let stop = AtomicBool::new(false);
    let fetched = AtomicUsize::new(0);
    let total = (!request.films.is_empty()).then_some(request.films.len());
    let (objects, arrivals) = std::sync::mpsc::sync_channel::<Received>(4);

    // Objects cross from the port to the caller's thread, where the sink runs.
    let mut unkept: Option<ArchiveError> = None;
    let conversation = std::thread::scope(|scope| {
        let receiver = scope.spawn(|| {
            let objects = objects;
            let mut fault = None;
            while !stop.load(Ordering::Relaxed) && !watch.is_cancelled() {
                match listener.accept() {
                    Ok((socket, _)) => {
                        let pass_on = |received| objects.send(received).is_ok();
                        fault = receive_all(settings, request, socket, watch, &pass_on).err();
                    }
                    Err(_) => std::thread::sleep(GLANCE),
                }
            }
            fault
        });
        let conversation = scope.spawn(|| {
            let result = converse(&mut link, settings, request, &context, &fetched);
            stop.store(true, Ordering::Relaxed);
            result
        });
        // Ends when the receiving thread ends and drops its sender.
        for received in arrivals {
            if unkept.is_some() {
                continue;
            }
            match sink(received) {
                Ok(()) => {
                    let done = fetched.fetch_add(1, Ordering::Relaxed) + 1;
                    watch.tell(done, total);
                }
                Err(error) => unkept = Some(error),
            }
        }
        let gave_up = || ArchiveError::new(&settings.at, Fault::Malformed("its answers"));
        let not_sent = conversation.join().unwrap_or_else(|_| Err(gave_up()));
        (
            not_sent,
            receiver.join().unwrap_or_else(|_| Some(gave_up())),
        )
    });
    link.release();
    let fetched = fetched.load(Ordering::Relaxed);
    match (unkept, conversation) {
        (Some(error), _) | (None, (Err(error), _)) => Err(error),
        (None, (Ok(_), Some(error))) if fetched == 0 => Err(error),
        (None, (Ok(not_sent), _)) => Ok(GetOutcome {
            fetched,
            present: 0,
            not_sent,
        }),
    }
}

/// Asks for everything and waits for the end of each retrieval.
fn converse(
    link: &mut Link,
    settings: &Settings,
    request: &Request,
    context: &dicom_ul::pdu::PresentationContextNegotiated,
    fetched: &AtomicUsize,
) -> Result<usize, ArchiveError> {
    let mut not_sent = 0;
    for keys in request.identifiers() {
        let keys: Vec<_> = keys.iter().map(|(t, v, s)| (*t, *v, s.as_str())).collect();
        let identifier = dimse::encode(&dimse::identifier(&keys), &context.transfer_syntax)
            .map_err(|fault| link.error(fault))?;
        let id = link.message_id();
        let own_title = settings.own_title.as_str();
        let destination = text(tags::MOVE_DESTINATION, VR::AE, own_title);
        let command = dimse::request(dimse::C_MOVE_RQ, id, CLASS, true, [destination]);
        link.send(context.id, &command, Some(&identifier))?;
        loop {
            let message = link.receive(most_bytes())?;
            let so_far = fetched.load(Ordering::Relaxed);
            if let Some(failed) = retrieval_end(link, &message.command, dimse::C_MOVE_RSP, so_far)?
            {
                not_sent += failed;
                break;
            }
        }
    }
    Ok(not_sent)
}

fn listen(settings: &Settings) -> Result<TcpListener, ArchiveError> {
    let port = settings.receive_port;
    let refused = |error: std::io::Error| {
        let reason = error.to_string();
        ArchiveError::new(&settings.at, Fault::Listen { port, reason })
    };
    let everywhere = SocketAddr::from((Ipv6Addr::UNSPECIFIED, port));
    let listener = TcpListener::bind(everywhere)
        .or_else(|_| TcpListener::bind(("0.0.0.0", port)))
        .map_err(refused)?;
    listener.set_nonblocking(true).map_err(refused)?;
    Ok(listener)
}

/// Takes what one association brings.
fn receive_all(
    settings: &Settings,
    request: &Request,
    socket: TcpStream,
    watch: &Watch,
    pass_on: &dyn Fn(Received) -> bool,
) -> Result<(), ArchiveError> {
    let failed = |fault| ArchiveError::new(&settings.at, fault);
    socket
        .set_nonblocking(false)
        .map_err(|_| failed(Fault::Broken))?;
    let mut options = ServerAssociationOptions::new()
        .accept_called_ae_title()
        .ae_title(settings.own_title.as_str().to_owned())
        .read_timeout(settings.answer_timeout())
        .write_timeout(settings.answer_timeout());
    for class in FILM_CLASSES {
        options = options.with_abstract_syntax(class);
    }
    for syntax in film_syntaxes() {
        options = options.with_transfer_syntax(syntax);
    }
    let seconds = settings.answer_timeout_s;
    let malformed = || failed(Fault::Malformed("no DICOM upper layer message"));
    let accepted = match &settings.tls {
        None => contained(|| options.establish(socket))
            .ok_or_else(malformed)?
            .map(|association| Accepted::Plain(Box::new(association))),
        Some(with) => {
            let options = options.tls_config(tls::server(with)?);
            contained(|| options.establish_tls(socket))
                .ok_or_else(malformed)?
                .map(|association| Accepted::Tls(Box::new(association)))
        }
    };
    let accepted = accepted.map_err(|error| failed(Fault::of(&error, seconds)))?;
    let mut link = Link::accepted(accepted, settings, watch);
    while let Some(message) = link.try_receive(most_bytes())? {
        let field = dimse::word(&message.command, tags::COMMAND_FIELD);
        if field != Some(dimse::C_STORE_RQ) {
            return Err(failed(Fault::Malformed("another request than to store")));
        }
        let wanted = |received: &Received, study: Option<&str>| request.is_wanted(received, study);
        let mut sink = |received| match pass_on(received) {
            true => Ok(()),
            false => Err(failed(Fault::Broken)),
        };
        take(&mut link, message, &wanted, &mut sink)?;
    }
    Ok(())
}

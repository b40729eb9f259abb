//! TLS through rustls: what is trusted, and who we are.

use std::path::Path;
use std::sync::Arc;

use rustls::client::WebPkiServerVerifier;
use rustls::client::danger::{HandshakeSignatureValid, ServerCertVerified, ServerCertVerifier};
use rustls::crypto::{CryptoProvider, verify_tls12_signature, verify_tls13_signature};
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer, ServerName, UnixTime};
use rustls::{ClientConfig, DigitallySignedStruct, RootCertStore, ServerConfig, SignatureScheme};

use super::fault::{ArchiveError, Fault, at_file};
use super::settings::Tls;
use crate::input_file;

/// Most bytes of a certificate or key file.
const MOST_BYTES: u64 = 1 << 20;

fn provider() -> Arc<CryptoProvider> {
    Arc::new(rustls::crypto::ring::default_provider())
}

/// Our side of a connection to the archive.
pub(super) fn client(tls: &Tls) -> Result<Arc<ClientConfig>, ArchiveError> {
    let trusted = certificates(&tls.certificate)?;
    let wrong = |error: &dyn std::fmt::Display| {
        at_file(
            &tls.certificate,
            Fault::Settings(format!("a certificate that cannot be used ({error})")),
        )
    };
    let builder = ClientConfig::builder_with_provider(provider())
        .with_safe_default_protocol_versions()
        .map_err(|error| wrong(&error))?
        .dangerous()
        .with_custom_certificate_verifier(Arc::new(Trusted::new(trusted).map_err(|e| wrong(&e))?));
    let config = match own(tls)? {
        None => builder.with_no_client_auth(),
        Some((chain, key)) => builder
            .with_client_auth_cert(chain, key)
            .map_err(|error| wrong(&error))?,
    };
    Ok(Arc::new(config))
}

/// Our side of a connection that the archive opens to send films (C-MOVE):
/// it must show a certificate that is trusted as well.
pub(super) fn server(tls: &Tls) -> Result<Arc<ServerConfig>, ArchiveError> {
    let wrong = |error: &dyn std::fmt::Display| {
        at_file(
            &tls.certificate,
            Fault::Settings(format!("a certificate that cannot be used ({error})")),
        )
    };
    let Some((chain, key)) = own(tls)? else {
        return Err(wrong(
            &"to receive films over TLS, own_certificate and own_key are needed",
        ));
    };
    let mut roots = RootCertStore::empty();
    for certificate in certificates(&tls.certificate)? {
        roots.add(certificate).map_err(|error| wrong(&error))?;
    }
    let clients =
        rustls::server::WebPkiClientVerifier::builder_with_provider(Arc::new(roots), provider())
            .build()
            .map_err(|error| wrong(&error))?;
    let config = ServerConfig::builder_with_provider(provider())
        .with_safe_default_protocol_versions()
        .map_err(|error| wrong(&error))?
        .with_client_cert_verifier(clients)
        .with_single_cert(chain, key)
        .map_err(|error| wrong(&error))?;
    Ok(Arc::new(config))
}

fn certificates(path: &Path) -> Result<Vec<CertificateDer<'static>>, ArchiveError> {
    let pem = input_file::read(path, MOST_BYTES).map_err(|e| at_file(path, Fault::Read(e)))?;
    let found: Result<Vec<_>, _> = CertificateDer::pem_slice_iter(&pem).collect();
    match found {
        Ok(found) if !found.is_empty() => Ok(found),
        _ => Err(at_file(
            path,
            Fault::Settings("holds no certificate in PEM form".to_owned()),
        )),
    }
}

type Identity = (Vec<CertificateDer<'static>>, PrivateKeyDer<'static>);

fn own(tls: &Tls) -> Result<Option<Identity>, ArchiveError> {
    let (Some(chain), Some(key_path)) = (&tls.own_certificate, &tls.own_key) else {
        return Ok(None);
    };
    let pem =
        input_file::read(key_path, MOST_BYTES).map_err(|e| at_file(key_path, Fault::Read(e)))?;
    let key = PrivateKeyDer::from_pem_slice(&pem).map_err(|_| {
        at_file(
            key_path,
            Fault::Settings("holds no private key in PEM form".to_owned()),
        )
    })?;
    Ok(Some((certificates(chain)?, key)))
}

/// Trusts exactly the certificates given, and those issued by one of them.
///
/// Archives often have a certificate they signed themselves. Path validation
/// turns such a one down where it is marked as an authority; given here, it is
/// trusted as it stands: that very certificate, byte for byte, whatever name
/// and dates it bears. The handshake must prove the key to it in any case.
#[derive(Debug)]
struct Trusted {
    given: Vec<CertificateDer<'static>>,
    issued: Arc<WebPkiServerVerifier>,
    provider: Arc<CryptoProvider>,
}

impl Trusted {
    fn new(given: Vec<CertificateDer<'static>>) -> Result<Self, String> {
        let mut roots = RootCertStore::empty();
        for certificate in &given {
            roots.add(certificate.clone()).map_err(|e| e.to_string())?;
        }
        let issued = WebPkiServerVerifier::builder_with_provider(Arc::new(roots), provider())
            .build()
            .map_err(|e| e.to_string())?;
        Ok(Self {
            given,
            issued,
            provider: provider(),
        })
    }
}

impl ServerCertVerifier for Trusted {
    fn verify_server_cert(
        &self,
        end_entity: &CertificateDer<'_>,
        intermediates: &[CertificateDer<'_>],
        server_name: &ServerName<'_>,
        ocsp_response: &[u8],
        now: UnixTime,
    ) -> Result<ServerCertVerified, rustls::Error> {
        if self.given.iter().any(|given| given == end_entity) {
            return Ok(ServerCertVerified::assertion());
        }
        self.issued
            .verify_server_cert(end_entity, intermediates, server_name, ocsp_response, now)
    }

    fn verify_tls12_signature(
        &self,
        message: &[u8],
        certificate: &CertificateDer<'_>,
        signature: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, rustls::Error> {
        let algorithms = &self.provider.signature_verification_algorithms;
        verify_tls12_signature(message, certificate, signature, algorithms)
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        certificate: &CertificateDer<'_>,
        signature: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, rustls::Error> {
        let algorithms = &self.provider.signature_verification_algorithms;
        verify_tls13_signature(message, certificate, signature, algorithms)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        self.provider
            .signature_verification_algorithms
            .supported_schemes()
    }
}

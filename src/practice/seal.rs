//! Bytes that nobody reads without the passphrase: compressed, then
//! XChaCha20-Poly1305 under a key that Argon2id (RFC 9106) derives.

use std::io::{Read, Write};

use argon2::{Algorithm, Argon2, Params, Version};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use chacha20poly1305::aead::{Aead, Payload};
use chacha20poly1305::{KeyInit, XChaCha20Poly1305};
use flate2::Compression;
use flate2::read::ZlibDecoder;
use flate2::write::ZlibEncoder;
use serde::{Deserialize, Serialize};

const FORMAT: &str = "lengthfilm-sealed-truth";
const VERSION: u32 = 1;
/// Memory and passes of Argon2id: RFC 9106, 4, second recommended option.
const MEMORY_KIB: u32 = 64 * 1024;
const PASSES: u32 = 3;
const LANES: u32 = 4;
/// Most memory a file may ask for when it is opened.
const MOST_MEMORY_KIB: u32 = 1024 * 1024;
const MOST_PASSES: u32 = 16;
/// Most bytes that are unpacked.
const MOST_BYTES: u64 = 256 << 20;

/// The sealed file.
#[derive(Serialize, Deserialize)]
struct Envelope {
    format: String,
    version: u32,
    key_derivation: KeyDerivation,
    nonce: String,
    sealed: String,
}

/// How the key comes from the passphrase; Argon2id.
#[derive(Serialize, Deserialize)]
struct KeyDerivation {
    memory_kib: u32,
    passes: u32,
    lanes: u32,
    salt: String,
}

impl KeyDerivation {
    fn key(&self, passphrase: &str) -> Result<[u8; 32], String> {
        if self.memory_kib > MOST_MEMORY_KIB || self.passes > MOST_PASSES {
            return Err("asks for more memory or passes than any sealed truth needs".to_owned());
        }
        let salt = decoded(&self.salt)?;
        let unusable = |error: argon2::Error| format!("its key derivation is unusable: {error}");
        let params =
            Params::new(self.memory_kib, self.passes, self.lanes, Some(32)).map_err(unusable)?;
        let mut key = [0; 32];
        Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
            .hash_password_into(passphrase.as_bytes(), &salt, &mut key)
            .map_err(unusable)?;
        Ok(key)
    }
}

/// Seals `bytes`: the content of a sealed file.
///
/// # Errors
/// What the ciphers refuse, in words.
pub fn seal(bytes: &[u8], passphrase: &str) -> Result<Vec<u8>, String> {
    let derivation = KeyDerivation {
        memory_kib: MEMORY_KIB,
        passes: PASSES,
        lanes: LANES,
        salt: STANDARD.encode(rand::random::<[u8; 16]>()),
    };
    let nonce: [u8; 24] = rand::random();
    let mut packer = ZlibEncoder::new(Vec::new(), Compression::best());
    let packed = packer
        .write_all(bytes)
        .and_then(|()| packer.finish())
        .map_err(|error| error.to_string())?;
    let sealed = cipher(&derivation.key(passphrase)?)
        .encrypt(&nonce.into(), bound(&packed))
        .map_err(|_| "too long to be sealed".to_owned())?;
    let envelope = Envelope {
        format: FORMAT.to_owned(),
        version: VERSION,
        key_derivation: derivation,
        nonce: STANDARD.encode(nonce),
        sealed: STANDARD.encode(sealed),
    };
    let mut text = serde_json::to_vec_pretty(&envelope).map_err(|error| error.to_string())?;
    text.push(b'\n');
    Ok(text)
}

/// What a sealed file holds.
///
/// # Errors
/// One clear line: not a sealed file, a newer one, a wrong passphrase, a
/// changed file.
pub fn unseal(file: &[u8], passphrase: &str) -> Result<Vec<u8>, String> {
    let envelope: Envelope = serde_json::from_slice(file)
        .ok()
        .filter(|envelope: &Envelope| envelope.format == FORMAT)
        .ok_or("not a sealed truth; name the sealed file that practice made")?;
    if envelope.version > VERSION {
        return Err(format!(
            "sealed truth version {} is newer than this program knows ({VERSION})",
            envelope.version
        ));
    }
    let nonce: [u8; 24] = decoded(&envelope.nonce)?
        .try_into()
        .map_err(|_| "damaged: its nonce has the wrong length")?;
    let packed = cipher(&envelope.key_derivation.key(passphrase)?)
        .decrypt(&nonce.into(), bound(&decoded(&envelope.sealed)?))
        .map_err(|_| "cannot be opened: the passphrase is wrong or the file was changed")?;
    let mut bytes = Vec::new();
    ZlibDecoder::new(packed.as_slice())
        .take(MOST_BYTES)
        .read_to_end(&mut bytes)
        .map_err(|error| format!("damaged: {error}"))?;
    Ok(bytes)
}

fn cipher(key: &[u8; 32]) -> XChaCha20Poly1305 {
    XChaCha20Poly1305::new(key.into())
}

/// The message bound to what kind of file it is.
fn bound(message: &[u8]) -> Payload<'_, '_> {
    Payload {
        msg: message,
        aad: FORMAT.as_bytes(),
    }
}

fn decoded(text: &str) -> Result<Vec<u8>, String> {
    STANDARD
        .decode(text)
        .map_err(|error| format!("damaged: {error}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_sealed_comes_back_and_cannot_be_seen() {
        let secret = b"{\"apex_px\":[123.25,456.5]}".repeat(50);
        let file = seal(&secret, "correct horse").unwrap();
        assert_eq!(unseal(&file, "correct horse").unwrap(), secret);
        let text = String::from_utf8(file).unwrap();
        assert!(!text.contains("apex") && !text.contains("456.5"));
        let again = seal(&secret, "correct horse").unwrap();
        assert_ne!(text.as_bytes(), again, "salt and nonce are fresh");
    }

    #[test]
    fn a_wrong_passphrase_and_a_changed_file_open_nothing() {
        let file = seal(b"truth", "correct horse").unwrap();
        let wrong = unseal(&file, "correct hors").unwrap_err();
        assert!(wrong.contains("passphrase is wrong"), "{wrong}");
        let mut envelope: Envelope = serde_json::from_slice(&file).unwrap();
        let mut sealed = decoded(&envelope.sealed).unwrap();
        sealed[3] ^= 1;
        envelope.sealed = STANDARD.encode(sealed);
        let changed = serde_json::to_vec(&envelope).unwrap();
        assert!(unseal(&changed, "correct horse").is_err());
        envelope.key_derivation.memory_kib = u32::MAX;
        let greedy = serde_json::to_vec(&envelope).unwrap();
        assert!(unseal(&greedy, "x").unwrap_err().contains("more memory"));
        assert!(unseal(b"{}", "x").unwrap_err().contains("not a sealed"));
    }
}

//! Bytes that nobody reads without the passphrase: compressed, then
//! XChaCha20-Poly1305 under a key that Argon2id (RFC 9106) derives.

use std::io::{Read, Write};
use std::ops::RangeInclusive;

use argon2::{Algorithm, Argon2, Params, Version};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use chacha20poly1305::aead::{Aead, Payload};
use chacha20poly1305::{KeyInit, XChaCha20Poly1305};
use flate2::Compression;
use flate2::read::ZlibDecoder;
use flate2::write::ZlibEncoder;
use serde::{Deserialize, Serialize};

use super::passphrase::normalised;

const FORMAT: &str = "lengthfilm-sealed-truth";
/// Since version 2 everything in the file is authenticated, and the passphrase
/// is brought to one form before the key is derived.
const VERSION: u32 = 2;
/// Memory and passes of Argon2id: RFC 9106, 4, second recommended option.
const MEMORY_KIB: u32 = 64 * 1024;
const PASSES: u32 = 3;
const LANES: u32 = 4;
/// What a file may ask for when it is opened: some seconds at most, and no key
/// that is derived in no time.
const MEMORY_RANGE_KIB: RangeInclusive<u32> = 16 * 1024..=256 * 1024;
const PASSES_RANGE: RangeInclusive<u32> = 1..=16;
const LANES_RANGE: RangeInclusive<u32> = 1..=16;
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
        let is_sound = MEMORY_RANGE_KIB.contains(&self.memory_kib)
            && PASSES_RANGE.contains(&self.passes)
            && LANES_RANGE.contains(&self.lanes);
        if !is_sound {
            return Err("asks for a key derivation that no sealed truth has".to_owned());
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
    let mut envelope = Envelope {
        format: FORMAT.to_owned(),
        version: VERSION,
        key_derivation: derivation,
        nonce: STANDARD.encode(nonce),
        sealed: String::new(),
    };
    let message = Payload {
        msg: &packed,
        aad: &envelope.bound(),
    };
    let sealed = cipher(&envelope.key_derivation.key(&normalised(passphrase))?)
        .encrypt(&nonce.into(), message)
        .map_err(|_| "too long to be sealed".to_owned())?;
    envelope.sealed = STANDARD.encode(sealed);
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
    let sealed = decoded(&envelope.sealed)?;
    let opened = |passphrase: &str| -> Result<Option<Vec<u8>>, String> {
        let message = Payload {
            msg: &sealed,
            aad: &envelope.bound(),
        };
        let cipher = cipher(&envelope.key_derivation.key(passphrase)?);
        Ok(cipher.decrypt(&nonce.into(), message).ok())
    };
    let in_one_form = normalised(passphrase);
    let mut packed = opened(&in_one_form)?;
    if packed.is_none() && envelope.version < 2 && passphrase != in_one_form {
        // Version 1 took the passphrase as it was typed.
        packed = opened(passphrase)?;
    }
    let packed =
        packed.ok_or("cannot be opened: the passphrase is wrong or the file was changed")?;
    let mut bytes = Vec::new();
    ZlibDecoder::new(packed.as_slice())
        .take(MOST_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| format!("damaged: {error}"))?;
    if bytes.len() as u64 > MOST_BYTES {
        return Err("holds more than any exercise set".to_owned());
    }
    Ok(bytes)
}

impl Envelope {
    /// What the seal binds beside the message: in version 1 the kind of file,
    /// since then everything that stands in it.
    fn bound(&self) -> Vec<u8> {
        if self.version < 2 {
            return FORMAT.as_bytes().to_vec();
        }
        let KeyDerivation {
            memory_kib,
            passes,
            lanes,
            salt,
        } = &self.key_derivation;
        let nonce = &self.nonce;
        let version = self.version;
        format!("{FORMAT} {version} {memory_kib} {passes} {lanes} {salt} {nonce}").into_bytes()
    }
}

fn cipher(key: &[u8; 32]) -> XChaCha20Poly1305 {
    XChaCha20Poly1305::new(key.into())
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
        assert!(unseal(&greedy, "x").unwrap_err().contains("key derivation"));
        assert!(unseal(b"{}", "x").unwrap_err().contains("not a sealed"));
    }

    /// Every field of the file, changed by itself, opens nothing.
    #[test]
    fn nothing_in_the_file_can_be_changed() {
        let file = seal(b"truth", "correct horse").unwrap();
        let whole: serde_json::Value = serde_json::from_slice(&file).unwrap();
        for (key, value) in [
            ("/version", serde_json::json!(1)),
            ("/key_derivation/memory_kib", serde_json::json!(65537)),
            ("/key_derivation/passes", serde_json::json!(2)),
            ("/key_derivation/lanes", serde_json::json!(3)),
            (
                "/key_derivation/salt",
                serde_json::json!("AAAAAAAAAAAAAAAAAAAAAA=="),
            ),
            ("/nonce", serde_json::json!(STANDARD.encode([0; 24]))),
        ] {
            let mut changed = whole.clone();
            *changed.pointer_mut(key).unwrap() = value;
            let changed = serde_json::to_vec(&changed).unwrap();
            assert!(unseal(&changed, "correct horse").is_err(), "{key}");
        }
        for (key, value) in [("memory_kib", 64), ("passes", 1000), ("lanes", 255)] {
            let mut weak = whole.clone();
            weak["key_derivation"][key] = value.into();
            let refused = unseal(&serde_json::to_vec(&weak).unwrap(), "correct horse");
            assert!(refused.unwrap_err().contains("key derivation"), "{key}");
        }
    }

    /// One passphrase, as keyboards and editors write it.
    #[test]
    fn a_passphrase_opens_however_it_was_stored() {
        let file = seal(b"truth", "caf\u{e9} blue horse").unwrap();
        for same in [
            "cafe\u{301} blue horse",
            "\u{feff}caf\u{e9} blue horse\r\n",
            "caf\u{e9} blue horse\n",
        ] {
            assert_eq!(unseal(&file, same).unwrap(), b"truth", "{same:?}");
        }
        assert!(unseal(&file, "cafe blue horse").is_err());
        assert!(unseal(&file, "caf\u{e9} blue horse ").is_err());
    }

    /// A file of version 1 opens with the passphrase as it was typed then.
    #[test]
    fn files_of_version_1_still_open() {
        let packed = {
            let mut packer = ZlibEncoder::new(Vec::new(), Compression::best());
            packer.write_all(b"old truth").unwrap();
            packer.finish().unwrap()
        };
        let typed = "cafe\u{301} blue horse";
        let derivation = KeyDerivation {
            memory_kib: MEMORY_KIB,
            passes: PASSES,
            lanes: LANES,
            salt: STANDARD.encode([7; 16]),
        };
        let message = Payload {
            msg: &packed,
            aad: FORMAT.as_bytes(),
        };
        let sealed = cipher(&derivation.key(typed).unwrap())
            .encrypt(&[9; 24].into(), message)
            .unwrap();
        let file = serde_json::to_vec(&Envelope {
            format: FORMAT.to_owned(),
            version: 1,
            key_derivation: derivation,
            nonce: STANDARD.encode([9; 24]),
            sealed: STANDARD.encode(sealed),
        })
        .unwrap();
        assert_eq!(unseal(&file, typed).unwrap(), b"old truth");
        assert!(unseal(&file, "another horse").is_err());
    }
}

//! Where the archive is and how it is spoken to.

use std::fmt;
use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::time::Duration;

use serde::{Deserialize, Serialize};

use super::fault::{ArchiveError, Fault, at_file};
use crate::input_file;

/// Most bytes of a settings file.
const MOST_BYTES: u64 = 1 << 20;

/// `AET@HOST:PORT`.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Address {
    /// Application entity title of the archive.
    pub title: Title,
    /// Host name or IP address.
    pub host: String,
    /// TCP port.
    pub port: u16,
}

impl FromStr for Address {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = |what: &str| format!("`{text}`: {what}; write AET@HOST:PORT");
        let (title, place) = text.split_once('@').ok_or_else(|| wrong("no @ in it"))?;
        let (host, port) = place
            .rsplit_once(':')
            .ok_or_else(|| wrong("no port at its end"))?;
        let port = port.parse().ok().filter(|&port: &u16| port > 0);
        if host.is_empty() {
            return Err(wrong("no host in it"));
        }
        Ok(Self {
            title: title.parse()?,
            host: host.trim_matches(['[', ']']).to_owned(),
            port: port.ok_or_else(|| wrong("the port is no number from 1 to 65535"))?,
        })
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { title, host, port } = self;
        match host.contains(':') {
            true => write!(f, "{title}@[{host}]:{port}"),
            false => write!(f, "{title}@{host}:{port}"),
        }
    }
}

impl TryFrom<String> for Address {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        text.parse()
    }
}

impl From<Address> for String {
    fn from(address: Address) -> Self {
        address.to_string()
    }
}

/// An application entity title: 1 to 16 characters (PS3.5 6.2, AE).
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Title(String);

impl Title {
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl FromStr for Title {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let title = text.trim();
        let fits = (1..=16).contains(&title.len())
            && title
                .bytes()
                .all(|b| (0x20..0x7F).contains(&b) && b != b'\\');
        fits.then(|| Self(title.to_owned())).ok_or_else(|| {
            format!("`{text}`: a title has 1 to 16 plain characters without backslash")
        })
    }
}

impl fmt::Display for Title {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl TryFrom<String> for Title {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        text.parse()
    }
}

impl From<Title> for String {
    fn from(title: Title) -> Self {
        title.0
    }
}

/// Certificates for TLS, PEM files.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Tls {
    /// The archive's own certificate, or that of the authority that issued it.
    pub certificate: PathBuf,
    /// The name in the archive's certificate; its host where absent.
    pub server_name: Option<String>,
    /// Our certificate, where the archive asks for one.
    pub own_certificate: Option<PathBuf>,
    /// The key to it.
    pub own_key: Option<PathBuf>,
}

/// One archive: what the settings file holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// The archive.
    pub at: Address,
    /// Our own title.
    #[serde(default = "own_title")]
    pub own_title: Title,
    /// Port on which films are received from an archive that only sends them
    /// (C-MOVE); the archive's list of stations must have it beside our title.
    #[serde(default = "receive_port")]
    pub receive_port: u16,
    /// Longest wait for a connection, s.
    #[serde(default = "connect_timeout_s")]
    pub connect_timeout_s: u64,
    /// Longest wait for an answer, s.
    #[serde(default = "answer_timeout_s")]
    pub answer_timeout_s: u64,
    /// Connections at once when sending.
    #[serde(default = "parallel")]
    pub parallel: usize,
    /// Absent: no TLS.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tls: Option<Tls>,
    /// Folder that films opened in the window are written to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub films_folder: Option<PathBuf>,
}

fn own_title() -> Title {
    Title("LENGTHFILM".to_owned())
}
fn receive_port() -> u16 {
    11112
}
fn connect_timeout_s() -> u64 {
    5
}
fn answer_timeout_s() -> u64 {
    30
}
fn parallel() -> usize {
    1
}

/// Most connections at once: a station that opens more is a nuisance.
pub const MOST_PARALLEL: usize = 8;
/// Longest waits that make sense, s.
const TIMEOUTS_S: std::ops::RangeInclusive<u64> = 1..=3600;

impl Settings {
    /// The usual settings for an archive.
    pub fn new(at: Address) -> Self {
        Self {
            at,
            own_title: own_title(),
            receive_port: receive_port(),
            connect_timeout_s: connect_timeout_s(),
            answer_timeout_s: answer_timeout_s(),
            parallel: parallel(),
            tls: None,
            films_folder: None,
        }
    }

    /// Reads a settings file. Paths in it are taken from its folder.
    ///
    /// # Errors
    /// A file that cannot be read, is no JSON or holds what makes no sense.
    pub fn load(path: &Path) -> Result<Self, ArchiveError> {
        let text = input_file::read_text(path, MOST_BYTES)
            .map_err(|error| at_file(path, Fault::Read(error)))?;
        let mut settings: Self = serde_json::from_str(&text).map_err(|error| {
            at_file(
                path,
                Fault::Settings(format!("no archive settings: {error}")),
            )
        })?;
        let folder = path.parent().unwrap_or(Path::new(""));
        if let Some(tls) = &mut settings.tls {
            tls.certificate = folder.join(&tls.certificate);
            for other in [&mut tls.own_certificate, &mut tls.own_key] {
                *other = other.take().map(|path| folder.join(path));
            }
        }
        settings
            .check()
            .map_err(|error| at_file(path, Fault::Settings(error)))?;
        Ok(settings)
    }

    /// Writes the settings.
    ///
    /// # Errors
    /// A folder that cannot be made or written to.
    pub fn save(&self, path: &Path) -> Result<(), ArchiveError> {
        let failed = |error| at_file(path, Fault::Write(error));
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder).map_err(failed)?;
        }
        let text = serde_json::to_string_pretty(self).unwrap_or_default() + "\n";
        crate::atomic_file::write(path, text.as_bytes()).map_err(failed)
    }

    /// Says what makes no sense in it.
    ///
    /// # Errors
    /// One line in words.
    pub fn check(&self) -> Result<(), String> {
        for (name, seconds) in [
            ("connect_timeout_s", self.connect_timeout_s),
            ("answer_timeout_s", self.answer_timeout_s),
        ] {
            if !TIMEOUTS_S.contains(&seconds) {
                return Err(format!("{name} is {seconds}; choose 1 to 3600 s"));
            }
        }
        if !(1..=MOST_PARALLEL).contains(&self.parallel) {
            return Err(format!(
                "parallel is {}; choose 1 to {MOST_PARALLEL} connections",
                self.parallel
            ));
        }
        match &self.tls {
            Some(tls) if tls.own_certificate.is_some() != tls.own_key.is_some() => {
                Err("own_certificate and own_key go together; one is missing".to_owned())
            }
            _ => Ok(()),
        }
    }

    pub(crate) fn connect_timeout(&self) -> Duration {
        Duration::from_secs(self.connect_timeout_s)
    }

    pub(crate) fn answer_timeout(&self) -> Duration {
        Duration::from_secs(self.answer_timeout_s)
    }
}

/// The folder of the settings file and of what waits to be sent: the system's
/// own place for a program's data. `LENGTHFILM_HOME` names another.
pub fn data_folder() -> Option<PathBuf> {
    let set = |name: &str| {
        std::env::var_os(name)
            .filter(|value| !value.is_empty())
            .map(PathBuf::from)
    };
    if let Some(folder) = set("LENGTHFILM_HOME") {
        return Some(folder);
    }
    if cfg!(windows) {
        return Some(set("APPDATA")?.join("lengthfilm").join("data"));
    }
    if cfg!(target_os = "macos") {
        return Some(set("HOME")?.join("Library/Application Support/lengthfilm"));
    }
    let base = set("XDG_DATA_HOME").or_else(|| Some(set("HOME")?.join(".local/share")))?;
    Some(base.join("lengthfilm"))
}

/// The settings file that is read where none is named.
pub fn usual_file() -> Option<PathBuf> {
    Some(data_folder()?.join("archive.json"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_is_title_host_and_port() {
        let address: Address = "CLINIC@films.example.org:11112".parse().unwrap();
        assert_eq!(address.title.as_str(), "CLINIC");
        assert_eq!(
            (address.host.as_str(), address.port),
            ("films.example.org", 11112)
        );
        assert_eq!(address.to_string(), "CLINIC@films.example.org:11112");
        let six: Address = "A@[::1]:104".parse().unwrap();
        assert_eq!(
            (six.host.as_str(), six.to_string().as_str()),
            ("::1", "A@[::1]:104")
        );
        for wrong in [
            "",
            "CLINIC",
            "CLINIC@host",
            "CLINIC@:104",
            "@host:104",
            "A@h:0",
            "A@h:65536",
            "TITLE-OF-17-CHARS@h:104",
            "A\\B@h:1",
        ] {
            assert!(wrong.parse::<Address>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_settings_file_is_checked_and_its_paths_are_its_folders() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("archive.json");
        let load = |text: &str| {
            std::fs::write(&path, text).unwrap();
            Settings::load(&path).map_err(|error| error.to_string())
        };
        let settings = load(r#"{"at":"A@h:104","tls":{"certificate":"a.pem"}}"#).unwrap();
        assert_eq!(settings.own_title.as_str(), "LENGTHFILM");
        assert_eq!(
            settings.tls.unwrap().certificate,
            folder.path().join("a.pem")
        );
        for (wrong, said) in [
            ("", "no archive settings"),
            (r#"{"at":"A@h"}"#, "no port at its end"),
            (r#"{"at":"A@h:104","tsl":{}}"#, "unknown field"),
            (r#"{"at":"A@h:104","answer_timeout_s":0}"#, "1 to 3600"),
            (r#"{"at":"A@h:104","parallel":99}"#, "1 to 8"),
            (
                r#"{"at":"A@h:104","tls":{"certificate":"a","own_key":"k"}}"#,
                "go together",
            ),
        ] {
            let error = load(wrong).unwrap_err();
            assert!(error.contains(said), "{wrong}: {error}");
            assert!(!error.contains('\n'), "{error}");
        }
    }
}

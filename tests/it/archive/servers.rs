//! Archives of others, each on the loopback address, on a free port, in a
//! folder of its own.

use std::collections::BTreeSet;
use std::net::{TcpListener, TcpStream};
use std::os::unix::process::CommandExt as _;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Mutex;
use std::time::{Duration, Instant};

use lengthfilm::archive::settings::Tls;
use lengthfilm::archive::{self, Settings};

use super::quietly;

/// A program that runs until it is dropped.
pub struct Server {
    child: Child,
    pub folder: tempfile::TempDir,
    pub settings: Settings,
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Server {
    /// Ends it at once, with the children that serve its connections: they
    /// hold its port.
    pub fn kill(&mut self) {
        let group = format!("-{}", self.child.id());
        let killed = Command::new("kill").args(["-KILL", "--", &group]).status();
        assert!(killed.unwrap().success());
        self.child.wait().unwrap();
        let begun = Instant::now();
        while TcpStream::connect(("127.0.0.1", self.settings.at.port)).is_ok() {
            assert!(
                begun.elapsed() < Duration::from_secs(20),
                "the port is held"
            );
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

/// A port that nobody listens on, and that no test was given before: a server
/// that has gone must not be taken for the next one.
pub fn free_port() -> u16 {
    static GIVEN: Mutex<BTreeSet<u16>> = Mutex::new(BTreeSet::new());
    loop {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        if GIVEN.lock().unwrap().insert(port) {
            return port;
        }
    }
}

pub fn settings(port: u16) -> Settings {
    let mut settings = Settings::new(format!("CLINIC@127.0.0.1:{port}").parse().unwrap());
    settings.receive_port = free_port();
    settings.answer_timeout_s = 20;
    settings
}

fn start(mut command: Command, folder: tempfile::TempDir, settings: Settings) -> Option<Server> {
    let program = command.get_program().to_string_lossy().into_owned();
    let log = std::fs::File::create(folder.path().join("log")).unwrap();
    let started = command
        .stdin(Stdio::null())
        .stdout(log.try_clone().unwrap())
        .stderr(log)
        .process_group(0)
        .spawn();
    let child = match started {
        Ok(child) => child,
        Err(error) => {
            println!("skipped: {program} cannot be run ({error})");
            return None;
        }
    };
    let mut server = Server {
        child,
        folder,
        settings,
    };
    let begun = Instant::now();
    loop {
        match quietly(|watch| archive::echo(&server.settings, watch)) {
            Ok(()) => return Some(server),
            Err(error) => {
                let ended = server.child.try_wait().unwrap();
                let log = || std::fs::read_to_string(server.folder.path().join("log"));
                assert!(ended.is_none(), "{program} ended: {ended:?} {:?}", log());
                let late = begun.elapsed() > Duration::from_secs(60);
                assert!(!late, "{program} does not answer: {error}");
            }
        }
        std::thread::sleep(Duration::from_millis(100));
    }
}

/// dcmtk's archive, with query, C-GET and C-MOVE.
pub fn dcmqrscp(more: &[&str]) -> Option<Server> {
    let folder = tempfile::tempdir().unwrap();
    let settings = settings(free_port());
    let store = folder.path().join("store");
    std::fs::create_dir(&store).unwrap();
    let config = folder.path().join("dcmqrscp.cfg");
    let text = format!(
        "NetworkTCPPort = {}\nMaxPDUSize = 16384\nMaxAssociations = 16\n\
         HostTable BEGIN\nown = (LENGTHFILM, 127.0.0.1, {})\nHostTable END\n\
         VendorTable BEGIN\nVendorTable END\n\
         AETable BEGIN\nCLINIC {} RW (500, 1024mb) ANY\nAETable END\n",
        settings.at.port,
        settings.receive_port,
        store.display()
    );
    std::fs::write(&config, text).unwrap();
    let mut command = Command::new("dcmqrscp");
    command.arg("-c").arg(&config).args(more);
    start(command, folder, settings)
}

/// dcmtk's receiver of files.
pub fn storescp() -> Option<Server> {
    let folder = tempfile::tempdir().unwrap();
    let settings = settings(free_port());
    let mut command = Command::new("storescp");
    command
        .args(["--aetitle", "CLINIC", "+B", "-od"])
        .arg(folder.path())
        .arg(settings.at.port.to_string());
    start(command, folder, settings)
}

/// A certificate that signed itself, and its key.
pub fn certificate(folder: &Path, name: &str) -> Option<()> {
    let output = Command::new("openssl")
        .args([
            "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2",
        ])
        .args(["-subj", "/CN=archive.example.org"])
        .arg("-keyout")
        .arg(folder.join(format!("{name}.key")))
        .arg("-out")
        .arg(folder.join(format!("{name}.pem")))
        .output();
    match output {
        Ok(output) if output.status.success() => Some(()),
        other => {
            println!("skipped: openssl made no certificate ({other:?})");
            None
        }
    }
}

/// Orthanc, plain or over TLS.
pub fn orthanc(with_tls: bool) -> Option<Server> {
    let folder = tempfile::tempdir().unwrap();
    let mut settings = settings(free_port());
    let path = |name: &str| folder.path().join(name);
    let mut config = serde_json::json!({
        "Name": "test",
        "StorageDirectory": path("storage"),
        "IndexDirectory": path("storage"),
        "Plugins": [],
        "HttpServerEnabled": false,
        // Films of one UID take each other's place.
        "OverwriteInstances": true,
        "DicomServerEnabled": true,
        "DicomAet": "CLINIC",
        "DicomCheckCalledAet": true,
        "DicomPort": settings.at.port,
        "DicomAlwaysAllowEcho": true,
        "DicomAlwaysAllowStore": true,
        "DicomAlwaysAllowFind": true,
        "DicomAlwaysAllowGet": true,
        "DicomModalities": {"own": {
            "AET": "LENGTHFILM", "Host": "127.0.0.1", "Port": settings.receive_port,
            "AllowMove": true, "AllowFind": true, "AllowGet": true, "AllowStore": true,
            "AllowEcho": true,
        }},
    });
    if with_tls {
        certificate(folder.path(), "archive")?;
        let certificate = path("archive.pem");
        config["DicomTlsEnabled"] = true.into();
        config["DicomTlsCertificate"] = certificate.to_str().into();
        config["DicomTlsPrivateKey"] = path("archive.key").to_str().into();
        config["DicomTlsTrustedCertificates"] = certificate.to_str().into();
        config["DicomTlsRemoteCertificateRequired"] = false.into();
        settings.tls = Some(Tls {
            certificate,
            ..Tls::default()
        });
    }
    std::fs::write(path("orthanc.json"), config.to_string()).unwrap();
    let mut command = Command::new("Orthanc");
    command.arg(path("orthanc.json"));
    start(command, folder, settings)
}

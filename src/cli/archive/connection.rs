//! How the archive is reached.

use std::path::PathBuf;

use clap::Args;

use crate::archive::settings::{self, Tls};
use crate::archive::{Address, Settings, Title};
use crate::cli::output::CliError;

/// How the archive is reached. Options come before the settings file.
#[derive(Debug, Args)]
pub(super) struct Connection {
    /// The archive.
    #[arg(long, value_name = "AET@HOST:PORT")]
    at: Option<Address>,
    /// Our own title.
    #[arg(long, value_name = "OWN")]
    aet: Option<Title>,
    /// Settings file; else archive.json in the program's data folder.
    #[arg(long, value_name = "FILE")]
    settings: Option<PathBuf>,
    /// Longest wait for a connection, s.
    #[arg(long, value_name = "S")]
    connect_timeout: Option<u64>,
    /// Longest wait for an answer, s.
    #[arg(long, value_name = "S")]
    timeout: Option<u64>,
    /// TLS: the archive's certificate or that of who issued it, PEM.
    #[arg(long, value_name = "FILE")]
    tls_certificate: Option<PathBuf>,
    /// TLS: the name in that certificate, where it is not the host's.
    #[arg(long, value_name = "NAME", requires = "tls_certificate")]
    tls_name: Option<String>,
    /// TLS: our certificate, PEM.
    #[arg(long, value_name = "FILE", requires_all = ["tls_certificate", "own_key"])]
    own_certificate: Option<PathBuf>,
    /// TLS: the key to it, PEM.
    #[arg(long, value_name = "FILE", requires = "own_certificate")]
    own_key: Option<PathBuf>,
    /// Print JSON.
    #[arg(long)]
    pub json: bool,
}

impl Connection {
    pub fn settings(&self) -> Result<Settings, CliError> {
        let usual = || settings::usual_file().filter(|path| path.is_file());
        let file = self.settings.clone().or_else(|| match self.at {
            // A settings file nobody named is for who names no archive.
            Some(_) => None,
            None => usual(),
        });
        let mut settings = match (&file, &self.at) {
            (Some(file), _) => Settings::load(file).map_err(CliError::input)?,
            (None, Some(at)) => Settings::new(at.clone()),
            (None, None) => {
                return Err(CliError::Input(
                    "no archive named; add --at AET@HOST:PORT, or write the settings file (docs/archive.md)".to_owned(),
                ));
            }
        };
        if let Some(at) = &self.at {
            settings.at = at.clone();
        }
        if let Some(own) = &self.aet {
            settings.own_title = own.clone();
        }
        let seconds = [
            (&mut settings.connect_timeout_s, self.connect_timeout),
            (&mut settings.answer_timeout_s, self.timeout),
        ];
        for (setting, option) in seconds {
            *setting = option.unwrap_or(*setting);
        }
        if let Some(certificate) = &self.tls_certificate {
            settings.tls = Some(Tls {
                certificate: certificate.clone(),
                server_name: self.tls_name.clone(),
                own_certificate: self.own_certificate.clone(),
                own_key: self.own_key.clone(),
            });
        }
        settings.check().map_err(CliError::Input)?;
        Ok(settings)
    }
}

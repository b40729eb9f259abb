//! The settings of the archive as they are typed.

use std::path::PathBuf;

use egui::{Response, RichText, TextEdit, Ui};

use crate::archive::settings::Tls;
use crate::archive::{Address, Settings, Title};
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::field_row;

/// What is typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Form {
    title: String,
    host: String,
    port: String,
    own_title: String,
    receive_port: String,
    uses_tls: bool,
    certificate: String,
    server_name: String,
    /// What has no field here stays as the settings file has it.
    kept: Option<Settings>,
}

impl Default for Form {
    fn default() -> Self {
        Self {
            title: String::new(),
            host: String::new(),
            port: String::new(),
            own_title: "LENGTHFILM".to_owned(),
            receive_port: "11112".to_owned(),
            uses_tls: false,
            certificate: String::new(),
            server_name: String::new(),
            kept: None,
        }
    }
}

impl Form {
    /// The fields filled in from settings.
    pub fn of(settings: &Settings) -> Self {
        let tls = settings.tls.clone();
        let of_tls = |get: fn(Tls) -> String| tls.clone().map_or(String::new(), get);
        Self {
            title: settings.at.title.to_string(),
            host: settings.at.host.clone(),
            port: settings.at.port.to_string(),
            own_title: settings.own_title.to_string(),
            receive_port: settings.receive_port.to_string(),
            uses_tls: tls.is_some(),
            certificate: of_tls(|tls| tls.certificate.to_string_lossy().into_owned()),
            server_name: of_tls(|tls| tls.server_name.unwrap_or_default()),
            kept: Some(settings.clone()),
        }
    }

    /// The settings that are typed.
    ///
    /// # Errors
    /// What is wrong or missing, one line in words.
    pub fn settings(&self) -> Result<Settings, String> {
        let title = self
            .title
            .parse::<Title>()
            .map_err(|problem| format!("Archive's title: {problem}"))?;
        let host = self.host.trim();
        if host.is_empty() || host.contains(char::is_whitespace) {
            return Err("Host: the archive's name in the network, or its address".to_owned());
        }
        let port = |name: &str, typed: &str| {
            let port = typed.trim().parse().ok().filter(|&port: &u16| port > 0);
            port.ok_or_else(|| format!("{name}: a whole number from 1 to 65535"))
        };
        let at = Address {
            title,
            host: host.to_owned(),
            port: port("Port", &self.port)?,
        };
        let mut settings = match &self.kept {
            Some(kept) => Settings { at, ..kept.clone() },
            None => Settings::new(at),
        };
        settings.own_title = self
            .own_title
            .parse::<Title>()
            .map_err(|problem| format!("Own title: {problem}"))?;
        settings.receive_port = port("Receiving port", &self.receive_port)?;
        settings.tls = self.tls(settings.tls.take())?;
        settings.check()?;
        Ok(settings)
    }

    fn tls(&self, kept: Option<Tls>) -> Result<Option<Tls>, String> {
        if !self.uses_tls {
            return Ok(None);
        }
        let certificate = self.certificate.trim();
        if certificate.is_empty() {
            return Err("Certificate: the archive's own, a PEM file".to_owned());
        }
        let name = self.server_name.trim();
        Ok(Some(Tls {
            certificate: PathBuf::from(certificate),
            server_name: (!name.is_empty()).then(|| name.to_owned()),
            ..kept.unwrap_or_default()
        }))
    }

    /// Takes the certificate chosen.
    pub fn set_certificate(&mut self, path: &std::path::Path) {
        self.uses_tls = true;
        self.certificate = path.to_string_lossy().into_owned();
    }

    /// The fields; whether a certificate is to be chosen.
    pub fn show(&mut self, ui: &mut Ui) -> bool {
        let quiet = palette::of(ui).quiet_text;
        let hint = |ui: &mut Ui, words: &str| {
            ui.label(RichText::new(words).color(quiet));
        };
        let mut choose = false;
        field_row(ui, "Archive", |ui| {
            text(ui, &mut self.title, "Archive's title", "title", 150.0);
            text(
                ui,
                &mut self.host,
                "Archive's host",
                "host or address",
                200.0,
            );
            text(ui, &mut self.port, "Archive's port", "port", 60.0);
            hint(
                ui,
                "title (AET), host and port, from the archive's administrator",
            );
        });
        field_row(ui, "This station", |ui| {
            text(ui, &mut self.own_title, "Own title", "title", 150.0);
            text(ui, &mut self.receive_port, "Receiving port", "port", 60.0);
            hint(
                ui,
                "to be known to the archive; the port only where it sends by C-MOVE",
            );
        });
        field_row(ui, "TLS", |ui| {
            ui.checkbox(&mut self.uses_tls, "with the certificate")
                .on_hover_text("Connect over TLS, trusting this certificate alone");
            ui.add_enabled_ui(self.uses_tls, |ui| {
                text(ui, &mut self.certificate, "Certificate", "PEM file", 240.0);
                choose = ui
                    .button("Choose…")
                    .accessible_name("Choose the certificate")
                    .clicked();
                let name = "Name in the certificate";
                text(
                    ui,
                    &mut self.server_name,
                    name,
                    "name, if not the host",
                    160.0,
                );
            });
        });
        choose
    }
}

/// A field with its name for screen readers.
pub fn text(ui: &mut Ui, typed: &mut String, name: &str, hint: &str, width: f32) -> Response {
    let field = TextEdit::singleline(typed)
        .hint_text(hint)
        .desired_width(width);
    ui.add(field).accessible_name(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_form_says_what_is_wrong_and_keeps_what_it_does_not_show() {
        let mut form = Form::default();
        let fault = |form: &Form| form.settings().expect_err("incomplete");
        assert!(fault(&form).starts_with("Archive's title"));
        form.title = "CLINIC".to_owned();
        assert!(fault(&form).starts_with("Host"));
        form.host = "films.example.org".to_owned();
        assert!(fault(&form).starts_with("Port"));
        form.port = "70000".to_owned();
        assert!(fault(&form).starts_with("Port"));
        form.port = "11112".to_owned();
        let mut settings = form.settings().expect("complete");
        assert_eq!(
            settings,
            Settings::new("CLINIC@films.example.org:11112".parse().unwrap())
        );
        form.uses_tls = true;
        assert!(fault(&form).starts_with("Certificate"));

        settings.parallel = 4;
        settings.tls = Some(Tls {
            certificate: "/a.pem".into(),
            server_name: None,
            own_certificate: Some("/own.pem".into()),
            own_key: Some("/own.key".into()),
        });
        assert_eq!(Form::of(&settings).settings(), Ok(settings));
    }
}

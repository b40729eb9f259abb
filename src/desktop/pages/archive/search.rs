//! What studies are looked for.

use egui::Ui;

use super::form::text;
use crate::archive::{StudyQuery, date_range};

/// What studies are looked for, as typed.
#[derive(Clone, Default)]
pub struct Search {
    patient: String,
    patient_id: String,
    date: String,
    modality: String,
    accession: String,
}

impl Search {
    /// What is asked of the archive.
    ///
    /// # Errors
    /// What is typed wrong, in plain words.
    pub fn query(&self) -> Result<StudyQuery, String> {
        let date = match self.date.trim() {
            "" => String::new(),
            typed => date_range(typed).map_err(|problem| format!("Date: {problem}"))?,
        };
        let modalities = self.modality.split([',', ' ']).map(str::trim);
        Ok(StudyQuery {
            patient_name: self.patient.trim().to_owned(),
            patient_id: self.patient_id.trim().to_owned(),
            study_date: date,
            modalities: modalities
                .filter(|one| !one.is_empty())
                .map(str::to_uppercase)
                .collect(),
            accession_number: self.accession.trim().to_owned(),
            study_instance_uid: String::new(),
        })
    }

    /// The fields and the button; `true`: search now.
    pub fn show(&mut self, ui: &mut Ui, is_free: bool) -> bool {
        let mut begins = false;
        ui.horizontal_wrapped(|ui| {
            let entered = ui.input(|input| input.key_pressed(egui::Key::Enter));
            for (typed, name, hint, width) in [
                (
                    &mut self.patient,
                    "Patient's name",
                    "patient, * and ?",
                    150.0,
                ),
                (&mut self.patient_id, "Patient ID", "patient ID", 100.0),
                (&mut self.date, "Study date", "date or today", 110.0),
                (&mut self.modality, "Modality", "IO, DX …", 70.0),
                (&mut self.accession, "Accession number", "accession", 100.0),
            ] {
                let field = text(ui, typed, name, hint, width);
                begins |= is_free && entered && field.lost_focus();
            }
            let button = egui::Button::new("Search");
            begins |= ui.add_enabled(is_free, button).clicked();
        });
        begins
    }
}

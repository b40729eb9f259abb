//! The rows of the form in our own words.

use crate::curvature::DifficultyClass;

/// What the form is.
pub const FORM_NAME: &str = "AAE case difficulty assessment form, 2022 edition";

/// Parts of the form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RowGroup {
    /// The patient.
    Patient,
    /// Diagnosis, film and tooth.
    Tooth,
    /// What has happened to the tooth before.
    History,
}

impl RowGroup {
    /// All, in the order of the form.
    pub const ALL: [Self; 3] = [Self::Patient, Self::Tooth, Self::History];

    /// Its heading.
    pub fn title(self) -> &'static str {
        match self {
            Self::Patient => "Patient",
            Self::Tooth => "Diagnosis, film and tooth",
            Self::History => "Earlier history",
        }
    }

    /// Its code in JSON.
    pub fn code(self) -> &'static str {
        match self {
            Self::Patient => "patient",
            Self::Tooth => "tooth",
            Self::History => "history",
        }
    }
}

/// A row of the form.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum RowKey {
    MedicalHistory,
    Anaesthesia,
    Cooperation,
    MouthOpening,
    GagReflex,
    Emergency,
    Diagnosis,
    RadiographicDifficulty,
    Position,
    Inclination,
    Rotation,
    Isolation,
    CrownForm,
    Curvature,
    RootForm,
    ToothLength,
    ApexOpening,
    CanalVisibility,
    Resorption,
    Trauma,
    EarlierTreatment,
    Periodontium,
}

/// What a row says.
#[derive(Debug)]
pub struct FormRow {
    pub row: RowKey,
    /// Its key in the case and in `measure --json`.
    pub key: &'static str,
    pub group: RowGroup,
    pub name: &'static str,
    /// What reads low, moderate and high; empty where the form has none.
    pub criteria: [&'static str; 3],
    /// How well the limits are known (docs/references.md).
    pub mark: &'static str,
}

impl FormRow {
    /// What a class of this row means; `None` where the form has none.
    pub fn criterion(&self, class: DifficultyClass) -> Option<&'static str> {
        Some(self.criteria[class as usize]).filter(|words| !words.is_empty())
    }
}

impl RowKey {
    /// What the row says.
    pub fn row(self) -> &'static FormRow {
        const ROWS: &[FormRow] = &FORM;
        &ROWS[self as usize]
    }
}

/// The row of a key; `None` for a key that is none.
pub fn row_of_key(key: &str) -> Option<&'static FormRow> {
    FORM.iter().find(|row| row.key == key)
}

/// The form.
pub static FORM: [FormRow; 22] = {
    use RowGroup::{History, Patient, Tooth};
    const fn row(
        row: RowKey,
        key: &'static str,
        group: RowGroup,
        name: &'static str,
        criteria: [&'static str; 3],
        mark: &'static str,
    ) -> FormRow {
        FormRow {
            row,
            key,
            group,
            name,
            criteria,
            mark,
        }
    }
    const LOW_SEEN: &str = "low SEEN-2, others MEM-H";
    [
        row(
            RowKey::MedicalHistory,
            "medical_history",
            Patient,
            "General health",
            [
                "healthy (ASA class 1)",
                "mild disease (ASA class 2)",
                "severe disease or disability (ASA classes 3–5)",
            ],
            "MEM-H",
        ),
        row(
            RowKey::Anaesthesia,
            "anaesthesia",
            Patient,
            "Local anaesthesia",
            [
                "never a problem",
                "vasoconstrictor not tolerated",
                "hard to achieve",
            ],
            "MEM-H",
        ),
        row(
            RowKey::Cooperation,
            "cooperation",
            Patient,
            "Cooperation",
            ["at ease", "anxious, cooperates", "does not cooperate"],
            "MEM-H",
        ),
        row(
            RowKey::MouthOpening,
            "mouth_opening",
            Patient,
            "Mouth opening",
            ["free", "slightly limited", "severely limited"],
            "MEM-H",
        ),
        row(
            RowKey::GagReflex,
            "gag_reflex",
            Patient,
            "Gag reflex",
            [
                "none",
                "at times, with films or treatment",
                "so strong that earlier care suffered from it",
            ],
            "MEM-H",
        ),
        row(
            RowKey::Emergency,
            "emergency",
            Patient,
            "Pain and swelling",
            ["little or none", "of medium degree", "severe"],
            "MEM-H",
        ),
        row(
            RowKey::Diagnosis,
            "diagnosis",
            Tooth,
            "Diagnosis",
            [
                "findings fit one pulpal and periapical diagnosis",
                "several diagnoses to be told apart",
                "contradictory findings, or long-standing facial pain",
            ],
            "MEM-H",
        ),
        row(
            RowKey::RadiographicDifficulty,
            "radiographic_difficulty",
            Tooth,
            "Taking and reading films",
            [
                "no difficulty",
                "high floor of the mouth, narrow palate, tori",
                "extreme, or other anatomy lies over the root",
            ],
            "MEM-H",
        ),
        row(
            RowKey::Position,
            "position",
            Tooth,
            "Position in the arch",
            [
                "front tooth or premolar",
                "first molar",
                "second or third molar",
            ],
            LOW_SEEN,
        ),
        row(
            RowKey::Inclination,
            "inclination",
            Tooth,
            "Inclination",
            ["below 10°", "10–30°", "above 30°"],
            LOW_SEEN,
        ),
        row(
            RowKey::Rotation,
            "rotation",
            Tooth,
            "Rotation",
            ["below 10°", "10–30°", "above 30°"],
            LOW_SEEN,
        ),
        row(
            RowKey::Isolation,
            "isolation",
            Tooth,
            "Isolation",
            [
                "rubber dam as usual",
                "the tooth is simply prepared for it",
                "the tooth is extensively built up for it",
            ],
            LOW_SEEN,
        ),
        row(
            RowKey::CrownForm,
            "crown_form",
            Tooth,
            "Crown",
            [
                "its natural form",
                "full-coverage crown, bridge abutment, or a moderate anomaly (taurodont, small tooth)",
                "restoration that hides the natural form, or a marked anomaly (fusion, invagination)",
            ],
            LOW_SEEN,
        ),
        row(
            RowKey::Curvature,
            "curvature",
            Tooth,
            "Canal curvature",
            ["below 10°", "10–30°", "above 30°, or S-shaped"],
            "low and moderate SEEN-2, high MEM-H",
        ),
        row(
            RowKey::RootForm,
            "root_form",
            Tooth,
            "Roots and canal system",
            [
                "as usual, crown and root in one axis",
                "axis of the crown moderately off that of the root",
                "lower front tooth or premolar with two roots, upper premolar with three, or a canal \
                 that divides in the middle or apical third",
            ],
            "MEM-H",
        ),
        row(
            RowKey::ToothLength,
            "tooth_length",
            Tooth,
            "Length of the tooth",
            ["25 mm or less", "", "above 25 mm"],
            "MEM-H",
        ),
        row(
            RowKey::ApexOpening,
            "apex_opening",
            Tooth,
            "Opening of the apex",
            ["below 1 mm", "1–1.5 mm", "above 1.5 mm"],
            LOW_SEEN,
        ),
        row(
            RowKey::CanalVisibility,
            "canal_visibility",
            Tooth,
            "Canal and chamber on the film",
            [
                "seen, of usual size",
                "seen but smaller, or pulp stones",
                "indistinct or not seen",
            ],
            LOW_SEEN,
        ),
        row(
            RowKey::Resorption,
            "resorption",
            Tooth,
            "Resorption",
            [
                "none",
                "slight, at the apex",
                "extensive at the apex, internal or external",
            ],
            "MEM-H",
        ),
        row(
            RowKey::Trauma,
            "trauma",
            History,
            "Injury",
            [
                "none, or a crown fracture that spared the pulp",
                "crown fracture that opened the pulp of a mature tooth, or subluxation",
                "open pulp of an immature tooth, root or alveolar fracture, luxation, avulsion",
            ],
            "MEM-H",
        ),
        row(
            RowKey::EarlierTreatment,
            "earlier_treatment",
            History,
            "Earlier root canal treatment",
            [
                "none",
                "opened before, without complication",
                "with complication (perforation, ledge, blocked canal, broken instrument), or \
                 finished before, surgically or not",
            ],
            "MEM-H",
        ),
        row(
            RowKey::Periodontium,
            "periodontium",
            History,
            "Periodontal condition",
            [
                "sound or slightly diseased",
                "moderately diseased",
                "severely diseased, crack with a pocket, combined lesion, or root removed",
            ],
            "MEM-H",
        ),
    ]
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_stands_in_its_place_under_its_own_key() {
        for (place, row) in FORM.iter().enumerate() {
            assert_eq!(row.row as usize, place, "{}", row.key);
            assert_eq!(row_of_key(row.key).unwrap().row, row.row);
            assert!(row.criterion(DifficultyClass::Low).is_some(), "{}", row.key);
            assert!(
                row.criterion(DifficultyClass::High).is_some(),
                "{}",
                row.key
            );
        }
        let without_moderate = |row: &&FormRow| row.criterion(DifficultyClass::Moderate).is_none();
        let keys: Vec<_> = FORM
            .iter()
            .filter(without_moderate)
            .map(|row| row.key)
            .collect();
        assert_eq!(keys, ["tooth_length"]);
        assert!(row_of_key("no such row").is_none());
    }
}

//! The passphrase of an exercise set, as it is typed.

use egui::{TextEdit, Ui};

/// A passphrase; never shown, not even for finding faults.
#[derive(Clone, Default, PartialEq, Eq)]
pub struct Passphrase(String);

impl std::fmt::Debug for Passphrase {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("Passphrase(…)")
    }
}

impl Passphrase {
    /// What was typed.
    pub fn get(&self) -> &str {
        &self.0
    }

    /// Forgets it.
    pub fn clear(&mut self) {
        self.0.clear();
    }

    /// The field it is typed into, letters hidden.
    pub fn field(&mut self, ui: &mut Ui, label: &str) {
        let field = TextEdit::singleline(&mut self.0)
            .password(true)
            .hint_text(label.to_lowercase())
            .desired_width(300.0);
        ui.add(field).accessible_name(label);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_passphrase_does_not_print() {
        let typed = Passphrase("chalk and amalgam".to_owned());
        assert!(!format!("{typed:?}").contains("chalk"));
    }
}

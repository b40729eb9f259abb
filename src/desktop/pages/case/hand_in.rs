//! Who hands the case in, for a class that is graded.

use egui::{CollapsingHeader, Id, RichText, TextEdit, Ui};

use super::dates::checked_date;
use crate::case::Student;
use crate::desktop::state::Desk;
use crate::desktop::state::edit::Edit;
use crate::desktop::ui::checked_field::CheckedField;
use crate::desktop::ui::palette;

/// Most attempts that can be typed (our own limit).
const MOST_ATTEMPTS: u32 = 99;

/// Shows the fields, folded away unless the case names a student.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    let stated = desk.workspace.document.case().student.clone();
    let was = stated.clone().unwrap_or_default();
    let mut student = was.clone();
    CollapsingHeader::new("For a class")
        .id_salt("hand-in")
        .default_open(stated.is_some())
        .show(ui, |ui| fields(ui, &mut student));
    if student != was {
        let is_empty = student == Student::default();
        desk.apply(Edit::Student((!is_empty).then_some(student)));
    }
}

fn fields(ui: &mut Ui, student: &mut Student) {
    let quiet = palette::of(ui).quiet_text;
    let label = |ui: &mut Ui, words: &str| ui.label(RichText::new(words).color(quiet));
    ui.horizontal(|ui| {
        label(ui, "Student");
        let mut name = student.name.clone().unwrap_or_default();
        let field = TextEdit::singleline(&mut name)
            .hint_text("name or number")
            .desired_width(f32::INFINITY);
        if ui.add(field).accessible_name("Who hands in").changed() {
            student.name = (!name.trim().is_empty()).then_some(name);
        }
    });
    ui.horizontal(|ui| {
        label(ui, "Attempt");
        let attempt = student.attempt.map_or(String::new(), |n| n.to_string());
        let field = CheckedField {
            label: "Attempt number",
            value: &attempt,
            hint: "1",
            width: 36.0,
        };
        if let Some(text) = field.show(ui, Id::unique("attempt"), checked_attempt) {
            student.attempt = text.parse().ok();
        }
        label(ui, "on");
        let date = student.date.clone().unwrap_or_default();
        let field = CheckedField {
            label: "Date of the hand-in",
            value: &date,
            hint: "yyyy-mm-dd",
            width: 104.0,
        };
        if let Some(text) = field.show(ui, Id::unique("hand-in date"), checked_date) {
            student.date = (!text.is_empty()).then_some(text);
        }
    });
}

fn checked_attempt(text: &str) -> Result<(), String> {
    let is_number = text
        .parse::<u32>()
        .is_ok_and(|n| (1..=MOST_ATTEMPTS).contains(&n));
    if text.is_empty() || is_number {
        Ok(())
    } else {
        Err(format!("Type a whole number from 1 to {MOST_ATTEMPTS}"))
    }
}

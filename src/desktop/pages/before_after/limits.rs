//! Limits of the findings: those built in, or the user's own.

use egui::{Id, RichText, Ui};

use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::{NumberEdit, NumberField, section_heading};
use crate::shaping::AberrationLimits;

/// One limit: what it is about, and where it stands.
struct Row {
    name: &'static str,
    hint: &'static str,
    of: fn(&mut AberrationLimits) -> &mut f64,
}

const ROWS: [Row; 8] = [
    Row {
        name: "Zip: end wider by at least",
        hint: "than the narrowest place coronal of it",
        of: |limits| &mut limits.zip_least_mm,
    },
    Row {
        name: "Elbow: looked for from",
        hint: "distance from the canal's end",
        of: |limits| &mut limits.elbow_from_mm,
    },
    Row {
        name: "Elbow: looked for up to",
        hint: "distance from the canal's end",
        of: |limits| &mut limits.elbow_to_mm,
    },
    Row {
        name: "Ledge: step of at least",
        hint: "of the outer wall without the inner one",
        of: |limits| &mut limits.ledge_step_mm,
    },
    Row {
        name: "Ledge: within",
        hint: "greatest length of the step along the canal",
        of: |limits| &mut limits.ledge_length_mm,
    },
    Row {
        name: "Loss of length: more than",
        hint: "the canal after ends short by this",
        of: |limits| &mut limits.short_mm,
    },
    Row {
        name: "Thin wall: below",
        hint: "what remains between canal and root surface",
        of: |limits| &mut limits.thin_wall_mm,
    },
    Row {
        name: "Very thin wall: below",
        hint: "what remains between canal and root surface",
        of: |limits| &mut limits.very_thin_wall_mm,
    },
];

/// What is typed, and what holds: the last that can be.
#[derive(Default)]
pub struct Limits {
    typed: AberrationLimits,
    in_force: AberrationLimits,
    is_open: bool,
}

impl Limits {
    /// The limits that findings are judged by.
    pub fn in_force(&self) -> &AberrationLimits {
        &self.in_force
    }

    /// Shows them to be changed; others hold from now on.
    pub fn show(&mut self, ui: &mut Ui) -> bool {
        ui.add_space(6.0);
        let is_own = self.in_force != AberrationLimits::default();
        let title = if is_own {
            "Limits of the findings (changed)"
        } else {
            "Limits of the findings"
        };
        if !section_heading(ui, title, &mut self.is_open) {
            return false;
        }
        let quiet = palette::of(ui).quiet_text;
        let what = "All of them are our own; others may suit your course better.";
        ui.label(RichText::new(what).color(quiet));
        let mut built_in = AberrationLimits::default();
        for row in &ROWS {
            ui.horizontal(|ui| {
                let example = (row.of)(&mut built_in).to_string();
                let label = format!("Limit, {}", row.name);
                let value = (row.of)(&mut self.typed);
                let field = NumberField {
                    label: &label,
                    value: Some(*value),
                    step: 0.05,
                    unit: "mm",
                    range: 0.0..=30.0,
                    example: &example,
                    default: None,
                    take_focus: false,
                    typed: None,
                };
                if let NumberEdit::Changed(Some(mm)) = field.show(ui, Id::unique(row.name)) {
                    *value = mm;
                }
                ui.label(row.name).on_hover_text(row.hint);
            });
        }
        if is_own && ui.button("Limits built in").clicked() {
            self.typed = built_in;
        }
        if self.typed == self.in_force {
            return false;
        }
        match self.typed.check() {
            Ok(()) => {
                self.in_force = self.typed.clone();
                true
            }
            Err(_) => {
                let words = "The elbow is looked for from the smaller distance to the greater, \
                             and a very thin wall is thinner than a thin one; the limits before \
                             hold.";
                ui.colored_label(palette::of(ui).caution, words);
                false
            }
        }
    }
}

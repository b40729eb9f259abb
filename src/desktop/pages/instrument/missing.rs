//! What is missing before a file can be judged in the canal shown, in the order
//! of work.

use egui::{RichText, Ui};

use crate::case::edit::{Tool, canal_in_words};
use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::state::page::Page;
use crate::desktop::ui::widgets::{spoken, step_heading};

/// The steps, in their order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    Trace,
    Scale,
    Files,
}

impl Step {
    const ALL: [Step; 3] = [Step::Trace, Step::Scale, Step::Files];

    fn title(self) -> &'static str {
        match self {
            Step::Trace => "Trace the canal",
            Step::Scale => "Scale of the film",
            Step::Files => "Files",
        }
    }
}

/// The first step not yet done for the canal chosen; `None` once files are
/// listed for a traced canal.
pub fn next(desk: &Desk<'_>) -> Option<Step> {
    let case = desk.workspace.document.case();
    let canal = case.canals.get(desk.session.canal);
    let Some(canal) = canal.filter(|canal| canal.trace_px.len() > 1) else {
        return Some(Step::Trace);
    };
    if !canal.shaping_files.is_empty() {
        return None;
    }
    let scale = &desk.workspace.last_reading().findings.scale;
    Some(match scale.mm_per_px {
        None => Step::Scale,
        Some(_) => Step::Files,
    })
}

/// Says what is to be done, with the way there.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>, step: Step) {
    for (number, one) in (1u8..).zip(Step::ALL) {
        step_heading(ui, number, one.title(), one < step);
    }
    ui.add_space(6.0);
    let canal = desk
        .workspace
        .document
        .case()
        .canals
        .get(desk.session.canal);
    let canal = canal.map_or_else(|| "a canal".to_owned(), |canal| canal_in_words(&canal.name));
    let words = match step {
        Step::Trace => format!(
            "Trace {canal} first, from the orifice to the apex: how far a file is bent comes from \
             the curve of the canal."
        ),
        Step::Scale => "State the scale next: a file or another object of known length, or the \
                        pixel pitch. Without it the radius of a curve is not known in mm."
            .to_owned(),
        Step::Files => format!(
            "No files yet: choose size and taper on the left and add the first one. Its bending \
             strain is then shown along {canal}."
        ),
    };
    let response = ui.add(egui::Label::new(RichText::new(&words).heading()).wrap());
    spoken(&response, &words);
    match step {
        Step::Trace => {
            if ui.button("Trace it on the film").clicked() {
                desk.session.page = Page::Case;
                desk.commands.push(Command::Use(Tool::Trace));
            }
        }
        Step::Scale => {
            if ui.button("Back to the case for the scale").clicked() {
                desk.session.page = Page::Case;
            }
        }
        Step::Files => {}
    }
}

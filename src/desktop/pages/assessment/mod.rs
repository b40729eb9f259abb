//! The case difficulty assessment of the open case: what the film gives, what
//! the clinician enters, and the class they make together.

use egui::{Button, Frame, Grid, RichText, ScrollArea, Ui};

use crate::assessment::{FORM, FORM_NAME, FormRow, RowGroup};
use crate::curvature::DifficultyClass;
use crate::desktop::state::Desk;
use crate::desktop::state::edit::Edit;
use crate::desktop::state::page::Page;
use crate::desktop::state::page_view::CasePageView;
use crate::desktop::ui::palette::{self, text_scale};
use crate::desktop::ui::widgets::spoken;
use crate::measure::assessment::class_words;
use crate::measure::assessment_findings::{AssessmentFinding, RowFinding};
use crate::measure::capitalised;

/// Width of a column at normal text size, points.
const COLUMN_WIDTH: f32 = 230.0;

/// The page.
#[derive(Default)]
pub struct AssessmentPage;

impl CasePageView for AssessmentPage {
    fn show(&mut self, ui: &mut Ui, desk: &mut Desk<'_>) {
        show(ui, desk);
    }
}

fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    desk.workspace.reading();
    let found = desk.workspace.last_reading().findings.assessment.clone();
    if ui.button("Back to the case").clicked() {
        desk.session.page = Page::Case;
    }
    head(ui, &found);
    ScrollArea::vertical()
        .id_salt(("assessment", desk.session.case_count))
        .auto_shrink(false)
        .show(ui, |ui| {
            for group in RowGroup::ALL {
                ui.add_space(8.0);
                ui.label(RichText::new(group.title()).heading());
                rows(ui, desk, group, &found);
            }
            neighbours(ui, desk);
            ui.add_space(12.0);
        });
}

fn head(ui: &mut Ui, found: &AssessmentFinding) {
    let quiet = palette::of(ui).quiet_text;
    ui.label(
        RichText::new("Case difficulty")
            .heading()
            .strong()
            .size(22.0),
    );
    let purpose = format!(
        "{FORM_NAME}, in our own words. Rows that the film gives are filled in; enter the others. \
         Your entry counts before the film's."
    );
    ui.label(RichText::new(purpose).color(quiet));
    let whole = match found.whole_words() {
        Some(words) => capitalised(&words),
        None => "No row assessed yet".to_owned(),
    };
    Frame::new()
        .stroke(egui::Stroke::new(1.0, palette::of(ui).accent))
        .corner_radius(4.0)
        .inner_margin(6.0)
        .show(ui, |ui| {
            let response = ui.label(RichText::new(&whole).strong());
            spoken(&response, &format!("Whole case: {whole}"));
        });
}

fn rows(ui: &mut Ui, desk: &mut Desk<'_>, group: RowGroup, found: &AssessmentFinding) {
    let width = COLUMN_WIDTH * text_scale(ui);
    Grid::new(("assessment", group.code()))
        .num_columns(4)
        .min_col_width(width)
        .max_col_width(width)
        .striped(true)
        .show(ui, |ui| {
            for row in FORM.iter().filter(|row| row.group == group) {
                let finding = found.rows.iter().find(|finding| finding.key == row.key);
                state(ui, row, finding);
                for class in DifficultyClass::ALL {
                    choice(ui, desk, row, class);
                }
                ui.end_row();
            }
        });
}

/// A row's name, its class and where that comes from.
fn state(ui: &mut Ui, row: &FormRow, finding: Option<&RowFinding>) {
    let quiet = palette::of(ui).quiet_text;
    ui.vertical(|ui| {
        ui.label(RichText::new(row.name).strong());
        let class = finding.map_or("not assessed".to_owned(), class_words);
        let response = ui.label(RichText::new(&class).color(quiet));
        spoken(&response, &format!("{}: {class}", row.name));
        let source = finding.map_or(String::new(), RowFinding::source_words);
        if !source.is_empty() && source != "entered" {
            ui.add(egui::Label::new(RichText::new(source).color(quiet).small()).wrap());
        }
    });
}

/// The button that enters a class; the entered one takes the entry back.
fn choice(ui: &mut Ui, desk: &mut Desk<'_>, row: &'static FormRow, class: DifficultyClass) {
    let Some(criterion) = row.criterion(class) else {
        ui.label("");
        return;
    };
    let entered = desk.workspace.document.case().assessment.as_ref();
    let entered = entered
        .and_then(|entered| entered.rows.get(row.key))
        .copied();
    let words = format!("{}: {criterion}", capitalised(class.label()));
    let button = Button::selectable(entered == Some(class), words)
        .wrap()
        .frame_when_inactive(true);
    let name = format!("{}, {}: {criterion}", row.name, class.label());
    if ui.add(button).accessible_name(name).clicked() {
        let class = (entered != Some(class)).then_some(class);
        desk.apply(Edit::AssessRow { row, class });
    }
}

/// Which canals are the neighbouring tooth's.
fn neighbours(ui: &mut Ui, desk: &mut Desk<'_>) {
    let case = desk.workspace.document.case();
    let names: Vec<String> = case.canals.iter().map(|canal| canal.name.clone()).collect();
    if names.len() < 2 {
        return;
    }
    let chosen = case.assessment.as_ref().map(|a| a.neighbour_canals.clone());
    let chosen = chosen.unwrap_or_default();
    ui.add_space(8.0);
    ui.label(RichText::new("Neighbouring tooth").heading());
    let quiet = palette::of(ui).quiet_text;
    let note = "Mark the canals you have traced in the neighbouring tooth: the inclination is then \
                measured against it, and they count for no other row.";
    ui.label(RichText::new(note).color(quiet));
    ui.horizontal_wrapped(|ui| {
        for (canal, name) in names.iter().enumerate() {
            let is_neighbour = chosen.contains(name);
            let button = Button::selectable(is_neighbour, name).frame_when_inactive(true);
            let spoken = format!("{name} belongs to the neighbouring tooth");
            if ui.add(button).accessible_name(spoken).clicked() {
                let is_neighbour = !is_neighbour;
                desk.apply(Edit::Neighbour {
                    canal,
                    is_neighbour,
                });
            }
        }
    });
}

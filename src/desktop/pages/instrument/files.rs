//! Which files, in which order: from the standard's sizes, or typed.

use egui::{Button, Color32, ComboBox, Id, Response, RichText, Sense, Stroke, Ui, Vec2};

use crate::case::{Case, ShapingFile};
use crate::desktop::state::Desk;
use crate::desktop::state::edit::Edit;
use crate::desktop::ui::checked_field::CheckedField;
use crate::desktop::ui::palette::{self, text_scale};
use crate::desktop::ui::widgets::{NumberEdit, NumberField};
use crate::instrumentation::{
    FileRequest, IsoColour, NominalFile, STANDARD_SIZES, StandardSize, in_case, to_case,
};

/// Tapers offered, hundredths: those of common series (common practice, no
/// source).
const TAPERS: [u8; 8] = [2, 3, 4, 5, 6, 7, 8, 10];
/// Step-backs are stepped by this, mm.
const STEP_BACK_STEP_MM: f64 = 0.5;

/// The files of a canal as the case lists them; `None`: one of them is none.
pub fn requests(case: &Case, canal: usize) -> Option<Vec<FileRequest>> {
    in_case(case.canals.get(canal)?).ok()
}

/// Which canal.
pub fn canals(ui: &mut Ui, desk: &mut Desk<'_>) {
    let case = desk.workspace.document.case();
    let names: Vec<String> = case.canals.iter().map(|canal| canal.name.clone()).collect();
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new("Canal").color(palette::of(ui).quiet_text));
        for (canal, name) in names.iter().enumerate() {
            let is_chosen = desk.session.canal == canal;
            let button = Button::selectable(is_chosen, name).frame_when_inactive(true);
            let spoken = format!("Canal {name}");
            if ui.add(button).accessible_name(spoken).clicked() {
                desk.session.canal = canal;
                ui.ctx().request_repaint();
            }
        }
        if names.is_empty() {
            ui.label("none yet");
        }
    });
}

/// What is about to be added.
pub struct Choice {
    /// Index into [`STANDARD_SIZES`].
    size: usize,
    taper: u8,
    typed: String,
}

impl Default for Choice {
    fn default() -> Self {
        let usual = |standard: &StandardSize| standard.size == 25;
        Self {
            size: STANDARD_SIZES.iter().position(usual).unwrap_or(0),
            taper: 6,
            typed: String::new(),
        }
    }
}

/// What is done to the list.
enum Change {
    Add(FileRequest),
    Remove(usize),
    Up(usize),
    Same(Vec<ShapingFile>),
}

impl Choice {
    /// Shows the list of the canal and the ways to add to it.
    pub fn show(&mut self, ui: &mut Ui, desk: &mut Desk<'_>, chosen: &mut usize) {
        let canal = desk.session.canal;
        let case = desk.workspace.document.case();
        let Some(content) = case.canals.get(canal) else {
            return;
        };
        let files = content.shaping_files.clone();
        let problem = in_case(content).err();
        let other = case.canals.iter().find(|other| {
            files.is_empty() && !other.shaping_files.is_empty() && in_case(other).is_ok()
        });
        let other = other.map(|other| (other.name.clone(), other.shaping_files.clone()));
        let mut change = None;
        ui.add_space(6.0);
        ui.label(RichText::new("In the order of use").heading());
        if let Some(problem) = problem {
            ui.colored_label(palette::of(ui).alarm, problem.to_string());
            if ui.button("Clear this list").clicked() {
                change = Some(Change::Same(Vec::new()));
            }
        } else {
            for (index, file) in files.iter().enumerate() {
                self.row(ui, desk, index, file, chosen, &mut change);
            }
        }
        if let Some((name, files)) = other
            && ui.button(format!("Same files as canal {name}")).clicked()
        {
            change = Some(Change::Same(files));
        }
        ui.add_space(8.0);
        ui.label(RichText::new("Add a file").heading());
        if let Some(request) = self.offer(ui) {
            change = Some(Change::Add(request));
        }
        let Some(change) = change else {
            return;
        };
        let files = changed(files, change, chosen);
        desk.apply(Edit::ShapingFiles { canal, files });
        ui.ctx().request_repaint();
    }

    fn row(
        &self,
        ui: &mut Ui,
        desk: &mut Desk<'_>,
        index: usize,
        file: &ShapingFile,
        chosen: &mut usize,
        change: &mut Option<Change>,
    ) {
        let canal = desk.session.canal;
        let label = label_of(file);
        ui.horizontal(|ui| {
            let name = format!("{}. {label}", index + 1);
            if swatched(ui, *chosen == index, &label, swatch_of(file))
                .accessible_name(name)
                .clicked()
            {
                *chosen = index;
            }
            let remove = ui
                .button("Remove")
                .accessible_name(format!("Remove {label}"));
            if remove.clicked() {
                *change = Some(Change::Remove(index));
            }
        });
        let field = NumberField {
            label: &format!("Step-back of {label}"),
            value: Some(file.step_back_mm),
            step: STEP_BACK_STEP_MM,
            unit: "mm short",
            range: 0.0..=16.0,
            example: "1.0",
            default: Some(0.0),
            take_focus: false,
            typed: None,
        };
        let id = Id::unique(("step-back", desk.session.case_count, canal, index));
        ui.horizontal(|ui| {
            if let NumberEdit::Changed(mm) = field.show(ui, id) {
                desk.apply(Edit::StepBack {
                    canal,
                    file: index,
                    mm: mm.unwrap_or(0.0),
                });
            }
            let up = ui
                .add_enabled(index > 0, Button::new("Earlier"))
                .accessible_name(format!("Use {label} earlier"));
            if up.clicked() {
                *change = Some(Change::Up(index));
            }
        });
        ui.add_space(4.0);
    }

    /// Size and taper of the standard's, or a file typed.
    fn offer(&mut self, ui: &mut Ui) -> Option<FileRequest> {
        let mut added = None;
        ui.horizontal(|ui| {
            let size = STANDARD_SIZES[self.size];
            ComboBox::from_id_salt("file size")
                .width(104.0 * text_scale(ui))
                .height(420.0)
                .selected_text(size_words(size))
                .show_ui(ui, |ui| {
                    for (index, standard) in STANDARD_SIZES.iter().enumerate() {
                        let words = size_words(*standard);
                        let swatch = Some((standard.colour, standard.half));
                        if swatched(ui, index == self.size, &words, swatch).clicked() {
                            self.size = index;
                        }
                    }
                })
                .response
                .accessible_name("Size");
            ComboBox::from_id_salt("file taper")
                .width(70.0 * text_scale(ui))
                .selected_text(taper_words(self.taper))
                .show_ui(ui, |ui| {
                    for taper in TAPERS {
                        ui.selectable_value(&mut self.taper, taper, taper_words(taper));
                    }
                })
                .response
                .accessible_name("Taper");
        });
        let size = f64::from(STANDARD_SIZES[self.size].size);
        // As it is engraved.
        let written = format!("{size}/{}", f64::from(self.taper) / 100.0);
        if let Ok(request) = FileRequest::parse(&written) {
            let swatch = swatch_of(&to_case(&request));
            let words = format!("Add {}", request.file.label());
            if swatched(ui, false, &words, swatch).clicked() {
                added = Some(request);
            }
        }
        ui.add_space(4.0);
        let ways = "27/.045/18: size, taper, working part in mm. 0=0.25,16=0.9: diameters in mm at \
                    distances from the tip. A step-back after a colon: 27/.045/18:1";
        ui.label(RichText::new("or your own, from the tip:").color(palette::of(ui).quiet_text))
            .on_hover_text(ways);
        ui.horizontal(|ui| {
            let field = CheckedField {
                label: "Own file",
                value: &self.typed,
                hint: "e.g. 27/.045/18",
                width: 168.0,
            };
            let typed = field.show(ui, Id::unique("own file"), |text| {
                if text.is_empty() {
                    return Ok(());
                }
                let read = FileRequest::parse(text);
                read.map(|_| ()).map_err(|error| error.to_string())
            });
            if let Some(typed) = typed {
                self.typed = typed;
            }
            let request = FileRequest::parse(&self.typed).ok();
            let button = ui.add_enabled(request.is_some(), Button::new("Add"));
            if button.accessible_name("Add own file").clicked() {
                added = request;
                self.typed.clear();
            }
        });
        added
    }
}

fn changed(mut files: Vec<ShapingFile>, change: Change, chosen: &mut usize) -> Vec<ShapingFile> {
    match change {
        Change::Add(request) => {
            *chosen = files.len();
            files.push(to_case(&request));
        }
        Change::Remove(index) => {
            files.remove(index);
        }
        Change::Up(index) => {
            files.swap(index - 1, index);
            *chosen = index - 1;
        }
        Change::Same(list) => files = list,
    }
    *chosen = (*chosen).min(files.len().saturating_sub(1));
    files
}

/// The file behind an entry, whatever its step-back.
fn nominal(file: &ShapingFile) -> Option<NominalFile> {
    match (file.size, file.taper, &file.diameters_mm) {
        (Some(size), Some(taper), _) => {
            let part = file.working_part_mm;
            let part = part.unwrap_or(crate::instrumentation::WORKING_PART_MM);
            NominalFile::tapered(size, taper, part).ok()
        }
        (_, _, Some(stations)) => NominalFile::variable(stations).ok(),
        _ => None,
    }
}

fn label_of(file: &ShapingFile) -> String {
    nominal(file).map_or("not a file".to_owned(), |file| {
        format!("{} {}", file.label(), file.colour_words())
    })
}

fn swatch_of(file: &ShapingFile) -> Option<(IsoColour, bool)> {
    let standard = nominal(file)?.colour()?;
    Some((standard.colour, standard.half))
}

/// `25 red`, `12 purple with gold`.
fn size_words(standard: StandardSize) -> String {
    let gold = if standard.half { " with gold" } else { "" };
    format!("{:02} {}{gold}", standard.size, standard.colour.name())
}

fn taper_words(taper: u8) -> String {
    format!("taper .{taper:02}")
}

/// A button with the standard's colour before its words.
fn swatched(
    ui: &mut Ui,
    selected: bool,
    words: &str,
    swatch: Option<(IsoColour, bool)>,
) -> Response {
    let button = Button::selectable(selected, words)
        .frame_when_inactive(true)
        .left_text("      ");
    let response = ui.add(button).accessible_name(words);
    let side = response.rect.height() * 0.5;
    let middle = response.rect.left_center() + Vec2::new(side * 1.1, 0.0);
    let square = egui::Rect::from_center_size(middle, Vec2::splat(side));
    paint_swatch(ui, square, swatch);
    response
}

/// The standard's colour of a size on a square; half sizes with a golden
/// half.
fn paint_swatch(ui: &Ui, square: egui::Rect, swatch: Option<(IsoColour, bool)>) {
    const GOLD: Color32 = Color32::from_rgb(212, 175, 55);
    let edge = Stroke::new(1.0, palette::of(ui).quiet_text);
    if let Some((colour, half)) = swatch {
        let [r, g, b] = colour.rgb();
        ui.painter()
            .rect_filled(square, 2.0, Color32::from_rgb(r, g, b));
        if half {
            let golden = square.with_min_x(square.center().x);
            ui.painter().rect_filled(golden, 0.0, GOLD);
        }
    }
    ui.painter()
        .rect_stroke(square, 2.0, edge, egui::StrokeKind::Inside);
}

/// The swatch of a size alone, as a row of a table begins.
pub fn swatch(ui: &mut Ui, size: f64) {
    let side = ui.text_style_height(&egui::TextStyle::Body) * 0.8;
    let (square, _) = ui.allocate_exact_size(Vec2::splat(side), Sense::hover());
    let standard = crate::instrumentation::colour_of(size);
    paint_swatch(ui, square, standard.map(|s| (s.colour, s.half)));
}

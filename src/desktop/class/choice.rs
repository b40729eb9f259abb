//! What is to be graded: reference, traces, rubric; and the page that asks
//! for them.

use std::path::{Path, PathBuf};

use egui::{ProgressBar, RichText, ScrollArea, TextEdit, Ui};

use super::records::ClassRecord;
use super::work::Running;
use crate::desktop::palette;
use crate::grading::rubric::Rubric;

/// Greatest height of a list of files, points.
const LIST_HEIGHT: f32 = 120.0;

/// What is to be graded, and against what.
#[derive(Clone, Debug, Default)]
pub struct Choice {
    /// Cases of the experts.
    pub reference: Vec<PathBuf>,
    /// Cases to grade, or folders of them.
    pub traces: Vec<PathBuf>,
    /// `None`: the built-in one.
    pub rubric: Option<(PathBuf, Rubric)>,
    /// Being typed.
    typed: String,
}

/// What the user wants a file for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wanted {
    Reference,
    Traces,
    TraceFolder,
    Rubric,
    Record(ClassRecord),
}

/// What the page asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    Files(Wanted),
    Grade,
    Stop,
}

impl Choice {
    /// Takes dropped files and folders: traces, until the user says which of
    /// them is the reference.
    pub fn add_traces(&mut self, paths: impl IntoIterator<Item = PathBuf>) {
        for path in paths {
            if !self.traces.contains(&path) && !self.reference.contains(&path) {
                self.traces.push(path);
            }
        }
    }

    /// Takes cases of experts.
    pub fn add_reference(&mut self, paths: impl IntoIterator<Item = PathBuf>) {
        for path in paths {
            self.traces.retain(|trace| trace != &path);
            if !self.reference.contains(&path) {
                self.reference.push(path);
            }
        }
    }

    /// What still has to be chosen.
    fn lacks(&self) -> Option<&'static str> {
        match (self.reference.is_empty(), self.traces.is_empty()) {
            (true, _) => Some("Choose a reference first: the case of one expert, or of several"),
            (false, true) => Some("Choose the traces to grade"),
            (false, false) => None,
        }
    }
}

/// The page; what it asks for.
pub fn show(ui: &mut Ui, choice: &mut Choice, running: Option<&Running>) -> Option<Asked> {
    let mut asked = None;
    let quiet = palette::of(ui).quiet_text;
    let width = ui.available_width().min(720.0);
    let left = (ui.available_width() - width) / 2.0;
    ScrollArea::vertical().id_salt("choice").show(ui, |ui| {
        ui.horizontal(|ui| {
            ui.add_space(left);
            ui.vertical(|ui| {
                ui.set_width(width);
                ui.add_space(18.0);
                ui.label(RichText::new("Grade a class").heading().strong().size(22.0));
                let purpose = "Traces of one film, each a case file, held against one expert or the consensus of several.";
                ui.label(RichText::new(purpose).color(quiet));
                ui.add_enabled_ui(running.is_none(), |ui| {
                    reference(ui, choice, &mut asked);
                    traces(ui, choice, &mut asked);
                    rubric(ui, choice, &mut asked);
                });
                ui.add_space(14.0);
                match running {
                    Some(running) => progress(ui, running, &mut asked),
                    None => grade(ui, choice, &mut asked),
                }
            });
        });
    });
    asked
}

fn reference(ui: &mut Ui, choice: &mut Choice, asked: &mut Option<Asked>) {
    heading(ui, "Reference");
    let mut gone = None;
    for (index, path) in choice.reference.iter().enumerate() {
        ui.horizontal(|ui| {
            let remove = format!("Remove reference {}", name(path));
            if ui.small_button("Remove").accessible_name(&remove).clicked() {
                gone = Some(index);
            }
            path_label(ui, path);
        });
    }
    if let Some(index) = gone {
        choice.reference.remove(index);
    }
    if ui.button("Add reference cases…").clicked() {
        *asked = Some(Asked::Files(Wanted::Reference));
    }
}

fn traces(ui: &mut Ui, choice: &mut Choice, asked: &mut Option<Asked>) {
    heading(ui, "Traces");
    let (mut gone, mut expert) = (None, None);
    ScrollArea::vertical()
        .id_salt("traces")
        .max_height(LIST_HEIGHT)
        .show(ui, |ui| {
            for (index, path) in choice.traces.iter().enumerate() {
                ui.horizontal(|ui| {
                    let remove = format!("Remove trace {}", name(path));
                    if ui.small_button("Remove").accessible_name(&remove).clicked() {
                        gone = Some(index);
                    }
                    if !path.is_dir() {
                        let promote = format!("Make {} a reference", name(path));
                        let button = ui.small_button("Is a reference");
                        if button.accessible_name(&promote).clicked() {
                            expert = Some(path.clone());
                        }
                    }
                    path_label(ui, path);
                });
            }
        });
    if let Some(index) = gone {
        choice.traces.remove(index);
    }
    choice.add_reference(expert);
    ui.horizontal_wrapped(|ui| {
        if ui.button("Add traces…").clicked() {
            *asked = Some(Asked::Files(Wanted::Traces));
        }
        if ui.button("Add a folder of traces…").clicked() {
            *asked = Some(Asked::Files(Wanted::TraceFolder));
        }
        let quiet = palette::of(ui).quiet_text;
        ui.label(RichText::new("or drop case files or a folder here").color(quiet));
    });
    ui.horizontal_wrapped(|ui| {
        ui.add(
            TextEdit::singleline(&mut choice.typed)
                .hint_text("path of a case or a folder")
                .desired_width(300.0),
        )
        .accessible_name("Path of a case or a folder");
        let typed = PathBuf::from(choice.typed.trim());
        let usable = !choice.typed.trim().is_empty();
        let button = |ui: &mut Ui, text: &str| ui.add_enabled(usable, egui::Button::new(text));
        if button(ui, "Add path to reference").clicked() {
            choice.add_reference([typed]);
            choice.typed.clear();
        } else if button(ui, "Add path to traces").clicked() {
            choice.add_traces([typed]);
            choice.typed.clear();
        }
    });
}

fn rubric(ui: &mut Ui, choice: &mut Choice, asked: &mut Option<Asked>) {
    heading(ui, "Rubric");
    ui.horizontal_wrapped(|ui| {
        match &choice.rubric {
            None => {
                ui.label("built-in");
            }
            Some((path, rubric)) => {
                ui.label(RichText::new(&rubric.name).strong());
                path_label(ui, path);
            }
        }
        if ui.button("Choose a rubric…").clicked() {
            *asked = Some(Asked::Files(Wanted::Rubric));
        }
        if choice.rubric.is_some() && ui.button("Use the built-in rubric").clicked() {
            choice.rubric = None;
        }
    });
}

fn grade(ui: &mut Ui, choice: &Choice, asked: &mut Option<Asked>) {
    let lacks = choice.lacks();
    let button =
        egui::Button::new(RichText::new("Grade").strong()).min_size(egui::vec2(160.0, 32.0));
    ui.horizontal_wrapped(|ui| {
        if ui.add_enabled(lacks.is_none(), button).clicked() {
            *asked = Some(Asked::Grade);
        }
        if let Some(lacks) = lacks {
            ui.label(RichText::new(lacks).color(palette::of(ui).quiet_text));
        }
    });
}

fn progress(ui: &mut Ui, running: &Running, asked: &mut Option<Asked>) {
    let (done, total) = running.progress();
    let text = match total {
        0 => format!("{}…", running.doing),
        total => format!("{} {done} of {total}", running.doing),
    };
    let share = done as f32 / total.max(1) as f32;
    ui.horizontal(|ui| {
        let bar = ProgressBar::new(share)
            .text(text.as_str())
            .desired_width(400.0);
        ui.add(bar).accessible_name(&text);
        if ui.button("Stop").clicked() {
            *asked = Some(Asked::Stop);
        }
    });
}

fn heading(ui: &mut Ui, text: &str) {
    ui.add_space(14.0);
    ui.label(RichText::new(text).heading().strong());
}

fn name(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |n| n.to_string_lossy().into_owned(),
    )
}

fn path_label(ui: &mut Ui, path: &Path) {
    let text = path.display().to_string();
    ui.add(egui::Label::new(&text).truncate())
        .on_hover_text(&text);
}

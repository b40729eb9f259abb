//! What is to be graded: reference, traces, rubric; and the page that asks
//! for them.

use std::path::{Path, PathBuf};

use egui::{RichText, ScrollArea, TextEdit, Ui};

use crate::desktop::state::long_job::LongJob;
use crate::desktop::ui::palette;
use crate::desktop::ui::passphrase::Passphrase;
use crate::desktop::ui::widgets::{page, stoppable_progress};
use crate::grading::roster::Roster;
use crate::grading::rubric::Rubric;
use crate::practice::is_sealed_path;

/// Greatest height of a list of files, points.
const LIST_HEIGHT: f32 = 120.0;

/// What traces are held against.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Against {
    /// Cases of experts on the one film.
    #[default]
    Experts,
    /// The sealed truth of an exercise set.
    SealedTruth,
}

/// What is to be graded, and against what.
#[derive(Clone, Debug, Default)]
pub struct Choice {
    pub against: Against,
    /// Cases of the experts.
    pub reference: Vec<PathBuf>,
    /// The case that is open in the window, as it was last saved.
    pub open_case: Option<PathBuf>,
    /// Sealed truth of an exercise set.
    pub sealed: Option<PathBuf>,
    pub passphrase: Passphrase,
    /// Cases to grade, or folders of them.
    pub traces: Vec<PathBuf>,
    /// `None`: the built-in one. Without a path while it is not saved.
    pub rubric: Option<(Option<PathBuf>, Rubric)>,
    /// The rubric is being changed.
    edits_rubric: bool,
    /// Who should hand in, where it is listed.
    pub roster: Option<(PathBuf, Roster)>,
    /// Being typed.
    typed: String,
}

/// Kinds of record of a class.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClassRecord {
    /// One row per graded canal.
    Table,
    /// One row per student.
    Totals,
    /// The class on paper.
    Summary,
    /// One page of PDF per trace, into a folder.
    Sheets,
}

impl ClassRecord {
    /// What is done while it is written, as a sentence begins.
    pub fn doing(self) -> &'static str {
        match self {
            ClassRecord::Table | ClassRecord::Totals | ClassRecord::Summary => "Saving",
            ClassRecord::Sheets => "Writing sheet",
        }
    }
}

/// What the user wants a file for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wanted {
    Reference,
    Sealed,
    /// Folder for the truth in the open.
    OpenTruth,
    Traces,
    TraceFolder,
    Rubric,
    /// List of the students.
    Roster,
    /// Place for the rubric as it was changed.
    SaveRubric,
    Record(ClassRecord),
}

/// What the page asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    Files(Wanted),
    Grade,
}

impl Choice {
    /// Takes dropped files and folders: traces, until the user says which of
    /// them is the reference; and sealed truth.
    pub fn add_traces(&mut self, paths: impl IntoIterator<Item = PathBuf>) {
        for path in paths {
            if is_sealed_path(&path) {
                self.set_sealed(path);
            } else if !self.traces.contains(&path) && !self.reference.contains(&path) {
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

    /// Takes the sealed truth of an exercise set to grade against.
    pub fn set_sealed(&mut self, path: PathBuf) {
        self.against = Against::SealedTruth;
        self.sealed = Some(path);
    }

    /// What still has to be chosen to open the reference.
    fn reference_lacks(&self) -> Option<&'static str> {
        match self.against {
            Against::Experts if self.reference.is_empty() => {
                Some("Choose a reference first: the case of one expert, or of several")
            }
            Against::SealedTruth if self.sealed.is_none() => {
                Some("Choose the sealed truth of the set first")
            }
            Against::SealedTruth if self.passphrase.get().is_empty() => {
                Some("Type the passphrase of the set")
            }
            _ => None,
        }
    }

    /// What still has to be chosen.
    fn lacks(&self) -> Option<&'static str> {
        let traces = self.traces.is_empty();
        let rubric = self.rubric.as_ref();
        let is_faulty = rubric.is_some_and(|(_, rubric)| rubric.fault().is_some());
        self.reference_lacks()
            .or(traces.then_some("Choose the traces to grade"))
            .or(is_faulty.then_some("Correct the rubric first"))
    }
}

/// The page; what it asks for.
pub fn show(ui: &mut Ui, choice: &mut Choice, running: Option<&LongJob>) -> Option<Asked> {
    let mut asked = None;
    let (title, purpose) = match choice.against {
        Against::Experts => (
            "Grade a class",
            "Traces of one film, each a case file, held against one expert or the consensus of several.",
        ),
        Against::SealedTruth => (
            "Grade an exercise set",
            "Traces of the films of an exercise set, each a case file, held against the truth of its film.",
        ),
    };
    page(ui, title, purpose, |ui| {
        ui.add_enabled_ui(running.is_none(), |ui| {
            against(ui, choice, &mut asked);
            traces(ui, choice, &mut asked);
            rubric(ui, choice, &mut asked);
        });
        ui.add_space(14.0);
        match running {
            Some(running) => {
                if stoppable_progress(ui, running.progress(), &running.words()) {
                    running.cancel();
                }
            }
            None => grade(ui, choice, &mut asked),
        }
    });
    asked
}

fn against(ui: &mut Ui, choice: &mut Choice, asked: &mut Option<Asked>) {
    heading(ui, "Reference");
    ui.horizontal_wrapped(|ui| {
        for (against, name) in [
            (Against::Experts, "Cases of experts"),
            (Against::SealedTruth, "Sealed truth of an exercise set"),
        ] {
            ui.radio_value(&mut choice.against, against, name);
        }
    });
    match choice.against {
        Against::Experts => reference(ui, choice, asked),
        Against::SealedTruth => sealed(ui, choice, asked),
    }
}

fn sealed(ui: &mut Ui, choice: &mut Choice, asked: &mut Option<Asked>) {
    match &choice.sealed {
        Some(path) => path_label(ui, path),
        None => {
            let quiet = palette::of(ui).quiet_text;
            ui.label(RichText::new("None chosen: it lies beside the films").color(quiet));
        }
    }
    ui.horizontal_wrapped(|ui| {
        if ui.button("Choose the sealed truth…").clicked() {
            *asked = Some(Asked::Files(Wanted::Sealed));
        }
        choice.passphrase.field(ui, "Passphrase of the set");
        let can_open = choice.reference_lacks().is_none();
        let button = egui::Button::new("Write the unsealed truth…");
        let button = ui.add_enabled(can_open, button).on_hover_text(
            "A case per film to grade against, and all numbers, for when the practice is over",
        );
        if button.clicked() {
            *asked = Some(Asked::Files(Wanted::OpenTruth));
        }
    });
}

fn reference(ui: &mut Ui, choice: &mut Choice, asked: &mut Option<Asked>) {
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
    ui.horizontal_wrapped(|ui| {
        if ui.button("Add reference cases…").clicked() {
            *asked = Some(Asked::Files(Wanted::Reference));
        }
        let open_case = choice.open_case.clone();
        let Some(path) = open_case.filter(|path| !choice.reference.contains(path)) else {
            return;
        };
        let button = ui.button("The open case is a reference");
        let words = format!("{}, as it was last saved", name(&path));
        if button.on_hover_text(words).clicked() {
            choice.add_reference([path]);
        }
    });
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
                    if choice.against == Against::Experts && !path.is_dir() {
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
        let button = ui.button("List of students…").on_hover_text(
            "A name a line, or a table with the columns student and excused: who handed nothing in is told",
        );
        if button.clicked() {
            *asked = Some(Asked::Files(Wanted::Roster));
        }
        if let Some((path, roster)) = &choice.roster {
            ui.label(format!("{} students", roster.names().count()));
            path_label(ui, path);
        }
        if choice.roster.is_some() && ui.small_button("Without a list").clicked() {
            choice.roster = None;
        }
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
        let reference = match choice.against {
            Against::Experts => "Add path to reference",
            Against::SealedTruth => "Take path as the sealed truth",
        };
        if button(ui, reference).clicked() {
            match choice.against {
                Against::Experts => choice.add_reference([typed]),
                Against::SealedTruth => choice.set_sealed(typed),
            }
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
                match path {
                    Some(path) => path_label(ui, path),
                    None => {
                        ui.label("as in this window, not saved");
                    }
                }
            }
        }
        if ui.button("Choose a rubric…").clicked() {
            *asked = Some(Asked::Files(Wanted::Rubric));
        }
        if choice.rubric.is_some() && ui.button("Use the built-in rubric").clicked() {
            choice.rubric = None;
            choice.edits_rubric = false;
        }
        let words = if choice.edits_rubric {
            "Close the rubric"
        } else {
            "Change the rubric…"
        };
        if ui.button(words).clicked() {
            choice.edits_rubric = !choice.edits_rubric;
        }
        if choice.rubric.is_some() && ui.button("Save the rubric…").clicked() {
            *asked = Some(Asked::Files(Wanted::SaveRubric));
        }
    });
    if choice.edits_rubric {
        let (path, rubric) = choice.rubric.get_or_insert_default();
        let before = rubric.clone();
        super::rubric::edit(ui, rubric);
        if *rubric != before {
            *path = None;
        }
    }
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

//! What the user says of the pair: the second case, the angle, the receptor,
//! the sides, the canal.

use std::path::PathBuf;

use egui::{Button, Context, Id, RichText, Ui};

use super::work::{Work, empty};
use crate::case::{Case, Receptor, RightOfFilm, SecondFilm, SourceSide};
use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::state::edit::Edit;
use crate::desktop::state::file_chooser::{ALL_FILES, FileKind, Question, Wanted};
use crate::desktop::state::jobs::{JobEnd, JobName, Jobs};
use crate::desktop::state::page::Page;
use crate::desktop::state::records::RecordKind;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::{NumberEdit, NumberField, step_heading};
use crate::two_view::{ANGLE_HALF_WIDTH_RAD, stored_path};

const CASES: &[FileKind] = &[
    FileKind {
        name: "Cases",
        endings: &["case.json", "json"],
    },
    ALL_FILES,
];

/// What is said so far. The case takes it once it is whole: a second film
/// without its angle is none.
#[derive(Default)]
pub struct Asking {
    jobs: Jobs<Option<PathBuf>>,
    /// Case that the page was last shown for.
    shown: Option<usize>,
    /// Second case chosen, as it is stored, before its angle is known.
    chosen: Option<String>,
    receptor: Receptor,
    canal: Option<String>,
    /// A file just chosen.
    picked: Option<PathBuf>,
    stored: Option<String>,
    /// The angle is to be typed next.
    asks_angle: bool,
}

impl Asking {
    /// Begins anew for another case, and takes what it remembers.
    pub fn follow(&mut self, desk: &mut Desk<'_>) {
        let now = desk.session.case_count;
        if self.shown != Some(now) {
            self.chosen = None;
            self.canal = None;
            self.receptor = Receptor::default();
            self.shown = Some(now);
        }
        if let Some(path) = self.picked.take() {
            let case_path = desk.workspace.document.case_path();
            let stored = match case_path {
                Some(case_path) => stored_path(&path, case_path),
                None => path.display().to_string(),
            };
            self.canal = None;
            match &desk.workspace.document.case().second_film {
                Some(second) => {
                    let second = SecondFilm {
                        case: stored,
                        ..second.clone()
                    };
                    desk.apply(Edit::SecondFilm(Some(Box::new(second))));
                }
                None => {
                    self.chosen = Some(stored);
                    self.asks_angle = true;
                }
            }
        }
        let remembered = desk.workspace.document.case().second_film.as_ref();
        if remembered.is_some() {
            self.chosen = None;
        }
        let case = remembered.map(|second| second.case.clone());
        self.stored = case.or(self.chosen.clone());
    }

    /// The second case as it is stored.
    pub fn case(&self) -> Option<&str> {
        self.stored.as_deref()
    }

    /// The canal asked for; `None`: the first that both have.
    pub fn canal(&self) -> Option<&str> {
        self.canal.as_deref()
    }

    /// Shows what is asked, in the order of work.
    /// Nothing more is asked of films that are not of one patient.
    pub fn show(
        &mut self,
        ui: &mut Ui,
        desk: &mut Desk<'_>,
        work: &mut Work,
        is_one_patient: bool,
    ) {
        let remembered = desk.workspace.document.case().second_film.clone();
        step_heading(ui, 1, "Second film", self.stored.is_some());
        self.second_case(ui, desk, work);
        ui.add_space(8.0);
        step_heading(ui, 2, "How it was taken", remembered.is_some());
        if !is_one_patient {
            return;
        }
        if self.stored.is_some() {
            self.exposure(ui, desk, remembered.as_ref());
        }
        if let Some(second) = &remembered {
            ui.add_space(8.0);
            step_heading(ui, 3, "Sides and canal", second.source_is.is_some());
            sides(ui, desk, second);
            if let Some(other) = work.second() {
                self.canals(ui, desk.workspace.document.case(), &other.case);
            }
            ui.add_space(8.0);
            ui.label(RichText::new("Record").heading().strong());
            let note = "The case's report and table carry both films.";
            ui.label(RichText::new(note).color(palette::of(ui).quiet_text));
            ui.horizontal_wrapped(|ui| {
                for (name, kind) in [("PDF", RecordKind::Pdf), ("CSV", RecordKind::Csv)] {
                    let button = ui
                        .button(format!("{name}…"))
                        .accessible_name(format!("Save record ({name})…"));
                    if button.clicked() {
                        desk.commands.push(Command::SaveRecord(kind));
                    }
                }
            });
        }
    }

    fn second_case(&mut self, ui: &mut Ui, desk: &mut Desk<'_>, work: &mut Work) {
        let quiet = palette::of(ui).quiet_text;
        if let Some(stored) = &self.stored {
            let name = std::path::Path::new(stored).file_name();
            let name = name.map_or(stored.as_str().into(), |name| name.to_string_lossy());
            ui.add(egui::Label::new(name.as_ref()).wrap())
                .on_hover_text(stored);
        }
        let words = match self.stored {
            Some(_) => "Another case…",
            None => "Choose its case…",
        };
        ui.horizontal_wrapped(|ui| {
            let busy = self.jobs.is_running(JobName::FileDialog);
            if ui.add_enabled(!busy, Button::new(words)).clicked() {
                let ctx = ui.ctx().clone();
                self.ask_for_case(&ctx, desk);
            }
            if self.stored.is_some() {
                let again = ui.button("Read again");
                if again.on_hover_text("After it was changed").clicked() {
                    work.forget_second();
                }
                if ui.button("Forget").clicked() {
                    self.chosen = None;
                    desk.apply(Edit::SecondFilm(None));
                }
            }
        });
        if self.stored.is_none() {
            let note = "No case of it yet? A duplicate has the same tooth and canals:";
            ui.label(RichText::new(note).color(quiet));
            if ui.button("Duplicate for a second film…").clicked() {
                desk.session.page = Page::Case;
                desk.commands.push(Command::DuplicateForNewFilm);
            }
        }
    }

    fn ask_for_case(&mut self, ctx: &Context, desk: &mut Desk<'_>) {
        let path = desk.workspace.document.case_path();
        let path = path.or(desk.workspace.film.path.as_deref());
        let question = Question {
            title: "Choose the case of the second film",
            wanted: Wanted::File,
            kinds: CASES,
            folder: path.and_then(|path| path.parent()).map(PathBuf::from),
            name: String::new(),
        };
        let answer = desk.session.ask_for_file(ctx, question);
        self.jobs.await_file(ctx, answer, |path| path);
    }

    /// Angle, its uncertainty, and what happened to the receptor.
    fn exposure(&mut self, ui: &mut Ui, desk: &mut Desk<'_>, remembered: Option<&SecondFilm>) {
        let quiet = palette::of(ui).quiet_text;
        ui.label(RichText::new("Angle from this film (A) to the second (B)").color(quiet));
        let count = desk.session.case_count;
        let angle = NumberField {
            label: "Angle between the films",
            value: remembered.map(|second| second.angle_deg),
            step: 5.0,
            unit: "°",
            range: -175.0..=175.0,
            example: "25",
            default: None,
            // What is missing can be typed at once.
            take_focus: std::mem::take(&mut self.asks_angle) && remembered.is_none(),
            typed: None,
        };
        if let NumberEdit::Changed(Some(angle_deg)) =
            angle.show(ui, Id::unique(("two films angle", count)))
        {
            match (remembered, &self.stored) {
                (Some(second), _) => {
                    desk.apply(Edit::SecondFilmAngle {
                        angle_deg,
                        half_width_deg: second.angle_half_width_deg,
                    });
                }
                (None, Some(case)) => {
                    let second = SecondFilm {
                        case: case.clone(),
                        angle_deg,
                        receptor: self.receptor,
                        ..empty()
                    };
                    desk.apply(Edit::SecondFilm(Some(Box::new(second))));
                }
                (None, None) => {}
            }
        }
        let note = "Positive: what lies towards the source is farther right on film B.";
        ui.label(RichText::new(note).color(quiet).small());
        if let Some(second) = remembered {
            let half_width = NumberField {
                label: "Uncertainty of the angle",
                value: second.angle_half_width_deg,
                step: 0.5,
                unit: "° either way",
                range: 0.0..=30.0,
                example: "3.5",
                default: Some(usual_half_width_deg()),
                take_focus: false,
                typed: None,
            };
            if let NumberEdit::Changed(half_width_deg) =
                half_width.show(ui, Id::unique(("two films half width", count)))
            {
                desk.apply(Edit::SecondFilmAngle {
                    angle_deg: second.angle_deg,
                    half_width_deg,
                });
            }
        }
        let now = remembered.map_or(self.receptor, |second| second.receptor);
        for receptor in [Receptor::Turned, Receptor::Stayed] {
            let words = crate::measure::capitalised(receptor.words());
            if ui.radio(now == receptor, words).clicked() && now != receptor {
                self.receptor = receptor;
                if let Some(second) = remembered {
                    changed(desk, second, |second| second.receptor = receptor);
                }
            }
        }
    }

    /// Which of the canals that both cases have.
    fn canals(&mut self, ui: &mut Ui, a: &Case, b: &Case) {
        let common = a.canals.iter().map(|canal| &canal.name);
        let common: Vec<&String> = common
            .filter(|name| b.canals.iter().any(|canal| &canal.name == *name))
            .collect();
        if common.len() < 2 {
            return;
        }
        ui.horizontal_wrapped(|ui| {
            ui.label("Canal");
            for (index, name) in common.into_iter().enumerate() {
                let is_chosen = match &self.canal {
                    Some(canal) => canal == name,
                    None => index == 0,
                };
                let button = Button::selectable(is_chosen, name).frame_when_inactive(true);
                let spoken = format!("Canal {name}");
                if ui.add(button).accessible_name(spoken).clicked() {
                    self.canal = Some(name.clone());
                }
            }
        });
    }

    /// Takes the file chosen.
    pub fn poll(&mut self) {
        for end in self.jobs.poll() {
            if let JobEnd::Done(Some(path)) = end {
                self.picked = Some(path);
            }
        }
    }
}

fn changed(desk: &mut Desk<'_>, second: &SecondFilm, change: impl FnOnce(&mut SecondFilm)) {
    let mut second = second.clone();
    change(&mut second);
    desk.apply(Edit::SecondFilm(Some(Box::new(second))));
}

/// What lies to the right on film A and towards its source.
fn sides(ui: &mut Ui, desk: &mut Desk<'_>, second: &SecondFilm) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Right on A");
        let rights = [
            (RightOfFilm::Mesial, "mesial"),
            (RightOfFilm::Distal, "distal"),
        ];
        for (side, words) in rights {
            let button = Button::selectable(second.right_is == Some(side), words);
            let name = format!("Right on film A is {words}");
            let button = ui
                .add(button.frame_when_inactive(true))
                .accessible_name(name);
            if button.clicked() {
                let side = (second.right_is != Some(side)).then_some(side);
                changed(desk, second, |second| second.right_is = side);
            }
        }
    });
    ui.horizontal_wrapped(|ui| {
        ui.label("Source side");
        let sources = [
            (SourceSide::Buccal, "buccal"),
            (SourceSide::Lingual, "lingual"),
        ];
        for (side, words) in sources {
            let button = Button::selectable(second.source_is == Some(side), words);
            let name = format!("Source of film A is {words}");
            let button = ui
                .add(button.frame_when_inactive(true))
                .accessible_name(name);
            if button.clicked() {
                let side = (second.source_is != Some(side)).then_some(side);
                changed(desk, second, |second| second.source_is = side);
            }
        }
    });
}

/// Half width of the angle where none is stated, degrees, as it is written.
fn usual_half_width_deg() -> f64 {
    (10.0 * ANGLE_HALF_WIDTH_RAD.to_degrees()).round() / 10.0
}

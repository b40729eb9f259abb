//! The shaping card saved as a file.

use std::path::{Path, PathBuf};

use egui::{Context, RichText, Ui};

use crate::case::Case;
use crate::desktop::state::Desk;
use crate::desktop::state::file_chooser::{ALL_FILES, FileKind, Question, Wanted};
use crate::desktop::state::jobs::{JobEnd, JobName, Jobs};
use crate::desktop::state::open_film::OpenFilm;
use crate::desktop::state::reading::{courses, modelled};
use crate::desktop::state::session::Session;
use crate::desktop::ui::palette;
use crate::instrumentation::{self, Options};
use crate::measure::{MeasureSettings, Precision};
use crate::report::{Existing, shaping_card};

/// What a card can be: its name, ending, and the files shown while it is
/// saved.
const KINDS: [(&str, &str, &[FileKind]); 3] = [
    (
        "PDF",
        "pdf",
        &[
            FileKind {
                name: "Cards (PDF)",
                endings: &["pdf"],
            },
            ALL_FILES,
        ],
    ),
    (
        "HTML",
        "html",
        &[
            FileKind {
                name: "Cards (HTML)",
                endings: &["html"],
            },
            ALL_FILES,
        ],
    ),
    (
        "CSV",
        "csv",
        &[
            FileKind {
                name: "Tables (CSV)",
                endings: &["csv"],
            },
            ALL_FILES,
        ],
    ),
];

/// What a card is made from.
struct Order {
    case: Case,
    case_path: PathBuf,
    film: OpenFilm,
    name: String,
    settings: MeasureSettings,
    tip_from_apex_mm: Option<f64>,
}

/// What a job brings back.
enum Outcome {
    /// `None`: no file was chosen.
    Chosen(Option<(PathBuf, Box<Order>)>),
    /// What was saved, in words.
    Saved(Result<String, String>),
}

/// Saving under way.
#[derive(Default)]
pub struct Saving {
    jobs: Jobs<Outcome>,
    /// What was done last.
    message: String,
}

impl Saving {
    /// The buttons that save the card.
    pub fn buttons(&mut self, ui: &mut Ui, desk: &mut Desk<'_>, tip_from_apex_mm: Option<f64>) {
        let case = desk.workspace.document.case();
        let has_files = case.canals.iter().any(|c| !c.shaping_files.is_empty());
        if !has_files {
            return;
        }
        ui.label(RichText::new("Save card").heading());
        let note = "One page per canal, with stops, diameters and curves.";
        let note = RichText::new(note).color(palette::of(ui).quiet_text);
        ui.add(egui::Label::new(note).wrap());
        let busy = self.jobs.is_running(JobName::FileDialog) || self.is_busy();
        ui.add_enabled_ui(!busy, |ui| {
            ui.horizontal(|ui| {
                for (name, ending, kinds) in KINDS {
                    let button = ui
                        .button(format!("{name}…"))
                        .accessible_name(format!("Save card ({name})…"));
                    if button.clicked() {
                        let ctx = ui.ctx().clone();
                        self.ask(&ctx, desk, ending, kinds, tip_from_apex_mm);
                    }
                }
            });
        });
        ui.add(egui::Label::new(&self.message).wrap());
    }

    fn ask(
        &mut self,
        ctx: &Context,
        desk: &mut Desk<'_>,
        ending: &'static str,
        kinds: &'static [FileKind],
        tip_from_apex_mm: Option<f64>,
    ) {
        let workspace = &desk.workspace;
        let path = workspace.document.case_path();
        let path = path.or(workspace.film.path.as_deref());
        let name = path.and_then(|path| path.file_name()?.to_str());
        let stem = name.and_then(|name| name.split('.').next());
        let question = Question {
            title: "Save the shaping card",
            wanted: Wanted::NewFile { ending },
            kinds,
            folder: path.and_then(|path| path.parent()).map(PathBuf::from),
            name: format!("{} shaping card.{ending}", stem.unwrap_or("demo")),
        };
        let order = Box::new(Order {
            case: workspace.document.case().clone(),
            case_path: workspace
                .document
                .case_path()
                .map(PathBuf::from)
                .unwrap_or_default(),
            film: workspace.film.clone(),
            name: workspace.case_name(),
            settings: MeasureSettings {
                precision: Precision::Full,
                ..workspace.settings().clone()
            },
            tip_from_apex_mm,
        });
        let answer = desk.session.ask_for_file(ctx, question);
        self.jobs.await_file(ctx, answer, |path| {
            Outcome::Chosen(path.map(|path| (path, order)))
        });
    }

    /// Takes what the jobs have brought.
    pub fn poll(&mut self, ctx: &Context, session: &mut Session) {
        for end in self.jobs.poll() {
            match end {
                JobEnd::Done(Outcome::Chosen(None)) => {
                    "No file chosen".clone_into(&mut self.message);
                }
                JobEnd::Done(Outcome::Chosen(Some((path, order)))) => {
                    "Writing the card…".clone_into(&mut self.message);
                    self.jobs.start(ctx, JobName::Record, move || {
                        Outcome::Saved(order.write(&path))
                    });
                }
                JobEnd::Done(Outcome::Saved(Ok(words))) => self.message = words,
                JobEnd::Done(Outcome::Saved(Err(problem))) => {
                    self.message.clear();
                    session.report_error(problem);
                }
                JobEnd::Lost(_) => session.report_error("The shaping card was not saved"),
            }
        }
    }

    /// A card is being written; waiting for a name is no work.
    pub fn is_busy(&self) -> bool {
        self.jobs.is_running(JobName::Record)
    }
}

impl Order {
    fn write(&self, path: &Path) -> Result<String, String> {
        let measured = modelled(&self.case, &self.film, &self.name, &self.settings)?;
        let options = Options {
            tip_from_apex_mm: self.tip_from_apex_mm,
            settings: self.settings.clone(),
            in_space: courses(&measured.case, &self.case_path, &self.film, &self.settings),
            ..Options::default()
        };
        let (case, found) = (&measured.case, &measured.findings);
        let assessment = instrumentation::assess_measured(case, found, &measured.model, &options)
            .map_err(|error| error.to_string())?;
        // The chooser has asked about the very name.
        shaping_card::write(&assessment.findings, path, Existing::ReplaceNamed)
            .map_err(|error| error.to_string())?;
        Ok(format!("Shaping card saved as {}", path.display()))
    }
}

//! A photograph made flat by the four corners of a rectangle of known size
//! (docs/photographs.md).

mod fields;
mod picture;
mod work;

use std::path::PathBuf;

use egui::{Button, Context, Rect, RichText, ScrollArea, Ui, UiBuilder};

use crate::case::is_case_path;
use crate::desktop::state::file_chooser::{ALL_FILES, FileKind, Question, Wanted};
use crate::desktop::state::jobs::{JobEnd, JobName, Jobs};
use crate::desktop::state::open_film::{OpenFilm, open_film};
use crate::desktop::state::page::Page;
use crate::desktop::state::page_view::PageView;
use crate::desktop::state::session::{Next, Session};
use crate::desktop::ui::palette::{self, text_scale};
use crate::desktop::ui::widgets::{named_value, spoken};
use crate::desktop::view::{FilmTiles, Tone, ViewTransform};
use crate::flatten::{
    Facts, FlattenError, Flattening, Request, edge_residual_px, flattening, snapped,
};
use crate::uncertainty::rounding::fixed;
use crate::units::FilmPoint;
use picture::Place;
use work::Written;

/// Width of what stands beside the photograph at normal text size, points.
const SIDE_WIDTH: f32 = 380.0;
/// Where the corners lie at first: this share of the photograph from its edge.
const INSET: f64 = 0.12;

/// The photograph, and how it is looked at.
struct Photo {
    film: OpenFilm,
    tiles: FilmTiles,
    view: ViewTransform,
    corners: [FilmPoint; 4],
    is_snapped: bool,
    /// A fifth mark, which checks the corners.
    check: Option<FilmPoint>,
    /// It has been moved to its place: where it appears it says nothing.
    is_check_placed: bool,
}

impl Photo {
    fn new(film: OpenFilm) -> Self {
        let [w, h] = film.size_px().map(f64::from);
        let at = |x: f64, y: f64| FilmPoint::new(x * w, y * h);
        let (near, far) = (INSET, 1.0 - INSET);
        Self {
            tiles: FilmTiles::new(
                film.film.clone(),
                film.pyramid.clone(),
                Tone::full(&film.film),
            ),
            view: ViewTransform::fitted(Rect::ZERO, film.size_px()),
            corners: [at(near, near), at(far, near), at(far, far), at(near, far)],
            is_snapped: false,
            check: None,
            is_check_placed: false,
            film,
        }
    }
}

/// What a job brings back.
enum Outcome {
    Picked(Option<PathBuf>),
    Opened(Box<Result<OpenFilm, String>>),
    Named(Option<PathBuf>),
    Written(Result<Written, String>),
}

/// The page.
#[derive(Default)]
pub struct FlattenPage {
    photo: Option<Photo>,
    /// Width and height of the rectangle.
    size_mm: [Option<f64>; 2],
    /// Where the fifth mark lies, from the top left corner; the middle where
    /// nothing is typed.
    check_at_mm: [Option<f64>; 2],
    /// Worked out for the corners and the size as they are.
    worked: Option<Result<(Flattening, Facts), String>>,
    problem: Option<String>,
    /// A photograph dropped on the page.
    dropped: Option<PathBuf>,
    jobs: Jobs<Outcome>,
}

impl FlattenPage {
    fn request(&self) -> Option<Request> {
        let photo = self.photo.as_ref()?;
        let size_mm = [self.size_mm[0]?, self.size_mm[1]?];
        let at = |side: usize| self.check_at_mm[side].unwrap_or(0.5 * size_mm[side]);
        Some(Request {
            corners_px: photo.corners,
            size_mm,
            mm_per_px: None,
            margin_mm: 0.0,
            check: photo
                .check
                .filter(|_| photo.is_check_placed)
                .map(|mark| (mark, [at(0), at(1)])),
            deeper: None,
            snapped: photo.is_snapped,
        })
    }

    /// Works the map out anew.
    fn work_out(&mut self) {
        self.worked = None;
        let (Some(request), Some(photo)) = (self.request(), &self.photo) else {
            return;
        };
        let film = &photo.film.film;
        let worked = flattening(request, film.width_px(), film.height_px());
        self.worked = Some(match worked {
            Ok(flattening) => {
                let residual = edge_residual_px(film, &photo.corners);
                let facts = Facts::new(&flattening, residual);
                Ok((flattening, facts))
            }
            Err(error) => Err(in_the_window(&error.to_string())),
        });
    }

    fn snap(&mut self) {
        let Some(request) = self.request() else {
            return;
        };
        let Some(photo) = &mut self.photo else {
            return;
        };
        let film = &photo.film.film;
        let found: Result<Request, FlattenError> =
            flattening(request.clone(), film.width_px(), film.height_px())
                .and_then(|_| snapped(film, &request));
        match found {
            Ok(request) => {
                photo.corners = request.corners_px;
                photo.is_snapped = true;
                self.problem = None;
                self.work_out();
            }
            Err(error) => self.problem = Some(in_the_window(&error.to_string())),
        }
    }

    fn ask_for_photo(&mut self, ctx: &Context, session: &mut Session) {
        const PHOTOGRAPHS: &[FileKind] = &[
            FileKind {
                name: "Photographs",
                endings: &["jpg", "jpeg", "png", "tif", "tiff", "bmp"],
            },
            ALL_FILES,
        ];
        let question = Question {
            title: "Choose a photograph",
            wanted: Wanted::File,
            kinds: PHOTOGRAPHS,
            folder: None,
            name: String::new(),
        };
        let answer = session.ask_for_file(ctx, question);
        self.jobs.await_file(ctx, answer, Outcome::Picked);
    }

    fn open(&mut self, ctx: &Context, path: PathBuf) {
        self.jobs.start(ctx, JobName::Open, move || {
            Outcome::Opened(Box::new(open_film(&path)))
        });
    }

    fn ask_for_name(&mut self, ctx: &Context, session: &mut Session) {
        const PICTURES: &[FileKind] = &[
            FileKind {
                name: "Pictures (PNG)",
                endings: &["png"],
            },
            ALL_FILES,
        ];
        let path = self
            .photo
            .as_ref()
            .and_then(|photo| photo.film.path.clone());
        let stem = path.as_ref().and_then(|path| path.file_stem());
        let stem = stem.map_or("photograph".into(), |stem| stem.to_string_lossy());
        let question = Question {
            title: "Save the flat picture",
            wanted: Wanted::NewFile { ending: "png" },
            kinds: PICTURES,
            folder: path
                .as_ref()
                .and_then(|path| Some(path.parent()?.to_owned())),
            name: format!("{stem}-flat.png"),
        };
        let answer = session.ask_for_file(ctx, question);
        self.jobs.await_file(ctx, answer, Outcome::Named);
    }

    fn write(&mut self, ctx: &Context, out: PathBuf) {
        let (Some(photo), Some(Ok((flattening, facts)))) = (&self.photo, &self.worked) else {
            return;
        };
        let Some(path) = photo.film.path.clone() else {
            return;
        };
        let sha256 = photo.film.sha256.clone();
        let (flattening, facts) = (flattening.clone(), facts.clone());
        self.jobs.start(ctx, JobName::Record, move || {
            let sha256 = sha256.as_deref();
            Outcome::Written(work::write(&path, sha256, &flattening, &facts, &out))
        });
    }

    fn take(&mut self, ctx: &Context, session: &mut Session, outcome: Outcome) {
        match outcome {
            Outcome::Picked(None) | Outcome::Named(None) => session.notify("No file chosen"),
            Outcome::Picked(Some(path)) => self.open(ctx, path),
            Outcome::Opened(opened) => match *opened {
                Ok(film) => {
                    self.photo = Some(Photo::new(film));
                    self.problem = None;
                    self.work_out();
                }
                Err(problem) => self.problem = Some(problem),
            },
            Outcome::Named(Some(out)) => self.write(ctx, out),
            Outcome::Written(Ok(written)) => {
                self.problem = None;
                session.page = Page::Case;
                session.next = Some(Next::Open(written.case));
            }
            Outcome::Written(Err(problem)) => self.problem = Some(problem),
        }
    }

    /// What to do while there is no photograph, in its place.
    fn no_photo(&mut self, ui: &mut Ui, place: Rect, session: &mut Session) {
        let ctx = ui.ctx().clone();
        let middle = place.shrink2(egui::vec2(20.0, 0.4 * place.height()));
        ui.scope_builder(
            UiBuilder::new().id_salt("no photograph").max_rect(middle),
            |ui| {
                ui.vertical_centered(|ui| {
                    let palette = palette::of(ui);
                    let words = RichText::new("Choose photograph…")
                        .color(palette.on_accent)
                        .strong();
                    let button = Button::new(words)
                        .fill(palette.accent)
                        .min_size(egui::vec2(220.0, 36.0));
                    if ui.add(button).clicked() {
                        self.ask_for_photo(&ctx, session);
                    }
                    ui.label(RichText::new("or drop one here").color(palette::FILM_TEXT));
                });
            },
        );
    }

    /// What is done, what came of it, and what is left.
    fn side(&mut self, ui: &mut Ui, session: &mut Session) {
        let ctx = ui.ctx().clone();
        let palette = palette::of(ui);
        ui.label(RichText::new("Make a photograph flat").heading().strong());
        let purpose = "Put the corners on those of a rectangle of known size, clockwise from its \
                       top left: a film packet, a block's face, a printed frame.";
        ui.label(RichText::new(purpose).color(palette.quiet_text));
        if self.photo.is_some() && ui.button("Another photograph…").clicked() {
            self.ask_for_photo(&ctx, session);
        }
        if self.jobs.is_running(JobName::Open) {
            ui.label("Opening…");
        }
        if let Some(problem) = &self.problem {
            let words = RichText::new(problem).color(palette.alarm);
            spoken(&ui.label(words), &format!("Not done: {problem}"));
        }
        if self.photo.is_none() {
            return;
        }
        ui.add_space(8.0);
        self.size(ui);
        self.check_mark(ui);
        let is_ready = self.request().is_some();
        if ui
            .add_enabled(is_ready, Button::new("Snap to edges"))
            .on_hover_text("Move the corners to the crossings of the rectangle's own edges")
            .clicked()
        {
            self.snap();
        }
        ui.add_space(8.0);
        match &self.worked {
            None => {
                ui.label("Type the rectangle's width and height");
            }
            Some(Err(problem)) => {
                let words = RichText::new(problem).color(palette.alarm);
                spoken(&ui.label(words), &format!("Not possible: {problem}"));
            }
            Some(Ok((_, facts))) => {
                show_facts(ui, facts);
                let busy = self.jobs.is_running(JobName::Record);
                let button = Button::new(RichText::new("Save flat picture and open it…").strong());
                if ui.add_enabled(!busy, button).clicked() {
                    self.ask_for_name(&ctx, session);
                }
            }
        }
    }
}

/// Scale and residual, and what is not corrected.
fn show_facts(ui: &mut Ui, facts: &Facts) {
    let scale = format!(
        "{} (standard uncertainty {})",
        fixed(facts.mm_per_px, 5),
        fixed(facts.u_mm_per_px, 5)
    );
    named_value(ui, "mm per px", &scale);
    let residual = match (facts.residual_px, facts.residual_source) {
        (Some(px), Some(source)) => format!("{} px ({source})", fixed(px, 2)),
        _ => "not available".to_owned(),
    };
    named_value(ui, "Residual", &residual);
    let size = format!("{} × {} px", facts.width_px, facts.height_px);
    named_value(ui, "Flat picture", &size);
    ui.add_space(6.0);
    ui.label(RichText::new("Look out for").strong());
    for warning in &facts.warnings {
        ui.label(format!("• {}", in_the_window(&warning.text)));
    }
    ui.add_space(6.0);
}

/// What the library says, without options of a command line.
fn in_the_window(text: &str) -> String {
    text.replace(" (--size-mm)", "")
        .replace(
            "; place a fifth mark (--check)",
            "; tick the fifth mark above",
        )
        .replace(
            "; state both (--deeper-mm, --camera-mm)",
            "; the command flatten takes both into account",
        )
        .replace(
            "; ask for fewer with --mm-per-px",
            "; take a smaller photograph",
        )
}

impl PageView for FlattenPage {
    fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        if ui.button("Back to the case").clicked() {
            session.page = Page::Case;
        }
        let rest = ui.available_rect_before_wrap();
        let width = SIDE_WIDTH * text_scale(ui);
        let (left, right) = rest.split_left_right_at_x(rest.right() - width);
        let left = left.with_max_x(left.right() - 10.0);
        let mut moved = None;
        if let Some(photo) = &mut self.photo {
            let size = photo.film.size_px();
            let (tiles, view) = (&mut photo.tiles, &mut photo.view);
            moved = picture::show(ui, left, tiles, view, size, &photo.corners, photo.check);
            match moved {
                Some((Place::Corner(corner), to)) => {
                    photo.corners[corner] = to;
                    photo.is_snapped = false;
                }
                Some((Place::Check, to)) => {
                    photo.check = Some(to);
                    photo.is_check_placed = true;
                }
                None => {}
            }
        } else {
            ui.painter().rect_filled(left, 0.0, palette::FILM_GROUND);
            self.no_photo(ui, left, session);
        }
        if moved.is_some() {
            self.work_out();
        }
        ui.scope_builder(
            UiBuilder::new().id_salt("flatten side").max_rect(right),
            |ui| {
                ScrollArea::vertical().id_salt("flatten").show(ui, |ui| {
                    self.side(ui, session);
                });
            },
        );
    }

    fn take_files(&mut self, paths: &[PathBuf]) -> bool {
        let [path] = paths else {
            return false;
        };
        let is_photo = path.is_file() && !is_case_path(path);
        if is_photo {
            self.dropped = Some(path.clone());
        }
        is_photo
    }

    fn poll(&mut self, ctx: &Context, session: &mut Session) {
        if let Some(path) = self.dropped.take() {
            self.open(ctx, path);
        }
        for end in self.jobs.poll() {
            match end {
                JobEnd::Done(outcome) => self.take(ctx, session, outcome),
                JobEnd::Lost(name) => session.report_error(format!(
                    "{} stopped before its end; nothing was changed",
                    name.words()
                )),
            }
        }
    }

    fn is_busy(&self) -> bool {
        self.jobs.is_running(JobName::Open) || self.jobs.is_running(JobName::Record)
    }
}

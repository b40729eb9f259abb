//! One open case with its film, textures and latest reading.

use std::sync::Arc;

use super::document::Document;
use super::offers::Offers;
use super::open_film::OpenFilm;
use super::reading::{self, ClickFrame, Reading};
use crate::desktop::view::{FilmTiles, Pyramid, Tone, ViewTransform};
use crate::film::Film;
use crate::measure::{MeasureSettings, Precision};

/// Everything that belongs to the case on the screen.
pub struct Workspace {
    pub document: Document,
    pub film: OpenFilm,
    pub tone: Tone,
    /// Fitted when the film view first knows its place on the screen.
    pub view: ViewTransform,
    /// Tiles of the film as it is.
    pub tiles: FilmTiles,
    /// Tiles of the locally equalised copy, once it was asked for.
    pub local_tiles: Option<(FilmTiles, Tone)>,
    pub show_local_contrast: bool,
    /// What the film was found to show, once it has been looked at.
    pub offers: Option<Offers>,
    settings: MeasureSettings,
    reading: Reading,
    reading_revision: u64,
    /// Revision whose intervals rest on Monte Carlo draws; until then they
    /// follow the linear law.
    refined_revision: Option<u64>,
}

impl Workspace {
    /// Shows a case on its film, under the film's own window or automatic
    /// contrast.
    pub fn new(document: Document, film: OpenFilm, settings: MeasureSettings) -> Self {
        let mut tone = Tone::automatic(&film.film);
        if let Some(preset) = &film.preset {
            tone.window = preset.clone();
        }
        let reading = reading::read(document.case(), &film, &live(&settings));
        Self {
            tiles: FilmTiles::new(
                Arc::clone(&film.film),
                Arc::clone(&film.pyramid),
                tone.clone(),
            ),
            reading_revision: document.revision(),
            document,
            tone,
            view: ViewTransform::fitted(egui::Rect::ZERO, film.size_px()),
            film,
            local_tiles: None,
            show_local_contrast: false,
            offers: None,
            reading,
            refined_revision: None,
            settings,
        }
    }

    /// The frame clicks are measured in, and its unit.
    pub fn click_frame(&self) -> ClickFrame {
        let measured = self.reading.findings.scale.mm_per_px;
        reading::click_frame(self.document.case(), &self.film, measured)
    }

    /// The conventions in force.
    pub fn settings(&self) -> &MeasureSettings {
        &self.settings
    }

    /// What names the case in findings: its file, as it was opened.
    pub fn case_name(&self) -> String {
        let path = self.document.case_path();
        path.map_or("not saved".to_owned(), |path| path.display().to_string())
    }

    /// Puts other conventions in force.
    pub fn set_settings(&mut self, settings: MeasureSettings) {
        if settings != self.settings {
            self.settings = settings;
            self.reading_revision = 0;
            self.refined_revision = None;
        }
    }

    /// Measures again if the case has changed; then the latest reading.
    pub fn reading(&mut self) -> &Reading {
        if self.reading_revision != self.document.revision() {
            self.reading = reading::read(self.document.case(), &self.film, &live(&self.settings));
            self.reading_revision = self.document.revision();
            self.refined_revision = None;
        }
        &self.reading
    }

    /// The latest reading as it stands.
    pub fn last_reading(&self) -> &Reading {
        &self.reading
    }

    /// The work that replaces the live intervals of the case as it stands by
    /// those of Monte Carlo draws, with the revision it is of; `None` when
    /// that has been done.
    pub fn refinement(&self) -> Option<(u64, impl FnOnce() -> Reading + Send + 'static)> {
        let revision = self.document.revision();
        if self.refined_revision == Some(revision) {
            return None;
        }
        let (case, film) = (self.document.case().clone(), self.film.clone());
        let settings = MeasureSettings {
            precision: Precision::Full,
            ..self.settings.clone()
        };
        Some((revision, move || reading::read(&case, &film, &settings)))
    }

    /// Takes a refined reading, unless the case has changed since.
    pub fn refined(&mut self, revision: u64, reading: Reading) {
        if revision == self.document.revision() && revision == self.reading_revision {
            self.reading = reading;
            self.refined_revision = Some(revision);
        }
    }

    /// The intervals could not be drawn: those of the linear law stay.
    pub fn keep_live_intervals(&mut self) {
        self.refined_revision = Some(self.document.revision());
    }

    /// The locally equalised copy has been computed.
    pub fn set_local_contrast(&mut self, film: Arc<Film>, pyramid: Arc<Pyramid>) {
        let tone = Tone::full(&film);
        self.local_tiles = Some((FilmTiles::new(film, pyramid, tone.clone()), tone));
    }

    /// The tiles to show, under the tone in force. The equalised copy fills
    /// the whole range of its depth.
    pub fn shown_tiles(&mut self) -> &mut FilmTiles {
        if self.show_local_contrast
            && let Some((local, full)) = &mut self.local_tiles
        {
            full.inverted = self.tone.inverted;
            local.set_tone(full);
            return local;
        }
        self.tiles.set_tone(&self.tone);
        &mut self.tiles
    }
}

/// The settings with intervals by the linear law, for every frame.
fn live(settings: &MeasureSettings) -> MeasureSettings {
    MeasureSettings {
        precision: Precision::Live,
        ..settings.clone()
    }
}

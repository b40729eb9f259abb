//! The native window around [`DesktopApp`].

use std::path::PathBuf;

use egui::ViewportBuilder;
use thiserror::Error;

use super::clipboard::OfTheSystem;
use super::frame_log::FrameLog;
use super::{DesktopApp, Setup};
use crate::archive::settings as archive_settings;
use crate::desktop::state::preferences::{Preferences, STORAGE_KEY};
use crate::desktop::ui::palette;

/// Name under which the system keeps preferences and recovery copies.
const APP_ID: &str = "lengthfilm";
/// Multiplies all sizes, like a display's scale factor; for trying layouts.
const SCALE_VARIABLE: &str = "LENGTHFILM_PIXELS_PER_POINT";

/// What the window opens with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum StartWith {
    /// The built-in demo case, behind the ways to begin.
    Welcome,
    /// The built-in demo case.
    Demo,
    /// A film nobody has measured yet.
    Film(PathBuf),
    /// A case with its film.
    Case(PathBuf),
}

/// Why there is no window.
#[derive(Debug, Error)]
pub enum DesktopError {
    /// No display, no graphics driver, or the window system refused.
    #[error("no window can be opened: {0}")]
    NoWindow(String),
}

/// Opens the window and returns when it is closed.
///
/// # Errors
/// [`DesktopError::NoWindow`] when there is no display to open it on.
pub fn run(start: StartWith) -> Result<(), DesktopError> {
    let options = eframe::NativeOptions {
        viewport: ViewportBuilder::default()
            .with_app_id(APP_ID)
            .with_title("Lengthfilm")
            .with_inner_size([1240.0, 660.0])
            .with_min_inner_size([880.0, 560.0])
            .with_drag_and_drop(true),
        ..eframe::NativeOptions::default()
    };
    palette::unpack_letters();
    let opened = eframe::run_native(
        APP_ID,
        options,
        Box::new(move |creation| {
            if let Some(scale) = pixels_per_point_wanted() {
                creation.egui_ctx.set_pixels_per_point(scale);
            }
            let preferences = creation
                .storage
                .and_then(|storage| eframe::get_value(storage, STORAGE_KEY))
                .unwrap_or_else(Preferences::default);
            let setup = Setup {
                start: Some(start),
                preferences,
                recovery_folder: eframe::storage_dir(APP_ID).map(|folder| folder.join("recovery")),
                data_folder: archive_settings::data_folder(),
            };
            let app = DesktopApp::new(&creation.egui_ctx, setup)
                .with_clipboard(Box::new(OfTheSystem::default()));
            Ok(Box::new(NativeApp {
                app,
                log: FrameLog::from_environment(),
            }))
        }),
    );
    opened.map_err(|error| DesktopError::NoWindow(error.to_string()))
}

fn pixels_per_point_wanted() -> Option<f32> {
    let scale: f32 = std::env::var(SCALE_VARIABLE).ok()?.parse().ok()?;
    (0.5..=4.0).contains(&scale).then_some(scale)
}

struct NativeApp {
    app: DesktopApp,
    log: Option<FrameLog>,
}

impl eframe::App for NativeApp {
    fn ui(&mut self, ui: &mut egui::Ui, frame: &mut eframe::Frame) {
        if let Some(log) = &mut self.log {
            log.frame(frame.info().cpu_usage);
        }
        self.app.show(ui);
    }

    fn save(&mut self, storage: &mut dyn eframe::Storage) {
        eframe::set_value(storage, STORAGE_KEY, self.app.preferences());
    }

    fn on_exit(&mut self, _gl: Option<&eframe::glow::Context>) {
        self.app.close();
    }

    fn clear_color(&self, _visuals: &egui::Visuals) -> [f32; 4] {
        crate::desktop::ui::palette::FILM_GROUND.to_normalized_gamma_f32()
    }
}

//! The window's only door to the library: films opened, cases measured, and
//! what is to be drawn of the results.

mod stand_in;

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

use crate::case::{self, Canal, Case, FilmReference, ScaleInputs};
use crate::desktop::film_view::Pyramid;
use crate::film::Film;
use crate::measure::findings::Findings;
use crate::units::FilmPoint;

/// A film ready to be shown and measured.
#[derive(Clone)]
pub struct OpenFilm {
    pub film: Arc<Film>,
    pub pyramid: Arc<Pyramid>,
    /// File it came from; `None` for the built-in demo.
    pub path: Option<PathBuf>,
    /// Facts about scale and exposure that the file states, in words.
    pub facts: Vec<Fact>,
    /// Date of the exposure, where the file states it.
    pub taken_on: Option<String>,
    /// Lower-case hex SHA-256 of the file.
    pub sha256: Option<String>,
    /// What the file system said when it was read.
    pub stamp: Option<FileStamp>,
}

impl OpenFilm {
    /// Columns and rows.
    pub fn size_px(&self) -> [u32; 2] {
        [self.film.width_px(), self.film.height_px()]
    }
}

/// One fact with its name, as shown in the scale panel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fact {
    pub name: String,
    pub value: String,
}

/// Size and time of a file: a change of either asks for a closer look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FileStamp {
    pub bytes: u64,
    pub modified: Option<SystemTime>,
}

impl FileStamp {
    /// The stamp of a file; `None` when it cannot be seen.
    pub fn of(path: &Path) -> Option<Self> {
        let metadata = std::fs::metadata(path).ok()?;
        Some(Self {
            bytes: metadata.len(),
            modified: metadata.modified().ok(),
        })
    }
}

/// Published curvature methods with a construction to draw (METHODS 5).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
pub enum Construction {
    Schneider,
    Weine,
    AxisAxis,
    Pruett,
    Luiten,
    Schafer,
    Gunday,
    Estrela,
    CurveByCurve,
}

impl Construction {
    /// Every construction, in the order of the curvature table.
    pub const ALL: [Construction; 9] = [
        Construction::Schneider,
        Construction::Weine,
        Construction::AxisAxis,
        Construction::Pruett,
        Construction::Luiten,
        Construction::Schafer,
        Construction::Gunday,
        Construction::Estrela,
        Construction::CurveByCurve,
    ];

    /// Author or usual name, and year.
    pub fn name(self) -> &'static str {
        match self {
            Construction::Schneider => "Schneider 1971",
            Construction::Weine => "Weine 1982",
            Construction::AxisAxis => "Axis to axis",
            Construction::Pruett => "Pruett 1997",
            Construction::Luiten => "Luiten 1995",
            Construction::Schafer => "Schäfer 2002",
            Construction::Gunday => "Günday 2005",
            Construction::Estrela => "Estrela 2008",
            Construction::CurveByCurve => "Curve by curve",
        }
    }
}

/// A stroke of a construction, in the film frame.
#[derive(Clone, Debug, PartialEq)]
pub enum Mark {
    /// A line through points.
    Line(Vec<FilmPoint>),
    /// A point with its letter in the published construction; `landmark` is
    /// its key in the case when the user may drag it.
    Point {
        at: FilmPoint,
        letter: String,
        landmark: Option<String>,
    },
}

/// A place on a canal's path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PathSample {
    pub at: FilmPoint,
    /// Along the path; `None` without a scale.
    pub from_apex_mm: Option<f64>,
}

/// A place of the curvature graph.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProfileSample {
    pub from_apex_mm: f64,
    /// Curvature, 1/mm, and its 95 % band.
    pub curvature_per_mm: f64,
    pub low_per_mm: f64,
    pub high_per_mm: f64,
}

/// What is to be drawn of one canal.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CanalDrawing {
    /// Drawn curve, orifice → apex.
    pub path: Vec<PathSample>,
    /// The file's curve, stop → tip.
    pub file: Vec<FilmPoint>,
    /// Fitted curve that angles are read from.
    pub fitted: Vec<FilmPoint>,
    pub constructions: Vec<(Construction, Vec<Mark>)>,
    pub profile: Vec<ProfileSample>,
}

/// All that the window shows of one state of a case.
#[derive(Clone, Debug)]
pub struct Reading {
    pub findings: Findings,
    pub drawings: Vec<CanalDrawing>,
}

/// A case for a film nobody has measured yet: one canal, nothing placed.
pub fn fresh_case(film_path: &str) -> Case {
    Case {
        format: case::FORMAT.to_owned(),
        version: case::VERSION,
        film: FilmReference {
            path: film_path.to_owned(),
            ..FilmReference::default()
        },
        scale: ScaleInputs::default(),
        tooth: None,
        canals: vec![Canal {
            name: "Canal 1".to_owned(),
            ..Canal::default()
        }],
        click_noise_mm: None,
        seed: 1,
        extra: serde_json::Map::new(),
    }
}

/// What a path names: films and cases are told apart by their ending.
pub fn is_case_path(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("json"))
}

/// Reads and decodes a film.
///
/// # Errors
/// One line in plain words.
pub fn open_film(path: &Path) -> Result<OpenFilm, String> {
    let stamp = FileStamp::of(path);
    let bytes = std::fs::read(path).map_err(|error| {
        format!("{}: cannot be read: {error}", path.display())
    })?;
    film_from_bytes(&bytes, path, stamp)
}

/// Reads a case and its film.
///
/// # Errors
/// One line in plain words.
pub fn open_case(path: &Path) -> Result<(Case, OpenFilm), String> {
    let case = case::load(path).map_err(|error| error.to_string())?;
    let film = open_film_of(&case, path)?;
    Ok((case, film))
}

/// Reads the film of a case kept at `case_path`.
///
/// # Errors
/// One line in plain words.
pub fn open_film_of(case: &Case, case_path: &Path) -> Result<OpenFilm, String> {
    let stamp = FileStamp::of(&case::film_path(case, case_path));
    let (film_path, bytes) =
        case::read_film_bytes(case, case_path).map_err(|error| error.to_string())?;
    film_from_bytes(&bytes, &film_path, stamp)
}

fn film_from_bytes(
    bytes: &[u8],
    path: &Path,
    stamp: Option<FileStamp>,
) -> Result<OpenFilm, String> {
    let film = stand_in::decode(bytes, path)?;
    Ok(OpenFilm {
        pyramid: Arc::new(Pyramid::new(&film)),
        film: Arc::new(film),
        path: Some(path.to_owned()),
        facts: Vec::new(),
        taken_on: None,
        sha256: Some(case::sha256_hex(bytes)),
        stamp,
    })
}

/// The built-in demo case with its film.
pub fn demo() -> (Case, OpenFilm) {
    let (case, film) = stand_in::demo();
    let film = OpenFilm {
        pyramid: Arc::new(Pyramid::new(&film)),
        film: Arc::new(film),
        path: None,
        facts: Vec::new(),
        taken_on: None,
        sha256: None,
        stamp: None,
    };
    (case, film)
}

/// Writes a built-in film as 16-bit PNG, so that a saved demo case finds it.
///
/// # Errors
/// One line in plain words.
pub fn write_film(film: &Film, path: &Path) -> Result<(), String> {
    let picture = image::ImageBuffer::<image::Luma<u16>, _>::from_raw(
        film.width_px(),
        film.height_px(),
        film.samples().to_vec(),
    )
    .ok_or_else(|| format!("{}: the film has no pixels", path.display()))?;
    picture
        .save_with_format(path, image::ImageFormat::Png)
        .map_err(|error| format!("{}: cannot be written: {error}", path.display()))
}

/// Measures a case on its film.
pub fn read(case: &Case, film: &OpenFilm) -> Reading {
    stand_in::read(case, film)
}

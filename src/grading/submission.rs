//! One person's case, read and brought to the raster of the reference's film.

use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

use serde_json::Value;

use crate::case::{self, Case};
use crate::film::{Film, FilmCache, Polarity};
use crate::measure::FilmSummary;
use crate::statistics::correlation;
use crate::units::FilmPoint;

/// A case to grade, its points in px of the reference's film.
#[derive(Clone, Debug)]
pub struct Submission {
    /// The student: what the case says under `student`, else the file's stem.
    pub student: String,
    /// The case file.
    pub file: String,
    /// The case.
    pub case: Case,
    /// What the user should know.
    pub warnings: Vec<String>,
    /// SHA-256 of the case file, lower-case hex; `None` for a case from
    /// memory.
    pub case_sha256: Option<String>,
}

/// Side of the thumbnails two films are compared by.
const THUMBNAIL: usize = 48;
/// Films whose thumbnails correlate at least this well are the same film.
const SAME_FILM_CORRELATION: f64 = 0.99;
/// Rounding of the raster may change the ratio of its sides by this, px.
const RATIO_SLACK_PX: f64 = 1.5;

/// A film as grading needs it.
#[derive(Clone, Debug)]
pub struct GradedFilm {
    /// Where it was read.
    pub path: PathBuf,
    /// Its facts.
    pub summary: FilmSummary,
    thumbnail: Vec<f64>,
}

impl GradedFilm {
    /// Scale from `other`'s raster to this one's, `[x, y]`, if it shows the
    /// same film: the same file, or one of the same shape whose area-averaged
    /// thumbnail correlates at 0.99 or better.
    pub fn scale_from(&self, other: &GradedFilm) -> Option<[f64; 2]> {
        if self.summary.sha256 == other.summary.sha256 {
            return Some([1.0, 1.0]);
        }
        let size =
            |film: &GradedFilm| [film.summary.width_px, film.summary.height_px].map(f64::from);
        let ([w, h], [other_w, other_h]) = (size(self), size(other));
        // The same shape, but for the rounding of the smaller raster's sides.
        let small = if w < other_w {
            (w, h, other_w, other_h)
        } else {
            (other_w, other_h, w, h)
        };
        let same_shape = (small.0 * small.3 / small.2 - small.1).abs() <= RATIO_SLACK_PX;
        let alike = correlation(&self.thumbnail, &other.thumbnail)? >= SAME_FILM_CORRELATION;
        (same_shape && alike).then_some([w / other_w, h / other_h])
    }
}

/// Means of the samples over a grid of [`THUMBNAIL`]² cells, radio-opaque
/// high.
fn thumbnail(film: &Film) -> Vec<f64> {
    let (width, height) = (film.width_px() as usize, film.height_px() as usize);
    let sign = match film.polarity() {
        Polarity::HighIsOpaque => 1.0,
        Polarity::LowIsOpaque => -1.0,
    };
    let across = cell_weights(width);
    let down = cell_weights(height);
    let mut cells = vec![0.0; THUMBNAIL * THUMBNAIL];
    for (y, row) in film.samples().chunks_exact(width).enumerate() {
        let mut sums = [0.0; THUMBNAIL];
        for (x, &sample) in row.iter().enumerate() {
            for &(cell, weight) in across[x].iter() {
                sums[cell] += weight * f64::from(sample);
            }
        }
        for &(row_cell, weight) in down[y].iter() {
            let from = row_cell * THUMBNAIL;
            for (cell, sum) in cells[from..from + THUMBNAIL].iter_mut().zip(sums) {
                *cell += sign * weight * sum;
            }
        }
    }
    cells
}

/// For each of `count` px the cells it lies in, with its share of each cell.
fn cell_weights(count: usize) -> Vec<Vec<(usize, f64)>> {
    let per_px = THUMBNAIL as f64 / count as f64;
    (0..count)
        .map(|i| {
            let (low, high) = (i as f64 * per_px, (i + 1) as f64 * per_px);
            let last = (high.ceil() as usize).min(THUMBNAIL);
            (low as usize..last)
                .map(|cell| (cell, high.min((cell + 1) as f64) - low.max(cell as f64)))
                .filter(|&(_, share)| share > 0.0)
                .collect()
        })
        .collect()
}

/// Where the film named by a case that somebody handed in is looked for: its
/// own place, if that lies within the case's folder or one of `homes`, else a
/// file of that name in one of these. The paths are compared as written: what
/// they name outside (another machine, say) is not touched.
fn confined(case: &Case, case_path: &Path, homes: &[PathBuf]) -> Result<PathBuf, String> {
    let folder = match case_path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let homes: Vec<PathBuf> = std::iter::once(folder)
        .chain(homes.iter().map(PathBuf::as_path))
        .map(written_out)
        .collect();
    let film = folder.join(&case.film.path);
    let at = written_out(&film);
    if homes.iter().any(|home| at.starts_with(home)) && at.is_file() {
        return Ok(film);
    }
    // Either system's separator: the case may come from another.
    let name = case
        .film
        .path
        .rsplit(['/', '\\'])
        .next()
        .unwrap_or_default();
    let is_name = !matches!(name, "" | "." | "..");
    let beside = homes.iter().map(|home| home.join(name));
    match beside.into_iter().find(|path| is_name && path.is_file()) {
        Some(path) => Ok(path),
        None => Err(format!(
            "{}: its film {} is neither in its own folder nor beside the reference's film; \
             put it there",
            case_path.display(),
            case.film.path
        )),
    }
}

/// A path from the root with every `..` followed, by its text alone.
fn written_out(path: &Path) -> PathBuf {
    let path = match path.as_os_str().is_empty() {
        true => Path::new("."),
        false => path,
    };
    let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let mut out = PathBuf::new();
    for part in absolute.components() {
        match part {
            Component::ParentDir => {
                out.pop();
            }
            Component::CurDir => {}
            part => out.push(part),
        }
    }
    out
}

impl Submission {
    /// Reads a case and the film it names, wherever that is: a case of one's
    /// own.
    ///
    /// # Errors
    /// One clear line.
    pub fn load(
        path: &Path,
        films: &FilmCache<GradedFilm>,
    ) -> Result<(Self, Arc<GradedFilm>), String> {
        let (case, case_sha256) = case::load_with_hash(path).map_err(|e| e.to_string())?;
        let film_path = case::existing_film_path(&case, path).map_err(|e| e.to_string())?;
        Self::on_film(case, case_sha256, path, &film_path, films)
    }

    /// Reads a case that somebody handed in. Its film is taken only from the
    /// case's own folder and from `homes`.
    ///
    /// # Errors
    /// One clear line.
    pub fn load_handed_in(
        path: &Path,
        homes: &[PathBuf],
        films: &FilmCache<GradedFilm>,
    ) -> Result<(Self, Arc<GradedFilm>), String> {
        let (case, case_sha256) = case::load_with_hash(path).map_err(|e| e.to_string())?;
        let film_path = confined(&case, path, homes)?;
        Self::on_film(case, case_sha256, path, &film_path, films)
    }

    fn on_film(
        case: Case,
        case_sha256: String,
        path: &Path,
        film_path: &Path,
        films: &FilmCache<GradedFilm>,
    ) -> Result<(Self, Arc<GradedFilm>), String> {
        let film = films
            .get(film_path, |opened| GradedFilm {
                summary: FilmSummary::from(&opened),
                thumbnail: thumbnail(&opened.film),
                path: opened.path,
            })
            .map_err(|e| e.to_string())?;
        case::check_film_hash(&case, path, &film.summary.sha256).map_err(|e| e.to_string())?;
        let submission = Self {
            case_sha256: Some(case_sha256),
            ..Self::new(path.display().to_string(), case)
        };
        Ok((submission, film))
    }

    /// A case as it would be read from `file`.
    pub fn new(file: String, case: Case) -> Self {
        let typed = case
            .extra
            .get("student")
            .and_then(|s| s.get("name"))
            .and_then(Value::as_str);
        let student = match typed.map(str::trim).filter(|name| !name.is_empty()) {
            Some(name) => name.to_owned(),
            None => file_stem(Path::new(&file)),
        };
        Self {
            student,
            file,
            case,
            warnings: Vec::new(),
            case_sha256: None,
        }
    }

    /// Brings the points from `own` film to the raster of `reference`.
    ///
    /// # Errors
    /// The film is another one.
    pub fn onto(mut self, own: &GradedFilm, reference: &GradedFilm) -> Result<Self, String> {
        let Some(scale) = reference.scale_from(own) else {
            return Err(format!(
                "{}: its film {} is not the reference's film {}; grade each film by itself",
                self.file,
                own.path.display(),
                reference.path.display()
            ));
        };
        if scale != [1.0, 1.0] || own.summary.sha256 != reference.summary.sha256 {
            self.warnings.push(format!(
                "traced on the same film at {:.4} times the reference's size",
                1.0 / scale[0]
            ));
            scale_points(&mut self.case, scale);
        }
        Ok(self)
    }
}

/// The file's name without `.case.json`.
fn file_stem(path: &Path) -> String {
    let name = path
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    let stem = name
        .strip_suffix(".case.json")
        .or(name.strip_suffix(".json"));
    stem.unwrap_or(&name).to_owned()
}

fn scale_points(case: &mut Case, [x, y]: [f64; 2]) {
    let scale = |p: &mut FilmPoint| *p = FilmPoint::new(p.x * x, p.y * y);
    for object in &mut case.scale.objects {
        object.points_px.iter_mut().for_each(scale);
    }
    for canal in &mut case.canals {
        canal.trace_px.iter_mut().for_each(scale);
        canal.landmarks.values_mut().for_each(scale);
        let tip = canal.file.as_mut().and_then(|f| f.tip_px.as_mut());
        for place in [
            canal.reference_px.as_mut(),
            canal.apex_px.as_mut(),
            canal.foramen_px.as_mut(),
            tip,
        ] {
            place.into_iter().for_each(scale);
        }
    }
    // A typed pitch holds on the old raster.
    if let Some([row, column]) = &mut case.film.pixel_pitch_mm {
        (*row, *column) = (*row / y, *column / x);
    }
}

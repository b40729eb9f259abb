//! One person's case, read and brought to the raster of the reference's film.

use std::path::{Component, Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

use super::own::OwnNumbers;
use super::private::PrivateText;
use crate::case::{self, Case};
use crate::film::{Film, FilmCache, OpenedFilm, Polarity};
use crate::measure::FilmSummary;
use crate::progress::Progress;
use crate::statistics::correlation;

/// A case to grade, its points in px of the reference's film.
#[derive(Clone, Debug)]
pub struct Submission {
    /// The student: what the case says under `student`, else what its place
    /// says, else the file's stem.
    pub student: String,
    /// The case file.
    pub file: String,
    /// When it was handed in, as far as it is known.
    pub handed_in: HandedIn,
    /// The case.
    pub case: Case,
    /// What the user should know.
    pub warnings: Vec<String>,
    /// SHA-256 of the case file, lower-case hex; `None` for a case from
    /// memory.
    pub case_sha256: Option<String>,
    /// The case by its owner's entries, on its own film; `None`: to be
    /// measured on the reference's film.
    pub own: Option<OwnNumbers>,
}

/// What the attempts of a student are put in order by.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HandedIn {
    /// The number that the case states.
    pub attempt: Option<u32>,
    /// The date that the case states, ISO 8601.
    pub date: Option<String>,
    /// When the file was last written.
    pub written: Option<SystemTime>,
}

/// A film that is known without its case's help, by its hash and, for cases
/// that keep no hash, its file name.
pub type KnownFilm<'a> = dyn Fn(Option<&str>, &str) -> Option<Arc<GradedFilm>> + Sync + 'a;

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
    /// What grading keeps of a film.
    pub fn new(opened: OpenedFilm) -> Self {
        Self {
            // Points and limits are the same whatever the film shows.
            summary: FilmSummary::unchecked(&opened),
            thumbnail: thumbnail(&opened.film),
            path: opened.path,
        }
    }

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

/// The film that a case names lies in the case's folder or below. Paths are
/// compared as written, so that what they name outside (another machine, say)
/// is not touched.
pub fn lies_beside(case: &Case, case_path: &Path) -> bool {
    let folder = case_path.parent().unwrap_or(Path::new(""));
    let folder = Path::new(".").join(folder);
    written_out(&folder.join(&case.film.path)).starts_with(written_out(&folder))
}

/// A path from the root with every `..` followed, by its text alone.
fn written_out(path: &Path) -> PathBuf {
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
    ) -> Result<(Self, Arc<GradedFilm>), PrivateText> {
        let submission = Self::read(path, films.progress())?;
        let film = submission.stated_film(path, films)?;
        Ok((submission, film))
    }

    /// Reads a case file, without its film.
    ///
    /// # Errors
    /// One clear line; "stopped" when `progress` was told to stop.
    pub fn read(path: &Path, progress: &Progress) -> Result<Self, PrivateText> {
        let of_disk = path.to_owned();
        let read = move || {
            let read = case::load_with_hash(&of_disk);
            let written = of_disk.metadata().and_then(|file| file.modified()).ok();
            read.map(|(case, sha256)| (case, sha256, written))
        };
        let (case, case_sha256, written) = progress.wait_for(read)??;
        let mut submission = Self {
            case_sha256: Some(case_sha256),
            ..Self::new(path.display().to_string(), case)
        };
        submission.handed_in.written = written;
        Ok(submission)
    }

    /// Opens the film of a case that was handed in and read from `path`: where
    /// the case says, if that is its own folder or below, else the one that
    /// `known` has of that hash or name. Nothing outside is touched.
    ///
    /// # Errors
    /// One clear line.
    pub fn open_film(
        &mut self,
        path: &Path,
        films: &FilmCache<GradedFilm>,
        known: &KnownFilm,
    ) -> Result<Arc<GradedFilm>, PrivateText> {
        let hash = self.case.film.sha256.as_deref();
        let name = film_name(&self.case.film.path);
        let beside = match lies_beside(&self.case, path) {
            true => self.stated_film(path, films),
            false => self.film_beside(path, name, films).ok_or_else(|| {
                PrivateText::new(
                    format!(
                        "its film {} lies outside its own folder; put it beside the case",
                        self.case.film.path
                    ),
                    "its film lies outside its own folder; put it beside the case",
                )
            }),
        };
        beside.or_else(|reason| {
            let by_hash = hash.and_then(|hash| known(Some(hash), name));
            if let Some(film) = by_hash {
                return Ok(film);
            }
            let by_name = known(None, name).filter(|_| hash.is_none());
            let film = by_name.ok_or(reason)?;
            self.warnings.push(
                "its film was not handed in with it and the case keeps no hash of it: taken for the reference's film by its name"
                    .to_owned(),
            );
            Ok(film)
        })
    }

    /// A film of that name in the case's own folder, if it is the case's.
    fn film_beside(
        &self,
        path: &Path,
        name: &str,
        films: &FilmCache<GradedFilm>,
    ) -> Option<Arc<GradedFilm>> {
        let folder = path.parent()?;
        let film = films.get(&folder.join(name), GradedFilm::new).ok()?;
        let hash = &film.summary.sha256;
        case::check_film_hash(&self.case, path, hash).ok()?;
        Some(film)
    }

    /// The film where the case says it is.
    fn stated_film(
        &self,
        path: &Path,
        films: &FilmCache<GradedFilm>,
    ) -> Result<Arc<GradedFilm>, PrivateText> {
        let film_path = case::existing_film_path(&self.case, path)?;
        let film = films.get(&film_path, GradedFilm::new);
        let film = film.map_err(|error| PrivateText::from(&*error))?;
        case::check_film_hash(&self.case, path, &film.summary.sha256)?;
        Ok(film)
    }

    /// A case as it would be read from `file`.
    pub fn new(file: String, case: Case) -> Self {
        let stated = case.student.as_ref();
        let student = stated.and_then(|student| student.given_name());
        Self {
            student: student.unwrap_or_else(|| file_stem(Path::new(&file))),
            file,
            handed_in: HandedIn {
                attempt: stated.and_then(|student| student.attempt),
                date: stated.and_then(|student| student.date.clone()),
                written: None,
            },
            case,
            warnings: Vec::new(),
            case_sha256: None,
            own: None,
        }
    }

    /// Brings the points from `own` film to the raster of `reference`.
    ///
    /// # Errors
    /// The film is another one, or the case cannot be measured.
    pub fn onto(mut self, own: &GradedFilm, reference: &GradedFilm) -> Result<Self, PrivateText> {
        let Some(scale) = reference.scale_from(own) else {
            return Err(PrivateText::new(
                format!(
                    "its film {} is not the reference's film {}; grade each film by itself",
                    own.path.display(),
                    reference.path.display()
                ),
                "its film is not the reference's film; grade each film by itself",
            ));
        };
        if scale != [1.0, 1.0] || own.summary.sha256 != reference.summary.sha256 {
            self.warnings.push(format!(
                "traced on the same film at {:.4} times the reference's size",
                1.0 / scale[0]
            ));
            let per_raster_px = 1.0 / (scale[0] * scale[1]).sqrt();
            self.own = Some(OwnNumbers::of(&self.case, &own.summary, per_raster_px)?);
            self.case.scale_points(scale);
        }
        Ok(self)
    }
}

/// The last part of a path written on any system.
pub fn film_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

/// The file's name without `.case.json`.
pub fn file_stem(path: &Path) -> String {
    let name = path
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    let stem = name
        .strip_suffix(".case.json")
        .or(name.strip_suffix(".json"));
    stem.unwrap_or(&name).to_owned()
}

//! `lengthfilm flatten PHOTO --corner X,Y (four) --size-mm WxH --out FILM.png [--json]`

use std::path::{Path, PathBuf};

use clap::Args;

use super::output::{CliError, print_json, print_text};
use super::point::parse_point;
use crate::case::{self, Case};
use crate::film::{self, OpenLimits};
use crate::flatten::{self, Facts, Request, edge_residual_px, flattening, snapped};
use crate::one_line::one_line_path;
use crate::uncertainty::rounding::fixed;
use crate::units::FilmPoint;

#[derive(Debug, Args)]
pub struct Flatten {
    /// Photograph of a film, a print or a practice block.
    photo: PathBuf,
    /// Corner of a rectangle of known size, px; give four, clockwise from the
    /// top left.
    #[arg(long = "corner", required = true, value_name = "X,Y", value_parser = parse_point, allow_hyphen_values = true)]
    corners: Vec<FilmPoint>,
    /// Width and height of the rectangle in mm, for example 31x41.
    #[arg(long, value_name = "WxH", value_parser = parse_size)]
    size_mm: [f64; 2],
    /// The flattened picture, 16-bit PNG; its facts are written beside it.
    #[arg(long, value_name = "FILM.png")]
    out: PathBuf,
    /// Move the corners to the crossings of the rectangle's edges.
    #[arg(long)]
    snap: bool,
    /// A fifth mark that checks the corners, px.
    #[arg(long, value_name = "X,Y", value_parser = parse_point, allow_hyphen_values = true)]
    check: Option<FilmPoint>,
    /// Where the fifth mark lies, mm from the top left corner; absent: in the
    /// rectangle's middle.
    #[arg(long, value_name = "X,Y", value_parser = parse_point, requires = "check", allow_hyphen_values = true)]
    check_at_mm: Option<FilmPoint>,
    /// What surrounds the rectangle and is kept, mm.
    #[arg(long, default_value_t = 0.0, value_name = "MM")]
    margin_mm: f64,
    /// Resolution of the flattened picture; absent: the photograph's finest.
    #[arg(long, value_name = "MM")]
    mm_per_px: Option<f64>,
    /// How much deeper than the rectangle the canal lies, mm.
    #[arg(
        long,
        value_name = "MM",
        requires = "camera_mm",
        allow_hyphen_values = true
    )]
    deeper_mm: Option<f64>,
    /// Distance of the camera, mm; with --deeper-mm.
    #[arg(long, value_name = "MM", requires = "deeper_mm")]
    camera_mm: Option<f64>,
    /// Write a case on the flattened picture with its scale.
    #[arg(long, value_name = "CASE")]
    case: Option<PathBuf>,
    /// Replace files that are already there.
    #[arg(long)]
    replace: bool,
    /// Print JSON.
    #[arg(long)]
    json: bool,
}

impl Flatten {
    /// Writes the flattened picture and its facts.
    pub fn run(self) -> Result<(), CliError> {
        let Ok(corners_px) = <[FilmPoint; 4]>::try_from(self.corners.as_slice()) else {
            return Err(CliError::Input(format!(
                "{} corner(s) given; give four with --corner X,Y, clockwise from the top left",
                self.corners.len()
            )));
        };
        if self
            .out
            .extension()
            .is_none_or(|e| !e.eq_ignore_ascii_case("png"))
        {
            return Err(CliError::at(
                &self.out,
                "the flattened picture is a PNG; name it so",
            ));
        }
        let facts_path = flatten::facts_path(&self.out);
        for path in [Some(&self.out), Some(&facts_path), self.case.as_ref()]
            .into_iter()
            .flatten()
        {
            if !self.replace && path.symlink_metadata().is_ok() {
                return Err(CliError::at(
                    path,
                    "exists already and is kept; choose another name or give --replace",
                ));
            }
        }
        let opened = film::open(&self.photo, &OpenLimits::default()).map_err(CliError::input)?;
        let photo = &opened.film;
        let [w, h] = self.size_mm;
        let at_mm = self.check_at_mm.map_or([0.5 * w, 0.5 * h], Into::into);
        let mut request = Request {
            corners_px,
            size_mm: self.size_mm,
            mm_per_px: self.mm_per_px,
            margin_mm: self.margin_mm,
            check: self.check.map(|mark| (mark, at_mm)),
            deeper: self.deeper_mm.zip(self.camera_mm),
            snapped: false,
        };
        let failed = |error| CliError::at(&self.photo, error);
        let (width, height) = (photo.width_px(), photo.height_px());
        if self.snap {
            // Corners must be a rectangle's before its edges are looked for.
            flattening(request.clone(), width, height).map_err(failed)?;
            request = snapped(photo, &request).map_err(failed)?;
        }
        let flattening = flattening(request, width, height).map_err(failed)?;
        let facts = Facts::new(
            &flattening,
            edge_residual_px(photo, &flattening.request.corners_px),
        );
        flatten::write(&opened, &flattening, &facts, &self.out).map_err(CliError::Input)?;
        if let Some(path) = &self.case {
            self.write_case(path, facts.mm_per_px)?;
        }
        if self.json {
            return print_json(&facts);
        }
        print_text(&words(&facts, &self.out))
    }

    fn write_case(&self, path: &Path, mm_per_px: f64) -> Result<(), CliError> {
        let absolute = std::path::absolute(&self.out).map_err(|e| CliError::unread(path, &e))?;
        let folder = std::path::absolute(path).map_err(|e| CliError::unread(path, &e))?;
        let beside = folder
            .parent()
            .and_then(|folder| absolute.strip_prefix(folder).ok());
        let film_path = beside.unwrap_or(&absolute).to_string_lossy().into_owned();
        let film = film::open(&self.out, &OpenLimits::default()).map_err(CliError::input)?;
        let mut case = Case::on_film(film_path);
        case.film.sha256 = Some(film.sha256);
        case.film.pixel_pitch_mm = Some([mm_per_px; 2]);
        case::save(&case, path).map_err(CliError::input)
    }
}

fn words(facts: &Facts, out: &Path) -> String {
    let residual = match (facts.residual_px, facts.residual_source) {
        (Some(px), Some(source)) => format!("{px:.2} px ({source})"),
        _ => "not available".to_owned(),
    };
    let mut text = format!(
        "{}: {} × {} px, {} mm per px (standard uncertainty {}), residual {residual}\n",
        one_line_path(out),
        facts.width_px,
        facts.height_px,
        fixed(facts.mm_per_px, 5),
        fixed(facts.u_mm_per_px, 5),
    );
    for warning in &facts.warnings {
        text.push_str("  ");
        text.push_str(&warning.text);
        text.push('\n');
    }
    text
}

/// Reads `WxH`.
fn parse_size(text: &str) -> Result<[f64; 2], String> {
    let sides = text.split_once(['x', 'X', '×']).and_then(|(w, h)| {
        let (w, h): (f64, f64) = (w.trim().parse().ok()?, h.trim().parse().ok()?);
        (w.is_finite() && h.is_finite()).then_some([w, h])
    });
    sides.ok_or_else(|| "write width and height in mm with an x, for example 31x41".to_owned())
}

#[cfg(test)]
mod tests {
    use super::parse_size;

    #[test]
    fn a_size_is_two_finite_numbers() {
        assert_eq!(parse_size("31x41"), Ok([31.0, 41.0]));
        assert_eq!(parse_size(" 22 × 35.5 "), Ok([22.0, 35.5]));
        for bad in ["31", "31,41", "x41", "31xNaN", "axb", ""] {
            assert!(parse_size(bad).is_err(), "{bad}");
        }
    }
}

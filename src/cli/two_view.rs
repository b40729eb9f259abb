//! `lengthfilm two-view CASE-A CASE-B --angle-deg 90 [--receptor turned]
//! [--canal NAME] [--json]`

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::output::{CliError, print_json, print_text};
use crate::case::{self, Receptor, RightOfFilm, SecondFilm, SourceSide};
use crate::measure::MeasureSettings;
use crate::two_view::{self, Exposures, TwoViewError};

#[derive(Clone, Copy, Debug, ValueEnum)]
enum ReceptorChoice {
    /// It turned with the tube, or the tooth was turned before both.
    Turned,
    /// It stayed parallel to the tooth; the tube moved.
    Stayed,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum RightChoice {
    Mesial,
    Distal,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum SourceChoice {
    Buccal,
    Lingual,
}

#[derive(Debug, Args)]
pub struct TwoView {
    /// Case of the first film.
    #[arg(value_name = "CASE-A")]
    case_a: PathBuf,
    /// Case of the second film; absent: the one that the first case remembers.
    #[arg(value_name = "CASE-B")]
    case_b: Option<PathBuf>,
    /// Angle from film A to film B, degrees: film B shows x·cosΔ + y·sinΔ of a
    /// place x aside and y towards the source.
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true)]
    angle_deg: Option<f64>,
    /// Half width of that angle's uncertainty, degrees [default: 3.5].
    #[arg(long, value_name = "DEGREES")]
    angle_half_width_deg: Option<f64>,
    /// What happened to the receptor between the exposures [default: turned].
    #[arg(long, value_enum)]
    receptor: Option<ReceptorChoice>,
    /// The canal [default: the first that both cases have].
    #[arg(long, value_name = "NAME")]
    canal: Option<String>,
    /// What lies to the right on film A.
    #[arg(long, value_enum)]
    right_is: Option<RightChoice>,
    /// What lies towards the source of film A.
    #[arg(long, value_enum)]
    source_is: Option<SourceChoice>,
    /// Write the second film, its angle and the sides into case A, so that its
    /// records show them.
    #[arg(long)]
    remember: bool,
    /// Print JSON.
    #[arg(long)]
    json: bool,
}

impl TwoView {
    /// Measures the canal in space and prints it.
    pub fn run(self) -> Result<(), CliError> {
        let (mut case, read) = case::load_with_hash(&self.case_a).map_err(CliError::input)?;
        let second = self.second_film(case.second_film.as_ref())?;
        let path_b = match &self.case_b {
            Some(path) => path.clone(),
            None => two_view::second_case_path(&self.case_a, &second),
        };
        let exposures = Exposures {
            canal: self.canal.clone(),
            ..Exposures::remembered(&second)
        };
        let paths = [self.case_a.as_path(), path_b.as_path()];
        let found = two_view::two_view_files(paths, &exposures, &MeasureSettings::default())
            .map_err(CliError::input)?;
        if self.remember {
            case.second_film = Some(second);
            case::save_over(&case, &self.case_a, Some(&read)).map_err(CliError::input)?;
        }
        if self.json {
            print_json(&found)
        } else {
            print_text(&two_view::findings_text(&found))
        }
    }

    /// What was asked for, completed by what the case remembers of the same
    /// second film.
    fn second_film(&self, remembered: Option<&SecondFilm>) -> Result<SecondFilm, CliError> {
        let kept = remembered.filter(|_| self.case_b.is_none());
        let case = match (&self.case_b, kept) {
            (Some(path), _) => two_view::stored_path(path, &self.case_a),
            (None, Some(second)) => second.case.clone(),
            (None, None) => {
                return Err(CliError::input(TwoViewError::NoSecondFilm {
                    case: self.case_a.clone(),
                }));
            }
        };
        let angle_deg = self.angle_deg.or(kept.map(|s| s.angle_deg));
        Ok(SecondFilm {
            case,
            angle_deg: angle_deg.ok_or_else(|| CliError::input(TwoViewError::NoAngle))?,
            angle_half_width_deg: self
                .angle_half_width_deg
                .or(kept.and_then(|s| s.angle_half_width_deg)),
            receptor: match self.receptor {
                Some(ReceptorChoice::Turned) => Receptor::Turned,
                Some(ReceptorChoice::Stayed) => Receptor::Stayed,
                None => kept.map(|s| s.receptor).unwrap_or_default(),
            },
            right_is: match self.right_is {
                Some(RightChoice::Mesial) => Some(RightOfFilm::Mesial),
                Some(RightChoice::Distal) => Some(RightOfFilm::Distal),
                None => kept.and_then(|s| s.right_is),
            },
            source_is: match self.source_is {
                Some(SourceChoice::Buccal) => Some(SourceSide::Buccal),
                Some(SourceChoice::Lingual) => Some(SourceSide::Lingual),
                None => kept.and_then(|s| s.source_is),
            },
            extra: kept.map(|s| s.extra.clone()).unwrap_or_default(),
        })
    }
}

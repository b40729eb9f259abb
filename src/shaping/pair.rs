//! Two films brought over each other: scales, marks, registration.
//!
//! Frames: `before_mm` is the tooth frame of the first film, in which every
//! result is; `after_detector` the detector frame of the second. Without any
//! scale the first frame is in its detector units, and no length is reported.

use kurbo::Point;

use super::error::ShapingError;
use super::picture::Picture;
use super::settings::ShapingSettings;
use crate::calibration::{DetectorFrame, DetectorUnit};
use crate::case::Case;
use crate::measure::findings::{Findings, ScaleFinding};
use crate::measure::{InputError, MeasureSettings, Model, measure_with_model};
use crate::registration::{
    Registration, RegistrationError, Scale, Similarity, centroid, expected_residual_rms, register,
    target_error_rms,
};
use crate::statistics::chi_squared_quantile;
use crate::units::FilmPoint;

/// A measured film.
#[derive(Clone, Debug)]
pub struct MeasuredPicture {
    /// The case as it was measured: with the scale from the marks where it has
    /// none of its own.
    pub case: Case,
    pub findings: Findings,
    pub model: Model,
}

/// Two films brought over each other.
#[derive(Clone, Debug)]
pub struct Pair {
    pub before: MeasuredPicture,
    pub after: MeasuredPicture,
    /// Film → detector units in which the films are registered.
    frames: [DetectorFrame; 2],
    /// True mm per detector unit of the first film; `None` without any scale.
    pub mm_before: Option<f64>,
    /// Relative standard uncertainty of the scale of the first film.
    pub u_scale: f64,
    /// Relative standard uncertainty of the two scales against each other,
    /// where both films have one of their own.
    pub u_scale_ratio: f64,
    /// Names of the marks in use.
    pub names: Vec<String>,
    /// The marks of the first film, mm (detector units without a scale).
    pub marks_before: Vec<Point>,
    /// The marks of the second film, detector units.
    pub marks_after: Vec<Point>,
    /// First film, mm → second film, detector units.
    pub registration: Registration,
    pub scale: Scale,
    /// Standard deviation of a click per coordinate on each film, mm.
    pub click_sd: [f64; 2],
    /// The same of a mark: that of a click, unless the pictures themselves
    /// brought the marks over each other.
    pub mark_sd: [f64; 2],
    /// They did.
    pub marks_are_matched: bool,
    /// Marks that leave more than their clicks explain are taken for this
    /// much worse.
    pub mark_excess: f64,
    /// px of the second film per px of the first, and what the marks alone say.
    pub px_scale: f64,
    pub px_scale_from_marks: f64,
}

impl Pair {
    /// Registers two films.
    ///
    /// # Errors
    /// [`ShapingError`]: marks that are missing, in a line, of opposite sides
    /// or of different objects; inputs that cannot be used.
    pub fn new(
        before: &Picture,
        after: &Picture,
        settings: &ShapingSettings,
    ) -> Result<Self, ShapingError> {
        let first = measured(before, before.case.clone(), &settings.measure)?;
        let second = measured(after, after.case.clone(), &settings.measure)?;
        let common = common_marks(before, after)?;
        let (frame_a, frame_b) = (first.model.frame, second.model.frame);
        if common.len() < 3 {
            return Err(RegistrationError::TooFewMarks {
                given: common.len(),
            }
            .into());
        }
        let of = |picks: fn(&(String, FilmPoint, FilmPoint)) -> FilmPoint,
                  frame: DetectorFrame|
         -> Vec<Point> {
            let mapped = common.iter().map(|m| frame.detector_from_film(picks(m)));
            mapped.collect()
        };
        let in_a: Vec<Point> = of(|m| m.1, frame_a);
        let in_b: Vec<Point> = of(|m| m.2, frame_b);
        let own = [own_mm(&first), own_mm(&second)];

        let free = register(&in_a, &in_b, Scale::Free)?;
        let mm_before = own[0].or(own[1].map(|mm| mm * free.transform.scale));
        let unit = mm_before.unwrap_or(1.0);
        let marks_before: Vec<Point> = in_a.iter().map(|p| scaled(*p, unit)).collect();
        let scale = match own {
            [Some(_), Some(mm_b)] => Scale::Fixed(mm_b.recip()),
            _ => Scale::Free,
        };
        let registration = register(&marks_before, &in_b, scale)?;
        let pitches = frame_a.mean_pitch() / frame_b.mean_pitch();

        let (mut first, mut second) = (first, second);
        if let Some(mm_a) = mm_before {
            // The second film measures with the scale of the first.
            let mm_b = mm_a / free.transform.scale;
            if own[1].is_none() {
                second = with_pitch(after, frame_b, mm_b, &settings.measure)?;
            }
            if own[0].is_none() {
                first = with_pitch(before, frame_a, mm_a, &settings.measure)?;
            }
        }
        let mm_after = registration.transform.scale.recip();
        let clicks = [
            click_sd(&before.case, frame_a, unit, mm_before.is_some(), settings),
            click_sd(
                &after.case,
                frame_b,
                mm_after,
                mm_before.is_some(),
                settings,
            ),
        ];
        let u = [
            relative_u(&first.findings.scale),
            relative_u(&second.findings.scale),
        ];
        let u_scale = if own[0].is_some() { u[0] } else { u[1] };
        let u_scale_ratio = match scale {
            Scale::Fixed(_) => u[0].hypot(u[1]),
            Scale::Free => 0.0,
        };
        // Judged by the marks alone: calibrations that disagree are another
        // matter.
        let residual_free = free.residual_rms / free.transform.scale * unit;
        let mut pair = Self {
            before: first,
            after: second,
            frames: [frame_a, frame_b],
            mm_before,
            u_scale,
            u_scale_ratio,
            names: common.into_iter().map(|m| m.0).collect(),
            marks_before,
            marks_after: in_b,
            px_scale: registration.transform.scale * unit * pitches,
            px_scale_from_marks: free.transform.scale * pitches,
            registration,
            scale,
            click_sd: clicks,
            mark_sd: match after.marks_u_px {
                // Against each other; half the variance for each.
                Some(px) => [px * frame_b.mean_pitch() * mm_after / 2f64.sqrt(); 2],
                None => clicks,
            },
            marks_are_matched: after.marks_u_px.is_some(),
            mark_excess: 1.0,
        };
        pair.judge(residual_free, settings)?;
        Ok(pair)
    }

    /// Refuses marks that do not fit, and finds how much worse than their
    /// clicks they are.
    fn judge(
        &mut self,
        residual_free: f64,
        settings: &ShapingSettings,
    ) -> Result<(), ShapingError> {
        let unit = self.registration.transform.scale;
        let residual = self.registration.residual_rms / unit;
        let mirrored = self.registration.mirrored_residual_rms / unit;
        let limit = match self.mm_before {
            Some(_) => settings.greatest_residual_mm,
            // Without a scale: the same share of the marks' extent that the
            // limit is of a block of 20 mm.
            None => settings.greatest_residual_mm / 20.0 * self.extent(),
        };
        // How far one film's marks would have to be off by chance.
        let by_chance = 4.0 * self.expected_residual();
        if residual > limit.min(by_chance).max(0.25 * limit) && mirrored < 0.25 * residual {
            return Err(ShapingError::OppositeSides {
                residual: self.words(residual),
                mirrored: self.words(mirrored),
            });
        }
        if residual > limit {
            return Err(ShapingError::Different {
                residual: self.words(residual),
                worst: self.names[self.registration.worst()].clone(),
            });
        }
        let n = self.names.len() as f64;
        let dof = 2.0 * n - Scale::Free.parameter_count() as f64;
        let chi_squared = n * (residual_free / self.pair_sd()).powi(2);
        let usual = chi_squared_quantile(0.99, dof).unwrap_or(f64::INFINITY);
        // Marks that are stated to be exact have no excess.
        if self.pair_sd() > 0.0 && chi_squared > usual {
            self.mark_excess = (chi_squared / dof).sqrt();
        }
        Ok(())
    }

    fn words(&self, length: f64) -> String {
        let unit = if self.mm_before.is_some() { "mm" } else { "px" };
        format!("{length:.2} {unit}")
    }

    /// Greatest distance between two marks.
    fn extent(&self) -> f64 {
        let marks = &self.marks_before;
        let from = |a: &Point| marks.iter().map(|b| a.distance(*b)).fold(0.0, f64::max);
        marks.iter().map(from).fold(0.0, f64::max)
    }

    /// Standard deviation per coordinate of a mark against its partner, mm.
    pub fn pair_sd(&self) -> f64 {
        self.mark_sd[0].hypot(self.mark_sd[1])
    }

    /// The residual that clicks alone leave on average, mm.
    pub fn expected_residual(&self) -> f64 {
        expected_residual_rms(self.names.len(), self.pair_sd(), self.scale)
    }

    /// Predicted error of the registration at a place of the first film, root
    /// mean square of both coordinates together, mm.
    pub fn error_at(&self, place_mm: Point) -> f64 {
        let sd = self.pair_sd() * self.mark_excess;
        let by_marks = target_error_rms(&self.marks_before, place_mm, sd, self.scale);
        let centre = centroid(&self.marks_before);
        by_marks.hypot(self.u_scale_ratio * centre.distance(place_mm))
    }

    /// A point of the first film, mm (detector units without a scale).
    pub fn before_mm(&self, point: FilmPoint) -> Point {
        let frame = self.frames[0];
        scaled(
            frame.detector_from_film(point),
            self.mm_before.unwrap_or(1.0),
        )
    }

    /// A point of the second film in the first film's frame, mm, by the given
    /// registration.
    pub fn after_mm(&self, point: FilmPoint, transform: &Similarity) -> Point {
        let frame = self.frames[1];
        transform.inverse().map(frame.detector_from_film(point))
    }

    /// A point of the second film in its detector units.
    pub fn after_detector(&self, point: FilmPoint) -> Point {
        self.frames[1].detector_from_film(point)
    }

    /// px of the first film per mm (per detector unit without a scale).
    pub fn px_per_mm(&self) -> f64 {
        (self.frames[0].mean_pitch() * self.mm_before.unwrap_or(1.0)).recip()
    }

    /// Standard deviation of a click on a wall, mm, or detector units of the
    /// second film.
    pub fn wall_click_sd(&self, on_after: bool) -> f64 {
        let unit = if on_after {
            self.registration.transform.scale
        } else {
            1.0
        };
        self.click_sd[usize::from(on_after)] * unit
    }

    /// One px, mm, or detector units of the second film.
    pub fn one_px(&self, on_after: bool) -> f64 {
        let px = self.frames[usize::from(on_after)].mean_pitch();
        if on_after {
            px
        } else {
            px * self.mm_before.unwrap_or(1.0)
        }
    }

    /// Film point of the first film of a place, mm.
    pub fn film_from_mm(&self, place_mm: Point) -> FilmPoint {
        let unit = self.mm_before.unwrap_or(1.0);
        let frame = self.frames[0];
        frame.film_from_detector(scaled(place_mm, unit.recip()))
    }
}

fn scaled(point: Point, factor: f64) -> Point {
    (point.to_vec2() * factor).to_point()
}

fn own_mm(picture: &MeasuredPicture) -> Option<f64> {
    picture
        .model
        .nominal_tooth_per_detector()
        .filter(|mm| mm.is_finite() && *mm > 0.0)
}

fn relative_u(scale: &ScaleFinding) -> f64 {
    let relative = scale.u_mm_per_px.zip(scale.mm_per_px).map(|(u, mm)| u / mm);
    relative.filter(|u| u.is_finite()).unwrap_or(0.0)
}

fn measured(
    picture: &Picture,
    case: Case,
    settings: &MeasureSettings,
) -> Result<MeasuredPicture, ShapingError> {
    let name = picture.name.clone();
    let (findings, model) =
        measure_with_model(&case, &picture.film, &name, settings).map_err(|error| {
            ShapingError::Input {
                film: name.clone(),
                error,
            }
        })?;
    let outside = |place: String, point: FilmPoint| ShapingError::Input {
        film: name.clone(),
        error: InputError::OutsideFilm {
            place,
            x: point.x,
            y: point.y,
            width: picture.film.width_px,
            height: picture.film.height_px,
        },
    };
    let on_film = |p: FilmPoint| {
        p.is_finite()
            && (0.0..=f64::from(picture.film.width_px)).contains(&p.x)
            && (0.0..=f64::from(picture.film.height_px)).contains(&p.y)
    };
    for mark in &case.marks {
        if !on_film(mark.px) {
            return Err(outside(format!("mark \"{}\"", mark.name), mark.px));
        }
    }
    for canal in &case.canals {
        for (what, walls) in [
            ("wall", &canal.walls),
            ("root outline", &canal.root_outline),
        ] {
            let Some(walls) = walls else { continue };
            for (side, points) in [("left", &walls.left_px), ("right", &walls.right_px)] {
                if let Some((i, &point)) = points.iter().enumerate().find(|(_, p)| !on_film(**p)) {
                    let place = format!("canal {}, {side} {what}, point {}", canal.name, i + 1);
                    return Err(outside(place, point));
                }
            }
        }
    }
    Ok(MeasuredPicture {
        case,
        findings,
        model,
    })
}

/// The picture measured at a scale that the other film gives it.
fn with_pitch(
    picture: &Picture,
    frame: DetectorFrame,
    mm_per_detector: f64,
    settings: &MeasureSettings,
) -> Result<MeasuredPicture, ShapingError> {
    let mut case = picture.case.clone();
    let [x, y] = [(1.0, 0.0), (0.0, 1.0)].map(|(x, y)| {
        let unit = frame.detector_from_film(FilmPoint::new(x, y)).to_vec2();
        unit.hypot() * mm_per_detector
    });
    case.film.pixel_pitch_mm = Some([y, x]);
    case.film.magnification = None;
    measured(picture, case, settings)
}

/// Standard deviation of a click on a mark, in mm of the tooth frame.
fn click_sd(
    case: &Case,
    frame: DetectorFrame,
    mm_per_detector: f64,
    has_scale: bool,
    settings: &ShapingSettings,
) -> f64 {
    let stated = settings.measure.uncertainty.stated_in(case);
    let click_mm = case.click_noise_mm.unwrap_or(stated.click_mm);
    match (frame.unit(), has_scale) {
        // Clicks are stated in mm at the detector.
        (DetectorUnit::Mm, _) => click_mm * mm_per_detector,
        (DetectorUnit::Px, true) => click_mm,
        (DetectorUnit::Px, false) => stated.click_px * mm_per_detector,
    }
}

fn common_marks(
    before: &Picture,
    after: &Picture,
) -> Result<Vec<(String, FilmPoint, FilmPoint)>, ShapingError> {
    for picture in [before, after] {
        let marks = &picture.case.marks;
        for (i, mark) in marks.iter().enumerate() {
            if marks[..i].iter().any(|m| m.name == mark.name) {
                return Err(ShapingError::SameMark {
                    film: picture.name.clone(),
                    name: mark.name.clone(),
                });
            }
        }
    }
    let partner = |name: &str| after.case.marks.iter().find(|m| m.name == name);
    let common = before.case.marks.iter().filter_map(|mark| {
        let other = partner(&mark.name)?;
        Some((mark.name.clone(), mark.px, other.px))
    });
    Ok(common.collect())
}

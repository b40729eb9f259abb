//! What a case must satisfy before anything is computed from it.

use kurbo::Point;

use super::click_noise::LEAST_CLICK_DOF;
use super::input_error::{DUPLICATE_DISTANCE_PX, InputError, in_range};
use super::inputs::PlaceKind;
use super::stated::STATED_INPUTS;
use crate::calibration::rim_span_rad;
use crate::case::{
    Canal, Case, EarlierFilm, Followed, LANDMARKS, ScaleObject, ScaleObjectKind, WallReading,
    WallSide,
};
use crate::tooth::ToothNumber;
use crate::units::FilmPoint;

/// Longest length anyone can mean on a periapical film, mm: twice the longest
/// instrument (31 mm, SEEN-2).
const LARGEST_LENGTH_MM: f64 = 62.0;

/// Our own limits, far above any real case: a hostile one must not keep a class
/// waiting. A molar has six canals at most, a followed trace some hundred points.
const MOST_CANALS: usize = 64;
const MOST_OBJECTS: usize = 64;
const MOST_POINTS: usize = 2000;
const MOST_LETTERS: usize = 200;

/// Shorter arcs of a ball's rim do not tell its diameter: with three points on
/// 120° it is three times as uncertain as with points all around, on 60°
/// fourteen times (DERIVED, see [`crate::calibration::u_diameter`]).
const LEAST_RIM_RAD: f64 = 119.0 * std::f64::consts::PI / 180.0;

/// Checks a whole case against a film of `width` × `height` px.
///
/// # Errors
/// The first [`InputError`] in reading order.
pub fn check(case: &Case, width: u32, height: u32) -> Result<(), InputError> {
    let film = Raster { width, height };
    check_film_facts(case)?;
    if let Some(earlier) = &case.scale.earlier_film {
        check_earlier_film(earlier, [width, height])?;
    }
    at_most("canals", "canals", case.canals.len(), MOST_CANALS)?;
    let objects = case.scale.objects.len();
    at_most("scale", "objects", objects, MOST_OBJECTS)?;
    for canal in &case.canals {
        let letters = canal.name.chars().count();
        at_most("name of a canal", "letters", letters, MOST_LETTERS)?;
    }
    for (i, object) in case.scale.objects.iter().enumerate() {
        check_object(object, &format!("scale object {}", i + 1), &film)?;
    }
    if let Some(tooth) = &case.tooth {
        ToothNumber::parse(tooth.notation, &tooth.number)?;
    }
    for (i, canal) in case.canals.iter().enumerate() {
        if case.canals[..i].iter().any(|c| c.name == canal.name) {
            return Err(InputError::SameName {
                name: canal.name.clone(),
            });
        }
        check_canal(canal, &film)?;
        if case.runs_from_apex(canal) {
            let place = format!("canal {}: trace", canal.name);
            return Err(InputError::RunsFromApex { place });
        }
        if case.file_runs_from_tip(canal) {
            let place = format!("file in canal {}", canal.name);
            return Err(InputError::RunsFromTip { place });
        }
    }
    Ok(())
}

fn check_film_facts(case: &Case) -> Result<(), InputError> {
    let film = &case.film;
    for pitch in film.pixel_pitch_mm.into_iter().flatten() {
        in_range("film.pixel_pitch_mm", pitch, "mm", 0.001, 1.0)?;
    }
    let letters = film.equipment.as_ref().map_or(0, |e| e.chars().count());
    at_most("film.equipment", "letters", letters, MOST_LETTERS)?;
    if let Some(m) = film.magnification {
        in_range("film.magnification", m, "", 0.5, 3.0)?;
    }
    for (place, distance) in [
        ("film.source_to_detector_mm", film.source_to_detector_mm),
        ("film.source_to_tooth_mm", film.source_to_tooth_mm),
    ] {
        if let Some(distance) = distance {
            in_range(place, distance, "mm", 10.0, 5000.0)?;
        }
    }
    if let (Some(detector), Some(tooth)) = (film.source_to_detector_mm, film.source_to_tooth_mm) {
        in_range("film.source_to_tooth_mm", tooth, "mm", 10.0, detector)?;
    }
    let by_kind = case.click_noise_by_kind_mm.unwrap_or_default();
    let kinds = PlaceKind::ALL.map(|kind| by_kind.of(kind));
    for noise in kinds.into_iter().chain([case.click_noise_mm]).flatten() {
        in_range("click noise", noise, "mm", 0.0, 5.0)?;
    }
    for input in &STATED_INPUTS {
        if let Some(stated) = input.of(case) {
            let place = format!("input_uncertainty.{}", input.key);
            in_range(&place, stated, input.unit, 0.0, input.greatest)?;
        }
    }
    let dof_by_kind = case.click_noise_dof_by_kind.unwrap_or_default();
    for dof in PlaceKind::ALL.iter().filter_map(|&k| dof_by_kind.of(k)) {
        in_range("click_noise_dof_by_kind", dof, "", LEAST_CLICK_DOF, 1e6)?;
    }
    Ok(())
}

fn check_earlier_film(earlier: &EarlierFilm, size_px: [u32; 2]) -> Result<(), InputError> {
    const PLACE: &str = "scale.earlier_film";
    let scale = earlier.mm_per_px;
    in_range(&format!("{PLACE}.mm_per_px"), scale, "mm", 0.001, 1.0)?;
    let u = earlier.u_mm_per_px;
    in_range(&format!("{PLACE}.u_mm_per_px"), u, "mm", 0.0, 0.5 * scale)?;
    let letters = earlier.basis.chars().count();
    at_most(&format!("{PLACE}.basis"), "letters", letters, MOST_LETTERS)?;
    if !earlier.has_size_of(size_px) {
        let [width, height] = earlier.size_px;
        let [this_width, this_height] = size_px;
        return Err(InputError::OtherReceptor {
            width,
            height,
            this_width,
            this_height,
        });
    }
    Ok(())
}

fn check_object(object: &ScaleObject, place: &str, film: &Raster) -> Result<(), InputError> {
    check_trace(&object.points_px, place, 2, film)?;
    if object.kind == ScaleObjectKind::Ball && object.points_px.len() > 2 {
        let rim: Vec<_> = object
            .points_px
            .iter()
            .map(|p| Point::new(p.x, p.y))
            .collect();
        if rim_span_rad(&rim).is_none_or(|span| span < LEAST_RIM_RAD) {
            let place = place.to_owned();
            return Err(InputError::Rim { place });
        }
    }
    let place = format!("{place}: {}", object.kind.row().size_key);
    match object.known_size_mm() {
        Some(size) => in_range(&place, size, "mm", 0.1, LARGEST_LENGTH_MM),
        None => Err(InputError::Missing { place }),
    }
}

fn check_canal(canal: &Canal, film: &Raster) -> Result<(), InputError> {
    let name = &canal.name;
    if !canal.trace_px.is_empty() {
        let place = format!("canal {name}: trace");
        check_trace(&canal.trace_px, &place, 2, film)?;
    }
    let file = canal.file.as_ref();
    for row in &LANDMARKS {
        if let Some(point) = row.landmark.of(canal) {
            let what = row.name.to_lowercase();
            film.contains(point, &format!("canal {name}: {what}"))?;
        }
    }
    if let Some(followed) = &canal.followed {
        check_followed(followed, &format!("canal {name}: followed"), film)?;
    }
    if let Some(walls) = &canal.walls {
        for side in WallSide::BOTH {
            let (points, place) = (
                walls.side(side),
                format!("canal {name}: {} wall", side.word()),
            );
            check_trace(points, &place, 2, film)?;
            if let Some(followed) = &walls.followed {
                let place = format!("canal {name}: walls.followed.{}", side.word());
                check_wall_reading(followed.side(side), points.len(), &place)?;
            }
        }
        if let Some(u_px) = walls.u_px {
            in_range(
                &format!("canal {name}: walls.u_px"),
                u_px,
                "px",
                1e-3,
                100.0,
            )?;
        }
    }
    for (landmark, point) in &canal.landmarks {
        film.contains(*point, &format!("canal {name}: landmark {landmark}"))?;
    }
    if let Some(set_length) = file.and_then(|f| f.set_length_mm) {
        let place = format!("canal {name}: file.set_length_mm");
        in_range(&place, set_length, "mm", 1.0, LARGEST_LENGTH_MM)?;
    }
    if let Some(allowance) = canal.allowance_mm {
        in_range(
            &format!("canal {name}: allowance_mm"),
            allowance,
            "mm",
            0.0,
            5.0,
        )?;
    }
    Ok(())
}

fn check_followed(followed: &Followed, place: &str, film: &Raster) -> Result<(), InputError> {
    let points = followed.points_px.len();
    at_most(place, "readings", points, MOST_POINTS)?;
    for point in &followed.points_px {
        film.contains(*point, place)?;
    }
    let numbers = [
        ("u_px", &followed.u_px),
        ("common_u_px", &followed.common_u_px),
    ];
    for (key, numbers) in numbers {
        if numbers.len() != points {
            return Err(InputError::Uneven {
                place: format!("{place}.{key}"),
                found: numbers.len(),
                needed: points,
            });
        }
        for &u_px in numbers {
            in_range(&format!("{place}.{key}"), u_px, "px", 1e-3, 100.0)?;
        }
    }
    let kinds = followed.on_instrument.len();
    if kinds != 0 && kinds != points {
        return Err(InputError::Uneven {
            place: format!("{place}.on_instrument"),
            found: kinds,
            needed: points,
        });
    }
    let over = format!("{place}.common_over_px");
    in_range(&over, followed.common_over_px, "px", 1.0, 1e4)
}

fn check_wall_reading(reading: &WallReading, points: usize, place: &str) -> Result<(), InputError> {
    let counts = [
        ("u_px", reading.u_px.len()),
        ("common_u_px", reading.common_u_px.len()),
    ];
    for (key, found) in counts {
        if found != points {
            return Err(InputError::Uneven {
                place: format!("{place}.{key}"),
                found,
                needed: points,
            });
        }
    }
    for &u_px in reading.u_px.iter().flatten() {
        in_range(&format!("{place}.u_px"), u_px, "px", 1e-3, 100.0)?;
    }
    for &u_px in &reading.common_u_px {
        in_range(&format!("{place}.common_u_px"), u_px, "px", 0.0, 100.0)?;
    }
    let over = format!("{place}.common_over_px");
    in_range(&over, reading.common_over_px, "px", 1.0, 1e4)
}

fn check_trace(
    points: &[FilmPoint],
    place: &str,
    needed: usize,
    film: &Raster,
) -> Result<(), InputError> {
    at_most(place, "points", points.len(), MOST_POINTS)?;
    for point in points {
        film.contains(*point, place)?;
    }
    if points.len() < needed {
        return Err(InputError::TooFewPoints {
            place: place.to_owned(),
            found: points.len(),
            needed,
        });
    }
    for second in 1..points.len() {
        let near = |p: &FilmPoint| p.distance_px(points[second]) < DUPLICATE_DISTANCE_PX;
        if let Some(first) = points[..second].iter().position(near) {
            return Err(InputError::Duplicate {
                place: place.to_owned(),
                first: first + 1,
                second: second + 1,
            });
        }
    }
    Ok(())
}

fn at_most(place: &str, what: &'static str, found: usize, most: usize) -> Result<(), InputError> {
    if found <= most {
        return Ok(());
    }
    let place = place.to_owned();
    Err(InputError::TooMany {
        place,
        what,
        found,
        most,
    })
}

struct Raster {
    width: u32,
    height: u32,
}

impl Raster {
    fn contains(&self, point: FilmPoint, place: &str) -> Result<(), InputError> {
        let inside = (0.0..=f64::from(self.width)).contains(&point.x)
            && (0.0..=f64::from(self.height)).contains(&point.y);
        if inside {
            Ok(())
        } else {
            Err(InputError::OutsideFilm {
                place: place.to_owned(),
                x: point.x,
                y: point.y,
                width: self.width,
                height: self.height,
            })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{self, Case};
    use std::path::Path;

    fn case(canal: &str, objects: &str) -> Case {
        let text = format!(
            r#"{{"format": "lengthfilm-case", "version": 1, "film": {{"path": "film.png"}},
                "scale": {{"objects": [{objects}]}}, "canals": [{{"name": "MB", {canal}}}]}}"#
        );
        case::parse(text.as_bytes(), Path::new("a.case.json")).unwrap()
    }

    fn message(canal: &str, objects: &str) -> String {
        check(&case(canal, objects), 100, 200)
            .unwrap_err()
            .to_string()
    }

    #[test]
    fn a_sound_case_passes() {
        let sound = case(
            r#""trace_px": [[10, 10], [10, 100], [100, 200]], "apex_px": [99, 200]"#,
            r#"{"kind": "ruler", "true_length_mm": 10, "points_px": [[1, 1], [1, 50]]}"#,
        );
        assert_eq!(check(&sound, 100, 200), Ok(()));
    }

    #[test]
    fn each_fault_is_named_with_its_place() {
        assert!(message(r#""trace_px": [[10, 10], [10, 200.5]]"#, "").contains("outside the film"));
        assert!(message(r#""apex_px": [-0.1, 3]"#, "").starts_with("canal MB: apex"));
        let doubled = message(r#""trace_px": [[10, 10], [20, 20], [10.1, 10.2]]"#, "");
        assert!(doubled.contains("points 1 and 3"), "{doubled}");
        assert!(message(r#""trace_px": [[10, 10]]"#, "").contains("at least 2"));
        assert!(
            message(r#""file": {"set_length_mm": 210}"#, "").contains("210 mm is not possible")
        );
        assert!(message(r#""allowance_mm": -1"#, "").contains("allowance_mm"));
        let wall = message(
            r#""walls": {"left_px": [[1, 1], [1, 9]], "right_px": [[3, 1], [3, 900]]}"#,
            "",
        );
        assert!(wall.contains("canal MB: right wall") && wall.contains("outside the film"));
        let turned = r#""trace_px": [[10, 190], [10, 100], [10, 10]]"#;
        for known in [r#""apex_px": [12, 195]"#, r#""reference_px": [12, 2]"#] {
            let turned = message(&format!("{turned}, {known}"), "");
            assert!(turned.contains("from the apex"), "{turned}");
        }
        let no_length = message(
            r#""trace_px": []"#,
            r#"{"kind": "file", "points_px": [[1, 1], [1, 50]]}"#,
        );
        assert!(
            no_length.contains("true_length_mm: is missing"),
            "{no_length}"
        );
        let zero = r#"{"kind": "ball", "true_diameter_mm": 0, "points_px": [[1, 1], [1, 50]]}"#;
        assert!(message(r#""trace_px": []"#, zero).contains("true_diameter_mm"));
    }

    #[test]
    fn numbers_that_are_not_finite_are_refused() {
        let mut bad = case(r#""trace_px": [[10, 10], [10, 100]]"#, "");
        bad.canals[0].trace_px[0].x = f64::NAN;
        assert!(matches!(
            check(&bad, 100, 200),
            Err(InputError::OutsideFilm { .. })
        ));
        bad.canals[0].trace_px[0].x = 1.0;
        bad.film.magnification = Some(f64::INFINITY);
        assert!(matches!(
            check(&bad, 100, 200),
            Err(InputError::OutOfRange { .. })
        ));
    }
}

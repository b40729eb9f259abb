//! From space to both films and from one film to the other, for a fitted pair.

use nalgebra::{Vector2, Vector3};

use super::film_plane::FilmPlane;
use super::fit::Fitted;
use super::geometry::View;
use super::pair::Pair;
use crate::units::FilmPoint;

/// Things that show on both films lie within this depth of the canal, mm (our
/// choice: half the width of a molar and to spare).
const DEPTH_MM: f64 = 12.0;

/// Where places of space show on both films.
#[derive(Clone, Debug)]
pub struct PairOnFilms([OneFilm; 2]);

#[derive(Clone, Debug)]
struct OneFilm {
    plane: FilmPlane,
    /// Where the origin of space shows, mm.
    middle: Vector2<f64>,
    /// What the film lies higher than film A, mm.
    shift_mm: f64,
    view: View,
}

impl OneFilm {
    fn film_from_shadow(&self, shadow: Vector2<f64>) -> FilmPoint {
        let lifted = Vector2::new(shadow.x, shadow.y + self.shift_mm);
        self.plane.film_from_mm(lifted + self.middle)
    }

    fn shadow_from_film(&self, at: FilmPoint) -> Vector2<f64> {
        let shadow = self.plane.mm_from_film(at) - self.middle;
        Vector2::new(shadow.x, shadow.y - self.shift_mm)
    }
}

impl PairOnFilms {
    pub(super) fn new(pair: &Pair, fitted: &Fitted) -> Self {
        Self([0, 1].map(|film: usize| OneFilm {
            plane: pair.observations[film].plane.clone(),
            middle: pair.middles[film],
            shift_mm: if film == 0 { 0.0 } else { fitted.shift_mm() },
            view: pair.films[film].view,
        }))
    }

    /// Where a place of space (x, y, z, mm) shows on film A (0) or B (1).
    pub fn film_from_space(&self, film: usize, place_mm: [f64; 3]) -> Option<FilmPoint> {
        let film = self.0.get(film)?;
        Some(film.film_from_shadow(film.view.shadow(&Vector3::from(place_mm))))
    }

    /// The line on the other film on which a place must show that shows at
    /// `at` on film `from`, at whatever depth it lies.
    pub fn same_height(&self, from: usize, at: FilmPoint) -> Option<[FilmPoint; 2]> {
        let other = 1usize.checked_sub(from)?;
        let [from, other] = [&self.0[from], &self.0[other]];
        let shadow = from.shadow_from_film(at);
        let ends = from
            .view
            .same_place_in(&other.view, shadow, [-DEPTH_MM, DEPTH_MM])?;
        Some(ends.map(|end| other.film_from_shadow(end)))
    }
}

//! A case on the same film with more or fewer pixels.

use super::{Canal, Case, WallReading, Walls};
use crate::units::FilmPoint;

impl Case {
    /// Moves everything onto a film whose columns are `x` and whose rows are `y`
    /// times as many.
    pub fn scale_points(&mut self, [x, y]: [f64; 2]) {
        let scale = |p: &mut FilmPoint| *p = FilmPoint::new(p.x * x, p.y * y);
        for object in &mut self.scale.objects {
            object.points_px.iter_mut().for_each(scale);
        }
        self.marks.iter_mut().for_each(|mark| scale(&mut mark.px));
        for canal in &mut self.canals {
            canal.scale_points([x, y]);
        }
        // A typed pitch holds on the old raster.
        if let Some([row, column]) = &mut self.film.pixel_pitch_mm {
            (*row, *column) = (*row / y, *column / x);
        }
    }
}

impl Canal {
    fn scale_points(&mut self, [x, y]: [f64; 2]) {
        let scale = |p: &mut FilmPoint| *p = FilmPoint::new(p.x * x, p.y * y);
        self.trace_px.iter_mut().for_each(scale);
        if let Some(followed) = &mut self.followed {
            followed.scale([x, y]);
        }
        self.landmarks.values_mut().for_each(scale);
        let tip = self.file.as_mut().and_then(|f| f.tip_px.as_mut());
        for place in [
            self.reference_px.as_mut(),
            self.apex_px.as_mut(),
            self.foramen_px.as_mut(),
            tip,
        ] {
            place.into_iter().for_each(scale);
        }
        let lines = self.walls.iter_mut().chain(&mut self.root_outline);
        lines.for_each(|walls| walls.scale([x, y]));
    }
}

impl Walls {
    fn scale(&mut self, [x, y]: [f64; 2]) {
        for point in self.left_px.iter_mut().chain(&mut self.right_px) {
            *point = FilmPoint::new(point.x * x, point.y * y);
        }
        let mean = (x * y).abs().sqrt();
        if let Some(u_px) = &mut self.u_px {
            *u_px *= mean;
        }
        if let Some(followed) = &mut self.followed {
            followed.left.scale(mean);
            followed.right.scale(mean);
        }
    }
}

impl WallReading {
    fn scale(&mut self, mean: f64) {
        let own = self.u_px.iter_mut().flatten();
        own.chain(&mut self.common_u_px).for_each(|u| *u *= mean);
        self.common_over_px *= mean;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{Mark, WallReadings};

    /// On a film with twice the columns and rows every place lies twice as far
    /// from the corner, every uncertainty is twice as many pixels, and as many mm
    /// as before.
    #[test]
    fn everything_moves_with_the_film() {
        let at = |x: f64, y: f64| FilmPoint::new(x, y);
        let reading = WallReading {
            u_px: vec![Some(0.5), None],
            common_u_px: vec![0.25, 0.0],
            common_over_px: 30.0,
            ..WallReading::default()
        };
        let walls = Walls {
            left_px: vec![at(1.0, 2.0), at(3.0, 40.0)],
            right_px: vec![at(5.0, 2.0), at(7.0, 40.0)],
            followed: Some(WallReadings {
                left: reading.clone(),
                right: reading,
                ..WallReadings::default()
            }),
            ..Walls::default()
        };
        let mut case = Case::on_film("film.png");
        case.film.pixel_pitch_mm = Some([0.02, 0.02]);
        case.marks.push(Mark {
            name: "1".to_owned(),
            px: at(10.0, 20.0),
            extra: serde_json::Map::new(),
        });
        case.canals.push(Canal {
            trace_px: vec![at(3.0, 4.0)],
            apex_px: Some(at(5.0, 6.0)),
            walls: Some(walls.clone()),
            root_outline: Some(walls),
            ..Canal::default()
        });
        case.scale_points([2.0, 2.0]);
        assert_eq!(case.film.pixel_pitch_mm, Some([0.01, 0.01]));
        assert_eq!(case.marks[0].px, at(20.0, 40.0));
        let canal = &case.canals[0];
        assert_eq!(canal.trace_px, [at(6.0, 8.0)]);
        assert_eq!(canal.apex_px, Some(at(10.0, 12.0)));
        assert_eq!(canal.walls, canal.root_outline);
        let walls = canal.walls.as_ref().expect("walls");
        assert_eq!(walls.left_px[1], at(6.0, 80.0));
        let left = &walls.followed.as_ref().expect("readings").left;
        assert_eq!(left.u_px, [Some(1.0), None]);
        assert_eq!(left.common_u_px, [0.5, 0.0]);
        assert!((left.common_over_px - 60.0).abs() < 1e-12);
    }
}

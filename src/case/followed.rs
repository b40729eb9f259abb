//! What the film itself says of a line that was followed.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::Canal;
use super::segments::nearest_segment;
use crate::units::FilmPoint;

/// Readings of a followed canal: places of its centre, each read from a short
/// stretch of the film alone. Angles can be fitted to them in place of clicks.
///
/// The error of a reading across the line has two parts: noise of its own
/// (`u_px`), and what it has in common with its neighbours (`common_u_px`), such
/// as the shadow of bone beside the canal, which is another one further along
/// (`common_over_px`).
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Followed {
    /// Places of the line's centre.
    pub points_px: Vec<FilmPoint>,
    /// Standard uncertainty of each across the line that no other shares, px.
    pub u_px: Vec<f64>,
    /// Standard uncertainty of each across the line that its neighbours share,
    /// px.
    pub common_u_px: Vec<f64>,
    /// Way along the line over which that is shared, px.
    pub common_over_px: f64,
    /// Whether each was read on an instrument in the canal, not on the canal
    /// itself; absent: none is known to be.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub on_instrument: Vec<bool>,
    /// Keys unknown to this version.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

impl Followed {
    /// Keeps the readings for which `stays` holds.
    fn retain(&mut self, stays: impl Fn(FilmPoint) -> bool) {
        let kept: Vec<bool> = self.points_px.iter().map(|p| stays(*p)).collect();
        let mut next = kept.iter().copied();
        self.points_px.retain(|_| next.next().unwrap_or(false));
        for numbers in [&mut self.u_px, &mut self.common_u_px] {
            let mut next = kept.iter().copied();
            numbers.retain(|_| next.next().unwrap_or(false));
        }
        let mut next = kept.iter().copied();
        self.on_instrument.retain(|_| next.next().unwrap_or(false));
    }

    /// On a film whose columns are `x` and whose rows are `y` times as many.
    pub fn scale(&mut self, [x, y]: [f64; 2]) {
        for point in &mut self.points_px {
            *point = FilmPoint::new(point.x * x, point.y * y);
        }
        let mean = (x * y).abs().sqrt();
        let lengths = self.u_px.iter_mut().chain(&mut self.common_u_px);
        lengths.for_each(|length| *length *= mean);
        self.common_over_px *= mean;
    }
}

impl Canal {
    /// Forgets the readings beside a point of the trace, up to its neighbours:
    /// the point is moved or taken away, and the hand knows better there. To be
    /// called while the point is where it was.
    pub fn forget_readings_beside(&mut self, index: usize) {
        self.forget_readings(|segment| segment == index || segment + 1 == index);
    }

    /// Forgets the readings between a point of the trace and the next one.
    pub fn forget_readings_after(&mut self, index: usize) {
        self.forget_readings(|segment| segment == index);
    }

    /// Forgets the readings nearest to the segments chosen.
    fn forget_readings(&mut self, is_gone: impl Fn(usize) -> bool) {
        let Some(followed) = &mut self.followed else {
            return;
        };
        let trace = &self.trace_px;
        followed.retain(|point| nearest_segment(trace, point).is_some_and(|s| !is_gone(s)));
        if followed.points_px.is_empty() {
            self.followed = None;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn followed_canal() -> Canal {
        let at = |y: f64| FilmPoint::new(50.0, y);
        Canal {
            trace_px: vec![at(0.0), at(100.0), at(200.0), at(300.0)],
            followed: Some(Followed {
                points_px: (0..30).map(|k| at(5.0 + 10.0 * f64::from(k))).collect(),
                u_px: (0..30).map(|k| 1.0 + f64::from(k) / 100.0).collect(),
                common_u_px: (0..30).map(|k| 2.0 + f64::from(k) / 100.0).collect(),
                common_over_px: 40.0,
                ..Followed::default()
            }),
            ..Canal::default()
        }
    }

    /// A moved point takes the readings beside it with it and no other; each
    /// that stays keeps its own uncertainties.
    #[test]
    fn a_dragged_stretch_loses_its_readings() {
        let mut canal = followed_canal();
        canal.forget_readings_beside(1);
        let left = canal.followed.clone().expect("readings are left");
        assert!(left.points_px.iter().all(|p| p.y > 200.0));
        assert_eq!(left.points_px.len(), 10);
        assert_eq!((left.u_px[0], left.common_u_px[0]), (1.2, 2.2));
        canal.forget_readings_after(2);
        assert_eq!(canal.followed, None);
        let mut canal = followed_canal();
        canal.forget_readings_beside(3);
        assert_eq!(canal.followed.map(|f| f.points_px.len()), Some(20));
    }
}

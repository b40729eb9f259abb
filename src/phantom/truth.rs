//! What is true of a phantom film, in mm of the tooth and px of the film.

use nalgebra::Vector3;
use serde::{Deserialize, Serialize};

use super::anatomy::foramen_to_apex;
use super::parts::FileSpec;
use super::path::CanalPath;
use super::projection::Projection;
use super::scene::Scene;
use super::second::{PlacedPath, second_path};
use super::spec::PhantomSpec;
use super::visibility::Visibility;
use crate::units::FilmPoint;

/// Spacing of the dense lines, mm.
const DENSE_STEP_MM: f64 = 0.1;
/// Spacing used to integrate projected lengths, mm.
const FINE_STEP_MM: f64 = 0.01;

/// One bend of the canal, in space and as the film shows it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CurveTruth {
    /// Signed turn in space, degrees; positive = clockwise on the film.
    pub turn_deg: f64,
    /// Radius in space, mm.
    pub radius_mm: f64,
    /// Start and end of the arc from the radiographic apex, along the path.
    pub start_from_apex_mm: f64,
    /// See `start_from_apex_mm`.
    pub end_from_apex_mm: f64,
    /// Signed turn between the projected tangents, degrees.
    pub projected_turn_deg: f64,
    /// Projected arc length over projected turn, in mm of the tooth's plane.
    pub projected_radius_mm: f64,
    /// Where the arc starts on the film.
    pub start_px: FilmPoint,
    /// Where it ends.
    pub end_px: FilmPoint,
}

/// The file standing in the canal.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FileTruth {
    /// Tooth-side face of the stop → tip along the file, mm.
    pub stop_to_tip_mm: f64,
    /// Tip → radiographic apex along the path, mm; positive = short.
    pub tip_to_apex_mm: f64,
    /// Tip → radiographic apex straight in space, same sign, mm.
    pub tip_to_apex_straight_mm: f64,
    /// Tip → foramen along the path, mm; positive = short of it.
    pub tip_to_foramen_mm: f64,
    /// Tip in the tooth frame, mm.
    pub tip_mm: [f64; 3],
    /// Tip on the film.
    pub tip_px: FilmPoint,
    /// Centre of the stop's tooth-side face on the film.
    pub stop_px: FilmPoint,
    /// Centre line, stop face → tip.
    pub centre_line_px: Vec<FilmPoint>,
    /// Its length on the film.
    pub stop_to_tip_px: f64,
    /// The tip lies on the exposed film and is not hidden by metal.
    #[serde(default = "shown")]
    pub tip_visible: bool,
    /// Share of the stop that shows, 0–1; 0 where its tooth-side face is
    /// hidden or lies off the film.
    #[serde(default = "wholly")]
    pub stop_visible_share: f64,
}

/// What files of films without clutter leave out.
fn shown() -> bool {
    true
}

fn wholly() -> f64 {
    1.0
}

/// A further file, in another canal.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SecondFileTruth {
    /// Tooth-side face of the stop → tip along the file, mm.
    pub stop_to_tip_mm: f64,
    /// Tip on the film.
    pub tip_px: FilmPoint,
    /// Centre of the stop's tooth-side face on the film.
    pub stop_px: FilmPoint,
    /// Centre line, stop face → tip.
    pub centre_line_px: Vec<FilmPoint>,
    /// Its canal, orifice → foramen.
    pub canal_px: Vec<FilmPoint>,
    /// See [`FileTruth::tip_visible`].
    pub tip_visible: bool,
    /// See [`FileTruth::stop_visible_share`].
    pub stop_visible_share: f64,
}

/// One root of the film.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RootTruth {
    /// End of the root.
    pub apex_px: FilmPoint,
    /// The apex lies on the exposed film.
    pub apex_visible: bool,
    /// Canal, orifice → foramen.
    pub canal_px: Vec<FilmPoint>,
    /// The root that holds the canal under treatment.
    pub treated: bool,
}

/// Everything true of one phantom film.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// The frames used, in words.
    pub frame: String,
    /// The recipe, with the geometry of the exposure.
    pub spec: PhantomSpec,
    /// Columns and rows of the finished film.
    pub film_size_px: [u32; 2],
    /// `[row, column]` pitch of the finished film, mm at the detector.
    pub pixel_pitch_mm: [f64; 2],
    /// Detector distance over object distance at the canal's mid-length.
    pub magnification: f64,
    /// True mm per px `[row, column]` at the canal's mid-length.
    pub mm_per_px: [f64; 2],

    /// Canal centre line orifice → foramen, tooth frame, mm.
    pub centre_line_mm: Vec<[f64; 3]>,
    /// Coronal reference point, tooth frame, mm.
    pub reference_mm: [f64; 3],
    /// Orifice, tooth frame, mm.
    pub orifice_mm: [f64; 3],
    /// Foramen, tooth frame, mm.
    pub foramen_mm: [f64; 3],
    /// Root apex, tooth frame, mm.
    pub apex_mm: [f64; 3],

    /// Orifice → foramen along the canal.
    pub canal_length_mm: f64,
    /// Orifice → foramen along the canal, then straight to the apex.
    pub orifice_to_apex_mm: f64,
    /// Reference point → apex along the path, the same way.
    pub reference_to_apex_mm: f64,
    /// Reference point → foramen along the path.
    pub reference_to_foramen_mm: f64,
    /// Orifice → foramen straight.
    pub chord_mm: f64,
    /// Orifice → apex straight.
    pub orifice_to_apex_chord_mm: f64,
    /// Foramen → apex straight.
    pub foramen_to_apex_mm: f64,

    /// Orifice → foramen on the film.
    pub canal_length_px: f64,
    /// Reference point → apex on the film.
    pub reference_to_apex_px: f64,
    /// Projected orifice → foramen in mm of the tooth's plane: what an
    /// errorless trace of this one film gives.
    pub canal_length_as_projected_mm: f64,

    /// Bends, coronal first.
    pub curves: Vec<CurveTruth>,
    /// The file, if there is one.
    pub file: Option<FileTruth>,
    /// Further files.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub second_files: Vec<SecondFileTruth>,
    /// All roots of the film, the treated one first; left out on films without
    /// clutter.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub roots: Vec<RootTruth>,

    /// Reference point on the film.
    pub reference_px: FilmPoint,
    /// Orifice on the film.
    pub orifice_px: FilmPoint,
    /// Foramen on the film.
    pub foramen_px: FilmPoint,
    /// Radiographic apex on the film: the end of the root.
    pub apex_px: FilmPoint,
    /// Canal centre line orifice → foramen.
    pub canal_px: Vec<FilmPoint>,
    /// Outline of the treated root, up one side and down the other.
    pub root_outline_px: Vec<FilmPoint>,
    /// Ends of the ruler, if there is one.
    pub ruler_px: Option<[FilmPoint; 2]>,
    /// Centre of the ball, if there is one.
    pub ball_px: Option<FilmPoint>,
}

fn array(v: Vector3<f64>) -> [f64; 3] {
    [v.x, v.y, v.z]
}

/// `count + 1` even places from `from` to `to`, at most `step` apart.
fn places(from: f64, to: f64, step: f64) -> impl Iterator<Item = f64> {
    let count = ((to - from).abs() / step).ceil().max(1.0) as usize;
    (0..=count).map(move |i| from + (to - from) * i as f64 / count as f64)
}

/// Measures lengths on the film.
struct FilmRule<'a> {
    path: &'a CanalPath,
    projection: &'a Projection,
    /// `[row, column]`.
    mm_per_px: [f64; 2],
}

impl FilmRule<'_> {
    fn point(&self, along_mm: f64) -> FilmPoint {
        self.projection.film_px(self.path.point(along_mm))
    }

    fn length_px(&self, from: f64, to: f64) -> f64 {
        let points: Vec<_> = places(from, to, FINE_STEP_MM)
            .map(|s| self.point(s))
            .collect();
        points.windows(2).map(|w| w[0].distance_px(w[1])).sum()
    }

    fn step_mm(&self, a: FilmPoint, b: FilmPoint) -> [f64; 2] {
        [
            (b.x - a.x) * self.mm_per_px[1],
            (b.y - a.y) * self.mm_per_px[0],
        ]
    }

    fn length_mm(&self, from: f64, to: f64) -> f64 {
        let points: Vec<_> = places(from, to, FINE_STEP_MM)
            .map(|s| self.point(s))
            .collect();
        points
            .windows(2)
            .map(|w| {
                let [x, y] = self.step_mm(w[0], w[1]);
                x.hypot(y)
            })
            .sum()
    }

    /// Signed turn of the projected tangent, radians.
    fn turn_rad(&self, from: f64, to: f64) -> f64 {
        let heading = |s: f64| {
            let [x, y] = self.step_mm(self.point(s - 1e-4), self.point(s + 1e-4));
            y.atan2(x)
        };
        let turn = heading(to - 1e-4) - heading(from + 1e-4);
        (turn + std::f64::consts::PI).rem_euclid(std::f64::consts::TAU) - std::f64::consts::PI
    }
}

impl Truth {
    pub(super) fn new(
        spec: &PhantomSpec,
        path: &CanalPath,
        projection: &Projection,
        scene: &Scene,
    ) -> Self {
        let [orifice_s, foramen_s] = [path.orifice_mm, path.foramen_mm];
        let foramen = path.point(foramen_s);
        let to_apex = foramen_to_apex(spec);
        let apex = foramen + to_apex;
        let apex_s = foramen_s + to_apex.norm();
        let orifice = path.point(orifice_s);
        let [mut rows, mut columns] = [spec.detector.height_px, spec.detector.width_px];
        let mut pitch = spec.detector.pixel_pitch_mm;
        if spec.view.quarter_turns % 2 == 1 {
            std::mem::swap(&mut rows, &mut columns);
            pitch.reverse();
        }
        let magnification = projection.magnification(path.point((orifice_s + foramen_s) / 2.0));
        let mm_per_px = pitch.map(|p| p / magnification);
        let film = |point| projection.film_px(point);
        let visibility = Visibility::new(spec, scene, projection);
        let shown = |file: &FileSpec, path: &PlacedPath| {
            let tip = path.point(file.set_length_mm);
            (
                visibility.shows_metal(tip),
                visibility.stop_share(file, path),
            )
        };
        let rule = FilmRule {
            path,
            projection,
            mm_per_px,
        };
        let curves = path
            .bends
            .iter()
            .map(|bend| {
                let turn = rule.turn_rad(bend.start_mm, bend.end_mm);
                CurveTruth {
                    turn_deg: bend.turn_rad.to_degrees(),
                    radius_mm: bend.radius_mm,
                    start_from_apex_mm: apex_s - bend.start_mm,
                    end_from_apex_mm: apex_s - bend.end_mm,
                    projected_turn_deg: turn.to_degrees(),
                    projected_radius_mm: rule.length_mm(bend.start_mm, bend.end_mm) / turn.abs(),
                    start_px: rule.point(bend.start_mm),
                    end_px: rule.point(bend.end_mm),
                }
            })
            .collect();
        let file = spec.file.as_ref().map(|file| {
            let tip_s = file.set_length_mm;
            let tip = path.point(tip_s);
            let short = apex_s - tip_s;
            let (tip_visible, stop_visible_share) = shown(file, &PlacedPath::unmoved(path));
            FileTruth {
                tip_visible,
                stop_visible_share,
                stop_to_tip_mm: tip_s,
                tip_to_apex_mm: short,
                tip_to_apex_straight_mm: (apex - tip).norm().copysign(short),
                tip_to_foramen_mm: foramen_s - tip_s,
                tip_mm: array(tip),
                tip_px: film(tip),
                stop_px: rule.point(0.0),
                centre_line_px: places(0.0, tip_s, DENSE_STEP_MM)
                    .map(|s| rule.point(s))
                    .collect(),
                stop_to_tip_px: rule.length_px(0.0, tip_s),
            }
        });
        let second_files = spec
            .clutter
            .second_files
            .iter()
            .map(|second| {
                let (file, path) = (&second.file, second_path(spec, second));
                let (tip_visible, stop_visible_share) = shown(file, &path);
                SecondFileTruth {
                    stop_to_tip_mm: file.set_length_mm,
                    tip_px: film(path.point(file.set_length_mm)),
                    stop_px: film(path.point(0.0)),
                    centre_line_px: places(0.0, file.set_length_mm, DENSE_STEP_MM)
                        .map(|s| film(path.point(s)))
                        .collect(),
                    canal_px: places(path.orifice_mm(), path.foramen_mm(), DENSE_STEP_MM)
                        .map(|s| film(path.point(s)))
                        .collect(),
                    tip_visible,
                    stop_visible_share,
                }
            })
            .collect();
        let roots = if spec.clutter.is_none() {
            Vec::new()
        } else {
            scene
                .root_places()
                .iter()
                .map(|root| RootTruth {
                    apex_px: film(root.apex),
                    apex_visible: visibility.on_film(root.apex),
                    canal_px: root.canal.iter().map(|s| film(s.centre)).collect(),
                    treated: root.treated,
                })
                .collect()
        };
        let dense = || places(orifice_s, foramen_s, DENSE_STEP_MM);
        Self {
            frame: "tooth frame, mm: origin at the coronal reference point, y apically along the \
                    straight coronal canal, x across in the tooth's mid-plane, z towards the \
                    source; film frame, px: x right, y down, (0, 0) the outer corner of the first \
                    pixel"
                .into(),
            spec: spec.clone(),
            film_size_px: [columns, rows],
            pixel_pitch_mm: pitch,
            magnification,
            mm_per_px,
            centre_line_mm: dense().map(|s| array(path.point(s))).collect(),
            reference_mm: array(path.point(0.0)),
            orifice_mm: array(orifice),
            foramen_mm: array(foramen),
            apex_mm: array(apex),
            canal_length_mm: foramen_s - orifice_s,
            orifice_to_apex_mm: apex_s - orifice_s,
            reference_to_apex_mm: apex_s,
            reference_to_foramen_mm: foramen_s,
            chord_mm: (foramen - orifice).norm(),
            orifice_to_apex_chord_mm: (apex - orifice).norm(),
            foramen_to_apex_mm: to_apex.norm(),
            canal_length_px: rule.length_px(orifice_s, foramen_s),
            reference_to_apex_px: rule.length_px(0.0, foramen_s)
                + film(foramen).distance_px(film(apex)),
            canal_length_as_projected_mm: rule.length_mm(orifice_s, foramen_s),
            curves,
            file,
            second_files,
            roots,
            reference_px: rule.point(0.0),
            orifice_px: film(orifice),
            foramen_px: film(foramen),
            apex_px: film(apex),
            canal_px: dense().map(|s| rule.point(s)).collect(),
            root_outline_px: scene
                .treated_root()
                .outline()
                .into_iter()
                .map(film)
                .collect(),
            ruler_px: spec.ruler.map(|ruler| {
                let [x, y] = ruler.start_mm;
                let end = y + f64::from(ruler.divisions);
                [
                    film(Vector3::new(x, y, 0.0)),
                    film(Vector3::new(x, end, 0.0)),
                ]
            }),
            ball_px: spec
                .ball
                .map(|ball| film(Vector3::new(ball.centre_mm[0], ball.centre_mm[1], 0.0))),
        }
    }
}

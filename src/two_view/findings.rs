//! What two films say together. Field names are the JSON keys of
//! `two-view --json`.

use serde::Serialize;

use super::geometry::Receptor;
use crate::measure::findings::Warning;
use crate::units::Quantity;

/// Everything found on two films of one canal.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TwoViewFindings {
    pub case_a: String,
    pub case_b: String,
    pub canal: String,
    /// Angle from film A to film B, degrees, as used.
    pub angle_deg: f64,
    /// Half width of the angle, degrees (rectangular).
    pub angle_half_width_deg: f64,
    pub receptor: Receptor,
    /// `cone_beam` or `parallel`.
    pub rays: &'static str,
    /// What the scales of both films rest on.
    pub calibration: CalibrationFinding,
    /// Orifice → apex along the curve in space.
    pub length_mm: Quantity,
    /// Angle between the directions at both ends.
    pub net_turn_deg: Quantity,
    /// All turning along the curve, whatever its direction.
    pub total_turn_deg: Quantity,
    pub curves: Vec<SpaceCurveFinding>,
    /// A curve that the points neither show nor exclude; `null` without one
    /// worth saying.
    pub possible_further_curve: Option<FurtherCurveFinding>,
    /// Bend that a straight canal would stay below in 95 % of film pairs like
    /// this one.
    pub noise_floor_deg: f64,
    /// Greatest difference in height of the same place on both films after the
    /// common shift, at the ends.
    pub mismatch_mm: f64,
    /// `arcs`: straight pieces and arcs; `smooth`: what no few arcs follow.
    pub form: &'static str,
    /// Reference point → apex in space; `null` where a film has no reference
    /// point.
    pub reference_to_apex_mm: Option<Quantity>,
    /// That less the allowance.
    pub working_length_mm: Option<Quantity>,
    pub allowance_mm: f64,
    /// Places along the curve: x across film A, y in depth towards its source,
    /// z along the common axis towards the apex.
    pub path_mm: Vec<[f64; 3]>,
    pub film_a: FilmAlone,
    pub film_b: FilmAlone,
    /// Other canals seen on both films, by depth against this one.
    pub other_canals: Vec<OtherCanal>,
    pub draws: usize,
    pub warnings: Vec<Warning>,
}

/// One bend in space.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpaceCurveFinding {
    /// Not negative.
    pub turn_deg: Quantity,
    pub radius_mm: Quantity,
    /// Where it bends to: 0 towards +x of film A, 90 towards the source, ±180.
    pub plane_deg: f64,
    /// Half width of the 95 % interval of `plane_deg`; `null` where every
    /// plane is possible.
    pub plane_u95_deg: Option<f64>,
    /// The same in words.
    pub towards: String,
    pub start_from_apex_mm: f64,
    pub end_from_apex_mm: f64,
    /// Greater than what a straight canal would seem to bend.
    pub distinguishable: bool,
    /// Bend that a straight canal would stay below here, degrees.
    pub noise_floor_deg: f64,
    /// What film A shows of the turn, degrees.
    pub film_a_turn_deg: f64,
    /// What film B shows of the turn, degrees.
    pub film_b_turn_deg: f64,
}

/// A curve beside those listed that cannot be excluded.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FurtherCurveFinding {
    /// 95 % of the draws have less of a further turn, degrees.
    pub turn_upto_deg: f64,
    /// Middle of its place.
    pub from_apex_mm: f64,
    /// Draws with such a curve, per cent.
    pub draws_percent: f64,
}

/// What one film shows without the other.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FilmAlone {
    pub case: String,
    /// Curved length by this film alone.
    pub length_mm: Option<f64>,
    /// Total turn by this film alone, degrees.
    pub total_turn_deg: Option<f64>,
    /// Length of the shadow of the curve in space, mm.
    pub shadow_length_mm: f64,
    /// Reference point → apex less the allowance by this film alone.
    pub working_length_mm: Option<f64>,
    /// That less the working length in space.
    pub working_length_difference_mm: Option<f64>,
    /// Clockwise right angles that the film was turned by to bring the apex
    /// down.
    pub quarter_turns: u8,
}

/// What both scales rest on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CalibrationFinding {
    /// `shared_file`, or `own_scales`.
    pub source: &'static str,
    /// By how much each film's own scale was off, per cent; `null` without a
    /// shared file.
    pub film_a_scale_off_percent: Option<f64>,
    pub film_b_scale_off_percent: Option<f64>,
}

/// Where another canal lies.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OtherCanal {
    pub name: String,
    /// Depth at the apex against this canal, mm; positive towards the source.
    pub depth_mm: Quantity,
    /// `buccal`, `lingual`, `towards the source`, `away from the source`, or
    /// `not decided`.
    pub side: String,
}

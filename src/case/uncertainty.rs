//! What the user states about the uncertainty of the inputs. Absent: the
//! defaults of measuring.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What kind of place is clicked; decides the noise of the click and its line in
/// the budget.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PlaceKind {
    /// Coronal reference point, or the tooth-side face of a stop.
    Reference,
    /// File tip.
    Tip,
    /// Radiographic apex.
    Apex,
    /// Point of a canal's trace.
    Canal,
    /// Point of an object of known size.
    ScaleObject,
    /// Curvature landmark moved by the user.
    Curvature,
}

impl PlaceKind {
    /// All kinds, in the order of their weight.
    pub const ALL: [Self; 6] = [
        Self::Reference,
        Self::Tip,
        Self::Apex,
        Self::Canal,
        Self::ScaleObject,
        Self::Curvature,
    ];
}

/// One number for each kind of place that is clicked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ByPlaceKind {
    /// Coronal reference point and stop faces.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reference: Option<f64>,
    /// File tips.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tip: Option<f64>,
    /// Radiographic apex.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub apex: Option<f64>,
    /// Points of a canal's trace.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub canal: Option<f64>,
    /// Points of scale objects.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale_object: Option<f64>,
    /// Curvature landmarks moved by hand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub curvature: Option<f64>,
}

impl ByPlaceKind {
    /// What is stated for one kind.
    pub fn of(&self, kind: PlaceKind) -> Option<f64> {
        let mut copy = *self;
        *copy.slot(kind)
    }

    /// Where it is stated for one kind.
    pub fn slot(&mut self, kind: PlaceKind) -> &mut Option<f64> {
        match kind {
            PlaceKind::Reference => &mut self.reference,
            PlaceKind::Tip => &mut self.tip,
            PlaceKind::Apex => &mut self.apex,
            PlaceKind::Canal => &mut self.canal,
            PlaceKind::ScaleObject => &mut self.scale_object,
            PlaceKind::Curvature => &mut self.curvature,
        }
    }
}

/// How well everything but the clicks is known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StatedUncertainty {
    /// Half width of the reading of a set length, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reading_half_width_mm: Option<f64>,
    /// Half width of a nominal ISO length, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nominal_half_width_mm: Option<f64>,
    /// Half width of a ruler's length, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ruler_half_width_mm: Option<f64>,
    /// Half width of a ball's diameter, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ball_half_width_mm: Option<f64>,
    /// Standard uncertainty of pixel pitch and magnification together, per
    /// cent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub film_scale_percent: Option<f64>,
    /// Standard uncertainty of the depth between a canal and a file in
    /// another canal, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth_to_other_canal_mm: Option<f64>,
    /// The same between a canal and a ruler or ball, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth_to_object_mm: Option<f64>,
    /// Half width of the lean of the root against the detector, degrees.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lean_half_width_deg: Option<f64>,
    /// Half width of the turn of a bend's plane out of the film's plane,
    /// degrees.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bend_plane_half_width_deg: Option<f64>,
    /// Standard uncertainty per coordinate of the root's end about the
    /// canal's end, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub apex_aside_mm: Option<f64>,
    /// Standard uncertainty per coordinate of an assisted point, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub assisted_mm: Option<f64>,
    /// Standard uncertainty per coordinate of an apex taken as suggested, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub assisted_apex_mm: Option<f64>,
    /// Standard uncertainty per coordinate of a click where neither pitch nor
    /// scale is known, px.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub click_px: Option<f64>,
}

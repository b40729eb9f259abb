//! The kinds of input an uncertainty may come from, in words.

use super::inputs::{PlaceKind, ScalarKind};

/// A kind of input: one line of a budget.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum InputGroup {
    /// Clicks on one kind of place.
    Clicks(PlaceKind),
    /// A scalar of one kind.
    Scalar(ScalarKind),
}

impl InputGroup {
    /// All groups, in a fixed order.
    pub const ALL: [Self; 15] = [
        Self::Clicks(PlaceKind::Reference),
        Self::Clicks(PlaceKind::Tip),
        Self::Clicks(PlaceKind::Apex),
        Self::Clicks(PlaceKind::Canal),
        Self::Clicks(PlaceKind::ScaleObject),
        Self::Clicks(PlaceKind::Curvature),
        Self::Scalar(ScalarKind::SetLength),
        Self::Scalar(ScalarKind::KnownLength),
        Self::Scalar(ScalarKind::FilmScale),
        Self::Scalar(ScalarKind::Depth),
        Self::Scalar(ScalarKind::Tilt),
        Self::Scalar(ScalarKind::BendPlane),
        Self::Scalar(ScalarKind::ApexAside),
        Self::Scalar(ScalarKind::CurveForm),
        Self::Scalar(ScalarKind::FilmReading),
    ];

    /// Stable code.
    pub fn code(self) -> &'static str {
        match self {
            Self::Clicks(PlaceKind::Reference) => "reference",
            Self::Clicks(PlaceKind::Tip) => "tip",
            Self::Clicks(PlaceKind::Apex) => "apex",
            Self::Clicks(PlaceKind::Canal) => "canal",
            Self::Clicks(PlaceKind::ScaleObject) => "scale_object",
            Self::Clicks(PlaceKind::Curvature) => "curvature",
            Self::Scalar(ScalarKind::SetLength) => "set_length",
            Self::Scalar(ScalarKind::KnownLength) => "known_length",
            Self::Scalar(ScalarKind::FilmScale) => "film_scale",
            Self::Scalar(ScalarKind::Depth) => "depth",
            Self::Scalar(ScalarKind::Tilt) => "tilt",
            Self::Scalar(ScalarKind::BendPlane) => "bend_plane",
            Self::Scalar(ScalarKind::ApexAside) => "apex_aside",
            Self::Scalar(ScalarKind::CurveForm) => "curve_form",
            Self::Scalar(ScalarKind::FilmReading) => "film_reading",
        }
    }

    /// The group in words, to follow "rules:".
    pub fn words(self) -> &'static str {
        match self {
            Self::Clicks(PlaceKind::Reference) => "the click on the reference point",
            Self::Clicks(PlaceKind::Tip) => "the click on the file tip",
            Self::Clicks(PlaceKind::Apex) => "the click on the apex",
            Self::Clicks(PlaceKind::Canal) => "the points of the trace",
            Self::Clicks(PlaceKind::ScaleObject) => "the points of scale objects",
            Self::Clicks(PlaceKind::Curvature) => "the curvature landmarks moved by hand",
            Self::Scalar(ScalarKind::SetLength) => "the file's set length",
            Self::Scalar(ScalarKind::KnownLength) => "the known length of ruler or ball",
            Self::Scalar(ScalarKind::FilmScale) => "pixel pitch and magnification",
            Self::Scalar(ScalarKind::Depth) => "the depth between scale object and canal",
            Self::Scalar(ScalarKind::Tilt) => "the tilt of the root against the detector",
            Self::Scalar(ScalarKind::BendPlane) => "curves towards or away from the source",
            Self::Scalar(ScalarKind::ApexAside) => "the apex lying beside the canal's end",
            Self::Scalar(ScalarKind::CurveForm) => "the choice of the curve's form",
            Self::Scalar(ScalarKind::FilmReading) => "what the film shows of the canal's line",
        }
    }
}

impl InputGroup {
    /// What makes this input more certain, as an order to the user.
    pub fn remedy(self) -> &'static str {
        match self {
            Self::Clicks(PlaceKind::Reference) => {
                "Mark the reference point, or the stop's tooth-side face, at a higher zoom."
            }
            Self::Clicks(PlaceKind::Tip) => "Mark the file tip at a higher zoom.",
            Self::Clicks(PlaceKind::Apex) => {
                "Mark the apex at a higher zoom, with the contrast set for the root's end."
            }
            Self::Clicks(PlaceKind::Canal) => {
                "Trace at a higher zoom, and set more points where the canal curves."
            }
            Self::Clicks(PlaceKind::ScaleObject) => {
                "Mark the scale object at a higher zoom, and use its whole length."
            }
            Self::Clicks(PlaceKind::Curvature) => {
                "Move the curvature landmarks at a higher zoom, or leave them automatic."
            }
            Self::Scalar(ScalarKind::SetLength) => {
                "Read the file on a ruler with quarter millimetres, and state that reading."
            }
            Self::Scalar(ScalarKind::KnownLength) => {
                "Use a ruler or ball whose size is known better, and state how well."
            }
            Self::Scalar(ScalarKind::FilmScale) => {
                "Trace a file of known length in this canal: it brings its own scale."
            }
            Self::Scalar(ScalarKind::Depth) => {
                "Trace a file in this very canal: it lies at the canal's own depth."
            }
            Self::Scalar(ScalarKind::Tilt) => {
                "Trace a file in this canal, which tilts with it, or use a film holder and state \
                 the tilt that is left."
            }
            Self::Scalar(ScalarKind::BendPlane) => {
                "One film cannot show it: take a second view from the side."
            }
            Self::Scalar(ScalarKind::ApexAside) => {
                "End the trace where the canal itself ends, and mark the apex apart from it."
            }
            Self::Scalar(ScalarKind::CurveForm) => "Set more points in the curve and behind it.",
            Self::Scalar(ScalarKind::FilmReading) => {
                "Use a film on which the canal shows more clearly, or one with a file in it."
            }
        }
    }

    /// Its words name several things.
    pub fn is_plural(self) -> bool {
        matches!(
            self,
            Self::Clicks(PlaceKind::Canal | PlaceKind::ScaleObject | PlaceKind::Curvature)
                | Self::Scalar(ScalarKind::FilmScale | ScalarKind::BendPlane)
        )
    }

    /// The group of a code; `None` for one this version does not know.
    pub fn from_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|group| group.code() == code)
    }

    /// The group as the first cell of a table: "The file's set length".
    pub fn label(self) -> String {
        let words = self.words();
        words[..1].to_uppercase() + &words[1..]
    }
}

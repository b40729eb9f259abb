//! Directions in space in the words of the trade.

use std::f64::consts::FRAC_PI_4;

use crate::case::{RightOfFilm, SourceSide};
use crate::units::Quantity;

/// The sides that the user has named.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Sides {
    pub right: Option<RightOfFilm>,
    pub source: Option<SourceSide>,
}

impl Sides {
    fn across(self, positive: bool, quarter_turns: u8) -> &'static str {
        // Half a turn of the film changes left and right; after a quarter turn
        // x runs down the film as it was opened.
        let right_is_positive = quarter_turns == 0;
        match (self.right, quarter_turns % 2) {
            (_, 1) if positive == (quarter_turns == 3) => "bottom of film A",
            (_, 1) => "top of film A",
            (None, _) if positive == right_is_positive => "right of film A",
            (None, _) => "left of film A",
            (Some(RightOfFilm::Mesial), _) if positive == right_is_positive => "mesial",
            (Some(RightOfFilm::Distal), _) if positive == right_is_positive => "distal",
            (Some(RightOfFilm::Mesial), _) => "distal",
            (Some(RightOfFilm::Distal), _) => "mesial",
        }
    }

    fn depth(self, towards_source: bool) -> &'static str {
        match (self.source, towards_source) {
            (None, true) => "towards the source",
            (None, false) => "away from the source",
            (Some(SourceSide::Buccal), true) | (Some(SourceSide::Lingual), false) => "buccal",
            (Some(SourceSide::Buccal), false) | (Some(SourceSide::Lingual), true) => "lingual",
        }
    }

    /// Where a bend points whose plane stands at `plane_rad` about the shared
    /// axis: the nearer side first, the other one where it has a part.
    pub fn towards(self, plane_rad: f64, quarter_turns: u8) -> String {
        let (sine, cosine) = plane_rad.sin_cos();
        let across = self.across(cosine >= 0.0, quarter_turns);
        let depth = self.depth(sine >= 0.0);
        // Within an eighth of a right angle of one side the other is left out.
        let eighth = (FRAC_PI_4 / 4.0).sin();
        if sine.abs() < eighth {
            across.to_owned()
        } else if cosine.abs() < eighth {
            depth.to_owned()
        } else if cosine.abs() >= sine.abs() {
            format!("{across}, partly {depth}")
        } else {
            format!("{depth}, partly {across}")
        }
    }

    /// Where something lies in depth; undecided where its interval holds 0.
    pub fn depth_words(self, depth_mm: Quantity) -> String {
        if depth_mm.value.abs() <= depth_mm.u95 {
            "not decided".to_owned()
        } else {
            self.depth(depth_mm.value > 0.0).to_owned()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plane_is_named_by_its_nearer_side_first() {
        let sides = Sides {
            right: Some(RightOfFilm::Distal),
            source: Some(SourceSide::Buccal),
        };
        for (degrees, plain, named) in [
            (0.0, "right of film A", "distal"),
            (180.0, "left of film A", "mesial"),
            (90.0, "towards the source", "buccal"),
            (-90.0, "away from the source", "lingual"),
            (
                30.0,
                "right of film A, partly towards the source",
                "distal, partly buccal",
            ),
            (
                -120.0,
                "away from the source, partly left of film A",
                "lingual, partly mesial",
            ),
        ] {
            let plane = f64::to_radians(degrees);
            assert_eq!(Sides::default().towards(plane, 0), plain);
            assert_eq!(sides.towards(plane, 0), named);
        }
        assert_eq!(Sides::default().towards(0.0, 2), "left of film A");
    }

    #[test]
    fn depth_is_named_only_where_it_is_decided() {
        let quantity = |value, u95| Quantity { value, u95 };
        assert_eq!(
            Sides::default().depth_words(quantity(1.0, 1.2)),
            "not decided"
        );
        assert_eq!(
            Sides::default().depth_words(quantity(-2.0, 1.2)),
            "away from the source"
        );
    }
}

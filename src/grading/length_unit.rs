//! The one unit that all lengths of a graded film have.

/// Unit of the paths, distances and stations of a reference and of what is held
/// against it. Names say `_mm` or `_px` only where a number is always that.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LengthUnit {
    /// mm in the tooth's plane.
    Millimetre,
    /// px of the film: the reference has no scale.
    Pixel,
}

impl LengthUnit {
    /// As printed.
    pub fn name(self) -> &'static str {
        self.pick("mm", "px")
    }

    /// What goes by this unit.
    pub fn pick<T>(self, in_mm: T, in_px: T) -> T {
        match self {
            Self::Millimetre => in_mm,
            Self::Pixel => in_px,
        }
    }

    /// There is a scale.
    pub fn is_mm(self) -> bool {
        self == Self::Millimetre
    }
}

//! Sizes and colours of ISO 3630-1.

/// A colour of the standard's code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum IsoColour {
    Pink,
    Grey,
    Purple,
    White,
    Yellow,
    Red,
    Blue,
    Green,
    Black,
}

impl IsoColour {
    /// The colour's name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Pink => "pink",
            Self::Grey => "grey",
            Self::Purple => "purple",
            Self::White => "white",
            Self::Yellow => "yellow",
            Self::Red => "red",
            Self::Blue => "blue",
            Self::Green => "green",
            Self::Black => "black",
        }
    }

    /// How it is shown, sRGB (our choice: the standard names colours only).
    pub fn rgb(self) -> [u8; 3] {
        match self {
            Self::Pink => [240, 150, 185],
            Self::Grey => [140, 140, 140],
            Self::Purple => [120, 65, 155],
            Self::White => [255, 255, 255],
            Self::Yellow => [250, 210, 40],
            Self::Red => [205, 40, 45],
            Self::Blue => [35, 90, 180],
            Self::Green => [30, 135, 70],
            Self::Black => [20, 20, 20],
        }
    }
}

/// A size that the standard gives a colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StandardSize {
    /// Tip diameter, hundredths of a millimetre.
    pub size: u16,
    pub colour: IsoColour,
    /// A size between two of the series, marked with gold as well.
    pub half: bool,
}

const fn whole(size: u16, colour: IsoColour) -> StandardSize {
    StandardSize {
        size,
        colour,
        half: false,
    }
}

const fn half(size: u16, colour: IsoColour) -> StandardSize {
    StandardSize {
        size,
        colour,
        half: true,
    }
}

/// Sizes with their colours, ascending (ISO 3630-1 as restated by a teaching
/// text, SEEN; the half sizes' colours are those of the size before them).
pub const STANDARD_SIZES: [StandardSize; 27] = {
    use IsoColour::*;
    [
        whole(6, Pink),
        whole(8, Grey),
        whole(10, Purple),
        half(12, Purple),
        whole(15, White),
        half(17, White),
        whole(20, Yellow),
        half(22, Yellow),
        whole(25, Red),
        half(27, Red),
        whole(30, Blue),
        half(32, Blue),
        whole(35, Green),
        half(37, Green),
        whole(40, Black),
        whole(45, White),
        whole(50, Yellow),
        whole(55, Red),
        whole(60, Blue),
        whole(70, Green),
        whole(80, Black),
        whole(90, White),
        whole(100, Yellow),
        whole(110, Red),
        whole(120, Blue),
        whole(130, Green),
        whole(140, Black),
    ]
};

/// The standard's entry for a tip size; `None` for a size of one's own.
pub fn colour_of(size: f64) -> Option<StandardSize> {
    let found = STANDARD_SIZES.iter();
    found
        .copied()
        .find(|standard| (f64::from(standard.size) - size).abs() < 1e-6)
}

/// Largest deviation of a diameter that the standard allows, mm: 0.02 up to
/// size 60 (ISO 3630-1, MEM-H), 0.04 above (edition of 1992, MEM-M).
pub fn tip_tolerance_mm(size: f64) -> f64 {
    if size <= 60.0 { 0.02 } else { 0.04 }
}

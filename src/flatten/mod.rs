//! Photographs of a film, a print or a practice block made flat: four corners
//! of a rectangle of known size give the plane's perspective (docs/photographs.md).
//!
//! Frames: `photo` is px of the photograph after its EXIF turn; `plane` is mm on
//! the rectangle, x right, y down, the origin its top left corner; `flat` is px
//! of the flattened picture. Lens distortion is not corrected; what it leaves
//! shows as edges that are not straight.

mod edges;
mod homography;
mod picture;

use serde::Serialize;
use thiserror::Error;

use crate::units::FilmPoint;

pub use edges::{SideEdges, edge_residual_px, side_edges, snapped};
pub use homography::Homography;
pub use picture::{Facts, facts_json, facts_path, flat_film, write};

/// Sizes of film packets, width × height in mm with the long side upright
/// (ISO 3665, MEM).
pub const FILM_PACKETS_MM: [(&str, [f64; 2]); 5] = [
    ("0", [22.0, 35.0]),
    ("1", [24.0, 40.0]),
    ("2", [31.0, 41.0]),
    ("3", [27.0, 54.0]),
    ("4", [57.0, 76.0]),
];

/// Possible sides of a rectangle, mm: from a small block to a printed sheet.
const SIDE_MM: (f64, f64) = (2.0, 500.0);

/// Most pixels of a flattened picture.
const MOST_PX: f64 = 6e7;

/// Standard deviation of a corner by hand and of one snapped to edges, px
/// (assumed).
const CORNER_SD_PX: f64 = 1.0;
const SNAPPED_SD_PX: f64 = 0.2;

/// Half width of what the rectangle's stated size may be off, mm (assumed for
/// a rule or caliper read to 0.1 mm).
const SIZE_HALF_WIDTH_MM: f64 = 0.1;

/// Stated and seen ratio of the sides farther apart than this factor: width
/// and height are exchanged, or the size is wrong (own limit; a view tilted by
/// 45° changes the ratio by 1.4).
const RATIO_LIMIT: f64 = 1.5;

/// What is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    /// Top left, top right, bottom right, bottom left, px of the photograph.
    pub corners_px: [FilmPoint; 4],
    /// Width and height of the rectangle.
    pub size_mm: [f64; 2],
    /// Resolution of the flattened picture; absent: the photograph's finest.
    pub mm_per_px: Option<f64>,
    /// What surrounds the rectangle and is kept.
    pub margin_mm: f64,
    /// A fifth mark on the photograph and where it lies on the rectangle.
    pub check: Option<(FilmPoint, [f64; 2])>,
    /// The object lies this much deeper than the rectangle, seen by a camera
    /// at this distance, mm.
    pub deeper: Option<(f64, f64)>,
    /// The corners were snapped to the rectangle's edges.
    pub snapped: bool,
}

/// Why a photograph cannot be made flat: one clear line.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum FlattenError {
    /// A corner is no place on the photograph.
    #[error(
        "corner {number} ({x}, {y}) px lies outside the photograph ({width} x {height} px); all \
         four must be on it"
    )]
    Outside {
        number: usize,
        x: f64,
        y: f64,
        width: u32,
        height: u32,
    },
    /// Corners in the wrong order.
    #[error(
        "the corners run anticlockwise; give them clockwise from the top left (a mirrored film \
         cannot be measured)"
    )]
    Anticlockwise,
    /// Corners that are no view of a rectangle.
    #[error(
        "the corners do not enclose a view of a rectangle: two are alike, three lie in a line, or \
         they cross; give them clockwise from the top left"
    )]
    NoRectangle,
    /// A size out of range.
    #[error("{what}: {found} is not possible; give a value from {least} to {greatest}")]
    OutOfRange {
        what: &'static str,
        found: f64,
        least: f64,
        greatest: f64,
    },
    /// Too large.
    #[error(
        "the flattened picture would have {pixels:.0} million px; ask for fewer with --mm-per-px"
    )]
    TooLarge { pixels: f64 },
    /// Edges not seen.
    #[error(
        "the edge between corners {from} and {to} is not seen well enough to snap to; place the corners by hand"
    )]
    NoEdge { from: usize, to: usize },
}

/// How a photograph becomes flat.
#[derive(Clone, Debug, PartialEq)]
pub struct Flattening {
    pub request: Request,
    /// Plane, mm → photograph, px.
    pub photo_from_plane: Homography,
    /// Resolution of the flattened picture.
    pub pitch_mm: f64,
    /// True mm per px at the object's depth.
    pub mm_per_px: f64,
    /// Standard uncertainty of `mm_per_px`.
    pub u_mm_per_px: f64,
    /// Size of the flattened picture.
    pub size_px: [u32; 2],
    /// Distance of the fifth mark from where it should be, px of the flattened
    /// picture.
    pub check_residual_px: Option<f64>,
    pub warnings: Vec<FlattenWarning>,
}

/// What the user should know.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FlattenWarning {
    pub code: &'static str,
    pub text: String,
}

/// Works out how to make a photograph of `width` × `height` px flat.
///
/// # Errors
/// [`FlattenError`], one clear line.
pub fn flattening(request: Request, width: u32, height: u32) -> Result<Flattening, FlattenError> {
    check(&request, width, height)?;
    let [w, h] = request.size_mm;
    let plane = [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
    let photo_from_plane = Homography::from_corners(plane, request.corners_px.map(Into::into))
        .ok_or(FlattenError::NoRectangle)?;
    let finest = plane
        .iter()
        .map(|&corner| photo_from_plane.scale_at(corner))
        .fold(0.0, f64::max);
    if !(finest.is_finite() && finest > 0.0) {
        return Err(FlattenError::NoRectangle);
    }
    let pitch_mm = request.mm_per_px.unwrap_or(finest.recip());
    let size = request
        .size_mm
        .map(|side| (side + 2.0 * request.margin_mm) / pitch_mm);
    if size[0] * size[1] > MOST_PX {
        return Err(FlattenError::TooLarge {
            pixels: size[0] * size[1] / 1e6,
        });
    }
    let deeper = request
        .deeper
        .map_or(1.0, |(depth, camera)| 1.0 + depth / camera);
    let mut flattening = Flattening {
        photo_from_plane,
        pitch_mm,
        mm_per_px: pitch_mm * deeper,
        u_mm_per_px: 0.0,
        size_px: size.map(|side| side.round().max(1.0) as u32),
        check_residual_px: None,
        warnings: Vec::new(),
        request,
    };
    flattening.u_mm_per_px = flattening.mm_per_px * flattening.relative_u();
    flattening.check_residual_px = flattening.check_residual();
    flattening.warn();
    Ok(flattening)
}

impl Flattening {
    /// The place on the flattened picture of a point of the photograph; `None`
    /// on the horizon.
    pub fn flat_from_photo(&self, point: FilmPoint) -> Option<FilmPoint> {
        let [x, y] = self.photo_from_plane.inverse()?.map(point.into())?;
        let margin = self.request.margin_mm;
        Some(FilmPoint::new(
            (x + margin) / self.pitch_mm,
            (y + margin) / self.pitch_mm,
        ))
    }

    /// The place on the photograph of a point of the flattened picture.
    pub fn photo_from_flat(&self, point: FilmPoint) -> Option<FilmPoint> {
        let margin = self.request.margin_mm;
        let plane = [point.x, point.y].map(|v| v * self.pitch_mm - margin);
        self.photo_from_plane.map(plane).map(Into::into)
    }

    /// Lengths of the sides on the photograph: top, right, bottom, left.
    fn sides_px(&self) -> [f64; 4] {
        let c = self.request.corners_px;
        [0, 1, 2, 3].map(|i| c[i].distance_px(c[(i + 1) % 4]))
    }

    fn relative_u(&self) -> f64 {
        let sd = if self.request.snapped {
            SNAPPED_SD_PX
        } else {
            CORNER_SD_PX
        };
        let sides = self.sides_px();
        let mean = sides.iter().sum::<f64>() / 4.0;
        // Each side is off by √2 of a corner; opposite sides average.
        let corners = sd / mean;
        let size_sd = SIZE_HALF_WIDTH_MM / 3f64.sqrt();
        let size = self.request.size_mm.map(|side| size_sd / side);
        corners.hypot(0.5 * size[0].hypot(size[1]))
    }

    fn check_residual(&self) -> Option<f64> {
        let (mark, at_mm) = self.request.check?;
        let [x, y] = self.photo_from_plane.inverse()?.map(mark.into())?;
        Some((x - at_mm[0]).hypot(y - at_mm[1]) / self.pitch_mm)
    }

    fn warn(&mut self) {
        let [top, right, bottom, left] = self.sides_px();
        let [w, h] = self.request.size_mm;
        let ratio = (top + bottom) / (left + right) / (w / h);
        if !(RATIO_LIMIT.recip()..=RATIO_LIMIT).contains(&ratio) {
            self.warnings.push(FlattenWarning {
                code: "sides",
                text: format!(
                    "the rectangle looks {:.2} times as wide for its height as {w} × {h} mm; are \
                     width and height exchanged, or is it another size?",
                    ratio
                ),
            });
        }
        if let Some(off) = self.check_residual_px
            && off * self.pitch_mm > 0.01 * w.max(h)
        {
            self.warnings.push(FlattenWarning {
                code: "check_mark",
                text: format!(
                    "the fifth mark lies {:.2} mm from where it should be: a corner or the size \
                     is wrong, or the lens bends straight lines",
                    off * self.pitch_mm
                ),
            });
        }
    }
}

fn check(request: &Request, width: u32, height: u32) -> Result<(), FlattenError> {
    for (i, c) in request.corners_px.iter().enumerate() {
        let inside =
            (0.0..=f64::from(width)).contains(&c.x) && (0.0..=f64::from(height)).contains(&c.y);
        if !inside {
            return Err(FlattenError::Outside {
                number: i + 1,
                x: c.x,
                y: c.y,
                width,
                height,
            });
        }
    }
    let range = |what, found: f64, (least, greatest): (f64, f64)| {
        if (least..=greatest).contains(&found) {
            Ok(())
        } else {
            Err(FlattenError::OutOfRange {
                what,
                found,
                least,
                greatest,
            })
        }
    };
    for side in request.size_mm {
        range("side of the rectangle in mm (--size-mm)", side, SIDE_MM)?;
    }
    range(
        "margin in mm (--margin-mm)",
        request.margin_mm,
        (0.0, 100.0),
    )?;
    if let Some(pitch) = request.mm_per_px {
        range("mm per px (--mm-per-px)", pitch, (0.002, 1.0))?;
    }
    if let Some((depth, camera)) = request.deeper {
        range(
            "depth below the rectangle in mm (--deeper-mm)",
            depth,
            (-50.0, 50.0),
        )?;
        range(
            "distance of the camera in mm (--camera-mm)",
            camera,
            (60.0, 5000.0),
        )?;
    }
    let c = request.corners_px;
    let turns = [0, 1, 2, 3].map(|i| {
        let (a, b, d) = (c[i], c[(i + 1) % 4], c[(i + 2) % 4]);
        let cross = (b.x - a.x) * (d.y - b.y) - (b.y - a.y) * (d.x - b.x);
        cross / (a.distance_px(b) * b.distance_px(d))
    });
    // Corners of less than about 3° are no corners.
    if turns.iter().all(|&t| t > 0.05) {
        Ok(())
    } else if turns.iter().all(|&t| t < -0.05) {
        Err(FlattenError::Anticlockwise)
    } else {
        Err(FlattenError::NoRectangle)
    }
}

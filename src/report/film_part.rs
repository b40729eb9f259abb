//! A part of a film as the ground of a drawing.

use std::sync::Arc;

use image::GrayImage;
use image::imageops::{self, FilterType};
use kurbo::{Point, Rect};

use super::drawing::{Drawing, Ink, Pen};

/// How much of the film is shown about what is drawn, and how finely.
#[derive(Clone, Copy, Debug)]
pub struct Framing {
    /// Room around it, as a share of its extent.
    pub room: f64,
    /// Least width against the height, so that labels have room.
    pub least_breadth: f64,
    /// Longest side of the picture, px.
    pub longest_side_px: u32,
}

/// A drawing whose origin is `corner` of the film.
pub struct FilmPart {
    pub drawing: Drawing,
    corner: Point,
    /// Size of small things: the longer side / 500.
    pub unit: f64,
}

impl FilmPart {
    /// The part of `film` about `places`, film px; all of it where that is none.
    pub fn about(places: impl Iterator<Item = Point>, film: &GrayImage, framing: Framing) -> Self {
        let extent = places
            .map(|p| Rect::from_points(p, p))
            .reduce(|all, one| all.union(one));
        let frame = frame(extent, film, framing);
        Self {
            corner: frame.origin(),
            unit: frame.size().max_side() / 500.0,
            drawing: Drawing {
                film: Some(Arc::new(cut(film, frame, framing.longest_side_px))),
                ..Drawing::new(frame.size())
            },
        }
    }

    /// A place of the film in the drawing.
    pub fn at(&self, place: Point) -> Point {
        (place - self.corner).to_point()
    }

    /// A pen that is seen on any grey.
    pub fn pen(&self, ink: Ink, width: f64) -> Pen {
        Pen::solid(ink, width * self.unit).on_film()
    }
}

/// The part of the film that is shown, whole px.
fn frame(extent: Option<Rect>, film: &GrayImage, framing: Framing) -> Rect {
    let whole = Rect::new(0.0, 0.0, f64::from(film.width()), f64::from(film.height()));
    let Some(extent) = extent else {
        return whole;
    };
    let room = framing.room * extent.size().max_side();
    let mut frame = extent.inflate(room, room);
    let missing = framing.least_breadth * frame.height() - frame.width();
    frame = frame.inflate((missing / 2.0).max(0.0), 0.0).expand();
    let shown = frame.intersect(whole);
    if shown.width() >= 1.0 && shown.height() >= 1.0 {
        shown
    } else {
        whole
    }
}

fn cut(film: &GrayImage, frame: Rect, longest_side_px: u32) -> GrayImage {
    let (width, height) = (frame.width() as u32, frame.height() as u32);
    let cut = imageops::crop_imm(film, frame.x0 as u32, frame.y0 as u32, width, height).to_image();
    let longer = cut.width().max(cut.height());
    if longer <= longest_side_px {
        return cut;
    }
    let shrunk = |side: u32| {
        (u64::from(side) * u64::from(longest_side_px) / u64::from(longer)).max(1) as u32
    };
    imageops::resize(&cut, shrunk(width), shrunk(height), FilterType::Triangle)
}

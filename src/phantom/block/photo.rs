//! A block photographed: perspective, blur, noise, and what else a look adds.

use kurbo::{Point, Vec2};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::look::{Look, share};
use super::shape::BlockTruth;
use super::spec::{BlockSpec, FACE_MM};
use crate::film::{Film, Polarity};
use crate::flatten::Homography;
use crate::geometry::right_of;
use crate::units::FilmPoint;

/// Grey of what surrounds the block, of the block, of dye, and of marks.
const SURROUND: f64 = 45.0;
const RESIN: f64 = 205.0;
const DYE: f64 = 70.0;
const MARK: f64 = 90.0;
/// Radius of a mark, mm.
const MARK_RADIUS_MM: f64 = 0.35;

/// Where a block is photographed from.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    pub size_px: [u32; 2],
    /// Face → photograph.
    pub photo_from_block: Homography,
    /// Standard deviation of the blur, px.
    pub blur_px: f64,
    /// Standard deviation of the noise, grey.
    pub noise: f64,
    pub look: Look,
    pub seed: u64,
}

/// One photograph.
#[derive(Clone, Debug)]
pub struct BlockPhoto {
    pub film: Film,
    /// Corners of the face, clockwise from the top left.
    pub corners_px: [FilmPoint; 4],
    /// Middles of the marks.
    pub marks_px: [FilmPoint; 4],
}

impl View {
    /// A view a little askew, drawn from the seed, with some 42 px per mm.
    pub fn askew(seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0xB10C);
        let mut aside = || rng.random_range(-22.0..22.0);
        let [w, h] = FACE_MM;
        let unit = 42.0;
        let corners = [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
        let (left, top) = (60.0, 60.0);
        let seen = corners.map(|[x, y]| [left + unit * x + aside(), top + unit * y + aside()]);
        Self {
            size_px: [(unit * w + 120.0) as u32, (unit * h + 120.0) as u32],
            photo_from_block: Homography::from_corners(corners, seen)
                .expect("corners moved a little stay a quadrilateral"),
            blur_px: 1.1,
            noise: 2.5,
            look: Look::default(),
            seed,
        }
    }

    fn place(&self, p: Point) -> FilmPoint {
        let place = self.photo_from_block.map([p.x, p.y]);
        place.map_or(FilmPoint::new(f64::NAN, f64::NAN), Into::into)
    }
}

/// The photograph of a block, `after` or before shaping.
pub fn photograph(spec: &BlockSpec, after: bool, view: &View) -> Option<BlockPhoto> {
    let truth = BlockTruth::new(spec);
    let [w, h] = FACE_MM;
    let block_from_photo = view.photo_from_block.inverse()?;
    let mut rng = ChaCha8Rng::seed_from_u64(view.seed);
    let mut noise = || -> f64 { StandardNormal.sample(&mut rng) };
    let px_per_mm = view.photo_from_block.scale_at([0.5 * w, 0.5 * h]);
    let look = &view.look;
    let grey = |p: Point| {
        let blur_mm = |across: Vec2| look.blur_px(view.blur_px, p, across) / px_per_mm;
        let beside = share(p.x.min(w - p.x), blur_mm(Vec2::new(1.0, 0.0)));
        let below = share(p.y.min(h - p.y), blur_mm(Vec2::new(0.0, 1.0)));
        let on_block = beside.min(below);
        let foot = truth.path().project(p);
        let from_end = truth.path().length() - foot.length_at;
        let walls = truth.walls(after, from_end);
        let direction = truth.path().pose_at_length(foot.length_at).direction;
        let across = blur_mm(right_of(direction));
        let within = share(foot.offset - walls[0], across) - share(foot.offset - walls[1], across);
        let ends = blur_mm(direction);
        let along = share(from_end, ends) * share(foot.length_at, ends);
        let half = 0.5 * (walls[1] - walls[0]);
        let aside = (foot.offset - 0.5 * (walls[0] + walls[1])) / half;
        let dye = (within * along).clamp(0.0, 1.0) * look.dye_at(from_end, aside, half, across);
        let mark = truth.marks().map(|m| {
            let away = p - m;
            let outwards = away / away.hypot().max(1e-9);
            share(MARK_RADIUS_MM - away.hypot(), blur_mm(outwards))
        });
        let mark = mark.into_iter().fold(0.0, f64::max);
        let resin = RESIN + (DYE - RESIN) * dye + (MARK - RESIN) * mark;
        let block = resin * look.light_at(p, FACE_MM) + look.reflected_at(p);
        SURROUND + (block - SURROUND) * on_block
    };
    let [width, height] = view.size_px;
    let grain = look.grain(view.size_px, view.seed);
    let mut seen = Vec::with_capacity(width as usize * height as usize);
    for y in 0..height {
        for x in 0..width {
            let [u, v] = block_from_photo.map([f64::from(x) + 0.5, f64::from(y) + 0.5])?;
            let grain = grain.get(seen.len()).copied().unwrap_or(0.0);
            let value = grey(Point::new(u, v)) + view.noise * noise() + f64::from(grain);
            seen.push(value.round().clamp(0.0, 255.0) as u8);
        }
    }
    // Eight bits as a telephone has them, raised to fill sixteen.
    let stored = look.stored(seen, view.size_px)?.into_iter();
    let samples: Vec<u16> = stored.map(|value| u16::from(value) * 257).collect();
    Some(BlockPhoto {
        film: Film::from_samples(width, height, 16, Polarity::HighIsOpaque, samples)?,
        corners_px: [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]]
            .map(|[x, y]| view.place(Point::new(x, y))),
        marks_px: truth.marks().map(|m| view.place(m)),
    })
}

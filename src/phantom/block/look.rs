//! What makes a photograph of a block hard to read: light, shadow, reflections,
//! poor dye, uneven blur, noise and compression. Each part stands alone and may
//! be absent.
//!
//! Places are mm on the block's face (frame `block`).

use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageFormat};
use kurbo::{Point, Vec2};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use serde::{Deserialize, Serialize};
use statrs::function::erf::erf;

use crate::phantom::exposure::Intensities;
use crate::phantom::texture::gradient_noise;

/// Light that is not the same everywhere.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Light {
    /// Grows evenly in a direction, by this share per mm.
    Slope { towards_rad: f64, per_mm: f64 },
    /// Falls off with the distance from a lamp's spot; half of it at `reach_mm`.
    Lamp { at_mm: [f64; 2], reach_mm: f64 },
    /// Falls off towards the corners, by this share at the farthest.
    Vignette { share: f64 },
    /// Two lamps of unlike colour and reach.
    TwoLamps {
        at_mm: [[f64; 2]; 2],
        reach_mm: [f64; 2],
    },
}

/// Something between lamp and block.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Shadow {
    /// All that lies on one side of a line is darker by `depth`.
    Edge {
        through_mm: [f64; 2],
        towards_rad: f64,
        penumbra_mm: f64,
        depth: f64,
    },
    /// A bar, such as a finger or a cable.
    Bar {
        through_mm: [f64; 2],
        towards_rad: f64,
        width_mm: f64,
        penumbra_mm: f64,
        depth: f64,
    },
}

/// Light thrown back by the resin, grey added.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Reflection {
    /// A blurred spot.
    Spot {
        at_mm: [f64; 2],
        sd_mm: f64,
        grey: f64,
    },
    /// A disc with an edge, as of a lamp.
    Disc {
        at_mm: [f64; 2],
        radius_mm: f64,
        edge_mm: f64,
        grey: f64,
    },
    /// A long narrow streak.
    Streak {
        at_mm: [f64; 2],
        along_rad: f64,
        length_mm: f64,
        sd_mm: f64,
        grey: f64,
    },
    /// A window pane with edges.
    Pane {
        at_mm: [f64; 2],
        turn_rad: f64,
        half_mm: [f64; 2],
        edge_mm: f64,
        grey: f64,
    },
}

/// Dye that does not fill the canal evenly.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Dye {
    /// Weaker towards the end, `least` of it there.
    Fading { over_mm: f64, least: f64 },
    /// Stronger and weaker along the canal.
    Blotches {
        seed: u64,
        length_mm: f64,
        depth: f64,
    },
    /// Streaks that run along the canal.
    Streaks {
        seed: u64,
        length_mm: f64,
        across: f64,
        depth: f64,
    },
    /// Bubbles: [from the end, share of the way from the middle to the right
    /// wall, radius], mm.
    Bubbles { bubbles: Vec<[f64; 3]> },
}

/// Blur that is not the same everywhere.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Blur {
    /// Sharp along a line, the blur's standard deviation greater by `px_per_mm`
    /// away from it.
    Tilt {
        through_mm: [f64; 2],
        towards_rad: f64,
        px_per_mm: f64,
    },
    /// Sharp at a place, greater with the squared distance.
    Field { at_mm: [f64; 2], px_per_mm2: f64 },
    /// Moved while exposed: greater in one direction.
    Motion { towards_rad: f64, sd_px: f64 },
}

/// Noise beside that of each px alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Grain {
    /// Blurred by `size_px`.
    Soft { sd: f64, size_px: f64 },
    /// Blurred far more along rows than across.
    Bands { sd: f64, size_px: f64 },
    /// One value for each square of px.
    Squares { sd: f64, size_px: u32 },
}

/// How the picture was stored.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Jpeg {
    pub quality: u8,
    /// Stored once more, cut elsewhere and at this quality.
    pub again: Option<u8>,
}

/// All of them.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Look {
    pub light: Option<Light>,
    pub shadow: Option<Shadow>,
    pub reflections: Vec<Reflection>,
    pub dye: Option<Dye>,
    pub blur: Option<Blur>,
    pub grain: Option<Grain>,
    pub jpeg: Option<Jpeg>,
}

/// A part of a look, to be switched on or off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LookPart {
    Light,
    Shadow,
    Reflections,
    Dye,
    Blur,
    Grain,
    Jpeg,
}

impl LookPart {
    /// All parts.
    pub const ALL: [Self; 7] = [
        Self::Light,
        Self::Shadow,
        Self::Reflections,
        Self::Dye,
        Self::Blur,
        Self::Grain,
        Self::Jpeg,
    ];

    /// As commands and tables name it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Light => "light",
            Self::Shadow => "shadow",
            Self::Reflections => "reflections",
            Self::Dye => "dye",
            Self::Blur => "blur",
            Self::Grain => "grain",
            Self::Jpeg => "jpeg",
        }
    }
}

/// Share of what lies at a signed distance inside an edge of that softness.
pub(super) fn share(inside: f64, softness: f64) -> f64 {
    0.5 * (1.0 + erf(inside / (softness * std::f64::consts::SQRT_2)))
}

fn from(place: [f64; 2], p: Point) -> Vec2 {
    p - Point::new(place[0], place[1])
}

fn normal_bell(distance: f64, sd: f64) -> f64 {
    (-0.5 * (distance / sd).powi(2)).exp()
}

/// Strength that noise about 0 leaves, 1 less `depth` at the least.
fn patchy(noise: f32, depth: f64) -> f64 {
    1.0 - depth * (0.5 + f64::from(noise)).clamp(0.0, 1.0)
}

/// How much of a lamp's light arrives.
fn of_lamp(at_mm: [f64; 2], reach_mm: f64, p: Point) -> f64 {
    1.0 / (1.0 + from(at_mm, p).hypot2() / (reach_mm * reach_mm))
}

impl Look {
    /// The same with these parts only.
    pub fn only(mut self, parts: &[LookPart]) -> Self {
        for part in LookPart::ALL {
            if parts.contains(&part) {
                continue;
            }
            match part {
                LookPart::Light => self.light = None,
                LookPart::Shadow => self.shadow = None,
                LookPart::Reflections => self.reflections.clear(),
                LookPart::Dye => self.dye = None,
                LookPart::Blur => self.blur = None,
                LookPart::Grain => self.grain = None,
                LookPart::Jpeg => self.jpeg = None,
            }
        }
        self
    }

    /// Whether it has that part.
    pub fn has(&self, part: LookPart) -> bool {
        match part {
            LookPart::Light => self.light.is_some(),
            LookPart::Shadow => self.shadow.is_some(),
            LookPart::Reflections => !self.reflections.is_empty(),
            LookPart::Dye => self.dye.is_some(),
            LookPart::Blur => self.blur.is_some(),
            LookPart::Grain => self.grain.is_some(),
            LookPart::Jpeg => self.jpeg.is_some(),
        }
    }

    /// Light that falls on a place; 1 is full light.
    pub fn light_at(&self, p: Point, face_mm: [f64; 2]) -> f64 {
        let middle = [0.5 * face_mm[0], 0.5 * face_mm[1]];
        let light = match &self.light {
            None => 1.0,
            Some(Light::Slope {
                towards_rad,
                per_mm,
            }) => 1.0 + per_mm * from(middle, p).dot(Vec2::from_angle(*towards_rad)),
            Some(Light::Lamp { at_mm, reach_mm }) => of_lamp(*at_mm, *reach_mm, p),
            Some(Light::Vignette { share }) => {
                let farthest = Vec2::new(middle[0], middle[1]).hypot2();
                1.0 - share * from(middle, p).hypot2() / farthest
            }
            Some(Light::TwoLamps { at_mm, reach_mm }) => {
                0.55 * of_lamp(at_mm[0], reach_mm[0], p) + 0.5 * of_lamp(at_mm[1], reach_mm[1], p)
            }
        };
        let shadow = match &self.shadow {
            None => 1.0,
            Some(Shadow::Edge {
                through_mm,
                towards_rad,
                penumbra_mm,
                depth,
            }) => {
                let beyond = from(*through_mm, p).dot(Vec2::from_angle(*towards_rad));
                1.0 - depth * share(beyond, *penumbra_mm)
            }
            Some(Shadow::Bar {
                through_mm,
                towards_rad,
                width_mm,
                penumbra_mm,
                depth,
            }) => {
                let beyond = from(*through_mm, p).dot(Vec2::from_angle(*towards_rad));
                let within = share(beyond + 0.5 * width_mm, *penumbra_mm)
                    - share(beyond - 0.5 * width_mm, *penumbra_mm);
                1.0 - depth * within
            }
        };
        (light * shadow).max(0.05)
    }

    /// Grey that reflections add at a place.
    pub fn reflected_at(&self, p: Point) -> f64 {
        let one = |reflection: &Reflection| match reflection {
            Reflection::Spot { at_mm, sd_mm, grey } => {
                grey * normal_bell(from(*at_mm, p).hypot(), *sd_mm)
            }
            Reflection::Disc {
                at_mm,
                radius_mm,
                edge_mm,
                grey,
            } => grey * share(radius_mm - from(*at_mm, p).hypot(), *edge_mm),
            Reflection::Streak {
                at_mm,
                along_rad,
                length_mm,
                sd_mm,
                grey,
            } => {
                let along = Vec2::from_angle(*along_rad);
                let away = from(*at_mm, p);
                let across = along.cross(away);
                grey * normal_bell(across, *sd_mm) * normal_bell(away.dot(along), 0.5 * length_mm)
            }
            Reflection::Pane {
                at_mm,
                turn_rad,
                half_mm,
                edge_mm,
                grey,
            } => {
                let axis = Vec2::from_angle(*turn_rad);
                let away = from(*at_mm, p);
                let inside = |along: f64, half: f64| {
                    share(half - along, *edge_mm) * share(half + along, *edge_mm)
                };
                grey * inside(away.dot(axis), half_mm[0]) * inside(axis.cross(away), half_mm[1])
            }
        };
        self.reflections.iter().map(one).sum()
    }

    /// Strength of the dye at a place of the canal: 1 is full. `across` goes
    /// from −1 at the left wall to 1 at the right one, `half_mm` is half the
    /// width, `soft_mm` the blur.
    pub fn dye_at(&self, from_end_mm: f64, across: f64, half_mm: f64, soft_mm: f64) -> f64 {
        match &self.dye {
            None => 1.0,
            Some(Dye::Fading { over_mm, least }) => {
                1.0 - (1.0 - least) * (-from_end_mm.max(0.0) / over_mm).exp()
            }
            Some(Dye::Blotches {
                seed,
                length_mm,
                depth,
            }) => {
                let along = (from_end_mm / length_mm) as f32;
                patchy(gradient_noise(*seed, along, 0.37), *depth)
            }
            Some(Dye::Streaks {
                seed,
                length_mm,
                across: lanes,
                depth,
            }) => {
                let (x, y) = (from_end_mm / length_mm, across.clamp(-1.0, 1.0) * lanes);
                patchy(gradient_noise(*seed, x as f32, y as f32 + 0.41), *depth)
            }
            Some(Dye::Bubbles { bubbles }) => {
                let full = |&[at, share_of_half, radius]: &[f64; 3]| {
                    let away = (from_end_mm - at).hypot((across - share_of_half) * half_mm);
                    1.0 - share(radius - away, soft_mm)
                };
                bubbles.iter().map(full).product()
            }
        }
    }

    /// Standard deviation of the blur across an edge with this unit normal.
    pub fn blur_px(&self, base_px: f64, p: Point, normal: Vec2) -> f64 {
        match &self.blur {
            None => base_px,
            Some(Blur::Tilt {
                through_mm,
                towards_rad,
                px_per_mm,
            }) => {
                let away = from(*through_mm, p).dot(Vec2::from_angle(*towards_rad));
                base_px + px_per_mm * away.abs()
            }
            Some(Blur::Field { at_mm, px_per_mm2 }) => {
                base_px + px_per_mm2 * from(*at_mm, p).hypot2()
            }
            Some(Blur::Motion { towards_rad, sd_px }) => {
                base_px.hypot(sd_px * Vec2::from_angle(*towards_rad).dot(normal))
            }
        }
    }

    /// Grain of a picture, row by row; empty without any.
    pub fn grain(&self, [width, height]: [u32; 2], seed: u64) -> Vec<f32> {
        let Some(grain) = &self.grain else {
            return Vec::new();
        };
        let (width, count) = (width as usize, width as usize * height as usize);
        let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x6EA1);
        let values: Vec<f32> = (0..count)
            .map(|_| StandardNormal.sample(&mut rng))
            .collect();
        let blurred = |values, across_px, down_px| {
            let white = Intensities { width, values };
            white.blurred(across_px, down_px).values
        };
        let (sd, mut values) = match *grain {
            Grain::Soft { sd, size_px } => (sd, blurred(values, size_px, size_px)),
            Grain::Bands { sd, size_px } => (sd, blurred(values, 12.0 * size_px, size_px)),
            Grain::Squares { sd, size_px } => {
                let size = size_px.max(1) as usize;
                let of = |k: usize| {
                    let (x, y) = (k % width, k / width);
                    values[(y / size * size) * width + x / size * size]
                };
                (sd, (0..count).map(of).collect())
            }
        };
        let squares: f64 = values.iter().map(|v| f64::from(*v).powi(2)).sum();
        let factor = (sd / (squares / count.max(1) as f64).sqrt()) as f32;
        values.iter_mut().for_each(|v| *v *= factor);
        values
    }

    /// The 8-bit picture as it comes back from storage; `None` where it cannot
    /// be stored.
    pub fn stored(&self, grey: Vec<u8>, size: [u32; 2]) -> Option<Vec<u8>> {
        let Some(jpeg) = &self.jpeg else {
            return Some(grey);
        };
        let once = through_jpeg(grey, size, jpeg.quality)?;
        let Some(again) = jpeg.again else {
            return Some(once);
        };
        // Cut three px off at the left and top, so that blocks lie elsewhere, and
        // put back afterwards.
        const CUT: usize = 3;
        let [width, height] = size.map(|side| side as usize);
        let (w, h) = (width.checked_sub(CUT)?, height.checked_sub(CUT)?);
        let inner: Vec<u8> = (0..w * h)
            .map(|k| once[(k / w + CUT) * width + k % w + CUT])
            .collect();
        let inner = through_jpeg(inner, [w as u32, h as u32], again)?;
        let mut whole = once;
        for (k, value) in inner.into_iter().enumerate() {
            whole[(k / w + CUT) * width + k % w + CUT] = value;
        }
        Some(whole)
    }
}

fn through_jpeg(grey: Vec<u8>, [width, height]: [u32; 2], quality: u8) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    JpegEncoder::new_with_quality(&mut bytes, quality)
        .encode(&grey, width, height, ExtendedColorType::L8)
        .ok()?;
    let picture = image::load_from_memory_with_format(&bytes, ImageFormat::Jpeg).ok()?;
    Some(picture.into_luma8().into_raw())
}

//! The film on the graphics card: square textures made when first seen.

use std::collections::HashMap;
use std::sync::Arc;

use egui::{Color32, ColorImage, Mesh, Painter, Pos2, Shape, TextureHandle, TextureOptions};

use super::pyramid::Pyramid;
use super::tone::Tone;
use super::transform::ViewTransform;
use crate::film::Film;
use crate::units::FilmPoint;

/// Side of a tile without its border, px: small enough for every graphics
/// card's texture limit, large enough to need few of them.
const TILE_PX: u32 = 510;
/// Pixels of the neighbours around a tile, so that smoothing shows no seams.
const BORDER_PX: u32 = 1;
/// Tiles kept; beyond it the ones not seen in this frame are dropped.
const KEPT_TILES: usize = 160;

#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct TileKey {
    level: usize,
    column: u32,
    row: u32,
}

struct Tile {
    texture: TextureHandle,
    /// [`FilmTiles::tone_stamp`] the pixels were made with.
    stamp: u64,
    /// Frame it was last painted in.
    seen: u64,
}

/// Textures of one film under one tone.
pub struct FilmTiles {
    film: Arc<Film>,
    pyramid: Arc<Pyramid>,
    tone: Tone,
    lookup: Vec<u8>,
    tone_stamp: u64,
    tiles: HashMap<TileKey, Tile>,
}

impl FilmTiles {
    /// No textures yet.
    pub fn new(film: Arc<Film>, pyramid: Arc<Pyramid>, tone: Tone) -> Self {
        let lookup = tone.lookup(&film);
        Self {
            film,
            pyramid,
            tone,
            lookup,
            tone_stamp: 0,
            tiles: HashMap::new(),
        }
    }

    /// Shows the film under another tone; tiles follow when next seen.
    pub fn set_tone(&mut self, tone: &Tone) {
        if tone != &self.tone {
            self.lookup = tone.lookup(&self.film);
            self.tone = tone.clone();
            self.tone_stamp += 1;
        }
    }

    /// Paints the visible part of the film.
    pub fn paint(&mut self, painter: &Painter, view: &ViewTransform) {
        let frame = painter.ctx().cumulative_frame_nr();
        let density = view.zoom * f64::from(painter.pixels_per_point());
        let level = self.pyramid.level_for(density);
        let shrink = f64::from(1u32 << level);
        let [from, to] = view.visible_film();
        let (width, height) = {
            let level = &self.pyramid.levels()[level];
            (level.width, level.height)
        };
        let tiles_along = |low: f64, high: f64, size: u32| {
            let last = (size - 1) / TILE_PX;
            let tile = |at: f64| (at / shrink / f64::from(TILE_PX)).floor();
            (tile(low).max(0.0) as u32).min(last)..=(tile(high).max(0.0) as u32).min(last)
        };
        for row in tiles_along(from.y, to.y, height) {
            for column in tiles_along(from.x, to.x, width) {
                let key = TileKey { level, column, row };
                self.paint_tile(painter, view, key, frame);
            }
        }
        if self.tiles.len() > KEPT_TILES {
            self.tiles.retain(|_, tile| tile.seen == frame);
        }
    }

    fn paint_tile(&mut self, painter: &Painter, view: &ViewTransform, key: TileKey, frame: u64) {
        let level = &self.pyramid.levels()[key.level];
        let (x0, y0) = (key.column * TILE_PX, key.row * TILE_PX);
        let (x1, y1) = (
            (x0 + TILE_PX).min(level.width),
            (y0 + TILE_PX).min(level.height),
        );
        // With the border, clipped to the level.
        let (bx0, by0) = (x0.saturating_sub(BORDER_PX), y0.saturating_sub(BORDER_PX));
        let (bx1, by1) = (
            (x1 + BORDER_PX).min(level.width),
            (y1 + BORDER_PX).min(level.height),
        );
        let picture = || {
            let across = level.width as usize;
            let deepest = self.lookup.len() - 1;
            let mut greys = Vec::with_capacity(((bx1 - bx0) * (by1 - by0)) as usize);
            for y in by0..by1 {
                let row = y as usize * across;
                let samples = &level.samples[row + bx0 as usize..row + bx1 as usize];
                greys.extend(
                    samples
                        .iter()
                        .map(|&s| Color32::from_gray(self.lookup[usize::from(s).min(deepest)])),
                );
            }
            ColorImage::new([(bx1 - bx0) as usize, (by1 - by0) as usize], greys)
        };
        let stamp = self.tone_stamp;
        let tile = self.tiles.entry(key).or_insert_with(|| Tile {
            texture: painter.ctx().load_texture(
                format!("film {} {} {}", key.level, key.column, key.row),
                picture(),
                TextureOptions::LINEAR,
            ),
            stamp,
            seen: frame,
        });
        if tile.stamp != stamp {
            tile.texture.set(picture(), TextureOptions::LINEAR);
            tile.stamp = stamp;
        }
        tile.seen = frame;

        let shrink = f64::from(1u32 << key.level);
        let uv = |x: u32, y: u32| {
            Pos2::new(
                (x - bx0) as f32 / (bx1 - bx0) as f32,
                (y - by0) as f32 / (by1 - by0) as f32,
            )
        };
        let mut mesh = Mesh::with_texture(tile.texture.id());
        for (x, y) in [(x0, y0), (x1, y0), (x1, y1), (x0, y1)] {
            let on_film = FilmPoint::new(f64::from(x) * shrink, f64::from(y) * shrink);
            mesh.vertices.push(egui::epaint::Vertex {
                pos: view.screen_from_film(on_film),
                uv: uv(x, y),
                color: Color32::WHITE,
            });
        }
        mesh.indices.extend([0, 1, 2, 0, 2, 3]);
        painter.add(Shape::mesh(mesh));
    }
}

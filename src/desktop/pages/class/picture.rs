//! The film with every trace on it: density, reference with its spread, the
//! chosen trace and where it strays.

use egui::{
    Align2, Color32, Id, Mesh, Painter, Pos2, Rect, Role, Sense, Shape, Stroke, TextureHandle,
    TextureOptions, Ui, Vec2, WidgetInfo,
};

use super::density::{self, Density};
use super::traces::TraceMesh;
use crate::desktop::state::film_pane::{FilmPane, extent};
use crate::desktop::state::open_film::OpenFilm;
use crate::desktop::ui::film_paint::{haloed_line, label};
use crate::desktop::ui::palette;
use crate::desktop::ui::wording::counted;
use crate::desktop::view::{FilmTiles, Tone};
use crate::grading::files::{ClassGrade, ReferenceCanalFacts};
use crate::grading::grade::CanalGrade;
use crate::units::FilmPoint;

/// The spread of the reference: a hue that shows on bright and dark film and is
/// none of the density's.
const BAND: Color32 = Color32::from_rgba_premultiplied(44, 20, 52, 66);
/// Radius of the dots along its edges, and of their dark edge, points.
const DOT: f32 = 0.9;
const DOT_HALO: f32 = 1.8;
/// Between the middles of two dots, points.
const DOT_GAP: f32 = 6.0;
/// What is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Layers {
    pub density: bool,
    pub every_trace: bool,
    pub reference: bool,
}

impl Default for Layers {
    fn default() -> Self {
        Self {
            density: true,
            every_trace: false,
            reference: true,
        }
    }
}

/// The picture's own state.
pub struct Picture {
    pub layers: Layers,
    tiles: FilmTiles,
    tone: Tone,
    size_px: [u32; 2],
    pane: FilmPane,
    /// Corners of what is traced.
    traced: Option<[FilmPoint; 2]>,
    density: Option<Density>,
    texture: Option<TextureHandle>,
    traces: TraceMesh,
}

impl Picture {
    /// A picture of `class` on its film.
    pub fn new(film: &OpenFilm, density: Option<Density>, class: &ClassGrade) -> Self {
        let tone = Tone::automatic(&film.film);
        Self {
            layers: Layers::default(),
            tiles: FilmTiles::new(film.film.clone(), film.pyramid.clone(), tone.clone()),
            tone,
            size_px: film.size_px(),
            pane: FilmPane::new(film.size_px()),
            traced: traced(class),
            density,
            texture: None,
            traces: TraceMesh::default(),
        }
    }

    /// Shows what is traced, as large as fits.
    pub fn fit(&mut self) {
        self.pane.refit();
    }

    /// Zooms about the middle.
    pub fn zoom(&mut self, factor: f64) {
        let middle = self.pane.view.viewport.center();
        self.pane.view.zoom_about(middle, factor);
    }

    /// Bright and dark exchanged.
    pub fn invert(&mut self) {
        self.tone.inverted = !self.tone.inverted;
        self.tiles.set_tone(&self.tone);
    }

    /// The switches above the film.
    pub fn switches(&mut self, ui: &mut Ui) {
        ui.horizontal_wrapped(|ui| {
            ui.checkbox(&mut self.layers.density, "Density");
            ui.checkbox(&mut self.layers.every_trace, "Every trace");
            ui.checkbox(&mut self.layers.reference, "Reference and its spread");
            if ui.button("Fit to window").clicked() {
                self.pane.view.fit(self.size_px);
            }
            if ui.button("Traced part").clicked() {
                self.fit();
            }
        });
    }

    /// The film and all that lies on it; `chosen` stands out.
    pub fn show(&mut self, ui: &mut Ui, class: &ClassGrade, chosen: Option<&CanalGrade>) {
        let rect = ui.available_rect_before_wrap();
        ui.allocate_rect(rect, Sense::hover());
        self.pane.place(rect, self.size_px, self.traced);
        let film = ui.interact(rect, Id::unique("class film"), Sense::drag());
        self.pane.take_input(ui, &film, self.size_px);
        let words = spoken(class, chosen);
        film.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, &words));

        let painter = ui.painter_at(rect);
        painter.rect_filled(rect, 0.0, palette::FILM_GROUND);
        self.tiles.paint(&painter, &self.pane.view);
        if self.layers.reference {
            for canal in &class.reference.canals {
                self.paint_band(&painter, &canal.picture.band_px);
            }
        }
        if self.layers.density {
            self.paint_density(&painter);
        }
        if self.layers.every_trace {
            self.traces.paint(&painter, &self.pane.view, class);
        }
        if self.layers.reference {
            for canal in &class.reference.canals {
                self.paint_reference(&painter, canal);
            }
        }
        if let Some(canal) = chosen {
            self.paint_chosen(&painter, canal);
        }
        self.legend(ui, &painter, class, chosen);
    }

    fn on_screen(&self, points: &[FilmPoint]) -> Vec<Pos2> {
        points
            .iter()
            .map(|&point| self.pane.view.screen_from_film(point))
            .collect()
    }

    fn paint_density(&mut self, painter: &Painter) {
        let Some(density) = &self.density else { return };
        let texture = self.texture.get_or_insert_with(|| {
            let options = TextureOptions::LINEAR;
            painter
                .ctx()
                .load_texture("class density", density.image(), options)
        });
        let far = FilmPoint::new(
            density.origin.x + density.cell_px * density.columns as f64,
            density.origin.y + density.cell_px * density.rows as f64,
        );
        let on_screen = Rect::from_two_pos(
            self.pane.view.screen_from_film(density.origin),
            self.pane.view.screen_from_film(far),
        );
        let uv = Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0));
        painter.image(texture.id(), on_screen, uv, Color32::WHITE);
    }

    /// The spread of the experts, under what is drawn of the traces.
    fn paint_band(&self, painter: &Painter, band: &[[FilmPoint; 2]]) {
        if band.len() < 2 {
            return;
        }
        let mut mesh = Mesh::default();
        for &side in band.iter().flatten() {
            mesh.colored_vertex(self.pane.view.screen_from_film(side), BAND);
        }
        for quad in 0..band.len() as u32 - 1 {
            let first = 2 * quad;
            mesh.add_triangle(first, first + 1, first + 2);
            mesh.add_triangle(first + 1, first + 3, first + 2);
        }
        painter.add(Shape::mesh(mesh));
    }

    fn paint_reference(&self, painter: &Painter, canal: &ReferenceCanalFacts) {
        for side in 0..2 {
            let edge = canal.picture.band_px.iter();
            let edge: Vec<Pos2> = edge
                .map(|sides| self.pane.view.screen_from_film(sides[side]))
                .collect();
            for (radius, colour) in [(DOT_HALO, palette::HALO), (DOT, palette::REFERENCE)] {
                painter.extend(Shape::dotted_line(&edge, colour, DOT_GAP, radius));
            }
        }
        let points: Vec<FilmPoint> = canal.points_px.iter().map(|&p| p.into()).collect();
        let points = self.on_screen(&points);
        painter.extend(Shape::dashed_line(
            &points,
            Stroke::new(4.0, palette::HALO),
            9.0,
            5.0,
        ));
        painter.extend(Shape::dashed_line(
            &points,
            Stroke::new(2.0, palette::REFERENCE),
            9.0,
            5.0,
        ));
        triangle(
            painter,
            self.pane.view.screen_from_film(canal.picture.apex_px),
            palette::REFERENCE,
        );
        if let Some(tip) = canal.picture.tip_px {
            ring(
                painter,
                self.pane.view.screen_from_film(tip),
                palette::REFERENCE,
            );
        }
    }

    fn paint_chosen(&self, painter: &Painter, canal: &CanalGrade) {
        for rung in canal.picture.strays_px.iter().flatten() {
            let ends = self.on_screen(rung);
            painter.add(Shape::line(ends, Stroke::new(1.5, palette::FILE)));
        }
        haloed_line(
            painter,
            &self.on_screen(&canal.picture.path_px),
            2.5,
            palette::APEX,
        );
        triangle(
            painter,
            self.pane.view.screen_from_film(canal.picture.apex_px),
            palette::APEX,
        );
        if let Some(tip) = canal.picture.tip_px {
            ring(painter, self.pane.view.screen_from_film(tip), palette::APEX);
        }
    }

    /// What the lines mean, on the film.
    fn legend(&self, ui: &Ui, painter: &Painter, class: &ClassGrade, chosen: Option<&CanalGrade>) {
        let font = egui::TextStyle::Body.resolve(ui.style());
        let row = font.size * 1.45;
        let mut at = self.pane.view.viewport.left_bottom() + Vec2::new(12.0, -8.0 - row / 2.0);
        let mut line = |sign: &dyn Fn(Pos2, Pos2), text: &str| {
            let start = at + Vec2::new(46.0, 0.0);
            label(
                painter,
                start,
                Align2::LEFT_CENTER,
                text,
                font.clone(),
                palette::FILM_TEXT,
            );
            sign(at, at + Vec2::new(38.0, 0.0));
            at.y -= row;
        };
        if let (true, Some(density)) = (self.layers.density, &self.density) {
            let text = match density.most {
                1 => counted(1, "trace"),
                most => format!("1 to {}", counted(most as usize, "trace")),
            };
            line(
                &|from, to| {
                    for step in 0..38 {
                        let share = f32::from(step as u8) / 37.0;
                        let x = egui::lerp(from.x..=to.x, share);
                        let ink = density::colour(f64::from(share)).to_opaque();
                        painter.vline(x, (from.y - 5.0)..=(from.y + 5.0), Stroke::new(1.6, ink));
                    }
                },
                &text,
            );
        }
        if self.layers.reference {
            let experts = class.reference.canals.iter().map(|c| c.experts).max();
            let text = match experts {
                Some(experts) if experts > 1 => {
                    format!("reference: mean of {experts}, dotted ± 1 standard deviation")
                }
                _ => "reference".to_owned(),
            };
            line(
                &|from, to| {
                    let stroke = Stroke::new(2.0, palette::REFERENCE);
                    painter.extend(Shape::dashed_line(&[from, to], stroke, 9.0, 5.0));
                },
                &text,
            );
        }
        if let Some(canal) = chosen {
            if !canal.picture.strays_px.is_empty() {
                line(
                    &|from, to| {
                        for step in 0..6 {
                            let x = egui::lerp(from.x..=to.x, f32::from(step as u8) / 5.0);
                            let stroke = Stroke::new(1.5, palette::FILE);
                            painter.vline(x, (from.y - 5.0)..=(from.y + 5.0), stroke);
                        }
                    },
                    "where it strays",
                );
            }
            line(
                &|from, to| haloed_line(painter, &[from, to], 2.5, palette::APEX),
                "trace chosen",
            );
        }
    }
}

/// The picture in words.
fn spoken(class: &ClassGrade, chosen: Option<&CanalGrade>) -> String {
    let mut words = format!("Film with {}", counted(class.traces.len(), "trace"));
    if let Some(canal) = chosen {
        let stretches = canal.picture.strays_px.len();
        words += &format!(
            "; chosen: canal {}, strays in {}",
            canal.name,
            counted(stretches, "place")
        );
    }
    words
}

/// Corners of all that is traced.
fn traced(class: &ClassGrade) -> Option<[FilmPoint; 2]> {
    let references = class.reference.canals.iter();
    let references = references.flat_map(|canal| canal.points_px.iter().map(|&p| p.into()));
    let traces = class.traces.iter().flat_map(|trace| &trace.canals);
    let traces = traces.flat_map(|canal| canal.picture.path_px.iter().copied());
    extent(references.chain(traces))
}

fn triangle(painter: &Painter, at: Pos2, colour: Color32) {
    let corner = |x: f32, y: f32| at + Vec2::new(x, y);
    let points = [
        corner(0.0, 0.0),
        corner(-5.0, 9.0),
        corner(5.0, 9.0),
        corner(0.0, 0.0),
    ];
    haloed_line(painter, &points, 1.6, colour);
}

fn ring(painter: &Painter, at: Pos2, colour: Color32) {
    painter.circle_stroke(at, 5.0, Stroke::new(3.6, palette::HALO));
    painter.circle_stroke(at, 5.0, Stroke::new(1.6, colour));
}

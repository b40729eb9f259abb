//! A drawing as pixels.

use image::{Rgb, RgbImage};
use kurbo::{Affine, BezPath, PathEl};
use tiny_skia::{
    FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, Stroke, StrokeDash, Transform,
};

use super::drawing::{Anchor, Drawing, Ink, LABEL_HALO, LINE_HALO, Label, Mark, Pen};
use super::font::Face;

/// Paints a drawing with one pixel per unit; `None` when it is empty or too
/// large to hold in memory.
pub fn paint(drawing: &Drawing) -> Option<RgbImage> {
    let (width, height) = (
        drawing.size.width.ceil() as u32,
        drawing.size.height.ceil() as u32,
    );
    let mut canvas = Pixmap::new(width, height)?;
    canvas.fill(tiny_skia::Color::WHITE);
    if let Some(film) = &drawing.film {
        for (pixel, grey) in canvas.pixels_mut().iter_mut().zip(film.pixels()) {
            let g = grey.0[0];
            *pixel = tiny_skia::ColorU8::from_rgba(g, g, g, 255).premultiply();
        }
    }
    for mark in &drawing.marks {
        match mark {
            Mark::Line { path, pen } => line(&mut canvas, path, pen),
            Mark::Area { path, ink } => fill(&mut canvas, path, *ink),
            Mark::Label(text) => label(&mut canvas, text),
        }
    }
    let pixels = canvas.pixels();
    Some(RgbImage::from_fn(width, height, |x, y| {
        let p = pixels[(y * width + x) as usize];
        Rgb([p.red(), p.green(), p.blue()])
    }))
}

fn line(canvas: &mut Pixmap, path: &BezPath, pen: &Pen) {
    if pen.halo {
        stroke(
            canvas,
            path,
            Ink::Black,
            pen.width * (1.0 + 2.0 * LINE_HALO),
            None,
        );
    }
    let dash = StrokeDash::new(pen.dash_pattern().iter().map(|&d| d as f32).collect(), 0.0);
    stroke(canvas, path, pen.ink, pen.width, dash);
}

fn label(canvas: &mut Pixmap, label: &Label) {
    let face = Face::bold_if(label.bold);
    let width = face.width(&label.text, label.size);
    let shift = match label.anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => -width / 2.0,
        Anchor::End => -width,
    };
    let path =
        Affine::translate((label.at.x + shift, label.at.y)) * face.outline(&label.text, label.size);
    if label.halo {
        stroke(
            canvas,
            &path,
            Ink::Black,
            label.size * 2.0 * LABEL_HALO,
            None,
        );
    }
    fill(canvas, &path, label.ink);
}

fn stroke(canvas: &mut Pixmap, path: &BezPath, ink: Ink, width: f64, dash: Option<StrokeDash>) {
    if let Some(path) = skia_path(path) {
        let stroke = Stroke {
            width: width as f32,
            line_cap: LineCap::Butt,
            line_join: LineJoin::Round,
            dash,
            ..Stroke::default()
        };
        canvas.stroke_path(&path, &paint_of(ink), &stroke, Transform::identity(), None);
    }
}

fn fill(canvas: &mut Pixmap, path: &BezPath, ink: Ink) {
    if let Some(path) = skia_path(path) {
        canvas.fill_path(
            &path,
            &paint_of(ink),
            FillRule::Winding,
            Transform::identity(),
            None,
        );
    }
}

fn paint_of(ink: Ink) -> Paint<'static> {
    let [r, g, b] = ink.rgb();
    let mut paint = Paint::default();
    paint.set_color_rgba8(r, g, b, 255);
    paint
}

fn skia_path(path: &BezPath) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for element in path.elements() {
        match *element {
            PathEl::MoveTo(p) => builder.move_to(p.x as f32, p.y as f32),
            PathEl::LineTo(p) => builder.line_to(p.x as f32, p.y as f32),
            PathEl::QuadTo(a, p) => builder.quad_to(a.x as f32, a.y as f32, p.x as f32, p.y as f32),
            PathEl::CurveTo(a, b, p) => builder.cubic_to(
                a.x as f32, a.y as f32, b.x as f32, b.y as f32, p.x as f32, p.y as f32,
            ),
            PathEl::ClosePath => builder.close(),
        }
    }
    builder.finish()
}

//! A drawing as an inline SVG element.

use std::fmt::Write;

use base64::Engine;
use base64::engine::general_purpose::STANDARD as BASE64;

use super::drawing::{Anchor, Drawing, Ink, LABEL_HALO, LINE_HALO, Label, Mark, Pen};
use super::escape::escape;

/// The SVG element; `alt` is its text for readers who do not see it.
pub fn element(drawing: &Drawing, alt: &str) -> String {
    let (w, h) = (drawing.size.width, drawing.size.height);
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" role=\"img\" \
         aria-label=\"{}\">",
        escape(alt)
    );
    if let Some(film) = &drawing.film {
        let _ = write!(
            svg,
            "<image width=\"{w}\" height=\"{h}\" href=\"data:image/png;base64,{}\"/>",
            BASE64.encode(super::picture::png_bytes(film.as_ref()))
        );
    }
    for mark in &drawing.marks {
        match mark {
            Mark::Line { path, pen } => line(&mut svg, &path.to_svg(), pen),
            Mark::Area { path, ink } => {
                let _ = write!(
                    svg,
                    "<path d=\"{}\" fill=\"{}\"/>",
                    path.to_svg(),
                    ink.hex()
                );
            }
            Mark::Label(text) => label(&mut svg, text),
        }
    }
    svg.push_str("</svg>");
    svg
}

fn line(svg: &mut String, path: &str, pen: &Pen) {
    if pen.halo {
        let _ = write!(
            svg,
            "<path d=\"{path}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{:.2}\" \
             stroke-linejoin=\"round\"/>",
            Ink::Black.hex(),
            pen.width * (1.0 + 2.0 * LINE_HALO)
        );
    }
    let dash: Vec<String> = pen
        .dash_pattern()
        .iter()
        .map(|d| format!("{d:.2}"))
        .collect();
    let _ = write!(
        svg,
        "<path d=\"{path}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{:.2}\" \
         stroke-linejoin=\"round\"{}/>",
        pen.ink.hex(),
        pen.width,
        if dash.is_empty() {
            String::new()
        } else {
            format!(" stroke-dasharray=\"{}\"", dash.join(" "))
        }
    );
}

fn label(svg: &mut String, label: &Label) {
    let anchor = match label.anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    let halo = if label.halo {
        format!(
            " stroke=\"{}\" stroke-width=\"{:.2}\" stroke-linejoin=\"round\" paint-order=\"stroke\"",
            Ink::Black.hex(),
            label.size * 2.0 * LABEL_HALO
        )
    } else {
        String::new()
    };
    let weight = if label.bold {
        " font-weight=\"bold\""
    } else {
        ""
    };
    let _ = write!(
        svg,
        "<text x=\"{:.2}\" y=\"{:.2}\" font-size=\"{:.2}\" text-anchor=\"{anchor}\" \
         fill=\"{}\"{weight}{halo}>{}</text>",
        label.at.x,
        label.at.y,
        label.size,
        label.ink.hex(),
        escape(&label.text)
    );
}

//! A record as a tagged PDF: A4, embedded fonts, bookmarks, vector figures.

use std::collections::HashMap;
use std::num::NonZeroU16;

use image::GrayImage;
use krilla::Document;
use krilla::SerializeSettings;
use krilla::color::rgb;
use krilla::configure::{Accessibility, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{Path, PathBuilder, Point, Size, Transform};
use krilla::image::Image;
use krilla::metadata::Metadata;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Identifier, ListNumbering, SpanTag, TableHeaderScope, Tag,
    TagGroup, TagKind, TagTree,
};
use krilla::text::{Font, TextDirection};
use kurbo::{BezPath, PathEl, Rect, Shape};

use super::drawing::{Anchor, Drawing, Ink, LABEL_HALO, LINE_HALO, Label, Mark, Pen};
use super::font::Face;
use super::font_file::FontFile;
use super::layout::{self, Item, Layout, MARGIN, Node, PAGE, Role};
use super::model::Report;
use super::picture;

/// The PDF file.
///
/// # Errors
/// What the PDF library refuses, in words.
pub fn bytes(report: &Report) -> Result<Vec<u8>, String> {
    let title = format!("{}: {}", report.title, report.subtitle);
    document(&layout::set(report), &title, &report.footer)
}

/// A set document as a PDF file; `footer` stands on every page.
///
/// # Errors
/// What the PDF library refuses, in words.
pub fn document(layout: &Layout, title: &str, footer: &str) -> Result<Vec<u8>, String> {
    let mut fonts = Fonts::default();
    let configuration = ConfigurationBuilder::new()
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|e| format!("{e:?}"))?;
    let mut document = Document::new_with(SerializeSettings {
        configuration,
        ..SerializeSettings::default()
    });
    let mut identifiers = Vec::with_capacity(layout.pages.len());
    for (number, items) in layout.pages.iter().enumerate() {
        let settings =
            PageSettings::from_wh(PAGE.0 as f32, PAGE.1 as f32).ok_or("the page has no size")?;
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        let mut painter = Painter {
            surface: &mut surface,
            fonts: &mut fonts,
        };
        identifiers.push(
            items
                .iter()
                .map(|item| painter.item(item))
                .collect::<Result<Vec<_>, _>>()?,
        );
        painter.footer(footer, number + 1, layout.pages.len());
        surface.finish();
        page.finish();
    }
    document.set_tag_tree(tag_tree(layout, &mut identifiers));
    document.set_outline(outline(layout));
    document.set_metadata(
        Metadata::new()
            .title(title.to_owned())
            .creator(format!("Lengthfilm {}", env!("CARGO_PKG_VERSION")))
            .language("en".to_owned()),
    );
    document.finish().map_err(|e| format!("{e:?}"))
}

/// The fonts in use, by the names of their files.
#[derive(Default)]
struct Fonts(HashMap<&'static str, Font>);

impl Fonts {
    fn of(&mut self, file: &'static FontFile) -> Font {
        let load = || Font::new(file.bytes().into(), 0).expect("the built-in font is whole");
        self.0.entry(file.name).or_insert_with(load).clone()
    }
}

struct Painter<'s, 'd, 'f> {
    surface: &'s mut Surface<'d>,
    fonts: &'f mut Fonts,
}

impl Painter<'_, '_, '_> {
    /// Paints one item; its identifier where it is content rather than
    /// decoration.
    fn item(&mut self, item: &Item) -> Result<Option<Identifier>, String> {
        match item {
            Item::Text {
                at,
                size,
                face,
                ink,
                text,
            } => {
                let printable = face.printable(text);
                let actual = (printable != *text).then_some(text.as_str());
                let span = SpanTag::empty().with_actual_text(actual);
                let id = self.surface.start_tagged(ContentTag::Span(span));
                self.text(at.x, at.y, *size, *face, *ink, &printable);
                self.surface.end_tagged();
                Ok(Some(id))
            }
            Item::Box { rect, ink } => {
                self.surface
                    .start_tagged(ContentTag::Artifact(Artifact::with_kind(
                        ArtifactType::Layout,
                    )));
                self.fill(&rect.to_path(0.1), *ink);
                self.surface.end_tagged();
                Ok(None)
            }
            Item::Picture { rect, drawing } => {
                let id = self.surface.start_tagged(ContentTag::Other);
                let painted = self.drawing(*rect, drawing);
                self.surface.end_tagged();
                painted.map(|()| Some(id))
            }
        }
    }

    fn footer(&mut self, text: &str, number: usize, of: usize) {
        let (size, face) = (layout::SMALL, Face::Regular);
        self.surface
            .start_tagged(ContentTag::Artifact(Artifact::with_kind(
                ArtifactType::Footer,
            )));
        let y = PAGE.1 - 20.0;
        self.text(MARGIN, y, size, face, Ink::Grey, &face.printable(text));
        let count = format!("page {number} of {of}");
        let x = PAGE.0 - MARGIN - face.width(&count, size);
        self.text(x, y, size, face, Ink::Grey, &count);
        self.surface.end_tagged();
    }

    fn drawing(&mut self, rect: Rect, drawing: &Drawing) -> Result<(), String> {
        let scale = (rect.width() / drawing.size.width) as f32;
        let place = Transform::from_row(scale, 0.0, 0.0, scale, rect.x0 as f32, rect.y0 as f32);
        self.surface.push_transform(&place);
        if let Some(film) = &drawing.film {
            let size = Size::from_wh(drawing.size.width as f32, drawing.size.height as f32)
                .ok_or("a picture is empty")?;
            self.surface.draw_image(film_image(film)?, size);
        }
        for mark in &drawing.marks {
            match mark {
                Mark::Line { path, pen } => self.line(path, pen),
                Mark::Area { path, ink } => self.fill(path, *ink),
                Mark::Label(label) => self.label(label),
            }
        }
        self.surface.pop();
        Ok(())
    }

    fn line(&mut self, path: &BezPath, pen: &Pen) {
        let Some(path) = krilla_path(path) else {
            return;
        };
        self.surface.set_fill(None);
        if pen.halo {
            let width = pen.width * (1.0 + 2.0 * LINE_HALO);
            self.surface
                .set_stroke(Some(stroke(Ink::Black, width, Vec::new())));
            self.surface.draw_path(&path);
        }
        self.surface
            .set_stroke(Some(stroke(pen.ink, pen.width, pen.dash_pattern())));
        self.surface.draw_path(&path);
        self.surface.set_stroke(None);
    }

    fn fill(&mut self, path: &BezPath, ink: Ink) {
        if let Some(path) = krilla_path(path) {
            self.surface.set_stroke(None);
            self.surface.set_fill(Some(fill(ink)));
            self.surface.draw_path(&path);
        }
    }

    fn label(&mut self, label: &Label) {
        let face = Face::bold_if(label.bold);
        let text = face.printable(&label.text);
        let width = face.width(&text, label.size);
        let x = label.at.x
            - match label.anchor {
                Anchor::Start => 0.0,
                Anchor::Middle => width / 2.0,
                Anchor::End => width,
            };
        if label.halo {
            let rim = label.size * 2.0 * LABEL_HALO;
            self.surface
                .set_stroke(Some(stroke(Ink::Black, rim, Vec::new())));
            self.draw_text(x, label.at.y, label.size, face, Ink::Black, &text);
            self.surface.set_stroke(None);
        }
        self.draw_text(x, label.at.y, label.size, face, label.ink, &text);
    }

    fn text(&mut self, x: f64, y: f64, size: f64, face: Face, ink: Ink, text: &str) {
        self.surface.set_stroke(None);
        self.draw_text(x, y, size, face, ink, text);
    }

    fn draw_text(&mut self, x: f64, y: f64, size: f64, face: Face, ink: Ink, text: &str) {
        self.surface.set_fill(Some(fill(ink)));
        let mut x = x;
        for (file, run) in face.runs(text) {
            self.surface.draw_text(
                Point::from_xy(x as f32, y as f32),
                self.fonts.of(file),
                size as f32,
                run,
                false,
                TextDirection::Auto,
            );
            x += file.width(run, size);
        }
    }
}

fn film_image(film: &GrayImage) -> Result<Image, String> {
    Image::from_png(picture::png_bytes(film).into(), true)
}

fn color(ink: Ink) -> rgb::Color {
    let [r, g, b] = ink.rgb();
    rgb::Color::new(r, g, b)
}

fn fill(ink: Ink) -> Fill {
    Fill {
        paint: color(ink).into(),
        ..Fill::default()
    }
}

fn stroke(ink: Ink, width: f64, dash: Vec<f64>) -> Stroke {
    Stroke {
        paint: color(ink).into(),
        width: width as f32,
        line_join: LineJoin::Round,
        dash: (!dash.is_empty()).then(|| StrokeDash {
            array: dash.iter().map(|&d| d as f32).collect(),
            offset: 0.0,
        }),
        ..Stroke::default()
    }
}

fn krilla_path(path: &BezPath) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for element in path.elements() {
        match *element {
            PathEl::MoveTo(p) => builder.move_to(p.x as f32, p.y as f32),
            PathEl::LineTo(p) => builder.line_to(p.x as f32, p.y as f32),
            PathEl::QuadTo(a, p) => {
                builder.quad_to(a.x as f32, a.y as f32, p.x as f32, p.y as f32);
            }
            PathEl::CurveTo(a, b, p) => builder.cubic_to(
                a.x as f32, a.y as f32, b.x as f32, b.y as f32, p.x as f32, p.y as f32,
            ),
            PathEl::ClosePath => builder.close(),
        }
    }
    builder.finish()
}

fn outline(layout: &Layout) -> Outline {
    let mut outline = Outline::new();
    for mark in &layout.bookmarks {
        let there = XyzDestination::new(mark.page, Point::from_xy(MARGIN as f32, mark.y as f32));
        outline.push_child(OutlineNode::new(mark.text.clone(), there));
    }
    outline
}

fn tag_tree(layout: &Layout, identifiers: &mut [Vec<Option<Identifier>>]) -> TagTree {
    let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
    for node in &layout.structure {
        if let Node::Element { role, children } = node {
            tree.push(tag_group(role, children, identifiers));
        }
    }
    tree
}

fn tag_group(
    role: &Role,
    children: &[Node],
    identifiers: &mut [Vec<Option<Identifier>>],
) -> TagGroup {
    let mut group = TagGroup::new(tag_of(role));
    for child in children {
        match child {
            Node::Element { role, children } => {
                group.push(tag_group(role, children, identifiers));
            }
            Node::Leaf { page, item } => {
                if let Some(id) = identifiers[*page][*item].take() {
                    group.push(id);
                }
            }
        }
    }
    group
}

fn tag_of(role: &Role) -> TagKind {
    let heading = |level: u16, title: &str| {
        let level = NonZeroU16::new(level).expect("levels start at one");
        Tag::Hn(level, Some(title.to_owned())).into()
    };
    match role {
        Role::Title => heading(1, "Record"),
        Role::Heading(text) => heading(2, text),
        Role::Paragraph => Tag::P.into(),
        Role::List => Tag::L(ListNumbering::Disc).into(),
        Role::ListItem => Tag::LI.into(),
        Role::ListBody => Tag::LBody.into(),
        Role::Table => Tag::Table.into(),
        Role::TableRow => Tag::TR.into(),
        Role::ColumnHead => Tag::TH(TableHeaderScope::Column).into(),
        Role::RowHead => Tag::TH(TableHeaderScope::Row).into(),
        Role::Cell => Tag::TD.into(),
        Role::Figure(alt) => Tag::Figure(Some(alt.clone())).into(),
        Role::Caption => Tag::Caption.into(),
    }
}

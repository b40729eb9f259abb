//! Colours and text sizes. Every pair used for text keeps a contrast of at
//! least 4.5 : 1 (WCAG 2.1, 1.4.3); what lies on the film is told apart by
//! shape and letter as well as by colour.

use egui::epaint::text::{FontInsert, FontPriority, InsertFontFamily};
use egui::{Color32, FontData, FontFamily, FontId, Stroke, TextStyle, Visuals};

use crate::case::PlaceKind;
use crate::report::OTHER_LETTERS;

/// Colours of the window's own surfaces and words.
#[derive(Clone, Copy, Debug)]
pub struct Palette {
    pub dark: bool,
    /// Behind rail and findings.
    pub panel: Color32,
    /// Cards, fields and buttons on a panel.
    pub raised: Color32,
    /// Hovered and pressed buttons.
    pub raised_more: Color32,
    pub text: Color32,
    /// Units, names and hints.
    pub quiet_text: Color32,
    /// Focus, active tool, links.
    pub accent: Color32,
    /// Words on the accent.
    pub on_accent: Color32,
    /// Within the usual limits.
    pub good: Color32,
    /// To be looked at.
    pub caution: Color32,
    /// Beyond the apex, errors.
    pub alarm: Color32,
    pub line: Color32,
}

/// Dark: for a dimmed room with a film on the screen.
pub const DARK: Palette = Palette {
    dark: true,
    panel: Color32::from_rgb(24, 28, 32),
    raised: Color32::from_rgb(36, 42, 48),
    raised_more: Color32::from_rgb(52, 60, 68),
    text: Color32::from_rgb(236, 239, 241),
    quiet_text: Color32::from_rgb(168, 178, 187),
    accent: Color32::from_rgb(116, 196, 214),
    on_accent: Color32::from_rgb(8, 26, 32),
    good: Color32::from_rgb(122, 208, 178),
    caution: Color32::from_rgb(240, 196, 88),
    alarm: Color32::from_rgb(255, 148, 120),
    line: Color32::from_rgb(62, 70, 78),
};

/// Light: for a bright surgery.
pub const LIGHT: Palette = Palette {
    dark: false,
    panel: Color32::from_rgb(244, 246, 247),
    raised: Color32::from_rgb(255, 255, 255),
    raised_more: Color32::from_rgb(222, 228, 232),
    text: Color32::from_rgb(22, 28, 33),
    quiet_text: Color32::from_rgb(80, 91, 100),
    accent: Color32::from_rgb(0, 96, 122),
    on_accent: Color32::from_rgb(255, 255, 255),
    good: Color32::from_rgb(0, 102, 74),
    caution: Color32::from_rgb(126, 80, 0),
    alarm: Color32::from_rgb(168, 44, 16),
    line: Color32::from_rgb(196, 204, 210),
};

/// The colour of what is placed on that kind of place.
pub fn of_place(kind: PlaceKind) -> Color32 {
    match kind {
        PlaceKind::Reference => REFERENCE,
        PlaceKind::Tip => FILE,
        PlaceKind::Apex => APEX,
        PlaceKind::Canal => CANAL,
        PlaceKind::ScaleObject => SCALE,
        PlaceKind::Curvature => CONSTRUCTION,
    }
}

/// The film lies on near black in both themes: glare hides faint apices.
pub const FILM_GROUND: Color32 = Color32::from_rgb(10, 12, 14);
/// Dark edge of everything drawn on the film.
pub const HALO: Color32 = Color32::from_rgba_premultiplied(0, 0, 0, 200);
/// Words on the film, on [`LABEL_GROUND`].
pub const FILM_TEXT: Color32 = Color32::from_rgb(245, 247, 248);
/// Behind words on the film.
pub const LABEL_GROUND: Color32 = Color32::from_rgba_premultiplied(10, 12, 14, 225);

// Marks on the film: hues of Okabe and Ito's set for colour-blind readers
// ("Color Universal Design", 2008; MEM-H), lightened where needed.
/// Canal trace, ruler ticks.
pub const CANAL: Color32 = Color32::from_rgb(86, 180, 233);
/// The file's line and tip.
pub const FILE: Color32 = Color32::from_rgb(240, 228, 66);
/// Apex and foramen.
pub const APEX: Color32 = Color32::from_rgb(240, 130, 60);
/// Reference point.
pub const REFERENCE: Color32 = Color32::from_rgb(245, 247, 248);
/// Ruler and ball.
pub const SCALE: Color32 = Color32::from_rgb(60, 200, 155);
/// Walls of a canal.
pub const WALL: Color32 = Color32::from_rgb(150, 214, 246);
/// Marks that two films have in common.
pub const MARK: Color32 = Color32::from_rgb(255, 194, 92);
/// Curvature constructions and landmarks.
pub const CONSTRUCTION: Color32 = Color32::from_rgb(226, 150, 196);

/// The palette of the theme in force.
pub fn of(ui: &egui::Ui) -> &'static Palette {
    if ui.visuals().dark_mode {
        &DARK
    } else {
        &LIGHT
    }
}

/// Text size against the normal one.
pub fn text_scale(ui: &egui::Ui) -> f32 {
    ui.text_style_height(&TextStyle::Body) / 18.0
}

/// Unpacks the fonts of [`add_letters`] beside the caller: some 5 MB, longer
/// than a frame.
pub fn unpack_letters() {
    rayon::spawn(|| {
        for file in &OTHER_LETTERS {
            file.bytes();
        }
    });
}

/// Gives the window the letters that its own fonts lack: names of people.
pub fn add_letters(ctx: &egui::Context) {
    for file in &OTHER_LETTERS {
        let behind = |family| InsertFontFamily {
            family,
            priority: FontPriority::Lowest,
        };
        ctx.add_font(FontInsert::new(
            file.name,
            FontData::from_static(file.bytes()),
            [FontFamily::Proportional, FontFamily::Monospace]
                .map(behind)
                .to_vec(),
        ));
    }
}

/// Name of the text style of the answer itself.
const ANSWER: &str = "answer";
/// Name of the text style of second-rank numbers.
const FIGURE: &str = "figure";

/// Text of the answer, readable at arm's length.
pub fn answer_style() -> TextStyle {
    TextStyle::Name(ANSWER.into())
}

/// Text of second-rank numbers.
pub fn figure_style() -> TextStyle {
    TextStyle::Name(FIGURE.into())
}

/// Puts theme and text size in force.
pub fn apply(ctx: &egui::Context, dark: bool, text_scale: f32) {
    ctx.set_theme(if dark {
        egui::Theme::Dark
    } else {
        egui::Theme::Light
    });
    ctx.all_styles_mut(|style| {
        let palette = if style.visuals.dark_mode {
            &DARK
        } else {
            &LIGHT
        };
        style.visuals = visuals(palette);
        let sized = |size: f32| FontId::new(size * text_scale, FontFamily::Proportional);
        style.text_styles = [
            (TextStyle::Small, sized(11.5)),
            (TextStyle::Body, sized(13.5)),
            (TextStyle::Button, sized(13.5)),
            (TextStyle::Heading, sized(15.5)),
            (
                TextStyle::Monospace,
                FontId::new(12.5 * text_scale, FontFamily::Monospace),
            ),
            (figure_style(), sized(32.0)),
            (answer_style(), sized(44.0)),
        ]
        .into();
        style.spacing.item_spacing = egui::vec2(7.0, 5.0);
        style.spacing.window_margin = egui::Margin::same(16);
        style.spacing.button_padding = egui::vec2(8.0, 4.0);
        style.spacing.interact_size = egui::vec2(36.0, 24.0 * text_scale);
        style.spacing.scroll = egui::style::ScrollStyle::thin();
        style.animation_time = 0.0;
    });
}

fn visuals(palette: &Palette) -> Visuals {
    let mut visuals = if palette.dark {
        Visuals::dark()
    } else {
        Visuals::light()
    };
    visuals.panel_fill = palette.panel;
    visuals.window_fill = palette.panel;
    visuals.extreme_bg_color = palette.raised;
    visuals.faint_bg_color = palette.raised;
    visuals.hyperlink_color = palette.accent;
    visuals.warn_fg_color = palette.caution;
    visuals.error_fg_color = palette.alarm;
    visuals.weak_text_color = Some(palette.quiet_text);
    visuals.selection.bg_fill = palette.accent;
    visuals.selection.stroke = Stroke::new(1.0, palette.on_accent);
    visuals.window_stroke = Stroke::new(1.0, palette.line);
    let widgets = &mut visuals.widgets;
    widgets.noninteractive.fg_stroke = Stroke::new(1.0, palette.text);
    widgets.noninteractive.bg_stroke = Stroke::new(1.0, palette.line);
    for (widget, fill) in [
        (&mut widgets.inactive, palette.raised),
        (&mut widgets.hovered, palette.raised_more),
        (&mut widgets.active, palette.raised_more),
        (&mut widgets.open, palette.raised_more),
    ] {
        widget.bg_fill = fill;
        widget.weak_bg_fill = fill;
        widget.fg_stroke = Stroke::new(1.0, palette.text);
        widget.bg_stroke = Stroke::new(1.0, palette.line);
        widget.expansion = 0.0;
    }
    // Keyboard focus shows as the active look.
    widgets.active.bg_stroke = Stroke::new(2.0, palette.accent);
    widgets.hovered.bg_stroke = Stroke::new(1.0, palette.quiet_text);
    visuals
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance, WCAG 2.1.
    fn luminance(colour: Color32) -> f64 {
        let linear = |channel: u8| {
            let c = f64::from(channel) / 255.0;
            if c <= 0.03928 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * linear(colour.r()) + 0.7152 * linear(colour.g()) + 0.0722 * linear(colour.b())
    }

    fn contrast(a: Color32, b: Color32) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// WCAG 2.1, 1.4.3 (AA).
    const LEAST: f64 = 4.5;

    #[test]
    fn the_contrast_formula_gives_the_standards_ends() {
        assert!((contrast(Color32::WHITE, Color32::BLACK) - 21.0).abs() < 1e-9);
        assert!((contrast(Color32::WHITE, Color32::WHITE) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn words_keep_their_contrast_on_every_surface_of_both_themes() {
        for palette in [DARK, LIGHT] {
            for ground in [palette.panel, palette.raised, palette.raised_more] {
                for (name, words) in [
                    ("text", palette.text),
                    ("quiet", palette.quiet_text),
                    ("accent", palette.accent),
                    ("good", palette.good),
                    ("caution", palette.caution),
                    ("alarm", palette.alarm),
                ] {
                    let found = contrast(words, ground);
                    assert!(
                        found >= LEAST,
                        "dark {}: {name} on {ground:?}: {found:.2}",
                        palette.dark
                    );
                }
            }
            assert!(contrast(palette.on_accent, palette.accent) >= LEAST);
        }
    }

    #[test]
    fn marks_on_the_film_keep_their_contrast_on_their_dark_edge() {
        for mark in [CANAL, FILE, APEX, REFERENCE, SCALE, CONSTRUCTION, FILM_TEXT] {
            assert!(contrast(mark, FILM_GROUND) >= LEAST, "{mark:?}");
        }
    }
}

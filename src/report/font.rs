//! The two faces every record is set in, their widths and outlines.

use kurbo::{Affine, BezPath};
use skrifa::instance::{LocationRef, Size};
use skrifa::metrics::GlyphMetrics;
use skrifa::outline::{DrawSettings, OutlinePen};
use skrifa::{FontRef, MetadataProvider};

/// Regular or bold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    Regular,
    Bold,
}

/// Height of capitals as a share of the font size.
pub const CAP_HEIGHT: f64 = 0.73;

impl Face {
    /// Bold when `bold`.
    pub fn bold_if(bold: bool) -> Self {
        if bold { Face::Bold } else { Face::Regular }
    }

    /// The font file.
    pub fn bytes(self) -> &'static [u8] {
        match self {
            Face::Regular => include_bytes!("fonts/DejaVuSansCondensed.ttf"),
            Face::Bold => include_bytes!("fonts/DejaVuSansCondensed-Bold.ttf"),
        }
    }

    fn font(self) -> FontRef<'static> {
        FontRef::new(self.bytes()).expect("the built-in font is whole")
    }

    /// The text with signs this face lacks shown as an empty square.
    pub fn printable(self, text: &str) -> String {
        let map = self.font().charmap();
        text.chars()
            .map(|c| if map.map(c).is_some() { c } else { '□' })
            .collect()
    }

    /// Width of one line of text at a font size, without kerning.
    pub fn width(self, text: &str, size: f64) -> f64 {
        let font = self.font();
        let metrics = GlyphMetrics::new(&font, Size::new(size as f32), LocationRef::default());
        let map = font.charmap();
        text.chars()
            .map(|c| {
                let glyph = map.map(c).unwrap_or_default();
                f64::from(metrics.advance_width(glyph).unwrap_or(0.0))
            })
            .sum()
    }

    /// Outlines of one line of text, baseline starting at the origin, y down.
    pub fn outline(self, text: &str, size: f64) -> BezPath {
        let font = self.font();
        let size = Size::new(size as f32);
        let metrics = GlyphMetrics::new(&font, size, LocationRef::default());
        let (map, glyphs) = (font.charmap(), font.outline_glyphs());
        let mut path = BezPath::new();
        let mut x = 0.0;
        for c in text.chars() {
            let id = map.map(c).unwrap_or_default();
            if let Some(glyph) = glyphs.get(id) {
                let mut pen = PathPen(BezPath::new());
                let settings = DrawSettings::unhinted(size, LocationRef::default());
                if glyph.draw(settings, &mut pen).is_ok() {
                    path.extend(Affine::new([1.0, 0.0, 0.0, -1.0, x, 0.0]) * pen.0);
                }
            }
            x += f64::from(metrics.advance_width(id).unwrap_or(0.0));
        }
        path
    }

    /// Breaks text into lines no wider than `width`, not at no-break spaces and
    /// not between a number and its unit; a longer word is broken where it must
    /// be.
    pub fn wrap(self, text: &str, size: f64, width: f64) -> Vec<String> {
        let mut lines = Vec::new();
        let mut line = String::new();
        for word in words(text) {
            let candidate = if line.is_empty() {
                word.clone()
            } else {
                format!("{line} {word}")
            };
            if self.width(&candidate, size) <= width {
                line = candidate;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for c in word.chars() {
                line.push(c);
                if self.width(&line, size) > width && line.chars().count() > 1 {
                    line.pop();
                    lines.push(std::mem::replace(&mut line, c.to_string()));
                }
            }
        }
        if !line.is_empty() || lines.is_empty() {
            lines.push(line);
        }
        lines
    }
}

/// The words of a text, a number and its unit as one.
fn words(text: &str) -> Vec<String> {
    const UNITS: [&str; 4] = ["mm", "px", "%", "°"];
    let mut words: Vec<String> = Vec::new();
    let is_space = [' ', '\n', '\t'];
    for word in text.split(is_space).filter(|word| !word.is_empty()) {
        let bare = word.trim_end_matches(['.', ',', ';', ':', ')']);
        match words.last_mut() {
            Some(number)
                if UNITS.contains(&bare) && number.ends_with(|c: char| c.is_ascii_digit()) =>
            {
                number.push(' ');
                number.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
}

struct PathPen(BezPath);

impl OutlinePen for PathPen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.0.move_to((f64::from(x), f64::from(y)));
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.0.line_to((f64::from(x), f64::from(y)));
    }

    fn quad_to(&mut self, cx: f32, cy: f32, x: f32, y: f32) {
        self.0
            .quad_to((f64::from(cx), f64::from(cy)), (f64::from(x), f64::from(y)));
    }

    fn curve_to(&mut self, ax: f32, ay: f32, bx: f32, by: f32, x: f32, y: f32) {
        self.0.curve_to(
            (f64::from(ax), f64::from(ay)),
            (f64::from(bx), f64::from(by)),
            (f64::from(x), f64::from(y)),
        );
    }

    fn close(&mut self) {
        self.0.close_path();
    }
}

#[cfg(test)]
mod tests {
    use super::Face;

    #[test]
    fn wrapped_lines_fit_and_lose_nothing() {
        let text = "A canal name without any breaks: Überlängenwurzelkanaldarstellung, 22.0 mm";
        for width in [20.0, 60.0, 200.0] {
            let lines = Face::Regular.wrap(text, 9.0, width);
            for line in &lines {
                assert!(Face::Regular.width(line, 9.0) <= width, "{line}");
            }
            let joined: String = lines.concat();
            let without_spaces = |s: &str| s.replace(' ', "");
            assert_eq!(without_spaces(&joined), without_spaces(text));
        }
    }

    #[test]
    fn a_unit_stays_with_its_number() {
        let text = "The lengths differ by 0.5 mm. In mm, 92 % of all.";
        for width in [40.0, 60.0, 80.0, 100.0, 120.0] {
            let lines = Face::Regular.wrap(text, 9.0, width);
            assert!(lines.len() > 1);
            assert!(
                lines
                    .iter()
                    .all(|l| !l.starts_with("mm. ") && !l.starts_with('%'))
            );
            assert!(lines.iter().any(|l| l.contains("0.5 mm.")), "{lines:?}");
            assert_eq!(lines.join(" "), text);
        }
    }

    /// Every sign the records use has a glyph.
    #[test]
    fn the_faces_hold_the_signs_in_use() {
        use skrifa::MetadataProvider;
        for face in [Face::Regular, Face::Bold] {
            for c in "±°−–×→µαÄéŁЖλ≤≥·’“”…".chars() {
                assert!(face.font().charmap().map(c).is_some(), "{c}");
            }
        }
    }
}

//! The two faces every record is set in, their widths and outlines. Letters
//! that they lack come from other built-in fonts.

use kurbo::{Affine, BezPath};
use skrifa::MetadataProvider;
use skrifa::instance::{LocationRef, Size};
use skrifa::metrics::GlyphMetrics;
use skrifa::outline::{DrawSettings, OutlinePen};

use super::font_file::{BOLD, FontFile, OTHER_LETTERS, REGULAR};

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

    fn file(self) -> &'static FontFile {
        match self {
            Face::Regular => &REGULAR,
            Face::Bold => &BOLD,
        }
    }

    /// Finds the file that a letter is set in. The face's own letters are by far
    /// the most, so that its table is opened once.
    fn file_finder(self) -> impl Fn(char) -> Option<&'static FontFile> {
        let own = self.file();
        let letters = own.font().charmap();
        move |c| match letters.map(c) {
            Some(_) => Some(own),
            None => OTHER_LETTERS.iter().find(|file| file.has(c)),
        }
    }

    /// The text with signs that no built-in font has shown as an empty square.
    pub fn printable(self, text: &str) -> String {
        let file_with = self.file_finder();
        let shown = text.chars().map(|c| file_with(c).map_or('□', |_| c));
        shown.collect()
    }

    /// The text in parts, each with the file that it is set in.
    pub fn runs(self, text: &str) -> Vec<(&'static FontFile, &str)> {
        let file_with = self.file_finder();
        let mut runs: Vec<(&'static FontFile, &str)> = Vec::new();
        let mut from = 0;
        for (at, c) in text.char_indices() {
            let end = at + c.len_utf8();
            let found = file_with(c).unwrap_or(self.file());
            // A name of several words stays whole: from right to left the
            // first of them stands last.
            let joins = c.is_whitespace() || matches!(c, '\u{200c}' | '\u{200d}');
            let file = match runs.last() {
                Some(&(last, _)) if joins && !std::ptr::eq(last, found) && last.has(c) => last,
                _ => found,
            };
            match runs.last_mut() {
                Some((same, run)) if std::ptr::eq(*same, file) => *run = &text[from..end],
                _ => {
                    from = at;
                    runs.push((file, &text[at..end]));
                }
            }
        }
        runs
    }

    /// Width of one line of text at a font size, without kerning.
    pub fn width(self, text: &str, size: f64) -> f64 {
        let runs = self.runs(text).into_iter();
        runs.map(|(file, run)| file.width(run, size)).sum()
    }

    /// Outlines of one line of text, baseline starting at the origin, y down.
    pub fn outline(self, text: &str, size: f64) -> BezPath {
        let size = Size::new(size as f32);
        let mut path = BezPath::new();
        let mut x = 0.0;
        for (file, run) in self.runs(text) {
            let font = file.font();
            let metrics = GlyphMetrics::new(&font, size, LocationRef::default());
            let (map, glyphs) = (font.charmap(), font.outline_glyphs());
            for c in run.chars() {
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
        for face in [Face::Regular, Face::Bold] {
            for c in "±°−–×→µαÄéŁЖλ≤≥·’“”…□".chars() {
                assert!(face.file().has(c), "{c}");
            }
        }
    }

    /// Names of people as they are written in many countries.
    const NAMES: [&str; 21] = [
        "김민수",
        "王小明",
        "王曉明",
        "さくら タナカ",
        "سارة أحمد",
        "علی‌رضا",
        "שרה לוי",
        "सीता देवी",
        "রহিম উদ্দিন",
        "ராமன்",
        "రాము",
        "ರಾಮು",
        "രാമൻ",
        "રમેશ",
        "ਗੁਰਪ੍ਰੀਤ",
        "සුනිල්",
        "สมชาย ใจดี",
        "ສົມຊາຍ",
        "သီတာ",
        "Արամ",
        "გიორგი",
    ];

    #[test]
    fn names_have_their_letters_and_stay_whole() {
        for face in [Face::Regular, Face::Bold] {
            for name in NAMES {
                assert_eq!(face.printable(name), name);
                let runs = face.runs(name);
                assert_eq!(runs.len(), 1, "{name}: {runs:?}");
                assert!(face.width(name, 10.0) > 5.0, "{name}");
                assert!(!face.outline(name, 10.0).is_empty(), "{name}");
            }
            // A script that no built-in font has.
            assert_eq!(face.printable("a\u{13000}b"), "a□b");
        }
    }

    #[test]
    fn parts_of_a_line_come_in_order_each_in_its_font() {
        let text = "Anna 김민수, Łucja سارة أحمد.";
        let runs = Face::Bold.runs(text);
        let parts: Vec<&str> = runs.iter().map(|(_, part)| *part).collect();
        assert_eq!(parts, ["Anna ", "김민수", ", Łucja ", "سارة أحمد", "."]);
        let names: Vec<&str> = runs.iter().map(|(file, _)| file.name).collect();
        assert_eq!(
            (names[0], names[1]),
            ("DejaVuSansCondensed-Bold", "WenQuanYiMicroHei")
        );
        let sum: f64 = runs.iter().map(|(file, part)| file.width(part, 9.0)).sum();
        assert_eq!(sum, Face::Bold.width(text, 9.0));
        assert!(Face::Bold.runs("").is_empty());
    }
}

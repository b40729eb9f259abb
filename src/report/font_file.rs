//! The built-in font files: two faces, and behind them those for letters that
//! the faces lack.

use skrifa::instance::{LocationRef, Size};
use skrifa::metrics::GlyphMetrics;
use skrifa::{FontRef, MetadataProvider};

/// A font file within the program.
#[derive(Debug)]
pub struct FontFile {
    /// File name without ending; no two have the same.
    pub name: &'static str,
    pub bytes: &'static [u8],
}

macro_rules! built_in {
    ($folder:literal, $name:literal) => {
        FontFile {
            name: $name,
            bytes: include_bytes!(concat!("fonts/", $folder, $name, ".ttf")),
        }
    };
}

/// Latin, Greek and Cyrillic letters, and the signs of the records.
pub static REGULAR: FontFile = built_in!("", "DejaVuSansCondensed");
/// The same in bold.
pub static BOLD: FontFile = built_in!("", "DejaVuSansCondensed-Bold");
/// Names of people are written in these too; the first that has a letter is
/// taken.
pub static OTHER_LETTERS: [FontFile; 19] = [
    // Chinese, Japanese and Korean.
    built_in!("other-letters/", "WenQuanYiMicroHei"),
    built_in!("other-letters/", "NotoSansArabic"),
    built_in!("other-letters/", "NotoSansArmenian"),
    built_in!("other-letters/", "NotoSansBengali"),
    built_in!("other-letters/", "NotoSansDevanagari"),
    built_in!("other-letters/", "NotoSansEthiopic"),
    built_in!("other-letters/", "NotoSansGeorgian"),
    built_in!("other-letters/", "NotoSansGujarati"),
    built_in!("other-letters/", "NotoSansGurmukhi"),
    built_in!("other-letters/", "NotoSansHebrew"),
    built_in!("other-letters/", "NotoSansKannada"),
    built_in!("other-letters/", "NotoSansKhmer"),
    built_in!("other-letters/", "NotoSansLao"),
    built_in!("other-letters/", "NotoSansMalayalam"),
    built_in!("other-letters/", "NotoSansMyanmar"),
    built_in!("other-letters/", "NotoSansSinhala"),
    built_in!("other-letters/", "NotoSansTamil"),
    built_in!("other-letters/", "NotoSansTelugu"),
    built_in!("other-letters/", "NotoSansThai"),
];

impl FontFile {
    pub(super) fn font(&self) -> FontRef<'static> {
        FontRef::new(self.bytes).expect("the built-in font is whole")
    }

    /// It has a glyph for that letter.
    pub(super) fn has(&self, c: char) -> bool {
        self.font().charmap().map(c).is_some()
    }

    /// Width of one line of text at a font size, without kerning.
    pub(super) fn width(&self, text: &str, size: f64) -> f64 {
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
}

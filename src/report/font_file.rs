//! The built-in font files: two faces, and behind them those for letters that
//! the faces lack.

use std::io::Read;
use std::sync::OnceLock;

use flate2::read::GzDecoder;
use skrifa::instance::{LocationRef, Size};
use skrifa::metrics::GlyphMetrics;
use skrifa::{FontRef, MetadataProvider};

/// A font file within the program.
#[derive(Debug)]
pub struct FontFile {
    /// File name without ending; no two have the same.
    pub name: &'static str,
    stored: Stored,
}

/// How the program holds a font.
#[derive(Debug)]
enum Stored {
    Plain(&'static [u8]),
    /// With gzip; unpacked when it is first wanted.
    Packed(&'static [u8], OnceLock<Vec<u8>>),
}

macro_rules! built_in {
    ($name:literal) => {
        FontFile {
            name: $name,
            stored: Stored::Plain(include_bytes!(concat!("fonts/", $name, ".ttf"))),
        }
    };
}

/// The same, packed: seldom wanted.
macro_rules! packed {
    ($name:literal) => {
        FontFile {
            name: $name,
            stored: Stored::Packed(
                include_bytes!(concat!("fonts/other-letters/", $name, ".ttf.gz")),
                OnceLock::new(),
            ),
        }
    };
}

/// Latin, Greek and Cyrillic letters, and the signs of the records.
pub static REGULAR: FontFile = built_in!("DejaVuSansCondensed");
/// The same in bold.
pub static BOLD: FontFile = built_in!("DejaVuSansCondensed-Bold");
/// Names of people are written in these too; the first that has a letter is
/// taken.
pub static OTHER_LETTERS: [FontFile; 19] = [
    // Chinese, Japanese and Korean.
    packed!("WenQuanYiMicroHei"),
    packed!("NotoSansArabic"),
    packed!("NotoSansArmenian"),
    packed!("NotoSansBengali"),
    packed!("NotoSansDevanagari"),
    packed!("NotoSansEthiopic"),
    packed!("NotoSansGeorgian"),
    packed!("NotoSansGujarati"),
    packed!("NotoSansGurmukhi"),
    packed!("NotoSansHebrew"),
    packed!("NotoSansKannada"),
    packed!("NotoSansKhmer"),
    packed!("NotoSansLao"),
    packed!("NotoSansMalayalam"),
    packed!("NotoSansMyanmar"),
    packed!("NotoSansSinhala"),
    packed!("NotoSansTamil"),
    packed!("NotoSansTelugu"),
    packed!("NotoSansThai"),
];

impl FontFile {
    /// The font as a file holds it.
    pub fn bytes(&'static self) -> &'static [u8] {
        match &self.stored {
            Stored::Plain(bytes) => bytes,
            Stored::Packed(packed, unpacked) => unpacked.get_or_init(|| {
                let mut bytes = Vec::new();
                let read = GzDecoder::new(*packed).read_to_end(&mut bytes);
                read.expect("the built-in font is whole");
                bytes
            }),
        }
    }

    pub(super) fn font(&'static self) -> FontRef<'static> {
        FontRef::new(self.bytes()).expect("the built-in font is whole")
    }

    /// It has a glyph for that letter.
    pub(super) fn has(&'static self, c: char) -> bool {
        self.font().charmap().map(c).is_some()
    }

    /// Width of one line of text at a font size, without kerning.
    pub(super) fn width(&'static self, text: &str, size: f64) -> f64 {
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

//! Writing films.

use std::path::Path;

use png::{BitDepth, ColorType, Encoder};

use super::Film;
use super::fault::{FilmError, FilmFault};
use crate::atomic_file;

impl Film {
    /// Writes a 16-bit grey PNG of the samples as they are (not stretched to
    /// 16 bits); the same film gives the same bytes on any machine.
    ///
    /// # Errors
    /// When the file cannot be written; an old one is then whole.
    pub fn save_png16(&self, path: &Path) -> Result<(), FilmError> {
        self.png16_bytes()
            .and_then(|bytes| atomic_file::write(path, &bytes))
            .map_err(|error| FilmError::new(path, FilmFault::Unwritten(error)))
    }

    /// The file of [`Film::save_png16`].
    ///
    /// # Errors
    /// What the PNG library refuses.
    pub fn png16_bytes(&self) -> std::io::Result<Vec<u8>> {
        let mut file = Vec::new();
        let mut encoder = Encoder::new(&mut file, self.width_px(), self.height_px());
        encoder.set_color(ColorType::Grayscale);
        encoder.set_depth(BitDepth::Sixteen);
        let mut writer = encoder.write_header()?;
        let samples: Vec<u8> = self
            .samples()
            .iter()
            .flat_map(|sample| sample.to_be_bytes())
            .collect();
        writer.write_image_data(&samples)?;
        writer.finish()?;
        Ok(file)
    }
}

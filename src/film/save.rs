//! Writing films.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

use png::{BitDepth, ColorType, Encoder};

use super::Film;
use super::fault::{FilmError, FilmFault};

impl Film {
    /// Writes a 16-bit grey PNG of the samples as they are (not stretched to
    /// 16 bits); the same film gives the same bytes on any machine.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn save_png16(&self, path: &Path) -> Result<(), FilmError> {
        let write = || -> Result<(), FilmFault> {
            let mut file = BufWriter::new(File::create(path)?);
            let mut encoder = Encoder::new(&mut file, self.width_px(), self.height_px());
            encoder.set_color(ColorType::Grayscale);
            encoder.set_depth(BitDepth::Sixteen);
            let mut writer = encoder.write_header().map_err(std::io::Error::from)?;
            let bytes: Vec<u8> = self
                .samples()
                .iter()
                .flat_map(|s| s.to_be_bytes())
                .collect();
            writer
                .write_image_data(&bytes)
                .map_err(std::io::Error::from)?;
            writer.finish().map_err(std::io::Error::from)?;
            file.flush()?;
            Ok(())
        };
        write().map_err(|fault| FilmError::new(path, fault))
    }
}

//! How grey samples are shown: window, inversion, local contrast. For the eye
//! only: stored samples never change.

use crate::film::contrast::{LocalContrast, local_contrast};
use crate::film::{Film, Polarity, Window, WindowFunction};

/// Parts of the histogram left to black and white by automatic contrast.
const AUTO_TAILS: (f64, f64) = (0.005, 0.995);

/// The grey window of a view.
#[derive(Clone, Debug, PartialEq)]
pub struct Tone {
    /// In the film's own values.
    pub window: Window,
    /// Bright and dark exchanged.
    pub inverted: bool,
}

impl Tone {
    /// The whole range of the film's depth.
    pub fn full(film: &Film) -> Self {
        Self::of(Window::full_range(film), film)
    }

    /// The window that holds 99 % of the film's samples.
    pub fn automatic(film: &Film) -> Self {
        Self::of(Window::automatic(film, AUTO_TAILS.0, AUTO_TAILS.1), film)
    }

    fn of(window: Option<Window>, film: &Film) -> Self {
        let window = window.unwrap_or_else(|| Window {
            center: f64::from(film.max_sample()) / 2.0,
            width: f64::from(film.max_sample()).max(1.0),
            function: WindowFunction::Linear,
            explanation: None,
        });
        Self {
            window,
            inverted: false,
        }
    }

    /// Moves the window by a share of its width and widens it by a factor.
    pub fn shift_and_widen(&mut self, shift: f64, factor: f64) {
        self.window.center += shift * self.window.width;
        self.window.width = (self.window.width * factor).max(1.0);
    }

    /// 8-bit grey of every sample the film's depth allows.
    pub fn lookup(&self, film: &Film) -> Vec<u8> {
        let mut table = self.window.lookup_table(film);
        if self.inverted {
            for shade in &mut table {
                *shade = 255 - *shade;
            }
        }
        table
    }
}

/// The film under automatic contrast with local contrast raised, 8 bits deep.
pub fn locally_raised(film: &Film) -> Option<Film> {
    let shown = Tone::automatic(film).window.to_8_bit(film);
    let raised = local_contrast(&shown, film.width_px(), LocalContrast::default());
    let samples = raised.into_iter().map(u16::from).collect();
    Film::from_samples(
        film.width_px(),
        film.height_px(),
        8,
        Polarity::HighIsOpaque,
        samples,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn film(polarity: Polarity) -> Film {
        let samples = (0..64 * 64).map(|i| (i % 4096) as u16).collect();
        Film::from_samples(64, 64, 12, polarity, samples).expect("counts fit")
    }

    #[test]
    fn inversion_exchanges_black_and_white_whatever_the_polarity() {
        for polarity in [Polarity::HighIsOpaque, Polarity::LowIsOpaque] {
            let film = film(polarity);
            let plain = Tone::full(&film).lookup(&film);
            let inverted = Tone {
                inverted: true,
                ..Tone::full(&film)
            }
            .lookup(&film);
            assert_eq!(plain.len(), 4096);
            assert!(plain.iter().zip(&inverted).all(|(a, b)| a + b == 255));
        }
    }

    #[test]
    fn widening_keeps_the_centre_and_never_closes_the_window() {
        let film = film(Polarity::HighIsOpaque);
        let mut tone = Tone::full(&film);
        let centre = tone.window.center;
        tone.shift_and_widen(0.0, 1e-9);
        assert_eq!((tone.window.center, tone.window.width), (centre, 1.0));
    }

    #[test]
    fn local_contrast_is_a_film_of_the_same_size() {
        let raised = locally_raised(&film(Polarity::HighIsOpaque)).expect("a film");
        assert_eq!(
            (raised.width_px(), raised.height_px(), raised.bits_stored()),
            (64, 64, 8)
        );
    }
}

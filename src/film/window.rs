//! Grey windows for showing a film: PS3.3 C.11.2.1.2. View only, samples are
//! never changed.

use serde::Serialize;

use super::{Film, Polarity};

/// The law of a window (VOI LUT Function).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "SCREAMING_SNAKE_CASE")]
pub enum WindowFunction {
    /// The default, which treats values as integers.
    #[default]
    Linear,
    /// Linear over exactly the width.
    LinearExact,
    /// An S-shaped law.
    Sigmoid,
}

/// A window over modality values (see [`Film::value_of`]).
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Window {
    /// Window Center (0028,1050).
    pub center: f64,
    /// Window Width (0028,1051): at least 1 for LINEAR, else above 0.
    pub width: f64,
    /// VOI LUT Function (0028,1056).
    pub function: WindowFunction,
    /// Window Center & Width Explanation (0028,1055).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub explanation: Option<String>,
}

impl Window {
    /// A window without an explanation; `None` when its numbers break the
    /// standard's limits.
    pub fn new(center: f64, width: f64, function: WindowFunction) -> Option<Self> {
        let wide_enough = match function {
            WindowFunction::Linear => width >= 1.0,
            WindowFunction::LinearExact | WindowFunction::Sigmoid => width > 0.0,
        };
        (center.is_finite() && width.is_finite() && wide_enough).then_some(Self {
            center,
            width,
            function,
            explanation: None,
        })
    }

    /// The LINEAR window that just holds the values `low` to `high`:
    /// c = (low + high + 1)/2, w = high − low + 1.
    pub fn over_values(low: f64, high: f64) -> Option<Self> {
        Self::new(
            f64::midpoint(low, high) + 0.5,
            high - low + 1.0,
            WindowFunction::Linear,
        )
    }

    /// All values the film's depth can hold.
    pub fn full_range(film: &Film) -> Option<Self> {
        let (a, b) = (film.value_of(0), film.value_of(film.max_sample()));
        Self::over_values(a.min(b), a.max(b))
    }

    /// The values between two quantiles (0–1) of the film's samples, for
    /// example 0.005 and 0.995: automatic contrast.
    pub fn automatic(film: &Film, low_quantile: f64, high_quantile: f64) -> Option<Self> {
        let mut counts = vec![0_u64; usize::from(film.max_sample()) + 1];
        for &sample in film.samples() {
            counts[usize::from(sample.min(film.max_sample()))] += 1;
        }
        let total = film.samples().len() as f64;
        let sample_at = |quantile: f64| {
            let rank = (quantile.clamp(0.0, 1.0) * total).max(1.0);
            let mut below = 0;
            counts
                .iter()
                .position(|&count| {
                    below += count;
                    below as f64 >= rank
                })
                .unwrap_or(counts.len() - 1) as u16
        };
        let a = film.value_of(sample_at(low_quantile));
        let b = film.value_of(sample_at(high_quantile));
        Self::over_values(a.min(b), a.max(b))
    }

    /// The display value of modality value `x`, from `y_min` to `y_max`.
    pub fn apply(&self, x: f64, y_min: f64, y_max: f64) -> f64 {
        let (c, w) = (self.center, self.width);
        let range = y_max - y_min;
        let fraction = match self.function {
            WindowFunction::Linear if w <= 1.0 => f64::from(x > c - 0.5),
            WindowFunction::Linear => (x - (c - 0.5)) / (w - 1.0) + 0.5,
            WindowFunction::LinearExact => (x - c) / w + 0.5,
            WindowFunction::Sigmoid => 1.0 / (1.0 + (-4.0 * (x - c) / w).exp()),
        };
        y_min + range * fraction.clamp(0.0, 1.0)
    }

    /// 8-bit display value of every sample the film's depth allows, bright =
    /// radio-opaque (so turned round for MONOCHROME1).
    pub fn lookup_table(&self, film: &Film) -> Vec<u8> {
        (0..=film.max_sample())
            .map(|sample| {
                let shown = self.apply(film.value_of(sample), 0.0, 255.0).round() as u8;
                match film.polarity() {
                    Polarity::HighIsOpaque => shown,
                    Polarity::LowIsOpaque => 255 - shown,
                }
            })
            .collect()
    }

    /// The film as shown, row-major, 8 bits per pixel.
    pub fn to_8_bit(&self, film: &Film) -> Vec<u8> {
        let table = self.lookup_table(film);
        let last = table.len() - 1;
        film.samples()
            .iter()
            .map(|&sample| table[usize::from(sample).min(last)])
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::film::Rescale;

    fn shown(function: WindowFunction, x: f64) -> f64 {
        Window::new(2048.0, 4096.0, function)
            .unwrap()
            .apply(x, 0.0, 255.0)
    }

    /// c = 2048, w = 4096 → 0..255 (PS3.3 C.11.2.1.2; values DERIVED).
    #[test]
    fn check_values_of_the_three_laws() {
        use WindowFunction::{Linear, LinearExact, Sigmoid};
        assert_eq!(shown(Linear, 0.0), 0.0);
        assert_eq!(shown(Linear, 4095.0), 255.0);
        assert!((shown(Linear, 1000.0) - 62.27106).abs() < 5e-6);
        assert!((shown(LinearExact, 1000.0) - 62.25586).abs() < 5e-6);
        assert!((shown(Sigmoid, 1000.0) - 67.41138).abs() < 5e-6);
    }

    /// w = 1 is a threshold; LINEAR needs w ≥ 1 (PS3.3 C.11.2.1.2, SEEN).
    #[test]
    fn narrow_windows() {
        let threshold = Window::new(100.0, 1.0, WindowFunction::Linear).unwrap();
        assert_eq!(threshold.apply(99.0, 0.0, 255.0), 0.0);
        assert_eq!(threshold.apply(100.0, 0.0, 255.0), 255.0);
        assert_eq!(Window::new(100.0, 0.5, WindowFunction::Linear), None);
        assert_eq!(Window::new(100.0, 0.0, WindowFunction::Sigmoid), None);
        assert_eq!(Window::new(f64::NAN, 9.0, WindowFunction::Linear), None);
    }

    fn film(polarity: Polarity) -> Film {
        Film::from_samples(4, 1, 8, polarity, vec![0, 10, 200, 255]).unwrap()
    }

    #[test]
    fn full_range_of_8_bits_is_identity_and_monochrome1_is_turned_round() {
        let plain = film(Polarity::HighIsOpaque);
        let window = Window::full_range(&plain).unwrap();
        assert_eq!((window.center, window.width), (128.0, 256.0));
        assert_eq!(window.to_8_bit(&plain), [0, 10, 200, 255]);
        let inverse = film(Polarity::LowIsOpaque);
        assert_eq!(window.to_8_bit(&inverse), [255, 245, 55, 0]);
    }

    #[test]
    fn windows_speak_of_values_not_samples() {
        let raised = film(Polarity::HighIsOpaque).with_rescale(Rescale {
            slope: 2.0,
            intercept: -1000.0,
        });
        let window = Window::over_values(-1000.0, -490.0).unwrap();
        assert_eq!(window.to_8_bit(&raised), [0, 10, 200, 255]);
    }

    #[test]
    fn automatic_contrast_spans_the_quantiles() {
        let samples: Vec<u16> = (0..1000).collect();
        let ramp = Film::from_samples(1000, 1, 12, Polarity::HighIsOpaque, samples).unwrap();
        let window = Window::automatic(&ramp, 0.01, 0.99).unwrap();
        assert_eq!(window.apply(9.0, 0.0, 255.0), 0.0);
        assert_eq!(window.apply(989.0, 0.0, 255.0), 255.0);
        assert!(window.apply(10.0, 0.0, 255.0) > 0.0);
    }
}

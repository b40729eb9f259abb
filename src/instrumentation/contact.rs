//! How far a tapered file goes into a canal of known width before it touches.
//!
//! Derived from geometry alone: a file whose tip stands d from the canal's end
//! touches at s where its diameter D(s − d) reaches the width W(s). Pushed in
//! from the orifice it stops at the greatest d at which it touches anywhere.

use super::nominal::NominalFile;
use crate::geometry::WidthProfile;

/// Where a file stops that is pushed into a canal without cutting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contact {
    /// Tip from the canal's end, mm; 0: it reaches the end.
    pub tip_mm: f64,
    /// Where it touches, mm from the canal's end, the most apical place of
    /// several; `None`: it reaches the end without touching.
    pub contact_mm: Option<f64>,
}

/// Places closer than this are one, mm.
const SAME_PLACE_MM: f64 = 1e-9;

/// Passive depth of `file`, its diameters `offset_mm` from nominal, in a canal
/// of these widths, from the canal's end.
pub fn passive_depth(file: &NominalFile, offset_mm: f64, widths: &WidthProfile) -> Contact {
    let outline = Outline::of(file, offset_mm);
    let mut deepest: Option<(f64, f64)> = None;
    let mut consider = |s: f64, width: f64| {
        let Some(from_tip) = outline.first_reaching(width) else {
            return;
        };
        let tip = s - from_tip;
        if deepest.is_none_or(|(greatest, _)| tip > greatest + SAME_PLACE_MM) {
            deepest = Some((tip, s));
        }
    };
    let samples = widths.samples_mm();
    for (index, &[s, width]) in samples.iter().enumerate() {
        consider(s, width);
        let Some(&[next_s, next_width]) = samples.get(index + 1) else {
            continue;
        };
        // Between samples the depth is straight but for where the width
        // passes a diameter at which the file's taper changes.
        let mut between: Vec<f64> = outline
            .diameters()
            .map(|diameter| (diameter - width) / (next_width - width))
            .filter(|share| (0.0..1.0).contains(share))
            .collect();
        between.sort_by(f64::total_cmp);
        for share in between {
            consider(
                s + share * (next_s - s),
                width + share * (next_width - width),
            );
        }
    }
    match deepest {
        Some((tip, s)) if tip >= -SAME_PLACE_MM => Contact {
            tip_mm: tip.max(0.0),
            contact_mm: Some(s),
        },
        _ => Contact {
            tip_mm: 0.0,
            contact_mm: None,
        },
    }
}

/// The file's diameters as a canal meets them: what has passed a place is at
/// least as thick as everything nearer to the tip.
struct Outline {
    /// `[from the tip, diameter]`, mm, both ascending.
    stations: Vec<[f64; 2]>,
}

impl Outline {
    fn of(file: &NominalFile, offset_mm: f64) -> Self {
        let mut stations: Vec<[f64; 2]> = Vec::new();
        let mut previous: Option<[f64; 2]> = None;
        for &[from_tip, diameter] in file.stations_mm() {
            let station = [from_tip, diameter + offset_mm];
            let thickest = stations.last().map_or(0.0, |last| last[1]);
            if station[1] >= thickest {
                // Where the file grows thicker than all before it.
                if let Some(before) = previous.filter(|before| before[1] < thickest) {
                    let share = (thickest - before[1]) / (station[1] - before[1]);
                    stations.push([before[0] + share * (station[0] - before[0]), thickest]);
                }
                stations.push(station);
            }
            previous = Some(station);
        }
        Self { stations }
    }

    fn diameters(&self) -> impl Iterator<Item = f64> {
        self.stations.iter().map(|station| station[1])
    }

    /// The place nearest to the tip where the diameter reaches `width`; `None`
    /// where the whole file is thinner.
    fn first_reaching(&self, width: f64) -> Option<f64> {
        let index = self
            .stations
            .iter()
            .position(|station| station[1] >= width - SAME_PLACE_MM)?;
        let [x, diameter] = self.stations[index];
        if index == 0 || diameter <= width {
            return Some(x);
        }
        let [before_x, before] = self.stations[index - 1];
        Some(before_x + (width - before) / (diameter - before) * (x - before_x))
    }
}

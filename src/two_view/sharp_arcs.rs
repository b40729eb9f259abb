//! Arcs that bend more sharply than canals do: one residual each.

/// A canal is not expected to bend more sharply than this, mm: where points
/// stand close together any noise would else be a hook. Half of the sharpest
/// radius that instruments are tested at, 2 mm (Pruett, Clement and Carnes
/// 1997); own limit.
const LEAST_RADIUS_MM: f64 = 1.0;
/// Standard deviation of what an arc's length falls short of its bend at the
/// least radius, mm (own choice, the usual click's).
const SHARP_SD_MM: f64 = 0.05;

/// An arc that bends more sharply than that.
pub(super) struct SharpArc {
    /// Its first parameter among those of the arcs, the length.
    pub first: usize,
    /// What its length falls short of its bend at the least radius, mm.
    short_mm: f64,
    /// Least mean radius, mm.
    least_mm: f64,
    /// Direction of its turn.
    towards: [f64; 2],
}

impl SharpArc {
    /// What it falls short over its standard deviation.
    pub fn residual(&self) -> f64 {
        self.short_mm / SHARP_SD_MM
    }

    /// Slopes of the residual by the arc's length and both parts of its turn.
    pub fn slopes(&self) -> [f64; 3] {
        let [along, across] = self.towards;
        [-1.0, self.least_mm * along, self.least_mm * across].map(|slope| slope / SHARP_SD_MM)
    }
}

/// The sharp ones of `arcs`: length, both parts of the turn, rad, and the length
/// of the straight piece after it, four numbers each. The last one bends
/// `last_tighter` times as sharply at its end as on average.
pub(super) fn too_sharp(arcs: &[f64], last_tighter: f64) -> impl Iterator<Item = SharpArc> {
    let count = arcs.len() / 4;
    arcs.chunks_exact(4)
        .enumerate()
        .filter_map(move |(i, arc)| {
            let turn_rad = arc[1].hypot(arc[2]);
            let tighter = if i + 1 == count { last_tighter } else { 1.0 };
            let least_mm = tighter * LEAST_RADIUS_MM;
            let short_mm = turn_rad * least_mm - arc[0];
            (short_mm > 0.0).then(|| SharpArc {
                first: 4 * i,
                short_mm,
                least_mm,
                towards: [arc[1] / turn_rad, arc[2] / turn_rad],
            })
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An arc of 60° over 0.6 mm (radius 0.57 mm) pays, one over 1.2 mm does not;
    /// the slopes are those of the residual.
    #[test]
    fn sharp_arcs_pay() {
        let turn = 60f64.to_radians();
        let (sine, cosine) = 0.7f64.sin_cos();
        let arcs = |length: f64| [1.2, turn, 0.0, 3.0, length, turn * cosine, turn * sine, 1.0];
        let own = arcs(0.6);
        let found: Vec<SharpArc> = too_sharp(&own, 1.0).collect();
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].first, 4);
        assert!((found[0].residual() - (turn - 0.6) / 0.05).abs() < 1e-12);
        assert_eq!(too_sharp(&arcs(1.2), 1.0).count(), 0);
        assert_eq!(too_sharp(&arcs(1.2), 11.0 / 6.0).count(), 1);
        for (i, slope) in found[0].slopes().into_iter().enumerate() {
            let mut moved = own;
            moved[4 + i] += 1e-6;
            let next = too_sharp(&moved, 1.0)
                .next()
                .expect("still sharp")
                .residual();
            let quotient = (next - found[0].residual()) / 1e-6;
            assert!((quotient - slope).abs() < 1e-4, "{i}: {quotient} {slope}");
        }
    }
}

//! What size of slope or contrast is usual on a ribbon.

/// A quantile of sizes, but no less than a share of the strongest.
pub(super) struct Usual {
    /// Share of the sizes that lie below, 0..1.
    pub quantile: f64,
    /// Least share of the strongest: noise of a plain film is nothing usual.
    pub least_share: f32,
}

impl Usual {
    /// The usual size of `values`, at least one, whatever their sign; above 0.
    pub fn size_of(&self, values: &[f32]) -> f32 {
        let mut sizes: Vec<f32> = values.iter().map(|v| v.abs()).collect();
        let strongest = sizes.iter().fold(0.0f32, |a, &b| a.max(b));
        let rank = (sizes.len() as f64 * self.quantile) as usize;
        let (_, &mut size, _) = sizes.select_nth_unstable_by(rank, f32::total_cmp);
        size.max(self.least_share * strongest).max(1e-9)
    }
}

//! A place on a ribbon that a line should pass.

/// A place the line is drawn to.
#[derive(Clone, Copy)]
pub(super) struct Pull {
    pub row: usize,
    pub offset_px: f64,
    /// Standard deviation, px.
    pub sigma_px: f64,
}

//! Conventions in force: every limit a user may set, with its default.

use crate::calibration::PLAUSIBLE_MAGNIFICATION;
use crate::working_length::{
    DEFAULT_ALLOWANCE_MM, DEFAULT_CHART_STEP_MM, LENGTH_DIFFERENCE_LIMIT_MM, TIP_OFF_PATH_LIMIT_MM,
    TipLimits,
};

/// Limits and default uncertainties used when measuring a case.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Allowance where the canal states none, mm.
    pub default_allowance_mm: f64,
    /// Step of the chart value, mm.
    pub chart_step_mm: f64,
    /// Limits of the advice on the tip.
    pub tip_limits: TipLimits,
    /// Magnification outside this range warns.
    pub plausible_magnification: (f64, f64),
    /// Tip farther than this from the path warns, mm.
    pub tip_off_path_limit_mm: f64,
    /// Additive and proportion length farther apart than this warn, mm.
    pub length_difference_limit_mm: f64,
    /// Least turn of a curve that counts towards an S shape, rad.
    pub s_shape_least_turn_rad: f64,
    /// Default uncertainties of the inputs.
    pub uncertainty: InputUncertainty,
}

/// Default uncertainty of each kind of input (METHODS 8), used where the case
/// does not state its own.
#[derive(Clone, Debug, PartialEq)]
pub struct InputUncertainty {
    /// Standard uncertainty of a click per coordinate, mm at the detector.
    pub click_mm: f64,
    /// The same where neither pitch nor scale is known, px.
    pub click_px: f64,
    /// Half width of the reading of a set length, mm.
    pub reading_half_width_mm: f64,
    /// Half width of a nominal ISO length, mm (ISO 3630-1, MEM-M).
    pub nominal_half_width_mm: f64,
    /// Half width of a ruler's or grid's length, mm (assumed: no source).
    pub ruler_half_width_mm: f64,
    /// Half width of a ball's diameter, mm (assumed: no source).
    pub ball_half_width_mm: f64,
    /// Relative standard uncertainty of a pixel pitch with its magnification
    /// (assumed: no source).
    pub film_scale_relative: f64,
}

impl Default for InputUncertainty {
    fn default() -> Self {
        Self {
            click_mm: 0.05,
            click_px: 2.0,
            reading_half_width_mm: 0.25,
            nominal_half_width_mm: 0.5,
            ruler_half_width_mm: 0.05,
            ball_half_width_mm: 0.025,
            film_scale_relative: 0.005,
        }
    }
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            default_allowance_mm: DEFAULT_ALLOWANCE_MM,
            chart_step_mm: DEFAULT_CHART_STEP_MM,
            tip_limits: TipLimits::default(),
            plausible_magnification: PLAUSIBLE_MAGNIFICATION,
            tip_off_path_limit_mm: TIP_OFF_PATH_LIMIT_MM,
            length_difference_limit_mm: LENGTH_DIFFERENCE_LIMIT_MM,
            s_shape_least_turn_rad: 10.0_f64.to_radians(),
            uncertainty: InputUncertainty::default(),
        }
    }
}

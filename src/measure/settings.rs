//! Conventions in force: every limit a user may set, with its default.

use super::inputs::PlaceKind;
use crate::calibration::PLAUSIBLE_MAGNIFICATION;
use crate::case::ByPlaceKind;
use crate::working_length::{
    DEFAULT_ALLOWANCE_MM, DEFAULT_CHART_STEP_MM, LENGTH_DIFFERENCE_LIMIT_MM, TIP_OFF_PATH_LIMIT_MM,
    TipLimits,
};

/// Twice the tip's limit: the canal's end and the root's end part more often
/// than tip and canal do (our own choice).
const APEX_OFF_PATH_LIMIT_MM: f64 = 2.0 * TIP_OFF_PATH_LIMIT_MM;

/// From a film scanned at 5000 to one at 125 dots per inch (common practice,
/// no source).
const PLAUSIBLE_MM_PER_PX: (f64, f64) = (0.005, 0.2);

/// Closer points scatter more than they show: at 5 standard deviations the
/// curve through them is about 5 % too long, at 2.5 about 20 % (straight lines of
/// 50 and 100 points with Gaussian clicks).
const LEAST_SPACING_IN_NOISE: f64 = 5.0;

/// Limits and default uncertainties used when measuring a case.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasureSettings {
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
    /// Apex farther than this from the path warns, mm.
    pub apex_off_path_limit_mm: f64,
    /// A film scale outside this range warns, mm per px.
    pub plausible_mm_per_px: (f64, f64),
    /// Trace points closer together than this many standard deviations of a
    /// click warn.
    pub least_spacing_in_noise: f64,
    /// Additive and proportion length farther apart than this warn, mm.
    pub length_difference_limit_mm: f64,
    /// What bends of a followed line are fitted to in place of the points of its
    /// trace.
    pub read_followed: ReadFollowed,
    /// Power of the evidence by which forms of a followed line share, see
    /// [`crate::geometry::FitOptions::form_power`].
    pub read_form_power: f64,
    /// Least turn of a curve that counts towards an S shape, rad.
    pub s_shape_least_turn_rad: f64,
    /// Default uncertainties of the inputs.
    pub uncertainty: InputUncertainty,
    /// How intervals are worked out.
    pub precision: Precision,
    /// Draws of [`Precision::Full`].
    pub draws: usize,
    /// Stop before that once every U is settled (JCGM 101, 7.9; for many cases
    /// at once).
    pub stop_when_settled: bool,
    /// An output that does not exist in more than this share of the draws is
    /// reported with a warning.
    pub missing_share_limit: f64,
}

/// How intervals are worked out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Precision {
    /// Not at all: every `u95` is 0. For those who use the values alone, such
    /// as grading; never to be shown.
    ValuesOnly,
    /// The linear law (JCGM 100): at once, while something is dragged.
    Live,
    /// Monte Carlo (JCGM 101): what is kept.
    #[default]
    Full,
}

/// Default uncertainty of each kind of input (docs/methods.md 6), used where the case
/// does not state its own. Each says what it rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct InputUncertainty {
    /// Standard uncertainty of a click per coordinate, mm at the detector:
    /// 0.05 (assumed for a careful hand, no source; a person's own can be
    /// measured, see [`super::click_noise`]).
    pub click_mm: f64,
    /// The same for single kinds of place, where it differs.
    pub click_by_kind_mm: ByPlaceKind,
    /// The same for points the assistant placed: 0.05 (the assistant is held
    /// to a mean distance of at most 0.08 mm from the true path on phantom
    /// films).
    pub assisted_mm: f64,
    /// The same for an apex taken as suggested: 0.15 (root mean square of the
    /// best 95 % of 970 root ends that are more than half sure, on phantom films
    /// made strange).
    pub assisted_apex_mm: f64,
    /// Standard uncertainty of the ends of a followed line in the fit to its
    /// readings, mm: 0.1, as a press may lie beside the line.
    pub followed_end_mm: f64,
    /// A click where neither pitch nor scale is known, px: 2 (assumed).
    pub click_px: f64,
    /// Half width of the reading of a set length, mm: 0.25, half a division of
    /// a ruler read to 0.5 mm (common practice, no source).
    pub reading_half_width_mm: f64,
    /// Half width of a nominal ISO length, mm (ISO 3630-1, MEM-M).
    pub nominal_half_width_mm: f64,
    /// Half width of a ruler's or grid's length, mm (assumed: no source).
    pub ruler_half_width_mm: f64,
    /// Half width of a ball's diameter, mm (assumed: no source).
    pub ball_half_width_mm: f64,
    /// Relative standard uncertainty of a pixel pitch with its magnification:
    /// 0.5 %, an object distance known to 1.5 mm at a source distance of
    /// 300 mm (assumed: no source).
    pub film_scale_relative: f64,
    /// Standard uncertainty of the depth between a canal and a file in another
    /// canal of the tooth, mm: 2, as canals of a molar lie (common practice,
    /// no source). A canal's own file lies where it lies: 0.
    pub depth_to_other_canal_mm: f64,
    /// The same between a canal and a ruler or ball, mm: 3 (common practice,
    /// no source).
    pub depth_to_object_mm: f64,
    /// From the tooth to the detector, mm, and its standard uncertainty: 12 and
    /// 6, magnifications of 1.00–1.08 at 300 mm (our own choice). Counts for a
    /// scale from the film's own edges where no magnification is known.
    pub tooth_to_detector_mm: f64,
    /// See `tooth_to_detector_mm`.
    pub tooth_to_detector_sd_mm: f64,
    /// Distance from the source where the case does not state it, mm: 300
    /// (common practice, no source). A depth difference of 3 mm is then 1 %.
    pub source_distance_mm: f64,
    /// Half width of the angle between root and detector, rad: 8°, what the
    /// paralleling technique leaves (common practice, no source). A root that
    /// leans shows too short unless its own file leans with it.
    pub tilt_half_width_rad: f64,
    /// Half width of the turn of each bend's plane out of the film's plane,
    /// rad: 25° (assumed, no source). Bends that point more steeply towards
    /// the source need a second view.
    pub bend_plane_half_width_rad: f64,
    /// Standard uncertainty per coordinate of the root's end about the canal's
    /// end, mm: 0.08, for foramina up to 0.2 mm aside (assumed). Counts where
    /// a trace ends on the apex: for angles, and for the length that the last
    /// piece hides.
    pub apex_aside_mm: f64,
    /// Way from a canal's end to the root's end, mm: 0.5 (Kuttler 1955, apex
    /// centre to foramen centre 0.495 mm at 18–25 years,
    /// SEEN-2).
    pub foramen_to_apex_mm: f64,
}

impl InputUncertainty {
    /// Relative uncertainty that the tilt gives a length along the tooth: root
    /// mean square of 1/cos τ − 1 ≈ τ²/2 for a rectangular τ of half width a,
    /// a²/√20. The best estimate is read without tilt.
    pub fn u_of_tilt(&self) -> f64 {
        self.tilt_half_width_rad.powi(2) / 20f64.sqrt()
    }

    /// Standard uncertainty of a click on that kind of place, mm.
    pub fn click_of(&self, kind: PlaceKind) -> f64 {
        self.click_by_kind_mm.of(kind).unwrap_or(self.click_mm)
    }
}

impl Default for InputUncertainty {
    fn default() -> Self {
        Self {
            click_mm: 0.05,
            click_by_kind_mm: ByPlaceKind::default(),
            assisted_mm: 0.05,
            assisted_apex_mm: 0.15,
            followed_end_mm: 0.1,
            click_px: 2.0,
            reading_half_width_mm: 0.25,
            nominal_half_width_mm: 0.5,
            ruler_half_width_mm: 0.05,
            ball_half_width_mm: 0.025,
            film_scale_relative: 0.005,
            depth_to_other_canal_mm: 2.0,
            tooth_to_detector_mm: 12.0,
            tooth_to_detector_sd_mm: 6.0,
            depth_to_object_mm: 3.0,
            source_distance_mm: 300.0,
            tilt_half_width_rad: 8.0_f64.to_radians(),
            bend_plane_half_width_rad: 25.0_f64.to_radians(),
            apex_aside_mm: 0.08,
            foramen_to_apex_mm: 0.5,
        }
    }
}

/// Which readings of a followed line count.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ReadFollowed {
    Nothing,
    /// Those on an instrument that goes on to the end of the trace.
    #[default]
    Instrument,
    /// All: on films of looks that the design never saw the class is then too
    /// often sure and wrong (docs/accuracy.md, Angles from the film).
    Everything,
}

impl Default for MeasureSettings {
    fn default() -> Self {
        Self {
            default_allowance_mm: DEFAULT_ALLOWANCE_MM,
            chart_step_mm: DEFAULT_CHART_STEP_MM,
            tip_limits: TipLimits::default(),
            plausible_magnification: PLAUSIBLE_MAGNIFICATION,
            tip_off_path_limit_mm: TIP_OFF_PATH_LIMIT_MM,
            apex_off_path_limit_mm: APEX_OFF_PATH_LIMIT_MM,
            plausible_mm_per_px: PLAUSIBLE_MM_PER_PX,
            least_spacing_in_noise: LEAST_SPACING_IN_NOISE,
            length_difference_limit_mm: LENGTH_DIFFERENCE_LIMIT_MM,
            read_followed: ReadFollowed::default(),
            read_form_power: 0.35,
            s_shape_least_turn_rad: 10.0_f64.to_radians(),
            uncertainty: InputUncertainty::default(),
            precision: Precision::default(),
            draws: 10_000,
            stop_when_settled: false,
            missing_share_limit: 0.05,
        }
    }
}

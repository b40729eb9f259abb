//! From a case and its film to findings: every number, its uncertainty and
//! the warnings, in the shape of `measure --json`.

mod assemble;
pub mod assessment;
pub mod assessment_findings;
mod bends;
pub mod budget;
pub mod catalogue;
mod check;
pub mod class;
pub mod class_probabilities;
pub mod click_noise;
mod depth;
mod earlier_film;
mod film_check;
pub mod film_check_findings;
pub mod findings;
mod fit_warnings;
mod input_error;
mod input_group;
mod inputs;
mod intervals;
mod lengthening;
mod linear;
mod model;
mod monte_carlo;
mod path;
mod pipeline;
mod radii;
mod scale_warnings;
mod settings;
mod stated;
mod text;
mod warnings;

pub use bends::BendModel;
pub use catalogue::LengthQuantity;
pub use earlier_film::{NoEarlierScale, earlier_film};
pub use input_error::InputError;
pub use input_group::InputGroup;
pub use inputs::{ClickedPlace, Inputs, PlaceKind, Scalar, ScalarKind};
pub use intervals::Intervals;
pub use linear::LinearLaw;
pub use model::{CanalModel, CanalShape, Model, ObjectModel, ScaleBasis, Scratch};
pub use monte_carlo::draws;
pub use path::{ProlongedCurve, Station};
pub use pipeline::{
    FilmSummary, MeasureError, load_measurable, measure, measure_file, measure_with_model,
    open_case, typed_scale,
};
pub use settings::{InputUncertainty, MeasureSettings, Precision, ReadFollowed};
pub use stated::{STATED_INPUTS, StatedInput};
pub use text::{
    budget_words, capitalised, findings_text, leading_words, percent_words, result_name, tip_words,
};

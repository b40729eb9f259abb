//! The findings of one canal from its axis, its files and their intervals.

use super::axis::CanalAxis;
use super::bend::part_in_bend;
use super::card::{diameter_left_mm, levels_mm, shaped_mm};
use super::contact::{Contact, passive_depth};
use super::draws::{CanalInput, OUTPUTS};
use super::file_request::FileRequest;
use super::findings::{
    BendFinding, Binds, CanalInstruments, CardLine, CourseFrom, FileFinding, LevelFinding,
    PartFinding, ProfilePoint, ShapedFinding, ThirdFinding,
};
use super::nominal::NominalFile;
use crate::case::Canal;
use crate::geometry::WidthProfile;
use crate::measure::Intervals;
use crate::measure::findings::{CanalFindings, Warning};
use crate::two_view::findings::SpaceCurveFinding;
use crate::units::Quantity;

/// Places of a profile are this far apart, mm.
const PROFILE_STEP_MM: f64 = 0.25;
/// Highest level of the card, mm from the apex: the end of most working parts.
const HIGHEST_LEVEL_MM: f64 = 16.0;

/// Puts the findings of one canal together.
pub struct Assembly<'a> {
    pub case_canal: &'a Canal,
    pub measured: &'a CanalFindings,
    pub input: &'a CanalInput<'a>,
    pub intervals: &'a Intervals,
    pub first_output: usize,
    pub step_mm: f64,
    pub warnings: &'a mut Vec<Warning>,
}

impl<'a> Assembly<'a> {
    fn axis(&self) -> Option<&'a CanalAxis> {
        self.input.axis.as_ref()
    }

    fn warn(&mut self, code: &str, text: String) {
        self.warnings.push(Warning {
            code: code.to_owned(),
            text,
            canal: Some(self.measured.name.clone()),
        });
    }

    /// Everything about the canal; warnings are added to those there.
    pub fn findings(&mut self) -> CanalInstruments {
        let measured = self.measured;
        let working_length_mm = measured
            .working_length_additive_mm
            .or(measured.working_length_proportion_mm);
        if !self.input.files.is_empty() {
            self.warn_of_missing();
        }
        let bends = self.bends();
        let widths = self.widths();
        let files = self.files(&bends, widths.as_ref());
        CanalInstruments {
            name: measured.name.clone(),
            reference_name: self.case_canal.reference_name.clone(),
            canal_from: match self.input.course {
                Some(_) => CourseFrom::TwoFilms,
                None => CourseFrom::OneFilm,
            },
            trace_to_apex_mm: self.axis().map(CanalAxis::length_mm),
            working_length_mm,
            working_length_chart_mm: measured.working_length_chart_mm,
            allowance_mm: measured.allowance_mm,
            thirds: self.thirds(),
            walls_from_apex_mm: widths.as_ref().map(|widths| {
                let samples = widths.samples_mm();
                [samples[0][0], samples[samples.len() - 1][0]]
            }),
            card: self.card(),
            shaped: self.shaped(),
            bends,
            files,
        }
    }

    fn warn_of_missing(&mut self) {
        match self.axis() {
            None if self.input.shape.is_some() => self.warn(
                "no_strain_without_scale",
                "No strain: a radius in mm needs a scale. Trace a file of known length, or mark a \
                 ruler or ball."
                    .to_owned(),
            ),
            None => self.warn(
                "no_strain_without_path",
                "No strain: the canal's course is not known. Trace it with four or more points, \
                 from the orifice to the apex."
                    .to_owned(),
            ),
            Some(axis) => {
                let reach = self.input.files.iter().map(|request| {
                    self.input.tip_mm + request.step_back_mm + request.file.working_part_mm()
                });
                let reach_mm = reach.fold(0.0, f64::max);
                let length_mm = axis.length_mm();
                if reach_mm > length_mm + 1e-9 {
                    self.warn(
                        "file_beyond_trace",
                        format!(
                            "The trace starts {length_mm:.1} mm from the apex; working parts \
                             reach up to {reach_mm:.1} mm from it. How they are bent coronal to \
                             the trace is not known: trace farther coronally if the canal bends \
                             there."
                        ),
                    );
                }
            }
        }
        if self.measured.working_length_chart_mm.is_none() {
            self.warn(
                "no_working_length",
                "No stop settings: there is no working length. Enter the set length of the file \
                 in the canal with its tip, or mark the reference point on a film with a scale."
                    .to_owned(),
            );
        }
    }

    /// From the coronal reference point to a place, mm.
    fn reference_to_mm(&self, from_apex_mm: f64) -> Option<f64> {
        let in_space = self.input.course.map(|c| c.findings.reference_to_apex_mm);
        let whole = in_space.unwrap_or(self.measured.reference_to_apex_mm)?;
        Some(whole.value - from_apex_mm)
    }

    fn third_of(&self, from_apex_mm: f64) -> &'static str {
        let length = self.axis().map_or(f64::NAN, CanalAxis::length_mm);
        match from_apex_mm / length {
            share if share >= 2.0 / 3.0 => "coronal",
            share if share >= 1.0 / 3.0 => "middle",
            _ => "apical",
        }
    }

    fn thirds(&self) -> Vec<ThirdFinding> {
        let Some(axis) = self.axis() else {
            return Vec::new();
        };
        let third = axis.length_mm() / 3.0;
        let names = ["coronal", "middle", "apical"].iter().zip([3.0, 2.0, 1.0]);
        names
            .map(|(name, upper)| ThirdFinding {
                third: (*name).to_owned(),
                start_from_apex_mm: upper * third,
                end_from_apex_mm: (upper - 1.0) * third,
                start_from_reference_mm: self.reference_to_mm(upper * third),
                end_from_reference_mm: self.reference_to_mm((upper - 1.0) * third),
            })
            .collect()
    }

    fn bends(&self) -> Vec<BendFinding> {
        if let Some(course) = self.input.course {
            let curves = course.findings.curves.iter();
            return curves.map(|curve| self.bend_in_space(curve)).collect();
        }
        let (Some(axis), Some(curvature)) = (self.axis(), &self.measured.curvature) else {
            return Vec::new();
        };
        // `measure` counts from the end of the path.
        let beyond_end = axis.length_mm() - axis.path().length();
        let curves = curvature.curves.iter().filter_map(|curve| {
            let start_from_apex_mm = curve.start_from_apex_mm? + beyond_end;
            let end_from_apex_mm = curve.end_from_apex_mm? + beyond_end;
            Some(BendFinding {
                turn_deg: curve.turn_deg,
                radius_mm: curve.radius_mm,
                radius_low_mm: curve.radius_low_mm,
                radius_high_mm: curve.radius_high_mm,
                start_from_apex_mm,
                end_from_apex_mm,
                start_from_reference_mm: self.reference_to_mm(start_from_apex_mm),
                end_from_reference_mm: self.reference_to_mm(end_from_apex_mm),
                third: self
                    .third_of(0.5 * (start_from_apex_mm + end_from_apex_mm))
                    .to_owned(),
                towards: None,
            })
        });
        curves.collect()
    }

    fn bend_in_space(&self, curve: &SpaceCurveFinding) -> BendFinding {
        let (start, end) = (curve.start_from_apex_mm, curve.end_from_apex_mm);
        BendFinding {
            turn_deg: Some(curve.turn_deg),
            radius_mm: Some(curve.radius_mm),
            radius_low_mm: None,
            radius_high_mm: None,
            start_from_apex_mm: start,
            end_from_apex_mm: end,
            start_from_reference_mm: self.reference_to_mm(start),
            end_from_reference_mm: self.reference_to_mm(end),
            third: self.third_of(0.5 * (start + end)).to_owned(),
            towards: Some(curve.towards.clone()),
        }
    }

    fn widths(&mut self) -> Option<WidthProfile> {
        match self.input.widths() {
            Some(Ok(widths)) => Some(widths),
            Some(Err(error)) => {
                self.warn(
                    "walls_unusable",
                    format!("Where a file binds is not known: {error}."),
                );
                None
            }
            None => {
                if self.axis().is_some() && !self.input.files.is_empty() {
                    self.warn(
                        "no_walls",
                        "Where a file binds is not known: trace the canal's two walls.".to_owned(),
                    );
                }
                None
            }
        }
    }

    fn quantity(&self, output: usize, factor: f64) -> Option<Quantity> {
        let value = self.intervals.values[output] * factor;
        let u95 = self.intervals.u95[output] * factor;
        (value.is_finite() && u95.is_finite()).then_some(Quantity { value, u95 })
    }

    /// A bend within the file's reach whose radius the points cannot tell.
    fn has_kink(&self, request: &FileRequest, tip_mm: f64) -> bool {
        let Some(axis) = self.axis() else {
            return false;
        };
        let Some([from, to]) = axis.reach_mm(&request.file, tip_mm) else {
            return false;
        };
        let kinks = axis.kinks_mm();
        kinks.iter().any(|&[end, start]| start >= from && end <= to)
    }

    fn files(&mut self, bends: &[BendFinding], widths: Option<&WidthProfile>) -> Vec<FileFinding> {
        let mut found = Vec::with_capacity(self.input.files.len());
        let mut unresolved = false;
        for (index, request) in self.input.files.iter().enumerate() {
            let tip_mm = self.input.tip_mm + request.step_back_mm;
            let kink = self.has_kink(request, tip_mm);
            unresolved |= kink;
            found.push(self.file(index, request, tip_mm, kink, bends, widths));
        }
        let files = self.input.files.iter();
        let mut binding = files.filter_map(|request| Some(binds(&request.file, widths?)));
        if let Some([from, to]) = binding.find_map(Result::err) {
            self.warn(
                "walls_not_seen",
                format!(
                    "Where a file binds is not known: the walls were followed and do not show \
                     on the film {from:.1} to {to:.1} mm from the apex. Place points there by \
                     hand."
                ),
            );
        }
        if unresolved {
            self.warn(
                "radius_not_resolved",
                "No strain: a bend fits the points best as an arc of less than 1 mm, so that its \
                 radius is not known. Place points in the bend, closer together."
                    .to_owned(),
            );
        }
        let first_unreached = self.input.files.iter().find(|request| {
            let tip_mm = self.input.tip_mm + request.step_back_mm;
            self.axis()
                .is_some_and(|axis| axis.reach_mm(&request.file, tip_mm).is_none())
        });
        if let Some(request) = first_unreached {
            let (label, length) = (
                request.file.label(),
                self.axis().map_or(f64::NAN, CanalAxis::length_mm),
            );
            self.warn(
                "tip_coronal_to_trace",
                format!(
                    "No strain for {label}: its tip would stand coronal to the trace, which \
                     starts {length:.1} mm from the apex. Reduce its step-back, or trace farther \
                     coronally."
                ),
            );
        }
        found
    }

    fn file(
        &self,
        index: usize,
        request: &FileRequest,
        tip_mm: f64,
        kink: bool,
        bends: &[BendFinding],
        widths: Option<&WidthProfile>,
    ) -> FileFinding {
        let file = &request.file;
        let output = self.first_output + OUTPUTS * index;
        let reached = self
            .axis()
            .is_some_and(|axis| axis.reach_mm(file, tip_mm).is_some());
        let known = reached && !kink;
        let peak = known.then(|| self.quantity(output, 100.0)).flatten();
        let place = known.then(|| self.intervals.values[output + 1]);
        let place = place.filter(|place| place.is_finite());
        let place_u95 = Some(self.intervals.u95[output + 1]).filter(|u| u.is_finite());
        let profile = match self.axis() {
            Some(axis) if known => axis.profile(file, tip_mm, PROFILE_STEP_MM),
            _ => Vec::new(),
        };
        FileFinding {
            file: file.label(),
            size: file.size(),
            taper: file.taper(),
            working_part_mm: file.working_part_mm(),
            diameters_mm: file.stations_mm().to_vec(),
            colour: file.colour_words(),
            tip_from_apex_mm: tip_mm,
            peak_strain_percent: peak,
            peak_from_apex_mm: place,
            peak_place_u95_mm: place.and(place_u95),
            peak_from_tip_mm: place.map(|place| place - tip_mm),
            diameter_at_peak_mm: place.and_then(|place| file.diameter_mm(place - tip_mm)),
            times_first: known.then(|| self.quantity(output + 2, 1.0)).flatten(),
            in_bend_mm: self
                .axis()
                .filter(|_| reached)
                .map(|axis| axis.in_bend_mm(file, tip_mm)),
            in_bends: parts(file, tip_mm, bends),
            binds: widths.and_then(|widths| {
                Some(Binds {
                    passive_tip_u95_mm: self.quantity(output + 3, 1.0).map(|tip| tip.u95),
                    contact_u95_mm: self.quantity(output + 4, 1.0).map(|place| place.u95),
                    ..binds(file, widths).ok()?
                })
            }),
            profile: profile
                .into_iter()
                .map(|place| ProfilePoint {
                    from_apex_mm: place.from_apex_mm,
                    diameter_mm: place.diameter_mm,
                    curvature_per_mm: place.curvature_per_mm,
                    strain_percent: 100.0 * place.strain,
                })
                .collect(),
        }
    }

    fn levels(&self) -> Vec<f64> {
        levels_mm(self.step_mm, HIGHEST_LEVEL_MM)
    }

    fn card(&self) -> Vec<CardLine> {
        let lines = self.input.files.iter().map(|request| {
            let tip_from_apex_mm = self.input.tip_mm + request.step_back_mm;
            let stop = self.measured.working_length_chart_mm.map(|chart_mm| {
                // A tip elsewhere than where the working length ends.
                chart_mm - (tip_from_apex_mm - self.measured.allowance_mm)
            });
            let level = |from_apex_mm: f64| {
                let mm = diameter_left_mm(&request.file, tip_from_apex_mm, from_apex_mm)?;
                Some(LevelFinding { from_apex_mm, mm })
            };
            CardLine {
                file: request.file.label(),
                colour: request.file.colour_words(),
                step_back_mm: request.step_back_mm,
                stop_mm: stop.filter(|stop| *stop > 0.0),
                tip_from_apex_mm,
                diameter_left_mm: self.levels().into_iter().filter_map(level).collect(),
            }
        });
        lines.collect()
    }

    fn shaped(&self) -> Vec<ShapedFinding> {
        let files: Vec<_> = self
            .input
            .files
            .iter()
            .map(|request| {
                let tip_mm = self.input.tip_mm + request.step_back_mm;
                (request.file.clone(), tip_mm)
            })
            .collect();
        let level = |from_apex_mm: f64| {
            let widest = shaped_mm(&files, from_apex_mm)?;
            Some(ShapedFinding {
                from_apex_mm,
                mm: widest.level.diameter_mm,
                file: files[widest.file].0.label(),
            })
        };
        self.levels().into_iter().filter_map(level).collect()
    }
}

fn parts(file: &NominalFile, tip_mm: f64, bends: &[BendFinding]) -> Vec<PartFinding> {
    let working_part_mm = file.working_part_mm();
    let part = |(index, bend): (usize, &BendFinding)| {
        let part = part_in_bend(
            bend.end_from_apex_mm,
            bend.start_from_apex_mm,
            tip_mm,
            working_part_mm,
        )?;
        Some(PartFinding {
            bend: index + 1,
            from_tip_mm: part.from_tip_mm,
            to_tip_mm: part.to_tip_mm,
            share_percent: 100.0 * part.length_mm() / working_part_mm,
        })
    };
    bends.iter().enumerate().filter_map(part).collect()
}

/// Where a file binds; what it would have to pass that was not seen where the
/// canal may be narrower than anywhere else.
fn binds(file: &NominalFile, widths: &WidthProfile) -> Result<Binds, [f64; 2]> {
    let Contact { tip_mm, contact_mm } = passive_depth(file, 0.0, widths);
    let reach_mm = tip_mm + file.working_part_mm();
    let is_passed = |gap: &&[f64; 2]| gap[1] > tip_mm && gap[0] < reach_mm;
    if let Some(gap) = widths.gaps_mm().iter().find(is_passed) {
        return Err(*gap);
    }
    // Nothing is known apical to the traced walls.
    let end_mm = widths.samples_mm()[0][0];
    Ok(Binds {
        passive_tip_from_apex_mm: tip_mm.max(end_mm),
        passive_tip_u95_mm: None,
        contact_from_apex_mm: contact_mm,
        contact_u95_mm: None,
    })
}

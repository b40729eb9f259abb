//! What is uncertain about a path in space: Monte Carlo (JCGM 101) over every
//! click, both scales, the angle between the films and the roll of one against
//! the other.

use std::f64::consts::{PI, TAU};

use nalgebra::{Rotation2, Vector2, Vector3};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::course::{FLAT_OUTPUTS, MOST_POSSIBLE, read_flat, write_flat};
use super::curves::{SpaceCurve, curves_of, laid_flat, net_turn_rad, total_turn_rad};
use super::fit::{Effort, FilmPoints, Fitted, Solver};
use super::form::Form;
use super::further::{PossibleCurve, greatest_of_others, matched, possible_curve};
use super::geometry::place_of;
use super::search::Candidate;
use super::shared_object::SharedCalibration;
use crate::geometry::StraightArcPath;
use crate::progress::Progress;
use crate::statistics::quantile;
use crate::uncertainty::UncertaintyError;
use crate::uncertainty::inputs::{Input, InputSet, Shape};
use crate::uncertainty::monte_carlo::{Sampling, distances, draw_outputs};
use crate::units::Quantity;

/// What is known of a pair of films beyond its points.
#[derive(Clone, Debug)]
pub struct Knowledge {
    /// Of the angle from film A to film B, rad.
    pub angle_half_width_rad: f64,
    pub roll_half_width_rad: f64,
    /// Relative standard uncertainties of the scales.
    pub u_scales: [f64; 2],
    /// How far, in depth and aside, a scale of a film's own may hold from where
    /// it was taken to hold, mm (half width).
    pub scale_place_half_widths_mm: [f64; 2],
    /// Of the detector's tilt, the same for both films, rad.
    pub tilt_half_width_rad: f64,
    /// Instead of those, what a shared file leaves unknown.
    pub shared: Option<SharedCalibration>,
    /// Standard uncertainty per coordinate of the root's end about the
    /// canal's end, mm; 0 where the traces do not end on the apex.
    pub apex_aside_mm: f64,
    /// Way from the canal's end to the root's end, mm.
    pub foramen_to_apex_mm: f64,
    /// Reference point on both films with its standard deviation, mm.
    pub references: Option<[(Vector2<f64>, f64); 2]>,
}

/// Value and interval of everything asked of a path.
#[derive(Clone, Debug)]
pub struct Intervals {
    pub length_mm: Quantity,
    pub net_turn_rad: Quantity,
    pub total_turn_rad: Quantity,
    pub reference_to_apex_mm: Option<Quantity>,
    /// Turn, radius and half width of the plane of each curve.
    pub curves: Vec<(Quantity, Quantity, Option<f64>)>,
    /// A curve beside those listed.
    pub further: Option<PossibleCurve>,
    /// Courses of the draws, laid flat.
    pub courses: Vec<StraightArcPath>,
    pub draws: usize,
    /// Draws that gave a length.
    pub draws_found: usize,
}

/// Outputs before those of the curves.
const COMMON: usize = 6;
/// Turn and place of a curve beside those listed.
const FURTHER: [usize; 2] = [4, 5];
const PER_CURVE: usize = 3;

/// Forms less likely than this against the best are left out.
const LEAST_WEIGHT: f64 = 0.01;

/// A draw's path this many times as long as the best one has gone astray and
/// says nothing (own limit).
const LONGEST_DRAW: f64 = 1.5;

/// Valleys of χ² in which one place of a bend is almost as good as another
/// take more steps than the warm start suggests.
const REFIT: Effort = Effort {
    steps: 25,
    last_fall: 1e-3,
};

/// Works out the intervals of the best of `candidates`.
///
/// # Errors
/// Too few draws for an interval, or an input without a finite value.
pub fn intervals(
    films: &[FilmPoints; 2],
    candidates: &[Candidate],
    knowledge: &Knowledge,
    settings: Sampling,
) -> Result<Intervals, UncertaintyError> {
    let best = &candidates[0].fitted;
    let curves = curves_of(&best.path);
    let possible = possible_forms(candidates);
    let longest_mm = LONGEST_DRAW * best.path.length_mm();
    let inputs = inputs(films, knowledge)?;
    let asked = COMMON + PER_CURVE * curves.len();
    let output_count = asked + FLAT_OUTPUTS;
    let drawn = draw_outputs(
        &inputs,
        output_count,
        settings,
        &Progress::unwatched(),
        || {
            let solver = |p: &Possible| Solver::new(p.fitted.form, p.shortest_arc);
            possible.iter().map(solver).collect::<Vec<Solver>>()
        },
        |values, solvers, out| {
            let chosen = |upto: fn(&Possible) -> f64| {
                let found = possible.iter().position(|p| values[0] < upto(p));
                found.unwrap_or(0)
            };
            let mut drawn = |form: usize| {
                let base = &possible[form].fitted;
                let copy = copied(films, base, knowledge, values);
                let (start, feet) = (&base.parameters, Some(base.feet.as_slice()));
                let fitted = solvers[form].solve(&copy.films, start, feet, REFIT);
                let is_found =
                    fitted.path.length_mm() <= longest_mm && !fitted.folds_back(&copy.films);
                is_found.then_some((fitted, copy))
            };
            let [turns, lengths] = [chosen(|p| p.turns_upto), chosen(|p| p.lengths_upto)];
            let of_turns = drawn(turns);
            if let Some((fitted, _)) = &of_turns {
                let (out, flat) = out.split_at_mut(asked);
                turn_outputs(fitted, &curves, out);
                write_flat(&laid_flat(&fitted.path), flat);
            }
            let of_lengths = if lengths == turns {
                of_turns
            } else {
                drawn(lengths)
            };
            if let Some((fitted, copy)) = &of_lengths {
                length_outputs(fitted, copy.references, &copy.films, out);
                // A draw is a measurement of a canal whose length is known: what
                // the path to the root's end leaves out by cutting the corner at
                // the canal's is missing from it.
                out[0] -= copy.beyond_canal_mm;
                out[3] -= copy.beyond_canal_mm;
            }
        },
    )?;

    let mut nominal = vec![f64::NAN; asked];
    let references = knowledge.references.map(|r| r.map(|(place, _)| place));
    turn_outputs(best, &curves, &mut nominal);
    length_outputs(best, references, films, &mut nominal);
    let quantity = |output: usize| {
        let value = nominal[output];
        let deviations = drawn.deviations_from(output, value)?;
        let u95 = quantile(&mut distances(deviations), 0.95)?;
        Some(Quantity { value, u95 })
    };
    let certain = |output: usize| {
        quantity(output).unwrap_or(Quantity {
            value: nominal[output],
            u95: f64::NAN,
        })
    };
    let of_curve = |i: usize| {
        let first = COMMON + PER_CURVE * i;
        let planes = drawn.output(first + 2).unwrap_or_default();
        (
            certain(first),
            certain(first + 1),
            plane_half_width(planes, nominal[first + 2]),
        )
    };
    let [turns, places] = FURTHER.map(|output| drawn.output(output).unwrap_or_default());
    // Where no curve is listed the bend that may be there is in the intervals.
    let further = (!curves.is_empty()).then(|| possible_curve(turns, places));
    let flat: Vec<Vec<f64>> = (asked..output_count)
        .filter_map(|output| drawn.output(output))
        .collect();
    let courses = (0..drawn.draw_count().min(MOST_POSSIBLE)).filter_map(|draw| {
        let numbers: Vec<f64> = flat.iter().map(|values| values[draw]).collect();
        read_flat(&numbers)
    });
    let lengths = drawn.output(0).unwrap_or_default();
    Ok(Intervals {
        courses: courses.collect(),
        length_mm: certain(0),
        net_turn_rad: certain(1),
        total_turn_rad: certain(2),
        reference_to_apex_mm: quantity(3),
        curves: (0..curves.len()).map(of_curve).collect(),
        further: further.flatten(),
        draws: drawn.draw_count(),
        draws_found: lengths.iter().filter(|length| length.is_finite()).count(),
    })
}

/// Half width of the interval about `plane` that holds 95 % of the draws and
/// reaches to both ends of the middle 95 % of them: seen from one side a plane
/// scatters to one side. `None` where that is nearly all round.
fn plane_half_width(mut planes: Vec<f64>, plane: f64) -> Option<f64> {
    planes.retain(|p| p.is_finite());
    let mut off: Vec<f64> = planes.iter().map(|p| wrapped(p - plane)).collect();
    let low = quantile(&mut off, 0.025)?;
    let high = quantile(&mut off, 0.975)?;
    let half = quantile(&mut distances(off), 0.95)?;
    Some(half.max(-low).max(high)).filter(|half| *half < 0.94 * PI)
}

/// An angle in (−π, π].
pub fn wrapped(angle_rad: f64) -> f64 {
    let turned = angle_rad.rem_euclid(TAU);
    if turned > PI { turned - TAU } else { turned }
}

/// A form that the canal may have, with the upper ends of its shares of the
/// draws.
struct Possible {
    fitted: Fitted,
    shortest_arc: f64,
    /// Of the draws that turns are read from: a curve is listed where it is
    /// there, an interval of turns must know that it may be.
    turns_upto: f64,
    /// Of the draws that lengths are read from: each form as often as it would
    /// be found. A bend too slight to be listed hardly changes the length, its
    /// noise in depth does.
    lengths_upto: f64,
}

/// The forms that fit almost as well as the best. A straight canal may be one
/// with a bend too slight to be seen.
fn possible_forms(candidates: &[Candidate]) -> Vec<Possible> {
    // All of the draws where the best form is straight: the bend that the points
    // would take, too slight to be told from noise, is then in every one.
    let bent = match candidates[0].fitted.form {
        Form::Arcs(0) => candidates
            .iter()
            .position(|c| c.fitted.form == Form::Arcs(1)),
        _ => None,
    };
    let shares = |criterion: fn(&Candidate) -> f64| {
        let least = candidates
            .iter()
            .map(criterion)
            .fold(f64::INFINITY, f64::min);
        let weight = |c: &Candidate| match (-0.5 * (criterion(c) - least)).exp() {
            weight if weight > LEAST_WEIGHT => weight,
            _ => 0.0,
        };
        candidates.iter().map(weight).collect::<Vec<f64>>()
    };
    let mut of_turns = shares(|c| c.draw_criterion);
    if let Some(bent) = bent {
        of_turns.fill(0.0);
        of_turns[bent] = 1.0;
    }
    let of_lengths = shares(|c| c.criterion);
    let wholes = [&of_turns, &of_lengths].map(|shares| shares.iter().sum::<f64>());
    let mut upto = [0.0; 2];
    let mut possible = Vec::new();
    for (i, candidate) in candidates.iter().enumerate() {
        let own = [of_turns[i] / wholes[0], of_lengths[i] / wholes[1]];
        if own == [0.0; 2] {
            continue;
        }
        upto = [upto[0] + own[0], upto[1] + own[1]];
        possible.push(Possible {
            fitted: candidate.fitted.clone(),
            shortest_arc: candidate.shortest_arc,
            turns_upto: upto[0],
            lengths_upto: upto[1],
        });
    }
    possible
}

/// A straight fit as a path with one arc of no turn from one share of its length
/// to another.
fn straight_with_arc(
    films: &[FilmPoints; 2],
    straight: &Candidate,
    (from, to): (f64, f64),
) -> Candidate {
    let length = straight.fitted.path.length_mm();
    let mut parameters = straight.fitted.parameters[..7].to_vec();
    parameters[6] = from * length;
    parameters.extend([(to - from) * length, 0.0, 0.0, (1.0 - to) * length]);
    let shortest_arc = 0.3;
    let mut solver = Solver::new(Form::Arcs(1), shortest_arc);
    let none = Effort {
        steps: 0,
        last_fall: 0.0,
    };
    Candidate {
        fitted: solver.solve(films, &parameters, Some(&straight.fitted.feet), none),
        criterion: straight.criterion,
        draw_criterion: straight.draw_criterion,
        shortest_arc,
    }
}

/// Bend, rad, that a straight canal would stay below in 95 % of film pairs
/// like this one, if a bend is looked for over `span` (shares of the length).
pub fn noise_floor_rad(
    films: &[FilmPoints; 2],
    straight: &Candidate,
    span: (f64, f64),
) -> Option<f64> {
    let bent = straight_with_arc(films, straight, span);
    let mut solver = Solver::new(Form::Arcs(1), bent.shortest_arc);
    // Where the arc lies is held; its turn is free.
    let covariance = solver.covariance(films, &bent.fitted, &[6, 7])?;
    let block = covariance.fixed_view::<2, 2>(8, 8).into_owned();
    let factor = block.cholesky()?.l();
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let mut normal = || -> f64 { StandardNormal.sample(&mut rng) };
    let mut sizes: Vec<f64> = (0..4000)
        .map(|_| (factor * Vector2::new(normal(), normal())).norm())
        .collect();
    quantile(&mut sizes, 0.95)
}

/// Inputs in the order in which [`copied`] reads them: form, angle, roll,
/// shared length, place of the scales (two), tilt of the detector, scales (two),
/// root's end (three), references (four), points (two each).
fn inputs(films: &[FilmPoints; 2], knowledge: &Knowledge) -> Result<InputSet, UncertaintyError> {
    let even = |name: &str, half_width| Input::new(name, 0.0, Shape::Rectangular { half_width });
    let mut all = vec![
        Input::new("form", 0.5, Shape::Rectangular { half_width: 0.5 }),
        even("angle", knowledge.angle_half_width_rad),
        even("roll", knowledge.roll_half_width_rad),
        even(
            "shared length",
            knowledge.shared.map_or(0.0, |s| s.length_half_width),
        ),
        even("depth of the scale", 1.0),
        even("scale aside", 1.0),
        even("tilt", knowledge.tilt_half_width_rad),
    ];
    let clicks: usize = films.iter().map(|film| film.points.len()).sum();
    all.extend((0..2 + 3 + 4 + 2 * clicks).map(|_| Input::normal("normal", 0.0, 1.0)));
    InputSet::new(all)
}

struct Copy {
    films: [FilmPoints; 2],
    references: Option<[Vector2<f64>; 2]>,
    /// What the way to the root's end is longer for lying beside the canal's.
    beyond_canal_mm: f64,
}

/// The films as they may have been, were the canal the one fitted: its shadows
/// with the noise drawn, scaled and rolled as drawn, read at the angle drawn.
fn copied(films: &[FilmPoints; 2], fitted: &Fitted, knowledge: &Knowledge, values: &[f64]) -> Copy {
    let (angle, roll, length) = (values[1], values[2], values[3]);
    let (scale_place, tilt) = (Vector3::new(values[5], values[4], 0.0), values[6]);
    let (scale, apex, reference) = (&values[7..9], &values[9..12], &values[12..16]);
    let mut clicks = values[16..].chunks_exact(2);
    let scale = Vector2::new(scale[0], scale[1]);
    let scales = match &knowledge.shared {
        Some(shared) => {
            let turned = shared.by_angle * angle + shared.by_roll * roll;
            (shared.clicks * scale + turned).add_scalar(length)
        }
        None => {
            let own = |f: usize| {
                let place = scale_place * knowledge.scale_place_half_widths_mm[f];
                scale[f] * knowledge.u_scales[f] + films[f].view.nearness_of(&place)
            };
            Vector2::new(own(0), own(1))
        }
    };
    // The root's end lies beside the canal's, not further along it.
    let aside = Vector3::from_column_slice(apex) * knowledge.apex_aside_mm;
    let end = fitted.path.end().direction;
    let aside = aside - end * aside.dot(&end);
    let rolls = [0.0, roll].map(Rotation2::new);
    // The tilt is that of the holder, the same for both films.
    let changed = |film: usize, point: Vector2<f64>| {
        let tilted = films[film].view.on_tilted_detector(point, tilt);
        rolls[film] * tilted * (1.0 + scales[film])
    };
    let copies = [0, 1].map(|f| {
        let mut film = films[f].clone();
        let last = film.points.len() - 1;
        for i in 0..film.points.len() {
            let foot = fitted.feet[f][i];
            let mut place = fitted.shadow(films, f, foot);
            if i == last {
                place += film.view.shadow_step(&fitted.path.at(foot).place, &aside);
            }
            let click = clicks.next().unwrap_or(&[0.0, 0.0]);
            place += Vector2::new(click[0], click[1]) * film_click_sd(&film, i, knowledge);
            film.points[i] = changed(f, place);
        }
        if f == 1 {
            film.view = film.view.turned_by(angle);
        }
        film
    });
    let references = knowledge.references.map(|references| {
        [0, 1].map(|f| {
            let (place, sd) = references[f];
            let noise = Vector2::new(reference[2 * f], reference[2 * f + 1]) * sd;
            changed(f, place + noise)
        })
    });
    let foramen_to_apex_mm = knowledge.foramen_to_apex_mm;
    Copy {
        films: copies,
        references,
        beyond_canal_mm: foramen_to_apex_mm.hypot(aside.norm()) - foramen_to_apex_mm,
    }
}

/// The click's part of a point's deviation: the last one's holds the root's end
/// as well, which is drawn apart.
fn film_click_sd(film: &FilmPoints, point: usize, knowledge: &Knowledge) -> f64 {
    let sd = film.sd[point];
    if point + 1 == film.points.len() {
        (sd * sd - knowledge.apex_aside_mm.powi(2)).max(0.0).sqrt()
    } else {
        sd
    }
}

fn length_outputs(
    fitted: &Fitted,
    references: Option<[Vector2<f64>; 2]>,
    films: &[FilmPoints; 2],
    out: &mut [f64],
) {
    let path = &fitted.path;
    out[0] = path.length_mm();
    if let Some(place) = references.and_then(|r| reference_in_space(films, fitted, r)) {
        out[3] = (path.start().place - place).norm() + path.length_mm();
    }
}

fn turn_outputs(fitted: &Fitted, curves: &[SpaceCurve], out: &mut [f64]) {
    let path = &fitted.path;
    out[1] = net_turn_rad(path);
    out[2] = total_turn_rad(path);
    let found = curves_of(path);
    let own = matched(curves, &found);
    let further = greatest_of_others(&found, &own);
    for (at, value) in FURTHER.into_iter().zip(further) {
        out[at] = value;
    }
    for (i, own) in own.iter().enumerate() {
        let slots = &mut out[COMMON + PER_CURVE * i..][..PER_CURVE];
        match own.map(|j| &found[j]) {
            Some(own) => {
                slots[0] = own.turn_rad;
                slots[1] = own.radius_mm;
                slots[2] = own.plane_rad;
            }
            None => slots[0] = 0.0,
        }
    }
}

/// The reference point in space, from its places on both films.
fn reference_in_space(
    films: &[FilmPoints; 2],
    fitted: &Fitted,
    references: [Vector2<f64>; 2],
) -> Option<Vector3<f64>> {
    let [a, b] = references;
    let b = Vector2::new(b.x, b.y - fitted.shift_mm());
    place_of([&films[0].view, &films[1].view], [a, b])
}

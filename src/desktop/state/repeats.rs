//! Measuring one's own click noise: the same places are pressed round after
//! round, every mark hidden meanwhile, so that the eye finds each place anew.

use crate::calibration::DetectorFrame;
use crate::case::{Case, LANDMARKS, Landmark, ScaleObjectKind};
use crate::measure::PlaceKind;
use crate::measure::click_noise::{self, MeasuredClickNoise, RepeatError};
use crate::units::FilmPoint;

/// Rounds that give a figure worth having: two coordinates each.
pub const USEFUL_ROUNDS: usize = 5;

/// Points of a trace nearer than this to the last are the same press, px.
const DUPLICATE_PX: f64 = 0.5;

/// What can be pressed again and again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RepeatedPlace {
    Landmark(Landmark),
    /// Both ends.
    Ruler,
    /// The whole line, with points wherever the hand puts them.
    Canal,
}

impl RepeatedPlace {
    /// All of them, in the order of a round.
    pub fn all() -> impl Iterator<Item = Self> {
        let landmarks = LANDMARKS.iter().filter(|row| row.repeated.is_some());
        landmarks
            .map(|row| Self::Landmark(row.landmark))
            .chain([Self::Ruler, Self::Canal])
    }

    /// Its name for the user.
    pub fn label(self) -> &'static str {
        match self {
            Self::Landmark(landmark) => landmark.row().name,
            Self::Ruler => "Ruler's ends",
            Self::Canal => "Canal line",
        }
    }

    /// The kind of place whose noise it shows.
    pub fn kind(self) -> PlaceKind {
        match self {
            Self::Landmark(landmark) => landmark.row().kind,
            Self::Ruler => PlaceKind::ScaleObject,
            Self::Canal => PlaceKind::Canal,
        }
    }

    /// Its single presses in words, for "click …"; none for a line.
    fn presses(self) -> &'static [&'static str] {
        match self {
            Self::Landmark(landmark) => landmark.row().repeated.as_slice(),
            Self::Ruler => &["the ruler's first end", "the ruler's second end"],
            Self::Canal => &[],
        }
    }

    /// Those a canal of a case has already.
    pub fn placed_in(case: &Case, canal: usize) -> Vec<Self> {
        let Some(content) = case.canals.get(canal) else {
            return Vec::new();
        };
        let has_ruler = || {
            let mut objects = case.scale.objects.iter();
            objects.any(|o| o.kind == ScaleObjectKind::Ruler)
        };
        let is_placed = |subject: &Self| match subject {
            Self::Landmark(landmark) => landmark.of(content).is_some(),
            Self::Ruler => has_ruler(),
            // Long to repeat: only when asked for.
            Self::Canal => false,
        };
        Self::all().filter(is_placed).collect()
    }
}

/// The presses of one round.
#[derive(Clone, Debug, Default, PartialEq)]
struct Round {
    marks: Vec<FilmPoint>,
    trace: Vec<FilmPoint>,
}

/// A measurement of click noise under way, or done.
#[derive(Clone, Debug, PartialEq)]
pub struct Repeats {
    subjects: Vec<RepeatedPlace>,
    rounds: Vec<Round>,
    current: Round,
    /// Place of the press under way.
    held: Option<FilmPoint>,
    is_clicking: bool,
}

impl Repeats {
    /// Begins the first round over `subjects`.
    pub fn of(subjects: Vec<RepeatedPlace>) -> Self {
        Self {
            subjects,
            rounds: Vec::new(),
            current: Round::default(),
            held: None,
            is_clicking: true,
        }
    }

    /// Presses on the film are taken for the measurement, and marks hidden.
    pub fn is_clicking(&self) -> bool {
        self.is_clicking
    }

    /// Rounds completed.
    pub fn round_count(&self) -> usize {
        self.rounds.len()
    }

    /// Stops, for now: the round that was begun is forgotten.
    pub fn pause(&mut self) {
        self.is_clicking = false;
        self.current = Round::default();
        self.held = None;
    }

    /// Goes on with another round.
    pub fn resume(&mut self) {
        self.is_clicking = true;
    }

    /// Begins anew over the same places.
    pub fn restart(&mut self) {
        *self = Self::of(std::mem::take(&mut self.subjects));
    }

    /// Names of the single presses of a round.
    fn marks(&self) -> impl Iterator<Item = (RepeatedPlace, &'static str)> + '_ {
        let of =
            |&subject: &RepeatedPlace| subject.presses().iter().map(move |&name| (subject, name));
        self.subjects.iter().flat_map(of)
    }

    fn traces(&self) -> bool {
        self.subjects.contains(&RepeatedPlace::Canal)
    }

    /// What comes next, in words.
    pub fn prompt(&self) -> String {
        let round = self.rounds.len() + 1;
        match self.marks().nth(self.current.marks.len()) {
            Some((_, name)) => format!("Round {round}: click {name}"),
            None => {
                format!(
                    "Round {round}: click along the canal, orifice to end; Shift+Enter finishes"
                )
            }
        }
    }

    /// A press begins.
    pub fn press(&mut self, at: FilmPoint) {
        self.held = Some(at);
    }

    /// It is moved before it is let go.
    pub fn drag(&mut self, to: FilmPoint) {
        if self.held.is_some() {
            self.held = Some(to);
        }
    }

    /// It is let go. `true`: that ended a round.
    pub fn release(&mut self) -> bool {
        let Some(at) = self.held.take() else {
            return false;
        };
        if self.current.marks.len() < self.marks().count() {
            self.current.marks.push(at);
            return !self.traces() && self.end_round_if_complete();
        }
        let trace = &mut self.current.trace;
        let is_new = |last: &FilmPoint| last.distance_px(at) >= DUPLICATE_PX;
        if trace.last().is_none_or(is_new) {
            trace.push(at);
        }
        false
    }

    /// The canal line of this round is done. `true`: that ended the round.
    pub fn finish_line(&mut self) -> bool {
        self.current.trace.len() >= 2 && self.end_round_if_complete()
    }

    fn end_round_if_complete(&mut self) -> bool {
        let complete = self.current.marks.len() == self.marks().count();
        if complete {
            self.rounds.push(std::mem::take(&mut self.current));
        }
        complete
    }

    /// Takes the last press of this round back; `false`: there is none.
    pub fn take_back(&mut self) -> bool {
        let last = self.current.trace.pop();
        last.or_else(|| self.current.marks.pop()).is_some()
    }

    /// What of this round may be seen: its line, and the press under way.
    pub fn visible(&self) -> (&[FilmPoint], Option<FilmPoint>) {
        (&self.current.trace, self.held)
    }

    /// The noise of each kind of place that is repeated, in the frame's unit.
    pub fn measured(
        &self,
        frame: DetectorFrame,
    ) -> Vec<(RepeatedPlace, Result<MeasuredClickNoise, RepeatError>)> {
        let names: Vec<RepeatedPlace> = self.marks().map(|(subject, _)| subject).collect();
        let of_subject = |&subject: &RepeatedPlace| {
            let noise = if subject == RepeatedPlace::Canal {
                let traces: Vec<_> = self.rounds.iter().map(|r| r.trace.clone()).collect();
                click_noise::of_traces(&traces, frame)
            } else {
                let own = |round: &Round| {
                    let marks = round.marks.iter().zip(&names);
                    marks
                        .filter(|(_, s)| **s == subject)
                        .map(|(p, _)| *p)
                        .collect()
                };
                let repeats: Vec<Vec<_>> = self.rounds.iter().map(own).collect();
                click_noise::of_landmarks(&repeats, frame)
            };
            (subject, noise)
        };
        self.subjects.iter().map(of_subject).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn press(repeats: &mut Repeats, x: f64, y: f64) -> bool {
        repeats.press(FilmPoint::new(x, y));
        repeats.release()
    }

    #[test]
    fn a_round_asks_for_every_place_in_order_and_then_begins_anew() {
        let mut repeats = Repeats::of(vec![
            RepeatedPlace::Landmark(Landmark::Tip),
            RepeatedPlace::Ruler,
        ]);
        assert_eq!(repeats.prompt(), "Round 1: click the file's tip");
        assert!(!press(&mut repeats, 1.0, 1.0));
        assert!(repeats.prompt().ends_with("first end"));
        assert!(!press(&mut repeats, 2.0, 2.0));
        assert!(repeats.take_back());
        assert!(repeats.prompt().ends_with("first end"));
        press(&mut repeats, 2.0, 2.0);
        assert!(press(&mut repeats, 3.0, 3.0));
        assert_eq!(repeats.prompt(), "Round 2: click the file's tip");
        assert!(!repeats.take_back());
    }

    #[test]
    fn a_line_ends_with_the_finish_and_a_stopped_round_is_forgotten() {
        let mut repeats = Repeats::of(vec![
            RepeatedPlace::Landmark(Landmark::Apex),
            RepeatedPlace::Canal,
        ]);
        press(&mut repeats, 5.0, 90.0);
        press(&mut repeats, 5.0, 10.0);
        assert!(!repeats.finish_line(), "one point is no line");
        press(&mut repeats, 5.0, 10.2);
        assert!(!repeats.finish_line(), "the same place twice is one point");
        press(&mut repeats, 5.0, 90.0);
        assert!(repeats.finish_line());
        assert_eq!(repeats.round_count(), 1);
        press(&mut repeats, 5.0, 90.0);
        repeats.pause();
        repeats.resume();
        assert!(repeats.prompt().starts_with("Round 2: click the apex"));
    }

    /// Closed form: two presses 2 px apart along x have a variance of 2 px²
    /// along x and none along y: s = 1 px with two degrees of freedom.
    #[test]
    fn places_of_one_kind_are_taken_together() {
        let mut repeats = Repeats::of(vec![RepeatedPlace::Landmark(Landmark::Tip)]);
        press(&mut repeats, 4.0, 7.0);
        let frame = DetectorFrame::without_pitch();
        assert_eq!(repeats.measured(frame)[0].1, Err(RepeatError::TooFew));
        press(&mut repeats, 6.0, 7.0);
        let noise = repeats.measured(frame)[0].1.unwrap();
        assert_eq!((noise.sd, noise.dof), (1.0, 2));
        assert!(!noise.is_usable());
    }
}

//! What the film was found to show, offered for one press each. Nothing of it
//! is in the case until it is taken.

use std::sync::Arc;

use super::long_job::LongJob;
use super::open_film::OpenFilm;
use crate::assist::{AssistError, SuggestedFile, Suggestions, suggest};
use crate::case::edit;
use crate::case::{Case, ScaleObjectKind};
use crate::units::FilmPoint;

/// Places less sure than this are not offered: more of them would be wrong
/// than right.
const LEAST_CONFIDENCE: f64 = 0.5;
/// What is surer than this is clearly seen.
pub const CLEAR: f64 = 0.75;
/// At most so many are offered at once.
const MOST: usize = 8;
/// What lies no farther from something placed is that very thing, mm.
const SAME_MM: f64 = 0.5;
/// A canal or apex that belongs to a file lies no farther from its tip, mm:
/// more than that is another root (our own choice).
const SAME_ROOT_MM: f64 = 4.0;
/// Length the film is taken to have where it has no scale, mm; it only says
/// what is near to what.
const USUAL_LENGTH_MM: f64 = 40.0;

/// What is offered.
#[derive(Clone, Debug, PartialEq)]
pub enum Offered {
    /// A file with its stop, or only its tip where no stop is sure.
    File(SuggestedFile),
    /// A canal, coronal end first.
    Canal(Vec<FilmPoint>),
    /// A root's end.
    Apex(FilmPoint),
}

/// One thing found, and how surely.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    pub what: Offered,
    /// Share of such that are right, 0..=1.
    pub confidence: f64,
}

impl Offer {
    /// Name of the step that takes it.
    pub fn label(&self) -> &'static str {
        match &self.what {
            Offered::File(file) if file.stop_px.is_none() => "Take file tip",
            Offered::File(_) => "Take file",
            Offered::Canal(_) => "Take canal",
            Offered::Apex(_) => "Take apex",
        }
    }

    /// Its turn among the equally clear: a length film is about its file.
    fn turn(&self) -> u8 {
        match self.what {
            Offered::File(_) => 0,
            Offered::Canal(_) => 1,
            Offered::Apex(_) => 2,
        }
    }

    /// Its end at the root's apex.
    pub fn apical_end(&self) -> Option<FilmPoint> {
        match &self.what {
            Offered::File(file) => Some(file.tip_px),
            Offered::Canal(points) => points.last().copied(),
            Offered::Apex(at) => Some(*at),
        }
    }

    /// Puts it into the case. `mm_per_px`: scale of the film, if it has one.
    pub fn apply(&self, case: &mut Case, canal: usize, mm_per_px: Option<f64>) {
        match &self.what {
            Offered::File(file) if file.stop_px.is_some() => {
                edit::suggest_file(case, canal, &file.points_px);
            }
            Offered::File(file) => edit::suggest_tip(case, canal, file.tip_px),
            Offered::Canal(points) => {
                edit::suggest_trace(case, canal, points, None, mm_per_px);
            }
            Offered::Apex(at) => edit::suggest_apex(case, canal, *at),
        }
    }
}

/// Everything found on one film.
#[derive(Clone, Debug)]
pub struct Offers {
    all: Vec<Offer>,
    /// Scale the film was read with.
    pub mm_per_px: Option<f64>,
    px_per_mm: f64,
    /// The user has put them away.
    pub hidden: bool,
}

impl Offers {
    /// What is sure enough of `found`: the clear ones first, files before canals
    /// before apices, each surest first.
    pub fn of(found: Suggestions, mm_per_px: Option<f64>, size_px: [u32; 2]) -> Self {
        let files = found.files.into_iter().map(|file| Offer {
            confidence: file.confidence,
            what: Offered::File(file),
        });
        let canals = found.canals.into_iter().map(|canal| Offer {
            confidence: canal.confidence,
            what: Offered::Canal(canal.points_px),
        });
        let roots = found.roots.into_iter().map(|root| Offer {
            confidence: root.confidence,
            what: Offered::Apex(root.apex_px),
        });
        let mut all: Vec<Offer> = files
            .chain(canals)
            .chain(roots)
            .filter(|offer| offer.confidence >= LEAST_CONFIDENCE)
            .collect();
        all.sort_by(|a, b| {
            let clear = |offer: &Offer| offer.confidence >= CLEAR;
            clear(b)
                .cmp(&clear(a))
                .then(a.turn().cmp(&b.turn()))
                .then(b.confidence.total_cmp(&a.confidence))
        });
        let long_side = f64::from(size_px[0].max(size_px[1]).max(1));
        Self {
            all,
            mm_per_px,
            px_per_mm: 1.0 / mm_per_px.unwrap_or(USUAL_LENGTH_MM / long_side),
            hidden: false,
        }
    }

    /// What was found, in one line; at least one thing.
    pub fn words(&self) -> String {
        let names = [("file", "files"), ("canal", "canals"), ("apex", "apices")];
        let counted: Vec<String> = names
            .iter()
            .zip(self.counts())
            .filter(|(_, n)| *n > 0)
            .map(|((one, many), n)| format!("{n} {}", if n == 1 { one } else { many }))
            .collect();
        format!(
            "Found on the film: {}. Enter takes the first, Escape hides all",
            counted.join(", ")
        )
    }

    /// How many files, canals and root ends were found.
    fn counts(&self) -> [usize; 3] {
        let count = |is: fn(&Offered) -> bool| self.all.iter().filter(|o| is(&o.what)).count();
        [
            count(|what| matches!(what, Offered::File(_))),
            count(|what| matches!(what, Offered::Canal(_))),
            count(|what| matches!(what, Offered::Apex(_))),
        ]
    }

    /// What the canal lacks and no other canal has, in the order in which it is
    /// offered: of the root whose file is placed, nearest to its tip first.
    pub fn shown(&self, case: &Case, canal: usize) -> Vec<&Offer> {
        let Some(content) = case.canals.get(canal).filter(|_| !self.hidden) else {
            return Vec::new();
        };
        let tip = content.file.as_ref().and_then(|file| file.tip_px);
        let has_file = tip.is_some() || edit::file_object_index(case, canal).is_some();
        let near = |a: FilmPoint, b: FilmPoint, mm: f64| a.distance_px(b) < mm * self.px_per_mm;
        let is_taken = |offer: &Offer| {
            let own_end = offer.apical_end();
            case.canals.iter().any(|other| {
                let placed = match &offer.what {
                    Offered::File(_) => other.file.as_ref().and_then(|file| file.tip_px),
                    Offered::Canal(_) => other.trace_px.last().copied(),
                    Offered::Apex(_) => other.apex_px,
                };
                placed
                    .zip(own_end)
                    .is_some_and(|(a, b)| near(a, b, SAME_MM))
            })
        };
        let is_missing = |offer: &Offer| match &offer.what {
            Offered::File(_) => !has_file,
            Offered::Canal(_) => content.trace_px.is_empty(),
            Offered::Apex(_) => content.apex_px.is_none(),
        };
        // Where the root is known, others are of no use.
        let root = tip.or(content.apex_px);
        let of_root = |offer: &Offer| match (root, offer.apical_end()) {
            (Some(root), Some(end)) => near(root, end, SAME_ROOT_MM),
            _ => true,
        };
        let mut shown: Vec<&Offer> = self
            .all
            .iter()
            .filter(|offer| is_missing(offer) && !is_taken(offer) && of_root(offer))
            .collect();
        if let Some(root) = root {
            let way = |offer: &Offer| {
                let end = offer.apical_end();
                end.map_or(f64::INFINITY, |end| end.distance_px(root))
            };
            shown.sort_by(|a, b| way(a).total_cmp(&way(b)));
        }
        shown.truncate(MOST);
        shown
    }
}

/// Nothing is placed yet that a suggestion could give.
pub fn is_bare(case: &Case) -> bool {
    let of_file = |kind| kind == ScaleObjectKind::File;
    case.scale
        .objects
        .iter()
        .all(|object| !of_file(object.kind))
        && case.canals.iter().all(|canal| {
            let tip = canal.file.as_ref().and_then(|file| file.tip_px);
            canal.trace_px.is_empty() && canal.apex_px.is_none() && tip.is_none()
        })
}

/// Reads a film beside the window.
pub fn look(
    job: LongJob,
    film: &OpenFilm,
    mm_per_px: Option<f64>,
) -> impl FnOnce() -> Result<Offers, AssistError> + Send + 'static {
    let size_px = film.size_px();
    let film = Arc::clone(&film.film);
    move || {
        job.watched(
            || (),
            |progress| {
                leaving_the_window_a_core(|| suggest(&film, mm_per_px, progress))
                    .map(|found| Offers::of(found, mm_per_px, size_px))
            },
        )
    }
}

/// Runs `work`, which nobody waits for, on all cores but one: the window stays
/// quick.
fn leaving_the_window_a_core<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(cores.saturating_sub(1).max(1))
        .build();
    match pool {
        Ok(pool) => pool.install(work),
        Err(_) => work(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assist::{SuggestedCanal, SuggestedRoot};
    use crate::case::Landmark;
    use crate::case::edit::new_case;

    fn p(x: f64, y: f64) -> FilmPoint {
        FilmPoint::new(x, y)
    }

    fn two_roots() -> Offers {
        let file = |x: f64, stop: bool, confidence: f64| SuggestedFile {
            stop_px: stop.then(|| p(x, 50.0)),
            tip_px: p(x, 900.0),
            points_px: vec![p(x, 50.0), p(x, 900.0)],
            confidence,
            stop_confidence: if stop { 0.99 } else { 0.2 },
        };
        let canal = |x: f64, confidence: f64| SuggestedCanal {
            points_px: vec![p(x, 400.0), p(x, 930.0)],
            confidence,
        };
        let root = |x: f64, confidence: f64| SuggestedRoot {
            apex_px: p(x, 930.0),
            confidence,
            spread_mm: 0.1,
        };
        let found = Suggestions {
            files: vec![file(300.0, true, 0.9), file(700.0, false, 0.7)],
            roots: vec![root(700.0, 0.99), root(300.0, 0.8), root(90.0, 0.3)],
            canals: vec![canal(700.0, 0.95), canal(300.0, 0.6)],
            warnings: Vec::new(),
            ms: 0.0,
        };
        Offers::of(found, Some(0.03), [1000, 1200])
    }

    #[test]
    fn faint_places_are_not_offered_and_clear_ones_come_first_files_before_all() {
        let offers = two_roots();
        assert_eq!(offers.counts(), [2, 2, 2]);
        let case = new_case("film.png");
        let shown = offers.shown(&case, 0);
        let sure: Vec<f64> = shown.iter().map(|offer| offer.confidence).collect();
        assert_eq!(sure, [0.9, 0.95, 0.99, 0.8, 0.7, 0.6]);
    }

    #[test]
    fn after_a_file_only_its_own_root_is_offered_and_a_taken_thing_never_again() {
        let mut offers = two_roots();
        let mut case = new_case("film.png");
        let of_file = |offer: &&Offer| matches!(offer.what, Offered::File(_));
        let file = offers.shown(&case, 0).into_iter().find(of_file).cloned();
        file.expect("a file").apply(&mut case, 0, Some(0.03));
        assert_eq!(case.canals[0].reference_px, Some(p(300.0, 50.0)));
        let shown = offers.shown(&case, 0);
        let ends: Vec<_> = shown.iter().map(|offer| offer.apical_end()).collect();
        assert_eq!(ends, [Some(p(300.0, 930.0)); 2]);
        // A second canal is offered what the first one has not.
        let second = edit::add_canal(&mut case);
        let shown = offers.shown(&case, second);
        assert!(shown.iter().filter(of_file_ref).all(|offer| {
            offer.label() == "Take file tip" && offer.apical_end() == Some(p(700.0, 900.0))
        }));
        offers.hidden = true;
        assert!(offers.shown(&case, second).is_empty());
    }

    fn of_file_ref(offer: &&&Offer) -> bool {
        matches!(offer.what, Offered::File(_))
    }

    #[test]
    fn a_tip_without_its_stop_leaves_reference_and_scale_alone() {
        let mut case = new_case("film.png");
        let offers = two_roots();
        let bare = |offer: &&Offer| offer.label() == "Take file tip";
        let tip = offers.shown(&case, 0).into_iter().find(bare).cloned();
        tip.expect("a tip").apply(&mut case, 0, None);
        assert!(case.scale.objects.is_empty());
        assert_eq!(case.canals[0].reference_px, None);
        assert!(!is_bare(&case));
    }

    /// A tip or apex that was taken says so, until it is placed or moved by hand.
    #[test]
    fn what_is_taken_is_marked_as_assisted_until_it_is_placed_by_hand() {
        let mut case = new_case("film.png");
        let offers = two_roots();
        for label in ["Take file tip", "Take apex"] {
            let shown = offers.shown(&case, 0);
            let offer = shown.into_iter().find(|o| o.label() == label).cloned();
            offer.expect(label).apply(&mut case, 0, None);
        }
        let marks = |case: &Case| {
            let file = case.canals[0].file.as_ref();
            (
                file.is_some_and(|f| f.assisted),
                case.canals[0].apex_assisted,
            )
        };
        assert_eq!(marks(&case), (true, true));
        let saved = serde_json::to_string(&case).expect("writes");
        let read: Case = serde_json::from_str(&saved).expect("reads");
        assert_eq!(marks(&read), (true, true));
        let apex = edit::Tool::Landmark(Landmark::Apex);
        edit::place(&mut case, apex, 0, p(702.0, 931.0));
        assert_eq!(marks(&case), (true, false));
        let tip = edit::Handle::Landmark {
            canal: 0,
            landmark: Landmark::Tip,
        };
        edit::move_to(&mut case, &tip, p(690.0, 890.0));
        assert_eq!(marks(&case), (false, false));
    }
}

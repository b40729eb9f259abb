//! What is gained when the pictures themselves move the marks of the second
//! one: the table of docs/before-after.md.
//!
//! ```text
//! cargo run --release --example mark_matching              # 30 pairs of each kind
//! ```

use kurbo::Point;
use lengthfilm::case::Mark;
use lengthfilm::phantom::block::{BlockSpec, BlockTruth, Scan, View, end_mm, photograph};
use lengthfilm::registration::{Scale, register};
use lengthfilm::shaping::match_marks;
use lengthfilm::units::FilmPoint;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

const CLICK_MM: f64 = 0.03;
const PAIRS: u64 = 30;

/// One way in which the second picture differs.
struct Look {
    name: &'static str,
    blur_px: f64,
    noise: f64,
}

const LOOKS: [Look; 3] = [
    Look {
        name: "as the first",
        blur_px: 1.1,
        noise: 2.5,
    },
    Look {
        name: "twice the blur, four times the noise",
        blur_px: 2.2,
        noise: 10.0,
    },
    Look {
        name: "eight times the noise",
        blur_px: 1.1,
        noise: 20.0,
    },
];

/// What matching gave on one pair.
struct Found {
    /// How far the canal's end is off, mm: by clicks, and by matched marks.
    end_off_mm: [f64; 2],
    marks: usize,
    /// Mean square of how far marks are off per coordinate, px.
    mark_error_squared_px: f64,
    /// Stated standard uncertainty of a mark per coordinate, px.
    u_px: f64,
}

fn errors(seed: u64, look: &Look) -> Option<Found> {
    let spec = BlockSpec::random(seed);
    let truth = BlockTruth::new(&spec);
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let scans = [Scan::random(&mut rng), Scan::random(&mut rng)];
    let mut noise = || -> f64 { StandardNormal.sample(&mut rng) };
    let mut clicks = || {
        let marks = truth.marks();
        marks.map(|mark| mark + kurbo::Vec2::new(CLICK_MM * noise(), CLICK_MM * noise()))
    };
    let (clicked_before, clicked_after) = (clicks(), clicks());
    let [before, after] = [on(scans[0], &clicked_before), on(scans[1], &clicked_after)];
    let first = photograph(&spec, false, &scans[0].view(seed))?.film;
    let view = View {
        blur_px: look.blur_px,
        noise: look.noise,
        ..scans[1].view(seed + 7_000)
    };
    let second = photograph(&spec, true, &view)?.film;
    let matched = match_marks((&before, &first), (&after, &second)).ok()?;
    let end = end_mm(&truth, false);
    let off = |after: &[Mark]| {
        let points = |marks: &[Mark]| -> Vec<Point> {
            marks
                .iter()
                .map(|mark| Point::new(mark.px.x, mark.px.y))
                .collect()
        };
        let found = register(&points(&before), &points(after), Scale::Free).ok()?;
        let px = |p: FilmPoint| Point::new(p.x, p.y);
        let seen = found.transform.map(px(scans[0].px(end)));
        Some(seen.distance(px(scans[1].px(end))) / scans[1].px_per_mm)
    };
    let exact = on(scans[1], &clicked_before);
    let squares = exact.iter().zip(&matched.after).map(|(exact, mark)| {
        let (x, y) = (mark.px.x - exact.px.x, mark.px.y - exact.px.y);
        0.5 * (x * x + y * y)
    });
    Some(Found {
        end_off_mm: [off(&after)?, off(&matched.after)?],
        marks: matched.found.len(),
        mark_error_squared_px: squares.sum::<f64>() / exact.len() as f64,
        u_px: matched.u_px,
    })
}

/// Places of the block's face as marks on a scan.
fn on(scan: Scan, places: &[Point]) -> Vec<Mark> {
    let marks = places.iter().enumerate().map(|(i, place)| Mark {
        name: i.to_string(),
        px: scan.px(*place),
        extra: Default::default(),
    });
    marks.collect()
}

fn main() {
    println!(
        "| second picture | marks found of 4 | mark off, px rms | stated u, px | end off by clicks, mm rms | by matched marks |"
    );
    println!("|---|---|---|---|---|---|");
    for look in &LOOKS {
        let all: Vec<_> = (1..=PAIRS).filter_map(|seed| errors(seed, look)).collect();
        let count = all.len() as f64;
        let rms = |way: usize| {
            let squares: f64 = all.iter().map(|one| one.end_off_mm[way].powi(2)).sum();
            (squares / count).sqrt()
        };
        let mean = |of: fn(&Found) -> f64| all.iter().map(of).sum::<f64>() / count;
        println!(
            "| {} | {:.2} | {:.3} | {:.3} | {:.4} | {:.4} |",
            look.name,
            mean(|one| one.marks as f64),
            mean(|one| one.mark_error_squared_px).sqrt(),
            mean(|one| one.u_px.powi(2)).sqrt(),
            rms(0),
            rms(1)
        );
    }
}

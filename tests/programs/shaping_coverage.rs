//! Coverage and error of widths, removal and transport on pairs of practice
//! blocks: the tables of docs/before-after.md.
//!
//! ```text
//! cargo run --release --example shaping_coverage            # 300 pairs each
//! cargo run --release --example shaping_coverage -- --pairs 30
//! cargo run --release --example shaping_coverage -- --matched
//! cargo run --release --example shaping_coverage -- --looks test
//! cargo run --release --example shaping_coverage -- --looks tuning --walls
//! ```

#[allow(dead_code, reason = "shared with the tests")]
#[path = "../support/block_pairs.rs"]
mod block_pairs;

use block_pairs::{
    CLICK_MM, Photographing, Study, WallPoint, clicked, followed_points, matched, photographed,
    table,
};
use std::sync::atomic::{AtomicUsize, Ordering};

use clap::{Parser, ValueEnum};
use lengthfilm::phantom::Families;
use lengthfilm::phantom::block::{BlockSpec, LookPart};
use lengthfilm::shaping::Picture;
use rayon::prelude::*;

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Looks {
    Tuning,
    Test,
}

#[derive(Parser)]
struct Arguments {
    /// Pairs of each kind.
    #[arg(long, default_value_t = 300)]
    pairs: u64,
    /// Seed of the first pair.
    #[arg(long, default_value_t = 1)]
    first: u64,
    /// Monte Carlo draws of each pair.
    #[arg(long, default_value_t = 1000)]
    draws: usize,
    /// Instead: pairs whose marks were matched by the pictures.
    #[arg(long)]
    matched: bool,
    /// Instead: photographs with looks of this set, on blocks of this set.
    #[arg(long, value_enum)]
    looks: Option<Looks>,
    /// With looks: points of followed walls, part by part, in place of levels.
    #[arg(long, requires = "looks")]
    walls: bool,
}

impl Arguments {
    fn seeds(&self) -> std::ops::Range<u64> {
        self.first..self.first + self.pairs
    }

    /// The study of the pairs that `made` makes of each block.
    fn study(
        &self,
        spec: impl Fn(u64) -> BlockSpec + Sync,
        made: impl Fn(&BlockSpec) -> Result<[Picture; 2], String> + Sync,
    ) -> Study {
        let of_seed = |seed: u64| {
            let spec = spec(seed);
            let pair = made(&spec);
            Study::of_pair(&spec, pair, self.draws)
        };
        let seeds = self.seeds().into_par_iter().map(of_seed);
        seeds.reduce(Study::default, Study::merged)
    }
}

fn main() {
    let arguments = Arguments::parse();
    let families = arguments.looks.map(|looks| match looks {
        Looks::Tuning => Families::Tuning,
        Looks::Test => Families::Test,
    });
    match families {
        Some(families) if arguments.walls => of_walls(&arguments, families),
        Some(families) => of_looks(&arguments, families),
        None if arguments.matched => of_matched_marks(&arguments),
        None => of_even_pictures(&arguments),
    }
}

fn of_even_pictures(arguments: &Arguments) {
    for (title, own_scale) in [
        ("clicked, scale of the second film from the marks", false),
        ("clicked, each film with a scale of its own", true),
    ] {
        let made = |spec: &BlockSpec| Ok(clicked(spec, CLICK_MM, own_scale));
        println!(
            "{}",
            table(title, &arguments.study(BlockSpec::random, made))
        );
    }
    let how = Photographing::default();
    let study = arguments.study(BlockSpec::random, |spec| photographed(spec, &how));
    println!(
        "{}",
        table("photographed, made flat, walls followed", &study)
    );
}

fn of_matched_marks(arguments: &Arguments) {
    let made = |spec: &BlockSpec| {
        matched(spec, CLICK_MM, false).ok_or_else(|| "marks not found on the pictures".to_owned())
    };
    let study = arguments.study(BlockSpec::random, made);
    println!("{}", table("scanned, walls clicked, marks matched", &study));
    let how = Photographing {
        matched: true,
        ..Photographing::default()
    };
    let study = arguments.study(BlockSpec::random, |spec| photographed(spec, &how));
    let title = "photographed, made flat, walls followed, marks matched";
    println!("{}", table(title, &study));
}

fn of_looks(arguments: &Arguments, families: Families) {
    for (title, matched) in [
        ("hard photographs, marks clicked", false),
        ("hard photographs, marks matched", true),
    ] {
        let how = Photographing {
            looks: Some(families),
            snapped: true,
            matched,
        };
        let spec = |seed| BlockSpec::of_families(families, seed);
        let by_hand = AtomicUsize::new(0);
        let study = arguments.study(spec, |spec| {
            let pictures = photographed(spec, &how)?;
            let named = pictures.iter().filter(|p| p.name.ends_with("by hand"));
            by_hand.fetch_add(named.count(), Ordering::Relaxed);
            Ok(pictures)
        });
        println!("{}", table(title, &study));
        println!(
            "Photographs whose edges were not seen, corners by hand: {}.\n",
            by_hand.into_inner()
        );
    }
}

/// Points of followed walls by what the photographs show.
#[derive(Clone, Default)]
struct Points {
    photographs: usize,
    followed: usize,
    read: usize,
    inside: usize,
    gross: usize,
    error_squares: f64,
    own_squares: f64,
    common_squares: f64,
}

impl Points {
    fn add(&mut self, walls: &Result<[Vec<WallPoint>; 2], String>) {
        self.photographs += 1;
        let Ok(walls) = walls else { return };
        self.followed += 1;
        for point in walls.iter().flatten() {
            let u = point.own_px.hypot(point.common_px);
            self.read += 1;
            self.inside += usize::from(point.error_px.abs() <= 1.96 * u);
            self.gross += usize::from(point.error_px.abs() * point.mm_per_px > 0.3);
            self.error_squares += point.error_px.powi(2);
            self.own_squares += point.own_px.powi(2);
            self.common_squares += point.common_px.powi(2);
        }
    }

    fn row(&self, name: &str) -> String {
        let root = |sum: f64| (sum / self.read.max(1) as f64).sqrt();
        format!(
            "| {name} | {} | {} | {} | {:.1} | {:.3} | {:.3} | {:.3} | {} |",
            self.photographs,
            self.followed,
            self.read,
            100.0 * self.inside as f64 / self.read.max(1) as f64,
            root(self.error_squares),
            root(self.own_squares),
            root(self.common_squares),
            self.gross
        )
    }
}

fn of_walls(arguments: &Arguments, families: Families) {
    let of_seed = |seed: u64| {
        let spec = BlockSpec::of_families(families, seed);
        let how = Photographing {
            looks: Some(families),
            ..Photographing::default()
        };
        [false, true].map(|after| {
            let walls = followed_points(&spec, after, Some(families));
            (how.look(&spec, after), walls)
        })
    };
    let found: Vec<_> = arguments
        .seeds()
        .into_par_iter()
        .flat_map(of_seed)
        .collect();
    println!(
        "| photographs with | number | followed | points | coverage % | rms error px | rms own u \
         px | rms common u px | off > 0.3 mm |\n|---|---|---|---|---|---|---|---|---|"
    );
    let mut all = Points::default();
    found.iter().for_each(|(_, walls)| all.add(walls));
    println!("{}", all.row("all"));
    for part in LookPart::ALL {
        let mut points = Points::default();
        let with = found.iter().filter(|(look, _)| look.has(part));
        with.for_each(|(_, walls)| points.add(walls));
        println!("{}", points.row(part.word()));
    }
}

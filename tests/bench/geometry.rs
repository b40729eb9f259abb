//! Speed of the curves a canal is measured with: drawn, placed, fitted. While
//! a point is dragged all of it must fit into a frame of 16 ms many times over.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use kurbo::Point;
use lengthfilm::geometry::{DrawnCurve, FitOptions, Piece, StraightArcPath, fit_path};

const SD_MM: f64 = 0.03;

/// A canal of 8 mm straight, 40° at a radius of 6 mm and a tail of 3 mm.
fn canal() -> StraightArcPath {
    let turn_rad = 40_f64.to_radians();
    let pieces = [
        Piece::Straight { length: 8.0 },
        Piece::Arc {
            length: 6.0 * turn_rad,
            turn_rad,
        },
        Piece::Straight { length: 3.0 },
    ];
    StraightArcPath::new(Point::new(6.0, 3.0), 1.3, &pieces).unwrap()
}

/// Points of it beside the line by a fixed pattern of one standard deviation.
fn points(count: usize) -> Vec<Point> {
    let canal = canal();
    (0..count)
        .map(|i| {
            let pose = canal.pose_at_length(canal.length() * i as f64 / (count - 1) as f64);
            let aside = SD_MM * (i * 7 % 5) as f64 / 2.0 - SD_MM;
            pose.point + kurbo::Vec2::new(-pose.direction.y, pose.direction.x) * aside
        })
        .collect()
}

fn geometry(c: &mut Criterion) {
    for count in [10, 40, 200] {
        let points = points(count);
        c.bench_function(&format!("drawn curve through {count} points"), |b| {
            b.iter(|| DrawnCurve::through(black_box(&points)).unwrap().length())
        });
        let drawn = DrawnCurve::through(&points).unwrap();
        let beside = Point::new(7.0, 9.0);
        c.bench_function(&format!("projection on a drawn curve of {count}"), |b| {
            b.iter(|| drawn.project(black_box(beside)))
        });
    }
    let canal = canal();
    c.bench_function("projection on a straight-arc path", |b| {
        b.iter(|| canal.project(black_box(Point::new(7.0, 9.0))))
    });
    for count in [7, 14, 40] {
        let points = points(count);
        c.bench_function(&format!("fit to {count} points"), |b| {
            b.iter(|| fit_path(black_box(&points), &FitOptions::new(SD_MM)).unwrap())
        });
    }
}

criterion_group!(benches, geometry);
criterion_main!(benches);

//! Which values of the clutter can be built.

use super::{Clutter, ResponseCurve, Unexposed};

/// One value: path of its key, what it is, least and most allowed.
pub(in crate::phantom) type Bound = (&'static str, f64, f64, f64);

/// Every value with its bounds.
pub(in crate::phantom) fn bounds(clutter: &Clutter) -> Vec<Bound> {
    let mut bounds: Vec<Bound> = vec![
        (
            "clutter.second_files (count)",
            clutter.second_files.len() as f64,
            0.0,
            4.0,
        ),
        (
            "clutter.root_fillings (count)",
            clutter.root_fillings.len() as f64,
            0.0,
            12.0,
        ),
        (
            "clutter.crown_work (count)",
            clutter.crown_work.len() as f64,
            0.0,
            12.0,
        ),
        (
            "clutter.noise (count)",
            clutter.noise.len() as f64,
            0.0,
            4.0,
        ),
        (
            "clutter.plate.unexposed (count)",
            clutter.plate.unexposed.len() as f64,
            0.0,
            6.0,
        ),
        (
            "clutter.plate.corner_mm",
            clutter.plate.corner_mm,
            0.0,
            15.0,
        ),
        ("clutter.plate.frame_mm", clutter.plate.frame_mm, 0.0, 10.0),
        (
            "clutter.marks.scratches",
            f64::from(clutter.marks.scratches),
            0.0,
            200.0,
        ),
        (
            "clutter.marks.dust",
            f64::from(clutter.marks.dust),
            0.0,
            200.0,
        ),
        (
            "clutter.marks.letters",
            f64::from(clutter.marks.letters),
            0.0,
            50.0,
        ),
        (
            "clutter.processing.sharpen",
            clutter.processing.sharpen,
            0.0,
            5.0,
        ),
        (
            "clutter.processing.sharpen_mm",
            clutter.processing.sharpen_mm,
            0.0,
            2.0,
        ),
        (
            "clutter.processing.smooth_mm",
            clutter.processing.smooth_mm,
            0.0,
            0.5,
        ),
        (
            "clutter.processing.resampled_mm",
            clutter.processing.resampled_mm,
            0.0,
            1.0,
        ),
        (
            "clutter.stop.attenuation_per_mm",
            clutter.stop.attenuation_per_mm,
            0.0,
            5.0,
        ),
        ("clutter.stop.tilt_deg", clutter.stop.tilt_deg, 0.0, 60.0),
        (
            "clutter.stop.tilt_side_deg",
            clutter.stop.tilt_side_deg,
            -360.0,
            360.0,
        ),
    ];
    match clutter.processing.curve {
        ResponseCurve::Even => {}
        ResponseCurve::Power { gamma } => {
            bounds.push(("clutter.processing.curve", gamma, 0.2, 5.0))
        }
        ResponseCurve::Steep { slope, middle } => bounds.extend([
            ("clutter.processing.curve.slope", slope, 0.1, 10.0),
            ("clutter.processing.curve.middle", middle, 0.0, 1.0),
        ]),
        ResponseCurve::ToeAndShoulder { toe, shoulder } => bounds.extend([
            ("clutter.processing.curve.toe", toe, 0.0, 0.4),
            ("clutter.processing.curve.shoulder", shoulder, 0.0, 0.4),
        ]),
        ResponseCurve::Ranked { share } => {
            bounds.push(("clutter.processing.curve.share", share, 0.0, 1.0));
        }
    }
    if let Some(clamp) = &clutter.clamp {
        bounds.extend([
            ("clutter.clamp.size", clamp.size, 0.3, 3.0),
            ("clutter.clamp.sheet_depth", clamp.sheet_depth, 0.0, 10.0),
            ("clutter.clamp.wire_mm", clamp.wire_mm, 0.05, 3.0),
            ("clutter.clamp.shift_mm[0]", clamp.shift_mm[0], -30.0, 30.0),
            ("clutter.clamp.shift_mm[1]", clamp.shift_mm[1], -30.0, 30.0),
            ("clutter.clamp.turn_deg", clamp.turn_deg, -360.0, 360.0),
        ]);
    }
    for filling in &clutter.root_fillings {
        bounds.extend([
            ("clutter.root_fillings.root", filling.root as f64, 0.0, 12.0),
            (
                "clutter.root_fillings.short_mm",
                filling.short_mm,
                0.0,
                20.0,
            ),
            (
                "clutter.root_fillings.attenuation_per_mm",
                filling.attenuation_per_mm,
                0.0,
                5.0,
            ),
        ]);
    }
    for work in &clutter.crown_work {
        bounds.push(("clutter.crown_work.depth", work.depth, 0.0, 10.0));
    }
    for noise in &clutter.noise {
        bounds.extend([
            ("clutter.noise.amplitude", noise.amplitude, 0.0, 0.5),
            ("clutter.noise.grain_mm", noise.grain_mm, 0.01, 1.0),
        ]);
    }
    for part in &clutter.plate.unexposed {
        match part {
            Unexposed::Circle { centre, radius_mm } => bounds.extend([
                ("clutter.plate.unexposed.centre[0]", centre[0], -2.0, 2.0),
                ("clutter.plate.unexposed.centre[1]", centre[1], -2.0, 2.0),
                ("clutter.plate.unexposed.radius_mm", *radius_mm, 1.0, 200.0),
            ]),
            Unexposed::Edge {
                normal_deg,
                depth_mm,
                wave_mm,
            } => bounds.extend([
                (
                    "clutter.plate.unexposed.normal_deg",
                    *normal_deg,
                    -360.0,
                    360.0,
                ),
                ("clutter.plate.unexposed.depth_mm", *depth_mm, 0.0, 60.0),
                ("clutter.plate.unexposed.wave_mm", *wave_mm, 0.0, 5.0),
            ]),
        }
    }
    if let Some(root) = &clutter.overlapping_root {
        bounds.extend([
            (
                "clutter.overlapping_root.shift_mm",
                root.shift_mm,
                -30.0,
                30.0,
            ),
            (
                "clutter.overlapping_root.turn_deg",
                root.turn_deg,
                -90.0,
                90.0,
            ),
            (
                "clutter.overlapping_root.half_width_mm",
                root.half_width_mm,
                0.3,
                5.0,
            ),
            (
                "clutter.overlapping_root.length_mm",
                root.length_mm,
                3.0,
                30.0,
            ),
        ]);
    }
    if let Some(zygoma) = &clutter.zygoma {
        bounds.extend([
            (
                "clutter.zygoma.beyond_apex_mm",
                zygoma.beyond_apex_mm,
                -30.0,
                30.0,
            ),
            ("clutter.zygoma.aside_mm", zygoma.aside_mm, -40.0, 40.0),
            ("clutter.zygoma.depth", zygoma.depth, 0.0, 5.0),
            ("clutter.zygoma.turn_deg", zygoma.turn_deg, -180.0, 180.0),
        ]);
    }
    for second in &clutter.second_files {
        if let Some(beside) = &second.beside {
            bounds.extend([
                (
                    "clutter.second_files.shift_mm",
                    beside.shift_mm,
                    -20.0,
                    20.0,
                ),
                (
                    "clutter.second_files.turn_deg",
                    beside.turn_deg,
                    -60.0,
                    60.0,
                ),
            ]);
        }
    }
    bounds
}

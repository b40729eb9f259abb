//! A crown with its enamel: sections across the long axis, two cusped lobes.

/// Smooth curve through knots (place, value), level at every knot.
#[derive(Clone, Debug)]
pub(super) struct Knots(pub Vec<(f32, f32)>);

impl Knots {
    fn at(&self, place: f32) -> f32 {
        let next = self.0.partition_point(|k| k.0 <= place);
        if next == 0 {
            return self.0[0].1;
        }
        let Some(&(end, to)) = self.0.get(next) else {
            return self.0[self.0.len() - 1].1;
        };
        let (start, from) = self.0[next - 1];
        let t = (place - start) / (end - start);
        from + (to - from) * t * t * (3.0 - 2.0 * t)
    }
}

/// Form of the biting edge.
#[derive(Clone, Copy, Debug)]
pub(super) enum Edge {
    Straight,
    Pointed { slope: f32 },
    Cusps { spacing_mm: f32, depth_mm: f32 },
}

/// Crown in its own frame: origin at the reference point, y apically, mm.
#[derive(Clone, Debug)]
pub(super) struct Crown {
    /// Middle of the crown across.
    pub middle_x: f32,
    /// Largest half width: nothing lies farther from the middle.
    pub reach: f32,
    pub half_width: Knots,
    pub half_depth: Knots,
    /// Neck below the reference point.
    pub neck_y: f32,
    /// Where the body ends and only roots go on.
    pub bottom_y: f32,
    /// Height over which the body thins out towards its bottom.
    pub bottom_rounding: f32,
    /// Furcation: where between the roots (x) and how steeply (1/mm) the
    /// bottom falls away to both sides of it.
    pub arch: Option<(f32, f32)>,
    pub edge: Edge,
    /// How much lower the lobe away from the viewer is.
    pub second_lobe_drop: f32,
    pub enamel_side_mm: f32,
    pub enamel_top_mm: f32,
}

/// mm of matter along a ray.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct CrownChords {
    pub whole: f32,
    pub dentine: f32,
}

fn rounded(depth_inside: f32, rounding: f32) -> f32 {
    let t = 1.0 - (depth_inside / rounding).clamp(0.0, 1.0);
    (1.0 - t * t).sqrt()
}

impl Crown {
    fn edge_y(&self, x: f32) -> f32 {
        let form = |x: f32| {
            let side = (x - self.middle_x) / self.reach;
            let round = 1.5 * side.powi(6);
            round
                + match self.edge {
                    Edge::Straight => 0.0,
                    Edge::Pointed { slope } => slope * ((x * x + 0.3).sqrt() - 0.548),
                    Edge::Cusps {
                        spacing_mm,
                        depth_mm,
                    } => 0.5 * depth_mm * (1.0 - (std::f32::consts::TAU * x / spacing_mm).cos()),
                }
        };
        form(x) - form(0.0)
    }

    fn bottom_at(&self, x: f32) -> f32 {
        self.bottom_y
            + self.arch.map_or(0.0, |(middle, steepness)| {
                (steepness * (x - middle).powi(2)).min(2.0)
            })
    }

    fn body(&self, x: f32, y: f32, edge_y: f32, shrink: f32, top: f32) -> f32 {
        let half_width = self.half_width.at(y) - shrink;
        let across = (x - self.middle_x) / half_width;
        let inside = 1.0 - (across * across) * (across * across);
        if half_width <= 0.0 || inside <= 0.0 {
            return 0.0;
        }
        let depth = (self.half_depth.at(y) - shrink).max(0.0);
        let lobes =
            rounded(y - edge_y - top, 1.3) + rounded(y - edge_y - self.second_lobe_drop - top, 1.3);
        let bottom = rounded(
            self.bottom_at(x) - y + (-shrink).max(0.0),
            self.bottom_rounding,
        );
        depth * inside.sqrt() * lobes * bottom
    }

    /// Chords at a place of the crown's frame.
    pub fn chords(&self, x: f32, y: f32) -> CrownChords {
        if (x - self.middle_x).abs() > self.reach || y > self.bottom_at(x) {
            return CrownChords::default();
        }
        let edge_y = self.edge_y(x);
        if y < edge_y {
            return CrownChords::default();
        }
        let whole = self.body(x, y, edge_y, 0.0, 0.0);
        let cover = (1.0 - y / self.neck_y).clamp(0.0, 1.0).sqrt();
        let dentine = self.body(
            x,
            y,
            edge_y,
            self.enamel_side_mm * cover,
            self.enamel_top_mm * cover,
        );
        CrownChords {
            whole,
            dentine: dentine.min(whole),
        }
    }

    /// Chord of the body grown by `grow` mm (below the neck only, where
    /// ligament and bone surround it).
    pub fn grown(&self, x: f32, y: f32, grow: f32) -> f32 {
        if y < self.neck_y - 2.0
            || y > self.bottom_at(x) + grow
            || (x - self.middle_x).abs() > self.reach + grow
        {
            return 0.0;
        }
        self.body(x, y, f32::NEG_INFINITY, -grow, 0.0)
    }
}

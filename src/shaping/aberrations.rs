//! Zip, elbow, ledge, thin wall, perforation, loss of length: own rules after
//! Weine's words (Weine, Kelly & Lio 1975, J Endod 1:255–262, and Al-Omari,
//! Dummer & Newcombe 1992, Int Endod J 25:57–81: MEM, texts not seen), with
//! own limits.

use serde::Serialize;

use super::measures::Side;
use super::sections::Section;
use super::settings::AberrationLimits;

/// A kind of aberration.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[repr(usize)]
pub enum AberrationKind {
    /// The end torn open, more on the outer side.
    Zip,
    /// The narrow place coronal of a zip.
    Elbow,
    /// A step in the outer wall with the canal ending short.
    Ledge,
    /// Little wall left.
    ThinWall,
    /// No wall left.
    Perforation,
    /// The canal after ends short of the canal before.
    LossOfLength,
}

impl AberrationKind {
    /// All kinds in the order of their numbers.
    pub const ALL: [Self; 6] = [
        Self::Zip,
        Self::Elbow,
        Self::Ledge,
        Self::ThinWall,
        Self::Perforation,
        Self::LossOfLength,
    ];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Zip => "zip",
            Self::Elbow => "elbow",
            Self::Ledge => "ledge",
            Self::ThinWall => "thin wall",
            Self::Perforation => "perforation",
            Self::LossOfLength => "loss of length",
        }
    }
}

/// One place along the canal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProfilePoint {
    /// Along the centre line before, mm.
    pub from_end_mm: f64,
    /// The outer side of the curve there.
    pub outer: Option<Side>,
    /// What the section there shows.
    pub section: Section,
}

/// A canal as sections close to each other, from its end.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Profile {
    /// Length of the centre line before, mm.
    pub length_mm: f64,
    /// From the end.
    pub points: Vec<ProfilePoint>,
}

/// What a rule found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aberration {
    pub kind: AberrationKind,
    pub from_end_mm: f64,
    /// Depth of a zip, width of an elbow, step of a ledge, remaining wall,
    /// lost length: mm.
    pub size_mm: f64,
    pub side: Option<Side>,
    /// A thin wall below the lower limit.
    pub strong: bool,
}

/// Every aberration of a canal whose after-canal ends `short_mm` short.
pub fn find_aberrations(
    profile: &Profile,
    short_mm: Option<f64>,
    limits: &AberrationLimits,
) -> Vec<Aberration> {
    let mut found = Vec::new();
    found.extend(zip_and_elbow(profile, limits));
    let is_short = short_mm.filter(|&short| short > limits.short_mm);
    if is_short.is_some() {
        found.extend(ledge(profile, limits));
    }
    found.extend(thin_wall(profile, limits));
    if let Some(short) = is_short {
        found.push(Aberration {
            kind: AberrationKind::LossOfLength,
            from_end_mm: short,
            size_mm: short,
            side: None,
            strong: false,
        });
    }
    found
}

impl ProfilePoint {
    /// Removal on the outer and the inner side of the curve.
    fn outer_inner(&self) -> Option<(f64, f64)> {
        let (left, right) = (self.section.removed_left, self.section.removed_right);
        match self.outer? {
            Side::Left => Some((left, right)),
            Side::Right => Some((right, left)),
        }
    }
}

fn zip_and_elbow(profile: &Profile, limits: &AberrationLimits) -> Vec<Aberration> {
    let has_width = |p: &&ProfilePoint| p.section.width_after.is_finite();
    let mut with_width = profile.points.iter().filter(has_width);
    let Some(end) = with_width.next().filter(|p| p.from_end_mm <= 0.5) else {
        return Vec::new();
    };
    let within = |p: &&ProfilePoint| {
        (limits.elbow_from_mm - 1e-9..=limits.elbow_to_mm + 1e-9).contains(&p.from_end_mm)
    };
    let width = |p: &ProfilePoint| p.section.width_after;
    let candidates = profile.points.iter().filter(has_width).filter(within);
    let Some(narrow) = candidates.min_by(|a, b| width(a).total_cmp(&width(b))) else {
        return Vec::new();
    };
    let depth = width(end) - width(narrow);
    let outwards = end
        .outer_inner()
        .is_some_and(|(outer, inner)| outer > inner);
    if depth < limits.zip_least_mm || !outwards {
        return Vec::new();
    }
    let mut found = vec![Aberration {
        kind: AberrationKind::Zip,
        from_end_mm: end.from_end_mm,
        size_mm: depth,
        side: end.outer,
        strong: false,
    }];
    // A narrowest place at the edge of the range is no narrow place: the canal
    // only tapers there.
    let wider_coronally = profile
        .points
        .iter()
        .filter(has_width)
        .any(|p| p.from_end_mm > narrow.from_end_mm && width(p) > width(narrow));
    let at_edge = narrow.from_end_mm > limits.elbow_to_mm - 1e-9;
    if wider_coronally && !at_edge {
        found.push(Aberration {
            kind: AberrationKind::Elbow,
            from_end_mm: narrow.from_end_mm,
            size_mm: width(narrow),
            side: None,
            strong: false,
        });
    }
    found
}

/// The greatest rise of the outer removal within the length of a ledge,
/// towards the orifice, that the inner side does not share.
fn ledge(profile: &Profile, limits: &AberrationLimits) -> Option<Aberration> {
    let mut greatest: Option<Aberration> = None;
    for (i, apical) in profile.points.iter().enumerate() {
        let Some((outer_apical, inner_apical)) = apical.outer_inner() else {
            continue;
        };
        let near = profile.points[i + 1..]
            .iter()
            .take_while(|p| p.from_end_mm - apical.from_end_mm <= limits.ledge_length_mm + 1e-9);
        for coronal in near.filter(|p| p.outer == apical.outer) {
            let Some((outer, inner)) = coronal.outer_inner() else {
                continue;
            };
            let step = outer - outer_apical;
            let is_ledge =
                step >= limits.ledge_step_mm && (inner - inner_apical).abs() < limits.ledge_step_mm;
            if is_ledge && greatest.is_none_or(|g| step > g.size_mm) {
                greatest = Some(Aberration {
                    kind: AberrationKind::Ledge,
                    from_end_mm: 0.5 * (apical.from_end_mm + coronal.from_end_mm),
                    size_mm: step,
                    side: apical.outer,
                    strong: false,
                });
            }
        }
    }
    greatest
}

/// Where the remaining wall is thinnest, if it is thin or gone. Of the
/// apical millimetre nothing is said: every root ends there.
fn thin_wall(profile: &Profile, limits: &AberrationLimits) -> Option<Aberration> {
    let sides = profile
        .points
        .iter()
        .filter(|p| p.from_end_mm >= 1.0)
        .flat_map(|p| {
            [
                (Side::Left, p.section.remaining_left, p.section.removed_left),
                (
                    Side::Right,
                    p.section.remaining_right,
                    p.section.removed_right,
                ),
            ]
            .map(|(side, remaining, removed)| (p.from_end_mm, side, remaining, removed))
        });
    let worked = sides.filter(|(_, _, remaining, removed)| remaining.is_finite() && *removed > 0.0);
    let (from_end_mm, side, remaining, _) = worked.min_by(|a, b| a.2.total_cmp(&b.2))?;
    let kind = if remaining <= 0.0 {
        AberrationKind::Perforation
    } else if remaining < limits.thin_wall_mm {
        AberrationKind::ThinWall
    } else {
        return None;
    };
    Some(Aberration {
        kind,
        from_end_mm,
        size_mm: remaining,
        side: Some(side),
        strong: remaining < limits.very_thin_wall_mm,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn profile(points: impl IntoIterator<Item = (f64, f64, f64, f64)>) -> Profile {
        let points: Vec<ProfilePoint> = points
            .into_iter()
            .map(|(s, width_before, outer, inner)| {
                let half = 0.5 * width_before;
                ProfilePoint {
                    from_end_mm: s,
                    outer: Some(Side::Left),
                    section: Section::new(
                        [-half, half],
                        [-half - outer, half + inner],
                        [f64::NAN; 2],
                    ),
                }
            })
            .collect();
        Profile {
            length_mm: 16.0,
            points,
        }
    }

    /// Widths before 0.15 + 0.02 s, after as given, two thirds of the
    /// removal outside (DERIVED).
    fn widths(after: &[f64]) -> Profile {
        profile(after.iter().enumerate().map(|(i, w)| {
            let s = i as f64;
            let before = 0.15 + 0.02 * s;
            (s, before, (w - before) * 2.0 / 3.0, (w - before) / 3.0)
        }))
    }

    #[test]
    fn zip_and_elbow_of_the_check_pattern() {
        let limits = AberrationLimits::default();
        let found = find_aberrations(&widths(&[0.45, 0.36, 0.30, 0.32, 0.40]), None, &limits);
        let kinds: Vec<_> = found.iter().map(|a| a.kind).collect();
        assert_eq!(kinds, [AberrationKind::Zip, AberrationKind::Elbow]);
        assert!((found[0].size_mm - 0.15).abs() < 1e-9 && found[0].side == Some(Side::Left));
        assert!((found[1].from_end_mm - 2.0).abs() < 1e-9);
        assert!((found[1].size_mm - 0.30).abs() < 1e-9);
        let even = find_aberrations(&widths(&[0.30, 0.34, 0.38, 0.42, 0.46]), None, &limits);
        assert_eq!(even, []);
    }

    #[test]
    fn a_ledge_is_a_step_outside_with_the_canal_short() {
        let limits = AberrationLimits::default();
        let stepped = |inner_step: f64| {
            profile((0..40).map(|i| {
                let s = 0.25 * f64::from(i);
                let step = if s >= 3.0 { 1.0 } else { 0.0 };
                (s, 0.2, 0.05 + 0.2 * step, 0.05 + inner_step * step)
            }))
        };
        let found = find_aberrations(&stepped(0.0), Some(2.8), &limits);
        let ledge = found
            .iter()
            .find(|a| a.kind == AberrationKind::Ledge)
            .unwrap();
        assert!((ledge.size_mm - 0.2).abs() < 1e-9 && (2.5..3.1).contains(&ledge.from_end_mm));
        let none = |profile: &Profile, short| {
            let found = find_aberrations(profile, short, &limits);
            !found.iter().any(|a| a.kind == AberrationKind::Ledge)
        };
        assert!(none(&stepped(0.0), Some(0.2)), "the canal is not short");
        assert!(none(&stepped(0.2), Some(2.8)), "both walls step");
    }

    #[test]
    fn walls_grow_thin_and_give_way() {
        let limits = AberrationLimits::default();
        for (remaining, kind, strong) in [
            (0.6, None, false),
            (0.4, Some(AberrationKind::ThinWall), false),
            (0.2, Some(AberrationKind::ThinWall), true),
            (-0.05, Some(AberrationKind::Perforation), true),
        ] {
            let point = ProfilePoint {
                from_end_mm: 6.0,
                outer: Some(Side::Left),
                section: Section::new([-0.2, 0.2], [-0.2, 0.5], [-2.0, 0.5 + remaining]),
            };
            let profile = Profile {
                length_mm: 12.0,
                points: vec![point],
            };
            let found = find_aberrations(&profile, None, &limits);
            assert_eq!(found.first().map(|a| a.kind), kind);
            if let Some(found) = found.first() {
                assert_eq!((found.side, found.strong), (Some(Side::Right), strong));
            }
        }
    }
}

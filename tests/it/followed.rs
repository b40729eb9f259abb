//! A followed line keeps what the film says of it, from which angles can be
//! read in place of the points of its trace.

use assert_cmd::Command;
use lengthfilm::assist::{FollowOptions, FollowedPath, follow};
use lengthfilm::case::edit::{Handle, move_to, suggest_trace};
use lengthfilm::case::{Canal, Case};
use lengthfilm::curvature::CurvatureQuantity;
use lengthfilm::measure::findings::CurvatureFindings;
use lengthfilm::measure::{FilmSummary, MeasureSettings, ReadFollowed, measure};
use lengthfilm::phantom::{CanalKind, Families, Phantom, PhantomSpec, render, truth};
use lengthfilm::progress::Progress;
use lengthfilm::units::FilmPoint;
use serde_json::Value;

/// A film of a look that the design never saw, with a file in the canal.
fn spec() -> PhantomSpec {
    let with_file = |seed: &u64| spec_of(*seed).file.is_some();
    let seed = (9_710_000..9_710_050).find(with_file);
    spec_of(seed.expect("three of four films show a file"))
}

/// The same, the file's tip as far short of the canal's end, mm.
fn spec_with_tip(short_mm: std::ops::Range<f64>) -> PhantomSpec {
    let is_so = |spec: &PhantomSpec| {
        let file = truth(spec).expect("a phantom that can be built").file;
        file.is_some_and(|file| short_mm.contains(&file.tip_to_foramen_mm))
    };
    let mut specs = (9_710_000..9_710_200).map(spec_of);
    specs.find(is_so).expect("tips lie anywhere")
}

fn spec_of(seed: u64) -> PhantomSpec {
    PhantomSpec::of_families(Families::Test, false, CanalKind::Single, seed)
}

fn followed(phantom: &Phantom) -> FollowedPath {
    let ends = [phantom.truth.orifice_px, phantom.truth.foramen_px];
    let options = FollowOptions {
        bright: false,
        mm_per_px: Some(phantom.truth.pixel_pitch_mm[0]),
    };
    follow(&phantom.film, &ends, &options, &Progress::unwatched()).expect("a path")
}

fn case_with(phantom: &Phantom, canal: Canal) -> Case {
    let mut case = Case::on_film("film.png");
    case.film.pixel_pitch_mm = Some(phantom.truth.pixel_pitch_mm);
    case.film.magnification = Some(1.05);
    case.canals.push(canal);
    case
}

fn curvature(phantom: &Phantom, case: &Case) -> CurvatureFindings {
    curvature_by(phantom, case, ReadFollowed::Everything)
}

fn curvature_by(phantom: &Phantom, case: &Case, read_followed: ReadFollowed) -> CurvatureFindings {
    let film = FilmSummary {
        width_px: phantom.truth.film_size_px[0],
        height_px: phantom.truth.film_size_px[1],
        ..FilmSummary::default()
    };
    let settings = MeasureSettings {
        draws: 1000,
        read_followed,
        ..MeasureSettings::default()
    };
    let mut found = measure(case, &film, "followed", &settings).expect("findings");
    found.canals.remove(0).curvature.expect("curvature")
}

/// Angles of a line that was followed are read from the film, and their
/// intervals hold the truth; a stretch that is dragged falls back to the hand.
#[test]
fn the_film_is_read_where_it_was_followed() {
    let phantom = render(&spec()).expect("a film");
    let canal = followed(&phantom).canal("MB");
    assert!(canal.followed.is_some());
    let case = case_with(&phantom, canal);
    let read = curvature(&phantom, &case);
    assert_eq!(read.angles_from, "film");
    let turn = read[CurvatureQuantity::NetTurn].expect("a turn");
    let truth: f64 = phantom
        .truth
        .curves
        .iter()
        .map(|c| c.projected_turn_deg)
        .sum();
    assert!((turn.value - truth).abs() <= turn.u95, "{turn:?} {truth}");

    let mut dragged = case.clone();
    let index = dragged.canals[0].trace_px.len() / 2;
    let at = dragged.canals[0].trace_px[index];
    let handle = Handle::TracePoint { canal: 0, index };
    move_to(&mut dragged, &handle, FilmPoint::new(at.x + 1.0, at.y));
    let readings = |case: &Case| case.canals[0].followed.as_ref().map_or(0, |f| f.u_px.len());
    assert!(readings(&dragged) < readings(&case));
    let mut suggested = case_with(&phantom, Canal::default());
    let path = followed(&phantom);
    suggest_trace(&mut suggested, 0, &path.points_px, path.followed(), None);
    assert_eq!(suggested.canals[0].followed, case.canals[0].followed);
}

/// Unasked, angles come from the film where the instrument goes on to the end of
/// the line, and are told more narrowly than by its trace.
#[test]
fn an_instrument_to_the_end_is_read() {
    let phantom = render(&spec_with_tip(-0.5..0.1)).expect("a film");
    let canal = followed(&phantom).canal("MB");
    let traced = Canal {
        followed: None,
        ..canal.clone()
    };
    let [read, traced] = [canal, traced].map(|canal| {
        let case = case_with(&phantom, canal);
        curvature_by(&phantom, &case, ReadFollowed::default())
    });
    assert_eq!(
        [&*read.angles_from, &*traced.angles_from],
        ["film", "trace"]
    );
    let words = [&read, &traced].map(CurvatureFindings::angles_from_words);
    assert_eq!(words, [Some("the line the film shows"), None]);
    let turn = |found: &CurvatureFindings| found[CurvatureQuantity::NetTurn].expect("a turn");
    let curves = phantom.truth.curves.iter();
    let truth: f64 = curves.map(|c| c.projected_turn_deg).sum();
    let (read, traced) = (turn(&read), turn(&traced));
    assert!((read.value - truth).abs() <= read.u95, "{read:?} {truth}");
    assert!(read.u95 < 0.7 * traced.u95, "{read:?} {traced:?}");
}

/// What the command `follow` prints as `canal` can be put into a case and
/// measured; the angles of `measure` come from its trace where the file ends short
/// of it.
#[test]
fn the_canal_of_follow_goes_into_a_case() {
    let folder = tempfile::tempdir().expect("a folder");
    let spec = spec_with_tip(2.0..4.0);
    let phantom = render(&spec).expect("a film");
    let png = "film.png";
    phantom.save_png(&folder.path().join(png)).expect("written");
    let run = |arguments: &[&str]| -> Value {
        let mut command = Command::cargo_bin("lengthfilm").expect("the program");
        let output = command.current_dir(folder.path()).args(arguments).output();
        let output = output.expect("it runs");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.success(), "{said}");
        serde_json::from_slice(&output.stdout).expect("JSON")
    };
    let ends = [phantom.truth.orifice_px, phantom.truth.foramen_px];
    let [from, to] = ends.map(|p| format!("{},{}", p.x, p.y));
    let found = run(&[
        "follow",
        png,
        "--through",
        &from,
        "--through",
        &to,
        "--mm-per-px",
        &phantom.truth.pixel_pitch_mm[0].to_string(),
        "--name",
        "MB",
        "--json",
    ]);
    assert_eq!(found["canal"]["trace_px"], found["points_px"]);
    assert!(
        found["canal"]["followed"]["points_px"]
            .as_array()
            .is_some_and(|p| p.len() > 8)
    );
    let case = serde_json::json!({
        "format": "lengthfilm-case",
        "version": 1,
        "film": {"path": png, "pixel_pitch_mm": phantom.truth.pixel_pitch_mm},
        "canals": [found["canal"]],
    });
    let path = folder.path().join("b.case.json");
    std::fs::write(&path, case.to_string()).expect("written");
    let measured = run(&["measure", "b.case.json", "--json"]);
    let curvature = &measured["canals"][0]["curvature"];
    assert_eq!(measured["canals"][0]["name"], "MB");
    assert_eq!(curvature["angles_from"], "trace");

    // Readings that do not fit together are refused in one line.
    let mut uneven = case;
    uneven["canals"][0]["followed"]["u_px"] = serde_json::json!([0.5]);
    std::fs::write(&path, uneven.to_string()).expect("written");
    let mut command = Command::cargo_bin("lengthfilm").expect("the program");
    let output = command
        .current_dir(folder.path())
        .args(["measure", "b.case.json", "--json"])
        .output()
        .expect("it runs");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(1));
    assert!(
        said.contains("followed.u_px") && said.trim().lines().count() == 1,
        "{said}"
    );
}

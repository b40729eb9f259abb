//! Grading: closed forms, refusals, statistics through the class, and the
//! command as a teacher meets it.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use assert_cmd::Command;
use lengthfilm::curvature::CurvatureQuantity;
use lengthfilm::film::{Film, Polarity};
use lengthfilm::grading::files::{ClassGrade, GradeError, grade_files};
use lengthfilm::grading::grade::Verdict;
use lengthfilm::grading::measures::Measure;
use lengthfilm::grading::rubric::Rubric;
use lengthfilm::progress::Progress;
use serde_json::{Value, json};

use crate::agreement::SHROUT_FLEISS;

/// A smooth picture, so that it looks the same at any size. `x` and `y` 0–1.
fn picture(x: f64, y: f64) -> f64 {
    0.5 + 0.2 * (7.0 * x).sin() + 0.2 * (11.0 * y + 3.0 * x).cos()
}

fn save_film(path: &Path, width: u32, height: u32, picture: impl Fn(f64, f64) -> f64) {
    let samples = (0..height).flat_map(|y| {
        let picture = &picture;
        (0..width).map(move |x| {
            let at = |i: u32, n: u32| (f64::from(i) + 0.5) / f64::from(n);
            (65_535.0 * picture(at(x, width), at(y, height))) as u16
        })
    });
    let samples = samples.collect();
    let film = Film::from_samples(width, height, 16, Polarity::HighIsOpaque, samples).unwrap();
    film.save_png16(path).unwrap();
}

/// A folder with a film of 100 × 200 px.
pub fn workspace() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    save_film(&folder.path().join("film.png"), 100, 200, picture);
    folder
}

/// A case at 0.1 mm/px.
pub fn case(canals: &[(&str, Vec<[f64; 2]>)]) -> Value {
    let canals: Vec<Value> = canals
        .iter()
        .map(|(name, points)| json!({"name": name, "trace_px": points}))
        .collect();
    json!({
        "format": "lengthfilm-case", "version": 1, "film": {"path": "film.png"},
        "scale": {"objects": [{"kind": "ruler", "true_length_mm": 10.0,
                               "points_px": [[90, 10], [90, 110]]}]},
        "canals": canals, "click_noise_mm": 0.02,
    })
}

/// A straight canal of 12 mm, `shift_mm` to the right of x = 50 px.
fn straight(shift_mm: f64) -> Value {
    let x = 50.0 + 10.0 * shift_mm;
    case(&[("MB", vec![[x, 20.0], [x, 60.0], [x, 100.0], [x, 140.0]])])
}

pub fn by(student: &str, mut case: Value) -> Value {
    case["student"] = json!({"name": student});
    case
}

pub fn write(folder: &Path, name: &str, case: &Value) -> PathBuf {
    let path = folder.join(format!("{name}.case.json"));
    fs::write(&path, case.to_string()).unwrap();
    path
}

pub fn graded(reference: &[PathBuf], traces: &[PathBuf], rubric: &Rubric) -> ClassGrade {
    let progress = Progress::unwatched();
    grade_files(reference, traces, rubric, &progress).unwrap()
}

#[track_caller]
fn near(value: Option<f64>, expected: f64) {
    let value = value.expect("a value");
    assert!((value - expected).abs() < 1e-6, "{value}, not {expected}");
}

/// Closed form: a parallel straight trace lies everywhere as far off as it
/// was shifted, and in the middle of the line's length nothing else differs.
#[test]
fn parallel_offset_is_every_distance() {
    let folder = workspace();
    let reference = write(folder.path(), "expert", &straight(0.0));
    let trace = write(folder.path(), "ann", &straight(0.3));
    let class = graded(&[reference], &[trace], &Rubric::default());
    let canal = &class.traces[0].canals[0];
    for measure in [
        Measure::MeanDistanceMm,
        Measure::Percentile95Mm,
        Measure::HausdorffMm,
        Measure::FrechetMm,
        Measure::ApexErrorMm,
    ] {
        near(canal.measures[&measure], 0.3);
    }
    near(canal.measures[&Measure::LengthErrorMm], 0.0);
    near(canal.measures[&Measure::WorkingEndToApexMm], 1.0);
    assert_eq!(canal.measures[&Measure::TipErrorMm], None);
    assert_eq!(class.traces[0].student, "ann");
    assert_eq!(
        canal.strays,
        [
            "between 0.0 and 12.0 mm from the apex the trace lies up to 0.3 mm to the right on the film"
        ]
    );
    // On the picture, rungs from the reference to the trace all along.
    assert_eq!(canal.picture.strays_px.len(), 1);
    for [from, to] in &canal.picture.strays_px[0] {
        near(Some(from.x), 50.0);
        near(Some(to.x), 53.0);
        near(Some(to.y), from.y);
    }
    // +x is on the left hand of one who walks down the film.
    let offsets = canal.deviations.offset_mm.as_ref().unwrap();
    assert!(offsets.iter().all(|o| (o.unwrap() + 0.3).abs() < 1e-6));
    // Built-in limits: 0.3 mm misses the mean distance of 0.2 mm only; seven
    // lines can be assessed, the file tip and the chart cannot.
    assert_eq!((canal.points, canal.points_possible), (6.0, 7.0));
    assert_eq!(canal.passed, Some(true));
}

/// Two experts 0.2 mm to either side: the mean is the middle line, the
/// standard deviation of ±0.2 is 0.2 √2.
#[test]
fn consensus_of_shifted_experts_is_the_middle() {
    let folder = workspace();
    let left = write(folder.path(), "left", &straight(-0.2));
    let right = write(folder.path(), "right", &straight(0.2));
    let trace = write(folder.path(), "ann", &straight(0.5));
    let class = graded(&[left, right], &[trace], &Rubric::default());
    near(
        class.traces[0].canals[0].measures[&Measure::MeanDistanceMm],
        0.5,
    );
    let canal = &class.reference.canals[0];
    assert_eq!(canal.experts, 2);
    for &spread in canal.spread_across_mm.as_ref().unwrap() {
        near(Some(spread), 0.2 * 2.0_f64.sqrt());
    }
    // The same on the picture: one standard deviation to either side of x = 50.
    assert_eq!(canal.picture.band_px.len(), 199);
    for sides in &canal.picture.band_px {
        let mut across = sides.map(|side| side.x);
        across.sort_by(f64::total_cmp);
        near(Some(across[0]), 50.0 - 2.0 * 2.0_f64.sqrt());
        near(Some(across[1]), 50.0 + 2.0 * 2.0_f64.sqrt());
    }
}

/// The click noise a student states, and a ruler said to stand in the canal,
/// change no grade.
#[test]
fn a_student_is_measured_as_the_reference_is() {
    let folder = workspace();
    let bent = |change: fn(&mut Value)| {
        let mut case = case(&[(
            "c",
            (0..9)
                .map(|i| {
                    let down = f64::from(i);
                    [
                        50.0 + 0.4 * (down - 4.0).max(0.0).powi(2),
                        40.0 + 12.0 * down,
                    ]
                })
                .collect(),
        )]);
        change(&mut case);
        case
    };
    let reference = write(folder.path(), "expert", &bent(|_| {}));
    let traces = [
        write(folder.path(), "ann", &bent(|_| {})),
        write(
            folder.path(),
            "ben",
            &bent(|case| {
                case["click_noise_mm"] = json!(1.0);
                case["scale"]["objects"][0]["canal"] = json!("c");
            }),
        ),
    ];
    let class = graded(&[reference], &traces, &Rubric::default());
    let of = |trace: usize| &class.traces[trace].canals[0].measures;
    assert!(of(0)[&Measure::Curvature(CurvatureQuantity::Schneider)].is_some());
    assert_eq!(of(0), of(1));
    assert_eq!(of(1)[&Measure::TipErrorMm], None);
}

/// File tips marked: the student's lies 0.24 mm across and 0.32 mm along from
/// the expert's, so 0.4 mm off; being 0.32 mm nearer to an apex that both mark
/// at the same place, its tip to apex is 0.32 mm shorter.
#[test]
fn marked_tips_are_compared_and_a_missing_mark_earns_nothing() {
    let folder = workspace();
    let marked = |tip: Option<[f64; 2]>| {
        let mut case = straight(0.0);
        case["canals"][0]["apex_px"] = json!([50.0, 140.0]);
        if let Some(tip) = tip {
            case["canals"][0]["file"] = json!({"set_length_mm": 11.0, "tip_px": tip});
        }
        case
    };
    let reference = write(folder.path(), "expert", &marked(Some([50.0, 125.0])));
    let traces = [
        write(folder.path(), "ann", &marked(Some([52.4, 128.2]))),
        write(folder.path(), "ben", &marked(None)),
    ];
    let class = graded(&[reference], &traces, &Rubric::default());
    let line = |trace: usize| {
        let lines = &class.traces[trace].canals[0].lines;
        let tip = lines.iter().find(|l| l.measure == Measure::TipErrorMm);
        tip.unwrap()
    };
    let ann = &class.traces[0].canals[0];
    near(ann.measures[&Measure::TipErrorMm], 0.4);
    near(ann.measures[&Measure::TipToApexErrorMm], -0.32);
    assert_eq!(line(0).verdict, Verdict::Met);
    // The reference has a file, so the chart is judged too: set length 11 mm, tip
    // to apex 1.5 and 1.18 mm, charted as 11.5 and 11 mm.
    assert_eq!((ann.points, ann.points_possible), (9.0, 9.0));

    let ben = &class.traces[1].canals[0];
    assert_eq!(ben.measures[&Measure::TipErrorMm], None);
    assert_eq!(ben.measures[&Measure::TipToApexErrorMm], None);
    assert_eq!(line(1).verdict, Verdict::Missing);
    assert!(line(1).sentence.contains("not marked in this trace"));
    // Tip, chart and where it would end are missing.
    assert_eq!((ben.points, ben.points_possible), (6.0, 9.0));
    // In the class a missing mark counts as a limit not met.
    let tips = class.class.lines.iter();
    let tip = tips
        .clone()
        .find(|l| l.measure == Measure::TipErrorMm)
        .unwrap();
    assert_eq!((tip.met, tip.not_met, tip.not_assessed), (1, 1, 0));
    let json = serde_json::to_value(&class.traces[1]).unwrap();
    assert_eq!(json["canals"][0]["lines"][4]["verdict"], "missing");
}

#[test]
fn a_trace_drawn_backwards_is_turned_round_and_said_so() {
    let folder = workspace();
    let reference = write(folder.path(), "expert", &straight(0.0));
    let mut case = straight(0.0);
    case["canals"][0]["trace_px"]
        .as_array_mut()
        .unwrap()
        .reverse();
    let trace = write(folder.path(), "ann", &case);
    let class = graded(&[reference], &[trace], &Rubric::default());
    let canal = &class.traces[0].canals[0];
    near(canal.measures[&Measure::FrechetMm], 0.0);
    assert!(canal.warnings[0].contains("taken the other way round"));
}

#[test]
fn without_a_scale_there_are_px_and_no_mm() {
    let folder = workspace();
    let unscaled = |shift: f64| {
        let mut case = straight(shift);
        case["scale"] = json!({"objects": []});
        case
    };
    let reference = write(folder.path(), "expert", &unscaled(0.0));
    // The student's own scale must not count.
    let trace = write(folder.path(), "ann", &straight(0.3));
    let class = graded(&[reference], &[trace], &Rubric::default());
    let canal = &class.traces[0].canals[0];
    near(canal.measures[&Measure::MeanDistancePx], 3.0);
    near(canal.curved_length_px, 120.0);
    for (measure, value) in &canal.measures {
        assert!(
            !measure.key().ends_with("_mm") || value.is_none(),
            "{measure:?}"
        );
    }
    assert!(canal.deviations.offset_mm.is_none() && canal.deviations.offset_px.is_some());
    assert!(class.warnings[0].text().contains("no scale"));
}

#[test]
fn another_film_and_garbage_are_listed_and_the_class_goes_on() {
    let folder = workspace();
    let path = folder.path();
    let reference = write(path, "expert", &straight(0.0));
    write(path, "good", &straight(0.1));
    save_film(&path.join("other.png"), 100, 200, |x, y| {
        picture(y, 1.0 - x)
    });
    let mut other = straight(0.0);
    other["film"]["path"] = json!("other.png");
    write(path, "other", &other);
    fs::write(path.join("torn.case.json"), "{").unwrap();
    write(
        path,
        "wrong-canals",
        &case(&[
            ("A", vec![[1., 1.], [1., 9.]]),
            ("B", vec![[5., 1.], [5., 9.]]),
        ]),
    );
    let class = graded(&[reference], &[path.to_owned()], &Rubric::default());
    assert_eq!(class.traces.len(), 1, "the reference itself is left out");
    let reasons: Vec<&str> = class.refused.iter().map(|r| r.reason.text()).collect();
    assert_eq!(reasons.len(), 3);
    assert!(reasons[0].contains("other.png") && reasons[0].contains("not the reference's film"));
    assert!(reasons[1].contains("torn.case.json") && reasons[1].contains("not valid JSON"));
    assert!(reasons[2].contains("no traced canal of the reference (MB)"));
}

/// The same picture at twice the size: points are halved.
#[test]
fn the_same_film_scaled_is_graded() {
    let folder = workspace();
    let path = folder.path();
    let reference = write(path, "expert", &straight(0.0));
    save_film(&path.join("large.png"), 200, 400, picture);
    let points = [
        [106.0, 40.0],
        [106.0, 120.0],
        [106.0, 200.0],
        [106.0, 280.0],
    ];
    let mut large = case(&[("MB", points.to_vec())]);
    large["film"]["path"] = json!("large.png");
    let trace = write(path, "ann", &large);
    let class = graded(&[reference], &[trace], &Rubric::default());
    assert_eq!(class.refused, []);
    near(
        class.traces[0].canals[0].measures[&Measure::HausdorffMm],
        0.3,
    );
    assert!(class.traces[0].warnings[0].contains("2.0000 times"));
}

/// The ratings of [`SHROUT_FLEISS`]: its targets are canals of that many mm, its
/// judges students.
fn judge(column: usize) -> Value {
    let canals: Vec<(String, Vec<[f64; 2]>)> = SHROUT_FLEISS
        .iter()
        .enumerate()
        .map(|(i, row)| {
            let x = 10.0 + 12.0 * i as f64;
            (
                format!("c{i}"),
                vec![[x, 20.0], [x, 20.0 + 10.0 * row[column]]],
            )
        })
        .collect();
    let named: Vec<_> = canals
        .iter()
        .map(|(n, p)| (n.as_str(), p.clone()))
        .collect();
    case(&named)
}

#[test]
fn lengths_of_a_class_give_the_published_correlations() {
    let folder = workspace();
    let reference = write(folder.path(), "expert", &judge(0));
    let mut traces: Vec<PathBuf> = (0..4)
        .map(|j| write(folder.path(), &format!("judge{j}"), &judge(j)))
        .collect();
    let class = graded(
        std::slice::from_ref(&reference),
        &traces,
        &Rubric::default(),
    );
    let icc = class.class.length_icc.known().unwrap();
    // Table 4 of the paper, six digits DERIVED.
    for (found, published) in [
        (icc.icc.icc_1_1.value, "0.165742"),
        (icc.icc.icc_2_1.value, "0.289764"),
        (icc.icc.icc_3_1.value, "0.714841"),
    ] {
        assert_eq!(format!("{found:.6}"), published);
    }
    // Students − reference by hand: judge 0 is the reference, the others'
    // differences sum to −(46 − 15) − (46 − 26) − (46 − 40) = −57 over 24.
    let bias = class.class.length_bland_altman.known().unwrap().bias;
    near(Some(bias), -57.0 / 24.0);

    let mut short = judge(3);
    short["canals"].as_array_mut().unwrap().pop();
    traces.push(write(folder.path(), "late", &short));
    let class = graded(&[reference], &traces, &Rubric::default());
    // The correlation stands on the four who traced every canal, and says so.
    let icc = class.class.length_icc.known().unwrap();
    assert_eq!(format!("{:.6}", icc.icc.icc_3_1.value), "0.714841");
    assert_eq!((icc.canals, icc.students, icc.students_left_out), (6, 4, 1));
    assert_eq!(class.traces[4].missing_canals, ["c5"]);
    // The untraced canal could have earned what it could for the others.
    assert_eq!(
        class.traces[4].points_possible,
        class.traces[0].points_possible
    );
    assert!(class.traces[4].points < class.traces[0].points);
    assert_eq!(class.traces[4].passed, Some(false));
}

/// One limit, four students who trace twice. By hand: met/met once, met/not
/// once, not/not twice; observed 3/4, expected ½·¼ + ½·¾ = ½, κ = ½.
#[test]
fn verdicts_of_those_who_traced_twice_give_kappa() {
    let folder = workspace();
    let reference = write(folder.path(), "expert", &straight(0.0));
    let mut traces = Vec::new();
    for (student, shifts) in [
        ("a", [0.1, 0.1]),
        ("b", [0.1, 0.4]),
        ("c", [0.4, 0.4]),
        ("d", [0.5, 0.3]),
    ] {
        for (round, shift) in shifts.into_iter().enumerate() {
            let case = by(student, straight(shift));
            traces.push(write(folder.path(), &format!("{student}{round}"), &case));
        }
    }
    let mut rubric = Rubric::default();
    rubric.lines.truncate(1);
    let class = graded(&[reference], &traces, &rubric).class;
    assert_eq!((class.students, class.traces), (4, 8));
    near(Some(class.verdict_kappa.known().unwrap().kappa), 0.5);
    near(
        Some(
            class
                .length_repeatability
                .known()
                .unwrap()
                .within_subject_sd,
        ),
        0.0,
    );
    // Outside the limit: b's second, both of c and of d.
    assert_eq!((class.lines[0].met, class.lines[0].not_met), (3, 5));
    assert!(class.most_got_wrong[0].contains("5 of 8"));
}

#[test]
fn progress_is_told_and_cancelling_stops() {
    let folder = workspace();
    let reference = [write(folder.path(), "expert", &straight(0.0))];
    let traces: Vec<PathBuf> = (0..5)
        .map(|i| write(folder.path(), &format!("s{i}"), &straight(0.1)))
        .collect();
    let calls = AtomicUsize::new(0);
    let count = |_: usize, total: usize| {
        assert_eq!(total, 5);
        calls.fetch_add(1, Ordering::Relaxed);
    };
    let cancel = AtomicBool::new(false);
    let progress = Progress::new(&cancel, &count);
    let rubric = Rubric::default();
    let class = grade_files(&reference, &traces, &rubric, &progress).unwrap();
    assert_eq!((class.traces.len(), class.cancelled), (5, false));
    assert_eq!(calls.load(Ordering::Relaxed), 5);
    let stop = |_: usize, _: usize| cancel.store(true, Ordering::Relaxed);
    let progress = Progress::new(&cancel, &stop);
    let class = grade_files(&reference, &traces, &rubric, &progress).unwrap();
    assert!(class.cancelled);
    // Already told to stop: the reference is not read either.
    let stopped = grade_files(&reference, &traces, &rubric, &progress);
    assert!(matches!(stopped, Err(GradeError::Stopped(_))));
}

fn grade_command(folder: &Path, arguments: &[&str]) -> std::process::Output {
    Command::cargo_bin("lengthfilm")
        .unwrap()
        .current_dir(folder)
        .args([
            "grade",
            "--reference",
            "expert.case.json",
            "--traces",
            "class",
        ])
        .args(arguments)
        .output()
        .unwrap()
}

#[test]
fn csv_holds_no_formulas_and_numbers_hide_names() {
    let folder = workspace();
    let class = folder.path().join("class");
    fs::create_dir(&class).unwrap();
    fs::copy(folder.path().join("film.png"), class.join("film.png")).unwrap();
    write(folder.path(), "expert", &straight(0.0));
    write(&class, "anna", &by("=HYPERLINK(1)", straight(0.1)));
    write(&class, "berta", &straight(0.1));
    let csv = grade_command(folder.path(), &["--csv"]);
    assert!(csv.status.success());
    let mut table = csv::Reader::from_reader(csv.stdout.as_slice());
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    assert_eq!(
        (rows.len(), &rows[0][0], &rows[1][0]),
        (2, "'=HYPERLINK(1)", "berta")
    );

    fs::write(class.join("carla.case.json"), "{").unwrap();
    let mut lost = by("dora", straight(0.0));
    lost["film"]["path"] = json!("film of dora.png");
    write(&class, "dora", &lost);
    let output = grade_command(folder.path(), &["--json", "--numbers-for-names"]);
    assert_eq!(output.status.code(), Some(1));
    let found: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(found["traces"][1]["student"], "2");
    assert_eq!(found["refused"].as_array().unwrap().len(), 2);
    let said = [output.stdout, output.stderr].concat();
    let said = String::from_utf8(said).unwrap();
    for name in ["anna", "berta", "carla", "dora", "HYPERLINK", "expert.case"] {
        assert!(!said.contains(name), "{name}: {said}");
    }
    assert_eq!(grade_command(folder.path(), &[]).status.code(), Some(2));
}

#[test]
fn a_rubric_file_is_read_and_faults_are_named() {
    let folder = workspace();
    let path = folder.path().join("rubric.json");
    let mut rubric = serde_json::to_value(Rubric::default()).unwrap();
    fs::write(&path, rubric.to_string()).unwrap();
    assert_eq!(Rubric::load(&path).unwrap(), Rubric::default());
    let fault = |rubric: &Value| {
        fs::write(&path, rubric.to_string()).unwrap();
        Rubric::load(&path).unwrap_err().to_string()
    };
    rubric["lines"][0]["at_least"] = json!(9.0);
    assert!(fault(&rubric).contains("line 1 (mean_distance_mm): at_least is above"));
    rubric["lines"][0]["measure"] = json!("beauty");
    assert!(fault(&rubric).contains("beauty"));
    rubric["lines"] = json!([]);
    assert!(fault(&rubric).contains("at least one line"));
}

/// `LENGTHFILM_BLESS=1` rewrites the schema.
#[test]
fn the_rubric_schema_in_docs_is_the_one_of_the_types() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/rubric.schema.json");
    let mut current = serde_json::to_string_pretty(&schemars::schema_for!(Rubric)).unwrap();
    current.push('\n');
    if std::env::var_os("LENGTHFILM_BLESS").is_some() {
        fs::write(&path, &current).unwrap();
    }
    assert_eq!(fs::read_to_string(&path).unwrap(), current);
}

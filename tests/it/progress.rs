//! Learning curves through the command.

use std::fs;

use assert_cmd::Command;
use serde_json::{Value, json};

fn run(table: &str, arguments: &[&str]) -> std::process::Output {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("results.csv");
    fs::write(&path, table).unwrap();
    Command::cargo_bin("lengthfilm")
        .unwrap()
        .arg("progress")
        .arg(&path)
        .args(arguments)
        .output()
        .unwrap()
}

fn progress(table: &str, arguments: &[&str]) -> Value {
    let output = run(table, &[arguments, &["--json"]].concat());
    let errors = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success(), "{errors}");
    serde_json::from_slice(&output.stdout).unwrap()
}

/// Failures at the stated cases, in an order that the file does not have.
fn table(student: &str, failures: &[usize], cases: usize) -> String {
    let rows = (1..=cases).rev().map(|case| {
        let passed = u8::from(!failures.contains(&case));
        format!("{student},{case},{passed}\n")
    });
    rows.collect()
}

#[track_caller]
fn near(value: &Value, expected: f64, within: f64) {
    let value = value.as_f64().expect("a number");
    assert!(
        (value - expected).abs() <= within,
        "{value}, not {expected}"
    );
}

/// The weights, the worked series and the exact chance of a false pass:
/// DERIVED from the definition (Biau & Porcher 2010) and an independent
/// propagation of the chart's states.
#[test]
fn curves_weights_and_false_passes() {
    let text = format!(
        "student,order,passed\n{}{}",
        table("A", &[1, 3, 7], 15),
        table("B", &[1, 2, 3, 4, 5, 6], 15)
    );
    let found = progress(&text, &[]);
    near(&found["weights"]["pass"], 0.251_314, 5e-7);
    near(&found["weights"]["fail"], -1.098_612, 5e-7);
    let a = &found["students"][0];
    assert_eq!(
        (&a["student"], &a["competent_at"]),
        (&json!("A"), &json!(12))
    );
    near(&a["score"][11], 1.2566, 5e-5);
    assert_eq!(
        found["students"][1]["competent_at"],
        json!(11),
        "five passes in a row"
    );
    assert_eq!(found["false_pass"]["cases"], json!(30));
    near(&found["false_pass"]["probability"], 0.87533, 6e-6);
    near(&found["true_pass"]["probability"], 0.99963, 6e-6);
    let warned = found["warnings"][0]["text"].as_str().unwrap();
    assert!(warned.contains("with a probability of 87.5 %"), "{warned}");

    let strict = progress(&text, &["--barrier", "2", "--cases", "50"]);
    assert_eq!(strict["students"][0]["competent_at"], json!(15));
    near(&strict["false_pass"]["probability"], 0.62291, 6e-6);
    let rates = progress(&text, &["--adequate", "0.05", "--inadequate", "0.2"]);
    near(&rates["weights"]["pass"], 0.171_850, 5e-7);
    near(&rates["weights"]["fail"], -1.386_294, 5e-7);
}

/// A worked series of signed errors (DERIVED): case 10 at a barrier of 5.
#[test]
fn signed_errors_have_charts_of_their_own() {
    let errors = [
        0.62, -0.10, 0.48, 0.35, 0.05, -0.22, 0.30, -0.05, 0.12, -0.31, 0.08, 0.02,
    ];
    let rows = errors.iter().enumerate();
    let rows: String = rows
        .map(|(i, e)| format!("A;{};{e}\n", i + 1).replace('.', ","))
        .collect();
    let text = format!("student;order;error_mm\n{rows}");
    let found = progress(&text, &["--limit-mm", "0.5", "--sd-mm", "0.25"]);
    let a = &found["students"][0];
    assert_eq!(a["signed_competent_at"], json!(10));
    near(&a["signed"]["upper"][9], 6.52, 1e-9);
    near(&a["signed"]["lower"][9], 14.96, 1e-9);
    // 0.62 alone is beyond the limit: ten passes from case 2, five are enough.
    assert_eq!(a["competent_at"], json!(6));
    assert_eq!(a["passed"][0], json!(false));
    let wrong = found["signed"]["false_pass"]["probability"]
        .as_f64()
        .unwrap();
    assert!(wrong > 0.0 && wrong < 0.05, "{wrong}");
    // Without --sd-mm the table's own is taken and said so.
    let own = progress(&text, &["--limit-mm", "0.5"]);
    assert_eq!(own["signed"]["sd_from_table"], json!(true));
    let missing = run(&text, &[]);
    assert_eq!(missing.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&missing.stderr).contains("--limit-mm"));
}

/// Ten differences of the sleep data of Student 1908 (Biometrika 6:1–25; as
/// distributed with R): mean 1.58, 95 % CI 0.70 to 2.46, p 0.00283 paired;
/// Welch −0.2054832 to 3.3654832, p 0.07939 (R 4.2 `t.test`, MEM-H).
#[test]
fn two_phases_are_compared_student_by_student() {
    let first = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
    let second = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
    let rows = |prefix: [&str; 2]| -> String {
        let one = |group: usize, values: [f64; 10]| {
            let prefix = prefix[group];
            let rows = values.into_iter().enumerate();
            rows.map(move |(i, e)| format!("{prefix}{i},1,{e},g{group}\n"))
                .collect::<String>()
        };
        format!(
            "student,order,error_mm,group\n{}{}",
            one(0, first),
            one(1, second)
        )
    };
    let paired = progress(&rows(["s", "s"]), &["--limit-mm", "9"]);
    let found = &paired["comparison"];
    assert_eq!(
        (&found["design"], &found["students"]),
        (&json!("paired"), &json!([10, 10]))
    );
    near(&found["error_mm"]["difference"], 1.58, 1e-9);
    near(&found["error_mm"]["ci95"][0], 0.7001142, 5e-7);
    near(&found["error_mm"]["ci95"][1], 2.4598858, 5e-7);
    near(&found["error_mm"]["p"], 0.002833, 5e-7);
    let apart = progress(&rows(["a", "b"]), &["--limit-mm", "9"]);
    let found = &apart["comparison"];
    assert_eq!(found["design"], json!("independent"));
    near(&found["error_mm"]["ci95"][0], -0.2054832, 5e-7);
    near(&found["error_mm"]["ci95"][1], 3.3654832, 5e-7);
    near(&found["error_mm"]["p"], 0.079394, 5e-7);
}

#[test]
fn text_says_the_chance_with_the_verdict_and_bad_input_is_refused() {
    let text = format!("student,order,passed\n{}", table("A", &[], 6));
    let output = run(&text, &[]);
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(said.starts_with("A: 6 of 6 passed"), "{said}");
    assert!(said.contains("competence shown at case 5"), "{said}");
    assert!(
        said.contains(
            "one who fails 30 % (inadequate) is called competent with a probability of 87.5 %"
        ),
        "{said}"
    );
    for (arguments, reason) in [
        (&["--adequate", "0.4"][..], "must lie below"),
        (&["--barrier", "0"], "barrier must be a number above 0"),
        (&["--cases", "0"], "planned number of cases"),
        (&["--limit-mm", "-1"], "--limit-mm must be above 0"),
    ] {
        let output = run(&text, arguments);
        assert_eq!(output.status.code(), Some(1));
        let errors = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(
            errors.contains(reason) && errors.lines().count() == 1,
            "{errors}"
        );
    }
}

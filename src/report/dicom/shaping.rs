//! What shaping did, as a structured report on the two films it was seen on: a
//! group per canal, and one per level below it.

use super::codes::Code;
use super::header::Header;
use super::measurements::Measurement;
use super::structured_report::{self, comment, finding_site, number, warnings_and_cautions};
use super::tree::{FilmInstance, Item};
use crate::film::dicom::write::derived_uid;
use crate::report::measured_case::MeasuredCase;
use crate::shaping::{CanalShaping, LevelFinding, ShapingFindings, method_name};
use crate::units::Quantity;

/// The file. It refers to both films by their own UIDs and stands in the study
/// of the first, with its identity.
///
/// # Errors
/// One line: a film has no DICOM instance to refer to, or what the DICOM
/// library refuses.
pub fn bytes(films: [&MeasuredCase; 2], found: &ShapingFindings) -> Result<Vec<u8>, String> {
    let headers = films.map(|film| Header::new(film, true));
    let [Some(before), Some(after)] =
        [0, 1].map(|place| headers[place].film_instance(films[place]))
    else {
        return Err(
            "a DICOM record refers to both films, and one of them is no DICOM film; save a PDF or \
             a table instead"
                .to_owned(),
        );
    };
    let instances = [before, after];
    let content = structured_report::root(content(films, found, &instances[0]), &instances);
    let content = content.with([remarks(films, found)]);
    structured_report::finished(content, &headers[0], &instances)
}

fn content(
    films: [&MeasuredCase; 2],
    found: &ShapingFindings,
    first: &FilmInstance,
) -> impl Iterator<Item = Item> {
    let groups = found.canals.iter().flat_map(move |canal| {
        let whole = group(films, &canal.name, whole_canal(canal), first);
        let levels = canal.levels.iter().map(move |level| {
            let identifier = format!("{}, {:.2} mm from the end", canal.name, level.from_end_mm);
            group(films, &identifier, of_level(level), first)
        });
        std::iter::once(whole).chain(levels)
    });
    groups.collect::<Vec<Item>>().into_iter()
}

fn group(
    films: [&MeasuredCase; 2],
    identifier: &str,
    measurements: Vec<Measurement>,
    first: &FilmInstance,
) -> Item {
    let [before, after] = films.map(|film| film.film.sha256.as_bytes());
    let tracking = derived_uid(&[b"lengthfilm shaping", before, after, identifier.as_bytes()]);
    structured_report::group(identifier, &tracking)
        .with(finding_site(films[0]))
        .with(measurements.iter().filter_map(|one| number(one, first)))
}

fn mm() -> Code {
    Code::ucum("mm", "millimeter")
}

fn degree() -> Code {
    Code::ucum("deg", "degree")
}

fn angle() -> Code {
    Code::sct("1483009", "Angle")
}

fn measured(concept: Code, method: Code, unit: Code, found: Quantity) -> Option<Measurement> {
    (found.value.is_finite() && found.u95.is_finite()).then(|| Measurement {
        concept,
        method,
        unit,
        value: found.value,
        reach: Some([found.u95; 2]),
        along: Vec::new(),
    })
}

/// Straightening and change of length.
fn whole_canal(canal: &CanalShaping) -> Vec<Measurement> {
    let straightening = canal.straightening_deg.iter().filter_map(|(key, found)| {
        let code = format!("STR_{}", key.to_uppercase());
        let meaning = format!("Straightening by shaping, {}", method_name(key));
        let method = Code::own(&code[..code.len().min(16)], &meaning);
        measured(angle(), method, degree(), (*found)?)
    });
    let curves = canal.curves.iter().zip(1..).filter_map(|(curve, n)| {
        let method = Code::own(
            &format!("STR_CURVE{n}"),
            &format!("Straightening by shaping, curve {n} from the end"),
        );
        measured(angle(), method, degree(), curve.straightening_deg?)
    });
    let length = canal.length_change_mm.and_then(|found| {
        let method = Code::own("LENGTH_CHANGE", "Length after less length before shaping");
        measured(Code::sct("410668003", "Length"), method, mm(), found)
    });
    straightening.chain(curves).chain(length).collect()
}

/// Widths, removal, transport and centring at one level.
fn of_level(level: &LevelFinding) -> Vec<Measurement> {
    let distance = || Code::dcm("121206", "Distance");
    let place = Measurement {
        concept: distance(),
        method: Code::own("LEVEL", "Level, along the centre line from the end"),
        unit: mm(),
        value: level.from_end_mm,
        reach: None,
        along: Vec::new(),
    };
    let lengths = [
        ("WIDTH_BEFORE", "Canal width before", level.width_before_mm),
        ("WIDTH_AFTER", "Canal width after", level.width_after_mm),
        ("REMOVED_LEFT", "Removed, left wall", level.removed_left_mm),
        (
            "REMOVED_RIGHT",
            "Removed, right wall",
            level.removed_right_mm,
        ),
        (
            "TRANSPORT",
            "Removed left less removed right",
            level.transport_mm,
        ),
        (
            "REMAINING_LEFT",
            "Remaining wall, left",
            level.remaining_left_mm,
        ),
        (
            "REMAINING_RIGHT",
            "Remaining wall, right",
            level.remaining_right_mm,
        ),
    ];
    let lengths = lengths.into_iter().filter_map(|(code, meaning, found)| {
        measured(distance(), Code::own(code, meaning), mm(), found?)
    });
    let centring = level.centring_ratio.map(|value| Measurement {
        concept: Code::own("CENTRING", "Centring ratio"),
        method: Code::own("CENTRING_SM_GR", "Smaller removal over the greater"),
        unit: Code::ucum("1", "no units"),
        value,
        reach: level.centring_ratio_u95.map(|u95| [u95; 2]),
        along: Vec::new(),
    });
    [place].into_iter().chain(lengths).chain(centring).collect()
}

/// Findings by rules, warnings, cautions, and the cases it all comes from.
fn remarks(films: [&MeasuredCase; 2], found: &ShapingFindings) -> Item {
    let findings = found.canals.iter().flat_map(|canal| {
        let code = Code::own("ABERRATION", "Finding by a rule of our own");
        let texts = canal.findings.iter();
        texts.map(move |finding| comment(&code, &format!("{}: {}", canal.name, finding.text)))
    });
    let cases = films.map(|film| {
        let code = Code::own("CASE_SHA256", "SHA-256 of the case file");
        comment(&code, &film.provenance.case_sha256)
    });
    let registration = format!(
        "films laid over each other by {} marks; error at the first canal's end {} mm",
        found.registration.marks.len(),
        found
            .registration
            .error_at_apex_mm
            .map_or("not known".to_owned(), |error| format!("{error:.3}"))
    );
    let code = Code::own("REGISTRATION", "How the films lie over each other");
    Item::container(&Code::umls("C0034375", "Qualitative Evaluations"), None)
        .with([comment(&code, &registration)])
        .with(cases)
        .with(findings)
        .with(warnings_and_cautions(&found.warnings))
}

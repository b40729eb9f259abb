//! The Comprehensive SR (PS3.3 A.35.3): TID 1500 with one TID 1501 group per
//! canal.

use std::collections::BTreeMap;

use dicom_core::VR;
use dicom_dictionary_std::{tags, uids};
use dicom_object::InMemDicomObject;

use super::codes::{Code, OWN_SCHEME, PUBLIC_SCHEMES, tooth};
use super::elements::{sequence, text};
use super::header::Header;
use super::in_space;
use super::measurements::{self, Measurement};
use super::part_10;
use super::tree::{FilmInstance, Item, Relation};
use crate::cautions::CAUTIONS;
use crate::film::dicom::write::derived_uid;
use crate::measure::findings::{CanalFindings, Warning};
use crate::report::measured_case::MeasuredCase;
use crate::statistics::Z95;
use crate::tooth::ToothNumber;

/// The file.
pub fn bytes(
    measured: &MeasuredCase,
    header: &Header,
    film: &FilmInstance,
) -> Result<Vec<u8>, String> {
    finished(content(measured, film), header, std::slice::from_ref(film))
}

/// The file of a finished content tree, which refers to `films`.
pub(super) fn finished(
    content: Item,
    header: &Header,
    films: &[FilmInstance],
) -> Result<Vec<u8>, String> {
    let key = header.export_key.as_bytes();
    let mut object = content.into_object();
    header.put(
        &mut object,
        "SR",
        &derived_uid(&[b"lengthfilm report series", key]),
    );
    for (tag, vr, value) in [
        (tags::SERIES_NUMBER, VR::IS, "99"),
        (tags::SERIES_DESCRIPTION, VR::LO, "Root canal measurements"),
        (tags::COMPLETION_FLAG, VR::CS, "COMPLETE"),
        (tags::VERIFICATION_FLAG, VR::CS, "UNVERIFIED"),
    ] {
        object.put(text(tag, vr, value));
    }
    for tag in [
        tags::REFERENCED_PERFORMED_PROCEDURE_STEP_SEQUENCE,
        tags::PERFORMED_PROCEDURE_CODE_SEQUENCE,
    ] {
        object.put(sequence(tag, Vec::new()));
    }
    object.put(evidence(films));
    object.put(sequence(
        tags::CODING_SCHEME_IDENTIFICATION_SEQUENCE,
        schemes(),
    ));
    let instance = derived_uid(&[b"lengthfilm report", key]);
    part_10::bytes(object, uids::COMPREHENSIVE_SR_STORAGE, &instance)
}

/// Every instance the report refers to (PS3.3 C.17.2).
fn evidence(films: &[FilmInstance]) -> dicom_core::DataElement<InMemDicomObject> {
    let mut studies: BTreeMap<&str, BTreeMap<&str, Vec<InMemDicomObject>>> = BTreeMap::new();
    for film in films {
        let study = studies.entry(&film.study_instance_uid).or_default();
        let series = study.entry(&film.series_instance_uid).or_default();
        series.push(film.reference());
    }
    let studies = studies.into_iter().map(|(study_uid, all_series)| {
        let all_series = all_series.into_iter().map(|(series_uid, instances)| {
            InMemDicomObject::from_element_iter([
                text(tags::SERIES_INSTANCE_UID, VR::UI, series_uid),
                sequence(tags::REFERENCED_SOP_SEQUENCE, instances),
            ])
        });
        InMemDicomObject::from_element_iter([
            text(tags::STUDY_INSTANCE_UID, VR::UI, study_uid),
            sequence(tags::REFERENCED_SERIES_SEQUENCE, all_series.collect()),
        ])
    });
    sequence(
        tags::CURRENT_REQUESTED_PROCEDURE_EVIDENCE_SEQUENCE,
        studies.collect(),
    )
}

/// The coding schemes in use, our own among them (PS3.3 C.12.1.1.2).
fn schemes() -> Vec<InMemDicomObject> {
    let own_uid = derived_uid(&[b"lengthfilm coding scheme"]);
    let own = (OWN_SCHEME, own_uid.as_str(), "Lengthfilm measuring methods");
    PUBLIC_SCHEMES
        .into_iter()
        .chain([own])
        .map(|(designator, uid, name)| {
            let mut scheme = InMemDicomObject::from_element_iter([
                text(tags::CODING_SCHEME_DESIGNATOR, VR::SH, designator),
                text(tags::CODING_SCHEME_UID, VR::UI, uid),
                text(tags::CODING_SCHEME_NAME, VR::ST, name),
            ]);
            if designator == OWN_SCHEME {
                scheme.put(text(
                    tags::CODING_SCHEME_VERSION,
                    VR::SH,
                    env!("CARGO_PKG_VERSION"),
                ));
                scheme.put(text(
                    tags::CODING_SCHEME_RESPONSIBLE_ORGANIZATION,
                    VR::ST,
                    "Lengthfilm project",
                ));
            }
            scheme
        })
        .collect()
}

fn content(measured: &MeasuredCase, film: &FilmInstance) -> Item {
    let canals = measured.case.canals.iter().zip(&measured.findings.canals);
    let groups = canals.map(|(canal, found)| {
        let tooth_fdi = measured.provenance.tooth_fdi.as_deref();
        let identifier = match tooth_fdi {
            Some(tooth) => format!("{tooth} {}", canal.name),
            None => canal.name.clone(),
        };
        let tracking = derived_uid(&[
            b"lengthfilm canal",
            measured.film.sha256.as_bytes(),
            identifier.as_bytes(),
        ]);
        let in_space = measured.in_space(&canal.name);
        let space = in_space.map_or_else(Vec::new, in_space::measurements);
        group(&identifier, &tracking)
            .with(finding_site(measured))
            .with(
                measurements::of(canal, found)
                    .iter()
                    .chain(&space)
                    .filter_map(|measurement| number(measurement, film)),
            )
            .with(qualities(found))
    });
    let groups = groups.chain(scale_group(measured, film));
    root(groups, std::slice::from_ref(film)).with([remarks(measured)])
}

/// The root with everything but the remarks: `groups` of measurements on
/// `films`.
pub(super) fn root(groups: impl IntoIterator<Item = Item>, films: &[FilmInstance]) -> Item {
    let images = films
        .iter()
        .map(|film| Item::image(Relation::Contains, film));
    Item::root(&Code::dcm("126000", "Imaging Measurement Report"), "1500")
        .with(observation_context())
        .with([
            Item::code(
                Relation::HasConceptModifier,
                &Code::dcm("121058", "Procedure reported"),
                &Code::sct("1290849002", "Dental radiography"),
            ),
            Item::container(&Code::dcm("111028", "Image Library"), Some("1600")).with([
                Item::container(&Code::dcm("126200", "Image Library Group"), None).with(images),
            ]),
            Item::container(&Code::dcm("126010", "Imaging Measurements"), None).with(groups),
        ])
}

/// A group of measurements (TID 1501) that is followed under this name.
pub(super) fn group(identifier: &str, tracking_uid: &str) -> Item {
    Item::container(&Code::dcm("125007", "Measurement Group"), Some("1501")).with([
        Item::text(
            Relation::HasObservationContext,
            &Code::dcm("112039", "Tracking Identifier"),
            identifier,
        ),
        Item::uid(
            Relation::HasObservationContext,
            &Code::dcm("112040", "Tracking Unique Identifier"),
            tracking_uid,
        ),
    ])
}

/// A text among the remarks.
pub(super) fn comment(code: &Code, text: &str) -> Item {
    Item::text(Relation::Contains, code, text)
}

/// Language and observer (TID 1204, TID 1001): the program, no person.
fn observation_context() -> [Item; 5] {
    let device = derived_uid(&[b"lengthfilm implementation"]);
    [
        Item::code(
            Relation::HasConceptModifier,
            &Code::dcm("121049", "Language of Content Item and Descendants"),
            &Code::language("en", "English"),
        ),
        Item::code(
            Relation::HasObservationContext,
            &Code::dcm("121005", "Observer Type"),
            &Code::dcm("121007", "Device"),
        ),
        Item::uid(
            Relation::HasObservationContext,
            &Code::dcm("121012", "Device Observer UID"),
            &device,
        ),
        Item::text(
            Relation::HasObservationContext,
            &Code::dcm("121013", "Device Observer Name"),
            "Lengthfilm",
        ),
        Item::text(
            Relation::HasObservationContext,
            &Code::dcm("121015", "Device Observer Model Name"),
            concat!("Lengthfilm ", env!("CARGO_PKG_VERSION")),
        ),
    ]
}

pub(super) fn finding_site(measured: &MeasuredCase) -> Option<Item> {
    let tooth_entered = measured.case.tooth.as_ref()?;
    let number = ToothNumber::parse(tooth_entered.notation, &tooth_entered.number).ok()?;
    Some(Item::code(
        Relation::HasConceptModifier,
        &Code::sct("363698007", "Finding Site"),
        &tooth(number)?,
    ))
}

/// A measurement (TID 300) with its method, its uncertainty (TID 310) and the
/// line it was taken along (TID 320).
pub(super) fn number(measurement: &Measurement, film: &FilmInstance) -> Option<Item> {
    let item = Item::number(
        Relation::Contains,
        &measurement.concept,
        measurement.value,
        &measurement.unit,
    )?;
    let method = Item::code(
        Relation::HasConceptModifier,
        &Code::sct("370129005", "Measurement Method"),
        &measurement.method,
    );
    let bounds = measurement.reach.into_iter().flat_map(|[below, above]| {
        [
            (
                "371886008",
                "+, range of upper measurement uncertainty",
                above,
            ),
            (
                "371885007",
                "-, range of lower measurement uncertainty",
                below,
            ),
        ]
        .into_iter()
        .filter_map(move |(value, meaning, reach)| {
            Item::number(
                Relation::HasProperties,
                &Code::sct(value, meaning),
                reach,
                &measurement.unit,
            )
        })
    });
    let line = (measurement.along.len() >= 2).then(|| {
        Item::polyline(
            &Code::dcm("121112", "Source of Measurement"),
            &measurement.along,
            film,
        )
    });
    Some(item.with([method]).with(bounds).with(line))
}

/// What a canal is called rather than measured.
fn qualities(found: &CanalFindings) -> Vec<Item> {
    let Some(curvature) = &found.curvature else {
        return Vec::new();
    };
    let shape = if curvature.s_shaped {
        Code::sct("373066001", "Yes")
    } else {
        Code::sct("373067005", "No")
    };
    let mut items = vec![Item::code(
        Relation::Contains,
        &Code::own("S_SHAPED", "S-shaped canal"),
        &shape,
    )];
    if let Some(class) = &curvature.difficulty.class {
        let value = format!("DIFFICULTY_{}", class.to_uppercase());
        items.push(Item::code(
            Relation::Contains,
            &Code::own("DIFFICULTY", "Case difficulty, canal-curvature row"),
            &Code::own(&value[..value.len().min(16)], class),
        ));
    }
    items
}

/// The scale all lengths rest on, as a group of its own.
fn scale_group(measured: &MeasuredCase, film: &FilmInstance) -> Option<Item> {
    let scale = &measured.findings.scale;
    let mm_per_px = scale.mm_per_px?;
    let method = |item: Item| {
        item.with([Item::code(
            Relation::HasConceptModifier,
            &Code::sct("370129005", "Measurement Method"),
            &Code::own("SCALE_SOURCE", &scale_source_meaning(&scale.source)),
        )])
    };
    let pitch = Measurement {
        concept: Code::own("MM_PER_PX", "True mm in the tooth's plane per pixel"),
        method: Code::own("SCALE_SOURCE", &scale_source_meaning(&scale.source)),
        unit: Code::ucum("mm/{pixel}", "mm/pixel"),
        value: mm_per_px,
        reach: scale.u_mm_per_px.map(|u| [Z95 * u; 2]),
        along: Vec::new(),
    };
    let magnification = scale.magnification.and_then(|m| {
        Item::number(
            Relation::Contains,
            &Code::own("MAGNIFICATION", "Apparent mm at the detector / true mm"),
            m,
            &Code::ucum("1", "no units"),
        )
        .map(method)
    });
    let tracking = derived_uid(&[b"lengthfilm scale", measured.film.sha256.as_bytes()]);
    Some(
        group("scale", &tracking)
            .with(number(&pitch, film))
            .with(magnification),
    )
}

/// At most 64 characters, as a code meaning may have.
fn scale_source_meaning(source: &str) -> String {
    format!("Scale from: {source}").chars().take(64).collect()
}

/// Warnings, cautions, software and case: what must travel with the numbers.
fn remarks(measured: &MeasuredCase) -> Item {
    let trace = [
        comment(
            &Code::own("SCALE", "Source of the scale"),
            &measured.findings.scale.description,
        ),
        comment(
            &Code::own("CASE_SHA256", "SHA-256 of the case file"),
            &measured.provenance.case_sha256,
        ),
    ];
    Item::container(&Code::umls("C0034375", "Qualitative Evaluations"), None)
        .with(trace)
        .with(warnings_and_cautions(&measured.findings.warnings))
}

/// What is said of these numbers, and of all numbers of their kind.
pub(super) fn warnings_and_cautions(warnings: &[Warning]) -> impl Iterator<Item = Item> {
    let warnings = warnings.iter().map(|warning| {
        let text = match &warning.canal {
            Some(canal) => format!("{canal}: {}", warning.text),
            None => warning.text.clone(),
        };
        comment(&Code::own("WARNING", "Warning"), &text)
    });
    let cautions = CAUTIONS
        .iter()
        .map(|caution| comment(&Code::own("CAUTION", "Caution"), caution.text));
    warnings.chain(cautions)
}

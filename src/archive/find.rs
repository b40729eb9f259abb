//! Query by study root (PS3.4 C.4.1, C.6.2): studies, and the films of one.

use std::fmt;

use dicom_core::{Tag, VR};
use dicom_dictionary_std::{tags, uids};
use dicom_object::InMemDicomObject;
use serde::Serialize;

use super::dimse::{self, plain_syntaxes, string, uid};
use super::fault::{ArchiveError, Fault};
use super::link::{Link, Wanted};
use super::settings::Settings;
use super::watch::Watch;

/// Most bytes of one answer: attributes of one study.
const MOST_ANSWER_BYTES: u64 = 1 << 20;

const CLASS: &str = uids::STUDY_ROOT_QUERY_RETRIEVE_INFORMATION_MODEL_FIND;

/// What studies are looked for; an empty field matches all. Text may have the
/// wildcards `*` and `?` (PS3.4 C.2.2.2.4).
#[derive(Clone, Default, PartialEq, Eq)]
pub struct StudyQuery {
    /// Patient's Name, `Family^Given`.
    pub patient_name: String,
    pub patient_id: String,
    /// A day or a range: `20260314`, `20260301-20260331`, `-20260331`.
    pub study_date: String,
    /// Any of these (IO, DX, CR, PX …).
    pub modalities: Vec<String>,
    pub accession_number: String,
    pub study_instance_uid: String,
}

/// One study of the list. Its debug form withholds whose it is.
#[derive(Clone, Default, PartialEq, Eq, Serialize)]
pub struct StudyEntry {
    pub study_instance_uid: String,
    pub patient_name: Option<String>,
    pub patient_id: Option<String>,
    pub patient_birth_date: Option<String>,
    pub patient_sex: Option<String>,
    /// `2026-03-14`.
    pub study_date: Option<String>,
    pub study_time: Option<String>,
    pub accession_number: Option<String>,
    pub study_description: Option<String>,
    /// `null` where the archive does not tell.
    pub modalities: Option<Vec<String>>,
    /// Objects of the study, where the archive tells.
    pub objects: Option<u32>,
    #[serde(skip)]
    pub(super) study_id: Option<String>,
    #[serde(skip)]
    pub(super) referring_physician: Option<String>,
}

impl fmt::Debug for StudyEntry {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("StudyEntry(withheld)")
    }
}

/// One film of a study.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct FilmEntry {
    pub study_instance_uid: String,
    pub series_instance_uid: String,
    pub sop_instance_uid: String,
    pub sop_class_uid: Option<String>,
    pub modality: Option<String>,
    /// Of the series or picture: `2026-03-14`.
    pub date: Option<String>,
    pub instance_number: Option<String>,
}

/// How a list ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FindEnd {
    /// All that match were given.
    Complete,
    /// The receiver had enough; there may be more.
    Enough,
}

/// Gives every study that matches to `each` as it arrives, until that answers
/// `false`.
///
/// # Errors
/// [`ArchiveError`]; what was given before stands.
pub fn find_studies(
    settings: &Settings,
    query: &StudyQuery,
    each: &mut dyn FnMut(StudyEntry) -> bool,
    watch: &Watch,
) -> Result<FindEnd, ArchiveError> {
    // Several modalities are no value that PS3.4 matches: the list is sifted.
    let one_modality = match query.modalities.as_slice() {
        [one] => one.as_str(),
        _ => "",
    };
    let keys = [
        (tags::STUDY_DATE, VR::DA, query.study_date.as_str()),
        (tags::STUDY_TIME, VR::TM, ""),
        (tags::ACCESSION_NUMBER, VR::SH, &query.accession_number),
        (tags::QUERY_RETRIEVE_LEVEL, VR::CS, "STUDY"),
        (tags::MODALITIES_IN_STUDY, VR::CS, one_modality),
        (tags::REFERRING_PHYSICIAN_NAME, VR::PN, ""),
        (tags::STUDY_DESCRIPTION, VR::LO, ""),
        (tags::PATIENT_NAME, VR::PN, &query.patient_name),
        (tags::PATIENT_ID, VR::LO, &query.patient_id),
        (tags::PATIENT_BIRTH_DATE, VR::DA, ""),
        (tags::PATIENT_SEX, VR::CS, ""),
        (tags::STUDY_INSTANCE_UID, VR::UI, &query.study_instance_uid),
        (tags::STUDY_ID, VR::SH, ""),
        (tags::NUMBER_OF_STUDY_RELATED_INSTANCES, VR::IS, ""),
    ];
    let mut link = open(settings, watch)?;
    let mut found = 0;
    let mut take = |object: &InMemDicomObject| {
        let Some(study) = study(object) else {
            return true;
        };
        let is_wanted = study.modalities.as_ref().is_none_or(|held| {
            query.modalities.is_empty() || query.modalities.iter().any(|one| held.contains(one))
        });
        if !is_wanted {
            return true;
        }
        found += 1;
        watch.tell(found, None);
        each(study)
    };
    let end = query_all(&mut link, &keys, &mut take)?;
    link.release();
    Ok(end)
}

/// The films of a study: the pictures of its series, of any modality but
/// records, presentation states and notes. The list of series comes first.
///
/// # Errors
/// [`ArchiveError`].
pub fn find_films(
    settings: &Settings,
    study_instance_uid: &str,
    watch: &Watch,
) -> Result<Vec<FilmEntry>, ArchiveError> {
    /// Most films of a study that are listed.
    const MOST_FILMS: usize = 10_000;
    const NO_PICTURES: [&str; 6] = ["SR", "PR", "KO", "DOC", "REG", "AU"];
    let mut link = open(settings, watch)?;
    let mut series = Vec::new();
    let keys = [
        (tags::SERIES_DATE, VR::DA, ""),
        (tags::QUERY_RETRIEVE_LEVEL, VR::CS, "SERIES"),
        (tags::MODALITY, VR::CS, ""),
        (tags::STUDY_INSTANCE_UID, VR::UI, study_instance_uid),
        (tags::SERIES_INSTANCE_UID, VR::UI, ""),
    ];
    query_all(&mut link, &keys, &mut |object| {
        if let Some(uid) = uid(object, tags::SERIES_INSTANCE_UID) {
            let date = date(object, tags::SERIES_DATE);
            series.push((uid, string(object, tags::MODALITY), date));
        }
        series.len() < MOST_FILMS
    })?;
    let mut films = Vec::new();
    for (series_uid, modality, series_date) in series {
        if modality
            .as_deref()
            .is_some_and(|m| NO_PICTURES.contains(&m))
        {
            continue;
        }
        let keys = [
            (tags::SOP_CLASS_UID, VR::UI, ""),
            (tags::SOP_INSTANCE_UID, VR::UI, ""),
            (tags::CONTENT_DATE, VR::DA, ""),
            (tags::QUERY_RETRIEVE_LEVEL, VR::CS, "IMAGE"),
            (tags::STUDY_INSTANCE_UID, VR::UI, study_instance_uid),
            (tags::SERIES_INSTANCE_UID, VR::UI, &series_uid),
            (tags::INSTANCE_NUMBER, VR::IS, ""),
        ];
        query_all(&mut link, &keys, &mut |object| {
            if let Some(sop_instance_uid) = uid(object, tags::SOP_INSTANCE_UID) {
                films.push(FilmEntry {
                    study_instance_uid: study_instance_uid.to_owned(),
                    series_instance_uid: series_uid.clone(),
                    sop_instance_uid,
                    sop_class_uid: uid(object, tags::SOP_CLASS_UID),
                    modality: modality.clone(),
                    date: date(object, tags::CONTENT_DATE).or_else(|| series_date.clone()),
                    instance_number: string(object, tags::INSTANCE_NUMBER),
                });
                watch.tell(films.len(), None);
            }
            films.len() < MOST_FILMS
        })?;
    }
    link.release();
    Ok(films)
}

/// Whether an object is there.
pub(super) fn is_there(
    settings: &Settings,
    study: &str,
    series: &str,
    instance: &str,
    watch: &Watch,
) -> Result<bool, ArchiveError> {
    let keys = [
        (tags::SOP_INSTANCE_UID, VR::UI, instance),
        (tags::QUERY_RETRIEVE_LEVEL, VR::CS, "IMAGE"),
        (tags::STUDY_INSTANCE_UID, VR::UI, study),
        (tags::SERIES_INSTANCE_UID, VR::UI, series),
    ];
    let mut link = open(settings, watch)?;
    let mut found = false;
    query_all(&mut link, &keys, &mut |object| {
        found |= uid(object, tags::SOP_INSTANCE_UID).as_deref() == Some(instance);
        true
    })?;
    link.release();
    Ok(found)
}

fn open<'a>(settings: &Settings, watch: &'a Watch<'a>) -> Result<Link<'a>, ArchiveError> {
    let wanted = Wanted {
        contexts: vec![(CLASS, plain_syntaxes())],
        ..Wanted::default()
    };
    Link::open(settings, &wanted, watch)
}

/// One C-FIND: gives every match to `each` until that answers `false`, then
/// asks the archive to stop.
fn query_all(
    link: &mut Link,
    keys: &[(Tag, VR, &str)],
    each: &mut dyn FnMut(&InMemDicomObject) -> bool,
) -> Result<FindEnd, ArchiveError> {
    const STOPPED: u16 = 0xFE00;
    let context = link.context_of(CLASS, "query by study (C-FIND)")?;
    let id = link.message_id();
    let identifier = dimse::encode(&dimse::identifier(keys), &context.transfer_syntax)
        .map_err(|fault| link.error(fault))?;
    let request = dimse::request(dimse::C_FIND_RQ, id, CLASS, true, []);
    link.send(context.id, &request, Some(&identifier))?;
    let mut end = FindEnd::Complete;
    loop {
        let answer = link.receive(MOST_ANSWER_BYTES)?;
        let status =
            dimse::status(&answer.command, dimse::C_FIND_RSP).map_err(|fault| link.error(fault))?;
        if !dimse::is_pending(status) {
            let is_asked_for = status == STOPPED && end == FindEnd::Enough;
            return match status == dimse::SUCCESS || dimse::is_warning(status) || is_asked_for {
                true => Ok(end),
                false => Err(link.error(Fault::Status {
                    doing: "the query",
                    status,
                })),
            };
        }
        let data = answer
            .data
            .ok_or_else(|| link.error(Fault::Malformed("a match without content")))?;
        let object =
            dimse::decode(&data, &context.transfer_syntax).map_err(|fault| link.error(fault))?;
        if end == FindEnd::Complete && !each(&object) {
            end = FindEnd::Enough;
            link.send(context.id, &dimse::cancel(id), None)?;
        }
    }
}

fn study(object: &InMemDicomObject) -> Option<StudyEntry> {
    Some(StudyEntry {
        study_instance_uid: uid(object, tags::STUDY_INSTANCE_UID)?,
        patient_name: string(object, tags::PATIENT_NAME),
        patient_id: string(object, tags::PATIENT_ID),
        patient_birth_date: string(object, tags::PATIENT_BIRTH_DATE),
        patient_sex: string(object, tags::PATIENT_SEX),
        study_date: date(object, tags::STUDY_DATE),
        study_time: string(object, tags::STUDY_TIME),
        accession_number: string(object, tags::ACCESSION_NUMBER),
        study_description: string(object, tags::STUDY_DESCRIPTION),
        modalities: string(object, tags::MODALITIES_IN_STUDY)
            .map(|held| held.split('\\').map(|m| m.trim().to_owned()).collect()),
        objects: string(object, tags::NUMBER_OF_STUDY_RELATED_INSTANCES)
            .and_then(|count| count.parse().ok()),
        study_id: string(object, tags::STUDY_ID),
        referring_physician: string(object, tags::REFERRING_PHYSICIAN_NAME),
    })
}

/// `2026-03-14` from a DA value; as it stands where it is none.
fn date(object: &InMemDicomObject, tag: Tag) -> Option<String> {
    let stated = string(object, tag)?;
    let is_date = stated.len() == 8 && stated.bytes().all(|b| b.is_ascii_digit());
    Some(match is_date {
        true => format!("{}-{}-{}", &stated[..4], &stated[4..6], &stated[6..]),
        false => stated,
    })
}

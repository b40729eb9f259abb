//! The archive: against archives of others where they are installed, and
//! against one of our own that misbehaves.

mod faults;
mod misbehaving;
mod programs;
mod queue;
mod servers;
mod slow;

use std::collections::HashSet;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

use lengthfilm::archive::{
    self, ArchiveError, FilmsFolder, GetOutcome, Keep, PartTen, Settings, StudyEntry, StudyQuery,
    Watch, Way,
};
use lengthfilm::film::dicom::{IntraOralFilm, write_intra_oral};
use lengthfilm::film::{self, Film, OpenLimits, Polarity};
use lengthfilm::tooth::{ToothNotation, ToothNumber};

/// The name of nobody, looked for in everything that is written.
pub const PLANTED: &str = "Zzyzx^Quillon";

/// Runs `work` with a watch that nobody looks at.
pub fn quietly<T>(work: impl FnOnce(&Watch) -> T) -> T {
    let cancel = AtomicBool::new(false);
    work(&Watch {
        progress: &|_, _| {},
        cancel: &cancel,
    })
}

/// A film of 16 bits whose every sample differs from its neighbours, of the
/// planted patient.
pub fn write_film(folder: &Path, seed: u64) -> PathBuf {
    write_film_of(folder, seed, (97, 61))
}

/// The same of another size, columns and rows.
pub fn write_film_of(folder: &Path, seed: u64, (width, height): (u32, u32)) -> PathBuf {
    let samples =
        (0..width * height).map(|i| i.wrapping_mul(40_503).wrapping_add(seed as u32 * 977) as u16);
    let film = Film::from_samples(width, height, 16, Polarity::HighIsOpaque, samples.collect());
    let facts = IntraOralFilm {
        imager_pixel_spacing_mm: [0.027, 0.031],
        source_to_detector_mm: Some(400.0),
        source_to_patient_mm: Some(390.0),
        estimated_magnification: None,
        tooth: ToothNumber::parse(ToothNotation::Fdi, "43").unwrap(),
        phantom_name: PLANTED.to_owned(),
        seed,
    };
    let path = folder.join(format!("film-{seed}.dcm"));
    write_intra_oral(&path, &film.unwrap(), &facts).unwrap();
    path
}

pub fn samples(path: &Path) -> Vec<u16> {
    let opened = film::open(path, &OpenLimits::default()).unwrap();
    opened.film.samples().to_vec()
}

pub fn put_one(settings: &Settings, path: &Path) -> Result<(), ArchiveError> {
    let part = PartTen::read(path).unwrap();
    let mut outcomes = quietly(|watch| archive::put(settings, vec![part], false, watch));
    assert_eq!(outcomes.len(), 1);
    outcomes.remove(0).result
}

pub fn find(settings: &Settings, query: &StudyQuery) -> Result<Vec<StudyEntry>, ArchiveError> {
    let mut studies = Vec::new();
    let mut each = |study| {
        studies.push(study);
        true
    };
    quietly(|watch| archive::find_studies(settings, query, &mut each, watch))?;
    Ok(studies)
}

pub fn get(
    settings: &Settings,
    study: &str,
    folder: &mut FilmsFolder,
    way: Way,
) -> Result<GetOutcome, ArchiveError> {
    let present: HashSet<String> = folder.present();
    let mut sink = |received| folder.write(&received);
    quietly(|watch| archive::get_films(settings, study, &[], &present, way, &mut sink, watch))
}

/// Sends a film, finds it, and fetches it in `way`: whole, and without whose it
/// is. Gives its study.
pub fn round_trip(settings: &Settings, film: &Path, way: Way) -> String {
    put_one(settings, film).unwrap();
    let study = PartTen::read(film).unwrap().study_instance_uid.unwrap();
    let query = StudyQuery {
        patient_name: "Zzyz*".to_owned(),
        ..StudyQuery::default()
    };
    let studies = find(settings, &query).unwrap();
    let found = studies.iter().find(|one| one.study_instance_uid == study);
    let found = found.expect("the study is in the list");
    assert_eq!(found.patient_name.as_deref(), Some(PLANTED));
    let films = quietly(|watch| archive::find_films(settings, &study, watch)).unwrap();
    assert_eq!(films.len(), 1);

    let out = tempfile::tempdir().unwrap();
    for (keep, name) in [(Keep::Everything, "all"), (Keep::WithoutIdentity, "bare")] {
        let mut folder = FilmsFolder::new(&out.path().join(name), keep).unwrap();
        let outcome = get(settings, &study, &mut folder, way).unwrap();
        assert_eq!((outcome.fetched, outcome.present), (1, 0), "{name}");
        let path = folder.path_of(&films[0].sop_instance_uid);
        assert_eq!(samples(&path), samples(film), "{name}: every sample");
        let sent = film::open(film, &OpenLimits::default()).unwrap();
        let came = film::open(&path, &OpenLimits::default()).unwrap();
        assert_eq!(came.scale, sent.scale, "{name}: every fact about scale");
        let bytes = std::fs::read(&path).unwrap();
        let has_name = bytes.windows(5).any(|w| w == b"Zzyzx");
        assert_eq!(has_name, keep == Keep::Everything, "{name}");
        // A second call fetches nothing again.
        let again = get(settings, &study, &mut folder, way).unwrap();
        assert_eq!((again.fetched, again.present), (0, 1), "{name}");
    }
    study
}

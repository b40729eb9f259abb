//! Hostile inputs for everything that reads what others made: each target
//! makes one input from a random stream and hands it to the library.
//!
//! Inputs know the structure of what they break: DICOM elements, JSON values,
//! rows of a table, chunks of a PNG with their checksums. A target may refuse
//! its input or take it; it may not panic, hang or eat memory.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use lengthfilm::agreement::analysis::analyse_table;
use lengthfilm::agreement::bland_altman::LimitConvention;
use lengthfilm::agreement::table::TableSettings;
use lengthfilm::assist::{FollowOptions, LocateOptions, follow, locate_file};
use lengthfilm::case::{self, Case};
use lengthfilm::film::{self, FilmFormat, OpenLimits, OpenedFilm};
use lengthfilm::grading::rubric::Rubric;
use lengthfilm::measure::{self, FilmSummary, MeasureSettings, Precision};
use lengthfilm::phantom;
use lengthfilm::practice::OpenedSet;
use lengthfilm::progress::Progress;
use lengthfilm::report::{self, Existing, ExportOptions};
use lengthfilm::units::FilmPoint;
use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};

/// Longest that one input may take.
pub const HANG: Duration = Duration::from_secs(5);

/// What the targets start from.
pub struct Corpus {
    /// Small films of every format, with their names.
    films: Vec<(String, Vec<u8>)>,
    case: Value,
    truths: Value,
    rubric: Value,
    /// A film small enough to be followed on many times.
    canal: OpenedFilm,
    summary: FilmSummary,
    /// Where reports go.
    folder: tempfile::TempDir,
    settings: MeasureSettings,
}

/// A target's name, and what it does with a random stream: `true` when the
/// input was taken.
pub type Target = (&'static str, fn(&Corpus, &mut ChaCha8Rng) -> bool);

/// Those that only read.
pub const PARSERS: [Target; 7] = [
    ("dicom", dicom),
    ("picture", picture),
    ("case", parse_case),
    ("case bytes", case_bytes),
    ("table", table),
    ("sealed truth", sealed_truth),
    ("rubric", rubric),
];

/// Those that work on what was read.
pub const WORKERS: [Target; 4] = [
    ("measure", measured),
    ("report", reported),
    ("follow", followed),
    ("locate file", located),
];

impl Corpus {
    /// Reads the films of `tests/data/film`.
    pub fn load() -> Self {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/film");
        let mut films: Vec<(String, Vec<u8>)> = std::fs::read_dir(folder)
            .expect("the films of the tests")
            .map(|entry| entry.expect("readable").path())
            .filter(|path| path.extension().is_some_and(|e| e != "json"))
            .map(|path| {
                let name = path.file_name().expect("a file").to_string_lossy();
                (name.into_owned(), std::fs::read(&path).expect("readable"))
            })
            .collect();
        films.sort();
        let demo = phantom::demo().expect("the demo");
        let canal = small_film(&demo.film);
        Self {
            films,
            case: serde_json::to_value(&demo.case).expect("a case"),
            truths: json!({"films": [
                {"film": "film-01.png", "sha256": "ab", "truth": thinned(&demo.truth)}
            ]}),
            rubric: serde_json::to_value(Rubric::default()).expect("a rubric"),
            summary: FilmSummary::from(&demo.film),
            canal,
            folder: tempfile::tempdir().expect("a folder"),
            settings: MeasureSettings {
                precision: Precision::Live,
                ..MeasureSettings::default()
            },
        }
    }
}

/// Every fourth sample of a film, opened from its own file.
fn small_film(opened: &OpenedFilm) -> OpenedFilm {
    let film = &opened.film;
    let (width, height) = (film.width_px() as usize / 4, film.height_px() as usize / 4);
    let samples = (0..width * height)
        .map(|i| film.samples()[4 * (i / width) * film.width_px() as usize + 4 * (i % width)])
        .collect();
    let small = film::Film::from_samples(
        width as u32,
        height as u32,
        film.bits_stored(),
        film.polarity(),
        samples,
    )
    .expect("as many samples as pixels");
    let png = small.png16_bytes().expect("encodes");
    film::open_bytes(Path::new("small.png"), &png, &OpenLimits::default()).expect("opens")
}

/// A truth with few points, so that many can be mutated.
fn thinned(truth: &phantom::Truth) -> Value {
    fn thin(value: &mut Value) {
        match value {
            Value::Array(items) => {
                let step = items.len() / 8 + 1;
                let mut at = 0;
                items.retain(|_| {
                    at += 1;
                    (at - 1) % step == 0 || at <= 2
                });
                items.iter_mut().for_each(thin);
            }
            Value::Object(map) => map.values_mut().for_each(thin),
            _ => {}
        }
    }
    let mut value = serde_json::to_value(truth).expect("a truth");
    thin(&mut value);
    value
}

/// What became of many inputs.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    pub executions: u64,
    /// Inputs that were taken.
    pub taken: u64,
    /// Panics that reached the caller, with the number of the input.
    pub panics: Vec<u64>,
    /// Slowest input and how long it took.
    pub slowest: (u64, Duration),
    /// Inputs that took longer than [`HANG`].
    pub hangs: u64,
}

impl Tally {
    fn add(&mut self, other: Self) {
        self.executions += other.executions;
        self.taken += other.taken;
        self.panics.extend(other.panics);
        if other.slowest.1 > self.slowest.1 {
            self.slowest = other.slowest;
        }
        self.hangs += other.hangs;
    }
}

/// Runs inputs `first..first + count` of a target on `threads` threads, or as
/// many of them as begin before `until`.
pub fn run(
    corpus: &Corpus,
    (name, target): Target,
    seed: u64,
    first: u64,
    count: u64,
    threads: usize,
    until: Instant,
) -> Tally {
    let next = AtomicU64::new(first);
    let stop = AtomicBool::new(false);
    let work = || {
        let mut tally = Tally::default();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= first + count || stop.load(Ordering::Relaxed) {
                return tally;
            }
            let mut random = stream(name, seed, index);
            let begun = Instant::now();
            match catch_unwind(AssertUnwindSafe(|| target(corpus, &mut random))) {
                Ok(taken) => tally.taken += u64::from(taken),
                Err(_) => tally.panics.push(index),
            }
            let took = begun.elapsed();
            tally.executions += 1;
            tally.hangs += u64::from(took > HANG);
            if took > tally.slowest.1 {
                tally.slowest = (index, took);
            }
            if Instant::now() > until {
                stop.store(true, Ordering::Relaxed);
            }
        }
    };
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads).map(|_| scope.spawn(work)).collect();
        let mut total = Tally::default();
        for worker in workers {
            total.add(worker.join().expect("panics are caught inside"));
        }
        total
    })
}

/// The random stream of one input: the same for the same seed and number,
/// however many run beside it.
fn stream(name: &str, seed: u64, index: u64) -> ChaCha8Rng {
    let mut key = [0; 32];
    key[..8].copy_from_slice(&seed.to_le_bytes());
    key[8..16].copy_from_slice(&index.to_le_bytes());
    for (to, from) in key[16..].iter_mut().zip(name.bytes()) {
        *to = from;
    }
    ChaCha8Rng::from_seed(key)
}

// --- bytes ---------------------------------------------------------------

/// Numbers that break arithmetic.
const EDGES: [u64; 14] = [
    0,
    1,
    2,
    7,
    8,
    9,
    16,
    127,
    255,
    32_767,
    65_535,
    0x7FFF_FFFF,
    0xFFFF_FFFE,
    0xFFFF_FFFF,
];

/// Changes a few places of some bytes: flips, numbers from [`EDGES`], pieces
/// cut, doubled or moved, a cut end.
fn mutate_bytes(bytes: &mut Vec<u8>, random: &mut ChaCha8Rng) {
    for _ in 0..random.random_range(1..=6) {
        if bytes.is_empty() {
            return;
        }
        let at = random.random_range(0..bytes.len());
        match random.random_range(0..8) {
            0 => bytes[at] ^= 1 << random.random_range(0..8),
            1 => bytes[at] = random.random(),
            2 | 3 => {
                let edge = *EDGES.choose(random).expect("some");
                let width = *[1, 2, 4].choose(random).expect("some");
                let number = match random.random_bool(0.5) {
                    true => edge.to_le_bytes()[..width].to_vec(),
                    false => edge.to_be_bytes()[8 - width..].to_vec(),
                };
                for (to, from) in bytes[at..].iter_mut().zip(number) {
                    *to = from;
                }
            }
            4 => {
                let end = (at + random.random_range(1..32)).min(bytes.len());
                bytes.drain(at..end);
            }
            5 => {
                let end = (at + random.random_range(1..64)).min(bytes.len());
                let piece = bytes[at..end].to_vec();
                let to = random.random_range(0..=bytes.len());
                bytes.splice(to..to, piece);
            }
            6 => bytes.truncate(at),
            _ => {
                let with: Vec<u8> = (0..random.random_range(1..8))
                    .map(|_| random.random())
                    .collect();
                bytes.splice(at..at, with);
            }
        }
    }
}

fn opens(bytes: &[u8]) -> bool {
    // Small inputs: what claims more than this is refused by its size alone,
    // which the tests of the limits show.
    let limits = OpenLimits {
        max_pixels: 4_000_000,
    };
    match film::open_bytes(Path::new("f"), bytes, &limits) {
        Ok(opened) => {
            let pixels = u64::from(opened.film.width_px()) * u64::from(opened.film.height_px());
            assert_eq!(opened.film.samples().len() as u64, pixels);
            assert!(pixels <= limits.max_pixels);
            let said = film::info_text(&opened);
            let ruly = |c: char| c == '\n' || !c.is_control();
            assert!(said.chars().all(ruly), "{said:?}");
            true
        }
        Err(error) => {
            let said = error.to_string();
            assert!(!said.chars().any(char::is_control), "{said:?}");
            false
        }
    }
}

// --- pictures ------------------------------------------------------------

fn picture(corpus: &Corpus, random: &mut ChaCha8Rng) -> bool {
    let pictures: Vec<_> = corpus
        .films
        .iter()
        .filter(|(name, _)| !name.ends_with(".dcm"))
        .collect();
    let (_, seed) = pictures.choose(random).expect("some");
    let mut bytes = seed.clone();
    mutate_bytes(&mut bytes, random);
    if bytes.starts_with(b"\x89PNG") && random.random_bool(0.9) {
        mend_png(&mut bytes);
    }
    opens(&bytes)
}

/// Gives every chunk of a PNG its right checksum (its specification, 5.5), so
/// that what was broken inside is reached.
fn mend_png(png: &mut [u8]) {
    let mut at = 8;
    while let Some(length) = png.get(at..at + 4) {
        let length = u32::from_be_bytes(length.try_into().expect("four bytes")) as usize;
        let (Some(start), Some(end)) = (at.checked_add(4), at.checked_add(8 + length)) else {
            return;
        };
        let Some(sum) = png.get(start..end).map(crc32) else {
            return;
        };
        let Some(place) = png.get_mut(end..end + 4) else {
            return;
        };
        place.copy_from_slice(&sum.to_be_bytes());
        at = end + 4;
    }
}

/// CRC-32 of ISO 3309, bit by bit.
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |crc, &byte| {
        (0..8).fold(crc ^ u32::from(byte), |crc, _| {
            (crc >> 1) ^ (0xEDB8_8320 & (crc & 1).wrapping_neg())
        })
    })
}

// --- DICOM ---------------------------------------------------------------

/// How elements are written.
#[derive(Clone, Copy, PartialEq)]
enum Syntax {
    Implicit,
    Explicit,
    BigEndian,
}

fn word(value: u16, syntax: Syntax) -> [u8; 2] {
    match syntax {
        Syntax::BigEndian => value.to_be_bytes(),
        _ => value.to_le_bytes(),
    }
}

fn long(value: u32, syntax: Syntax) -> [u8; 4] {
    match syntax {
        Syntax::BigEndian => value.to_be_bytes(),
        _ => value.to_le_bytes(),
    }
}

/// One element (PS3.5 7.1); now and then its length lies.
fn element(
    out: &mut Vec<u8>,
    (group, number): (u16, u16),
    vr: &[u8; 2],
    value: &[u8],
    syntax: Syntax,
    random: &mut ChaCha8Rng,
) {
    let mut length = value.len() as u32;
    if random.random_bool(0.02) {
        length = *EDGES.choose(random).expect("some") as u32;
    }
    out.extend(word(group, syntax));
    out.extend(word(number, syntax));
    if syntax == Syntax::Implicit {
        out.extend(long(length, syntax));
    } else {
        out.extend(vr);
        if matches!(
            vr,
            b"OB" | b"OW" | b"SQ" | b"UN" | b"UT" | b"OF" | b"UC" | b"UR"
        ) {
            out.extend([0, 0]);
            out.extend(long(length, syntax));
        } else {
            out.extend(word(length as u16, syntax));
        }
    }
    out.extend(value);
}

const VRS: [&[u8; 2]; 16] = [
    b"US", b"UL", b"SS", b"FL", b"FD", b"DS", b"IS", b"CS", b"LO", b"UI", b"OB", b"OW", b"SQ",
    b"UN", b"AT", b"PN",
];

const TRANSFER_SYNTAXES: [(&str, Syntax); 14] = [
    ("1.2.840.10008.1.2", Syntax::Implicit),
    ("1.2.840.10008.1.2.1", Syntax::Explicit),
    ("1.2.840.10008.1.2.2", Syntax::BigEndian),
    ("1.2.840.10008.1.2.1.99", Syntax::Explicit),
    ("1.2.840.10008.1.2.5", Syntax::Explicit),
    ("1.2.840.10008.1.2.4.50", Syntax::Explicit),
    ("1.2.840.10008.1.2.4.51", Syntax::Explicit),
    ("1.2.840.10008.1.2.4.57", Syntax::Explicit),
    ("1.2.840.10008.1.2.4.70", Syntax::Explicit),
    ("1.2.840.10008.1.2.4.80", Syntax::Explicit),
    ("1.2.840.10008.1.2.4.81", Syntax::Explicit),
    ("1.2.840.10008.1.2.4.90", Syntax::Explicit),
    ("1.2.840.10008.1.2.4.91", Syntax::Explicit),
    ("1.2.3.4", Syntax::Explicit),
];

/// A file of the corpus broken by bytes, or one built element by element.
fn dicom(corpus: &Corpus, random: &mut ChaCha8Rng) -> bool {
    let bytes = if random.random_bool(0.5) {
        let films: Vec<_> = corpus
            .films
            .iter()
            .filter(|(name, _)| name.ends_with(".dcm"))
            .collect();
        let mut bytes = films.choose(random).expect("some").1.clone();
        mutate_bytes(&mut bytes, random);
        bytes
    } else {
        let mut bytes = built_dicom(corpus, random);
        if random.random_bool(0.3) {
            mutate_bytes(&mut bytes, random);
        }
        bytes
    };
    opens(&bytes)
}

fn built_dicom(corpus: &Corpus, random: &mut ChaCha8Rng) -> Vec<u8> {
    let (uid, syntax) = *TRANSFER_SYNTAXES.choose(random).expect("some");
    let mut padded = uid.as_bytes().to_vec();
    padded.resize(padded.len().next_multiple_of(2), 0);
    let mut meta = Vec::new();
    element(
        &mut meta,
        (2, 0x10),
        b"UI",
        &padded,
        Syntax::Explicit,
        random,
    );
    let mut out = vec![0; 128];
    out.extend(b"DICM");
    let length = (meta.len() as u32).to_le_bytes();
    element(&mut out, (2, 0), b"UL", &length, Syntax::Explicit, random);
    out.extend(meta);
    let body = data_set(corpus, uid, syntax, random);
    if uid.ends_with(".99") {
        use std::io::Write;
        let mut packer =
            flate2::write::DeflateEncoder::new(Vec::new(), flate2::Compression::fast());
        packer.write_all(&body).expect("to memory");
        out.extend(packer.finish().expect("to memory"));
    } else {
        out.extend(body);
    }
    out
}

fn data_set(corpus: &Corpus, uid: &str, syntax: Syntax, random: &mut ChaCha8Rng) -> Vec<u8> {
    let mut small = |most: u16| match random.random_bool(0.1) {
        true => *EDGES.choose(random).expect("some") as u16,
        false => random.random_range(1..=most),
    };
    let (rows, columns) = (small(24), small(24));
    let bits = *[8_u16, 8, 16, 16, 16, 1, 12, 32]
        .choose(random)
        .expect("some");
    let stored = match random.random_bool(0.8) {
        true => bits.min(*[8, 10, 12, 16].choose(random).expect("some")),
        false => random.random_range(0..40),
    };
    let samples = *[1_u16, 1, 1, 1, 3, 0, 4].choose(random).expect("some");
    let photometric: &[u8] = [
        &b"MONOCHROME2 "[..],
        b"MONOCHROME1 ",
        b"RGB ",
        b"PALETTE COLOR ",
        b"YBR_FULL",
        b"YBR_FULL_422",
        b"YBR_RCT ",
        b"x ",
    ]
    .choose(random)
    .expect("some");
    let number = |value: u16| word(value, syntax).to_vec();
    let decimal: Vec<u8> = [
        "0.027\\0.027 ",
        "1e308\\-1",
        "NaN\\NaN ",
        "0\\0 ",
        "\\\\\\ ",
        "0.03",
        "9999999999999999999999999999",
    ]
    .choose(random)
    .expect("some")
    .bytes()
    .collect();
    type Element = ((u16, u16), &'static [u8; 2], Vec<u8>);
    let mut elements: Vec<Element> = vec![
        ((0x08, 0x16), b"UI", b"1.2.840.10008.5.1.4.1.1.7\0".to_vec()),
        ((0x10, 0x10), b"PN", b"A\n\x1b[2J^B ".to_vec()),
        ((0x18, 0x1164), b"DS", decimal.clone()),
        ((0x28, 0x02), b"US", number(samples)),
        ((0x28, 0x04), b"CS", photometric.to_vec()),
        ((0x28, 0x06), b"US", number(random.random_range(0..3))),
        (
            (0x28, 0x08),
            b"IS",
            [&b"1 "[..], b"2 ", b"0 ", b"-1", b"99999999"]
                .choose(random)
                .expect("some")
                .to_vec(),
        ),
        ((0x28, 0x10), b"US", number(rows)),
        ((0x28, 0x11), b"US", number(columns)),
        ((0x28, 0x30), b"DS", decimal.clone()),
        ((0x28, 0x100), b"US", number(bits)),
        ((0x28, 0x101), b"US", number(stored)),
        ((0x28, 0x102), b"US", number(stored.wrapping_sub(1))),
        ((0x28, 0x103), b"US", number(random.random_range(0..3))),
        ((0x28, 0x1050), b"DS", decimal.clone()),
        ((0x28, 0x1051), b"DS", decimal),
        ((0x28, 0x1052), b"DS", b"-1024 ".to_vec()),
        (
            (0x28, 0x1101),
            b"US",
            [number(random.random_range(0..300)), number(0), number(16)].concat(),
        ),
        ((0x28, 0x1201), b"OW", vec![7; random.random_range(0..64)]),
        ((0x28, 0x1202), b"OW", vec![7; random.random_range(0..64)]),
        ((0x28, 0x1203), b"OW", vec![7; random.random_range(0..64)]),
        ((0x28, 0x301), b"CS", b"YES ".to_vec()),
    ];
    elements.sort_by_key(|(tag, _, _)| *tag);
    let mut out = Vec::new();
    for (tag, vr, value) in elements {
        if random.random_bool(0.04) {
            continue;
        }
        let vr = match random.random_bool(0.03) {
            true => *VRS.choose(random).expect("some"),
            false => vr,
        };
        element(&mut out, tag, vr, &value, syntax, random);
        if random.random_bool(0.02) {
            nested(&mut out, syntax, random);
        }
    }
    let is_compressed = uid.starts_with("1.2.840.10008.1.2.4") || uid.ends_with(".2.5");
    if is_compressed && random.random_bool(0.95) {
        let frame = compressed_frame(corpus, random);
        out.extend(word(0x7FE0, syntax));
        out.extend(word(0x10, syntax));
        out.extend(b"OB\0\0");
        out.extend(long(u32::MAX, syntax));
        let item = |out: &mut Vec<u8>, bytes: &[u8]| {
            out.extend([0xFE, 0xFF, 0x00, 0xE0]);
            out.extend((bytes.len() as u32).to_le_bytes());
            out.extend(bytes);
        };
        item(&mut out, &[]);
        let cut = random.random_range(0..=frame.len());
        match random.random_bool(0.2) {
            true => {
                item(&mut out, &frame[..cut]);
                item(&mut out, &frame[cut..]);
            }
            false => item(&mut out, &frame),
        }
        out.extend([0xFE, 0xFF, 0xDD, 0xE0, 0, 0, 0, 0]);
    } else {
        let bytes = (usize::from(rows) * usize::from(columns) * usize::from(samples))
            .saturating_mul(usize::from(bits.div_ceil(8)))
            .min(4096);
        let bytes = match random.random_bool(0.8) {
            true => bytes,
            false => random.random_range(0..=bytes + 2),
        };
        let pixels: Vec<u8> = (0..bytes).map(|_| random.random()).collect();
        let vr = if bits > 8 { b"OW" } else { b"OB" };
        element(&mut out, (0x7FE0, 0x10), vr, &pixels, syntax, random);
    }
    out
}

/// Sequences within sequences.
fn nested(out: &mut Vec<u8>, syntax: Syntax, random: &mut ChaCha8Rng) {
    for _ in 0..random.random_range(1..200) {
        out.extend(word(0x08, syntax));
        out.extend(word(0x1140, syntax));
        if syntax != Syntax::Implicit {
            out.extend(b"SQ\0\0");
        }
        out.extend(long(u32::MAX, syntax));
        out.extend(word(0xFFFE, syntax));
        out.extend(word(0xE000, syntax));
        out.extend(long(u32::MAX, syntax));
    }
}

/// A stream of some codec, from the corpus or broken.
fn compressed_frame(corpus: &Corpus, random: &mut ChaCha8Rng) -> Vec<u8> {
    let streams: Vec<&[u8]> = corpus
        .films
        .iter()
        .filter_map(|(_, bytes)| {
            if bytes.starts_with(&[0xFF, 0xD8]) {
                return Some(bytes.as_slice());
            }
            // The first fragment of an encapsulated film: JPEG, JPEG-LS and
            // JPEG 2000 streams begin with a marker.
            let start = bytes
                .windows(2)
                .rposition(|pair| pair == [0xFF, 0xD8] || pair == [0xFF, 0x4F])?;
            Some(&bytes[start..])
        })
        .collect();
    let mut frame = match random.random_bool(0.9) {
        true => streams.choose(random).expect("some").to_vec(),
        false => (0..random.random_range(0..200))
            .map(|_| random.random())
            .collect(),
    };
    if random.random_bool(0.7) {
        mutate_bytes(&mut frame, random);
    }
    frame
}

// --- JSON ----------------------------------------------------------------

/// Values that break arithmetic, lengths and text.
fn hostile_value(random: &mut ChaCha8Rng) -> Value {
    match random.random_range(0..16) {
        0 => Value::Null,
        1 => json!(random.random::<bool>()),
        2 => json!(0),
        3 => json!(-1),
        4 => json!(1e308),
        5 => json!(-1e-308),
        6 => json!(u64::MAX),
        7 => json!(i64::MIN),
        8 => json!(random.random_range(-2000.0..2000.0)),
        9 => json!("x".repeat(random.random_range(0..400))),
        10 => json!("MB\n\u{1b}[2J\u{202e}\0"),
        11 => json!([]),
        12 => json!({}),
        13 => json!([[0, 0], [1, 1]]),
        14 => json!("../../../../dev/zero"),
        _ => json!(random.random::<f64>()),
    }
}

/// Changes some values, keys and items of a JSON value.
fn mutate_json(value: &mut Value, random: &mut ChaCha8Rng) {
    for _ in 0..random.random_range(1..=4) {
        mutate_one(value, random);
    }
}

/// Walks down at random and changes what it comes to.
fn mutate_one(value: &mut Value, random: &mut ChaCha8Rng) {
    let stops = random.random_bool(0.12);
    match value {
        Value::Object(map) if !map.is_empty() && !stops => {
            let at = random.random_range(0..map.len());
            let key = map.keys().nth(at).expect("within").clone();
            match random.random_range(0..24) {
                0 => {
                    map.remove(&key);
                }
                1 => {
                    map.insert(format!("{key}x"), hostile_value(random));
                }
                _ => mutate_one(map.get_mut(&key).expect("there"), random),
            }
        }
        Value::Array(items) if !items.is_empty() && !stops => {
            let at = random.random_range(0..items.len());
            match random.random_range(0..16) {
                0 => {
                    items.remove(at);
                }
                1 => {
                    let again = items[at].clone();
                    items.insert(at, again);
                }
                2 => items.reverse(),
                3 => items.truncate(at),
                4 if items.len() < 64 => {
                    let again = items[at].clone();
                    items.extend(std::iter::repeat_n(again, random.random_range(1..80)));
                }
                _ => mutate_one(&mut items[at], random),
            }
        }
        Value::Number(number) if random.random_bool(0.6) => {
            let near = number.as_f64().unwrap_or(0.0) + random.random_range(-20.0..20.0);
            *value = json!(near);
        }
        other => *other = hostile_value(random),
    }
}

fn mutated(seed: &Value, random: &mut ChaCha8Rng) -> Value {
    let mut value = seed.clone();
    mutate_json(&mut value, random);
    value
}

fn case_of(corpus: &Corpus, random: &mut ChaCha8Rng) -> Option<Case> {
    let text = mutated(&corpus.case, random).to_string();
    case::parse(text.as_bytes(), Path::new("a.case.json")).ok()
}

fn parse_case(corpus: &Corpus, random: &mut ChaCha8Rng) -> bool {
    let Some(case) = case_of(corpus, random) else {
        return false;
    };
    let again = case::parse(case::to_json(&case).as_bytes(), Path::new("a.case.json"));
    assert_eq!(again.expect("what is written can be read"), case);
    true
}

fn case_bytes(corpus: &Corpus, random: &mut ChaCha8Rng) -> bool {
    let mut bytes = corpus.case.to_string().into_bytes();
    mutate_bytes(&mut bytes, random);
    match case::parse(&bytes, Path::new("a.case.json")) {
        Ok(_) => true,
        Err(error) => {
            assert!(!error.to_string().is_empty());
            false
        }
    }
}

fn sealed_truth(corpus: &Corpus, random: &mut ChaCha8Rng) -> bool {
    let text = mutated(&corpus.truths, random).to_string();
    let Ok(set) = serde_json::from_str::<OpenedSet>(&text) else {
        return false;
    };
    for film in &set.films {
        let _ = case::to_json(&film.starting_case());
        let _ = case::to_json(&film.case("film.png"));
    }
    true
}

fn rubric(corpus: &Corpus, random: &mut ChaCha8Rng) -> bool {
    let text = mutated(&corpus.rubric, random).to_string();
    serde_json::from_str::<Rubric>(&text).is_ok_and(|rubric| rubric.fault().is_none())
}

// --- tables --------------------------------------------------------------

fn table(_: &Corpus, random: &mut ChaCha8Rng) -> bool {
    let raters = random.random_range(0..6);
    let separator = *[",", ",", ";", "\t"].choose(random).expect("some");
    let mut rows = vec![
        std::iter::once("subject".to_owned())
            .chain(
                (0..raters).map(|i| format!("r{}", if random.random_bool(0.02) { 0 } else { i })),
            )
            .collect::<Vec<_>>(),
    ];
    let classes = random.random_bool(0.3);
    for subject in 0..random.random_range(0..12) {
        let cells = (0..raters).map(|_| match random.random_range(0..40) {
            0 => String::new(),
            1 => "NaN".to_owned(),
            2 => "1e400".to_owned(),
            3 => "-1e308".to_owned(),
            4 => "\"a\nb".to_owned(),
            5 => "=1+1".to_owned(),
            _ if classes => random.random_range(0..4_u8).to_string(),
            6 => "1e308".to_owned(),
            7 => "7".to_owned(),
            _ => format!("{:.2}", random.random_range(0.0..30.0)),
        });
        rows.push(
            std::iter::once(format!("s{subject}"))
                .chain(cells)
                .collect(),
        );
    }
    let mut text = rows
        .iter()
        .map(|row| row.join(separator) + "\n")
        .collect::<String>();
    if random.random_bool(0.3) {
        let mut bytes = text.into_bytes();
        mutate_bytes(&mut bytes, random);
        text = String::from_utf8_lossy(&bytes).into_owned();
    }
    match analyse_table(&text, TableSettings::default(), LimitConvention::Normal196) {
        Ok(analysis) => {
            serde_json::to_string(&analysis).expect("prints");
            true
        }
        Err(error) => {
            assert!(!error.to_string().is_empty());
            false
        }
    }
}

// --- work ----------------------------------------------------------------

fn measured(corpus: &Corpus, random: &mut ChaCha8Rng) -> bool {
    let Some(case) = case_of(corpus, random) else {
        return false;
    };
    match measure::measure(&case, &corpus.summary, "a.case.json", &corpus.settings) {
        Ok(findings) => {
            for line in measure::findings_text(&findings).lines() {
                assert!(!line.chars().any(char::is_control), "{line:?}");
            }
            serde_json::to_string(&findings).expect("prints");
            true
        }
        Err(error) => {
            assert!(!error.to_string().is_empty());
            false
        }
    }
}

fn reported(corpus: &Corpus, random: &mut ChaCha8Rng) -> bool {
    let Some(mut case) = case_of(corpus, random) else {
        return false;
    };
    case.second_film = None;
    let demo = &corpus.canal;
    // The points of the case are those of a film four times as large.
    let quarter = |p: &mut FilmPoint| *p = FilmPoint::new(p.x / 4.0, p.y / 4.0);
    for canal in &mut case.canals {
        canal.trace_px.iter_mut().for_each(quarter);
        canal.landmarks.values_mut().for_each(quarter);
        let tip = canal.file.as_mut().and_then(|file| file.tip_px.as_mut());
        let places = [
            canal.reference_px.as_mut(),
            canal.apex_px.as_mut(),
            canal.foramen_px.as_mut(),
            tip,
        ];
        places.into_iter().flatten().for_each(quarter);
    }
    for object in &mut case.scale.objects {
        object.points_px.iter_mut().for_each(quarter);
    }
    let summary = FilmSummary::from(demo);
    let Ok(findings) = measure::measure(&case, &summary, "a.case.json", &corpus.settings) else {
        return false;
    };
    let ending = *["html", "csv", "dcm", "pdf", "png"]
        .choose(random)
        .expect("some");
    let out = corpus
        .folder
        .path()
        .join(format!("{}.{ending}", random.random::<u64>()));
    let options = ExportOptions {
        existing: Existing::ReplaceNamed,
        settings: corpus.settings.clone(),
        ..ExportOptions::default()
    };
    let path = corpus.folder.path().join("a.case.json");
    match report::write(&case, &path, demo, &findings, &out, &options) {
        Ok(written) => {
            written.iter().for_each(|file: &PathBuf| {
                let _ = std::fs::remove_file(file);
            });
            true
        }
        Err(error) => {
            assert!(!error.to_string().is_empty());
            false
        }
    }
}

/// A place on or off the film.
fn place(corpus: &Corpus, random: &mut ChaCha8Rng) -> FilmPoint {
    let film = &corpus.canal.film;
    let (w, h) = (f64::from(film.width_px()), f64::from(film.height_px()));
    let mut coordinate = |most: f64| match random.random_range(0..20) {
        0 => -1.0,
        1 => f64::NAN,
        2 => 1e300,
        3 => most,
        _ => random.random_range(0.0..most),
    };
    let x = coordinate(w);
    FilmPoint::new(x, coordinate(h))
}

fn pitch(random: &mut ChaCha8Rng) -> Option<f64> {
    let pitches = [
        None,
        Some(0.1),
        Some(0.1),
        Some(0.08),
        Some(0.01),
        Some(0.001),
        Some(1.0),
        Some(0.0),
        Some(-0.1),
        Some(f64::NAN),
        Some(1e-300),
        Some(1e300),
    ];
    *pitches.choose(random).expect("some")
}

fn followed(corpus: &Corpus, random: &mut ChaCha8Rng) -> bool {
    let count = random.random_range(0..6);
    let through: Vec<FilmPoint> = (0..count).map(|_| place(corpus, random)).collect();
    let options = FollowOptions {
        bright: random.random_bool(0.5),
        mm_per_px: pitch(random),
    };
    let path = follow(
        &corpus.canal.film,
        &through,
        &options,
        &Progress::unwatched(),
    );
    path.is_ok_and(|path| {
        assert!(
            path.points_px
                .iter()
                .all(|p| p.x.is_finite() && p.y.is_finite())
        );
        true
    })
}

fn located(corpus: &Corpus, random: &mut ChaCha8Rng) -> bool {
    let near = place(corpus, random);
    let options = LocateOptions {
        mm_per_px: pitch(random),
    };
    let file = locate_file(&corpus.canal.film, near, &options, &Progress::unwatched());
    file.is_ok_and(|file| {
        assert!(file.tip_px.x.is_finite() && file.tip_px.y.is_finite());
        assert!((0.0..=1.0).contains(&file.confidence));
        true
    })
}

/// Formats the corpus covers, so that a lost file is noticed.
pub fn formats(corpus: &Corpus) -> Vec<FilmFormat> {
    let mut found: Vec<FilmFormat> = Vec::new();
    for (_, bytes) in &corpus.films {
        if let Ok(opened) = film::open_bytes(Path::new("f"), bytes, &OpenLimits::default())
            && !found.contains(&opened.facts.format)
        {
            found.push(opened.facts.format);
        }
    }
    found
}

//! The part of a record that two films give together.

use std::path::Path;

use super::measured_case::MeasuredCase;
use super::model::{Block, Section, Table};
use crate::case::SecondFilm;
use crate::two_view;

/// The section of the second film; `None` where the case remembers none.
pub fn section(measured: &MeasuredCase) -> Option<Section> {
    let second = measured.case.second_film.as_ref()?;
    let blocks = match measured.two_view.as_ref()? {
        Ok(found) => {
            let caption = format!(
                "Canal {} in space from this film (A) and that of {} (B), {}. Value ± U (95 %).",
                found.canal,
                file_name(second),
                found.receptor.words()
            );
            let mut table = Table::of_text(caption, &["In space", "Found"]);
            for (name, value) in two_view::rows(found) {
                table.row(vec![name, value]);
            }
            let warnings: Vec<String> = found.warnings.iter().map(|w| w.text.clone()).collect();
            let mut blocks = vec![Block::Table(table)];
            if !warnings.is_empty() {
                blocks.push(Block::Bullets(warnings));
            }
            blocks
        }
        // The reason names files; a record names them without their folders.
        Err(reason) => vec![Block::Paragraph(format!(
            "The second film, {}, could not be used: {}",
            file_name(second),
            without_folders(reason)
        ))],
    };
    Some(Section {
        heading: "Two films, one canal".to_owned(),
        blocks,
    })
}

fn file_name(second: &SecondFilm) -> String {
    let name = Path::new(&second.case).file_name();
    name.map_or_else(String::new, |n| n.to_string_lossy().into_owned())
}

/// Every path in a text cut down to its file name.
fn without_folders(text: &str) -> String {
    let cut = |word: &str| match word.rsplit_once(['/', '\\']) {
        Some((_, name)) if !name.is_empty() => name.to_owned(),
        _ => word.to_owned(),
    };
    text.split(' ').map(cut).collect::<Vec<_>>().join(" ")
}

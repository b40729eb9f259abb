//! The card as one self-contained HTML page, for the screen and for printing.

use std::fmt::Write as _;

use super::content::{Card, FILE_HEADINGS, FileRow, TITLE};
use crate::instrumentation::IsoColour;
use crate::report::drawing::Ink;
use crate::report::escape::escape;

const STYLE: &str = include_str!("card.css");

/// The whole page.
pub fn page(cards: &[Card], footer: &str) -> String {
    let mut html = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{TITLE}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n"
    );
    for card in cards {
        article(&mut html, card, footer);
    }
    html.push_str("</body>\n</html>\n");
    html
}

fn article(html: &mut String, card: &Card, footer: &str) {
    let _ = write!(
        html,
        "<article>\n<header><h1>{TITLE}</h1><p>{}</p></header>\n\
         <section class=\"length\"><h2>Working length</h2><p class=\"figure\">{}</p><p>{}</p>\
         </section>\n",
        escape(&card.subtitle),
        escape(&card.length),
        escape(&card.length_note)
    );
    html.push_str(
        "<section><h2>Files, in the order of use</h2>\n<table class=\"files\"><thead><tr>",
    );
    for heading in FILE_HEADINGS {
        let _ = write!(html, "<th scope=\"col\">{heading}</th>");
    }
    html.push_str("</tr></thead><tbody>\n");
    for row in &card.files {
        file_row(html, row);
    }
    html.push_str("</tbody></table></section>\n<section><h2>Curves, for pre-curving</h2><ul>\n");
    for line in &card.places {
        let _ = writeln!(html, "<li>{}</li>", escape(line));
    }
    html.push_str(
        "</ul></section>\n<section><h2>Diameter left, mm</h2>\n<table class=\"levels\"><thead>\
         <tr><th scope=\"col\">mm from the apex</th>",
    );
    for level in &card.levels {
        let _ = write!(html, "<th scope=\"col\">{}</th>", escape(level));
    }
    html.push_str("</tr></thead><tbody>\n");
    for (name, cells) in &card.diameters {
        let _ = write!(html, "<tr><th scope=\"row\">{}</th>", escape(name));
        for cell in cells {
            let _ = write!(html, "<td>{}</td>", escape(cell));
        }
        html.push_str("</tr>\n");
    }
    html.push_str(
        "</tbody></table></section>\n<section><h2>Cautions</h2><ul class=\"cautions\">\n",
    );
    for caution in &card.cautions {
        let _ = writeln!(html, "<li>{}</li>", escape(caution));
    }
    let _ = write!(
        html,
        "</ul></section>\n<footer>{}</footer>\n</article>\n",
        escape(footer)
    );
}

fn file_row(html: &mut String, row: &FileRow) {
    let swatch = row.swatch.map_or(String::new(), swatch);
    let _ = writeln!(
        html,
        "<tr><th scope=\"row\">{}</th><td>{swatch}{}</td><td class=\"stop\">{}</td><td>{}</td>\
         <td>{}</td></tr>",
        escape(&row.file),
        escape(&row.colour),
        escape(&row.stop),
        escape(&row.tip),
        escape(&row.strain)
    );
}

/// Named beside it: colour is never alone.
fn swatch(colour: IsoColour) -> String {
    let [r, g, b] = Ink::File(colour).rgb();
    format!("<span class=\"swatch\" style=\"background:#{r:02x}{g:02x}{b:02x}\"></span>")
}

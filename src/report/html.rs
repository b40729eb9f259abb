//! A record as one self-contained HTML page: style and pictures inside, no
//! script, nothing fetched.

use std::fmt::Write;

use super::escape::escape;
use super::model::{Align, Block, Figure, FigureGrid, Report, Table};
use super::numbers::ABSENT;
use super::svg;

const STYLE: &str = include_str!("page.css");

/// The whole page.
pub fn page(report: &Report) -> String {
    let mut html = String::new();
    let _ = write!(
        html,
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{title} · {subtitle}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n\
         <header>\n<h1>{title}</h1>\n<p class=\"subtitle\">{subtitle}</p>\n<dl>\n",
        title = escape(&report.title),
        subtitle = escape(&report.subtitle),
    );
    for (name, value) in &report.facts {
        let _ = writeln!(
            html,
            "<div><dt>{}</dt><dd>{}</dd></div>",
            escape(name),
            escape(value)
        );
    }
    html.push_str("</dl>\n</header>\n<main>\n");
    for section in &report.sections {
        let _ = writeln!(html, "<section>\n<h2>{}</h2>", escape(&section.heading));
        for part in &section.blocks {
            block(&mut html, part);
        }
        html.push_str("</section>\n");
    }
    let _ = write!(
        html,
        "</main>\n<footer>{}</footer>\n</body>\n</html>\n",
        escape(&report.footer)
    );
    html
}

fn block(html: &mut String, block: &Block) {
    match block {
        Block::Paragraph(text) => {
            let _ = writeln!(html, "<p>{}</p>", escape(text));
        }
        Block::Bullets(items) => list(html, "", items),
        Block::Alert(items) => list(html, " class=\"alert\"", items),
        Block::Table(content) => table(html, content),
        Block::SmallPrint(items) => list(html, " class=\"small\"", items),
        Block::Grid(content) => grid(html, content),
        Block::TableBeside {
            table: content,
            figures,
        } => {
            html.push_str("<div class=\"beside table-first\">\n");
            table(html, content);
            html.push_str("<div>\n");
            for picture in figures {
                figure(html, picture);
            }
            html.push_str("</div>\n</div>\n");
        }
        Block::FigureBeside {
            figure: picture,
            table: content,
            notes,
        } => {
            html.push_str("<div class=\"beside\">\n");
            figure(html, picture);
            html.push_str("<div>\n");
            table(html, content);
            list(html, "", notes);
            html.push_str("</div>\n</div>\n");
        }
        Block::TallFigureBeside {
            figure: picture,
            table: content,
        } => {
            html.push_str("<div class=\"beside\">\n");
            figure(html, picture);
            html.push_str("<div>\n");
            table(html, content);
            html.push_str("</div>\n</div>\n");
        }
    }
}

fn list(html: &mut String, class: &str, items: &[String]) {
    if items.is_empty() {
        return;
    }
    let _ = writeln!(html, "<ul{class}>");
    for item in items {
        let _ = writeln!(html, "<li>{}</li>", escape(item));
    }
    html.push_str("</ul>\n");
}

fn figure(html: &mut String, figure: &Figure) {
    let _ = writeln!(
        html,
        "<figure>\n{}\n<figcaption>{}</figcaption>\n</figure>",
        svg::element(&figure.drawing, &figure.alt),
        escape(&figure.caption)
    );
}

fn grid(html: &mut String, grid: &FigureGrid) {
    let _ = writeln!(html, "<p>{}</p>", escape(&grid.lead));
    html.push_str("<table class=\"grid\">\n<thead><tr><td></td>");
    for name in &grid.columns {
        let _ = write!(html, "<th scope=\"col\">{}</th>", escape(name));
    }
    html.push_str("</tr></thead>\n<tbody>\n");
    for row in &grid.rows {
        let _ = write!(html, "<tr><th scope=\"row\">{}</th>", escape(&row.name));
        for figure in &row.figures {
            let picture = figure
                .as_ref()
                .map_or(ABSENT.to_owned(), |f| svg::element(&f.drawing, &f.alt));
            let _ = write!(html, "<td>{picture}</td>");
        }
        html.push_str("</tr>\n");
    }
    html.push_str("</tbody>\n</table>\n");
}

fn table(html: &mut String, table: &Table) {
    let class = |align: Align| match align {
        Align::Left => "",
        Align::Right => " class=\"number\"",
    };
    html.push_str("<table>\n");
    if !table.caption.is_empty() {
        let _ = writeln!(html, "<caption>{}</caption>", escape(&table.caption));
    }
    html.push_str("<thead><tr>");
    for column in &table.columns {
        let _ = write!(
            html,
            "<th scope=\"col\"{}>{}</th>",
            class(column.align),
            escape(&column.heading)
        );
    }
    html.push_str("</tr></thead>\n<tbody>\n");
    for row in &table.rows {
        html.push_str(if row.emphasis {
            "<tr class=\"strong\">"
        } else {
            "<tr>"
        });
        for (i, (cell, column)) in row.cells.iter().zip(&table.columns).enumerate() {
            let text = match column.align {
                Align::Left => escape(cell),
                Align::Right => unbroken(&escape(cell)),
            };
            let _ = if i == 0 {
                write!(html, "<th scope=\"row\">{text}</th>")
            } else {
                write!(html, "<td{}>{text}</td>", class(column.align))
            };
        }
        html.push_str("</tr>\n");
    }
    html.push_str("</tbody>\n</table>\n");
}

/// Numbers with their uncertainty, and ranges, stay on one line.
fn unbroken(text: &str) -> String {
    let text = text.replace(" ± ", "\u{a0}±\u{a0}");
    text.replace(" – ", "\u{a0}–\u{a0}")
}

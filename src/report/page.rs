//! A report as one HTML page that needs nothing else: styles and charts inside, no scripts, no network.

use std::fs;
use std::path::Path;

use super::describe::{cautions, wrapped};
use super::html::escape;
use super::table::{Align, Table};
use crate::error::{Error, Result};

/// The styles of a page: light, dark and paper.
const STYLE: &str = include_str!("page.css");

/// A report: a title and sections in their order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Page {
    /// The title, as plain text.
    pub title: String,
    /// What it says.
    pub sections: Vec<Section>,
}

/// One piece of a page. All text is plain text and gets escaped.
#[derive(Clone, Debug, PartialEq)]
pub enum Section {
    /// A heading.
    Heading(String),
    /// A paragraph.
    Paragraph(String),
    /// A few sentences, each with a mark before it.
    List(Vec<String>),
    /// The numbers to see first, side by side.
    KeyNumbers(Vec<KeyNumber>),
    /// A table.
    Table(Table),
    /// A chart under its caption.
    Chart {
        /// An SVG document as a chart function of this module returns it; it is not escaped.
        svg: String,
        /// What it shows; may be empty.
        caption: String,
    },
    /// Text whose lines and blanks stay as they are.
    Preformatted(String),
    /// The cautions, in a box.
    Cautions,
}

/// A number to see first.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct KeyNumber {
    /// What it is.
    pub label: String,
    /// The number with its unit, or a word.
    pub value: String,
    /// Its interval, or why.
    pub note: String,
}

impl KeyNumber {
    /// A number to see first.
    pub fn new(label: impl Into<String>, value: impl Into<String>, note: impl Into<String>) -> KeyNumber {
        KeyNumber { label: label.into(), value: value.into(), note: note.into() }
    }
}

impl Page {
    /// A page without sections.
    pub fn new(title: impl Into<String>) -> Page {
        Page { title: title.into(), sections: Vec::new() }
    }

    /// The page as an HTML document.
    pub fn to_html(&self) -> String {
        let title = escape(&self.title);
        let body: String = self.sections.iter().map(Section::to_html).collect();
        format!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{title}</title>\n\
             <style>\n{STYLE}</style>\n</head>\n<body>\n<main>\n<h1>{title}</h1>\n{body}</main>\n\
             <footer>Made with risefit {}. All values are estimates from the records given.</footer>\n\
             </body>\n</html>\n",
            env!("CARGO_PKG_VERSION")
        )
    }

    /// Writes the page to a file.
    ///
    /// # Errors
    /// [`Error::Argument`] if the file cannot be written.
    pub fn write(&self, path: impl AsRef<Path>) -> Result<()> {
        write_file(path.as_ref(), &self.to_html())
    }
}

impl Section {
    /// The section as an HTML fragment.
    pub fn to_html(&self) -> String {
        match self {
            Section::Heading(text) => format!("<h2>{}</h2>\n", escape(text)),
            Section::Paragraph(text) => format!("<p>{}</p>\n", escape(text)),
            Section::List(items) => format!("<ul>\n{}</ul>\n", items.iter().map(|i| list_item(i)).collect::<String>()),
            Section::KeyNumbers(numbers) => {
                format!("<dl class=\"key\">\n{}</dl>\n", numbers.iter().map(KeyNumber::to_html).collect::<String>())
            }
            Section::Table(table) => format!("<div class=\"wide\">\n{}</div>\n", table.to_html()),
            Section::Chart { svg, caption } if caption.is_empty() => format!("<figure>\n{svg}</figure>\n"),
            Section::Chart { svg, caption } => {
                format!("<figure>\n{svg}<figcaption>{}</figcaption>\n</figure>\n", escape(caption))
            }
            Section::Preformatted(text) => format!("<pre>{}</pre>\n", escape(text)),
            Section::Cautions => cautions_box(),
        }
    }

    /// The section as plain text with a line end at the end; of a chart, its caption.
    pub fn to_text(&self) -> String {
        match self {
            Section::Heading(text) => format!("{text}\n{}\n", "=".repeat(text.chars().count())),
            Section::Paragraph(text) => wrapped(text, "", ""),
            Section::List(items) => items.iter().map(|item| wrapped(item, "- ", "  ")).collect(),
            Section::KeyNumbers(numbers) => key_table(numbers).to_text(),
            Section::Table(table) => table.to_text(),
            Section::Chart { caption, .. } => format!("[chart: {caption}]\n"),
            Section::Preformatted(text) => format!("{}\n", text.trim_end()),
            Section::Cautions => {
                format!("Cautions\n{}", cautions().lines().map(|l| wrapped(l, "- ", "  ")).collect::<String>())
            }
        }
    }
}

/// Sections as plain text without the charts, an empty line between them.
pub fn sections_text(sections: &[Section]) -> String {
    let readable = sections.iter().filter(|section| !matches!(section, Section::Chart { .. }));
    readable.map(Section::to_text).collect::<Vec<_>>().join("\n")
}

impl KeyNumber {
    fn to_html(&self) -> String {
        let [label, value, note] = [&self.label, &self.value, &self.note].map(|text| escape(text));
        format!("<div><dt>{label}</dt><dd class=\"value\">{value}</dd><dd>{note}</dd></div>\n")
    }
}

fn key_table(numbers: &[KeyNumber]) -> Table {
    let mut table = Table::new(&[("", Align::Left), ("", Align::Left), ("", Align::Left)]);
    numbers.iter().for_each(|n| table.push([n.label.as_str(), n.value.as_str(), n.note.as_str()]));
    table
}

fn list_item(text: &str) -> String {
    format!("<li>{}</li>\n", escape(text))
}

fn cautions_box() -> String {
    let mut html = String::from("<aside class=\"cautions\">\n<h2>Cautions</h2>\n<ul>\n");
    cautions().lines().for_each(|line| html += &list_item(line));
    html + "</ul>\n</aside>\n"
}

/// Writes a text to a file the user named.
pub(super) fn write_file(path: &Path, text: &str) -> Result<()> {
    fs::write(path, text).map_err(|e| {
        Error::argument("path", path.display(), "a file that can be written", format!("the system says: {e}"))
    })
}

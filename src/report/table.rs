//! A small table, the same content as aligned text and as HTML.

use super::html::escape;
use std::fmt::Write;

/// How the cells of a column stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// A table: heads, rows of text, and an optional title. Empty cells read `-`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    title: Option<String>,
    heads: Vec<(String, Align)>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// A table with these heads and no rows.
    pub fn new(heads: &[(&str, Align)]) -> Table {
        let heads = heads.iter().map(|(head, align)| (one_line(head), *align)).collect();
        Table { title: None, heads, rows: Vec::new() }
    }

    /// The same table under a title.
    pub fn titled(mut self, title: impl Into<String>) -> Table {
        self.title = Some(one_line(&title.into()));
        self
    }

    /// Adds a row. Missing and empty cells become `-`; cells beyond the heads stand under empty heads.
    pub fn push<T: Into<String>>(&mut self, cells: impl IntoIterator<Item = T>) {
        let row: Vec<String> = cells.into_iter().map(|cell| one_line(&cell.into())).collect();
        while self.heads.len() < row.len() {
            self.heads.push((String::new(), Align::Left));
        }
        self.rows.push(row);
    }

    /// How many rows it has.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether it has no rows.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Plain text: title, heads, a rule, rows; columns aligned, two blanks between them, a line end at the end.
    pub fn to_text(&self) -> String {
        let widths: Vec<usize> = (0..self.heads.len()).map(|column| self.width(column)).collect();
        let heads: Vec<&str> = self.heads.iter().map(|(head, _)| head.as_str()).collect();
        let rules: Vec<String> = widths.iter().map(|width| "-".repeat(*width)).collect();
        let mut lines: Vec<String> = self.title.iter().cloned().collect();
        if heads.iter().any(|head| !head.is_empty()) {
            lines.push(self.line(&heads, &widths));
            lines.push(self.line(&rules.iter().map(String::as_str).collect::<Vec<_>>(), &widths));
        }
        lines.extend((0..self.rows.len()).map(|row| self.line(&self.cells(row), &widths)));
        lines.iter().fold(String::new(), |text, line| text + line.trim_end() + "\n")
    }

    /// An HTML fragment: one `<table>`, all text escaped.
    pub fn to_html(&self) -> String {
        let mut html = String::from("<table>\n");
        if let Some(title) = &self.title {
            let _ = writeln!(html, "<caption>{}</caption>", escape(title));
        }
        if self.heads.iter().any(|(head, _)| !head.is_empty()) {
            let heads = self.heads.iter().map(|(head, align)| cell("th scope=\"col\"", "th", head, *align));
            let _ = writeln!(html, "<thead><tr>{}</tr></thead>", heads.collect::<String>());
        }
        html.push_str("<tbody>\n");
        for row in 0..self.rows.len() {
            let cells = self.cells(row).into_iter().zip(&self.heads);
            let cells = cells.map(|(text, (_, align))| cell("td", "td", text, *align));
            let _ = writeln!(html, "<tr>{}</tr>", cells.collect::<String>());
        }
        html.push_str("</tbody>\n</table>\n");
        html
    }

    /// The cells of a row, one for each head.
    fn cells(&self, row: usize) -> Vec<&str> {
        let cell = |column| self.rows[row].get(column).map_or("", String::as_str);
        (0..self.heads.len()).map(|column| if cell(column).is_empty() { "-" } else { cell(column) }).collect()
    }

    fn width(&self, column: usize) -> usize {
        let cells = (0..self.rows.len()).map(|row| self.cells(row)[column].chars().count());
        cells.chain([self.heads[column].0.chars().count()]).max().unwrap_or_default()
    }

    fn line(&self, cells: &[&str], widths: &[usize]) -> String {
        let padded = cells.iter().zip(widths).zip(&self.heads).map(|((cell, width), (_, align))| match align {
            Align::Left => format!("{cell:<width$}"),
            Align::Right => format!("{cell:>width$}"),
        });
        padded.collect::<Vec<_>>().join("  ")
    }
}

fn cell(open: &str, close: &str, text: &str, align: Align) -> String {
    let class = if align == Align::Right { " class=\"number\"" } else { "" };
    format!("<{open}{class}>{}</{close}>", escape(text))
}

/// Text without line ends and tabs, which would break the columns.
fn one_line(text: &str) -> String {
    text.split(['\n', '\r', '\t']).map(str::trim).filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table() -> Table {
        let mut table = Table::new(&[("trial", Align::Left), ("part (g)", Align::Right)]).titled("Castings");
        table.push(["first", "59.8"]);
        table.push(["ä <b>", ""]);
        table.push(["third\nrow"]);
        table
    }

    #[test]
    fn columns_are_aligned() {
        let expected = "Castings\ntrial      part (g)\n---------  --------\nfirst          59.8\nä <b>             -\nthird row         -\n";
        assert_eq!(table().to_text(), expected);
    }

    #[test]
    fn html_is_escaped_and_marks_numbers() {
        let html = table().to_html();
        assert!(html.contains("<td>ä &lt;b&gt;</td><td class=\"number\">-</td>"), "{html}");
        assert!(!html.contains("<b>"));
    }

    #[test]
    fn a_row_may_be_longer_than_the_heads() {
        let mut table = Table::new(&[("a", Align::Left)]);
        table.push(["1", "2"]);
        assert_eq!(table.to_text(), "a\n-  -\n1  2\n");
    }
}

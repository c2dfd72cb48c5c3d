//! Text made safe for HTML and SVG.

/// Text with the characters that HTML gives a meaning replaced by entities, and without control characters.
pub(super) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            c if is_allowed(c) => safe.push(c),
            _ => safe.push(' '),
        }
    }
    safe
}

/// Whether XML 1.0 allows the character: no control characters but tab and line ends, no noncharacters.
pub(super) fn is_allowed(c: char) -> bool {
    matches!(c, '\t' | '\n' | '\r') || !(c.is_control() || matches!(c, '\u{FFFE}' | '\u{FFFF}'))
}

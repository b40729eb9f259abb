//! Text from outside (names, paths, what a parser says) as one line of output.

use std::borrow::Cow;
use std::path::Path;

/// `text` with everything that could move the cursor, end the line, forge
/// another or turn the order of reading shown as an escape: `\n`, `\u{1b}`,
/// `\u{202e}`.
pub fn one_line(text: &str) -> Cow<'_, str> {
    if !text.contains(is_unruly) {
        return Cow::Borrowed(text);
    }
    let mut shown = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        if is_unruly(c) {
            shown.extend(c.escape_default());
        } else {
            shown.push(c);
        }
    }
    Cow::Owned(shown)
}

/// [`one_line`] for a path.
pub fn one_line_path(path: &Path) -> String {
    one_line(&path.to_string_lossy()).into_owned()
}

/// Control characters, the two separators of lines and paragraphs, and what
/// directs the order of reading (Unicode Standard Annex 9, 2.1 to 2.5).
fn is_unruly(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{2028}' | '\u{2029}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

#[cfg(test)]
mod tests {
    use super::one_line;

    #[test]
    fn control_characters_are_shown_not_obeyed() {
        assert_eq!(
            one_line("Günday\n\u{1b}[2Ja\tb"),
            "Günday\\n\\u{1b}[2Ja\\tb"
        );
        assert_eq!(one_line("a\u{2028}b\u{202e}c"), "a\\u{2028}b\\u{202e}c");
        assert_eq!(one_line("mésio-buccal 2 \u{5d0}"), "mésio-buccal 2 \u{5d0}");
    }
}

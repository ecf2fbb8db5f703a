//! Text as it may stand in HTML and in Markdown.

use crate::generate::prose::plain;

/// Text of the file on one line, without what no page may hold: controls, turns of the writing direction, code points that are no characters.
fn line(text: &str) -> String {
    let is_none = |c: char| matches!(c, '\u{fdd0}'..='\u{fdef}') || u32::from(c) & 0xFFFE == 0xFFFE;
    let words: String = plain(text).chars().filter(|&c| !is_none(c)).collect();
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// For HTML, in text and in attributes.
#[must_use]
pub(super) fn html(text: &str) -> String {
    let mut out = String::new();
    for c in line(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// For Markdown with tables: what could be markup gets a backslash, also what could be it at the beginning of a line.
#[must_use]
pub(super) fn markdown(text: &str) -> String {
    let mut out = String::new();
    let text = line(text);
    let digits = text.bytes().take_while(u8::is_ascii_digit).count();
    for (place, c) in text.char_indices() {
        let begins = (place == 0 && matches!(c, '#' | '+' | '-' | '=' | ':'))
            || (place == digits && digits > 0 && matches!(c, '.' | ')'));
        if begins || matches!(c, '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '&' | '|' | '~' | '$' | '!')
        {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_becomes_markup() {
        assert_eq!(html("<b a='1'>\u{202e}&amp;\n \"x\""), "&lt;b a=&#39;1&#39;&gt;&amp;amp; &quot;x&quot;");
        assert_eq!(html("a\u{ffff}b\u{fdd0}c\u{7f}"), "abc");
        assert_eq!(markdown("a|b\n*c* <d> `e` [f](g)"), "a\\|b \\*c\\* \\<d\\> \\`e\\` \\[f\\](g)");
        assert_eq!(markdown("# 1. a"), "\\# 1. a");
        assert_eq!(markdown("12. a-b"), "12\\. a-b");
        assert_eq!(markdown("1.25 m"), "1\\.25 m");
    }
}

//! Lines of 80 columns.

/// Columns of a screen.
const COLUMNS: usize = 80;

/// Cuts a text to so many columns, the last of which then says that more follows.
#[must_use]
pub fn fit(text: &str, columns: usize) -> String {
    if text.chars().count() <= columns {
        return text.to_owned();
    }
    text.chars().take(columns.saturating_sub(2)).chain("..".chars()).collect()
}

/// A paragraph after a `lead` such as ` 1. `: broken between words, further lines set in as far as the lead is long.
#[must_use]
pub fn wrap(lead: &str, text: &str) -> String {
    let indent = lead.chars().count();
    let (mut out, mut column) = (lead.to_owned(), indent);
    for (at, word) in text.split_whitespace().enumerate() {
        let width = word.chars().count();
        if at > 0 && column + 1 + width > COLUMNS {
            out.push('\n');
            out.extend(std::iter::repeat_n(' ', indent));
            column = indent;
        } else if at > 0 {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += width;
    }
    out
}

/// A sentence after a `lead`: as it is where it fits on the screen, else broken as a paragraph.
#[must_use]
pub fn sentence(lead: &str, text: &str) -> String {
    let whole = format!("{lead}{text}");
    if whole.chars().count() <= COLUMNS { whole } else { wrap(lead, text) }
}

/// A text of several lines, those broken that do not fit the screen; further lines are set in as far as the first.
#[must_use]
pub fn wrap_all(text: &str) -> String {
    let broken = text.lines().map(|line| {
        let words = line.trim_start();
        sentence(&line[..line.len() - words.len()], words)
    });
    broken.collect::<Vec<_>>().join("\n")
}

/// A time as people read it: `0.066 ms`, `49.000 ms`, `5.000 s`.
#[must_use]
pub fn time(span: std::time::Duration) -> String {
    if span.as_secs() > 0 {
        return format!("{}.{:03} s", span.as_secs(), span.subsec_millis());
    }
    let us = span.subsec_micros();
    format!("{}.{:03} ms", us / 1000, us % 1000)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paragraphs_stay_within_the_screen_and_lose_no_word() {
        let text = "mast and porch ".repeat(30);
        let wrapped = wrap(" 1. ", &text);
        assert!(wrapped.lines().all(|line| line.chars().count() <= COLUMNS));
        assert_eq!(
            wrapped.split_whitespace().skip(1).collect::<Vec<_>>(),
            text.split_whitespace().collect::<Vec<_>>()
        );
        let two = wrap_all(&format!("error: short\n\n  {text}"));
        assert!(
            two.starts_with("error: short\n\n  mast") && two.lines().skip(2).all(|it| it.starts_with("  ")),
            "{two}"
        );
        assert!(two.lines().all(|line| line.chars().count() <= COLUMNS), "{two}");
        assert_eq!(fit("abcdef", 5), "abc..");
        assert_eq!(fit("abcde", 5), "abcde");
        assert_eq!(sentence("  next:  ", "two  blanks"), "  next:  two  blanks");
        assert!(sentence("  next:  ", &text).lines().all(|line| line.chars().count() <= COLUMNS));
    }
}

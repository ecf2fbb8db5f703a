//! What foreign text looks like.

use super::Hint;

/// Ends of the last line that ask somebody to type.
const PROMPTS: [&str; 6] = ["$", "#", ">", ">>>", "...", "%"];

/// Guesses what a piece of text is; a hint for the reader, never a reason to act.
#[must_use]
pub(super) fn hint(text: &[u8]) -> Option<Hint> {
    let text = String::from_utf8_lossy(text);
    let text = text.trim_end_matches([' ', '\t']);
    let last = text.rsplit(['\n', '\r']).next().unwrap_or("");
    let lower = text.to_ascii_lowercase();
    let ends = |word: &str| last.to_ascii_lowercase().ends_with(word);
    if ends("login:") || ends("password:") || ends("username:") {
        return Some(Hint::Login);
    }
    if lower.contains("panicked at")
        || lower.contains("traceback (most recent call last)")
        || lower.contains("hard fault")
    {
        return Some(Hint::Crash);
    }
    let prompt = PROMPTS.contains(&last)
        || last.ends_with(['$', '#']) && last.contains([':', '@', '~'])
        || last.ends_with('>') && !last.contains('<') && last.len() < 24 && !last.contains(' ');
    prompt.then_some(Hint::Prompt)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prompts_are_named_and_ordinary_text_is_not() {
        for (text, wanted) in [
            ("\r\nmast login: ", Some(Hint::Login)),
            ("Password:", Some(Hint::Login)),
            (">>> ", Some(Hint::Prompt)),
            ("boot ok\r\n>>>", Some(Hint::Prompt)),
            ("desk@dome:~$ ", Some(Hint::Prompt)),
            ("root@dome:/# ", Some(Hint::Prompt)),
            ("uboot> ", Some(Hint::Prompt)),
            ("Traceback (most recent call last):\r\n", Some(Hint::Crash)),
            ("thread main panicked at src/main.rs:3", Some(Hint::Crash)),
            ("boot: clock 64 MHz\r\n", None),
            ("wind > limit", None),
            ("<html>", None),
            ("", None),
        ] {
            assert_eq!(hint(text.as_bytes()), wanted, "{text:?}");
        }
    }
}

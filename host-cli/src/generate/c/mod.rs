//! C99: a header and a source, without allocation and without a library beyond `<stdint.h> <stdbool.h> <string.h>`.

mod header;
mod names;
mod source;

pub use header::header;
pub use names::{Named, of as named, prefix};
pub use source::source;

use super::prose;

/// A comment; what would end it, or begin another, is taken apart.
fn comment(indent: &str, text: &str, out: &mut String) {
    let lines = prose::folded(text, 90 - indent.len());
    for (place, line) in lines.iter().enumerate() {
        let line = line.replace("*/", "* /").replace("/*", "/ *").replace("??", "? ?");
        let line = line.trim_end_matches('\\');
        let open = if place == 0 { "/*" } else { " *" };
        let close = if place + 1 == lines.len() { " */" } else { "" };
        let space = if line.is_empty() { "" } else { " " };
        out.push_str(&format!("{indent}{open}{space}{line}{close}\n"));
    }
}

//! Fixed code in named sections, of which a file takes those that it needs: compilers warn of functions that nobody calls.

/// The sections of `text` whose names `needs` has; each begins at a line `@@ NAME`, or `@@ !NAME` for what goes without.
#[must_use]
pub(super) fn taken(text: &str, needs: &[&str]) -> String {
    let mut out = String::new();
    let mut is_needed = true;
    for line in text.lines() {
        if let Some(name) = line.strip_prefix("@@ ") {
            is_needed = match name.strip_prefix('!') {
                Some(name) => !needs.contains(&name),
                None => name == "always" || needs.contains(&name),
            };
        } else if is_needed {
            out.push_str(line);
            out.push('\n');
        }
    }
    out
}

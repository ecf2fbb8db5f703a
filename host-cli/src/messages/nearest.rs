//! The name that somebody may have meant.

/// The nearest of the names, if one is near enough to be a slip of the hand: a third of its letters wrong at the most.
pub fn nearest<'a>(wrong: &str, names: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    // Only so much of a name matters, and the comparison takes time in the square of it.
    let wrong: String = wrong.chars().take(64).collect::<String>().to_lowercase();
    names
        .into_iter()
        .map(|name| (strsim::damerau_levenshtein(&wrong, &name.to_lowercase()), name))
        .filter(|(slips, name)| *slips <= (name.chars().count() / 3).max(1))
        .min_by_key(|(slips, _)| *slips)
        .map(|(_, name)| name)
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn slips_are_found_and_strangers_are_not() {
        let names = ["dome-rate", "dome-goto", "lamp", "re-arm"];
        assert_eq!(nearest("dome-rat", names), Some("dome-rate"));
        assert_eq!(nearest("dome-gtoo", names), Some("dome-goto"));
        assert_eq!(nearest("lamb", names), Some("lamp"));
        assert_eq!(nearest("rearm", names), Some("re-arm"));
        assert_eq!(nearest("LAMP", names), Some("lamp"));
        for far in ["shutter", "", "x", &"dome-rate".repeat(1000)] {
            assert_eq!(nearest(far, names), None, "{far}");
        }
    }
}

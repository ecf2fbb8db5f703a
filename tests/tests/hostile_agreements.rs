//! Hostile agreement files (`tests/vectors/agreements.py` writes them): each is refused with clear faults.

use bellwire_cli::agreement::Agreement;
use bellwire_tests::{fuzz_body::faults_are_clear, tool::root};

#[test]
fn two_hundred_hostile_files_are_refused_with_clear_faults() {
    let mut refused = 0;
    for entry in std::fs::read_dir(root().join("fuzz/corpus/agreement")).expect("a corpus") {
        let path = entry.expect("an entry").path();
        // What a fuzzer found stands beside them under other names, and may be an agreement.
        if path.extension().is_none_or(|extension| extension != "toml") {
            continue;
        }
        let text = std::fs::read_to_string(&path).expect("UTF-8");
        match Agreement::read(&text) {
            Ok(_) => panic!("{} is taken", path.display()),
            Err(faults) => faults_are_clear(&text, &faults),
        }
        refused += 1;
    }
    println!("{refused} files");
    assert!(refused >= 200, "{refused}");
}

//! `generate` as a process: what it writes, what it compares, and that nothing is left half-written.

use std::{
    fs,
    path::Path,
    process::{Command, Output},
};

use bellwire_cli::observatory;

const OBSERVATORY: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/observatory/agreement.toml");
const PRINTED: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/observatory/printed");
const FILES: [&str; 7] = [
    "observatory-labels.html",
    "observatory-page.html",
    "observatory-page.md",
    "observatory.c",
    "observatory.h",
    "observatory.py",
    "observatory.rs",
];

fn told(output: Output) -> (Option<i32>, String, String) {
    let text = |octets| String::from_utf8(octets).expect("UTF-8");
    (output.status.code(), text(output.stdout), text(output.stderr))
}

fn generate(file: impl AsRef<Path>, to: &Path, more: &[&str]) -> (Option<i32>, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_bellwire"));
    command.arg("generate").arg(file.as_ref()).arg("--to").arg(to).args(more);
    told(command.output().expect("the tool starts"))
}

/// Everything in a folder, name and text, in the order of the names.
fn inside(folder: &Path) -> Vec<(String, String)> {
    let entries = fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("an entry"));
    let mut files: Vec<_> = entries
        .map(|entry| {
            let text = fs::read_to_string(entry.path()).unwrap_or_else(|_| "a folder".to_owned());
            (entry.file_name().into_string().expect("UTF-8"), text)
        })
        .collect();
    files.sort();
    files
}

fn names(folder: &Path) -> Vec<String> {
    inside(folder).into_iter().map(|(name, _)| name).collect()
}

#[test]
fn the_printed_pages_of_the_observatory_are_current() {
    let (code, out, err) = generate(OBSERVATORY, Path::new(PRINTED), &["--only", "page,labels", "--check"]);
    assert_eq!(code, Some(0), "run generate again, without --check: {out}{err}");
    assert_eq!(out.lines().filter(|line| line.starts_with("same ")).count(), 3);
}

#[test]
fn what_is_written_is_current_and_a_changed_or_missing_file_is_named() {
    let folder = tempfile::tempdir().expect("a folder");
    let to = folder.path();
    let (code, out, _) = generate(OBSERVATORY, to, &[]);
    assert_eq!((code, out.lines().count()), (Some(0), FILES.len()));
    assert_eq!(names(to), FILES);
    assert_eq!(generate(OBSERVATORY, to, &["--check"]).0, Some(0));
    let before = inside(to);
    assert_eq!(generate(OBSERVATORY, to, &[]).0, Some(0));
    assert_eq!(inside(to), before, "twice the same");
    fs::write(to.join("observatory.py"), "").expect("a file");
    fs::remove_file(to.join("observatory-page.md")).expect("a file");
    let before = inside(to);
    let (code, out, _) = generate(OBSERVATORY, to, &["--check"]);
    assert_eq!(code, Some(1));
    let bad: Vec<_> = out.lines().filter(|line| !line.starts_with("same ")).collect();
    assert!(bad[0].starts_with("differs ") && bad[0].ends_with("observatory.py"), "{out}");
    assert!(bad[1].starts_with("missing ") && bad[1].ends_with("observatory-page.md"), "{out}");
    assert_eq!((bad.len(), inside(to)), (2, before), "--check writes nothing");
}

#[test]
fn defmt_is_there_where_it_is_asked_for() {
    let folder = tempfile::tempdir().expect("a folder");
    let derives = |more: &[&str]| {
        assert_eq!(generate(OBSERVATORY, folder.path(), more).0, Some(0));
        let text = fs::read_to_string(folder.path().join("observatory.rs")).expect("a file");
        let types = text.lines().filter(|line| line.starts_with("#[derive(")).count();
        (types, text.matches("#[cfg_attr(feature = \"defmt\", derive(defmt::Format))]").count())
    };
    let (types, logged) = derives(&["--only", "rust"]);
    assert!(types > observatory::table().messages().len() && logged == 0);
    assert_eq!(derives(&["--only", "rust", "--defmt"]), (types, types));
    assert_eq!(generate(OBSERVATORY, folder.path(), &["--only", "rust", "--check"]).0, Some(1));
}

#[test]
fn a_folder_that_is_none_is_named_with_what_to_do() {
    let folder = tempfile::tempdir().expect("a folder");
    let missing = folder.path().join("missing");
    let (code, out, err) = generate(OBSERVATORY, &missing, &[]);
    assert_eq!((code, out.as_str()), (Some(69), ""));
    assert!(err.contains("observatory.rs") && err.contains("--to"), "{err}");
    let file = folder.path().join("file");
    fs::write(&file, "mine").expect("a file");
    let (code, _, err) = generate(OBSERVATORY, &file, &[]);
    assert_eq!(code, Some(74), "{err}");
    assert!(err.contains("Not a directory") && err.contains("--to"), "{err}");
    assert_eq!(inside(folder.path()), [("file".to_owned(), "mine".to_owned())]);
}

#[test]
fn an_agreement_that_is_empty_or_has_a_fault_writes_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let (file, to) = (folder.path().join("machine.toml"), folder.path().join("out"));
    fs::create_dir(&to).expect("a folder");
    fs::write(to.join("observatory.rs"), "old").expect("a file");
    let head = "agreement = \"observatory\"\nversion = 1\nhub = \"desk\"\n";
    fs::write(&file, format!("{head}message = []\n")).expect("a file");
    let (code, out, err) = generate(&file, &to, &[]);
    assert_eq!((code, out.as_str()), (Some(65), ""));
    assert!(err.contains("no messages") && err.contains("[[message]]"), "{err}");
    fs::write(&file, observatory::AGREEMENT.replace("\"i16\"", "\"int16\"")).expect("a file");
    let (code, out, err) = generate(&file, &to, &[]);
    assert_eq!((code, out.as_str()), (Some(65), ""));
    let line = observatory::AGREEMENT.lines().position(|line| line == "type = \"i16\"").expect("a line") + 1;
    assert!(err.contains(&format!("machine.toml:{line}:8:")) && err.contains("write \"i16\""), "{err}");
    assert_eq!(inside(&to), [("observatory.rs".to_owned(), "old".to_owned())]);
}

#[test]
fn an_unknown_kind_is_refused_and_the_known_ones_are_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let (code, out, err) = generate(OBSERVATORY, folder.path(), &["--only", "rust,poster"]);
    assert_eq!((code, out.as_str()), (Some(2), ""));
    assert!(err.contains("poster") && err.contains("rust, c, python, page, labels"), "{err}");
    assert!(names(folder.path()).is_empty());
}

#[test]
fn one_file_that_cannot_be_written_leaves_all_as_they_were() {
    let folder = tempfile::tempdir().expect("a folder");
    let to = folder.path();
    fs::create_dir(to.join("observatory.c")).expect("a folder in the way");
    fs::write(to.join("observatory.h"), "old").expect("a file");
    let before = inside(to);
    let (code, out, err) = generate(OBSERVATORY, to, &[]);
    assert_eq!((code, out.as_str()), (Some(74), ""), "{err}");
    assert!(err.contains("observatory.c"), "{err}");
    assert_eq!(inside(to), before);
}

/// A file that grows beyond a limit stands for a full disk: the header fits, the source does not.
#[test]
fn a_write_that_ends_half_way_leaves_the_old_files_whole() {
    let folder = tempfile::tempdir().expect("a folder");
    let to = folder.path();
    for name in ["observatory.h", "observatory.c"] {
        fs::write(to.join(name), "old").expect("a file");
    }
    let before = inside(to);
    let limited = "trap '' XFSZ; ulimit -f 32; exec \"$0\" generate \"$1\" --only c --to \"$2\"";
    let mut command = Command::new("sh");
    command.args(["-c", limited, env!("CARGO_BIN_EXE_bellwire"), OBSERVATORY]).arg(to);
    let (code, out, err) = told(command.output().expect("a shell"));
    assert_eq!((code, out.as_str()), (Some(74), ""), "{err}");
    assert!(err.contains("observatory.c"), "{err}");
    assert_eq!(inside(to), before);
}

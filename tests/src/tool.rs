//! The tool as a process: where its binary is.

use std::{
    path::{Path, PathBuf},
    process::Command,
    sync::OnceLock,
};

/// The environment variable that names a ready-made binary, so that no test builds one.
pub const VARIABLE: &str = "BELLWIRE_BIN";

/// Path of the `bellwire` binary, built once with the profile of the running test if `BELLWIRE_BIN` does not name one.
///
/// # Panics
/// If it does not build.
pub fn path() -> &'static Path {
    static PATH: OnceLock<PathBuf> = OnceLock::new();
    PATH.get_or_init(|| match std::env::var_os(VARIABLE) {
        Some(path) => PathBuf::from(path),
        None => build(),
    })
}

/// A command that runs the tool.
#[must_use]
pub fn command() -> Command {
    let mut command = Command::new(path());
    command.env_remove("NO_COLOR");
    command
}

/// The root of the repository.
#[must_use]
pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("tests/ has a parent")
}

fn build() -> PathBuf {
    let exe = std::env::current_exe().expect("own path");
    let folder = exe.parent().and_then(Path::parent).expect("target/PROFILE/deps/TEST");
    let profile = match folder.file_name().and_then(|name| name.to_str()) {
        Some("debug") | None => "dev",
        Some(other) => other,
    };
    let status = Command::new(env!("CARGO"))
        .args(["build", "--quiet", "-p", "bellwire-cli", "--bin", "bellwire", "--profile", profile])
        .arg("--target-dir")
        .arg(folder.parent().expect("target"))
        .current_dir(root())
        .status()
        .expect("cargo runs");
    assert!(status.success(), "the tool does not build");
    folder.join("bellwire")
}

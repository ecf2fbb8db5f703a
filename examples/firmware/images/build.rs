//! With the feature `defmt` the linker lays out what the computer needs to read the log.

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    if std::env::var_os("CARGO_FEATURE_DEFMT").is_some() {
        println!("cargo::rustc-link-arg-bins=-Tdefmt.x");
    }
}

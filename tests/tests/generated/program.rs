//! The programs that run generated code: they read lines and print what came of each.
//!
//! `e NUMBER VALUES` encodes; `d HEX` decodes and encodes again. The answer is hex, or a fault and the field.

use bellwire_cli::{
    agreement::Agreement,
    generate::{Extras, Kind, c, rust},
    messages::{Form, MessageKind},
};
use std::{
    fmt::Write as _,
    fs,
    io::Write,
    path::{Path, PathBuf},
    process::{Command, Stdio},
};

/// Puts the generated files there.
pub(crate) fn generate(agreement: &Agreement, folder: &Path) {
    for kind in Kind::ALL {
        for (name, text) in kind.files(agreement, Extras::default()) {
            fs::write(folder.join(name), text).unwrap();
        }
    }
}

/// Runs a command to its end; it must go well.
pub(crate) fn run(command: &mut Command, input: &str) -> Vec<String> {
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    let mut pipe = child.stdin.take().unwrap();
    let input = input.to_owned();
    let writer = std::thread::spawn(move || pipe.write_all(input.as_bytes()));
    let out = child.wait_with_output().unwrap();
    assert!(out.status.success(), "{command:?}: {}", out.status);
    writer.join().unwrap().unwrap();
    String::from_utf8(out.stdout).unwrap().lines().map(str::to_owned).collect()
}

/// The C program, by the host's compiler, warnings are errors.
pub(crate) fn c(agreement: &Agreement, folder: &Path) -> Command {
    let name = agreement.table.name();
    let mut cases = String::new();
    for (message, named) in agreement.table.messages().iter().zip(c::named(agreement)) {
        let _ = writeln!(cases, "case {}:", message.number);
        for ((field, member), has) in message.fields.iter().zip(&named.fields).zip(&named.has) {
            let place = format!("m.as.{}.{member}", named.short);
            let mut form = &field.form;
            if let Form::Optional(inner) = form {
                form = inner;
                let _ = write!(
                    cases,
                    "m.as.{}.{has} = whole() == 1; if (m.as.{}.{has}) ",
                    named.short, named.short
                );
            }
            let place = if let Form::List(_, count) = form {
                let _ = write!(cases, "for (size_t i = 0; i < {count}; i++) ");
                format!("{place}[i]")
            } else {
                place
            };
            let _ = match form.inner() {
                Form::F32 => {
                    writeln!(cases, "{{ uint32_t b = (uint32_t)whole(); memcpy(&{place}, &b, 4); }}")
                }
                Form::F64 => writeln!(cases, "{{ uint64_t b = whole(); memcpy(&{place}, &b, 8); }}"),
                Form::Text(_) => {
                    writeln!(cases, "{{ {place}.octets = (const char *)lent(&{place}.count); }}")
                }
                Form::Octets(_) => writeln!(cases, "{{ {place}.octets = lent(&{place}.count); }}"),
                Form::Bool => writeln!(cases, "{{ {place} = whole() == 1; }}"),
                _ => writeln!(cases, "{{ {place} = whole(); }}"),
            };
        }
        cases.push_str("break;\n");
    }
    let text = include_str!("program.c.txt")
        .replace("CASES", &cases)
        .replace("HEADER", name)
        .replace("PREFIX", &c::prefix(agreement));
    fs::write(folder.join("program.c"), text).unwrap();
    let generated = format!("{name}.c");
    let strict = ["-std=c99", "-O1", "-Wall", "-Wextra", "-Werror", "-pedantic", "-c"];
    run(Command::new("cc").args(strict).arg(&generated).current_dir(folder), "");
    run(
        Command::new("cc")
            .args([
                "-std=c99",
                "-fsanitize=undefined",
                "-fno-sanitize-recover",
                "program.c",
                &generated,
                "-o",
                "program",
            ])
            .current_dir(folder),
        "",
    );
    Command::new(folder.join("program"))
}

/// The Python program.
pub(crate) fn python(agreement: &Agreement, folder: &Path) -> Command {
    let module = c::prefix(agreement);
    fs::write(folder.join("program.py"), include_str!("program.py.txt").replace("MODULE", &module)).unwrap();
    let mut command = Command::new("python3");
    command.arg("program.py").current_dir(folder);
    command
}

/// The Rust program: a crate of its own whose library is `no_std`.
pub(crate) fn rust(agreement: &Agreement, folder: &Path) -> Command {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let module = c::prefix(agreement);
    let mut cases = String::new();
    for (message, named) in agreement.table.messages().iter().zip(rust::named(&agreement.table)) {
        let _ = writeln!(cases, "{} => {},", message.number, literal(message, &named));
    }
    let text = include_str!("program.rs.txt").replace("CASES", &cases).replace("MODULE", &module);
    let sources = folder.join("src");
    fs::create_dir_all(&sources).unwrap();
    fs::write(sources.join("main.rs"), text).unwrap();
    fs::copy(folder.join(format!("{module}.rs")), sources.join(format!("{module}.rs"))).unwrap();
    let head = "#![no_std]\n#![deny(warnings, missing_docs)]\n//! Generated.\n";
    fs::write(sources.join("lib.rs"), format!("{head}pub mod {module};\n")).unwrap();
    let manifest = include_str!("program.toml.txt").replace("MODULE", &module);
    fs::write(folder.join("Cargo.toml"), manifest).unwrap();
    fs::copy(root.join("Cargo.lock"), folder.join("Cargo.lock")).unwrap();
    run(
        Command::new(env!("CARGO"))
            .args(["build", "--quiet"])
            .env("CARGO_TARGET_DIR", target())
            .current_dir(folder),
        "",
    );
    Command::new(target().join(format!("debug/generated-{module}")))
}

/// The Rust library again, made for `defmt`, in a crate that has the feature: with it every type can be logged, and neither way is there a warning.
pub(crate) fn with_defmt(agreement: &Agreement, folder: &Path) {
    let module = c::prefix(agreement);
    let code = rust::module(agreement, Extras { defmt: true });
    fs::write(folder.join(format!("src/{module}.rs")), code).unwrap();
    let append = |name: &str, text: &str| {
        let path = folder.join(name);
        fs::write(&path, fs::read_to_string(&path).unwrap() + text).unwrap();
    };
    let logs = include_str!("logs.rs.txt").replace("MODULE", &module);
    append("src/lib.rs", &logs);
    append("Cargo.toml", "\n[dependencies.defmt]\nversion = \"1\"\noptional = true\n");
    for features in ["", "defmt"] {
        run(
            Command::new(env!("CARGO"))
                .args(["check", "--quiet", "--lib", "--features", features])
                .env("CARGO_TARGET_DIR", target())
                .current_dir(folder),
            "",
        );
    }
}

/// Where generated crates are built.
fn target() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().join("target/generated")
}

fn literal(message: &MessageKind, named: &rust::Named) -> String {
    if message.fields.is_empty() {
        return format!("Message::{}", named.kind);
    }
    let mut text = format!("Message::{}({} {{", named.kind, named.kind);
    for ((field, name), choice) in message.fields.iter().zip(&named.fields).zip(&named.choices) {
        let base = match field.form.inner() {
            Form::F32 => "f32::from_bits(whole(w) as u32)".to_owned(),
            Form::F64 => "f64::from_bits(whole(w) as u64)".to_owned(),
            Form::Bool => "(whole(w) == 1)".to_owned(),
            Form::Text(_) => "std::str::from_utf8(lent(w)).unwrap()".to_owned(),
            Form::Octets(_) => "lent(w)".to_owned(),
            // Serde itself knows the words by their places.
            Form::Choice(_) => format!("postcard::from_bytes::<{choice}>(&[whole(w) as u8]).unwrap()"),
            _ => "(whole(w) as _)".to_owned(),
        };
        let inner = if let Form::Optional(inner) = &field.form { inner } else { &field.form };
        let value =
            if matches!(inner, Form::List(..)) { format!("std::array::from_fn(|_| {base})") } else { base };
        let value = if matches!(field.form, Form::Optional(_)) {
            format!("(whole(w) == 1).then(|| {value})")
        } else {
            value
        };
        let _ = write!(text, "{name}: {value}, ");
    }
    text.push_str("})");
    text
}

//! Chooses the machine by the target, and lays out its memory for the linker.

use std::{env, error::Error, fs, path::PathBuf};

/// Target, machine, and the memory of a Cortex-M: origin and length of flash and RAM.
const MACHINES: [(&str, &str, &str); 4] = [
    (
        "thumbv6m-none-eabi",
        "m0",
        "FLASH : ORIGIN = 0, LENGTH = 256K  RAM : ORIGIN = 0x20000000, LENGTH = 16K",
    ),
    (
        "thumbv7m-none-eabi",
        "m3",
        "FLASH : ORIGIN = 0, LENGTH = 256K  RAM : ORIGIN = 0x20000000, LENGTH = 64K",
    ),
    ("thumbv7em-none-eabi", "m4", "FLASH : ORIGIN = 0, LENGTH = 4M  RAM : ORIGIN = 0x20000000, LENGTH = 4M"),
    ("riscv32imc-unknown-none-elf", "riscv", ""),
];

fn main() -> Result<(), Box<dyn Error>> {
    let target = env::var("TARGET")?;
    let out = PathBuf::from(env::var("OUT_DIR")?);
    let names = MACHINES.map(|(_, machine, _)| format!("\"{machine}\"")).join(", ");
    println!("cargo::rustc-check-cfg=cfg(machine, values({names}))");
    println!("cargo::rerun-if-changed=build.rs");
    println!("cargo::rerun-if-changed=src/riscv/riscv.x");
    let Some((_, machine, memory)) = MACHINES.into_iter().find(|(of, _, _)| *of == target) else {
        let known = MACHINES.map(|(target, _, _)| target).join(", ");
        return Err(format!("no board layer for {target}; there is one for: {known}").into());
    };
    println!("cargo::rustc-cfg=machine=\"{machine}\"");
    if memory.is_empty() {
        fs::copy("src/riscv/riscv.x", out.join("riscv.x"))?;
    } else {
        fs::write(out.join("memory.x"), format!("MEMORY {{ {memory} }}\n"))?;
    }
    println!("cargo::rustc-link-search={}", out.display());
    Ok(())
}

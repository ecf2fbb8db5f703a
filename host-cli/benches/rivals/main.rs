//! What `decode` is measured against, as programs that read the same file and write the same lines: the naive way and the usual
//! crates. Also makes the file.
//!
//! ```text
//! rivals make SEED OCTETS FILE      frames of packed telemetry, 4 to 32 octets of payload
//! rivals count-naive FILE           one octet at a time: cobs, crc
//! rivals count FILE                 memchr, corncobs, crc with its largest table
//! rivals json-naive FILE            the same octets to json! values and text
//! rivals json FILE                  serde_json with derived structs
//! rivals csv FILE                   csv
//! rivals trip TOOL FOLDER           round trips over a pseudo-terminal, bare, core to core and through the tool
//! ```
#![allow(missing_docs, unreachable_pub)]

mod crates;
mod data;
mod lines;
mod trip;

use std::{fs::File, io, io::Write, path::Path};

fn main() -> io::Result<()> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let out = || io::BufWriter::with_capacity(1 << 18, io::stdout().lock());
    match words.as_slice() {
        ["make", seed, octets, file] => {
            let number = |text: &str| text.parse::<u64>().map_err(io::Error::other);
            data::make(number(seed)?, number(octets)?, &mut io::BufWriter::new(File::create(file)?))
        }
        ["count-naive", file] => counted(crates::naive(Path::new(file), &mut |_| Ok(()))?),
        ["count", file] => counted(crates::usual(Path::new(file), &mut |_| Ok(()))?),
        ["json-naive", file] => {
            let mut out = out();
            crates::naive(Path::new(file), &mut |frame| lines::json_naive(frame, &mut out))?;
            out.flush()
        }
        ["json", file] => {
            let mut out = out();
            let mut scratch = String::new();
            crates::usual(Path::new(file), &mut |frame| lines::json(frame, &mut scratch, &mut out))?;
            out.flush()
        }
        ["csv", file] => {
            let mut out = csv::WriterBuilder::new()
                .has_headers(false)
                .buffer_capacity(1 << 18)
                .from_writer(io::stdout().lock());
            let mut scratch = String::new();
            crates::usual(Path::new(file), &mut |frame| lines::csv(frame, &mut scratch, &mut out))?;
            out.flush()
        }
        ["echo", path] => trip::echo(Path::new(path)),
        ["board", path] => trip::board(Path::new(path)),
        ["trip", tool, folder] => trip::trip(tool, Path::new(folder)),
        // `cargo bench` runs every benchmark without words of ours.
        _ => Ok(()),
    }
}

fn counted(frames: u64) -> io::Result<()> {
    writeln!(io::stdout(), "{frames} frames")
}

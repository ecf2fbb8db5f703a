//! The `bellwire` command.

use std::{
    io::{self, Write},
    process::ExitCode,
};

use bellwire_cli::shell::{Shell, Stop};

fn main() -> ExitCode {
    let stop = Stop::default();
    bellwire_cli::signals::watch(&stop);
    let (mut out, mut err) = (io::stdout(), io::stderr());
    let exit = bellwire_cli::run(std::env::args_os(), &mut Shell { out: &mut out, err: &mut err, stop });
    let _ = out.flush();
    exit.into()
}

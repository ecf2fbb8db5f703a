//! Standard input, and standard output for those who talk.

use std::{
    io::{self, Write},
    time::Duration,
};

use rustix::{event::PollFlags, io::Errno};

use super::{
    live::{Connection, Connector},
    pipe::{Heard, Reading, Writing, ready},
};
use crate::fail::Fail;

/// Standard input and output as one connection that comes once.
pub(super) struct Standard;

impl Standard {
    pub(super) fn connection() -> Connection {
        Connection { reading: Box::new(Standard), writing: Some(Box::new(Standard)), note: None }
    }
}

impl Connector for Standard {
    fn connect(&mut self, _wait: Duration) -> Result<Option<Connection>, Fail> {
        Ok(None)
    }
}

impl Reading for Standard {
    fn read(&mut self, buffer: &mut [u8], wait: Duration) -> Heard {
        match ready(&io::stdin(), PollFlags::IN, wait) {
            Ok(seen) if seen.is_empty() => return Heard::Nothing,
            Ok(_) => {}
            Err(error) => return Heard::Gone(error.to_string()),
        }
        match rustix::io::read(io::stdin(), buffer) {
            Ok(0) => Heard::End,
            Ok(len) => Heard::Octets(len),
            Err(Errno::INTR | Errno::AGAIN) => Heard::Nothing,
            Err(error) => Heard::Gone(error.to_string()),
        }
    }
}

impl Writing for Standard {
    fn write(&mut self, octets: &[u8], _wait: Duration) -> io::Result<()> {
        let mut out = io::stdout().lock();
        out.write_all(octets)?;
        out.flush()
    }
}

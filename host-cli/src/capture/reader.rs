//! A capture read block by block, in constant memory.

use std::io::{self, Read};

use super::{
    block::{
        INTERFACE, LINK_TYPE, LONGEST_BLOCK, MAGIC, OPTION_COMMENT, OPTION_HARDWARE, OPTION_NAME,
        OPTION_OFFSET, OPTION_PACKET_FLAGS, OPTION_SPEED, OPTION_UNIT, Options, Order, PACKET, SECTION,
        SIMPLE_PACKET, is_capture, is_older_capture,
    },
    comment::{self, Remark},
    tail::Tail,
    unit::Unit,
};
use crate::{
    endpoint::{Direction, Gap, LineSettings, Note, PortInfo},
    exit::Exit,
    fail::Fail,
};

/// What a capture holds, in the order of the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Record<'a> {
    /// Octets of a port.
    Chunk {
        /// Nanoseconds since the Unix epoch.
        at: u64,
        /// Index in [`Reader::ports`].
        port: u16,
        /// Which way they went.
        direction: Direction,
        /// The octets, as they were captured.
        octets: &'a [u8],
    },
    /// A port went away or came back.
    Gap(Gap),
    /// A remark.
    Note(Note),
    /// The end. Asked again, it comes again.
    End(Tail),
}

/// A port as the section describes it.
#[derive(Debug, Clone, Copy)]
struct Interface {
    /// Index in `ports`; `None` if its packets are not octets of a line.
    port: Option<u16>,
    unit: Unit,
}

/// Reads a capture. Both byte orders, several sections and any unit of time; unknown blocks are passed over.
#[derive(Debug)]
pub struct Reader<R> {
    input: R,
    buffer: Vec<u8>,
    /// What is not yet read of the buffer.
    from: usize,
    to: usize,
    /// Octets of the file before `from`.
    offset: u64,
    order: Order,
    interfaces: Vec<Interface>,
    ports: Vec<PortInfo>,
    foreign: u64,
    last: u64,
    end: Option<Tail>,
    /// A remark of a packet that also has octets, told after them.
    waiting: Option<(u64, u16, Remark)>,
}

/// The most ports that are followed, in one section and in all; a file with more is taken for damaged.
pub const MOST_PORTS: usize = 1024;

const TOO_MANY_PORTS: &str = "more ports than 1024";

/// Octets read from the file at a time.
const PIECE: usize = 1 << 18;

impl<R: Read> Reader<R> {
    /// Begins to read.
    ///
    /// # Errors
    /// If the input cannot be read or is no pcapng capture.
    pub fn new(input: R) -> Result<Self, Fail> {
        let mut reader = Reader {
            input,
            buffer: vec![0; PIECE],
            from: 0,
            to: 0,
            offset: 0,
            order: Order::Little,
            interfaces: Vec::new(),
            ports: Vec::new(),
            foreign: 0,
            last: 0,
            end: None,
            waiting: None,
        };
        reader.hold(12).map_err(|error| Fail::io("cannot read the capture", &error))?;
        let begin = &reader.buffer[..reader.to];
        if begin.len() < 4 && is_capture(&[begin, &[0x0A, 0x0D, 0x0D, 0x0A][begin.len()..]].concat()) {
            return Ok(reader); // empty or torn in its first four octets
        }
        if is_capture(begin) {
            return Ok(reader);
        }
        if is_older_capture(begin) {
            return Err(Fail::new(
                Exit::BadInput,
                "this is a capture in the older format pcap, and only pcapng is read",
            )
            .next("save it again as pcapng, in the program that made it or any other that reads both")
            .next("if these octets were on the wire as they are: `bellwire decode FILE --as octets`"));
        }
        Err(Fail::new(Exit::BadInput, "this is no pcapng capture")
            .next("`bellwire decode FILE` reads raw octets and hex text, too"))
    }

    /// The ports described so far, of all sections; one described alike in several sections is one port.
    pub fn ports(&self) -> &[PortInfo] {
        &self.ports
    }

    /// Packets passed over because their link type says that they are not octets of a line.
    pub const fn foreign(&self) -> u64 {
        self.foreign
    }

    /// Octets read from the input that no record was made of yet: 0 means that the next record may have to be waited for.
    pub const fn buffered(&self) -> usize {
        self.to - self.from
    }

    /// The next record.
    ///
    /// # Errors
    /// If the input cannot be read. What is wrong with its contents is told by [`Record::End`].
    pub fn read(&mut self) -> Result<Record<'_>, Fail> {
        if let Some((at, port, remark)) = self.waiting.take() {
            return Ok(told(at, port, remark));
        }
        loop {
            let (kind, len) =
                match self.block().map_err(|error| Fail::io("cannot read the capture", &error))? {
                    Ok(block) => block,
                    Err(tail) => return Ok(Record::End(tail)),
                };
            let from = self.from;
            self.from += len;
            self.offset += len as u64;
            match kind {
                SECTION => self.interfaces.clear(),
                INTERFACE => {
                    if let Err(why) = self.interface(from + 8, from + len - 4) {
                        return Ok(Record::End(self.damage(len, why)));
                    }
                }
                PACKET | SIMPLE_PACKET => match self.packet(kind, from + 8, from + len - 4) {
                    Ok(Some(packet)) => return Ok(self.record(packet)),
                    Ok(None) => {}
                    Err(why) => return Ok(Record::End(self.damage(len, why))),
                },
                _ => {}
            }
        }
    }

    /// Ends the reading at the block of `len` octets that was just taken.
    fn damage(&mut self, len: usize, why: &'static str) -> Tail {
        let offset = self.offset - len as u64;
        self.end.insert(Tail::Damaged { offset, why }).clone()
    }

    /// Makes at least `need` octets available, if the file has them.
    fn hold(&mut self, need: usize) -> io::Result<bool> {
        if self.to - self.from >= need {
            return Ok(true);
        }
        self.buffer.copy_within(self.from..self.to, 0);
        self.to -= self.from;
        self.from = 0;
        let size = need.next_multiple_of(PIECE);
        if self.buffer.len() != size {
            self.buffer.resize(size, 0);
            self.buffer.shrink_to_fit();
        }
        while self.to < need {
            match self.input.read(&mut self.buffer[self.to..]) {
                Ok(0) => return Ok(false),
                Ok(more) => self.to += more,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        Ok(true)
    }

    /// Makes the next block available whole, and checks its frame.
    fn block(&mut self) -> io::Result<Result<(u32, usize), Tail>> {
        if let Some(tail) = &self.end {
            return Ok(Err(tail.clone()));
        }
        let found = self.framed()?;
        if let Err(tail) = &found {
            self.end = Some(tail.clone());
        }
        Ok(found)
    }

    fn framed(&mut self) -> io::Result<Result<(u32, usize), Tail>> {
        let offset = self.offset;
        let torn = |held: usize| Ok(Err(Tail::Torn { offset, octets: held as u64 }));
        let damaged = |why| Ok(Err(Tail::Damaged { offset, why }));
        if !self.hold(12)? {
            let held = self.to - self.from;
            return if held == 0 { Ok(Err(Tail::Whole)) } else { torn(held) };
        }
        let head = &self.buffer[self.from..self.to];
        if is_capture(head) {
            self.order = match (Order::Little.u32(8, head), Order::Big.u32(8, head)) {
                (Some(MAGIC), _) => Order::Little,
                (_, Some(MAGIC)) => Order::Big,
                _ => return damaged("a section header without its mark"),
            };
        }
        let (Some(kind), Some(len)) = (self.order.u32(0, head), self.order.u32(4, head)) else {
            return torn(0);
        };
        let len = len as usize;
        if len < 12 || !len.is_multiple_of(4) {
            return damaged("a block whose length is no multiple of four, or too short");
        }
        if len > LONGEST_BLOCK {
            return damaged("a block longer than 16 MiB");
        }
        if !self.hold(len)? {
            return torn(self.to - self.from);
        }
        let block = &self.buffer[self.from..self.from + len];
        if self.order.u32(len - 4, block) != self.order.u32(4, block) {
            return damaged("the two lengths of a block differ");
        }
        if kind == SECTION && self.order.u16(12, block) != Some(1) {
            return damaged("a section of an unknown major version");
        }
        Ok(Ok((kind, len)))
    }

    fn interface(&mut self, from: usize, to: usize) -> Result<(), &'static str> {
        if self.interfaces.len() >= MOST_PORTS {
            return Err(TOO_MANY_PORTS);
        }
        let body = &self.buffer[from..to];
        let order = self.order;
        let mut info = PortInfo::named(format!("port {}", self.interfaces.len()));
        let (mut unit, mut format) = (Unit::default(), None);
        let link = order.u16(0, body).unwrap_or(0);
        for (code, value) in (Options { order, rest: body.get(8..).unwrap_or_default() }) {
            match code {
                OPTION_NAME => info.name = text(value),
                OPTION_HARDWARE => info.identity = Some(text(value)),
                OPTION_SPEED => {
                    let rate = order.u64(0, value).and_then(|rate| u32::try_from(rate).ok());
                    info.line = rate.map(|rate| LineSettings { rate, ..LineSettings::default() });
                }
                OPTION_UNIT => {
                    unit = value.first().and_then(|&octet| unit.with_resolution(octet)).unwrap_or(unit)
                }
                OPTION_OFFSET => {
                    unit = order.u64(0, value).map_or(unit, |seconds| unit.with_offset(seconds.cast_signed()))
                }
                OPTION_COMMENT => {
                    let (wiring, shape) = comment::read_port(&text(value));
                    info.wiring = wiring.or(info.wiring);
                    format = shape.or(format);
                }
                _ => {}
            }
        }
        if let (Some(line), Some(format)) = (&mut info.line, format) {
            line.format = format;
        }
        let private = link == LINK_TYPE || matches!(link, 147..=162 | 65_001..);
        let port = if private { Some(self.port_of(info)?) } else { None };
        self.interfaces.push(Interface { port, unit });
        Ok(())
    }

    /// The index of a port, which may be known from an earlier section.
    fn port_of(&mut self, info: PortInfo) -> Result<u16, &'static str> {
        let taken: Vec<_> = self.interfaces.iter().filter_map(|interface| interface.port).collect();
        let known =
            self.ports.iter().enumerate().find(|(index, port)| {
                **port == info && !taken.iter().any(|taken| usize::from(*taken) == *index)
            });
        let index = match known {
            Some((index, _)) => index,
            None if self.ports.len() >= MOST_PORTS => return Err(TOO_MANY_PORTS),
            None => {
                self.ports.push(info);
                self.ports.len() - 1
            }
        };
        u16::try_from(index).map_err(|_| TOO_MANY_PORTS)
    }

    /// Takes a packet apart; `None` if it is not for us, an error if it contradicts itself.
    fn packet(&mut self, kind: u32, from: usize, to: usize) -> Result<Option<Packet>, &'static str> {
        let body = &self.buffer[from..to];
        let order = self.order;
        let field = |at| order.u32(at, body).ok_or("a packet block too short");
        let (id, at, data, len) = if kind == PACKET {
            let stamp = u64::from(field(4)?) << 32 | u64::from(field(8)?);
            (field(0)?, Some(stamp), 20, field(12)? as usize)
        } else {
            (0, None, 4, (field(0)? as usize).min(body.len() - 4))
        };
        if body.len() < data || body.len() - data < len {
            return Err("a packet longer than its block");
        }
        let interface =
            *self.interfaces.get(id as usize).ok_or("a packet of a port that is not described")?;
        let Some(port) = interface.port else {
            self.foreign += 1;
            return Ok(None);
        };
        let at = at.map_or(self.last, |stamp| interface.unit.nanoseconds(stamp));
        self.last = at;
        let mut packet = Packet { at, port, direction: Direction::In, from: from + data, len, remark: None };
        let rest = body.get(data + len + super::block::padding(len)..).unwrap_or_default();
        for (code, value) in (Options { order, rest }) {
            match code {
                OPTION_PACKET_FLAGS if order.u32(0, value).is_some_and(|flags| flags & 3 == 2) => {
                    packet.direction = Direction::Out;
                }
                OPTION_COMMENT if kind == PACKET => packet.remark = Some(Remark::read(&text(value))),
                _ => {}
            }
        }
        Ok(Some(packet))
    }

    fn record(&mut self, packet: Packet) -> Record<'_> {
        let Packet { at, port, direction, from, len, remark } = packet;
        match remark {
            Some(remark) if len == 0 => return told(at, port, remark),
            remark => self.waiting = remark.map(|remark| (at, port, remark)),
        }
        Record::Chunk { at, port, direction, octets: &self.buffer[from..from + len] }
    }
}

/// A packet whose octets lie in the buffer.
struct Packet {
    at: u64,
    port: u16,
    direction: Direction,
    from: usize,
    len: usize,
    remark: Option<Remark>,
}

fn told(at: u64, port: u16, remark: Remark) -> Record<'static> {
    match remark {
        Remark::GapBegins { why } => Record::Gap(Gap { port, from: at, to: None, why }),
        Remark::GapEnds { from, why } => Record::Gap(Gap { port, from, to: Some(at), why }),
        Remark::Note(text) => Record::Note(Note { at, port, text }),
    }
}

fn text(value: &[u8]) -> String {
    String::from_utf8_lossy(value).trim_end_matches('\0').to_string()
}

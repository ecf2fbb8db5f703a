//! Counts instructions and tells sizes: every call of the library stands in a function of its own, whose stack is looked up, too.
#![no_std]
#![no_main]

use core::hint::black_box;

use bellwire::{
    fcs::Fcs16,
    frame::{Class, Read, Reader},
    framing::{Cobs, OctetStuffing},
    link::{Config, Event, OwnNumber, SendError, State, Ticket, Wake},
    setpoint::{DeadMan, Stop},
    star::Hub,
    stats::Statistics,
    time::{Duration, Instant},
};
use bellwire_budgets::{
    board,
    star::Desk,
    tell::{count, number},
    whole::Whole,
};

type Link = Whole<1, 4>;
type Wide = Whole<8, 8>;
type Listener = Reader<OctetStuffing, Fcs16, 64>;
type CobsListener = Reader<Cobs, Fcs16, 64>;

/// The frame buffers of a link of these images, octets each.
const FRAME: usize = 64;

macro_rules! calls {
    ($(fn $name:ident $(<$life:lifetime>)? ($($argument:ident: $type:ty),*) $(-> $given:ty)? $body:block)*) => {
        $(
            #[inline(never)]
            #[unsafe(no_mangle)]
            #[allow(improper_ctypes_definitions)]
            extern "C" fn $name $(<$life>)? ($($argument: $type),*) $(-> $given)? $body
        )*
    };
}

// Each is one public call. What is given back is looked at by the caller, so that it is made.
calls! {
    fn call_link_new(config: &Config, now: Instant) -> Link { Link::new(Cobs, *config, now) }
    fn call_link_handle_octets(link: &mut Link, now: Instant, octets: &[u8]) -> usize { link.handle_octets(now, octets) }
    fn call_link_handle_timeout(link: &mut Link, now: Instant) { link.handle_timeout(now) }
    fn call_link_handle_unsent(link: &mut Link, now: Instant, octets: usize) { link.handle_unsent(now, octets) }
    fn call_link_poll_event(link: &mut Link) -> Option<Event<'_>> { link.poll_event() }
    fn call_link_poll_transmit(link: &mut Link, now: Instant, out: &mut [u8]) -> Option<usize> { link.poll_transmit(now, out) }
    fn call_link_poll_wake(link: &Link) -> Wake { link.poll_wake() }
    fn call_link_send(link: &mut Link, now: Instant, class: Class, payload: &[u8]) -> Result<Ticket, SendError> {
        link.send(now, class, payload)
    }
    fn call_link_probe(link: &mut Link, now: Instant, filling: &[u8]) -> Result<(), SendError> { link.probe(now, 7, filling) }
    fn call_link_ask_statistics(link: &mut Link, now: Instant) { link.ask_statistics(now) }
    fn call_link_close(link: &mut Link, now: Instant) { link.close(now) }
    fn call_link_reopen(link: &mut Link, now: Instant) { link.reopen(now) }
    fn call_wide_handle_octets(link: &mut Wide, now: Instant, octets: &[u8]) -> usize { link.handle_octets(now, octets) }
    fn call_wide_handle_timeout(link: &mut Wide, now: Instant) { link.handle_timeout(now) }
    fn call_wide_poll_event(link: &mut Wide) -> Option<Event<'_>> { link.poll_event() }
    fn call_wide_poll_transmit(link: &mut Wide, now: Instant, out: &mut [u8]) -> Option<usize> { link.poll_transmit(now, out) }
    fn call_reader_feed<'a>(reader: &'a mut Listener, octets: &[u8]) -> (usize, Option<Read<'a>>) { reader.feed(octets) }
    fn call_cobs_reader_feed<'a>(reader: &'a mut CobsListener, octets: &[u8]) -> (usize, Option<Read<'a>>) { reader.feed(octets) }
    fn call_dead_man_set_point(dead_man: &mut DeadMan<i16>, value: i16, now: Instant) { dead_man.handle_set_point(value, now) }
    fn call_dead_man_output(dead_man: &mut DeadMan<i16>, now: Instant) -> i16 { dead_man.output(now) }
}

/// A payload of 32 octets as a board sends them: message number, counters, zeros among them.
const PAYLOAD: [u8; 32] = [
    9, 0x10, 0x27, 0, 0, 0x34, 0x12, 0xFE, 0xFF, 0, 0, 0xB0, 0x41, 3, 0, 0x7E, 0x44, 0x7D, 1, 2, 0, 0, 0x5A, 0x80, 0x99, 0xC3, 7, 0, 0xE8, 3, 0, 1,
];

const fn ms(ms: u32) -> Instant {
    Instant::from_ticks(ms * 1_000)
}

/// Lets two links say all that they have to say at `now`.
fn settle(links: &mut [Link; 2], now: Instant) {
    let mut frame = [0; 80];
    for turn in 0..8 {
        let [desk, dome] = links;
        let (from, to) = if turn % 2 == 0 { (desk, dome) } else { (dome, desk) };
        from.handle_timeout(now);
        while let Some(len) = from.poll_transmit(now, &mut frame) {
            let wire = frame.get(..len).unwrap_or_default();
            let _ = to.handle_octets(now, wire);
            while to.poll_event().is_some() {}
        }
    }
}

fn open() -> [Link; 2] {
    let config = |own| Config { jitter_seed: 0, ..Config::uart(115_200, OwnNumber::Random(own)) };
    let mut links = [0x1234_5678, 0x8765_4321].map(|own| call_link_new(&black_box(config(own)), ms(1)));
    settle(&mut links, ms(2));
    if links.iter().any(|link| link.state() != State::Up) {
        board::exit(2);
    }
    links
}

/// One frame of each framing, received by a reader: as one piece, and octet by octet.
fn receive() {
    use bellwire::{framing::{Framing, Lead}, frame::{Header, Kind, write}};
    fn wire<F: Framing>(framing: F, out: &mut [u8; 80]) -> usize {
        let mut header = Header::new(Kind::SetPoint);
        header.number = 7;
        write::<F, Fcs16>(&framing, &header, &PAYLOAD, Lead::BackToBack, out).unwrap_or(0)
    }
    let mut out = [0; 80];
    let len = wire(OctetStuffing::default(), &mut out);
    let frame = black_box(out.get(..len).unwrap_or_default());
    let mut reader = Listener::new(OctetStuffing::default());
    number(b"stuffed octets\0", len);
    count(b"stuffed in one piece\0", || {
        black_box(call_reader_feed(&mut reader, frame));
    });
    count(b"stuffed octet by octet\0", || {
        for octet in frame {
            black_box(call_reader_feed(&mut reader, core::slice::from_ref(octet)));
        }
    });
    let mut out = [0; 80];
    let len = wire(Cobs, &mut out);
    let frame = black_box(out.get(..len).unwrap_or_default());
    let mut reader = CobsListener::new(Cobs);
    number(b"cobs octets\0", len);
    count(b"cobs in one piece\0", || {
        black_box(call_cobs_reader_feed(&mut reader, frame));
    });
    count(b"cobs octet by octet\0", || {
        for octet in frame {
            black_box(call_cobs_reader_feed(&mut reader, core::slice::from_ref(octet)));
        }
    });
}

/// An errand there, its acknowledgement back, and a link that has nothing to do.
fn converse() {
    let mut links = open();
    let [desk, dome] = &mut links;
    let (mut there, mut back) = ([0; 80], [0; 80]);
    let (mut sent, mut answered) = (0, 0);
    count(b"send\0", || {
        black_box(call_link_send(desk, ms(10), Class::Errand, black_box(&PAYLOAD))).ok();
        sent = black_box(call_link_poll_transmit(desk, ms(10), &mut there)).unwrap_or(0);
    });
    let mut taken = false;
    count(b"receive an errand\0", || {
        call_link_handle_octets(dome, ms(15), there.get(..sent).unwrap_or_default());
        taken = matches!(black_box(call_link_poll_event(dome)), Some(Event::Message(_)));
    });
    count(b"acknowledge\0", || {
        answered = black_box(call_link_poll_transmit(dome, ms(15), &mut back)).unwrap_or(0);
    });
    let mut delivered = false;
    count(b"handle an acknowledgement\0", || {
        call_link_handle_octets(desk, ms(16), back.get(..answered).unwrap_or_default());
        delivered = matches!(black_box(call_link_poll_event(desk)), Some(Event::Outcome { .. }));
    });
    if !taken || !delivered {
        board::exit(3);
    }
    count(b"handle_timeout, nothing due\0", || desk.handle_timeout(ms(17)));
    count(b"poll_transmit, nothing to send\0", || {
        black_box(desk.poll_transmit(ms(17), &mut there));
    });
    count(b"poll_event, nothing to tell\0", || {
        black_box(desk.poll_event());
    });
    count(b"poll_wake\0", || {
        black_box(desk.poll_wake());
    });
}

/// Calls what is not counted, so that its stack is known.
fn rest() {
    let mut links = open();
    let [link, _] = &mut links;
    call_link_handle_unsent(link, ms(20), black_box(7));
    black_box(call_link_probe(link, ms(20), black_box(&PAYLOAD))).ok();
    call_link_ask_statistics(link, ms(20));
    call_link_close(link, ms(20));
    call_link_reopen(link, ms(21));
    let mut wide: Wide = Wide::new(Cobs, Config::uart(115_200, OwnNumber::Random(black_box(5))), ms(1));
    call_wide_handle_timeout(&mut wide, ms(2));
    call_wide_handle_octets(&mut wide, ms(2), black_box(&PAYLOAD));
    black_box(call_wide_poll_event(&mut wide));
    black_box(call_wide_poll_transmit(&mut wide, ms(2), &mut [0; 80]));
    let mut dead_man = DeadMan::new(0, Duration::from_ticks(500_000), Stop::Brake);
    call_dead_man_set_point(&mut dead_man, black_box(3), ms(3));
    black_box(call_dead_man_output(&mut dead_man, ms(4)));
}

#[unsafe(no_mangle)]
extern "C" fn image() -> ! {
    board::begin();
    number(b"frame buffer\0", FRAME);
    number(b"statistics\0", size_of::<Statistics>());
    number(b"link, window 1, queue 1\0", size_of::<Whole<1, 1>>());
    number(b"link, window 1, queue 4\0", size_of::<Link>());
    number(b"link, window 8, queue 8\0", size_of::<Wide>());
    number(b"hub of 8 leaves\0", size_of::<Desk>());
    number(b"hub of 1 leaf\0", size_of::<Hub<Cobs, Fcs16, 1, 16, 64>>());
    number(b"listener\0", size_of::<Listener>());
    number(b"dead-man\0", size_of::<DeadMan<i16>>());
    count(b"nothing\0", || {});
    receive();
    converse();
    rest();
    board::exit(0)
}

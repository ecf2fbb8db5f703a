//! Messages and a text console on the same wire: octet stuffing keeps 0x03, 0x11 and 0x13 off the wire, so a console never sees an interrupt or a
//! flow-control character, and its text comes out as text.

use bellwire::{
    fcs::Fcs16,
    framing::{ControlMap, OctetStuffing},
    io::{Line, Memory},
    link::{Config, Event, OwnNumber, State},
    port::Port,
    time::Instant,
};
use bellwire_examples::{bench::show, messages::Message};

type Board = Port<Memory<512>, OctetStuffing, Fcs16, 64, 1, 4>;

/// Carries everything from one board to the other; gives the octets.
fn carry(from: &mut Board, to: &mut Board, now: Instant) -> Vec<u8> {
    let octets: Vec<u8> = std::iter::from_fn(|| from.line_mut().depart()).collect();
    let _ = to.line_mut().arrive(now, &octets);
    octets
}

fn main() {
    println!(
        "Nothing is attached: a desk and a dome in memory, with a boot text and a prompt of the dome on the same wire."
    );
    let framing = OctetStuffing::new(ControlMap::CONSOLE_SAFE);
    let mut now = Instant::from_ticks(0);
    let board = |random| {
        let mut port =
            Board::new(Memory::new(), framing, Config::uart(115_200, OwnNumber::Random(random)), now);
        port.open(now);
        port
    };
    let (mut desk, mut dome) = (board(0x5EED_0001), board(0x5EED_8001));
    let mut wire = Vec::new();
    let mut sent = false;
    let _ = dome.line_mut().put(b"dome 2.1 ready\r\n> ");
    for _ in 0..2000 {
        now = bellwire::time::after(now, bellwire::time::Duration::from_millis(1));
        wire.extend(carry(&mut dome, &mut desk, now));
        wire.extend(carry(&mut desk, &mut dome, now));
        for (name, port) in [("desk", &mut desk), ("dome", &mut dome)] {
            while let Ok(Some(event)) = port.service(now) {
                if let Some(words) =
                    show::words(&event).filter(|_| !matches!(event, Event::Quiet | Event::Resumed))
                {
                    println!("{name}: {words}");
                }
            }
        }
        if dome.state() == State::Up && !sent {
            sent = true;
            // Octets that would bother a console, were they not stuffed: 0x03, 0x11 and 0x13.
            let _ = dome.report(now, &Message::FocuserState { position: 0x03, temperature: -9 });
            let _ = dome.report(now, &Message::FocuserState { position: 0x13, temperature: -10 });
        }
    }
    let bad = wire.iter().filter(|octet| [0x03, 0x11, 0x13].contains(*octet)).count();
    println!("{} octets were on the wire; {bad} of them were 0x03, 0x11 or 0x13.", wire.len());
}

//! A program that uses all of a link: what the images of the full link share.

use bellwire::{
    frame::Class,
    framing::Cobs,
    fcs::Fcs16,
    link::{Config, Event, Link, OwnNumber, When},
};

use crate::board;

/// The link of the images.
pub type Whole<const WINDOW: usize, const QUEUE: usize> = Link<Cobs, Fcs16, 64, WINDOW, QUEUE>;

/// Serves a link for ever.
pub fn serve<const WINDOW: usize, const QUEUE: usize>() -> ! {
    board::begin();
    let config = Config::uart(115_200, OwnNumber::Random(board::ticks()));
    let mut link: Whole<WINDOW, QUEUE> = Link::new(Cobs, config, board::now());
    let mut frame = [0; 80];
    loop {
        let now = board::now();
        link.handle_timeout(now);
        let octet = board::take();
        loop {
            let done = octet.map_or(1, |octet| link.handle_octets(now, &[octet]));
            while let Some(event) = link.poll_event() {
                show(&event);
            }
            while let Some(len) = link.poll_transmit(now, &mut frame) {
                frame.iter().take(len).for_each(|&octet| board::put(octet));
            }
            if done == 1 {
                break;
            }
        }
        command(&mut link);
        if let When::At(at) = link.poll_wake().when {
            board::drive(at.as_ticks());
        }
    }
}

/// What an operator's board sends: the buttons are bits of an input.
fn command<const WINDOW: usize, const QUEUE: usize>(link: &mut Whole<WINDOW, QUEUE>) {
    let now = board::now();
    let class = match board::buttons() {
        0 => Class::SetPoint,
        1 => Class::Errand,
        2 => Class::Report,
        3 => Class::Notice,
        4 => return link.close(now),
        5 => return link.reopen(now),
        6 => return link.ask_statistics(now),
        7 => return link.probe(now, 7, &[1, 2, 3]).unwrap_or_default(),
        8 => return link.handle_unsent(now, 5),
        _ => return,
    };
    if let Ok(ticket) = link.send(now, class, &[1, 2, 3]) {
        board::drive(ticket.get().into());
    }
}

/// Puts out what an event tells.
pub fn show(event: &Event<'_>) {
    match event {
        Event::Message(message) => message.payload.iter().for_each(|&octet| board::put(octet)),
        Event::Outcome { ticket, outcome } => {
            board::drive(ticket.get().into());
            board::drive(matches!(outcome, bellwire::link::Outcome::Delivered).into());
        }
        Event::Text(text) => text.iter().for_each(|&octet| board::put(octet)),
        Event::Refused(reject) => board::drive(reject.code().into()),
        Event::Opened(peer) => board::drive(peer.fingerprint),
        Event::Ended(_) => board::drive(2),
        Event::Resent { tries, .. } => board::drive((*tries).into()),
        _ => board::drive(3),
    }
}

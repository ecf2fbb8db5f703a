//! A hub of eight leaves on a shared wire, and a program that uses all of it.
#![no_std]
#![no_main]

use bellwire::{
    frame::Class,
    link::When,
    star::{Hub, HubConfig, Speaks},
};
use bellwire_budgets::{board, star::Desk, whole};

#[unsafe(no_mangle)]
extern "C" fn image() -> ! {
    board::begin();
    let mut hub: Desk = Hub::new(Default::default(), HubConfig::wire(115_200, board::ticks()), board::now());
    for leaf in 1..=8 {
        hub.admit(board::now(), leaf, if leaf < 8 { Speaks::Hub } else { Speaks::Leaf });
    }
    let mut frame = [0; 80];
    loop {
        let now = board::now();
        hub.handle_timeout(now);
        let octet = board::take();
        loop {
            let done = octet.map_or(1, |octet| hub.handle_octets(now, &[octet]));
            while let Some(told) = hub.poll_event() {
                board::drive(told.leaf.unwrap_or(0).into());
                whole::show(&told.event);
            }
            while let Some(transmit) = hub.poll_transmit(now, &mut frame) {
                frame.iter().take(transmit.len).for_each(|&octet| board::put(octet));
            }
            if done == 1 {
                break;
            }
        }
        command(&mut hub);
        if let When::At(at) = hub.poll_wake().when {
            board::drive(at.as_ticks());
        }
    }
}

/// What an operator's board sends: the buttons are bits of an input, leaf and class.
fn command(hub: &mut Desk) {
    let (now, buttons) = (board::now(), board::buttons());
    let leaf = (buttons >> 3 & 7) as u8;
    let class = match buttons & 7 {
        0 => Class::SetPoint,
        1 => Class::Errand,
        2 => Class::Report,
        3 => Class::Notice,
        4 => {
            hub.dismiss(now, leaf);
            return;
        }
        5 => return hub.set_more(leaf, true),
        6 => return hub.handle_unsent(now, 5),
        _ => return,
    };
    if let Ok(ticket) = hub.send(now, leaf, class, &[1, 2, 3]) {
        board::drive(ticket.get().into());
    }
}

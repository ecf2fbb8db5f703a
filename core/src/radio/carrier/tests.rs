use super::*;
use crate::{
    frame::Class,
    framing::{self, RadioBoard, air::tail_of},
    io::Memory,
    link::{Config, Event, Outcome, OwnNumber},
    port::Port,
    time::Duration,
};
use std::{collections::VecDeque, vec, vec::Vec};

/// A radio chip whose air is in memory.
#[derive(Debug, Default)]
struct Chip {
    heard: VecDeque<(Vec<u8>, Instant, Option<i16>)>,
    sent: VecDeque<Vec<u8>>,
    busy: bool,
    broken: bool,
}

impl Datagram for Chip {
    type Error = ();

    fn send(&mut self, datagram: &[u8]) -> Result<Medium, ()> {
        if self.broken {
            return Err(());
        }
        if self.busy {
            return Ok(Medium::Busy);
        }
        self.sent.push_back(datagram.to_vec());
        Ok(Medium::Free)
    }

    fn receive(&mut self, _: Instant, into: &mut [u8]) -> Result<Option<Received>, ()> {
        let Some((octets, arrived, strength)) = self.heard.pop_front() else { return Ok(None) };
        let len = octets.len().min(into.len());
        into[..len].copy_from_slice(&octets[..len]);
        Ok(Some(Received { octets: len, arrived, strength }))
    }
}

type Board = Carrier<Memory<600>, Chip, 96>;

const AT: Instant = Instant::from_ticks(77);

fn board() -> Board {
    Carrier::new(Memory::new(), Chip::default())
}

/// What the board has said to the computer.
fn said(board: &mut Board) -> Vec<Vec<u8>> {
    let octets: Vec<u8> = std::iter::from_fn(|| board.line_mut().depart()).collect();
    let candidates = octets.split(|octet| *octet == 0).filter(|candidate| !candidate.is_empty());
    let plain = candidates.map(|candidate| {
        let mut out = vec![0; candidate.len()];
        let len = framing::cobs::decode(candidate, &mut out).expect("canonical");
        out.truncate(len - 2);
        out
    });
    plain.collect()
}

fn tell(board: &mut Board, datagram: &[u8]) {
    let mut out = [0; 128];
    let len = Air::Send { datagram }.encode(&mut out).expect("room");
    board.line_mut().arrive(AT, &out[..len]).expect("room");
}

#[test]
fn each_send_is_answered_with_what_became_of_it() {
    let mut board = board();
    tell(&mut board, &[1, 2, 3, 4]);
    assert_eq!(board.turn(AT), Ok(Carried { sent: 1, ..Carried::default() }));
    assert_eq!(board.chip_mut().sent.pop_front(), Some(vec![1, 2, 3, 4]));
    assert_eq!(Air::read(&said(&mut board)[0]), Ok(Air::Sent { at: 77, tail: [3, 4] }));
    board.chip_mut().busy = true;
    tell(&mut board, &[5, 6, 7, 8]);
    tell(&mut board, &[0; 79]);
    assert_eq!(board.turn(AT), Ok(Carried { sent: 1, not_sent: 2, ..Carried::default() }));
    board.chip_mut().broken = true;
    tell(&mut board, &[0; 78]);
    assert_eq!(board.turn(AT), Ok(Carried { sent: 1, not_sent: 3, ..Carried::default() }));
    let answers = said(&mut board);
    let why = |why, tail| Ok(Air::NotSent { why, tail });
    assert_eq!(Air::read(&answers[0]), why(NotSent::Busy, [7, 8]));
    assert_eq!(Air::read(&answers[1]), why(NotSent::TooLong, [0, 0]));
    assert_eq!(Air::read(&answers[2]), why(NotSent::Broken, [0, 0]));
    assert_eq!(board.chip_mut().sent.len(), 0, "nothing is kept and sent later");
}

#[test]
fn what_is_heard_goes_on_with_time_and_strength_and_what_is_too_short_does_not() {
    let mut board = board();
    let at = Instant::from_ticks(1_234_567);
    for octets in [vec![1, 2, 3], vec![1, 2, 3, 4], vec![9; 78]] {
        board.chip_mut().heard.push_back((octets, at, Some(-101)));
    }
    assert_eq!(board.turn(AT), Ok(Carried { heard: 2, refused: 1, ..Carried::default() }));
    let told = said(&mut board);
    let heard = |datagram| Ok(Air::Heard { at: 1_234_567, strength: Some(-101), datagram });
    assert_eq!(Air::read(&told[0]), heard(&[1, 2, 3, 4]));
    assert_eq!(Air::read(&told[1]), heard(&[9; 78]));
}

#[test]
fn noise_and_the_boards_own_forms_are_refused_and_a_slow_uart_delays_nothing_else() {
    let mut board = board();
    let mut out = [0; 64];
    let len = Air::Sent { at: 1, tail: [1, 2] }.encode(&mut out).expect("room");
    board.line_mut().arrive(AT, &out[..len]).expect("room");
    board.line_mut().arrive(AT, &[0x55, 0xAA, 0x80, 0]).expect("room");
    tell(&mut board, &[1, 2, 3, 4]);
    assert_eq!(board.turn(AT), Ok(Carried { sent: 1, refused: 2, ..Carried::default() }));
    // The UART is full: what is heard meanwhile stays in the chip, and no octet is lost between two turns.
    let fill = |board: &mut Board| while board.line_mut().put(&[0]) == Ok(1) {};
    said(&mut board);
    fill(&mut board);
    for number in 0..3 {
        board.chip_mut().heard.push_back((vec![number; 30], AT, None));
    }
    board.turn(AT).expect("a line");
    assert_eq!(board.chip_mut().heard.len(), 2);
    assert_eq!(said(&mut board).len(), 0);
    board.turn(AT).expect("a line");
    let told: Vec<Vec<u8>> = said(&mut board).iter().map(|frame| frame[8..].to_vec()).collect();
    assert_eq!(told, [vec![0; 30], vec![1; 30], vec![2; 30]]);
}

/// A computer with a radio board talks with a mast: each third datagram is lost on the air, and every report is delivered once.
#[test]
fn a_computer_without_a_radio_reaches_the_field() {
    let life = Duration::from_ticks(200_000);
    let config = |number| Config::datagram(2_000, life, OwnNumber::Stored(number));
    let now = Instant::from_ticks(0);
    let mut desk: Port<Memory<600>, RadioBoard> = Port::new(Memory::new(), RadioBoard, config(16), now);
    let mut mast: Port<_, framing::Datagram> = Port::datagram(Chip::default(), config(32), now);
    let mut board = board();
    desk.open(now);
    mast.open(now);
    let (mut reports, mut delivered, mut strongest, mut count) = (vec![], 0, None, 0_u32);
    let mut lost = || {
        count += 1;
        u32::is_multiple_of(count, 3)
    };
    for step in 0..300_000_u32 {
        let now = Instant::from_ticks(step * 1_000);
        if step.is_multiple_of(2_000) && (5_000..205_000).contains(&step) {
            let number = step / 2_000;
            let _ = mast.send(now, Class::Report, &[7, number.to_le_bytes()[0]]).expect("taken");
        }
        while let Ok(Some(event)) = desk.service(now) {
            if let Event::Message(message) = event {
                reports.push(message.payload[1]);
            }
        }
        strongest = strongest.max(desk.link().framing_state().heard.and_then(|heard| heard.strength));
        while let Ok(Some(event)) = mast.service(now) {
            delivered += u32::from(matches!(event, Event::Outcome { outcome: Outcome::Delivered, .. }));
        }
        board.turn(now).expect("a line");
        while let Some(octet) = desk.line_mut().depart() {
            board.line_mut().arrive(now, &[octet]).expect("room");
        }
        while let Some(octet) = board.line_mut().depart() {
            desk.line_mut().arrive(now, &[octet]).expect("room");
        }
        while let Some(datagram) = board.chip_mut().sent.pop_front() {
            if !lost() {
                mast.line_mut().radio_mut().heard.push_back((datagram, now, Some(-70)));
            }
        }
        while let Some(datagram) = mast.line_mut().radio_mut().sent.pop_front() {
            if !lost() {
                board.chip_mut().heard.push_back((datagram, now, Some(-88)));
            }
        }
    }
    assert_eq!((reports.len(), delivered), (100, 100));
    reports.sort_unstable();
    reports.dedup();
    assert_eq!(reports.len(), 100, "each once");
    assert_eq!(strongest, Some(-88));
    assert_eq!(mast.line().strength(), Some(-70));
    let state = desk.link().framing_state();
    assert_eq!((u32::from(state.sent), state.not_sent), (board.carried().sent, 0));
    assert_eq!(tail_of(&[1]), [0, 0]);
}

use super::*;
use crate::{
    frame::Class,
    framing::Cobs,
    io::Memory,
    link::{Config, Event, Outcome, OwnNumber},
    port::Port,
    star::{Allowance, Chance, FullDuplex, Rules, Timing, TurnTaken},
};
use std::{vec, vec::Vec};

const fn us(span: u32) -> Duration {
    Duration::from_ticks(span)
}

const PACE: Pace = Pace {
    packet: 64,
    gap: us(3_000),
    turnaround: us(5_000),
    packet_time: us(10_000),
    octet_time: us(800),
    delimiter: 0,
};

fn at(ticks: u32) -> Instant {
    Instant::from_ticks(ticks)
}

fn drained(modem: &mut Modem<Memory<300>, impl Access>) -> Vec<u8> {
    std::iter::from_fn(|| modem.line_mut().depart()).collect()
}

#[test]
fn airtime_counts_a_head_for_each_packet() {
    for (octets, time) in [(0, 0), (1, 10_800), (64, 61_200), (65, 72_000), (128, 122_400)] {
        assert_eq!(PACE.airtime(octets), us(time), "{octets}");
    }
    assert_eq!(Pace { packet: 0, ..PACE }.airtime(2), us(21_600), "a packet has at least one octet");
}

#[test]
fn a_frame_has_a_packet_for_itself_and_begins_with_a_delimiter() {
    let mut modem = Modem::new(Memory::<300>::new(), FullDuplex, PACE);
    let mut none = [0; 8];
    assert_eq!(modem.take(at(0), &mut none).map(|taken| taken.octets), Ok(0));
    assert_eq!(modem.put(&[5, 6, 7, 0]), Ok(4));
    assert_eq!(drained(&mut modem), [0, 5, 6, 7, 0]);
    // Five octets: 10 ms and 4 ms on the air, then 3 ms and 5 ms.
    let until = 10_000 + 5 * 800 + 8_000;
    assert_eq!((modem.may_send(), modem.put(&[0, 9, 0]), modem.unsent()), (May::In(us(until)), Ok(0), None));
    let _ = modem.take(at(until - 1), &mut none);
    assert_eq!((modem.may_send(), modem.put(&[0, 9, 0])), (May::In(us(1)), Ok(0)));
    let _ = modem.take(at(until), &mut none);
    assert_eq!((modem.may_send(), modem.unsent()), (May::Now, Some(0)));
    assert_eq!(modem.put(&[0, 9, 0]), Ok(3));
    assert_eq!(drained(&mut modem), [0, 9, 0], "it has a delimiter of its own");
}

#[test]
fn nothing_is_said_while_the_other_one_is_heard() {
    let mut modem = Modem::new(Memory::<300>::new(), FullDuplex, PACE);
    let mut octets = [0; 8];
    modem.line_mut().arrive(at(1_000), &[1, 2, 3]).expect("room");
    assert_eq!(modem.take(at(1_000), &mut octets).map(|taken| taken.octets), Ok(3));
    assert_eq!((modem.may_send(), modem.put(&[0, 9, 0])), (May::In(us(8_000)), Ok(0)));
    let _ = modem.take(at(9_000), &mut octets);
    assert_eq!(modem.put(&[0, 9, 0]), Ok(3));
}

#[test]
fn a_line_with_little_room_takes_a_frame_in_pieces_of_one_packet() {
    let mut modem = Modem::new(Memory::<4>::new(), FullDuplex, PACE);
    let frame = [7, 1, 2, 3, 4, 5, 6, 0];
    let (mut rest, mut seen) = (&frame[..], vec![]);
    while !rest.is_empty() {
        let put = modem.put(rest).expect("a line");
        rest = &rest[put..];
        seen.extend(std::iter::from_fn(|| modem.line_mut().depart()));
    }
    assert_eq!(seen, [0, 7, 1, 2, 3, 4, 5, 6, 0]);
    assert_eq!(modem.may_send(), May::In(us(10_000 + 9 * 800 + 8_000)));
}

#[test]
fn a_turn_is_waited_for_and_used_up_by_one_frame() {
    let timing = Timing { turnaround: us(2_000), reply: us(50_000), longest: us(90_000), passed_over: 4 };
    let mut modem = Modem::new(Memory::<300>::new(), TurnTaken::new(timing), PACE);
    assert_eq!((modem.may_send(), modem.put(&[0, 9, 0])), (May::No, Ok(0)));
    let mut octets = [0; 8];
    modem.line_mut().arrive(at(0), &[1, 0]).expect("room");
    let _ = modem.take(at(0), &mut octets);
    modem.access_mut().given();
    assert_eq!(modem.may_send(), May::In(us(8_000)), "the modem's turnaround is longer than the wire's");
    let _ = modem.take(at(8_000), &mut octets);
    assert_eq!(modem.put(&[0, 9, 0]), Ok(3));
    let _ = modem.take(at(200_000), &mut octets);
    assert_eq!(modem.may_send(), May::No);
}

#[test]
fn airtime_is_charged_and_what_can_never_go_is_dropped_and_counted() {
    let allowance = Allowance { airtime: 30_000, slice: us(100_000) };
    let rules = Rules { wait: us(0), doublings: 0, looks: 3, resends: 3, allowance, seed: 1 };
    let mut modem = Modem::new(Memory::<300>::new(), Chance::<9>::new(rules), PACE);
    let mut octets = [0; 8];
    let _ = modem.take(at(0), &mut octets);
    assert_eq!(modem.put(&[0; 40]), Ok(40), "42 ms on the air, and 30 ms are allowed in a second");
    assert_eq!((modem.never_sent(), drained(&mut modem)), (1, vec![]));
    assert_eq!(modem.put(&[0, 9, 0]), Ok(3));
    assert_eq!(modem.access().account().left(), us(30_000 - 12_400));
    let _ = modem.take(at(50_000), &mut octets);
    assert_eq!(modem.put(&[0, 9, 0]), Ok(3));
    let _ = modem.take(at(100_000), &mut octets);
    assert_eq!(modem.put(&[0, 9, 0]), Ok(0), "the rest of the window is too short");
    assert!(matches!(modem.may_send(), May::In(_)));
}

/// What a modem makes of the octets of its UART: packets of at most 64 octets, ended by a gap; one that is sent while another is on the air spoils both.
struct Air {
    pending: [(Vec<u8>, u32); 2],
    on_air: Vec<(usize, Vec<u8>, u32, u32, bool)>,
    packets: u32,
    spoilt: u32,
}

impl Air {
    /// Takes what `side` wrote until `now`, ends packets, and gives what comes out at each side: glued where two come close together.
    fn step(&mut self, now: u32, wrote: [Vec<u8>; 2], lost: impl Fn(u32) -> bool) -> [Vec<u8>; 2] {
        for (side, octets) in wrote.into_iter().enumerate() {
            let (pending, last) = &mut self.pending[side];
            if !octets.is_empty() {
                *last = now;
                pending.extend(octets);
            }
            let is_ended = !pending.is_empty() && now - *last >= PACE.gap.as_ticks();
            while pending.len() >= 64 || (is_ended && !pending.is_empty()) {
                let packet: Vec<u8> = pending.drain(..pending.len().min(64)).collect();
                let end = now + PACE.airtime(packet.len()).as_ticks();
                let mut spoilt = false;
                for other in self.on_air.iter_mut().filter(|other| other.0 != side && other.3 > now) {
                    (other.4, spoilt) = (true, true);
                }
                self.packets += 1;
                self.on_air.push((side, packet, now, end, spoilt));
            }
        }
        let mut out = [vec![], vec![]];
        let (packets, spoilt_now) = (self.packets, &mut self.spoilt);
        self.on_air.retain(|(side, packet, _, end, spoilt)| {
            let over = *end <= now;
            if over {
                *spoilt_now += u32::from(*spoilt);
                if !spoilt && !lost(packets) {
                    out[1 - side].extend(packet);
                }
            }
            !over
        });
        out
    }
}

/// Two boards that leave the air to each other by the modem's pauses alone, each ninth packet lost: every errand is delivered, once and in order, though packets are
/// read three octets at a time or glued.
#[test]
fn two_boards_talk_through_modems() {
    // 400 octets a second: what is left of the modem's 1 250 with packet heads and turnarounds.
    let config = |number| Config { jitter_seed: number, ..Config::uart(4_000, OwnNumber::Stored(number)) };
    let made = |number| {
        let modem = Modem::new(Memory::<300>::new(), FullDuplex, PACE);
        Port::<_, Cobs>::new(modem, Cobs, config(number), at(0))
    };
    let mut ports = [made(16), made(32)];
    ports[0].open(at(0));
    let mut air = Air { pending: [(vec![], 0), (vec![], 0)], on_air: vec![], packets: 0, spoilt: 0 };
    let (mut got, mut delivered, mut sent) = (vec![], 0, 0_u8);
    for step in 0..400_000_u32 {
        let now = step * 500;
        if step % 4_000 == 3_000 && sent < 50 && ports[0].send(at(now), Class::Errand, &[9, sent]).is_ok() {
            sent += 1;
        }
        if step == 600 {
            ports[1].open(at(now));
        }
        let mut wrote = [vec![], vec![]];
        for (side, port) in ports.iter_mut().enumerate() {
            while let Ok(Some(event)) = port.service(at(now)) {
                match event {
                    Event::Message(message) => got.push(message.payload[1]),
                    Event::Outcome { outcome: Outcome::Delivered, .. } => delivered += 1,
                    _ => {}
                }
            }
            wrote[side] = std::iter::from_fn(|| port.line_mut().line_mut().depart()).collect();
        }
        for (side, octets) in air.step(now, wrote, |packets| packets % 9 == 4).into_iter().enumerate() {
            ports[side].line_mut().line_mut().arrive(at(now), &octets).expect("room");
        }
    }
    assert_eq!(got, (0..50).collect::<Vec<u8>>(), "{} packets, {} spoilt", air.packets, air.spoilt);
    assert_eq!(delivered, 50);
}

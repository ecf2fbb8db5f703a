//! One test for each numbered rule of WIRE.md that code enforces. With its rule switched off the test must fail: `tests/rules` tries it.

use bellwire::{
    fcs::Fcs16,
    frame::{Ack, Class, Header, Kind, Open, Reader, Reject, View},
    framing::{Air, Cobs, Datagram, Lead, NotAir, RadioBoard},
    io::{Line as _, Memory},
    link::{Config, Event, Link, Outcome, OwnNumber},
    radio, setpoint,
    star::{self, Access as _},
    time::{Duration, Instant},
    timeline::{self, Asker, Clocks},
    transfer::{self, Message, Offer, Receiver},
};
use bellwire_tests::{
    rule::{apply, make_frames_of, show},
    vector::FramingName,
};

/// A test that plays the vectors of a rule.
macro_rules! rules {
    ($($test:ident = $rule:literal;)*) => {
        $(#[test] fn $test() { show($rule); })*
    };
}

rules! {
    w_02_candidates = "W-2";
    w_03_cobs_structure = "W-3";
    w_04_canonical_cobs = "W-4";
    w_05_octet_stuffing = "W-5";
    w_06_slip = "W-6";
    w_08_too_long = "W-8";
    w_09_foreign_text = "W-9";
    w_10_minimum_length = "W-10";
    w_11_fcs = "W-11";
    w_12_kind_0 = "W-12";
    w_13_session_bits = "W-13";
    w_15_addresses = "W-15";
    w_16_acknowledgement_form = "W-16";
    w_17_exact_length = "W-17";
    w_18_payload = "W-18";
    w_19_unknown_extensions = "W-19";
    w_20_open_fields = "W-20";
    w_21_other_versions = "W-21";
    w_22_own_number = "W-22";
    w_23_session_number = "W-23";
    w_24_asking = "W-24";
    w_25_the_opening_is_complete = "W-25";
    w_26_answer_and_ask = "W-26";
    w_27_message_before_the_opening = "W-27";
    w_28_answer_again = "W-28";
    w_29_restart = "W-29";
    w_29a_stale_copy = "W-29a";
    w_29b_answer_to_the_challenge = "W-29b";
    w_29c_challenge = "W-29c";
    w_29d_stranger = "W-29d";
    w_30_mismatch = "W-30";
    w_31_silence_timer_restarts = "W-31";
    w_32_other_session = "W-32";
    w_33_silence = "W-33";
    w_34_keep_alive = "W-34";
    w_35_order_of_opening = "W-35";
    w_36_numberless = "W-36";
    w_37_sending = "W-37";
    w_38_receiving = "W-38";
    w_39_delivery = "W-39";
    w_40_outcome = "W-40";
    w_41_no_carrying_over = "W-41";
    w_43_newest_wins = "W-43";
    w_44_ordered_lines = "W-44";
    w_45_unordered_lines = "W-45";
    w_46_age = "W-46";
    w_47_notices = "W-47";
    w_48_probes_and_statistics = "W-48";
    w_49_time_out = "W-49";
    w_50_back_off = "W-50";
}

/// A frame opens with a delimiter, so that noise before it costs nothing.
#[test]
fn w_01_delimiters() {
    show("W-1");
    make_frames_of(FramingName::Cobs);
}

#[test]
fn w_07_datagram() {
    make_frames_of(FramingName::Datagram);
}

#[test]
fn w_14_tag() {
    show("W-14");
    make_frames_of(FramingName::Datagram);
}

/// Every errand is acknowledged at once; still at most 256 - 2 W new numbers are sent in a lifetime.
#[test]
fn w_42_pacing() {
    apply();
    const LIFETIME: u32 = 100_000;
    let at = |us: u32| Instant::from_ticks(us);
    let config = Config::datagram(11_520, Duration::from_ticks(LIFETIME), OwnNumber::Stored(16));
    let mut link = Link::<Datagram, Fcs16, 64, 1, 4>::new(Datagram, config, at(0));
    let mut out = [0; 80];
    let open = |echo| Open { version: 1, mine: 0, echo, window: 1, max_payload: 48, ..link_open() };
    for body in [open(None), open(Some(16))] {
        let frame = [&[0x20][..], &body.octets()].concat();
        let _ = link.handle_octets(at(0), &bellwire_tests::line::encode(DATAGRAM, Lead::Delimiter, &frame));
        while link.poll_event().is_some() || link.poll_transmit(at(0), &mut out).is_some() {}
    }
    let mut sent = 0_u32;
    let mut send_all = |link: &mut Link<Datagram, Fcs16, 64, 1, 4>, now: Instant| {
        let before = sent;
        while link.send(now, Class::Errand, &[1]).is_ok() {
            if link.poll_transmit(now, &mut out).is_none() {
                break;
            }
            sent += 1;
            let mut head = [0; 8];
            let ack = Ack { next: (sent & 0xFF) as u8, held: None };
            let len = Header { ack: Some(ack), tag: Some(4), ..Header::new(Kind::Ack) }.write(&mut head);
            let wire = bellwire_tests::line::encode(DATAGRAM, Lead::Delimiter, &head[..len]);
            assert_eq!(link.handle_octets(now, &wire), wire.len());
            assert!(matches!(link.poll_event(), Some(Event::Outcome { outcome: Outcome::Delivered, .. })));
            assert!(sent < 1000, "nothing holds the numbers back");
        }
        sent - before
    };
    assert_eq!(send_all(&mut link, at(1_000)), 254);
    assert_eq!(send_all(&mut link, at(LIFETIME - 1)), 0);
}

const DATAGRAM: bellwire_tests::vector::Line =
    bellwire_tests::vector::Line { framing: FramingName::Datagram, fcs: 16, map: 0, buffer: 0 };

fn link_open() -> Open {
    Open {
        version: 1,
        ask: true,
        numberless: false,
        cause: bellwire::frame::ResetCause::Power,
        mine: 0,
        echo: None,
        window: 1,
        max_payload: 48,
        fingerprint: 0,
        silence: 0,
        identity: 0,
    }
}

/// An answer to the first sending of a request is not held against the second one's stamp.
#[test]
fn w_51_time() {
    apply();
    let at = Instant::from_ticks;
    let clocks = Clocks { drift_limit: 50, precision: 1 };
    let mut asker = Asker::new();
    let lost = asker.request(at(1_000));
    let again = asker.request(at(501_000));
    let late = timeline::answer(&lost, at(90_000), at(90_100)).expect("a request");
    let good = timeline::answer(&again, at(590_000), at(590_100)).expect("a request");
    assert_eq!(asker.handle(&late, at(502_000), &clocks), Err(timeline::Refused::NotAsked));
    assert_eq!(asker.handle(&good, at(502_000), &clocks).map(|stamps| stamps.delay()), Ok(900));
    assert_eq!(asker.handle(&good, at(502_001), &clocks), Err(timeline::Refused::NotAsked));
}

/// A content of 40 octets in parts of 16, its receiver, and what the sender says.
fn transfer() -> (Receiver, Offer, Vec<u8>) {
    apply();
    let content: Vec<u8> = (0..40).collect();
    let offer = Offer { number: 1, crc: transfer::crc_of(&content), size: 40, part: 16, topic: 0 };
    let patience = Duration::from_ticks(1_000_000);
    let mut receiver = Receiver::new(transfer::Limits { largest: 64, part: 16, window: 4, patience });
    let _ = receiver.handle(&body(Message::Offer { offer, round: 1 }));
    receiver.accept();
    (receiver, offer, content)
}

fn body(message: Message<'_>) -> Vec<u8> {
    let mut out = [0; 32];
    let len = message.write(&mut out).expect("room");
    out[..len].to_vec()
}

fn answer(receiver: &mut Receiver) -> Option<Vec<u8>> {
    let mut out = [0; 32];
    receiver.poll_transmit(&mut out).map(|len| out[..len].to_vec())
}

#[test]
fn w_52_offer() {
    let (_, offer, _) = transfer();
    for bad in
        [Offer { size: 0, ..offer }, Offer { size: (1 << 24) + 1, ..offer }, Offer { part: 7, ..offer }]
    {
        assert_eq!(
            Message::parse(&body(Message::Offer { offer: bad, round: 1 })),
            Err(transfer::Refused::BadField)
        );
    }
}

#[test]
fn w_53_part() {
    let (mut receiver, offer, content) = transfer();
    let part = body(Message::Part { id: offer.id(), index: 0, asks: None, octets: &content[..15] });
    assert_eq!(receiver.handle(&part), Err(transfer::Refused::BadPart));
}

#[test]
fn w_54_window() {
    let (_, offer, _) = transfer();
    let policy = bellwire::retry::Policy { tries: Some(5), ceiling: 1_000_000, spread: 0 };
    let pace = transfer::Pace { time_out: Duration::from_ticks(50_000), policy, seed: 0 };
    let mut sender = transfer::Sender::new(offer, pace).expect("sound");
    let map = transfer::Map { base: 2, held: 0, window: 4 };
    let old = body(Message::Map { id: offer.id(), round: 9, map });
    assert_eq!(sender.handle(&old), Err(transfer::Refused::OldRound));
}

#[test]
fn w_55_whole() {
    let (mut receiver, offer, _) = transfer();
    for index in 0..3 {
        receiver.stored(index);
    }
    assert!(!receiver.checked(offer.crc ^ 1));
    let refusal = body(Message::Refuse(offer.id(), transfer::Reason::Damaged));
    assert_eq!(answer(&mut receiver), Some(refusal));
}

#[test]
fn w_56_ends() {
    let (mut receiver, offer, _) = transfer();
    receiver.refuse(transfer::Reason::Stopped);
    let refusal = body(Message::Refuse(offer.id(), transfer::Reason::Stopped));
    for _ in 0..2 {
        assert_eq!(answer(&mut receiver), Some(refusal.clone()));
        let _ = receiver.handle(&body(Message::Ask { id: offer.id(), round: 2 }));
    }
}

#[test]
fn w_57_one_at_a_time() {
    let (mut receiver, offer, _) = transfer();
    let other = Offer { number: 2, ..offer };
    let _ = receiver.handle(&body(Message::Offer { offer: other, round: 1 }));
    assert_eq!(answer(&mut receiver), Some(body(Message::Refuse(other.id(), transfer::Reason::Busy))));
    receiver.elapse(Duration::from_ticks(1_000_000));
    let again = body(Message::Offer { offer: other, round: 2 });
    assert_eq!(receiver.handle(&again), Ok(transfer::Input::Offered(other)));
}

#[test]
fn w_58_turn() {
    apply();
    let us = Duration::from_ticks;
    let timing = star::Timing { turnaround: us(100), reply: us(1_000), longest: us(9_000), passed_over: 8 };
    let mut leaf = star::TurnTaken::new(timing);
    assert_eq!(leaf.may_send(), star::May::No);
    leaf.given();
    assert_eq!(leaf.may_send(), star::May::In(us(100)));
}

#[test]
fn w_59_chance() {
    apply();
    let us = Duration::from_ticks;
    let allowance = star::Allowance { airtime: 1_000, slice: us(100_000) };
    let rules = star::Rules { wait: us(0), doublings: 0, looks: 3, resends: 3, allowance, seed: 1 };
    let mut chance = star::Chance::<9>::new(rules);
    for wanted in [star::Step::Look, star::Step::Wait(us(1_000_000))] {
        assert!(chance.want(us(600), 0));
        assert_eq!(chance.poll(), wanted);
        chance.looked(true);
        chance.sent();
    }
}

#[test]
fn w_60_joining() {
    apply();
    let mut roster = star::Roster::<4>::new(60);
    assert_eq!(roster.join(0xF0, 3, 0), Ok(star::Seated::New(3)));
    let clash = star::Clash { address: 3, seated: 0xF0, came: 0xF1 };
    assert_eq!(roster.join(0xF1, 3, 1), Err(star::NotSeated::Held(clash)));
}

#[test]
fn w_61_sleep() {
    apply();
    let mut mailbox = star::Mailbox::<2, 8>::new();
    let ticket = mailbox.push(Class::Errand, &[9, 1], 0, 60).map(|accepted| accepted.ticket);
    assert_eq!(mailbox.offer(60), None);
    assert_eq!(mailbox.poll_expired(60).map(|letter| letter.ticket), ticket.ok());
}

/// Leaf 4 hears what the hub sends to leaf 3, and says nothing.
#[test]
fn w_62_links_on_a_shared_medium() {
    apply();
    let link = |own, peer, number| {
        let config = Config::uart(115_200, OwnNumber::Stored(number));
        let framing = star::Addressed { framing: Cobs, own, peer };
        Link::<_, Fcs16, 64, 1, 4>::new(framing, config, Instant::from_ticks(0))
    };
    let (mut hub, mut leaf) = (link(0, 3, 16), link(4, 0, 32));
    let mut out = [0; 80];
    while leaf.poll_transmit(Instant::from_ticks(0), &mut out).is_some() {}
    let len = hub.poll_transmit(Instant::from_ticks(0), &mut out).expect("an OPEN");
    let now = Instant::from_ticks(3_000);
    assert_eq!(leaf.handle_octets(now, &out[..len]), len);
    assert_eq!(leaf.poll_event(), None);
    assert_eq!(leaf.poll_transmit(now, &mut out), None);
}

#[test]
fn w_63_forms() {
    apply();
    assert_eq!(Air::read(&[0xE0, 0x16, 1, 9, 9, 9]), Err(NotAir::BadLength));
}

/// A computer hears its own SEND come back: nothing is to be told of it.
#[test]
fn w_64_carrying() {
    apply();
    let mut wire = [0; 32];
    let len = Air::Send { datagram: &[1, 2, 3, 4] }.encode(&mut wire).expect("room");
    let mut reader = Reader::<RadioBoard, Fcs16, 64>::new(RadioBoard);
    assert_eq!(reader.feed(&wire[..len]), (len, None));
}

#[test]
fn w_65_modem() {
    apply();
    let us = Duration::from_ticks;
    let pace = radio::Pace {
        packet: 64,
        gap: us(3_000),
        turnaround: us(5_000),
        packet_time: us(10_000),
        octet_time: us(800),
        delimiter: 0,
    };
    let mut modem = radio::Modem::new(Memory::<64>::new(), star::FullDuplex, pace);
    assert_eq!(modem.put(&[0, 1, 0]), Ok(3));
    assert_eq!(modem.put(&[0, 1, 0]), Ok(0), "not before it has had its time on the air");
}

#[test]
fn w_66_hearing() {
    apply();
    let report = [0xFF, 0x7F, 1, 0, 0, 0, 255, 90, 7, 1];
    assert_eq!(radio::Hearing::split(&report), Err(radio::NotHearing::StrengthOfNothing));
}

#[test]
fn w_67_open_ways() {
    apply();
    let mut gate = setpoint::Gate::new(setpoint::Way::Open);
    let held = Err(setpoint::HeldBack::OpenWay);
    assert_eq!(gate.pass(Class::Errand, setpoint::Moves::Something), held);
}

/// A message that would be relayed twice.
#[test]
fn w_68_relay() {
    apply();
    let twice = [0xFE, 0x7F, 0, 4, 1, 0xFE, 0x7F, 0, 5, 1, 9, 1];
    assert_eq!(star::Relayed::parse(&twice), Err(star::NotRelayed::BadMessage));
}

/// A copy of a report that was taken.
#[test]
fn w_69_arrival() {
    apply();
    let arrival = star::Arrival::parse(&[1, 0, 0, 0, 0x60, 0, 0, 0, 0, 7]).expect("an ARRIVAL");
    let mut hub = star::Arrivals::<4>::new(0, Duration::from_ticks(1_000_000), Duration::from_ticks(0));
    assert_eq!(hub.handle(3, &arrival, 0), Ok(star::Fresh::New));
    assert_eq!(hub.handle(3, &arrival, 1), Ok(star::Fresh::Repeat));
}

/// A leaf told of one hub does not take what another one sends to all.
#[test]
fn w_70_broadcast() {
    apply();
    let lifetime = Duration::from_ticks(500_000);
    let mut leaf = star::BroadcastReceiver::new(lifetime);
    leaf.opened(0x3001);
    assert!(leaf.handle_told(star::BroadcastSender::<8, 1>::new(0x1_2345, lifetime).tell(0x3001)));
    let mut stranger = star::BroadcastSender::<8, 1>::new(0x1_2344, lifetime);
    assert_eq!(stranger.send(Class::SetPoint, &[4, 10]), Ok(star::Waits::Queued));
    let mut out = [0; 32];
    let len = stranger.poll_transmit::<_, Fcs16>(&Datagram, Lead::Delimiter, &mut out).expect("a frame");
    let view = View::parse(&out[..len - 2], true).expect("a frame to all");
    assert_eq!(leaf.hear(&view), Err(Reject::OtherSession));
}

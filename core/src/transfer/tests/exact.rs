//! Exact times, edges of windows, and every state that is saved.

use super::*;

const EVEN: Pace = Pace { policy: Policy { spread: 0, ..PACE.policy }, ..PACE };

/// 50 ms, doubled: 0, 50, 150, 350 and 750 ms, and given up at 1550 ms, whatever the pieces that time comes in.
#[test]
fn offers_go_out_at_doubling_times_and_the_last_is_waited_for() {
    let content = content(100);
    for piece in [1, 7, 10, 50] {
        let mut desk = Sender::new(offer(1, &content, 16), EVEN).unwrap();
        desk.elapse(Duration::from_ticks(MS));
        assert_eq!(desk.poll_wake(), Some(Duration::from_ticks(0)), "nothing has gone out yet");
        let (mut now, mut sent) = (0, vec![]);
        loop {
            if sends(&mut desk, &content).is_some() {
                sent.push(now);
            }
            let Some(wake) = desk.poll_wake() else { break };
            let span = wake.as_ticks().min(piece * MS);
            desk.elapse(Duration::from_ticks(span));
            now += span / MS;
        }
        assert_eq!((sent, now, desk.outcome()), (vec![0, 50, 150, 350, 750], 1550, Some(Outcome::Unknown)));
    }
}

/// Held whole: the receiver checks, and a copy of its map does not put off the question of how that went.
#[test]
fn a_copy_of_the_last_map_does_not_put_off_the_question() {
    let content = content(100);
    let offer = offer(1, &content, 16);
    let mut desk = Sender::new(offer, EVEN).unwrap();
    sends(&mut desk, &content);
    let whole = write(Message::Map {
        id: offer.id(),
        round: 1,
        map: Map { base: offer.parts(), held: 0, window: 4 },
    });
    desk.handle(&whole).unwrap();
    desk.elapse(Duration::from_ticks(20 * MS));
    desk.handle(&whole).unwrap();
    assert_eq!(desk.poll_wake(), Some(Duration::from_ticks(30 * MS)));
}

#[test]
fn a_buffer_too_short_for_a_part_leaves_it_to_be_sent() {
    let content = content(100);
    let offer = offer(1, &content, 16);
    let mut desk = sender(offer);
    sends(&mut desk, &content);
    let map = Map { base: 0, held: 0, window: 4 };
    desk.handle(&write(Message::Map { id: offer.id(), round: 1, map })).unwrap();
    for len in 0..PART_HEAD + 16 {
        let before = desk.clone();
        assert_eq!(desk.poll_transmit(&mut vec![0; len], |_, _| panic!("no room to read into")), None);
        assert_eq!(desk, before);
    }
    assert_eq!(desk.poll_transmit(&mut [0; PART_HEAD + 16], |_, _| true), Some(PART_HEAD + 16));
}

#[test]
fn places_end_with_the_content() {
    for (size, part, parts) in [(100, 16, 7), (96, 16, 6), (1, 8, 1)] {
        let offer = Offer { number: 1, crc: 0, size, part, topic: 0 };
        let places: Vec<_> = (0..parts + 2).filter_map(|index| offer.place(index)).collect();
        assert_eq!(places.len(), parts as usize);
        let mut octets = 0;
        for place in places {
            assert_eq!(place.start, octets);
            octets = place.end;
        }
        assert_eq!(octets, size);
    }
}

/// Part 4 is beyond a window of four that begins at 0: to count it would be to hold what was never offered a place.
#[test]
fn a_part_at_the_edge_of_the_window_counts_and_the_next_does_not() {
    let content = content(100);
    let mut receiver = Receiver::new(limits(4));
    receiver.handle(&write(Message::Offer { offer: offer(1, &content, 16), round: 1 })).unwrap();
    receiver.accept();
    let held = |receiver: &Receiver| receiver.progress().unwrap().held;
    receiver.stored(4);
    assert_eq!(held(&receiver), 0);
    receiver.stored(3);
    assert_eq!(held(&receiver), 16);
}

/// Before the program has taken an offer nothing is owed; what is over, done or unknown is told, each to its own sender.
#[test]
fn a_part_at_the_wrong_time_is_told_why() {
    let content = content(100);
    let ours = offer(1, &content, 16);
    let part =
        |offer: &Offer| write(Message::Part { id: offer.id(), index: 0, asks: None, octets: &content[..16] });
    let stranger = Offer { number: 2, ..ours };
    let not_known = Some(write(Message::Refuse(stranger.id(), Reason::NotKnown)));
    let mut receiver = Receiver::new(limits(4));
    receiver.handle(&write(Message::Offer { offer: ours, round: 1 })).unwrap();
    assert_eq!(receiver.handle(&part(&ours)), Err(Refused::OutsideWindow));
    assert_eq!(answers(&mut receiver), None);
    assert_eq!(receiver.handle(&part(&stranger)), Err(Refused::OtherTransfer));
    assert_eq!(answers(&mut receiver), not_known);
    receiver.refuse(Reason::NotWanted);
    assert_eq!(answers(&mut receiver), Some(write(Message::Refuse(ours.id(), Reason::NotWanted))));
    assert_eq!(receiver.handle(&part(&stranger)), Err(Refused::OtherTransfer));
    assert_eq!(answers(&mut receiver), not_known);
    assert_eq!((receiver.handle(&part(&ours)), receiver.finished()), (Err(Refused::Over), None));
}

/// Every state that is saved reads back as itself, and one that cannot be does not.
#[test]
fn each_saved_state_comes_back() {
    let content = content(48);
    let ours = offer(1, &content, 16);
    let taking = |parts: u32| {
        let mut receiver = Receiver::new(limits(4));
        receiver.handle(&write(Message::Offer { offer: ours, round: 1 })).unwrap();
        receiver.accept();
        (0..parts).for_each(|index| {
            receiver.stored(index);
        });
        receiver
    };
    let restored = |receiver: &Receiver| Receiver::restore(limits(4), &receiver.save());
    for code in 0..=9 {
        let mut receiver = taking(1);
        receiver.refuse(Reason::from_code(code));
        assert_eq!(restored(&receiver).unwrap().state(), State::Over(Reason::from_code(code)));
    }
    let mut receiver = taking(3);
    assert_eq!((receiver.state(), restored(&receiver).unwrap().state()), (State::Checking, State::Checking));
    assert!(receiver.checked(ours.crc));
    let again = restored(&receiver).unwrap();
    assert_eq!((again.state(), again.finished()), (State::Done, Some(&ours)));
    for (base, held) in [(3, 1), (2, 1), (0, 4), (4, 0)] {
        let mut receiver = taking(0);
        (receiver.parts.base, receiver.parts.held) = (base, held);
        assert_eq!(restored(&receiver), None, "{base} {held:b}: there are three parts");
    }
    let mut receiver = taking(0);
    (receiver.parts.base, receiver.parts.held) = (0, 2);
    assert_eq!(restored(&receiver).unwrap().state(), State::Taking);
}

/// A sender that was stopped has one word left to say, at once; then nothing.
#[test]
fn a_stop_is_due_at_once_and_only_once() {
    let content = content(100);
    let ours = offer(1, &content, 16);
    let mut desk = sender(ours);
    sends(&mut desk, &content);
    desk.stop(Reason::Stopped);
    assert_eq!(desk.poll_wake(), Some(Duration::from_ticks(0)));
    assert_eq!(sends(&mut desk, &content), Some(write(Message::Stop(ours.id(), Reason::Stopped))));
    assert_eq!((desk.poll_wake(), sends(&mut desk, &content)), (None, None));
}

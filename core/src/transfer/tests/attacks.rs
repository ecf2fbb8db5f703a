//! What is known to break reassembly: RFC 8724 section 12.2 (reserved buffers, forged acknowledgements), RFC 4944 section 5.3 (overlaps), RFC 8724
//! section 8.4.3.2 (remnants under a used tag), RFC 8931 section 6.2 (the lost last acknowledgement).

use super::*;

/// A receiver that takes a content of 100 octets in parts of 16, window 4, and what its sender would say.
fn taking() -> (Mast, Offer, Vec<u8>) {
    let content = content(100);
    let offer = offer(1, &content, 16);
    let mut mast = Mast::new(4);
    mast.take(&write(Message::Offer { offer, round: 1 }), false);
    assert!(answers(&mut mast.receiver).is_some());
    (mast, offer, content)
}

fn part(offer: &Offer, index: u32, octets: &[u8]) -> Vec<u8> {
    write(Message::Part { id: offer.id(), index, asks: None, octets })
}

/// A reserved buffer: an offer takes no memory, others are told that it is busy, and it gives way when nothing comes.
#[test]
fn an_offer_that_never_comes_holds_nobody_up_for_longer_than_the_patience() {
    let mut mast = Mast::new(4);
    let bait = Offer { number: 1, crc: 1, size: 4_096, part: 64, topic: 0 };
    let content = content(100);
    let honest = offer(2, &content, 16);
    mast.take(&write(Message::Offer { offer: bait, round: 1 }), false);
    answers(&mut mast.receiver);
    let ask = write(Message::Offer { offer: honest, round: 1 });
    mast.take(&ask, false);
    let busy = write(Message::Refuse(honest.id(), Reason::Busy));
    assert_eq!(answers(&mut mast.receiver), Some(busy));
    mast.receiver.elapse(Duration::from_ticks(60_000 * MS - 1));
    // Parts of no use do not keep it waiting.
    mast.take(&part(&bait, 63, &[0; 64]), false);
    mast.take(&part(&bait, 70, &[0; 64]), false);
    mast.receiver.elapse(Duration::from_ticks(1));
    mast.take(&ask, false);
    assert_eq!(mast.receiver.state(), State::Taking);
    assert_eq!(mast.receiver.offer(), Some(&honest));
}

#[test]
fn what_is_too_large_is_refused_before_anything_is_taken() {
    let content = content(100);
    let good = offer(1, &content, 16);
    for (bad, reason) in [
        (Offer { size: 4_097, ..good }, Reason::TooLarge),
        (Offer { size: MAX_SIZE, part: 1024, ..good }, Reason::TooLarge),
        (Offer { part: 65, ..good }, Reason::PartTooLong),
    ] {
        let mut receiver = Receiver::new(limits(4));
        assert_eq!(receiver.handle(&write(Message::Offer { offer: bad, round: 1 })), Ok(Input::Nothing));
        assert_eq!(answers(&mut receiver), Some(write(Message::Refuse(bad.id(), reason))));
        assert_eq!(receiver.state(), State::Idle);
    }
    for (size, part) in [(0, 16), (MAX_SIZE + 1, 1024), (100, 7), (100, 1025)] {
        let bad = Offer { size, part, ..good };
        let body = write(Message::Offer { offer: bad, round: 1 });
        assert_eq!(Receiver::new(limits(4)).handle(&body), Err(Refused::BadField));
        assert_eq!(Sender::new(bad, PACE), None);
    }
}

/// Overlaps: every part has one place and one length, and the first to be stored there stays.
#[test]
fn parts_cannot_overlap_nor_replace_one_another() {
    let (mut mast, offer, content) = taking();
    for (index, len, why) in [
        (0, 15, Refused::BadPart),
        (0, 17, Refused::BadPart),
        (0, 0, Refused::BadPart),
        (6, 16, Refused::BadPart),
        (7, 16, Refused::BadPart),
        (0xFF_FFFF, 16, Refused::BadPart),
        (4, 16, Refused::OutsideWindow),
        (6, 4, Refused::OutsideWindow),
    ] {
        assert_eq!(mast.receiver.handle(&part(&offer, index, &vec![0xAA; len])), Err(why), "{index} {len}");
    }
    mast.take(&part(&offer, 1, &content[16..32]), false);
    let forged = part(&offer, 1, &[0xAA; 16]);
    assert_eq!(mast.receiver.handle(&forged), Err(Refused::Repeat));
    assert_eq!(mast.store[16..32], content[16..32]);
    assert!(!mast.receiver.stored(5) && !mast.receiver.stored(u32::MAX), "only within the window");
    assert_eq!(mast.receiver.progress(), Some(Progress { held: 16, size: 100 }));
}

/// A forged part can spoil a transfer, but the whole check finds it, both sides know, and the next try is whole.
#[test]
fn a_forged_part_is_found_by_the_whole_check() {
    let (mut mast, offer, content) = taking();
    mast.take(&part(&offer, 2, &[0xAA; 16]), false);
    let mut desk = sender(offer);
    while let Some(body) = sends(&mut desk, &content) {
        mast.take(&body, false);
        answers(&mut mast.receiver).iter().for_each(|body| desk.handle(body).unwrap());
    }
    assert_eq!(desk.outcome(), Some(Outcome::Refused(Reason::Damaged)));
    assert_eq!((mast.receiver.state(), mast.whole), (State::Over(Reason::Damaged), 0));
    desk.again();
    while let Some(body) = sends(&mut desk, &content) {
        mast.take(&body, false);
        answers(&mut mast.receiver).iter().for_each(|body| desk.handle(body).unwrap());
    }
    assert_eq!((desk.outcome(), mast.whole), (Some(Outcome::Delivered), 1));
}

/// Forged acknowledgements: what was never sent cannot be held, and only the newest asking is answered.
#[test]
fn a_map_of_what_was_never_sent_is_refused() {
    let content = content(200);
    let offer = offer(1, &content, 16);
    let map =
        |round, base, held| write(Message::Map { id: offer.id(), round, map: Map { base, held, window: 2 } });
    let mut desk = sender(offer);
    sends(&mut desk, &content);
    assert_eq!(desk.handle(&map(0, 0, 0)), Err(Refused::OldRound));
    assert_eq!(desk.handle(&map(1, 14, 0)), Err(Refused::BadField), "there are 13 parts");
    assert_eq!(desk.handle(&map(1, 12, 1)), Err(Refused::BadField));
    assert_eq!(desk.handle(&map(1, 2, 0)), Ok(()));
    assert_eq!(desk.handle(&map(1, 4, 0)), Err(Refused::OldRound), "nothing has been asked since");
    assert!(sends(&mut desk, &content).is_some());
    assert_eq!(desk.handle(&map(2, 3, 0)), Err(Refused::OldRound));
    assert!(sends(&mut desk, &content).is_some());
    assert_eq!(sends(&mut desk, &content), None);
    assert_eq!(desk.handle(&map(1, 4, 0)), Err(Refused::OldRound));
    assert_eq!(desk.handle(&map(2, 5, 0)), Err(Refused::BadField), "part 4 was never sent");
    assert_eq!(desk.handle(&map(2, 2, 0b10)), Err(Refused::BadField), "nor held");
    assert_eq!(desk.handle(&map(2, 2, 0b1)), Ok(()));
    assert_eq!(desk.progress(), Progress { held: 48, size: 200 });
}

/// Remnants: copies of an earlier transfer are told so, whatever is under way, and nothing of them is taken.
#[test]
fn remnants_of_another_transfer_are_not_taken() {
    let (mut mast, offer, content) = taking();
    let mut desk = sender(offer);
    let mut copies = vec![];
    while let Some(body) = sends(&mut desk, &content) {
        mast.take(&body, false);
        answers(&mut mast.receiver).iter().for_each(|body| desk.handle(body).unwrap());
        copies.push(body);
    }
    let news = content.iter().map(|octet| octet ^ 1).collect::<Vec<_>>();
    let next = super::offer(2, &news, 16);
    mast.take(&write(Message::Offer { offer: next, round: 1 }), false);
    answers(&mut mast.receiver);
    for copy in &copies {
        mast.take(copy, false);
        assert_eq!(answers(&mut mast.receiver), Some(write(Message::Done(offer.id()))));
    }
    let stranger = Id { number: 3, ..next.id() };
    mast.take(&write(Message::Part { id: stranger, index: 0, asks: None, octets: &[0; 16] }), false);
    assert_eq!(answers(&mut mast.receiver), Some(write(Message::Refuse(stranger, Reason::NotKnown))));
    assert_eq!(mast.receiver.progress(), Some(Progress { held: 0, size: 100 }));
    assert_eq!(mast.whole, 1);
}

/// The last acknowledgement is lost, and the receiver restarts too: the sender still learns that it was delivered, and it was taken once.
#[test]
fn a_lost_last_answer_is_repeated_even_after_a_restart() {
    let (mut mast, offer, content) = taking();
    let mut desk = sender(offer);
    while mast.receiver.state() != State::Done {
        let body = sends(&mut desk, &content).unwrap();
        mast.take(&body, false);
        if mast.receiver.state() != State::Done {
            answers(&mut mast.receiver).iter().for_each(|body| desk.handle(body).unwrap());
        }
    }
    mast.restart();
    desk.elapse(desk.poll_wake().unwrap());
    let ask = sends(&mut desk, &content).unwrap();
    mast.take(&ask, false);
    desk.handle(&answers(&mut mast.receiver).unwrap()).unwrap();
    assert_eq!((desk.outcome(), mast.whole), (Some(Outcome::Delivered), 1));
    // A sender that restarts and offers the same again is told at once; under another number it is a new transfer.
    mast.take(&write(Message::Offer { offer, round: 1 }), false);
    assert_eq!(answers(&mut mast.receiver), Some(write(Message::Done(offer.id()))));
    let renewed = write(Message::Offer { offer: Offer { number: 2, ..offer }, round: 1 });
    assert!(mast.receiver.handle(&renewed).is_ok());
    assert_eq!(mast.receiver.state(), State::Offered);
}

/// A receiver that only ever says that it holds nothing does not keep a sender sending for ever.
#[test]
fn a_receiver_that_never_holds_anything_is_given_up() {
    let content = content(100);
    let mut desk = sender(offer(1, &content, 16));
    let mut sent = 0;
    while let Some(body) = sends(&mut desk, &content) {
        sent += 1;
        let round = body[0] >> 4;
        let map = Map { base: 0, held: 0, window: 1 };
        desk.handle(&write(Message::Map { id: desk.offer().id(), round, map })).unwrap();
    }
    assert_eq!((desk.outcome(), sent), (Some(Outcome::Unknown), 33));
    // Nor does one that forgets the transfer as often as it is offered.
    let mut desk = sender(*desk.offer());
    let mut sent = 0;
    while let Some(body) = sends(&mut desk, &content) {
        sent += 1;
        let id = desk.offer().id();
        let answer = match Message::parse(&body).unwrap() {
            Message::Offer { round, .. } => {
                Message::Map { id, round, map: Map { base: 0, held: 0, window: 1 } }
            }
            _ => Message::Refuse(id, Reason::NotKnown),
        };
        desk.handle(&write(answer)).unwrap();
    }
    assert_eq!((desk.outcome(), sent), (Some(Outcome::Unknown), 33));
}

#[test]
fn either_side_ends_it_with_a_reason_and_the_other_learns_it() {
    let (mut mast, offer, content) = taking();
    let mut desk = sender(offer);
    sends(&mut desk, &content);
    desk.stop(Reason::Stopped);
    let stop = sends(&mut desk, &content).unwrap();
    assert_eq!(mast.receiver.handle(&stop), Ok(Input::Stopped(Reason::Stopped)));
    assert_eq!(mast.receiver.handle(&stop), Err(Refused::Over));
    assert_eq!(answers(&mut mast.receiver), None, "a stop is not answered");
    assert_eq!((sends(&mut desk, &content), desk.poll_wake()), (None, None));
    // The stop was lost: the map of a receiver that still waits brings it again.
    let (mut mast, ..) = taking();
    mast.take(&write(Message::Ask { id: offer.id(), round: 4 }), false);
    assert_eq!(desk.handle(&answers(&mut mast.receiver).unwrap()), Err(Refused::Over));
    assert_eq!(sends(&mut desk, &content), Some(stop));

    let (mut mast, ..) = taking();
    let mut desk = sender(offer);
    mast.receiver.refuse(Reason::Storage);
    let refusal = answers(&mut mast.receiver).unwrap();
    assert_eq!(desk.handle(&refusal), Ok(()));
    assert_eq!(desk.outcome(), Some(Outcome::Refused(Reason::Storage)));
    mast.take(&part(&offer, 0, &content[..16]), false);
    assert_eq!(answers(&mut mast.receiver), Some(refusal), "and again, whoever still sends");
    let mut blind = sender(offer);
    blind
        .handle(&write(Message::Map { id: offer.id(), round: 1, map: Map { base: 0, held: 0, window: 1 } }))
        .unwrap();
    let mut out = [0; 80];
    let len = blind.poll_transmit(&mut out, |_, _| false).unwrap();
    assert_eq!(out[..len], write(Message::Stop(offer.id(), Reason::Unreadable)));
    assert_eq!(blind.outcome(), Some(Outcome::Stopped(Reason::Unreadable)));
}

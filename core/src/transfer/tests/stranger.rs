//! A stranger on the line who knows the number and the tag of the transfer and says whatever he likes, between losses, doubles and restarts. What the receiver
//! asks its program to store stays within its limits and within the offer that it took, no part of an offer is stored twice, each body makes at most one
//! short answer, and once the stranger is gone a new transfer is whole.

use super::*;
use core::mem::size_of;
use proptest::prelude::*;
use std::collections::BTreeMap;

const LARGEST: u32 = 400;
const PART: u16 = 24;
const PATIENCE: u32 = 60_000 * MS;

/// What a receiver and a sender take, with nothing behind them: no input can make that grow.
#[test]
fn both_sides_have_the_size_that_they_have() {
    assert!(size_of::<Receiver>() <= 96, "{}", size_of::<Receiver>());
    assert!(size_of::<Sender>() <= 96, "{}", size_of::<Sender>());
}

#[derive(Debug, Clone)]
enum Does {
    /// What the honest two have to say goes on its way.
    Speak,
    /// The next body, or another of those on their way, arrives; the bool: at the desk.
    Arrive(bool, prop::sample::Index),
    Lose(bool, prop::sample::Index),
    Double(bool, prop::sample::Index),
    /// The bool: the desk.
    Restart(bool),
    Wait(u32),
    /// The stranger says this to both.
    Say(Vec<u8>),
}

/// Whose transfer a body is about: the honest one, one with its number or with its tag, any.
fn about() -> impl Strategy<Value = (u8, u16)> {
    prop_oneof![
        4 => Just((1, 0)),
        1 => any::<u16>().prop_map(|tag| (1, tag)),
        1 => any::<u8>().prop_map(|number| (number, 0)),
        1 => any::<(u8, u16)>(),
    ]
}

/// A body as the wire has it, most of them such as would be taken; `tag` zero stands for the honest one.
fn says(honest: Offer) -> impl Strategy<Value = Vec<u8>> {
    let id = move |(number, tag): (u8, u16)| Id { number, tag: if tag == 0 { honest.id().tag } else { tag } };
    let offer = (0_u8..4, 0_u32..600, 0_u16..40, 0_u8..16).prop_map(move |(number, size, part, round)| {
        let crc = if size % 3 == 0 { honest.crc } else { size };
        write(Message::Offer { offer: Offer { number, crc, size, part, topic: 3 }, round })
    });
    let index = prop_oneof![4 => 0_u32..30, 1 => 0_u32..1 << 24];
    let part = (about(), index, prop::option::of(0_u8..16), 0_usize..40).prop_map(
        move |(about, index, asks, len)| {
            write(Message::Part { id: id(about), index, asks, octets: &vec![0xEE; len] })
        },
    );
    let base = prop_oneof![4 => 0_u32..30, 1 => 0_u32..1 << 24];
    let map = (about(), 0_u8..16, base, any::<u32>(), any::<u8>()).prop_map(
        move |(about, round, base, held, window)| {
            write(Message::Map { id: id(about), round, map: Map { base, held, window } })
        },
    );
    let others = (about(), 0_u8..4, 0_u8..16).prop_map(move |(about, which, what)| {
        let (id, reason) = (id(about), Reason::from_code(what));
        write(match which {
            0 => Message::Ask { id, round: what },
            1 => Message::Done(id),
            2 => Message::Stop(id, reason),
            _ => Message::Refuse(id, reason),
        })
    });
    prop_oneof![2 => offer, 4 => part, 3 => map, 2 => others, 1 => prop::collection::vec(any::<u8>(), 0..40)]
}

fn does(honest: Offer) -> impl Strategy<Value = Does> {
    let index = any::<prop::sample::Index>;
    prop_oneof![
        6 => Just(Does::Speak),
        6 => (any::<bool>(), index()).prop_map(|(desk, at)| Does::Arrive(desk, at)),
        1 => (any::<bool>(), index()).prop_map(|(desk, at)| Does::Lose(desk, at)),
        1 => (any::<bool>(), index()).prop_map(|(desk, at)| Does::Double(desk, at)),
        1 => any::<bool>().prop_map(Does::Restart),
        1 => (0..PATIENCE * 2).prop_map(Does::Wait),
        4 => says(honest).prop_map(Does::Say),
    ]
}

/// A receiver that is watched: what it was told to store, by part, of the offer that it is taking.
struct Watched {
    receiver: Receiver,
    saved: [u8; SAVED_LEN],
    store: BTreeMap<u32, Vec<u8>>,
    wholes: u32,
}

fn its_limits(window: u8) -> Limits {
    Limits { largest: LARGEST, part: PART, window, patience: Duration::from_ticks(PATIENCE) }
}

impl Watched {
    fn take(&mut self, body: &[u8]) -> Option<Vec<u8>> {
        let held = |receiver: &Receiver| receiver.progress().map_or(0, |progress| progress.held);
        let before = held(&self.receiver);
        match self.receiver.handle(body) {
            Ok(Input::Offered(offer)) => {
                assert!(offer.is_sound() && offer.size <= LARGEST && offer.part <= PART, "{offer:?}");
                self.store.clear();
                self.receiver.accept();
            }
            Ok(Input::Store { index, at, octets }) => {
                let offer = *self.receiver.offer().unwrap();
                let place = offer.place(index).expect("a part of the offer");
                assert_eq!((at, at as usize + octets.len()), (place.start, place.end as usize));
                assert!(self.store.insert(index, octets.to_vec()).is_none(), "part {index} is stored twice");
                self.receiver.stored(index);
                assert_eq!(held(&self.receiver), before + u32::try_from(octets.len()).unwrap());
            }
            Ok(Input::Nothing | Input::Stopped(_)) | Err(_) => {}
        }
        if self.receiver.state() == State::Checking {
            let offer = *self.receiver.offer().unwrap();
            let whole = self.store.values().flatten().copied().collect::<Vec<_>>();
            assert_eq!(whole.len(), offer.size as usize, "all of it, and no octet more");
            let good = self.receiver.checked(crc_of(&whole));
            assert_eq!(good, crc_of(&whole) == offer.crc);
            self.wholes += u32::from(good);
        }
        assert!(held(&self.receiver) <= LARGEST);
        self.saved = self.receiver.save();
        let mut out = [0; MAP_LEN];
        let answer = self.receiver.poll_transmit(&mut out).map(|len| out[..len].to_vec());
        assert_eq!(self.receiver.poll_transmit(&mut out), None, "one answer to a body");
        answer
    }

    /// What is counted as held is what was stored, also after a restart.
    fn restart(&mut self, window: u8) {
        self.receiver = Receiver::restore(its_limits(window), &self.saved).expect("its own state");
        if matches!(self.receiver.state(), State::Taking) {
            let stored = self.store.values().map(Vec::len).sum::<usize>();
            assert_eq!(self.receiver.progress().unwrap().held as usize, stored);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn a_stranger_cannot_make_it_grow_nor_store_beside_its_place(
        window in 0_u8..40,
        steps in prop::collection::vec(does(offer(1, &content(200), 16)), 0..300),
    ) {
        let content = content(200);
        let ours = offer(1, &content, 16);
        let fresh = Receiver::new(its_limits(window));
        let mut mast = Watched { saved: fresh.save(), receiver: fresh, store: BTreeMap::new(), wholes: 0 };
        let mut desk = sender(ours);
        // On their way to the mast, and to the desk.
        let mut ways = [vec![], vec![]];
        for step in steps {
            match step {
                Does::Speak => {
                    desk.again();
                    ways[0].extend(sends(&mut desk, &content));
                }
                Does::Arrive(to_desk, at) if !ways[usize::from(to_desk)].is_empty() => {
                    let way = &mut ways[usize::from(to_desk)];
                    let body = way.remove(at.index(way.len()));
                    if to_desk {
                        let _ = desk.handle(&body);
                    } else {
                        ways[1].extend(mast.take(&body));
                    }
                }
                Does::Lose(to_desk, at) | Does::Double(to_desk, at) if !ways[usize::from(to_desk)].is_empty() => {
                    let way = &mut ways[usize::from(to_desk)];
                    let at = at.index(way.len());
                    if matches!(step, Does::Lose(..)) {
                        way.remove(at);
                    } else {
                        way.push(way[at].clone());
                    }
                }
                Does::Restart(true) => desk = sender(ours),
                Does::Restart(false) => mast.restart(window),
                Does::Wait(ticks) => {
                    desk.elapse(Duration::from_ticks(ticks));
                    mast.receiver.elapse(Duration::from_ticks(ticks));
                }
                Does::Say(body) => {
                    let _ = desk.handle(&body);
                    prop_assert!(desk.progress().held <= ours.size);
                    ways[1].extend(mast.take(&body));
                }
                _ => {}
            }
        }
        // Nobody says a word until the patience is over; then there is another transfer. The stranger's offers had the numbers up to 3.
        mast.receiver.elapse(Duration::from_ticks(PATIENCE));
        let before = mast.wholes;
        let mut desk = sender(offer(9, &content, 16));
        while let Some(body) = sends(&mut desk, &content) {
            if let Some(answer) = mast.take(&body) {
                let _ = desk.handle(&answer);
            }
        }
        prop_assert_eq!(desk.outcome(), Some(Outcome::Delivered));
        prop_assert_eq!(mast.wholes, before + 1);
        prop_assert_eq!(mast.store.into_values().flatten().collect::<Vec<_>>(), content);
    }
}

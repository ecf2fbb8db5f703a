//! W-47: the number of a notice counts losses and nothing else; on a radio late ones and copies are given, and count none.

mod common;

use bellwire::{
    frame::{Class, Kind},
    framing::{Cobs, Datagram, Framing},
    link::{Config, OwnNumber},
    stats::Counter,
};
use common::{Pair, Told, Who, config, us};

/// Sends a notice for each fate, one every millisecond; gives the number and the losses of each that comes, and what was counted.
fn given<F: Framing>(
    framing: F,
    configs: [Config; 2],
    fates: &'static [&'static [u64]],
) -> (Vec<(u8, u8)>, u32) {
    let mut pair = Pair::<F, 1, 4>::new(framing, configs, 0);
    pair.run(20_000);
    assert!(pair.is_up());
    pair.forget();
    let mut notices = fates.iter();
    pair.line = Box::new(move |_, sent| match sent.kind {
        Kind::Notice => notices.next().map_or(vec![0], |fate| fate.to_vec()),
        _ => vec![0],
    });
    for _ in fates {
        pair.send(Who::Desk, Class::Notice, &[5]).unwrap();
        pair.run(1_000);
    }
    pair.run(100_000);
    let notice = |told| match told {
        Told::Message { class: Class::Notice, number, missed, .. } => Some((number, missed)),
        _ => None,
    };
    let lost = pair.links[1].statistics().get(Counter::NoticesLost);
    (pair.told(Who::Dome).into_iter().filter_map(notice).collect(), lost)
}

fn radio() -> [Config; 2] {
    [1_000, 2_000].map(|own| Config {
        jitter_seed: 0,
        ..Config::datagram(common::RATE * 100, us(200_000), OwnNumber::Stored(own))
    })
}

fn wire() -> [Config; 2] {
    [1_000, 2_000].map(|own| Config { octet_rate: common::RATE * 100, ..config(own) })
}

#[test]
fn on_a_radio_a_late_one_and_a_copy_are_given_and_count_no_loss() {
    const FATES: [&[u64]; 8] = [&[0], &[5_500], &[0], &[0, 300], &[], &[], &[0], &[0]];
    let (given, lost) = given(Datagram, radio(), &FATES);
    assert_eq!(given, [(0, 0), (2, 1), (3, 0), (3, 0), (6, 2), (1, 0), (7, 0)]);
    assert_eq!(lost, 3, "the late one was counted when the next came");
}

/// What a late one leaves alone: the next in order counts none.
#[test]
fn on_a_radio_a_late_one_does_not_set_the_count_back() {
    const FATES: [&[u64]; 4] = [&[2_500], &[0], &[], &[0]];
    assert_eq!(given(Datagram, radio(), &FATES), (vec![(1, 1), (0, 0), (3, 1)], 2));
}

#[test]
fn on_a_wire_all_that_are_missing_were_lost_however_many() {
    const LOST: usize = 200;
    static FATES: [&[u64]; LOST + 3] = {
        let mut fates: [&[u64]; LOST + 3] = [&[]; LOST + 3];
        fates[0] = &[0];
        fates[LOST + 1] = &[0];
        fates[LOST + 2] = &[0];
        fates
    };
    assert_eq!(given(Cobs, wire(), &FATES), (vec![(0, 0), (201, 200), (202, 0)], 200));
}

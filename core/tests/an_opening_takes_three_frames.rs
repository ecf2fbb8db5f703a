//! W-24 to W-26, W-35: three OPENs make a session, a simultaneous opening takes four, the rest are answers that change nothing.

mod common;

use bellwire::{
    frame::Kind,
    framing::Cobs,
    link::{Config, OwnNumber, State},
};
use common::{Pair, Told, Who, config};

#[test]
fn a_board_that_comes_later_is_up_after_three() {
    let mut pair = Pair::<_, 1, 4>::at(0);
    // The dome is off until the desk's first asking is gone.
    let mut dark = 0;
    pair.line = Box::new(move |_, sent| {
        dark += u32::from(sent.from == Who::Dome);
        if sent.from == Who::Dome && dark == 1 { vec![] } else { vec![0] }
    });
    pair.run(20_000);
    let asks: Vec<_> = pair.sent.iter().map(|sent| (sent.from, sent.kind, sent.ask)).collect();
    // Both ask at the start; the dome's asking is lost.
    assert_eq!(
        asks,
        [
            (Who::Desk, Kind::Open, true),
            (Who::Dome, Kind::Open, true),
            (Who::Dome, Kind::Open, true),
            (Who::Desk, Kind::Open, false),
        ]
    );
    assert!(pair.is_up());
}

#[test]
fn a_simultaneous_opening_is_up_after_four() {
    let mut pair = Pair::<_, 1, 4>::at(0);
    let mut up_after = None;
    for _ in 0..100 {
        pair.step_once();
        if pair.is_up() {
            up_after.get_or_insert(pair.sent.iter().filter(|sent| sent.ask).count());
        }
    }
    assert_eq!(up_after, Some(4));
    let opens: Vec<_> = pair.sent.iter().filter(|sent| sent.kind == Kind::Open).collect();
    assert_eq!(opens.len(), 6, "and two answers that change nothing");
    assert_eq!(opens.iter().filter(|sent| sent.ask).count(), 4);
}

#[test]
fn both_sides_tell_the_same_session_and_take_the_smaller_of_both_values() {
    let mut pair = Pair::<_, 4, 8>::at(0);
    pair.run(20_000);
    let [Some(desk), Some(dome)] = [pair.links[0].peer(), pair.links[1].peer()] else { panic!("not up") };
    assert_eq!((desk.session, dome.session), (3_000, 3_000));
    assert_eq!((desk.identity, dome.identity), (2_000, 1_000));
    assert_eq!((desk.window, desk.max_payload, desk.silence.as_ticks()), (4, 48, 3_000_000));
    assert_eq!(pair.told(Who::Desk), [Told::Opened(desk)]);
}

#[test]
fn the_loss_of_any_opening_frame_only_costs_time() {
    for lost in 0..6 {
        for second in lost..6 {
            let mut pair = Pair::<_, 1, 4>::at(0);
            pair.line = Box::new(move |at, _| if at == lost || at == second { vec![] } else { vec![0] });
            pair.run(1_200_000);
            assert!(pair.is_up(), "without frames {lost} and {second}");
            let ended = pair.told.iter().flatten().filter(|(_, told)| matches!(told, Told::Ended(_))).count();
            assert_eq!(ended, 0, "without frames {lost} and {second}: {:?}", pair.told);
        }
    }
}

#[test]
fn asking_backs_off_to_a_second_and_goes_back_to_the_start_when_anything_valid_is_heard() {
    let mut pair = Pair::<_, 1, 4>::at(0);
    pair.line = Box::new(|_, _| vec![]);
    pair.run(5_000_000);
    let asked: Vec<u64> =
        pair.sent.iter().filter(|sent| sent.from == Who::Desk).map(|sent| sent.at).collect();
    let pauses: Vec<u64> = asked.windows(2).map(|pair| pair[1] - pair[0]).collect();
    // 50 ms doubled, and the time in which the OPEN leaves: 32 octets at 11 520 a second, and rounding.
    let leaving = 32 * 1_000_000_u64 / 11_520 + 1;
    assert_eq!(pauses[..5], [50, 100, 200, 400, 800].map(|ms| ms * 1_000 + leaving));
    assert!(pauses[5..].iter().all(|&pause| pause == 1_000_000 + leaving), "{pauses:?}");

    // Anything valid: a probe of a tool.
    pair.forget();
    let before = pair.now;
    assert_eq!(pair.links[0].state(), State::Down);
    let mut tool = bellwire::link::Link::<bellwire::framing::Cobs>::new(
        bellwire::framing::Cobs,
        config(1),
        pair.instant(),
    );
    let mut out = [0; 80];
    let now = pair.instant();
    let _ = tool.poll_transmit(now, &mut out);
    tool.probe(now, 7, &[]).unwrap();
    let len = tool.poll_transmit(now, &mut out).unwrap();
    pair.feed(Who::Desk, &[&[0][..], &out[..len]].concat());
    pair.run(200_000);
    let asked: Vec<u64> = pair
        .sent
        .iter()
        .filter(|sent| sent.ask && sent.from == Who::Desk)
        .map(|sent| sent.at - before)
        .collect();
    assert!(asked[0] <= 50_000 && asked.len() >= 2, "{asked:?}");
}

/// The loop serves time-outs before it polls: that must not count as an asking that was not answered.
#[test]
fn to_be_served_before_the_first_asking_has_left_does_not_slow_the_second() {
    for own in [OwnNumber::Stored(1_000), OwnNumber::Numberless] {
        let mut pair = Pair::<_, 1, 4>::new(Cobs, [Config { own, ..config(1_000) }, config(2_000)], 0);
        pair.line = Box::new(|_, _| vec![]);
        for _ in 0..10 {
            let now = pair.instant();
            pair.link(Who::Desk).handle_timeout(now);
            if own == OwnNumber::Numberless {
                pair.run(1_000);
            }
        }
        pair.run(2_000_000);
        let asked: Vec<u64> =
            pair.sent.iter().filter(|sent| sent.from == Who::Desk).map(|sent| sent.at).collect();
        assert_eq!(asked[1] - asked[0], 50_000 + (32 * 1_000_000_u64).div_ceil(11_520), "{own:?}");
    }
}

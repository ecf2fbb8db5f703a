use super::{Act, Axis, Desk, Dome, Role, Shutter};
use crate::observatory::{Alarm, Message, Motion, ShutterMove};
use bellwire::{
    frame::{MessageNumber, ResetCause},
    link::{EndReason, Event, Peer, SendError},
    time::{Duration, Instant},
};

fn at(millis: u32) -> Instant {
    Instant::from_ticks(millis * 1_000)
}

fn peer() -> Peer {
    Peer {
        identity: 1,
        fingerprint: 0,
        cause: ResetCause::Power,
        numberless: false,
        window: 8,
        max_payload: 256,
        silence: Duration::from_ticks(3_000_000),
        session: 5,
    }
}

/// Hands a role a message that arrived at `now`.
fn hand(role: &mut dyn Role, now: Instant, message: &Message) {
    let payload = message.payload();
    let (number, _) = MessageNumber::split(&payload).unwrap();
    let message = bellwire::link::Message {
        class: message.class(),
        number: 0,
        message: number,
        payload: &payload,
        arrived: now,
        missed: 0,
    };
    role.event(now, &Event::Message(message));
}

/// Lets a role work; gives what it sent.
fn work(role: &mut dyn Role, now: Instant) -> Vec<Message> {
    let mut sent = Vec::new();
    role.work(now, &mut |message| {
        sent.push(message.clone());
        Err(SendError::QueueFull)
    });
    sent
}

fn state(sent: &[Message]) -> Option<(u16, i16, u8, Motion)> {
    sent.iter().rev().find_map(|message| match message {
        Message::DomeState { azimuth, rate, shutter, motion } => Some((*azimuth, *rate, *shutter, *motion)),
        _ => None,
    })
}

fn dome() -> Dome {
    let mut dome = Dome::new(Axis::new(18_000, at(0)), Shutter::closed(at(0)), at(0));
    dome.event(at(0), &Event::Opened(peer()));
    dome
}

/// A dome that runs at 2.00 °/s, its last set-point from 300 ms.
fn running() -> Dome {
    let mut dome = dome();
    hand(&mut dome, at(100), &Message::DomeRate { rate: 0 });
    hand(&mut dome, at(200), &Message::ReArm);
    hand(&mut dome, at(300), &Message::DomeRate { rate: 200 });
    assert_eq!(state(&work(&mut dome, at(300))), Some((18_000, 200, 0, Motion::Running)));
    dome
}

#[test]
fn nothing_moves_before_the_stop_value_and_the_operator() {
    let mut dome = dome();
    hand(&mut dome, at(100), &Message::DomeRate { rate: 200 });
    assert_eq!(state(&work(&mut dome, at(100))), Some((18_000, 0, 0, Motion::ReArm)));
    hand(&mut dome, at(200), &Message::ReArm);
    let sent = work(&mut dome, at(200));
    assert!(matches!(&sent[..], [Message::LogLine { text }] if text.contains("stop value")), "{sent:?}");
}

#[test]
fn it_stops_to_the_millisecond_without_news_and_says_so_until_it_is_heard() {
    let mut dome = running();
    assert_eq!(dome.poll_wake(), Some(at(350)));
    work(&mut dome, at(799));
    assert_eq!(dome.axis().rate(), 200);
    let sent = work(&mut dome, at(800));
    assert_eq!(dome.axis().rate(), 0);
    assert_eq!(dome.axis().azimuth(), 18_100);
    assert!(sent.contains(&Message::DomeAlarm { reason: Alarm::NoNews }));
    assert!(matches!(state(&sent), Some((18_100, 0, 0, Motion::Stale))));
    assert!(!work(&mut dome, at(1_500)).contains(&Message::DomeAlarm { reason: Alarm::NoNews }));
    assert!(
        work(&mut dome, at(1_800)).contains(&Message::DomeAlarm { reason: Alarm::NoNews }),
        "raised again"
    );
    hand(&mut dome, at(2_000), &Message::DomeRate { rate: 200 });
    work(&mut dome, at(2_100));
    assert_eq!((dome.motion(), dome.axis().rate()), (Motion::ReArm, 0), "news alone moves nothing");
}

#[test]
fn an_azimuth_is_approached_only_while_news_is_fresh() {
    let mut idle = dome();
    hand(&mut idle, at(0), &Message::DomeGoto { azimuth: 9_000 });
    assert!(matches!(&work(&mut idle, at(0))[0], Message::LogLine { text } if text.contains("re-armed")));
    let mut dome = running();
    hand(&mut dome, at(350), &Message::DomeRate { rate: 0 });
    hand(&mut dome, at(350), &Message::DomeGoto { azimuth: 18_500 });
    let mut now = 350;
    while dome.target().is_some() {
        work(&mut dome, at(now));
        now += 50;
        if now % 200 == 0 {
            hand(&mut dome, at(now), &Message::DomeRate { rate: 0 });
        }
        assert!(now < 10_000);
    }
    assert_eq!((dome.axis().azimuth(), dome.axis().rate()), (18_500, 0));
    hand(&mut dome, at(now), &Message::DomeGoto { azimuth: 9_000 });
    work(&mut dome, at(now));
    assert_eq!(dome.axis().rate(), -300);
    work(&mut dome, at(now + 600));
    assert_eq!((dome.target(), dome.axis().rate()), (None, 0), "no news, no motion");
}

#[test]
fn the_end_of_a_session_and_a_restart_hold_the_dome() {
    let mut ended = running();
    ended.event(at(400), &Event::Ended(EndReason::Silence));
    work(&mut ended, at(400));
    assert_eq!((ended.motion(), ended.axis().rate()), (Motion::Held, 0));
    let mut restarted = running();
    restarted.restart(at(400));
    work(&mut restarted, at(900));
    assert_eq!((restarted.motion(), restarted.axis().rate()), (Motion::Held, 0));
    assert_eq!(restarted.axis().azimuth(), 18_020, "the mechanics are where they were");
}

#[test]
fn rain_closes_the_shutter_with_or_without_a_link_and_no_order_opens_it_meanwhile() {
    let mut dome = dome();
    hand(&mut dome, at(0), &Message::Shutter { action: ShutterMove::Open });
    work(&mut dome, at(5_000));
    assert_eq!(dome.shutter().open(), 50);
    dome.event(at(5_000), &Event::Ended(EndReason::Silence));
    dome.act(at(5_000), Act::Rain);
    work(&mut dome, at(8_000));
    assert_eq!(dome.shutter().open(), 20);
    dome.event(at(8_000), &Event::Opened(peer()));
    hand(&mut dome, at(8_000), &Message::Shutter { action: ShutterMove::Open });
    let sent = work(&mut dome, at(10_000));
    assert_eq!(dome.shutter().open(), 0);
    assert!(sent.contains(&Message::DomeAlarm { reason: Alarm::Rain }));
    dome.act(at(11_000), Act::Dry);
    hand(&mut dome, at(11_000), &Message::Shutter { action: ShutterMove::Open });
    work(&mut dome, at(12_000));
    assert_eq!(dome.shutter().open(), 10);
}

#[test]
fn the_desk_streams_while_up_lets_go_at_the_end_and_keeps_no_order_for_later() {
    let mut desk = Desk::new(at(0));
    desk.act(at(0), Act::ReArm);
    assert!(desk.take_told().iter().any(|line| line.contains("not sent, for certain")));
    assert_eq!(desk.poll_wake(), None);
    desk.event(at(100), &Event::Opened(peer()));
    assert_eq!(work(&mut desk, at(100)), [Message::DomeRate { rate: 0 }], "the order from before is gone");
    desk.act(at(150), Act::Drive(-300));
    assert_eq!(work(&mut desk, at(299)), []);
    assert_eq!(work(&mut desk, at(300)), [Message::DomeRate { rate: -300 }]);
    desk.event(at(400), &Event::Ended(EndReason::PeerRestarted(ResetCause::Watchdog)));
    assert_eq!(work(&mut desk, at(500)), []);
    desk.event(at(600), &Event::Opened(peer()));
    assert_eq!(work(&mut desk, at(600)), [Message::DomeRate { rate: 0 }]);
}

//! Verbs for messages as Rust types: each posts its class, and what cannot be written is not sent.
#![cfg(feature = "postcard")]

use std::collections::BTreeMap;

use serde::Serialize;

use super::{
    super::{Event, Instant, PostError},
    Class, START, pair, run,
};
use crate::{frame::Extension, link::SendError, typed::WriteError};

#[derive(Serialize)]
enum Dome {
    Rate(u8),
    Map(BTreeMap<u8, [u8; 30]>),
}

#[test]
fn each_verb_posts_its_class() {
    let (mut desk, mut dome) = pair();
    let mut now: Instant = START;
    assert_eq!(desk.notice(now, &Dome::Rate(0)), Err(PostError::Send(SendError::NotOpen)));
    run(&mut desk, &mut dome, &mut now, 50);
    desk.set(now, &Dome::Rate(1)).unwrap();
    desk.errand(now, &Dome::Rate(2)).unwrap();
    desk.report(now, &Dome::Rate(3)).unwrap();
    desk.notice(now, &Dome::Rate(4)).unwrap();
    let (_, told) = run(&mut desk, &mut dome, &mut now, 50);
    let mut classes: std::vec::Vec<_> = told
        .into_iter()
        .filter_map(|told| match told {
            super::Told::Message(class, value, _) => Some((value, class)),
            super::Told::Outcome(_) => None,
        })
        .collect();
    classes.sort_by_key(|&(value, _)| value);
    let wanted = [(1, Class::SetPoint), (2, Class::Errand), (3, Class::Report), (4, Class::Notice)];
    assert_eq!(classes, wanted);
}

#[test]
fn what_does_not_fit_the_buffer_is_not_sent() {
    let (mut desk, mut dome) = pair();
    let mut now = START;
    run(&mut desk, &mut dome, &mut now, 50);
    let long = Dome::Map((0..3).map(|place| (place, [place; 30])).collect());
    assert_eq!(desk.errand(now, &long), Err(PostError::Write(WriteError::NoRoom)));
    assert_eq!(run(&mut desk, &mut dome, &mut now, 50).1, []);
}

#[test]
fn a_probe_goes_through_the_link_itself() {
    let (mut desk, mut dome) = pair();
    let mut now = START;
    run(&mut desk, &mut dome, &mut now, 50);
    desk.link_mut().probe(now, 7, &[]).unwrap();
    assert!(desk.service(now).unwrap().is_none());
    super::carry(&mut desk, &mut dome, now);
    assert!(dome.service(now).unwrap().is_none());
    super::carry(&mut dome, &mut desk, now);
    let Some(Event::ProbeAnswer { id, .. }) = desk.service(now).unwrap() else {
        panic!("no {:?}", Extension::ProbeAnswer)
    };
    assert_eq!(id, 7);
}

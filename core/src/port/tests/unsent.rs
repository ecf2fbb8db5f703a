//! Lines that do not tell what waits in them, and a port as plain data.

use std::hash::{DefaultHasher, Hash, Hasher};

use super::*;

/// A line that takes so many octets and tells nothing of them.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Silent {
    come: Vec<u8>,
    room: usize,
    put: Vec<u8>,
}

impl Line for Silent {
    type Error = ();

    fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, ()> {
        let octets = self.come.len().min(into.len());
        into.iter_mut().zip(self.come.drain(..octets)).for_each(|(cell, octet)| *cell = octet);
        Ok(Taken { octets, arrived: now })
    }

    fn put(&mut self, octets: &[u8]) -> Result<usize, ()> {
        let len = octets.len().min(self.room);
        self.put.extend_from_slice(&octets[..len]);
        self.room -= len;
        Ok(len)
    }
}

/// A board on a silent line with a session open, the time, and nothing put since.
fn opened() -> (Port<Silent>, Instant) {
    let mut desk = board(Silent { come: vec![], room: usize::MAX, put: vec![] }, 1);
    let mut dome = board(Memory::<256>::new(), 0x4000_0001);
    let mut now = START;
    for _ in 0..100 {
        let _ = drain(&mut desk, now);
        let _ = drain(&mut dome, now);
        now = after(now, Duration::from_millis(1));
        for octet in desk.line_mut().put.split_off(0) {
            dome.line_mut().arrive(now, &[octet]).unwrap();
        }
        while let Some(octet) = dome.line_mut().depart() {
            desk.line_mut().come.push(octet);
        }
    }
    assert_eq!(desk.state(), State::Up);
    assert!(desk.peer().is_some());
    let later = after(now, Duration::from_millis(100));
    let _ = drain(&mut desk, later);
    desk.line_mut().put.clear();
    (desk, after(later, Duration::from_millis(100)))
}

/// W-46: where the line does not tell, the estimate by its rate holds set-points back.
#[test]
fn a_line_that_takes_everything_is_not_filled_with_set_points() {
    let (mut desk, now) = opened();
    let mut put = vec![];
    for value in 0..50 {
        desk.send(now, Class::SetPoint, &[0, value]).unwrap();
        let _ = drain(&mut desk, now);
        put.push(desk.line().put.len());
    }
    // One frame: opening delimiter, code octet, control, number, message number, value, FCS, delimiter; those that follow need no opening one.
    let frame = 1 + 1 + 1 + 2 + 2 + 1;
    assert_eq!(put[..2], [frame + 1, 2 * frame + 1], "{put:?}");
    // Seven of them are 57 octets, so one more is started; eight are 65, and the rest replace each other in the link.
    assert_eq!(*put.last().unwrap(), 8 * frame + 1, "{put:?}");
}

/// W-1: our delimiter has only just left when the line took the rest of a frame.
#[test]
fn a_frame_that_waited_for_room_is_followed_without_a_second_delimiter() {
    let (mut desk, mut now) = opened();
    desk.line_mut().room = 3;
    desk.send(now, Class::Notice, &[0, 1]).unwrap();
    // Served more often than the octets that wait would take to leave.
    for _ in 0..50 {
        let _ = drain(&mut desk, now);
        now = after(now, Duration::from_ticks(100));
    }
    assert_eq!(desk.line().put.len(), 3, "the rest waits");
    desk.send(now, Class::Notice, &[0, 2]).unwrap();
    desk.line_mut().room = usize::MAX;
    let _ = drain(&mut desk, now);
    let delimiters = desk.line().put.iter().filter(|&&octet| octet == 0).count();
    assert_eq!((desk.line().put[0], delimiters), (0, 3), "{:02X?}", desk.line().put);
}

#[test]
fn a_closed_port_tells_its_peer_and_has_none() {
    let (mut desk, now) = opened();
    desk.close(now);
    let _ = drain(&mut desk, now);
    assert_eq!((desk.state(), desk.peer()), (State::Down, None));
    assert!(!desk.link().poll_wake().when.eq(&When::Now));
}

#[test]
fn ports_that_differ_in_octets_to_come_differ_and_hash_apart() {
    let hash = |port: &Port<Silent>| {
        let mut hasher = DefaultHasher::new();
        port.hash(&mut hasher);
        hasher.finish()
    };
    let (desk, _) = opened();
    let mut other = desk.clone();
    assert_eq!((&desk, hash(&desk)), (&other, hash(&other)));
    other.incoming.arrived = after(desk.incoming.arrived, Duration::from_ticks(1));
    assert_ne!(desk, other);
    assert_ne!(hash(&desk), hash(&other));
}

//! The air between two radio chips of the firmware: datagrams go over whole, and each arrives with the strength that this way has.

use std::{
    sync::{
        Arc,
        atomic::{AtomicBool, AtomicU32, Ordering},
    },
    thread::JoinHandle,
    time::Duration,
};

use super::{
    end::{End, Heard},
    wire::Side,
};

/// How often it is looked whether something was sent.
const NAP: Duration = Duration::from_millis(1);

/// The air in use. It is taken away when dropped.
#[derive(Debug)]
pub struct Air {
    carried: Arc<[AtomicU32; 2]>,
    over: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Air {
    /// The air between two chips. `strength`, dBm: how strong the first one is heard by the second, and the second by the first.
    #[must_use]
    pub fn between(ends: [End; 2], strength: [i8; 2]) -> Self {
        let (carried, over) = (Arc::new([const { AtomicU32::new(0) }; 2]), Arc::new(AtomicBool::new(false)));
        let thread = {
            let (carried, over) = (Arc::clone(&carried), Arc::clone(&over));
            std::thread::spawn(move || carry(ends, strength, &carried, &over))
        };
        Self { carried, over, thread: Some(thread) }
    }

    /// Datagrams from this side so far.
    #[must_use]
    pub fn carried(&self, from: Side) -> u32 {
        self.carried[from as usize].load(Ordering::Relaxed)
    }
}

impl Drop for Air {
    fn drop(&mut self) {
        self.over.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// The thread of the air.
fn carry(mut ends: [End; 2], strength: [i8; 2], carried: &[AtomicU32; 2], over: &AtomicBool) {
    let mut waiting = [Vec::new(), Vec::new()];
    let mut buffer = [0; 512];
    while !over.load(Ordering::Relaxed) {
        for from in [0, 1] {
            while let Heard::Octets(len) = ends[from].read(&mut buffer) {
                waiting[from].extend_from_slice(&buffer[..len]);
            }
            while let Some(datagram) = whole(&mut waiting[from], strength[from]) {
                carried[from].fetch_add(1, Ordering::Relaxed);
                let mut rest = &datagram[..];
                while !rest.is_empty() && !over.load(Ordering::Relaxed) {
                    rest = &rest[ends[1 - from].write(rest)..];
                }
            }
        }
        std::thread::sleep(NAP);
    }
}

/// Takes the first datagram if it is whole, with the strength put in: length, strength, octets.
fn whole(waiting: &mut Vec<u8>, strength: i8) -> Option<Vec<u8>> {
    let len = usize::from(*waiting.first()?) + 2;
    if waiting.len() < len {
        return None;
    }
    let mut datagram: Vec<u8> = waiting.drain(..len).collect();
    datagram[1] = strength.cast_unsigned();
    Some(datagram)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_datagram_waits_until_it_is_whole_and_gets_the_strength_of_its_way() {
        let mut waiting = vec![2, 0, 7];
        assert_eq!(whole(&mut waiting, -93), None);
        waiting.extend([8, 1, 0, 9]);
        assert_eq!(whole(&mut waiting, -93), Some(vec![2, 0xA3, 7, 8]));
        assert_eq!((whole(&mut waiting, -60), waiting.len()), (Some(vec![1, 0xC4, 9]), 0));
    }
}

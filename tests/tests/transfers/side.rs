//! One side of a transfer: the desk that sends, the mast that stores, or a board that has no part in it.

use bellwire::{
    retry::Policy,
    time::Duration,
    transfer::{
        Input, Limits, Offer, Outcome, PART_HEAD, Pace, Reason, Receiver, SAVED_LEN, Sender, State, crc_of,
    },
};
use std::rc::Rc;

/// Time-outs of the sender: far more than a part, a turn and a map on the slowest line here.
const PACE: Pace = Pace {
    time_out: Duration::from_ticks(300_000),
    policy: Policy { tries: Some(5), ceiling: 2_000_000, spread: 64 },
    seed: 7,
};
/// How long the receiver waits before another transfer may take its place.
pub(crate) const PATIENCE: Duration = Duration::from_ticks(5_000_000);

/// When a side ends the transfer of its own accord.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Ends {
    /// After so many parts sent, or stored.
    pub(crate) after: u32,
    pub(crate) reason: Reason,
}

pub(crate) enum Side {
    Desk(Desk),
    Mast(Box<Mast>),
    Neither,
}

/// The sending side. The content survives a restart, the sender does not.
pub(crate) struct Desk {
    pub(crate) content: Rc<[u8]>,
    pub(crate) sender: Sender,
    pub(crate) ends: Option<Ends>,
    parts: u32,
}

/// The receiving side. Store and saved state survive a restart, each as it was after the last part.
pub(crate) struct Mast {
    pub(crate) receiver: Receiver,
    pub(crate) store: Vec<u8>,
    pub(crate) limits: Limits,
    saved: [u8; SAVED_LEN],
    /// How often a whole content was checked and found good.
    pub(crate) wholes: u32,
    /// The power fails when so many bodies have come, before the last is stored.
    pub(crate) dies_at: Option<u32>,
    pub(crate) ends: Option<Ends>,
    bodies: u32,
    stored: u32,
}

impl Desk {
    pub(crate) fn new(content: Rc<[u8]>, part: u16) -> Self {
        let size = u32::try_from(content.len()).expect("a content");
        let offer = Offer { number: 1, crc: crc_of(&content), size, part, topic: 3 };
        Self { content, sender: Sender::new(offer, PACE).expect("a sound offer"), ends: None, parts: 0 }
    }

    /// Sends the same content as a new transfer.
    pub(crate) fn anew(&mut self) {
        let old = *self.sender.offer();
        let offer = Offer { number: old.number + 1, ..old };
        *self = Self {
            sender: Sender::new(offer, PACE).expect("a sound offer"),
            ..Self::new(Rc::clone(&self.content), old.part)
        };
    }

    fn transmit(&mut self, out: &mut [u8]) -> Option<usize> {
        let (content, mut read) = (&self.content, false);
        let len = self.sender.poll_transmit(out, |place, cell| {
            cell.copy_from_slice(&content[place.start as usize..place.end as usize]);
            read = true;
            true
        })?;
        self.parts += u32::from(read);
        if let Some(Ends { after, reason }) = self.ends
            && self.parts == after
        {
            self.sender.stop(reason);
        }
        Some(len)
    }
}

impl Mast {
    pub(crate) fn new(largest: u32, part: u16, window: u8) -> Self {
        let limits = Limits { largest, part, window, patience: PATIENCE };
        let receiver = Receiver::new(limits);
        Self {
            saved: receiver.save(),
            receiver,
            store: vec![0; largest as usize],
            limits,
            wholes: 0,
            dies_at: None,
            ends: None,
            bodies: 0,
            stored: 0,
        }
    }

    /// Takes a body; gives whether the power fails now.
    fn take(&mut self, body: &[u8]) -> bool {
        self.bodies += 1;
        let dies = self.dies_at == Some(self.bodies);
        match self.receiver.handle(body) {
            _ if dies => return true,
            Ok(Input::Offered(_)) => self.receiver.accept(),
            Ok(Input::Store { index, at, octets }) => {
                let at = at as usize;
                self.store[at..at + octets.len()].copy_from_slice(octets);
                self.receiver.stored(index);
                self.stored += 1;
                if let Some(Ends { after, reason }) = self.ends
                    && self.stored == after
                {
                    self.receiver.refuse(reason);
                }
            }
            _ => {}
        }
        if self.receiver.state() == State::Checking {
            let size = self.receiver.offer().expect("an offer").size as usize;
            self.wholes += u32::from(self.receiver.checked(crc_of(&self.store[..size])));
        }
        self.saved = self.receiver.save();
        false
    }
}

impl Side {
    /// Takes a body; gives whether the power fails now.
    pub(crate) fn take(&mut self, body: &[u8]) -> bool {
        match self {
            Self::Desk(desk) => {
                // What is not for it is refused, and counts in no table here.
                let _ = desk.sender.handle(body);
                false
            }
            Self::Mast(mast) => mast.take(body),
            Self::Neither => false,
        }
    }

    pub(crate) fn transmit(&mut self) -> Option<Vec<u8>> {
        let mut out = [0; PART_HEAD + 1024];
        let len = match self {
            Self::Desk(desk) => desk.transmit(&mut out),
            Self::Mast(mast) => mast.receiver.poll_transmit(&mut out),
            Self::Neither => None,
        }?;
        Some(out[..len].to_vec())
    }

    pub(crate) fn elapse(&mut self, span: Duration) {
        match self {
            Self::Desk(desk) => desk.sender.elapse(span),
            Self::Mast(mast) => mast.receiver.elapse(span),
            Self::Neither => {}
        }
    }

    pub(crate) fn wake(&self) -> Option<Duration> {
        if let Self::Desk(desk) = self { desk.sender.poll_wake() } else { None }
    }

    pub(crate) fn restart(&mut self) {
        match self {
            Self::Desk(desk) => {
                desk.sender = Sender::new(*desk.sender.offer(), PACE).expect("the same offer");
            }
            Self::Mast(mast) => {
                mast.receiver = Receiver::restore(mast.limits, &mast.saved).expect("its own state");
            }
            Self::Neither => {}
        }
    }

    pub(crate) fn outcome(&self) -> Option<Outcome> {
        if let Self::Desk(desk) = self { desk.sender.outcome() } else { None }
    }
}

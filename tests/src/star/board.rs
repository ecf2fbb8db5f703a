//! Any board of a star.

use super::desk::Desk;
use bellwire::framing::Framing;
use bellwire_cli::sim::{Board, Moment, Node, traffic::Traffic};

/// The desk, or a leaf.
pub(super) enum Any<F: Framing> {
    Desk(Box<Desk<F>>),
    Leaf(Box<Board<Traffic>>),
}

macro_rules! either {
    ($self:expr, $board:ident => $do:expr) => {
        match $self {
            Any::Desk($board) => $do,
            Any::Leaf($board) => $do,
        }
    };
}

impl<F: Framing> Node for Any<F> {
    fn ports(&self) -> usize {
        either!(self, board => board.ports())
    }
    fn arrived(&mut self, now: Moment, port: usize, octets: &[u8]) {
        either!(self, board => board.arrived(now, port, octets));
    }
    fn woken(&mut self, now: Moment) {
        either!(self, board => board.woken(now));
    }
    fn transmit(&mut self, now: Moment, port: usize, unsent: usize, out: &mut Vec<u8>) -> bool {
        either!(self, board => board.transmit(now, port, unsent, out))
    }
    fn wake(&self) -> Option<Moment> {
        either!(self, board => board.wake())
    }
    fn restart(&mut self, now: Moment) {
        either!(self, board => board.restart(now));
    }
}

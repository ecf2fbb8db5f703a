//! What stands in the demo's network: the desk with its links, a board on a wire, a board in the field.

use super::station::Station;
use crate::sim::{Board, Moment, Node};

/// The strength at which the boards in the field hear the desk, dBm. Made up.
const DESK_HEARD: i16 = -88;

/// A place in the network.
pub(super) enum Seat {
    /// The desk: a link for each leaf. Port 0 is the dome's UART, port 1 the focuser's, port 2 the radio, which the last two links share.
    Desk(Box<[Board<Station>; 4]>),
    /// A board on a wire.
    Wired(Box<Board<Station>>),
    /// A board with a radio that sleeps.
    Field(Box<Field>),
}

/// A board in the field: while it sleeps its radio is off, and only its clock runs.
pub(super) struct Field {
    board: Board<Station>,
    now: Moment,
}

impl Field {
    pub(super) fn new(board: Board<Station>) -> Self {
        Self { board, now: Moment::START }
    }

    fn sleeps(&mut self, now: Moment) -> bool {
        self.now = now;
        self.board.program().sleeps_until(now).is_some()
    }
}

/// The port that a link of the desk uses.
const PORTS: [usize; 4] = [0, 1, 2, 2];

impl Seat {
    /// The programs, to take what they tell: of the desk one for each leaf.
    pub(super) fn programs(&mut self) -> Vec<&mut Station> {
        match self {
            Self::Desk(boards) => boards.iter_mut().map(Board::program_mut).collect(),
            Self::Wired(board) => vec![board.program_mut()],
            Self::Field(field) => vec![field.board.program_mut()],
        }
    }

    fn boards(&mut self) -> Vec<&mut Board<Station>> {
        match self {
            Self::Desk(boards) => boards.iter_mut().collect(),
            Self::Wired(board) => vec![&mut **board],
            Self::Field(field) => vec![&mut field.board],
        }
    }
}

impl Node for Seat {
    fn ports(&self) -> usize {
        if matches!(self, Self::Desk(_)) { 3 } else { 1 }
    }

    fn arrived(&mut self, now: Moment, port: usize, octets: &[u8]) {
        match self {
            Self::Desk(boards) => {
                for (board, _) in boards.iter_mut().zip(PORTS).filter(|(_, own)| *own == port) {
                    board.program_mut().hears(now, octets);
                    board.arrived(now, 0, octets);
                }
            }
            Self::Wired(board) => board.arrived(now, port, octets),
            Self::Field(field) => {
                if !field.sleeps(now) {
                    field.board.program_mut().hears(now, octets);
                    field.board.arrived(now, port, octets);
                }
            }
        }
    }

    fn woken(&mut self, now: Moment) {
        match self {
            Self::Field(field) => {
                if !field.sleeps(now) {
                    field.board.woken(now);
                }
            }
            other => other.boards().into_iter().for_each(|board| board.woken(now)),
        }
    }

    fn transmit(&mut self, now: Moment, port: usize, unsent: usize, out: &mut Vec<u8>) -> bool {
        match self {
            Self::Desk(boards) => {
                for (board, _) in boards.iter_mut().zip(PORTS).filter(|(_, own)| *own == port) {
                    if board.transmit(now, 0, unsent, out) {
                        board.program_mut().says(now, out);
                        return true;
                    }
                }
                false
            }
            Self::Wired(board) => board.transmit(now, port, unsent, out),
            Self::Field(field) => {
                if field.sleeps(now) || !field.board.transmit(now, port, unsent, out) {
                    return false;
                }
                field.board.program_mut().says(now, out);
                true
            }
        }
    }

    fn wake(&self) -> Option<Moment> {
        match self {
            Self::Desk(boards) => boards.iter().filter_map(Board::wake).min(),
            Self::Wired(board) => board.wake(),
            Self::Field(field) => {
                field.board.program().sleeps_until(field.now).or_else(|| field.board.wake())
            }
        }
    }

    fn restart(&mut self, now: Moment) {
        self.boards().into_iter().for_each(|board| board.restart(now));
    }

    fn act(&mut self, now: Moment, act: u32) {
        self.boards().into_iter().for_each(|board| board.act(now, act));
    }
}

/// How strong a datagram is heard, dBm: made up from who sends it and when, the same in every run.
pub(super) fn strength(datagram: &[u8], now: Moment) -> Option<i16> {
    let from = bellwire::star::addresses_of(datagram)?.from;
    let base = match from {
        0 => return Some(DESK_HEARD),
        super::station::MAST => -93,
        _ => -71,
    };
    let wave = [0, -1, -3, -2, 1][usize::try_from(now.nanos() / 1_000_000_000 % 5).unwrap_or(0)];
    Some(base + wave)
}

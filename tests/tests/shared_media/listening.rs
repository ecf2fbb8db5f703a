//! The same traffic from 40 boards, with listening and with resends: a virtual air in which two frames that overlap are both lost, and in which a board
//! that has looked needs a while to switch over and send.

use crate::aloha::{FRAME, pause};
use bellwire::{
    star::{Allowance, Chance, Rules, Step},
    time::Duration,
};
use bellwire_tests::seed;
use std::{
    cmp::Reverse,
    collections::{BinaryHeap, VecDeque},
};

const BOARDS: usize = 40;
/// From the look to the first octet: a twentieth of a frame.
const SWITCH: u64 = FRAME / 20;
/// How long the traffic lasts, in frame times.
const FRAMES: u64 = 40_000;

#[derive(Clone, Copy)]
struct Kind {
    listens: bool,
    tries: u8,
}

struct Board {
    chance: Chance<4>,
    /// When time last passed for it.
    seen: u64,
    waiting: VecDeque<()>,
    tried: u8,
}

#[derive(Debug, Default, Clone, Copy)]
struct Books {
    wanted: u32,
    delivered: u32,
    lost: u32,
    sendings: u32,
    collided: u32,
}

#[derive(PartialEq, Eq, PartialOrd, Ord, Clone, Copy)]
enum What {
    Ends { frame: usize },
    Arrives,
    Acts,
}

struct Air {
    kind: Kind,
    boards: Vec<Board>,
    queue: BinaryHeap<Reverse<(u64, usize, What)>>,
    /// Start, and whether another one overlaps.
    frames: Vec<(u64, bool)>,
    books: Books,
}

impl Air {
    fn new(kind: Kind) -> Self {
        let us = |ticks: u64| Duration::from_ticks(u32::try_from(ticks).expect("a short span"));
        let allowance = Allowance { airtime: 4_000_000_000, slice: us(1_000_000_000) };
        let wait = us(if kind.listens { 5 * FRAME } else { 10 * FRAME });
        let board = |seed: u32| Board {
            chance: Chance::new(Rules {
                wait,
                doublings: 5,
                looks: 200,
                resends: 255,
                allowance,
                seed: seed * 7_919 + 1,
            }),
            seen: 0,
            waiting: VecDeque::new(),
            tried: 0,
        };
        let boards = (0..u32::try_from(BOARDS).expect("few")).map(board).collect();
        Self { kind, boards, queue: BinaryHeap::new(), frames: Vec::new(), books: Books::default() }
    }

    fn act(&mut self, now: u64, place: usize) {
        let busy =
            self.frames.iter().rev().take(BOARDS).any(|(start, _)| *start <= now && now < start + FRAME);
        let board = &mut self.boards[place];
        let span = u32::try_from(now - board.seen).expect("acts often");
        board.chance.elapse(Duration::from_ticks(span));
        board.seen = now;
        if board.chance.poll() == Step::Look {
            board.chance.looked(!busy || !self.kind.listens);
        }
        match board.chance.poll() {
            Step::Wait(left) => {
                self.queue.push(Reverse((now + u64::from(left.as_ticks()), place, What::Acts)))
            }
            Step::Send => {
                board.chance.sent();
                let start = now + SWITCH;
                let overlaps = |other: u64| other.abs_diff(start) < FRAME;
                let mut hit = false;
                for (_, lost) in
                    self.frames.iter_mut().rev().take(BOARDS).filter(|(other, _)| overlaps(*other))
                {
                    (*lost, hit) = (true, true);
                }
                self.frames.push((start, hit));
                self.books.sendings += 1;
                let frame = self.frames.len() - 1;
                self.queue.push(Reverse((start + FRAME, place, What::Ends { frame })));
            }
            Step::Idle | Step::Look => {}
        }
    }

    /// Wants to send what waits first, for the time number `tried`.
    fn want(&mut self, now: u64, place: usize) {
        let board = &mut self.boards[place];
        board.chance.elapse(Duration::from_ticks(u32::try_from(now - board.seen).expect("acts often")));
        board.seen = now;
        if board.waiting.is_empty() {
            return;
        }
        let airtime = Duration::from_ticks(u32::try_from(FRAME).expect("short"));
        assert!(board.chance.want(airtime, board.tried));
        self.act(now, place);
    }

    fn end(&mut self, now: u64, place: usize, frame: usize) {
        let lost = self.frames[frame].1;
        self.books.collided += u32::from(lost);
        let board = &mut self.boards[place];
        board.tried += 1;
        if !lost || board.tried == self.kind.tries {
            *(if lost { &mut self.books.lost } else { &mut self.books.delivered }) += 1;
            board.waiting.pop_front();
            board.tried = 0;
        }
        self.want(now, place);
    }

    fn run(mut self, rng: &mut impl rand::Rng, load: f64) -> Books {
        let mut at = 0.0;
        #[allow(clippy::cast_precision_loss)]
        while at < (FRAMES * FRAME) as f64 {
            at += pause(rng, load);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            self.queue.push(Reverse((at as u64, rng.random_range(0..BOARDS), What::Arrives)));
        }
        while let Some(Reverse((now, place, what))) = self.queue.pop() {
            match what {
                What::Acts => self.act(now, place),
                What::Ends { frame } => self.end(now, place, frame),
                What::Arrives => {
                    self.books.wanted += 1;
                    self.boards[place].waiting.push_back(());
                    if self.boards[place].waiting.len() == 1 {
                        self.want(now, place);
                    }
                }
            }
        }
        self.books
    }
}

#[test]
fn listening_and_resends_lose_less_than_pure_aloha_and_the_books_balance() {
    let seed = seed("listening_and_resends_lose_less_than_pure_aloha_and_the_books_balance");
    println!(
        "40 boards, {FRAMES} frame times, switching over takes a twentieth of a frame, seed {:#x}",
        seed.value()
    );
    println!("  load  listens  tries  delivered   lost  sendings a message  collided");
    for (part, load) in [0.05, 0.1, 0.2].into_iter().enumerate() {
        let mut lost_plain = 1.0;
        for (listens, tries) in [(false, 1), (true, 1), (false, 4), (true, 4)] {
            let books = Air::new(Kind { listens, tries }).run(&mut seed.part(part as u64), load);
            assert_eq!(books.wanted, books.delivered + books.lost, "{books:?}");
            let share = |part: u32, whole: u32| f64::from(part) / f64::from(whole);
            let lost = share(books.lost, books.wanted);
            println!(
                "  {load:>4.2}  {:>7}  {tries:>5}     {:>6.4}  {lost:.4}              {:>6.3}    {:>6.4}",
                if listens { "yes" } else { "no" },
                share(books.delivered, books.wanted),
                share(books.sendings, books.wanted),
                share(books.collided, books.sendings),
            );
            if (listens, tries) == (false, 1) {
                lost_plain = lost;
                // 39 other boards, each of which can be in the way: a little less than the infinite number of Abramson's formula.
                let theory = 1.0 - (-2.0 * load).exp();
                assert!((lost - theory).abs() < 0.15 * theory, "{lost} is not about {theory}");
            } else {
                assert!(lost < lost_plain / 2.0, "{lost} against {lost_plain}");
            }
        }
    }
}

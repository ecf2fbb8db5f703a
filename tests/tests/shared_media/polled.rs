//! The polled cycle once more, on a half-duplex wire of the virtual-time network: T = sum over leaves of (query + reply) 10 / baud + processing + 2 gaps, 8N1.

use bellwire::{
    star::{Access as _, Give, May, Timing, Turn, TurnTaken},
    time::Duration as Span,
};
use bellwire_cli::sim::{Moment, Network, Node, Plug, Seed, Seen, Shared};
use core::time::Duration;

const LEAVES: u8 = 16;
const QUERY: u8 = 8;
const REPLY: u8 = 25;
const PROCESSING: u64 = 5_000;

fn us(ticks: u64) -> Span {
    Span::from_ticks(u32::try_from(ticks).expect("a short span"))
}

/// A frame tells its length, to whom it goes and from whom it comes.
fn frame(len: u8, to: u8, from: u8) -> Vec<u8> {
    let mut octets = vec![len, to, from];
    octets.resize(len.into(), 0xA5);
    octets
}

enum Role {
    Hub(Turn<16>),
    Leaf(TurnTaken),
}

struct Board {
    own: u8,
    role: Role,
    gap: u64,
    baud: u64,
    heard: Vec<u8>,
    out: Vec<u8>,
    /// When time last passed for it.
    seen: Moment,
    wake: Option<Moment>,
}

impl Board {
    fn new(own: u8, baud: u64, gap: u64) -> Self {
        let longest = us(u64::from(REPLY) * 20_000_000 / baud);
        let timing = Timing { turnaround: us(gap), reply: us(100_000), longest, passed_over: 8 };
        let mut turn = Turn::new(timing);
        (1..=LEAVES).for_each(|leaf| assert!(turn.set_present(leaf, true)));
        let role = if own == 0 { Role::Hub(turn) } else { Role::Leaf(TurnTaken::new(timing)) };
        let wake = (own == 0).then_some(Moment::START);
        Self { own, role, gap, baud, heard: Vec::new(), out: Vec::new(), seen: Moment::START, wake }
    }

    fn elapse(&mut self, now: Moment) {
        let span = u64::try_from(now.since(self.seen).as_micros()).expect("short");
        match &mut self.role {
            Role::Hub(turn) => turn.elapse(us(span)),
            Role::Leaf(taken) => taken.elapse(us(span)),
        }
        self.seen = self.seen.plus(Duration::from_micros(span));
    }

    /// What the hub does next.
    fn go_on(&mut self, now: Moment) {
        let Role::Hub(turn) = &mut self.role else { return };
        self.wake = None;
        match turn.poll() {
            Give::Nobody => panic!("there are leaves"),
            Give::Wait(left) => {
                self.wake = Some(self.seen.plus(Duration::from_micros(left.as_ticks().into())))
            }
            Give::To(leaf) => {
                self.out = frame(QUERY, leaf, 0);
                turn.gave(us((u64::from(QUERY) * 10_000_000).div_ceil(self.baud)));
                self.seen = now;
            }
        }
        assert!(turn.poll_end().is_none(), "all reply");
    }

    fn whole(&mut self, now: Moment, to: u8, from: u8) {
        if to != self.own {
            return;
        }
        // What begins with this frame begins now, not at the last whole microsecond.
        self.seen = now;
        match &mut self.role {
            Role::Hub(turn) => assert!(turn.replied(from)),
            Role::Leaf(taken) => {
                taken.given();
                self.wake = Some(now.plus(Duration::from_micros(self.gap + PROCESSING)));
            }
        }
        self.go_on(now);
    }
}

impl Node for Board {
    fn arrived(&mut self, now: Moment, _port: usize, octets: &[u8]) {
        self.elapse(now);
        self.heard.extend(octets);
        let [len, to, from, ..] = self.heard[..] else { return };
        if let (Role::Hub(turn), true) = (&mut self.role, from != 0) {
            turn.heard();
        }
        if self.heard.len() == usize::from(len) {
            self.heard.clear();
            self.whole(now, to, from);
        }
    }

    fn woken(&mut self, now: Moment) {
        self.elapse(now);
        self.wake = None;
        match &mut self.role {
            Role::Hub(_) => self.go_on(now),
            Role::Leaf(taken) => {
                assert_eq!(taken.may_send(), May::Now);
                taken.over();
                self.out = frame(REPLY, 0, self.own);
            }
        }
    }

    fn transmit(&mut self, _now: Moment, _port: usize, _unsent: usize, out: &mut Vec<u8>) -> bool {
        out.append(&mut self.out);
        !out.is_empty()
    }

    fn wake(&self) -> Option<Moment> {
        self.wake
    }
}

#[test]
fn the_polled_cycle_on_a_wire_of_the_network_is_that_of_the_formula_to_the_microsecond() {
    println!("16 leaves, query 8 and reply 25 octets of 10 bits, processing 5 ms, one cycle in ms:");
    for (baud, gap) in [(9_600, 4_010), (19_200, 2_005), (57_600, 1_750), (115_200, 1_750)] {
        let mut network = Network::new(Seed(1));
        let wire = network.share(Shared::wire(baud)).expect("sound");
        for own in 0..=LEAVES {
            let node = network.add(Board::new(own, baud.into(), gap));
            network.attach(wire, Plug::of(node));
        }
        let mut starts = Vec::new();
        network
            .run(Moment::from_millis(4_000), &mut |now, seen| {
                if let Seen::Talked { octets: [QUERY, 1, 0, ..], .. } = seen {
                    starts.push(now);
                }
            })
            .expect("time goes on");
        assert_eq!(network.talked(wire).collided, 0);
        let octets = f64::from(QUERY + REPLY) * 1e7 / f64::from(baud);
        let formula = f64::from(LEAVES) * (octets + (PROCESSING + 2 * gap) as f64);
        assert!(starts.len() > 3);
        for pair in starts.windows(2) {
            let cycle = pair[1].since(pair[0]).as_nanos() as f64 / 1_000.0;
            assert!((cycle - formula).abs() < 1.0, "{baud} Bd: {cycle}, formula {formula}");
        }
        let cycle = starts[1].since(starts[0]).as_nanos() as f64 / 1e6;
        println!("  {baud:>6} Bd {cycle:>11.6}, formula {:>11.6}", formula / 1_000.0);
    }
}

//! The polled cycle: T = sum over leaves of (query + reply) N / baud + processing + 2 gaps; a silent one costs its query, the reply time and one gap
//! (MODBUS over Serial Line V1.02, section 2.5.1, gives N = 11 and the gap of 3.5 characters, 1.75 ms above 19 200 Bd).

use bellwire::{
    star::{Access as _, Give, May, Timing, Turn, TurnEnd, TurnTaken},
    time::Duration,
};

struct Bus {
    baud: u64,
    gap: u64,
    processing: u64,
    query: u64,
    reply: u64,
    time_out: u64,
}

impl Bus {
    /// The time of so many octets of 11 bits, in whole us.
    fn octets(&self, count: u64) -> u64 {
        (count * 11 * 1_000_000).div_ceil(self.baud)
    }
}

fn us(ticks: u64) -> Duration {
    Duration::from_ticks(u32::try_from(ticks).expect("a short span"))
}

/// Runs whole cycles of 16 leaves, of which those from `silent` on do not reply; gives the time of the last one, and how often leaf 16 was asked.
fn run(bus: &Bus, silent: u8, cycles: usize) -> (u64, usize) {
    let timing = Timing {
        turnaround: us(bus.gap),
        reply: us(bus.time_out),
        longest: us(bus.octets(300)),
        passed_over: 8,
    };
    let mut hub = Turn::<16>::new(timing);
    (1..=16).for_each(|leaf| assert!(hub.set_present(leaf, true)));
    let (mut now, mut starts, mut asked) = (0_u64, Vec::new(), 0);
    while starts.len() <= cycles {
        match hub.poll() {
            Give::Nobody => panic!("there are leaves"),
            Give::Wait(left) => {
                hub.elapse(left);
                now += u64::from(left.as_ticks());
            }
            Give::To(address) => {
                if address == 1 {
                    starts.push(now);
                }
                asked += usize::from(address == 16);
                let query = bus.octets(bus.query);
                hub.gave(us(query));
                if address >= silent {
                    hub.elapse(us(query + bus.time_out));
                    now += query + bus.time_out;
                    assert!(matches!(hub.poll_end(), Some(TurnEnd::NoReply { leaf, .. }) if leaf == address));
                    continue;
                }
                let mut leaf = TurnTaken::new(timing);
                leaf.given();
                leaf.elapse(us(bus.gap - 1));
                assert_eq!(leaf.may_send(), May::In(us(1)));
                leaf.elapse(us(1 + bus.processing));
                assert_eq!(leaf.may_send(), May::Now);
                leaf.over();
                let (before, reply) = (query + bus.gap + bus.processing, bus.octets(bus.reply));
                hub.elapse(us(before));
                hub.heard();
                hub.elapse(us(reply));
                now += before + reply;
                assert!(hub.replied(address));
            }
        }
    }
    (starts[cycles] - starts[cycles - 1], asked)
}

#[test]
fn the_polled_cycle_is_that_of_the_formula_to_the_microsecond() {
    println!("16 leaves, query 8 and reply 25 octets of 11 bits, processing 5 ms, one cycle in ms:");
    for (baud, gap, rounded) in
        [(9_600, 4_010, 813.3), (19_200, 2_005, 446.7), (57_600, 1_750, 236.8), (115_200, 1_750, 186.4)]
    {
        let bus = Bus { baud, gap, processing: 5_000, query: 8, reply: 25, time_out: 100_000 };
        let (cycle, _) = run(&bus, 17, 3);
        let wire = |octets: u64| (octets * 11 * 1_000_000).div_ceil(baud);
        let formula = 16 * (wire(8) + wire(25) + 5_000 + 2 * gap);
        assert_eq!(cycle, formula, "{baud} Bd");
        #[allow(clippy::cast_precision_loss)]
        let exact = 16.0 * (33.0 * 11e6 / baud as f64 + 5_000.0 + 2.0 * gap as f64);
        #[allow(clippy::cast_precision_loss)]
        let measured = cycle as f64;
        assert!((measured - exact).abs() <= 32.0, "two roundings up to whole us a leaf");
        assert!((measured / 1_000.0 - rounded).abs() < 0.1, "{measured}");
        println!("  {baud:>6} Bd {:>8.3}, formula {:>8.3}", measured / 1_000.0, exact / 1_000.0);
    }
}

/// One silent leaf costs its query, the reply time and a gap instead of its reply, in the cycles in which it is asked: 6 of the first 29.
#[test]
fn a_silent_leaf_costs_its_time_out_and_is_asked_ever_less() {
    let bus = Bus { baud: 19_200, gap: 2_005, processing: 5_000, query: 8, reply: 25, time_out: 100_000 };
    let wire = |octets: u64| (octets * 11 * 1_000_000).div_ceil(19_200);
    let good = wire(8) + wire(25) + 5_000 + 2 * 2_005;
    let (first, asked) = run(&bus, 16, 1);
    assert_eq!((first, asked), (15 * good + wire(8) + 100_000 + 2_005, 1));
    let (second, asked) = run(&bus, 16, 2);
    assert_eq!((second, asked), (15 * good, 1));
    let (last, asked) = run(&bus, 16, 29);
    assert_eq!((last, asked), (15 * good + wire(8) + 100_000 + 2_005, 6));
}

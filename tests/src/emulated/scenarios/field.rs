//! A board in the field behind a radio: the sleeping mast, the air, and the radio board on the desk's UART.

use bellwire::link::EndReason;
use bellwire_cli::{observatory::Message, talk::Happening};
use serde_json::Value;

use super::{AGREEMENT, BAUD, Bed, Bench, motion::COUNTED, said};
use crate::emulated::{
    air::Air,
    board::{Board, Machine, Start},
    desk::{Desk, message},
    end::End,
    wire::{self, Side, Wire},
};

/// How strong the mast is heard at the desk, and the desk at the mast, dBm.
const STRENGTH: [i8; 2] = [-93, -71];

/// A mast, and the radio board with its wire to the device: that of the bed.
struct Field {
    mast: Board,
    air: Air,
    bed: Bed,
}

fn field(bench: &Bench) -> Field {
    let start = |machine, name, uarts| {
        let image = bench.image(machine, name);
        Start { name, machine, image: &image, uarts, clock: COUNTED, script: &[] }
            .run(&bench.folder)
            .expect("the emulator starts")
    };
    // The emulated M0-class board has one UART, and a radio board needs two.
    let (board, radio_ends) = start(Machine::Lm3s, "radio", 2);
    let mut radio_ends = radio_ends.into_iter();
    let (Some(to_desk), Some(radio_chip)) = (radio_ends.next(), radio_ends.next()) else {
        panic!("two UARTs")
    };
    let (mast, mast_ends) = start(Machine::Microbit, "mast", 1);
    let mast_chip = mast_ends.into_iter().next().expect("one UART");
    let air = Air::between([mast_chip, radio_chip], STRENGTH);
    let device = bench.folder.join("device");
    let ends = [to_desk, End::device(&device).expect("a pseudo-terminal")];
    let wire = Wire::between(ends, [wire::uart(BAUD), wire::uart(BAUD)], bench.seed);
    Field { mast, air, bed: Bed { board, wire, device } }
}

pub(super) fn radio(bench: &Bench) -> String {
    let field = field(bench);
    let words =
        ["log", Bed::DEVICE, "--framing", "radio-board", "--peer", "--json", "--agreement", AGREEMENT];
    let mut log = field.bed.tool(bench, &words);
    log.shows("\"name\":\"weather\"");
    let records = log.stop().with_code(0).records();
    // A datagram that a busy computer tore apart on its way to the chip is refused, as one that the air has damaged.
    let heard: Vec<&Value> =
        records.iter().filter(|it| it["record"] == "frame" && it["air"] == "heard").collect();
    assert!(heard.iter().all(|it| it["strength"] == STRENGTH[0]), "{heard:#?}");
    let weather = heard.iter().find(|it| it["name"] == "weather").expect("just shown");
    let times: Vec<u64> = heard.iter().filter_map(|it| it["board_us"].as_u64()).collect();
    assert!(times.len() == heard.len() && times.is_sorted(), "by the radio board's clock: {times:?}");
    // Each direction is told, and what the computer asked for is what went out.
    let asked = records.iter().filter(|it| it["air"] == "out").count();
    let carried = |what| said::last(&field.bed.board.said(), "carried", what).expect("it has carried");
    assert_eq!(carried("refused"), 0, "{}", field.bed.board.said());
    assert!(carried("heard") >= u32::try_from(heard.len()).expect("few"), "more was heard than carried");
    assert!(asked > 0 && field.air.carried(Side::Two) >= 1, "nothing went out");
    assert!(carried("sent") <= u32::try_from(asked).expect("few"), "the radio board sends by itself");
    format!(
        "wind {} heard at {} dBm, {} µs by the radio board's clock; {} datagrams heard, {asked} asked to be sent",
        weather["values"]["wind"],
        weather["strength"],
        weather["board_us"],
        heard.len()
    )
}

pub(super) fn mast(bench: &Bench) -> String {
    const NIGHTS: usize = 3;
    let mut field = field(bench);
    let mut desk = Desk::in_the_field(&field.bed.device);
    let weather = |it: &Happening| matches!(message(it), Some(Message::Weather { .. }));
    for _ in 0..=NIGHTS {
        desk.until("the weather", weather);
    }
    let said = field.mast.says(&format!("asleep nights={NIGHTS}"));
    let count = |desk: &Desk, is: fn(&Happening) -> bool| desk.heard.iter().filter(|it| is(it)).count();
    let opened = |it: &Happening| matches!(it, Happening::Opened(_));
    let ended = |it: &Happening| matches!(it, Happening::Ended(_));
    // One session, over all nights: the mast goes on in it and is not taken for one that has started anew.
    assert_eq!((count(&desk, opened), count(&desk, ended)), (1, 0), "{:#?}", desk.heard);
    let nights: Vec<[u32; 2]> = said.lines().filter_map(night).collect();
    assert!(nights.iter().all(|[from, until]| until > from), "{said}");
    let slept: u32 = nights.iter().take(NIGHTS).map(|[from, until]| until - from).sum();
    assert!(said.lines().filter(|line| line.contains("last: delivered")).count() >= NIGHTS, "{said}");
    // It does nothing between falling asleep and waking, and wakes when it said.
    for pair in nights.windows(2) {
        assert!(pair[1][0] >= pair[0][1], "it was awake in the night: {said}");
    }
    // A mast that does start anew is told apart.
    field.mast.reset().expect("the emulator resets it");
    let end = desk.until("the end of the session", ended);
    assert!(matches!(end, Happening::Ended(EndReason::PeerRestarted(_))), "{end:?}");
    desk.until("a new session", opened);
    desk.until("the weather", weather);
    format!(
        "{NIGHTS} nights, {} ms asleep by its own clock, in one session: resumed each time; a reset is seen as a restart",
        slept / 1000
    )
}

/// When the mast fell asleep, and until when it wants to sleep.
fn night(line: &str) -> Option<[u32; 2]> {
    let (at, words) = line.split_once(' ')?;
    let until = words.strip_prefix("asleep ")?.split(' ').find_map(|word| word.strip_prefix("until="))?;
    Some([at.parse().ok()?, until.parse().ok()?])
}

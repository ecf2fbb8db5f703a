//! However the input is cut, the records are those of the live tracker.

use super::*;

#[test]
fn any_cut_and_any_number_of_threads_give_the_records_of_the_tracker() {
    let seed = seed("any_cut_and_any_number_of_threads_give_the_records_of_the_tracker");
    let sizes = proptest::collection::vec(1_usize..200, 1..8);
    let result = seed.runner(64).run(&(any_stream(), sizes, 0..WIRINGS.len()), |(stream, sizes, wiring)| {
        let wiring = WIRINGS[wiring];
        let wanted = tracked_octets(&stream, wiring);
        for threads in [1, 2, 5] {
            prop_assert_eq!(&json(&stream, &sizes, Form::Octets, wiring, threads), &wanted);
        }
        Ok(())
    });
    result.unwrap();
}

#[test]
fn a_capture_gives_the_records_of_the_tracker() {
    let seed = seed("a_capture_gives_the_records_of_the_tracker");
    let chunk = (0_u16..2, any::<bool>(), any_stream(), 0_u64..5_000_000);
    let piece = prop_oneof![9 => chunk.prop_map(Some), 1 => Just(None)];
    let sizes = proptest::collection::vec(1_usize..500, 1..5);
    let strategy = (proptest::collection::vec(piece, 0..20), sizes);
    let result = seed.runner(64).run(&strategy, |(pieces, sizes)| {
        let mut at = 1_764_062_400_000_000_000;
        let items: Vec<Item> = pieces
            .into_iter()
            .map(|piece| match piece {
                Some((port, out, octets, step)) => {
                    at += step;
                    let direction = if out { Direction::Out } else { Direction::In };
                    Item::Chunk(Chunk { at, port, direction, octets })
                }
                None => Item::Gap(Gap { port: 1, from: at, to: None, why: "unplugged".into() }),
            })
            .collect();
        let mut writer = capture::Writer::new();
        writer.section();
        ["desk", "mast"].iter().for_each(|name| writer.port(&PortInfo::named(*name)));
        for item in &items {
            match item {
                Item::Chunk(chunk) => writer.chunk(chunk),
                Item::Gap(gap) => writer.gap(gap),
                _ => {}
            }
        }
        let wanted = tracked(items, Wiring::default());
        for threads in [1, 3] {
            let decoded = json(writer.octets(), &sizes, Form::Capture, Wiring::default(), threads);
            prop_assert_eq!(&decoded, &wanted);
        }
        Ok(())
    });
    result.unwrap();
}

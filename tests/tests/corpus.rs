//! The bodies of the fuzz targets on the committed corpus (`fuzz/corpus/TARGET/*`) and on random inputs.

use bellwire_tests::{fuzz_body::TARGETS, naive, seed, tool::root, vector};
use rand::{Rng as _, RngCore as _, seq::IndexedRandom as _};

#[test]
fn the_corpus_replays() {
    for (name, body) in TARGETS {
        let folder = root().join("fuzz/corpus").join(name);
        let mut paths: Vec<_> = std::fs::read_dir(&folder)
            .expect("a corpus")
            .map(|entry| entry.expect("an entry").path())
            .collect();
        paths.sort();
        assert!(paths.len() >= 5, "{name}: the corpus is too small");
        for path in paths {
            println!("{}", path.display());
            body(&std::fs::read(&path).expect("readable"));
        }
    }
}

/// Shows the input that a body fell over.
fn run(name: &str, body: fn(&[u8]), data: &[u8]) {
    struct Input<'a>(&'a str, &'a [u8]);
    impl Drop for Input<'_> {
        fn drop(&mut self) {
            if std::thread::panicking() {
                eprintln!("input of {}: {}", self.0, vector::hex(self.1));
            }
        }
    }
    let input = Input(name, data);
    body(input.1);
}

#[test]
fn random_inputs_pass_every_body() {
    let seed = seed("random_inputs_pass_every_body");
    let wires: Vec<_> =
        vector::read::<vector::Frame>("frames").into_iter().map(|vector| vector.wire.0).collect();
    for (part, (name, body)) in TARGETS.into_iter().enumerate() {
        let mut rng = seed.part(part as u64);
        let rounds = match name {
            "link" => 60,
            "hub" | "leaf" => 300,
            _ => 3000,
        };
        for _ in 0..rounds {
            let mut data = vec![0; rng.random_range(0..300)];
            rng.fill_bytes(&mut data);
            run(name, body, &data);
            // Delimiters, escapes and whole frames are rare in random octets: put some in.
            for _ in 0..rng.random_range(0..6) {
                let at = rng.random_range(0..=data.len());
                let piece = match rng.random_range(0..4) {
                    0 => wires.choose(&mut rng).expect("wires").clone(),
                    1 => vec![*[0x00, 0x7E, 0x7D, 0xC0, 0xDB, 0xFF, 0x01].choose(&mut rng).expect("octets")],
                    2 => b"dome> reset\r\n".to_vec(),
                    _ => {
                        let line = bellwire_tests::line::ALL[rng.random_range(0..12)];
                        let mut octets = vec![0; rng.random_range(0..40)];
                        rng.fill_bytes(&mut octets);
                        let check = naive::fcs(line.fcs, &octets);
                        let edge = naive::delimiter(line.framing).into_iter();
                        let inner = naive::stuff(line, &[octets, check].concat());
                        edge.clone().chain(inner).chain(edge).collect()
                    }
                };
                data.splice(at..at, piece);
            }
            run(name, body, &data);
        }
    }
}

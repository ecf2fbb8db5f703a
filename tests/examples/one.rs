//! Runs a fuzz body on one input: `cargo run -p bellwire-tests --example one TARGET HEX-OR-FILE`.

fn main() {
    let mut args = std::env::args().skip(1);
    let (name, input) = args.next().zip(args.next()).expect("TARGET and HEX or FILE");
    let data =
        std::fs::read(&input).ok().or_else(|| bellwire_tests::vector::unhex(&input)).expect("a file or hex");
    let targets = bellwire_tests::fuzz_body::TARGETS;
    let (_, body) = targets.into_iter().find(|(target, _)| *target == name).expect("a target");
    body(&data);
    println!("good");
}

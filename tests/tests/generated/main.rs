//! Generated code in Rust, C and Python against the `postcard` crate and against each other: the same octets, the same refusals.

mod case;
mod planted;
mod program;
mod published;

use bellwire_cli::{
    agreement::Agreement,
    generate::{Extras, Kind},
    messages::{Form, MessageKind},
};
use bellwire_tests::seed::{Rng, seed};
use case::{Case, boundaries, case, hex, random};
use rand::Rng as _;

/// Random values of each message.
const VALUES: usize = 500;

/// Lines for the programs, and what each must answer; nothing where it is enough that all answer the same.
#[derive(Default)]
struct Asked {
    lines: String,
    wanted: Vec<(String, Option<String>)>,
}

impl Asked {
    fn ask(&mut self, line: String, wanted: Option<String>) {
        self.lines.push_str(&line);
        self.lines.push('\n');
        self.wanted.push((line, wanted));
    }

    /// Encoding gives the octets of postcard or the fault; decoding these octets does the same.
    fn both_ways(&mut self, case: &Case) {
        let wanted = case.fault.clone().unwrap_or_else(|| hex(&case.octets));
        self.ask(format!("e {}", case.words), Some(wanted.clone()));
        self.ask(format!("d {}", hex(&case.octets)), Some(wanted));
    }

    /// Cut anywhere, and with octets left over.
    fn cut(&mut self, message: &MessageKind, case: &Case) {
        for len in 0..case.octets.len() {
            let field = case.starts.iter().rposition(|&start| start <= len);
            let wanted = field
                .map_or("no-such-message ".into(), |field| format!("cut {}", message.fields[field].name));
            self.ask(format!("d {}", hex(&case.octets[..len])), Some(wanted));
        }
        self.ask(format!("d {}00", hex(&case.octets)), Some("left-over ".into()));
    }

    /// A first field of another spelling, and octets changed at random: the answer is that of the tool's own reader.
    fn odd(&mut self, case: &Case, rng: &mut Rng) {
        let mut odd = Vec::new();
        for spelling in [
            "8000",
            "808000",
            "80808000",
            "ffff03",
            "ffff07",
            "ffff8300",
            "8080808000",
            "808080808000",
            "80808080808080808000",
            "ffffffff0f",
            "ffffffff1f",
            "ffffffffffffffffff01",
            "ffffffffffffffffff02",
            "02",
            "03",
        ] {
            for start in &case.starts {
                odd.push(format!(
                    "{}{spelling}{}",
                    hex(&case.octets[..*start]),
                    hex(case.octets.get(start + 1..).unwrap_or_default())
                ));
            }
        }
        for _ in 0..40 {
            let mut octets = case.octets.clone();
            let place = rng.random_range(0..octets.len());
            octets[place] ^= 1 << rng.random_range(0..8_u8);
            odd.push(hex(&octets));
        }
        for octets in odd {
            self.ask(format!("d {octets}"), None);
        }
    }
}

/// Every boundary of every field, then so many random values of each message.
fn questions(agreement: &Agreement, rng: &mut Rng, values: usize) -> Asked {
    let mut asked = Asked::default();
    for message in agreement.table.messages() {
        let any = |place: usize, rng: &mut Rng| random(&message.fields[place], rng);
        for (place, field) in message.fields.iter().enumerate() {
            for boundary in boundaries(field) {
                let pick =
                    |at: usize, rng: &mut Rng| if at == place { boundary.clone() } else { any(at, rng) };
                asked.both_ways(&case(message, rng, pick));
            }
        }
        for turn in 0..values {
            let case = case(message, rng, any);
            assert_eq!(case.fault, None);
            asked.both_ways(&case);
            if turn < 10 {
                asked.cut(message, &case);
                asked.odd(&case, rng);
            }
        }
    }
    for octets in ["", "80", "ff", "ffffffff7f", "ffff03", "8001", "ffff04"] {
        asked.ask(format!("d {octets}"), None);
    }
    asked
}

/// Whether the tool's own reader takes the payload and finds every value in its range.
fn is_read(agreement: &Agreement, octets: &str) -> bool {
    let digits: Vec<_> = octets.chars().map(|digit| digit.to_digit(16).unwrap()).collect();
    let octets: Vec<_> = digits.chunks(2).map(|pair| u8::try_from(pair[0] << 4 | pair[1]).unwrap()).collect();
    let Ok((number, body)) = postcard::take_from_bytes::<u32>(&octets) else { return false };
    let message = u16::try_from(number).ok().and_then(|number| agreement.table.get(number));
    let Some(values) = message.and_then(|message| message.values(body)) else { return false };
    values.into_iter().all(|(field, value)| field.allows(&value))
}

fn all_languages_agree(source: &str, name: &str) {
    let seed = seed(name);
    let agreement = Agreement::read(source).unwrap();
    let asked = questions(&agreement, &mut seed.rng(), VALUES);
    println!(
        "seed {:#018x}: {} questions about {}",
        seed.value(),
        asked.wanted.len(),
        agreement.table.title()
    );
    compare(&agreement, &asked);
}

/// All programs are asked, and each answer compared; gives the answers.
fn compare(agreement: &Agreement, asked: &Asked) -> Vec<String> {
    let folder = tempfile::tempdir().unwrap();
    program::generate(agreement, folder.path());
    let rust = program::rust(agreement, folder.path());
    program::with_defmt(agreement, folder.path());
    let mut programs = [
        ("Rust", rust),
        ("C", program::c(agreement, folder.path())),
        ("Python", program::python(agreement, folder.path())),
    ];
    let mut answers =
        programs.each_mut().map(|(language, program)| (*language, program::run(program, &asked.lines)));
    let (_, first) = &answers[0];
    for (language, answers) in &answers {
        assert_eq!(answers.len(), asked.wanted.len(), "{language}");
        for (((line, wanted), answer), first) in asked.wanted.iter().zip(answers).zip(first) {
            assert_eq!(answer, wanted.as_ref().unwrap_or(first), "{language}: {line}");
            if let Some(octets) = line.strip_prefix("d ") {
                let is_taken = !answer.contains([' ', '-']);
                assert_eq!(is_taken, is_read(agreement, octets), "{language}: {line}: {answer}");
            }
        }
    }
    std::mem::take(&mut answers[0].1)
}

#[test]
fn every_type_travels_alike_in_all_languages() {
    let source = include_str!("../../generated/agreement.toml");
    let agreement = Agreement::read(source).unwrap();
    let has = |wanted: fn(&Form) -> bool| {
        agreement.table.messages().iter().flat_map(|m| &m.fields).any(|f| wanted(&f.form))
    };
    assert!(has(|form| matches!(form, Form::Optional(inner) if matches!(**inner, Form::List(..)))));
    all_languages_agree(source, "every_type_travels_alike_in_all_languages");
}

#[test]
fn the_observatory_travels_alike_in_all_languages() {
    let source = include_str!("../../../examples/observatory/agreement.toml");
    all_languages_agree(source, "the_observatory_travels_alike_in_all_languages");
}

#[test]
fn what_is_generated_depends_on_the_agreement_alone() {
    let source = include_str!("../../../examples/observatory/agreement.toml");
    let files = || {
        let agreement = Agreement::read(source).unwrap();
        Kind::ALL.map(|kind| kind.files(&agreement, Extras::default()))
    };
    assert_eq!(files(), files());
}

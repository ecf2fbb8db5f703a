//! One message with values: as words for the programs, and as octets that the `postcard` crate made.

use bellwire_cli::messages::{Field, Form, MessageKind, Range};
use bellwire_tests::seed::Rng;
use rand::Rng as _;

/// One value of a field without what is around it.
#[derive(Debug, Clone)]
pub(crate) enum Atom {
    /// A whole number, a truth, the place of a word, flags, the bits of a floating-point number.
    Number(i128),
    /// Text or octets.
    Octets(Vec<u8>),
}

/// A message and what must come of it.
#[derive(Debug)]
pub(crate) struct Case {
    /// Number of the message and its values, for the programs.
    pub(crate) words: String,
    /// The payload, by postcard.
    pub(crate) octets: Vec<u8>,
    /// Where each field begins.
    pub(crate) starts: Vec<usize>,
    /// The first field that must be refused, and why.
    pub(crate) fault: Option<String>,
}

/// A message whose values `pick` gives.
pub(crate) fn case(
    message: &MessageKind,
    rng: &mut Rng,
    mut pick: impl FnMut(usize, &mut Rng) -> Atom,
) -> Case {
    let mut words = message.number.to_string();
    let mut octets = postcard::to_allocvec(&u32::from(message.number)).unwrap();
    let (mut starts, mut fault) = (Vec::new(), None);
    for (place, field) in message.fields.iter().enumerate() {
        starts.push(octets.len());
        let mut form = &field.form;
        if let Form::Optional(inner) = form {
            let is_there = rng.random_range(0..4_u8) > 0;
            words.push_str(if is_there { " 1" } else { " 0" });
            octets.extend(postcard::to_allocvec(&is_there.then_some(())).unwrap());
            if !is_there {
                continue;
            }
            form = inner;
        }
        let count = if let Form::List(_, count) = form { *count } else { 1 };
        for _ in 0..count {
            let atom = pick(place, rng);
            octets.extend(by_postcard(form.inner(), &atom));
            match &atom {
                Atom::Number(number) => words.push_str(&format!(" {number}")),
                Atom::Octets(octets) => words.push_str(&format!(" x{}", hex(octets))),
            }
            if let Some(word) = refused(field, &atom) {
                fault.get_or_insert(format!("{word} {}", field.name));
            }
        }
    }
    Case { words, octets, starts, fault }
}

/// Octets as the programs read and print them.
pub(crate) fn hex(octets: &[u8]) -> String {
    octets.iter().map(|octet| format!("{octet:02x}")).collect()
}

/// What the crate makes of a value of the type that serde would see.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn by_postcard(form: &Form, atom: &Atom) -> Vec<u8> {
    let made = match (form, atom) {
        (Form::Text(_), Atom::Octets(octets)) => postcard::to_allocvec(std::str::from_utf8(octets).unwrap()),
        (_, Atom::Octets(octets)) => postcard::to_allocvec(octets.as_slice()),
        (Form::Bool, Atom::Number(n)) => postcard::to_allocvec(&(*n != 0)),
        (Form::U8 | Form::Flags(8, _), Atom::Number(n)) => postcard::to_allocvec(&(*n as u8)),
        (Form::U16 | Form::Flags(16, _), Atom::Number(n)) => postcard::to_allocvec(&(*n as u16)),
        (Form::U32 | Form::Choice(_) | Form::Flags(32, _), Atom::Number(n)) => {
            postcard::to_allocvec(&(*n as u32))
        }
        (Form::I8, Atom::Number(n)) => postcard::to_allocvec(&(*n as i8)),
        (Form::I16, Atom::Number(n)) => postcard::to_allocvec(&(*n as i16)),
        (Form::I32, Atom::Number(n)) => postcard::to_allocvec(&(*n as i32)),
        (Form::I64, Atom::Number(n)) => postcard::to_allocvec(&(*n as i64)),
        (Form::F32, Atom::Number(n)) => postcard::to_allocvec(&f32::from_bits(*n as u32)),
        (Form::F64, Atom::Number(n)) => postcard::to_allocvec(&f64::from_bits(*n as u64)),
        (_, Atom::Number(n)) => postcard::to_allocvec(&(*n as u64)),
    };
    made.unwrap()
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn refused(field: &Field, atom: &Atom) -> Option<&'static str> {
    let is_in = match (field.form.inner(), field.range, atom) {
        (Form::Text(most) | Form::Octets(most), _, Atom::Octets(octets)) => {
            return (octets.len() > usize::from(*most)).then_some("too-long");
        }
        (Form::F32, Some(Range::Float(low, high)), Atom::Number(bits)) => {
            (low..=high).contains(&f64::from(f32::from_bits(*bits as u32)))
        }
        (_, Some(Range::Float(low, high)), Atom::Number(bits)) => {
            (low..=high).contains(&f64::from_bits(*bits as u64))
        }
        (_, Some(Range::Whole(low, high)), Atom::Number(number)) => (low..=high).contains(number),
        _ => true,
    };
    (!is_in).then_some("out-of-range")
}

/// Every boundary of a field: of its type, of its range, and of the count of octets.
pub(crate) fn boundaries(field: &Field) -> Vec<Atom> {
    let form = field.form.inner();
    let all = |numbers: Vec<i128>| numbers.into_iter().map(Atom::Number).collect();
    let double = |value: f64| i128::from(value.to_bits());
    match form {
        Form::Bool => all(vec![0, 1]),
        Form::Choice(words) => all((0..words.len() as i128).collect()),
        Form::Flags(bits, _) => all((0..*bits).map(|bit| 1 << bit).chain([0, (1 << bits) - 1]).collect()),
        Form::Text(most) | Form::Octets(most) => {
            [0, 1, *most, *most + 1].map(|count| Atom::Octets(vec![b'a'; count.into()])).into()
        }
        Form::F32 => {
            let mut bits = vec![
                0,
                1 << 31,
                1,
                0x7F7F_FFFF,
                0x7F80_0000,
                0xFF80_0000,
                0x7FC0_0000,
                0xFFC0_0001,
                0x00FF_FFFF,
            ];
            if let Some(Range::Float(low, high)) = field.range {
                #[allow(clippy::cast_possible_truncation)]
                let ends = [low as f32, high as f32];
                bits.extend(
                    ends.into_iter()
                        .flat_map(|end| [end.next_down(), end, end.next_up()])
                        .map(|end| i128::from(end.to_bits())),
                );
            }
            all(bits)
        }
        Form::F64 => {
            let mut bits: Vec<i128> =
                [0.0, -0.0, f64::MIN, f64::MAX, f64::INFINITY, f64::NEG_INFINITY, f64::NAN, 5e-324]
                    .map(double)
                    .into();
            if let Some(Range::Float(low, high)) = field.range {
                bits.extend(
                    [low, high].into_iter().flat_map(|end| [end.next_down(), end, end.next_up()]).map(double),
                );
            }
            all(bits)
        }
        whole => {
            let (least, largest) = whole.limits().unwrap();
            let mut numbers: Vec<i128> =
                (0..64).flat_map(|bit| [(1 << bit) - 1, 1 << bit, -(1 << bit), -(1 << bit) - 1]).collect();
            if let Some(Range::Whole(low, high)) = field.range {
                numbers.extend([low - 1, low, high, high + 1]);
            }
            numbers.extend([least, largest]);
            numbers.retain(|number| (least..=largest).contains(number));
            all(numbers)
        }
    }
}

/// Any value within the range of a field.
#[allow(clippy::cast_possible_truncation)]
pub(crate) fn random(field: &Field, rng: &mut Rng) -> Atom {
    match (field.form.inner(), field.range) {
        (Form::Octets(most), _) => {
            Atom::Octets((0..rng.random_range(0..=*most)).map(|_| rng.random()).collect())
        }
        (Form::Text(most), _) => {
            let mut text = String::new();
            for _ in 0..rng.random_range(0..=*most) {
                let next: char = if rng.random() { rng.random_range(' '..='~') } else { rng.random() };
                if text.len() + next.len_utf8() <= usize::from(*most) {
                    text.push(next);
                }
            }
            Atom::Octets(text.into_bytes())
        }
        (Form::Bool, _) => Atom::Number(rng.random_range(0..2)),
        (Form::Choice(words), _) => Atom::Number(rng.random_range(0..words.len() as i128)),
        (Form::Flags(bits, _), _) => Atom::Number(i128::from(rng.random::<u64>()) & ((1 << bits) - 1)),
        (Form::F32, Some(Range::Float(low, high))) => {
            let middle = (low + (high - low) * rng.random_range(0.01..0.99)) as f32;
            Atom::Number(middle.to_bits().into())
        }
        (_, Some(Range::Float(low, high))) => {
            Atom::Number((low + (high - low) * rng.random_range(0.01..0.99)).to_bits().into())
        }
        // A NaN that signals may be made quiet by the processor: quiet ones only.
        (Form::F32, _) => Atom::Number(quiet(rng.random::<u32>().into(), 0x7F80_0000, 1 << 22)),
        (Form::F64, _) => Atom::Number(quiet(rng.random::<u64>().into(), 0x7FF << 52, 1 << 51)),
        (whole, range) => {
            let (low, high) = match range {
                Some(Range::Whole(low, high)) => (low, high),
                _ => whole.limits().unwrap(),
            };
            // All counts of octets alike.
            let near = i128::from(rng.random::<u64>() >> rng.random_range(0..64_u8));
            let near = if rng.random() { near } else { -near };
            Atom::Number(if (low..=high).contains(&near) { near } else { rng.random_range(low..=high) })
        }
    }
}

fn quiet(bits: i128, exponent: i128, quiet: i128) -> i128 {
    if bits & exponent == exponent { bits | quiet } else { bits }
}

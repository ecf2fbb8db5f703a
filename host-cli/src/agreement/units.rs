//! Units in the spelling of UCUM (the Unified Code for Units of Measure, case sensitive form), as far as boards use them.

/// Prefixes of metric units, and how they are shown.
const PREFIXES: [(&str, &str); 9] = [
    ("n", "n"),
    ("u", "µ"),
    ("m", "m"),
    ("c", "c"),
    ("d", "d"),
    ("h", "h"),
    ("k", "k"),
    ("M", "M"),
    ("G", "G"),
];

/// Units that take a prefix, and how they are shown.
const METRIC: [(&str, &str); 27] = [
    ("m", "m"),
    ("s", "s"),
    ("g", "g"),
    ("A", "A"),
    ("K", "K"),
    ("cd", "cd"),
    ("mol", "mol"),
    ("rad", "rad"),
    ("sr", "sr"),
    ("Hz", "Hz"),
    ("N", "N"),
    ("Pa", "Pa"),
    ("bar", "bar"),
    ("J", "J"),
    ("W", "W"),
    ("C", "C"),
    ("V", "V"),
    ("F", "F"),
    ("Ohm", "Ω"),
    ("S", "S"),
    ("T", "T"),
    ("H", "H"),
    ("lm", "lm"),
    ("lx", "lx"),
    ("L", "l"),
    ("B", "B"),
    ("Cel", "°C"),
];

/// Units that take none.
const PLAIN: [(&str, &str); 12] = [
    ("deg", "°"),
    ("'", "′"),
    ("''", "″"),
    ("min", "min"),
    ("h", "h"),
    ("d", "d"),
    ("%", "%"),
    ("[ppth]", "‰"),
    ("[ppm]", "ppm"),
    ("bit", "bit"),
    ("By", "octets"),
    ("Bd", "Bd"),
];

/// What people write, and what UCUM writes.
const SLIPS: [(&str, &str); 34] = [
    ("°", "deg"),
    ("degree", "deg"),
    ("degrees", "deg"),
    ("°/s", "deg/s"),
    ("dps", "deg/s"),
    ("°C", "Cel"),
    ("℃", "Cel"),
    ("degC", "Cel"),
    ("celsius", "Cel"),
    ("Celsius", "Cel"),
    ("sec", "s"),
    ("seconds", "s"),
    ("second", "s"),
    ("msec", "ms"),
    ("minutes", "min"),
    ("hours", "h"),
    ("hour", "h"),
    ("days", "d"),
    ("percent", "%"),
    ("lux", "lx"),
    ("lumen", "lm"),
    ("volt", "V"),
    ("volts", "V"),
    ("amp", "A"),
    ("amps", "A"),
    ("ampere", "A"),
    ("watt", "W"),
    ("hz", "Hz"),
    ("ohm", "Ohm"),
    ("Ω", "Ohm"),
    ("rpm", "{turn}/min"),
    ("mps", "m/s"),
    ("kph", "km/h"),
    ("meters", "m"),
];

/// A unit as people read it: `deg/s` as `°/s`, `m/s2` as `m/s²`; `None` if this is no unit that we know.
pub(super) fn symbol(ucum: &str) -> Option<String> {
    if ucum == "1" {
        return Some(String::new());
    }
    if ucum.is_empty() || ucum.len() > 24 {
        return None;
    }
    let mut out = String::new();
    let mut rest = ucum;
    if let Some(after) = rest.strip_prefix('/') {
        out.push_str("1/");
        rest = after;
    }
    loop {
        let end = rest.find(['.', '/']).unwrap_or(rest.len());
        out.push_str(&component(rest.get(..end)?)?);
        let Some(operator) = rest.get(end..).and_then(|tail| tail.chars().next()) else { return Some(out) };
        out.push(if operator == '.' { '·' } else { '/' });
        rest = rest.get(end + 1..)?;
    }
}

/// One unit with its prefix and exponent, or a remark in braces.
fn component(text: &str) -> Option<String> {
    if let Some(remark) = text.strip_prefix('{').and_then(|rest| rest.strip_suffix('}')) {
        let good = !remark.is_empty() && remark.bytes().all(|c| c.is_ascii_alphanumeric() || c == b'-');
        return good.then(|| remark.to_owned());
    }
    let digits = text.len() - text.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let (base, exponent) = text.split_at(text.len() - digits);
    let (base, sign) = base.strip_suffix('-').map_or((base, ""), |base| (base, "⁻"));
    let is_bare_sign = digits == 0 && !sign.is_empty();
    let is_no_exponent = digits > 1 || exponent == "0" || exponent == "1" && sign.is_empty();
    if is_bare_sign || digits > 0 && is_no_exponent {
        return None;
    }
    let raised: String = exponent.bytes().map(superscript).collect();
    Some(format!("{}{sign}{raised}", atom(base)?))
}

fn atom(text: &str) -> Option<String> {
    let known = |list: &[(&str, &str)], text: &str| {
        list.iter().find(|(code, _)| *code == text).map(|(_, shown)| (*shown).to_owned())
    };
    known(&PLAIN, text).or_else(|| known(&METRIC, text)).or_else(|| {
        PREFIXES.iter().find_map(|(prefix, shown)| {
            let unit = known(&METRIC, text.strip_prefix(prefix)?)?;
            Some(format!("{shown}{unit}"))
        })
    })
}

const fn superscript(digit: u8) -> char {
    match digit {
        b'1' => '¹',
        b'2' => '²',
        b'3' => '³',
        b'4' => '⁴',
        b'5' => '⁵',
        b'6' => '⁶',
        b'7' => '⁷',
        b'8' => '⁸',
        _ => '⁹',
    }
}

/// What to write instead of something that is no unit.
pub(super) fn instead(wrong: &str) -> String {
    let plain = wrong.replace(['µ', 'μ'], "u").replace('²', "2").replace('·', ".");
    let spelt = SLIPS.iter().find(|(slip, _)| *slip == wrong).map(|(_, ucum)| (*ucum).to_owned());
    let units = PLAIN.iter().chain(&METRIC).map(|(code, _)| *code);
    let near = spelt
        .or_else(|| symbol(&plain).map(|_| plain))
        .or_else(|| crate::messages::nearest(wrong, units).map(str::to_owned));
    match near {
        Some(near) => format!("write unit = \"{near}\""),
        None => "units are spelt as in UCUM: m/s, deg, Cel, um, %; AGREEMENT.md lists them".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_shown_as_people_write_them() {
        for (ucum, shown) in [
            ("deg/s", "°/s"),
            ("Cel", "°C"),
            ("um", "µm"),
            ("m/s2", "m/s²"),
            ("N.m", "N·m"),
            ("m.s-2", "m·s⁻²"),
            ("%", "%"),
            ("mV", "mV"),
            ("kOhm", "kΩ"),
            ("/min", "1/min"),
            ("{turn}/min", "turn/min"),
            ("hPa", "hPa"),
            ("dB", "dB"),
            ("1", ""),
            ("min", "min"),
            ("mmol/L", "mmol/l"),
        ] {
            assert_eq!(symbol(ucum).as_deref(), Some(shown), "{ucum}");
        }
    }

    #[test]
    fn what_is_no_unit_is_refused_with_the_unit_that_was_meant() {
        let long = "m.".repeat(40);
        for wrong in
            ["", "°C", "degC", "kdeg", "m//s", "m/", "s1", "m0", "m22", "m-", "{}", "{a b}", "x", &long]
        {
            assert_eq!(symbol(wrong), None, "{wrong}");
        }
        assert_eq!(instead("°C"), "write unit = \"Cel\"");
        assert_eq!(instead("µm"), "write unit = \"um\"");
        assert_eq!(instead("rpm"), "write unit = \"{turn}/min\"");
        assert_eq!(instead("m/s²"), "write unit = \"m/s2\"");
        for (_, ucum) in SLIPS {
            assert!(symbol(ucum).is_some(), "{ucum}");
        }
    }
}
